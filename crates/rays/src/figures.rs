//! Figures of one pencil by its rays: spots, focus, waves, light.

use crate::{Pencil, Wavelength};

/// One ray in the spot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// From the chief ray of the main colour, sagittal, mm.
    pub x_mm: f64,
    /// Tangential, mm.
    pub y_mm: f64,
    /// Its share of the light, in no unit.
    pub weight: f64,
    /// Its colour.
    pub wavelength: Wavelength,
}

/// How large a spot is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Its middle by y, from the chief ray of the main colour, mm.
    pub centre_mm: f64,
    /// Root mean square distance from its middle by x, mm.
    pub rms_x_mm: f64,
    /// The same by y.
    pub rms_y_mm: f64,
    /// The farthest ray from its middle, mm.
    pub farthest_mm: f64,
}

impl Spot {
    /// Root mean square distance from the middle, mm.
    pub fn rms_mm(&self) -> f64 {
        self.rms_x_mm.hypot(self.rms_y_mm)
    }
}

/// How far the wavefront in one colour is from a sphere, in waves of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Waves {
    /// Its colour.
    pub wavelength: Wavelength,
    /// Root mean square over the pupil, mean and tilt taken out (they move the picture and do not blur it).
    pub rms: f64,
    /// Highest less lowest, likewise.
    pub peak_to_valley: f64,
}

impl Pencil {
    /// Every ray on the film moved `focus_mm` away from the lens, both sides of the axis.
    pub fn points(&self, focus_mm: f64) -> impl Iterator<Item = Point> + '_ {
        self.pupils.iter().flat_map(move |pupil| {
            // Every colour brings its weight, however many cells it has.
            let total: f64 = 2.0 * pupil.open.iter().sum::<f64>();
            pupil.lit().flat_map(move |(cell, open)| {
                let [x_mm, y_mm] = pupil.place(cell, self.slope, focus_mm);
                let point = Point { x_mm, y_mm, weight: pupil.weight * open / total, wavelength: pupil.wavelength };
                [point, Point { x_mm: -x_mm, ..point }]
            })
        })
    }

    /// The spot's size, all colours together.
    pub fn spot(&self, focus_mm: f64) -> Spot {
        let (weight, sum) = self
            .points(focus_mm)
            .fold((0.0, 0.0), |(weight, sum), point| (weight + point.weight, sum + point.weight * point.y_mm));
        let centre_mm = sum / weight;
        let start = Spot { centre_mm, rms_x_mm: 0.0, rms_y_mm: 0.0, farthest_mm: 0.0 };
        let squares = self.points(focus_mm).fold(start, |sum, point| {
            let (x, y) = (point.x_mm, point.y_mm - centre_mm);
            let share = point.weight / weight;
            Spot {
                rms_x_mm: sum.rms_x_mm + share * x * x,
                rms_y_mm: sum.rms_y_mm + share * y * y,
                farthest_mm: sum.farthest_mm.max(x.hypot(y)),
                ..sum
            }
        });
        Spot { rms_x_mm: squares.rms_x_mm.sqrt(), rms_y_mm: squares.rms_y_mm.sqrt(), ..squares }
    }

    /// How far the film would have to move, mm away from the lens, for the smallest root-mean-square spot: the least-squares
    /// solution in closed form, since every ray moves straight.
    pub fn least_spot_focus_mm(&self) -> f64 {
        let (here, there): (Vec<_>, Vec<_>) = self.points(0.0).zip(self.points(1.0)).unzip();
        let total: f64 = here.iter().map(|point| point.weight).sum();
        let mean = |points: &[Point]| points.iter().map(|point| point.weight * point.y_mm).sum::<f64>() / total;
        let (centre, drift) = (mean(&here), mean(&there) - mean(&here));
        let (mut with, mut square) = (0.0, 0.0);
        for (here, there) in here.iter().zip(&there) {
            let (x, y) = (there.x_mm - here.x_mm, there.y_mm - here.y_mm - drift);
            with += here.weight * (here.x_mm * x + (here.y_mm - centre) * y);
            square += here.weight * (x * x + y * y);
        }
        -with / square
    }

    /// The wavefront in every colour, on plane waves (a sphere about the reference point of infinite radius: one about the
    /// exit pupil, R away, differs by ε²/2R where a ray misses the point by ε).
    pub fn waves(&self, focus_mm: f64) -> Vec<Waves> {
        let one = |pupil: &crate::Pupil| {
            // Straight line by M: least squares of the phase, tilt and mean.
            let lit: Vec<[f64; 3]> = pupil
                .lit()
                .map(|(cell, open)| [open, pupil.direction(cell)[1], pupil.phase_mm(cell, self.slope, focus_mm)])
                .collect();
            let mean = |f: &dyn Fn(&[f64; 3]) -> f64| {
                lit.iter().map(|cell| cell[0] * f(cell)).sum::<f64>() / lit.iter().map(|cell| cell[0]).sum::<f64>()
            };
            let (m, w) = (mean(&|cell| cell[1]), mean(&|cell| cell[2]));
            let tilt = mean(&|cell| (cell[1] - m) * (cell[2] - w)) / mean(&|cell| (cell[1] - m).powi(2));
            let off = |cell: &[f64; 3]| (cell[2] - w - tilt * (cell[1] - m)) / pupil.wavelength.mm();
            // Cells whose middle lies outside the rim do not tell how high the wave gets.
            let inside = lit.iter().filter(|cell| cell[0] >= 0.5).map(off);
            let (low, high) =
                inside.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), w| (low.min(w), high.max(w)));
            let rms = mean(&|cell| off(cell).powi(2)).sqrt();
            Waves { wavelength: pupil.wavelength, rms, peak_to_valley: high - low }
        };
        self.pupils.iter().map(one).collect()
    }

    /// Light on the film per area, as the weighted area of the pupils in direction cosines: over that of the axis it is the
    /// relative illumination.
    pub fn light(&self) -> f64 {
        let weight: f64 = self.pupils.iter().map(|pupil| pupil.weight).sum();
        self.pupils.iter().map(|pupil| pupil.weight * pupil.area()).sum::<f64>() / weight
    }
}

/// The film shift for which several pencils together have the least root-mean-square spots.
pub fn least_spots_focus_mm(pencils: &[Pencil]) -> f64 {
    // Each pencil's mean square is a parabola in the shift: value and curvature at its own best add up.
    let (mut pull, mut stiffness) = (0.0, 0.0);
    for pencil in pencils {
        let best = pencil.least_spot_focus_mm();
        let curvature = pencil.spot(best + 1.0).rms_mm().powi(2) - pencil.spot(best).rms_mm().powi(2);
        pull += best * curvature;
        stiffness += curvature;
    }
    pull / stiffness
}

/// How finely the best focus is looked for, mm: a tenth of the depth of focus of f/4 in green light.
const FOCUS_STEP_MM: f64 = 1e-3;

/// The film shift within `within_mm` either way that gives pencils the highest mean contrast at one frequency (sagittal
/// and tangential alike): a scan in steps of a quarter of the diffraction depth, then halving to a micrometre.
pub fn most_contrast_focus_mm(pencils: &[Pencil], frequency: f64, within_mm: f64) -> f64 {
    most_contrast_about_mm(pencils, frequency, 0.0, within_mm)
}

/// The same within `within_mm` either way of `middle_mm`.
pub(crate) fn most_contrast_about_mm(pencils: &[Pencil], frequency: f64, middle_mm: f64, within_mm: f64) -> f64 {
    let contrast = |focus: f64| {
        let of = |pencil: &Pencil| {
            let transfer = pencil.transfer(focus, &[frequency], |_| 1.0)[0];
            transfer.sagittal.abs() + transfer.tangential.contrast()
        };
        pencils.iter().map(of).sum::<f64>()
    };
    let better = |one: (f64, f64), other: (f64, f64)| if other.1 > one.1 { other } else { one };
    let looked = |at: f64| (at, contrast(at));
    let steps = 24;
    let scan = (-steps..=steps).map(|i| looked(middle_mm + within_mm * f64::from(i) / f64::from(steps)));
    let mut best = scan.fold((middle_mm, f64::NEG_INFINITY), better);
    let mut step = 0.5 * within_mm / f64::from(steps);
    while step > 0.5 * FOCUS_STEP_MM {
        best = better(better(best, looked(best.0 - step)), looked(best.0 + step));
        step *= 0.5;
    }
    best.0
}
