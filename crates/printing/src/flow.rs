//! Text, tables and drawings set one below the other, over as many pages as they take.

use crate::font::broken;
use crate::page::{Block, Grey, Page, Pen, Place, Role, Style};

/// The look of a document that flows over pages.
#[derive(Debug, Clone, PartialEq)]
pub struct Format {
    /// Width and height of a page, mm.
    pub size_mm: [f64; 2],
    /// Top, right, bottom and left, mm.
    pub margins_mm: [f64; 4],
    /// Running text.
    pub text: Style,
    /// What stands at the foot of each page, before its number.
    pub foot: String,
}

impl Format {
    /// A4 (ISO 216) with ordinary margins.
    pub fn a4(foot: impl Into<String>) -> Self {
        Self {
            size_mm: [210.0, 297.0],
            margins_mm: [18.0, 18.0, 20.0, 22.0],
            text: Style::plain(9.5),
            foot: foot.into(),
        }
    }
}

/// How the cells of a column stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Alignment {
    /// Words.
    Left,
    /// Figures.
    Right,
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// What stands above it.
    pub head: String,
    /// How its cells stand.
    pub alignment: Alignment,
    /// Its share of the table's width against the other columns' shares.
    pub share: f64,
}

impl Column {
    /// A column of words.
    pub fn words(head: impl Into<String>, share: f64) -> Self {
        Self { head: head.into(), alignment: Alignment::Left, share }
    }

    /// A column of figures.
    pub fn figures(head: impl Into<String>, share: f64) -> Self {
        Self { head: head.into(), alignment: Alignment::Right, share }
    }
}

/// Rows of cells under columns. A row with fewer cells than columns leaves the rest empty; more cells are not shown.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// From left to right.
    pub columns: Vec<Column>,
    /// From top to bottom.
    pub rows: Vec<Vec<String>>,
    /// How cells are set.
    pub style: Style,
}

/// Pages that are being filled from the top.
#[derive(Debug, Clone)]
pub struct Flow {
    format: Format,
    pages: Vec<Page>,
    /// Where the next thing begins, mm from the upper edge.
    y: f64,
    tables: usize,
    /// The name that the next heading or paragraph gets.
    anchor: Option<String>,
}

/// Between columns, mm.
const GAP_MM: f64 = 3.0;

/// Above and below the text of a cell, mm.
const CELL_MM: f64 = 0.7;

impl Flow {
    /// A document that begins with an empty page.
    pub fn new(format: Format) -> Self {
        let page = Page::new(format.size_mm);
        let y = format.margins_mm[0];
        Self { format, pages: vec![page], y, tables: 0, anchor: None }
    }

    /// Width between the margins, mm.
    pub fn width_mm(&self) -> f64 {
        self.format.size_mm[0] - self.format.margins_mm[1] - self.format.margins_mm[3]
    }

    /// Height between the margins, mm.
    pub fn height_mm(&self) -> f64 {
        self.format.size_mm[1] - self.format.margins_mm[0] - self.format.margins_mm[2]
    }

    /// The left margin, mm.
    pub fn left_mm(&self) -> f64 {
        self.format.margins_mm[3]
    }

    /// What is left on the page, mm.
    pub fn room_mm(&self) -> f64 {
        self.format.size_mm[1] - self.format.margins_mm[2] - self.y
    }

    fn page(&mut self) -> &mut Page {
        let last = self.pages.len() - 1;
        &mut self.pages[last]
    }

    /// Goes to a new page, unless this one is empty.
    pub fn break_page(&mut self) {
        if self.y > self.format.margins_mm[0] {
            self.pages.push(Page::new(self.format.size_mm));
            self.y = self.format.margins_mm[0];
        }
    }

    /// Goes to a new page where less than that is left.
    pub fn need(&mut self, height_mm: f64) {
        if self.room_mm() < height_mm {
            self.break_page();
        }
    }

    /// Leaves a gap, mm; none at the head of a page.
    pub fn gap(&mut self, mm: f64) {
        if self.y > self.format.margins_mm[0] {
            self.y += mm;
        }
    }

    /// Names the next heading or paragraph: links to `#name` lead there.
    pub fn anchor(&mut self, name: &str) {
        self.anchor = Some(name.to_owned());
    }

    /// Gives the block that was set last the name that waits, if one does.
    fn named(&mut self) {
        let anchor = self.anchor.take();
        if let (Some(anchor), Some(block)) = (anchor, self.page().blocks.last_mut()) {
            block.anchor = Some(anchor);
        }
    }

    /// A heading; it stays with what follows.
    pub fn heading(&mut self, level: u8, text: &str) {
        let style = Style::bold(match level {
            1 => 18.0,
            2 => 13.0,
            _ => 10.5,
        });
        self.gap(if level == 1 { 0.0 } else { 3.0 });
        let high = Page::height_of(text, self.width_mm(), style);
        self.need(high + 4.0 * self.format.text.line_mm());
        let (left, width, y) = (self.left_mm(), self.width_mm(), self.y);
        self.y = self.page().set(Role::Heading(level), [left, y], width, style, text) + 1.2;
        self.named();
    }

    /// A paragraph in the document's text style.
    pub fn paragraph(&mut self, text: &str) {
        let style = self.format.text;
        self.styled(Role::Paragraph, style, text);
    }

    /// A paragraph in small grey letters: what is said beside.
    pub fn note(&mut self, text: &str) {
        let style = Style { size_pt: self.format.text.size_pt * 0.86, grey: Grey(70), ..self.format.text };
        self.styled(Role::Paragraph, style, text);
    }

    /// A line that leads to an address, or to a place of this document by `#` and its name.
    pub fn link(&mut self, text: &str, address: &str) {
        let style = self.format.text;
        self.styled(Role::Link(address.to_owned()), style, text);
    }

    /// A paragraph of any role and style, broken over pages line by line where it is longer than a page's rest.
    pub fn styled(&mut self, role: Role, style: Style, text: &str) {
        let (left, width) = (self.left_mm(), self.width_mm());
        let lines = broken(text, style.weight, style.size_pt, width);
        let mut rest = &lines[..];
        while !rest.is_empty() {
            // Two lines at least on either side of a page's end, where there are that many.
            self.need(style.line_mm() * rest.len().min(2) as f64);
            let fit = ((self.room_mm() / style.line_mm() + 1e-9).floor() as usize).clamp(1, rest.len());
            let (now, then) = rest.split_at(fit);
            let y = self.y;
            self.y = self.page().set(role.clone(), [left, y], width, style, &now.join(" "));
            self.named();
            rest = then;
        }
        self.y += 0.35 * style.line_mm();
    }

    /// A table; its head is repeated on each page that it reaches.
    pub fn table(&mut self, table: &Table) {
        let widths = self.widths(table);
        let head: Vec<String> = table.columns.iter().map(|column| column.head.clone()).collect();
        let head_style = Style { weight: crate::Weight::Bold, ..table.style };
        let head_high = row_height(&head, &widths, head_style);
        let first = table.rows.first().map_or(0.0, |row| row_height(row, &widths, table.style));
        self.need(head_high + first);
        self.tables += 1;
        self.row(table, &widths, &head, head_style, 0);
        for (index, row) in table.rows.iter().enumerate() {
            let high = row_height(row, &widths, table.style);
            if self.room_mm() < high && high < self.height_mm() - head_high {
                self.rule();
                self.break_page();
                self.tables += 1;
                self.row(table, &widths, &head, head_style, 0);
            }
            self.row(table, &widths, row, table.style, index + 1);
        }
        self.rule();
        self.gap(2.0);
    }

    fn widths(&self, table: &Table) -> Vec<f64> {
        let shares: f64 = table.columns.iter().map(|column| column.share).sum();
        let free = self.width_mm() - GAP_MM * table.columns.len().saturating_sub(1) as f64;
        table.columns.iter().map(|column| free * column.share / shares).collect()
    }

    fn row(&mut self, table: &Table, widths: &[f64], cells: &[String], style: Style, row: usize) {
        self.rule();
        let (mut left, top, number) = (self.left_mm(), self.y + CELL_MM, self.tables);
        for ((column, width), cell) in table.columns.iter().zip(widths).zip(cells) {
            let role = Role::Cell { table: number, row, head: row == 0 };
            let block = self.page().block(role);
            set_cell(block, [left, top], *width, column.alignment, style, cell);
            left += width + GAP_MM;
        }
        self.y += row_height(cells, widths, style);
    }

    fn rule(&mut self) {
        let (left, right, y) = (self.left_mm(), self.left_mm() + self.width_mm(), self.y);
        self.page().block(Role::Decoration).line([[left, y], [right, y]], Pen::solid(0.12, Grey::LIGHT));
    }

    /// A drawing of that size, told in words, with a caption below. `draw` is given the block and the drawing's left upper corner.
    pub fn drawing(&mut self, size_mm: [f64; 2], words: &str, caption: &str, draw: impl FnOnce(&mut Block, Place)) {
        self.figures(vec![Figure {
            size_mm,
            words: words.to_owned(),
            caption: caption.to_owned(),
            draw: Box::new(draw),
        }]);
    }

    /// Drawings side by side, their captions below them; they stay on one page.
    pub fn figures(&mut self, figures: Vec<Figure<'_>>) {
        let caption = Style { size_pt: self.format.text.size_pt * 0.86, ..self.format.text };
        let high = |figure: &Figure<'_>| {
            figure.size_mm[1] + 1.0 + Page::height_of(&figure.caption, figure.size_mm[0], caption)
        };
        let tallest = figures.iter().map(high).fold(0.0, f64::max);
        self.need(tallest);
        let (mut left, top) = (self.left_mm(), self.y);
        for figure in figures {
            let [width, height] = figure.size_mm;
            let block = self.page().block(Role::Drawing(figure.words));
            (figure.draw)(block, [left, top]);
            if !figure.caption.is_empty() {
                self.page().set(Role::Paragraph, [left, top + height + 1.0], width, caption, &figure.caption);
            }
            left += width + GAP_MM;
        }
        self.y = top + tallest + 2.0;
    }

    /// The pages, each with its foot and number.
    pub fn finish(mut self) -> Vec<Page> {
        let count = self.pages.len();
        let [_, right, bottom, left] = self.format.margins_mm;
        let style = Style { grey: Grey(90), ..Style::plain(7.5) };
        for (index, page) in self.pages.iter_mut().enumerate() {
            let y = self.format.size_mm[1] - bottom / 2.0;
            let number = format!("{} / {count}", index + 1);
            let end = self.format.size_mm[0] - right - style.width_mm(&number);
            // What repeats on every page is no part of what is read aloud.
            let block = page.block(Role::Decoration);
            block.words([left, y], self.format.foot.clone(), style);
            block.words([end, y], number, style);
        }
        self.pages
    }
}

/// Draws into a block from a left upper corner.
pub type Draw<'a> = Box<dyn FnOnce(&mut Block, Place) + 'a>;

/// A drawing beside others.
pub struct Figure<'a> {
    /// Width and height, mm.
    pub size_mm: [f64; 2],
    /// What it shows, for those who cannot see it.
    pub words: String,
    /// Below it.
    pub caption: String,
    /// Draws it into a block from its left upper corner.
    pub draw: Draw<'a>,
}

fn row_height(cells: &[String], widths: &[f64], style: Style) -> f64 {
    let lines = cells.iter().zip(widths).map(|(cell, width)| broken(cell, style.weight, style.size_pt, *width).len());
    lines.max().unwrap_or(1).max(1) as f64 * style.line_mm() + 2.0 * CELL_MM
}

fn set_cell(block: &mut Block, [left, top]: Place, width: f64, alignment: Alignment, style: Style, cell: &str) {
    for (index, line) in broken(cell, style.weight, style.size_pt, width).into_iter().enumerate() {
        let x = match alignment {
            Alignment::Left => left,
            Alignment::Right => left + width - style.width_mm(&line),
        };
        // With a blank behind it, so that the text can be taken out as words.
        block.words([x, top + style.base_mm() + index as f64 * style.line_mm()], line + " ", style);
    }
}
