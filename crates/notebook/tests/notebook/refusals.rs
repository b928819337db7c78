//! What must not be kept is refused, by name, and changes nothing.

use notebook::{
    DecisionId, DeviceId, FrameDraft, FrameId, JobDraft, JobId, Magnification, MagnificationSource, MeasurementId,
    Notebook, NotebookError, PartRecord, PhotoId, RollDraft, RollId, ScanDraft, ScanId, ScanPicture, ScanState,
};

use crate::samples::{self, NOW, plant};

const NOT_ABOVE_ZERO: [f64; 6] = [0.0, -0.0, -1.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY];
const NEGATIVE_OR_NO_NUMBER: [f64; 4] = [-5e-324, f64::NAN, f64::INFINITY, f64::NEG_INFINITY];
const NO_SHARE: [f64; 5] = [0.0, -0.1, 1.000_000_1, f64::NAN, f64::INFINITY];

/// The field that was refused and the number that was given.
fn refused<T: std::fmt::Debug>(result: Result<T, NotebookError>) -> (&'static str, f64) {
    match result.unwrap_err() {
        NotebookError::Value { field, given, .. } => (field, given),
        other => panic!("{other:?}"),
    }
}

/// Every bad number is refused, named with its field, and told as it came.
fn each_refused<T: std::fmt::Debug>(
    field: &str,
    numbers: &[f64],
    mut put: impl FnMut(f64) -> Result<T, NotebookError>,
) {
    for &number in numbers {
        let (named, given) = refused(put(number));
        assert_eq!((named, given.to_bits()), (field, number.to_bits()));
    }
}

#[test]
fn numbers_of_a_job_that_cannot_be() {
    let mut book = Notebook::in_memory().unwrap();
    let base = || samples::job("job");
    let mut add = |draft: JobDraft| book.add_job(&draft, false, NOW);
    each_refused("the longest side of the subject", &NOT_ABOVE_ZERO, |bad| add(JobDraft { subject_mm: bad, ..base() }));
    each_refused("the depth of the subject", &NEGATIVE_OR_NO_NUMBER, |bad| {
        add(JobDraft { subject_depth_mm: Some(bad), ..base() })
    });
    each_refused("the share of the frame that the subject fills", &NO_SHARE, |bad| {
        add(JobDraft { fill: bad, ..base() })
    });
    each_refused("the long side of the print", &NOT_ABOVE_ZERO, |bad| add(JobDraft { print_mm: bad, ..base() }));
    each_refused("the fineness needed in the print", &NOT_ABOVE_ZERO, |bad| {
        add(JobDraft { criterion_lp_mm: bad, ..base() })
    });
    each_refused("the contrast needed at that fineness", &NO_SHARE, |bad| {
        add(JobDraft { contrast_needed: bad, ..base() })
    });
    each_refused("the least working distance", &NEGATIVE_OR_NO_NUMBER, |bad| {
        add(JobDraft { least_working_distance_mm: Some(bad), ..base() })
    });
    assert_eq!(book.jobs().unwrap(), []);
    let id = book.add_job(&base(), false, NOW).unwrap();
    each_refused("the long side of the print", &NOT_ABOVE_ZERO, |bad| {
        book.update_job(id, &JobDraft { print_mm: bad, ..base() })
    });
    assert_eq!(*book.job(id).unwrap().unwrap(), base());
}

#[test]
fn numbers_of_a_roll_and_a_frame_that_cannot_be() {
    let mut book = Notebook::in_memory().unwrap();
    let tree = plant(&mut book, "tree");
    each_refused("the film speed", &NOT_ABOVE_ZERO, |bad| {
        book.add_roll(tree.job, &RollDraft { iso: Some(bad), ..samples::roll("bad") })
    });
    let no_frames = RollDraft { frames: Some(0), ..samples::roll("bad") };
    assert_eq!(refused(book.add_roll(tree.job, &no_frames)), ("the number of frames on the roll", 0.0));
    let mut add = |draft: FrameDraft| book.add_frame(tree.roll, &draft);
    let base = || samples::frame(2);
    each_refused("the focus offset", &[f64::NAN, f64::INFINITY, f64::NEG_INFINITY], |bad| {
        add(FrameDraft { focus_offset_mm: Some(bad), ..base() })
    });
    each_refused("the f-number", &NOT_ABOVE_ZERO, |bad| add(FrameDraft { f_number: Some(bad), ..base() }));
    each_refused("the shutter time", &NOT_ABOVE_ZERO, |bad| add(FrameDraft { shutter_s: Some(bad), ..base() }));
    each_refused("the metered time", &NOT_ABOVE_ZERO, |bad| add(FrameDraft { metered_s: Some(bad), ..base() }));
    assert_eq!((book.rolls(tree.job).unwrap().len(), book.frames(tree.roll).unwrap().len()), (1, 1));
}

#[test]
fn numbers_of_a_scan_that_cannot_be() {
    let mut book = Notebook::in_memory().unwrap();
    let scan = plant(&mut book, "tree").scan;
    let before = book.scan(scan).unwrap();
    let base = || ScanPicture { width: 2200, height: 2200, bits: 16, ..ScanPicture::default() };
    let whole = [
        ("the width of the scan", ScanPicture { width: 0, ..base() }),
        ("the height of the scan", ScanPicture { height: 0, ..base() }),
        ("the bits per sample of the scan", ScanPicture { bits: 0, ..base() }),
    ];
    for (field, picture) in whole {
        assert_eq!(refused(book.set_scan_picture(scan, &picture)).0, field);
    }
    each_refused("the distance from pixel to pixel", &NOT_ABOVE_ZERO, |bad| {
        book.set_scan_picture(scan, &ScanPicture { pitch_um: Some(bad), ..base() })
    });
    each_refused("the distance from pixel to pixel", &NOT_ABOVE_ZERO, |bad| {
        book.set_scan_pitch(scan, Some(bad), "entered")
    });
    let from = MagnificationSource::Entered;
    each_refused("the magnification", &NOT_ABOVE_ZERO, |value| {
        book.set_scan_magnification(scan, Some(Magnification { value, plus_minus: None, from }))
    });
    each_refused("the uncertainty of the magnification", &NEGATIVE_OR_NO_NUMBER, |bad| {
        book.set_scan_magnification(scan, Some(Magnification { value: 1.0, plus_minus: Some(bad), from }))
    });
    each_refused("the share of the scan that is prepared", &[-0.1, 1.1, f64::NAN], |share| {
        book.set_scan_state(scan, &ScanState::Preparing { share })
    });
    let huge = ScanDraft { bytes: u64::MAX, ..samples::scan(None, None, "huge") };
    assert_eq!(refused(book.add_scan(&huge, NOW)).0, "the size of the scan");
    assert_eq!(book.scan(scan).unwrap(), before);
}

#[test]
fn texts_that_must_not_be_empty() {
    let mut book = Notebook::in_memory().unwrap();
    let tree = plant(&mut book, "tree");
    for blank in ["", " ", "\t\n\u{a0}"] {
        let part = |id: &str, kind: &str| PartRecord { id: id.into(), kind: kind.into(), document: String::new() };
        let results = [
            book.add_part(&part(blank, "lens")),
            book.add_part(&part("a", blank)),
            book.add_job(&samples::job(blank), false, NOW).map(drop),
            book.update_job(tree.job, &samples::job(blank)),
            book.add_scan(&samples::scan(None, None, blank), NOW).map(drop),
            book.add_decision(tree.job, blank, NOW).map(drop),
            book.add_device(blank, "hash", NOW).map(drop),
            book.put_film(blank, "{}", NOW),
        ];
        for result in results {
            assert!(matches!(result, Err(NotebookError::Blank { .. })), "{result:?}");
        }
    }
}

#[test]
fn names_and_numbers_that_are_taken() {
    let mut book = Notebook::in_memory().unwrap();
    let tree = plant(&mut book, "tree");
    let second = book.add_frame(tree.roll, &samples::frame(2)).unwrap();
    book.replace_kit(&[samples::part("a"), samples::part("b")]).unwrap();
    let duplicate = |result| matches!(result, Err(NotebookError::DuplicatePart { id }) if id == "a");
    assert!(duplicate(book.add_part(&samples::part("a"))));
    assert!(duplicate(book.update_part("b", &samples::part("a"))));
    let taken = |error| matches!(error, NotebookError::FrameNumberTaken { roll, number: 1 } if roll == tree.roll);
    assert!(taken(book.add_frame(tree.roll, &samples::frame(1)).unwrap_err()));
    assert!(taken(book.update_frame(second, &samples::frame(1)).unwrap_err()));
    let error = book.add_scan(&samples::scan(None, None, "tree.tif"), NOW).unwrap_err();
    assert!(matches!(error, NotebookError::StoredNameTaken { stored } if stored == "tree.tif"));
    assert_eq!(book.frame(second).unwrap().unwrap().number, 2);
    let other_roll = book.add_roll(tree.job, &samples::roll("other")).unwrap();
    book.add_frame(other_roll, &samples::frame(1)).unwrap();
}

#[test]
fn a_scan_of_a_frame_of_another_job() {
    let mut book = Notebook::in_memory().unwrap();
    let (here, there) = (plant(&mut book, "here"), plant(&mut book, "there"));
    let error = book.add_scan(&samples::scan(Some(here.job), Some(there.frame), "new"), NOW).unwrap_err();
    assert_eq!(
        error.to_string(),
        "frame 2 belongs to job 2, not to job 1: choose a frame of that job, or that frame's job"
    );
    assert_eq!(book.scans().unwrap().len(), 2);
}

#[test]
fn entries_that_are_not_there() {
    let mut book = Notebook::in_memory().unwrap();
    let tree = plant(&mut book, "tree");
    let (job, roll, frame, scan) = (JobId(99), RollId(99), FrameId(99), ScanId(99));
    let results = [
        ("NoSuchPart", book.update_part("x", &samples::part("y"))),
        ("NoSuchPart", book.delete_part("x")),
        ("NoSuchJob", book.update_job(job, &samples::job("x"))),
        ("NoSuchJob", book.delete_job(job)),
        ("NoSuchJob", book.add_roll(job, &samples::roll("x")).map(drop)),
        ("NoSuchJob", book.add_decision(job, "x", NOW).map(drop)),
        ("NoSuchJob", book.add_scan(&samples::scan(Some(job), None, "x"), NOW).map(drop)),
        ("NoSuchJob", book.set_scan_job(tree.scan, Some(job))),
        ("NoSuchRoll", book.update_roll(roll, &samples::roll("x"))),
        ("NoSuchRoll", book.delete_roll(roll)),
        ("NoSuchRoll", book.add_frame(roll, &samples::frame(1)).map(drop)),
        ("NoSuchFrame", book.update_frame(frame, &samples::frame(1))),
        ("NoSuchFrame", book.delete_frame(frame)),
        ("NoSuchFrame", book.add_scan(&samples::scan(None, Some(frame), "x"), NOW).map(drop)),
        ("NoSuchFrame", book.set_scan_frame(tree.scan, Some(frame))),
        ("NoSuchRoll", book.set_roll_at_camera(roll, true)),
        ("NoSuchDevice", book.set_device_seen(DeviceId(99), NOW)),
        ("NoSuchDevice", book.revoke_device(DeviceId(99), NOW)),
        ("NoSuchPhoto", book.finish_photo(PhotoId(99), "1.jpg")),
        ("NoSuchPhoto", book.delete_photo(PhotoId(99)).map(drop)),
        ("NoSuchFilm", book.delete_film("slow film")),
        ("NoSuchScan", book.set_scan_frame(scan, None)),
        ("NoSuchScan", book.set_scan_job(scan, None)),
        ("NoSuchScan", book.set_scan_pitch(scan, None, "")),
        ("NoSuchScan", book.set_scan_state(scan, &ScanState::Ready)),
        ("NoSuchScan", book.set_scan_magnification(scan, None)),
        ("NoSuchScan", book.add_measurement(&samples::measurement(scan), NOW).map(drop)),
        ("NoSuchScan", book.delete_scan(scan).map(drop)),
        ("NoSuchMeasurement", book.delete_measurement(MeasurementId(99))),
        ("NoSuchDecision", book.delete_decision(DecisionId(99))),
    ];
    for (number, (name, result)) in results.into_iter().enumerate() {
        let error = format!("{:?}", result.unwrap_err());
        assert!(error.starts_with(name), "{number}: {error} instead of {name}");
    }
}

#[test]
fn a_refusal_says_what_where_and_what_to_do() {
    let mut book = Notebook::in_memory().unwrap();
    let draft = JobDraft { subject_mm: -8.0, ..samples::job("job") };
    let told = book.add_job(&draft, false, NOW).unwrap_err().to_string();
    assert_eq!(
        told,
        "the longest side of the subject is -8: it must be a number above 0, in mm; correct it and save again"
    );
    book.add_part(&samples::part("tube-1")).unwrap();
    let told = book.add_part(&samples::part("tube-1")).unwrap_err().to_string();
    assert!(told.starts_with("the kit has a part called \"tube-1\" already: give this one another id"), "{told}");
}
