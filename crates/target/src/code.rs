//! What a card's codes say: which layout, which field, which sheet, which corner, which print.
//!
//! Eighteen capital letters and digits, so that the smallest QR code (version 1, 21 modules, error correction M) holds
//! them: the fewer the modules, the larger each is, and the softer a picture may be that is still read.

use crate::error::CodeError;
use crate::sheet::Part;

/// Layout 1. A change of the layout changes this, so that no old card is measured by new places.
const MARK: &str = "CW1";
const LENGTH: usize = 18;

/// Which print of a card: five letters or digits, so that cards in one picture are told apart and a measurement says
/// which card it was taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Identity(u32);

impl Identity {
    const COUNT: u32 = 36u32.pow(5);

    /// From any number; it is taken modulo the 60 million identities that there are.
    pub fn from_number(number: u64) -> Self {
        Self((number % u64::from(Self::COUNT)) as u32)
    }
}

impl std::fmt::Display for Identity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&base36(u64::from(self.0), 5))
    }
}

/// A corner of a sheet, as read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Corner {
    /// Upper left.
    TopLeft,
    /// Upper right.
    TopRight,
    /// Lower left.
    BottomLeft,
    /// Lower right.
    BottomRight,
}

impl Corner {
    /// All four.
    pub const ALL: [Self; 4] = [Self::TopLeft, Self::TopRight, Self::BottomLeft, Self::BottomRight];

    /// -1 or 1 along x and y.
    pub const fn signs(self) -> [f64; 2] {
        match self {
            Self::TopLeft => [-1.0, -1.0],
            Self::TopRight => [1.0, -1.0],
            Self::BottomLeft => [-1.0, 1.0],
            Self::BottomRight => [1.0, 1.0],
        }
    }

    /// "top left" ...
    pub const fn name(self) -> &'static str {
        match self {
            Self::TopLeft => "top left",
            Self::TopRight => "top right",
            Self::BottomLeft => "bottom left",
            Self::BottomRight => "bottom right",
        }
    }
}

/// What one code says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CodeText {
    /// Field of the whole card, width and height, tenths of a millimetre.
    pub field_tenths: [u32; 2],
    /// Which sheet of the card.
    pub part: Part,
    /// In which corner of the sheet the code lies.
    pub corner: Corner,
    /// Which print.
    pub identity: Identity,
}

impl CodeText {
    /// The text in the code: capital letters and digits.
    pub fn text(&self) -> String {
        let corner = Corner::ALL.iter().position(|corner| *corner == self.corner).unwrap_or(0) as u64;
        let mut text = String::from(MARK);
        text.push_str(&base36(u64::from(self.field_tenths[0]), 3));
        text.push_str(&base36(u64::from(self.field_tenths[1]), 3));
        text.push_str(&base36(self.part.number() as u64, 1));
        text.push_str(&base36(corner, 1));
        text.push_str(&self.identity.to_string());
        text.push_str(&base36(check(&text), 2));
        text
    }

    /// Reads the text back.
    pub fn read(text: &str) -> Result<Self, CodeError> {
        let Some(head) = text.get(..3) else { return Err(CodeError::Foreign) };
        if !head.starts_with("CW") || text.len() != LENGTH || !text.is_ascii() {
            return Err(CodeError::Foreign);
        }
        if check(&text[..16]) != from_base36(&text[16..]).ok_or(CodeError::Damaged)? {
            return Err(if head == MARK { CodeError::Damaged } else { CodeError::Foreign });
        }
        if head != MARK {
            return Err(CodeError::Later);
        }
        let number = |from: usize, to: usize| from_base36(&text[from..to]).ok_or(CodeError::Damaged);
        Ok(Self {
            field_tenths: [number(3, 6)? as u32, number(6, 9)? as u32],
            part: Part::from_number(number(9, 10)? as usize).ok_or(CodeError::Damaged)?,
            corner: *Corner::ALL.get(number(10, 11)? as usize).ok_or(CodeError::Damaged)?,
            identity: Identity::from_number(number(11, 16)?),
        })
    }
}

/// The modules of a code, without its quiet zone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CodeDots {
    /// Modules along a side.
    pub side: usize,
    /// Row by row from the top left; true is dark.
    pub dark: Vec<bool>,
}

/// The QR code of a card's text.
pub fn dots(text: &CodeText) -> CodeDots {
    // Eighteen alphanumeric characters fit version 1 at level M, which takes twenty (ISO/IEC 18004, table of capacities).
    let code = qrcode::QrCode::with_version(text.text(), qrcode::Version::Normal(1), qrcode::EcLevel::M)
        .expect("eighteen capital letters and digits fit the smallest code");
    let dark = code.to_colors().iter().map(|colour| *colour == qrcode::Color::Dark).collect();
    CodeDots { side: code.width(), dark }
}

const DIGITS: &[u8; 36] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";

fn base36(mut number: u64, width: usize) -> String {
    let mut digits = vec![b'0'; width];
    for digit in digits.iter_mut().rev() {
        *digit = DIGITS[(number % 36) as usize];
        number /= 36;
    }
    digits.into_iter().map(char::from).collect()
}

fn from_base36(text: &str) -> Option<u64> {
    text.bytes().try_fold(0_u64, |sum, byte| {
        let digit = DIGITS.iter().position(|known| *known == byte)?;
        Some(sum * 36 + digit as u64)
    })
}

/// A weighted sum that any one wrong letter and any swap of two neighbours changes: the weights are different powers
/// of 5 modulo 1291, a prime below 36².
fn check(text: &str) -> u64 {
    let mut weight = 1;
    text.bytes().fold(0, |sum, byte| {
        weight = weight * 5 % 1291;
        (sum + u64::from(byte) * weight) % 1291
    })
}
