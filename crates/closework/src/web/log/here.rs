//! Entries that are made at the computer itself.

use notebook::{EntryDraft, Frame, Notebook, Said, Uid};

use super::random;
use crate::web::{PageError, clock};

/// Says something of a frame at the computer.
pub fn say(book: &mut Notebook, frame: &Frame, said: Said) -> Result<(), PageError> {
    let draft = EntryDraft {
        uid: new_uid()?,
        roll: frame.roll,
        frame: Some(frame.id),
        number: Some(frame.number),
        device: None,
        sequence: 0,
        said,
        meter: String::new(),
        note: String::new(),
        said_at: clock::now(),
    };
    book.add_entry(&draft, &clock::now())?;
    Ok(())
}

/// A name for an entry: a random UUID (version 4 of RFC 9562).
fn new_uid() -> Result<Uid, PageError> {
    let token = random::token()?;
    let text = format!("{}-{}-4{}-a{}-{}", &token[..8], &token[8..12], &token[12..15], &token[15..18], &token[18..30]);
    text.parse().map_err(|error| PageError::broken("No name could be made for the entry.", error))
}
