//! Why a calibration is refused.

use crate::lens::Unknown;

/// What frame would tell what the given ones cannot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// One with more or less between body and lens.
    AnotherExtension,
    /// One at the infinity mark with an extension.
    InfinityMarkOnExtension,
}

impl std::fmt::Display for Wanted {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::AnotherExtension => "a frame with a clearly longer or shorter extension",
            Self::InfinityMarkOnExtension => "a frame at the infinity mark with an extension",
        })
    }
}

/// Why nothing was computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CalibrationError {
    /// Nothing was given.
    #[error("there is nothing to calibrate from; give at least one frame")]
    NoFrames,
    /// More than are fitted together.
    #[error("{count} frames are more than the {most} that are fitted together")]
    TooManyFrames {
        /// How many were given.
        count: usize,
        /// How many are allowed.
        most: usize,
    },
    /// Two frames of one name.
    #[error("two frames are called \"{id}\"; each needs a name of its own")]
    NameTwice {
        /// The name.
        id: String,
    },
    /// One length more than once in a frame.
    #[error("frame \"{frame}\" has \"{name}\" in it twice; one piece is in a set-up once")]
    LengthTwice {
        /// The frame.
        frame: String,
        /// The length.
        name: String,
    },
    /// One name, two figures.
    #[error(
        "\"{name}\" is given as {first} mm and again as {second} mm or with another uncertainty; one piece has one length"
    )]
    LengthsDiffer {
        /// The length's name.
        name: String,
        /// As it was given first, mm.
        first: f64,
        /// As it was given again, mm.
        second: f64,
    },
    /// Not a number, or infinite.
    #[error("{place}: {what} of {value} is no number")]
    NotFinite {
        /// The frame, photograph or pair.
        place: String,
        /// Which figure.
        what: &'static str,
        /// As it was given.
        value: f64,
    },
    /// Zero or less where only more makes sense.
    #[error("{place}: {what} of {value} must be above 0")]
    NotPositive {
        /// The frame, photograph or pair.
        place: String,
        /// Which figure.
        what: &'static str,
        /// As it was given.
        value: f64,
    },
    /// Less than nothing.
    #[error("{place}: {what} of {value} must not be negative")]
    Negative {
        /// The frame, photograph or pair.
        place: String,
        /// Which figure.
        what: &'static str,
        /// As it was given.
        value: f64,
    },
    /// An uncertainty that is none.
    #[error("{place}: {what} ±{plus_minus} is no uncertainty here; give the half-width of its 95 % interval")]
    Uncertainty {
        /// The frame, photograph or pair.
        place: String,
        /// Which figure.
        what: &'static str,
        /// As it was given.
        plus_minus: f64,
    },
    /// A magnification beyond reason.
    #[error("{place}: a magnification of {value} lies outside {least} to {most}; is it in per cent, or upside down?")]
    Magnification {
        /// The frame or pair.
        place: String,
        /// As it was given.
        value: f64,
        /// Least that is taken.
        least: f64,
        /// Most that is taken.
        most: f64,
    },
    /// A lens at infinity has no magnification.
    #[error("frame \"{frame}\" was taken at the infinity mark without any extension: nothing near can be sharp in it")]
    AtInfinity {
        /// The frame.
        frame: String,
    },
    /// Told to use an engraving that was not given.
    #[error("the engraved focal length shall be used, but none is given")]
    NothingMarked,
    /// Fewer independent readings than unknowns.
    #[error("these frames (readings of the lens: {readings}) cannot tell {}; {wanted} would", list(unknowns))]
    NotTold {
        /// The figures that trade against each other.
        unknowns: Vec<Unknown>,
        /// Measured magnifications and distances, and the engraving where it counts.
        readings: usize,
        /// What would tell them.
        wanted: Wanted,
    },
    /// Told so badly that the figure may be anything.
    #[error(
        "the frames leave the focal length at {value:.1} mm give or take {plus_minus:.1} mm, which is no figure; {wanted} would tell it"
    )]
    TooVague {
        /// Fitted, mm.
        value: f64,
        /// Half-width (95 %), mm.
        plus_minus: f64,
        /// What would tell it.
        wanted: Wanted,
    },
    /// No lens behaves so.
    #[error(
        "no lens fits these frames: the magnification must grow with the extension; were frames or tubes mixed up?"
    )]
    NoLens,
    /// The least sum was not found.
    #[error("the fit did not come to rest; the frames contradict each other too much")]
    NoRest,
    /// Photographs of pupils partly with and partly without a ruler.
    #[error("some photographs have a scale and some have none; without one all must be taken from the same distance")]
    ScalesMixed,
    /// A pupil ratio that no lens has.
    #[error("a pupil ratio of {ratio:.3} lies outside {least} to {most}; were front and back mixed up, or the scales?")]
    PupilRatio {
        /// As computed.
        ratio: f64,
        /// Least that is taken.
        least: f64,
        /// Most that is taken.
        most: f64,
    },
    /// A close-up lens that adds nothing.
    #[error("the pairs give a power of {power_dpt:.2} dpt; a close-up lens raises the magnification")]
    NoPower {
        /// As computed, dioptres.
        power_dpt: f64,
    },
}

fn list(unknowns: &[Unknown]) -> String {
    let names: Vec<String> = unknowns.iter().map(ToString::to_string).collect();
    match names.as_slice() {
        [] => "the figures".to_owned(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last} apart", first.join(", ")),
    }
}
