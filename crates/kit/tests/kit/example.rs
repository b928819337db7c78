//! The documented example kit: it parses whole, and parts that are not computed yet are kept and refused by name.

use crate::common::{EXAMPLE, estimate, look, read, report_of, request, value};
use kit::{Focus, Kind, Kit};
use optics::Figure;
use testkit::assert_close;

#[test]
fn the_example_parses_whole() {
    let kit = read(EXAMPLE);
    let found: Vec<_> = kit.parts().iter().map(|part| (part.kind(), part.id())).collect();
    let expected = [
        (Kind::Body, "six-by-six"),
        (Kind::Lens, "standard-90"),
        (Kind::Tube, "tube-21"),
        (Kind::Bellows, "bellows-1"),
        (Kind::CloseUpLens, "close-up-2"),
        (Kind::ReversingRing, "reverse-58"),
        (Kind::CouplingRing, "couple-58-52"),
        (Kind::StepRing, "step-52-58"),
        (Kind::Teleconverter, "converter-2x"),
        (Kind::Adapter, "a-on-b"),
    ];
    assert_eq!(found, expected);
    let number = |id: &str, field| kit.part(id).unwrap().number(field);
    let stated = [
        ("six-by-six", "register_mm", 80.0),
        ("standard-90", "focal_length_mm", 90.0),
        ("standard-90", "min_aperture", 22.0),
        ("standard-90", "pupil_ratio", 0.92),
        ("standard-90", "close_focus_mm", 915.0),
        ("standard-90", "image_circle_mm", 82.0),
        ("close-up-2", "gap_mm", 3.0),
        ("reverse-58", "thickness_mm", 4.0),
        ("step-52-58", "to_mm", 58.0),
        ("converter-2x", "factor", 2.0),
        ("a-on-b", "length_mm", 12.0),
    ];
    for (id, field, stated) in stated {
        assert_eq!(number(id, field), Some(stated), "{id}.{field}");
    }
    assert_eq!(kit.part("six-by-six").unwrap().numbers("shutter_s"), [1.0, 0.5, 0.25, 0.125]);
    assert_eq!(kit.part("couple-58-52").unwrap().numbers("threads_mm"), [58.0, 52.0]);
    assert_eq!(kit.part("a-on-b").unwrap().words("body_mount"), Some("bayonet-b"));
}

#[test]
fn reading_writing_and_reading_again_gives_the_same_kit() {
    let kit = read(EXAMPLE);
    let written = kit.to_toml();
    assert_eq!(Kit::parse(&written).unwrap(), kit);
    assert_eq!(Kit::parse(&written).unwrap().to_toml(), written);
    for part in kit.parts() {
        assert_eq!(Kit::parse(&part.to_toml()).unwrap().parts(), std::slice::from_ref(part));
    }
}

#[test]
fn files_from_other_desks() {
    // Line ends of another system, and the mark that some editors put at the head of a file.
    let kit = read(EXAMPLE);
    assert_eq!(read(&EXAMPLE.replace('\n', "\r\n")), kit);
    assert_eq!(read(&format!("\u{feff}{EXAMPLE}")), kit);
}

#[test]
fn an_empty_kit_holds_nothing() {
    for text in ["", "\n\n", "# nothing yet\n"] {
        let kit = read(text);
        assert!(kit.parts().is_empty());
        assert_eq!(Kit::parse(&kit.to_toml()).unwrap(), kit);
        let error = report_of(&kit, &request("six-by-six", Focus::Infinity)).unwrap_err();
        assert!(error.to_string().contains("no part \"six-by-six\""), "{error}");
    }
}

#[test]
fn a_tube_and_a_close_up_lens_on_the_example() {
    // By hand: m0 = 21/90; H' at 111, H at 115, rim at 80 + 21 + 68 = 169, close-up lens at 172, 57 mm in front of H.
    // The lens wants its subject 90(1 + 90/21) from H.
    let report = look(EXAMPLE, "six-by-six,tube-21,standard-90,close-up-2", Focus::Infinity);
    let (m0, u) = (21.0 / 90.0, 90.0 * (1.0 + 90.0 / 21.0));
    let m = m0 * (1.0 + 0.002 * (u - 57.0));
    assert_close!(value(&report, Figure::Magnification), m, relative = 1e-12);
    assert_close!(value(&report, Figure::WorkingDistance), 1.0 / (0.002 + 1.0 / (u - 57.0)), relative = 1e-12);
    assert_close!(value(&report, Figure::EffectiveFNumber), 2.8 * (1.0 + m0 / 0.92), relative = 1e-12);
    assert_close!(value(&report, Figure::Extension), 21.0, relative = 1e-12);
    assert_close!(value(&report, Figure::FieldWidth), 56.0 / m, relative = 1e-12);
    assert_eq!(report.limited_by, "standard-90");
    assert_eq!(report.assumed, Vec::<String>::new(), "the example states everything");
}

#[test]
fn every_figure_has_a_spread_of_its_own() {
    let report = look(EXAMPLE, "six-by-six,tube-21,standard-90", Focus::Infinity);
    for figure in Figure::ALL {
        let estimate = estimate(&report, figure);
        assert!(estimate.plus_minus > 0.0, "{}", figure.label());
        assert!(estimate.plus_minus < estimate.value, "{}", figure.label());
    }
    // First order by hand: m = e/f, 4 % of f, and of the 21 mm the tube's 0.2 mm; the two registers are one and fall out.
    let m = estimate(&report, Figure::Magnification);
    assert_close!(m.plus_minus / m.value, f64::hypot(0.04, 0.2 / 21.0), relative = 1e-9);
}
