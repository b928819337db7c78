//! Pages as they are put together: blocks of shapes, each block with what it is to a reader.

use std::sync::Arc;

use crate::font::{Weight, broken, width_mm};

/// A place on the page: mm from its left and upper edge.
pub type Place = [f64; 2];

/// A grey of the device: 0 is its black, 255 the bare paper. What light a printer makes of it is the printer's affair.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Grey(pub u8);

impl Grey {
    /// Full ink.
    pub const BLACK: Self = Self(0);
    /// For what helps the hands and should not draw the eye.
    pub const LIGHT: Self = Self(150);
    /// Bare paper, to cover what lies below.
    pub const PAPER: Self = Self(255);
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pen {
    /// Its width, mm.
    pub width_mm: f64,
    /// Its grey.
    pub grey: Grey,
    /// Ink and gap of a broken line, mm.
    pub dash_mm: Option<[f64; 2]>,
}

impl Pen {
    /// A solid line.
    pub const fn solid(width_mm: f64, grey: Grey) -> Self {
        Self { width_mm, grey, dash_mm: None }
    }

    /// A broken line.
    pub const fn broken(width_mm: f64, grey: Grey, ink: f64, gap: f64) -> Self {
        Self { width_mm, grey, dash_mm: Some([ink, gap]) }
    }
}

/// How letters are set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Style {
    /// Size in points of 1/72 inch.
    pub size_pt: f64,
    /// Upright or bold.
    pub weight: Weight,
    /// Their grey.
    pub grey: Grey,
}

impl Style {
    /// Black upright letters.
    pub const fn plain(size_pt: f64) -> Self {
        Self { size_pt, weight: Weight::Regular, grey: Grey::BLACK }
    }

    /// Black bold letters.
    pub const fn bold(size_pt: f64) -> Self {
        Self { size_pt, weight: Weight::Bold, grey: Grey::BLACK }
    }

    /// From one line to the next, mm.
    pub fn line_mm(&self) -> f64 {
        1.28 * self.size_pt / crate::PT_PER_MM
    }

    /// Width of a text on one line, mm.
    pub fn width_mm(&self, text: &str) -> f64 {
        width_mm(text, self.weight, self.size_pt)
    }

    /// From the top of a line to its base line, mm.
    pub fn base_mm(&self) -> f64 {
        0.98 * self.size_pt / crate::PT_PER_MM
    }
}

/// A line of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Words {
    /// Left end of its base line.
    pub at: Place,
    /// What it says.
    pub text: String,
    /// How it is set.
    pub style: Style,
    /// Runs upwards instead of to the right.
    pub upwards: bool,
}

/// A picture from a JPEG file, which goes into the document as it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Left upper corner.
    pub at: Place,
    /// Width and height on the page, mm.
    pub size_mm: [f64; 2],
    /// The file's bytes.
    pub jpeg: Arc<[u8]>,
}

/// Anything with ink.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// An area within closed outlines, which must not overlap.
    Area {
        /// Corners of each outline.
        outlines: Vec<Vec<Place>>,
        /// What it is filled with.
        grey: Grey,
    },
    /// A line through points.
    Line {
        /// The points.
        points: Vec<Place>,
        /// Back to the first.
        closed: bool,
        /// How it is drawn.
        pen: Pen,
    },
    /// Letters.
    Words(Words),
    /// A picture.
    Picture(Picture),
}

/// What a block is to somebody who has the document read aloud, and to programs that take its text.
#[derive(Debug, Clone, PartialEq)]
pub enum Role {
    /// Nothing: cut marks, borders.
    Decoration,
    /// A heading; 1 is the document's.
    Heading(u8),
    /// A paragraph.
    Paragraph,
    /// A drawing, with what it shows in words.
    Drawing(String),
    /// A paragraph that is a link to an address, or to a block of this document by `#` and its anchor.
    Link(String),
    /// A cell of a table. Blocks that follow each other with one table's number are one table, those with one row's number a row.
    Cell {
        /// Tells tables that follow each other apart.
        table: usize,
        /// Counted from 0.
        row: usize,
        /// Says what the cells below it are.
        head: bool,
    },
}

/// Shapes that belong together.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// What it is.
    pub role: Role,
    /// The name by which links of this document (`#name`) find it.
    pub anchor: Option<String>,
    /// In the order in which they are drawn.
    pub shapes: Vec<Shape>,
}

impl Block {
    /// An area within one outline.
    pub fn area(&mut self, outline: impl IntoIterator<Item = Place>, grey: Grey) {
        self.shapes.push(Shape::Area { outlines: vec![outline.into_iter().collect()], grey });
    }

    /// An area within several outlines that do not overlap, inked in one go so that neighbours show no seam.
    pub fn areas(&mut self, outlines: Vec<Vec<Place>>, grey: Grey) {
        self.shapes.push(Shape::Area { outlines, grey });
    }

    /// A filled rectangle.
    pub fn rectangle(&mut self, left_top: Place, size: [f64; 2], grey: Grey) {
        self.area(rectangle(left_top, size), grey);
    }

    /// The outline of a rectangle.
    pub fn frame(&mut self, left_top: Place, size: [f64; 2], pen: Pen) {
        self.shapes.push(Shape::Line { points: rectangle(left_top, size), closed: true, pen });
    }

    /// A line through points.
    pub fn line(&mut self, points: impl IntoIterator<Item = Place>, pen: Pen) {
        self.shapes.push(Shape::Line { points: points.into_iter().collect(), closed: false, pen });
    }

    /// A picture from a JPEG file.
    pub fn picture(&mut self, at: Place, size_mm: [f64; 2], jpeg: Arc<[u8]>) {
        self.shapes.push(Shape::Picture(Picture { at, size_mm, jpeg }));
    }

    /// A line of text, its base line beginning there.
    pub fn words(&mut self, at: Place, text: impl Into<String>, style: Style) {
        self.shapes.push(Shape::Words(Words { at, text: text.into(), style, upwards: false }));
    }

    /// A line of text whose middle stands there, capitals centred on the height.
    pub fn words_about(&mut self, middle: Place, text: &str, style: Style) {
        // Capitals of the font are 0.729 of its size high.
        let down = 0.729 / 2.0 * style.size_pt / crate::PT_PER_MM;
        self.words([middle[0] - style.width_mm(text) / 2.0, middle[1] + down], text, style);
    }
}

/// Corners of a rectangle, clockwise.
pub fn rectangle([left, top]: Place, [width, height]: [f64; 2]) -> Vec<Place> {
    vec![[left, top], [left + width, top], [left + width, top + height], [left, top + height]]
}

/// One page.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// Width and height, mm.
    pub size_mm: [f64; 2],
    /// In reading order.
    pub blocks: Vec<Block>,
}

impl Page {
    /// An empty page.
    pub fn new(size_mm: [f64; 2]) -> Self {
        Self { size_mm, blocks: Vec::new() }
    }

    /// Begins a block.
    pub fn block(&mut self, role: Role) -> &mut Block {
        self.blocks.push(Block { role, anchor: None, shapes: Vec::new() });
        let last = self.blocks.len() - 1;
        &mut self.blocks[last]
    }

    /// Sets a text into lines no wider than that, and gives the lower end.
    pub fn set(&mut self, role: Role, left_top: Place, width: f64, style: Style, text: &str) -> f64 {
        let lines = broken(text, style.weight, style.size_pt, width);
        let [left, mut top] = left_top;
        let block = self.block(role);
        let count = lines.len();
        for (index, mut line) in lines.into_iter().enumerate() {
            if index + 1 < count {
                // The blank at which the line was broken, so that the text can be taken out whole.
                line.push(' ');
            }
            block.words([left, top + style.base_mm()], line, style);
            top += style.line_mm();
        }
        top
    }

    /// How much height [`Page::set`] takes, mm.
    pub fn height_of(text: &str, width: f64, style: Style) -> f64 {
        broken(text, style.weight, style.size_pt, width).len() as f64 * style.line_mm()
    }
}
