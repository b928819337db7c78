//! The general layer: what is refused, what stays the same, how lines break.

use printing::{
    Date, Document, Grey, PT_PER_MM, Page, Pen, PrintError, Role, Style, Weight, broken, grey_of, width_mm,
};
use testkit::assert_close;

fn document(page: Page) -> Document {
    Document { title: "Test".into(), language: "en".into(), date: None, pages: vec![page] }
}

fn contains(bytes: &[u8], word: &str) -> bool {
    bytes.windows(word.len()).any(|window| window == word.as_bytes())
}

fn full_page() -> Page {
    let mut page = Page::new([210.0, 297.0]);
    page.set(Role::Heading(1), [20.0, 20.0], 170.0, Style::bold(14.0), "A heading");
    page.set(
        Role::Paragraph,
        [20.0, 30.0],
        60.0,
        Style::plain(8.0),
        "Some words that take more than one line, ± 5 µm.",
    );
    page.set(Role::Link("http://127.0.0.1:4620/".into()), [20.0, 50.0], 60.0, Style::plain(8.0), "To the pages");
    let drawing = page.block(Role::Drawing("A square and a line.".into()));
    drawing.rectangle([20.0, 60.0], [10.0, 10.0], Grey(100));
    drawing.line([[20.0, 80.0], [40.0, 80.0]], Pen::broken(0.2, Grey::BLACK, 1.0, 0.5));
    page.block(Role::Decoration).frame([10.0, 10.0], [190.0, 277.0], Pen::solid(0.1, Grey::LIGHT));
    page
}

#[test]
fn the_same_pages_give_the_same_bytes_and_a_date_changes_them() {
    let plain = document(full_page());
    let bytes = plain.to_pdf().expect("can be written");
    assert_eq!(bytes, plain.to_pdf().expect("can be written"));
    let dated = Document { date: Some(Date { year: 2026, month: 11, day: 25 }), ..plain };
    let other = dated.to_pdf().expect("can be written");
    assert!(contains(&other, "D:20261125") && !contains(&bytes, "D:20"));
}

#[test]
fn the_catalog_asks_for_no_scaling_and_the_table_of_places_is_where_it_is_said_to_be() {
    let bytes = document(full_page()).to_pdf().expect("can be written");
    // ISO 32000-1, table 150.
    assert!(contains(&bytes, "/PrintScaling/None"));
    // ISO 32000-1, 7.5.5: the number before the last %%EOF is the place of the table.
    let text = String::from_utf8_lossy(&bytes[bytes.len() - 60..]).into_owned();
    let place: usize = text
        .split("startxref")
        .nth(1)
        .and_then(|rest| rest.split_whitespace().next())
        .expect("a place")
        .parse()
        .expect("a number");
    assert!(bytes[place..].starts_with(b"xref"));
}

#[test]
fn what_cannot_be_printed_is_refused_with_its_place() {
    let empty = Document { pages: Vec::new(), ..document(Page::new([10.0, 10.0])) };
    assert_eq!(empty.to_pdf(), Err(PrintError::Empty));
    for size in [[9.0, 100.0], [100.0, 6000.0], [f64::NAN, 100.0]] {
        assert!(matches!(document(Page::new(size)).to_pdf(), Err(PrintError::Size { page: 1, .. })), "{size:?}");
    }
    let mut page = Page::new([100.0, 100.0]);
    page.block(Role::Decoration).area([[0.0, 0.0], [f64::INFINITY, 1.0], [1.0, 1.0]], Grey::BLACK);
    assert_eq!(document(page).to_pdf(), Err(PrintError::Place { page: 1 }));
    let mut page = Page::new([100.0, 100.0]);
    page.set(Role::Paragraph, [10.0, 10.0], 80.0, Style::plain(8.0), "a beetle, 甲虫");
    assert_eq!(document(page).to_pdf(), Err(PrintError::Letter { page: 1, letter: '甲' }));
}

#[test]
fn widths_are_the_fonts_own() {
    // The font's tables cmap and hmtx, read by hand: n is 1168 of 2048 units wide in DejaVu Sans Condensed 2.37.
    assert_close!(width_mm("n", Weight::Regular, 10.0), 1168.0 / 2048.0 * 10.0 / PT_PER_MM, absolute = 1e-9);
    let (one, ten) = (width_mm("mm", Weight::Bold, 7.0), width_mm(&"mm".repeat(10), Weight::Bold, 7.0));
    assert_close!(ten, 10.0 * one, absolute = 1e-9);
    assert!(width_mm("mm", Weight::Bold, 7.0) > width_mm("mm", Weight::Regular, 7.0));
}

#[test]
fn lines_break_at_blanks_and_keep_every_word() {
    let text = "Print at 100 % and lay it flat; Donaudampfschifffahrtsgesellschaft is longer than a line.";
    for width in [5.0, 17.0, 30.0, 55.0, 500.0] {
        let lines = broken(text, Weight::Regular, 8.0, width);
        assert_eq!(lines.join(" "), text);
        for line in &lines {
            let wide = width_mm(line, Weight::Regular, 8.0);
            assert!(wide <= width + 1e-9 || !line.contains(' '), "“{line}” is {wide} mm wide, of {width}");
        }
    }
    assert_eq!(broken(text, Weight::Regular, 8.0, 500.0).len(), 1);
    assert!(broken("  ", Weight::Regular, 8.0, 500.0).is_empty());
}

#[test]
fn greys_follow_the_published_encoding() {
    assert_eq!(grey_of(0.85), Grey(255));
    assert_eq!(grey_of(2.0), Grey(255));
    assert_eq!(grey_of(0.0), Grey(0));
    // IEC 61966-2-1: half the light is encoded as 0.735357 (188 of 255), 0.0031308 as 12.92 times as much.
    assert_eq!(grey_of(0.85 * 0.5), Grey(188));
    assert_eq!(grey_of(0.85 * 0.003_130_8), Grey((255.0_f64 * 12.92 * 0.003_130_8).round() as u8));
}

#[test]
fn the_screen_gets_the_same_shapes() {
    let svg = full_page().to_svg("page-1", "A page & more");
    assert!(svg.contains("viewBox=\"0 0 210 297\"") && svg.contains("A page &amp; more"));
    assert!(svg.contains("<path d=\"M20 60L30 60L30 70L20 70Z\" fill=\"#646464\"/>"));
    assert!(svg.contains("stroke-dasharray=\"1 0.5\""));
}

#[test]
fn links_within_a_document_lead_to_named_blocks_and_lost_ones_are_refused() {
    let mut page = Page::new([100.0, 100.0]);
    page.set(Role::Link("#below".into()), [10.0, 10.0], 80.0, Style::plain(8.0), "See below");
    assert_eq!(document(page.clone()).to_pdf(), Err(PrintError::Link { page: 1, name: "below".into() }));
    let mut next = Page::new([100.0, 100.0]);
    next.set(Role::Heading(2), [10.0, 30.0], 80.0, Style::bold(10.0), "Below");
    next.blocks[0].anchor = Some("below".into());
    let both = Document { pages: vec![page, next], ..document(Page::new([10.0, 10.0])) };
    let bytes = both.to_pdf().expect("can be written");
    // ISO 32000-1, 12.5.6.5: a link's Dest is a place in this document; an address would be an action of type URI.
    assert!(contains(&bytes, "/Dest") && !contains(&bytes, "/URI"));
}
