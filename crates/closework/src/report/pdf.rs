//! A report on paper: A4, tagged, in greys.

use printing::{Block, Column, Document, Flow, Format, Place, PrintError, Shape, Style, shifted};

use super::model::{Figure, Item, Report, Table};

/// The report as a PDF file.
pub fn to_pdf(report: &Report) -> Result<Vec<u8>, PrintError> {
    let mut flow = Flow::new(Format::a4(plain(&report.title)));
    flow.heading(1, &plain(&report.title));
    if let Some(date) = report.date {
        flow.note(&format!("Made on {date}."));
    }
    flow.paragraph(&plain(&report.lead));
    contents(&mut flow, report);
    for section in &report.sections {
        flow.anchor(&section.id);
        flow.heading(2, &plain(&section.heading));
        for (at, item) in section.items.iter().enumerate() {
            // A heading stays with the pictures below it.
            if let (Item::Heading { .. }, Some(Item::Figures(row))) = (item, section.items.get(at + 1)) {
                let tallest = row.iter().map(|figure| figure.size_mm[1]).fold(0.0, f64::max);
                flow.need(tallest + HEADED_MM);
            }
            set(&mut flow, item);
        }
    }
    Document { title: plain(&report.title), language: "en".into(), date: report.date, pages: flow.finish() }.to_pdf()
}

/// Room for a heading of two lines and a caption of one, mm.
const HEADED_MM: f64 = 22.0;

fn contents(flow: &mut Flow, report: &Report) {
    flow.heading(3, "Contents");
    for section in &report.sections {
        flow.link(&plain(&section.heading), &format!("#{}", section.id));
    }
}

/// Without letters that the printing font lacks: a name may hold any.
fn plain(text: &str) -> String {
    text.chars().map(|letter| if printing::has_letter(letter) { letter } else { '?' }).collect()
}

fn set(flow: &mut Flow, item: &Item) {
    match item {
        Item::Heading { id, text } => {
            if !id.is_empty() {
                flow.anchor(id);
            }
            flow.heading(3, &plain(text));
        }
        Item::Text(text) => flow.paragraph(&plain(text)),
        Item::Note(text) => flow.note(&plain(text)),
        Item::Caution(text) => flow.styled(printing::Role::Paragraph, Style::bold(9.5), &plain(text)),
        Item::Link { text, to } => flow.link(&plain(text), to),
        Item::Facts(facts) => flow.table(&facts_table(facts)),
        Item::Table(table) => {
            if !table.caption.is_empty() {
                flow.note(&plain(&table.caption));
            }
            flow.table(&cells(table));
        }
        Item::Figures(figures) => flow.figures(figures.iter().map(figure).collect()),
    }
}

const CELLS: Style = Style::plain(8.0);

fn facts_table(facts: &[(String, String)]) -> printing::Table {
    printing::Table {
        columns: vec![Column::words("What", 1.0), Column::words("Value", 2.6)],
        rows: facts.iter().map(|(name, value)| vec![plain(name), plain(value)]).collect(),
        style: CELLS,
    }
}

fn cells(table: &Table) -> printing::Table {
    let column = |(head, figures, share): &(String, bool, f64)| match figures {
        true => Column::figures(plain(head), *share),
        false => Column::words(plain(head), *share),
    };
    printing::Table {
        columns: table.columns.iter().map(column).collect(),
        rows: table.rows.iter().map(|row| row.iter().map(|cell| plain(cell)).collect()).collect(),
        style: CELLS,
    }
}

fn figure(figure: &Figure) -> printing::Figure<'_> {
    printing::Figure {
        size_mm: figure.size_mm,
        words: plain(&figure.words),
        caption: plain(&figure.caption),
        draw: Box::new(move |block: &mut Block, corner: Place| {
            block.shapes.extend(figure.shapes.iter().map(|shape| readable(shifted(shape, corner))));
        }),
    }
}

/// A shape whose words the font has.
fn readable(shape: Shape) -> Shape {
    match shape {
        Shape::Words(words) => Shape::Words(printing::Words { text: plain(&words.text), ..words }),
        other => other,
    }
}
