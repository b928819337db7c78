//! Why point pairs give no mapping, and why a mapping gives no tilt.

/// Why no mapping was found. Every variant carries what was found and the limit, and says what to do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GeometryError {
    /// Fewer pairs than unknowns.
    #[error("{found} pairs of points were given, at least {least} are needed: find more of the card's marks")]
    TooFewPoints {
        /// Pairs given.
        found: usize,
        /// Least number.
        least: usize,
    },
    /// A coordinate that is no number.
    #[error("pair number {number} holds a coordinate that is not a finite number")]
    NotFinite {
        /// Which pair, from 1 on.
        number: usize,
    },
    /// An option that is no usable length.
    #[error("{what} is {value}: give a finite number above 0")]
    BadOption {
        /// Which option.
        what: &'static str,
        /// What was given.
        value: f64,
    },
    /// All points lie along one line.
    #[error(
        "the points lie along one line {place}: across it they spread over {ratio:.4} of what they do along it, at \
         least {least} is needed; use marks from all over the card"
    )]
    Collinear {
        /// "on the card" or "in the picture".
        place: &'static str,
        /// Spread across over spread along.
        ratio: f64,
        /// Least ratio.
        least: f64,
    },
    /// Points that leave the mapping open though they do not all lie along one line, as three of four on one line.
    #[error(
        "the {points} points do not determine the mapping: too many of them lie on one line or in one place; use marks from all \
         four corners of the card"
    )]
    Undetermined {
        /// Points that took part.
        points: usize,
    },
    /// No mapping agrees with most of the points.
    #[error(
        "only {agreeing} of {points} points agree with one flat card seen from one place, at least {least} are needed: the marks were \
         mistaken for each other, or the card is not flat"
    )]
    NoAgreement {
        /// Points that agree.
        agreeing: usize,
        /// Points given.
        points: usize,
        /// Least number.
        least: usize,
    },
    /// The mapping would put a point behind the lens.
    #[error(
        "the points would have part of the card behind the lens: some marks were mistaken for each other (is the \
         card's order of corners right?)"
    )]
    Folded,
}

/// Why no tilt was found.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TiltError {
    /// The distance to the entrance pupil is no usable length.
    #[error(
        "the distance from the entrance pupil to the subject is {value} mm ± {plus_minus} mm: give a length above 0 that is \
         surer than itself"
    )]
    BadDistance {
        /// What was given, millimetres.
        value: f64,
        /// Its half-width, millimetres.
        plus_minus: f64,
    },
    /// The centre of the frame does not show the card's plane.
    #[error("the middle of the frame does not lie on the card's plane as mapped: measure the card anew")]
    OffPlane,
    /// Convergence that no tilt makes at this distance.
    #[error(
        "the card's lines converge by {convergence:.4} per millimetre, which at {distance_mm:.1} mm no tilt can do (the most is \
         {most:.4}): the distance from the entrance pupil is wrong, or the card is not flat"
    )]
    TooSteep {
        /// Found convergence, 1/mm.
        convergence: f64,
        /// Distance from the entrance pupil, mm.
        distance_mm: f64,
        /// Most that a tilt makes, 1/mm.
        most: f64,
    },
}
