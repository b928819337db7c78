//! Grain, repeatability, stopping, and what is refused.

use crate::common::{FIELD_MM, card, draw, settings};
use planes::{Channels, Region};
use scene::{
    Blur, Capture, CaptureError, CardError, Grain, Laid, LateralColour, Point, Reflectance, Scene, Settings, Specimen,
    render, render_rows, test_card,
};
use std::ops::ControlFlow;
use testkit::assert_close;

fn everything() -> Settings {
    Settings {
        blur: Blur { corner_radial_um: 24.0, corner_tangential_um: 16.0, ..Blur::even(11.0) },
        lateral: LateralColour { red_um: 12.0, blue_um: -16.0 },
        veiling_glare: 0.02,
        falloff_stops_at_corner: 0.5,
        grain: Grain { density_sd: 0.012, correlation_um: 14.0 },
        width_px: 301,
        height_px: 217,
        ..settings()
    }
}

/// Density against `light`, of every pixel of one colour of an even grey frame.
fn densities(grain: Grain, light: f32, channel: usize) -> Vec<f64> {
    let scene = Scene::new(Reflectance::grey(light));
    let (_, frame) = draw(&scene, Settings { grain, width_px: 400, height_px: 300, ..settings() });
    let picture = frame.linear(frame.whole()).unwrap().unwrap();
    let Channels::Rgb { planes, .. } = picture.channels() else { panic!("three colours") };
    planes[channel].samples().iter().map(|s| (s / light).log10().into()).collect()
}

fn mean_of(values: impl Iterator<Item = f64> + Clone) -> f64 {
    values.clone().sum::<f64>() / values.count() as f64
}

#[test]
fn grain_has_the_stated_deviation_of_density_and_keeps_the_mean_light() {
    for correlation_um in [0.0, 20.0] {
        let densities = densities(Grain { density_sd: 0.03, correlation_um }, 0.25, 1);
        let mean = mean_of(densities.iter().copied());
        let sd = mean_of(densities.iter().map(|d| (d - mean).powi(2))).sqrt();
        // Of 120 000 pixels: five standard errors of a deviation are 1 % of it; four times that where some ten
        // neighbours share their grain.
        assert_close!(sd, 0.03, relative = 0.03, "{correlation_um}");
        let light = mean_of(densities.iter().map(|d| 10f64.powf(*d)));
        assert_close!(light, 1.0, absolute = 2e-3, "{correlation_um}");
    }
}

#[test]
fn grain_is_independent_in_the_colours() {
    let grain = Grain { density_sd: 0.03, correlation_um: 0.0 };
    let [red, green] = [0, 1].map(|channel| densities(grain, 0.25, channel));
    let shared = mean_of(red.iter().zip(&green).map(|(r, g)| r * g)) / 0.0009;
    // Five standard errors of a correlation of 120 000 pairs.
    assert_close!(shared, 0.0, absolute = 5.0 / 120_000f64.sqrt());
}

#[test]
fn the_same_settings_give_the_same_picture_and_another_seed_another() {
    let scene = card();
    let (_, first) = draw(&scene, everything());
    let (_, again) = draw(&scene, everything());
    let (_, other) = draw(&scene, Settings { seed: 2, ..everything() });
    assert!(first == again);
    assert!(first != other);
}

#[test]
fn rows_come_in_order_and_add_up_to_the_whole_picture() {
    let scene = card();
    let (capture, whole) = draw(&scene, everything());
    let mut rows: Vec<u16> = Vec::new();
    let mut bands = 0;
    let outcome = render_rows(&scene, &capture, &mut |band| {
        assert_eq!(band.len() % (3 * 301), 0, "whole rows");
        bands += 1;
        rows.extend_from_slice(band);
        ControlFlow::Continue(())
    });
    assert!(outcome.is_continue() && bands > 1);
    assert!(rows == whole.samples);
}

#[test]
fn a_band_looks_the_same_wherever_the_bands_are_cut() {
    // Two frames of the same geometry, one twice as high as the other and shifted: the rows that both show must be
    // the same but for the rounding, although they come in other bands.
    let scene = card();
    let plain = |height_px: u32, down: f64| {
        let per_mm = settings().magnification / (settings().pitch_um * 1e-3);
        let shift_mm = Point::new(0.0, down / per_mm);
        draw(
            &scene,
            Settings { width_px: 300, height_px, shift_mm, rotation_deg: 0.0, blur: Blur::even(30.0), ..settings() },
        )
        .1
    };
    let (low, high) = (plain(200, 0.0), plain(320, 0.0));
    // The middles coincide, so row r of the low frame is row r + 60 of the high one.
    let pairs = low.samples.iter().zip(&high.samples[3 * 300 * 60..]);
    assert!(pairs.clone().all(|(a, b)| a.abs_diff(*b) <= 3));
    assert!(pairs.clone().map(|(a, _)| a).min() < pairs.map(|(a, _)| a).max(), "not an empty comparison");
}

#[test]
fn work_stops_when_told_to() {
    let capture = Capture::new(everything()).unwrap();
    let mut told = Vec::new();
    let stopped = render(&card(), &capture, &mut |share| {
        told.push(share);
        if told.len() == 2 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    });
    assert!(stopped.is_none());
    assert!(told.len() == 2 && told[0] > 0.0 && told[1] > told[0] && told[1] < 1.0, "{told:?}");
}

#[test]
fn cards_that_cannot_be_drawn_are_refused_with_their_limits() {
    for given_mm in [0.0, 19.9, 2000.1, -5.0, f64::NAN, f64::INFINITY] {
        let Err(CardError::Field { lowest_mm, highest_mm, .. }) = test_card(given_mm, &[]) else {
            panic!("{given_mm} should be refused")
        };
        assert_eq!((lowest_mm, highest_mm), (20.0, 2000.0));
    }
    for length in [0.0, -1.0, 28.1, f64::NAN] {
        let laid = Laid::in_place(Specimen::Crystal, length, FIELD_MM);
        assert!(matches!(test_card(FIELD_MM, &[laid]), Err(CardError::Specimen { .. })), "{length}");
    }
    let sentence = test_card(5.0, &[]).unwrap_err().to_string();
    assert!(sentence.contains("5 mm") && sentence.contains("20") && sentence.contains("2000"), "{sentence}");
}

#[test]
fn settings_that_cannot_be_drawn_are_refused_by_name() {
    let good = settings();
    let blur = good.blur;
    let wrong = [
        ("magnification", Settings { magnification: 0.0, ..good }),
        ("magnification", Settings { magnification: f64::NAN, ..good }),
        ("pitch", Settings { pitch_um: -1.0, ..good }),
        ("width", Settings { width_px: 0, ..good }),
        ("height", Settings { height_px: 70_000, ..good }),
        ("middle", Settings { blur: Blur { centre_um: -1.0, ..blur }, ..good }),
        ("defocus", Settings { blur: Blur { defocus_um: 1e6, ..blur }, ..good }),
        ("red's", Settings { blur: Blur { channel: [f64::INFINITY, 1.0, 1.0], ..blur }, ..good }),
        ("glare", Settings { veiling_glare: 1.5, ..good }),
        ("exposure", Settings { exposure_stops: 99.0, ..good }),
        ("deviation in density", Settings { grain: Grain { density_sd: -0.1, correlation_um: 0.0 }, ..good }),
        ("correlation", Settings { grain: Grain { density_sd: 0.1, correlation_um: 1e4 }, ..good }),
    ];
    for (name, settings) in wrong {
        let error = Capture::new(settings).unwrap_err();
        let CaptureError::OutOfRange { what, .. } = error else { panic!("{error}") };
        assert!(what.contains(name), "{name}: {what}");
    }
    let unequal = Blur { corner_radial_um: 50.0, corner_tangential_um: 10.0, ..blur };
    assert!(matches!(Capture::new(Settings { blur: unequal, ..good }), Err(CaptureError::TooUnequal { .. })));
    // A blur of nothing across the radius, and of something along it, is no number of times unequal.
    let flat = Blur { corner_radial_um: 50.0, corner_tangential_um: 0.0, ..blur };
    assert!(matches!(Capture::new(Settings { blur: flat, ..good }), Err(CaptureError::TooUnequal { .. })));
}

#[test]
fn a_specimen_stays_in_its_place() {
    let bare = card();
    let (capture, empty) = draw(&bare, settings());
    for which in [Specimen::StagBeetle, Specimen::SeedPod, Specimen::Crystal] {
        // 20 of 28 mm is the share that the demonstration's specimens take of their frames.
        let laid = test_card(FIELD_MM, &[Laid::in_place(which, 20.0, FIELD_MM)]).unwrap();
        let (_, frame) = draw(&laid, settings());
        let changed = frame.samples.iter().zip(&empty.samples).filter(|(a, b)| a.abs_diff(**b) > 300).count();
        assert!(changed > frame.samples.len() / 20, "{which:?} is hardly there: {changed}");
        let places = capture.places(&laid);
        assert_eq!(places, capture.places(&bare));
        let regions = places.edges.iter().map(|e| e.region).chain(places.patches.iter().map(|p| p.region));
        for region in regions {
            assert_eq!(cut(&frame, region), cut(&empty, region), "{which:?} lies over {region:?}");
        }
    }
}

fn cut(frame: &scene::Rendered, region: Region) -> Vec<u16> {
    let rows = region.y..region.y + region.height;
    let row = |y: u32| {
        let start = 3 * (y * frame.width + region.x) as usize;
        frame.samples[start..start + 3 * region.width as usize].to_vec()
    };
    rows.flat_map(row).collect()
}
