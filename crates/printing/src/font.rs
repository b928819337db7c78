//! The printing font: which letters it has and how wide they are.
//!
//! DejaVu Sans Condensed, upright and bold. It may be embedded in documents (its licence allows it), has Greek letters and
//! signs, and its narrow shapes keep instructions on one page. Letters are set one after the other by their advances, without
//! kerning: at the sizes of a printed card nobody sees the difference, and no shaping engine is needed.

use skrifa::MetadataProvider;
use skrifa::instance::{LocationRef, Size};
use skrifa::raw::FontRef;

/// Upright or bold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Weight {
    /// Upright.
    #[default]
    Regular,
    /// Bold.
    Bold,
}

/// A letter as it is set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Letter {
    /// Its number in the font; `None` when the font lacks it.
    pub glyph: Option<u32>,
    /// Advance as a share of the size.
    pub advance: f64,
}

pub(crate) fn bytes(weight: Weight) -> &'static [u8] {
    match weight {
        Weight::Regular => dejavu::sans_condensed::regular(),
        Weight::Bold => dejavu::sans_condensed::bold(),
    }
}

/// Each letter of a text.
pub(crate) fn letters(text: &str, weight: Weight) -> Vec<(char, Letter)> {
    let font = FontRef::new(bytes(weight)).expect("the font that is built in can be read");
    let (map, metrics) = (font.charmap(), font.glyph_metrics(Size::unscaled(), LocationRef::default()));
    let per_em = f64::from(font.metrics(Size::unscaled(), LocationRef::default()).units_per_em);
    let set = |letter: char| {
        let glyph = map.map(letter);
        let advance = glyph.and_then(|glyph| metrics.advance_width(glyph)).unwrap_or(0.0);
        Letter { glyph: glyph.map(|glyph| glyph.to_u32()), advance: f64::from(advance) / per_em }
    };
    text.chars().map(|letter| (letter, set(letter))).collect()
}

/// Width of a text on one line, mm.
pub fn width_mm(text: &str, weight: Weight, size_pt: f64) -> f64 {
    letters(text, weight).iter().map(|(_, letter)| letter.advance).sum::<f64>() * size_pt / crate::PT_PER_MM
}

/// Breaks a text at its blanks into lines no wider than that. A word that is wider by itself gets a line of its own.
pub fn broken(text: &str, weight: Weight, size_pt: f64, width: f64) -> Vec<String> {
    let blank = width_mm(" ", weight, size_pt);
    let mut lines: Vec<(String, f64)> = Vec::new();
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let wide = width_mm(word, weight, size_pt);
        match lines.last_mut() {
            Some((line, reach)) if *reach + blank + wide <= width => {
                line.push(' ');
                line.push_str(word);
                *reach += blank + wide;
            }
            _ => lines.push((word.to_owned(), wide)),
        }
    }
    lines.into_iter().map(|(line, _)| line).collect()
}

/// Whether the printing font has that letter.
pub fn has_letter(letter: char) -> bool {
    let font = FontRef::new(bytes(Weight::Regular)).expect("the font that is built in can be read");
    font.charmap().map(letter).is_some()
}
