//! What a document's blocks are to programs that read it: the tree of tags, and the outline made of its headings.

use std::collections::BTreeMap;
use std::num::NonZeroU16;

use krilla::action::{Action, LinkAction};
use krilla::annotation::{Annotation, LinkAnnotation, Target};
use krilla::destination::XyzDestination;
use krilla::geom::Point;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::Page as Sheet;
use krilla::tagging::{Identifier, Node, TableHeaderScope, Tag, TagGroup};

use crate::Document;
use crate::error::PrintError;
use crate::page::{Block, Role, Shape};
use crate::pdf::{around, pt};

/// Where links within a document lead, by name.
pub type Anchors<'a> = BTreeMap<&'a str, XyzDestination>;

/// The named blocks of a document; refused where a link leads to a name that none has.
pub fn anchors(document: &Document) -> Result<Anchors<'_>, PrintError> {
    let mut anchors = Anchors::new();
    for (number, page) in document.pages.iter().enumerate() {
        for block in &page.blocks {
            if let Some(name) = &block.anchor {
                anchors.entry(name).or_insert_with(|| XyzDestination::new(number, corner(block)));
            }
        }
    }
    for (number, page) in document.pages.iter().enumerate() {
        for block in &page.blocks {
            let Role::Link(address) = &block.role else { continue };
            let lost = address.strip_prefix('#').filter(|name| !anchors.contains_key(name));
            if let Some(name) = lost {
                return Err(PrintError::Link { page: number + 1, name: name.to_owned() });
            }
        }
    }
    Ok(anchors)
}

/// The tags of one page: each block with its content's number, `None` for decoration.
pub fn nodes(sheet: &mut Sheet<'_>, drawn: Vec<(Option<Identifier>, &Block)>, anchors: &Anchors<'_>) -> Vec<Node> {
    let mut nodes = Vec::new();
    let mut open: Option<OpenTable> = None;
    for (id, block) in drawn {
        let Some(id) = id else { continue };
        if let Role::Cell { table, row, head } = block.role {
            if open.as_ref().is_some_and(|open| open.number != table) {
                nodes.extend(open.take().map(OpenTable::done));
            }
            open.get_or_insert_with(|| OpenTable::new(table)).add(row, head, id);
            continue;
        }
        nodes.extend(open.take().map(OpenTable::done));
        nodes.push(one(sheet, id, block, anchors));
    }
    nodes.extend(open.map(OpenTable::done));
    nodes
}

/// A table whose rows are being collected.
struct OpenTable {
    number: usize,
    rows: Vec<TagGroup>,
    row: Option<usize>,
}

impl OpenTable {
    fn new(number: usize) -> Self {
        Self { number, rows: Vec::new(), row: None }
    }

    fn add(&mut self, row: usize, head: bool, id: Identifier) {
        if self.row != Some(row) {
            self.row = Some(row);
            self.rows.push(TagGroup::new(Tag::TR));
        }
        let mut cell = match head {
            true => TagGroup::new(Tag::TH(TableHeaderScope::Column)),
            false => TagGroup::new(Tag::TD),
        };
        cell.push(id);
        if let Some(row) = self.rows.last_mut() {
            row.push(cell);
        }
    }

    fn done(self) -> Node {
        let mut table = TagGroup::new(Tag::Table);
        self.rows.into_iter().for_each(|row| table.push(row));
        table.into()
    }
}

fn one(sheet: &mut Sheet<'_>, id: Identifier, block: &Block, anchors: &Anchors<'_>) -> Node {
    let mut group = match &block.role {
        Role::Heading(level) => {
            let level = NonZeroU16::new(u16::from((*level).max(1))).expect("at least 1");
            TagGroup::new(Tag::Hn(level, None))
        }
        Role::Drawing(alt) => TagGroup::new(Tag::Figure(Some(alt.clone()))),
        _ => TagGroup::new(Tag::P),
    };
    match &block.role {
        Role::Link(address) => {
            let within = address.strip_prefix('#').and_then(|name| anchors.get(name));
            let target = match within {
                Some(place) => Target::Destination(place.clone().into()),
                None => Target::Action(Action::Link(LinkAction::new(address.clone()))),
            };
            let annotation = Annotation::new_link(LinkAnnotation::new(around(block), target), Some(text(block)));
            let mut link = TagGroup::new(Tag::Link);
            link.push(id);
            link.push(sheet.add_tagged_annotation(annotation));
            group.push(link);
        }
        _ => group.push(id),
    }
    group.into()
}

/// The headings as a tree: a heading lies below the last one of a higher rank.
pub fn outline(document: &Document) -> Outline {
    let mut found: Vec<(u8, OutlineNode)> = Vec::new();
    let mut outline = Outline::new();
    for (number, page) in document.pages.iter().enumerate() {
        for block in &page.blocks {
            let Role::Heading(level) = block.role else { continue };
            let node = OutlineNode::new(text(block), XyzDestination::new(number, corner(block)));
            close(&mut found, &mut outline, level);
            found.push((level, node));
        }
    }
    close(&mut found, &mut outline, 0);
    outline
}

/// Puts what is open at this rank and below into what it belongs to.
fn close(open: &mut Vec<(u8, OutlineNode)>, outline: &mut Outline, level: u8) {
    while let Some((rank, node)) = open.pop_if(|(rank, _)| *rank >= level) {
        match open.last_mut() {
            Some((above, parent)) if *above < rank => parent.push_child(node),
            _ => outline.push_child(node),
        }
    }
}

fn text(block: &Block) -> String {
    let words = block.shapes.iter().filter_map(|shape| match shape {
        Shape::Words(words) => Some(words.text.as_str()),
        _ => None,
    });
    words.collect::<String>().trim().to_owned()
}

fn corner(block: &Block) -> Point {
    let place = block.shapes.iter().find_map(|shape| match shape {
        Shape::Words(words) => Some([words.at[0], words.at[1] - words.style.line_mm()]),
        _ => None,
    });
    let [x, y] = place.unwrap_or_default();
    Point::from_xy(pt(x), pt(y))
}
