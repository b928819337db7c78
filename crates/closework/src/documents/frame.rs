//! A whole frame: printed by `measure frame --json` and kept in the notebook.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::edge::EdgeDocument;
use crate::whole_frame::Settings;

/// A figure with the half-width of its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// The figure.
    pub value: f64,
    /// Half-width of its 95 % interval.
    pub plus_minus: f64,
}

impl From<measure::Figure> for Measured {
    fn from(figure: measure::Figure) -> Self {
        Self { value: figure.value, plus_minus: figure.plus_minus }
    }
}

impl Measured {
    /// The same in another unit.
    pub fn times(self, factor: f64) -> Self {
        Self { value: self.value * factor, plus_minus: self.plus_minus * factor.abs() }
    }
}

/// A figure, or the bound that is all a clipped patch can give.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Bounded {
    /// The figure or the bound.
    pub value: f64,
    /// Half-width of its 95 % interval; absent for a bound.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub plus_minus: Option<f64>,
    /// "at most", "at least", or empty for a measured figure.
    #[serde(skip_serializing_if = "String::is_empty", default)]
    pub bound: String,
}

impl From<measure::Bounded> for Bounded {
    fn from(bounded: measure::Bounded) -> Self {
        let bound = |value, word: &str| Self { value, plus_minus: None, bound: word.into() };
        match bounded {
            measure::Bounded::Measured(figure) => {
                Self { value: figure.value, plus_minus: Some(figure.plus_minus), bound: String::new() }
            }
            measure::Bounded::AtMost(value) => bound(value, "at most"),
            measure::Bounded::AtLeast(value) => bound(value, "at least"),
        }
    }
}

/// Everything that one frame holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FrameDocument {
    /// The file's name.
    pub file: String,
    /// Columns.
    pub width_px: u32,
    /// Rows.
    pub height_px: u32,
    /// How numbers became light.
    pub transfer: String,
    /// Size of a pixel on film, µm.
    pub pitch_um: Option<f64>,
    /// Where the pitch comes from: "file", "given", or empty.
    pub pitch_from: String,
    /// Size on film over size of the subject.
    pub magnification: Option<Measured>,
    /// Where it comes from: "card", "given", or empty.
    pub magnification_from: String,
    /// The printed card, when it was found.
    pub card: Option<CardDocument>,
    /// Every place with edges, from the middle outwards.
    pub places: Vec<PlaceDocument>,
    /// The places of one zone together.
    pub zones: Vec<ZoneDocument>,
    /// Colour fringing over the frame.
    pub fringing: Option<FringingDocument>,
    /// Contrast and veiling glare by channel.
    pub contrast: BTreeMap<String, ContrastDocument>,
    /// Fall-off of the light over the frame.
    pub evenness: Option<EvennessDocument>,
    /// How it was exposed.
    pub exposure: Option<ExposedDocument>,
    /// Grain of an even patch.
    pub grain: Option<GrainDocument>,
    /// Rulers, as a check of the scale.
    pub rulers: Vec<RulerDocument>,
    /// Focus by the ramps.
    pub ramps: Vec<RampDocument>,
    /// How the sharp surface lies against the card.
    pub alignment: Option<AlignmentDocument>,
    /// What could not be measured, and why.
    pub left_out: Vec<LeftOutDocument>,
    /// Reservations, as sentences.
    pub warnings: Vec<String>,
    /// With what it was measured.
    pub settings: Settings,
    /// Which program in which version measured it.
    pub made_by: String,
}

/// The card and how it lies.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CardDocument {
    /// Which print.
    pub identity: String,
    /// Field that it was made for, mm.
    pub field_mm: [f64; 2],
    /// Its sheets as found.
    pub sheets: Vec<SheetDocument>,
}

/// One sheet of the card.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SheetDocument {
    /// "whole", "centre", "top left" ...
    pub part: String,
    /// Codes that were read, by corner.
    pub codes: Vec<String>,
    /// Turned clockwise in the picture, degrees.
    pub rotation_deg: f64,
    /// The picture shows it mirrored.
    pub mirrored: bool,
    /// Pixels on a millimetre of the subject.
    pub px_per_mm: Measured,
    /// Standard deviation of its marks about the fitted places, pixels.
    pub scatter_px: Option<f64>,
    /// Distortion at the picture's corner, per cent; positive is pincushion.
    pub corner_distortion_percent: Option<Measured>,
    /// Lean of the card about the picture's upright axis, degrees: positive when its right side lies farther from the lens.
    pub lean_about_upright_deg: Option<Measured>,
    /// Lean about the level axis: positive when its lower side lies farther from the lens.
    pub lean_about_level_deg: Option<Measured>,
    /// From its millimetres to the picture; absent in what older versions kept.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub mapping: Option<MappingDocument>,
}

/// Where the card's millimetres (from the sheet's middle, as printed) lie in the picture.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct MappingDocument {
    /// Rows of the homography to pixels without distortion.
    pub homography: [[f64; 3]; 3],
    /// Distortion at `radius_px` from the centre, as a share.
    pub k1: f64,
    /// Centre of the distortion, pixels.
    pub centre_px: [f64; 2],
    /// Where `k1` is the whole distortion, pixels from the centre.
    pub radius_px: f64,
}

impl From<measure::Mapping> for MappingDocument {
    fn from(mapping: measure::Mapping) -> Self {
        let measure::Mapping { homography, k1, centre_px, radius_px } = mapping;
        Self { homography, k1, centre_px: centre_px.into(), radius_px }
    }
}

impl From<MappingDocument> for measure::Mapping {
    fn from(document: MappingDocument) -> Self {
        let MappingDocument { homography, k1, centre_px, radius_px } = document;
        Self { homography, k1, centre_px: centre_px.into(), radius_px }
    }
}

/// One place of the frame and its edges.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlaceDocument {
    /// "centre", "top left", "blade bottom left" ...
    pub name: String,
    /// Its edge is a blade's: no print softens it. It takes no part in its zone, whose edges are printed.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub blade: bool,
    /// "centre", "half-way", "side" or "corner".
    pub zone: String,
    /// Place in the picture, pixels.
    pub at_px: [f64; 2],
    /// Distance from the frame's middle over half its diagonal.
    pub image_height: f64,
    /// By the lines that the edges stand for: "sagittal" (along the radius, sharpness across it), "tangential" (across the
    /// radius), "oblique" between the two, "central" where there is no radius.
    pub sharpness: BTreeMap<String, SharpnessDocument>,
    /// Its edges one by one.
    pub edges: Vec<PlacedEdge>,
    /// Share of its softness that misalignment explains, 0 to 1, where ramps tell.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub explained_by_misalignment: Option<Measured>,
    /// The same if the sharp surface is curved the other way, where that fits as well; the larger of the two stands above.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub explained_otherwise: Option<Measured>,
}

/// Sharpness of several edges together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SharpnessDocument {
    /// How many edges.
    pub edges: usize,
    /// Where half of the contrast is left, cycles per pixel.
    pub mtf50_cy_px: Option<Measured>,
    /// The same on film.
    pub mtf50_lp_mm: Option<Measured>,
    /// The same on the subject.
    pub mtf50_subject_lp_mm: Option<Measured>,
    /// The same in line widths per picture height.
    pub mtf50_lw_ph: Option<Measured>,
    /// Mean contrast up to the print's limit.
    pub mean_contrast_to_limit: Option<Measured>,
    /// With scanner and film divided out, on film; absent where nothing is known of them.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub corrected_mtf50_lp_mm: Option<Measured>,
    /// Frequency (cycles per pixel), response, half-width.
    pub curve: Vec<[f64; 3]>,
    /// Corrected: frequency (cycles per pixel), response, half-width; it ends where the divisor is too small.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub corrected_curve: Vec<[f64; 3]>,
    /// Why the corrected curve ends where it does.
    #[serde(skip_serializing_if = "String::is_empty", default)]
    pub corrected_to: String,
    /// Reservations.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub warnings: Vec<String>,
}

/// An edge and where it was measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlacedEdge {
    /// "sagittal", "tangential", "oblique" or "central".
    pub line: String,
    /// Region: left, top, width, height in pixels.
    pub region_px: [u32; 4],
    /// The edge.
    pub edge: EdgeDocument,
}

/// A zone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ZoneDocument {
    /// "centre", "half-way", "side" or "corner".
    pub zone: String,
    /// How many places.
    pub places: usize,
    /// As in a place.
    pub sharpness: BTreeMap<String, SharpnessDocument>,
}

/// Colour fringing over the frame, micrometres on film.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FringingDocument {
    /// "red" and "blue" against green.
    pub channels: BTreeMap<String, ChannelFringingDocument>,
    /// Width of the coloured zone at the edges, µm on film: middle and largest.
    pub zone_um: Option<[f64; 2]>,
    /// Reservations.
    pub warnings: Vec<String>,
}

/// One colour against green.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChannelFringingDocument {
    /// At the middle, half-way and in the corner: distance on film (mm), radial displacement (positive outward), tangential.
    pub field: Vec<FringeAt>,
    /// The same displacement everywhere (right, down): the scanner's.
    pub shift_um: [Measured; 2],
    /// What the model leaves, µm.
    pub residual_um: f64,
    /// A map of arrows: place on film from the middle (mm) and displacement (µm).
    pub arrows: Vec<[f64; 4]>,
}

/// Fringing at one distance from the middle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FringeAt {
    /// Distance from the middle, mm on film.
    pub radius_mm: f64,
    /// Outward, µm.
    pub radial_um: Measured,
    /// Along the circle, µm.
    pub tangential_um: Measured,
}

/// Contrast of one channel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ContrastDocument {
    /// Light of the trap.
    pub black: Bounded,
    /// Light of the white beside it.
    pub white: Measured,
    /// White over black.
    pub ratio: Bounded,
    /// Veiling glare as a share of white.
    pub glare: Bounded,
}

/// Fall-off.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EvennessDocument {
    /// From the middle to the darkest corner, stops.
    pub falloff_stops: Measured,
    /// Each corner against the middle, stops: upper left, upper right, lower left, lower right.
    pub corners_stops: [Measured; 4],
    /// Left to right and top to bottom across the frame, stops: light that stood to one side.
    pub slope_stops: Option<[Measured; 2]>,
    /// A grid of the fitted surface: rows from the top, stops against its brightest place.
    pub map_stops: Vec<Vec<f64>>,
    /// Largest difference of red or blue against green over the frame, stops.
    pub colour_stops: Option<f64>,
    /// "red" and "blue" against green in each corner, stops, against the middle: upper left, upper right, lower left, lower right.
    #[serde(skip_serializing_if = "BTreeMap::is_empty", default)]
    pub colours_stops: BTreeMap<String, [Measured; 4]>,
    /// Reservations.
    pub warnings: Vec<String>,
}

/// Exposure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ExposedDocument {
    /// Share of clipped samples at black and at white, by channel.
    pub clipped: BTreeMap<String, [f64; 2]>,
    /// By how much the greys lie above where they should, stops.
    pub offset_stops: Option<Measured>,
    /// Slope of the greys, log light over log reflectance: 1 when tone is true.
    pub slope: Option<Measured>,
    /// Grey steps, or the fields of a stuck-on grey scale.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub greys: Vec<GreyDocument>,
    /// Reservations.
    pub warnings: Vec<String>,
}

/// A grey.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GreyDocument {
    /// "step 1" of the print, or "field 1" of a scale that was stuck on, the lightest first.
    pub name: String,
    /// Share of the light that it should send back, 0 to 1; absent when nobody stated it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reflectance: Option<f64>,
    /// Its light in the picture, linear, 0 to 1.
    pub light: Measured,
}

/// Grain of an even patch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GrainDocument {
    /// Standard deviation over mean of the light.
    pub relative: Measured,
    /// Standard deviation of density.
    pub density: Measured,
    /// Standard deviation of density within a circle of 48 µm, times 1000.
    pub granularity: Option<Measured>,
    /// Frequency (cycles per pixel) and power.
    pub spectrum: Vec<[f64; 2]>,
    /// Reservations.
    pub warnings: Vec<String>,
}

/// A ruler.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RulerDocument {
    /// "level" or "upright".
    pub name: String,
    /// Pixels on a millimetre.
    pub px_per_mm: Measured,
    /// The same by the card's squares, at its place.
    pub by_squares_px_per_mm: Option<f64>,
    /// Marks that counted.
    pub ticks: usize,
}

/// A focus ramp.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RampDocument {
    /// "top left" ..., or "rule".
    pub name: String,
    /// Height of the sharpest plane above the card, mm, positive toward the lens.
    pub focus_mm: Measured,
    /// Depth over which contrast stays above half of its best, mm.
    pub depth_mm: Measured,
    /// Detail whose contrast was followed, line pairs per mm on the subject as seen from above.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub at_lp_mm: Option<f64>,
    /// The depth, mm, over which a perfect lens of the stated effective f-number keeps half of this detail's best contrast.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub predicted_mm: Option<f64>,
    /// Height (mm), contrast, half-width.
    pub curve: Vec<[f64; 3]>,
    /// Reservations.
    pub warnings: Vec<String>,
}

/// How the sharp surface lies.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AlignmentDocument {
    /// Height of the sharp surface at the middle, mm above the card.
    pub centre_mm: Measured,
    /// Tilt about the picture's upright axis, degrees.
    pub about_upright_deg: Measured,
    /// Tilt about the level axis, degrees.
    pub about_level_deg: Measured,
    /// Curvature: height of the sharp surface in the corner over that in the middle, mm, tilt apart; positive when corners are sharp nearer
    /// to the lens.
    pub curvature_mm: Option<Measured>,
    /// Height at the corners: upper left, upper right, lower left, lower right.
    pub corners_mm: [Measured; 4],
    /// A surface curved the other way, where it fits as well.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub otherwise: Option<Box<AlignmentDocument>>,
    /// Reservations.
    pub warnings: Vec<String>,
}

/// Something that could not be measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeftOutDocument {
    /// What.
    pub what: String,
    /// Why.
    pub why: String,
}

/// The frames of several files.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FramesDocument {
    /// In the order in which they were named.
    pub frames: Vec<FrameDocument>,
}

impl FrameDocument {
    /// Every sharpness figure as a line of a table: file, place, zone, image height, way, edges, then figures with half-widths.
    pub fn csv_lines(&self) -> String {
        use std::fmt::Write;
        let mut out = String::new();
        let mut line = |place: &str, zone: &str, height: Option<f64>, way: &str, s: &SharpnessDocument| {
            let figure = |m: Option<Measured>| m.map_or(",".into(), |m| format!("{},{}", m.value, m.plus_minus));
            let height = height.map_or(String::new(), |h| h.to_string());
            let _ = writeln!(
                out,
                "{},{place},{zone},{height},{way},{},{},{},{},{},{}",
                quoted(&self.file),
                s.edges,
                figure(s.mtf50_cy_px),
                figure(s.mtf50_lp_mm),
                figure(s.mtf50_subject_lp_mm),
                figure(s.mtf50_lw_ph),
                figure(s.corrected_mtf50_lp_mm),
            );
        };
        for place in &self.places {
            for (way, sharpness) in &place.sharpness {
                line(&place.name, &place.zone, Some(place.image_height), way, sharpness);
            }
        }
        for zone in &self.zones {
            for (way, sharpness) in &zone.sharpness {
                line("all", &zone.zone, None, way, sharpness);
            }
        }
        out
    }
}

impl FrameDocument {
    /// What was left out, in the order of the document, with what was left out for one and the same reason together: the
    /// reason is that of the first, since others differ in their figures only.
    pub fn left_out_together(&self) -> Vec<LeftOutDocument> {
        let kind = |why: &str| why.chars().filter(|c| !c.is_ascii_digit()).collect::<String>();
        let mut groups: Vec<(String, Vec<&LeftOutDocument>)> = Vec::new();
        for out in &self.left_out {
            let kind = kind(&out.why);
            match groups.iter_mut().find(|(known, _)| *known == kind) {
                Some((_, group)) => group.push(out),
                None => groups.push((kind, vec![out])),
            }
        }
        let together = |(_, group): (String, Vec<&LeftOutDocument>)| {
            let names: Vec<&str> = group.iter().take(NAMED).map(|out| out.what.as_str()).collect();
            let more = group.len() - names.len();
            let more = if more > 0 { format!(" and {more} more") } else { String::new() };
            LeftOutDocument { what: names.join(", ") + &more, why: group[0].why.clone() }
        };
        groups.into_iter().map(together).collect()
    }
}

/// So many are named before the rest are counted.
const NAMED: usize = 4;

/// The first line of the table.
pub const CSV_HEAD: &str = "file,place,zone,image_height,way,edges,mtf50_cy_px,plus_minus,mtf50_lp_mm,plus_minus,\
                            mtf50_subject_lp_mm,plus_minus,mtf50_lw_ph,plus_minus,corrected_mtf50_lp_mm,plus_minus\n";

/// A field of a table by RFC 4180: in quotes where it holds what would end it.
fn quoted(text: &str) -> String {
    if text.contains(['"', ',', '\n', '\r']) { format!("\"{}\"", text.replace('"', "\"\"")) } else { text.into() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn alignments_kept_before_curvatures_were_told_still_read() {
        let figure = json!({ "value": 0.5, "plus_minus": 0.1 });
        let kept = json!({
            "centre_mm": figure, "about_upright_deg": figure, "about_level_deg": figure, "curvature_mm": null,
            "corners_mm": [figure, figure, figure, figure], "warnings": []
        });
        let read: AlignmentDocument = serde_json::from_value(kept.clone()).expect("an alignment");
        assert!(read.otherwise.is_none() && read.curvature_mm.is_none());
        assert_eq!(serde_json::to_value(&read).expect("JSON"), kept);
        let both = AlignmentDocument { otherwise: Some(Box::new(read.clone())), ..read };
        let again: AlignmentDocument =
            serde_json::from_value(serde_json::to_value(&both).expect("JSON")).expect("an alignment");
        assert_eq!(again, both);
    }
}
