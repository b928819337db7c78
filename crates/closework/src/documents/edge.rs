//! `measure edge --json`

use measure::{Channel, ChannelReport, EdgeReport};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What is known of a picture's size on film and subject, for figures beyond pixels.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sizes {
    /// Size of a pixel on film, µm.
    pub pitch_um: Option<f64>,
    /// Size on film over size of the subject.
    pub magnification: Option<f64>,
}

impl Sizes {
    /// Cycles per pixel as cycles per mm on film.
    pub fn on_film(self, cy_px: f64) -> Option<f64> {
        Some(cy_px * 1000.0 / self.pitch_um?)
    }

    /// Cycles per pixel as cycles per mm on the subject.
    pub fn on_subject(self, cy_px: f64) -> Option<f64> {
        Some(self.on_film(cy_px)? * self.magnification?)
    }
}

/// A measured edge.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EdgeDocument {
    /// Edge against the nearer pixel axis, degrees.
    pub angle_deg: f64,
    /// By name: "red", "green", "blue", "luminance"; a grey picture has luminance alone.
    pub channels: BTreeMap<String, ChannelDocument>,
    /// Where the edge lies in red and blue against green, pixels, positive toward the brighter side.
    #[serde(skip_serializing_if = "BTreeMap::is_empty", default)]
    pub displacement_px: BTreeMap<String, f64>,
    /// Half-widths of the 95 % intervals of the displacements, pixels.
    #[serde(skip_serializing_if = "BTreeMap::is_empty", default)]
    pub displacement_plus_minus_px: BTreeMap<String, f64>,
    /// Michelson contrast of the two sides.
    pub contrast: f64,
    /// Share of samples at the ends of the range.
    pub clipped_fraction: f64,
    /// How numbers became light.
    pub transfer: String,
    /// Reservations, as sentences.
    pub warnings: Vec<String>,
}

/// One channel of a measured edge.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChannelDocument {
    /// Where the response falls to half.
    pub mtf50_cy_px: Option<f64>,
    /// Half-width of its 95 % interval.
    pub mtf50_plus_minus: Option<f64>,
    /// Where the response falls to a tenth.
    pub mtf10_cy_px: Option<f64>,
    /// From 10 % to 90 % of the step.
    pub rise_10_90_px: f64,
    /// On film, when the pitch is known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub mtf50_cy_mm: Option<f64>,
    /// On the subject, when pitch and magnification are known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub mtf50_subject_cy_mm: Option<f64>,
    /// Frequency along the edge's normal (cycles per pixel), response.
    pub sfr: Vec<[f64; 2]>,
    /// Half-width of the 95 % interval of each response.
    #[serde(default)]
    pub sfr_plus_minus: Vec<f64>,
}

impl ChannelDocument {
    fn of(report: &ChannelReport, sizes: Sizes) -> Self {
        Self {
            mtf50_cy_px: report.mtf50_cy_px,
            mtf50_plus_minus: report.mtf50_plus_minus,
            mtf10_cy_px: report.mtf10_cy_px,
            rise_10_90_px: report.rise_10_90_px,
            mtf50_cy_mm: report.mtf50_cy_px.and_then(|f| sizes.on_film(f)),
            mtf50_subject_cy_mm: report.mtf50_cy_px.and_then(|f| sizes.on_subject(f)),
            sfr: report.sfr.iter().map(|point| [point.frequency_cy_px, point.response]).collect(),
            sfr_plus_minus: report.sfr.iter().map(|point| point.plus_minus).collect(),
        }
    }

    /// The response and the half-width of its 95 % interval at a frequency (cycles per pixel), by straight lines between
    /// the curve's points; `None` beyond the curve.
    pub fn response_at(&self, cy_px: f64) -> Option<(f64, f64)> {
        let above = self.sfr.iter().position(|[frequency, _]| *frequency >= cy_px)?;
        let half = |index: usize| self.sfr_plus_minus.get(index).copied().unwrap_or(0.0);
        let [f1, r1] = self.sfr[above];
        let Some(below) = above.checked_sub(1) else { return Some((r1, half(above))) };
        let [f0, r0] = self.sfr[below];
        let share = (cy_px - f0) / (f1 - f0);
        Some((r0 + share * (r1 - r0), half(below) + share * (half(above) - half(below))))
    }
}

impl EdgeDocument {
    /// The document of a report; `transfer` says how numbers became light, `about_file` what the file itself gave reason to
    /// say.
    pub fn of(report: &EdgeReport, sizes: Sizes, transfer: String, about_file: Vec<String>) -> Self {
        let channels = report.channels.iter();
        let channels = channels.map(|(name, channel)| (name.name().to_string(), ChannelDocument::of(channel, sizes)));
        let both = |red: Option<f64>, blue: Option<f64>| {
            let named = [(Channel::Red, red), (Channel::Blue, blue)];
            named.into_iter().filter_map(|(name, value)| Some((name.name().to_string(), value?))).collect()
        };
        let shift = &report.displacement_px;
        Self {
            angle_deg: report.angle_deg,
            channels: channels.collect(),
            displacement_px: both(shift.red, shift.blue),
            displacement_plus_minus_px: both(shift.red_plus_minus, shift.blue_plus_minus),
            contrast: report.contrast,
            clipped_fraction: report.clipped_fraction,
            transfer,
            warnings: about_file.into_iter().chain(report.remarks.iter().map(ToString::to_string)).collect(),
        }
    }
}
