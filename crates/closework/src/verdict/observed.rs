//! What the scans of a frame show, each figure with its place and where it is written down.

use std::collections::BTreeMap;

use notebook::{MagnificationSource, Measurement, MeasurementKind, Notebook, NotebookError, Scan};
use optics::Estimate;
use verdict::enough::Bound;

use crate::documents::{Bounded, EdgeDocument, FrameDocument};
use crate::web::scans::whole::frame_of;

/// One edge, or the edges of one place pooled: contrast left against cycles per pixel.
#[derive(Debug, Clone, PartialEq)]
pub struct Sharpness {
    /// Where, as it was named.
    pub place: String,
    /// "centre", "half-way", "side" or "corner".
    pub zone: String,
    /// The line that the edges stand for, or the axis that a single edge runs along.
    pub way: String,
    /// Distance from the frame's middle over half its diagonal.
    pub at: f64,
    /// Cycles per pixel, contrast, half-width.
    pub curve: Vec<[f64; 3]>,
    /// Its measurement.
    pub page: String,
}

/// Colour beside an edge.
#[derive(Debug, Clone, PartialEq)]
pub struct Fringe {
    /// Where.
    pub place: String,
    /// Distance from the middle over half the diagonal.
    pub at: f64,
    /// The larger of red and blue, µm on film.
    pub um: Estimate,
    /// Its measurement.
    pub page: String,
}

/// A figure of the frame as a whole.
#[derive(Debug, Clone, PartialEq)]
pub struct Whole {
    /// The figure.
    pub figure: Estimate,
    /// Set where it is only a bound.
    pub only: Option<Bound>,
    /// Its measurement.
    pub page: String,
}

/// All that one scan says.
#[derive(Debug, Clone, PartialEq)]
pub struct Observed {
    /// The scan.
    pub scan: Scan,
    /// Size on film over size of the subject.
    pub magnification: Estimate,
    /// Whether that was measured or entered, and not only worked out of the set-up.
    pub seen: bool,
    /// The scan's pitch, µm.
    pub pitch_um: f64,
    /// Sharpness by place and way.
    pub sharpness: Vec<Sharpness>,
    /// Fringing by place.
    pub fringes: Vec<Fringe>,
    /// Veiling glare as a share of white.
    pub glare: Option<Whole>,
    /// Fall-off, stops.
    pub unevenness: Option<Whole>,
    /// What was left out and why.
    pub remarks: Vec<String>,
}

impl Observed {
    /// Pixels on a millimetre of the subject.
    pub fn px_per_mm(&self) -> f64 {
        self.magnification.value * 1000.0 / self.pitch_um
    }

    /// The name of the doubt that everything brought to this scan's scale shares.
    pub fn scale_doubt(&self) -> String {
        format!("the scale of {}", self.scan.file_name)
    }

    /// The share by which the scale may be wrong.
    pub fn scale_share(&self) -> f64 {
        self.magnification.plus_minus / self.magnification.value
    }

    fn says_nothing(&self) -> bool {
        self.sharpness.is_empty() && self.fringes.is_empty() && self.glare.is_none() && self.unevenness.is_none()
    }
}

/// Why a scan says nothing, and what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dumb {
    /// Why.
    pub why: String,
    /// What to do.
    pub next: String,
    /// Where.
    pub page: String,
}

/// What a scan says, or why it says nothing.
pub fn observe(book: &Notebook, scan: &Scan) -> Result<Result<Observed, Dumb>, NotebookError> {
    let page = format!("/scans/{}", scan.id);
    let dumb = |why: &str, next: &str| Ok(Err(Dumb { why: why.into(), next: next.into(), page: page.clone() }));
    let Some(pitch_um) = scan.pitch_um else {
        return dumb("the scan's pitch is not known", "enter the resolution that it was scanned at");
    };
    let Some(m) = scan.magnification else {
        return dumb("it has no scale", "measure a ruler in it, or photograph the target card");
    };
    let mut observed = Observed {
        scan: scan.clone(),
        magnification: Estimate { value: m.value, plus_minus: m.plus_minus.unwrap_or(0.0) },
        seen: m.from != MagnificationSource::SetUp,
        pitch_um,
        sharpness: Vec::new(),
        fringes: Vec::new(),
        glare: None,
        unevenness: None,
        remarks: Vec::new(),
    };
    let kept = book.measurements(scan.id)?;
    // Of several measurements of the whole frame the newest counts.
    let frame = kept.iter().rev().find_map(|kept| Some((frame_of(kept)?, kept)));
    if let Some((document, kept)) = &frame {
        whole_frame(&mut observed, document, &format!("/scans/{}/whole/{}", scan.id, kept.id));
    }
    for kept in kept.iter().filter(|kept| kept.kind == MeasurementKind::Edge) {
        if let Ok(edge) = serde_json::from_str::<EdgeDocument>(&kept.result) {
            hand_edge(&mut observed, &edge, kept, frame.is_some());
        }
    }
    if observed.says_nothing() {
        return dumb("nothing was measured in it", "measure the whole frame, or an edge");
    }
    Ok(Ok(observed))
}

/// More than this share of a place's softness explained by misalignment: the place says more of the test than of the lens.
const EXPLAINED: f64 = 0.5;

fn whole_frame(observed: &mut Observed, document: &FrameDocument, page: &str) {
    // Where a blade lies, the printed edges of that zone are as soft as the print and say less.
    let bladed: Vec<&str> = document.places.iter().filter(|p| p.blade).map(|p| p.zone.as_str()).collect();
    let mut misaligned = Vec::new();
    for place in document.places.iter().filter(|p| p.blade || !bladed.contains(&p.zone.as_str())) {
        if place.explained_by_misalignment.is_some_and(|share| share.value > EXPLAINED) {
            misaligned.push(place.name.as_str());
            continue;
        }
        observed.sharpness.extend(place.sharpness.iter().map(|(way, sharpness)| Sharpness {
            place: place.name.clone(),
            zone: place.zone.clone(),
            way: way.clone(),
            at: place.image_height.clamp(0.0, 1.0),
            curve: sharpness.curve.clone(),
            page: page.into(),
        }));
    }
    if !misaligned.is_empty() {
        observed.remarks.push(format!(
            "in {} {} left out: misalignment explains most of its softness there",
            observed.scan.file_name,
            misaligned.join(", ")
        ));
    }
    observed.fringes = frame_fringes(document, observed.pitch_um, page);
    observed.glare = glare(document).map(|(figure, only)| Whole { figure, only, page: page.into() });
    observed.unevenness = document.evenness.as_ref().map(|evenness| {
        let fall = evenness.falloff_stops;
        Whole { figure: Estimate { value: fall.value, plus_minus: fall.plus_minus }, only: None, page: page.into() }
    });
}

/// At each distance from the middle the larger displacement of red or blue, along and across the radius together.
fn frame_fringes(document: &FrameDocument, pitch_um: f64, page: &str) -> Vec<Fringe> {
    let half_mm = f64::from(document.width_px).hypot(f64::from(document.height_px)) / 2.0 * pitch_um / 1000.0;
    let mut largest: BTreeMap<u64, Fringe> = BTreeMap::new();
    let fields = document.fringing.iter().flat_map(|fringing| fringing.channels.values()).flat_map(|c| &c.field);
    for spot in fields {
        let (along, across) = (spot.radial_um, spot.tangential_um);
        let value = along.value.hypot(across.value);
        let shares = (along.value * along.plus_minus).hypot(across.value * across.plus_minus);
        let plus_minus = if value > 0.0 { shares / value } else { along.plus_minus.hypot(across.plus_minus) };
        let at = (spot.radius_mm / half_mm).clamp(0.0, 1.0);
        let fringe = Fringe { place: zone(at).into(), at, um: Estimate { value, plus_minus }, page: page.into() };
        let slot = largest.entry(spot.radius_mm.to_bits()).or_insert_with(|| fringe.clone());
        if fringe.um.value > slot.um.value {
            *slot = fringe;
        }
    }
    largest.into_values().collect()
}

/// The worst channel's veiling glare; a trap that was clipped gives a bound.
fn glare(document: &FrameDocument) -> Option<(Estimate, Option<Bound>)> {
    let figure = |glare: &Bounded| {
        let only = match glare.bound.as_str() {
            "at most" => Some(Bound::AtMost),
            "at least" => Some(Bound::AtLeast),
            _ => None,
        };
        (Estimate { value: glare.value, plus_minus: glare.plus_minus.unwrap_or(0.0) }, only)
    };
    let all = document.contrast.values().map(|channel| figure(&channel.glare));
    all.max_by(|(a, _), (b, _)| a.value.total_cmp(&b.value))
}

/// The same bounds as the card's own places keep.
fn zone(at: f64) -> &'static str {
    match at {
        near if near < 0.12 => "centre",
        inner if inner < 0.55 => "half-way",
        side if side < 0.78 => "side",
        _ => "corner",
    }
}

fn hand_edge(observed: &mut Observed, edge: &EdgeDocument, kept: &Measurement, frame_measured: bool) {
    let page = format!("/scans/{}#m{}", observed.scan.id, kept.id);
    let at = place_of(&observed.scan, edge, kept);
    let zone = zone(at);
    let place = if kept.label.is_empty() { zone.to_owned() } else { kept.label.clone() };
    if let Some(channel) = edge.main_channel() {
        let half = |index: usize| channel.sfr_plus_minus.get(index).copied().unwrap_or(0.0);
        let curve = channel.sfr.iter().enumerate().map(|(index, [f, r])| [*f, *r, half(index)]).collect();
        let (way, page) = (edge.direction.clone(), page.clone());
        observed.sharpness.push(Sharpness { place: place.clone(), zone: zone.into(), way, at, curve, page });
    }
    // A frame measured whole says more of fringing than a single edge does: lens and scanner are told apart there.
    if !frame_measured && let Some(um) = displacement(edge, observed.pitch_um) {
        observed.fringes.push(Fringe { place, at, um, page });
    }
}

fn displacement(edge: &EdgeDocument, pitch_um: f64) -> Option<Estimate> {
    let all = edge.displacement_px.iter().map(|(channel, px)| {
        let plus_minus = edge.displacement_plus_minus_px.get(channel).copied().unwrap_or(0.0);
        Estimate { value: px.abs() * pitch_um, plus_minus: plus_minus * pitch_um }
    });
    all.max_by(|a, b| a.value.total_cmp(&b.value))
}

/// Where an edge lies: the middle of what was traced, else of the region that was drawn.
fn place_of(scan: &Scan, edge: &EdgeDocument, kept: &Measurement) -> f64 {
    let (Some(width), Some(height)) = (scan.width, scan.height) else { return 0.0 };
    let (width, height) = (f64::from(width), f64::from(height));
    let middle = match &edge.trace_px[..] {
        [] => region_middle(&kept.place).unwrap_or([width / 2.0, height / 2.0]),
        trace => [0, 1].map(|axis| trace.iter().map(|point| point[axis]).sum::<f64>() / trace.len() as f64),
    };
    ((middle[0] - width / 2.0).hypot(middle[1] - height / 2.0) / (width.hypot(height) / 2.0)).clamp(0.0, 1.0)
}

fn region_middle(place: &str) -> Option<[f64; 2]> {
    let place: serde_json::Value = serde_json::from_str(place).ok()?;
    let number = |name: &str| place.get(name)?.as_f64();
    Some([number("x")? + number("width")? / 2.0, number("y")? + number("height")? / 2.0])
}
