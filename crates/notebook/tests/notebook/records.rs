//! What goes in comes out unchanged, also after the file was closed and opened again.

use notebook::{
    Decision, Frame, FrameDraft, FrameState, Job, JobDraft, Magnification, MagnificationSource, Matched, Measurement,
    MeasurementDraft, MeasurementKind, Notebook, NotebookError, PartRecord, ResponseDraft, ResponseKind, Roll,
    RollDraft, Scan, ScanDraft, ScanPicture, ScanState,
};

use crate::samples::{self, AWKWARD_NUMBERS, NOW, awkward_texts};

/// Makes something in a new file, then reads it in the same file opened anew.
fn through_a_file<T>(write: impl FnOnce(&mut Notebook) -> T, read: impl FnOnce(&Notebook, T)) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("notebook");
    let made = write(&mut Notebook::open(&path).unwrap());
    let book = Notebook::open(&path).unwrap();
    book.check().unwrap();
    read(&book, made);
}

#[test]
fn parts_keep_their_text_and_their_order() {
    let kit: Vec<_> = awkward_texts()
        .into_iter()
        .map(|text| PartRecord { kind: text.clone(), id: text.clone(), document: text })
        .rev()
        .collect();
    let given = kit.clone();
    through_a_file(
        |book| kit.iter().for_each(|part| book.add_part(part).unwrap()),
        |book, ()| {
            assert!(book.parts().unwrap() == given);
            for part in &given {
                assert!(book.part(&part.id).unwrap().as_ref() == Some(part));
            }
            assert_eq!(book.part("drop table jobs").unwrap(), None);
        },
    );
}

#[test]
fn a_changed_part_keeps_its_place_and_may_take_a_new_name() {
    let mut book = Notebook::in_memory().unwrap();
    for id in ["a", "b", "c"] {
        book.add_part(&samples::part(id)).unwrap();
    }
    let changed = PartRecord { kind: "lens".into(), id: "z".into(), document: "f = 80".into() };
    book.update_part("b", &changed).unwrap();
    assert_eq!(book.parts().unwrap(), [samples::part("a"), changed.clone(), samples::part("c")]);
    let same_name = PartRecord { document: "f = 81".into(), ..changed };
    book.update_part("z", &same_name).unwrap();
    assert_eq!(book.part("z").unwrap(), Some(same_name));
    book.delete_part("a").unwrap();
    book.add_part(&samples::part("a")).unwrap();
    let order: Vec<_> = book.parts().unwrap().into_iter().map(|part| part.id).collect();
    assert_eq!(order, ["z", "c", "a"], "what is entered again stands at the end");
}

#[test]
fn jobs() {
    let texts = awkward_texts();
    let drafts: Vec<_> = texts
        .iter()
        .zip(AWKWARD_NUMBERS.iter().cycle())
        .map(|(text, &number)| JobDraft {
            title: text.clone(),
            subject: text.clone(),
            subject_mm: number,
            subject_depth_mm: Some(number),
            subject_short_mm: Some(number),
            depth_wanted_mm: Some(number),
            most_stops_lost: Some(number),
            largest_crop: 0.5,
            fill: (1.0 / 3.0) * number.clamp(1e-300, 1.0),
            body: Some(text.clone()),
            print_mm: number,
            criterion_lp_mm: number,
            contrast_needed: 1.0,
            least_working_distance_mm: Some(number),
            notes: text.clone(),
        })
        .chain([
            samples::job("plain"),
            JobDraft { title: "default".into(), ..JobDraft::default() },
            JobDraft { subject_depth_mm: Some(0.0), least_working_distance_mm: Some(0.0), ..samples::job("flat") },
            JobDraft { body: None, subject_depth_mm: None, least_working_distance_mm: None, ..samples::job("nothing") },
        ])
        .collect();
    let given = drafts.clone();
    through_a_file(
        |book| drafts.iter().map(|draft| book.add_job(draft, draft.title == "plain", NOW).unwrap()).collect::<Vec<_>>(),
        |book, ids| {
            let expected: Vec<_> = ids
                .iter()
                .zip(given)
                .map(|(&id, draft)| Job { id, demo: draft.title == "plain", draft, created: NOW.into() })
                .collect();
            assert!(book.jobs().unwrap() == expected);
            for job in expected {
                assert!(book.job(job.id).unwrap() == Some(job));
            }
        },
    );
}

#[test]
fn a_changed_job_keeps_its_number_its_origin_and_its_date() {
    let mut book = Notebook::in_memory().unwrap();
    let id = book.add_job(&samples::job("before"), true, NOW).unwrap();
    let other = book.add_job(&samples::job("other"), false, NOW).unwrap();
    let draft = JobDraft { title: "after".into(), body: None, ..JobDraft::default() };
    book.update_job(id, &draft).unwrap();
    assert_eq!(book.job(id).unwrap(), Some(Job { id, draft, demo: true, created: NOW.into() }));
    assert_eq!(book.job(other).unwrap().unwrap().title, "other");
}

#[test]
fn rolls_and_frames() {
    let texts = awkward_texts();
    let rolls: Vec<_> = texts
        .iter()
        .map(|text| RollDraft {
            title: text.clone(),
            film: text.clone(),
            iso: Some(0.1 + 0.2),
            frames: Some(u32::MAX),
            plan: text.clone(),
            notes: text.clone(),
        })
        .chain([RollDraft::default()])
        .collect();
    let frames: Vec<_> = texts
        .iter()
        .zip([0, 1, 12, u32::MAX].into_iter().chain(100..))
        .map(|(text, number)| FrameDraft {
            number,
            label: text.clone(),
            parts: vec![text.clone(), String::new(), text.clone()],
            focus: text.clone(),
            f_number: Some(1.0 / 3.0),
            shutter_s: Some(5e-324),
            metered_s: Some(f64::MAX),
            note: text.clone(),
            purpose: text.clone(),
            slot: text.clone(),
            focus_offset_mm: Some(-f64::MAX),
            exposure_note: text.clone(),
            state: if number % 2 == 0 { FrameState::Shot } else { FrameState::LeftOut },
        })
        .chain([FrameDraft { number: 2, ..FrameDraft::default() }])
        .collect();
    let (given_rolls, mut given_frames) = (rolls.clone(), frames.clone());
    through_a_file(
        |book| {
            let job = book.add_job(&samples::job("job"), false, NOW).unwrap();
            let ids: Vec<_> = rolls.iter().map(|draft| book.add_roll(job, draft).unwrap()).collect();
            let frame_ids: Vec<_> = frames.iter().map(|draft| book.add_frame(ids[1], draft).unwrap()).collect();
            book.add_frame(ids[0], &samples::frame(7)).unwrap();
            (job, ids, frame_ids)
        },
        |book, (job, ids, frame_ids)| {
            let roll = |(&id, draft)| Roll { id, job, draft, at_camera: false };
            let expected: Vec<_> = ids.iter().zip(given_rolls).map(roll).collect();
            assert!(book.rolls(job).unwrap() == expected);
            assert!(book.roll(ids[3]).unwrap().as_ref() == expected.get(3));
            for (id, draft) in frame_ids.iter().zip(&given_frames) {
                assert!(
                    book.frame(*id).unwrap()
                        == Some(Frame { id: *id, roll: ids[1], draft: draft.clone(), planned: None })
                );
            }
            given_frames.sort_by_key(|draft| draft.number);
            let of_roll: Vec<_> = book.frames(ids[1]).unwrap().into_iter().map(|frame| frame.draft).collect();
            assert!(of_roll == given_frames, "a roll's frames come by their numbers on the film");
            let of_job: Vec<_> = book.frames_of_job(job).unwrap().into_iter().map(|frame| frame.draft).collect();
            assert!(of_job == [vec![samples::frame(7)], given_frames].concat(), "a job's frames come roll by roll");
        },
    );
}

#[test]
fn scans_know_what_was_noted_of_them() {
    let picture = ScanPicture {
        width: u32::MAX,
        height: 1,
        bits: 16,
        pitch_um: Some(25.4),
        pitch_from: "file".into(),
        transfer: "icc".into(),
        about: awkward_texts().concat(),
    };
    let magnification = Magnification { value: 1.0 / 3.0, plus_minus: Some(0.0), from: MagnificationSource::SetUp };
    let given = picture.clone();
    through_a_file(
        |book| {
            let tree = samples::plant(book, "tree");
            book.set_scan_picture(tree.scan, &picture).unwrap();
            book.set_scan_magnification(tree.scan, Some(magnification)).unwrap();
            book.set_scan_state(tree.scan, &ScanState::Preparing { share: 1.0 / 3.0 }).unwrap();
            tree
        },
        |book, tree| {
            let expected = Scan {
                id: tree.scan,
                job: Some(tree.job),
                frame: Some(tree.frame),
                file_name: "../../weevil 1.tif".into(),
                stored: "tree.tif".into(),
                bytes: 29_040_000,
                width: Some(given.width),
                height: Some(given.height),
                bits: Some(given.bits),
                pitch_um: given.pitch_um,
                pitch_from: given.pitch_from,
                transfer: given.transfer,
                about: given.about,
                magnification: Some(magnification),
                matched: Some(Matched::Hand),
                state: ScanState::Preparing { share: 1.0 / 3.0 },
                created: NOW.into(),
            };
            assert!(book.scan(tree.scan).unwrap().as_ref() == Some(&expected));
            assert!(book.scans().unwrap() == [expected.clone()]);
            assert!(book.scans_of_job(tree.job).unwrap() == [expected.clone()]);
            assert!(book.scan_of_frame(tree.frame).unwrap() == Some(expected));
        },
    );
}

#[test]
fn a_scan_that_just_arrives_has_nothing_made_up() {
    let mut book = Notebook::in_memory().unwrap();
    let draft = ScanDraft { stored: "1".into(), ..ScanDraft::default() };
    let id = book.add_scan(&draft, NOW).unwrap();
    let scan = book.scan(id).unwrap().unwrap();
    assert_eq!((scan.job, scan.frame, scan.bytes), (None, None, 0));
    assert_eq!((scan.width, scan.height, scan.bits, scan.pitch_um), (None, None, None, None));
    assert_eq!((scan.magnification, scan.state), (None, ScanState::Arriving));
    assert_eq!([scan.pitch_from, scan.transfer, scan.about], [""; 3]);
}

#[test]
fn every_state_and_every_source_of_a_scan() {
    let mut book = Notebook::in_memory().unwrap();
    let id = book.add_scan(&samples::scan(None, None, "1"), NOW).unwrap();
    let states = [
        ScanState::Preparing { share: 0.0 },
        ScanState::Preparing { share: 1.0 },
        ScanState::Failed { why: "the file ends early".into() },
        ScanState::Failed { why: String::new() },
        ScanState::Ready,
        ScanState::Arriving,
    ];
    for state in states {
        book.set_scan_state(id, &state).unwrap();
        assert_eq!(book.scan(id).unwrap().unwrap().state, state);
    }
    for from in [MagnificationSource::Ruler, MagnificationSource::SetUp, MagnificationSource::Entered] {
        let given = Some(Magnification { value: 0.5, plus_minus: None, from });
        book.set_scan_magnification(id, given).unwrap();
        assert_eq!(book.scan(id).unwrap().unwrap().magnification, given);
    }
    book.set_scan_magnification(id, None).unwrap();
    assert_eq!(book.scan(id).unwrap().unwrap().magnification, None);
    book.set_scan_pitch(id, Some(10.6), "entered").unwrap();
    let scan = book.scan(id).unwrap().unwrap();
    assert_eq!((scan.pitch_um, scan.pitch_from.as_str()), (Some(10.6), "entered"));
    book.set_scan_pitch(id, None, "").unwrap();
    assert_eq!(book.scan(id).unwrap().unwrap().pitch_um, None);
}

#[test]
fn responses() {
    let texts: Vec<String> = awkward_texts().into_iter().filter(|text| !text.trim().is_empty()).collect();
    let given = texts.clone();
    let draft =
        |text: &String, kind| ResponseDraft { name: text.clone(), kind, source: text.clone(), document: text.clone() };
    through_a_file(
        |book| {
            for text in &texts {
                let id = book.add_response(&draft(text, ResponseKind::Scanner), text).unwrap();
                let again = book.add_response(&draft(text, ResponseKind::Film), text).unwrap_err();
                assert!(matches!(again, NotebookError::ResponseNameTaken { name } if name == *text));
                assert!(
                    book.response(id).unwrap().is_some_and(|kept| kept.draft == draft(text, ResponseKind::Scanner))
                );
            }
            let film = book.add_response(&draft(&"a film".to_owned(), ResponseKind::Film), "now").unwrap();
            book.delete_response(film).unwrap();
            assert!(matches!(book.delete_response(film), Err(NotebookError::NoSuchResponse { .. })));
            let blank = draft(&" ".to_owned(), ResponseKind::Film);
            assert!(matches!(book.add_response(&blank, "now"), Err(NotebookError::Blank { .. })));
        },
        |book, ()| {
            let kept: Vec<String> = book.responses().unwrap().into_iter().map(|kept| kept.draft.document).collect();
            assert_eq!(kept, given);
        },
    );
}

#[test]
fn measurements_and_decisions() {
    let texts = awkward_texts();
    let given = texts.clone();
    through_a_file(
        |book| {
            let tree = samples::plant(book, "tree");
            for text in &texts {
                let [label, place, result] = [text.clone(), text.clone(), text.clone()];
                let draft = MeasurementDraft {
                    scan: tree.scan,
                    kind: MeasurementKind::Scale,
                    label,
                    place,
                    result,
                    settings: text.clone(),
                    made_by: text.clone(),
                };
                book.add_measurement(&draft, text).unwrap();
                book.add_decision(tree.job, text, text).unwrap();
            }
            tree
        },
        |book, tree| {
            let measured = book.measurements(tree.scan).unwrap();
            assert!(measured == book.measurements_of_job(tree.job).unwrap());
            assert_eq!(*measured[0], samples::measurement(tree.scan));
            assert_eq!(measured.len(), 1 + given.len());
            let decided = book.decisions(tree.job).unwrap();
            assert_eq!(decided.len(), 1 + given.len());
            for ((measurement, decision), text) in measured.iter().zip(&decided).skip(1).zip(given) {
                assert!(book.measurement(measurement.id).unwrap().as_ref() == Some(measurement));
                assert!(same_text(measurement, &text));
                let Decision { job, text: kept, created, .. } = decision;
                assert!(*job == tree.job && *kept == text && *created == text);
            }
        },
    );
}

fn same_text(measurement: &Measurement, text: &str) -> bool {
    let texts = [
        &measurement.label,
        &measurement.place,
        &measurement.result,
        &measurement.settings,
        &measurement.made_by,
        &measurement.created,
    ];
    measurement.kind == MeasurementKind::Scale && texts.into_iter().all(|kept| kept == text)
}

#[test]
fn settings() {
    let texts = awkward_texts();
    through_a_file(
        |book| {
            for text in &texts {
                book.set_setting(text, "first").unwrap();
                book.set_setting(text, text).unwrap();
            }
            texts
        },
        |book, texts| {
            for text in texts {
                assert!(book.setting(&text).unwrap() == Some(text));
            }
            assert_eq!(book.setting("demo-made").unwrap(), None);
        },
    );
}
