//! The way from the subject to the scan: tilt, distance, distortion, mirroring.

use crate::common::{card, draw, settings};
use scene::{
    Capture, CaptureError, Channel, Focus, GlareSpot, LateralColour, Negative, Noise, Perspective, Point, Reflectance,
    Scene, Settings, Truth,
};
use testkit::assert_close;

fn leaning() -> Settings {
    Settings {
        rotation_deg: 33.0,
        shift_mm: Point::new(1.3, -2.1),
        perspective: Perspective { right_deg: 17.0, down_deg: -11.0, distance_mm: 90.0 },
        lateral: LateralColour { red_um: 12.0, blue_um: -16.0 },
        ..settings()
    }
}

fn capture(settings: Settings) -> Capture {
    Capture::new(settings).unwrap()
}

fn places() -> Vec<Point> {
    let mut noise = Noise::new(3);
    (0..40).map(|_| Point::new(noise.between(-14.0, 14.0), noise.between(-14.0, 14.0))).collect()
}

#[test]
fn the_way_back_is_the_inverse_of_the_way_there() {
    for distortion in [-0.1, -0.02, 0.0, 0.03, 0.5] {
        for mirrored in [false, true] {
            let capture = capture(Settings { distortion, mirrored, ..leaning() });
            for place in places() {
                for channel in Channel::ALL {
                    let back = capture.to_subject(channel, capture.to_film(channel, place));
                    assert_close!(back.x, place.x, absolute = 1e-9, "{distortion} {mirrored} {place:?}");
                    assert_close!(back.y, place.y, absolute = 1e-9, "{distortion} {mirrored} {place:?}");
                }
            }
        }
    }
}

#[test]
fn a_plane_at_right_angles_to_the_axis_is_only_scaled_however_near() {
    let (far, near) = (capture(settings()), {
        let perspective = Perspective { distance_mm: 40.0, ..Perspective::default() };
        capture(Settings { perspective, ..settings() })
    });
    for place in places() {
        let (plain, seen) = (far.to_film(Channel::Red, place), near.to_film(Channel::Red, place));
        assert_close!((plain - seen).length(), 0.0, absolute = 1e-12);
        // What stands 4 mm nearer to a pupil 40 mm away is 1 / (1 - 0.1) times as large: similar triangles.
        let raised = near.to_film_at(Channel::Red, place, 4.0);
        assert_close!((raised - plain * (1.0 / 0.9)).length(), 0.0, absolute = 1e-12);
        assert_close!((far.to_film_at(Channel::Red, place, 4.0) - plain).length(), 0.0, absolute = 1e-12);
    }
}

#[test]
fn a_tilted_plane_has_the_closed_form_of_central_projection() {
    // The right side back by 30 degrees, the pupil 100 mm away: x cos 30 / (1 + x sin 30 / 100).
    let perspective = Perspective { right_deg: 30.0, down_deg: 0.0, distance_mm: 100.0 };
    let tilted = capture(Settings { perspective, rotation_deg: 0.0, ..settings() });
    let m = settings().magnification;
    for (x, y) in [(10.0, 5.0), (-10.0, 5.0), (0.0, -7.0)] {
        let film = tilted.to_film(Channel::Green, Point::new(x, y));
        let away = 1.0 + x * 0.5 / 100.0;
        assert_close!(film.x, m * x * 0.75f64.sqrt() / away, absolute = 1e-12);
        assert_close!(film.y, m * y / away, absolute = 1e-12);
    }
    // The lower side back shrinks what is below.
    let perspective = Perspective { right_deg: 0.0, down_deg: 30.0, distance_mm: 100.0 };
    let tilted = capture(Settings { perspective, rotation_deg: 0.0, ..settings() });
    let film = tilted.to_film(Channel::Green, Point::new(4.0, 10.0));
    assert_close!(film.x, m * 4.0 / 1.05, absolute = 1e-12);
}

#[test]
fn the_homography_says_the_same_as_the_projection() {
    let scene = Scene::new(Reflectance::grey(0.5));
    for mirrored in [false, true] {
        let capture = capture(Settings { mirrored, ..leaning() });
        let h = Truth::new(&scene, &capture).homography().unwrap();
        for p in places() {
            let [x, y, w] = [0, 1, 2].map(|row| h[row][0] * p.x + h[row][1] * p.y + h[row][2]);
            let pixel = capture.to_pixel(Channel::Green, p);
            assert_close!(x / w, pixel.x, absolute = 1e-9);
            assert_close!(y / w, pixel.y, absolute = 1e-9);
        }
    }
    let bent = capture(Settings { distortion: 0.01, ..leaning() });
    assert!(Truth::new(&scene, &bent).homography().is_none());
}

#[test]
fn distortion_is_the_cubic_of_the_radius_and_nothing_where_it_is_nothing() {
    let straight = capture(settings());
    let bent = capture(Settings { distortion: 0.04, ..settings() });
    // Half the diagonal of 25.4 mm.
    let corner = 17.960_512_242;
    for place in places() {
        let (plain, seen) = (straight.to_film(Channel::Green, place), bent.to_film(Channel::Green, place));
        let share = plain.length() / corner;
        assert_close!((seen - plain * (1.0 + 0.04 * share * share)).length(), 0.0, absolute = 1e-9);
    }
    // Far outside nothing comes back into the frame, whichever way it bends.
    for distortion in [-0.1, 0.5] {
        let bent = capture(Settings { distortion, ..settings() });
        let radius = |mm: f64| bent.to_film(Channel::Green, Point::new(mm, 0.0)).length();
        let radii: Vec<f64> = (0..400).map(|i| radius(f64::from(i) * 0.5)).collect();
        assert!(radii.windows(2).all(|pair| pair[1] > pair[0]), "{distortion}");
    }
}

#[test]
fn mirrored_twice_is_as_before() {
    let scene = card();
    let (_, plain) = draw(&scene, Settings { width_px: 301, height_px: 200, ..settings() });
    let (capture, mirrored) = draw(&scene, Settings { width_px: 301, height_px: 200, mirrored: true, ..settings() });
    let row = 3 * 301;
    for (row_of, other) in plain.samples.chunks(row).zip(mirrored.samples.chunks(row)) {
        let back: Vec<u16> = other.chunks(3).rev().flatten().copied().collect();
        assert!(row_of.iter().zip(&back).all(|(a, b)| a.abs_diff(*b) <= 2));
    }
    assert!(plain != mirrored, "not an empty comparison");
    let scene = Scene::new(Reflectance::grey(0.5));
    assert_close!(
        Truth::new(&scene, &capture).magnification_at(Point::default()),
        capture.settings().magnification,
        relative = 1e-12
    );
}

#[test]
fn magnification_in_the_middle_and_beside_it() {
    let scene = Scene::new(Reflectance::grey(0.5));
    let perspective = Perspective { right_deg: 30.0, down_deg: 0.0, distance_mm: 100.0 };
    let capture = capture(Settings { perspective, rotation_deg: 0.0, ..settings() });
    let truth = Truth::new(&scene, &capture);
    let m = settings().magnification;
    // In the middle the tilt takes cos 30 of one side; the root of the area is the root of that.
    assert_close!(truth.magnification_at(Point::default()), m * 0.75f64.sqrt().sqrt(), relative = 1e-12);
    // 10 mm to the right: d(x cos / (1 + x/200)) / dx = cos / (1 + x/200)^2 across, 1 / (1 + x/200) along.
    let expected = m * (0.75f64.sqrt() / 1.05f64.powi(3)).sqrt();
    assert_close!(truth.magnification_at(Point::new(10.0, 0.0)), expected, relative = 1e-12);
}

#[test]
fn a_glare_spot_adds_its_light_and_a_negative_turns_it_over() {
    let scene = Scene::new(Reflectance::grey(0.2));
    let spot = GlareSpot { at_mm: Point::new(2.0, -1.0), radius_mm: 2.0, light: 0.3 };
    let small = Settings { width_px: 300, height_px: 200, glare_spot: Some(spot), ..settings() };
    let negative = Negative { base: 0.15, gamma: 0.7, toe: 0.01 };
    for negative in [None, Some(negative)] {
        let (capture, frame) = draw(&scene, Settings { negative, ..small });
        for (column, row) in [(10u32, 10u32), (228, 60), (250, 80)] {
            let film = capture.pixel_to_film(Point::new(f64::from(column) + 0.5, f64::from(row) + 0.5));
            let d2 = ((film.x - 2.0).powi(2) + (film.y + 1.0).powi(2)) / 4.0;
            let exposure = 0.2 + 0.3 * (1.0 - d2).max(0.0).powi(2);
            let expected =
                negative.map_or(exposure, |n| 10f64.powf(-n.base - n.gamma * (1.0 + exposure / n.toe).log10()));
            let sample = f64::from(frame.samples[3 * (row * 300 + column) as usize]) / 65_535.0;
            assert_close!(planes::srgb_decode(sample), expected, absolute = 3e-5, "{column} {row}");
            if let Some(n) = negative {
                assert_close!(n.exposure(n.transmittance(exposure)), exposure, relative = 1e-12);
            }
        }
    }
}

#[test]
fn ways_that_cannot_be_drawn_are_refused_by_name() {
    let good = settings();
    let seen = |right_deg: f64, distance_mm: f64| Perspective { right_deg, down_deg: 0.0, distance_mm };
    let focus = |f_number: f64, height_mm: f64| Focus { f_number, height_mm, ..Focus::default() };
    let spot = GlareSpot { at_mm: Point::default(), radius_mm: 0.0, light: 1.0 };
    let negative = Negative { base: 0.1, gamma: 0.6, toe: 0.0 };
    let wrong = [
        ("tilt of the right", Settings { perspective: seen(61.0, 100.0), ..good }),
        ("tilt of the right", Settings { perspective: seen(f64::NAN, 100.0), ..good }),
        ("entrance pupil", Settings { perspective: seen(0.0, 0.5), ..good }),
        ("tilted subject", Settings { perspective: seen(50.0, 20.0), ..good }),
        ("distortion", Settings { distortion: -0.11, ..good }),
        ("distortion", Settings { distortion: f64::NAN, ..good }),
        ("f-number", Settings { focus: focus(0.0, 0.0), ..good }),
        ("height of best focus", Settings { focus: focus(8.0, f64::NAN), ..good }),
        ("best focus lies", Settings { focus: focus(8.0, 90.0), perspective: seen(0.0, 100.0), ..good }),
        ("glare spot", Settings { glare_spot: Some(spot), ..good }),
        ("toe", Settings { negative: Some(negative), ..good }),
    ];
    for (name, settings) in wrong {
        let error = Capture::new(settings).unwrap_err();
        let CaptureError::OutOfRange { what, .. } = error else { panic!("{error}") };
        assert!(what.contains(name), "{name}: {what}");
    }
}
