//! What a file says about itself beside its picture: orientation, resolution, and where it comes from.
//!
//! The same thing may be said in several places of one file: a format's own tags, an EXIF block, an XMP packet. They are
//! asked in this order; what the first leaves open the next may fill in.

use crate::{Orientation, Remark};

/// The unit in which a file states its resolution.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ResolutionUnit {
    /// Pixels to the inch of 25.4 mm.
    Inch,
    /// Pixels to the centimetre.
    Centimetre,
    /// Pixels to the metre.
    Metre,
}

impl ResolutionUnit {
    /// Its length in mm.
    pub fn mm(self) -> f64 {
        match self {
            Self::Inch => 25.4,
            Self::Centimetre => 10.0,
            Self::Metre => 1000.0,
        }
    }

    /// TIFF tag 296 and EXIF: 2 is the inch, 3 the centimetre; `None` for 1, "no unit".
    pub(crate) fn from_tag(value: u32) -> Option<Self> {
        match value {
            2 => Some(Self::Inch),
            3 => Some(Self::Centimetre),
            _ => None,
        }
    }
}

/// The resolution that a file states.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resolution {
    /// Pixels per unit across the picture as shown.
    pub across: f64,
    /// Pixels per unit down the picture as shown.
    pub down: f64,
    /// The unit.
    pub unit: ResolutionUnit,
}

impl Resolution {
    /// Pixels per millimetre across and down.
    pub(crate) fn per_mm(self) -> (f64, f64) {
        (self.across / self.unit.mm(), self.down / self.unit.mm())
    }
}

/// A date and time as a device writes it: local time, without saying where.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Moment {
    /// Year, 1 to 9999.
    pub year: u16,
    /// Month, 1 to 12.
    pub month: u8,
    /// Day, 1 to 31.
    pub day: u8,
    /// Hour, 0 to 23.
    pub hour: u8,
    /// Minute, 0 to 59.
    pub minute: u8,
    /// Second, 0 to 60 (a leap second).
    pub second: u8,
}

impl std::fmt::Display for Moment {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { year, month, day, hour, minute, second } = self;
        write!(f, "{year:04}-{month:02}-{day:02} {hour:02}:{minute:02}:{second:02}")
    }
}

impl Moment {
    /// From "2026:05:01 14:03:59" (TIFF tag 306, EXIF) or "2026-05-01T14:03:59+02:00" (XMP, whose zone and fractions of a
    /// second are left out). `None` when it is no date, or has no time of day.
    pub(crate) fn parse(text: &str) -> Option<Self> {
        let mut parts = text.trim().split(|c: char| !c.is_ascii_digit());
        let mut part = |least: u16, most: u16| parts.next()?.parse::<u16>().ok().filter(|n| (least..=most).contains(n));
        let (year, month, day) = (part(1, 9999)?, part(1, 12)?, part(1, 31)?);
        let (hour, minute) = (part(0, 23)?, part(0, 59)?);
        let second = part(0, 60).unwrap_or(0);
        let [month, day, hour, minute, second] = [month, day, hour, minute, second].map(|n| n as u8);
        Some(Self { year, month, day, hour, minute, second })
    }
}

/// Everything that one place of a file says.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Notes {
    pub orientation: Option<u32>,
    /// As stored: across stored columns, down stored rows.
    pub resolution: Option<Resolution>,
    pub maker: Option<String>,
    pub model: Option<String>,
    pub software: Option<String>,
    pub moment: Option<Moment>,
}

impl Notes {
    /// These notes, with what they leave open taken from `next`.
    pub(crate) fn or(self, next: Self) -> Self {
        Self {
            orientation: self.orientation.or(next.orientation),
            resolution: self.resolution.or(next.resolution),
            maker: self.maker.or(next.maker),
            model: self.model.or(next.model),
            software: self.software.or(next.software),
            moment: self.moment.or(next.moment),
        }
    }

    /// The same with a remark when an XMP packet turns the picture otherwise.
    pub(crate) fn or_xmp(self, packet: Option<&[u8]>, remarks: &mut Vec<Remark>) -> Self {
        let Some(xmp) = packet.map(crate::xmp::read) else { return self };
        if let (Some(tag), Some(xmp)) = (self.orientation, xmp.orientation)
            && tag != xmp
        {
            remarks.push(Remark::OrientationDiffers { tag, xmp });
        }
        self.or(xmp)
    }

    /// The orientation that was found, or as stored, with a remark when its number means nothing.
    pub(crate) fn turned(&self, remarks: &mut Vec<Remark>) -> Orientation {
        let Some(value) = self.orientation else { return Orientation::default() };
        Orientation::from_tag(value).unwrap_or_else(|| {
            remarks.push(Remark::OrientationUnknown { value });
            Orientation::default()
        })
    }
}

/// A device's text without the padding and the NUL that end it; `None` when nothing is left. Control characters and all
/// beyond 200 characters are dropped: it goes into pages and tables.
pub(crate) fn clean(bytes: &[u8]) -> Option<String> {
    let end = bytes.iter().position(|&b| b == 0).unwrap_or(bytes.len());
    let text: String = String::from_utf8_lossy(&bytes[..end]).chars().filter(|c| !c.is_control()).take(200).collect();
    let text = text.trim();
    (!text.is_empty()).then(|| text.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_read_as_tiff_and_xmp_write_them() {
        let moment = Moment { year: 2026, month: 5, day: 1, hour: 14, minute: 3, second: 59 };
        for text in
            ["2026:05:01 14:03:59", "2026-05-01T14:03:59", "2026-05-01T14:03:59.25+02:00", " 2026:05:01 14:03:59"]
        {
            assert_eq!(Moment::parse(text), Some(moment), "{text}");
        }
        assert_eq!(moment.to_string(), "2026-05-01 14:03:59");
        assert_eq!(Moment::parse("2026-05-01T14:03Z").map(|m| m.second), Some(0));
        for text in ["", "    :  :     :  :  ", "2026:13:01 00:00:00", "0000:00:00 00:00:00", "2026-05-01", "yesterday"]
        {
            assert_eq!(Moment::parse(text), None, "{text}");
        }
    }

    #[test]
    fn texts_lose_their_padding() {
        assert_eq!(clean(b"  Flatbed 12 \0rest"), Some("Flatbed 12".into()));
        assert_eq!(clean(b"\0"), None);
        assert_eq!(clean(&[b'x'; 900]).map(|t| t.len()), Some(200));
    }

    #[test]
    fn the_first_place_that_says_something_is_believed() {
        let first = Notes { maker: Some("a".into()), ..Notes::default() };
        let second = Notes { maker: Some("b".into()), model: Some("c".into()), ..Notes::default() };
        let both = first.or(second);
        assert_eq!((both.maker.as_deref(), both.model.as_deref()), (Some("a"), Some("c")));
    }
}
