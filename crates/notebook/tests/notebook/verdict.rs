//! Uses, trials with their picks, placings and wishes: kept as they came, refused by name, gone with their owners.

use notebook::{Choice, JobId, Notebook, NotebookError, Pick, ScanId, TrialDraft, TrialId, UseDraft, UseId};

use crate::samples::{self, NOW};

const LATER: &str = "2026-03-02T09:00:00+01:00";

fn with_job() -> (Notebook, JobId) {
    let mut book = Notebook::in_memory().unwrap();
    let job = book.add_job(&samples::job("job"), false, NOW).unwrap();
    (book, job)
}

fn a_use(title: &str) -> UseDraft {
    UseDraft { title: title.into(), requirements: "{\"any\": 1}".into() }
}

fn trial(title: &str) -> TrialDraft {
    TrialDraft { title: title.into(), document: "{}".into() }
}

fn pick(number: u32, choice: Choice) -> Pick {
    Pick { number, left: 0, right: number, choice, created: NOW.into() }
}

#[test]
fn uses_come_back_as_they_went_in() {
    let (mut book, job) = with_job();
    let texts = samples::awkward_texts();
    for (at, text) in texts.iter().enumerate() {
        let draft = UseDraft { title: format!("use {at}"), requirements: text.clone() };
        let id = book.add_use(job, &draft, NOW).unwrap();
        assert!(book.use_of(id).unwrap().unwrap().draft == draft);
    }
    assert_eq!(book.uses_of_job(job).unwrap().len(), texts.len());
    let first = book.uses().unwrap()[0].id;
    book.update_use(first, &a_use("renamed")).unwrap();
    assert_eq!(book.use_of(first).unwrap().unwrap().draft, a_use("renamed"));
    book.delete_use(first).unwrap();
    assert_eq!(book.use_of(first).unwrap(), None);
}

#[test]
fn uses_that_cannot_be_are_refused_by_name() {
    let (mut book, job) = with_job();
    let kept = book.add_use(job, &a_use("plate"), NOW).unwrap();
    let other = book.add_use(job, &a_use("web"), NOW).unwrap();
    let blank = book.add_use(job, &a_use(" \t"), NOW).unwrap_err();
    assert!(matches!(blank, NotebookError::Blank { field: "the name of the use" }));
    for taken in [book.add_use(job, &a_use("plate"), NOW).map(drop), book.update_use(other, &a_use("plate"))] {
        assert!(matches!(taken.unwrap_err(), NotebookError::UseTitleTaken { title } if title == "plate"));
    }
    let orphan = book.add_use(JobId(99), &a_use("plate"), NOW).unwrap_err();
    assert!(matches!(orphan, NotebookError::NoSuchJob { id: JobId(99) }));
    for missing in [book.update_use(UseId(99), &a_use("x")), book.delete_use(UseId(99))] {
        assert!(matches!(missing.unwrap_err(), NotebookError::NoSuchUse { id: UseId(99) }));
    }
    assert_eq!(book.uses().unwrap().iter().map(|kept| kept.id).collect::<Vec<_>>(), [kept, other]);
    let second = book.add_job(&samples::job("second"), false, NOW).unwrap();
    book.add_use(second, &a_use("plate"), NOW).expect("another job may have a use of the same name");
}

#[test]
fn picks_are_made_once_taken_back_from_the_end_and_never_after_the_names_were_shown() {
    let (mut book, job) = with_job();
    let id = book.add_trial(job, &trial("sharper wing"), NOW).unwrap();
    let all = [pick(1, Choice::Left), pick(2, Choice::NoDifference), pick(3, Choice::Right)];
    for one in &all {
        book.add_pick(id, one).unwrap();
    }
    assert_eq!(book.picks(id).unwrap(), all);
    let twice = book.add_pick(id, &pick(2, Choice::Left)).unwrap_err();
    assert!(matches!(twice, NotebookError::PickTaken { number: 2 }));
    assert_eq!(book.take_back_pick(id).unwrap(), Some(all[2].clone()));
    assert_eq!(book.picks(id).unwrap(), all[..2]);
    book.end_trial(id, NOW).unwrap();
    book.end_trial(id, LATER).unwrap();
    assert_eq!(book.trial(id).unwrap().unwrap().ended.as_deref(), Some(NOW), "the first ending counts");
    let late = [book.add_pick(id, &all[2]), book.take_back_pick(id).map(drop)];
    for late in late {
        assert!(matches!(late.unwrap_err(), NotebookError::TrialEnded { title } if title == "sharper wing"));
    }
    assert_eq!(book.picks(id).unwrap(), all[..2]);
}

#[test]
fn picks_that_are_none_are_refused() {
    let (mut book, job) = with_job();
    let id = book.add_trial(job, &trial("t"), NOW).unwrap();
    let same = Pick { right: 0, ..pick(1, Choice::Left) };
    for bad in [same, Pick { number: 0, right: 1, ..pick(1, Choice::Left) }] {
        assert!(
            matches!(book.add_pick(id, &bad).unwrap_err(), NotebookError::PickOfOne { number } if number == bad.number)
        );
    }
    let nowhere = book.add_pick(TrialId(99), &pick(1, Choice::Left)).unwrap_err();
    assert!(matches!(nowhere, NotebookError::NoSuchTrial { id: TrialId(99) }));
    assert_eq!(book.take_back_pick(id).unwrap(), None, "without picks there is none to take back");
    let blank = book.add_trial(job, &trial(""), NOW).unwrap_err();
    assert!(matches!(blank, NotebookError::Blank { field: "the name of the trial" }));
    assert!(matches!(
        book.add_trial(JobId(9), &trial("t"), NOW).unwrap_err(),
        NotebookError::NoSuchJob { id: JobId(9) }
    ));
    for missing in [book.end_trial(TrialId(99), NOW), book.delete_trial(TrialId(99))] {
        assert!(matches!(missing.unwrap_err(), NotebookError::NoSuchTrial { id: TrialId(99) }));
    }
}

#[test]
fn a_job_takes_its_uses_and_trials_along() {
    let (mut book, job) = with_job();
    let use_ = book.add_use(job, &a_use("plate"), NOW).unwrap();
    let id = book.add_trial(job, &trial("t"), NOW).unwrap();
    book.add_pick(id, &pick(1, Choice::Left)).unwrap();
    book.delete_job(job).unwrap();
    assert_eq!((book.use_of(use_).unwrap(), book.trial(id).unwrap()), (None, None));
    assert_eq!(book.picks(id).unwrap(), []);
}

#[test]
fn a_placing_is_replaced_forgotten_and_gone_with_its_scan() {
    let (mut book, job) = with_job();
    let scan = book.add_scan(&samples::scan(Some(job), None, "a.tif"), NOW).unwrap();
    assert_eq!(book.placing(scan).unwrap(), None);
    book.set_placing(scan, "first", NOW).unwrap();
    book.set_placing(scan, "second", LATER).unwrap();
    let kept = book.placing(scan).unwrap().unwrap();
    assert_eq!((kept.scan, kept.document.as_str(), kept.created.as_str()), (scan, "second", LATER));
    book.forget_placing(scan).unwrap();
    book.forget_placing(scan).unwrap();
    assert_eq!(book.placing(scan).unwrap(), None);
    book.set_placing(scan, "third", NOW).unwrap();
    book.delete_scan(scan).unwrap();
    assert_eq!(book.placing(scan).unwrap(), None);
    let nowhere = book.set_placing(ScanId(99), "x", NOW).unwrap_err();
    assert!(matches!(nowhere, NotebookError::NoSuchScan { id: ScanId(99) }));
}

#[test]
fn a_wish_is_no_part_until_it_comes_true() {
    let mut book = Notebook::in_memory().unwrap();
    let (tube, ring) = (samples::part("tube-20"), samples::part("ring-9"));
    book.add_wish(&tube).unwrap();
    book.add_wish(&ring).unwrap();
    assert_eq!((book.wishes().unwrap(), book.parts().unwrap()), (vec![tube.clone(), ring.clone()], vec![]));
    let taken = book.add_wish(&tube).unwrap_err();
    assert!(matches!(taken, NotebookError::DuplicatePart { id } if id == "tube-20"));
    book.fulfil_wish("tube-20").unwrap();
    assert_eq!((book.wishes().unwrap(), book.parts().unwrap()), (vec![ring.clone()], vec![tube.clone()]));
    book.update_wish("ring-9", &tube).unwrap();
    book.fulfil_wish("tube-20").expect_err("the kit has one of that name");
    assert_eq!(book.wishes().unwrap(), [tube], "and the wish stays");
    book.delete_wish("tube-20").unwrap();
    for missing in [book.delete_wish("tube-20"), book.fulfil_wish("x"), book.update_wish("x", &ring)] {
        assert!(matches!(missing.unwrap_err(), NotebookError::NoSuchPart { .. }));
    }
}
