//! What was measured of each scan of a trial, as near as possible to the piece that was shown.

use notebook::{Measurement, MeasurementKind};
use optics::Estimate;

use super::document::TrialDocument;
use crate::documents::{EdgeDocument, FrameDocument, SharpnessDocument, on_curve};

/// Which measured figure is set against the eye.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Measure {
    /// Contrast left at a fineness, line pairs per mm of the subject.
    ContrastAt(f64),
    /// Where half of the contrast is left, line pairs per mm of the subject.
    HalfContrast,
}

/// A place at which a scan was measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Pixels of the scan.
    pub at_px: [f64; 2],
    /// What it is called: "centre".
    pub name: String,
    /// Frequency (cycles per pixel), response, half-width; one for each way the edges lie.
    curves: Vec<Vec<[f64; 3]>>,
    /// Where half of the contrast is left, cycles per pixel; one for each way, where it is.
    halves: Vec<Estimate>,
}

/// The figures of a trial's scans.
#[derive(Debug, Clone, PartialEq)]
pub struct Figures {
    /// For each scan its figure, where it was measured at, and how far that lies from the piece's middle, mm on the subject.
    pub each: Vec<Option<(Estimate, String, f64)>>,
}

/// Every place at which a scan was measured: its edges one by one, and the places of its newest whole frame.
pub fn candidates(measurements: &[Measurement]) -> Vec<Candidate> {
    let edges = measurements.iter().filter(|m| m.kind == MeasurementKind::Edge).filter_map(edge);
    let newest = measurements.iter().rev().find(|m| m.kind == MeasurementKind::Frame);
    let frame: Option<FrameDocument> = newest.and_then(|m| serde_json::from_str(&m.result).ok());
    let places = frame.into_iter().flat_map(|frame| frame.places);
    let place = |place: crate::documents::PlaceDocument| {
        let ways: Vec<&SharpnessDocument> = place.sharpness.values().collect();
        let half =
            |s: &&SharpnessDocument| s.mtf50_cy_px.map(|m| Estimate { value: m.value, plus_minus: m.plus_minus });
        Candidate {
            at_px: place.at_px,
            name: place.name.clone(),
            curves: ways.iter().map(|s| s.curve.clone()).collect(),
            halves: ways.iter().filter_map(half).collect(),
        }
    };
    edges.chain(places.map(place)).collect()
}

fn edge(m: &Measurement) -> Option<Candidate> {
    let document: EdgeDocument = serde_json::from_str(&m.result).ok()?;
    let channel = document.main_channel()?;
    let at_px = middle(&document.trace_px).or_else(|| middle_of_region(&m.place))?;
    let half = |i: usize| channel.sfr_plus_minus.get(i).copied().unwrap_or(0.0);
    let curve = channel.sfr.iter().enumerate().map(|(i, [f, r])| [*f, *r, half(i)]).collect();
    let halves =
        channel.mtf50_cy_px.map(|value| Estimate { value, plus_minus: channel.mtf50_plus_minus.unwrap_or(0.0) });
    let name = if m.label.is_empty() { "edge".into() } else { m.label.clone() };
    Some(Candidate { at_px, name, curves: vec![curve], halves: halves.into_iter().collect() })
}

fn middle(points: &[[f64; 2]]) -> Option<[f64; 2]> {
    let n = points.len() as f64;
    let mean = |axis: usize| points.iter().map(|p| p[axis]).sum::<f64>() / n;
    (!points.is_empty()).then(|| [mean(0), mean(1)])
}

fn middle_of_region(place: &str) -> Option<[f64; 2]> {
    let region: serde_json::Value = serde_json::from_str(place).ok()?;
    let number = |name: &str| region.get(name)?.as_f64();
    Some([number("x")? + number("width")? / 2.0, number("y")? + number("height")? / 2.0])
}

/// Beyond this distance, in sides of the piece, a measurement is of another place.
const NEAR: f64 = 1.5;

/// For each scan the figure measured nearest to its piece; those as near as that (edges of both ways) count together.
/// `candidates` are in the order of the trial's scans.
pub fn figures(trial: &TrialDocument, candidates: &[Vec<Candidate>], measure: Measure) -> Figures {
    let each = trial.scans.iter().zip(candidates).map(|(scan, all)| {
        let distance =
            |c: &Candidate| (c.at_px[0] - scan.centre_px[0]).hypot(c.at_px[1] - scan.centre_px[1]) / scan.px_per_mm;
        let relative = scan.plus_minus.unwrap_or(0.0) / scan.px_per_mm;
        let with_figure: Vec<(f64, &Candidate, Estimate)> = all
            .iter()
            .filter(|c| distance(c) <= NEAR * trial.piece_mm)
            .filter_map(|c| Some((distance(c), c, c.figure(measure, scan.px_per_mm, relative)?)))
            .collect();
        let nearest = with_figure.iter().min_by(|a, b| a.0.total_cmp(&b.0))?.0;
        let together: Vec<_> = with_figure.iter().filter(|f| f.0 <= nearest + 0.1 * trial.piece_mm).collect();
        let estimates: Vec<Estimate> = together.iter().map(|f| f.2).collect();
        Some((mean(&estimates)?, together[0].1.name.clone(), nearest))
    });
    Figures { each: each.collect() }
}

impl Candidate {
    /// The figure on the subject; the scale's own doubt (`relative`, a share) is counted in.
    fn figure(&self, measure: Measure, px_per_mm: f64, relative: f64) -> Option<Estimate> {
        match measure {
            Measure::HalfContrast => {
                let half = mean(&self.halves)?;
                let value = half.value * px_per_mm;
                Some(Estimate { value, plus_minus: value * (half.plus_minus / half.value).hypot(relative) })
            }
            Measure::ContrastAt(lp_mm) => {
                let at = |cy_px: f64| -> Option<Estimate> {
                    let of = |curve: &Vec<[f64; 3]>| {
                        let (value, plus_minus) = on_curve(curve.len(), |i| curve[i], cy_px)?;
                        Some(Estimate { value, plus_minus })
                    };
                    let all: Option<Vec<Estimate>> = self.curves.iter().map(of).collect();
                    mean(&all?)
                };
                let cy_px = lp_mm / px_per_mm;
                // Finer than half a cycle a pixel a scan cannot show (the sampling theorem).
                let here = at(cy_px).filter(|_| cy_px <= 0.5)?;
                let beside =
                    at((cy_px * (1.0 + relative)).min(0.5)).map_or(0.0, |there| (there.value - here.value).abs());
                Some(Estimate { value: here.value, plus_minus: here.plus_minus.hypot(beside) })
            }
        }
    }
}

/// The mean of independent figures.
fn mean(all: &[Estimate]) -> Option<Estimate> {
    let n = all.len() as f64;
    let value = all.iter().map(|e| e.value).sum::<f64>() / n;
    let plus_minus = all.iter().map(|e| e.plus_minus.powi(2)).sum::<f64>().sqrt() / n;
    (!all.is_empty()).then_some(Estimate { value, plus_minus })
}
