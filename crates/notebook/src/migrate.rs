//! Bringing an older notebook up to date, step by step.

use rusqlite::{Connection, TransactionBehavior};

/// Step *n* (counted from 1) makes format *n* of format *n* - 1. Format 0 is a file with nothing in it.
pub(crate) const STEPS: &[&str] = &[include_str!("../migrations/1_first.sql")];

/// What marks a SQLite file as a notebook of this program: the letters "Clsw" in the header's `application_id`.
pub(crate) const APPLICATION_ID: i32 = i32::from_be_bytes(*b"Clsw");

/// The number of the newest format among `steps`.
pub(crate) fn newest(steps: &[&str]) -> i32 {
    i32::try_from(steps.len()).unwrap_or(i32::MAX)
}

/// Takes the steps that the file has not had yet, each in a transaction of its own together with the new number.
pub(crate) fn bring_up(db: &mut Connection, steps: &[&str]) -> rusqlite::Result<()> {
    for (number, step) in (1..).zip(steps) {
        take(db, number, step)?;
    }
    Ok(())
}

fn take(db: &mut Connection, number: i32, step: &str) -> rusqlite::Result<()> {
    // The number is read inside the transaction: another program may be bringing the same file up just now.
    let transaction = db.transaction_with_behavior(TransactionBehavior::Immediate)?;
    if version(&transaction)? < number {
        transaction.execute_batch(step)?;
        transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
        transaction.pragma_update(None, "user_version", number)?;
    }
    transaction.commit()
}

/// The number of the file's format.
pub(crate) fn version(db: &Connection) -> rusqlite::Result<i32> {
    db.pragma_query_value(None, "user_version", |row| row.get(0))
}
