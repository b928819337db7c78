//! What hangs on what, and what holds whatever was done before.

use notebook::{FrameDraft, FrameState, Matched, Notebook, NotebookError, PartRecord, ScanState};

use crate::samples::{self, NOW, plant};

#[test]
fn a_deleted_job_takes_along_all_but_the_scans() {
    let mut book = Notebook::in_memory().unwrap();
    let gone = plant(&mut book, "gone");
    let kept = plant(&mut book, "kept");
    book.delete_job(gone.job).unwrap();
    assert_eq!(book.job(gone.job).unwrap(), None);
    assert_eq!(book.roll(gone.roll).unwrap(), None);
    assert_eq!(book.frame(gone.frame).unwrap(), None);
    assert_eq!(book.decisions(gone.job).unwrap(), []);
    let scan = book.scan(gone.scan).unwrap().unwrap();
    assert_eq!((scan.job, scan.frame, scan.stored.as_str()), (None, None, "gone.tif"));
    assert_eq!(book.measurements(gone.scan).unwrap().len(), 1, "what was measured in the scan stays with it");
    assert_eq!((book.rolls(kept.job).unwrap().len(), book.frames_of_job(kept.job).unwrap().len()), (1, 1));
    assert_eq!((book.scans_of_job(kept.job).unwrap().len(), book.decisions(kept.job).unwrap().len()), (1, 1));
    book.check().unwrap();
}

#[test]
fn a_deleted_roll_or_frame_lets_go_of_its_scans_but_not_of_the_job() {
    let mut book = Notebook::in_memory().unwrap();
    let tree = plant(&mut book, "tree");
    let second = book.add_frame(tree.roll, &samples::frame(2)).unwrap();
    let scan = book.add_scan(&samples::scan(None, Some(second), "second"), NOW).unwrap();
    book.delete_frame(second).unwrap();
    let scan = book.scan(scan).unwrap().unwrap();
    assert_eq!((scan.job, scan.frame), (Some(tree.job), None));
    assert_eq!(book.scan(tree.scan).unwrap().unwrap().frame, Some(tree.frame));
    book.delete_roll(tree.roll).unwrap();
    let scan = book.scan(tree.scan).unwrap().unwrap();
    assert_eq!((scan.job, scan.frame), (Some(tree.job), None));
    assert_eq!(book.frames_of_job(tree.job).unwrap(), []);
}

#[test]
fn a_deleted_scan_takes_along_its_measurements_and_names_its_file() {
    let mut book = Notebook::in_memory().unwrap();
    let tree = plant(&mut book, "tree");
    let measurement = book.measurements(tree.scan).unwrap()[0].id;
    assert_eq!(book.delete_scan(tree.scan).unwrap(), "tree.tif");
    assert_eq!(book.measurement(measurement).unwrap(), None);
    assert_eq!(book.scan(tree.scan).unwrap(), None);
    assert!(book.frame(tree.frame).unwrap().is_some());
}

#[test]
fn a_scan_belongs_to_the_job_of_its_frame() {
    let mut book = Notebook::in_memory().unwrap();
    let (here, there) = (plant(&mut book, "here"), plant(&mut book, "there"));
    let where_is = |book: &Notebook| {
        let scan = book.scan(here.scan).unwrap().unwrap();
        (scan.job, scan.frame)
    };
    book.set_scan_frame(here.scan, Some(there.frame)).unwrap();
    assert_eq!(where_is(&book), (Some(there.job), Some(there.frame)));
    book.set_scan_job(here.scan, Some(there.job)).unwrap();
    assert_eq!(where_is(&book), (Some(there.job), Some(there.frame)), "the same job again changes nothing");
    book.set_scan_job(here.scan, Some(here.job)).unwrap();
    assert_eq!(where_is(&book), (Some(here.job), None), "a frame of another job is let go");
    book.set_scan_frame(here.scan, Some(here.frame)).unwrap();
    book.set_scan_frame(here.scan, None).unwrap();
    assert_eq!(where_is(&book), (Some(here.job), None), "without a frame the job stays");
    book.set_scan_job(here.scan, None).unwrap();
    assert_eq!(where_is(&book), (None, None));
}

#[test]
fn how_a_scan_came_to_its_frame_goes_with_the_frame() {
    let mut book = Notebook::in_memory().unwrap();
    let tree = plant(&mut book, "tree");
    let matched = |book: &Notebook| book.scan(tree.scan).unwrap().unwrap().matched;
    assert_eq!(matched(&book), Some(Matched::Hand), "whoever hands a scan in with its frame has said so");
    for by in [Matched::Order, Matched::Name, Matched::Picture, Matched::Code, Matched::Hand] {
        book.match_scan(tree.scan, Some((tree.frame, by))).unwrap();
        assert_eq!(matched(&book), Some(by));
    }
    book.match_scan(tree.scan, None).unwrap();
    assert_eq!(matched(&book), None);
    book.match_scan(tree.scan, Some((tree.frame, Matched::Code))).unwrap();
    book.delete_frame(tree.frame).unwrap();
    assert_eq!(matched(&book), None);
}

#[test]
fn a_frame_taken_otherwise_keeps_its_plan_beside_it() {
    let mut book = Notebook::in_memory().unwrap();
    let tree = plant(&mut book, "tree");
    let planned = FrameDraft { state: FrameState::Planned, ..samples::frame(1) };
    let taken = FrameDraft { f_number: Some(8.0), state: FrameState::Shot, ..planned.clone() };
    let plan = |book: &Notebook| book.frame(tree.frame).unwrap().unwrap().planned;
    book.update_frame(tree.frame, &planned).unwrap();
    assert_eq!(plan(&book), None);
    book.update_frame(tree.frame, &taken).unwrap();
    assert_eq!(plan(&book), Some(planned.exposed()));
    let again = FrameDraft { f_number: Some(5.6), note: "corrected".into(), ..taken.clone() };
    book.update_frame(tree.frame, &again).unwrap();
    assert_eq!(plan(&book), Some(planned.exposed()), "a correction is not a plan");
    book.update_frame(tree.frame, &FrameDraft { state: FrameState::Shot, ..planned.clone() }).unwrap();
    assert_eq!(plan(&book), None, "taken as planned after all");
    book.update_frame(tree.frame, &taken).unwrap();
    book.update_frame(tree.frame, &FrameDraft { state: FrameState::Planned, ..taken }).unwrap();
    assert_eq!(plan(&book), None, "what a planned frame says is its plan");
}

#[test]
fn of_several_scans_of_a_frame_the_last_counts() {
    let mut book = Notebook::in_memory().unwrap();
    let tree = plant(&mut book, "tree");
    let again = book.add_scan(&samples::scan(None, Some(tree.frame), "again"), NOW).unwrap();
    assert_eq!(book.scan_of_frame(tree.frame).unwrap().unwrap().id, again);
    book.delete_scan(again).unwrap();
    assert_eq!(book.scan_of_frame(tree.frame).unwrap().unwrap().id, tree.scan);
}

#[test]
fn interrupted_scans_are_those_on_their_way() {
    let mut book = Notebook::in_memory().unwrap();
    let states = [
        ScanState::Arriving,
        ScanState::Preparing { share: 0.5 },
        ScanState::Ready,
        ScanState::Failed { why: "torn".into() },
    ];
    for (number, state) in states.iter().enumerate() {
        let id = book.add_scan(&samples::scan(None, None, &number.to_string()), NOW).unwrap();
        book.set_scan_state(id, state).unwrap();
    }
    let names: Vec<_> = book.interrupted_scans().unwrap().into_iter().map(|scan| scan.stored).collect();
    assert_eq!(names, ["0", "1"]);
}

#[test]
fn numbers_are_not_used_twice() {
    let mut book = Notebook::in_memory().unwrap();
    let first = plant(&mut book, "first");
    book.delete_scan(first.scan).unwrap();
    book.delete_job(first.job).unwrap();
    let second = plant(&mut book, "second");
    assert!(second.job > first.job && second.roll > first.roll);
    assert!(second.frame > first.frame && second.scan > first.scan);
}

#[test]
fn a_kit_is_replaced_whole_or_not_at_all() {
    let mut book = Notebook::in_memory().unwrap();
    let before = [samples::part("a"), samples::part("b")];
    book.replace_kit(&before).unwrap();
    assert_eq!(book.parts().unwrap(), before);
    let twice = [samples::part("c"), samples::part("b"), samples::part("c")];
    let error = book.replace_kit(&twice).unwrap_err();
    assert!(matches!(error, NotebookError::DuplicatePart { id } if id == "c"));
    assert_eq!(book.parts().unwrap(), before);
    let blank = [samples::part("c"), PartRecord { id: " \t".into(), ..samples::part("d") }];
    assert!(matches!(book.replace_kit(&blank), Err(NotebookError::Blank { .. })));
    assert_eq!(book.parts().unwrap(), before);
    let turned = [samples::part("b"), samples::part("z"), samples::part("a")];
    book.replace_kit(&turned).unwrap();
    assert_eq!(book.parts().unwrap(), turned);
    book.replace_kit(&[]).unwrap();
    assert_eq!(book.parts().unwrap(), []);
}

#[test]
fn a_group_of_changes_is_kept_whole_or_not_at_all() {
    let mut book = Notebook::in_memory().unwrap();
    let job = book.add_job(&samples::job("job"), false, NOW).unwrap();
    let failed: Result<(), _> = book.atomically(|book| {
        let roll = book.add_roll(job, &samples::roll("roll"))?;
        book.add_frame(roll, &samples::frame(1))?;
        book.add_frame(roll, &samples::frame(1))?;
        Ok(())
    });
    assert!(matches!(failed, Err(NotebookError::FrameNumberTaken { number: 1, .. })));
    assert_eq!(book.rolls(job).unwrap(), []);
    let roll = book.atomically(|book| book.add_roll(job, &samples::roll("roll"))).unwrap();
    assert_eq!(book.roll(roll).unwrap().unwrap().title, "roll");
}

#[test]
fn an_inner_group_that_fails_takes_back_its_own_changes_only() {
    let mut book = Notebook::in_memory().unwrap();
    book.atomically(|book| {
        book.add_part(&samples::part("before"))?;
        assert!(book.replace_kit(&[samples::part("x"), samples::part("x")]).is_err());
        book.add_part(&samples::part("after"))
    })
    .unwrap();
    assert_eq!(book.parts().unwrap(), [samples::part("before"), samples::part("after")]);
}

#[test]
fn a_panic_in_a_group_takes_it_back_and_leaves_the_notebook_usable() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("notebook");
    let mut book = Notebook::open(&path).unwrap();
    let panicked = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
        let _: Result<(), _> = book.atomically(|book| {
            book.add_part(&samples::part("lost"))?;
            panic!("a fault in the caller");
        });
    }));
    assert!(panicked.is_err());
    book.add_part(&samples::part("kept")).unwrap();
    let other = Notebook::open(&path).unwrap();
    assert_eq!(other.parts().unwrap(), [samples::part("kept")], "seen from outside: nothing was left open");
}

#[test]
fn two_frames_change_numbers_within_a_group() {
    let mut book = Notebook::in_memory().unwrap();
    let tree = plant(&mut book, "tree");
    let second = book.add_frame(tree.roll, &samples::frame(2)).unwrap();
    book.atomically(|book| {
        book.update_frame(tree.frame, &samples::frame(u32::MAX))?;
        book.update_frame(second, &samples::frame(1))?;
        book.update_frame(tree.frame, &FrameDraft { label: "was first".into(), ..samples::frame(2) })
    })
    .unwrap();
    let order: Vec<_> = book.frames(tree.roll).unwrap().into_iter().map(|frame| frame.id).collect();
    assert_eq!(order, [second, tree.frame]);
}
