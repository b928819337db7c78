//! A kit file with slips of hand and cat: whatever the text, there is an answer or a sentence, never a panic.

use crate::common::{Chance, EXAMPLE, report_of, request};
use kit::{Demand, Focus, Kit, reach};

/// What a slip may put in.
const SCRAPS: [&str; 24] = [
    "nan",
    "-1",
    "inf",
    "1e308",
    "1e-308",
    "0",
    "\"",
    "\"\"\"",
    "[",
    "]]",
    "{",
    "}",
    "=",
    ".",
    "\n",
    "\r",
    "#",
    "é",
    "\u{feff}",
    "[[lens]]\n",
    "[lens]\n",
    "id = \"tube-21\"\n",
    "{ value = 1, plus_minus = 2 }",
    "true",
];

/// A place where the text may be cut.
fn cut(text: &str, chance: &mut Chance) -> usize {
    let mut at = chance.below(text.len() + 1);
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

fn slip(text: &str, chance: &mut Chance) -> String {
    let (p, q) = (cut(text, chance), cut(text, chance));
    // Short pieces mostly: most of the file should stay right.
    let (from, mut to) = (p.min(q), p.max(q));
    while to > from + 12 || !text.is_char_boundary(to) {
        to = if to > from + 12 { from + 12 } else { to - 1 };
    }
    let scrap = SCRAPS[chance.below(SCRAPS.len())];
    match chance.below(4) {
        0 => format!("{}{}", &text[..from], &text[to..]),
        1 => format!("{}{scrap}{}", &text[..from], &text[from..]),
        2 => format!("{}{scrap}{}", &text[..from], &text[to..]),
        _ => format!("{}{}", &text[..to], &text[from..]),
    }
}

/// Exchanges the value of one line for a scrap: still TOML more often than not.
fn other_value(text: &str, chance: &mut Chance) -> String {
    let mut lines: Vec<String> = text.lines().map(Into::into).collect();
    let at = chance.below(lines.len());
    if let Some((key, _)) = lines[at].split_once('=') {
        lines[at] = format!("{key}= {}", SCRAPS[chance.below(SCRAPS.len())]);
    }
    lines.join("\n")
}

#[test]
fn no_slip_makes_it_panic() {
    let mut chance = Chance(19);
    let (mut taken, mut refused) = (0, 0);
    for _ in 0..4000 {
        let mut text = EXAMPLE.to_string();
        for _ in 0..1 + chance.below(3) {
            text = if chance.below(2) == 0 { slip(&text, &mut chance) } else { other_value(&text, &mut chance) };
        }
        match Kit::parse(&text) {
            Err(error) => {
                refused += 1;
                assert!(error.place.line.is_some(), "no line: {error}\n{text}");
                assert!(!error.to_string().contains('\n'), "{error}");
            }
            Ok(kit) => {
                taken += 1;
                assert_eq!(Kit::parse(&kit.to_toml()).as_ref(), Ok(&kit), "{text}");
                use_kit(&kit);
            }
        }
    }
    assert!(taken > 200 && refused > 200, "{taken} taken, {refused} refused: the slips are too mild or too wild");
}

/// Whatever comes out, it comes out.
fn use_kit(kit: &Kit) {
    for parts in ["six-by-six,tube-21,standard-90,close-up-2", "six-by-six,bellows-1=85,reverse-58,standard-90"] {
        for focus in [Focus::Infinity, Focus::Closest, Focus::Travel(3.0)] {
            if let Ok(report) = report_of(kit, &request(parts, focus)) {
                let finite = optics::Figure::ALL.iter().filter_map(|figure| report.figures.get(*figure));
                assert!(finite.into_iter().all(|estimate| !estimate.value.is_nan()), "{}", kit.to_toml());
            }
        }
    }
    let demand = Demand { magnification: Some(0.5), ..Demand::default() };
    assert!(reach(kit, &demand).is_ok());
}

#[test]
fn no_list_of_parts_makes_it_panic() {
    let kit = Kit::parse(EXAMPLE).unwrap();
    let words = ["six-by-six", "tube-21", "bellows-1=85", "reverse-58", "standard-90", "close-up-2", "bellows-1", ""];
    let odd = ["=", "tube-21=", "=85", "bellows-1=85=85", "bellows-1=-85", "é", "standard-90 ", "converter-2x", "\n"];
    let mut chance = Chance(23);
    let mut taken = 0;
    for _ in 0..5000 {
        let word = |chance: &mut Chance| match chance.below(12) {
            0 => odd[chance.below(odd.len())],
            _ => words[chance.below(words.len())],
        };
        let mut parts = vec!["six-by-six"];
        parts.extend((0..chance.below(5)).map(|_| word(&mut chance)));
        let wanted = kit::SetupRequest { parts: parts.iter().map(|p| p.to_string()).collect(), ..Default::default() };
        match report_of(&kit, &wanted) {
            Ok(_) => taken += 1,
            Err(error) => assert!(crate::common::is_one_sentence(&error.to_string()), "{error}"),
        }
    }
    assert!(taken > 50, "{taken} taken: too wild");
}
