//! A set-up in plain figures, and how it serves a job.

use crate::aperture::Feasible;
use crate::brief::{MAGNIFICATION, Need, OutOfRange, within};
use crate::negative::Negative;
use crate::words::{figure, pair, percent};
use optics::Estimate;

/// A set-up in plain figures, focused as it would be used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// Whatever tells the caller which it is; unused here.
    pub key: usize,
    /// Size on film over size of the subject. Where it is less than needed, the set-up competes cropped.
    pub magnification: f64,
    /// Light lost against the engraved f-number, stops, filters included.
    pub stops_lost: f64,
    /// Subject to the front of the set-up, mm; `None` when infinitely far.
    pub working_distance_mm: Option<f64>,
    /// Lenses added.
    pub glass_added: usize,
    /// Effective f-number over engraved f-number.
    pub f_number_factor: f64,
    /// The engraved f-numbers that the lens has: widest open, most closed.
    pub f_numbers: [f64; 2],
    /// Magnification over the largest that the lens reaches by itself: 1 and below is where its maker meant it to be used.
    pub past_close_range: f64,
    /// Contrast measured with it at [`Need::on_subject_lp_mm`], when it was.
    pub contrast: Option<Estimate>,
}

impl Candidate {
    /// The effective f-numbers that it has: widest open, most closed.
    pub fn effective_f_numbers(&self) -> [f64; 2] {
        self.f_numbers.map(|engraved| engraved * self.f_number_factor)
    }

    /// What to set on the ring for an effective f-number.
    pub fn engraved(&self, effective_f_number: f64) -> f64 {
        effective_f_number / self.f_number_factor
    }

    fn check(&self) -> Result<(), OutOfRange> {
        within("the set-up's magnification", self.magnification, MAGNIFICATION, "")?;
        within("the light lost in the set-up", self.stops_lost, -10.0..=60.0, "stops")?;
        within("the working distance", self.working_distance_mm.unwrap_or(0.0), 0.0..=1e9, "mm")?;
        within("effective over engraved f-number", self.f_number_factor, 0.01..=1e4, "")?;
        within("the lens's smallest f-number", self.f_numbers[0], 0.3..=1000.0, "")?;
        within("the lens's largest f-number", self.f_numbers[1], self.f_numbers[0]..=1000.0, "")?;
        within("magnification over the lens's own largest", self.past_close_range, 0.0..=1e6, "")?;
        if let Some(Estimate { value, plus_minus }) = self.contrast {
            // Noise may measure a contrast just below none, and sharpening one above all.
            within("the measured contrast", value, -1.0..=3.0, "")?;
            within("the measured contrast's ±", plus_minus, 0.0..=3.0, "")?;
        }
        Ok(())
    }
}

/// How a set-up would serve a job. Only [`Need::choice`] makes one, so its figures are checked.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Choice {
    /// The set-up.
    pub candidate: Candidate,
    /// What its negative must hold, cropped where the magnification is less than needed.
    pub negative: Negative,
    /// Whether one exposure holds detail and depth with this lens's f-numbers.
    pub feasible: Feasible,
    /// The most depth that one exposure holds without diffraction taking the detail, mm: at the largest f-number that the
    /// lens has and the detail allows. When even the widest is too dim, the depth at the widest.
    pub depth_mm: f64,
    /// Every hard wish of the job that it does not meet; empty when it serves.
    pub unmet: Vec<Unmet>,
}

impl Choice {
    /// Whether every hard wish is met.
    pub fn serves(&self) -> bool {
        self.unmet.is_empty()
    }
}

/// A hard wish that a set-up does not meet: what, and what to do.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum Unmet {
    /// Too little room for light.
    #[error("the subject comes within {} mm of the front, and {} mm are wanted for light: take a longer lens", pair(*.working_distance_mm, *.least_mm)[0], pair(*.working_distance_mm, *.least_mm)[1])]
    TooNear {
        /// What there is, mm.
        working_distance_mm: f64,
        /// What is wanted, mm.
        least_mm: f64,
    },
    /// Too much light lost.
    #[error("it loses {} stops, and at most {} are wanted: use less extension, or a close-up lens in its place", pair(*.stops, *.largest)[0], pair(*.stops, *.largest)[1])]
    TooMuchLightLost {
        /// What it loses, stops.
        stops: f64,
        /// What the job allows, stops.
        largest: f64,
    },
    /// Too little magnification, and the job allows no crop.
    #[error("it reaches magnification {}, and {} is needed: add extension or a close-up lens, or allow a crop to {} of the frame's sides", pair(*.magnification, *.needed)[0], pair(*.magnification, *.needed)[1], percent(.magnification / .needed))]
    DoesNotReach {
        /// What it reaches.
        magnification: f64,
        /// What is needed.
        needed: f64,
    },
    /// Too little magnification even for the crop that the job allows.
    #[error("at magnification {} instead of {}, {} of the frame's sides would be cropped away, and at most {} are allowed: add extension or a close-up lens", figure(*.magnification), figure(*.needed), percent(*.cut_away), percent(*.largest))]
    CropTooLarge {
        /// The share of the sides that would go.
        cut_away: f64,
        /// The share that may go.
        largest: f64,
        /// What it reaches.
        magnification: f64,
        /// What is needed for the whole frame.
        needed: f64,
    },
    /// Grain would show.
    #[error("the film would be enlarged {} times, and its grain is wanted at {} at most: {}", pair(*.enlargement, *.largest)[0], pair(*.enlargement, *.largest)[1], if *.cropped { "fill more of the frame, or print smaller" } else { "use larger film, or print smaller" })]
    EnlargedTooMuch {
        /// How much it would be.
        enlargement: f64,
        /// How much the job allows.
        largest: f64,
        /// Whether a crop has part in it.
        cropped: bool,
    },
    /// The subject comes out larger than wanted: no crop makes room around it.
    #[error("at magnification {} the subject fills {} of the frame's side instead of {}: use less extension", figure(*.magnification), percent(*.fills), percent(*.wanted))]
    TooTight {
        /// Its magnification.
        magnification: f64,
        /// What is needed.
        needed: f64,
        /// The share of the tighter side that the subject takes.
        fills: f64,
        /// The share wanted.
        wanted: f64,
    },
    /// Diffraction takes the detail even wide open.
    #[error("even wide open, at effective f/{}, diffraction takes the {} lp/mm that the film must hold; they need f/{} or wider: take a lens that opens wider, fill more of the frame, or print smaller", pair(*.widest, *.limit)[0], figure(*.lp_mm), pair(*.widest, *.limit)[1])]
    Diffraction {
        /// Its smallest effective f-number.
        widest: f64,
        /// The largest that holds the detail.
        limit: f64,
        /// The detail, line pairs per mm on film.
        lp_mm: f64,
    },
    /// Measured, and certainly too soft.
    #[error("measured contrast at the detail wanted is {} ± {}, and {} is wanted: stop down or choose another set-up", figure(.contrast.value), figure(.contrast.plus_minus), figure(*.wanted))]
    NotSharp {
        /// What was measured.
        contrast: Estimate,
        /// What the job wants.
        wanted: f64,
    },
}

/// A wish missed by rounding alone is met: 2 stops at life size come out of a set-up as 2.000 000 000 4.
const ROUNDING: f64 = 1e-6;

impl Need {
    /// How a set-up would serve; or which of its figures cannot be.
    pub fn choice(&self, candidate: &Candidate) -> Result<Choice, OutOfRange> {
        candidate.check()?;
        let negative = self.on_film_at(candidate.magnification);
        let lens = candidate.effective_f_numbers();
        let feasible = negative.feasible(Some(lens));
        let depth_mm = negative.depth_at_mm(negative.diffraction_limit().clamp(lens[0], lens[1]));
        let unmet = self.unmet(candidate, &negative, feasible);
        Ok(Choice { candidate: *candidate, negative, feasible, depth_mm, unmet })
    }

    fn unmet(&self, candidate: &Candidate, negative: &Negative, feasible: Feasible) -> Vec<Unmet> {
        let mut unmet = Vec::new();
        if let (Some(distance), Some(least)) = (candidate.working_distance_mm, self.brief.least_working_distance_mm)
            && distance < least * (1.0 - ROUNDING)
        {
            unmet.push(Unmet::TooNear { working_distance_mm: distance, least_mm: least });
        }
        if let Some(largest) = self.brief.largest_light_loss_stops
            && candidate.stops_lost > largest + ROUNDING
        {
            unmet.push(Unmet::TooMuchLightLost { stops: candidate.stops_lost, largest });
        }
        unmet.extend(self.crop_of(candidate.magnification).err());
        if let Feasible::TooDim { widest, limit } = feasible {
            unmet.push(Unmet::Diffraction { widest, limit, lp_mm: negative.lp_mm });
        }
        if let Some(contrast) = candidate.contrast
            && contrast.value + contrast.plus_minus < self.brief.contrast
        {
            unmet.push(Unmet::NotSharp { contrast, wanted: self.brief.contrast });
        }
        unmet
    }
}
