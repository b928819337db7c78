//! What a measured edge says.

use super::curve;

/// A plane of the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Channel {
    /// Red.
    Red,
    /// Green.
    Green,
    /// Blue.
    Blue,
    /// Luminance: the weighted sum of the colours in linear light, or a grey picture itself.
    Luminance,
}

impl Channel {
    /// Its name in lower case, as in JSON.
    pub fn name(self) -> &'static str {
        match self {
            Self::Red => "red",
            Self::Green => "green",
            Self::Blue => "blue",
            Self::Luminance => "luminance",
        }
    }
}

impl std::fmt::Display for Channel {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

/// Which pixel axis the edge runs along.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Within 45 degrees of the columns; it resolves detail across the picture.
    NearVertical,
    /// Within 45 degrees of the rows; it resolves detail up and down the picture.
    NearHorizontal,
}

/// How an edge is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeOptions {
    /// Resamples of the rows from which the interval of MTF50 is taken. 400 make its width sure to about 4 %.
    pub resamples: usize,
    /// Start of the repeatable chance that the resamples use: the same picture always gives the same figures.
    pub seed: u64,
    /// Samples at or below this linear value count as clipped at black.
    pub black: f64,
    /// Samples at or above this linear value count as clipped at white.
    pub white: f64,
}

impl Default for EdgeOptions {
    /// Half a step of 16 bits inside either end: a sample that a file holds as its smallest or largest value.
    fn default() -> Self {
        Self { resamples: 400, seed: 12_233, black: 0.5 / 65_535.0, white: 1.0 - 0.5 / 65_535.0 }
    }
}

/// One measured edge.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeReport {
    /// Angle between the edge and the nearer pixel axis, degrees, 0 to 45.
    pub angle_deg: f64,
    /// Half-width of the 95 % interval of the angle, degrees.
    pub angle_plus_minus_deg: f64,
    /// The axis that the edge runs along.
    pub direction: Direction,
    /// Red, green, blue and luminance, or luminance alone for a grey picture. A colour that shows too little of the
    /// edge is left out and named in the remarks.
    pub channels: Vec<(Channel, ChannelReport)>,
    /// Where the edge lies in red and blue against green.
    pub displacement_px: Displacement,
    /// Michelson contrast of the two plateaus in linear light, (high - low) / (high + low).
    pub contrast: f64,
    /// Share of all samples (of every channel) at the ends of the range, 0 to 1.
    pub clipped_fraction: f64,
    /// Degree of the polynomial that describes the edge: 1 straight, up to 5 curved.
    pub edge_degree: usize,
    /// Largest departure of the edge from a straight line, pixels; 0 when it was taken as straight.
    pub bend_px: f64,
    /// Rows (columns for a near-horizontal edge) that took part.
    pub rows: usize,
    /// Where the edge runs in the region, as points (x, y) from one end to the other, for drawing.
    pub trace: Vec<(f64, f64)>,
    /// Reservations.
    pub remarks: Vec<EdgeRemark>,
}

impl EdgeReport {
    /// The report of one channel.
    pub fn channel(&self, channel: Channel) -> Option<&ChannelReport> {
        self.channels.iter().find(|(c, _)| *c == channel).map(|(_, report)| report)
    }
}

/// Where the edge lies in red and blue minus where it lies in green, pixels along the edge's normal, positive
/// toward the brighter side. The place of an edge is where its profile passes half-way between the plateaus.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Displacement {
    /// Red minus green.
    pub red: Option<f64>,
    /// Half-width of the 95 % interval of `red`.
    pub red_plus_minus: Option<f64>,
    /// Blue minus green.
    pub blue: Option<f64>,
    /// Half-width of the 95 % interval of `blue`.
    pub blue_plus_minus: Option<f64>,
}

/// One channel's figures. Frequencies count cycles per pixel along the edge's normal.
#[derive(Debug, Clone, PartialEq)]
pub struct ChannelReport {
    /// Lowest frequency at which the response falls to 50 %; `None` when it does not within the curve or when noise hides it.
    pub mtf50_cy_px: Option<f64>,
    /// Half-width of its 95 % interval.
    pub mtf50_plus_minus: Option<f64>,
    /// Lowest frequency at which the response falls to 10 %; `None` ("not measured") when noise hides it.
    pub mtf10_cy_px: Option<f64>,
    /// Half-width of its 95 % interval.
    pub mtf10_plus_minus: Option<f64>,
    /// Distance along the normal over which the profile rises from 10 % to 90 % of its step, pixels.
    pub rise_10_90_px: f64,
    /// Half-width of its 95 % interval.
    pub rise_10_90_plus_minus_px: f64,
    /// The response from frequency 0 on, in steps of [`FREQUENCY_STEP_CY_PX`].
    pub sfr: Vec<SfrPoint>,
    /// Up to this frequency, cycles per pixel, every point of the curve stands above its own noise
    /// ([`SfrPoint::above_noise`]); what lies beyond is not told from noise.
    pub above_noise_to_cy_px: f64,
    /// Linear light of the darker plateau, 0 to 1.
    pub low: f64,
    /// Linear light of the brighter plateau, 0 to 1.
    pub high: f64,
    /// Standard deviation of single samples about the profile, linear light.
    pub noise: f64,
    /// The profile across the edge, from dark to bright, for drawing; distances from where it passes half-way.
    pub profile: Vec<ProfilePoint>,
}

/// Step between the frequencies of a curve, cycles per pixel.
pub const FREQUENCY_STEP_CY_PX: f64 = 0.0125;

/// One point of a response curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SfrPoint {
    /// Cycles per pixel along the edge's normal.
    pub frequency_cy_px: f64,
    /// Modulus of the response, 1 at frequency 0.
    pub response: f64,
    /// Half-width of its 95 % interval.
    pub plus_minus: f64,
    /// The noise floor: what noise (and rounding) alone would show here in a plain modulus, root mean square, on the scale
    /// of the response. Its power is already taken off `response`.
    pub noise: f64,
}

impl SfrPoint {
    /// How much a plain modulus, without the noise's power taken off, would read too high here: sqrt(r^2 + n^2) - r.
    /// This is the bias that noise puts on curves of the textbook's method at high frequencies.
    pub fn lift(&self) -> f64 {
        self.response.hypot(self.noise) - self.response
    }

    /// True when the response stands above what noise alone would pass in one case of twenty.
    pub fn above_noise(&self) -> bool {
        self.response > NOISE_95 * self.noise
    }
}

/// The 95 % point of the modulus of complex noise is 1.73 times its root mean square (Rayleigh distribution: the root of
/// -ln 0.05).
pub(crate) const NOISE_95: f64 = 1.730_8;

/// One point of an edge profile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProfilePoint {
    /// Distance from the edge along its normal, pixels, positive on the brighter side.
    pub distance_px: f64,
    /// Linear light.
    pub level: f64,
}

/// The response and the half-width of its 95 % interval at any frequency of the curve (cycles per pixel); `None` outside
/// the curve.
///
/// The response runs along cubics through the curve's points (Catmull-Rom): straight lines would cut the round
/// shoulder of a soft edge by up to 0.01. The curve is even about frequency 0. The interval runs along straight lines.
pub fn response_at(channel: &ChannelReport, cy_px: f64) -> Option<(f64, f64)> {
    curve::at(&channel.sfr, cy_px).map(|r| (r.value, r.plus_minus))
}

/// A reservation about a measured edge.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum EdgeRemark {
    /// Some samples are clipped, though not within the transition.
    Clipped {
        /// Share of all samples, 0 to 1.
        fraction: f64,
    },
    /// A colour shows too little of the edge and was left out.
    ChannelLeftOut {
        /// The colour.
        channel: Channel,
        /// Why.
        why: String,
    },
    /// The edge is curved; a polynomial was used.
    Curved {
        /// Largest departure from a straight line, pixels.
        bend_px: f64,
        /// Degree used.
        degree: usize,
    },
    /// The angle repeats the same few pixel phases: high frequencies are not separable.
    FewPhases {
        /// Columns per whole number of rows, as "1:1".
        slope: String,
        /// Highest frequency that the phases can carry, cycles per pixel.
        limit_cy_px: f64,
    },
    /// The plateaus are not even: light falls off or the edge's tails reach the region's sides.
    Uneven {
        /// Change over the plateau, per cent of the step.
        percent: f64,
        /// "bright" or "dark".
        side: &'static str,
    },
    /// Something else besides the edge, as dust, a scratch or a mark.
    Disturbed {
        /// Largest departure of a small patch from the profile, per cent of the step.
        percent: f64,
    },
    /// The profile overshoots its plateaus: the picture was sharpened.
    Sharpened {
        /// Overshoot in per cent of the step.
        percent: f64,
    },
    /// The pixels are too coarse for the edge: detail beyond half a cycle per pixel comes back as false detail.
    Undersampled {
        /// Response at half a cycle per pixel.
        response: f64,
    },
    /// Noise makes the figure unsure.
    Noisy {
        /// The channel.
        channel: Channel,
        /// Half-width of the 95 % interval of MTF50, per cent of it.
        percent: f64,
    },
    /// The region leaves little even ground beside the edge.
    Narrow {
        /// Pixels beside the transition on the narrower side.
        room_px: f64,
    },
}

/// A percentage above 0 to a tenth, never as "0.0 %", which would read as none at all.
fn share_in_words(percent: f64) -> String {
    if percent < 0.05 { "under 0.1 %".into() } else { format!("{percent:.1} %") }
}

impl std::fmt::Display for EdgeRemark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Clipped { fraction } => {
                f.write_str(&share_in_words(100.0 * fraction))?;
                f.write_str(" of the samples are clipped at black or white, outside the edge itself; the plateaus may hide flare")
            }
            Self::ChannelLeftOut { channel, why } => write!(f, "{channel} is left out: {why}"),
            Self::Curved { bend_px, degree } => {
                write!(f, "the edge is curved by {bend_px:.2} pixels; a polynomial of degree {degree} was followed")
            }
            Self::FewPhases { slope, limit_cy_px } => write!(
                f,
                "the edge leans very nearly {slope}, so that the same pixel phases repeat; figures above about \
                 {limit_cy_px:.2} cycles per pixel are not separable; turn the target by a few degrees"
            ),
            Self::Uneven { percent, side } => write!(
                f,
                "the {side} side is not even: it changes by {percent:.1} % of the step towards the region's side; low \
                 frequencies carry that as flare; use a narrower region if it is uneven light"
            ),
            Self::Disturbed { percent } => write!(
                f,
                "something besides the edge lies in the region (dust, a scratch, a mark): {percent:.0} % of the step"
            ),
            Self::Sharpened { percent } => write!(
                f,
                "the profile overshoots its plateaus by {percent:.0} % of the step: the picture was sharpened, and its \
                 figure says little about the lens"
            ),
            Self::Undersampled { response } => write!(
                f,
                "the response is still {response:.2} at half a cycle per pixel: the pixels are too coarse for this edge"
            ),
            Self::Noisy { channel, percent } => {
                write!(f, "noise leaves MTF50 of {channel} unsure by {percent:.0} %; use a longer edge or several")
            }
            Self::Narrow { room_px } => write!(
                f,
                "only {room_px:.1} pixels of even ground lie beside the edge; a wider region would show its plateaus better"
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_few_clipped_samples_are_never_none() {
        let words = |fraction| EdgeRemark::Clipped { fraction }.to_string();
        assert!(words(1e-5).starts_with("under 0.1 % of the samples"), "{}", words(1e-5));
        assert!(words(4.99e-4).starts_with("under 0.1 %"), "{}", words(4.99e-4));
        assert!(words(5.01e-4).starts_with("0.1 % of"), "{}", words(5.01e-4));
        assert!(words(0.034).starts_with("3.4 % of"), "{}", words(0.034));
    }
}
