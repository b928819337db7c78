//! Killing the program at any moment loses no saved entry.
//!
//! The test starts itself again as a writer that saves entries without end and says each aloud only after it was
//! saved; kills it (SIGKILL) at moments that it cannot foresee; opens the file; and asks for everything it heard.
//!
//! What this does not show is that the entries survive a power cut: the operating system lives on here and still writes
//! what it was given. For that the notebook relies on SQLite's `synchronous = FULL`.

use std::env;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::Duration;

use notebook::{
    DecisionId, Deviations, EntryDraft, FrameDraft, FrameState, JobDraft, JobId, MeasurementDraft, MeasurementId,
    MeasurementKind, Notebook, NotebookError, PartRecord, RollDraft, Said, ScanDraft, ScanId, ScanPicture, ScanState,
    Uid,
};

const WRITER: &str = "NOTEBOOK_KILL_TEST_WRITER";
const NOW: &str = "2026-03-01T09:00:00Z";
const FRAMES: u32 = 3;

fn main() {
    match env::var_os(WRITER) {
        Some(path) => {
            let error = write_without_end(Path::new(&path)).expect_err("ends only by being killed");
            panic!("{error}");
        }
        None => {
            killed_while_beginning();
            killed_while_writing();
            println!("killed at any moment: ok");
        }
    }
}

// The writer.

fn write_without_end(path: &Path) -> Result<(), NotebookError> {
    let mut book = Notebook::open(path)?;
    let first = book.jobs()?.len() as u64;
    for round in first + 1.. {
        write_round(&mut book, round)?;
    }
    Ok(())
}

fn say(what: &str, id: impl std::fmt::Display, round: u64) {
    // The end of the line is what counts as said: see `heard`.
    let mut out = std::io::stdout().lock();
    writeln!(out, "{what} {id} {round}").and_then(|()| out.flush()).expect("the test listens");
}

/// One entry of each sort, each said aloud when it was saved.
fn write_round(book: &mut Notebook, round: u64) -> Result<(), NotebookError> {
    let job = book.atomically(|book| whole_job(book, round))?;
    say("job", job, round);
    book.update_job(job, &job_draft(round, "changed"))?;
    say("changed-job", job, round);
    book.add_part(&part(round))?;
    say("part", round, round);
    let stored = format!("{round}.tif");
    let scan = book.add_scan(&ScanDraft { job: Some(job), stored, ..ScanDraft::default() }, NOW)?;
    say("scan", scan, round);
    book.set_scan_picture(scan, &picture(round))?;
    book.set_scan_state(scan, &ScanState::Ready)?;
    say("ready-scan", scan, round);
    say("measurement", book.add_measurement(&measurement(scan, round), NOW)?, round);
    book.add_entry(&entry(book, job, round)?, NOW)?;
    say("entry", uid(round), round);
    say("decision", book.add_decision(job, &text(round), NOW)?, round);
    book.set_setting("round", &round.to_string())?;
    say("setting", round, round);
    Ok(())
}

/// A job with a roll and its frames: all of it, or nothing.
fn whole_job(book: &mut Notebook, round: u64) -> Result<JobId, NotebookError> {
    let job = book.add_job(&job_draft(round, "new"), false, NOW)?;
    let roll = book.add_roll(job, &RollDraft { title: text(round), ..RollDraft::default() })?;
    for number in 1..=FRAMES {
        book.add_frame(roll, &FrameDraft { number, label: text(round), ..FrameDraft::default() })?;
    }
    Ok(job)
}

fn uid(round: u64) -> Uid {
    format!("00000000-0000-4000-8000-{round:012}").parse().expect("a UUID")
}

/// The first frame taken otherwise than planned.
fn entry(book: &Notebook, job: JobId, round: u64) -> Result<EntryDraft, NotebookError> {
    let frame = book.frames_of_job(job)?.remove(0);
    let deviations = Deviations { f_number: Some(round as f64), ..Deviations::default() };
    Ok(EntryDraft {
        uid: uid(round),
        roll: frame.roll,
        frame: Some(frame.id),
        number: Some(frame.number),
        device: None,
        sequence: 0,
        said: Said::Changed(deviations),
        meter: String::new(),
        note: text(round),
        said_at: NOW.into(),
    })
}

fn text(round: u64) -> String {
    format!("entry {round}: ½ µm ").repeat(20)
}

fn job_draft(round: u64, subject: &str) -> JobDraft {
    JobDraft { title: text(round), subject: subject.into(), ..JobDraft::default() }
}

fn part(round: u64) -> PartRecord {
    PartRecord { kind: "tube".into(), id: format!("part-{round}"), document: text(round) }
}

fn picture(round: u64) -> ScanPicture {
    ScanPicture { width: 2200, height: 2200, bits: 16, about: text(round), ..ScanPicture::default() }
}

/// As long as a curve with some hundred points: it fills several pages of the file.
fn measurement(scan: ScanId, round: u64) -> MeasurementDraft {
    let result = text(round).repeat(40);
    MeasurementDraft {
        scan,
        kind: MeasurementKind::Edge,
        label: "centre".into(),
        place: String::new(),
        result,
        settings: String::new(),
        made_by: String::new(),
    }
}

// The one that kills.

/// A generator of moments (xorshift, Marsaglia, Journal of Statistical Software 8(14), 2003).
struct Moments(u64);

impl Moments {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % limit
    }
}

fn start(path: &Path) -> Child {
    let this = env::current_exe().expect("the test's own program");
    Command::new(this).env(WRITER, path).stdout(Stdio::piped()).spawn().expect("the writer starts")
}

/// Lets the writer say `lines`, waits a little longer, kills it, and returns all complete lines that it said.
fn heard(mut writer: Child, lines: u64, longer: Duration) -> Vec<String> {
    let mut out = BufReader::new(writer.stdout.take().expect("a pipe"));
    let mut said = Vec::new();
    for _ in 0..lines {
        said.extend(next_line(&mut out));
    }
    thread::sleep(longer);
    writer.kill().expect("the writer is still there to be killed");
    writer.wait().expect("the writer is gone");
    said.extend(std::iter::from_fn(|| next_line(&mut out)));
    said
}

fn next_line(out: &mut impl BufRead) -> Option<String> {
    let mut line = String::new();
    out.read_line(&mut line).expect("text");
    line.strip_suffix('\n').map(str::to_owned)
}

/// Kills at the first opening, while the file is made and brought up.
fn killed_while_beginning() {
    let mut moments = Moments(0x9e37_79b9_7f4a_7c15);
    for _ in 0..25 {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("notebook");
        let said = heard(start(&path), 0, Duration::from_micros(moments.below(12_000)));
        verify(&path, &said);
    }
}

/// Kills one writer after the other on a file that grows.
fn killed_while_writing() {
    let mut moments = Moments(0x2545_f491_4f6c_dd1d);
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("notebook");
    let mut all = Vec::new();
    for _ in 0..25 {
        let (lines, longer) = (1 + moments.below(60), Duration::from_micros(moments.below(8_000)));
        // Nobody opens the file between every other kill: the next writer itself finds what the last one left.
        all.extend(heard(start(&path), lines, longer));
        if moments.below(2) == 0 {
            verify(&path, &all);
        }
    }
    assert!(all.len() >= 25, "every writer was heard at least once");
    verify(&path, &all);
}

/// The file is sound, everything that was said is in it, and nothing is there by half.
fn verify(path: &Path, said: &[String]) {
    let book = Notebook::open(path).expect("opens after the kill");
    book.check().expect("sound after the kill");
    for line in said {
        let words: Vec<_> = line.split(' ').collect();
        let [what, id, round] = words[..] else { panic!("said: {line}") };
        let round = round.parse().expect("a number");
        assert!(is_there(&book, what, id, round), "lost: {line}");
    }
    for job in book.jobs().expect("jobs") {
        assert_eq!(book.rolls(job.id).expect("rolls").len(), 1, "job {} by half", job.id);
        assert_eq!(book.frames_of_job(job.id).expect("frames").len(), FRAMES as usize, "job {} by half", job.id);
    }
}

fn is_there(book: &Notebook, what: &str, id: &str, round: u64) -> bool {
    if what == "entry" {
        return is_logged(book, round);
    }
    let number: i64 = id.parse().expect("a number");
    match what {
        "job" => book.job(JobId(number)).expect(what).is_some_and(|job| job.title == text(round)),
        "changed-job" => book.job(JobId(number)).expect(what).is_some_and(|job| *job == job_draft(round, "changed")),
        "part" => book.part(&format!("part-{id}")).expect(what) == Some(part(round)),
        "scan" => book.scan(ScanId(number)).expect(what).is_some_and(|scan| scan.stored == format!("{round}.tif")),
        "ready-scan" => book
            .scan(ScanId(number))
            .expect(what)
            .is_some_and(|scan| scan.state == ScanState::Ready && scan.about == text(round)),
        "measurement" => book
            .measurement(MeasurementId(number))
            .expect(what)
            .is_some_and(|kept| *kept == measurement(kept.scan, round)),
        "decision" => is_decided(book, DecisionId(number), round),
        "setting" => {
            book.setting("round").expect(what).is_some_and(|kept| kept.parse::<u64>().expect("a number") >= round)
        }
        other => panic!("said: {other}"),
    }
}

/// The entry and what it did to its frame.
fn is_logged(book: &Notebook, round: u64) -> bool {
    let Some(entry) = book.entry_called(&uid(round)).expect("entry") else { return false };
    let frame = book.frame(entry.frame.expect("its frame")).expect("frame").expect("is there");
    entry.note == text(round) && frame.f_number == Some(round as f64) && frame.state == FrameState::Shot
}

fn is_decided(book: &Notebook, id: DecisionId, round: u64) -> bool {
    let jobs = book.jobs().expect("jobs");
    let job = jobs.iter().find(|job| job.title == text(round)).expect("its job");
    book.decisions(job.id).expect("decisions").iter().any(|kept| kept.id == id && kept.text == text(round))
}
