//! Stacks and figures of the newer kinds that cannot be: each is refused by name, in one sentence.

use crate::common::{is_one_sentence, look, read, report_of, request, value, warned};
use kit::{Focus, Kit};
use optics::Figure;
use testkit::assert_close;

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
max_magnification = 0.2
thread_mm = 52
[[lens]]
id = "second"
mount = "m"
focal_length_mm = 50
max_aperture = 2
pupil_ratio = 1
length_mm = 40
principal_separation_mm = 0
thread_mm = 52
[[lens]]
id = "third"
mount = "m"
focal_length_mm = 50
max_aperture = 2
length_mm = 40
thread_mm = 52
[[lens]]
id = "wide-rim"
mount = "m"
focal_length_mm = 90
max_aperture = 4
length_mm = 40
thread_mm = 58
[[tube]]
id = "tube"
mount = "m"
length_mm = 30
[[teleconverter]]
id = "converter"
mount = "m"
factor = 2
length_mm = 40
[[reversing_ring]]
id = "ring"
mount = "m"
thread_mm = 52
[[coupling_ring]]
id = "couple"
threads_mm = [52, 52]
[[coupling_ring]]
id = "couple-2"
threads_mm = [52, 52]
[[step_ring]]
id = "up"
from_mm = 52
to_mm = 58
[[close_up_lens]]
id = "two"
power_dpt = 2
thread_mm = 52
[[adapter]]
id = "there"
body_mount = "m"
lens_mount = "n"
length_mm = 5
[[adapter]]
id = "back"
body_mount = "n"
lens_mount = "m"
length_mm = 5
"#;

fn refused(text: &str, parts: &str) -> String {
    let words = match report_of(&read(text), &request(parts, Focus::Infinity)) {
        Ok(_) => panic!("taken: {parts}"),
        Err(error) => error.to_string(),
    };
    assert!(is_one_sentence(&words), "{words}");
    words
}

#[test]
fn stacks_that_cannot_be() {
    let table: [(&str, &[&str]); 22] = [
        ("body,ring", &["no lens"]),
        ("body,free=30", &["no lens"]),
        ("body,lens,couple", &["nothing follows coupling ring \"couple\"", "leave it out"]),
        ("body,lens,up", &["nothing follows step ring \"up\"", "leave it out"]),
        ("body,lens,free=30", &["nothing follows free distance", "leave it out"]),
        ("body,lens,free=30,free=20,two", &["free distance \"free\" cannot follow free distance"]),
        ("body,lens,second", &["lens \"second\" cannot follow lens \"lens\"", "coupling ring"]),
        ("body,lens,couple,second,third", &["lens \"third\" cannot follow lens \"second\""]),
        ("body,lens,couple,second,couple-2,third", &["coupling ring \"couple-2\" cannot follow lens \"second\""]),
        ("body,lens,couple,second,two", &["\"two\"", "\"second\", which is reversed"]),
        (
            "body,lens,couple,wide-rim",
            &["\"couple\" and \"wide-rim\"", "52 mm thread meets a 58 mm thread", "step ring"],
        ),
        ("body,wide-rim,up,two", &["\"wide-rim\" and \"up\"", "58 mm thread meets a 52 mm thread"]),
        ("body,ring,up,lens", &["\"ring\" and \"up\"", "52 mm thread meets a 58 mm thread"]),
        ("body,lens=reversed", &["\"lens\" cannot be reversed behind body \"body\"", "reversing ring", "free=MM"]),
        ("body,tube,lens=reversed", &["cannot be reversed behind tube \"tube\""]),
        ("body,tube=reversed,lens", &["\"tube\" has no draw"]),
        ("body,lens,converter", &["teleconverter \"converter\" cannot follow lens \"lens\""]),
        ("body,there,lens", &["\"there\" and \"lens\"", "mount \"n\" meets mount \"m\"", "adapter"]),
        ("body,there,back,lens", &["\"back\" leads back to mount \"m\"", "leave out"]),
        ("body,free=,lens", &["\"free=\" is no free distance", "free=MM"]),
        ("body,free=-3,lens", &["\"free=-3\" is no free distance", "from 0 to 2000"]),
        ("body,free=nan,lens", &["\"free=nan\" is no free distance"]),
    ];
    for (parts, needles) in table {
        let words = refused(KIT, parts);
        for needle in needles {
            assert!(words.contains(needle), "\"{needle}\" is not in: {words} ({parts})");
        }
    }
}

#[test]
fn files_that_cannot_be() {
    let said = |text: &str| Kit::parse(text).expect_err(text).to_string();
    let converter =
        |factor: &str| format!("[[teleconverter]]\nid = \"k\"\nmount = \"m\"\nlength_mm = 40\nfactor = {factor}\n");
    for factor in ["1", "0.7", "-2", "nan", "{ value = 1, plus_minus = 0.5 }"] {
        let words = said(&converter(factor));
        assert!(words.contains("line 5") && words.contains("above 1"), "{words}");
    }
    let adapter = "[[adapter]]\nid = \"a\"\nbody_mount = \"m\"\nlens_mount = \"m\"\nlength_mm = 4\n";
    let words = said(adapter);
    assert!(
        words.contains("line 4") && words.contains("mount \"m\" to itself") && words.contains("[[tube]]"),
        "{words}"
    );
}

#[test]
fn figures_off_by_a_decimal_point_or_a_unit() {
    let body = |register: &str| {
        format!("[[body]]\nid = \"b\"\nmount = \"m\"\nframe_mm = [56, 56]\nregister_mm = {register}\n")
    };
    let lens = |field: &str| format!("[[lens]]\nid = \"l\"\nmount = \"m\"\nmax_aperture = 4\n{field}\n");
    let table = [
        (body("9"), "register_mm", "9 mm", "was 90 meant"),
        (body("900"), "register_mm", "900 mm", "was 90 meant"),
        (body("0.08"), "register_mm", "0.08 mm", "was 80 meant"),
        (
            lens("length_mm = 50\nfocal_length_mm = 100\nclose_focus_mm = 0.9"),
            "close_focus_mm",
            "0.9 mm",
            "was 900 meant",
        ),
        (lens("length_mm = 50\nfocal_length_mm = 9000"), "focal_length_mm", "9000 mm", "was 900 meant"),
        (lens("length_mm = 50\nfocal_length_mm = 0.09"), "focal_length_mm", "0.09 mm", "was 90 meant"),
    ];
    for (text, field, found, meant) in table {
        let words = Kit::parse(&text).expect_err(&text).to_string();
        assert!(is_one_sentence(&words), "{words}");
        for needle in [field, found, meant, "decimal point", "plus_minus"] {
            assert!(words.contains(needle), "\"{needle}\" is not in: {words}");
        }
        // With an uncertainty of its own it is taken at its word.
        let figure = found.trim_end_matches(" mm");
        let stated = text.replace(
            &format!("{field} = {figure}\n"),
            &format!("{field} = {{ value = {figure}, plus_minus = 0.01 }}\n"),
        );
        assert_ne!(stated, text);
        assert!(Kit::parse(&stated).is_ok(), "{:?}", Kit::parse(&stated));
    }
}

#[test]
fn a_lens_too_near_the_film_is_told_to_move_away_from_it() {
    // Reversed, a lens of 300 mm hangs so far behind its rim that its principal plane would lie behind the film.
    let text = KIT
        .replace("focal_length_mm = 90\n", "focal_length_mm = 300\n")
        .replace("thread_mm = 58\n", "thread_mm = 52\n");
    let words = refused(&text, "body,ring,wide-rim");
    assert!(words.contains("too near the film") && !words.contains("away"), "{words}");
}

#[test]
fn an_afocal_train_is_named() {
    // Both at infinity and f + f apart, 150 mm: rim to H is 60 + 80 − 100 = 40 and 40 + 80 − 50 = 70, so 40 mm of ring.
    let text = KIT.replacen("threads_mm = [52, 52]", "threads_mm = [52, 52]\nthickness_mm = 40", 1);
    let report = look(&text, "body,lens,couple,second", Focus::Infinity);
    assert!(warned(&report).iter().any(|words| words.contains("afocal")), "{:?}", warned(&report));
    assert_close!(value(&report, Figure::Magnification), 2.0, relative = 1e-12);
    // Its magnification does not change with extension: 30 mm of tube bring the subject nearer and nothing else.
    let longer = look(&text, "body,tube,lens,couple,second", Focus::Infinity);
    assert_close!(value(&longer, Figure::Magnification), 2.0, relative = 1e-9);
    assert_close!(value(&longer, Figure::WorkingDistance), 80.0 - 30.0 / 4.0, relative = 1e-9);
    let usual = look(KIT, "body,lens,couple,second", Focus::Infinity);
    assert!(!warned(&usual).iter().any(|words| words.contains("afocal")), "{:?}", warned(&usual));
}

#[test]
fn marks_of_an_internally_focusing_lens_that_make_no_lens() {
    let with = |marks: &str| KIT.replacen("max_magnification = 0.2", &format!("focusing = \"internal\"\n{marks}"), 1);
    // 900/(2 + 1 + 1) = 225 mm can be; 2000/4 = 500 mm and 90/4 = 22.5 mm cannot.
    for marks in ["close_focus_mm = 2000\nmax_magnification = 1", "close_focus_mm = 90\nmax_magnification = 1"] {
        let words = refused(&with(marks), "body,lens");
        assert!(words.contains("imply a focal length") && words.contains("check both"), "{words}");
        let kit = read(&with(marks));
        let left_out = kit::reach(&kit, &kit::Demand::default()).unwrap().left_out.join("\n");
        assert!(left_out.contains("lens \"lens\"") && left_out.contains("imply a focal length"), "{left_out}");
    }
    // One mark alone does not tell.
    let kit = read(&with("max_magnification = 0.5"));
    let words = report_of(&kit, &request("body,lens", Focus::Closest)).unwrap_err().to_string();
    assert!(words.contains("focuses internally") && words.contains("close_focus_mm"), "{words}");
    let words = report_of(&kit, &request("body,lens", Focus::Travel(2.0))).unwrap_err().to_string();
    assert!(words.contains("no travel to set"), "{words}");
    assert!(report_of(&kit, &request("body,tube,lens", Focus::Infinity)).is_ok());
}
