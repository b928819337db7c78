//! A wanted magnification: who reaches it, how, and what the others lack.

use crate::common::{BENCH, read, report_of, request, value};
use kit::{Demand, Kit, Reach, reach};
use optics::Figure;
use testkit::assert_close;

fn wanted(kit: &Kit, magnification: f64) -> Reach {
    reach(kit, &Demand { magnification: Some(magnification), ..Demand::default() }).unwrap()
}

#[test]
fn every_match_is_set_so_that_it_gives_what_was_wanted() {
    let kit = read(BENCH);
    for m in [0.1, 0.2, 0.5, 1.0, 1.7] {
        let reached = wanted(&kit, m);
        assert!(!reached.setups.is_empty(), "{m}");
        for setup in &reached.setups {
            assert!(setup.magnification.holds(m), "{m}: {:?}", setup.parts);
            let setting = setup.setting.as_ref().unwrap();
            let report = report_of(&kit, &request(&setting.parts.join(","), setting.focus)).unwrap();
            assert_close!(value(&report, Figure::Magnification), m, relative = 1e-9, "{:?}", setting.parts);
            for figure in [Figure::WorkingDistance, Figure::Extension, Figure::ExposureStops] {
                let shown = setting.figures.get(figure).unwrap();
                assert_close!(value(&report, figure), shown, relative = 1e-9, "{:?}", setting.parts);
            }
        }
        for miss in &reached.misses {
            assert!(!miss.magnification.holds(m), "{m}: {:?}", miss.parts);
        }
    }
}

#[test]
fn matches_and_misses_are_all_there_is() {
    // Nothing but tubes, lens and one close-up lens, so that all misses are shown.
    let few: String = BENCH
        .split("[[")
        .filter(|part| !part.starts_with("rev") && !part.contains("\"four\""))
        .map(|p| if p.trim().is_empty() { p.to_string() } else { format!("[[{p}") })
        .collect();
    let kit = read(&few);
    let all = reach(&kit, &Demand::default()).unwrap().setups;
    for m in [0.05, 0.3, 0.9, 3.0] {
        let reached = wanted(&kit, m);
        assert_eq!(reached.setups.len() + reached.misses.len(), all.len(), "{m}");
        let holding = all.iter().filter(|setup| setup.magnification.holds(m)).count();
        assert_eq!(reached.setups.len(), holding, "{m}");
    }
}

#[test]
fn best_first() {
    let reached = wanted(&read(BENCH), 0.5);
    let rank = |setup: &kit::ReachedSetup| {
        let lost = setup.setting.as_ref().unwrap().figures.get(Figure::ExposureStops).unwrap();
        (setup.glass_added, lost, setup.parts.len())
    };
    for (index, before) in reached.setups.iter().enumerate() {
        for behind in &reached.setups[index + 1..] {
            let (p, q) = (rank(before), rank(behind));
            let named = format!("{:?} before {:?}", before.parts, behind.parts);
            assert!(p.0 <= q.0, "less glass first: {named}");
            // A tenth of a stop is nothing; where the light is the same, the smaller stack comes first.
            assert!(p.0 < q.0 || p.1 < q.1 + 0.1, "less light lost first: {named}");
            assert!(p.0 < q.0 || (p.1 - q.1).abs() > 1e-6 || p.2 <= q.2, "the smaller stack first: {named}");
        }
    }
    let off = |miss: &kit::Miss| (0.5 / miss.magnification.max).ln().max((miss.magnification.min / 0.5).ln());
    for pair in reached.misses.windows(2) {
        assert!(off(&pair[0]) <= off(&pair[1]) + 1e-9, "nearest miss first");
    }
}

/// The millimetres in "…; 12.3 mm more extension would do" or "…; a tube of 13 to 30 mm would do".
fn millimetres(why: &str) -> f64 {
    let remedy = why.split("; ").nth(1).map(|remedy| remedy.trim_start_matches("a tube of "));
    let number = remedy.and_then(|remedy| remedy.split(' ').next());
    number.and_then(|number| number.parse().ok()).unwrap_or_else(|| panic!("no millimetres in: {why}"))
}

#[test]
fn what_a_miss_lacks_is_what_it_lacks() {
    // A fraction of a millimetre is missing, which only what moves can take up.
    const WANTED: f64 = 2.503;
    let kit = read(BENCH);
    let reached = wanted(&kit, WANTED);
    assert!(!reached.misses.is_empty());
    let mut exact = 0;
    for miss in &reached.misses {
        // Put exactly that behind the lens, and it does.
        let more = millimetres(&miss.why);
        let longer = read(&format!("{BENCH}[[tube]]\nid = \"more\"\nmount = \"m\"\nlength_mm = {more}\n"));
        let mut parts = miss.parts.clone();
        parts.insert(1, "more".into());
        if miss.why.contains("a tube of") {
            let setups = wanted(&longer, WANTED).setups;
            let same = |found: &[String]| found.len() == parts.len() && parts.iter().all(|id| found.contains(id));
            assert!(setups.iter().any(|setup| same(&setup.parts)), "{parts:?}: {}", miss.why);
            continue;
        }
        exact += 1;
        let word = |id: &String| if id == "bellows" { "bellows=150".to_string() } else { id.clone() };
        let parts = parts.iter().map(word).collect::<Vec<_>>().join(",");
        let report = report_of(&longer, &request(&parts, kit::Focus::Closest));
        let report = report.unwrap_or_else(|error| panic!("{parts}: {error}"));
        // Half of the printed tenth of a millimetre, over the slope of at most a few hundredths per mm.
        assert_close!(value(&report, Figure::Magnification), WANTED, absolute = 0.003, "{parts}");
    }
    assert!(exact > 0 && exact < reached.misses.len(), "both remedies occur");
}

#[test]
fn too_much_is_said_too() {
    // The bellows alone gives 0.4x at its shortest. For 0.3x it would have to be 10 mm shorter.
    let kit = read(BENCH);
    let find = |m: f64, parts: &[&str]| {
        let misses = wanted(&kit, m).misses;
        misses.iter().find(|miss| miss.parts == parts).unwrap_or_else(|| panic!("{parts:?}")).why.clone()
    };
    let why = find(0.3, &["body", "bellows", "lens"]);
    assert!(why.contains("no lower than 0.400") && why.contains("10.0 mm less extension"), "{why}");
    // A +4 close-up lens on the bare lens gives 0.4x at infinity: no extension to take away.
    let why = find(0.3, &["body", "lens", "four"]);
    assert!(why.contains("no lower than 0.400") && why.contains("weaker close-up lens"), "{why}");
    assert!(!why.contains("less extension"), "{why}");
    // Reversed without a tube: v = 80 + 4 + 34, m = 0.18; nothing to take away either.
    let why = find(0.1, &["body", "ring", "lens"]);
    assert!(why.contains("no lower than 0.180") && !why.contains("less extension"), "{why}");
}

#[test]
fn magnifications_that_cannot_be_wanted() {
    for m in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let demand = Demand { magnification: Some(m), ..Demand::default() };
        let words = reach(&read(BENCH), &demand).unwrap_err().to_string();
        assert!(words.contains("magnification must be above 0"), "{words}");
    }
}
