//! Pages at true scale, and the target card that is printed with them.
//!
//! The general part is small: a [`Document`] is a title, a language and [`Page`]s; a page is [`Block`]s of [`Shape`]s
//! (areas, lines, words), each block with a [`Role`] from which the file's tags are made, so that headings, paragraphs and
//! drawings can be read aloud and taken out as text. Lengths are millimetres from the page's left and upper edge; letters are
//! measured in points. [`Document::to_pdf`] writes a PDF whose pages ask to be printed without scaling; the same input gives
//! the same bytes, since nothing here knows a clock: a date is handed in. [`Page::to_svg`] draws the same shapes for a screen.
//!
//! ```
//! use printing::{Document, Page, Role, Style};
//! let mut page = Page::new([210.0, 297.0]);
//! page.set(Role::Heading(1), [20.0, 20.0], 170.0, Style::bold(14.0), "A card");
//! let below = page.set(Role::Paragraph, [20.0, 30.0], 80.0, Style::plain(8.0), "Broken into lines no wider than 80 mm.");
//! assert!(below > 30.0);
//! let document = Document { title: "A card".into(), language: "en".into(), date: None, pages: vec![page] };
//! assert!(document.to_pdf().unwrap().starts_with(b"%PDF"));
//! ```
//!
//! [`Flow`] sets headings, paragraphs, tables and drawings one below the other over as many pages as they take; [`impose`] puts small pages on larger sheets. [`card`] puts the sheets of a target card on paper.

pub mod card;
mod error;
mod flow;
mod font;
mod impose;
mod page;
mod pdf;
mod svg;
mod tags;
mod viewer;

pub use card::{PAPER_REFLECTANCE, Placed, Printed, grey_of, print};
pub use error::PrintError;
pub use flow::{Alignment, Column, Draw, Figure, Flow, Format, Table};
pub use font::{Weight, broken, has_letter, width_mm};
pub use impose::{impose, shifted};
pub use page::{Block, Grey, Page, Pen, Picture, Place, Role, Shape, Style, Words, rectangle};

/// Points of 1/72 inch in a millimetre; an inch is 25.4 mm.
pub const PT_PER_MM: f64 = 72.0 / 25.4;

/// A day, for a document that says when it was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Date {
    /// Of the Gregorian calendar.
    pub year: u16,
    /// 1 to 12.
    pub month: u8,
    /// 1 to 31.
    pub day: u8,
}

impl std::fmt::Display for Date {
    /// As ISO 8601 writes it.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

/// Pages with a title.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    /// Shown by readers in place of the file's name.
    pub title: String,
    /// Of the text, as BCP 47 names it: "en".
    pub language: String,
    /// When it was made.
    pub date: Option<Date>,
    /// In order.
    pub pages: Vec<Page>,
}

impl Document {
    /// The document as a PDF file.
    pub fn to_pdf(&self) -> Result<Vec<u8>, PrintError> {
        pdf::write(self)
    }
}

impl Page {
    /// The page as an SVG element whose title, with that id, is `words`. User units are millimetres.
    pub fn to_svg(&self, id: &str, words: &str) -> String {
        svg::page(self, id, words)
    }
}

impl Picture {
    /// The picture as an address that holds it whole (`data:`, RFC 2397).
    pub fn to_data(&self) -> String {
        svg::data(&self.jpeg)
    }
}
