//! A flat card seen by an exact camera: mapping, distortion, scale, tilt and what is refused.

use crate::common::Noise;
use measure::{
    Figure, GeometryError, GeometryOptions, GeometryRemark, GeometryReport, PointPair, TiltError, TiltOptions,
    TiltRemark, depth_of_tilt_mm, geometry, image_tilt_deg, tilt, tilt_allowed_deg,
};
use testkit::assert_close;

/// A camera drawn from the law of its lens alone: chief rays through the entrance pupil, K (X, Y)/Z on the film.
#[derive(Debug, Clone, Copy)]
struct Camera {
    /// Distance of the entrance pupil from the card along the axis, mm.
    distance_mm: f64,
    /// Magnification at the axis.
    magnification: f64,
    pitch_um: f64,
    /// Lean about the upright and the level axis: depth rises by tan of these to the right and downward.
    lean_deg: (f64, f64),
    /// Turn of the card in its own plane, degrees.
    turn_deg: f64,
    /// Place of the axis on the card, mm.
    foot_mm: (f64, f64),
    size_px: (f64, f64),
    /// Distortion at half the diagonal.
    k1: f64,
}

const CAMERA: Camera = Camera {
    distance_mm: 120.0,
    magnification: 0.8,
    pitch_um: 10.0,
    lean_deg: (0.0, 0.0),
    turn_deg: 0.0,
    foot_mm: (0.0, 0.0),
    size_px: (5600.0, 5600.0),
    k1: 0.0,
};

impl Camera {
    /// The card's axes in the camera's: the card's plane is Z = P + p X + q Y.
    fn axes(&self) -> [[f64; 3]; 2] {
        let (p, q) = (self.lean_deg.0.to_radians().tan(), self.lean_deg.1.to_radians().tan());
        let length = (p * p + q * q + 1.0).sqrt();
        let n = [-p / length, -q / length, 1.0 / length];
        // The turned x axis laid into the plane, and the third by the cross product.
        let (sin, cos) = self.turn_deg.to_radians().sin_cos();
        let flat = [cos, sin, 0.0];
        let along: f64 = flat.iter().zip(&n).map(|(a, b)| a * b).sum();
        let x: [f64; 3] = std::array::from_fn(|i| flat[i] - along * n[i]);
        let size = x.iter().map(|c| c * c).sum::<f64>().sqrt();
        let x = x.map(|c| c / size);
        let y = [n[1] * x[2] - n[2] * x[1], n[2] * x[0] - n[0] * x[2], n[0] * x[1] - n[1] * x[0]];
        [x, y]
    }

    fn sees(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let [a, b] = self.axes();
        let (x, y) = (x - self.foot_mm.0, y - self.foot_mm.1);
        let place: [f64; 3] = std::array::from_fn(|i| a[i] * x + b[i] * y);
        let k = self.magnification * self.distance_mm * 1000.0 / self.pitch_um;
        let z = self.distance_mm + place[2];
        let (u, v) = (k * place[0] / z, k * place[1] / z);
        let r = u.hypot(v) / (self.size_px.0.hypot(self.size_px.1) / 2.0);
        let stretch = 1.0 + self.k1 * r * r;
        (self.size_px.0 / 2.0 + u * stretch, self.size_px.1 / 2.0 + v * stretch)
    }

    fn pairs(&self, n: i32) -> Vec<PointPair> {
        let step = 60.0 / f64::from(n - 1);
        let places = (0..n).flat_map(|i| (0..n).map(move |j| (f64::from(i) * step - 30.0, f64::from(j) * step - 30.0)));
        places.map(|p| PointPair { plane_mm: p, picture_px: self.sees(p) }).collect()
    }

    fn options(&self) -> GeometryOptions {
        GeometryOptions {
            pitch_um: Some(self.pitch_um),
            ..GeometryOptions::for_picture(self.size_px.0 as usize, self.size_px.1 as usize)
        }
    }

    fn measured(&self, pairs: &[PointPair]) -> GeometryReport {
        geometry(pairs, &self.options()).unwrap()
    }
}

fn shaken(pairs: &[PointPair], deviation: f64, seed: u64) -> Vec<PointPair> {
    let mut noise = Noise::new(seed);
    let moved = |p: &PointPair| {
        let (x, y) = p.picture_px;
        PointPair { picture_px: (x + deviation * noise.normal(), y + deviation * noise.normal()), ..*p }
    };
    pairs.iter().map(moved).collect()
}

const LEANING: Camera = Camera { lean_deg: (3.0, -2.0), turn_deg: 11.0, foot_mm: (2.0, -1.5), k1: -0.012, ..CAMERA };

fn at(distance: f64, plus_minus: f64) -> TiltOptions {
    TiltOptions { entrance_pupil_to_subject_mm: Figure::new(distance, plus_minus) }
}

#[test]
fn a_square_on_card_has_the_cameras_scale() {
    let report = CAMERA.measured(&CAMERA.pairs(5));
    // 0.8 at 10 µm: 80 pixels per millimetre.
    assert_close!(report.scale_px_per_mm.value, 80.0, absolute = 1e-9);
    assert_close!(report.centre_scale_px_per_mm.value, 80.0, absolute = 1e-9);
    assert_close!(report.magnification.unwrap().value, 0.8, absolute = 1e-11);
    assert_close!(report.corner_distortion_percent.unwrap().value, 0.0, absolute = 1e-9);
    assert_eq!(report.degrees, 2 * 25 - 9);
}

#[test]
fn a_leaning_distorted_card_is_mapped_exactly() {
    let report = LEANING.measured(&LEANING.pairs(7));
    assert!(report.left_out.is_empty());
    for (x, y) in [(0.0, 0.0), (-31.0, 12.0), (17.5, -29.0)] {
        let (found, truth) = (report.mapping.to_picture((x, y)).unwrap(), LEANING.sees((x, y)));
        assert_close!(found.0, truth.0, absolute = 1e-6);
        assert_close!(found.1, truth.1, absolute = 1e-6);
    }
    // (actual - predicted)/predicted at half the diagonal, by the drawn camera's own law.
    assert_close!(report.corner_distortion_percent.unwrap().value, -1.2, absolute = 1e-7);
    assert_close!(report.mapping.distortion_percent(report.mapping.radius_px / 2.0), -0.3, absolute = 1e-7);
    assert!(report.scatter_px.unwrap() < 1e-6);
}

#[test]
fn mapping_there_and_back_is_the_identity() {
    for k1 in [-0.1, -0.012, 0.0, 0.03] {
        let camera = Camera { k1, ..LEANING };
        let mapping = camera.measured(&camera.pairs(6)).mapping;
        for i in -5..=5 {
            for j in -5..=5 {
                let place = (f64::from(i) * 6.0, f64::from(j) * 6.0);
                let back = mapping.to_plane(mapping.to_picture(place).unwrap()).unwrap();
                assert_close!(back.0, place.0, absolute = 1e-9, "{k1}");
                assert_close!(back.1, place.1, absolute = 1e-9, "{k1}");
            }
        }
    }
}

#[test]
fn beyond_the_fold_of_barrel_distortion_there_is_no_place() {
    let camera = Camera { k1: -0.1, ..CAMERA };
    let mapping = camera.measured(&camera.pairs(6)).mapping;
    // r(1 - 0.1 r²) grows up to r = 1.826 only, where it is 1.217 of half the diagonal.
    let at = |share: f64| mapping.to_plane((mapping.centre_px.0 + share * mapping.radius_px, mapping.centre_px.1));
    assert!(at(1.2).is_some());
    assert!(at(1.23).is_none());
}

#[test]
fn local_scale_is_the_difference_of_near_places() {
    let report = LEANING.measured(&LEANING.pairs(7));
    for (x, y) in [(0.0, 0.0), (-25.0, 18.0)] {
        let scale = report.scale_at((x, y)).unwrap();
        let step = 1e-4;
        let length = |a: (f64, f64), b: (f64, f64)| (a.0 - b.0).hypot(a.1 - b.1) / (2.0 * step);
        let along_x = length(LEANING.sees((x + step, y)), LEANING.sees((x - step, y)));
        let along_y = length(LEANING.sees((x, y + step)), LEANING.sees((x, y - step)));
        assert_close!(scale.along_x.value, along_x, relative = 1e-7);
        assert_close!(scale.along_y.value, along_y, relative = 1e-7);
        // 3 degrees foreshorten by 0.14 % and the sides differ by more: the mean of the two is near the area's root.
        assert_close!(scale.mean.value, (along_x * along_y).sqrt(), relative = 2e-3);
    }
}

#[test]
fn four_points_are_enough_and_say_what_they_rest_on() {
    let report = LEANING.measured(&Camera { k1: 0.0, ..LEANING }.pairs(2));
    assert_eq!((report.degrees, report.scatter_px), (0, None));
    assert!(report.corner_distortion_percent.is_none());
    let stated = GeometryRemark::StatedUncertainty { plus_minus_px: 0.25 };
    assert!(report.remarks.contains(&stated), "{:?}", report.remarks);
    assert!(report.remarks.contains(&GeometryRemark::DistortionNotFitted { points: 4, least: 6 }));
    // The scale rests on distances of 4800 pixels between points good to ± 0.25 each.
    let half = report.scale_px_per_mm.plus_minus;
    assert!((0.25 / 60.0 / 4.0..0.25 * 4.0 / 60.0).contains(&half), "{half}");
}

#[test]
fn wrong_points_are_named_and_left_out() {
    let mut pairs = shaken(&LEANING.pairs(5), 0.1, 3);
    pairs[7].picture_px.0 += 40.0;
    let (a, b) = (pairs[20].picture_px, pairs[21].picture_px);
    (pairs[20].picture_px, pairs[21].picture_px) = (b, a);
    let report = LEANING.measured(&pairs);
    assert_eq!(report.left_out, [7, 20, 21]);
    assert_close!(report.residuals_px[7].0, 40.0, absolute = 0.5);
    assert!(
        report.remarks.iter().any(|r| matches!(r, GeometryRemark::LeftOut { count: 3, of: 25, .. })),
        "{:?}",
        report.remarks
    );
    assert_close!(report.corner_distortion_percent.unwrap().value, -1.2, absolute = 0.05);
}

#[test]
fn a_bent_card_and_points_near_the_middle_are_remarked() {
    let pairs: Vec<PointPair> = CAMERA.pairs(6);
    let bent: Vec<PointPair> = pairs
        .iter()
        .map(|p| PointPair {
            picture_px: (p.picture_px.0 + 0.004 * p.plane_mm.0.powi(2) * p.plane_mm.1 / 9.0, p.picture_px.1),
            ..*p
        })
        .collect();
    let report = CAMERA.measured(&bent);
    assert!(report.remarks.iter().any(|r| matches!(r, GeometryRemark::Scattered { .. })), "{:?}", report.remarks);
    let near: Vec<PointPair> =
        pairs.iter().filter(|p| p.plane_mm.0.abs() < 20.0 && p.plane_mm.1.abs() < 20.0).copied().collect();
    let report = CAMERA.measured(&near);
    assert!(report.remarks.iter().any(|r| matches!(r, GeometryRemark::Extrapolated { .. })), "{:?}", report.remarks);
}

#[test]
fn what_gives_no_mapping_is_refused() {
    let pairs = CAMERA.pairs(5);
    let why = |pairs: &[PointPair]| geometry(pairs, &CAMERA.options()).unwrap_err();
    assert_eq!(why(&pairs[..3]), GeometryError::TooFewPoints { found: 3, least: 4 });
    let line: Vec<_> = pairs.iter().filter(|p| p.plane_mm.0 == 0.0).copied().collect();
    assert!(matches!(why(&line), GeometryError::Collinear { place: "on the card", .. }), "{}", why(&line));
    let flat: Vec<_> = pairs.iter().map(|p| PointPair { picture_px: (p.picture_px.0, 100.0), ..*p }).collect();
    assert!(matches!(why(&flat), GeometryError::Collinear { place: "in the picture", .. }));
    // Three on one line and one beside it.
    let three = [pairs[0], pairs[1], pairs[2], pairs[20]];
    assert!(matches!(why(&three), GeometryError::Undetermined { points: 4 }), "{}", why(&three));
    let mut broken = pairs.clone();
    broken[3].picture_px.1 = f64::NAN;
    assert_eq!(why(&broken), GeometryError::NotFinite { number: 4 });
    // Points that were put in by chance agree with nothing.
    let mut noise = Noise::new(5);
    let wild: Vec<_> = pairs
        .iter()
        .enumerate()
        .map(|(i, p)| {
            let place = if i % 5 < 2 { p.picture_px } else { (5600.0 * noise.uniform(), 5600.0 * noise.uniform()) };
            PointPair { picture_px: place, ..*p }
        })
        .collect();
    assert!(matches!(why(&wild), GeometryError::NoAgreement { .. }), "{}", why(&wild));
    // A card's corners taken crosswise: no lens sees a square as a bow tie.
    let c = [pairs[0], pairs[4], pairs[24], pairs[20]];
    let crossed: Vec<_> = (0..4).map(|i| PointPair { picture_px: c[[0, 2, 1, 3][i]].picture_px, ..c[i] }).collect();
    assert!(matches!(why(&crossed), GeometryError::Folded | GeometryError::Undetermined { .. }), "{}", why(&crossed));
    let bad = GeometryOptions { pitch_um: Some(0.0), ..CAMERA.options() };
    assert_eq!(geometry(&pairs, &bad).unwrap_err(), GeometryError::BadOption { what: "the pixel pitch", value: 0.0 });
}

#[test]
fn tilt_of_an_exactly_projected_card() {
    for (lean, turn) in
        [((0.0, 0.0), 0.0), ((4.0, 0.0), 0.0), ((0.0, -3.0), 25.0), ((3.0, -2.0), 170.0), ((-12.0, 9.0), -60.0)]
    {
        let camera = Camera { lean_deg: lean, turn_deg: turn, ..LEANING };
        let report = camera.measured(&camera.pairs(7));
        let found = tilt(&report, &at(camera.distance_mm, 0.0)).unwrap();
        assert_close!(found.about_upright_deg.value, lean.0, absolute = 1e-5, "{lean:?} {turn}");
        assert_close!(found.about_level_deg.value, lean.1, absolute = 1e-5, "{lean:?} {turn}");
        let (p, q) = (lean.0.to_radians().tan(), lean.1.to_radians().tan());
        assert_close!(found.total_deg.value, p.hypot(q).atan().to_degrees(), absolute = 1e-5);
        // The cosine alone says the same, bluntly.
        assert_close!(found.from_foreshortening_deg, p.hypot(q).atan().to_degrees(), absolute = 1e-2);
        if lean != (0.0, 0.0) {
            assert_close!(found.recedes_toward_deg, q.atan2(p).to_degrees(), absolute = 1e-4);
        }
        assert!(!found.remarks.iter().any(|r| matches!(r, TiltRemark::Foreshortening { .. })), "{:?}", found.remarks);
    }
}

#[test]
fn a_distance_that_is_not_sure_makes_the_tilt_unsure_in_proportion() {
    let report = LEANING.measured(&LEANING.pairs(7));
    let found = tilt(&report, &at(120.0, 6.0)).unwrap();
    // sin(tilt) grows in proportion to the distance: 5 % of 3 degrees.
    assert_close!(found.about_upright_deg.plus_minus, 0.15, absolute = 0.002);
}

#[test]
fn a_tilt_that_is_not_there_and_one_that_cannot_be() {
    let report = CAMERA.measured(&shaken(&CAMERA.pairs(4), 0.5, 1));
    let found = tilt(&report, &at(120.0, 1.0)).unwrap();
    if !found.total_deg.stands_out() {
        assert!(found.remarks.iter().any(|r| matches!(r, TiltRemark::NotShown { .. })));
    }
    let report = LEANING.measured(&LEANING.pairs(5));
    assert!(matches!(tilt(&report, &at(0.0, 0.0)), Err(TiltError::BadDistance { .. })));
    assert!(matches!(tilt(&report, &at(120.0, 130.0)), Err(TiltError::BadDistance { .. })));
    assert!(matches!(tilt(&report, &at(5000.0, 0.0)), Err(TiltError::TooSteep { .. })));
    // Half the true distance halves the tilt, and the foreshortening gives it away when the tilt is large.
    let steep = Camera { lean_deg: (15.0, 0.0), ..CAMERA };
    let found = tilt(&steep.measured(&steep.pairs(7)), &at(60.0, 0.0)).unwrap();
    assert!(found.remarks.iter().any(|r| matches!(r, TiltRemark::Foreshortening { .. })), "{:?}", found.remarks);
}

#[test]
fn tilts_that_a_depth_allows() {
    // Own closed forms at 56 mm, magnification 0.8, 12 degrees, computed apart with 16 digits.
    assert_close!(depth_of_tilt_mm(56.0, 0.8, 12.0), 14.878_959_316_901_549, relative = 1e-14);
    assert_close!(image_tilt_deg(0.8, 12.0), 9.650_565_071_754_661, relative = 1e-14);
    assert_close!(tilt_allowed_deg(14.878_959_316_901_549, 70.0), 12.0, relative = 1e-14);
}

#[test]
fn intervals_hold_the_truth() {
    let trials: u64 = testkit::short_or_long(300, 3000);
    let clean = LEANING.pairs(4);
    let truth = LEANING.measured(&clean);
    let lean = tilt(&truth, &at(120.0, 0.0)).unwrap();
    let mut within = [0_u64; 6];
    for seed in 0..trials {
        let mut noise = Noise::new(seed + 77);
        let report = LEANING.measured(&shaken(&clean, 0.3, seed));
        let distance = 120.0 + 2.0 * noise.normal();
        let found = tilt(&report, &at(distance, 2.0 * 1.96)).unwrap();
        let pairs = [
            (report.scale_px_per_mm, truth.scale_px_per_mm),
            (report.centre_scale_px_per_mm, truth.centre_scale_px_per_mm),
            (report.corner_distortion_percent.unwrap(), truth.corner_distortion_percent.unwrap()),
            (found.about_upright_deg, lean.about_upright_deg),
            (found.about_level_deg, lean.about_level_deg),
            (report.scale_at((20.0, -20.0)).unwrap().along_x, truth.scale_at((20.0, -20.0)).unwrap().along_x),
        ];
        for (count, (value, truth)) in within.iter_mut().zip(pairs) {
            *count += u64::from((value.value - truth.value).abs() <= value.plus_minus);
        }
    }
    let slack = 3.0 * (0.95 * 0.05 / trials as f64).sqrt();
    let names = ["scale", "centre scale", "distortion", "upright", "level", "local scale"];
    for (name, count) in names.iter().zip(within) {
        let share = count as f64 / trials as f64;
        println!("{name}: {share:.4}");
        assert_close!(share, 0.95, absolute = slack.max(0.02), "{name}: {count} of {trials}");
    }
}
