//! Bringing an older notebook up to date, step by step.

use rusqlite::{Connection, TransactionBehavior};

/// Step *n* (counted from 1) makes format *n* of format *n* - 1. Format 0 is a file with nothing in it.
pub(crate) const STEPS: &[&str] = &[
    include_str!("../migrations/1_first.sql"),
    include_str!("../migrations/2_light_and_crop.sql"),
    include_str!("../migrations/3_frames_and_responses.sql"),
    include_str!("../migrations/4_the_log.sql"),
    include_str!("../migrations/5_uses_trials_placings.sql"),
];

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

#[cfg(test)]
mod tests {
    use super::*;

    const FIRST: &str = "CREATE TABLE a (x TEXT NOT NULL) STRICT; INSERT INTO a VALUES ('kept');";
    const SECOND: &str = "ALTER TABLE a ADD COLUMN y TEXT NOT NULL DEFAULT 'new';";
    const BROKEN: &str = "CREATE TABLE b (x); INSERT INTO nowhere VALUES (1);";

    fn brought_up(steps: &[&str]) -> Connection {
        let mut db = Connection::open_in_memory().unwrap();
        bring_up(&mut db, steps).unwrap();
        db
    }

    fn rows(db: &Connection) -> Vec<(String, String)> {
        let mut statement = db.prepare("SELECT x, y FROM a").unwrap();
        let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
        rows.collect::<Result<_, _>>().unwrap()
    }

    #[test]
    fn an_older_file_takes_the_steps_that_it_lacks() {
        let mut db = brought_up(&[FIRST]);
        assert_eq!(version(&db).unwrap(), 1);
        bring_up(&mut db, &[FIRST, SECOND]).unwrap();
        assert_eq!(version(&db).unwrap(), 2);
        assert_eq!(rows(&db), [("kept".to_owned(), "new".to_owned())]);
        bring_up(&mut db, &[FIRST, SECOND]).unwrap();
        assert_eq!(rows(&db).len(), 1, "no step is taken twice");
    }

    #[test]
    fn a_step_that_fails_leaves_the_format_before_it() {
        let mut db = brought_up(&[FIRST]);
        bring_up(&mut db, &[FIRST, SECOND, BROKEN]).unwrap_err();
        assert_eq!(version(&db).unwrap(), 2);
        assert!(!db.table_exists(None, "b").unwrap());
        assert!(db.is_autocommit());
        bring_up(&mut db, &[FIRST, SECOND, "CREATE TABLE b (x)"]).unwrap();
        assert_eq!(version(&db).unwrap(), 3);
    }

    #[test]
    fn the_mark_is_set_with_the_first_step() {
        let db = brought_up(STEPS);
        let mark: i32 = db.pragma_query_value(None, "application_id", |row| row.get(0)).unwrap();
        assert_eq!(mark, APPLICATION_ID);
        assert_eq!(version(&db).unwrap(), newest(STEPS));
    }

    #[test]
    fn measurements_of_the_second_format_are_kept_and_their_numbers_stay_used() {
        let mut db = brought_up(&STEPS[..2]);
        db.execute_batch(
            "INSERT INTO scans (file_name, stored, bytes, state, created) VALUES ('a', 'a', 1, 'ready', 'now');
             INSERT INTO measurements (scan, kind, label, place, result, created)
                 VALUES (1, 'edge', 'centre', '{}', 'kept', 'then'), (1, 'scale', '', '{}', 'gone', 'then');
             DELETE FROM measurements WHERE id = 2;",
        )
        .unwrap();
        bring_up(&mut db, STEPS).unwrap();
        let kept: String = db.query_row("SELECT result FROM measurements WHERE id = 1", [], |row| row.get(0)).unwrap();
        assert_eq!(kept, "kept");
        let next = "INSERT INTO measurements (scan, kind, label, place, result, created) \
                    VALUES (1, 'frame', '', '', '', 'now') RETURNING id";
        assert_eq!(db.query_row(next, [], |row| row.get::<_, i64>(0)).unwrap(), 3);
        db.execute("DELETE FROM scans", []).unwrap();
        let left: i64 = db.query_row("SELECT count(*) FROM measurements", [], |row| row.get(0)).unwrap();
        assert_eq!(left, 0, "a scan takes its measurements along");
    }

    #[test]
    fn frames_of_the_third_format_are_kept_with_their_scans() {
        let mut db = brought_up(&STEPS[..3]);
        db.execute_batch(
            "INSERT INTO jobs (title, subject, subject_mm, fill, print_mm, criterion_lp_mm, contrast_needed, notes, demo, created)
                 VALUES ('job', '', 1, 1, 1, 1, 1, '', 0, 'then');
             INSERT INTO rolls (job, title, film, notes) VALUES (1, 'roll', '', '');
             INSERT INTO frames (roll, number, label, parts, focus, note, state)
                 VALUES (1, 7, 'kept', '[\"body\"]', 'infinity', '', 'shot');
             INSERT INTO scans (frame, file_name, stored, bytes, state, created) VALUES (1, 'a', 'a', 1, 'ready', 'then');",
        )
        .unwrap();
        bring_up(&mut db, STEPS).unwrap();
        let sql = "SELECT frames.number FROM scans JOIN frames ON frames.id = scans.frame \
                   WHERE purpose = '' AND slot = '' AND left_out = 0 AND planned_parts IS NULL AND matched_by = ''";
        assert_eq!(db.query_row(sql, [], |row| row.get::<_, i64>(0)).unwrap(), 7);
        let roll = "SELECT at_camera FROM rolls WHERE frames IS NULL AND plan = ''";
        assert_eq!(db.query_row(roll, [], |row| row.get::<_, i64>(0)).unwrap(), 0, "no roll is open unasked");
    }

    /// Each step that was released stays as it was: a file brought up by an older program has the same tables as a
    /// new one. Recorded, not derived; a released step's figure is never changed.
    #[test]
    fn released_steps_are_not_edited() {
        let fingerprint = |step: &str| step.bytes().fold(5381_u64, |sum, byte| sum.wrapping_mul(33) ^ u64::from(byte));
        let found: Vec<_> = STEPS.iter().map(|step| fingerprint(step)).collect();
        assert_eq!(found, RELEASED);
    }

    const RELEASED: [u64; 5] = [
        14_988_971_059_971_442_377,
        13_079_774_303_572_586_863,
        69_367_027_775_185_044,
        1_605_576_895_715_295_149,
        8_174_685_604_673_878_159,
    ];
}
