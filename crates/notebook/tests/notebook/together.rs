//! Several programs, or several threads, with one notebook open at a time.

use std::collections::BTreeSet;
use std::sync::Barrier;
use std::thread;
use std::time::Duration;

use notebook::{Notebook, NotebookError};

use crate::samples::{self, NOW};

#[test]
fn a_new_notebook_opened_by_several_at_once() {
    for _ in 0..10 {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notebook");
        let start = Barrier::new(4);
        let write = |name: usize| {
            start.wait();
            let mut book = Notebook::open(&path).unwrap();
            let add = |number| book.add_job(&samples::job(&format!("{name}/{number}")), false, NOW).unwrap();
            (0..10).map(add).collect::<Vec<_>>()
        };
        let ids: BTreeSet<_> = thread::scope(|scope| {
            let writers: Vec<_> = (0..4).map(|name| scope.spawn(move || write(name))).collect();
            writers.into_iter().flat_map(|writer| writer.join().unwrap()).collect()
        });
        let book = Notebook::open(&path).unwrap();
        assert_eq!(ids, book.jobs().unwrap().into_iter().map(|job| job.id).collect());
        assert_eq!(ids.len(), 40);
        book.check().unwrap();
    }
}

#[test]
fn each_sees_what_the_other_saved_and_nothing_half_done() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("notebook");
    let (mut one, two) = (Notebook::open(&path).unwrap(), Notebook::open(&path).unwrap());
    one.add_part(&samples::part("a")).unwrap();
    assert_eq!(two.parts().unwrap().len(), 1);
    one.atomically(|one| {
        one.add_part(&samples::part("b"))?;
        assert_eq!(two.parts()?.len(), 1, "not saved yet; and reading does not wait");
        Ok(())
    })
    .unwrap();
    assert_eq!(two.parts().unwrap().len(), 2);
}

#[test]
fn who_waits_too_long_is_told_so_and_may_try_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("notebook");
    let (mut one, mut two) = (Notebook::open(&path).unwrap(), Notebook::open(&path).unwrap());
    two.set_patience(Duration::from_millis(20)).unwrap();
    one.atomically(|one| {
        one.add_part(&samples::part("a"))?;
        let error = two.add_part(&samples::part("b")).unwrap_err();
        assert!(matches!(error, NotebookError::Locked { .. }), "{error:?}");
        let error = two.replace_kit(&[]).unwrap_err();
        assert!(matches!(error, NotebookError::Locked { .. }), "{error:?}");
        Ok(())
    })
    .unwrap();
    two.add_part(&samples::part("b")).unwrap();
    assert_eq!(one.parts().unwrap().len(), 2);
}

#[test]
fn a_notebook_can_be_handed_to_another_thread() {
    fn sendable<T: Send + 'static>() {}
    sendable::<Notebook>();
    sendable::<NotebookError>();
    fn shareable<T: Sync>() {}
    shareable::<std::sync::Mutex<Notebook>>();
    shareable::<NotebookError>();
}
