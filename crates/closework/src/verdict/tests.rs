//! Verdicts on notebooks whose figures are known: curves that fall in a straight line, so that every resolution follows by hand.

use notebook::{
    FrameDraft, FrameId, FrameState, JobDraft, JobId, Magnification, MagnificationSource, MeasurementDraft,
    MeasurementKind, Notebook, PartRecord, RollDraft, RollId, ScanDraft, ScanId, ScanPicture, UseDraft,
};
use serde_json::json;
use testkit::assert_close;

use super::verdict;
use crate::documents::VerdictDocument;
use crate::documents::verdict::{Sentence, SentenceKind, UseStanding, VerdictSettings};

const NOW: &str = "2026-05-01T10:00:00Z";

/// A notebook under construction: one body, two lenses, tubes; one job that wants 25 lp/mm on film at 1:2.
pub(crate) struct Bench {
    pub book: Notebook,
    pub job: JobId,
    roll: RollId,
    frames: u32,
}

fn part(kind: &str, id: &str, more: &str) -> PartRecord {
    PartRecord { kind: kind.into(), id: id.into(), document: format!("[[{kind}]]\nid = \"{id}\"\n{more}\n") }
}

fn lens(id: &str, focal: u32) -> PartRecord {
    let more =
        format!("mount = \"a\"\nfocal_length_mm = {focal}\nmax_aperture = 4\nlength_mm = 60\nname = \"The {focal}\"");
    part("lens", id, &more)
}

fn tube(mm: u32) -> PartRecord {
    part("tube", &format!("tube-{mm}"), &format!("mount = \"a\"\nlength_mm = {mm}\nname = \"{mm} mm of tubes\""))
}

impl Bench {
    pub fn new() -> Self {
        let mut book = Notebook::in_memory().expect("notebook");
        let body = part("body", "six", "frame_mm = [56, 56]\nregister_mm = 80\nmount = \"a\"\nname = \"Body\"");
        book.replace_kit(&[body, lens("long", 120), lens("normal", 80), tube(60), tube(40), tube(13)]).expect("kit");
        // 0.5 · 56 / 56: 1:2. Enlarged 5 times at 5 lp/mm on paper: 25 lp/mm on film, 12.5 on the subject.
        let job =
            JobDraft { title: "Beetles".into(), subject_mm: 56.0, fill: 0.5, print_mm: 280.0, ..JobDraft::default() };
        let job = book.add_job(&job, false, NOW).expect("job");
        let roll = book.add_roll(job, &RollDraft { title: "A".into(), ..RollDraft::default() }).expect("roll");
        Self { book, job, roll, frames: 0 }
    }

    /// With the 120 at 30 lp/mm and the 80 at 14 ± 2 lp/mm in the corner, both at 1:2.
    pub fn compared() -> Self {
        let mut bench = Self::new();
        let long = bench.scan_of(&["six", "tube-60", "long"], "long.tif");
        bench.edge(long, "corner", 0.85, 0.30, 0.01);
        let normal = bench.scan_of(&["six", "tube-40", "normal"], "normal.tif");
        bench.edge(normal, "corner", 0.85, 0.14, 0.02);
        bench
    }

    pub fn frame(&mut self, parts: &[&str], change: impl FnOnce(&mut FrameDraft)) -> FrameId {
        self.frames += 1;
        let mut draft = FrameDraft {
            number: self.frames,
            parts: parts.iter().map(ToString::to_string).collect(),
            f_number: Some(8.0),
            state: FrameState::Shot,
            ..FrameDraft::default()
        };
        change(&mut draft);
        self.book.add_frame(self.roll, &draft).expect("frame")
    }

    /// A scan of 5600 pixels of 10 µm, its scale measured at 1:2 to a hundredth.
    pub fn scan(&mut self, frame: Option<FrameId>, name: &str, m: Option<f64>) -> ScanId {
        let draft = ScanDraft { job: Some(self.job), frame, file_name: name.into(), stored: name.into(), bytes: 1 };
        let id = self.book.add_scan(&draft, NOW).expect("scan");
        let picture =
            ScanPicture { width: 5600, height: 5600, bits: 16, pitch_um: Some(10.0), ..ScanPicture::default() };
        self.book.set_scan_picture(id, &picture).expect("picture");
        let m =
            m.map(|value| Magnification { value, plus_minus: Some(0.01 * value), from: MagnificationSource::Ruler });
        self.book.set_scan_magnification(id, m).expect("scale");
        id
    }

    fn scan_of(&mut self, parts: &[&str], name: &str) -> ScanId {
        let frame = self.frame(parts, |_| {});
        self.scan(Some(frame), name, Some(0.5))
    }

    /// An edge whose contrast falls in a straight line to 20 % at `fineness` (cycles per pixel), which is known to ± `half`.
    pub fn edge(&mut self, scan: ScanId, label: &str, at: f64, fineness: f64, half: f64) {
        let nothing = fineness / 0.8;
        let (end, at_end) = if nothing < 0.5 { (nothing, 0.0) } else { (0.5, 1.0 - 0.5 / nothing) };
        let plus_minus = half / nothing;
        let mut points = vec![[0.0, 1.0], [end, at_end]];
        points.extend((end < 0.5).then_some([0.5, 0.0]));
        let halves = vec![plus_minus; points.len()];
        keep_edge(&mut self.book, scan, label, (&points, &halves), [2800.0 * (1.0 + at); 2]);
    }

    pub fn verdict(&self) -> VerdictDocument {
        verdict(&self.book, Some(self.job), VerdictSettings::default()).expect("a verdict")
    }

    pub fn drawer(&self) -> VerdictDocument {
        verdict(&self.book, None, VerdictSettings::default()).expect("a verdict")
    }

    fn price(&mut self, id: &str, price: &str) {
        let part = self.book.part(id).expect("read").expect("there");
        let document = format!("{}{price}\n", part.document);
        self.book.update_part(id, &PartRecord { document, ..part }).expect("kept");
    }
}

fn of_kind(document: &VerdictDocument, kind: SentenceKind) -> Vec<&Sentence> {
    document.sentences.iter().filter(|sentence| sentence.kind == kind).collect()
}

fn plain(text: &str) -> String {
    text.replace('\u{a0}', " ")
}

fn only(document: &VerdictDocument) -> &UseStanding {
    &document.uses[0]
}

#[test]
fn a_part_is_kept_with_what_comes_nearest_and_where_that_is_seen() {
    let document = Bench::compared().verdict();
    let keep = of_kind(&document, SentenceKind::Keep);
    let long = keep.iter().find(|sentence| sentence.about.contains(&"long".into())).expect("kept");
    assert_eq!(
        plain(&long.text),
        "Keep The 120 and 60 mm of tubes: nothing else is known to serve the job's print. No other set-up reaches 25.0 lp/mm; \
         the best, “40 mm of tubes · The 80, f/8”, has 14.0 ± 2.0 lp/mm on film in the corner."
    );
    // Without the body nothing at all can be built.
    assert!(keep.iter().any(
        |sentence| plain(&sentence.text) == "Keep Body: no set-up for the job's print that was tried does without."
    ));
    assert_eq!(long.evidence[0].page, "/scans/2#m2");
    assert_eq!(long.evidence[0].words, "frame 2, corner, near-vertical");
    let standing = only(&document);
    assert_eq!(standing.standing.as_deref(), Some("served"));
    let answers: Vec<&str> = standing.ranked.iter().map(|ranked| ranked.answer.as_str()).collect();
    assert_eq!(answers, ["serves", "falls short"]);
    // 30 lp/mm on film, its own 1 and the scale's hundredth together: √(1² + 0.3²).
    let sharp = &standing.ranked[0].findings[0];
    assert_close!(sharp.figure.value, 30.0, absolute = 1e-9);
    assert_close!(sharp.figure.plus_minus, 1.044_03, absolute = 1e-4);
    assert_eq!(
        of_kind(&document, SentenceKind::CouldGo)[0].text,
        "The 80 and 40 mm of tubes are not needed for this job. Other jobs may need them: see the whole drawer before anything goes."
    );
    assert_eq!(document.kit.expect("a kit").untried, ["tube-13"]);
}

#[test]
fn a_frame_taken_smaller_is_judged_at_the_same_structure_of_the_subject() {
    // At 1:4 what is 30 lp/mm on film is 7.5 on the subject, where 12.5 are asked: as good as 15 lp/mm at the size wanted.
    let mut bench = Bench::new();
    let frame = bench.frame(&["six", "tube-60", "long"], |_| {});
    let scan = bench.scan(Some(frame), "small.tif", Some(0.25));
    bench.edge(scan, "corner", 0.85, 0.30, 0.01);
    let document = bench.verdict();
    let ranked = &only(&document).ranked[0];
    assert_eq!(ranked.answer, "falls short");
    assert_close!(ranked.findings[0].figure.value, 15.0, absolute = 1e-9);
    // Measured and worked out do not go together: the tubes and the lens make 1:2.
    assert!(document.set_ups[0].remarks.iter().any(|remark| remark.contains("more than their doubts explain")));
}

#[test]
fn frames_of_one_set_up_are_pooled() {
    let mut bench = Bench::new();
    for (name, fineness) in [("1.tif", 0.26), ("2.tif", 0.30)] {
        let scan = bench.scan_of(&["six", "tube-60", "long"], name);
        bench.edge(scan, "corner", 0.85, fineness, 0.01);
    }
    let document = bench.verdict();
    assert_eq!((document.set_ups.len(), document.set_ups[0].frames.len()), (1, 2));
    let finding = &only(&document).ranked[0].findings[0];
    assert_close!(finding.figure.value, 28.0, absolute = 1e-9);
    assert_eq!(finding.evidence.len(), 2);
}

#[test]
fn undecided_says_which_frame_would_decide() {
    let mut bench = Bench::new();
    let scan = bench.scan_of(&["six", "tube-60", "long"], "near.tif");
    bench.edge(scan, "corner", 0.85, 0.255, 0.02);
    let document = bench.verdict();
    let ranked = &only(&document).ranked[0];
    assert_eq!(ranked.answer, "undecided");
    // Φ(0.5 / (2.016/1.96)): the figure's own 2 and the scale's 0.255 together.
    assert_close!(ranked.probability, 0.686_6, absolute = 2e-3);
    assert!(ranked.decides[0].words.starts_with("One more frame of 60 mm of tubes · The 120, f/8"), "{ranked:?}");
    assert!(ranked.decides[0].page.starts_with("/jobs/1/frames/new?parts=six%2Ctube-60%2Clong"));
    assert!(ranked.decides[0].chance.is_some_and(|chance| chance > 0.5));
    let perhaps = of_kind(&document, SentenceKind::Perhaps)[0];
    assert!(
        perhaps.text.contains("nothing is sure yet") && perhaps.text.contains("What would decide: one more frame"),
        "{perhaps:?}"
    );
}

#[test]
fn what_was_not_taken_scanned_or_measured_says_what_to_do() {
    let mut bench = Bench::new();
    let step = |bench: &Bench| {
        let document = bench.verdict();
        let ranked = &only(&document).ranked[0];
        assert_eq!((ranked.answer.as_str(), ranked.missing.len()), ("undecided", 1), "{ranked:?}");
        (ranked.missing[0].why.clone(), ranked.decides[0].words.clone())
    };
    let frame = bench.frame(&["six", "tube-60", "long"], |frame| frame.state = FrameState::Planned);
    assert_eq!(
        step(&bench),
        ("resolution on film: its frame is not taken yet".into(), "Take frame 1, scan and measure it.".into())
    );
    bench.book.take_frame_as_planned(frame);
    assert_eq!(
        step(&bench),
        ("resolution on film: its frame is not scanned yet".into(), "Scan frame 1 and load it.".into())
    );
    let scan = bench.scan(Some(frame), "a.tif", None);
    assert_eq!(step(&bench).1, "Measure the scan of frame 1, its scale first.");
    let why = |bench: &Bench| bench.verdict().silent.last().expect("silent").why.clone();
    assert_eq!(why(&bench), "it has no scale");
    let ruler = Magnification { value: 0.5, plus_minus: None, from: MagnificationSource::Ruler };
    bench.book.set_scan_magnification(scan, Some(ruler)).expect("scale");
    assert_eq!(why(&bench), "nothing was measured in it");
    bench.edge(scan, "centre", 0.0, 0.3, 0.01);
    let (missing, words) = step(&bench);
    assert_eq!(plain(&missing), "resolution on film is known only out to 0 % of the way to the corner");
    assert_eq!(plain(&words), "Measure a place near 90 % of the way to the corner in a.tif.");
    bench.book.set_scan_pitch(scan, None, "").expect("pitch");
    assert_eq!(why(&bench), "the scan's pitch is not known");
    bench.scan(None, "loose.tif", None);
    assert_eq!(why(&bench), "it is not said which frame it shows");
}

trait Took {
    fn take_frame_as_planned(&mut self, frame: FrameId);
}

impl Took for Notebook {
    fn take_frame_as_planned(&mut self, frame: FrameId) {
        let known = self.frame(frame).expect("read").expect("there");
        let draft = FrameDraft { state: FrameState::Shot, ..known.draft };
        self.update_frame(frame, &draft).expect("kept");
    }
}

#[test]
fn a_scan_that_is_too_coarse_says_how_fine_it_must_be() {
    // 60 % of the contrast are left at the finest structure that 10 µm show, 50 lp/mm on film; a print ten times as fine wants more.
    let mut bench = Bench::new();
    let mut job = bench.book.job(bench.job).expect("read").expect("there").draft;
    job.print_mm = 700.0;
    bench.book.update_job(bench.job, &job).expect("kept");
    let scan = bench.scan_of(&["six", "tube-60", "long"], "coarse.tif");
    bench.edge(scan, "corner", 0.85, 1.0, 0.01);
    let document = bench.verdict();
    let ranked = &only(&document).ranked[0];
    assert_eq!(plain(&ranked.missing[0].why), "the scan shows nothing finer than 50.0 lp/mm on film");
    // 62.5 lp/mm within 0.4 cycles on a pixel: 6.4 µm, 3969 dpi, rounded up.
    assert_eq!(ranked.decides[0].words, "Scan coarse.tif again at 4000 dpi or finer, and measure it.");
}

#[test]
fn of_a_focus_bracket_the_sharpest_step_counts() {
    let mut bench = Bench::new();
    for (offset, fineness) in [(-0.4, 0.1), (0.0, 0.2), (0.4, 0.3)] {
        let frame = bench.frame(&["six", "tube-60", "long"], |frame| frame.focus_offset_mm = Some(offset));
        let scan = bench.scan(Some(frame), &format!("{offset}.tif"), Some(0.5));
        bench.edge(scan, "corner", 0.85, fineness, 0.01);
    }
    let document = bench.verdict();
    assert_close!(only(&document).ranked[0].findings[0].figure.value, 30.0, absolute = 1e-9);
    let remark = &document.set_ups[0].remarks[0];
    assert_eq!(remark, "2 scans of the focus bracket are left out: focused 0.40 mm off is the sharpest step.");
}

#[test]
fn prices_that_are_missing_or_in_two_currencies_are_said() {
    let mut bench = Bench::compared();
    let prices = |document: &VerdictDocument| of_kind(document, SentenceKind::Prices)[0].text.clone();
    assert!(prices(&bench.drawer()).starts_with("No price is known of Body"), "{}", prices(&bench.drawer()));
    bench.price("long", "price = 400\ncurrency = \"EUR\"");
    bench.price("normal", "price = 200\ncurrency = \"CHF\"");
    let mixed = bench.drawer();
    assert!(prices(&mixed).starts_with("Prices are in CHF and EUR: they are not summed"), "{}", prices(&mixed));
    assert!(mixed.parts.iter().all(|part| part.price.is_none()));
    let mut bench = Bench::compared();
    for (id, price) in [("six", 300), ("long", 400), ("normal", 200), ("tube-60", 40), ("tube-40", 30)] {
        bench.price(id, &format!("price = {price}\ncurrency = \"EUR\""));
    }
    let document = bench.drawer();
    assert!(of_kind(&document, SentenceKind::Prices).is_empty());
    let kit = document.kit.as_ref().expect("a kit");
    assert_close!(kit.worth, 740.0, absolute = 1e-9);
    assert_close!(kit.would_bring, 230.0, absolute = 1e-9);
    let go: Vec<String> = of_kind(&document, SentenceKind::CouldGo).iter().map(|s| plain(&s.text)).collect();
    assert!(
        go.contains(&"The 80 could go: every use that is served is served without it; it would bring 200 EUR.".into()),
        "{go:?}"
    );
}

#[test]
fn edges_of_different_subjects_are_said_not_to_compare() {
    let mut bench = Bench::new();
    for (label, parts) in [("beetle", ["six", "tube-60", "long"]), ("seed", ["six", "tube-40", "normal"])] {
        let frame = bench.frame(&parts, |frame| frame.label = label.into());
        let scan = bench.scan(Some(frame), label, Some(0.5));
        bench.edge(scan, "corner", 0.85, 0.3, 0.01);
    }
    let document = bench.verdict();
    let notes = of_kind(&document, SentenceKind::Note);
    assert!(notes[0].text.contains("“beetle” and “seed”"), "{notes:?}");
    assert!(of_kind(&Bench::compared().verdict(), SentenceKind::Note).is_empty());
}

#[test]
fn nothing_to_judge_is_said_with_what_to_do() {
    let empty = Notebook::in_memory().expect("notebook");
    let document = verdict(&empty, None, VerdictSettings::default()).expect("a verdict");
    assert!(document.sentences[0].text.starts_with("There is no job"));
    assert_eq!(document.sentences[0].evidence[0].page, "/jobs/new");
    let bare = Bench::new().verdict();
    assert!(bare.sentences[0].text.starts_with("No frame was planned or taken yet"), "{:?}", bare.sentences);
    assert_eq!(bare.sentences[0].evidence[0].page, "/jobs/1/test-roll");
    assert_eq!((bare.uses.len(), only(&bare).standing.clone()), (1, None));
    let mut bodiless = Bench::compared();
    bodiless.book.delete_part("six").expect("gone");
    let document = bodiless.verdict();
    assert!(document.sentences[0].text.starts_with("No use can be judged by"));
    assert!(document.silent[0].why.contains("the body of its job is not in the kit"), "{:?}", document.silent);
    let refused = verdict(&bodiless.book, Some(JobId(9)), VerdictSettings::default()).expect_err("no such job");
    assert!(refused.to_string().starts_with("there is no job 9"));
    for settings in [
        VerdictSettings { sure: 0.5, ..VerdictSettings::default() },
        VerdictSettings { worlds: 10, ..VerdictSettings::default() },
    ] {
        assert!(verdict(&empty, None, settings).is_err(), "{settings:?}");
    }
}

#[test]
fn nothing_that_serves_is_said_with_what_comes_nearest() {
    let mut bench = Bench::new();
    let scan = bench.scan_of(&["six", "tube-40", "normal"], "normal.tif");
    bench.edge(scan, "corner", 0.85, 0.14, 0.02);
    let document = bench.verdict();
    let said = of_kind(&document, SentenceKind::NotServed)[0];
    assert_eq!(
        plain(&said.text),
        "Nothing that was tried serves the job's print; “40 mm of tubes · The 80, f/8” comes nearest, with 14.0 ± 2.0 lp/mm on film \
         in the corner, where at least 25.0 lp/mm is asked for. Try another set-up, or ask less."
    );
    assert!(said.evidence.iter().any(|evidence| evidence.page == "/jobs/1/plan"));
}

#[test]
fn a_borrowed_lens_tells_what_buying_it_would_bring() {
    let mut bench = Bench::new();
    let scan = bench.scan_of(&["six", "tube-40", "normal"], "normal.tif");
    bench.edge(scan, "corner", 0.85, 0.14, 0.02);
    bench.book.delete_part("long").expect("gone");
    let wish = PartRecord { document: lens("long", 120).document + "price = 350\n", ..lens("long", 120) };
    bench.book.add_wish(&wish).expect("wished");
    bench.book.add_wish(&lens("macro", 100)).expect("wished");
    let borrowed = bench.scan_of(&["six", "tube-60", "long"], "long.tif");
    bench.edge(borrowed, "corner", 0.85, 0.30, 0.01);
    let document = bench.drawer();
    let buy = of_kind(&document, SentenceKind::Buy);
    assert_eq!(plain(&buy[0].text), "Buying The 120 for 350 would serve the print of “Beetles”.");
    assert_eq!(document.purchases[0].newly_served, ["job-1"]);
    // What is not owned is ranked for no use.
    assert_eq!(only(&document).ranked.len(), 1);
    assert!(document.silent.iter().any(|silent| silent.what == "The 100, wished for"), "{:?}", document.silent);
}

#[test]
fn stated_uses_take_the_place_of_the_jobs_own() {
    let mut bench = Bench::compared();
    let asks = |limit: f64| {
        json!({ "version": 1, "requirements": [{ "quantity": "resolution", "at": 0.2, "side": "at_least", "limit": limit,
            "out_to": 0.9, "reason": "a small plate", "source": "own choice" }] })
    };
    let add = |bench: &mut Bench, title: &str, requirements: String| {
        bench.book.add_use(bench.job, &UseDraft { title: title.into(), requirements }, NOW).expect("kept");
    };
    add(&mut bench, "small", asks(10.0).to_string());
    add(&mut bench, "broken", "?".into());
    let document = bench.verdict();
    let ids: Vec<&str> = document.uses.iter().map(|standing| standing.id.as_str()).collect();
    assert_eq!(ids, ["use-1"]);
    assert_eq!(only(&document).ranked.iter().filter(|ranked| ranked.answer == "serves").count(), 2);
    assert!(
        document.silent[0].what.contains("“broken”") && document.silent[0].page == "/uses/2",
        "{:?}",
        document.silent
    );
}

#[test]
fn the_document_reads_back_as_it_was_written() {
    let document = Bench::compared().verdict();
    let text = crate::documents::to_json(&document).expect("text");
    let read: VerdictDocument = serde_json::from_str(&text).expect("read");
    assert_eq!(read, document);
}

/// Keeps an edge with that curve (frequency in cycles per pixel, contrast) and its half-widths, in the middle of that place.
pub fn keep_edge(
    book: &mut Notebook,
    scan: ScanId,
    label: &str,
    (curve, halves): (&[[f64; 2]], &[f64]),
    [x, y]: [f64; 2],
) {
    let channel = json!({
        "mtf50_cy_px": null, "mtf50_plus_minus": null, "mtf10_cy_px": null, "rise_10_90_px": 3.0,
        "sfr": curve, "sfr_plus_minus": halves
    });
    let result = json!({
        "angle_deg": 5.0, "direction": "near-vertical", "channels": { "luminance": channel }, "contrast": 0.8,
        "clipped_fraction": 0.0, "transfer": "linear", "warnings": [], "trace_px": [[x, y]]
    });
    let draft = MeasurementDraft {
        scan,
        kind: MeasurementKind::Edge,
        label: label.into(),
        place: "{}".into(),
        result: result.to_string(),
        settings: "{}".into(),
        made_by: "a test".into(),
    };
    book.add_measurement(&draft, NOW).expect("kept");
}
