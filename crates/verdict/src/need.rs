//! What a job asks for, and whether one figure meets it.

use optics::{COVERAGE_95, Estimate};

use crate::numeric::normal_below;

/// What a job asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Need {
    /// The subject's longest side, mm.
    pub subject_mm: f64,
    /// The share of the frame's shorter side that it shall fill, 0 to 1.
    pub fill: f64,
    /// The image on film, mm.
    pub frame_mm: [f64; 2],
    /// The long side of a print of the whole frame, mm.
    pub print_mm: f64,
    /// Detail wanted on paper, line pairs per mm: 5 is usual (0.2 mm at 250 mm; common practice, no source).
    pub criterion_lp_mm: f64,
    /// The share of contrast to be left at that fineness, 0 to 1.
    pub contrast: f64,
}

impl Need {
    /// Magnification at which the subject fills the frame as wanted: fill · shorter side / subject.
    pub fn magnification(&self) -> f64 {
        self.fill * self.frame_mm[0].min(self.frame_mm[1]) / self.subject_mm
    }

    /// How much the frame is enlarged for the print: long side over long side.
    pub fn enlargement(&self) -> f64 {
        self.print_mm / self.frame_mm[0].max(self.frame_mm[1])
    }

    /// Line pairs per mm needed on film: criterion times enlargement.
    pub fn on_film_lp_mm(&self) -> f64 {
        self.criterion_lp_mm * self.enlargement()
    }

    /// Line pairs per mm needed on the subject.
    pub fn on_subject_lp_mm(&self) -> f64 {
        self.on_film_lp_mm() * self.magnification()
    }
}

/// Whether a set-up serves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// With at least 95 % probability.
    Serves,
    /// With at most 5 % probability.
    FallsShort,
    /// Neither can be said from what was measured.
    Undecided,
}

/// Half of what is left over at either side of a 90 % interval.
const DOUBT: f64 = 0.05;

/// A judgement with its probability.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judgement {
    /// Probability that the figure is at least what is needed.
    pub probability: f64,
    /// The answer.
    pub answer: Answer,
}

/// Whether `measured` is at least `needed`, the measurement being normally distributed.
pub fn judge(measured: Estimate, needed: f64) -> Judgement {
    let spread = measured.plus_minus / COVERAGE_95;
    let distance = measured.value - needed;
    let probability = if spread > 0.0 { normal_below(distance / spread) } else { f64::from(u8::from(distance >= 0.0)) };
    let answer = match probability {
        p if p >= 1.0 - DOUBT => Answer::Serves,
        p if p <= DOUBT => Answer::FallsShort,
        _ => Answer::Undecided,
    };
    Judgement { probability, answer }
}

/// The weakest of several judgements about one set-up: it serves only if every part of the frame does.
pub fn weakest(judgements: impl IntoIterator<Item = Judgement>) -> Option<Judgement> {
    // What could not be measured is no strength: NaN counts as the weakest.
    let strength = |judgement: &Judgement| if judgement.probability.is_nan() { -1.0 } else { judgement.probability };
    judgements.into_iter().min_by(|p, q| strength(p).total_cmp(&strength(q)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    fn beetle() -> Need {
        Need {
            subject_mm: 40.0,
            fill: 0.7,
            frame_mm: [56.0, 56.0],
            print_mm: 254.0,
            criterion_lp_mm: 5.0,
            contrast: 0.2,
        }
    }

    #[test]
    fn need_on_film() {
        // Criterion times enlargement: 5 lp/mm on paper from 56 mm to 254 mm is 22.7 lp/mm on film (own arithmetic on
        // the usual print criterion; common practice, no source).
        assert_close!(beetle().on_film_lp_mm(), 22.678_571_428_571_43, relative = 1e-12);
        assert_close!(beetle().magnification(), 0.98, relative = 1e-12);
    }

    #[test]
    fn doubt_is_said() {
        let figure = |value| Estimate { value, plus_minus: 0.05 };
        assert_eq!(judge(figure(0.3), 0.2).answer, Answer::Serves);
        assert_eq!(judge(figure(0.1), 0.2).answer, Answer::FallsShort);
        assert_eq!(judge(figure(0.21), 0.2).answer, Answer::Undecided);
        assert_eq!(judge(Estimate::exact(0.2), 0.2).answer, Answer::Serves);
    }

    #[test]
    fn the_weakest_part_decides() {
        let judgements = [0.9, 0.4, 0.99].map(|value| judge(Estimate { value, plus_minus: 0.3 }, 0.5));
        assert_eq!(weakest(judgements), Some(judgements[1]));
        assert_eq!(weakest([]), None);
    }
}
