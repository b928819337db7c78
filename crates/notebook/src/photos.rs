//! Pictures of the set-up, taken with the phone.

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::ids::{DeviceId, FrameId, PhotoId, RollId, Uid};
use crate::store::Notebook;
use crate::values::{allowed, filled};

/// A picture that begins to arrive.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PhotoDraft {
    /// Its name from the phone: a second arrival is known by it.
    pub uid: Uid,
    /// The roll.
    pub roll: RollId,
    /// The frame, when it is of one.
    pub frame: Option<FrameId>,
    /// That frame's number on the film.
    pub number: Option<u32>,
    /// The phone; none for the computer.
    pub device: Option<DeviceId>,
    /// The size of the whole file, in bytes; at least 1.
    pub bytes: u64,
    /// When it was taken, by the phone's clock (RFC 3339).
    pub said_at: String,
}

/// A picture of a set-up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Photo {
    /// Its number.
    pub id: PhotoId,
    /// Its name from the phone.
    pub uid: Uid,
    /// The roll; none once that was deleted.
    pub roll: Option<RollId>,
    /// The frame, when it is of one that is still there.
    pub frame: Option<FrameId>,
    /// That frame's number on the film.
    pub number: Option<u32>,
    /// The phone; none for the computer.
    pub device: Option<DeviceId>,
    /// The size of the whole file, in bytes.
    pub bytes: u64,
    /// When it was taken, by the phone's clock (RFC 3339).
    pub said_at: String,
    /// When it began to arrive.
    pub arrived: String,
    /// Its name in the folder of photos once it is whole.
    pub stored: Option<String>,
}

impl Photo {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            id: row.get("id")?,
            uid: row.get("uid")?,
            roll: row.get("roll")?,
            frame: row.get("frame")?,
            number: row.get("number")?,
            device: row.get("device")?,
            bytes: row.get::<_, i64>("bytes")?.unsigned_abs(),
            said_at: row.get("said_at")?,
            arrived: row.get("arrived")?,
            stored: row.get("stored")?,
        })
    }
}

impl Notebook {
    /// Begins a picture, or gives the one of that name that was begun before. `now` is RFC 3339.
    ///
    /// A roll or frame that was deleted meanwhile is left out: the picture is kept without it.
    pub fn begin_photo(&mut self, draft: &PhotoDraft, now: &str) -> Result<Photo, NotebookError> {
        let bytes = i64::try_from(draft.bytes).unwrap_or(i64::MAX);
        allowed(bytes > 0, "the size of the photo", bytes as f64, "1 byte or more")?;
        self.atomically(|book| {
            if let Some(known) = book.photo_called(&draft.uid)? {
                return Ok(known);
            }
            let (roll, frame) = book.still_there(draft.roll, draft.frame)?;
            let sql = "INSERT INTO photos (uid, roll, frame, number, device, bytes, said_at, arrived) \
                       VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)";
            let id = book
                .insert(sql, params![draft.uid, roll, frame, draft.number, draft.device, bytes, draft.said_at, now])?;
            book.photo(PhotoId(id))?.ok_or(NotebookError::NoSuchPhoto { id: PhotoId(id) })
        })
    }

    /// Which of a roll and a frame of it are there.
    fn still_there(
        &self,
        roll: RollId,
        frame: Option<FrameId>,
    ) -> Result<(Option<RollId>, Option<FrameId>), NotebookError> {
        let Some(roll) = self.roll(roll)?.map(|roll| roll.id) else { return Ok((None, None)) };
        let frame = frame.map(|frame| self.frame(frame)).transpose()?.flatten();
        Ok((Some(roll), frame.filter(|frame| frame.roll == roll).map(|frame| frame.id)))
    }

    /// Notes that the picture is whole and lies under this name in the folder of photos.
    pub fn finish_photo(&mut self, id: PhotoId, stored: &str) -> Result<(), NotebookError> {
        filled("the name under which the photo is kept", stored)?;
        let sql = "UPDATE photos SET stored = ?2 WHERE id = ?1";
        Ok(self
            .write_one(sql, params![id, stored], NotebookError::NoSuchPhoto { id })
            .map_err(|failure| failure.taken(NotebookError::StoredNameTaken { stored: stored.to_owned() }))?)
    }

    /// The picture of this number.
    pub fn photo(&self, id: PhotoId) -> Result<Option<Photo>, NotebookError> {
        self.one("SELECT * FROM photos WHERE id = ?1", [id], Photo::read)
    }

    /// The picture of this name.
    pub fn photo_called(&self, uid: &Uid) -> Result<Option<Photo>, NotebookError> {
        self.one("SELECT * FROM photos WHERE uid = ?1", [uid], Photo::read)
    }

    /// The pictures of a roll, in the order in which they began to arrive.
    pub fn photos_of_roll(&self, roll: RollId) -> Result<Vec<Photo>, NotebookError> {
        self.many("SELECT * FROM photos WHERE roll = ?1 ORDER BY id", [roll], Photo::read)
    }

    /// The pictures of a frame, in the order in which they began to arrive.
    pub fn photos_of_frame(&self, frame: FrameId) -> Result<Vec<Photo>, NotebookError> {
        self.many("SELECT * FROM photos WHERE frame = ?1 ORDER BY id", [frame], Photo::read)
    }

    /// The pictures whose roll was deleted.
    pub fn photos_without_roll(&self) -> Result<Vec<Photo>, NotebookError> {
        self.many("SELECT * FROM photos WHERE roll IS NULL ORDER BY id", [], Photo::read)
    }

    /// Deletes a picture and gives its name in the folder of photos, if it was whole, so that the file can follow.
    pub fn delete_photo(&mut self, id: PhotoId) -> Result<Option<String>, NotebookError> {
        self.atomically(|book| {
            let stored = book.photo(id)?.ok_or(NotebookError::NoSuchPhoto { id })?.stored;
            book.write("DELETE FROM photos WHERE id = ?1", [id])?;
            Ok(stored)
        })
    }
}
