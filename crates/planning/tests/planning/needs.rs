//! From the job to figures on film.

use crate::common::beetle;
use planning::{Brief, OutOfRange, compare_frames, print_width_mm};
use proptest::prelude::*;
use testkit::assert_close;

#[test]
fn the_beetle() {
    // Own arithmetic: 0.7 · 56/40; 300/56; 5 · 300/56; 0.98 · 5 · 300/56; 56/1500.
    let need = beetle().need().unwrap();
    assert_close!(need.magnification, 0.98, relative = 1e-12);
    assert_close!(need.enlargement, 5.357_142_857_142_857, relative = 1e-12);
    assert_close!(need.print_magnification, 5.25, relative = 1e-12);
    assert_close!(need.on_film_lp_mm, 26.785_714_285_714_285, relative = 1e-12);
    assert_close!(need.on_subject_lp_mm, 26.25, relative = 1e-12);
    assert_close!(need.circle_mm, 0.037_333_333_333_333, relative = 1e-12);
}

#[test]
fn fineness_on_film_of_usual_prints() {
    // 5 lp/mm on paper from 56 mm film: 22.7 lp/mm for a 10-inch print, 36.3 for a 16-inch one (common practice; own
    // arithmetic to the digits given).
    for (print_mm, on_film) in [(254.0, 22.7), (406.0, 36.3)] {
        let need = Brief::new(40.0, 0.7, [56.0, 56.0], print_mm).need().unwrap();
        assert_close!(need.on_film_lp_mm, on_film, absolute = 0.05);
    }
}

#[test]
fn circles_of_confusion_as_tables_give_them() {
    // 0.2 mm in a print whose long side is 254 mm, brought back to film; the values of the usual tables for these frames
    // (common practice, no source), printed to 0.0001 mm.
    let table = [
        ([24.0, 36.0], 0.0283),
        ([36.0, 24.0], 0.0283),
        ([41.5, 56.0], 0.0441),
        ([56.0, 41.5], 0.0441),
        ([56.0, 56.0], 0.0441),
        ([56.0, 69.5], 0.0547),
        ([56.0, 84.0], 0.0661),
        ([96.0, 120.0], 0.0945),
    ];
    for (frame_mm, circle_mm) in table {
        let need = Brief::new(10.0, 0.7, frame_mm, print_width_mm(frame_mm, 254.0)).need().unwrap();
        // 36/1270 is 0.02835 and may be printed either way.
        assert_close!(need.circle_mm, circle_mm, absolute = 0.000_051, "{frame_mm:?}");
    }
}

#[test]
fn the_tighter_side_decides() {
    let frame_mm = [36.0, 24.0];
    let magnification = |subject_height_mm| {
        Brief { subject_height_mm, ..Brief::new(30.0, 0.5, frame_mm, 254.0) }.need().unwrap().magnification
    };
    // Own arithmetic: the width allows 0.5·36/30 = 0.6, a height h 12/h.
    assert_close!(magnification(Some(10.0)), 0.6, relative = 1e-12);
    assert_close!(magnification(Some(20.0)), 0.6, relative = 1e-12);
    assert_close!(magnification(Some(40.0)), 0.3, relative = 1e-12);
    assert_close!(magnification(None), 0.4, relative = 1e-12);
}

#[test]
fn depth_wanted_is_the_subjects_unless_said() {
    let depth = |subject_depth_mm, depth_wanted_mm| {
        Brief { subject_depth_mm, depth_wanted_mm, ..beetle() }.need().unwrap().depth_mm
    };
    assert_eq!(depth(None, None), None);
    assert_eq!(depth(Some(8.0), None), Some(8.0));
    assert_eq!(depth(Some(8.0), Some(3.0)), Some(3.0));
}

#[test]
fn a_stamp_on_two_films() {
    // "24 × 36 mm at life size fill 43 × 64 % of a 6x6 frame's sides and all of 24x36": own arithmetic, 24/56 and 36/56.
    let fills = compare_frames([36.0, 24.0], 1.0, &[[56.0, 56.0], [24.0, 36.0], [36.0, 24.0]]).unwrap();
    assert_close!(fills[0].sides[0], 0.43, absolute = 0.005);
    assert_close!(fills[0].sides[1], 0.64, absolute = 0.005);
    assert_close!(fills[0].area(), 864.0 / 3136.0, relative = 1e-12);
    assert_eq!(fills[0].tighter(), fills[0].sides[1]);
    for full in &fills[1..] {
        assert_eq!(full.sides, [1.0, 1.0]);
        assert!(full.fits());
    }
    // A long seed: the long side is the tighter on one frame, the short one on the other.
    let seed = compare_frames([10.0, 40.0], 1.0, &[[56.0, 56.0], [12.0, 84.0]]).unwrap();
    assert_close!(seed[0].tighter(), 40.0 / 56.0, relative = 1e-12);
    assert_close!(seed[1].tighter(), 10.0 / 12.0, relative = 1e-12);
    let larger = compare_frames([36.0, 24.0], 1.01, &[[24.0, 36.0], [56.0, 56.0]]).unwrap();
    assert_eq!([larger[0].fits(), larger[1].fits()], [false, true]);
    let wrong = compare_frames([36.0, 24.0], 1.0, &[[24.0, 36.0], [24.0, 1.0]]).unwrap_err();
    assert_eq!(wrong.to_string(), "a side of the frame must lie between 5 and 700 mm, not 1; check it");
}

type Change = fn(&mut Brief);

#[test]
fn what_cannot_be_is_refused_with_its_limits() {
    let refused = |change: Change| -> OutOfRange {
        let mut brief = beetle();
        change(&mut brief);
        brief.need().unwrap_err()
    };
    let cases: [(Change, &str); 17] = [
        (|b| b.subject_width_mm = -4.0, "the subject's width must lie between 0.01 and 5000 mm, not -4; check it"),
        (
            |b| b.subject_height_mm = Some(0.0),
            "the subject's height must lie between 0.01 and 5000 mm, not 0; check it",
        ),
        (
            |b| b.subject_depth_mm = Some(f64::NAN),
            "the subject's depth must lie between 0.01 and 5000 mm, not NaN; check it",
        ),
        (
            |b| b.depth_wanted_mm = Some(1e300),
            "the depth wanted must lie between 0.01 and 5000 mm, not 1e300; check it",
        ),
        (|b| b.fill = 70.0, "the share of the frame to fill must lie between 0.01 and 1, not 70; check it"),
        (|b| b.frame_mm[0] = 0.0, "the frame's width must lie between 5 and 700 mm, not 0; check it"),
        (|b| b.frame_mm[1] = f64::INFINITY, "the frame's height must lie between 5 and 700 mm, not inf; check it"),
        (|b| b.print_mm = 0.3, "the print's width must lie between 5 and 20000 mm, not 0.3; check it"),
        (|b| b.criterion_lp_mm = 0.0, "the detail on paper must lie between 0.1 and 50 lp/mm, not 0; check it"),
        (|b| b.contrast = 1.0, "the contrast to be left must lie between 0.01 and 0.95, not 1; check it"),
        (
            |b| b.least_working_distance_mm = Some(-1.0),
            "the least working distance must lie between 0 and 100000 mm, not -1; check it",
        ),
        (
            |b| b.largest_light_loss_stops = Some(-1.0),
            "the largest loss of light must lie between 0 and 30 stops, not -1; check it",
        ),
        (|b| b.largest_crop = 1.0, "the share that may be cropped away must lie between 0 and 0.95, not 1; check it"),
        (
            |b| b.largest_enlargement = Some(0.0),
            "the largest enlargement must lie between 0.1 and 1000 times, not 0; check it",
        ),
        (|b| b.overlap = 1.0, "the overlap of focus steps must lie between 0 and 0.95, not 1; check it"),
        (|b| b.wavelength_mm = 0.55, "the wavelength must lie between 0.0002 and 0.0012 mm, not 0.55; check it"),
        (
            |b| b.subject_width_mm = 0.1,
            "the magnification that fills the frame so must lie between 0.0001 and 200, not 392; check it",
        ),
    ];
    for (change, sentence) in cases {
        // 0.7 · 56/0.1 is 392 only to rounding.
        assert_eq!(refused(change).to_string().replace("391.99999999999994", "392"), sentence);
    }
}

proptest! {
    /// What is seen on paper does not know how the film was used.
    #[test]
    fn the_print_stays_the_same_under_a_crop(ratio in 0.05..1.0f64, print_mm in 50.0..2000.0f64, fill in 0.1..1.0f64) {
        let need = Brief { largest_crop: 0.95, ..Brief::new(40.0, fill, [84.0, 56.0], print_mm) }.need().unwrap();
        let crop = need.crop_of(ratio * need.magnification).unwrap();
        assert_close!(crop.enlargement * crop.magnification, need.print_magnification, relative = 1e-12);
        assert_close!(crop.lp_mm * crop.magnification, need.on_subject_lp_mm, relative = 1e-12);
        assert_close!(crop.lp_mm * crop.circle_mm, 1.0, relative = 1e-12);
        assert_close!(crop.cut_away, 1.0 - ratio, absolute = 1e-12);
        // The light gained is that of the two f-numbers which hold the same depth.
        let f_number = |negative: &planning::Negative| {
            planning::effective_f_number_for_depth(negative.magnification, 5.0, negative.circle_mm)
        };
        let stops = 2.0 * (f_number(&need.on_film()) / f_number(&crop)).log2();
        assert_close!(crop.light_gained_stops, stops, absolute = 1e-9);
        // Diffraction allows the same depth however much is cropped: what a crop gains in depth at one f-number it loses in f-number.
        let deepest = |negative: &planning::Negative| negative.depth_at_mm(negative.diffraction_limit());
        assert_close!(deepest(&crop), deepest(&need.on_film()), relative = 1e-9);
    }
}
