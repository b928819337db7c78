//! Regions that hold no measurable edge: each is refused by name, with words that say what to do.

mod common;

use common::{Edge, Noise, grey};
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
    let named = matches!(why, EdgeError::TwoEdges { .. } | EdgeError::EdgeEnds { .. } | EdgeError::LowContrast { .. });
    assert!(named, "a bar: {why}");
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
