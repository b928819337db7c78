//! What a job asks for, and the answers that there are.

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
    /// At least as probably as a verdict was asked to be.
    Serves,
    /// As probably not.
    FallsShort,
    /// Neither can be said from what was measured.
    Undecided,
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
}
