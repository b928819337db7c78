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
    ];
    for (text, expected) in table {
        assert_eq!(frame(text), Some(Value::Numbers(expected.to_vec())), "{text}");
    }
}

#[test]
fn shutter_speeds_are_fractions() {
    let fields =
        [("frame_mm", "56 56"), ("register_mm", "80"), ("mount", "m"), ("shutter_s", "1, 1/2, 1/125"), ("bulb", "on")];
    let body = Part::from_form(Kind::Body, "b", typed(&fields)).unwrap();
    assert_eq!(body.numbers("shutter_s"), [1.0, 0.5, 1.0 / 125.0]);
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
