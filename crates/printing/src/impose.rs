//! Small pages put on larger sheets, to be printed together and cut apart.

use crate::page::{Block, Grey, Page, Pen, Picture, Place, Role, Shape, Words};

/// Length of a cut mark, mm.
const MARK_MM: f64 = 4.0;

/// Puts small pages of one size on sheets, as many as `columns` × `rows` of them fill, in reading order, in the middle of each
/// sheet, with broken lines to cut along between them. The last sheet may stay partly empty.
///
/// What does not fit on the sheet is not shrunk: the caller chooses sizes that do, and a page that is too large hangs over.
pub fn impose(small: &[Page], sheet_mm: [f64; 2], [columns, rows]: [usize; 2]) -> Vec<Page> {
    let per_sheet = (columns * rows).max(1);
    small.chunks(per_sheet).map(|pages| sheet(pages, sheet_mm, [columns.max(1), rows.max(1)])).collect()
}

fn sheet(small: &[Page], sheet_mm: [f64; 2], [columns, rows]: [usize; 2]) -> Page {
    let mut sheet = Page::new(sheet_mm);
    let Some([width, height]) = small.first().map(|page| page.size_mm) else { return sheet };
    let left = (sheet_mm[0] - width * columns as f64) / 2.0;
    let top = (sheet_mm[1] - height * rows as f64) / 2.0;
    let at = |column: usize, row: usize| [left + width * column as f64, top + height * row as f64];
    for (index, page) in small.iter().enumerate() {
        let by = at(index % columns, index / columns);
        sheet.blocks.extend(page.blocks.iter().map(|block| moved(block, by)));
    }
    cuts(&mut sheet, [left, top], at(columns, rows), [columns, rows]);
    sheet
}

/// Broken lines between neighbours, and short ones at the outer corners where paper is left over.
fn cuts(sheet: &mut Page, [left, top]: Place, [right, bottom]: Place, [columns, rows]: [usize; 2]) {
    let pen = Pen::broken(0.15, Grey::LIGHT, 1.5, 1.5);
    let (width, height) = ((right - left) / columns as f64, (bottom - top) / rows as f64);
    let lines = sheet.block(Role::Decoration);
    for column in 1..columns {
        let x = left + width * column as f64;
        lines.line([[x, top], [x, bottom]], pen);
    }
    for row in 1..rows {
        let y = top + height * row as f64;
        lines.line([[left, y], [right, y]], pen);
    }
    for (x, outwards) in [(left, -1.0), (right, 1.0)] {
        for (y, down) in [(top, -1.0), (bottom, 1.0)] {
            lines.line([[x, y + down * MARK_MM], [x, y], [x + outwards * MARK_MM, y]], pen);
        }
    }
}

fn moved(block: &Block, by: Place) -> Block {
    let shapes = block.shapes.iter().map(|shape| shifted(shape, by)).collect();
    Block { role: block.role.clone(), anchor: block.anchor.clone(), shapes }
}

/// A shape moved to the right and down, mm.
pub fn shifted(shape: &Shape, [right, down]: Place) -> Shape {
    let place = |[x, y]: Place| [x + right, y + down];
    let all = |points: &[Place]| points.iter().copied().map(place).collect::<Vec<_>>();
    match shape {
        Shape::Area { outlines, grey } => {
            Shape::Area { outlines: outlines.iter().map(|outline| all(outline)).collect(), grey: *grey }
        }
        Shape::Line { points, closed, pen } => Shape::Line { points: all(points), closed: *closed, pen: *pen },
        Shape::Words(words) => Shape::Words(Words { at: place(words.at), ..words.clone() }),
        Shape::Picture(picture) => Shape::Picture(Picture { at: place(picture.at), ..picture.clone() }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::page::Style;
    use testkit::assert_close;

    fn card(text: &str) -> Page {
        let mut page = Page::new([105.0, 148.0]);
        page.set(Role::Heading(1), [6.0, 6.0], 90.0, Style::plain(12.0), text);
        page
    }

    fn place_of(page: &Page, text: &str) -> Option<Place> {
        page.blocks.iter().flat_map(|block| &block.shapes).find_map(|shape| match shape {
            Shape::Words(words) if words.text == text => Some(words.at),
            _ => None,
        })
    }

    #[test]
    fn four_small_pages_lie_on_a_sheet_of_four_times_their_area_in_reading_order() {
        let names = ["one", "two", "three", "four", "five"];
        let sheets = impose(&names.map(card), [210.0, 297.0], [2, 2]);
        assert_eq!(sheets.len(), 2);
        let one = place_of(&sheets[0], "one").unwrap();
        for (name, [x, y]) in [("two", [105.0, 0.0]), ("three", [0.0, 148.0]), ("four", [105.0, 148.0])] {
            let found = place_of(&sheets[0], name).unwrap();
            assert_close!(found[0] - one[0], x, absolute = 1e-9);
            assert_close!(found[1] - one[1], y, absolute = 1e-9);
        }
        // 297 mm hold twice 148: half a millimetre is left over at either end.
        assert_close!(one[1], place_of(&card("one"), "one").unwrap()[1] + 0.5, absolute = 1e-9);
        assert_eq!(place_of(&sheets[1], "five"), Some(one));
        assert_eq!(place_of(&sheets[0], "five"), None);
    }

    #[test]
    fn nothing_gives_no_sheet() {
        assert!(impose(&[], [210.0, 297.0], [2, 2]).is_empty());
    }
}
