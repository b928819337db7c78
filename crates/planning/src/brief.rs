//! A job's wishes, and what follows from them.

use crate::aperture::{cut_off_share, depth_mm};
use crate::negative::Negative;
use crate::words::plain;
use optics::AIRY_WAVELENGTH_MM;
use std::ops::RangeInclusive;

/// A job's wishes.
///
/// [`Brief::new`] fills in what is usual; the rest is set by name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Brief {
    /// The subject's width, along the frame's width, mm.
    pub subject_width_mm: f64,
    /// Its height, along the frame's height, mm. Unknown: it may be as high as it is wide, so that the frame's shorter side
    /// decides whichever way the subject lies.
    pub subject_height_mm: Option<f64>,
    /// How deep it is along the lens's axis, mm; `None` when flat or unknown.
    pub subject_depth_mm: Option<f64>,
    /// How much of that is to be sharp, mm; `None` for all of [`Self::subject_depth_mm`].
    pub depth_wanted_mm: Option<f64>,
    /// The share of the frame's side that the subject takes, over 0 to 1, on the tighter of both sides.
    pub fill: f64,
    /// The image on film, mm (width, height).
    pub frame_mm: [f64; 2],
    /// The length on paper, mm, that the frame's WIDTH (`frame_mm[0]`) is printed to when the whole frame is printed,
    /// whether or not it is the longer side. [`print_width_mm`] gives it from a print's long side.
    pub print_mm: f64,
    /// Detail wanted on paper, line pairs per mm: 5 is usual (0.2 mm at 250 mm; common practice, no source).
    pub criterion_lp_mm: f64,
    /// The share of contrast to be left at that fineness, 0 to 1.
    pub contrast: f64,
    /// The least room between subject and the front of the set-up, mm.
    pub least_working_distance_mm: Option<f64>,
    /// The most light that the set-up may lose, stops.
    pub largest_light_loss_stops: Option<f64>,
    /// The largest share of the frame's SIDES that may be cropped away, 0 to below 1: 0.3 leaves 70 % of width and height,
    /// which is 49 % of the film.
    pub largest_crop: f64,
    /// The largest enlargement before the film's grain disturbs; `None` when any will do. It depends on film, developer and
    /// taste.
    pub largest_enlargement: Option<f64>,
    /// How much of the depth of one focus step the next one repeats, 0 to below 1: a fifth is usual (common practice, no
    /// source).
    pub overlap: f64,
    /// The wavelength that diffraction is counted at, mm.
    pub wavelength_mm: f64,
}

/// The share of contrast wanted when nothing else is said.
///
/// The circle of confusion is as wide as one line pair ([`Need::circle_mm`]), and an even disc of that width itself leaves
/// 2·J₁(π)/π = 0.18 of the contrast at that fineness. So 0.2 asks of diffraction about what the usual criterion asks of
/// depth; Rayleigh's limit (0.09) would ask less and half the contrast much more.
const CONTRAST: f64 = 0.2;

/// A fifth (common practice, no source).
const OVERLAP: f64 = 0.2;

/// From a scale of a moth's wing to a tree trunk, mm: the limits only keep out what was typed wrongly.
pub(crate) const SUBJECT_MM: RangeInclusive<f64> = 0.01..=5000.0;
/// From subminiature to the largest sheet film, mm.
pub(crate) const FRAME_MM: RangeInclusive<f64> = 5.0..=700.0;
/// Magnifications that a camera reaches: beyond is microscopy or landscape.
pub(crate) const MAGNIFICATION: RangeInclusive<f64> = 1e-4..=200.0;
/// Room in front of a set-up, mm.
const DISTANCE_MM: RangeInclusive<f64> = 0.0..=100_000.0;
/// The least of a share that must not be 0.
const LEAST_SHARE: f64 = 0.01;
/// The most of a share that must not be all.
const MOST_SHARE: f64 = 0.95;

impl Brief {
    /// A job with the usual criterion (5 lp/mm on paper, a fifth of the contrast), no crop, and no other wishes: a subject
    /// so wide, filling that share of the frame, and the frame's width printed to `print_mm`.
    pub fn new(subject_width_mm: f64, fill: f64, frame_mm: [f64; 2], print_mm: f64) -> Self {
        Self {
            subject_width_mm,
            subject_height_mm: None,
            subject_depth_mm: None,
            depth_wanted_mm: None,
            fill,
            frame_mm,
            print_mm,
            criterion_lp_mm: 5.0,
            contrast: CONTRAST,
            least_working_distance_mm: None,
            largest_light_loss_stops: None,
            largest_crop: 0.0,
            largest_enlargement: None,
            overlap: OVERLAP,
            wavelength_mm: AIRY_WAVELENGTH_MM,
        }
    }

    fn check(&self) -> Result<(), OutOfRange> {
        within("the subject's width", self.subject_width_mm, SUBJECT_MM, "mm")?;
        within("the share of the frame to fill", self.fill, LEAST_SHARE..=1.0, "")?;
        within("the frame's width", self.frame_mm[0], FRAME_MM, "mm")?;
        within("the frame's height", self.frame_mm[1], FRAME_MM, "mm")?;
        within("the print's width", self.print_mm, 5.0..=20_000.0, "mm")?;
        within("the detail on paper", self.criterion_lp_mm, 0.1..=50.0, "lp/mm")?;
        within("the contrast to be left", self.contrast, LEAST_SHARE..=MOST_SHARE, "")?;
        within("the share that may be cropped away", self.largest_crop, 0.0..=MOST_SHARE, "")?;
        within("the overlap of focus steps", self.overlap, 0.0..=MOST_SHARE, "")?;
        within("the wavelength", self.wavelength_mm, 0.2e-3..=1.2e-3, "mm")?;
        let wishes = [
            ("the subject's height", self.subject_height_mm, SUBJECT_MM, "mm"),
            ("the subject's depth", self.subject_depth_mm, SUBJECT_MM, "mm"),
            ("the depth wanted", self.depth_wanted_mm, SUBJECT_MM, "mm"),
            ("the least working distance", self.least_working_distance_mm, DISTANCE_MM, "mm"),
            ("the largest loss of light", self.largest_light_loss_stops, 0.0..=30.0, "stops"),
            ("the largest enlargement", self.largest_enlargement, 0.1..=1000.0, "times"),
        ];
        for (what, wish, limits, unit) in wishes {
            wish.map_or(Ok(()), |found| within(what, found, limits, unit))?;
        }
        Ok(())
    }

    /// What the job's pictures need.
    pub fn need(&self) -> Result<Need, OutOfRange> {
        self.check()?;
        let sides = [self.subject_width_mm, self.subject_height_mm.unwrap_or(self.subject_width_mm)];
        let along = |side: usize| self.fill * self.frame_mm[side] / sides[side];
        let magnification = along(0).min(along(1));
        within("the magnification that fills the frame so", magnification, MAGNIFICATION, "")?;
        let enlargement = self.print_mm / self.frame_mm[0];
        let on_film_lp_mm = self.criterion_lp_mm * enlargement;
        Ok(Need {
            magnification,
            enlargement,
            print_magnification: magnification * enlargement,
            on_film_lp_mm,
            on_subject_lp_mm: on_film_lp_mm * magnification,
            circle_mm: 1.0 / on_film_lp_mm,
            depth_mm: self.depth_wanted_mm.or(self.subject_depth_mm),
            brief: *self,
            cut_off_share: cut_off_share(self.contrast),
        })
    }
}

/// The width on paper, mm, of a whole frame (width, height, mm) whose long side is printed to `long_side_mm`: what
/// [`Brief::print_mm`] asks for.
pub fn print_width_mm(frame_mm: [f64; 2], long_side_mm: f64) -> f64 {
    long_side_mm * frame_mm[0] / frame_mm[0].max(frame_mm[1])
}

/// What a job's pictures need. Only [`Brief::need`] makes one, so its figures are checked.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Need {
    /// Magnification at which the subject fills the frame as wanted: fill · side / subject, on the tighter side.
    pub magnification: f64,
    /// How much the whole frame is enlarged for the print.
    pub enlargement: f64,
    /// Size on paper over size of the subject. It stays the same for every set-up, cropped or not: the print is the job.
    pub print_magnification: f64,
    /// Line pairs per mm needed on film when the whole frame is printed: criterion · enlargement. A crop needs more
    /// ([`Negative::lp_mm`]).
    pub on_film_lp_mm: f64,
    /// Line pairs per mm needed on the subject: criterion · print magnification, the same for every crop.
    pub on_subject_lp_mm: f64,
    /// The disc on film that still counts as sharp, mm, when the whole frame is printed: as wide as one line pair of the
    /// criterion, 1/(criterion · enlargement). At 5 lp/mm that is the 0.2 mm at 250 mm of common practice.
    pub circle_mm: f64,
    /// The depth that is to be sharp, mm; `None` when nothing was said or the subject is flat.
    pub depth_mm: Option<f64>,
    pub(crate) brief: Brief,
    /// The share of the cut-off where a perfect lens leaves the contrast wanted.
    pub(crate) cut_off_share: f64,
}

impl Need {
    /// The job that needs it.
    pub fn brief(&self) -> &Brief {
        &self.brief
    }

    /// What a negative of the whole frame must hold.
    pub fn on_film(&self) -> Negative {
        self.on_film_at(self.magnification)
    }

    /// The depth, mm, that one exposure holds at this effective f-number when the whole frame is printed.
    pub fn depth_at_mm(&self, effective_f_number: f64) -> f64 {
        depth_mm(self.magnification, effective_f_number, self.circle_mm)
    }
}

/// A figure that cannot be.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{what} must lie between {} and {}{}{unit}, not {}; check it", plain(*.least), plain(*.largest), if .unit.is_empty() { "" } else { " " }, plain(*.found))]
pub struct OutOfRange {
    /// Which.
    pub what: &'static str,
    /// What it was.
    pub found: f64,
    /// The least that it can be.
    pub least: f64,
    /// The largest that it can be.
    pub largest: f64,
    /// The unit of all three, empty for a plain ratio.
    pub unit: &'static str,
}

/// NaN lies within nothing.
pub(crate) fn within(
    what: &'static str,
    found: f64,
    limits: RangeInclusive<f64>,
    unit: &'static str,
) -> Result<(), OutOfRange> {
    if limits.contains(&found) {
        return Ok(());
    }
    Err(OutOfRange { what, found, least: *limits.start(), largest: *limits.end(), unit })
}
