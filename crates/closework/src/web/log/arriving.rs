//! Entries from a phone: read one by one, kept once each, refused in words.
//!
//! A batch is one transaction: what is acknowledged is on the disk. An entry that cannot be kept as it stands is named with
//! the reason and stays on the phone; it holds up no other.

use notebook::{Deviations, DeviceId, EntryDraft, FrameId, Notebook, NotebookError, RollId, Said, Uid};
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::web::error::sentence;
use crate::web::form::parse_seconds;
use crate::web::{PageError, clock};

/// The largest batch, bytes: a hundred entries with long notes.
pub const BATCH_LIMIT: usize = 512 * 1024;
/// The most entries in one batch.
const MOST: usize = 100;
/// The longest note, letters.
const NOTE: usize = 4000;
/// The longest of the other texts, letters.
const SHORT: usize = 200;
/// The most parts of a set-up.
const PARTS: usize = 40;

/// What became of a batch.
#[derive(Debug, Default, Serialize)]
pub struct Answer {
    /// Names of those that are kept, now or since an earlier arrival.
    pub kept: Vec<String>,
    /// Those that are not, and why.
    pub refused: Vec<NotKept>,
}

/// An entry that is not kept.
#[derive(Debug, Serialize)]
pub struct NotKept {
    /// Its name, as far as it had one.
    pub uid: String,
    /// Why, in a sentence.
    pub why: String,
}

#[derive(Debug, Deserialize)]
struct Batch {
    entries: Vec<Value>,
}

/// An entry as a phone sends it.
#[derive(Debug, Deserialize)]
struct Sent {
    uid: String,
    frame: Option<i64>,
    number: Option<u32>,
    sequence: u32,
    said: String,
    #[serde(default)]
    set: SetSent,
    #[serde(default)]
    meter: String,
    #[serde(default)]
    note: String,
    said_at: String,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct SetSent {
    parts: Option<Vec<String>>,
    focus: Option<String>,
    f_number: Option<f64>,
    shutter_s: Option<f64>,
}

/// Reads a batch; one that is none is refused whole.
pub fn read(body: &[u8]) -> Result<Vec<Value>, PageError> {
    let advice =
        "What is kept on the phone stays. Load the page again; if this comes again, the page is of another version.";
    let batch: Batch = serde_json::from_slice(body)
        .map_err(|error| PageError::refused(format!("These are no log entries ({error})."), advice))?;
    if batch.entries.len() > MOST {
        let what = format!("{} entries came at once; at most {MOST} are taken.", batch.entries.len());
        return Err(PageError::refused(what, advice));
    }
    Ok(batch.entries)
}

/// Keeps the entries of a batch, in order.
pub fn keep(book: &mut Notebook, roll: RollId, phone: DeviceId, batch: &[Value]) -> Result<Answer, PageError> {
    let now = clock::now();
    let answer = book.atomically(|book| {
        let mut answer = Answer::default();
        for sent in batch {
            match keep_one(book, roll, phone, sent, &now)? {
                Ok(uid) => answer.kept.push(uid),
                Err(refusal) => answer.refused.push(refusal),
            }
        }
        Ok(answer)
    });
    Ok(answer?)
}

/// The outer error ends the batch (disk, file); the inner one concerns this entry alone.
fn keep_one(
    book: &mut Notebook,
    roll: RollId,
    phone: DeviceId,
    sent: &Value,
    now: &str,
) -> Result<Result<String, NotKept>, NotebookError> {
    let uid = sent.get("uid").and_then(Value::as_str).unwrap_or_default().to_owned();
    let refused = |why: String| Ok(Err(NotKept { uid: uid.clone(), why: sentence(&why) }));
    let draft = match draft_of(sent, roll, phone) {
        Ok(draft) => draft,
        Err(why) => return refused(why),
    };
    match book.add_entry(&draft, now) {
        Ok(_) => Ok(Ok(uid)),
        Err(error @ (NotebookError::Value { .. } | NotebookError::Refused { .. })) => refused(error.to_string()),
        Err(error) => Err(error),
    }
}

fn draft_of(sent: &Value, roll: RollId, phone: DeviceId) -> Result<EntryDraft, String> {
    let sent = Sent::deserialize(sent).map_err(|error| format!("this entry cannot be read ({error})"))?;
    let uid: Uid = sent.uid.parse().map_err(|error: notebook::UidError| error.to_string())?;
    short("the note", &sent.note, NOTE)?;
    short("the meter reading", &sent.meter, SHORT)?;
    if !is_time(&sent.said_at) {
        return Err(format!("“{}” is not a time", sent.said_at.chars().take(40).collect::<String>()));
    }
    Ok(EntryDraft {
        uid,
        roll,
        frame: sent.frame.map(FrameId),
        number: sent.number,
        device: Some(phone),
        sequence: sent.sequence,
        said: said_of(&sent.said, sent.set, &sent.meter)?,
        meter: sent.meter,
        note: sent.note,
        said_at: sent.said_at,
    })
}

fn said_of(word: &str, set: SetSent, meter: &str) -> Result<Said, String> {
    let deviations = || -> Result<Deviations, String> {
        set.focus.iter().chain(set.parts.iter().flatten()).try_for_each(|text| short("the set-up", text, SHORT))?;
        if set.parts.as_ref().is_some_and(|parts| parts.len() > PARTS) {
            return Err(format!("the set-up has more than {PARTS} parts"));
        }
        let SetSent { parts, focus, f_number, shutter_s } = set;
        Ok(Deviations { parts, focus, f_number, shutter_s, metered_s: metered(meter) })
    };
    match word {
        "taken" => Ok(Said::Taken),
        "changed" => Ok(Said::Changed(deviations()?)),
        "extra" => Ok(Said::Extra(deviations()?)),
        "left out" => Ok(Said::LeftOut),
        "note" => Ok(Said::Note),
        "put back" => Ok(Said::PutBack),
        other => {
            Err(format!("“{}” is nothing that can be said of a frame", other.chars().take(40).collect::<String>()))
        }
    }
}

/// A meter shows exposure values, f-numbers and times; only what is plainly a time is taken for one.
fn metered(shown: &str) -> Option<f64> {
    let shown = shown.trim();
    (shown.contains('/') || shown.ends_with('s')).then(|| parse_seconds(shown)).flatten()
}

fn short(what: &str, text: &str, most: usize) -> Result<(), String> {
    let letters = text.chars().count();
    if letters <= most { Ok(()) } else { Err(format!("{what} has {letters} letters; at most {most} are taken")) }
}

/// RFC 3339 in its looks: what a phone's clock says is kept as it said it.
fn is_time(text: &str) -> bool {
    let shape = |byte: u8| byte.is_ascii_digit() || matches!(byte, b'-' | b':' | b'T' | b'Z' | b'.' | b'+');
    (20..=40).contains(&text.len()) && text.bytes().all(shape)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_is_plainly_a_time_is_metered() {
        assert_eq!(metered("1/60"), Some(1.0 / 60.0));
        assert_eq!(metered(" 0,5 s"), Some(0.5));
        for other in ["60", "EV 9.7", "9.7", "f/8", "", "1/0", "seconds"] {
            assert_eq!(metered(other), None, "{other}");
        }
    }

    #[test]
    fn times_look_like_times() {
        assert!(is_time("2026-03-01T09:00:00.123Z") && is_time("2026-03-01T09:00:00+01:00"));
        for wrong in ["", "now", "2026-03-01", "2026-03-01T09:00:00Z; drop", "<2026-03-01T09:00:00Z>"] {
            assert!(!is_time(wrong), "{wrong}");
        }
    }
}
