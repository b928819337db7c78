//! Which f-numbers hold detail and depth together, and how many exposures do where none holds both.

use crate::negative::Negative;
use crate::words::figure;
use optics::{AIRY_WAVELENGTH_MM, balanced_f_number, diffraction_mtf};
use std::fmt;

/// Depth on the subject, mm, in front and behind together, that one exposure at this effective f-number holds within a disc
/// of `circle_mm` on film: 2·c·N/m², for subjects so close that both sides are equal (closed form of the cone of light at
/// the film; it is the near limit of [`optics::Figure::DepthOfField`]).
pub fn depth_mm(magnification: f64, effective_f_number: f64, circle_mm: f64) -> f64 {
    2.0 * circle_mm * effective_f_number / (magnification * magnification)
}

/// The effective f-number that holds `depth_mm` on the subject: the inverse of [`depth_mm`].
pub fn effective_f_number_for_depth(magnification: f64, depth_mm: f64, circle_mm: f64) -> f64 {
    depth_mm * magnification * magnification / (2.0 * circle_mm)
}

/// The share of a perfect lens's cut-off where it leaves this contrast. The curve falls all the way, so halving finds it;
/// sixty halvings are more than an `f64` can tell apart.
pub(crate) fn cut_off_share(contrast: f64) -> f64 {
    let (mut carried, mut lost) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = 0.5 * (carried + lost);
        // At unit wavelength and f-number the cut-off is 1, so a frequency is its own share.
        if diffraction_mtf(1.0, 1.0, middle) >= contrast {
            carried = middle;
        } else {
            lost = middle;
        }
    }
    carried
}

/// The largest effective f-number at which a perfect lens leaves `contrast` (over 0 to 1) at `lp_mm` on film.
pub fn largest_effective_f_number(wavelength_mm: f64, lp_mm: f64, contrast: f64) -> f64 {
    cut_off_share(contrast) / (wavelength_mm * lp_mm)
}

/// Where diffraction and want of depth blur alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Balance {
    /// The effective f-number: m·√(depth/(4.88·λ)).
    pub effective_f_number: f64,
    /// The disc on film at the ends of the depth, mm, from both together. No f-number makes a smaller one.
    pub blur_mm: f64,
}

/// Exposures focused one behind the other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FocusSteps {
    /// The effective f-number for all of them: the largest that still holds the detail and that the lens has.
    pub effective_f_number: f64,
    /// What each exposure holds, mm of the subject.
    pub depth_each_mm: f64,
    /// How many.
    pub count: u32,
    /// How far subject or camera moves between them, mm: the depth wanted shared out evenly. The first is focused half a
    /// step inside the near end, the last half a step inside the far end. Moving keeps the magnification, turning the focus
    /// ring does not.
    pub step_mm: f64,
}

/// Whether one exposure holds detail and depth.
///
/// Each limit counts alone: depth at the ends with no diffraction, diffraction where the focus is. Where both are reached at
/// once the blur at the ends is √2 of either; `best` keeps them apart as far as they can be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Feasible {
    /// It does, between two effective f-numbers.
    OneExposure {
        /// The smallest: below it the depth does not suffice, or the lens opens no wider. `None` when nothing limits it.
        from: Option<f64>,
        /// The largest: above it diffraction takes the detail, or the lens closes no further.
        to: f64,
        /// The one in between that blurs least at the ends of the depth; `None` when no depth is asked for.
        best: Option<f64>,
    },
    /// No f-number holds both; so many exposures do.
    Steps(FocusSteps),
    /// The lens does not open wide enough for the detail, whatever the depth.
    TooDim {
        /// Its smallest effective f-number.
        widest: f64,
        /// The largest that still holds the detail.
        limit: f64,
    },
}

impl fmt::Display for Feasible {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::OneExposure { from, to, best } => {
                match from {
                    Some(from) => {
                        write!(f, "one exposure serves from effective f/{} to f/{}", figure(from), figure(to))?
                    }
                    None => write!(f, "one exposure serves up to effective f/{}", figure(to))?,
                }
                best.map_or(Ok(()), |best| write!(f, ", best at f/{}", figure(best)))
            }
            Self::Steps(steps) => write!(
                f,
                "no f-number holds depth and detail together: take {} exposures at effective f/{} and move subject or camera \
                 {} mm between them",
                steps.count,
                figure(steps.effective_f_number),
                figure(steps.step_mm)
            ),
            Self::TooDim { widest, limit } => write!(
                f,
                "even wide open, at effective f/{}, diffraction takes the detail, which needs f/{} or wider: print smaller or \
                 take a lens that opens wider",
                figure(widest),
                figure(limit)
            ),
        }
    }
}

/// Two f-numbers apart by less than this share are one: rounding, not optics.
const ROUNDING: f64 = 1e-9;

impl Negative {
    /// The largest effective f-number at which a perfect lens still holds the detail with the contrast wanted.
    pub fn diffraction_limit(&self) -> f64 {
        self.need.cut_off_share / (self.need.brief.wavelength_mm * self.lp_mm)
    }

    /// The smallest effective f-number that holds the depth wanted; `None` when no depth is asked for.
    pub fn depth_limit(&self) -> Option<f64> {
        self.need.depth_mm.map(|depth| effective_f_number_for_depth(self.magnification, depth, self.circle_mm))
    }

    /// Where diffraction and want of depth blur alike; `None` when no depth is asked for.
    pub fn balance(&self) -> Option<Balance> {
        let depth = self.need.depth_mm?;
        let (green, blur) = balanced_f_number(self.magnification, depth);
        // That figure is at the Airy wavelength; f-number goes as 1/√λ and blur, λ·N, as √λ.
        let root = (self.need.brief.wavelength_mm / AIRY_WAVELENGTH_MM).sqrt();
        Some(Balance { effective_f_number: green / root, blur_mm: blur * root })
    }

    /// The depth that one exposure at this effective f-number holds, mm.
    pub fn depth_at_mm(&self, effective_f_number: f64) -> f64 {
        depth_mm(self.magnification, effective_f_number, self.circle_mm)
    }

    /// Whether one exposure holds detail and depth, with a lens that has these effective f-numbers (widest open, most
    /// closed), or with any when `None`.
    pub fn feasible(&self, lens: Option<[f64; 2]>) -> Feasible {
        let limit = self.diffraction_limit();
        if let Some([widest, _]) = lens
            && widest > limit * (1.0 + ROUNDING)
        {
            return Feasible::TooDim { widest, limit };
        }
        let to = lens.map_or(limit, |[_, closed]| closed.min(limit));
        let Some((depth, least)) = self.need.depth_mm.zip(self.depth_limit()) else {
            return Feasible::OneExposure { from: lens.map(|[widest, _]| widest.min(to)), to, best: None };
        };
        if least > to * (1.0 + ROUNDING) {
            return Feasible::Steps(self.steps(depth, to));
        }
        let from = lens.map_or(least, |[widest, _]| widest.max(least)).min(to);
        let best = self.balance().map(|balance| balance.effective_f_number.clamp(from, to));
        Feasible::OneExposure { from: Some(from), to, best }
    }

    /// Focus steps over `depth` at this effective f-number. Steps are as wide as the overlap leaves, so the two outer ends
    /// keep half an overlap in hand like every other join.
    fn steps(&self, depth: f64, effective_f_number: f64) -> FocusSteps {
        let depth_each_mm = self.depth_at_mm(effective_f_number);
        let count = (depth / (depth_each_mm * (1.0 - self.need.brief.overlap)) * (1.0 - ROUNDING)).ceil().max(1.0);
        FocusSteps { effective_f_number, depth_each_mm, count: count as u32, step_mm: depth / count }
    }
}
