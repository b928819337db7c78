//! Tilted subjects and the hinge.

use planning::{effective_f_number_for_depth, hinge_distance_mm, hinge_tilt_deg, tilt_held_deg, tilted_subject};
use proptest::prelude::*;
use testkit::assert_close;

#[test]
fn a_slab_at_twelve_degrees() {
    // Own calculation: (56/0.8)·tan 12°; atan(0.8·tan 12°); depth·m²/(2·0.05).
    let tilted = tilted_subject(56.0, 0.8, 12.0).unwrap();
    assert_close!(tilted.depth_mm, 14.878_959_316_901_549, relative = 1e-12);
    assert_close!(tilted.image_tilt_deg, 9.650_565_071_754_661, relative = 1e-12);
    assert_close!(effective_f_number_for_depth(0.8, tilted.depth_mm, 0.05), 95.225_339_628_169_9, relative = 1e-12);
    assert_eq!(tilted_subject(56.0, 0.8, 0.0).unwrap().image_tilt_deg, 0.0);
}

#[test]
fn hinge_of_a_lens_of_150_mm() {
    // Own calculation of f/sin α, 150 mm and 8° (Merklinger, from memory).
    assert_close!(hinge_distance_mm(150.0, 8.0).unwrap(), 1_077.794_480_149_157_8, relative = 1e-12);
}

#[test]
fn refusals() {
    let sentence = |refused: Result<f64, planning::OutOfRange>| refused.unwrap_err().to_string();
    assert_eq!(
        sentence(hinge_tilt_deg(150.0, 100.0)),
        "the hinge's distance must lie between 150 and 1e9 mm, not 100; check it"
    );
    assert_eq!(
        sentence(hinge_distance_mm(150.0, 0.0)),
        "the lens's tilt must lie between 0.01 and 85 °, not 0; check it"
    );
    assert_eq!(
        sentence(hinge_distance_mm(f64::NAN, 8.0)),
        "the focal length must lie between 1 and 5000 mm, not NaN; check it"
    );
    assert_eq!(
        sentence(tilted_subject(56.0, 0.8, 90.0).map(|tilted| tilted.depth_mm)),
        "the subject's tilt must lie between 0 and 85 °, not 90; check it"
    );
}

proptest! {
    #[test]
    fn hinge_and_tilt_are_inverse(focal in 20.0..600.0f64, tilt in 0.1..80.0f64) {
        let distance = hinge_distance_mm(focal, tilt).unwrap();
        assert_close!(hinge_tilt_deg(focal, distance).unwrap(), tilt, relative = 1e-9);
    }

    /// Scheimpflug's rule: the subject's, the lens's and the image's planes meet in one line. Through a thin lens of focal
    /// length f the distances of the two axis points are (1 + 1/m)·f and (1 + m)·f, and either plane meets the lens's at
    /// distance over slope.
    #[test]
    fn planes_meet_in_one_line(focal in 20.0..600.0f64, magnification in 0.05..10.0f64, tilt in 0.1..80.0f64) {
        let tilted = tilted_subject(56.0, magnification, tilt).unwrap();
        let subject = (1.0 + 1.0 / magnification) * focal / tilt.to_radians().tan();
        let image = (1.0 + magnification) * focal / tilted.image_tilt_deg.to_radians().tan();
        assert_close!(image, subject, relative = 1e-9);
    }
}

#[test]
fn the_tilt_that_a_depth_holds_is_the_tilt_that_asks_for_it() {
    for tilt in [0.0, 0.3, 1.0, 12.0, 40.0] {
        for (width, magnification) in [(56.0, 0.8), (24.0, 3.0), (120.0, 0.1)] {
            let depth = tilted_subject(width, magnification, tilt).unwrap().depth_mm;
            assert_close!(tilt_held_deg(width, magnification, depth).unwrap(), tilt, absolute = 1e-9);
        }
    }
    assert!(tilt_held_deg(56.0, 0.8, f64::NAN).is_err());
}
