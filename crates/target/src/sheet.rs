//! Cards and their sheets.

use crate::code::{CodeText, Identity};
use crate::error::CardError;
use crate::layout;
use crate::mark::{Blade, Code, GreyScale, Mark, Ramp, Rule, Ruler, Square, Step, Trap};

/// Smallest field, width or height, mm.
pub const SMALLEST_FIELD_MM: f64 = 15.0;
/// Largest field, width or height, mm.
pub const LARGEST_FIELD_MM: f64 = 400.0;
/// Widest (and highest) field that is printed on one sheet; wider ones take five.
pub const LARGEST_SINGLE_MM: f64 = 180.0;
/// Below this shorter side, printed greys are coarser than the detail in question and a cut ramp cannot be folded: the sheet
/// has places for a stuck-on grey scale, blades and a tilted steel rule instead.
pub const SMALLEST_PRINTED_GREYS_MM: f64 = 60.0;

/// Which sheet of a card.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Part {
    /// The only one: it covers the whole field.
    Whole,
    /// The one in the middle of the field.
    Centre,
    /// The one in the upper left corner of the field.
    TopLeft,
    /// Upper right.
    TopRight,
    /// Lower left.
    BottomLeft,
    /// Lower right.
    BottomRight,
}

impl Part {
    /// Every part in the order of its number.
    pub const ALL: [Self; 6] =
        [Self::Whole, Self::Centre, Self::TopLeft, Self::TopRight, Self::BottomLeft, Self::BottomRight];

    pub(crate) fn number(self) -> usize {
        self as usize
    }

    pub(crate) fn from_number(number: usize) -> Option<Self> {
        Self::ALL.get(number).copied()
    }

    /// "whole", "centre", "top left" ...
    pub const fn name(self) -> &'static str {
        match self {
            Self::Whole => "whole",
            Self::Centre => "centre",
            Self::TopLeft => "top left",
            Self::TopRight => "top right",
            Self::BottomLeft => "bottom left",
            Self::BottomRight => "bottom right",
        }
    }

    /// Which way the sheet lies from the middle of the field, -1, 0 or 1 along x and y.
    pub const fn signs(self) -> [f64; 2] {
        match self {
            Self::Whole | Self::Centre => [0.0, 0.0],
            Self::TopLeft => [-1.0, -1.0],
            Self::TopRight => [1.0, -1.0],
            Self::BottomLeft => [-1.0, 1.0],
            Self::BottomRight => [1.0, 1.0],
        }
    }
}

/// What a person should know of a card before using it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Note {
    /// Printed edges are soft themselves; past about 1:3 they may be softer than the picture.
    SoftEdges {
        /// Their rise from 10 to 90 %, mm.
        rise_mm: f64,
        /// Where they have lost half their contrast, line pairs per mm on the subject.
        half_contrast_lp_mm: f64,
    },
    /// No printed greys and no ramp: the field is too small.
    TooSmallForGreys {
        /// From this shorter side on they are printed, mm.
        from_mm: f64,
    },
    /// Several sheets, to be laid at the middle and in the corners of the field.
    SeveralSheets {
        /// How many.
        count: usize,
    },
}

/// One sheet of a card.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Which one.
    pub part: Part,
    /// Width and height of what is printed.
    pub size_mm: [f64; 2],
    /// Where its middle is meant to lie, from the middle of the field.
    pub offset_mm: [f64; 2],
    /// Field of the whole card.
    pub field_mm: [f64; 2],
    /// Which print.
    pub identity: Identity,
    /// Everything on it.
    pub marks: Vec<Mark>,
}

macro_rules! of_kind {
    ($(#[$doc:meta])* $name:ident, $kind:ident, $of:ty) => {
        $(#[$doc])*
        pub fn $name(&self) -> impl Iterator<Item = &$of> {
            self.marks.iter().filter_map(|mark| if let Mark::$kind(it) = mark { Some(it) } else { None })
        }
    };
}

impl Sheet {
    of_kind!(/// Its four codes.
        codes, Code, Code);
    of_kind!(/// Its slanted squares.
        squares, Square, Square);
    of_kind!(/// Its rulers.
        rulers, Ruler, Ruler);
    of_kind!(/// Its printed grey steps, lightest first; none on a small card.
        steps, Step, Step);
    of_kind!(/// Its black trap.
        traps, Trap, Trap);
    of_kind!(/// Its focus ramps; none on a small card.
        ramps, Ramp, Ramp);
    of_kind!(/// Its places for blades; only on a small card.
        blades, Blade, Blade);
    of_kind!(/// Its places for a tilted steel rule; only on a small card.
        rules, Rule, Rule);
    of_kind!(/// Its places for a stuck-on grey scale; only on a small card.
        grey_scales, GreyScale, GreyScale);

    /// The sheet that a code belongs to: the same layout as was printed.
    pub fn of_code(code: &CodeText) -> Result<Self, CardError> {
        let field_mm = code.field_tenths.map(|tenths| f64::from(tenths) / 10.0);
        let parts = parts(field_mm)?;
        // A code of a card that is printed on one sheet cannot name another; it is taken as what it says the field is.
        let part = if parts.contains(&code.part) { code.part } else { parts[0] };
        Ok(layout::sheet(field_mm, part, code.identity))
    }

    /// From the middle of the field to a place on the sheet.
    pub fn on_field(&self, place: [f64; 2]) -> [f64; 2] {
        [self.offset_mm[0] + place[0], self.offset_mm[1] + place[1]]
    }
}

/// A card for one field.
#[derive(Debug, Clone, PartialEq)]
pub struct Card {
    /// Width and height, rounded to a tenth of a millimetre.
    pub field_mm: [f64; 2],
    /// One sheet, or five: middle and corners.
    pub sheets: Vec<Sheet>,
    /// What to know of it.
    pub notes: Vec<Note>,
}

impl Card {
    /// Lays out the card for a field of that width and height, mm.
    ///
    /// Either lies between [`SMALLEST_FIELD_MM`] and [`LARGEST_FIELD_MM`], and neither is more than three times the other.
    pub fn new(field_mm: [f64; 2], identity: Identity) -> Result<Self, CardError> {
        let field_mm = field_mm.map(|side| (side * 10.0).round() / 10.0);
        let sheets: Vec<Sheet> = parts(field_mm)?.iter().map(|part| layout::sheet(field_mm, *part, identity)).collect();
        let mut notes = vec![Note::SoftEdges {
            rise_mm: crate::PRINTED_RISE_MM,
            half_contrast_lp_mm: crate::printed_half_contrast_lp_mm(),
        }];
        if sheets.iter().any(|sheet| sheet.steps().next().is_none()) {
            notes.push(Note::TooSmallForGreys { from_mm: SMALLEST_PRINTED_GREYS_MM });
        }
        if sheets.len() > 1 {
            notes.push(Note::SeveralSheets { count: sheets.len() });
        }
        Ok(Self { field_mm, sheets, notes })
    }
}

fn parts(field_mm: [f64; 2]) -> Result<&'static [Part], CardError> {
    for (side, given_mm) in ["width", "height"].into_iter().zip(field_mm) {
        if !(SMALLEST_FIELD_MM..=LARGEST_FIELD_MM).contains(&given_mm) {
            let (lowest_mm, highest_mm) = (SMALLEST_FIELD_MM, LARGEST_FIELD_MM);
            return Err(CardError::Field { side, given_mm, lowest_mm, highest_mm });
        }
    }
    let [width_mm, height_mm] = field_mm;
    if width_mm > 3.0 * height_mm || height_mm > 3.0 * width_mm {
        return Err(CardError::Shape { width_mm, height_mm });
    }
    Ok(if width_mm.max(height_mm) <= LARGEST_SINGLE_MM { &Part::ALL[..1] } else { &Part::ALL[1..] })
}
