//! One filled-in example of every record, with awkward texts and numbers.

use notebook::{
    FrameDraft, FrameId, FrameState, JobDraft, JobId, MeasurementDraft, MeasurementKind, Notebook, PartRecord,
    RollDraft, RollId, ScanDraft, ScanId,
};

pub const NOW: &str = "2026-03-01T09:00:00+01:00";

/// Texts that are easily spoiled on the way.
pub fn awkward_texts() -> Vec<String> {
    let short = [
        "'; DROP TABLE jobs; --",
        "\"double\" 'single' `back` \\ % _ ?1 :a @b $c",
        " blanks at both ends ",
        "tab\tline\nreturn\r\nend",
        "Käfer µm ½ ƒ/11 ± ×",
        "e\u{301} is not \u{e9}",
        "甲虫 🪲 👩🏽‍🔬 \u{202e}right to left\u{202c} عدسة",
        "\u{feff}\u{fffd}\u{10ffff}\u{1}\u{7f}",
        "a\u{0}b",
        "NULL",
        "1e999",
    ];
    short.into_iter().map(str::to_owned).chain(["long µ ".repeat(400_000)]).collect()
}

/// Numbers above zero that are easily rounded on the way.
pub const AWKWARD_NUMBERS: [f64; 7] =
    [0.1 + 0.2, 1.0 / 3.0, 5e-324, f64::MIN_POSITIVE, f64::MAX, 9_007_199_254_740_993.0, 1.0];

pub fn part(id: &str) -> PartRecord {
    PartRecord { kind: "tube".into(), id: id.into(), document: format!("[[tube]]\nid = \"{id}\"\nlength_mm = 16.0\n") }
}

pub fn job(title: &str) -> JobDraft {
    JobDraft {
        title: title.into(),
        subject: "a weevil, pinned".into(),
        subject_mm: 8.2,
        subject_depth_mm: Some(3.5),
        fill: 0.7,
        body: Some("body-1".into()),
        print_mm: 300.0,
        criterion_lp_mm: 4.0,
        contrast_needed: 0.3,
        least_working_distance_mm: Some(40.0),
        subject_short_mm: Some(4.1),
        depth_wanted_mm: Some(2.5),
        most_stops_lost: Some(3.5),
        largest_crop: 0.15,
        notes: "pin at the left".into(),
    }
}

pub fn roll(title: &str) -> RollDraft {
    RollDraft {
        title: title.into(),
        film: "slow film".into(),
        iso: Some(100.0),
        frames: Some(12),
        plan: r#"{"question":"which is sharper?"}"#.into(),
        notes: "from the cellar".into(),
    }
}

pub fn frame(number: u32) -> FrameDraft {
    FrameDraft {
        number,
        label: "the set-up of Tuesday".into(),
        parts: vec!["body-1".into(), "bellows-1=85".into(), "lens-80".into()],
        focus: "travel=3.5".into(),
        f_number: Some(11.0),
        shutter_s: Some(0.5),
        metered_s: Some(0.125),
        note: "lamp moved".into(),
        purpose: "repeat of frame 3, to see the scatter".into(),
        slot: "repeat/2".into(),
        focus_offset_mm: Some(-0.25),
        exposure_note: "1/8 s, two stops for the bellows".into(),
        state: FrameState::Shot,
    }
}

pub fn scan(job: Option<JobId>, frame: Option<FrameId>, stored: &str) -> ScanDraft {
    ScanDraft { job, frame, file_name: "../../weevil 1.tif".into(), stored: stored.into(), bytes: 29_040_000 }
}

pub fn measurement(scan: ScanId) -> MeasurementDraft {
    MeasurementDraft {
        scan,
        kind: MeasurementKind::Edge,
        label: "centre".into(),
        place: r#"{"x":100,"y":120,"width":80,"height":90}"#.into(),
        result: r#"{"mtf50":0.21,"remarks":[]}"#.into(),
        settings: r#"{"transfer":"icc"}"#.into(),
        made_by: "a version".into(),
    }
}

/// Numbers of a job with everything that can hang on it.
pub struct Tree {
    pub job: JobId,
    pub roll: RollId,
    pub frame: FrameId,
    pub scan: ScanId,
}

/// A job with a roll, a frame, a scan of that frame, a measurement in it, and a decision.
pub fn plant(book: &mut Notebook, title: &str) -> Tree {
    let job = book.add_job(&job(title), false, NOW).unwrap();
    let roll = book.add_roll(job, &roll(title)).unwrap();
    let frame = book.add_frame(roll, &frame(1)).unwrap();
    let scan = book.add_scan(&scan(Some(job), Some(frame), &format!("{title}.tif")), NOW).unwrap();
    book.add_measurement(&measurement(scan), NOW).unwrap();
    book.add_decision(job, "the bellows are kept", NOW).unwrap();
    Tree { job, roll, frame, scan }
}
