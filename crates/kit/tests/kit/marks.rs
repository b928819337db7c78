//! Close focus, largest magnification and principal separation: which wins, and what is assumed.

use crate::common::{BENCH, estimate, look, read, value, warned};
use kit::{Focus, Kit, Report, Setup, SetupRequest, Warning};
use optics::Figure;
use testkit::assert_close;

/// The bench lens with these marks instead of its own.
fn marked(marks: &str) -> String {
    BENCH.replace("principal_separation_mm = 6\n", "").replace("max_magnification = 0.2\n", &format!("{marks}\n"))
}

fn at_closest(marks: &str) -> Report {
    look(&marked(marks), "body,lens", Focus::Closest)
}

#[test]
fn which_mark_wins() {
    // By hand, subject to film = f(2 + m + 1/m) + t with f = 100: 720 + t at m = 0.2.
    let fifth = 0.2;
    // k = 7.2 from (726 − 6)/100, and 7.26 − 2 = 5.26 with t = 0.
    let from_distance_alone = (5.26 - (5.26f64 * 5.26 - 4.0).sqrt()) / 2.0;
    let table = [
        ("both marks imply t = 6", "close_focus_mm = 726\nmax_magnification = 0.2", fifth, 726.0),
        ("magnification alone, t = 0", "max_magnification = 0.2", fifth, 720.0),
        ("distance alone, t = 0", "close_focus_mm = 726", from_distance_alone, 726.0),
        ("distance with t", "close_focus_mm = 726\nprincipal_separation_mm = 6", fifth, 726.0),
        (
            "t wins over the marks",
            "close_focus_mm = 726\nmax_magnification = 0.2\nprincipal_separation_mm = 2",
            fifth,
            722.0,
        ),
        ("all agree", "close_focus_mm = 726\nmax_magnification = 0.2\nprincipal_separation_mm = 6", fifth, 726.0),
        (
            "close focus left out",
            "close_focus_mm = 900\nmax_magnification = 0.2\nprincipal_separation_mm = 6",
            fifth,
            726.0,
        ),
    ];
    for (name, marks, m, distance) in table {
        let report = at_closest(marks);
        assert_close!(value(&report, Figure::Magnification), m, relative = 1e-9, "{name}");
        assert_close!(value(&report, Figure::SubjectToFilm), distance, relative = 1e-9, "{name}");
        assert_close!(value(&report, Figure::Extension), 100.0 * m, relative = 1e-9, "{name}: travel is f·m");
    }
}

fn disagreement(report: &Report) -> Option<f64> {
    report.warnings.iter().find_map(|warning| match warning {
        Warning::MarksDisagree { off_mm, .. } => Some(*off_mm),
        _ => None,
    })
}

#[test]
fn three_marks_that_disagree_are_told_apart() {
    // Exact but for 3 mm of the distance and 4 mm of t, 5 mm together: 4.9 mm apart agree, 5.1 mm do not.
    let marks = |distance: f64| {
        format!(
            "close_focus_mm = {{ value = {distance}, plus_minus = 3 }}\n\
             max_magnification = {{ value = 0.2, plus_minus = 0 }}\n\
             principal_separation_mm = {{ value = 6, plus_minus = 4 }}"
        )
    };
    let report = |distance| {
        let exact = "focal_length_mm = { value = 100, plus_minus = 0 }";
        let text = marked(&marks(distance)).replace("focal_length_mm = 100", exact);
        look(&text, "body,lens", Focus::Closest)
    };
    for (distance, off) in [(730.9, None), (731.1, Some(5.1)), (721.1, None), (720.9, Some(-5.1))] {
        let report = report(distance);
        match (disagreement(&report), off) {
            (Some(found), Some(off)) => assert_close!(found, off, absolute = 1e-9),
            (found, off) => assert_eq!(found, off, "{distance}"),
        }
        assert_close!(value(&report, Figure::SubjectToFilm), 726.0, relative = 1e-9, "close focus is left out");
    }
    let words = warned(&report(900.0)).join("\n");
    for needle in ["\"lens\"", "close_focus_mm was left out", "174 mm farther"] {
        assert!(words.contains(needle), "{needle}: {words}");
    }
}

#[test]
fn a_separation_from_marks_is_uncertain_and_says_so() {
    let report = at_closest("close_focus_mm = 726\nmax_magnification = 0.2");
    let words = warned(&report).join("\n");
    assert!(words.contains("principal separation of 6.0 ± "), "{words}");
    assert!(words.contains("calibrate"), "{words}");
    // By hand, first order: 2 % of 726, 4 % of 100 times 7.2, 3 % of 0.2 times 100(1 − 1/0.04), in quadrature.
    let by_hand = 14.52f64.hypot(28.8).hypot(14.4);
    let found = report.warnings.iter().find_map(|warning| match warning {
        Warning::SeparationFromMarks { plus_minus, .. } => Some(*plus_minus),
        _ => None,
    });
    assert_close!(found.unwrap(), by_hand, relative = 1e-9);
    // At the mark itself the distance is what is engraved, and no less certain.
    assert_close!(estimate(&report, Figure::SubjectToFilm).plus_minus, 14.52, relative = 1e-9);
}

fn assumed(text: &str, parts: &str) -> Vec<String> {
    let mut assumed = look(text, parts, Focus::Infinity).assumed;
    assumed.sort();
    assumed
}

#[test]
fn every_default_that_was_used_is_named() {
    let bare = "[[body]]\nid = \"b\"\nframe_mm = [56, 56]\nregister_mm = 80\nmount = \"m\"\n\
                [[lens]]\nid = \"l\"\nmount = \"m\"\nfocal_length_mm = 90\nmax_aperture = 2.8\nlength_mm = 68\nthread_mm = 58\n\
                [[close_up_lens]]\nid = \"c\"\npower_dpt = 2\nthread_mm = 58\n\
                [[reversing_ring]]\nid = \"r\"\nmount = \"m\"\nthread_mm = 58\n";
    let lens = ["l.focusing", "l.principal_separation_mm", "l.pupil_ratio", "l.register_mm"];
    assert_eq!(assumed(bare, "b,l"), lens);
    assert_eq!(assumed(bare, "b,l,c"), [&["c.gap_mm"], &lens[..]].concat());
    assert_eq!(assumed(bare, "b,r,l"), [&lens[..], &["r.thickness_mm"]].concat());
    let stated = bare.replace(
        "length_mm = 68",
        "length_mm = 68\nfocusing = \"unit\"\npupil_ratio = 1\nprincipal_separation_mm = 0\nregister_mm = 80",
    );
    assert_eq!(assumed(&stated, "b,l"), Vec::<String>::new());
    // What the two marks imply is not assumed.
    let marks = bare.replace("length_mm = 68", "length_mm = 68\nclose_focus_mm = 915\nmax_magnification = 0.125");
    assert!(!assumed(&marks, "b,l").contains(&"l.principal_separation_mm".to_string()));
}

#[test]
fn defaults_are_the_documented_ones_and_wide() {
    let stated =
        BENCH.replace("pupil_ratio = 0.8", "pupil_ratio = 1").replace("separation_mm = 6", "separation_mm = 0");
    let absent = BENCH.replace("pupil_ratio = 0.8\n", "").replace("principal_separation_mm = 6\n", "");
    let stated = stated.replace("thread_mm = 52\n[[close_up_lens]]", "thread_mm = 52\ngap_mm = 3\n[[close_up_lens]]");
    for parts in ["body,tube,lens", "body,tube,lens,two", "body,tube,flat-ring,lens"] {
        let (stated, absent) = (look(&stated, parts, Focus::Infinity), look(&absent, parts, Focus::Infinity));
        for figure in Figure::ALL {
            let (sure, unsure) = (estimate(&stated, figure), estimate(&absent, figure));
            assert_close!(unsure.value, sure.value, relative = 1e-12, "{parts}: {}", figure.label());
            assert!(unsure.plus_minus >= sure.plus_minus, "{parts}: {}", figure.label());
        }
        let light = |report: &Report| estimate(report, Figure::ExposureStops).plus_minus;
        assert!(light(&absent) > 2.0 * light(&stated), "an unknown pupil ratio is worth much more doubt");
    }
}

#[test]
fn a_stated_uncertainty_is_used_as_it_stands() {
    let exact = |field: &str, value: &str| {
        (format!("{field} = {value}"), format!("{field} = {{ value = {value}, plus_minus = 0 }}"))
    };
    let mut text = BENCH.to_string();
    for (field, value) in
        [("focal_length_mm", "100"), ("register_mm", "80"), ("pupil_ratio", "0.8"), ("max_aperture", "4")]
    {
        let (plain, stated) = exact(field, value);
        text = text.replace(&plain, &stated);
    }
    text = text.replace("length_mm = 30", "length_mm = { value = 30, plus_minus = 1.5 }");
    let report = look(&text, "body,tube,lens", Focus::Infinity);
    // m = e/f, e ± 1.5: ± 0.015. Ne = 4(1 + m/0.8): ± 4·0.015/0.8.
    assert_close!(estimate(&report, Figure::Magnification).plus_minus, 0.015, relative = 1e-9);
    assert_close!(estimate(&report, Figure::EffectiveFNumber).plus_minus, 0.075, relative = 1e-9);
    assert_close!(estimate(&report, Figure::Extension).plus_minus, 1.5, relative = 1e-9);
}

#[test]
fn a_plain_number_gets_the_documented_spread() {
    let spread = |kind: kit::Kind, field: &str, number: f64| kind.field(field).unwrap().spread.unwrap().of(number);
    // A tenth of a dioptre and 3 % of 4 dpt, in quadrature.
    assert_close!(spread(kit::Kind::CloseUpLens, "power_dpt", 4.0), 0.1f64.hypot(0.12), relative = 1e-12);
    // At infinity the working distance is 1/D alone: its spread is that of D.
    let report = look(BENCH, "body,lens,four", Focus::Infinity);
    let distance = estimate(&report, Figure::WorkingDistance);
    assert_close!(distance.value, 250.0, relative = 1e-9);
    assert_close!(distance.plus_minus, 250.0 * 0.1f64.hypot(0.12) / 4.0, relative = 1e-9);
}

#[test]
fn a_whole_report_against_simulation() {
    // JCGM 101:2008: draw every input from a normal distribution, compute the plain model, compare spreads.
    let kit: Kit = read(&BENCH.replace("max_magnification = 0.2", "close_focus_mm = 726\nmax_magnification = 0.2"));
    let wanted = SetupRequest { f_number: Some(11.0), ..crate::common::request("body,tube,lens,two", Focus::Closest) };
    let setup = Setup::resolve(&kit, &wanted).unwrap();
    let report = setup.report().unwrap();
    let mut chance = crate::common::Chance(7);
    let mut normal = move || {
        // Twelve shares of 0 to 1, less six: near enough to normal for a spread.
        (0..12).map(|_| chance.below(1 << 30) as f64 / f64::from(1 << 30)).sum::<f64>() - 6.0
    };
    let trials = 20_000;
    let mut sums = [(0.0, 0.0); Figure::ALL.len()];
    for _ in 0..trials {
        let drawn = setup.spec().map(&mut |input| input.value + input.plus_minus / optics::COVERAGE_95 * normal());
        let figures = drawn.figures(setup.coc_mm()).unwrap();
        for (sum, figure) in sums.iter_mut().zip(Figure::ALL) {
            let off = figures.get(figure).unwrap() - value(&report, figure);
            *sum = (sum.0 + off, sum.1 + off * off);
        }
    }
    for ((sum, squares), figure) in sums.into_iter().zip(Figure::ALL) {
        let n = f64::from(trials);
        let sd = ((squares - sum * sum / n) / (n - 1.0)).sqrt();
        let first_order = estimate(&report, figure).plus_minus / optics::COVERAGE_95;
        assert_close!(first_order, sd, relative = 0.05, "{}", figure.label());
    }
}
