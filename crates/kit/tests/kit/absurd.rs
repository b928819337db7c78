//! Kits and lists of parts of chance, sense or nonsense: either one sentence, or figures that are all numbers.

use crate::common::{Chance, is_one_sentence, warned};
use kit::{Demand, Focus, Kind, Kit, Setup, SetupRequest, reach};
use optics::Figure;

/// Sizes that people type, and sizes that only cats do.
fn size(chance: &mut Chance) -> f64 {
    match chance.below(12) {
        0 => 10f64.powi(chance.below(600) as i32 - 300),
        1 => 10f64.powi(chance.below(12) as i32 - 6),
        2 => 0.0,
        3 => -10f64.powi(chance.below(6) as i32 - 2),
        _ => 0.5 * (1 + chance.below(300)) as f64,
    }
}

fn text_of(kind: Kind, id: &str, wild: bool, chance: &mut Chance) -> String {
    let mut text = format!("[[{}]]\nid = \"{id}\"\n", kind.spec().table);
    for field in kind.fields().filter(|field| !matches!(field.name, "name" | "notes" | "currency" | "price")) {
        let seldom = if field.name.starts_with("calibrated") || field.name == "close_focus_mm" { 8 } else { 2 };
        if !field.required && field.name != "thread_mm" && chance.below(seldom) > 0 {
            continue;
        }
        let number = |chance: &mut Chance| {
            // Most figures are such as parts have; what no part has is taken only with an uncertainty.
            let (low, high) = field.plausible.unwrap_or((1.0, 100.0));
            let plain = low * (high / low).powf(chance.below(1000) as f64 / 999.0);
            match chance.below(10) {
                0 if wild => {
                    format!("{{ value = {:e}, plus_minus = {:e} }}", size(chance), size(chance).abs())
                }
                1..4 => format!("{{ value = {plain:e}, plus_minus = {:e} }}", 0.1 * plain),
                _ => format!("{plain:e}"),
            }
        };
        let value = match field.shape {
            kit::Shape::Number(_) => number(chance),
            kit::Shape::Pair(_) => {
                // In order more often than not.
                let (a, b) = (number(chance), number(chance));
                format!("[{a}, {b}]")
            }
            kit::Shape::Numbers(_) => format!("[{}]", number(chance)),
            kit::Shape::Words => format!("\"{}\"", ["m", "n"][usize::from(chance.below(12) == 0)]),
            kit::Shape::OneOf(words) => format!("\"{}\"", words[chance.below(words.len())]),
            kit::Shape::Flag => "true".into(),
            kit::Shape::Points => format!("\"1={}, {}=20\"", number(chance), number(chance)),
        };
        // One thread, so that things join.
        let value = match field.name {
            "thread_mm" | "from_mm" | "to_mm" if chance.below(8) > 0 => "52".into(),
            "threads_mm" if chance.below(8) > 0 => "[52, 52]".into(),
            "body_mount" => "\"m\"".into(),
            "lens_mount" => "\"n\"".into(),
            "frame_mm" if chance.below(8) > 0 => "[56, 56]".into(),
            "register_mm" if chance.below(8) > 0 => format!("{}", 40 + chance.below(60)),
            _ => value,
        };
        text += &format!("{} = {value}\n", field.name);
    }
    text
}

/// A kit of chance of entries that are taken one by one, and whether nonsense is among them.
fn kit_of_chance(chance: &mut Chance) -> (Kit, bool) {
    let mut parts = Vec::new();
    let wild = chance.below(3) == 0;
    for index in 0..14 {
        let kind = if index < 2 { [Kind::Body, Kind::Lens][index] } else { Kind::ALL[chance.below(Kind::ALL.len())] };
        for _ in 0..30 {
            if let Ok(kit) = Kit::parse(&text_of(kind, &format!("part-{index}"), wild, chance)) {
                parts.extend(kit.parts().iter().cloned());
                break;
            }
        }
    }
    (Kit::from_parts(parts).unwrap(), wild)
}

/// A word of a list of parts: the likely next one, or anything.
fn word(kit: &Kit, kinds: &[Kind], chance: &mut Chance) -> String {
    let fitting: Vec<&kit::Part> = kit.parts().iter().filter(|part| kinds.contains(&part.kind())).collect();
    let anything = chance.below(8) == 0 || fitting.is_empty();
    let part =
        if anything { &kit.parts()[chance.below(kit.parts().len())] } else { fitting[chance.below(fitting.len())] };
    match part.numbers("draw_mm")[..] {
        [from, to] => format!("{}={}", part.id(), from + (to - from) * chance.below(5) as f64 / 4.0),
        _ if chance.below(16) == 0 => format!("{}=reversed", part.id()),
        _ => part.id().into(),
    }
}

fn list_of_chance(kit: &Kit, chance: &mut Chance) -> Vec<String> {
    let mut parts = vec![word(kit, &[Kind::Body], chance)];
    for _ in 0..chance.below(3) {
        parts.push(word(kit, &[Kind::Tube, Kind::Bellows, Kind::Teleconverter, Kind::Adapter], chance));
    }
    match chance.below(5) {
        0 => parts.push(word(kit, &[Kind::ReversingRing], chance)),
        1 => parts.push(format!("free={}", chance.below(80))),
        _ => {}
    }
    parts.push(word(kit, &[Kind::Lens], chance));
    for _ in 0..chance.below(4) {
        match chance.below(6) {
            0 => parts.push(format!("free={}", size(chance))),
            1 => parts.push(word(kit, &[Kind::StepRing], chance)),
            2 => {
                parts.push(word(kit, &[Kind::CouplingRing], chance));
                parts.push(word(kit, &[Kind::Lens], chance));
            }
            _ => parts.push(word(kit, &[Kind::CloseUpLens], chance)),
        }
    }
    parts
}

fn focus_of_chance(chance: &mut Chance) -> Focus {
    match chance.below(6) {
        0 => Focus::Closest,
        1 => Focus::Travel(size(chance)),
        2 => Focus::Distance(size(chance)),
        3 => Focus::Distance([f64::NAN, f64::INFINITY, 1e300, 1e-300, 350.0][chance.below(5)]),
        _ => Focus::Infinity,
    }
}

#[test]
fn one_sentence_or_numbers() {
    let mut chance = Chance(77);
    let (mut taken, mut refused) = (0, 0);
    for _ in 0..250 {
        let (kit, _) = kit_of_chance(&mut chance);
        for _ in 0..60 {
            let parts = list_of_chance(&kit, &mut chance);
            let focus = focus_of_chance(&mut chance);
            let f_number = (chance.below(5) == 0).then(|| size(&mut chance));
            let coc_mm = (chance.below(5) == 0).then(|| size(&mut chance));
            let request = SetupRequest { parts, focus, f_number, coc_mm };
            let told = || format!("{request:?}\n{}", kit.to_toml());
            match Setup::resolve(&kit, &request).and_then(|setup| setup.report()) {
                Err(error) => {
                    refused += 1;
                    // A figure with three hundred zeros makes a long sentence.
                    let words = error.to_string();
                    let long = words.split(' ').any(|word| word.len() > 60);
                    assert!(long || is_one_sentence(&words), "{error}\n{}", told());
                    for nonsense in ["NaN mm", "inf mm t", "-inf"] {
                        assert!(!error.to_string().contains(nonsense), "{error}\n{}", told());
                    }
                }
                Ok(report) => {
                    taken += 1;
                    for figure in Figure::ALL {
                        if let Some(estimate) = report.figures.get(figure) {
                            let finite = estimate.value.is_finite() && estimate.plus_minus.is_finite();
                            assert!(finite, "{}: {estimate:?}\n{}", figure.label(), told());
                        }
                    }
                    for radius in [report.lit_whole_mm, report.image_circle_mm].into_iter().flatten() {
                        assert!(radius.is_finite() && radius >= 0.0, "{radius}\n{}", told());
                    }
                    assert!(report.steep.iter().all(|(_, share)| !share.is_nan()), "{}", told());
                    for words in warned(&report) {
                        assert!(is_one_sentence(&words), "{words}\n{}", told());
                        assert!(!words.contains("NaN") && !words.contains("inf "), "{words}\n{}", told());
                    }
                }
            }
        }
    }
    assert!(taken > 300 && refused > 300, "{taken} taken, {refused} refused");
}

#[test]
fn what_such_kits_reach_are_numbers() {
    let mut chance = Chance(78);
    let mut listed = 0;
    for _ in 0..250 {
        let (kit, wild) = kit_of_chance(&mut chance);
        for magnification in [None, Some(0.5)] {
            let demand = Demand { magnification, most: 40, ..Demand::default() };
            let reached = reach(&kit, &demand).unwrap_or_else(|error| panic!("{error}\n{}", kit.to_toml()));
            let told = || kit.to_toml();
            listed += reached.setups.len();
            for setup in &reached.setups {
                let spans = [setup.magnification, setup.stops];
                assert!(spans.iter().all(|s| s.min.is_finite() && s.max.is_finite()), "{setup:?}\n{}", told());
                assert!(
                    setup.magnification.min >= 0.0 && setup.magnification.min <= setup.magnification.max,
                    "{setup:?}"
                );
                // What is 10⁸⁰ mm long loses every digit of what stands on it.
                if let Some(setting) = setup.setting.as_ref().filter(|_| !wild) {
                    let found = setting.figures.get(Figure::Magnification).unwrap_or(0.0);
                    assert!((found / 0.5 - 1.0).abs() < 1e-6, "{setup:?}\n{}", told());
                }
                assert_eq!(setup.setting.is_some(), magnification.is_some(), "{setup:?}\n{}", told());
            }
            for miss in &reached.misses {
                assert!(
                    is_one_sentence(&miss.why) && !miss.why.contains("NaN") && !miss.why.contains("inf"),
                    "{}",
                    miss.why
                );
                assert!(miss.magnification.max.is_finite(), "{miss:?}");
            }
        }
    }
    assert!(listed > 1000, "{listed}");
}
