//! What a kit reaches, against trying everything.

use crate::common::{BENCH, read, report_of, request, value};
use kit::{Demand, Focus, Kind, Kit, Limits, Reach, Setup, reach};
use optics::Figure;
use std::collections::BTreeSet;
use testkit::assert_close;

/// The bench with a second tube, draws that are no round numbers, and things that cannot join or be computed.
fn small_kit() -> Kit {
    let text = BENCH
        .replace("[40, 150]", "[35.1, 140.3]")
        .replace("[[reversing_ring]]\nid = \"flat-ring\"\nmount = \"m\"\nthread_mm = 52\n", "");
    read(&(text + "[[tube]]\nid = \"long-tube\"\nmount = \"m\"\nlength_mm = 64.3\n"))
}

fn all(kit: &Kit) -> Reach {
    reach(kit, &Demand::default()).unwrap()
}

/// Parts in the one order in which set-ups are compared: what stands between body and lens makes no difference to the
/// light in whatever order.
fn canonical(kit: &Kit, parts: &[String]) -> Vec<String> {
    let spacer = |id: &String| matches!(kit.part(id).unwrap().kind(), Kind::Tube | Kind::Bellows);
    let mut spacers: Vec<_> = parts.iter().filter(|id| spacer(id)).cloned().collect();
    spacers.sort();
    spacers.extend(parts.iter().filter(|id| !spacer(id)).cloned());
    spacers
}

/// Every ordered choice of different parts.
fn every_order(ids: &[String], so_far: &mut Vec<String>, visit: &mut impl FnMut(&[String])) {
    visit(so_far);
    for id in ids {
        if !so_far.contains(id) {
            so_far.push(id.clone());
            every_order(ids, so_far, visit);
            so_far.pop();
        }
    }
}

/// "a,bellows=35.1,b" with every bellows at that share of its range.
fn drawn(kit: &Kit, parts: &[String], share: f64) -> String {
    let word = |id: &String| match kit.part(id).unwrap().numbers("draw_mm")[..] {
        [from, to] => format!("{id}={}", from * (1.0 - share) + to * share),
        _ => id.clone(),
    };
    parts.iter().map(word).collect::<Vec<_>>().join(",")
}

/// Whether anything in front of it can be sharp at some draw and focus.
fn works(kit: &Kit, parts: &[String]) -> bool {
    let tries = [0.0, 0.25, 0.5, 0.75, 1.0].map(|share| drawn(kit, parts, share));
    tries.iter().any(|parts| {
        [Focus::Infinity, Focus::Closest].iter().any(|focus| report_of(kit, &request(parts, *focus)).is_ok())
    })
}

#[test]
fn nothing_that_joins_is_missing_and_nothing_else_is_there() {
    let kit = small_kit();
    let ids: Vec<String> = kit.parts().iter().map(|part| part.id().to_string()).collect();
    let mut tried = BTreeSet::new();
    every_order(&ids, &mut Vec::new(), &mut |parts| {
        if works(&kit, parts) {
            tried.insert(canonical(&kit, parts));
        }
    });
    let listed = all(&kit).setups;
    let found: BTreeSet<_> = listed.iter().map(|setup| canonical(&kit, &setup.parts)).collect();
    assert_eq!(found.len(), listed.len(), "each set-up once");
    assert_eq!(found, tried);
    // Two tubes and a bellows in any company are 8 sets; before them the lens bare, with one of two or both in two
    // orders (5 ends), or reversed (1 end): 48 at most.
    assert!(tried.len() > 20 && tried.len() <= 48, "{}", tried.len());
}

#[test]
fn ranges_run_from_the_shortest_at_infinity_to_the_longest_at_the_closest_mark() {
    let kit = small_kit();
    for setup in all(&kit).setups {
        let magnification = |share, focus| {
            let report = report_of(&kit, &request(&drawn(&kit, &setup.parts, share), focus)).ok()?;
            Some(value(&report, Figure::Magnification))
        };
        let span = setup.magnification;
        assert!(span.min >= 0.0 && span.min <= span.max, "{:?}", setup.parts);
        if let Some(least) = magnification(0.0, Focus::Infinity) {
            assert_close!(span.min, least, absolute = 1e-9, "{:?}", setup.parts);
        }
        if let Some(most) = magnification(1.0, Focus::Closest) {
            assert_close!(span.max, most, relative = 1e-9, "{:?}", setup.parts);
        }
    }
}

#[test]
fn both_ends_of_every_range_can_be_set() {
    let kit = small_kit();
    for setup in all(&kit).setups {
        for end in [setup.magnification.min, setup.magnification.max].into_iter().filter(|end| *end > 0.0) {
            let wanted = reach(&kit, &Demand { magnification: Some(end), ..Demand::default() }).unwrap();
            let again = wanted.setups.iter().find(|other| other.parts == setup.parts);
            let setting = again.and_then(|s| s.setting.as_ref()).unwrap_or_else(|| panic!("{end}: {:?}", setup.parts));
            let report = report_of(&kit, &request(&setting.parts.join(","), setting.focus));
            let report = report.unwrap_or_else(|error| panic!("{:?} {}: {error}", setting.parts, setting.focus));
            assert_close!(value(&report, Figure::Magnification), end, relative = 1e-8, "{:?}", setting.parts);
        }
    }
}

#[test]
fn light_at_the_ends_is_the_light_of_those_set_ups() {
    let kit = small_kit();
    for setup in all(&kit).setups {
        let report = report_of(&kit, &request(&drawn(&kit, &setup.parts, 0.0), Focus::Infinity));
        if let Ok(report) = report {
            assert_close!(setup.stops.min, value(&report, Figure::ExposureStops), absolute = 1e-8, "{:?}", setup.parts);
        }
    }
}

#[test]
fn a_subject_at_the_glass_ends_the_range() {
    // A 35 mm lens whose rim lies 35 + 80 − 35 = 80 mm in front of H: u = 80 at m = 0.78, the nearest it can come.
    let text = BENCH
        .replace("focal_length_mm = 100", "focal_length_mm = 35")
        .replace("principal_separation_mm = 6", "principal_separation_mm = 0")
        .replace("length_mm = 60", "length_mm = 35")
        .replace("[40, 150]", "[10, 150]");
    let kit = read(&text);
    let reached = all(&kit);
    let bellows = reached.setups.iter().find(|setup| setup.parts == ["body", "bellows", "lens"]).unwrap();
    assert_close!(bellows.magnification.min, 10.0 / 35.0, relative = 1e-9);
    assert_close!(bellows.magnification.max, 35.0 / (80.0 - 35.0), relative = 1e-6);
}

#[test]
fn a_set_up_that_must_be_drawn_out_before_anything_is_sharp() {
    // Reversed, rim to H is 60 + 80 − 180 − 6 = −46: H lies behind the rim, v = 80 + 4 − 46 + draw = 38 + draw. A lens
    // of 180 mm is at infinity at 142 mm of draw and at 8/180 at the full 150 mm.
    let kit = read(&BENCH.replace("focal_length_mm = 100", "focal_length_mm = 180"));
    let reached = all(&kit);
    let bellows = reached.setups.iter().find(|setup| setup.parts == ["body", "bellows", "ring", "lens"]).unwrap();
    assert_close!(bellows.magnification.min, 0.0, absolute = 1e-9);
    assert_close!(bellows.magnification.max, 8.0 / 180.0, relative = 1e-9);
    let without = ["body", "tube", "ring", "lens"];
    assert!(reached.setups.iter().all(|setup| setup.parts != without), "30 mm are not enough");
}

#[test]
fn only_the_body_asked_for() {
    let other = "[[body]]\nid = \"second\"\nframe_mm = [41.5, 56]\nregister_mm = 70\nmount = \"m\"\n";
    let kit = read(&(BENCH.to_string() + other));
    let of =
        |body: Option<&str>| reach(&kit, &Demand { body: body.map(Into::into), ..Demand::default() }).unwrap().setups;
    for body in ["body", "second"] {
        let setups = of(Some(body));
        assert!(!setups.is_empty());
        assert!(setups.iter().all(|setup| setup.parts[0] == body));
    }
    assert_eq!(of(None).len(), of(Some("body")).len() + of(Some("second")).len());
    let error = reach(&kit, &Demand { body: Some("secund".into()), ..Demand::default() }).unwrap_err().to_string();
    assert!(error.contains("did you mean \"second\""), "{error}");
    assert!(reach(&kit, &Demand { body: Some("lens".into()), ..Demand::default() }).is_err(), "a lens is no body");
}

#[test]
fn stacks_stay_within_their_limits() {
    let kit = small_kit();
    for (tubes, bellows, close_ups) in [(0, 0, 0), (1, 0, 1), (2, 1, 0)] {
        let demand = Demand { limits: Limits { tubes, bellows, close_ups, ..Limits::default() }, ..Demand::default() };
        let setups = reach(&kit, &demand).unwrap().setups;
        assert!(!setups.is_empty());
        for setup in setups {
            let count = |kind| setup.parts.iter().filter(|id| kit.part(id).unwrap().kind() == kind).count();
            assert!(
                count(Kind::Tube) <= tubes && count(Kind::Bellows) <= bellows && count(Kind::CloseUpLens) <= close_ups
            );
            assert_eq!(setup.glass_added, count(Kind::CloseUpLens));
        }
    }
}

#[test]
fn what_was_left_out_is_named() {
    // A mark nearer than 4f cannot be: the lens is named, not passed over.
    let wrong = BENCH.replace("max_magnification = 0.2", "close_focus_mm = 300");
    let reached = all(&read(&wrong));
    assert!(reached.setups.is_empty());
    assert!(reached.left_out.join("\n").contains("\"lens\""), "{:?}", reached.left_out);
    assert!(Setup::resolve(&read(&wrong), &request("body,lens", Focus::Infinity)).is_err());
}
