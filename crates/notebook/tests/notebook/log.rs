//! What is said at the camera: once, in order, never lost.

use notebook::{
    Arrival, Deviations, DeviceId, EntryDraft, Frame, FrameDraft, FrameId, FrameState, Notebook, NotebookError,
    PhotoDraft, RollId, Said, Uid, UidError,
};
use proptest::prelude::*;

use crate::samples::{self, NOW, awkward_texts, plant};

const LATER: &str = "2026-03-01T12:00:00Z";

fn uid(number: u64) -> Uid {
    format!("0d9f5a3e-93c1-4b6a-9f10-{number:012x}").parse().unwrap()
}

/// A roll with planned frames 1 to 3 and a paired phone.
struct Desk {
    book: Notebook,
    roll: RollId,
    frames: [FrameId; 3],
    phone: DeviceId,
    made: u64,
}

fn planned(number: u32) -> FrameDraft {
    FrameDraft { state: FrameState::Planned, ..samples::frame(number) }
}

impl Desk {
    fn new() -> Self {
        let mut book = Notebook::in_memory().unwrap();
        let tree = plant(&mut book, "tree");
        book.update_frame(tree.frame, &planned(1)).unwrap();
        let [second, third] = [2, 3].map(|number| book.add_frame(tree.roll, &planned(number)).unwrap());
        let phone = book.add_device("phone", "hash", NOW).unwrap();
        Self { book, roll: tree.roll, frames: [tree.frame, second, third], phone, made: 0 }
    }

    /// The phone's next entry, for frame `at` of the three.
    fn entry(&mut self, at: usize, said: Said) -> EntryDraft {
        self.made += 1;
        EntryDraft {
            uid: uid(self.made),
            roll: self.roll,
            frame: Some(self.frames[at]),
            number: Some(at as u32 + 1),
            device: Some(self.phone),
            sequence: self.made as u32,
            said,
            meter: String::new(),
            note: String::new(),
            said_at: NOW.into(),
        }
    }

    fn say(&mut self, at: usize, said: Said) {
        let entry = self.entry(at, said);
        assert!(matches!(self.book.add_entry(&entry, LATER), Ok(Arrival::New(_))));
    }

    fn frame(&self, at: usize) -> Frame {
        self.book.frame(self.frames[at]).unwrap().unwrap()
    }
}

fn wider() -> Deviations {
    Deviations { f_number: Some(8.0), shutter_s: Some(0.25), ..Deviations::default() }
}

#[test]
fn a_frame_is_as_the_last_entry_says() {
    let mut desk = Desk::new();
    desk.say(0, Said::Taken);
    assert_eq!(desk.frame(0).draft, FrameDraft { state: FrameState::Shot, ..planned(1) });
    desk.say(0, Said::Changed(wider()));
    let taken = desk.frame(0);
    assert_eq!((taken.state, taken.f_number, taken.shutter_s), (FrameState::Shot, Some(8.0), Some(0.25)));
    assert_eq!(taken.parts, planned(1).parts, "what was not said otherwise is as planned");
    assert_eq!(taken.planned, Some(planned(1).exposed()));
    desk.say(0, Said::Changed(Deviations { focus: Some("travel=4".into()), ..Deviations::default() }));
    let taken = desk.frame(0);
    assert_eq!(
        (taken.f_number, taken.focus.as_str()),
        (Some(11.0), "travel=4"),
        "against the plan, not the one before"
    );
    desk.say(0, Said::Note);
    assert_eq!(desk.frame(0), taken, "words alone change nothing");
    desk.say(0, Said::LeftOut);
    assert_eq!(desk.frame(0).draft, FrameDraft { state: FrameState::LeftOut, ..planned(1) });
    desk.say(0, Said::PutBack);
    assert_eq!((desk.frame(0).draft, desk.frame(0).planned), (planned(1), None));
    assert_eq!([desk.frame(1).draft, desk.frame(2).draft], [planned(2), planned(3)]);
    assert_eq!(desk.book.entries_of_frame(desk.frames[0]).unwrap().len(), 6, "every word is still there");
}

#[test]
fn a_second_arrival_changes_nothing() {
    let mut desk = Desk::new();
    let entry = desk.entry(0, Said::Changed(wider()));
    let first = desk.book.add_entry(&entry, NOW).unwrap();
    desk.say(0, Said::PutBack);
    // Whatever it says now: what is known by this name was said before.
    let again = EntryDraft { said: Said::LeftOut, note: "other".into(), ..entry.clone() };
    for entry in [&entry, &again] {
        assert_eq!(desk.book.add_entry(entry, LATER).unwrap(), Arrival::Known(first.id()));
    }
    assert_eq!(desk.frame(0).state, FrameState::Planned);
    let kept = desk.book.entries_of_roll(desk.roll).unwrap();
    assert_eq!((kept.len(), kept[0].arrived.as_str(), kept[0].note.as_str()), (2, NOW, ""));
}

#[test]
fn what_overtook_on_the_way_is_put_in_its_place() {
    let mut desk = Desk::new();
    let [first, second, third] = [Said::Taken, Said::PutBack, Said::LeftOut].map(|said| desk.entry(0, said));
    for entry in [&third, &first, &second] {
        desk.book.add_entry(entry, NOW).unwrap();
        assert_eq!(desk.frame(0).state, FrameState::LeftOut);
    }
    let order: Vec<_> = desk.book.entries_of_frame(desk.frames[0]).unwrap().into_iter().map(|e| e.sequence).collect();
    assert_eq!(order, [1, 2, 3]);
}

#[test]
fn a_frame_that_is_gone_leaves_its_entries_as_notes() {
    let mut desk = Desk::new();
    desk.say(1, Said::Taken);
    let late = EntryDraft { note: "lamp moved".into(), ..desk.entry(1, Said::Changed(wider())) };
    desk.book.delete_frame(desk.frames[1]).unwrap();
    desk.book.add_entry(&late, LATER).unwrap();
    let [early, late] = <[_; 2]>::try_from(desk.book.entries_of_roll(desk.roll).unwrap()).unwrap();
    assert_eq!((early.frame, early.number, early.remark.as_str()), (None, Some(2), ""));
    assert_eq!((late.frame, late.number, late.note.as_str()), (None, Some(2), "lamp moved"));
    assert_eq!(late.said, Said::Changed(wider()), "word for word");
    assert_eq!(late.remark, "Frame 2 was deleted before this arrived, so it is kept as a note.");
    desk.book.check().unwrap();
}

#[test]
fn entries_outlive_their_roll() {
    let mut desk = Desk::new();
    desk.say(0, Said::Taken);
    let late = desk.entry(1, Said::Taken);
    desk.book.delete_roll(desk.roll).unwrap();
    desk.book.add_entry(&late, LATER).unwrap();
    let kept = desk.book.entries_without_roll().unwrap();
    let told: Vec<_> = kept.iter().map(|entry| (entry.number, entry.remark.as_str())).collect();
    assert_eq!(told, [(Some(1), ""), (Some(2), "The roll was deleted before this arrived.")]);
    assert_eq!(desk.book.entries_of_roll(desk.roll).unwrap(), []);
}

#[test]
fn a_frame_of_another_roll_is_not_this_rolls() {
    let mut desk = Desk::new();
    let other = plant(&mut desk.book, "other");
    let entry = EntryDraft { frame: Some(other.frame), ..desk.entry(0, Said::LeftOut) };
    desk.book.add_entry(&entry, NOW).unwrap();
    assert_eq!(desk.book.frame(other.frame).unwrap().unwrap().state, FrameState::Shot);
    assert!(desk.book.entry_called(&entry.uid).unwrap().unwrap().remark.starts_with("Frame 1 was deleted"));
}

#[test]
fn a_frame_that_nobody_planned() {
    let mut desk = Desk::new();
    let set = Deviations { parts: Some(vec!["body-1".into()]), focus: Some("closest".into()), ..wider() };
    let extra = |number, entry: EntryDraft| EntryDraft { frame: None, number: Some(number), ..entry };
    let entry = extra(4, desk.entry(0, Said::Extra(set.clone())));
    desk.book.add_entry(&entry, NOW).unwrap();
    let frame = desk.book.frames(desk.roll).unwrap().remove(3);
    assert_eq!((frame.number, frame.state, frame.f_number), (4, FrameState::Shot, Some(8.0)));
    assert_eq!((frame.parts.as_slice(), frame.focus.as_str()), (&["body-1".to_owned()][..], "closest"));
    assert_eq!(frame.planned, None);
    // Later entries know it by its number.
    let back = extra(4, desk.entry(0, Said::LeftOut));
    desk.book.add_entry(&back, NOW).unwrap();
    assert_eq!(desk.book.frame(frame.id).unwrap().unwrap().state, FrameState::LeftOut);
    // A number that is taken is refused by name, and what was said is kept.
    let twice = extra(2, desk.entry(0, Said::Extra(set)));
    desk.book.add_entry(&twice, NOW).unwrap();
    let kept = desk.book.entry_called(&twice.uid).unwrap().unwrap();
    assert_eq!(kept.remark, "The roll has a frame 2 already, so this one is kept as a note.");
    assert_eq!((desk.frame(1).draft, kept.number), (planned(2), Some(2)));
}

#[test]
fn figures_that_cannot_be_are_refused_by_name() {
    let mut desk = Desk::new();
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let sets = [
            ("the f-number", Deviations { f_number: Some(bad), ..Deviations::default() }),
            ("the shutter time", Deviations { shutter_s: Some(bad), ..Deviations::default() }),
            ("the metered time", Deviations { metered_s: Some(bad), ..Deviations::default() }),
        ];
        for (name, set) in sets {
            let entry = desk.entry(0, Said::Changed(set));
            let refused = desk.book.add_entry(&entry, NOW);
            assert!(matches!(refused, Err(NotebookError::Value { field, .. }) if field == name), "{refused:?}");
        }
    }
    let stranger = EntryDraft { device: Some(DeviceId(99)), ..desk.entry(0, Said::Taken) };
    assert!(matches!(desk.book.add_entry(&stranger, NOW), Err(NotebookError::NoSuchDevice { .. })));
    assert_eq!(desk.book.entries_of_roll(desk.roll).unwrap(), []);
    assert_eq!(desk.frame(0).draft, planned(1));
}

#[test]
fn entries_keep_their_words() {
    let mut desk = Desk::new();
    for text in awkward_texts() {
        let set = Deviations {
            parts: Some(vec![text.clone(), String::new()]),
            focus: Some(text.clone()),
            f_number: Some(1.0 / 3.0),
            shutter_s: Some(5e-324),
            metered_s: Some(f64::MAX),
        };
        let draft = desk.entry(2, Said::Changed(set));
        let draft = EntryDraft { meter: text.clone(), note: text.clone(), said_at: text, ..draft };
        desk.book.add_entry(&draft, NOW).unwrap();
        let kept = desk.book.entry_called(&draft.uid).unwrap().unwrap();
        assert!(kept.said == draft.said && kept.meter == draft.meter && kept.note == draft.note);
        assert!(kept.said_at == draft.said_at && kept.device == draft.device && kept.sequence == draft.sequence);
        assert!(Said::Changed(deviations_of(&desk.frame(2))) == draft.said);
    }
}

fn deviations_of(frame: &Frame) -> Deviations {
    let set = frame.exposed();
    Deviations {
        parts: Some(set.parts),
        focus: Some(set.focus),
        f_number: set.f_number,
        shutter_s: set.shutter_s,
        metered_s: set.metered_s,
    }
}

fn said() -> impl Strategy<Value = Said> {
    prop_oneof![
        Just(Said::Taken),
        (1..64_u32).prop_map(|f| Said::Changed(Deviations { f_number: Some(f.into()), ..Deviations::default() })),
        Just(Said::LeftOut),
        Just(Said::Note),
        Just(Said::PutBack),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: testkit::short_or_long(60, 200), failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever way the entries of one phone come, and however often: in the end all is as if each had come once, in order.
    #[test]
    fn the_way_there_does_not_matter(
        said in proptest::collection::vec((0..3_usize, said()), 1..20),
        way in proptest::collection::vec(any::<prop::sample::Index>(), 0..60),
    ) {
        let (mut straight, mut crooked) = (Desk::new(), Desk::new());
        let entries: Vec<_> = said.iter().map(|(at, said)| crooked.entry(*at, said.clone())).collect();
        for (at, said) in said {
            straight.say(at, said);
        }
        for index in way {
            crooked.book.add_entry(&entries[index.index(entries.len())], NOW).unwrap();
        }
        for entry in entries.iter().rev() {
            crooked.book.add_entry(entry, NOW).unwrap();
        }
        for at in 0..3 {
            prop_assert_eq!(straight.frame(at), crooked.frame(at));
        }
        let sequence: Vec<_> = crooked.book.entries_of_roll(crooked.roll).unwrap().iter().map(|e| e.sequence).collect();
        prop_assert_eq!(sequence, (1..=entries.len() as u32).collect::<Vec<_>>());
    }
}

#[test]
fn the_computers_own_entries_stand_between_the_phones() {
    let mut desk = Desk::new();
    desk.say(0, Said::Taken);
    let here = EntryDraft { device: None, sequence: 0, ..desk.entry(0, Said::LeftOut) };
    desk.book.add_entry(&here, NOW).unwrap();
    desk.say(1, Said::Taken);
    let devices: Vec<_> = desk.book.entries_of_roll(desk.roll).unwrap().iter().map(|entry| entry.device).collect();
    assert_eq!(devices, [Some(desk.phone), None, Some(desk.phone)]);
    assert_eq!(desk.frame(0).state, FrameState::LeftOut);
    assert_eq!(desk.book.last_sequence(desk.phone).unwrap(), 3);
}

#[test]
fn phones() {
    let mut book = Notebook::in_memory().unwrap();
    let [one, two] = ["one", "two"].map(|name| book.add_device(name, &format!("hash of {name}"), NOW).unwrap());
    assert_eq!(book.device_with_token("hash of two").unwrap().unwrap().id, two);
    assert_eq!(book.device_with_token("hash of three").unwrap(), None);
    assert!(book.add_device("three", "hash of two", NOW).is_err());
    book.set_device_seen(one, LATER).unwrap();
    book.revoke_device(one, "first").unwrap();
    book.revoke_device(one, "second").unwrap();
    let [first, second] = <[_; 2]>::try_from(book.devices().unwrap()).unwrap();
    assert_eq!((first.seen.as_str(), first.revoked.as_deref()), (LATER, Some("first")));
    assert_eq!((second.paired.as_str(), second.seen.as_str(), second.revoked), (NOW, NOW, None));
}

#[test]
fn photos() {
    let mut desk = Desk::new();
    let draft = PhotoDraft {
        uid: uid(1),
        roll: desk.roll,
        frame: Some(desk.frames[0]),
        number: Some(1),
        device: Some(desk.phone),
        bytes: 7,
        said_at: NOW.into(),
    };
    let begun = desk.book.begin_photo(&draft, LATER).unwrap();
    assert_eq!((begun.bytes, begun.stored.as_deref(), begun.arrived.as_str()), (7, None, LATER));
    assert_eq!(desk.book.begin_photo(&PhotoDraft { bytes: 9, ..draft.clone() }, NOW).unwrap(), begun);
    desk.book.finish_photo(begun.id, "1.jpg").unwrap();
    let other = desk.book.begin_photo(&PhotoDraft { uid: uid(2), frame: None, ..draft.clone() }, NOW).unwrap();
    let taken = desk.book.finish_photo(other.id, "1.jpg");
    assert!(matches!(taken, Err(NotebookError::StoredNameTaken { .. })), "{taken:?}");
    let empty = desk.book.begin_photo(&PhotoDraft { uid: uid(3), bytes: 0, ..draft.clone() }, NOW);
    assert!(matches!(empty, Err(NotebookError::Value { .. })));
    assert_eq!(desk.book.photos_of_frame(desk.frames[0]).unwrap().len(), 1);
    assert_eq!(desk.book.photos_of_roll(desk.roll).unwrap().len(), 2);
    desk.book.delete_frame(desk.frames[0]).unwrap();
    assert_eq!(desk.book.photo(begun.id).unwrap().unwrap().frame, None, "the picture stays");
    let late = desk.book.begin_photo(&PhotoDraft { uid: uid(4), ..draft }, NOW).unwrap();
    assert_eq!((late.roll, late.frame, late.number), (Some(desk.roll), None, Some(1)));
    desk.book.delete_roll(desk.roll).unwrap();
    assert_eq!(desk.book.photos_without_roll().unwrap().len(), 3);
    assert_eq!(desk.book.delete_photo(begun.id).unwrap().as_deref(), Some("1.jpg"));
    assert_eq!(desk.book.delete_photo(late.id).unwrap(), None);
}

#[test]
fn rolls_at_the_camera() {
    let mut desk = Desk::new();
    assert_eq!(desk.book.rolls_at_camera().unwrap(), []);
    desk.book.set_roll_at_camera(desk.roll, true).unwrap();
    assert_eq!(desk.book.rolls_at_camera().unwrap()[0].id, desk.roll);
    desk.book.update_roll(desk.roll, &samples::roll("renamed")).unwrap();
    assert!(desk.book.roll(desk.roll).unwrap().unwrap().at_camera);
    desk.book.set_roll_at_camera(desk.roll, false).unwrap();
    assert_eq!(desk.book.rolls_at_camera().unwrap(), []);
}

#[test]
fn films() {
    let mut book = Notebook::in_memory().unwrap();
    for (name, text) in [("slow", "1"), ("fast", "2"), ("slow", "3")] {
        book.put_film(name, text, NOW).unwrap();
    }
    let kept: Vec<_> = book.films().unwrap().into_iter().map(|film| (film.name, film.document)).collect();
    assert_eq!(kept, [("slow".to_owned(), "3".to_owned()), ("fast".to_owned(), "2".to_owned())]);
    book.delete_film("slow").unwrap();
    assert_eq!((book.film("slow").unwrap(), book.films().unwrap().len()), (None, 1));
}

#[test]
fn names_of_entries_are_uuids() {
    let wrong = ["", "1", "0d9f5a3e93c14b6a9f102f6f6e0c7a11", "0d9f5a3e-93c1-4b6a-9f10-2f6f6e0c7a1g"];
    for given in
        wrong.into_iter().chain(["../../../../../../../etc/passwd-----", "0d9f5a3e-93c1-4b6a-9f10-2f6f6e0c7a1é"])
    {
        assert_eq!(given.parse::<Uid>(), Err(UidError { given: given.into() }), "{given}");
    }
    // RFC 9562, section 4: read in either case.
    let large: Uid = "0D9F5A3E-93C1-4B6A-9F10-2F6F6E0C7A11".parse().unwrap();
    assert_eq!(large.as_str(), "0d9f5a3e-93c1-4b6a-9f10-2f6f6e0c7a11");
}
