//! An address as a QR code.

use maud::{Markup, html};
use qrcode::{Color, EcLevel, QrCode};

/// The free edge that readers need, in modules (ISO/IEC 18004).
const QUIET: usize = 4;

/// The code as a drawing, dark on white whatever the light of the page: readers look for that. Nothing when the text is
/// longer than any code holds.
pub fn drawing(text: &str, title: &str) -> Option<Markup> {
    let code = QrCode::with_error_correction_level(text, EcLevel::M).ok()?;
    let side = code.width();
    let whole = side + 2 * QUIET;
    let view = format!("0 0 {whole} {whole}");
    Some(html! {
        svg.qr viewBox=(view) role="img" aria-label=(title) shape-rendering="crispEdges" {
            rect width=(whole) height=(whole) fill="#ffffff" {}
            path fill="#000000" d=(path(&code.to_colors(), side)) {}
        }
    })
}

/// One closed square per dark module.
fn path(modules: &[Color], side: usize) -> String {
    let dark = modules.iter().enumerate().filter(|(_, colour)| **colour == Color::Dark);
    dark.map(|(at, _)| format!("M{} {}h1v1h-1z", at % side + QUIET, at / side + QUIET)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_finder_pattern_stands_in_its_corner() {
        // ISO/IEC 18004: a finder pattern is 7 modules wide, dark along its border, light inside that.
        let shown = drawing("http://192.168.1.20:4621/pair?code=123456", "x").unwrap().into_string();
        assert!(shown.contains("M4 4h1v1h-1z") && shown.contains("M10 10h1v1h-1z"), "{shown}");
        assert!(!shown.contains("M5 5h1v1h-1z"));
        assert!(drawing(&"x".repeat(10_000), "x").is_none());
    }
}
