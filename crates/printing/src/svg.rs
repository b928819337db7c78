//! A page as a drawing for the screen: the same shapes as in the printed document.

use std::fmt::Write;

use base64::prelude::{BASE64_STANDARD, Engine as _};

use crate::page::{Page, Picture, Place, Role, Shape, Words};
use crate::{PT_PER_MM, Weight};

/// The page as one SVG element in user units of a millimetre, named by `id` and described in `words`. Its text is drawn in the
/// screen's own font, fitted to the printed width; it is hidden from readers, who are given the words instead.
pub fn page(page: &Page, id: &str, words: &str) -> String {
    let [width, height] = page.size_mm;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {} {}\" role=\"img\" aria-labelledby=\"{id}\"><title id=\"{id}\">{}</title><rect width=\"{}\" height=\"{}\" fill=\"#fff\"/><g aria-hidden=\"true\">",
        n(width),
        n(height),
        escaped(words),
        n(width),
        n(height)
    );
    for block in &page.blocks {
        let _ = write!(out, "<g{}>", if block.role == Role::Decoration { " class=\"decoration\"" } else { "" });
        block.shapes.iter().for_each(|shape| draw(&mut out, shape));
        out.push_str("</g>");
    }
    out.push_str("</g></svg>");
    out
}

fn draw(out: &mut String, shape: &Shape) {
    match shape {
        Shape::Area { outlines, grey } => {
            let d: String = outlines.iter().map(|outline| path(outline, true)).collect();
            let _ = write!(out, "<path d=\"{d}\" fill=\"{}\"/>", colour(grey.0));
        }
        Shape::Line { points, closed, pen } => {
            let dash = pen.dash_mm.map(|[ink, gap]| format!(" stroke-dasharray=\"{} {}\"", n(ink), n(gap)));
            let _ = write!(
                out,
                "<path d=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\"{}/>",
                path(points, *closed),
                colour(pen.grey.0),
                n(pen.width_mm),
                dash.unwrap_or_default()
            );
        }
        Shape::Picture(Picture { at: [x, y], size_mm: [width, height], jpeg }) => {
            let _ = write!(
                out,
                "<image x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" preserveAspectRatio=\"none\" href=\"{}\"/>",
                n(*x),
                n(*y),
                n(*width),
                n(*height),
                data(jpeg)
            );
        }
        Shape::Words(Words { at: [x, y], text, style, upwards }) => {
            let turn = if *upwards { format!(" transform=\"rotate(-90 {} {})\"", n(*x), n(*y)) } else { String::new() };
            let bold = if style.weight == Weight::Bold { " font-weight=\"700\"" } else { "" };
            let text = text.trim_end();
            let _ = write!(
                out,
                "<text x=\"{}\" y=\"{}\" font-size=\"{}\" textLength=\"{}\" lengthAdjust=\"spacingAndGlyphs\" fill=\"{}\"{bold}{turn}>{}</text>",
                n(*x),
                n(*y),
                n(style.size_pt / PT_PER_MM),
                n(style.width_mm(text)),
                colour(style.grey.0),
                escaped(text)
            );
        }
    }
}

/// A JPEG file as an address.
pub fn data(jpeg: &[u8]) -> String {
    format!("data:image/jpeg;base64,{}", BASE64_STANDARD.encode(jpeg))
}

fn path(points: &[Place], closed: bool) -> String {
    let mut d = String::new();
    for (index, [x, y]) in points.iter().enumerate() {
        let _ = write!(d, "{}{} {}", if index == 0 { "M" } else { "L" }, n(*x), n(*y));
    }
    if closed {
        d.push('Z');
    }
    d
}

/// To a thousandth of a millimetre: finer than any screen.
fn n(value: f64) -> String {
    let text = format!("{value:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn colour(grey: u8) -> String {
    format!("#{grey:02x}{grey:02x}{grey:02x}")
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
