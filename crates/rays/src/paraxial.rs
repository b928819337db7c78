//! First order: the same surfaces as a matrix.

use crate::Sequence;

/// A paraxial ray: height, mm, and slope in the medium that it is in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paraxial {
    /// Height on the surface, mm.
    pub height_mm: f64,
    /// Slope behind the surface.
    pub slope: f64,
}

/// From the first vertex to the last: height' = a·height + b·(n·slope), n'·slope' = c·height + d·(n·slope), so that the
/// determinant is 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Abcd {
    /// Height by height.
    pub a: f64,
    /// Height by reduced slope, mm.
    pub b: f64,
    /// Reduced slope by height, 1/mm: minus the power.
    pub c: f64,
    /// Reduced slope by reduced slope.
    pub d: f64,
}

/// Where a lens's cardinal points lie.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cardinal {
    /// One over the power, mm: the focal length in air.
    pub focal_length_mm: f64,
    /// Last vertex to the picture of what is infinitely far, mm, positive behind it.
    pub back_focus_mm: f64,
    /// First vertex to the front focal point, mm, positive behind the vertex (so usually negative).
    pub front_focus_mm: f64,
    /// First vertex to H, mm, positive behind it.
    pub front_principal_mm: f64,
    /// Last vertex to H', mm, positive behind it (so usually negative).
    pub rear_principal_mm: f64,
    /// H to H', mm, positive when H lies nearer the subject.
    pub separation_mm: f64,
}

/// The stop as seen from both sides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pupils {
    /// First vertex to the entrance pupil, mm, positive behind it; `None` at infinity (subject side telecentric).
    pub entrance_mm: Option<f64>,
    /// Entrance pupil's width over the stop's.
    pub entrance_width: Option<f64>,
    /// Last vertex to the exit pupil, mm, positive behind it; `None` at infinity.
    pub exit_mm: Option<f64>,
    /// Exit pupil's width over the stop's.
    pub exit_width: Option<f64>,
}

impl Pupils {
    /// Exit pupil's width over the entrance pupil's; `None` where either lies at infinity.
    pub fn ratio(&self) -> Option<f64> {
        Some(self.exit_width? / self.entrance_width?)
    }
}

/// Powers below this, 1/mm, count as none: a focal length of a thousand kilometres.
const NO_POWER: f64 = 1e-9;

/// Cosines below this are what rounding leaves of 0.
const NO_SHARE: f64 = 1e-12;

impl Abcd {
    const NOTHING: Self = Self { a: 1.0, b: 0.0, c: 0.0, d: 1.0 };

    /// `self` after `first`.
    fn after(self, first: Self) -> Self {
        Self {
            a: self.a * first.a + self.b * first.c,
            b: self.a * first.b + self.b * first.d,
            c: self.c * first.a + self.d * first.c,
            d: self.c * first.b + self.d * first.d,
        }
    }
}

impl Sequence {
    /// The curvature that counts at the axis is the vertex's: no conic and no even term of fourth order or higher.
    fn power(&self, row: usize) -> f64 {
        let step = &self.steps[row];
        (step.after - step.before) * step.surface.curvature
    }

    /// A ray from height and slope at the first vertex (before refraction), at every surface.
    pub fn paraxial(&self, height_mm: f64, slope: f64) -> Vec<Paraxial> {
        let (mut height, mut reduced) = (height_mm, slope * self.index_before());
        let at = |(row, step): (usize, &crate::Step)| {
            height += step.gap_before_mm * reduced / step.before;
            reduced -= height * self.power(row);
            Paraxial { height_mm: height, slope: reduced / step.after }
        };
        self.steps.iter().enumerate().map(at).collect()
    }

    /// From just before the first surface to just behind surface `last`.
    fn to_row(&self, first: usize, last: usize) -> Abcd {
        let step = |matrix: Abcd, row: usize| {
            let here = &self.steps[row];
            // The path to the first surface of the part is not part of it.
            let gap = if row == first { 0.0 } else { here.gap_before_mm };
            let path = Abcd { b: gap / here.before, ..Abcd::NOTHING };
            let refraction = Abcd { c: -self.power(row), ..Abcd::NOTHING };
            refraction.after(path).after(matrix)
        };
        (first..=last).fold(Abcd::NOTHING, step)
    }

    /// The whole.
    pub fn abcd(&self) -> Abcd {
        self.to_row(0, self.steps.len() - 1)
    }

    /// Cardinal points; `None` when the whole is afocal.
    pub fn cardinal(&self) -> Option<Cardinal> {
        let whole = self.abcd();
        if whole.c.abs() < NO_POWER {
            return None;
        }
        let (before, after) = (self.index_before(), self.index_after());
        let (front_principal_mm, rear_principal_mm) =
            (before * (whole.d - 1.0) / whole.c, after * (1.0 - whole.a) / whole.c);
        Some(Cardinal {
            focal_length_mm: -1.0 / whole.c,
            back_focus_mm: -after * whole.a / whole.c,
            front_focus_mm: before * whole.d / whole.c,
            front_principal_mm,
            rear_principal_mm,
            separation_mm: self.length_mm() + rear_principal_mm - front_principal_mm,
        })
    }

    /// The pupils of a stop at row `stop` (its own surface's refraction counts as behind it).
    pub fn pupils(&self, stop: usize) -> Pupils {
        let before = self.before_row(stop);
        let behind = self.to_row(stop, self.steps.len() - 1);
        // A ray through the stop's centre: a·y + b·n·u = 0 at the front, n'u' = d·nu at the back.
        let (entrance, entrance_share) = (self.index_before() * before.b, before.a);
        let (exit, exit_share) = (-self.index_after() * behind.b, behind.d);
        let seen = |position: f64, share: f64| (share.abs() > NO_SHARE).then(|| (position / share, 1.0 / share.abs()));
        let (entrance, exit) = (seen(entrance, entrance_share), seen(exit, exit_share));
        Pupils {
            entrance_mm: entrance.map(|(at, _)| at),
            entrance_width: entrance.map(|(_, width)| width),
            exit_mm: exit.map(|(at, _)| at),
            exit_width: exit.map(|(_, width)| width),
        }
    }

    /// From just before the first surface to just before surface `row`.
    pub(crate) fn before_row(&self, row: usize) -> Abcd {
        let Some(last) = row.checked_sub(1) else { return Abcd::NOTHING };
        let here = &self.steps[row];
        Abcd { b: here.gap_before_mm / here.before, ..Abcd::NOTHING }.after(self.to_row(0, last))
    }
}
