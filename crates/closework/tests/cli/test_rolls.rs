//! `closework test-roll`

use crate::{Value, document, refusal};
use testkit::assert_close;

/// A seed of 40 mm, 4 mm deep, on the kit's one lens with and without its close-up lens, on the bellows.
const ASKED: [&str; 12] = [
    "test-roll",
    "--subject",
    "40",
    "--depth-mm",
    "4",
    "--print-mm",
    "300",
    "--setup",
    "six,bellows,normal",
    "--setup",
    "six,bellows,normal,plus-4",
    "--json",
];

fn with(more: &[&str]) -> Vec<&'static str> {
    // Arguments of a test live as long as it does.
    ASKED.iter().copied().chain(more.iter().map(|word| &*word.to_string().leak())).collect()
}

#[test]
fn a_plan_as_a_document() {
    let found: Value = document(&with(&["--roll", "12"]));
    // A subject of 40 mm filling 80 % of 56 mm: 1.12 times.
    assert_close!(found["wanted_magnification"].as_f64().unwrap(), 1.12, relative = 1e-12);
    let group = &found["groups"][0];
    let set_ups = group["set_ups"].as_array().unwrap();
    assert_eq!(set_ups.len(), 2);
    // The lens alone: extension e = f·m = 89.6 mm, of which the bellows draws what the tenth of a millimetre allows (closed
    // form of the thin lens, extension over focal length).
    let parts = set_ups[0]["parts"].as_array().unwrap();
    let draw: f64 = parts[1].as_str().unwrap().strip_prefix("bellows=").unwrap().parse().unwrap();
    let travel: f64 =
        set_ups[0]["focus"].as_str().unwrap().strip_prefix("travel=").map_or(0.0, |mm| mm.parse().unwrap());
    assert_close!(draw + travel, 89.6, absolute = 0.15);
    for set_up in set_ups {
        assert_close!(set_up["magnification"]["value"].as_f64().unwrap(), 1.12, relative = 0.01);
        assert!(set_up["magnification"]["plus_minus"].as_f64().unwrap() > 0.0);
    }
    let frames = found["rolls"][0].as_array().unwrap();
    assert!(frames.len() <= 12 && frames[0]["slot"].as_str().unwrap().starts_with("start."));
    assert!(frames.iter().all(|frame| frame["purpose"].as_str().unwrap().ends_with('.')));
    let tells = &found["tells"];
    assert!(tells["told"].as_u64().unwrap() <= tells["of"].as_u64().unwrap());
    let changes = &found["changes"];
    assert!(changes["at_least"].as_u64().unwrap() <= changes["cost"].as_u64().unwrap());
}

#[test]
fn fewer_frames_say_what_is_missing() {
    let found = document(&with(&["--roll", "3"]));
    assert_eq!(found["rolls"][0].as_array().unwrap().len(), 3);
    assert!(!found["cannot_tell"].as_array().unwrap().is_empty());
    assert!(found["one_more_roll"]["frames"].as_u64().unwrap() > 0);
}

#[test]
fn refusals() {
    let base = ["test-roll", "--subject", "40", "--print-mm", "300"];
    let asked = |more: &[&'static str]| {
        refusal(&base.iter().copied().chain(more.iter().copied()).collect::<Vec<_>>(), crate::KIT)
    };
    let twice = asked(&["--setup", "six,bellows,normal", "--setup", "six,bellows=90,normal"]);
    assert!(twice.contains("is chosen twice"), "{twice}");
    let far = asked(&["--setup", "six,bellows,normal", "--setup", "six,normal", "--own-tubes-only"]);
    assert!(far.contains("share no magnification"), "{far}");
    let none = asked(&["--setup", "six,bellows,normal", "--roll", "0"]);
    assert!(none.contains("--roll"), "{none}");
    let unknown = asked(&["--setup", "six,bellows,nrmal"]);
    assert!(unknown.contains("nrmal"), "{unknown}");
    let missing = asked(&[]);
    assert!(missing.contains("--setup"), "{missing}");
    let closed =
        asked(&["--setup", "six,bellows,normal", "--setup", "six,bellows,normal,plus-4", "--effective", "700"]);
    assert!(closed.contains("effective f-number 700"), "{closed}");
}

/// Tubes that do not reach the size are told to have been exchanged, and two set-ups that become one are named.
#[test]
fn what_stands_in_the_place_of_what_was_named_is_said() {
    let asked =
        ["test-roll", "--subject", "40", "--print-mm", "300", "--setup", "six,normal", "--setup", "six,bellows,normal"];
    let (_folder, path) = crate::kit(crate::KIT);
    let words = String::from_utf8_lossy(&crate::closework(&asked, &path).stdout).into_owned();
    assert!(words.contains("in the place of six,normal, which does not come to this size"), "{words}");
    assert!(words.contains("A and B come to the same set-up"), "{words}");
}
