//! Uploads: streamed to disk under a name of our own, looked at at once, refused in words.

use std::path::PathBuf;

use axum::extract::multipart::{Field, Multipart, MultipartError};
use axum::extract::{DefaultBodyLimit, FromRequest, Request, State};
use axum::http::StatusCode;
use axum::http::header::CONTENT_LENGTH;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{MethodRouter, post};
use notebook::{FrameId, ScanDraft, ScanId};
use tokio::fs::File;
use tokio::io::AsyncWriteExt;

use super::prepare::{self, EnterError};
use super::store;
use crate::web::error::{PageError, sentence};
use crate::web::{App, fmt, off_thread};

/// Room that an upload must leave on the disk: the tiles of the largest scan and the notebook still fit.
const SPARE_BYTES: u64 = 512 * 1024 * 1024;
/// The free room is looked at again each time so much has arrived.
const LOOK_EVERY: u64 = 64 * 1024 * 1024;
/// Fields beside the files are numbers.
const SHORT_BYTES: usize = 64;
/// The longest name that is shown; longer ones are cut.
const NAME_LETTERS: usize = 120;

pub(super) fn route() -> MethodRouter<App> {
    // Scans are large and are streamed; what limits them is the disk.
    post(arrive).layer(DefaultBodyLimit::disable())
}

async fn arrive(State(app): State<App>, request: Request) -> Result<Response, PageError> {
    let announced = request.headers().get(CONTENT_LENGTH).and_then(|v| v.to_str().ok()?.parse().ok()).unwrap_or(0);
    room_for(&app, announced).await?;
    let form = Multipart::from_request(request, &app).await;
    let mut form = form.map_err(|e| PageError::refused("This was not sent by the form for scans.", e.body_text()))?;
    let (mut frame, mut entered, mut refused) = (None, 0, Vec::new());
    while let Some(field) = form.next_field().await.map_err(broken_off)? {
        match field.name() {
            Some("frame") => frame = short(field).await?.trim().parse().ok(),
            Some("file") if field.file_name().is_some_and(|name| !name.is_empty()) => {
                match take_in(&app, field, frame).await? {
                    Ok(id) => {
                        entered += 1;
                        prepare::prepare_soon(&app, id);
                    }
                    Err(why) => refused.push(why),
                }
            }
            _ => {}
        }
    }
    answer(entered, &refused)
}

fn answer(entered: usize, refused: &[String]) -> Result<Response, PageError> {
    match (entered, refused) {
        (0, []) => Err(PageError::refused("No file was chosen.", "Choose one or more scans: TIFF, PNG or JPEG.")),
        (_, []) => Ok(Redirect::to("/scans").into_response()),
        (entered, refused) => {
            let others = if entered > 0 { "The other files were loaded." } else { "Nothing was loaded." };
            Err(PageError::refused(refused.join(" "), others))
        }
    }
}

/// A field's text; the rest of one that is too long to be a number is dropped.
async fn short(mut field: Field<'_>) -> Result<String, PageError> {
    let mut text = Vec::new();
    while let Some(chunk) = field.chunk().await.map_err(broken_off)? {
        let room = SHORT_BYTES.saturating_sub(text.len());
        text.extend_from_slice(&chunk[..chunk.len().min(room)]);
    }
    Ok(String::from_utf8_lossy(&text).into_owned())
}

/// The outer error ends the request (disk, connection); the inner one concerns this file alone.
async fn take_in(app: &App, field: Field<'_>, frame: Option<FrameId>) -> Result<Result<ScanId, String>, PageError> {
    let file_name = shown_name(field.file_name().unwrap_or_default());
    let stored = store::new_name();
    let arriving = Arriving::new(app, &stored);
    let bytes = write(app, field, &arriving).await?;
    if bytes == 0 {
        return Ok(Err(format!("“{file_name}” is empty.")));
    }
    arriving.complete()?;
    let draft = ScanDraft { job: None, frame, file_name, stored: stored.clone(), bytes };
    let entering = app.clone();
    match off_thread(move || prepare::enter(&entering, &draft)).await? {
        Ok(id) => Ok(Ok(id)),
        Err(error) => {
            store::discard(app, &stored);
            match error {
                EnterError::Picture { .. } => Ok(Err(sentence(&error.to_string()))),
                EnterError::Notebook(error) => Err(error.into()),
            }
        }
    }
}

async fn write(app: &App, mut field: Field<'_>, arriving: &Arriving) -> Result<u64, PageError> {
    let mut file = File::create(&arriving.part).await.map_err(unwritten)?;
    let (mut bytes, mut looked) = (0, 0);
    while let Some(chunk) = field.chunk().await.map_err(broken_off)? {
        file.write_all(&chunk).await.map_err(unwritten)?;
        bytes += chunk.len() as u64;
        if bytes - looked >= LOOK_EVERY {
            room_for(app, 0).await?;
            looked = bytes;
        }
    }
    file.flush().await.map_err(unwritten)?;
    file.sync_all().await.map_err(unwritten)?;
    Ok(bytes)
}

/// A file on its way in; removed when the upload ends for any reason before it is complete, a cancelled one included.
struct Arriving {
    part: PathBuf,
    complete: PathBuf,
}

impl Arriving {
    fn new(app: &App, stored: &str) -> Self {
        let part = app.scans_folder().join(format!("{stored}.part"));
        Self { part, complete: store::file_of(app, stored) }
    }

    fn complete(self) -> Result<(), PageError> {
        std::fs::rename(&self.part, &self.complete).map_err(unwritten)
    }
}

impl Drop for Arriving {
    fn drop(&mut self) {
        // After completion there is nothing under this name any more.
        let _ = std::fs::remove_file(&self.part);
    }
}

async fn room_for(app: &App, bytes: u64) -> Result<(), PageError> {
    let folder = app.scans_folder();
    // Where the system does not say how much is left, writing itself will tell.
    let left = off_thread(move || fs4::available_space(&folder)).await?.unwrap_or(u64::MAX);
    if left < bytes.saturating_add(SPARE_BYTES) {
        let what = format!("The disk has {} left, which is too little for this scan and its tiles.", fmt::bytes(left));
        let advice = format!("Make room for it and {} besides, then load it again.", fmt::bytes(SPARE_BYTES));
        return Err(PageError::too_large(what, advice));
    }
    Ok(())
}

fn unwritten(cause: std::io::Error) -> PageError {
    PageError::broken("The scan could not be written to the disk; nothing of it was kept.", cause)
}

fn broken_off(error: MultipartError) -> PageError {
    match error.status() {
        StatusCode::INTERNAL_SERVER_ERROR => {
            PageError::broken("The upload broke off; only files that had arrived whole were kept.", error)
        }
        _ => PageError::refused(
            "The upload broke off or was garbled; only files that had arrived whole were kept.",
            "Look at the list of scans and load what is missing again.",
        ),
    }
}

/// Invisible characters that turn or join the text around them (Unicode's bidirectional controls, zero widths, marks).
fn is_invisible(c: char) -> bool {
    matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
}

/// A visitor's name for a file, for showing only: without folders, control characters and excessive length.
fn shown_name(given: &str) -> String {
    let base = given.rsplit(['/', '\\']).next().unwrap_or_default();
    let name: String = base.chars().filter(|c| !c.is_control() && !is_invisible(*c)).take(NAME_LETTERS).collect();
    if name.trim().is_empty() { "scan without a name".into() } else { name }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_for_showing_only() {
        assert_eq!(shown_name("../../etc/passwd"), "passwd");
        assert_eq!(shown_name("C:\\scans\\beetle.tif"), "beetle.tif");
        assert_eq!(shown_name("a\u{0}\nb.tif"), "ab.tif");
        assert_eq!(shown_name("a\u{202e}fit.tif"), "afit.tif");
        assert_eq!(shown_name("/"), "scan without a name");
        assert_eq!(shown_name(&"x".repeat(500)).len(), NAME_LETTERS);
    }
}
