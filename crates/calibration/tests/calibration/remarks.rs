//! What a result says about itself.

use crate::common::{LENS, SKILL, Truth, exact, input, plans, take};
use calibration::{Focused, Frame, Options, Remark, Unknown, Wanted, calibrate_lens};
use testkit::assert_close;

fn remarks(frames: &[Frame], options: &Options) -> Vec<Remark> {
    calibrate_lens(frames, options).unwrap().remarks
}

#[test]
fn as_many_unknowns_as_readings() {
    let frame = Frame::new("A", input(40.0, 0.1), input(0.5, 0.001));
    assert_eq!(remarks(&[frame], &Options::default()), [Remark::ExactlyDetermined]);
}

#[test]
fn one_extension() {
    let frames = ["A", "B", "C"].map(|id| Frame::on(id, [("tube", input(40.0, 0.1))], input(0.5, 0.001)));
    assert_eq!(remarks(&frames, &Options::default()), [Remark::OneExtension { extension_mm: 40.0 }]);
}

#[test]
fn extensions_too_close_together() {
    let closest =
        |id, e: f64| Frame::new(id, input(e, 0.05), input((e + 8.0) / 80.0, 0.001)).focused(Focused::AtClosestMark);
    let found = remarks(&[closest("A", 20.0), closest("B", 23.0), closest("C", 21.0)], &Options::default());
    let [Remark::ExtensionsTooClose { span_mm, share }] = found[..] else { panic!("{found:?}") };
    assert_close!(span_mm, 3.0, absolute = 1e-12);
    // Three frames over 3 mm: u(f)/f ≈ u(m)·f/√(Σ(e − ē)²) = 0.08/2.16, with the lengths' own 0.05 a little more; ±2 u.
    assert_close!(share, 1.96 * 0.094 / 2.16, relative = 0.02);
    assert_eq!(remarks(&[closest("A", 20.0), closest("B", 60.0), closest("C", 40.0)], &Options::default()), []);
}

#[test]
fn rough_readings() {
    let frames = [20.0, 40.0].map(|e| Frame::new(format!("{e}"), exact(e), input(e / 80.0, 0.05 * e / 80.0)));
    let found = remarks(&frames, &Options::default());
    assert!(matches!(found[..], [Remark::LittleBetterThanEngraved { share }] if share > 0.04), "{found:?}");
}

#[test]
fn a_likely_offset_of_the_infinity_mark() {
    let frames = take(Truth { zero: 0.9, ..LENS }, &plans(), SKILL, None);
    let found = remarks(&frames, &Options::default());
    let offset = found.iter().find_map(|remark| match remark {
        Remark::ZeroOffsetLikely { offset, focal_length } => Some((*offset, *focal_length)),
        _ => None,
    });
    let (offset, focal_length) = offset.unwrap_or_else(|| panic!("{found:?}"));
    assert_close!(offset.value, 0.9, absolute = 1e-6);
    assert_close!(focal_length.value, LENS.focal_length, relative = 1e-8);
    let fitted = Options { fit_zero: true, ..Options::default() };
    assert_eq!(remarks(&frames, &fitted), []);
}

#[test]
fn an_offset_that_cannot_be_told() {
    let frames = ["A", "B"].map(|id| Frame::on(id, [("tube", input(40.0, 0.1))], input(0.5, 0.001)));
    let options = Options { fit_zero: true, ..Options::default() };
    let lens = calibrate_lens(&frames, &options).unwrap();
    assert_eq!(lens.zero, None);
    let wanted = Wanted::AnotherExtension;
    assert_eq!(lens.remarks, [Remark::ZeroNotTold { wanted }, Remark::OneExtension { extension_mm: 40.0 }]);
    // At the closest mark only the sum of offset and travel counts, at whatever extensions.
    let closest = [20.0, 40.0, 60.0].map(|e| {
        Frame::new(format!("{e}"), input(e, 0.1), input((e + 8.0) / 80.0, 0.001)).focused(Focused::AtClosestMark)
    });
    let wanted = Wanted::InfinityMarkOnExtension;
    assert_eq!(remarks(&closest, &options), [Remark::ZeroNotTold { wanted }]);
}

#[test]
fn an_engraving_outside() {
    let frames = take(LENS, &plans(), SKILL, None);
    for use_marked in [false, true] {
        let marked = |value| Options { marked: Some(input(value, 1.0)), use_marked, ..Options::default() };
        assert!(!remarks(&frames, &marked(80.0)).iter().any(|remark| matches!(remark, Remark::MarkedOutside { .. })));
        let found = remarks(&frames, &marked(75.0));
        let measured = found.iter().find_map(|remark| match remark {
            Remark::MarkedOutside { measured, .. } => Some(*measured),
            _ => None,
        });
        // What the frames say without the engraving, even where it has a part in the fit.
        assert_close!(measured.unwrap().value, LENS.focal_length, relative = 1e-8);
    }
}

#[test]
fn a_closest_mark_behind_infinity() {
    let tube = [("tube", input(40.0, 0.1))];
    let frames = [
        Frame::on("A", tube, input(0.5, 0.001)),
        Frame::on("B", tube, input(0.45, 0.001)).focused(Focused::AtClosestMark),
    ];
    let lens = calibrate_lens(&frames, &Options::default()).unwrap();
    assert_close!(lens.solution.estimate(&Unknown::Travel).unwrap().value, -4.0, relative = 1e-9);
    assert!(lens.remarks.iter().any(|remark| matches!(remark, Remark::TravelNegative { .. })));
}

#[test]
fn remarks_are_sentences_with_figures() {
    let measured = optics::Estimate { value: 81.346, plus_minus: 0.214 };
    let marked = optics::Estimate { value: 75.0, plus_minus: 3.0 };
    assert_eq!(
        Remark::MarkedOutside { measured, marked }.to_string(),
        "the engraved focal length of 75 ± 3 mm and the measured one of 81.3 ± 0.2 mm differ by more than both allow"
    );
    let remark = Remark::LostWithOutliers { unknown: Unknown::Separation };
    assert_eq!(remark.to_string(), "without the outliers no frame tells the principal separation");
}
