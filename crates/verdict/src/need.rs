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
        self.film_lp_mm(self.criterion_lp_mm)
    }

    /// Line pairs per mm on film that this many on paper come from.
    pub fn film_lp_mm(&self, print_lp_mm: f64) -> f64 {
        print_lp_mm * self.enlargement()
    }

    /// Line pairs per mm on paper that this many on film become.
    pub fn print_lp_mm(&self, film_lp_mm: f64) -> f64 {
        film_lp_mm / self.enlargement()
    }

    /// Micrometres on film that become so many millimetres on paper.
    pub fn film_um(&self, print_mm: f64) -> f64 {
        1000.0 * print_mm / self.enlargement()
    }

    /// Millimetres on paper that so many micrometres on film become.
    pub fn on_print_mm(&self, film_um: f64) -> f64 {
        film_um / 1000.0 * self.enlargement()
    }

    /// Width of the finest line pair that is seen in the print, mm.
    pub fn finest_seen_mm(&self) -> f64 {
        self.criterion_lp_mm.recip()
    }

    /// Line pairs per mm needed on the subject.
    pub fn on_subject_lp_mm(&self) -> f64 {
        self.on_film_lp_mm() * self.magnification()
    }
}

/// The finest detail that is seen in a print from this distance (mm), line pairs per mm of paper: 5 at 250 mm, and in inverse proportion
/// farther off, because the eye tells apart by angle (common practice, no source).
pub fn seen_from_lp_mm(distance_mm: f64) -> f64 {
    5.0 * 250.0 / distance_mm
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
    #[test]
    fn film_and_paper() {
        // 254 mm from 56 mm: 4.5357 times. 0.1 mm of paper is 22.05 µm of film (own arithmetic).
        let need = beetle();
        assert_close!(need.film_um(0.1), 22.047_244_094_488_19, relative = 1e-12);
        assert_close!(need.on_print_mm(22.047_244_094_488_19), 0.1, relative = 1e-12);
        assert_close!(need.print_lp_mm(need.film_lp_mm(3.7)), 3.7, relative = 1e-12);
        // 5 lp/mm: a pair takes 0.2 mm.
        assert_close!(need.finest_seen_mm(), 0.2, relative = 1e-12);
    }

    #[test]
    fn twice_as_far_off_half_as_fine() {
        assert_close!(seen_from_lp_mm(250.0), 5.0, relative = 1e-12);
        assert_close!(seen_from_lp_mm(500.0), 2.5, relative = 1e-12);
        assert_close!(seen_from_lp_mm(1000.0), 1.25, relative = 1e-12);
    }
}
