//! Regions that hold no measurable edge: each is refused by name, with words that say what to do.

use crate::common::{Edge, Noise, grey};
use measure::{EdgeError, EdgeOptions, edge};
use planes::{Linear, Plane};

fn refusal(plane: Plane<Linear>) -> EdgeError {
    match edge(&grey(plane), &EdgeOptions::default()) {
        Err(why) => why,
        Ok(report) => panic!("measured {:?}", report.channels[0].1.mtf50_cy_px),
    }
}

fn changed(plane: &Plane<Linear>, change: impl Fn(usize, usize, f32) -> f32) -> Plane<Linear> {
    Plane::from_fn(plane.width(), plane.height(), |c, r| change(c, r, plane.at(c, r))).unwrap()
}

fn even(size: usize) -> Plane<Linear> {
    Plane::from_fn(size, size, |_, _| 0.4).unwrap()
}

#[test]
fn no_edge() {
    assert!(matches!(refusal(even(80)), EdgeError::NoEdge { .. }));
    let noise = Noise::new(3).added(&even(80), 0.05);
    assert!(matches!(refusal(noise), EdgeError::NoEdge { .. } | EdgeError::LowContrast { .. }));
}

#[test]
fn hardly_any_contrast() {
    let faint = Edge { low: 0.4, high: 0.4005, ..Edge::plain((80, 80), 5.0, 1.0) };
    assert!(matches!(refusal(faint.plane()), EdgeError::LowContrast { .. }));
}

#[test]
fn two_edges() {
    let first = Edge { offset: -15.0, low: 0.0, high: 0.35, ..Edge::plain((100, 100), 5.0, 0.8) };
    let second = Edge { offset: 15.0, ..first }.plane();
    let stairs = changed(&first.plane(), |c, r, v| 0.1 + v + second.at(c, r));
    assert!(matches!(refusal(stairs), EdgeError::TwoEdges { .. }), "two steps up");
    let bar = changed(&first.plane(), |c, r, v| 0.1 + v + 0.35 - second.at(c, r));
    let why = refusal(bar);
    assert!(matches!(why, EdgeError::TwoEdges { .. }), "a bar: {why}");
}

/// A bar from `left` to `left + width` of the middle, `rise` up on one side and `fall` down on the other.
fn bar(angle: f64, (left, width): (f64, f64), (rise, fall): (f64, f64), dark: bool) -> Plane<Linear> {
    let up = Edge { offset: left, low: 0.0, high: rise, ..Edge::plain((100, 100), angle, 0.9) };
    let down = Edge { offset: left + width, high: fall, ..up }.plane();
    let way = if dark { -1.0 } else { 1.0 };
    changed(&up.plane(), |c, r, v| 0.5 + way * (v - down.at(c, r)))
}

#[test]
fn bars_and_lines_are_two_edges_and_no_low_contrast() {
    for angle in [5.0, 12.0, 96.0] {
        for width in [1.0, 3.0, 6.0, 16.0, 30.0, 40.0] {
            // Even on both sides, off the middle, and a fall that leaves a seventh or a half of the rise.
            for (left, fall) in
                [(-width / 2.0, 0.35), (8.0 - width / 2.0, 0.35), (-width / 2.0, 0.3), (-width / 2.0, 0.18)]
            {
                // A line of a pixel or three beside a step of half its height looks like a sharpened edge, and is called so.
                if fall == 0.18 && width < 6.0 {
                    continue;
                }
                for (dark, noise) in [(false, 0.0), (true, 0.02)] {
                    let plane = Noise::new(3).added(&bar(angle, (left, width), (0.35, fall), dark), noise);
                    let why = refusal(plane);
                    let what = format!("{width} wide from {left} at {angle} degrees, down by {fall}: {why}");
                    assert!(matches!(why, EdgeError::TwoEdges { .. } | EdgeError::EdgeEnds { .. }), "{what}");
                    // Of the clear bars about the middle the second edge is the reason and nothing else.
                    let clear = fall == 0.35 && left == -width / 2.0 && (6.0..=30.0).contains(&width);
                    assert!(!clear || matches!(why, EdgeError::TwoEdges { percent: 75.0.., .. }), "{what}");
                }
            }
        }
    }
}

#[test]
fn a_corner() {
    let edge = Edge::plain((100, 100), 5.0, 0.8).plane();
    let corner = changed(&edge, |_, r, v| if r < 50 { 0.12 } else { v });
    let why = refusal(corner);
    // Two edges of equal length in two directions: neither stands out.
    let named = matches!(why, EdgeError::EdgeEnds { .. } | EdgeError::TwoEdges { .. } | EdgeError::NoEdge { .. });
    assert!(named, "{why}");
}

#[test]
fn upright_edges() {
    for normal in [0.0, 90.0, 180.0, 0.3, 89.8] {
        let why = refusal(Edge::plain((100, 100), normal, 0.8).plane());
        assert!(matches!(why, EdgeError::Upright { .. }), "{normal}: {why}");
    }
}

#[test]
fn clipped_edges() {
    let drawn = Edge { low: 0.3, high: 1.4, ..Edge::plain((100, 100), 5.0, 1.5) }.plane();
    let white = changed(&drawn, |_, _, v| v.min(1.0));
    assert!(matches!(refusal(white), EdgeError::Clipped { end: "white", .. }));
    let drawn = Edge { low: -0.4, high: 0.7, ..Edge::plain((100, 100), 5.0, 1.5) }.plane();
    let black = changed(&drawn, |_, _, v| v.max(0.0));
    assert!(matches!(refusal(black), EdgeError::Clipped { end: "black", .. }));
}

#[test]
fn too_short_an_edge() {
    let why = refusal(Edge::plain((60, 12), 5.0, 0.8).plane());
    assert!(matches!(why, EdgeError::TooShort { .. } | EdgeError::RegionTooSmall { .. }), "{why}");
    let why = refusal(Edge::plain((60, 24), 2.0, 0.8).plane());
    assert!(matches!(why, EdgeError::TooShort { .. }), "{why}");
}

#[test]
fn too_small_a_region() {
    assert!(matches!(refusal(Edge::plain((6, 6), 5.0, 0.8).plane()), EdgeError::RegionTooSmall { width: 6, .. }));
}

#[test]
fn too_blurred_for_the_region() {
    let why = refusal(Edge { offset: 0.0, ..Edge::plain((40, 100), 5.0, 15.0) }.plane());
    assert!(matches!(why, EdgeError::TooBlurred { .. }), "{why}");
}

#[test]
fn broken_numbers() {
    let broken =
        changed(&Edge::plain((60, 60), 5.0, 0.8).plane(), |c, r, v| if (c, r) == (3, 4) { f32::NAN } else { v });
    assert!(matches!(refusal(broken), EdgeError::NotFinite { count: 1 }));
}

#[test]
fn every_refusal_says_what_to_do() {
    let upright = refusal(Edge::plain((100, 100), 0.0, 0.8).plane()).to_string();
    assert!(upright.contains("turn the target"), "{upright}");
    let nothing = refusal(even(80)).to_string();
    assert!(nothing.contains("draw the region"), "{nothing}");
}
