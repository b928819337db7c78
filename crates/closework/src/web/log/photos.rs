//! Photos of set-ups from a phone: in pieces, so that a lost connection costs one piece and not the picture.
//!
//! A picture is begun with its size; each piece says where it goes, and one that does not go on where the last ended is
//! answered with where that is. The whole is looked at before it counts as kept.

use std::fs::{File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use notebook::{Photo, PhotoDraft};
use serde::Serialize;

use super::phone::PhoneError;
use crate::web::{App, PageError, clock, fmt};

/// The largest piece, bytes.
pub const PIECE_LIMIT: usize = 1024 * 1024;
/// The largest photo, bytes: the page makes photos smaller, and one that it could not make smaller fits too.
pub const PHOTO_LIMIT: u64 = 24 * 1024 * 1024;

/// How much of a photo has arrived.
#[derive(Debug, Serialize)]
pub struct Standing {
    /// Bytes that are there.
    pub have: u64,
    /// Whether the whole is there and is a picture.
    pub done: bool,
}

/// Takes in a piece that goes at `offset`.
pub fn take(app: &App, draft: &PhotoDraft, offset: u64, piece: &[u8]) -> Result<Standing, PhoneError> {
    if draft.bytes > PHOTO_LIMIT {
        let what = format!("The photo has {}; at most {} are taken.", fmt::bytes(draft.bytes), fmt::bytes(PHOTO_LIMIT));
        return Err(PageError::too_large(what, "Take it again with the phone's camera at a smaller size.").into());
    }
    let _turn = app.camera().photo_turn();
    let begun = app.with_notebook(|book| book.begin_photo(draft, &clock::now())).map_err(PageError::from)?;
    if begun.stored.is_some() {
        return Ok(Standing { have: begun.bytes, done: true });
    }
    if begun.bytes != draft.bytes {
        return Err(PageError::refused("Another photo began under this name.", "Take the photo again.").into());
    }
    let part = app.photos_folder().join(format!("{}.part", begun.id));
    let have = append(&part, offset, piece, begun.bytes)?;
    if have < begun.bytes {
        return Ok(Standing { have, done: false });
    }
    finish(app, &begun, &part)?;
    Ok(Standing { have, done: true })
}

/// Writes a piece to the end of what is there, and gives the new length. An empty piece asks for the length alone.
fn append(part: &Path, offset: u64, piece: &[u8], whole: u64) -> Result<u64, PhoneError> {
    let mut file = OpenOptions::new().append(true).create(true).open(part).map_err(unwritten)?;
    let have = file.metadata().map_err(unwritten)?.len();
    if piece.is_empty() || have >= whole {
        return Ok(have);
    }
    if offset != have {
        return Err(PhoneError::conflict(format!("The piece goes at byte {offset}, and {have} bytes are there.")));
    }
    if have + piece.len() as u64 > whole {
        let what = format!("More came than the {} that were announced.", fmt::bytes(whole));
        return Err(PageError::too_large(what, "Take the photo again.").into());
    }
    file.write_all(piece).and_then(|()| file.sync_all()).map_err(unwritten)?;
    Ok(have + piece.len() as u64)
}

/// Gives the whole picture its name and notes it. What is no picture is thrown away and told.
fn finish(app: &App, begun: &Photo, part: &Path) -> Result<(), PhoneError> {
    let Some(kind) = kind_of(part) else {
        let gone = app.with_notebook(|book| book.delete_photo(begun.id)).map_err(PageError::from);
        let _ = std::fs::remove_file(part);
        gone?;
        let advice = "Only JPEG and PNG pictures are kept here. Take the photo with the phone's camera.";
        return Err(PageError::refused("The file from the phone is no picture that can be shown.", advice).into());
    };
    let stored = format!("{}.{kind}", begun.id);
    std::fs::rename(part, file_of(app, &stored)).map_err(unwritten)?;
    // The new name itself must survive a power cut.
    File::open(app.photos_folder()).and_then(|folder| folder.sync_all()).map_err(unwritten)?;
    app.with_notebook(|book| book.finish_photo(begun.id, &stored)).map_err(PageError::from)?;
    Ok(())
}

/// Where a photo lies, by its stored name.
pub fn file_of(app: &App, stored: &str) -> PathBuf {
    app.photos_folder().join(stored)
}

/// "jpg" or "png" for a file that begins as one of them and whose header can be read.
fn kind_of(path: &Path) -> Option<&'static str> {
    let kind = match first_bytes(path).ok()? {
        [0xff, 0xd8, 0xff, _] => "jpg",
        [0x89, b'P', b'N', b'G'] => "png",
        _ => return None,
    };
    imaging::Scan::open(path).ok().map(|_| kind)
}

fn first_bytes(path: &Path) -> io::Result<[u8; 4]> {
    let mut bytes = [0; 4];
    File::open(path)?.read_exact(&mut bytes)?;
    Ok(bytes)
}

fn unwritten(cause: io::Error) -> PhoneError {
    PageError::broken("The photo could not be written at the computer; it stays on the phone.", cause).into()
}
