//! One cell of a table as people write it. Each refusal is read after "row 7, f_number:".

use kit::{Focus, Kind, Kit};
use notebook::FrameState;

use crate::web::form::parse_number;

/// Enough of what was typed to recognise it.
pub fn shown(text: &str) -> String {
    let short: String = text.chars().take(40).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().count() > 40 { format!("“{short}…”") } else { format!("“{short}”") }
}

/// A number within limits; `what` and `like` are for the refusal.
fn within(text: &str, found: Option<f64>, [low, high]: [f64; 2], what: &str, like: &str) -> Result<f64, String> {
    match found {
        Some(found) if (low..=high).contains(&found) => Ok(found),
        Some(_) => Err(format!("{} lies outside {low} to {high}; write {what} like {like}", shown(text))),
        None => Err(format!("{} is not {what}; write it like {like}", shown(text))),
    }
}

/// An engraved f-number: 5.6, "f/5,6", "F8", "f 11".
pub fn f_number(text: &str) -> Result<f64, String> {
    let bare = text.trim();
    let bare = bare.strip_prefix(['f', 'F', 'ƒ']).map_or(bare, |rest| rest.trim_start().trim_start_matches(['/', ':']));
    // "1:2.8" as it stands on the ring of a lens.
    let bare = bare.trim().strip_prefix("1:").unwrap_or(bare.trim());
    within(text, parse_number(bare.trim()), [0.5, 1000.0], "an f-number", "5.6 or f/5.6")
}

/// Seconds: 0.5, "0,5", "1/125", "1/125 s", "2 s", `4"`, "2 min 5 s".
pub fn seconds(text: &str) -> Result<f64, String> {
    within(text, time(text), [1e-6, 1e6], "a time in seconds", "1/125, 0.5, 2 s or 4\"")
}

fn time(text: &str) -> Option<f64> {
    let text = text.trim().replace('\u{a0}', " ");
    if let Some((minutes, rest)) = text.split_once("min") {
        let minutes = parse_number(minutes.trim()).filter(|n| *n >= 0.0)?;
        let rest = rest.trim_start_matches("utes").trim_start_matches("ute").trim_start_matches('.').trim();
        let seconds = if rest.is_empty() { 0.0 } else { time(rest)? };
        return Some(60.0 * minutes + seconds);
    }
    let bare = ["seconds", "second", "secs", "sec.", "sec", "s.", "s", "\"", "″", "”", "''"]
        .iter()
        .find_map(|unit| text.strip_suffix(unit))
        .unwrap_or(&text)
        .trim_end();
    match bare.split_once('/') {
        None => parse_number(bare),
        Some((above, below)) => {
            let (above, below) = (parse_number(above.trim())?, parse_number(below.trim())?);
            Some(above / below).filter(|time| time.is_finite())
        }
    }
}

/// The largest number that a frame may have: no roll holds so many.
pub const MOST_FRAMES: f64 = 9999.0;

/// A frame's number on the film.
pub fn frame_number(text: &str) -> Result<u32, String> {
    let found = parse_number(text.trim()).filter(|number| number.fract() == 0.0);
    within(text, found, [0.0, MOST_FRAMES], "the number of a frame", "7").map(|number| number as u32)
}

/// A film speed.
pub fn iso(text: &str) -> Result<f64, String> {
    let bare = text.trim();
    let named = ["ISO", "iso", "Iso", "ASA", "EI"].iter().find_map(|word| bare.strip_prefix(word));
    within(text, parse_number(named.unwrap_or(bare).trim()), [0.1, 1e6], "a film speed", "100")
}

/// A length in mm that may be negative.
pub fn offset_mm(text: &str) -> Result<f64, String> {
    let bare = text.trim();
    let bare = bare.strip_suffix("mm").unwrap_or(bare).trim_end();
    within(text, parse_number(bare), [-1000.0, 1000.0], "a distance in mm", "0.5 or -0.5")
}

/// How far a frame has come.
pub fn state(text: &str) -> Result<FrameState, String> {
    match text.trim().to_lowercase().as_str() {
        "planned" => Ok(FrameState::Planned),
        "taken" | "shot" | "exposed" | "done" => Ok(FrameState::Shot),
        "left out" | "leftout" | "left-out" | "skipped" | "blank" | "not taken" => Ok(FrameState::LeftOut),
        _ => Err(format!("{} is no state of a frame; write planned, taken or left out", shown(text))),
    }
}

/// How the lens is focused, as the set-up takes it: "travel=3,5 mm" is "travel=3.5".
pub fn focus(text: &str) -> Result<String, String> {
    let plain = text.trim().to_lowercase();
    let plain = plain.strip_suffix("mm").unwrap_or(&plain).trim_end();
    let plain = match plain.split_once(['=', ' ']) {
        Some((word, number)) => match parse_number(number.trim_start_matches('=').trim()) {
            Some(number) => format!("{word}={number}"),
            None => plain.to_owned(),
        },
        None if plain == "∞" || plain == "inf" => "infinity".to_owned(),
        None => plain.to_owned(),
    };
    plain
        .parse::<Focus>()
        .map(|focus| focus.to_string())
        .map_err(|_| format!("{} is no focus; write infinity, closest, travel=3.5 or distance=450 (mm)", shown(text)))
}

/// What parts are told apart by in one cell.
const BETWEEN_PARTS: [char; 6] = [',', ';', '+', '·', '\n', '|'];

/// The parts of a set-up from the body outwards, by id or by name, as ids; without a body in front the job's own, or the
/// kit's only one, is put there.
pub fn parts(text: &str, kit: &Kit, body: Option<&str>) -> Result<Vec<String>, String> {
    // A name may hold a comma of its own ("Tube, 26 mm"): whole names are looked for first.
    let mut words: Vec<String> = Vec::new();
    for chunk in text.split(['·', '\n', '|', ';']).map(str::trim).filter(|chunk| !chunk.is_empty()) {
        match part_word(kit, chunk) {
            Ok(word) => words.push(word),
            Err(_) => listed(chunk, kit, &mut words)?,
        }
    }
    let is_body = |word: &String| kit.part(id_of(word)).is_some_and(|part| part.kind() == Kind::Body);
    if !words.is_empty() && !words.iter().any(is_body) {
        words.insert(0, usual_body(kit, body)?);
    }
    Ok(words)
}

/// A part's name holds at most so many commas.
const MOST_COMMAS: usize = 4;

/// Words between commas and plus signs; "bellows=85,5" is one of them.
fn listed(chunk: &str, kit: &Kit, words: &mut Vec<String>) -> Result<(), String> {
    let pieces: Vec<&str> = chunk.split(BETWEEN_PARTS).map(str::trim).filter(|piece| !piece.is_empty()).collect();
    let mut index = 0;
    while index < pieces.len() {
        // The longest run of pieces that is a part: names hold commas, numbers decimal commas.
        let end = pieces.len().min(index + MOST_COMMAS + 1);
        let longest = (index..end).rev().find_map(|last| {
            let joined = if last == index { pieces[index].to_owned() } else { joined(&pieces[index..=last]) };
            Some((last, part_word(kit, &joined).ok()?))
        });
        let Some((last, word)) = longest else {
            return part_word(kit, pieces[index]).map(drop);
        };
        words.push(word);
        index = last + 1;
    }
    Ok(())
}

/// Pieces as they stood: a number goes on without a blank.
fn joined(pieces: &[&str]) -> String {
    let digits = |piece: &&&str| piece.chars().all(|c| c.is_ascii_digit());
    let number = pieces.len() == 2 && pieces[1..].iter().all(|piece| digits(&piece)) && pieces[0].contains('=');
    pieces.join(if number { "," } else { ", " })
}

fn id_of(word: &str) -> &str {
    word.split_once('=').map_or(word, |(id, _)| id)
}

/// One part: "tube-26", "bellows=85,5", "Bellows at 85 mm", "Normal lens, 85 mm", "normal-85=reversed", "free=120".
fn part_word(kit: &Kit, text: &str) -> Result<String, String> {
    let text = text.trim();
    let at = text.strip_suffix("mm").and_then(|front| front.rsplit_once(" at "));
    let (name, setting) = match (text.split_once('='), at) {
        (Some((name, setting)), _) => (name.trim(), Some(setting.trim())),
        (None, Some((name, mm))) => (name.trim(), Some(mm.trim())),
        (None, None) => match text.strip_suffix(", reversed") {
            Some(name) => (name.trim(), Some("reversed")),
            None => (text, None),
        },
    };
    let id = if name == kit::FREE { name.to_owned() } else { part_id(kit, name)? };
    match setting {
        None => Ok(id),
        Some("reversed") => Ok(format!("{id}=reversed")),
        Some(number) => {
            let bare = number.strip_suffix("mm").unwrap_or(number).trim();
            let mm = parse_number(bare)
                .ok_or_else(|| format!("{} is no draw in mm; write it like {id}=85", shown(number)))?;
            Ok(format!("{id}={mm}"))
        }
    }
}

/// A part by its id, or by its name where no other part has that.
fn part_id(kit: &Kit, name: &str) -> Result<String, String> {
    if kit.part(name).is_some() {
        return Ok(name.to_owned());
    }
    let mut named = kit.parts().iter().filter(|part| part.name().trim().eq_ignore_ascii_case(name));
    match (named.next(), named.next()) {
        (Some(part), None) => Ok(part.id().to_owned()),
        (Some(one), Some(other)) => {
            Err(format!("{} names two parts of the kit; write {} or {}", shown(name), one.id(), other.id()))
        }
        (None, _) => {
            let near = kit.closest_id(name).map(|id| format!("; did you mean {id}?")).unwrap_or_default();
            Err(format!("the kit has no part {}{near}", shown(name)))
        }
    }
}

fn usual_body(kit: &Kit, body: Option<&str>) -> Result<String, String> {
    if let Some(body) = body.filter(|id| kit.part(id).is_some()) {
        return Ok(body.to_owned());
    }
    let mut bodies = kit.of_kind(Kind::Body);
    match (bodies.next(), bodies.next()) {
        (Some(only), None) => Ok(only.id().to_owned()),
        (Some(_), Some(_)) => Err("the body is missing, and the kit has several; begin the parts with one".into()),
        (None, _) => Err("the kit has no body; put it in the kit first".into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_as_people_write_them() {
        for (text, stop) in
            [("5.6", 5.6), ("f/5,6", 5.6), ("F8", 8.0), ("f 11", 11.0), ("ƒ/2.8", 2.8), ("1:2.8", 2.8), (" 16 ", 16.0)]
        {
            assert_eq!(f_number(text), Ok(stop), "{text}");
        }
        for (text, time) in [
            ("1/125", 0.008),
            ("1/125 s", 0.008),
            ("0,5", 0.5),
            ("2 s", 2.0),
            ("2s", 2.0),
            ("4\"", 4.0),
            ("4''", 4.0),
            ("1.5 sec", 1.5),
            ("2 min 5 s", 125.0),
            ("1 min", 60.0),
            ("2,5/10", 0.25),
        ] {
            assert_eq!(seconds(text), Ok(time), "{text}");
        }
        assert_eq!((frame_number("07"), frame_number("0"), frame_number("12,0")), (Ok(7), Ok(0), Ok(12)));
        assert_eq!((iso("ISO 64"), iso("100")), (Ok(64.0), Ok(100.0)));
        assert_eq!((offset_mm("-0,5 mm"), offset_mm("0.2")), (Ok(-0.5), Ok(0.2)));
        assert_eq!((state("Taken"), state("left out")), (Ok(FrameState::Shot), Ok(FrameState::LeftOut)));
        for (text, meant) in [
            ("Infinity", "infinity"),
            ("∞", "infinity"),
            ("closest", "closest"),
            ("travel=3,5 mm", "travel=3.5"),
            ("travel 3.5", "travel=3.5"),
            ("distance=450", "distance=450"),
        ] {
            assert_eq!(focus(text).as_deref(), Ok(meant), "{text}");
        }
    }

    #[test]
    fn what_cannot_be_says_what_to_write() {
        let table: [(Result<f64, String>, &str); 11] = [
            (f_number("f/o"), "“f/o” is not an f-number"),
            (f_number("0"), "outside 0.5 to 1000"),
            (f_number("5.6.1"), "like 5.6 or f/5.6"),
            (seconds("0"), "outside"),
            (seconds("B"), "“B” is not a time in seconds"),
            (seconds("1/0"), "1/125"),
            (seconds("14:05"), "is not a time"),
            (seconds("-1/125"), "outside"),
            (frame_number("7.5").map(f64::from), "the number of a frame"),
            (frame_number("-1").map(f64::from), "outside 0 to 9999"),
            (iso("fast"), "a film speed"),
        ];
        for (found, words) in table {
            assert!(found.as_ref().is_err_and(|why| why.contains(words)), "{words}: {found:?}");
        }
        assert!(focus("3.5").is_err_and(|why| why.contains("travel=3.5")));
        assert!(state("maybe").is_err_and(|why| why.contains("left out")));
        assert_eq!(shown(&"x".repeat(60)).chars().count(), 43);
    }

    fn kit() -> Kit {
        Kit::parse(crate::demo::KIT).expect("the example's kit")
    }

    #[test]
    fn set_ups_by_ids_by_names_and_without_the_body() {
        let kit = kit();
        let meant = ["copy-stand-6x6", "tube-26", "normal-85"];
        for text in [
            "copy-stand-6x6, tube-26, normal-85",
            "copy-stand-6x6 + tube-26 + normal-85",
            "copy-stand-6x6;tube-26;normal-85",
            "tube-26,normal-85",
            "Tube, 26 mm · Normal lens, 85 mm",
            "tube, 26 mm, normal lens, 85 mm",
            "6×6 body on the copy stand\nTube, 26 mm\nnormal-85",
        ] {
            assert_eq!(parts(text, &kit, None).as_deref(), Ok(&meant.map(String::from)[..]), "{text}");
        }
        let drawn = ["copy-stand-6x6", "bellows=85.5", "normal-85=reversed"].map(String::from);
        for text in ["bellows=85,5, normal-85=reversed", "Bellows at 85.5 mm · Normal lens, 85 mm, reversed"] {
            assert_eq!(parts(text, &kit, None).as_deref(), Ok(&drawn[..]), "{text}");
        }
        assert_eq!(parts("", &kit, None), Ok(vec![]));
        assert!(
            parts("tube-62", &kit, None).is_err_and(|why| why.contains("“tube-62”") && why.contains("did you mean"))
        );
        assert!(parts("bellows=wide", &kit, None).is_err_and(|why| why.contains("draw")));
    }
}
