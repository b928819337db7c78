//! What a person says about test frames, before the kit is asked.

use optics::Input;

/// A number, with its half-width where one is stated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Number {
    /// The number.
    pub value: f64,
    /// Half-width of its 95 % interval, when stated.
    pub plus_minus: Option<f64>,
}

impl Number {
    /// A number without a stated uncertainty.
    pub fn plain(value: f64) -> Self {
        Self { value, plus_minus: None }
    }

    /// As an input; `usual` is the half-width of a plain one.
    pub fn input(self, usual: f64) -> Input {
        Input { value: self.value, plus_minus: self.plus_minus.unwrap_or(usual) }
    }
}

/// Where the lens's own focusing stood.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum At {
    /// At its infinity mark.
    Infinity,
    /// At its closest mark.
    Closest,
    /// This far forward of its infinity mark, mm.
    Travel(Number),
}

impl std::fmt::Display for At {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Infinity => f.write_str("infinity"),
            Self::Closest => f.write_str("closest"),
            Self::Travel(travel) => write!(f, "travel={}", travel.value),
        }
    }
}

/// How large the ruler came out on film.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reading {
    /// Size on film over size of the ruler.
    Magnification(Number),
    /// As a scan tells it.
    Scan {
        /// Pixels that one millimetre of the ruler takes.
        px_per_mm: Number,
        /// Size of a pixel on film, µm. What it errs by is common to all frames and stands in [`Given::common_scale`].
        pitch_um: f64,
    },
}

/// A ruler photographed.
#[derive(Debug, Clone, PartialEq)]
pub struct FrameEntry {
    /// What the frame is called; no two share a name.
    pub label: String,
    /// Ids from the body outwards, a bellows with its draw: "bellows=85".
    pub parts: Vec<String>,
    /// Where the lens's focusing stood.
    pub at: At,
    /// How large the ruler came out.
    pub reading: Reading,
    /// Measured from the ruler to the film, mm.
    pub subject_to_film_mm: Option<Number>,
}

/// From which end the lens was photographed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The front: the entrance pupil.
    Front,
    /// The back: the exit pupil.
    Back,
}

impl Side {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Front => "front",
            Self::Back => "back",
        }
    }
}

/// A photograph of the stopped-down lens.
#[derive(Debug, Clone, PartialEq)]
pub struct PupilEntry {
    /// What it is called.
    pub label: String,
    /// The lens's id; `None` for the only lens that there is.
    pub lens: Option<String>,
    /// From which end.
    pub side: Side,
    /// Diameter of the bright disc, pixels.
    pub diameter_px: Number,
    /// Pixels per mm from a ruler in the picture; `None` when one camera took all from one distance.
    pub px_per_mm: Option<Number>,
    /// From the camera to the ruler, mm.
    pub camera_mm: Option<Number>,
    /// From the ruler's plane to the disc, mm, away from the camera.
    pub depth_mm: Option<Number>,
}

/// A ruler without and with a close-up lens, at one focus.
#[derive(Debug, Clone, PartialEq)]
pub struct CloseUpEntry {
    /// What the pair is called.
    pub label: String,
    /// The close-up lens's id.
    pub part: String,
    /// The id of the lens that it was screwed to.
    pub lens: String,
    /// The body's id; `None` for the first of the kit that takes the lens.
    pub body: Option<String>,
    /// Ids of rings between the lens's thread and the close-up lens.
    pub rings: Vec<String>,
    /// Where the lens's focusing stood in both.
    pub at: At,
    /// Without it; `None` at infinity, where there is nothing to measure.
    pub without: Option<Reading>,
    /// With it.
    pub with: Reading,
}

/// Everything that is given.
#[derive(Debug, Clone, PartialEq)]
pub struct Given {
    /// Frames of a ruler.
    pub frames: Vec<FrameEntry>,
    /// Photographs of lenses.
    pub pupils: Vec<PupilEntry>,
    /// Pairs without and with a close-up lens.
    pub close_ups: Vec<CloseUpEntry>,
    /// Half-width (95 %, as a share) of what is common to all measured magnifications; `None` for the usual one.
    pub common_scale: Option<f64>,
    /// Whether an offset of the infinity mark is fitted too.
    pub fit_infinity_mark: bool,
    /// Whether frames that the others contradict take part all the same.
    pub use_outliers: bool,
}

impl Given {
    /// Nothing yet.
    pub const EMPTY: Self = Self {
        frames: Vec::new(),
        pupils: Vec::new(),
        close_ups: Vec::new(),
        common_scale: None,
        fit_infinity_mark: false,
        use_outliers: false,
    };
}
