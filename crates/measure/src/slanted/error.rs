//! Why a region gives no figure.

use super::report::Channel;

/// Why no edge was measured. Every variant carries what was found and the limit, and says what to do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum EdgeError {
    /// Too few pixels for any figure.
    #[error(
        "the region is {width} x {height} pixels; an edge needs at least {least} x {least}: draw a larger region around it"
    )]
    RegionTooSmall {
        /// Columns.
        width: usize,
        /// Rows.
        height: usize,
        /// Least of either.
        least: usize,
    },
    /// Samples that are no numbers.
    #[error("{count} samples of the region are not finite numbers: the file or its tone curve is broken")]
    NotFinite {
        /// How many.
        count: usize,
    },
    /// Nothing in the region looks like one straight edge.
    #[error(
        "no edge found in the region: its strongest line stands out {prominence:.1} times from the rest where \
         {least:.1} is needed; draw the region so that one straight edge crosses it from one side to the other"
    )]
    NoEdge {
        /// How far the strongest straight line stands out from the average direction.
        prominence: f64,
        /// Least that is taken for an edge.
        least: f64,
    },
    /// The difference between the two sides is too small against the noise, or at all.
    #[error(
        "the contrast is too low: the two sides differ by {step:.4} of full scale, {ratio:.1} times the noise, where at \
         least {least_step} and {least_ratio} times are needed; use a target with more contrast or a larger region"
    )]
    LowContrast {
        /// Difference of the plateaus in linear light, 0 to 1.
        step: f64,
        /// That difference over the noise of one pixel.
        ratio: f64,
        /// Least difference.
        least_step: f64,
        /// Least ratio.
        least_ratio: f64,
    },
    /// More than the one edge.
    #[error(
        "there is more than one edge in the region: besides the strongest, the picture changes by {percent:.0} % of \
         its step ({place}); draw the region around one edge alone, with even ground on both sides"
    )]
    TwoEdges {
        /// The second change, in per cent of the main edge's step.
        percent: f64,
        /// Where it was seen.
        place: &'static str,
    },
    /// The edge stops or turns inside the region.
    #[error(
        "the edge does not run through the whole region: along {percent:.0} % of its length it is missing or reversed \
         (a corner or a crossing?); draw the region so that one straight edge crosses it from one side to the other"
    )]
    EdgeEnds {
        /// Share of the length without the edge, per cent.
        percent: f64,
    },
    /// The edge runs along the pixels.
    #[error(
        "the edge is upright: it leans {angle_deg:.2} degrees from the pixel rows or columns, and below {least_deg} degrees \
         its samples all fall alike; turn the target (or the film in the scanner) by about 5 degrees"
    )]
    Upright {
        /// Angle against the nearer pixel axis.
        angle_deg: f64,
        /// Least angle measured.
        least_deg: f64,
    },
    /// Too few rows, or too few of the pixel's phases, along the edge.
    #[error(
        "the edge is too short: {rows} rows that it crosses pass the pixels {cycles:.1} times, where at least {least_rows} \
         rows and {least_cycles} times are needed; draw a longer region or turn the target by about 5 degrees"
    )]
    TooShort {
        /// Rows (or columns) along which the edge lies in the region.
        rows: usize,
        /// How many whole pixels it moves sideways over them.
        cycles: f64,
        /// Least rows.
        least_rows: usize,
        /// Least whole pixels.
        least_cycles: f64,
    },
    /// The two sides never become even within the region.
    #[error(
        "the edge is too blurred for the region: it needs about {needed_px:.0} pixels on either side to become even and has \
         {room_px:.0}; draw a region that reaches further to both sides"
    )]
    TooBlurred {
        /// Pixels needed on either side, along the normal.
        needed_px: f64,
        /// Pixels there are on the narrower side.
        room_px: f64,
    },
    /// Values cut off at black or white within the transition itself.
    #[error(
        "the {channel} channel is clipped at {end} within the edge itself, where it still rises at {percent:.0} % of its \
         steepest: the figure would be false; expose or scan so that both sides stay inside the range"
    )]
    Clipped {
        /// The channel.
        channel: Channel,
        /// "white" or "black".
        end: &'static str,
        /// Steepness where the clipping sets in, per cent of the steepest.
        percent: f64,
    },
    /// The profile could not be computed.
    #[error("the edge's profile is not determined by the samples: draw a larger region")]
    Undetermined,
}
