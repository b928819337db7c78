//! Documents that flow over pages: nothing is lost, nothing hangs over, and other programs find what the parts are.
//!
//! The readers are poppler's; where one is missing the test says so and passes that part. `./test` installs them.

use printing::{Column, Document, Flow, Format, Pen, Shape, Style, Table};
use std::process::Command;
use std::sync::Arc;

fn said(program: &str, arguments: &[&str]) -> Option<String> {
    match Command::new(program).args(arguments).output() {
        Ok(done) => {
            assert!(done.status.success(), "{program} {arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
            Some(String::from_utf8_lossy(&done.stdout).into_owned())
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            eprintln!("{program} is not on this machine: not checked with it (Debian: poppler-utils)");
            None
        }
        Err(error) => panic!("{program}: {error}"),
    }
}

/// A grey square of 8 × 8 samples: the smallest file that the fuzzer's seeds hold.
fn jpeg() -> Arc<[u8]> {
    include_bytes!("../../../fuzz/seeds/grey-8x8.jpg").as_slice().into()
}

fn words(count: usize) -> String {
    (0..count).map(|n| format!("word{n}")).collect::<Vec<_>>().join(" ")
}

fn table(rows: usize) -> Table {
    let cell = |row: usize| vec![format!("set-up {row}"), format!("{row}.5")];
    Table {
        columns: vec![Column::words("Set-up", 3.0), Column::figures("lp/mm", 1.0)],
        rows: (0..rows).map(cell).collect(),
        style: Style::plain(9.0),
    }
}

fn document() -> Document {
    let mut flow = Flow::new(Format::a4("A report"));
    flow.heading(1, "Which lens stays");
    flow.paragraph(&words(1500));
    flow.heading(2, "Figures");
    flow.table(&table(120));
    flow.drawing([60.0, 60.0], "A grey square.", "A square.", |block, at| {
        block.picture(at, [60.0, 60.0], jpeg());
        block.frame(at, [60.0, 60.0], Pen::solid(0.2, printing::Grey::BLACK));
    });
    flow.heading(2, "Method");
    flow.note("In small letters.");
    Document { title: "A report".into(), language: "en".into(), date: None, pages: flow.finish() }
}

#[test]
fn every_word_comes_once_in_order_and_stays_within_the_margins() {
    let document = document();
    assert!(document.pages.len() > 3);
    let mut found = Vec::new();
    for page in &document.pages {
        for shape in page.blocks.iter().flat_map(|block| &block.shapes) {
            let Shape::Words(words) = shape else { continue };
            let right = words.at[0] + words.style.width_mm(words.text.trim_end());
            assert!(words.at[0] >= 21.9 && right <= 210.0 - 17.9 && words.at[1] < 297.0 - 9.0, "{words:?}");
            found.extend(words.text.split_whitespace().filter(|word| word.starts_with("word")).map(str::to_owned));
        }
    }
    assert!(
        found.join(" ") == words(1500),
        "{} words of 1500, from {:?} to {:?}",
        found.len(),
        found.first(),
        found.last()
    );
}

#[test]
fn a_long_table_repeats_its_head_and_shows_every_row_once() {
    let document = document();
    let text = |page: &printing::Page| -> String {
        let shapes = page.blocks.iter().flat_map(|block| &block.shapes);
        shapes
            .filter_map(|shape| if let Shape::Words(words) = shape { Some(words.text.clone()) } else { None })
            .collect()
    };
    let pages: Vec<String> = document.pages.iter().map(text).collect();
    for row in 0..120 {
        let cell = format!("set-up {row} ");
        assert_eq!(pages.iter().map(|page| page.matches(&cell).count()).sum::<usize>(), 1, "{cell}");
    }
    let with_rows = pages.iter().filter(|page| page.contains("set-up ")).count();
    assert!(with_rows > 1);
    assert_eq!(
        pages.iter().filter(|page| page.contains("Set-up ")).count(),
        with_rows,
        "each page of the table has its head"
    );
}

#[test]
fn other_programs_find_headings_tables_pictures_and_the_outline() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("report.pdf");
    std::fs::write(&path, document().to_pdf().expect("can be written")).expect("disk");
    let pdf = path.to_str().expect("plain path");
    if let Some(tree) = said("pdfinfo", &["-struct", pdf]) {
        // ISO 32000-1, 14.8.4: the standard structure types.
        for (kind, least) in [("H1", 1), ("H2", 2), ("Table", 2), ("TR", 121), ("TH", 4), ("TD", 240), ("Figure", 1)] {
            let count = tree.lines().filter(|line| line.trim().split([' ', '(', ':']).next() == Some(kind)).count();
            assert!(count >= least, "{count} of {kind}: {}", tree.lines().take(40).collect::<Vec<_>>().join("\n"));
        }
    }
    if let Some(pictures) = said("pdfimages", &["-list", pdf]) {
        let lines: Vec<_> = pictures.lines().skip(2).collect();
        assert!(lines.len() == 1 && lines[0].contains("jpeg"), "the file goes in as it is: {pictures}");
    }
    if let Some(xml) = said("pdftohtml", &["-xml", "-i", "-stdout", pdf]) {
        let outline = xml.split_once("<outline>").expect("an outline").1;
        let (above, below) = outline.split_once("<outline>").expect("a second rank");
        assert!(above.contains("Which lens stays") && !above.contains("Figures"), "{outline}");
        assert!(below.contains("Figures") && below.contains("Method"), "{outline}");
    }
}

#[test]
fn a_picture_that_is_none_is_refused_with_its_page() {
    let mut flow = Flow::new(Format::a4(""));
    flow.drawing([10.0, 10.0], "Nothing.", "", |block, at| {
        block.picture(at, [10.0, 10.0], b"no picture".as_slice().into())
    });
    let document = Document { title: "T".into(), language: "en".into(), date: None, pages: flow.finish() };
    assert!(matches!(document.to_pdf(), Err(printing::PrintError::Picture { page: 1, .. })));
}

#[test]
fn headings_stay_with_what_follows_and_drawings_with_their_captions() {
    for filler in 0..60 {
        let mut flow = Flow::new(Format::a4(""));
        flow.paragraph(&words(filler * 20));
        flow.heading(2, "Heading");
        flow.paragraph(&words(40));
        flow.drawing([50.0, 50.0], "A line.", "Caption", |block, [x, y]| {
            block.line([[x, y], [x + 50.0, y + 50.0]], Pen::solid(0.2, printing::Grey::BLACK));
        });
        for page in flow.finish() {
            let last = page.blocks.iter().rfind(|block| block.role != printing::Role::Decoration);
            assert!(!matches!(last.map(|block| &block.role), Some(printing::Role::Heading(_))), "{filler}");
            let drawing = page.blocks.iter().any(|block| matches!(block.role, printing::Role::Drawing(_)));
            let caption = page
                .blocks
                .iter()
                .flat_map(|block| &block.shapes)
                .any(|shape| matches!(shape, Shape::Words(words) if words.text.trim() == "Caption"));
            assert_eq!(drawing, caption, "{filler}");
        }
    }
}

#[test]
fn the_next_heading_or_paragraph_takes_the_name_and_no_other() {
    let mut flow = Flow::new(Format::a4("foot"));
    flow.anchor("here");
    flow.heading(2, "Named");
    flow.paragraph("Not named.");
    let pages = flow.finish();
    let named: Vec<_> = pages[0].blocks.iter().filter(|block| block.anchor.is_some()).collect();
    assert_eq!((named.len(), named[0].role.clone()), (1, printing::Role::Heading(2)));
}
