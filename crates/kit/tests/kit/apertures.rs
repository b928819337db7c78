//! Which opening limits the light, and what the others do to the corners.

use crate::common::{look, read, report_of, request, value, warned};
use kit::{Focus, SetupRequest, Warning};
use optics::Figure::{EffectiveFNumber, ExposureStops, Magnification};
use testkit::assert_close;

/// A lens of 100 mm at f/4, so 25 mm wide, pupils in its principal planes.
const KIT: &str = r#"
[[body]]
id = "body"
frame_mm = [56, 56]
register_mm = 80
mount = "m"
[[lens]]
id = "lens"
mount = "m"
focal_length_mm = 100
max_aperture = 4
pupil_ratio = 1
length_mm = 60
principal_separation_mm = 0
thread_mm = 52
image_circle_mm = 70
[[close_up_lens]]
id = "narrow"
power_dpt = 4
thread_mm = 52
gap_mm = 0
clear_mm = 20
[[tube]]
id = "tube"
mount = "m"
length_mm = 40
[[teleconverter]]
id = "converter"
mount = "m"
factor = 2
length_mm = 40
[[step_ring]]
id = "down"
from_mm = 52
to_mm = 40
clear_mm = 18
thickness_mm = 0
[[close_up_lens]]
id = "small"
power_dpt = 4
thread_mm = 40
gap_mm = 0
"#;

#[test]
fn a_narrow_close_up_lens_limits_and_is_named() {
    // At infinity 20 mm before a lens of 100 mm are f/5; half a stop and more is lost: 2·log2(5/4).
    let report = look(KIT, "body,lens,narrow", Focus::Infinity);
    assert_eq!(report.limited_by, "narrow");
    assert_close!(value(&report, EffectiveFNumber), 5.0, relative = 1e-12);
    assert_close!(value(&report, ExposureStops), 2.0 * 1.25f64.log2(), relative = 1e-12);
    // Stopped down to f/8, 12.5 mm, the iris limits again.
    let wanted = SetupRequest { f_number: Some(8.0), ..request("body,lens,narrow", Focus::Infinity) };
    let report = report_of(&read(KIT), &wanted).unwrap();
    assert_eq!(report.limited_by, "lens");
    assert_close!(value(&report, EffectiveFNumber), 8.0, relative = 1e-12);
    // A step ring whose opening is narrower still: f/(100/18).
    let report = look(KIT, "body,lens,down,small", Focus::Infinity);
    assert_eq!(report.limited_by, "down");
    assert_close!(value(&report, EffectiveFNumber), 100.0 / 18.0, relative = 1e-12);
}

#[test]
fn on_a_tube_a_close_up_lens_is_seen_through_the_lens() {
    // 40 mm of tube: m0 = 0.4, the film 140 mm behind H. The rim lies 180 mm from the film, 40 mm before H: through the
    // lens it is seen at 1/(1/100 − 1/40) = −66.7 mm, 66.7/40 = 5/3 as large: 206.7 mm from the film, 33.3 mm wide.
    let report = look(KIT, "body,tube,lens,narrow", Focus::Infinity);
    assert_eq!(report.limited_by, "narrow", "206.7/33.3 = 6.2 is narrower than 140/25 = 5.6");
    assert_close!(value(&report, EffectiveFNumber), 6.2, relative = 1e-12);
}

#[test]
fn a_throat_cuts_the_corners_by_hand() {
    // The iris, 25 mm wide, stands 100 mm before the film; the throat 80 mm before it. A ray from film height h through
    // the iris's edge y meets the throat at h + 0.8(y − h) = 0.2·h + 0.8·y: with y = 12.5, the throat's radius r is met
    // at 5(r − 10), and the last ray at 5(r + 10). The corner lies at 39.6 mm.
    for (throat, whole, dark) in [(32.0, 30.0, None), (24.0, 10.0, None), (36.0, 40.0, None)] {
        let text = KIT.replace("mount = \"m\"\n[[lens]]", &format!("mount = \"m\"\nthroat_mm = {throat}\n[[lens]]"));
        let report = look(&text, "body,lens", Focus::Infinity);
        assert_eq!(report.limited_by, "lens");
        assert_close!(report.lit_whole_mm.unwrap(), whole, relative = 1e-9);
        let cut = report.warnings.iter().find_map(|warning| match warning {
            Warning::CornersCut { part, from_mm, dark_mm, corner_mm } => {
                Some((part.clone(), *from_mm, *dark_mm, *corner_mm))
            }
            _ => None,
        });
        let corner = 28.0 * 2f64.sqrt();
        if whole < corner {
            let (part, from_mm, dark_mm, corner_mm) = cut.unwrap();
            assert_eq!((part.as_str(), dark_mm), ("the body's mount throat", dark));
            assert_close!(from_mm, whole, relative = 1e-9);
            assert_close!(corner_mm, corner, relative = 1e-9);
            let words = warned(&report).join("\n");
            assert!(
                words.contains(&format!("from {whole:.0} mm off the centre")) && words.contains("40 mm"),
                "{words}"
            );
        } else {
            assert_eq!(cut, None);
        }
    }
}

#[test]
fn a_long_narrow_tube_leaves_the_corners_dark() {
    // 20 mm wide and 40 mm long, the lens 140 mm before the film at m = 0.4. The iris cone on the axis is 12.5/140
    // high; the tube's outer end at 120 mm is met at 10.7 mm: more than its 10 mm, so the tube limits: Ne = 120/20 = 6.
    let text = KIT.replace("length_mm = 40\n[[teleconverter]]", "length_mm = 40\nclear_mm = 20\n[[teleconverter]]");
    let report = look(&text, "body,tube,lens", Focus::Infinity);
    assert_eq!(report.limited_by, "tube");
    assert_close!(value(&report, EffectiveFNumber), 6.0, relative = 1e-12);
    // Rays through the tube's outer edge y at 120 mm reach the inner end (80 mm) at h/3 + 2y/3 and the iris at −h/6 +
    // 7y/6: with y = ±10 the inner end (10 mm) is met at h = 10, the iris (12.5 mm) at h = 5, and nothing passes both
    // ends beyond h = 50.
    assert_close!(report.lit_whole_mm.unwrap(), 5.0, relative = 1e-9);
    let words = warned(&report).join("\n");
    assert!(words.contains("\"lens\" cuts into the corners: from 5.0 mm off the centre"), "{words}");
    // Narrower yet: 8 mm wide. Outer end y = ±4: the inner end is met from h = 4 on, and nothing arrives beyond 3(4 +
    // 8/3) = 20.
    let text = text.replace("clear_mm = 20\n[[teleconverter]]", "clear_mm = 8\n[[teleconverter]]");
    let report = look(&text, "body,tube,lens", Focus::Infinity);
    assert_close!(report.lit_whole_mm.unwrap(), 4.0, relative = 1e-9);
    let words = warned(&report).join("\n");
    assert!(words.contains("\"tube\" cuts") && words.contains("beyond 20 mm nothing arrives"), "{words}");
}

#[test]
fn the_image_circle_grows_with_the_extension_and_with_a_converter() {
    let circle = |text: &str, parts: &str| look(text, parts, Focus::Infinity).image_circle_mm.unwrap();
    assert_close!(circle(KIT, "body,lens"), 70.0, relative = 1e-12);
    // 1 + m/P.
    assert_close!(circle(KIT, "body,tube,lens"), 70.0 * 1.4, relative = 1e-12);
    let telephoto = KIT.replace("pupil_ratio = 1", "pupil_ratio = 0.8");
    assert_close!(circle(&telephoto, "body,tube,lens"), 70.0 * 1.5, relative = 1e-12);
    // Twice as large behind a converter of 2.
    assert_close!(circle(KIT, "body,converter,lens"), 140.0, relative = 1e-12);
    assert_close!(circle(KIT, "body,converter,tube,lens"), 140.0 * 1.4, relative = 1e-12);
    let small = |parts: &str| warned(&look(KIT, parts, Focus::Infinity)).iter().any(|w| w.contains("image circle"));
    assert!(small("body,lens") && !small("body,tube,lens") && !small("body,converter,lens"));
    // Nothing is known of a lens turned round.
    let turned = look(KIT, "body,tube,free=40,lens=reversed", Focus::Infinity);
    assert_eq!(turned.image_circle_mm, None);
    assert!(value(&turned, Magnification) > 0.0);
}
