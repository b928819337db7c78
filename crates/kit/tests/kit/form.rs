//! A part typed into a form.

use kit::{Kind, Part, Quantity, Value};

fn typed<'a>(fields: &'a [(&'a str, &'a str)]) -> impl Fn(&str) -> Option<String> + 'a {
    move |field| fields.iter().find(|(name, _)| *name == field).map(|(_, text)| (*text).to_string())
}

fn with(value: f64, plus_minus: Option<f64>) -> Quantity {
    Quantity { value, plus_minus }
}

#[test]
fn numbers_as_people_type_them() {
    let table = [
        ("21", with(21.0, None)),
        (" 21.5 ", with(21.5, None)),
        ("21,5", with(21.5, None)),
        ("21 ± 0.5", with(21.0, Some(0.5))),
        ("21±0.5", with(21.0, Some(0.5))),
        ("21 +- 0,5", with(21.0, Some(0.5))),
    ];
    for (text, quantity) in table {
        let part = Part::from_form(Kind::Tube, "t", typed(&[("mount", "m"), ("length_mm", text)])).unwrap();
        assert_eq!(part.value("length_mm"), Some(&Value::Number(quantity)), "{text}");
    }
}

#[test]
fn lists_as_people_type_them() {
    let frame = |text| {
        let fields = [("frame_mm", text), ("register_mm", "80"), ("mount", "m")];
        Part::from_form(Kind::Body, "b", typed(&fields)).unwrap().value("frame_mm").cloned()
    };
    let (plain, unsure) = (with(56.0, None), with(56.0, Some(0.5)));
    let table = [
        ("56, 41.5", [plain, with(41.5, None)]),
        ("56 x 41.5", [plain, with(41.5, None)]),
        ("56×41.5", [plain, with(41.5, None)]),
        ("56 41.5", [plain, with(41.5, None)]),
        ("56 ± 0.5, 56 ± 0.5", [unsure, unsure]),
        ("56±0.5 × 56", [unsure, plain]),
        ("56 +- 0.5; 56", [unsure, plain]),
        ("[56, 41.5]", [plain, with(41.5, None)]),
        ("[56,41.5]", [plain, with(41.5, None)]),
        ("56,56", [plain, plain]),
        ("56 , 41.5", [plain, with(41.5, None)]),
        ("56,5 × 41,5", [with(56.5, None), with(41.5, None)]),
        ("56,5x41,5", [with(56.5, None), with(41.5, None)]),
        ("56.5x41.5", [with(56.5, None), with(41.5, None)]),
        ("56,5; 41,5", [with(56.5, None), with(41.5, None)]),
        ("56,5 41,5", [with(56.5, None), with(41.5, None)]),
        ("56±0,5 × 56", [unsure, plain]),
        ("56x41.5 mm", [plain, with(41.5, None)]),
        ("56 mm × 41,5 mm", [plain, with(41.5, None)]),
        ("56mmx41.5mm", [plain, with(41.5, None)]),
        ("56 * 41.5", [plain, with(41.5, None)]),
        ("56X41.5", [plain, with(41.5, None)]),
        ("56 ± 0.5 mm × 56 mm", [unsure, plain]),
    ];
    for (text, expected) in table {
        assert_eq!(frame(text), Some(Value::Numbers(expected.to_vec())), "{text}");
    }
    // Another unit is none of the field's.
    for text in ["2.2x1.6 in", "5.6 cm x 4.2 cm", "mm x mm", "56x41.5 mmm"] {
        let fields = [("frame_mm", text), ("register_mm", "80"), ("mount", "m")];
        assert!(Part::from_form(Kind::Body, "b", typed(&fields)).is_err(), "{text}");
    }
}

#[test]
fn shutter_speeds_are_fractions() {
    let fields =
        [("frame_mm", "56 56"), ("register_mm", "80"), ("mount", "m"), ("shutter_s", "1, 1/2, 1/125"), ("bulb", "on")];
    let body = Part::from_form(Kind::Body, "b", typed(&fields)).unwrap();
    assert_eq!(body.numbers("shutter_s"), [1.0, 0.5, 1.0 / 125.0]);
    for text in ["1,1/2,1/125", "1; 1/2; 1/125", "1 1/2 1/125", "[1, 1/2,1/125]"] {
        let fields = [("frame_mm", "56 56"), ("register_mm", "80"), ("mount", "m"), ("shutter_s", text)];
        assert_eq!(
            Part::from_form(Kind::Body, "b", typed(&fields)).unwrap().numbers("shutter_s"),
            [1.0, 0.5, 1.0 / 125.0]
        );
    }
    assert!(body.flag("bulb"));
}

#[test]
fn all_that_is_wrong_is_said_at_once() {
    let fields = [("mount", ""), ("length_mm", "-3")];
    let errors = Part::from_form(Kind::Tube, "Tube 21", typed(&fields)).unwrap_err();
    let mut blamed: Vec<_> = errors.iter().filter_map(|error| error.place.field.clone()).collect();
    blamed.sort();
    assert_eq!(blamed, ["id", "length_mm", "mount"]);
    for text in ["", "abc", "1/0", "nan", "inf", "21 ± -1", "21 ±", "1 2"] {
        let errors = Part::from_form(Kind::Tube, "t", typed(&[("mount", "m"), ("length_mm", text)])).unwrap_err();
        assert_eq!(errors.len(), 1, "{text}");
    }
}

/// What a form says behind the label of the one field that is wrong.
fn said(kind: Kind, id: &str, fields: &[(&str, &str)]) -> String {
    let errors = Part::from_form(kind, id, typed(fields)).unwrap_err();
    assert_eq!(errors.len(), 1, "{errors:?}");
    errors[0].problem.in_form()
}

#[test]
fn a_form_speaks_of_forms() {
    let tube = |length| said(Kind::Tube, "t", &[("mount", "m"), ("length_mm", length)]);
    let body = |field: (&'static str, &'static str)| {
        let others = [("frame_mm", "56 56"), ("register_mm", "80"), ("mount", "m")];
        let fields: Vec<_> = [field].into_iter().chain(others.into_iter().filter(|other| other.0 != field.0)).collect();
        said(Kind::Body, "b", &fields)
    };
    let table = [
        (tube(""), "is missing"),
        (tube("long"), "must be a number in millimetres, not \"long\"; for example 90"),
        (tube("-3"), "must be above 0, not -3"),
        (tube("21 ± -1"), "must be 0 or more after the ±, not -1"),
        (body(("frame_mm", "56")), "must be two numbers, not 1 of them; for example 56, 56"),
        (body(("shutter_s", ",")), "must be a list of numbers, not an empty list; for example 1, 0.5, 0.25"),
        (body(("shutter_s", "2, 1,5")), "must be a number in seconds, not \"1,5\"; for example 1, 0.5, 0.25"),
        (body(("bulb", "maybe")), "must be yes or no, not \"maybe\""),
        (
            said(Kind::Bellows, "w", &[("mount", "m"), ("draw_mm", "140, 35")]),
            "goes from 140 to 35; write the shorter figure first",
        ),
        (
            said(Kind::Tube, "", &[("mount", "m"), ("length_mm", "21")]),
            "is missing; give it a short name in lower-case letters, for example tube-21",
        ),
        (
            said(Kind::Tube, "тубус", &[("mount", "m"), ("length_mm", "21")]),
            "may hold only lower-case letters a to z, digits and dashes, for example tube-21",
        ),
    ];
    for (found, expected) in table {
        assert_eq!(found, expected);
        assert!(!found.contains('[') && !found.contains("quotes"), "{found}");
    }
    let lens = [("mount", "m"), ("focal_length_mm", "90"), ("max_aperture", "2.8"), ("length_mm", "68")];
    let with = |field| said(Kind::Lens, "l", &[&lens[..], &[field]].concat());
    assert_eq!(with(("focusing", "front")), "must be unit or internal, not front");
    assert!(with(("min_aperture", "2")).starts_with("is 2, wider than the widest f-number 2.8"));
}
