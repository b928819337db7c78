//! Why a line gives no scale.

/// Why no scale was measured. Every variant carries what was found and the limit, and says what to do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ScaleError {
    /// The distance between marks is no usable length.
    #[error("the marks are said to be {tick_mm} mm apart: give a length above 0, as 1 for a ruler in millimetres")]
    BadTick {
        /// What was given, millimetres.
        tick_mm: f64,
    },
    /// The pixel pitch is no usable length.
    #[error(
        "a pixel is said to be {pitch_um} µm wide on the film: give a length above 0, as 6.35 for 4000 pixels per inch"
    )]
    BadPitch {
        /// What was given, micrometres.
        pitch_um: f64,
    },
    /// An end of the line lies beyond the picture.
    #[error(
        "the line from ({:.1}, {:.1}) to ({:.1}, {:.1}) leaves the picture, which is {width} x {height} pixels: both ends \
         must lie on it", from.0, from.1, to.0, to.1
    )]
    OutsidePicture {
        /// First end, pixels.
        from: (f64, f64),
        /// Last end, pixels.
        to: (f64, f64),
        /// Columns.
        width: usize,
        /// Rows.
        height: usize,
    },
    /// The line has hardly any length.
    #[error(
        "the line is only {length_px:.1} pixels long, at least {least_px} are needed: draw it along the ruler, across its marks"
    )]
    LineTooShort {
        /// Its length, pixels.
        length_px: f64,
        /// Least length, pixels.
        least_px: f64,
    },
    /// Samples that are no numbers.
    #[error("{count} samples of the picture are not finite numbers: the file or its tone curve is broken")]
    NotFinite {
        /// How many.
        count: usize,
    },
    /// Nothing along the line repeats.
    #[error(
        "no ruler's marks found along the line: nothing on it repeats at an even distance of {least_px} pixels or more \
         (marks at uneven distances, or of two scales at once, do not count); draw the line along the ruler so that it crosses every mark"
    )]
    NoTicks {
        /// Finest spacing looked for, pixels.
        least_px: f64,
    },
    /// Marks, but too few to tell that they are evenly spaced.
    #[error("only {found} marks found along the line, at least {least} are needed: draw a longer line along the ruler")]
    TooFewTicks {
        /// Marks found.
        found: usize,
        /// Least number.
        least: usize,
    },
    /// Marks that do not fit one even spacing.
    #[error(
        "the marks along the line are not evenly spaced: about every {period_px:.1} pixels, but {found} of {expected} were found \
         and they scatter by {percent:.0} % of the spacing (two rulers, two scales, or a bent one?); draw the line along one scale alone"
    )]
    TooIrregular {
        /// Spacing that fits best, pixels.
        period_px: f64,
        /// Marks found.
        found: usize,
        /// Marks that the spacing would make.
        expected: usize,
        /// Scatter about even spacing, per cent of the spacing.
        percent: f64,
    },
}
