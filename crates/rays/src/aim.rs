//! Rays that fill the real stop: from a paraxial start, by Newton's rule on what the exact trace finds there.

use crate::{Losses, Object, Openings, Ray, Rays, Sequence, System, Wavelength};

/// The chief ray passes the stop's centre within this share of its radius.
const CHIEF_MISS: f64 = 1e-11;

/// Newton's steps before a ray counts as not to be aimed.
const MOST_STEPS: usize = 25;

/// Parts into which the way from the axis to a place in the field is cut, where the paraxial start is too far off.
const APPROACH: [usize; 3] = [1, 6, 30];

/// Why no picture of a place in the field could be traced.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum AimError {
    /// No ray from there passes the middle of the stop.
    #[error("no ray from {:.0} % of the way to the edge of the field passes the middle of the stop", 100.0 * .field)]
    NoChief {
        /// The place in the field.
        field: f64,
    },
    /// Nothing of the stop's opening is lit from there.
    #[error("no light from {:.0} % of the way to the edge of the field reaches the film", 100.0 * .field)]
    Dark {
        /// The place in the field.
        field: f64,
    },
    /// Fewer rays came through than the shape of the pupil can be told from.
    #[error("only {rays} rays from {:.0} % of the way to the edge of the field came through, too few to tell the pupil's shape", 100.0 * .field)]
    TooFew {
        /// The place in the field.
        field: f64,
        /// How many came through.
        rays: usize,
    },
    /// No place in the field is imaged there.
    #[error("no place in the field is imaged {film_mm} mm from the axis")]
    NotReached {
        /// Height on film, mm.
        film_mm: f64,
    },
}

/// How rays leave one place in the field. A ray is chosen by two numbers: where it meets the plane of the first vertex
/// (subject at infinity, mm), or the slopes at which it leaves (subject near).
#[derive(Debug, Clone, Copy)]
pub(crate) struct Launch {
    object: Object,
    index: f64,
    field: f64,
}

impl Launch {
    pub(crate) fn field(&self) -> f64 {
        self.field
    }

    /// The ray of two numbers. Its path counts from the subject, or from the wavefront through the first vertex.
    pub(crate) fn ray(&self, [a, b]: [f64; 2]) -> Ray {
        let unit = |x: f64, y: f64| {
            let length = (1.0 + x * x + y * y).sqrt();
            [x / length, y / length, 1.0 / length]
        };
        match self.object {
            Object::Infinity => {
                let toward = unit(0.0, self.field);
                Ray { at: [a, b, 0.0], toward, path_mm: self.index * (b * toward[1]) }
            }
            Object::At { distance_mm } => Ray { at: [0.0, self.field, -distance_mm], toward: unit(a, b), path_mm: 0.0 },
        }
    }
}

/// One place in the field at one wavelength, with its chief ray found.
#[derive(Debug, Clone)]
pub(crate) struct Aim {
    pub(crate) lens: Sequence,
    pub(crate) launch: Launch,
    stop: usize,
    radius: f64,
    /// The chief ray's second number; its first is 0.
    pub(crate) chief: f64,
    /// How the place on the stop grows with either number, near the chief ray.
    per: [f64; 2],
}

impl System {
    /// Finds the chief ray of a place in the field.
    pub(crate) fn aim(&self, field: f64, wavelength: Wavelength) -> Result<Aim, AimError> {
        let lens = self.at(wavelength);
        let (by_height, by_slope) = {
            let matrix = lens.before_row(self.stop());
            (matrix.a, matrix.b * lens.index_before())
        };
        let (per, by_field) = match self.object() {
            Object::Infinity => (by_height, by_slope),
            Object::At { distance_mm } => (by_height * distance_mm + by_slope, by_height),
        };
        let launch = Launch { object: self.object(), index: lens.index_before(), field };
        let mut aim =
            Aim { lens, launch, stop: self.stop(), radius: self.semi_diameter_mm(), chief: 0.0, per: [per; 2] };
        for parts in APPROACH {
            if aim.approach(field, -by_field / per, parts) {
                return Ok(aim);
            }
        }
        Err(AimError::NoChief { field })
    }
}

impl Aim {
    /// Walks from the axis to `field` in `parts` steps; `slope` is the paraxial chief number by field.
    fn approach(&mut self, field: f64, slope: f64, parts: usize) -> bool {
        let (mut last, mut before) = (0.0, None);
        for part in 1..=parts {
            self.launch.field = field * part as f64 / parts as f64;
            let start = before.map_or(slope * self.launch.field, |before: f64| 2.0 * last - before);
            let Some(found) = self.find_chief(start) else { return false };
            (before, last) = (Some(last), found);
        }
        self.chief = last;
        true
    }

    /// Where rays meet the stop's plane.
    fn on_stop(&self, numbers: &[[f64; 2]]) -> Vec<Option<[f64; 2]>> {
        let mut rays = Rays::new(numbers.iter().map(|numbers| self.launch.ray(*numbers)));
        self.lens.trace_rows(&mut rays, 0..self.stop + 1, Openings::Measure);
        rays.iter().map(|ray| ray.ok().map(|ray| [ray.at[0], ray.at[1]])).collect()
    }

    /// A change of a number that moves the ray on the stop by a thousandth of its radius, to first order.
    fn nudge(&self) -> f64 {
        1e-3 * self.radius / self.per[1].abs()
    }

    /// Newton's rule from `start`.
    fn find_chief(&mut self, start: f64) -> Option<f64> {
        let (mut number, nudge) = (start, self.nudge());
        for _ in 0..MOST_STEPS {
            let met = self.on_stop(&[[0.0, number], [0.0, number + nudge], [0.0, number - nudge], [nudge, number]]);
            let [here, above, below, beside] = [met[0]?, met[1]?, met[2]?, met[3]?];
            let slope = (above[1] - below[1]) / (2.0 * nudge);
            let step = here[1] / slope;
            if !step.is_finite() {
                return None;
            }
            number -= step;
            if here[1].abs() < CHIEF_MISS * self.radius {
                self.per = [beside[0] / nudge, slope];
                return Some(number);
            }
        }
        None
    }

    /// The numbers of rays that meet the stop at `targets` (shares of its radius, x and y) within `tolerance` of its
    /// radius; `None` where that was not found.
    pub(crate) fn at_stop(&self, targets: &[[f64; 2]], tolerance: f64) -> Vec<Option<[f64; 2]>> {
        let chief = [0.0, self.chief];
        let linear = |[x, y]: &[f64; 2]| [x * self.radius / self.per[0], self.chief + y * self.radius / self.per[1]];
        let mut searches: Vec<Search> = targets
            .iter()
            .map(|target| Search { target: *target, at: linear(target), good: chief, done: false })
            .collect();
        for _ in 0..MOST_STEPS {
            if searches.iter().all(|search| search.done) {
                break;
            }
            self.step(&mut searches, tolerance);
        }
        searches.iter().map(|search| search.done.then_some(search.at)).collect()
    }

    /// One step of Newton's rule for every search that is not done.
    fn step(&self, searches: &mut [Search], tolerance: f64) {
        let nudge = [1e-4 * self.radius / self.per[0].abs(), 1e-4 * self.radius / self.per[1].abs()];
        let open: Vec<usize> = (0..searches.len()).filter(|i| !searches[*i].done).collect();
        let numbers: Vec<[f64; 2]> = open
            .iter()
            .flat_map(|i| {
                let [a, b] = searches[*i].at;
                [[a, b], [a + nudge[0], b], [a, b + nudge[1]]]
            })
            .collect();
        for (i, met) in open.into_iter().zip(self.on_stop(&numbers).chunks(3)) {
            searches[i].advance([met[0], met[1], met[2]], nudge, self.radius, tolerance);
        }
    }

    /// Rays of those numbers traced through the whole lens, openings measured only.
    pub(crate) fn through(&self, numbers: impl IntoIterator<Item = [f64; 2]>) -> Rays {
        let mut rays = Rays::new(numbers.into_iter().map(|numbers| self.launch.ray(numbers)));
        self.lens.trace(&mut rays, Openings::Measure);
        rays
    }
}

/// One ray being aimed.
struct Search {
    /// Where on the stop, in shares of its radius.
    target: [f64; 2],
    at: [f64; 2],
    /// The last numbers that came through.
    good: [f64; 2],
    done: bool,
}

impl Search {
    fn advance(&mut self, met: [Option<[f64; 2]>; 3], nudge: [f64; 2], radius: f64, tolerance: f64) {
        let [Some(here), Some(a), Some(b)] = met else {
            self.at = [0, 1].map(|k| 0.5 * (self.at[k] + self.good[k]));
            return;
        };
        let miss = [0, 1].map(|k| self.target[k] * radius - here[k]);
        if miss[0].hypot(miss[1]) <= tolerance * radius {
            self.done = true;
            return;
        }
        self.good = self.at;
        let by_a = [0, 1].map(|k| (a[k] - here[k]) / nudge[0]);
        let by_b = [0, 1].map(|k| (b[k] - here[k]) / nudge[1]);
        let area = by_a[0] * by_b[1] - by_a[1] * by_b[0];
        if area != 0.0 {
            self.at[0] += (miss[0] * by_b[1] - miss[1] * by_b[0]) / area;
            self.at[1] += (miss[1] * by_a[0] - miss[0] * by_a[1]) / area;
        }
    }
}

/// What became of rays that were spread evenly over the stop's opening.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Census {
    /// How many were to be sent.
    pub sent: usize,
    /// How many of them no ray from the subject can be: nothing from there passes that place of the stop.
    pub unaimed: usize,
    /// What ended the others before the film, by kind.
    pub losses: Losses,
    /// How many ended at which row (counted from 1), first rows first.
    pub by_row: Vec<(usize, usize)>,
}

impl Census {
    /// How many arrived.
    pub fn arrived(&self) -> usize {
        self.sent - self.unaimed - self.losses.total()
    }
}

/// Rays for the census keep this share of the stop's radius away from its very rim, where the last digit decides.
const INSIDE: f64 = 1.0 - 1e-6;

impl System {
    /// Sends rays from a place in the field to evenly spread points of the stop, in `rings` rings of 6, 12, 18 … about its
    /// middle, and counts what becomes of them.
    pub fn census(&self, field: f64, wavelength: Wavelength, rings: usize) -> Result<Census, AimError> {
        let aim = self.aim(field, wavelength)?;
        let ring = |ring: usize| {
            (0..(6 * ring).max(1)).map(move |i| {
                let (sine, cosine) = (std::f64::consts::TAU * i as f64 / (6 * ring).max(1) as f64).sin_cos();
                let radius = INSIDE * ring as f64 / rings.max(1) as f64;
                [radius * cosine, radius * sine]
            })
        };
        let targets: Vec<[f64; 2]> = (0..=rings).flat_map(ring).collect();
        let numbers: Vec<[f64; 2]> = aim.at_stop(&targets, 0.1 * (1.0 - INSIDE)).into_iter().flatten().collect();
        let mut rays = Rays::new(numbers.iter().map(|numbers| aim.launch.ray(*numbers)));
        aim.lens.trace(&mut rays, Openings::Cut);
        let mut rows = vec![0; self.rows().len()];
        rays.iter().filter_map(Result::err).for_each(|lost| rows[lost.row] += 1);
        let by_row = rows.into_iter().enumerate().filter(|(_, count)| *count > 0).map(|(row, count)| (row + 1, count));
        Ok(Census {
            sent: targets.len(),
            unaimed: targets.len() - numbers.len(),
            losses: rays.losses(),
            by_row: by_row.collect(),
        })
    }
}
