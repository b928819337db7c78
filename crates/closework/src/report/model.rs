//! A report before it is set: what it says, in order, without pages or tags.

use std::sync::Arc;

use printing::{Date, Picture, Shape};

/// A whole report.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// "Report: stag beetles for plate 12".
    pub title: String,
    /// What it comes to, in a sentence or two.
    pub lead: String,
    /// The day that it was made, as it was handed in.
    pub date: Option<Date>,
    /// In the order of reading.
    pub sections: Vec<Section>,
}

/// A section with its address within the report.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// Its address: letters, digits and hyphens.
    pub id: String,
    /// Its heading.
    pub heading: String,
    /// What stands in it.
    pub items: Vec<Item>,
}

/// One thing in a section.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// A heading below the section's, with an address where something leads to it.
    Heading {
        /// Its address; empty for none.
        id: String,
        /// What it says.
        text: String,
    },
    /// A paragraph.
    Text(String),
    /// A paragraph in small letters: what is said beside.
    Note(String),
    /// What can hurt.
    Caution(String),
    /// A line that leads to another place: `#id` within the report, or an address.
    Link {
        /// What it says.
        text: String,
        /// Where it leads.
        to: String,
    },
    /// Names and what they come to.
    Facts(Vec<(String, String)>),
    /// A table.
    Table(Table),
    /// Drawings or pictures side by side.
    Figures(Vec<Figure>),
}

/// A table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    /// What it shows, above it.
    pub caption: String,
    /// Heads; `true` where the cells are figures. With each its share of the width.
    pub columns: Vec<(String, bool, f64)>,
    /// Cells, row by row.
    pub rows: Vec<Vec<String>>,
}

/// A drawing or a picture, drawn from its own left upper corner in millimetres.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Width and height, mm.
    pub size_mm: [f64; 2],
    /// What it shows, for those who cannot see it.
    pub words: String,
    /// Below it.
    pub caption: String,
    /// What is drawn.
    pub shapes: Vec<Shape>,
}

/// Width between a report's margins on paper, mm: A4 less margins of 18 and 22 mm.
pub const WIDTH_MM: f64 = 170.0;

impl Section {
    /// An empty section.
    pub fn new(id: impl Into<String>, heading: impl Into<String>) -> Self {
        Self { id: id.into(), heading: heading.into(), items: Vec::new() }
    }

    /// With one more thing in it.
    pub fn with(mut self, item: Item) -> Self {
        self.items.push(item);
        self
    }

    /// With a paragraph.
    pub fn text(self, text: impl Into<String>) -> Self {
        self.with(Item::Text(text.into()))
    }

    /// With small print.
    pub fn note(self, text: impl Into<String>) -> Self {
        self.with(Item::Note(text.into()))
    }
}

impl Figure {
    /// A JPEG at a width of `mm`, square.
    pub fn square(jpeg: Vec<u8>, mm: f64, words: String, caption: String) -> Self {
        let picture = Picture { at: [0.0; 2], size_mm: [mm; 2], jpeg: Arc::from(jpeg) };
        Self { size_mm: [mm; 2], words, caption, shapes: vec![Shape::Picture(picture)] }
    }
}

impl Table {
    /// A table of columns "name", "*name" for figures, each with its share of the width.
    pub fn of(caption: impl Into<String>, columns: &[(&str, f64)]) -> Self {
        let column = |(head, share): &(&str, f64)| match head.strip_prefix('*') {
            Some(figures) => (figures.to_owned(), true, *share),
            None => ((*head).to_owned(), false, *share),
        };
        Self { caption: caption.into(), columns: columns.iter().map(column).collect(), rows: Vec::new() }
    }
}
