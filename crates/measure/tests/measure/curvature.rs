//! A curved sharp surface from four ramps and the flat card's squares, drawn by closed forms with chance on every figure.

use crate::common::Noise;
use measure::{
    AlignmentRemark, AlignmentReport, CurvatureError, CurvedReport, Figure, FlatPlace, RampShape, SharpPlace,
    ThroughFocus, curved_surface,
};
use testkit::assert_close;

const FIELD: (f64, f64) = (70.0, 70.0);
/// Places of the card's squares and ramps, in shares of the shorter side.
const SQUARES: [(f64, f64); 17] = [
    (0.0, 0.0),
    (-0.2, 0.0),
    (0.2, 0.0),
    (0.0, -0.2),
    (0.0, 0.2),
    (-0.19, -0.19),
    (0.19, -0.19),
    (-0.19, 0.19),
    (0.19, 0.19),
    (-0.43, 0.0),
    (0.43, 0.0),
    (0.0, -0.43),
    (0.0, 0.43),
    (-0.43, -0.43),
    (0.43, -0.43),
    (-0.43, 0.43),
    (0.43, 0.43),
];
const RAMPS: [(f64, f64); 4] = [(-0.425, -0.205), (0.425, -0.205), (-0.425, 0.205), (0.425, 0.205)];

/// What is true, and how much chance there is.
#[derive(Debug, Clone, Copy)]
struct Truth {
    /// Height at the ramps' distance from the middle, mm.
    at_ramps_mm: f64,
    tilt_deg: (f64, f64),
    curvature_mm: f64,
    /// n1 and n2.
    lens: (f64, f64),
    half_depth_mm: f64,
    /// Standard deviations: of a ramp's height (mm), of a square's response (a share).
    chance: (f64, f64),
}

const PLAIN: Truth = Truth {
    at_ramps_mm: 0.0,
    tilt_deg: (0.0, 0.0),
    curvature_mm: 0.0,
    lens: (0.0, 0.0),
    half_depth_mm: 1.2,
    chance: (0.03, 0.01),
};

impl Truth {
    fn height(&self, (x, y): (f64, f64)) -> f64 {
        let square = |(x, y): (f64, f64)| (x * x + y * y) / (FIELD.0.hypot(FIELD.1) / 2.0).powi(2);
        let ramp = square((RAMPS[0].0 * FIELD.0, RAMPS[0].1 * FIELD.1));
        let slope = |degrees: f64| degrees.to_radians().tan();
        self.at_ramps_mm
            + slope(self.tilt_deg.0) * x
            + slope(self.tilt_deg.1) * y
            + self.curvature_mm * (square((x, y)) - ramp)
    }

    fn response(&self, (x, y): (f64, f64)) -> f64 {
        let s = (x * x + y * y) / (FIELD.0.hypot(FIELD.1) / 2.0).powi(2);
        let off = self.height((x, y)) / self.half_depth_mm;
        0.6 * (-self.lens.0 * s - self.lens.1 * s * s).exp() * 0.5_f64.powf(off * off)
    }

    fn seen(&self, seed: u64) -> Result<CurvedReport, CurvatureError> {
        let mut noise = Noise::new(seed);
        let at = |(x, y): (f64, f64)| (x * FIELD.0, y * FIELD.1);
        let (height, share) = self.chance;
        let ramps: Vec<SharpPlace> = RAMPS
            .iter()
            .map(|&place| SharpPlace {
                position_mm: at(place),
                height_mm: Figure::new(self.height(at(place)) + height * noise.normal(), 1.96 * height.max(1e-3)),
            })
            .collect();
        let flat: Vec<FlatPlace> = SQUARES
            .iter()
            .map(|&place| {
                let response = self.response(at(place));
                let value = response * (1.0 + share * noise.normal());
                FlatPlace { position_mm: at(place), response: Figure::new(value, 1.96 * share.max(1e-4) * response) }
            })
            .collect();
        curved_surface(&ramps, &[self.curve(); 4], &flat, FIELD)
    }

    fn curve(&self) -> ThroughFocus {
        ThroughFocus {
            shape: RampShape::Gauss,
            depth_mm: Figure::new(2.0 * self.half_depth_mm, 0.02 * self.half_depth_mm),
        }
    }
}

fn curvature(surface: &AlignmentReport) -> Figure {
    surface.curvature_mm.expect("the surface has one")
}

/// One figure of a surface.
type Read = fn(&AlignmentReport) -> Figure;

fn holds(figure: Figure, truth: f64) -> bool {
    (figure.value - truth).abs() <= figure.plus_minus
}

#[test]
fn without_chance_a_leaning_bowl_comes_back() {
    for curvature_mm in [-0.9, -0.3, 0.0, 0.3, 0.9] {
        let truth = Truth { tilt_deg: (1.0, -0.6), at_ramps_mm: 0.2, curvature_mm, chance: (0.0, 0.0), ..PLAIN };
        let found = truth.seen(1).unwrap();
        let [surface] = &found.surfaces[..] else { panic!("{found:?}") };
        assert_close!(curvature(surface).value, curvature_mm, absolute = 0.02);
        assert_close!(surface.about_upright_deg.value, 1.0, absolute = 0.005);
        assert_close!(surface.about_level_deg.value, -0.6, absolute = 0.005);
        assert_close!(surface.centre_mm.value, truth.height((0.0, 0.0)), absolute = 0.02);
        assert_close!(surface.corners_mm[1].value, truth.height((35.0, -35.0)), absolute = 0.02);
        assert_close!(found.lens_loss, 0.0, absolute = 0.02);
        assert!(surface.remarks.contains(&AlignmentRemark::BySquares));
    }
}

#[test]
fn straight_on_both_signs_fit_and_focus_beside_the_ramps_tells_them_apart() {
    // In focus at the ramps: the middle is off the focus by 0.444 of the curvature, before it or behind.
    let truth = Truth { curvature_mm: 2.5, ..PLAIN };
    let found = truth.seen(3).unwrap();
    let [one, other] = &found.surfaces[..] else { panic!("{found:?}") };
    for (surface, sign) in [(one, 1.0), (other, -1.0)] {
        let sign = sign * curvature(one).value.signum();
        assert_close!(curvature(surface).value, sign * 2.5, absolute = curvature(surface).plus_minus);
        assert!(surface.remarks.contains(&AlignmentRemark::EitherWay));
    }
    // A flat one is flat within what the middle's sharpness allows: within the half-depth.
    let [flat] = &PLAIN.seen(3).unwrap().surfaces[..] else { panic!() };
    assert!(curvature(flat).plus_minus < 1.0 && holds(curvature(flat), 0.0), "{flat:?}");
    // Focused beside the card, the rings lie on different flanks: one sign is left.
    for curvature_mm in [-0.8, 0.8] {
        let beside = Truth { at_ramps_mm: 0.5, curvature_mm, lens: (0.1, 0.0), ..PLAIN }.seen(3).unwrap();
        let [surface] = &beside.surfaces[..] else { panic!("{beside:?}") };
        assert_close!(curvature(surface).value, curvature_mm, absolute = curvature(surface).plus_minus);
        assert!(curvature(surface).stands_out());
    }
}

#[test]
fn a_soft_lens_is_not_taken_for_a_bowl() {
    // Its corners keep a half of the contrast by themselves, more than is allowed for beforehand.
    let truth = Truth { tilt_deg: (0.7, 0.7), lens: (0.7, 0.0), ..PLAIN };
    let found = truth.seen(11).unwrap();
    let [surface] = &found.surfaces[..] else { panic!("{found:?}") };
    assert!(holds(curvature(surface), 0.0), "{surface:?}");
    assert!(curvature(surface).plus_minus < 0.4, "{surface:?}");
    assert_close!(found.lens_loss, 1.0 - (-0.7_f64).exp(), absolute = 0.1);
    assert!(surface.remarks.iter().any(|r| matches!(r, AlignmentRemark::LensLoses { .. })));
}

/// How often the truth lies in the interval (in one of two, where two are told): curvature, a corner, the middle, a tilt.
#[test]
fn intervals_hold_the_truth() {
    let n: u64 = testkit::short_or_long(60, 3000);
    for tilt_deg in [0.0, 0.3, 1.0, 2.0] {
        let (mut within, mut asked) = ([0_u64; 4], 0_u64);
        for seed in 0..n / 4 {
            let mut chance = Noise::new(seed + 7_000_000 + (1000.0 * tilt_deg) as u64 * 100_000);
            let turn = std::f64::consts::TAU * chance.uniform();
            let truth = Truth {
                at_ramps_mm: 0.4 * chance.normal(),
                tilt_deg: (tilt_deg * turn.cos(), tilt_deg * turn.sin()),
                curvature_mm: 0.6 * chance.normal(),
                lens: ((0.2 * chance.normal()).abs(), 0.05 * chance.normal()),
                ..PLAIN
            };
            // One draw in hundreds is so odd that squares and ramps seem to contradict each other: it is refused, not told wrongly.
            let found = match truth.seen(seed) {
                Ok(found) => found,
                Err(CurvatureError::Contradiction { .. }) => continue,
                Err(error) => panic!("{error}"),
            };
            asked += 1;
            let figures: [(Read, f64); 4] = [
                (curvature, truth.curvature_mm),
                (|s| s.corners_mm[0], truth.height((-35.0, -35.0))),
                (|s| s.centre_mm, truth.height((0.0, 0.0))),
                (|s| s.about_upright_deg, truth.tilt_deg.0),
            ];
            for (count, (figure, truth)) in within.iter_mut().zip(figures) {
                *count += u64::from(found.surfaces.iter().any(|s| holds(figure(s), truth)));
            }
        }
        assert!(asked * 100 >= n / 4 * 99, "{asked} of {} told", n / 4);
        let shares = within.map(|count| count as f64 / asked as f64);
        println!("leaning by {tilt_deg}: {shares:?}");
        // What is allowed beforehand for the lens and the curves' width is more than what is drawn: intervals are rather wide.
        for share in shares {
            assert_close!(
                share,
                0.97,
                absolute = 0.03_f64.max(3.0 * (0.97 * 0.03 / asked as f64).sqrt()),
                "{tilt_deg}"
            );
        }
    }
}

#[test]
fn what_tells_no_curvature_is_refused() {
    let ramps: Vec<SharpPlace> = RAMPS
        .iter()
        .map(|(x, y)| SharpPlace { position_mm: (70.0 * x, 70.0 * y), height_mm: Figure::new(0.0, 0.05) })
        .collect();
    let flat = |at: &[(f64, f64)], response: Figure| -> Vec<FlatPlace> {
        at.iter().map(|(x, y)| FlatPlace { position_mm: (70.0 * x, 70.0 * y), response }).collect()
    };
    let (good, curve) = (Figure::new(0.5, 0.01), PLAIN.curve());
    let why = |curves: &[ThroughFocus], flat: &[FlatPlace]| curved_surface(&ramps, curves, flat, FIELD).unwrap_err();
    assert_eq!(why(&[], &flat(&SQUARES, good)), CurvatureError::NoCurve);
    assert_eq!(why(&[curve], &flat(&SQUARES[..5], good)), CurvatureError::TooFewPlaces { found: 5, least: 8 });
    assert_eq!(why(&[curve], &flat(&SQUARES[9..], good)), CurvatureError::NoMiddle);
    let bad = why(&[curve], &flat(&SQUARES, Figure::new(f64::NAN, 0.01)));
    assert!(matches!(bad, CurvatureError::BadFigure { number: 1, .. }), "{bad:?}");
    let bad = why(&[curve, ThroughFocus { depth_mm: Figure::exact(1.0), ..curve }], &flat(&SQUARES, good));
    assert!(matches!(bad, CurvatureError::BadFigure { number: 2, .. }), "{bad:?}");
    // Ramps that lean by three degrees, and squares that are alike all over.
    let leaning: Vec<SharpPlace> =
        ramps.iter().map(|p| SharpPlace { height_mm: Figure::new(0.05 * p.position_mm.0, 0.05), ..*p }).collect();
    let against = curved_surface(&leaning, &[curve], &flat(&SQUARES, good), FIELD).unwrap_err();
    assert!(matches!(against, CurvatureError::Contradiction { .. }), "{against:?}");
    // Responses that are hardly known allow anything.
    let vague = why(&[curve], &flat(&SQUARES, Figure::new(0.5, 5.0)));
    assert!(matches!(vague, CurvatureError::NotTold { .. }), "{vague:?}");
    let few = curved_surface(&ramps[..2], &[curve], &flat(&SQUARES, good), FIELD).unwrap_err();
    assert!(matches!(few, CurvatureError::Surface(_)), "{few:?}");
}
