//! Set-ups that cannot be: one sentence names the part, what meets what, and the fix.

use crate::common::{BENCH, is_one_sentence, read, report_of, request};
use kit::{Focus, SetupRequest};

/// The bench kit with a body of another mount, a lens without a thread or marks, and a close-up lens of another thread.
fn drawer() -> String {
    BENCH.to_string()
        + r#"
[[body]]
id = "other-body"
frame_mm = [56, 56]
register_mm = 80
mount = "n"
[[lens]]
id = "plain"
mount = "m"
focal_length_mm = 80
max_aperture = 2.8
length_mm = 50
[[close_up_lens]]
id = "wide"
power_dpt = 1
thread_mm = 67
[[lens]]
id = "short"
mount = "m"
focal_length_mm = 35
max_aperture = 2.8
length_mm = 90
thread_mm = 52
[[lens]]
id = "wrong-marks"
mount = "m"
focal_length_mm = 90
max_aperture = 2.8
length_mm = 60
close_focus_mm = 300
"#
}

fn assert_refused(wanted: &SetupRequest, needles: &[&str]) {
    let words = match report_of(&read(&drawer()), wanted) {
        Ok(_) => panic!("taken: {wanted:?}"),
        Err(error) => error.to_string(),
    };
    assert!(is_one_sentence(&words), "{words}");
    for needle in needles {
        assert!(words.contains(needle), "\"{needle}\" is not in: {words} ({:?})", wanted.parts);
    }
}

#[test]
fn parts_that_are_not_there_or_not_in_order() {
    let table: [(&str, &[&str]); 17] = [
        ("", &["no parts", "from the body outwards"]),
        ("body", &["no lens", "add one"]),
        ("body,tube", &["no lens", "add one"]),
        ("lens", &["begins with a body", "lens \"lens\""]),
        ("lens,body", &["begins with a body", "lens \"lens\""]),
        ("tube,body,lens", &["begins with a body", "tube \"tube\""]),
        ("body,two,lens", &["close-up lens \"two\" cannot follow body \"body\"", "from the body outwards"]),
        ("body,lens,tube", &["tube \"tube\" cannot follow lens \"lens\""]),
        ("body,lens,ring", &["reversing ring \"ring\" cannot follow lens \"lens\""]),
        ("body,ring,tube,lens", &["tube \"tube\" cannot follow reversing ring \"ring\""]),
        ("body,ring,flat-ring,lens", &["reversing ring \"flat-ring\" cannot follow reversing ring \"ring\""]),
        ("body,lens,plain", &["lens \"plain\" cannot follow lens \"lens\""]),
        ("body,other-body,lens", &["body \"other-body\" cannot follow body \"body\""]),
        ("body,tube,tube,lens", &["\"tube\" is listed twice"]),
        ("body,ring,lens,two", &["\"two\"", "\"lens\"", "reversed", "leave one"]),
        ("body,lenz", &["no part \"lenz\"", "did you mean \"lens\""]),
        ("body,something-else", &["no part \"something-else\"", "check the id"]),
    ];
    for (parts, needles) in table {
        assert_refused(&request(parts, Focus::Infinity), needles);
    }
}

#[test]
fn mounts_and_threads_that_do_not_meet() {
    let table: [(&str, &[&str]); 6] = [
        ("other-body,lens", &["\"other-body\" and \"lens\"", "mount \"n\" meets mount \"m\"", "share a mount"]),
        ("other-body,tube,lens", &["\"other-body\" and \"tube\"", "mount \"n\" meets mount \"m\"", "share a mount"]),
        ("body,lens,wide", &["\"lens\" and \"wide\"", "a 52 mm thread meets a 67 mm thread", "share a thread"]),
        ("body,lens,two,wide", &["\"two\" and \"wide\"", "a 52 mm thread meets a 67 mm thread", "share a thread"]),
        ("body,plain,two", &["\"plain\" and \"two\"", "add thread_mm", "a 52 mm thread"]),
        ("body,ring,plain", &["\"ring\" and \"plain\"", "a 52 mm thread", "add thread_mm"]),
    ];
    for (parts, needles) in table {
        assert_refused(&request(parts, Focus::Infinity), needles);
    }
}

#[test]
fn settings_that_the_parts_do_not_have() {
    let table: [(&str, Focus, &[&str]); 16] = [
        ("body,bellows,lens", Focus::Infinity, &["bellows \"bellows\" needs its draw", "bellows=MM", "40 to 150"]),
        ("body,bellows=39.9,lens", Focus::Infinity, &["cannot be drawn to 39.9 mm", "40 to 150"]),
        ("body,bellows=150.1,lens", Focus::Infinity, &["cannot be drawn to 150.1 mm", "40 to 150"]),
        ("body,bellows=,lens", Focus::Infinity, &["bellows \"bellows\" needs its draw", "40 to 150"]),
        ("body,bellows=far,lens", Focus::Infinity, &["bellows \"bellows\"", "\"far\" is no draw", "bellows=40"]),
        ("body,bellows=nan,lens", Focus::Infinity, &["bellows \"bellows\"", "\"nan\" is no draw", "bellows=40"]),
        ("body,bellows=inf,lens", Focus::Infinity, &["cannot be drawn to inf mm", "40 to 150"]),
        ("body,bellows=85mm,lens", Focus::Infinity, &["\"85mm\" is no draw", "plain number", "bellows=85"]),
        ("body,tube=long,lens", Focus::Infinity, &["\"tube\" has no draw", "without \"=\""]),
        ("body,tube=30,lens", Focus::Infinity, &["\"tube\" has no draw", "without \"=\""]),
        ("body,lens", Focus::Travel(-1.0), &["travel", "0 mm or more", "-1"]),
        ("body,lens", Focus::Travel(f64::NAN), &["travel", "0 mm or more"]),
        ("body,lens", Focus::Travel(f64::INFINITY), &["travel", "inf"]),
        // Marked for 0.2x: f·m = 20 mm.
        ("body,lens", Focus::Travel(25.0), &["\"lens\" cannot travel 25 mm", "20.0 mm"]),
        ("body,plain", Focus::Closest, &["\"plain\"", "close_focus_mm or max_magnification", "travel=MM"]),
        // Nothing is nearer than 4f = 360 mm.
        ("body,wrong-marks", Focus::Infinity, &["\"wrong-marks\"", "300 mm", "360.0 mm", "check close_focus_mm"]),
    ];
    for (parts, focus, needles) in table {
        assert_refused(&request(parts, focus), needles);
    }
}

#[test]
fn blanks_around_a_draw_are_no_matter() {
    let kit = read(BENCH);
    let report = report_of(&kit, &request("body,bellows = 85,lens", Focus::Infinity)).unwrap();
    assert_eq!(Some(report), report_of(&kit, &request("body,bellows=85,lens", Focus::Infinity)).ok());
}

#[test]
fn figures_out_of_range() {
    let table: [(Option<f64>, Option<f64>, &[&str]); 9] = [
        (Some(2.8), None, &["\"lens\"", "f/2.8", "f/4", "f/32"]),
        (Some(45.0), None, &["\"lens\"", "f/45", "f/4", "f/32"]),
        (Some(0.0), None, &["f-number", "above 0"]),
        (Some(-8.0), None, &["f-number", "above 0", "-8"]),
        (Some(f64::NAN), None, &["f-number", "above 0"]),
        (Some(f64::INFINITY), None, &["f-number", "above 0", "inf"]),
        (None, Some(0.0), &["circle of confusion", "above 0"]),
        (None, Some(-0.03), &["circle of confusion", "above 0", "-0.03"]),
        (None, Some(f64::NAN), &["circle of confusion", "above 0"]),
    ];
    for (f_number, coc_mm, needles) in table {
        assert_refused(&SetupRequest { f_number, coc_mm, ..request("body,tube,lens", Focus::Infinity) }, needles);
    }
    // Without a smallest stop in the kit none is checked.
    let wanted = SetupRequest { f_number: Some(64.0), ..request("body,plain", Focus::Infinity) };
    assert!(report_of(&read(&drawer()), &wanted).is_ok());
}

#[test]
fn subjects_that_no_one_can_put_there() {
    // A 35 mm lens whose rim lies 135 mm in front of H: at 0.86x the sharp plane is 76 mm from H.
    assert_refused(&request("body,tube,short", Focus::Infinity), &["behind the front", "take extension"]);
    // Reversed on the body, the 100 mm lens without a tube but nearer than f to the film: nothing is sharp.
    let near = BENCH
        .replace("register_mm = 80\nmount", "register_mm = 20\nmount")
        .replace("length_mm = 60", "length_mm = 100\nregister_mm = 20");
    let error = report_of(&read(&near), &request("body,flat-ring,lens", Focus::Infinity)).unwrap_err().to_string();
    assert!(error.contains("nothing in front of it"), "{error}");
    assert!(is_one_sentence(&error), "{error}");
}

#[test]
fn a_focus_in_words() {
    let table = [
        ("infinity", Focus::Infinity),
        ("closest", Focus::Closest),
        ("travel=12.5", Focus::Travel(12.5)),
        ("distance=900", Focus::Distance(900.0)),
    ];
    for (text, focus) in table {
        assert_eq!(text.parse(), Ok(focus));
        assert_eq!(focus.to_string(), text);
    }
    for text in [
        "",
        "near",
        "travel",
        "travel=",
        "travel=-1",
        "travel=nan",
        "travel=inf",
        "Infinity",
        "distance=0",
        "distance=",
        "distance=-3",
    ] {
        let words = text.parse::<Focus>().unwrap_err();
        assert!(words.contains("infinity, closest, travel=MM"), "{words}");
    }
}
