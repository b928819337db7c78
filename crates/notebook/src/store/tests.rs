//! A full disk, and the rules that the file itself keeps.

use super::*;
use crate::{JobDraft, JobId, PartRecord, RollDraft};

fn part(id: usize) -> PartRecord {
    PartRecord { kind: "tube".into(), id: id.to_string(), document: "x".repeat(10_000) }
}

/// A notebook in a file that cannot grow by more than some ten parts.
fn nearly_full() -> (tempfile::TempDir, Notebook) {
    let folder = tempfile::tempdir().unwrap();
    let book = Notebook::open(&folder.path().join("notebook")).unwrap();
    let pages: i64 = book.db.pragma_query_value(None, "page_count", |row| row.get(0)).unwrap();
    let room = pages + 30;
    book.db.pragma_update_and_check(None, "max_page_count", room, |_| Ok(())).unwrap();
    (folder, book)
}

#[test]
fn a_full_disk_is_told_and_loses_nothing_saved() {
    let (_folder, mut book) = nearly_full();
    let saved = (0..100).take_while(|&id| match book.add_part(&part(id)) {
        Ok(()) => true,
        Err(NotebookError::Full { .. }) => false,
        Err(other) => panic!("{other:?}"),
    });
    let saved: Vec<_> = saved.map(part).collect();
    assert!((5..20).contains(&saved.len()), "{}", saved.len());
    assert_eq!(book.parts().unwrap(), saved);
    book.check().unwrap();
    // Two, because the pages of one may not hold another and its place in the index.
    book.delete_part("0").unwrap();
    book.delete_part("1").unwrap();
    book.add_part(&part(200)).unwrap();
}

#[test]
fn a_group_on_a_full_disk_is_taken_back_whole() {
    let (_folder, mut book) = nearly_full();
    book.add_part(&part(1000)).unwrap();
    let error = book.atomically(|book| (0..100).try_for_each(|id| book.add_part(&part(id)))).unwrap_err();
    assert!(matches!(error, NotebookError::Full { .. }), "{error:?}");
    assert_eq!(book.parts().unwrap(), [part(1000)]);
    book.add_part(&part(1001)).unwrap();
}

#[test]
fn a_group_that_goes_on_after_all_was_taken_back_keeps_nothing() {
    let mut book = Notebook::in_memory().unwrap();
    let mut after = Ok(());
    let error = book.atomically(|book| {
        book.add_part(&part(1))?;
        // What SQLite does by itself when the disk fails: the transaction is gone, the program is still inside it.
        book.db.execute_batch("ROLLBACK").unwrap();
        after = book.add_part(&part(2));
        Ok(())
    });
    assert!(matches!(after, Err(NotebookError::TakenBack { .. })), "{after:?}");
    assert!(matches!(error, Err(NotebookError::TakenBack { .. })), "{error:?}");
    assert_eq!(book.parts().unwrap(), []);
    book.add_part(&part(3)).unwrap();
    assert_eq!(book.parts().unwrap(), [part(3)]);
}

/// A notebook with one entry in every table, to be spoiled.
fn one_of_each() -> Notebook {
    let mut book = Notebook::in_memory().unwrap();
    let job = book.add_job(&JobDraft { title: "job".into(), ..JobDraft::default() }, false, "now").unwrap();
    let roll = book.add_roll(job, &RollDraft::default()).unwrap();
    book.add_frame(roll, &crate::FrameDraft::default()).unwrap();
    let scan = crate::ScanDraft { job: Some(job), stored: "1".into(), ..crate::ScanDraft::default() };
    let scan = book.add_scan(&scan, "now").unwrap();
    let [label, place, result] = [(); 3].map(|()| String::new());
    let kind = crate::MeasurementKind::Edge;
    book.add_measurement(
        &crate::MeasurementDraft { scan, kind, label, place, result, settings: String::new(), made_by: String::new() },
        "now",
    )
    .unwrap();
    let response = crate::ResponseDraft {
        name: "flatbed".into(),
        kind: crate::ResponseKind::Scanner,
        source: String::new(),
        document: String::new(),
    };
    book.add_response(&response, "now").unwrap();
    book.add_part(&part(1)).unwrap();
    log_one(&mut book, roll);
    book.put_film("slow film", "{}", "now").unwrap();
    book
}

fn log_one(book: &mut Notebook, roll: crate::RollId) {
    let device = Some(book.add_device("phone", "hash", "now").unwrap());
    let uid: crate::Uid = "00000000-0000-4000-8000-000000000001".parse().unwrap();
    let entry = crate::EntryDraft {
        uid: uid.clone(),
        roll,
        frame: None,
        number: None,
        device,
        sequence: 1,
        said: crate::Said::Note,
        meter: String::new(),
        note: "lamp moved".into(),
        said_at: "now".into(),
    };
    book.add_entry(&entry, "now").unwrap();
    let photo = crate::PhotoDraft { uid, roll, frame: None, number: None, device, bytes: 1, said_at: "now".into() };
    book.begin_photo(&photo, "now").unwrap();
}

#[test]
fn the_file_itself_refuses_what_must_not_be() {
    let mut book = one_of_each();
    let spoilers = [
        ("jobs", "title", &["''", "' '", "NULL"][..]),
        ("jobs", "subject_mm", &["0", "-1", "9e999", "NULL", "'x'"]),
        ("jobs", "subject_depth_mm", &["-1", "9e999"]),
        ("jobs", "fill", &["0", "1.01", "9e999"]),
        ("jobs", "print_mm", &["0", "9e999"]),
        ("jobs", "criterion_lp_mm", &["0", "9e999"]),
        ("jobs", "contrast_needed", &["0", "1.01"]),
        ("jobs", "least_working_distance_mm", &["-1", "9e999"]),
        ("jobs", "subject_short_mm", &["0", "9e999"]),
        ("jobs", "depth_wanted_mm", &["-1", "9e999"]),
        ("jobs", "most_stops_lost", &["-1", "9e999"]),
        ("jobs", "largest_crop", &["-0.1", "1", "NULL"]),
        ("jobs", "demo", &["2"]),
        ("rolls", "job", &["99", "NULL"]),
        ("rolls", "iso", &["0", "9e999"]),
        ("frames", "roll", &["99", "NULL"]),
        ("frames", "number", &["-1", "4294967296", "1.5"]),
        ("frames", "parts", &["'x'", "'{}'", "NULL"]),
        ("frames", "f_number", &["0", "9e999"]),
        ("frames", "shutter_s", &["0", "9e999"]),
        ("frames", "metered_s", &["0", "9e999"]),
        ("frames", "state", &["'lost'"]),
        ("frames", "purpose", &["NULL"]),
        ("frames", "focus_offset_mm", &["9e999", "-9e999"]),
        ("frames", "left_out", &["2", "NULL", "-1"]),
        ("frames", "planned_parts", &["'x'", "'{}'"]),
        ("frames", "planned_focus", &["'infinity'"]),
        ("frames", "planned_f_number", &["0", "9e999"]),
        ("frames", "planned_shutter_s", &["0", "9e999"]),
        ("frames", "planned_metered_s", &["0", "9e999"]),
        ("rolls", "frames", &["0", "4294967296"]),
        ("rolls", "plan", &["NULL"]),
        ("rolls", "at_camera", &["2", "NULL"]),
        ("scans", "matched_by", &["'guess'", "NULL"]),
        ("devices", "name", &["''", "NULL"]),
        ("devices", "token_hash", &["''", "NULL"]),
        ("log_entries", "uid", &["'short'", "NULL"]),
        ("log_entries", "device", &["99"]),
        ("log_entries", "roll", &["99"]),
        ("log_entries", "frame", &["99"]),
        ("log_entries", "number", &["-1", "4294967296"]),
        ("log_entries", "sequence", &["-1", "NULL"]),
        ("log_entries", "kind", &["'x'", "NULL"]),
        ("log_entries", "parts", &["'x'", "'{}'"]),
        ("log_entries", "f_number", &["0", "9e999"]),
        ("log_entries", "shutter_s", &["0", "9e999"]),
        ("log_entries", "metered_s", &["0", "9e999"]),
        ("photos", "uid", &["'short'", "NULL"]),
        ("photos", "bytes", &["0", "NULL"]),
        ("photos", "stored", &["''"]),
        ("films", "name", &["''", "NULL"]),
        ("scans", "job", &["99"]),
        ("scans", "frame", &["99"]),
        ("scans", "stored", &["''"]),
        ("scans", "bytes", &["-1", "1.5"]),
        ("scans", "width", &["0", "4294967296"]),
        ("scans", "height", &["0", "4294967296"]),
        ("scans", "bits", &["0", "256"]),
        ("scans", "pitch_um", &["0", "9e999"]),
        ("scans", "magnification", &["1", "0"]),
        ("scans", "magnification_plus_minus", &["0.1"]),
        ("scans", "magnification_from", &["'ruler'", "'guess'"]),
        ("scans", "state", &["'lost'", "'preparing'", "'failed'"]),
        ("scans", "share", &["0.5"]),
        ("scans", "why", &["'x'"]),
        ("measurements", "scan", &["99", "NULL"]),
        ("measurements", "kind", &["'x'", "NULL"]),
        ("responses", "name", &["''", "NULL"]),
        ("responses", "kind", &["'lens'"]),
        ("parts", "id", &["''", "NULL"]),
        ("parts", "kind", &["''"]),
    ];
    for (table, column, values) in spoilers {
        for value in values {
            let result = book.write(&format!("UPDATE {table} SET {column} = {value}"), []).map_err(NotebookError::from);
            assert!(matches!(result, Err(NotebookError::Refused { .. })), "{table}.{column} = {value}: {result:?}");
        }
    }
    book.check().unwrap();
    assert_eq!(book.job(JobId(1)).unwrap().unwrap().title, "job");
}
