//! A measured edge: printed by `measure edge --json` and kept in the notebook.

use measure::{Channel, ChannelReport, Direction, EdgeReport};
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

    /// Pixels that one millimetre of the subject takes.
    pub fn px_per_subject_mm(self) -> Option<f64> {
        self.on_subject(1.0)
    }
}

/// A measured edge.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EdgeDocument {
    /// Edge against the nearer pixel axis, degrees.
    pub angle_deg: f64,
    /// The axis that the edge runs along: "near-vertical" or "near-horizontal".
    #[serde(skip_serializing_if = "String::is_empty", default)]
    pub direction: String,
    /// By name: "red", "green", "blue", "luminance"; a grey picture has luminance alone.
    pub channels: BTreeMap<String, ChannelDocument>,
    /// Where the edge lies in red and blue against green, pixels, positive toward the brighter side.
    #[serde(default)]
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
    /// Where the edge runs, as points of the whole picture, pixels from its outer top left corner.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub trace_px: Vec<[f64; 2]>,
    /// Size of a pixel on film when it was measured, µm.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pitch_um: Option<f64>,
    /// Magnification when it was measured.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub magnification: Option<f64>,
}

/// What a report alone does not know.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Circumstances {
    /// Where the measured region's top left corner lies in the picture, pixels.
    pub corner: (u32, u32),
    /// Pitch and magnification.
    pub sizes: Sizes,
    /// How numbers became light, as [`EdgeDocument::transfer`] says it.
    pub transfer: String,
    /// What the file itself gave reason to say.
    pub about_file: Vec<String>,
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
        let half = |index: usize| self.sfr_plus_minus.get(index).copied().unwrap_or(0.0);
        on_curve(self.sfr.len(), |index| [self.sfr[index][0], self.sfr[index][1], half(index)], cy_px)
    }
}

/// Response and half-width at a frequency, by straight lines between a curve's points (frequency, response, half-width);
/// `None` beyond it.
pub fn on_curve(points: usize, point: impl Fn(usize) -> [f64; 3], frequency: f64) -> Option<(f64, f64)> {
    let above = (0..points).find(|index| point(*index)[0] >= frequency)?;
    let [f1, r1, u1] = point(above);
    let Some(below) = above.checked_sub(1) else { return Some((r1, u1)) };
    let [f0, r0, u0] = point(below);
    let share = (frequency - f0) / (f1 - f0);
    Some((r0 + share * (r1 - r0), u0 + share * (u1 - u0)))
}

impl EdgeDocument {
    /// The document of a report.
    pub fn of(report: &EdgeReport, around: Circumstances) -> Self {
        let Circumstances { corner, sizes, transfer, about_file } = around;
        let channels = report.channels.iter();
        let channels = channels.map(|(name, channel)| (name.name().to_string(), ChannelDocument::of(channel, sizes)));
        let shift = &report.displacement_px;
        let in_picture = |&(x, y): &(f64, f64)| [x + f64::from(corner.0), y + f64::from(corner.1)];
        Self {
            angle_deg: report.angle_deg,
            direction: direction(report.direction).into(),
            channels: channels.collect(),
            displacement_px: named(shift.red, shift.blue),
            displacement_plus_minus_px: named(shift.red_plus_minus, shift.blue_plus_minus),
            contrast: report.contrast,
            clipped_fraction: report.clipped_fraction,
            transfer,
            warnings: about_file.into_iter().chain(report.remarks.iter().map(ToString::to_string)).collect(),
            trace_px: report.trace.iter().map(in_picture).collect(),
            pitch_um: sizes.pitch_um,
            magnification: sizes.magnification,
        }
    }

    /// Luminance, or green where luminance was left out.
    pub fn main_channel(&self) -> Option<&ChannelDocument> {
        [Channel::Luminance, Channel::Green].iter().find_map(|channel| self.channels.get(channel.name()))
    }
}

/// "near-vertical" or "near-horizontal".
pub fn direction(direction: Direction) -> &'static str {
    match direction {
        Direction::NearVertical => "near-vertical",
        Direction::NearHorizontal => "near-horizontal",
    }
}

fn named(red: Option<f64>, blue: Option<f64>) -> BTreeMap<String, f64> {
    let both = [(Channel::Red, red), (Channel::Blue, blue)];
    both.into_iter().filter_map(|(channel, value)| Some((channel.name().to_string(), value?))).collect()
}
