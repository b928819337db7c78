//! Frequencies in the units that people use: per pixel, on film, on the subject, per picture height.

/// A unit in which fineness is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FrequencyUnit {
    /// Cycles per pixel.
    CyclesPerPixel,
    /// Line pairs per millimetre on film.
    LinePairsPerMmOnFilm,
    /// Line pairs per millimetre on the subject.
    LinePairsPerMmOnSubject,
    /// Line pairs per picture height.
    LinePairsPerHeight,
    /// Line widths per picture height: two to a line pair (ISO 12233, 3.18, number from memory).
    LineWidthsPerHeight,
}

impl FrequencyUnit {
    /// Its sign, as "lp/mm".
    pub fn sign(self) -> &'static str {
        match self {
            Self::CyclesPerPixel => "cy/px",
            Self::LinePairsPerMmOnFilm => "lp/mm",
            Self::LinePairsPerMmOnSubject => "lp/mm on the subject",
            Self::LinePairsPerHeight => "lp/ph",
            Self::LineWidthsPerHeight => "lw/ph",
        }
    }
}

/// What a pixel is: all that converting needs. What is `None` is not known, and units that need it are refused.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sampling {
    /// Size of a pixel on film, µm.
    pub pitch_um: Option<f64>,
    /// Size on film over size of the subject.
    pub magnification: Option<f64>,
    /// Pixels from the picture's upper to its lower side.
    pub height_px: Option<f64>,
}

/// Why a frequency cannot be converted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FrequencyError {
    /// A length or ratio that the unit needs is not known.
    #[error("{} needs the {needed}, which is not known", unit.sign())]
    Unknown {
        /// The unit asked for.
        unit: FrequencyUnit,
        /// What is missing.
        needed: &'static str,
    },
    /// A length or ratio that is no positive number.
    #[error("the {what} is {value}; it must be above 0")]
    NotPositive {
        /// What.
        what: &'static str,
        /// As given.
        value: f64,
    },
}

impl Sampling {
    /// How many of the unit are one cycle per pixel.
    ///
    /// On film, in lp/mm: 1000 times cy/px over the pitch in µm; on the subject times the magnification; per height times its pixels.
    pub fn per_cy_px(&self, unit: FrequencyUnit) -> Result<f64, FrequencyError> {
        let known = |value: Option<f64>, needed: &'static str| match value {
            None => Err(FrequencyError::Unknown { unit, needed }),
            Some(value) if value > 0.0 && value.is_finite() => Ok(value),
            Some(value) => Err(FrequencyError::NotPositive { what: needed, value }),
        };
        let on_film = || Ok(1000.0 / known(self.pitch_um, "size of a pixel on film")?);
        let height = || known(self.height_px, "picture's height in pixels");
        match unit {
            FrequencyUnit::CyclesPerPixel => Ok(1.0),
            FrequencyUnit::LinePairsPerMmOnFilm => on_film(),
            FrequencyUnit::LinePairsPerMmOnSubject => Ok(on_film()? * known(self.magnification, "magnification")?),
            FrequencyUnit::LinePairsPerHeight => height(),
            FrequencyUnit::LineWidthsPerHeight => Ok(2.0 * height()?),
        }
    }

    /// Cycles per pixel in another unit.
    pub fn from_cy_px(&self, cy_px: f64, unit: FrequencyUnit) -> Result<f64, FrequencyError> {
        Ok(cy_px * self.per_cy_px(unit)?)
    }

    /// A figure of another unit in cycles per pixel.
    pub fn to_cy_px(&self, value: f64, unit: FrequencyUnit) -> Result<f64, FrequencyError> {
        Ok(value / self.per_cy_px(unit)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn one_frequency_in_every_unit() {
        // 4000 pixels per inch: 25400/4000 = 6.35 µm. Half a cycle per pixel is 500/6.35 = 78.740 lp/mm; at 2:1 twice that on
        // the subject; a height of 8800 pixels holds 4400 line pairs, 8800 line widths.
        let sampling = Sampling { pitch_um: Some(6.35), magnification: Some(2.0), height_px: Some(8800.0) };
        for (unit, value) in [
            (FrequencyUnit::CyclesPerPixel, 0.5),
            (FrequencyUnit::LinePairsPerMmOnFilm, 78.740_157),
            (FrequencyUnit::LinePairsPerMmOnSubject, 157.480_315),
            (FrequencyUnit::LinePairsPerHeight, 4400.0),
            (FrequencyUnit::LineWidthsPerHeight, 8800.0),
        ] {
            assert_close!(sampling.from_cy_px(0.5, unit).unwrap(), value, relative = 1e-8, "{unit:?}");
            assert_close!(sampling.to_cy_px(value, unit).unwrap(), 0.5, relative = 1e-8, "{unit:?}");
        }
    }

    #[test]
    fn what_is_not_known_is_refused_by_name() {
        let pitch = Sampling { pitch_um: Some(6.35), ..Sampling::default() };
        let why = pitch.from_cy_px(0.5, FrequencyUnit::LinePairsPerMmOnSubject).unwrap_err().to_string();
        assert_eq!(why, "lp/mm on the subject needs the magnification, which is not known");
        let why = Sampling::default().from_cy_px(0.5, FrequencyUnit::LinePairsPerMmOnFilm).unwrap_err().to_string();
        assert!(why.contains("size of a pixel on film"), "{why}");
        assert!(Sampling::default().from_cy_px(0.5, FrequencyUnit::LineWidthsPerHeight).is_err());
        let none = Sampling { pitch_um: Some(0.0), ..Sampling::default() };
        let why = none.to_cy_px(50.0, FrequencyUnit::LinePairsPerMmOnFilm).unwrap_err();
        assert_eq!(why, FrequencyError::NotPositive { what: "size of a pixel on film", value: 0.0 });
    }
}
