//! From pages to a PDF file.

use krilla::Document as Writer;
use krilla::SerializeSettings;
use krilla::color::luma;
use krilla::geom::{Path, PathBuilder, Point, Rect, Size, Transform};
use krilla::image::Image;
use krilla::metadata::{DateTime, Metadata};
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, Identifier, Node, TagTree};
use krilla::text::{Font, GlyphId, KrillaGlyph};

use crate::error::PrintError;
use crate::font::{self, Weight};
use crate::page::{Block, Grey, Page, Picture, Place, Role, Shape, Words};
use crate::tags::{self, Anchors};
use crate::{Date, Document, PT_PER_MM, viewer};

/// Smallest and largest side of a page, mm; the largest is that of PDF 1.6, 14 400 points.
const SIDES_MM: [f64; 2] = [10.0, 5080.0];

pub fn write(document: &Document) -> Result<Vec<u8>, PrintError> {
    if document.pages.is_empty() {
        return Err(PrintError::Empty);
    }
    for (index, page) in document.pages.iter().enumerate() {
        check(index + 1, page)?;
    }
    let anchors = tags::anchors(document)?;
    let fonts = [Weight::Regular, Weight::Bold].map(|weight| {
        let data: &'static [u8] = font::bytes(weight);
        Font::new(data.into(), 0).expect("the font that is built in can be read")
    });
    let mut writer = Writer::new_with(SerializeSettings { enable_tagging: true, ..SerializeSettings::default() });
    writer.set_metadata(metadata(document));
    let mut tree = TagTree::new().with_lang(Some(document.language.clone()));
    for page in &document.pages {
        draw(&mut writer, page, &fonts, &anchors).into_iter().for_each(|node| tree.push(node));
    }
    writer.set_outline(tags::outline(document));
    writer.set_tag_tree(tree);
    let bytes = writer.finish().map_err(|why| PrintError::Writer(format!("{why:?}")))?;
    viewer::with_preferences(bytes)
}

fn metadata(document: &Document) -> Metadata {
    let metadata =
        Metadata::new().title(document.title.clone()).language(document.language.clone()).creator("Closework".into());
    match document.date {
        None => metadata,
        Some(Date { year, month, day }) => metadata.creation_date(DateTime::new(year).month(month).day(day)),
    }
}

fn check(number: usize, page: &Page) -> Result<(), PrintError> {
    let [width_mm, height_mm] = page.size_mm;
    let [least_mm, most_mm] = SIDES_MM;
    if ![width_mm, height_mm].iter().all(|side| (least_mm..=most_mm).contains(side)) {
        return Err(PrintError::Size { page: number, width_mm, height_mm, least_mm, most_mm });
    }
    let finite = |places: &[Place]| places.iter().flatten().all(|value| value.is_finite());
    for shape in page.blocks.iter().flat_map(|block| &block.shapes) {
        let sound = match shape {
            Shape::Area { outlines, .. } => outlines.iter().all(|outline| finite(outline)),
            Shape::Line { points, pen, .. } => finite(points) && pen.width_mm.is_finite(),
            Shape::Words(words) => finite(&[words.at]) && words.style.size_pt.is_finite(),
            Shape::Picture(picture) => {
                finite(&[picture.at, picture.size_mm]) && picture.size_mm.iter().all(|side| *side > 0.0)
            }
        };
        if !sound {
            return Err(PrintError::Place { page: number });
        }
        if let Shape::Picture(picture) = shape {
            // Read once here for its fault, and once more when it is drawn: a page knows its number, ink does not.
            image(picture).map_err(|why| PrintError::Picture { page: number, why })?;
        }
        if let Shape::Words(words) = shape {
            let lacking =
                font::letters(&words.text, words.style.weight).into_iter().find(|(_, set)| set.glyph.is_none());
            if let Some((letter, _)) = lacking {
                return Err(PrintError::Letter { page: number, letter });
            }
        }
    }
    Ok(())
}

pub(crate) fn pt(mm: f64) -> f32 {
    (mm * PT_PER_MM) as f32
}

fn draw(writer: &mut Writer, page: &Page, fonts: &[Font; 2], anchors: &Anchors<'_>) -> Vec<Node> {
    let [width, height] = page.size_mm.map(pt);
    let mut sheet = writer.start_page_with(PageSettings::from_wh(width, height).expect("sizes were checked"));
    let mut drawn: Vec<(Option<Identifier>, &Block)> = Vec::new();
    let mut surface = sheet.surface();
    for block in page.blocks.iter().filter(|block| !block.shapes.is_empty()) {
        let decoration = block.role == Role::Decoration;
        let tag = match decoration {
            true => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Page)),
            false => ContentTag::Other,
        };
        let id = surface.start_tagged(tag);
        block.shapes.iter().for_each(|shape| ink(&mut surface, shape, fonts));
        surface.end_tagged();
        drawn.push(((!decoration).then_some(id), block));
    }
    surface.finish();
    tags::nodes(&mut sheet, drawn, anchors)
}

/// The box around a block's words, points.
pub(crate) fn around(block: &Block) -> Rect {
    let boxes = block.shapes.iter().filter_map(|shape| match shape {
        Shape::Words(Words { at: [x, y], text, style, .. }) => {
            let high = style.line_mm();
            Some([*x, y - 0.8 * high, x + style.width_mm(text), y + 0.2 * high])
        }
        _ => None,
    });
    let [l, t, r, b] = boxes.fold([f64::MAX, f64::MAX, f64::MIN, f64::MIN], |a, b| {
        [a[0].min(b[0]), a[1].min(b[1]), a[2].max(b[2]), a[3].max(b[3])]
    });
    Rect::from_ltrb(pt(l), pt(t), pt(r), pt(b))
        .unwrap_or_else(|| Rect::from_ltrb(0.0, 0.0, 1.0, 1.0).expect("a rectangle"))
}

fn ink(surface: &mut Surface<'_>, shape: &Shape, fonts: &[Font; 2]) {
    match shape {
        Shape::Area { outlines, grey } => {
            surface.set_stroke(None);
            surface.set_fill(Some(fill(*grey)));
            if let Some(path) = path(outlines.iter().map(|outline| (outline.as_slice(), true))) {
                surface.draw_path(&path);
            }
        }
        Shape::Line { points, closed, pen } => {
            surface.set_fill(None);
            let dash = pen.dash_mm.map(|dash| StrokeDash { array: dash.map(pt).to_vec(), offset: 0.0 });
            surface.set_stroke(Some(Stroke {
                paint: luma::Color::new(pen.grey.0).into(),
                width: pt(pen.width_mm),
                dash,
                ..Stroke::default()
            }));
            if let Some(path) = path(std::iter::once((points.as_slice(), *closed))) {
                surface.draw_path(&path);
            }
        }
        Shape::Words(words) => write_words(surface, words, fonts),
        Shape::Picture(picture) => place_picture(surface, picture),
    }
}

fn image(picture: &Picture) -> Result<Image, String> {
    Image::from_jpeg(picture.jpeg.to_vec().into(), true)
}

fn place_picture(surface: &mut Surface<'_>, picture: &Picture) {
    let [x, y] = picture.at.map(pt);
    let [width, height] = picture.size_mm.map(pt);
    let (Ok(image), Some(size)) = (image(picture), Size::from_wh(width, height)) else { return };
    surface.push_transform(&Transform::from_translate(x, y));
    surface.draw_image(image, size);
    surface.pop();
}

fn write_words(surface: &mut Surface<'_>, words: &Words, fonts: &[Font; 2]) {
    let style = words.style;
    let mut from = 0;
    let glyphs: Vec<_> = font::letters(&words.text, style.weight)
        .into_iter()
        .map(|(letter, set)| {
            let range = from..from + letter.len_utf8();
            from = range.end;
            KrillaGlyph::new(GlyphId::new(set.glyph.unwrap_or(0)), set.advance as f32, 0.0, 0.0, 0.0, range, None)
        })
        .collect();
    surface.set_stroke(None);
    surface.set_fill(Some(fill(style.grey)));
    let [x, y] = words.at.map(pt);
    let font = fonts[usize::from(style.weight == Weight::Bold)].clone();
    if words.upwards {
        surface.push_transform(&Transform::from_row(0.0, -1.0, 1.0, 0.0, x, y));
        surface.draw_glyphs(Point::from_xy(0.0, 0.0), &glyphs, font, &words.text, style.size_pt as f32, false);
        surface.pop();
    } else {
        surface.draw_glyphs(Point::from_xy(x, y), &glyphs, font, &words.text, style.size_pt as f32, false);
    }
}

fn fill(grey: Grey) -> Fill {
    Fill { paint: luma::Color::new(grey.0).into(), opacity: NormalizedF32::ONE, rule: FillRule::NonZero }
}

fn path<'a>(lines: impl Iterator<Item = (&'a [Place], bool)>) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for (points, closed) in lines {
        for (index, [x, y]) in points.iter().enumerate() {
            let (x, y) = (pt(*x), pt(*y));
            if index == 0 { builder.move_to(x, y) } else { builder.line_to(x, y) }
        }
        if closed && points.len() > 1 {
            builder.close();
        }
    }
    builder.finish()
}
