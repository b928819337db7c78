//! The example's content is sound before anybody starts the program.

use kit::Kit;
use notebook::Notebook;
use testkit::assert_close;

use super::content::{self, shots};
use super::{DRAWING, enter_if_new, missing};
use crate::web::jobs::need_for;

#[test]
fn the_kit_is_read_whole() {
    let kit = Kit::parse(content::KIT).expect("kit");
    assert_eq!(kit.parts().len(), 12);
}

#[test]
fn every_frame_can_be_set_up_and_comes_near_what_its_job_wants() {
    let mut book = Notebook::in_memory().expect("notebook");
    enter_if_new(&mut book).expect("entered");
    let kit = Kit::parse(content::KIT).expect("kit");
    for (job, shot) in book.jobs().expect("jobs").iter().zip([&shots()[0], &shots()[4]]) {
        let wanted = need_for(job, &kit).expect("need").magnification();
        assert_close!(shot.magnification().expect("magnification"), wanted, relative = 0.03);
    }
    assert!(shots().iter().all(|shot| shot.magnification().is_some()));
    assert_eq!(missing(&mut book).expect("frames").len(), 6);
}

#[test]
fn the_example_is_entered_once_and_never_into_a_used_notebook() {
    let mut book = Notebook::in_memory().expect("notebook");
    assert_eq!(enter_if_new(&mut book).expect("entered"), DRAWING);
    let jobs = book.jobs().expect("jobs").len();
    enter_if_new(&mut book).expect("entered");
    assert_eq!(book.jobs().expect("jobs").len(), jobs);

    let mut used = Notebook::in_memory().expect("notebook");
    let job = notebook::JobDraft { title: "Mine".into(), ..notebook::JobDraft::default() };
    used.add_job(&job, false, "2026-03-01T09:00:00Z").expect("job");
    enter_if_new(&mut used).expect("looked at");
    assert_eq!(used.jobs().expect("jobs").len(), 1);
    assert!(used.parts().expect("parts").is_empty());
}
