//! The phones that were paired with this notebook.

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::ids::DeviceId;
use crate::store::Notebook;
use crate::values::filled;

/// A phone that was paired. It stays in the list when it is turned away, for entries name it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Device {
    /// Its number.
    pub id: DeviceId,
    /// What the person calls it.
    pub name: String,
    /// When it was paired, as the caller wrote it (RFC 3339).
    pub paired: String,
    /// When it was last heard of.
    pub seen: String,
    /// When it was turned away, if it was.
    pub revoked: Option<String>,
}

impl Device {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            id: row.get("id")?,
            name: row.get("name")?,
            paired: row.get("paired")?,
            seen: row.get("seen")?,
            revoked: row.get("revoked")?,
        })
    }
}

impl Notebook {
    /// Takes in a phone. Of its token only a hash is kept; `now` is RFC 3339.
    pub fn add_device(&mut self, name: &str, token_hash: &str, now: &str) -> Result<DeviceId, NotebookError> {
        filled("the name of the phone", name)?;
        filled("the hash of the phone's token", token_hash)?;
        let sql = "INSERT INTO devices (name, token_hash, paired, seen) VALUES (?1, ?2, ?3, ?3)";
        Ok(DeviceId(self.insert(sql, params![name, token_hash, now])?))
    }

    /// The phone whose token has this hash, also when it was turned away.
    pub fn device_with_token(&self, token_hash: &str) -> Result<Option<Device>, NotebookError> {
        self.one("SELECT * FROM devices WHERE token_hash = ?1", [token_hash], Device::read)
    }

    /// All phones that were ever paired, in that order.
    pub fn devices(&self) -> Result<Vec<Device>, NotebookError> {
        self.many("SELECT * FROM devices ORDER BY id", [], Device::read)
    }

    /// Notes that the phone was heard of.
    pub fn set_device_seen(&mut self, id: DeviceId, now: &str) -> Result<(), NotebookError> {
        let sql = "UPDATE devices SET seen = ?2 WHERE id = ?1";
        Ok(self.write_one(sql, params![id, now], NotebookError::NoSuchDevice { id })?)
    }

    /// Turns the phone away for good. What it logged stays; the first time of several counts.
    pub fn revoke_device(&mut self, id: DeviceId, now: &str) -> Result<(), NotebookError> {
        let sql = "UPDATE devices SET revoked = coalesce(revoked, ?2) WHERE id = ?1";
        Ok(self.write_one(sql, params![id, now], NotebookError::NoSuchDevice { id })?)
    }

    /// The highest sequence number that this phone has sent; 0 when it has sent nothing.
    pub fn last_sequence(&self, id: DeviceId) -> Result<u32, NotebookError> {
        let sql = "SELECT coalesce(max(sequence), 0) FROM log_entries WHERE device = ?1";
        Ok(self.one(sql, [id], |row| row.get(0))?.unwrap_or(0))
    }
}
