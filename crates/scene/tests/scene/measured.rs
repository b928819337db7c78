//! The circle closed: what is drawn as true is found by the measurement, which shares no code with the drawing.

use crate::common::{card, draw, settings};
use measure::{Channel as Measured, EdgeOptions};
use scene::{Blur, Channel, EdgePlace, LateralColour, Settings};
use testkit::assert_close;

#[test]
fn mtf50_and_displacement_of_every_edge_are_found_as_stated() {
    let blur =
        Blur { corner_radial_um: 30.0, corner_tangential_um: 20.0, channel: [1.1, 1.0, 1.2], ..Blur::even(12.0) };
    let lateral = LateralColour { red_um: 12.0, blue_um: -16.0 };
    let scene = card();
    let (capture, frame) = draw(&scene, Settings { blur, lateral, ..settings() });
    let options = EdgeOptions { resamples: 20, ..EdgeOptions::default() };
    let places = capture.places(&scene).edges;
    assert_eq!(places.len(), 36);
    for place in &places {
        let picture = frame.linear(place.region).unwrap().unwrap();
        let report =
            measure::edge(&picture, &options).unwrap_or_else(|e| panic!("{} {:?}: {e}", place.name, place.side));
        for (channel, measured) in
            [(Channel::Red, Measured::Red), (Channel::Green, Measured::Green), (Channel::Blue, Measured::Blue)]
        {
            let found = report.channel(measured).and_then(|c| c.mtf50_cy_px).unwrap_or(f64::NAN);
            let truth = place.frequency_at(&capture, channel, 0.5).unwrap_or(f64::NAN) * capture.pitch_mm();
            assert_close!(found, truth, relative = 0.02, "{} {:?} {channel:?}", place.name, place.side);
        }
        check_displacement(place, report.displacement_px);
        assert_close!(report.angle_deg, place.angle_deg.abs(), absolute = 0.05, "{} {:?}", place.name, place.side);
    }
}

fn check_displacement(place: &EdgePlace, found: measure::Displacement) {
    let [red, blue] = place.displacement_px;
    assert_close!(found.red.unwrap_or(f64::NAN), red, absolute = 0.01, "{} {:?} red", place.name, place.side);
    assert_close!(found.blue.unwrap_or(f64::NAN), blue, absolute = 0.01, "{} {:?} blue", place.name, place.side);
}
