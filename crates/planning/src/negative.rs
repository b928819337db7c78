//! What a negative must hold at a magnification, cropped where it is less than the frame needs.

use crate::brief::Need;
use crate::choice::Unmet;

/// What a negative must hold so that the print comes out as wanted: the same subject, the same size on paper, the same
/// detail there, whatever magnification it is taken at.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Negative {
    /// Size on film over size of the subject.
    pub magnification: f64,
    /// The share of the frame's sides that is cropped away; 0 when the whole frame is printed.
    pub cut_away: f64,
    /// How much the film is enlarged.
    pub enlargement: f64,
    /// Line pairs per mm needed on film: it grows as the enlargement does.
    pub lp_mm: f64,
    /// The disc on film that still counts as sharp, mm: one over [`Self::lp_mm`].
    pub circle_mm: f64,
    /// The light that this magnification gains against filling the frame, stops, at the same depth on the subject. That
    /// depth needs an effective f-number in proportion to the magnification (2·c·N/m², c in proportion to m), so it is
    /// −2·log₂ of their ratio; negative when the subject is taken larger than needed.
    pub light_gained_stops: f64,
    pub(crate) need: Need,
}

/// How much a set-up may miss the magnification wanted and still frame as wanted: neither finder nor mask is truer than one
/// percent (common practice, no source).
pub(crate) const FRAMING_HAIR: f64 = 0.01;

impl Need {
    pub(crate) fn on_film_at(&self, magnification: f64) -> Negative {
        let ratio = magnification / self.magnification;
        Negative {
            magnification,
            cut_away: (1.0 - ratio).max(0.0),
            enlargement: self.enlargement / ratio,
            lp_mm: self.on_film_lp_mm / ratio,
            circle_mm: self.circle_mm * ratio,
            light_gained_stops: -2.0 * ratio.log2(),
            need: *self,
        }
    }

    /// The negative at a lower magnification than the frame needs, cropped to the same print; or why the job does not allow
    /// it. A magnification as wanted is a crop of nothing.
    pub fn crop_of(&self, magnification: f64) -> Result<Negative, Unmet> {
        let negative = self.on_film_at(magnification);
        let brief = &self.brief;
        let needed = self.magnification;
        let ratio = magnification / needed;
        let over = |limit: f64| negative.enlargement > limit * (1.0 + FRAMING_HAIR);
        if ratio > 1.0 + FRAMING_HAIR {
            return Err(Unmet::TooTight { magnification, needed, fills: brief.fill * ratio, wanted: brief.fill });
        }
        if negative.cut_away > brief.largest_crop + FRAMING_HAIR {
            return Err(match brief.largest_crop {
                0.0 => Unmet::DoesNotReach { magnification, needed },
                largest => Unmet::CropTooLarge { cut_away: negative.cut_away, largest, magnification, needed },
            });
        }
        match brief.largest_enlargement {
            Some(largest) if over(largest) => Err(Unmet::EnlargedTooMuch {
                enlargement: negative.enlargement,
                largest,
                cropped: negative.cut_away > 0.0,
            }),
            _ => Ok(negative),
        }
    }
}
