//! The target card as the program makes it: which print it is, which day it is, what to know of it in words.

use printing::{Date, Printed};
use std::hash::{BuildHasher, Hasher};
use target::{Card, Identity, Note, Paper};

/// An identity that no other card is likely to have: the system's randomness, as the standard library seeds its tables.
pub fn random_identity() -> Identity {
    let mut hasher = std::collections::hash_map::RandomState::new().build_hasher();
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap_or_default();
    hasher.write_u128(since.as_nanos());
    Identity::from_number(hasher.finish())
}

/// An identity as it is printed on a card: five letters or digits. Nothing for anything else.
pub fn identity(text: &str) -> Option<Identity> {
    let text = text.trim();
    let plain = text.len() == 5 && text.bytes().all(|byte| byte.is_ascii_alphanumeric());
    plain.then(|| u64::from_str_radix(text, 36).ok().map(Identity::from_number)).flatten()
}

/// A paper by its name.
pub fn paper(text: &str) -> Option<Paper> {
    [Paper::A4, Paper::Letter].into_iter().find(|paper| paper.name() == text.trim().to_lowercase())
}

/// Today, in UTC.
pub fn today() -> Option<Date> {
    let now = crate::web::clock::now();
    let mut parts = now.get(..10)?.split('-').map(str::parse::<u16>);
    let (year, month, day) = (parts.next()?.ok()?, parts.next()?.ok()?, parts.next()?.ok()?);
    Some(Date { year, month: u8::try_from(month).ok()?, day: u8::try_from(day).ok()? })
}

/// The card on paper, made today.
pub fn on_paper(card: &Card, paper: Paper) -> Printed {
    printing::print(card, paper, today())
}

/// What to know of a card, a sentence each.
pub fn notes(card: &Card) -> Vec<String> {
    card.notes.iter().map(note).collect()
}

fn note(note: &Note) -> String {
    match note {
        Note::SoftEdges { rise_mm, half_contrast_lp_mm } => format!(
            "Printed edges rise over about {rise_mm} mm and have lost half their contrast at {half_contrast_lp_mm:.1} lp/mm on the card: beyond about 1:3 lay blades over them."
        ),
        Note::TooSmallForGreys { from_mm } => format!(
            "On a field whose shorter side is below {from_mm} mm nothing grey is printed and no ramp can be folded: the card has places for a grey scale, a tilted steel rule and blades."
        ),
        Note::SeveralSheets { count } => format!(
            "The field takes {count} sheets, to be laid in its middle and its corners; a map on each says where."
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identities_are_read_as_they_are_printed() {
        for number in [0, 7, 60_466_175, 12_345_678] {
            let printed = Identity::from_number(number);
            assert_eq!(identity(&printed.to_string()), Some(printed));
            assert_eq!(identity(&printed.to_string().to_lowercase()), Some(printed));
        }
        for wrong in ["", "ABCD", "ABCDEF", "AB-DE", "+ABCD", "ÄÄÄ"] {
            assert_eq!(identity(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn random_identities_differ() {
        // Of 60 million: that twenty are one has a chance of 1 in 10^147.
        let some: std::collections::HashSet<_> = (0..20).map(|_| random_identity()).collect();
        assert!(some.len() > 1);
    }

    #[test]
    fn today_is_the_day_of_the_clock() {
        let today = today().expect("a date").to_string();
        // The day may turn between the two.
        assert!(crate::web::clock::now() >= today && today.len() == 10);
    }
}
