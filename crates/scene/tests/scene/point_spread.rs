//! Blur handed in as numbers against the blurs that this crate draws from closed forms.

use std::ops::ControlFlow;

use scene::{
    Blur, Capture, Drawing, Grain, LateralColour, PointSpread, PointSpreads, Scene, Settings, render, test_card,
};
use testkit::assert_close;

const CELL_MM: f64 = 0.0042;
const SIDE: usize = 81;

fn settings() -> Settings {
    Settings {
        magnification: 0.5,
        width_px: 1100,
        height_px: 220,
        rotation_deg: 3.0,
        blur: Blur::even(4.0),
        grain: Grain { density_sd: 0.0, ..Grain::default() },
        ..Settings::default()
    }
}

fn card() -> Scene {
    test_card(56.0, &[]).expect("a card")
}

/// A Gaussian with these deviations along and across the radius, and a shift outwards, all µm on film.
fn gaussian(along_um: f64, across_um: f64, shift_um: f64) -> Vec<f32> {
    let middle = (SIDE / 2) as f64;
    let cells = (0..SIDE * SIDE).map(|i| {
        let (across, out) = ((i % SIDE) as f64 - middle, (i / SIDE) as f64 - middle);
        let (across, out) = (1e3 * CELL_MM * across / across_um, (1e3 * CELL_MM * out - shift_um) / along_um);
        (-0.5 * (across * across + out * out)).exp() as f32
    });
    cells.collect()
}

/// Zones as often as the law needs it.
fn zones(corner_mm: f64, of: impl Fn(f64) -> PointSpread) -> PointSpreads {
    let zones = (0..=24).map(|i| of(f64::from(i) / 24.0 * 1.1 * corner_mm)).collect();
    PointSpreads::new(CELL_MM, SIDE, zones).expect("functions")
}

fn through(spreads: &PointSpreads, settings: Settings) -> Vec<u16> {
    let capture = Capture::new(settings).expect("a capture");
    let mut samples = Vec::new();
    let card = card();
    let mut drawing = Drawing::through(&card, &capture, spreads).expect("spreads that fit");
    let ended = drawing.rows(&mut |rows| {
        samples.extend_from_slice(rows);
        ControlFlow::Continue(())
    });
    assert_eq!(ended, ControlFlow::Continue(()));
    samples
}

fn drawn(settings: Settings) -> Vec<u16> {
    let capture = Capture::new(settings).expect("a capture");
    render(&card(), &capture, &mut |_| ControlFlow::Continue(())).expect("a frame").samples
}

/// The largest and the root-mean-square difference, shares of full scale after the sRGB curve.
fn apart(a: &[u16], b: &[u16]) -> (f64, f64) {
    assert_eq!(a.len(), b.len());
    let off = |(a, b): (&u16, &u16)| (f64::from(*a) - f64::from(*b)) / 65_535.0;
    let offs = a.iter().zip(b).map(off);
    let most = offs.clone().fold(0.0, |most, off| f64::max(most, off.abs()));
    (most, (offs.map(|off| off * off).sum::<f64>() / a.len() as f64).sqrt())
}

/// Gaussians add by squares: 12 and 4 µm are 12.65 µm.
#[test]
fn the_same_gaussian_everywhere_is_the_blur_of_its_closed_form() {
    let spreads = zones(14.3, |film_mm| PointSpread {
        film_mm,
        light: 1.0,
        colours: [(); 3].map(|()| gaussian(12.0, 12.0, 0.0)),
    });
    let both = Settings { blur: Blur::even(12.0_f64.hypot(4.0)), ..settings() };
    let (most, mean) = apart(&through(&spreads, settings()), &drawn(both));
    assert_close!(most, 0.0, absolute = 0.006);
    assert_close!(mean, 0.0, absolute = 0.0006);
}

/// The crate's own law: deviations grow with the square of the distance, differently along and across the radius.
#[test]
fn functions_turn_with_the_radius_and_grow_with_it() {
    let corner_mm = Capture::new(settings()).expect("a capture").corner_mm();
    let grown = |corner_um: f64, film_mm: f64| {
        let sigma = 10.0 + (corner_um - 10.0) * (film_mm / corner_mm).powi(2);
        (sigma * sigma - 16.0).sqrt()
    };
    let spreads = zones(corner_mm, |film_mm| {
        let cells = gaussian(grown(30.0, film_mm), grown(16.0, film_mm), 0.0);
        PointSpread { film_mm, light: 1.0, colours: [(); 3].map(|()| cells.clone()) }
    });
    let own = Blur { centre_um: 10.0, corner_radial_um: 30.0, corner_tangential_um: 16.0, ..Blur::even(10.0) };
    let (most, mean) = apart(&through(&spreads, settings()), &drawn(Settings { blur: own, ..settings() }));
    assert_close!(most, 0.0, absolute = 0.012);
    assert_close!(mean, 0.0, absolute = 0.001);
}

/// Red outwards and blue inwards in proportion to the distance is a larger and a smaller picture.
#[test]
fn a_shift_outwards_is_lateral_colour() {
    let corner_mm = Capture::new(settings()).expect("a capture").corner_mm();
    let spreads = zones(corner_mm, |film_mm| {
        let share = film_mm / corner_mm;
        let colours = [20.0, 0.0, -30.0].map(|corner_um| gaussian(12.0, 12.0, corner_um * share));
        PointSpread { film_mm, light: 1.0, colours }
    });
    let lateral = LateralColour { red_um: 20.0, blue_um: -30.0 };
    let own = Settings { blur: Blur::even(12.0_f64.hypot(4.0)), lateral, ..settings() };
    let (most, mean) = apart(&through(&spreads, settings()), &drawn(own));
    // Blended between corners of a block that lie a fifth of the way to the corner apart; on a whole frame a tenth.
    assert_close!(most, 0.0, absolute = 0.02);
    assert_close!(mean, 0.0, absolute = 0.0012);
}

#[test]
fn light_falls_off_as_stated() {
    let corner_mm = Capture::new(settings()).expect("a capture").corner_mm();
    let spreads = zones(corner_mm, |film_mm| {
        let light = (-0.8 * (film_mm / corner_mm).powi(2)).exp2();
        PointSpread { film_mm, light, colours: [(); 3].map(|()| gaussian(12.0, 12.0, 0.0)) }
    });
    let own = Settings { blur: Blur::even(12.0_f64.hypot(4.0)), falloff_stops_at_corner: 0.8, ..settings() };
    let (most, mean) = apart(&through(&spreads, settings()), &drawn(own));
    assert_close!(most, 0.0, absolute = 0.006);
    assert_close!(mean, 0.0, absolute = 0.0008);
}

#[test]
fn functions_too_broad_for_the_scan_are_refused() {
    let zone = PointSpread { film_mm: 0.0, light: 1.0, colours: [(); 3].map(|()| vec![1.0; 801 * 801]) };
    let spreads = PointSpreads::new(0.02, 801, vec![zone]).expect("functions");
    let capture = Capture::new(settings()).expect("a capture");
    let card = card();
    let refused = Drawing::through(&card, &capture, &spreads).err();
    assert!(refused.expect("too broad").to_string().contains("coarser scan"));
}
