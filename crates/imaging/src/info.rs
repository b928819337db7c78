//! What a scan file's header says.

use crate::{Moment, Orientation, Remark, Resolution};

/// Grey or colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colour {
    /// One channel.
    Grey,
    /// Red, green, blue.
    Rgb,
}

impl Colour {
    /// Channels of a pixel: 1 or 3.
    pub fn channels(self) -> usize {
        match self {
            Self::Grey => 1,
            Self::Rgb => 3,
        }
    }
}

/// The file's format.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// TIFF or BigTIFF.
    Tiff,
    /// PNG.
    Png,
    /// JPEG.
    Jpeg,
}

impl std::fmt::Display for Format {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Tiff => "TIFF",
            Self::Png => "PNG",
            Self::Jpeg => "JPEG",
        })
    }
}

/// How an embedded profile describes colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ProfileKind {
    /// A tone curve per channel and three primaries.
    Matrix,
    /// One tone curve for grey.
    Grey,
    /// Tables of colours.
    Table,
    /// It cannot be used; a remark says why.
    Unusable,
}

/// The embedded colour profile in brief.
#[derive(Debug, Clone, PartialEq)]
pub struct ProfileSummary {
    /// Its own description, or an empty text.
    pub description: String,
    /// How it describes colour.
    pub kind: ProfileKind,
}

/// What the header says about a picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Info {
    /// Columns as shown.
    pub width: u32,
    /// Rows as shown.
    pub height: u32,
    /// Grey or colour; transparency and other extra channels do not count.
    pub colour: Colour,
    /// Bits per sample as stored.
    pub bits: u8,
    /// Samples are floating-point numbers.
    pub floating: bool,
    /// The file's format.
    pub format: Format,
    /// Distance between pixel centres on the film across the picture, in µm, from the resolution tags.
    /// `None` when absent or without a unit; see [`Remark::PitchDoubtful`].
    pub pitch_um: Option<f64>,
    /// The resolution as stated, turned as the picture is shown.
    pub resolution: Option<Resolution>,
    /// Maker of the camera or scanner.
    pub maker: Option<String>,
    /// Model of the camera or scanner.
    pub model: Option<String>,
    /// The program that wrote the file.
    pub software: Option<String>,
    /// Date and time that the file states: of the exposure where it says so, else of the file.
    pub moment: Option<Moment>,
    /// The embedded profile.
    pub profile: Option<ProfileSummary>,
    /// How the stored picture is turned to be shown.
    pub orientation: Orientation,
    /// Reservations.
    pub remarks: Vec<Remark>,
}

/// Resolutions below this, in dots per inch, are those that programs fill in (72, 96, 150, 200, 240, 300, 360) and
/// that a film scan hardly has: a 6 x 6 frame would be 880 pixels wide. Common practice, no source.
const LEAST_DPI: f64 = 400.0;
/// Resolutions above this, in dots per inch, are beyond the drum scanners. Common practice, no source.
const MOST_DPI: f64 = 16_000.0;
/// Relative difference between across and down that is worth a remark: a ruler is measured to about 0.1 %.
const PITCH_AGREES: f64 = 1e-3;

/// Pixel pitch from resolutions in pixels per millimetre as shown (across, down), with what to remark on it.
pub(crate) fn pitch(per_mm: Option<(f64, f64)>, remarks: &mut Vec<Remark>) -> Option<f64> {
    let usable = |r: f64| r.is_finite() && r > 0.0;
    let (across, down) = per_mm.filter(|&(across, _)| usable(across))?;
    let (across_um, down_um) = (1000.0 / across, 1000.0 / down);
    if usable(down) && (down_um / across_um - 1.0).abs() > PITCH_AGREES {
        remarks.push(Remark::PitchDiffers { across_um, down_um });
    }
    let dpi = across * 25.4;
    if !(LEAST_DPI..=MOST_DPI).contains(&dpi) {
        remarks.push(Remark::PitchDoubtful { dpi });
    }
    Some(across_um)
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn a_thousand_dots_per_inch_are_25_point_4_um() {
        let mut remarks = Vec::new();
        let um = pitch(Some((1000.0 / 25.4, 1000.0 / 25.4)), &mut remarks).unwrap();
        // Closed form: one inch is 25.4 mm.
        assert_close!(um, 25.4, relative = 1e-12);
        assert!(remarks.is_empty());
    }

    #[test]
    fn resolutions_that_programs_fill_in_are_doubted_but_reported() {
        for dpi in [72.0, 96.0, 300.0, 1e6] {
            let mut remarks = Vec::new();
            assert!(pitch(Some((dpi / 25.4, dpi / 25.4)), &mut remarks).is_some());
            assert_eq!(remarks[0].code(), "pitch-doubtful", "{dpi}");
        }
    }

    #[test]
    fn nonsense_resolutions_give_no_pitch() {
        for per_mm in [0.0, f64::NAN, f64::INFINITY, -1.0] {
            assert_eq!(pitch(Some((per_mm, per_mm)), &mut Vec::new()), None);
        }
        assert_eq!(pitch(None, &mut Vec::new()), None);
    }

    #[test]
    fn different_pitches_are_remarked() {
        let mut remarks = Vec::new();
        assert!(pitch(Some((100.0, 50.0)), &mut remarks).is_some());
        assert_eq!(remarks[0].code(), "pitch-differs");
    }
}
