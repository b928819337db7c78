//! Paper to print on.

/// A paper size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// ISO 216 A4: 210 × 297 mm.
    A4,
    /// North American letter: 8½ × 11 inches.
    Letter,
}

impl Paper {
    /// Width and height upright, mm.
    pub const fn size_mm(self) -> [f64; 2] {
        match self {
            Self::A4 => [210.0, 297.0],
            Self::Letter => [215.9, 279.4],
        }
    }

    /// Border in which office printers may not print, mm (common practice, no source).
    pub const BORDER_MM: f64 = 8.0;

    /// Its name in lower case.
    pub const fn name(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "letter",
        }
    }
}
