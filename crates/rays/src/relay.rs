//! A converter without faults of its own, between the last glass and the film: the best case of any.
//!
//! It is known by its power and its place, as a black box is. What light does in it follows from three wishes: where the film is,
//! everything is as sharp as the picture that the lens makes in front of it, undistorted, and no light is lost. A plane in front then
//! goes over into the film's k times as large, and directions (L, M) from a place (ξ, η) of it become
//!
//! L' = L/k + (1 − 1/k)·ξ/√(s² + ξ² + η²),  with the path longer by (k − 1)·√(s² + ξ² + η²),
//!
//! s from the thin lens to that plane: the sine condition, and the ray through the thin lens's middle goes straight on. Places and
//! directions change together so that light keeps its étendue and path and ray stay each other's derivatives (Hamilton's
//! conditions; the tests take the derivatives). To first order it is the thin lens. Such a map is ideal for one plane alone, so that it is
//! made anew wherever the film stands; another plane may be as sharp only to first order.

use crate::SystemError;
use crate::pencil::OnFilm;

/// A thin lens without faults of its own, behind all glass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ideal {
    /// One over its focal length, 1/mm: below 0 for a converter that makes the picture larger.
    pub power_per_mm: f64,
    /// Where it stands, mm in front of the film. It may lie among the glass before it.
    pub before_film_mm: f64,
}

/// One of them as a map between two planes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Relay {
    /// How much larger the farther plane is.
    enlarges: f64,
    /// Thin lens to the plane that it images, mm.
    from_mm: f64,
    power: f64,
}

/// What lies between the plane that rays are traced to and the film.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Screen {
    /// From the last glass on, each imaging onto the next one's plane, the last onto the film.
    relays: Vec<Relay>,
    ideals: Vec<Ideal>,
}

impl Screen {
    /// From the last glass toward the film.
    pub(crate) fn new(ideals: &[Ideal]) -> Result<Self, SystemError> {
        let mut relays = Vec::with_capacity(ideals.len());
        // Where the plane lies that the next one has to image to, mm in front of the film.
        let mut plane = 0.0;
        for ideal in ideals.iter().rev() {
            let Ideal { power_per_mm: power, before_film_mm } = *ideal;
            let to_mm = before_film_mm - plane;
            let enlarges = 1.0 - power * to_mm;
            if !(enlarges.is_finite() && enlarges > 0.0 && to_mm > 0.0) {
                return Err(SystemError::Ideal { before_film_mm });
            }
            let from_mm = to_mm / enlarges;
            relays.push(Relay { enlarges, from_mm, power });
            plane = before_film_mm - from_mm;
        }
        relays.reverse();
        Ok(Self { relays, ideals: ideals.to_vec() })
    }

    /// The same with the film `by_mm` farther from all of them.
    pub(crate) fn moved(&self, by_mm: f64) -> Result<Self, SystemError> {
        let ideals = self.ideals.iter().map(|ideal| Ideal { before_film_mm: ideal.before_film_mm + by_mm, ..*ideal });
        Self::new(&ideals.collect::<Vec<_>>())
    }

    pub(crate) fn ideals(&self) -> &[Ideal] {
        &self.ideals
    }

    /// How much farther away the film is than the plane that rays are traced to, mm.
    pub(crate) fn beyond_mm(&self) -> f64 {
        self.relays.iter().map(|relay| (relay.enlarges - 1.0) * relay.from_mm).sum()
    }

    /// How much larger the picture on film is than in that plane.
    pub(crate) fn enlarges(&self) -> f64 {
        self.relays.iter().map(|relay| relay.enlarges).product()
    }

    /// A ray where it meets that plane, on the film; `None` where its direction would be none.
    pub(crate) fn onto_film(&self, ray: OnFilm) -> Option<OnFilm> {
        self.relays.iter().try_fold(ray, |ray, relay| relay.over(ray))
    }

    /// Where something is sharp `mm` behind that plane, from the film, to first order.
    pub(crate) fn focus_mm(&self, mm: f64) -> f64 {
        self.relays.iter().fold(mm, |mm, relay| {
            let (from, to) = (relay.from_mm + mm, relay.enlarges * relay.from_mm);
            from / (1.0 + relay.power * from) - to
        })
    }

    /// A paraxial ray, by its height and slope in that plane, on the film.
    pub(crate) fn paraxial(&self, height_mm: f64, slope: f64) -> (f64, f64) {
        self.relays.iter().fold((height_mm, slope), |(height, slope), relay| {
            (relay.enlarges * height, slope / relay.enlarges - relay.power * height)
        })
    }
}

impl Relay {
    fn over(&self, ray: OnFilm) -> Option<OnFilm> {
        let (k, [x, y], [l, m, _]) = (self.enlarges, ray.at, ray.toward);
        let far = (self.from_mm * self.from_mm + x * x + y * y).sqrt();
        let turned = |old: f64, place: f64| old / k + (1.0 - 1.0 / k) * place / far;
        let (l, m) = (turned(l, x), turned(m, y));
        let rest = 1.0 - l * l - m * m;
        (rest > 0.0).then(|| OnFilm {
            at: [k * x, k * y],
            toward: [l, m, rest.sqrt()],
            path_mm: ray.path_mm + (k - 1.0) * far,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    /// A doubler of the trade: 1/s' = 1/s + φ with s = 40 and s' = 80 mm.
    fn doubler() -> Screen {
        Screen::new(&[Ideal { power_per_mm: 1.0 / 80.0 - 1.0 / 40.0, before_film_mm: 80.0 }]).expect("a converter")
    }

    fn ray(at: [f64; 2], l: f64, m: f64) -> OnFilm {
        OnFilm { at, toward: [l, m, (1.0 - l * l - m * m).sqrt()], path_mm: 0.0 }
    }

    #[test]
    fn a_doubler_doubles_and_stands_where_the_thin_lens_formula_has_it() {
        let screen = doubler();
        assert_close!(screen.enlarges(), 2.0, relative = 1e-12);
        assert_close!(screen.beyond_mm(), 40.0, relative = 1e-12);
        // Two of them: four times, the first one's picture 40 mm behind the second.
        let two = Screen::new(&[
            Ideal { power_per_mm: -1.0 / 80.0, before_film_mm: 100.0 },
            Ideal { power_per_mm: -1.0 / 80.0, before_film_mm: 80.0 },
        ]);
        let two = two.expect("two");
        // The first images 30 mm, 1/60 = 1/s − 1/80, onto the second's plane at 40 mm in front of the film.
        assert_close!(two.enlarges(), 2.0 * (1.0 + 60.0 / 80.0), relative = 1e-12);
        // Far off its plane the focus is the thin lens's: 50 mm behind it goes to 1/(1/50 − 1/80).
        assert_close!(screen.focus_mm(10.0), 1.0 / (1.0 / 50.0 - 1.0 / 80.0) - 80.0, relative = 1e-12);
    }

    /// The ray through the thin lens's middle goes straight on, whatever its angle.
    #[test]
    fn the_middle_ray_is_not_bent() {
        let far = (40.0f64 * 40.0 + 20.0 * 20.0).sqrt();
        let out = doubler().onto_film(ray([0.0, 20.0], 0.0, 20.0 / far)).expect("a ray");
        assert_close!(out.toward[1], 20.0 / far, relative = 1e-12);
        assert_close!(out.at[1], 40.0, relative = 1e-12);
        // From 44.7 mm behind the middle to twice as far.
        assert_close!(out.path_mm, far, relative = 1e-12);
    }

    /// Hamilton's conditions: dE = L'·dx' − L·dx, and so dx'∧dL' + dy'∧dM' = dx∧dL + dy∧dM. By central differences, for a steep ray.
    #[test]
    fn path_and_rays_are_each_others_derivatives() {
        let screen = doubler();
        let (at, [l, m], step) = ([3.0, 14.0], [0.11, 0.23], 1e-4);
        let here = screen.onto_film(ray(at, l, m)).expect("a ray");
        for axis in [0, 1] {
            let beside = |by: f64| {
                let mut at = at;
                at[axis] += by;
                screen.onto_film(ray(at, l, m)).expect("a ray")
            };
            let (one, other) = (beside(step), beside(-step));
            let by_place = |of: fn(&OnFilm) -> f64| (of(&one) - of(&other)) / (2.0 * step);
            let path = by_place(|ray| ray.path_mm);
            let moved = here.toward[0] * by_place(|ray| ray.at[0]) + here.toward[1] * by_place(|ray| ray.at[1]);
            assert_close!(path, moved - [l, m][axis], absolute = 1e-8);
        }
        // dL'/dy = dM'/dx: the change of direction over the plane is a gradient.
        let turn = |by: [f64; 2], k: usize| {
            let at = |sign: f64| ray([at[0] + sign * by[0], at[1] + sign * by[1]], l, m);
            let to = |sign: f64| screen.onto_film(at(sign)).expect("a ray").toward[k];
            (to(1.0) - to(-1.0)) / (2.0 * step)
        };
        assert_close!(turn([0.0, step], 0), turn([step, 0.0], 1), absolute = 1e-9);
    }

    #[test]
    fn near_the_axis_it_is_the_thin_lens() {
        let screen = doubler();
        let out = screen.onto_film(ray([0.0, 1e-4], 0.0, 2e-4)).expect("a ray");
        let (height, slope) = screen.paraxial(1e-4, 2e-4);
        assert_close!(out.at[1], height, relative = 1e-9);
        assert_close!(out.toward[1], slope, relative = 1e-6);
        // By the matrix of the thin lens: back 40 mm to it, bent by −φ·y, 80 mm on.
        let at_lens = 1e-4 - 40.0 * 2e-4;
        let bent = 2e-4 + at_lens / 80.0;
        assert_close!(slope, bent, relative = 1e-12);
        assert_close!(height, at_lens + 80.0 * bent, relative = 1e-12);
    }

    #[test]
    fn what_no_film_can_stand_behind_is_refused() {
        for (power_per_mm, before_film_mm) in [(-0.01, -5.0), (0.05, 80.0), (f64::NAN, 80.0)] {
            let refused = Screen::new(&[Ideal { power_per_mm, before_film_mm }]).expect_err("no converter");
            assert!(refused.to_string().contains("in front of the film"), "{refused}");
        }
    }
}
