//! Tables out and in again, and the whole way from a notebook to a sidecar that another program reads.

use std::io::{Seek, Write};

use kit::Kit;
use notebook::{
    Exposed, FrameDraft, FrameState, JobDraft, JobId, Magnification, MagnificationSource, Notebook, RollDraft, RollId,
    ScanDraft, ScanId,
};
use proptest::prelude::*;

use super::paper::{Change, Paper, PaperError, Slips, check, keep};
use super::table::{self, written};
use super::{Known, facts};
use crate::demo::KIT;

fn kit() -> Kit {
    Kit::parse(KIT).expect("the example's kit")
}

const NOW: &str = "2026-03-01T09:00:00Z";

fn book() -> (Notebook, JobId) {
    let mut book = Notebook::in_memory().unwrap();
    let draft = JobDraft { title: "Weevils".into(), body: Some("copy-stand-6x6".into()), ..JobDraft::default() };
    let job = book.add_job(&draft, false, NOW).unwrap();
    (book, job)
}

fn known(book: &Notebook, job: JobId) -> Known {
    Known::read(book, job, kit()).unwrap().unwrap()
}

fn paper(bytes: &[u8]) -> Result<Paper, PaperError> {
    let mut file = tempfile::tempfile().unwrap();
    file.write_all(bytes).unwrap();
    file.rewind().unwrap();
    Paper::open(file)
}

fn keep_all(book: &mut Notebook, job: JobId, bytes: &[u8]) -> Result<super::paper::Preview, PaperError> {
    let of = book.job(job).unwrap().unwrap();
    keep(&mut paper(bytes)?, book, &of, &kit()).map(|kept| kept.preview)
}

fn slips(bytes: &[u8]) -> Slips {
    let (mut book, job) = book();
    let before = known(&book, job);
    match keep_all(&mut book, job, bytes) {
        Err(PaperError::Slips(slips)) => {
            let after = known(&book, job);
            assert_eq!((before.rolls, before.frames), (after.rolls, after.frames), "nothing is half-read");
            slips
        }
        other => panic!("{other:?}"),
    }
}

fn drafts(book: &Notebook, job: JobId) -> Vec<(String, FrameDraft, Option<Exposed>)> {
    let known = known(book, job);
    let roll = |id: RollId| known.rolls.iter().find(|roll| roll.id == id).unwrap().title.clone();
    known.frames.iter().map(|frame| (roll(frame.roll), frame.draft.clone(), frame.planned.clone())).collect()
}

#[test]
fn a_log_from_paper_is_read_in_whatever_form() {
    let head = ["roll", "Frame", "film", "ISO", "set-up", "focus", "f-number", "shutter", "meter", "note"];
    let row = |f: &str, time: &str| {
        ["A", "7", "slide film", "64", "tube-26 + normal-85", "travel=3,5", f, time, "1/8", "Käfer\nno. 2"]
            .map(str::to_owned)
            .to_vec()
    };
    let head: Vec<String> = head.map(str::to_owned).to_vec();
    for (f, time, stop, seconds) in
        [("5.6", "1/125", 5.6, 0.008), ("f/5,6", "0,5", 5.6, 0.5), ("8", "2 s", 8.0, 2.0), ("F8", "4\"", 8.0, 4.0)]
    {
        let commas = written(&[head.clone(), row(f, time)]);
        let swapped = |separator: u8| {
            let mut writer = csv::WriterBuilder::new().delimiter(separator).from_writer(Vec::new());
            [head.clone(), row(f, time)].iter().for_each(|row| writer.write_record(row).unwrap());
            String::from_utf8(writer.into_inner().unwrap()).unwrap()
        };
        let utf16: Vec<u8> = format!("\u{feff}{commas}").encode_utf16().flat_map(u16::to_le_bytes).collect();
        let all = [
            commas.clone().into_bytes(),
            format!("\u{feff}{}", swapped(b';')).into_bytes(),
            swapped(b'\t').into_bytes(),
            utf16,
        ];
        for bytes in all {
            let (mut book, job) = book();
            let preview = keep_all(&mut book, job, &bytes).unwrap();
            assert_eq!((preview.rows, preview.new, preview.new_rolls.as_slice()), (1, 1, &["A".to_owned()][..]));
            let known = known(&book, job);
            assert_eq!((known.rolls[0].film.as_str(), known.rolls[0].iso), ("slide film", Some(64.0)));
            let frame = &known.frames[0];
            assert_eq!(
                (frame.number, frame.f_number, frame.shutter_s, frame.metered_s),
                (7, Some(stop), Some(seconds), Some(0.125))
            );
            assert_eq!(frame.parts, ["copy-stand-6x6", "tube-26", "normal-85"]);
            assert_eq!(
                (frame.focus.as_str(), frame.note.as_str(), frame.state),
                ("travel=3.5", "Käfer\nno. 2", FrameState::Shot)
            );
        }
    }
    let (mut book, job) = book();
    keep_all(&mut book, job, b"frame,note\n1,K\xe4fer\n").unwrap();
    assert_eq!(known(&book, job).frames[0].note, "Käfer", "Windows-1252");
    assert_eq!(known(&book, job).rolls[0].title, "First roll", "without a roll there is one");
}

#[test]
fn what_is_wrong_is_told_by_row_and_column_and_nothing_is_kept() {
    let text = "roll,frame,Aperture,shutter,set-up,state,iso,film\n\
                A,1,f/o,1/125,,,64,slide\n\
                A,x,8,0,,,,\n\
                A,2,8,1/60,tube-99,,,\n\
                \n\
                A,3,8,1/60,\"normal-85, tube-26\",perhaps,,\n\
                A,4,8,\"1/60\n\",,,100,negative\n\
                A,1,8,1/60,,,,\n\
                A,5,8,1/60,,,,\n\
                A,5,11,1/60,,,,\n\
                A,,8,1/60,,,,\n\
                A,6,8,1/60,,,\n\
                A,7,90,1/60,normal-85,,,\n";
    let found = slips(text.as_bytes());
    let told: Vec<(u64, &str)> = found.first.iter().map(|slip| (slip.row, slip.column.as_str())).collect();
    let expected = [
        (2, "Aperture"),
        (3, "frame"),
        (4, "set-up"),
        (6, "state"),
        (6, "set-up"),
        (7, "film"),
        (7, "iso"),
        (10, ""),
        (11, "frame"),
        (12, ""),
        (13, "set-up"),
    ];
    // Within a row the order does not matter.
    let sorted = |mut all: Vec<(u64, String)>| {
        all.sort();
        all
    };
    let own = |all: &[(u64, &str)]| sorted(all.iter().map(|(row, column)| (*row, (*column).to_owned())).collect());
    assert_eq!(own(&told), own(&expected), "{found}");
    let words = found.to_string();
    assert!(words.contains("row 2, Aperture: “f/o” is not an f-number"), "{words}");
    assert!(words.contains("row 10: frame 5 of roll “A” stands in row 9 already"), "both rows are named: {words}");
    assert!(words.contains("row 12: it has 7 cells and the head has 8"), "{words}");
}

#[test]
fn twenty_slips_are_listed_and_all_are_counted() {
    let rows: String = (0..57).map(|row| format!("{row},f/x\n")).collect();
    let found = slips(format!("frame,f_number\n{rows}").as_bytes());
    assert_eq!((found.first.len(), found.all), (20, 57));
    assert!(found.to_string().ends_with("; and 37 more"), "{found}");
}

#[test]
fn empty_cells_leave_what_is_there_and_a_plan_stays_beside_what_was_taken() {
    let (mut book, job) = book();
    let roll =
        book.add_roll(job, &RollDraft { title: "A".into(), film: "slide".into(), ..RollDraft::default() }).unwrap();
    let planned = FrameDraft {
        label: "Beetle".into(),
        f_number: Some(11.0),
        shutter_s: Some(0.5),
        note: "n".into(),
        ..FrameDraft::default()
    };
    book.add_frame(roll, &planned).unwrap();
    let text = "roll;frame;f_number;shutter;note\na;1;8;;\nA;2;;;only a note\n";
    let preview = keep_all(&mut book, job, text.as_bytes()).unwrap();
    assert_eq!((preview.changed, preview.new, preview.new_rolls.len()), (1, 1, 0), "“a” is roll A");
    let frames = known(&book, job).frames;
    assert_eq!((frames[0].f_number, frames[0].shutter_s, frames[0].note.as_str()), (Some(8.0), Some(0.5), "n"));
    assert_eq!(
        (frames[0].state, frames[0].planned.as_ref().map(|plan| plan.f_number)),
        (FrameState::Shot, Some(Some(11.0)))
    );
    assert_eq!(frames[1].state, FrameState::Planned, "nothing says that it was exposed");
    let again = keep_all(&mut book, job, text.as_bytes()).unwrap();
    assert!(again.does_nothing(), "{again:?}");
}

/// True when `CLOSEWORK_LONG=1` asks for all there is.
/// A hundred thousand in the long form.
#[test]
fn many_rows_go_in_as_one() {
    let many: u64 = testkit::short_or_long(10_000, 100_000);
    let mut text = String::from("roll,frame,f_number,shutter,note\n");
    for row in 0..many {
        text += &format!("Roll {},{},5.6,1/125,note {row}\n", row / 1000, row % 1000);
    }
    let (mut book, job) = book();
    let preview = keep_all(&mut book, job, text.as_bytes()).unwrap();
    let whole = many as usize;
    assert_eq!((preview.rows, preview.new, preview.new_rolls.len()), (whole, whole, whole / 1000));
    let rolls = book.rolls(job).unwrap();
    assert_eq!((rolls.len(), book.frames(rolls[9].id).unwrap().len()), (whole / 1000, 1000));
    // One slip in the last row, and not one frame is kept.
    let broken = text + "Roll 0,1000,f/o,1/125,\n";
    let (mut book, job) = self::book();
    assert!(matches!(keep_all(&mut book, job, broken.as_bytes()), Err(PaperError::Slips(Slips { all: 1, .. }))));
    assert!(book.rolls(job).unwrap().is_empty());
}

#[test]
fn tables_that_are_too_large_are_refused_before_they_are_read() {
    let many: String =
        std::iter::once("frame\n".to_owned()).chain((0..=super::paper::MOST_ROWS).map(|_| "1\n".into())).collect();
    let (mut book, job) = book();
    assert!(matches!(keep_all(&mut book, job, many.as_bytes()), Err(PaperError::TooManyRows)));
    let file = tempfile::tempfile().unwrap();
    file.set_len(super::paper::MOST_BYTES + 1).unwrap();
    assert!(matches!(Paper::open(file), Err(PaperError::TooLarge { .. })));
    let long = format!("frame,note\n1,\"{}\n", "x".repeat(super::paper::LONGEST_CELL + 1));
    assert!(slips(long.as_bytes()).to_string().contains("a quote may be open"));
}

fn text() -> impl Strategy<Value = String> {
    prop_oneof![
        3 => "[a-zA-Z0-9 ]{0,12}",
        2 => "[=+@'\"\\-,;\t\n]{0,6}",
        1 => Just("Käfer 甲虫 🪲\r\nµ ½ ƒ".to_owned()),
        1 => Just("  blanks at both ends ".to_owned()),
    ]
}

fn set_up() -> impl Strategy<Value = (Vec<String>, String)> {
    let all: [(&[&str], &str); 4] = [
        (&[], "infinity"),
        (&["copy-stand-6x6", "tube-26", "tube-52", "normal-85"], "travel=5.3"),
        (&["copy-stand-6x6", "bellows=157.25", "long-160"], "infinity"),
        (&["copy-stand-6x6", "tube-52", "bellows=69", "reverse-62", "normal-85"], "infinity"),
    ];
    (0..all.len()).prop_map(move |index| (all[index].0.iter().map(|p| (*p).into()).collect(), all[index].1.into()))
}

fn exposed() -> impl Strategy<Value = Exposed> {
    let stop = prop::option::of(prop_oneof![Just(5.6), Just(8.0), Just(22.0)]);
    let time = || prop::option::of(prop_oneof![Just(1.0 / 125.0), Just(1.0 / 3.0), 1e-3..100.0]);
    (set_up(), stop, time(), time()).prop_map(|((parts, focus), f_number, shutter_s, metered_s)| Exposed {
        parts,
        focus,
        f_number,
        shutter_s,
        metered_s,
    })
}

/// A frame as a person or the planner makes it, and what was planned for it.
fn frame() -> impl Strategy<Value = (FrameDraft, Option<Exposed>)> {
    let state = prop_oneof![Just(FrameState::Planned), Just(FrameState::Shot), Just(FrameState::LeftOut)];
    let offset = prop::option::of(-2.0..2.0);
    (exposed(), exposed(), prop::bool::ANY, state, offset, [text(), text(), text(), text()], "[a-z0-9/]{0,6}").prop_map(
        |(set, plan, planned, state, focus_offset_mm, [label, note, purpose, exposure_note], slot)| {
            let mut draft = FrameDraft {
                state,
                label,
                note,
                purpose,
                slot,
                focus_offset_mm,
                exposure_note,
                ..FrameDraft::default()
            };
            draft.set_exposed(set);
            (draft, planned.then_some(plan))
        },
    )
}

fn enter(book: &mut Notebook, roll: RollId, number: u32, draft: &FrameDraft, plan: Option<&Exposed>) {
    let draft = FrameDraft { number, ..draft.clone() };
    match plan.filter(|_| draft.state == FrameState::Shot) {
        None => drop(book.add_frame(roll, &draft).unwrap()),
        Some(plan) => {
            let mut planned = FrameDraft { state: FrameState::Planned, ..draft.clone() };
            planned.set_exposed(plan.clone());
            let id = book.add_frame(roll, &planned).unwrap();
            book.update_frame(id, &draft).unwrap();
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: testkit::short_or_long(40, 150), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_goes_out_comes_in_the_same(
        rolls in prop::collection::vec(("[A-Za-z][A-Za-z ]{0,8}[a-z]", text(), prop::collection::vec(frame(), 0..6)), 1..4),
        separator in prop_oneof![Just(b','), Just(b';'), Just(b'\t')],
        comma in prop::bool::ANY,
        mark in prop::bool::ANY,
        turned in prop::bool::ANY,
    ) {
        let (mut book, job) = book();
        for (title, film, frames) in &rolls {
            let film = film.trim_start().to_owned();
            let roll = book.add_roll(job, &RollDraft { title: title.clone(), film, iso: Some(64.0), ..RollDraft::default() }).unwrap();
            for (index, (draft, plan)) in frames.iter().enumerate() {
                enter(&mut book, roll, index as u32 + 1, draft, plan.as_ref());
            }
        }
        let before = known(&book, job);
        let names = facts::unique_titles(&before.rolls);
        let out = table::write(&before);
        let table = in_another_form(&out, separator, comma, mark, turned);
        // Over what it came from it changes nothing.
        let of = before.job.clone();
        let preview = check(&mut paper(&table).unwrap(), &book, &of, &kit()).unwrap();
        prop_assert!(preview.does_nothing(), "{:?}", preview.first.iter().map(|e| (&e.change, &e.draft)).collect::<Vec<_>>());
        // Into an empty job it makes the same frames.
        let (mut other, empty) = self::book();
        keep_all(&mut other, empty, &table).unwrap();
        let mut expected = drafts(&book, job);
        let titles: Vec<String> = before.frames.iter().map(|frame| {
            let roll = before.rolls.iter().position(|roll| roll.id == frame.roll).unwrap();
            names[roll].clone()
        }).collect();
        expected.iter_mut().zip(titles).for_each(|(one, title)| one.0 = title);
        let found = drafts(&other, empty);
        let found_sorted = { let mut all: Vec<_> = found.iter().map(|f| format!("{f:?}")).collect(); all.sort(); all };
        let expected_sorted = { let mut all: Vec<_> = expected.iter().map(|f| format!("{f:?}")).collect(); all.sort(); all };
        prop_assert_eq!(found_sorted, expected_sorted);
    }
}

/// The same table as another program would write it: other separator, decimal commas, a byte order mark, the columns in
/// reverse order.
fn in_another_form(table: &str, separator: u8, comma: bool, mark: bool, turned: bool) -> Vec<u8> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(table.as_bytes());
    let mut writer = csv::WriterBuilder::new().delimiter(separator).from_writer(Vec::new());
    let numbers: Vec<bool> = {
        let numeric = [
            "f_number",
            "shutter_s",
            "metered_s",
            "focus_offset_mm",
            "iso",
            "planned_f_number",
            "planned_shutter_s",
            "planned_metered_s",
        ];
        table::ColumnSpec::ALL.iter().map(|spec| numeric.contains(&spec.name)).collect()
    };
    for record in reader.records() {
        let record = record.unwrap();
        let cell =
            |(text, number): (&str, &bool)| if comma && *number { text.replace('.', ",") } else { text.to_owned() };
        let mut cells: Vec<String> = record.iter().zip(&numbers).map(cell).collect();
        if turned {
            cells.reverse();
        }
        writer.write_record(&cells).unwrap();
    }
    let bytes = writer.into_inner().unwrap();
    if mark { ["\u{feff}".as_bytes(), &bytes].concat() } else { bytes }
}

#[test]
fn a_frame_with_two_scans_has_two_rows_and_comes_in_once() {
    let (mut book, job) = book();
    furnished(&mut book, job);
    let table = table::write(&known(&book, job));
    assert_eq!(table.lines().count(), 4, "the head, two scans of one frame, one scan of none:\n{table}");
    let (mut other, empty) = self::book();
    let preview = keep_all(&mut other, empty, table.as_bytes()).unwrap();
    assert_eq!((preview.rows, preview.new, preview.loose_scans), (1, 1, 1));
    // The same two rows without what tells the scans apart are one number twice.
    let lines: Vec<&str> = table.lines().collect();
    let doubled = [lines[0], lines[1], lines[1]].join("\n");
    assert!(matches!(keep_all(&mut other, empty, doubled.as_bytes()), Err(PaperError::Slips(_))));
}

/// A roll with one frame, taken and logged, shown by two scans; a third scan shows none.
fn furnished(book: &mut Notebook, job: JobId) -> [ScanId; 3] {
    let film = "fine-grained <slide> film & Co. \"µ\"".to_owned();
    let roll = book
        .add_roll(job, &RollDraft { title: "Roll Ä".into(), film, iso: Some(64.0), ..RollDraft::default() })
        .unwrap();
    let draft = FrameDraft {
        number: 7,
        label: "Hirschkäfer 甲虫 <♂> & 'co'".into(),
        parts: ["copy-stand-6x6", "tube-26", "tube-52", "normal-85"].map(String::from).to_vec(),
        focus: "travel=5.3".into(),
        f_number: Some(5.6),
        shutter_s: Some(1.0 / 125.0),
        metered_s: Some(1.0 / 500.0),
        note: "lamp from the left".into(),
        ..FrameDraft::default()
    };
    let frame = book.add_frame(roll, &draft).unwrap();
    let entry = notebook::EntryDraft {
        uid: "0d9f5a3e-93c1-4b6a-9f10-2f6f6e0c7a11".parse().unwrap(),
        roll,
        frame: Some(frame),
        number: Some(7),
        device: None,
        sequence: 0,
        said: notebook::Said::Taken,
        meter: String::new(),
        note: String::new(),
        said_at: "2026-03-01T10:20:30+01:00".into(),
    };
    book.add_entry(&entry, NOW).unwrap();
    let scan = |book: &mut Notebook, name: &str, frame| {
        let draft = ScanDraft { job: Some(job), frame, file_name: name.into(), stored: name.into(), bytes: 4 };
        book.add_scan(&draft, NOW).unwrap()
    };
    let scans =
        [scan(book, "r1_07.tif", Some(frame)), scan(book, "r1_07b.tif", Some(frame)), scan(book, "loose.tif", None)];
    let measured = Magnification { value: 0.982, plus_minus: Some(0.004), from: MagnificationSource::Ruler };
    book.set_scan_magnification(scans[0], Some(measured)).unwrap();
    scans
}

/// What `exiftool` reads in a sidecar, as JSON. It must be there: a check that is left out in silence checks nothing. Who has no
/// `exiftool` on purpose sets `CLOSEWORK_NO_EXIFTOOL`.
fn exiftool(xmp: &str, numbers: bool) -> Option<serde_json::Value> {
    if std::env::var_os("CLOSEWORK_NO_EXIFTOOL").is_some() {
        return None;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.xmp");
    std::fs::write(&path, xmp).unwrap();
    let mut command = std::process::Command::new("exiftool");
    command.args(["-j", "-G1", "-a", "-struct"]).args(numbers.then_some("-n")).arg(&path);
    let output =
        command.output().expect("exiftool is needed (Debian: libimage-exiftool-perl), or set CLOSEWORK_NO_EXIFTOOL");
    let all: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    Some(all[0].clone())
}

#[test]
fn another_program_reads_in_a_sidecar_what_was_meant() {
    let (mut book, job) = book();
    let scans = furnished(&mut book, job);
    let known = known(&book, job);
    let scan = known.scans.iter().find(|scan| scan.id == scans[0]).unwrap();
    let xmp = known.sidecar(scan).unwrap().to_xmp();
    let Some(read) = exiftool(&xmp, true) else { return };
    assert!(read.get("ExifTool:Warning").is_none() && read.get("ExifTool:Error").is_none(), "{read}");
    let number = |field: &str| read[field].as_f64().unwrap_or_else(|| panic!("{field}: {read}"));
    testkit::assert_close!(number("XMP-exif:FNumber"), 5.6, relative = 1e-12);
    testkit::assert_close!(number("XMP-exif:ExposureTime"), 0.008, relative = 1e-12);
    testkit::assert_close!(number("XMP-exif:FocalLength"), 85.0, relative = 1e-12);
    let distance = known.figures(&known.frames[0]).subject_to_film_mm.unwrap().value / 1000.0;
    testkit::assert_close!(number("XMP-exif:SubjectDistance"), distance, absolute = 1e-6);
    assert_eq!(number("XMP-exifEX:PhotographicSensitivity"), 64.0);
    // A list in the standard, for cameras that state several.
    assert_eq!(read["XMP-exif:ISO"], serde_json::json!([64]));
    let text = |field: &str| read[field].as_str().unwrap_or_else(|| panic!("{field}: {read}")).to_owned();
    assert_eq!(text("XMP-dc:Title"), "Hirschkäfer 甲虫 <♂> & 'co' (Roll Ä, frame 7)");
    assert_eq!(text("XMP-exif:UserComment"), "Film: fine-grained <slide> film & Co. \"µ\", exposed at ISO 64");
    assert_eq!(text("XMP-exif:DateTimeOriginal"), "2026:03:01 10:20:30+01:00");
    assert_eq!(text("XMP-tiff:Model"), "6×6 body on the copy stand");
    assert_eq!(text("XMP-exifEX:LensModel"), "Normal lens, 85 mm");
    assert!(text("XMP-xmp:CreatorTool").starts_with("closework "));
    let description = text("XMP-dc:Description");
    for words in [
        "Job: Weevils.",
        "Set-up: Tube, 26 mm · Tube, 52 mm · Normal lens, 85 mm on 6×6 body on the copy stand, focused 5.3 mm forward of the infinity mark",
        "Magnification 0.9820 ± 0.0040 (1:1) measured;",
        "Effective f-number",
        "fine-grained <slide> film & Co. \"µ\"",
        "The meter gave 1/500 s.",
        "Lamp from the left.",
    ] {
        assert!(description.contains(words), "{words}: {description}");
    }
    // The fractions stand as they were meant, not as decimals.
    for fraction in ["<exif:FNumber>56/10<", "<exif:ExposureTime>1/125<", "<exif:FocalLength>85/1<"] {
        assert!(xmp.contains(fraction), "{fraction}: {xmp}");
    }
}

#[test]
fn what_is_not_known_is_not_in_a_sidecar() {
    let (mut book, job) = book();
    let roll = book.add_roll(job, &RollDraft::default()).unwrap();
    let frame = book.add_frame(roll, &FrameDraft::default()).unwrap();
    let draft = ScanDraft { job: None, frame: Some(frame), file_name: "a.tif".into(), stored: "s".into(), bytes: 1 };
    book.add_scan(&draft, NOW).unwrap();
    let known = known(&book, job);
    let xmp = known.sidecar(&known.scans[0]).unwrap().to_xmp();
    for absent in ["exif:", "exifEX:", "tiff:", "dc:subject"] {
        assert!(!xmp.contains(absent), "{absent}: {xmp}");
    }
    let Some(read) = exiftool(&xmp, false) else { return };
    assert_eq!(read["XMP-dc:Title"], "Weevils (frame 1)");
    let description = read["XMP-dc:Description"].as_str().unwrap();
    assert!(description.contains("Not logged as taken"), "{description}");
    // exiftool writes 1/125 and 5.6 from the fractions as a person reads them; here there are none to write.
    assert!(read.get("XMP-exif:FNumber").is_none());
}

#[test]
fn any_change_is_told_by_its_columns() {
    let (mut book, job) = book();
    let roll = book.add_roll(job, &RollDraft { title: "A".into(), ..RollDraft::default() }).unwrap();
    book.add_frame(roll, &FrameDraft { f_number: Some(8.0), ..FrameDraft::default() }).unwrap();
    let of = book.job(job).unwrap().unwrap();
    let table = b"roll,frame,f_number,note,state\nA,1,11,seen,planned\n";
    let preview = check(&mut paper(table).unwrap(), &book, &of, &kit()).unwrap();
    assert_eq!(preview.first[0].change, Change::Changed(vec!["f_number", "note"]));
}
