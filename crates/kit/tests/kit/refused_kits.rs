//! Kits that cannot be right: nothing of them is taken, and one sentence says where it is wrong and what to do.

use crate::common::is_one_sentence;
use kit::{Kind, Kit};

/// The sentence with which a kit is refused.
fn refusal(text: &str) -> String {
    let Err(error) = Kit::parse(text) else { panic!("taken: {text}") };
    let words = error.to_string();
    assert!(is_one_sentence(&words), "{words}");
    words
}

fn assert_says(text: &str, needles: &[&str]) {
    let words = refusal(text);
    for needle in needles {
        assert!(words.contains(needle), "\"{needle}\" is not in: {words}\n{text}");
    }
}

/// A tube from line 2 on whose length is that text, on line 5.
fn tube(length: &str) -> String {
    format!("\n[[tube]]\nid = \"t\"\nmount = \"m\"\nlength_mm = {length}\n")
}

#[test]
fn numbers_that_cannot_be() {
    let table: [(&str, &[&str]); 16] = [
        ("-21", &["above 0", "-21", "millimetres"]),
        ("0", &["above 0", "not 0"]),
        ("\"21\"", &["must be a number", "the text \"21\"", "without quotes"]),
        ("true", &["must be a number", "true"]),
        ("[21]", &["must be a number", "a list"]),
        ("nan", &["above 0"]),
        ("inf", &["above 0", "inf"]),
        ("-inf", &["above 0", "-inf"]),
        ("2021-03-04", &["must be a number", "a date"]),
        ("{ value = 21, plus_minus = -1 }", &["plus_minus", "0 or more", "-1"]),
        ("{ value = 21, plus_minus = nan }", &["plus_minus", "0 or more"]),
        ("{ value = 21, plus_minus = inf }", &["plus_minus", "0 or more", "inf"]),
        ("{ value = 21, plus_minus = \"1\" }", &["the text \"1\"", "plus_minus = 1.5"]),
        ("{ value = -21, plus_minus = 1 }", &["above 0", "-21"]),
        ("{ plus_minus = 1 }", &["without \"value\""]),
        ("{ value = 21, minus = 1 }", &["\"minus\"", "plus_minus = 1.5"]),
    ];
    for (length, needles) in table {
        assert_says(&tube(length), &[&["line 5", "tube \"t\"", "length_mm"], needles].concat());
    }
    assert_says(&tube("1e999"), &["line 5"]);
}

#[test]
fn lists_words_and_choices_that_cannot_be() {
    let body = |line: &str| format!("[[body]]\nid = \"b\"\nregister_mm = 80\nmount = \"m\"\n{line}\n");
    let lens = |line: &str| {
        format!(
            "[[lens]]\nid = \"l\"\nmount = \"m\"\nfocal_length_mm = 90\nmax_aperture = 2.8\nlength_mm = 68\n{line}\n"
        )
    };
    let good_frame = "frame_mm = [56, 56]\n";
    let table: [(String, &[&str]); 18] = [
        (body("frame_mm = 56"), &["line 5", "frame_mm", "two numbers", "square brackets"]),
        (body("frame_mm = [56]"), &["line 5", "frame_mm", "two numbers", "1 of them"]),
        (body("frame_mm = [56, 56, 56]"), &["line 5", "frame_mm", "two numbers", "3 of them"]),
        (body("frame_mm = [56, \"56\"]"), &["line 5", "frame_mm", "must be a number", "the text \"56\""]),
        (body("frame_mm = [56, -56]"), &["line 5", "frame_mm", "above 0", "-56"]),
        (body(&format!("{good_frame}shutter_s = []")), &["line 6", "shutter_s", "empty list", "[1, 0.5, 0.25]"]),
        (body(&format!("{good_frame}shutter_s = [1, 0]")), &["line 6", "shutter_s", "above 0", "seconds"]),
        (body(&format!("{good_frame}bulb = \"yes\"")), &["line 6", "bulb", "true or false"]),
        (body(&format!("{good_frame}name = 3")), &["line 6", "name", "words in quotes", "not 3"]),
        (body(&format!("{good_frame}price = -1")), &["line 6", "price", "0 or more", "-1"]),
        (lens("min_aperture = 2"), &["line 7", "min_aperture", "2.8", "largest f-number"]),
        (lens("max_apperture = 2"), &["line 7", "max_apperture is no field of a lens", "max_aperture"]),
        (lens("weather = \"dry\""), &["line 7", "weather is no field of a lens", "remove it"]),
        (lens("focusing = \"front\""), &["line 7", "focusing", "\"unit\" or \"internal\"", "\"front\""]),
        (lens("iris = true"), &["line 7", "iris", "words in quotes"]),
        (lens("pupil_ratio = 0"), &["line 7", "pupil_ratio", "above 0"]),
        (lens("principal_separation_mm = nan"), &["line 7", "principal_separation_mm", "finite"]),
        (lens("focal_length_mm = 100"), &["line 7", "focal_length_mm"]),
    ];
    for (text, needles) in table {
        assert_says(&text, needles);
    }
    let short = "[[bellows]]\nid = \"w\"\nmount = \"m\"\ndraw_mm = 140\n";
    assert_says(short, &["line 4", "draw_mm", "for example [35, 140]"]);
    let bellows = "[[bellows]]\nid = \"w\"\nmount = \"m\"\ndraw_mm = [140, 35]\n";
    assert_says(bellows, &["line 4", "bellows \"w\"", "draw_mm", "140 to 35", "shorter figure first"]);
    let converter = "[[teleconverter]]\nid = \"k\"\nmount = \"m\"\nlength_mm = 40\nfactor = 1\n";
    assert_says(converter, &["line 5", "teleconverter \"k\"", "factor", "above 1", "not 1"]);
}

#[test]
fn ids_that_cannot_be() {
    let with = |id: &str| format!("[[tube]]\nid = {id}\nmount = \"m\"\nlength_mm = 21\n");
    for id in ["\"Tube\"", "\"tube 21\"", "\"tube_21\"", "\"\"", "\"tübe\"", "\"tube=21\"", "\"a,b\""] {
        assert_says(&with(id), &["line 2", "lower-case letters, digits and dashes", "tube-21"]);
    }
    assert_says(&with("\"\""), &["line 2", "the id is empty"]);
    assert_says(&with("21"), &["line 2", "id", "words in quotes", "not 21"]);
    assert_says("[[tube]]\nmount = \"m\"\nlength_mm = 21\n", &["line 1", "tube", "id is missing"]);
    // Foreign words are shown in part and on one line.
    assert_says(&with("\"\"\"two\nlines\"\"\""), &["line 2", "\"two lines\" cannot be an id"]);
    assert_says(&with(&format!("\"{}\"", "X".repeat(500))), &["line 2", "X…\" cannot be an id"]);
    let twice = with("\"t\"")
        + "[[lens]]\nid = \"t\"\nmount = \"m\"\nfocal_length_mm = 90\nmax_aperture = 2.8\nlength_mm = 68\n";
    assert_says(&twice, &["line 5", "\"t\" is taken", "line 1", "an id of its own"]);
}

#[test]
fn tables_that_cannot_be() {
    let kinds = "[[close_up_lens]]";
    assert_says("[[flash]]\nid = \"f\"\n", &["line 1", "\"flash\" is no kind of part", kinds]);
    assert_says("\n\n[[lenses]]\nid = \"f\"\n", &["line 3", "\"lenses\" is no kind of part", kinds]);
    assert_says("title = \"my kit\"\n", &["line 1", "\"title\" is no kind of part"]);
    assert_says("\n[tube]\nid = \"t\"\nmount = \"m\"\nlength_mm = 21\n", &["line 2", "[[tube]]"]);
    assert_says("tube = 3\n", &["line 1", "[[tube]]"]);
    assert_says("tube = [3]\n", &["line 1", "[[tube]]"]);
}

#[test]
fn texts_that_are_not_toml() {
    let table = [
        ("[[tube]\nid = \"t\"\n", "line 1"),
        ("[[tube]]\nid = t\n", "line 2"),
        ("[[tube]]\nid = \"t\nmount = \"m\"\n", "line 2"),
        ("[[tube]]\nid = \"t\"\nlength_mm = 21 mm\n", "line 3"),
        ("[[tube]]\nid = \"t\"\nlength_mm = 21,5\n", "line 3"),
        ("[[tube]]\nid = \"t\"\nid = \"u\"\n", "line 3"),
        ("dear diary\n", "line 1"),
        ("{ \"tube\": [] }\n", "line 1"),
        ("\u{0}\u{1}\n", "line 1"),
    ];
    for (text, line) in table {
        assert_says(text, &[line, "not valid TOML"]);
    }
}

/// What every kind must have besides its id, as the kit file is documented.
fn required(kind: Kind) -> &'static [(&'static str, &'static str)] {
    match kind {
        Kind::Body => &[("frame_mm", "[56, 56]"), ("register_mm", "80"), ("mount", "\"m\"")],
        Kind::Lens => &[("mount", "\"m\""), ("focal_length_mm", "90"), ("max_aperture", "2.8"), ("length_mm", "68")],
        Kind::Tube => &[("mount", "\"m\""), ("length_mm", "21")],
        Kind::Bellows => &[("mount", "\"m\""), ("draw_mm", "[35, 140]")],
        Kind::CloseUpLens => &[("power_dpt", "2"), ("thread_mm", "58")],
        Kind::ReversingRing => &[("mount", "\"m\""), ("thread_mm", "58")],
        Kind::CouplingRing => &[("threads_mm", "[58, 52]")],
        Kind::StepRing => &[("from_mm", "52"), ("to_mm", "58")],
        Kind::Teleconverter => &[("mount", "\"m\""), ("factor", "2"), ("length_mm", "40")],
        Kind::Adapter => &[("lens_mount", "\"a\""), ("body_mount", "\"b\""), ("length_mm", "12")],
        Kind::Film => &[],
        Kind::LensTable => &[("surfaces", "\"50 2 1.5\\n-50\"")],
    }
}

#[test]
fn exactly_the_documented_fields_are_required() {
    for kind in Kind::ALL {
        let fields = required(kind);
        let written = |fields: &[(&str, &str)]| {
            let lines: String = fields.iter().map(|(name, value)| format!("{name} = {value}\n")).collect();
            format!("# a kit\n[[{}]]\nid = \"x\"\n{lines}", kind.spec().table)
        };
        assert!(Kit::parse(&written(fields)).is_ok(), "{kind:?} needs more than is documented");
        for left_out in fields {
            let rest: Vec<_> = fields.iter().filter(|field| *field != left_out).copied().collect();
            assert_says(&written(&rest), &["line 2", "\"x\"", left_out.0, "is missing", "add it"]);
        }
    }
}

#[test]
fn every_part_may_carry_a_price() {
    for kind in Kind::ALL {
        let lines: String = required(kind).iter().map(|(name, value)| format!("{name} = {value}\n")).collect();
        let more = "price = 120\ncurrency = \"EUR\"\nname = \"mine\"\nnotes = \"scratched\"\n";
        let kit = Kit::parse(&format!("[[{}]]\nid = \"x\"\n{lines}{more}", kind.spec().table)).unwrap();
        assert_eq!(kit.parts()[0].number("price"), Some(120.0));
        assert_eq!(kit.parts()[0].name(), "mine");
    }
}

#[test]
fn nothing_is_taken_of_a_kit_with_one_mistake() {
    let text = crate::common::EXAMPLE.replace("length_mm = 40", "length_mm = 40\nlenght_mm = 41");
    assert_says(&text, &["teleconverter \"converter-2x\"", "lenght_mm", "did you mean length_mm"]);
}
