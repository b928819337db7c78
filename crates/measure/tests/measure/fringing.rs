//! Colour fringing of edges and frames whose fringing is known.

use crate::common::{Edge, Noise, grey, rgb};
use measure::{
    Channel, EdgeFringe, EdgeFringeError, EdgeFringeOptions, EdgeFringeRemark, EdgeOptions, Figure, FringeSample,
    FringingError, FringingOptions, FringingRemark, bright_normal_deg, edge, edge_fringe, fringing,
};
use testkit::assert_close;

fn trials() -> u64 {
    testkit::short_or_long(300, 3000)
}

fn coloured(red: Edge, green: Edge, blue: Edge, noise: f64) -> EdgeFringe {
    let mut chance = Noise::new(9);
    let planes = [red, green, blue].map(|e| chance.added(&e.plane(), noise));
    let report = edge(&rgb(planes), &EdgeOptions::default()).unwrap();
    edge_fringe(&report, &EdgeFringeOptions { pitch_um: Some(6.35), ..EdgeFringeOptions::default() }).unwrap()
}

/// Length over which the drawn profiles differ by more than a tenth, by their closed forms.
fn true_zone(edges: [Edge; 3]) -> f64 {
    let step = 0.001;
    let coloured = |i: i32| {
        let at = f64::from(i) * step;
        let levels = edges.map(|e| e.share(at - e.offset));
        let most = levels.iter().copied().fold(0.0, f64::max);
        most - levels.iter().copied().fold(1.0, f64::min) > 0.1
    };
    step * (-40_000..40_000).filter(|i| coloured(*i)).count() as f64
}

#[test]
fn displacement_and_zone_of_a_displaced_edge() {
    let green = Edge::plain((120, 120), 6.0, 0.9);
    let (red, blue) = (Edge { offset: green.offset - 0.4, ..green }, Edge { offset: green.offset + 0.6, ..green });
    let found = coloured(red, green, blue, 0.004);
    assert_close!(found.red_px.value, -0.4, absolute = 0.02);
    assert_close!(found.blue_px.value, 0.6, absolute = 0.02);
    let truth = true_zone([red, green, blue]);
    assert_close!(found.zone_px.value, truth, absolute = 0.1);
    assert!((found.zone_px.value - truth).abs() <= found.zone_px.plus_minus + 0.04, "{:?} {truth}", found.zone_px);
    assert_close!(found.blue_um.unwrap().value, 6.35 * found.blue_px.value, relative = 1e-12);
    assert_close!(found.zone_um.unwrap().plus_minus, 6.35 * found.zone_px.plus_minus, relative = 1e-12);
    // Laid over each other three equal edges have no colour.
    assert_close!(found.aligned_zone_px, 0.0, absolute = 0.05);
    assert!(found.remarks.is_empty(), "{:?}", found.remarks);
}

#[test]
fn colour_out_of_focus_has_a_zone_without_displacement() {
    let green = Edge::plain((140, 140), 186.0, 0.9);
    let blue = Edge { sigma: 2.4, ..green };
    let found = coloured(green, green, blue, 0.004);
    assert!(!found.blue_px.stands_out() || found.blue_px.value.abs() < 0.05, "{:?}", found.blue_px);
    assert_close!(found.zone_px.value, true_zone([green, green, blue]), absolute = 0.15);
    assert_close!(found.aligned_zone_px, found.zone_px.value, absolute = 0.15);
    let named = |r: &EdgeFringeRemark| matches!(r, EdgeFringeRemark::OutOfFocus { softest: Channel::Blue, ratio } if *ratio > 2.0);
    assert!(found.remarks.iter().any(named), "{:?}", found.remarks);
}

#[test]
fn an_edge_without_fringing_has_no_zone_and_noise_says_so() {
    let green = Edge::plain((120, 120), 6.0, 0.9);
    let found = coloured(green, green, green, 0.0);
    assert_close!(found.zone_px.value, 0.0, absolute = 1e-9);
    assert!(found.largest_difference < 1e-6);
    let low = Edge { low: 0.4, high: 0.48, ..Edge::plain((60, 40), 6.0, 0.7) };
    let found = coloured(low, low, low, 0.012);
    assert!(found.remarks.iter().any(|r| matches!(r, EdgeFringeRemark::Noisy { .. })), "{found:?}");
}

#[test]
fn the_normal_points_to_the_brighter_side() {
    for normal in [6.0, 96.0, 172.0, 186.0, 276.0, 350.0] {
        let picture = grey(Edge::plain((120, 120), normal, 0.9).plane());
        let report = edge(&picture, &EdgeOptions::default()).unwrap();
        let found = bright_normal_deg(&picture, &report).unwrap();
        assert_close!((found - normal + 540.0).rem_euclid(360.0) - 180.0, 0.0, absolute = 0.05);
    }
}

#[test]
fn what_shows_no_fringing_is_refused() {
    let plain = Edge::plain((100, 100), 6.0, 0.9);
    let grey = edge(&grey(plain.plane()), &EdgeOptions::default()).unwrap();
    let options = EdgeFringeOptions::default();
    assert_eq!(edge_fringe(&grey, &options).unwrap_err(), EdgeFringeError::NoColour);
    let flat = Edge { low: 0.5, high: 0.505, ..plain };
    let two = edge(&rgb([flat.plane(), plain.plane(), plain.plane()]), &EdgeOptions::default()).unwrap();
    assert_eq!(edge_fringe(&two, &options).unwrap_err(), EdgeFringeError::ChannelMissing { channel: Channel::Red });
    let bad = EdgeFringeOptions { threshold: 0.0, ..options };
    assert_eq!(edge_fringe(&two, &bad).unwrap_err(), EdgeFringeError::BadThreshold { value: 0.0 });
    let bad = EdgeFringeOptions { pitch_um: Some(-1.0), ..options };
    assert_eq!(edge_fringe(&two, &bad).unwrap_err(), EdgeFringeError::BadPitch { pitch_um: -1.0 });
}

/// Fringing as put in, micrometres at the corner of 56 x 56 mm.
#[derive(Debug, Clone, Copy)]
struct Truth {
    shift: (f64, f64),
    linear: f64,
    cubic: f64,
    turn: f64,
}

const CORNER: f64 = 39.597_979_746_446_66;

impl Truth {
    fn at(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let (x, y) = (x / CORNER, y / CORNER);
        let radial = self.linear + self.cubic * (x * x + y * y);
        (self.shift.0 + radial * x - self.turn * y, self.shift.1 + radial * y + self.turn * x)
    }
}

const RED: Truth = Truth { shift: (3.0, -1.5), linear: -6.0, cubic: 2.0, turn: 0.5 };
const BLUE: Truth = Truth { shift: (0.0, 0.0), linear: 9.0, cubic: 4.0, turn: 0.0 };

/// Edges on a grid of places, two directions at each, seen with this standard deviation; all turned by an angle.
fn edges(deviation: f64, turned_deg: f64, seed: u64) -> Vec<FringeSample> {
    let mut noise = Noise::new(seed);
    let (sin, cos) = turned_deg.to_radians().sin_cos();
    let mut out = Vec::new();
    for i in 0..5 {
        for j in 0..5 {
            let place = (f64::from(i - 2) * 12.5, f64::from(j - 2) * 12.5);
            for normal in [5.0, 95.0 + 7.0 * f64::from(i)] {
                let n = normal_of(normal);
                let mut seen = |truth: &Truth| {
                    let (x, y) = truth.at(place);
                    Some(Figure::new(x * n.0 + y * n.1 + deviation * noise.normal(), 1.96 * deviation.max(0.05)))
                };
                let (red_um, blue_um) = (seen(&RED), seen(&BLUE));
                let position_mm = (cos * place.0 - sin * place.1, sin * place.0 + cos * place.1);
                out.push(FringeSample { position_mm, normal_deg: normal + turned_deg, red_um, blue_um });
            }
        }
    }
    out
}

fn normal_of(degrees: f64) -> (f64, f64) {
    (degrees.to_radians().cos(), degrees.to_radians().sin())
}

const FRAME: FringingOptions = FringingOptions { frame_mm: (56.0, 56.0), cubic: true, turn: true };

#[test]
fn the_parts_that_were_put_in_come_out() {
    let report = fringing(&edges(0.0, 0.0, 1), &FRAME).unwrap();
    for (found, truth) in [(&report.red, RED), (&report.blue, BLUE)] {
        assert_close!(found.shift_um[0].value, truth.shift.0, absolute = 1e-9);
        assert_close!(found.shift_um[1].value, truth.shift.1, absolute = 1e-9);
        assert_close!(found.linear_um.value, truth.linear, absolute = 1e-9);
        assert_close!(found.cubic_um.unwrap().value, truth.cubic, absolute = 1e-9);
        assert_close!(found.turn_um.unwrap().value, truth.turn, absolute = 1e-9);
        assert_close!(found.residual_um, 0.0, absolute = 1e-9);
        // c1 r + c3 r³ at half the way and at the corner.
        assert_close!(found.field[0].radial_um.value, 0.0, absolute = 1e-12);
        assert_close!(found.field[1].radial_um.value, truth.linear / 2.0 + truth.cubic / 8.0, absolute = 1e-9);
        assert_close!(found.field[2].radial_um.value, truth.linear + truth.cubic, absolute = 1e-9);
        assert_close!(found.field[2].radius_mm, CORNER, absolute = 1e-9);
        for arrow in found.map((56.0, 56.0), 5, 3) {
            let (x, y) = truth.at(arrow.position_mm);
            assert_close!(arrow.x_um.value, x, absolute = 1e-9);
            assert_close!(arrow.y_um.value, y, absolute = 1e-9);
        }
    }
    assert_eq!(report.red.map((56.0, 40.0), 5, 3)[14].position_mm, (28.0, 20.0));
    let lens = report.red.lens_at((28.0, 0.0));
    assert_close!(lens.x_um.value, report.red.at((28.0, 0.0)).x_um.value - 3.0, absolute = 1e-9);
    let shifted = |r: &FringingRemark| matches!(r, FringingRemark::Misregistered { channel: Channel::Red, shift_um } if (*shift_um - 3.354).abs() < 0.001);
    assert!(report.remarks.iter().any(shifted), "{:?}", report.remarks);
}

#[test]
fn turning_the_frame_turns_the_shift_and_leaves_the_radial_parts() {
    let plain = fringing(&edges(0.4, 0.0, 4), &FRAME).unwrap().red;
    let turned = fringing(&edges(0.4, 33.0, 4), &FRAME).unwrap().red;
    assert_close!(turned.linear_um.value, plain.linear_um.value, absolute = 1e-9);
    assert_close!(turned.linear_um.plus_minus, plain.linear_um.plus_minus, absolute = 1e-9);
    assert_close!(turned.cubic_um.unwrap().value, plain.cubic_um.unwrap().value, absolute = 1e-9);
    assert_close!(turned.turn_um.unwrap().value, plain.turn_um.unwrap().value, absolute = 1e-9);
    let (sin, cos) = 33_f64.to_radians().sin_cos();
    let [x, y] = plain.shift_um.map(|s| s.value);
    assert_close!(turned.shift_um[0].value, cos * x - sin * y, absolute = 1e-9);
    assert_close!(turned.shift_um[1].value, sin * x + cos * y, absolute = 1e-9);
}

#[test]
fn intervals_hold_the_truth() {
    let (mut within, n) = ([0_u64; 5], trials());
    for seed in 0..n {
        let report = fringing(&edges(0.4, 0.0, 100 + seed), &FRAME).unwrap().red;
        let corner = report.at((20.0, -15.0));
        let pairs = [
            (report.shift_um[0], RED.shift.0),
            (report.linear_um, RED.linear),
            (report.field[2].radial_um, RED.linear + RED.cubic),
            (report.turn_um.unwrap(), RED.turn),
            (corner.x_um, RED.at((20.0, -15.0)).0),
        ];
        for (count, (figure, truth)) in within.iter_mut().zip(pairs) {
            *count += u64::from((figure.value - truth).abs() <= figure.plus_minus);
        }
    }
    for count in within {
        let share = count as f64 / n as f64;
        println!("{share}");
        assert_close!(share, 0.95, absolute = (3.0 * (0.95 * 0.05 / n as f64).sqrt()).max(0.02), "{within:?}");
    }
}

#[test]
fn edges_that_promise_too_much_widen_the_intervals_and_are_named() {
    let mut samples = edges(0.4, 0.0, 6);
    let sure = fringing(&samples, &FRAME).unwrap().red.linear_um.plus_minus;
    for (i, sample) in samples.iter_mut().enumerate() {
        let wrong = if i == 11 { 9.0 } else { 0.0 };
        sample.red_um = sample.red_um.map(|f| Figure::new(f.value + wrong, f.plus_minus / 3.0));
    }
    let report = fringing(&samples, &FRAME).unwrap();
    assert!(report.red.linear_um.plus_minus > sure, "{:?}", report.red.linear_um);
    let scattered =
        |r: &FringingRemark| matches!(r, FringingRemark::Scattered { channel: Channel::Red, ratio } if *ratio > 3.0);
    assert!(report.remarks.iter().any(scattered), "{:?}", report.remarks);
    let named = |r: &FringingRemark| matches!(r, FringingRemark::Outlying { channel: Channel::Red, number: 12, .. });
    assert!(report.remarks.iter().any(named), "{:?}", report.remarks);
}

#[test]
fn edges_that_do_not_tell_the_parts_are_refused_or_fewer_parts_given() {
    let all = edges(0.4, 0.0, 2);
    assert_eq!(
        fringing(&all[..5], &FRAME).unwrap_err(),
        FringingError::TooFewEdges { channel: Channel::Red, found: 5, least: 6 }
    );
    let upright: Vec<_> = all.iter().step_by(2).copied().collect();
    let one_way = fringing(&upright, &FRAME);
    assert!(matches!(one_way, Err(FringingError::Degenerate { .. })), "{one_way:?}");
    // All edges near one place: a shift there and a growth to there are the same.
    let together: Vec<_> = all
        .iter()
        .map(|s| FringeSample { position_mm: (20.0 + s.position_mm.0 / 100.0, 10.0 + s.position_mm.1 / 100.0), ..*s })
        .collect();
    assert!(matches!(fringing(&together, &FRAME), Err(FringingError::Degenerate { .. })));
    // Edges on two rings only a little apart do not tell the cubic.
    let ring: Vec<_> = (0..12)
        .map(|i| {
            let angle = f64::from(i) * 30.0;
            let n = normal_of(angle);
            FringeSample { position_mm: (25.0 * n.0, 25.0 * n.1), normal_deg: angle + 10.0, ..all[0] }
        })
        .collect();
    let report = fringing(&ring, &FRAME).unwrap();
    assert!(report.red.cubic_um.is_none());
    assert!(report.remarks.contains(&FringingRemark::NoCubic { channel: Channel::Red }), "{:?}", report.remarks);
    assert!(report.remarks.iter().any(|r| matches!(r, FringingRemark::Extrapolated { .. })));
    let mut broken = all.clone();
    broken[4].red_um = Some(Figure::exact(1.0));
    assert!(matches!(fringing(&broken, &FRAME), Err(FringingError::BadSample { number: 5, .. })));
    broken[2].normal_deg = f64::INFINITY;
    assert!(matches!(fringing(&broken, &FRAME), Err(FringingError::BadSample { number: 3, .. })));
    let flat = FringingOptions::for_frame(56.0, 0.0);
    assert_eq!(fringing(&all, &flat).unwrap_err(), FringingError::BadFrame { width_mm: 56.0, height_mm: 0.0 });
}
