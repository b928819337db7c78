//! A measured edge as it is kept in the notebook and printed by `measure edge --json`: one shape for both.

use std::collections::BTreeMap;

use measure::{Channel, EdgeReport};
use serde::{Deserialize, Serialize};

/// A measured edge.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EdgeResult {
    /// Edge against the nearer pixel axis, degrees.
    pub angle_deg: f64,
    /// "near-vertical" or "near-horizontal".
    #[serde(default)]
    pub direction: String,
    /// By name: red, green, blue, luminance; a grey picture has luminance alone.
    pub channels: BTreeMap<String, ChannelResult>,
    /// Where the edge lies against green.
    pub displacement_px: DisplacementResult,
    /// Michelson contrast of the two sides in linear light, 0 to 1.
    pub contrast: f64,
    /// Share of samples at the ends of the range, 0 to 1.
    pub clipped_fraction: f64,
    /// How the numbers were turned into light: "icc", "srgb", "linear", "gamma=2.2".
    pub transfer: String,
    /// Reservations, one sentence each.
    pub warnings: Vec<String>,
    /// Where the edge runs, as points in the picture's pixels.
    #[serde(default)]
    pub trace_px: Vec<[f64; 2]>,
    /// The picture's pitch when it was measured, µm; absent when it was not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pitch_um: Option<f64>,
    /// The picture's magnification when it was measured; absent when it was not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub magnification: Option<f64>,
}

/// One channel of a measured edge. Frequencies count along the edge's normal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChannelResult {
    /// Where the response falls to one half, cycles per pixel; null when it does not, or noise hides it.
    pub mtf50_cy_px: Option<f64>,
    /// Half-width of its 95 % interval.
    pub mtf50_plus_minus: Option<f64>,
    /// Where the response falls to one tenth, cycles per pixel.
    pub mtf10_cy_px: Option<f64>,
    /// The length of the rise from 10 % to 90 %, pixels.
    pub rise_10_90_px: f64,
    /// The response: cycles per pixel, modulus.
    pub sfr: Vec<[f64; 2]>,
    /// Half-width of the 95 % interval at each point of `sfr`.
    #[serde(default)]
    pub sfr_plus_minus: Vec<f64>,
    /// [`Self::mtf50_cy_px`] on the film, line pairs per mm; absent without a pitch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mtf50_cy_mm: Option<f64>,
    /// [`Self::mtf50_cy_px`] on the subject, line pairs per mm; absent without pitch and magnification.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mtf50_subject_cy_mm: Option<f64>,
}

/// Where the edge lies in red and blue minus where it lies in green, pixels, positive toward the brighter side.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct DisplacementResult {
    /// Red minus green.
    pub red: Option<f64>,
    /// Half-width of the 95 % interval.
    #[serde(default)]
    pub red_plus_minus: Option<f64>,
    /// Blue minus green.
    pub blue: Option<f64>,
    /// Half-width of the 95 % interval.
    #[serde(default)]
    pub blue_plus_minus: Option<f64>,
}

/// What is known of a picture's scale.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PictureScale {
    /// Distance on the film from pixel to pixel, µm.
    pub pitch_um: Option<f64>,
    /// Size on the film over size of the subject.
    pub magnification: Option<f64>,
}

impl PictureScale {
    /// A frequency in cycles per pixel as line pairs per mm on the film.
    pub fn on_film(self, cy_px: f64) -> Option<f64> {
        self.pitch_um.map(|pitch| cy_px * 1000.0 / pitch)
    }

    /// A frequency in cycles per pixel as line pairs per mm on the subject.
    pub fn on_subject(self, cy_px: f64) -> Option<f64> {
        Some(self.on_film(cy_px)? * self.magnification?)
    }

    /// Pixels that one millimetre of the subject covers.
    pub fn px_per_subject_mm(self) -> Option<f64> {
        self.on_subject(1.0)
    }
}

impl EdgeResult {
    /// The report of an edge in a region whose upper left corner lies at `corner`, with how light was got and what is
    /// known of the scale. `remarks` come from reading the file.
    pub fn new(report: &EdgeReport, corner: (u32, u32), transfer: &str, scale: PictureScale, remarks: &[String]) -> Self {
        let warnings = remarks.iter().cloned().chain(report.remarks.iter().map(ToString::to_string));
        let moved = |&(x, y): &(f64, f64)| [x + f64::from(corner.0), y + f64::from(corner.1)];
        let direction = match report.direction {
            measure::Direction::NearVertical => "near-vertical",
            measure::Direction::NearHorizontal => "near-horizontal",
        };
        let d = report.displacement_px;
        Self {
            angle_deg: report.angle_deg,
            direction: direction.into(),
            channels: report.channels.iter().map(|(c, r)| (c.name().to_owned(), ChannelResult::new(r, scale))).collect(),
            displacement_px: DisplacementResult {
                red: d.red,
                red_plus_minus: d.red_plus_minus,
                blue: d.blue,
                blue_plus_minus: d.blue_plus_minus,
            },
            contrast: report.contrast,
            clipped_fraction: report.clipped_fraction,
            transfer: transfer.into(),
            warnings: warnings.collect(),
            trace_px: report.trace.iter().map(moved).collect(),
            pitch_um: scale.pitch_um,
            magnification: scale.magnification,
        }
    }

    /// Luminance, or green where luminance was left out.
    pub fn main_channel(&self) -> Option<&ChannelResult> {
        [Channel::Luminance, Channel::Green].iter().find_map(|c| self.channels.get(c.name()))
    }
}

impl ChannelResult {
    fn new(report: &measure::ChannelReport, scale: PictureScale) -> Self {
        Self {
            mtf50_cy_px: report.mtf50_cy_px,
            mtf50_plus_minus: report.mtf50_plus_minus,
            mtf10_cy_px: report.mtf10_cy_px,
            rise_10_90_px: report.rise_10_90_px,
            sfr: report.sfr.iter().map(|p| [p.frequency_cy_px, p.response]).collect(),
            sfr_plus_minus: report.sfr.iter().map(|p| p.plus_minus).collect(),
            mtf50_cy_mm: report.mtf50_cy_px.and_then(|f| scale.on_film(f)),
            mtf50_subject_cy_mm: report.mtf50_cy_px.and_then(|f| scale.on_subject(f)),
        }
    }
}
