//! Why a picture is not recognised as a card, and why single figures were not taken.

use measure::{
    AlignmentError, ContrastError, EdgeError, EvennessError, FringingError, GeometryError, GrainError, RampError,
    ScaleError, StripError,
};
use target::{Corner, Part};

/// Why no card was recognised.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RecogniseError<E: std::error::Error> {
    /// The frame could not be read.
    #[error("the picture could not be read: {0}")]
    Frame(E),
    /// Too few pixels for any code.
    #[error("the picture is {width} × {height} pixels; a card needs at least {least} on the shorter side")]
    TooSmall {
        /// Columns.
        width: u32,
        /// Rows.
        height: u32,
        /// Least of either.
        least: u32,
    },
    /// An option that is no usable number.
    #[error("{what} is {value}: give a finite number above 0")]
    BadOption {
        /// Which.
        what: &'static str,
        /// As given.
        value: f64,
    },
    /// Nothing that looks like a code was read.
    #[error(
        "no code of a target card can be read in the picture: at least one of the four must lie wholly in the frame, its \
         modules at least three pixels wide, neither in glare nor far out of focus"
    )]
    NoCode,
    /// Codes were read, but none of them is a card's.
    #[error("{count} code(s) were read in the picture, but none belongs to a target card")]
    ForeignCodes {
        /// How many times such a code was read.
        count: usize,
    },
    /// A card of a later layout.
    #[error("the card in the picture is of a layout that this version does not know")]
    LaterLayout,
    /// A card's code whose check fails.
    #[error("a card's code was read, but it is damaged: print the card anew, or photograph it sharper")]
    DamagedCode,
    /// A code was read whose field has no card.
    #[error("a card's code was read, but no card is laid out for its field of {width_mm} × {height_mm} mm")]
    NoSuchCard {
        /// Width.
        width_mm: f64,
        /// Height.
        height_mm: f64,
    },
    /// Codes, but hardly any squares.
    #[error(
        "a card's code was read, but only {found} of its squares were found, at least {least} are needed: show more of the card, sharper and \
         without glare"
    )]
    TooFewSquares {
        /// Squares found on the best sheet.
        found: usize,
        /// Least number.
        least: usize,
    },
    /// Squares that do not agree with one flat sheet.
    #[error("the card's squares do not fit together: {0}")]
    Geometry(GeometryError),
}

/// What was not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Item {
    /// A code.
    Code(Corner),
    /// A whole sheet of several.
    Sheet,
    /// A square, by its name.
    Square(&'static str),
    /// One edge of a square: the square's name and the side, 0 to 3 clockwise as in `target::Square::edges`.
    Edge(&'static str, usize),
    /// A ruler, by its name.
    Ruler(&'static str),
    /// A grey step, by its number.
    Step(usize),
    /// Black trap and white: contrast and veiling glare.
    Trap,
    /// A focus ramp, by its name.
    Ramp(&'static str),
    /// A blade on its place, by the place's name.
    Blade(&'static str),
    /// The tilted steel rule.
    Rule,
    /// The stuck-on grey scale.
    GreyScale,
    /// Evenness of the light over the frame.
    Evenness,
    /// Grain.
    Grain,
    /// Colour fringing over the frame.
    Fringing,
    /// Tilt of the card.
    Tilt,
    /// How the sharp surface lies.
    Alignment,
    /// Whether the sharp surface is curved.
    Curvature,
    /// How much of a corner's softness misalignment explains, by the corner's name.
    Softness(&'static str),
}

/// Why it was not taken.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Why {
    /// A code that could not be read: covered, cut off, in glare or too soft.
    #[error("its code could not be read")]
    NotRead,
    /// It lies wholly or partly outside the picture.
    #[error("it lies outside the picture")]
    OutsideFrame,
    /// Nothing like it is where it should be: covered, in glare, or too soft.
    #[error("it is not to be seen where it should be (covered, in glare, or too soft)")]
    NotSeen,
    /// It lies elsewhere than the rest of a flat sheet says.
    #[error("it does not lie where the rest of the card says: the sheet is bent there, or something was taken for it")]
    Disagrees,
    /// A place for something that a person may lay there, and nothing lies there.
    #[error("nothing that can be measured lies on its place")]
    NotLaid,
    /// A grey scale with another number of fields than was stated.
    #[error(
        "{found} fields are seen and {given} were stated: state one reflectance for each field that is in the picture, the lightest first"
    )]
    OtherFields {
        /// Fields that are seen.
        found: usize,
        /// Reflectances given.
        given: usize,
    },
    /// Cut off at white or black.
    #[error("{percent:.0} % of its samples are clipped")]
    Clipped {
        /// Share, per cent.
        percent: f64,
    },
    /// Too few pixels.
    #[error("it is {found} pixels wide, at least {least} are needed")]
    TooSmall {
        /// Pixels across.
        found: usize,
        /// Least.
        least: usize,
    },
    /// It needs something that was not given.
    #[error("it needs {0}, which was not given")]
    Needs(&'static str),
    /// The picture is a negative.
    #[error("the picture is a negative: its tones are the film's, not the subject's")]
    Negative,
    /// The picture has no colour.
    #[error("the picture is grey")]
    Grey,
    /// Too few places were found.
    #[error("only {found} places show it, at least {least} are needed")]
    TooFew {
        /// Found.
        found: usize,
        /// Least number.
        least: usize,
    },
    /// No usable edge.
    #[error("{0}")]
    Edge(EdgeError),
    /// No usable ruler.
    #[error("{0}")]
    Ruler(ScaleError),
    /// No usable trap or white.
    #[error("{0}")]
    Contrast(ContrastError),
    /// No bars on a ramp.
    #[error("{0}")]
    Strip(StripError),
    /// No peak on a ramp.
    #[error("{0}")]
    Ramp(RampError),
    /// Edges that do not tell the fringing.
    #[error("{0}")]
    Fringing(FringingError),
    /// Blank places that do not tell the fall-off.
    #[error("{0}")]
    Evenness(EvennessError),
    /// A patch that tells no grain.
    #[error("{0}")]
    Grain(GrainError),
    /// Ramps that do not tell the alignment.
    #[error("{0}")]
    Alignment(AlignmentError),
    /// Squares that do not tell a curvature.
    #[error("{0}")]
    Curvature(measure::CurvatureError),
    /// A tilt that does not follow.
    #[error("{0}")]
    Tilt(measure::TiltError),
    /// Softness that cannot be shared out.
    #[error("{0}")]
    Softness(measure::SoftnessError),
    /// A sheet whose squares do not fit together.
    #[error("{0}")]
    Geometry(GeometryError),
}

/// Something that was looked for and not taken.
#[derive(Debug, Clone, PartialEq)]
pub struct LeftOut {
    /// On which sheet.
    pub part: Part,
    /// What.
    pub what: Item,
    /// Where it lies in the picture or would, pixels, as far as that is known.
    pub place_px: Option<(f64, f64)>,
    /// Why.
    pub why: Why,
}
