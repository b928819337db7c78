//! The sharp surface, and contrast lost by defocus against published and closed forms.

use crate::common::Noise;
use measure::{
    AlignmentError, AlignmentOptions, AlignmentRemark, Figure, SharpPlace, Softness, SoftnessError, alignment,
    defocus_mtf, defocus_waves, depth_to_half_mm, film_defocus_mm, geometric_defocus_mtf, hopkins, softness_explained,
};
use testkit::assert_close;

#[test]
fn hopkins_integral() {
    // Hopkins 1955's integral, evaluated apart with 30 digits by adaptive quadrature.
    for (waves, share, expected) in [
        (0.25, 0.05, 0.926_039_52),
        (0.25, 0.1, 0.838_860_27),
        (0.25, 0.2, 0.658_579_48),
        (0.25, 0.5, 0.287_468_28),
        (1.0, 0.05, 0.780_092_61),
        (1.0, 0.1, 0.426_645_84),
        (1.0, 0.2, -0.014_413_69),
        (2.0, 0.05, 0.412_970_29),
        (2.0, 0.02, 0.861_255_8),
    ] {
        assert_close!(hopkins(share, waves), expected, absolute = 1e-7, "{waves} {share}");
    }
    // In focus: (2/π)(acos s - s sqrt(1 - s²)) (Goodman, Introduction to Fourier Optics, 6.3).
    for i in 0..=20 {
        let s = f64::from(i) / 20.0;
        let closed = std::f64::consts::FRAC_2_PI * (s.acos() - s * (1.0 - s * s).sqrt());
        assert_close!(hopkins(s, 0.0), closed, absolute = 1e-9);
        assert_close!(hopkins(s, 1.3), hopkins(s, -1.3), absolute = 1e-15);
    }
    assert_eq!(hopkins(1.2, 0.5), 0.0);
}

#[test]
fn worked_examples_on_film() {
    let frequencies = [10.0, 20.0, 30.0, 40.0];
    let cases = [
        (8.0, 0.1, [0.927_548_98, 0.832_920_87, 0.729_818_94, 0.628_274_48]),
        (16.0, 0.5, [0.802_909_97, 0.553_466_41, 0.353_991_78, 0.226_029_51]),
    ];
    for (f_number, defocus, expected) in cases {
        for (nu, contrast) in frequencies.iter().zip(expected) {
            assert_close!(defocus_mtf(*nu, defocus, f_number, 0.55e-3), contrast, absolute = 2e-8);
        }
    }
    // dz/(8 N² λ): 0.5 mm at f/16 and 550 nm.
    assert_close!(defocus_waves(0.5, 16.0, 0.55e-3), 0.443_892_045_454_545_5, relative = 1e-12);
    assert_close!(film_defocus_mm(2.0, 0.5), 0.5, relative = 1e-15);
}

#[test]
fn rays_alone() {
    // W = 2 at a share of 0.02: a = 8π·W·s, 2·J1(a)/a (J1 evaluated apart).
    let (f_number, wavelength) = (8.0, 0.55e-3);
    let defocus = 2.0 * 8.0 * f_number * f_number * wavelength;
    let nu = 0.02 / (wavelength * f_number);
    assert_close!(geometric_defocus_mtf(nu, defocus, f_number), 0.878_878_29, absolute = 1e-8);
    assert_close!(geometric_defocus_mtf(nu, 0.0, f_number), 1.0, absolute = 1e-12);
    // Its first zero: J1(3.8317) (Abramowitz & Stegun, table 9.5).
    let zero = 3.831_705_970_2 * f_number / (std::f64::consts::PI * nu);
    assert_close!(geometric_defocus_mtf(nu, zero, f_number), 0.0, absolute = 1e-10);
    // Far out of focus and far below the cut-off the two agree: rays are enough.
    assert_close!(hopkins(0.002, 20.0), geometric_defocus_mtf(nu / 10.0, 10.0 * defocus, f_number), absolute = 0.004);
}

const FIELD: AlignmentOptions = AlignmentOptions { field_mm: (70.0, 70.0), curvature: true };

/// Places of a surface 0.3 + a x + b y + c (r/corner)², seen with this standard deviation.
fn places(at: &[(f64, f64)], (a, b, c): (f64, f64, f64), deviation: f64, seed: u64) -> Vec<SharpPlace> {
    let mut noise = Noise::new(seed);
    let corner = 35.0 * std::f64::consts::SQRT_2;
    at.iter()
        .map(|&(x, y)| {
            let z = 0.3 + a * x + b * y + c * (x * x + y * y) / corner.powi(2) + deviation * noise.normal();
            SharpPlace { position_mm: (x, y), height_mm: Figure::new(z, 1.96 * deviation.max(0.01)) }
        })
        .collect()
}

const FOUR: [(f64, f64); 4] = [(-30.0, -30.0), (30.0, -30.0), (-30.0, 30.0), (30.0, 30.0)];
const NINE: [(f64, f64); 9] = [
    (-30.0, -30.0),
    (30.0, -30.0),
    (-30.0, 30.0),
    (30.0, 30.0),
    (0.0, 0.0),
    (0.0, -30.0),
    (30.0, 0.0),
    (0.0, 30.0),
    (-30.0, 0.0),
];

#[test]
fn a_tilted_curved_surface_comes_back() {
    let report = alignment(&places(&NINE, (0.02, -0.01, 0.8), 0.0, 1), &FIELD).unwrap();
    assert_close!(report.centre_mm.value, 0.3, absolute = 1e-12);
    assert_close!(report.about_upright_deg.value, 0.02_f64.atan().to_degrees(), absolute = 1e-10);
    assert_close!(report.about_level_deg.value, -(0.01_f64.atan().to_degrees()), absolute = 1e-10);
    assert_close!(report.curvature_mm.unwrap().value, 0.8, absolute = 1e-10);
    // Upper right: 0.3 + 0.7 + 0.35 + 0.8.
    assert_close!(report.corners_mm[1].value, 2.15, absolute = 1e-10);
    assert_close!(report.height_at((10.0, 0.0)).value, 0.3 + 0.2 + 0.8 * 100.0 / 2450.0, absolute = 1e-10);
    assert!(report.remarks.is_empty(), "{:?}", report.remarks);
}

#[test]
fn four_corners_tell_a_tilt_but_no_curvature() {
    let report = alignment(&places(&FOUR, (0.02, 0.0, 0.0), 0.0, 1), &FIELD).unwrap();
    assert!(report.curvature_mm.is_none());
    assert!(report.remarks.contains(&AlignmentRemark::NoCurvature));
    // Each of four heights good to ± 0.0196: a slope over 30 mm by all four is good to 0.0196 / (2 · 30).
    let half = (0.0196_f64 / 60.0).to_degrees() / (1.0 + 0.02 * 0.02);
    assert_close!(report.about_upright_deg.plus_minus, half, relative = 1e-6);
    assert!(!report.about_level_deg.stands_out());
    let level = alignment(&places(&FOUR, (0.0, 0.0, 0.0), 0.0, 1), &FIELD).unwrap();
    assert!(level.remarks.contains(&AlignmentRemark::NoTilt));
    let mut bent = places(&NINE, (0.02, 0.0, 0.0), 0.0, 1);
    bent[0].height_mm.value += 1.0;
    let report = alignment(&bent, &FIELD).unwrap();
    assert!(report.remarks.iter().any(|r| matches!(r, AlignmentRemark::Scattered { .. })), "{:?}", report.remarks);
}

#[test]
fn intervals_hold_the_truth() {
    let n: u64 = testkit::short_or_long(400, 3000);
    let mut within = [0_u64; 3];
    for seed in 0..n {
        let report = alignment(&places(&NINE, (0.02, -0.01, 0.8), 0.05, seed), &FIELD).unwrap();
        let pairs = [
            (report.about_upright_deg, 0.02_f64.atan().to_degrees()),
            (report.curvature_mm.unwrap(), 0.8),
            (report.corners_mm[3], 0.3 + 0.7 - 0.35 + 0.8),
        ];
        for (count, (figure, truth)) in within.iter_mut().zip(pairs) {
            *count += u64::from((figure.value - truth).abs() <= figure.plus_minus);
        }
    }
    for count in within {
        let share = count as f64 / n as f64;
        println!("{share}");
        // Five left over: where their scatter happens to be large it is believed, where it is small it is not.
        assert_close!(share, 0.965, absolute = (3.0 * (0.95 * 0.05 / n as f64).sqrt()).max(0.02), "{within:?}");
    }
}

#[test]
fn places_that_tell_no_tilt_are_refused() {
    let all = places(&NINE, (0.0, 0.0, 0.0), 0.0, 1);
    assert_eq!(alignment(&all[..2], &FIELD).unwrap_err(), AlignmentError::TooFewPlaces { found: 2, least: 3 });
    let line = places(&[(0.0, 0.0), (10.0, 10.0), (20.0, 20.0)], (0.0, 0.0, 0.0), 0.0, 1);
    assert_eq!(alignment(&line, &FIELD).unwrap_err(), AlignmentError::Degenerate);
    let mut broken = all.clone();
    broken[5].height_mm = Figure::exact(0.2);
    assert!(matches!(alignment(&broken, &FIELD), Err(AlignmentError::BadPlace { number: 6, .. })));
    broken[1].position_mm.0 = f64::NAN;
    assert!(matches!(alignment(&broken, &FIELD), Err(AlignmentError::BadPlace { number: 2, .. })));
    let none = AlignmentOptions { field_mm: (0.0, 70.0), ..FIELD };
    assert_eq!(alignment(&all, &none).unwrap_err(), AlignmentError::BadField { width_mm: 0.0, height_mm: 70.0 });
}

fn corner(defocus: Figure, response: f64) -> Softness {
    Softness {
        cy_per_mm: 20.0,
        wavelength_mm: 0.55e-3,
        effective_f_number: 16.0,
        defocus_mm: defocus,
        sharp_defocus_mm: Figure::exact(0.0),
        corner: Figure::new(response, 0.01),
        sharp: Figure::new(0.6, 0.01),
    }
}

#[test]
fn defocus_explains_its_share_of_a_soft_corner() {
    // At f/16, 20 cycles/mm: 0.553 466 41 at 0.5 mm (as above) over the perfect lens's value in focus.
    let left = 0.553_466_41 / defocus_mtf(20.0, 0.0, 16.0, 0.55e-3);
    let all = softness_explained(&corner(Figure::exact(0.5), 0.6 * left)).unwrap();
    assert_close!(all.left_by_defocus.value, left, absolute = 1e-7);
    assert_close!(all.explained.value, 1.0, absolute = 1e-6);
    // Twice the loss in logarithms: a half is explained.
    let half = softness_explained(&corner(Figure::exact(0.5), 0.6 * left * left)).unwrap();
    assert_close!(half.explained.value, 0.5, absolute = 1e-6);
    // Only the responses are unsure: 1.67 % and 1.67 %/left² of the ratio over its logarithm.
    let doubt = 0.5 * (0.01 / 0.6_f64).hypot(0.01 / (0.6 * left * left)) / (-2.0 * left.ln());
    assert_close!(half.explained.plus_minus, doubt, relative = 1e-6);
    // In focus nothing is explained, but an unsure focus leaves room.
    let none = softness_explained(&corner(Figure::new(0.0, 0.5), 0.6 * left)).unwrap();
    assert_close!(none.explained.value, 0.0, absolute = 1e-9);
    assert_close!(none.explained.plus_minus, 0.5, absolute = 0.01);
    // A centre that is out of focus by as much explains nothing; by less, the rest.
    let both = Softness { sharp_defocus_mm: Figure::exact(-0.5), ..corner(Figure::exact(0.5), 0.6 * left) };
    assert_close!(softness_explained(&both).unwrap().explained.value, 0.0, absolute = 1e-12);
    let some = Softness { sharp_defocus_mm: Figure::exact(0.3), ..both };
    let at = |dz: f64| defocus_mtf(20.0, dz, 16.0, 0.55e-3);
    let share = (at(0.5) / at(0.3)).ln() / left.ln();
    assert_close!(softness_explained(&some).unwrap().explained.value, share, absolute = 1e-9);
    // Far out of focus contrast turns over: all is explained, never more.
    assert_close!(softness_explained(&corner(Figure::exact(5.0), 0.3)).unwrap().explained.value, 1.0, absolute = 1e-12);
}

#[test]
fn what_cannot_be_shared_out_is_refused() {
    let why = |s: Softness| softness_explained(&s).unwrap_err();
    let good = corner(Figure::exact(0.5), 0.4);
    assert!(matches!(why(Softness { corner: Figure::new(0.595, 0.01), ..good }), SoftnessError::NoLoss { .. }));
    assert!(matches!(why(Softness { cy_per_mm: 200.0, ..good }), SoftnessError::BeyondCutOff { .. }));
    assert!(matches!(
        why(Softness { effective_f_number: 0.0, ..good }),
        SoftnessError::BadInput { what: "the f-number", .. }
    ));
    assert!(matches!(why(Softness { defocus_mm: Figure::new(f64::NAN, 0.0), ..good }), SoftnessError::BadInput { .. }));
}

#[test]
fn the_depth_to_half_contrast_follows_rays_and_diffraction() {
    // Far below the cut-off rays alone say it: 2·J1(a)/a = 1/2 at a = 2.2151 (Abramowitz and Stegun, table 9.1, between 2.2 and 2.3), a =
    // π ν dz/N on film. At 2 lp/mm on the subject, half size and f/16: ν = 4 lp/mm, dz = 2.82 mm on film, 11.28 on the subject, twice.
    let rays = 2.2151 * 16.0 / (std::f64::consts::PI * 4.0) / 0.25 * 2.0;
    assert_close!(depth_to_half_mm(2.0, 0.5, 16.0, 0.55e-3).unwrap(), rays, relative = 0.05);
    // What comes back halves the contrast that diffraction alone leaves.
    let (lp_mm, m, n, wave) = (12.0, 0.8, 22.0, 0.55e-3);
    let depth = depth_to_half_mm(lp_mm, m, n, wave).unwrap();
    let left = |height: f64| defocus_mtf(lp_mm / m, m * m * height, n, wave);
    assert_close!(left(depth / 2.0), left(0.0) / 2.0, relative = 1e-9);
    // Finer detail is less deep, a smaller stop deeper.
    assert!(
        depth_to_half_mm(24.0, m, n, wave).unwrap() < depth && depth_to_half_mm(lp_mm, m, 32.0, wave).unwrap() > depth
    );
    // Beyond the cut-off 1/(λ N) nothing is left: 1/(0.55e-3 · 64) = 28.4 lp/mm on film.
    assert_eq!(depth_to_half_mm(30.0, 1.0, 64.0, wave), None);
    assert_eq!(depth_to_half_mm(f64::NAN, 1.0, 8.0, wave), None);
    assert_eq!(depth_to_half_mm(2.0, 0.0, 8.0, wave), None);
}
