//! What a ruler says.

/// A line along a ruler.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScaleOptions {
    /// First end of the line, pixels from the outer corner of the top-left pixel.
    pub from: (f64, f64),
    /// Last end of the line.
    pub to: (f64, f64),
    /// Distance between neighbouring marks on the ruler, millimetres.
    pub tick_mm: f64,
    /// Distance between neighbouring pixels on the film (or the sensor), micrometres; gives the magnification.
    pub pitch_um: Option<f64>,
}

/// One measured ruler.
#[derive(Debug, Clone, PartialEq)]
pub struct ScaleReport {
    /// Pixels between neighbouring marks, square to the marks.
    pub px_per_tick: f64,
    /// Pixels per millimetre of the subject.
    pub px_per_mm: f64,
    /// Half-width of the 95 % interval of `px_per_mm`: the marks' scatter, and how well the drawn line's obliquity to the
    /// ruler is known.
    pub plus_minus: f64,
    /// Marks that took part.
    pub ticks: usize,
    /// Magnification on the film: pixels per millimetre times the pixel pitch in millimetres.
    pub magnification: Option<f64>,
    /// Half-width of its 95 % interval; the pixel pitch is taken as exact.
    pub magnification_plus_minus: Option<f64>,
    /// Angle between the drawn line and the ruler's axis, degrees, taken from the marks' own direction; `None` when
    /// the marks are too short to show one.
    pub obliquity_deg: Option<f64>,
    /// Where the marks that took part cross the line, pixels of the picture, from its first end on.
    pub places: Vec<(f64, f64)>,
    /// Reservations.
    pub remarks: Vec<ScaleRemark>,
}

/// A reservation about a measured ruler.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum ScaleRemark {
    /// Few marks: a longer stretch would be surer.
    FewTicks {
        /// Marks that took part.
        ticks: usize,
    },
    /// Some marks are missing, dirty or out of place and were left out.
    LeftOut {
        /// How many.
        count: usize,
    },
    /// The marks scatter more than good marks should.
    Uneven {
        /// Standard deviation about even spacing, per cent of the spacing.
        percent: f64,
    },
    /// The spacing grows or shrinks along the line: the ruler lies tilted to the film, or the lens distorts.
    SpacingChanges {
        /// Change from the first mark to the last, per cent of the spacing.
        percent: f64,
    },
    /// The marks lie so close that the pixels barely separate them.
    Fine {
        /// Pixels between marks.
        px_per_tick: f64,
    },
    /// The line was drawn at an angle to the ruler; the figure is corrected for that.
    Oblique {
        /// That angle, degrees.
        degrees: f64,
    },
    /// Beside the line stand finer marks, several to each one measured: the line may cross only the long ones.
    FinerMarksBeside {
        /// Pixels between the finer marks.
        px_per_tick: f64,
        /// Finer marks to each one measured, 2 to 10.
        parts: u32,
    },
}

impl std::fmt::Display for ScaleRemark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::FewTicks { ticks } => {
                write!(f, "only {ticks} marks took part; a longer line along the ruler would make the scale surer")
            }
            Self::LeftOut { count } => {
                write!(f, "{count} marks are missing, dirty or out of place and were left out")
            }
            Self::Uneven { percent } => write!(
                f,
                "the marks are uneven: they scatter by {percent:.1} % of their spacing; a sharper ruler or a line across \
                 cleaner marks would make the scale surer"
            ),
            Self::SpacingChanges { percent } => write!(
                f,
                "the spacing changes by {percent:.1} % along the line: the ruler is tilted to the film or the lens \
                 distorts; the scale holds for the middle of the line"
            ),
            Self::Fine { px_per_tick } => write!(
                f,
                "the marks are only {px_per_tick:.1} pixels apart, close to what the pixels can separate; use coarser marks"
            ),
            Self::FinerMarksBeside { px_per_tick, parts } => write!(
                f,
                "finer marks stand beside the line, {px_per_tick:.1} pixels apart, {parts} to each one that was measured: the \
                 line crosses only the longer marks; if the distance that was given is the finer marks', draw the line so \
                 that it crosses them all"
            ),
            Self::Oblique { degrees } => {
                write!(f, "the line was drawn at {degrees:.1} degrees to the ruler; the scale is corrected for that")
            }
        }
    }
}
