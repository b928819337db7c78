//! What scans of logged frames show beside what rays through their set-up predict.
//!
//! A scan's contrast has the film and the scanner in it and a prediction has not; as a share of the middle's both fall out, so that
//! shares are what may be compared.

use std::collections::BTreeMap;

use kit::{Kit, Setup, SetupRequest};
use measure::student_975;
use notebook::{Frame, FrameId, JobId, Measurement, MeasurementKind, Notebook, NotebookError, Scan};
use rays::Transfer;

use super::design::{Design, FIELD, designs_of};
use super::trace::{Focus, Found, Heard, TraceError, Wanted, trace};
use super::{BenchError, stand_in};
use crate::documents::EdgeDocument;
use crate::verdict::observed::{Sharpness, observe};
use crate::web::fmt;

/// Frequencies that are compared, cycles/mm on film.
pub const COMPARED: [f64; 6] = [5.0, 10.0, 15.0, 20.0, 30.0, 40.0];
/// What predictions beside measured figures are focused by.
const FOCUSED_BY: f64 = 20.0;

/// Which way the contrast of a place goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Way {
    /// There is no radius: the middle.
    Both,
    /// Across the radius.
    Sagittal,
    /// Along it.
    Tangential,
    /// Between the two.
    Oblique,
}

impl Way {
    /// Its word in documents.
    pub fn word(self) -> &'static str {
        match self {
            Self::Both => "both",
            Self::Sagittal => "sagittal",
            Self::Tangential => "tangential",
            Self::Oblique => "oblique",
        }
    }
}

/// A pattern counts as along or across the radius when so much of it is, by the square of the cosine.
const NEARLY: f64 = 0.85;

/// Sharpness with its direction: which, and how much of the pattern runs along the radius (the square of the cosine).
struct Directed<'a> {
    sharpness: &'a Sharpness,
    way: Way,
    along: f64,
}

impl<'a> Directed<'a> {
    /// By the word of a place of the card, or by where a single edge lies and which way it runs.
    fn of(sharpness: &'a Sharpness, edges: &BTreeMap<String, EdgeDocument>, middle_px: [f64; 2]) -> Option<Self> {
        let along = match sharpness.way.as_str() {
            _ if sharpness.zone == "centre" => return Some(Self { sharpness, way: Way::Both, along: 0.5 }),
            "sagittal" => 0.0,
            "tangential" => 1.0,
            "oblique" => 0.5,
            _ => along_radius(edges.get(&sharpness.page)?, middle_px)?,
        };
        let way = match along {
            along if along > NEARLY => Way::Tangential,
            along if along < 1.0 - NEARLY => Way::Sagittal,
            _ => Way::Oblique,
        };
        Some(Self { sharpness, way, along })
    }
}

/// How much of the contrast across an edge runs along the radius; nothing where its place was not kept.
fn along_radius(edge: &EdgeDocument, middle_px: [f64; 2]) -> Option<f64> {
    let count = edge.trace_px.len() as f64;
    let offset = [0, 1].map(|axis| edge.trace_px.iter().map(|p| p[axis]).sum::<f64>() / count - middle_px[axis]);
    // Across an upright edge light changes from left to right.
    let changes = if edge.direction == "near-vertical" { offset[0] } else { offset[1] };
    let square = offset[0].powi(2) + offset[1].powi(2);
    (square > 0.0).then(|| changes.powi(2) / square)
}

/// One frequency of one place: measured with its half-width, and predicted by the lens alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compared {
    /// On film.
    pub cycles_per_mm: f64,
    /// Contrast in the scan: lens, film and scanner together.
    pub measured: f64,
    /// Half-width of its 95 % interval.
    pub plus_minus: f64,
    /// Contrast that rays through the form leave; none before it is predicted, or where it is dark.
    pub predicted: Option<f64>,
}

/// A zone of a measured frame in one direction.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredPlace {
    /// "centre", "half-way", "side" or "corner".
    pub zone: String,
    /// Which direction.
    pub way: Way,
    /// How much of the pattern runs along the radius: the square of the cosine.
    pub along: f64,
    /// The mean distance of its edges from the middle, mm on film.
    pub film_mm: f64,
    /// By frequency.
    pub points: Vec<Compared>,
}

/// A logged frame that was scanned and measured.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredFrame {
    /// Which.
    pub id: FrameId,
    /// Its job.
    pub job: JobId,
    /// "frame 3 of “Beetles”".
    pub name: String,
    /// Its set-up.
    pub request: SetupRequest,
    /// The scan's sides on film, mm.
    pub frame_mm: [f64; 2],
    /// From the middle outwards.
    pub places: Vec<MeasuredPlace>,
    /// Where its measurement stands.
    pub page: String,
}

/// Why nothing can be compared.
#[derive(Debug, thiserror::Error)]
pub enum MeasuredError {
    /// The notebook.
    #[error(transparent)]
    Notebook(#[from] NotebookError),
    /// No glass for the set-up.
    #[error(transparent)]
    Bench(#[from] BenchError),
    /// Nothing to trace.
    #[error(transparent)]
    Trace(#[from] TraceError),
    /// No frame to compare with.
    #[error("no measured frame was taken with {0}: scan one, say which frame it shows, and measure the whole frame")]
    Unmeasured(String),
    /// No such lens.
    #[error("there is no lens “{0}” in the kit")]
    NoLens(String),
}

/// The frames among those `wanted` whose scans have sharpness measured in the middle and elsewhere.
pub fn measured_frames(book: &Notebook, wanted: impl Fn(&Frame) -> bool) -> Result<Vec<MeasuredFrame>, NotebookError> {
    let mut found = Vec::new();
    for job in book.jobs()? {
        for frame in book.frames_of_job(job.id)?.iter().filter(|frame| wanted(frame)) {
            let name = format!("frame {} of “{}”", frame.number, job.title);
            found.extend(measured(book, job.id, frame, name)?);
        }
    }
    Ok(found)
}

/// Whether a frame was taken with that part.
pub fn taken_with(parts: &[String], id: &str) -> bool {
    parts.iter().any(|word| word.split_once('=').map_or(word.as_str(), |(id, _)| id) == id)
}

fn measured(book: &Notebook, job: JobId, frame: &Frame, name: String) -> Result<Option<MeasuredFrame>, NotebookError> {
    let Some(scan) = book.scan_of_frame(frame.id)? else { return Ok(None) };
    let (Ok(observed), Some(width), Some(height)) = (observe(book, &scan)?, scan.width, scan.height) else {
        return Ok(None);
    };
    let frame_mm = [width, height].map(|px| f64::from(px) * observed.pitch_um / 1000.0);
    let corner_mm = 0.5 * frame_mm[0].hypot(frame_mm[1]);
    let edges = edges_by_page(book, &scan)?;
    let middle_px = [width, height].map(|px| f64::from(px) / 2.0);
    let mut zones: BTreeMap<(u32, Way), Vec<Directed<'_>>> = BTreeMap::new();
    for sharpness in &observed.sharpness {
        if let Some(directed) = Directed::of(sharpness, &edges, middle_px) {
            zones.entry((outwards(&sharpness.zone), directed.way)).or_default().push(directed);
        }
    }
    let places: Vec<_> = zones.iter().map(|((_, way), all)| place(*way, all, corner_mm, observed.pitch_um)).collect();
    let told = places.iter().any(|p| p.way == Way::Both) && places.len() > 1;
    let request = SetupRequest {
        parts: frame.parts.clone(),
        focus: frame.focus.parse().unwrap_or_default(),
        f_number: frame.f_number,
        coc_mm: None,
    };
    let page = observed.sharpness.first().map_or(format!("/scans/{}", scan.id), |s| s.page.clone());
    Ok(told.then_some(MeasuredFrame { id: frame.id, job, name, request, frame_mm, places, page }))
}

/// Single edges by the address that their sharpness names.
fn edges_by_page(book: &Notebook, scan: &Scan) -> Result<BTreeMap<String, EdgeDocument>, NotebookError> {
    let kept = book.measurements(scan.id)?;
    let edge = |kept: &Measurement| {
        let edge = serde_json::from_str::<EdgeDocument>(&kept.result).ok()?;
        Some((format!("/scans/{}#m{}", scan.id, kept.id), edge))
    };
    Ok(kept.iter().filter(|kept| kept.kind == MeasurementKind::Edge).filter_map(edge).collect())
}

fn outwards(zone: &str) -> u32 {
    ["centre", "half-way", "side", "corner"].iter().position(|known| *known == zone).unwrap_or(4) as u32
}

/// The places of one zone as one: the mean of their curves, as doubtful as they differ or as each of them is.
fn place(way: Way, all: &[Directed<'_>], corner_mm: f64, pitch_um: f64) -> MeasuredPlace {
    let at = |lp: f64| {
        let read: Vec<(f64, f64)> =
            all.iter().filter_map(|one| read(&one.sharpness.curve, lp * pitch_um / 1000.0)).collect();
        let count = read.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| read.iter().map(of).sum::<f64>() / count;
        let (value, own) = (mean(|r| r.0), mean(|r| r.1));
        let squares: f64 = read.iter().map(|r| (r.0 - value).powi(2)).sum();
        let apart = match read.len() {
            0 | 1 => 0.0,
            n => student_975(n - 1) * (squares / (count - 1.0) / count).sqrt(),
        };
        let plus_minus = own.max(apart);
        (!read.is_empty()).then_some(Compared { cycles_per_mm: lp, measured: value, plus_minus, predicted: None })
    };
    MeasuredPlace {
        zone: all.first().map_or_else(String::new, |one| one.sharpness.zone.clone()),
        way,
        along: all.iter().map(|one| one.along).sum::<f64>() / all.len().max(1) as f64,
        film_mm: match way {
            Way::Both => 0.0,
            _ => corner_mm * all.iter().map(|one| one.sharpness.at).sum::<f64>() / all.len().max(1) as f64,
        },
        points: COMPARED.into_iter().filter_map(at).collect(),
    }
}

/// A curve between its points; nothing beyond its ends.
fn read(curve: &[[f64; 3]], frequency: f64) -> Option<(f64, f64)> {
    let next = curve.iter().position(|[f, ..]| *f >= frequency)?;
    let ([f0, r0, h0], [f1, r1, h1]) = (curve[next.saturating_sub(1)], curve[next]);
    let share = if f1 > f0 { (frequency - f0) / (f1 - f0) } else { 0.0 };
    (share >= 0.0).then_some((r0 + share * (r1 - r0), h0 + share * (h1 - h0)))
}

impl MeasuredFrame {
    /// What is asked of the rays: the same places and frequencies.
    pub fn wanted(&self) -> Wanted {
        Wanted {
            film_mm: self.places.iter().map(|place| place.film_mm).collect(),
            cycles_per_mm: COMPARED.to_vec(),
            main_cycles_per_mm: FOCUSED_BY,
            through_focus: Vec::new(),
            focus: Focus::GroundGlass,
            film_half: None,
            frame_mm: self.frame_mm,
        }
    }

    /// The same with what was predicted beside.
    pub fn against(&self, found: &Found) -> Self {
        let mut with = self.clone();
        for (place, zone) in with.places.iter_mut().zip(&found.prediction.zones) {
            for point in &mut place.points {
                let at = COMPARED.iter().position(|lp| *lp == point.cycles_per_mm);
                let transfer = zone.as_ref().ok().and_then(|zone| zone.transfer.get(at?));
                point.predicted = transfer.map(|transfer| between(transfer, place.along));
            }
        }
        with
    }

    /// Traced with the kit's own forms.
    pub fn predicted(&self, kit: &Kit, heard: Heard<'_>) -> Result<Self, MeasuredError> {
        let setup = Setup::resolve(kit, &self.request).map_err(BenchError::from)?;
        let (set_up, design) = stand_in(&setup)?;
        Ok(self.against(&trace(&set_up, design, &self.wanted(), heard)?))
    }

    /// Contrast as a share of the middle's, place by place and frequency by frequency, wherever the middle leaves enough of it.
    pub fn shares(&self) -> Vec<Share> {
        let Some(middle) = self.places.iter().find(|place| place.way == Way::Both) else { return Vec::new() };
        let outer = self.places.iter().filter(|place| place.way != Way::Both);
        outer.flat_map(|place| place.points.iter().filter_map(|point| Share::of(place, point, middle))).collect()
    }

    /// How far off its predictions are, as a share of the middle's contrast: root mean square of the differences, the surer
    /// counting more.
    pub fn off_by(&self) -> Option<f64> {
        off_by(&self.shares())
    }
}

/// Contrast between both directions: for a blur that is an ellipse its logarithm goes with the square of the cosine, as its width
/// does.
fn between(transfer: &Transfer, along: f64) -> f64 {
    let (sagittal, tangential) = (transfer.sagittal.abs(), transfer.tangential.contrast());
    sagittal.powf(1.0 - along) * tangential.powf(along)
}

/// Contrast of a place as a share of the middle's.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// Its zone.
    pub zone: String,
    /// Its direction.
    pub way: Way,
    /// On film.
    pub cycles_per_mm: f64,
    /// In the scan.
    pub measured: f64,
    /// Half-width of its 95 % interval.
    pub plus_minus: f64,
    /// By rays.
    pub predicted: f64,
}

/// Less contrast than this in the middle is no measure for the rest.
const LEAST_IN_THE_MIDDLE: f64 = 0.15;

impl Share {
    fn of(place: &MeasuredPlace, point: &Compared, middle: &MeasuredPlace) -> Option<Self> {
        let beside = middle.points.iter().find(|other| other.cycles_per_mm == point.cycles_per_mm)?;
        let predicted_middle = beside.predicted.filter(|contrast| *contrast >= LEAST_IN_THE_MIDDLE)?;
        if beside.measured < LEAST_IN_THE_MIDDLE {
            return None;
        }
        let measured = point.measured / beside.measured;
        Some(Self {
            zone: place.zone.clone(),
            way: place.way,
            cycles_per_mm: point.cycles_per_mm,
            measured,
            plus_minus: point.plus_minus.hypot(measured * beside.plus_minus) / beside.measured,
            predicted: point.predicted? / predicted_middle,
        })
    }
}

/// No form stands for a lens better than to so much of the middle's contrast: without it one sure place would outweigh all others.
const FORMS_ARE_ROUGH: f64 = 0.05;

fn off_by(shares: &[Share]) -> Option<f64> {
    let (mut sum, mut weights) = (0.0, 0.0);
    for share in shares {
        let weight = 1.0 / ((share.plus_minus / 1.96).powi(2) + FORMS_ARE_ROUGH.powi(2));
        sum += weight * (share.measured - share.predicted).powi(2);
        weights += weight;
    }
    (weights > 0.0).then(|| (sum / weights).sqrt())
}

/// How well a form stands for a lens in the frames that were measured with it.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// The form, or the kit's own table.
    pub design: Design,
    /// Root mean square difference as a share of the middle's contrast; the reason where it cannot be told.
    pub off_by: Result<f64, String>,
    /// Whether it stands for the lens in the kit now.
    pub chosen: bool,
}

/// Every form of the library and every table of the kit in the place of one lens, the best first. Nothing is kept.
pub fn fit(kit: &Kit, lens: &str, frames: &[MeasuredFrame], heard: Heard<'_>) -> Result<Vec<Fit>, MeasuredError> {
    let part = kit.part(lens).filter(|part| part.kind() == kit::Kind::Lens);
    let part = part.ok_or_else(|| MeasuredError::NoLens(lens.into()))?;
    // Of a converter only the best case is known: what it spoils would be blamed on the form.
    let converted = |frame: &MeasuredFrame| {
        kit.of_kind(kit::Kind::Teleconverter).any(|converter| taken_with(&frame.request.parts, converter.id()))
    };
    let with_it: Vec<&MeasuredFrame> =
        frames.iter().filter(|frame| taken_with(&frame.request.parts, lens) && !converted(frame)).collect();
    if with_it.is_empty() {
        return Err(MeasuredError::Unmeasured(part.name().into()));
    }
    let mut fits = Vec::new();
    let designs = designs_of(kit);
    let count = designs.len() as f64;
    for (at, design) in designs.into_iter().enumerate() {
        if heard(at as f64 / count).is_break() {
            return Err(TraceError::Stopped.into());
        }
        let off_by = with_form(kit, lens, design.key()).and_then(|kit| all_off_by(&kit, &with_it, heard));
        let chosen = part.words(FIELD).map(str::trim) == Some(design.key());
        fits.push(Fit { design, off_by, chosen });
    }
    let rank = |fit: &Fit| fit.off_by.as_ref().copied().unwrap_or(f64::INFINITY);
    fits.sort_by(|a, b| rank(a).total_cmp(&rank(b)));
    Ok(fits)
}

/// The kit with another form in one lens.
fn with_form(kit: &Kit, lens: &str, key: &str) -> Result<Kit, String> {
    let parts = kit.parts().iter().map(|part| match part.id() == lens {
        true => crate::calibrating::rebuilt(part, |field| (field == FIELD).then(|| key.to_owned())),
        false => Ok(part.clone()),
    });
    Kit::from_parts(parts.collect::<Result<_, _>>()?)
}

fn all_off_by(kit: &Kit, frames: &[&MeasuredFrame], heard: Heard<'_>) -> Result<f64, String> {
    let quiet = |_| heard(f64::NAN);
    let mut shares = Vec::new();
    for frame in frames {
        let predicted = frame.predicted(kit, &quiet).map_err(|why| why.to_string())?;
        if predicted.places.iter().flat_map(|place| &place.points).any(|point| point.predicted.is_none()) {
            return Err(format!("it is dark somewhere in {}", frame.name));
        }
        shares.extend(predicted.shares());
    }
    off_by(&shares).ok_or_else(|| "no contrast is left in the middle to compare with".into())
}

/// "0.08 of the middle's contrast".
pub fn off_by_words(off: f64) -> String {
    format!("{} of the middle's contrast", fmt::figure(off, 2))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{film_response, unheard};
    use testkit::assert_close;

    fn kit() -> Kit {
        Kit::parse(crate::demo::KIT).expect("the example's kit")
    }

    fn place(zone: &str, way: Way, along: f64, film_mm: f64) -> MeasuredPlace {
        let point = |cycles_per_mm| Compared { cycles_per_mm, measured: 0.0, plus_minus: 0.02, predicted: None };
        MeasuredPlace { zone: zone.into(), way, along, film_mm, points: COMPARED.into_iter().map(point).collect() }
    }

    fn frame() -> MeasuredFrame {
        let parts = ["copy-stand-6x6", "tube-26", "tube-52", "normal-85"].map(str::to_owned);
        MeasuredFrame {
            id: FrameId(1),
            job: JobId(1),
            name: "frame 1".into(),
            request: SetupRequest {
                parts: parts.into(),
                focus: "travel=5".parse().expect("a focus"),
                f_number: Some(11.0),
                coc_mm: None,
            },
            frame_mm: [56.0, 56.0],
            places: vec![
                place("centre", Way::Both, 0.5, 0.0),
                place("half-way", Way::Sagittal, 0.0, 14.0),
                place("half-way", Way::Tangential, 1.0, 14.0),
                place("side", Way::Oblique, 0.5, 24.0),
            ],
            page: "/scans/1".into(),
        }
    }

    /// A frame that shows what one form makes of it, behind a film that halves contrast at 30 lp/mm.
    fn taken_through(kit: &Kit) -> MeasuredFrame {
        let mut taken = frame().predicted(kit, &unheard).expect("a prediction");
        for point in taken.places.iter_mut().flat_map(|place| &mut place.points) {
            point.measured = film_response(30.0, point.cycles_per_mm) * point.predicted.take().expect("light");
        }
        taken
    }

    /// Truth by construction: the film falls out, and the form that the frame was taken through fits best, without a remainder.
    #[test]
    fn the_form_that_made_the_frame_fits_it_best() {
        let made = with_form(&kit(), "normal-85", "symmetrical").expect("a kit");
        let taken = taken_through(&made);
        let again = taken.predicted(&made, &unheard).expect("a prediction");
        assert_close!(again.off_by().expect("shares"), 0.0, absolute = 1e-9);
        assert!(again.shares().len() > 6, "{}", again.shares().len());
        let fits = fit(&kit(), "normal-85", &[taken], &unheard).expect("fits");
        assert_eq!((fits.len(), fits[0].design.key()), (rays::FORMS.len(), "symmetrical"));
        assert_close!(fits[0].off_by.clone().expect("told"), 0.0, absolute = 1e-9);
        assert!(fits[1].off_by.clone().is_ok_and(|off| off > 0.01), "{:?}", fits[1]);
        // Which one stands in the kit is said and not changed.
        assert_eq!(
            fits.iter().filter(|fit| fit.chosen).map(|fit| fit.design.key()).collect::<Vec<_>>(),
            ["double-gauss-1954"]
        );
    }

    /// A table of one's own is tried with the forms of the library, and frames through a converter say nothing of a lens.
    #[test]
    fn own_tables_are_ranked_among_the_forms() {
        let changed = super::super::design::PASTED.replace("-14.495", "-14.2");
        let table = crate::bench::table_part("mine", "Mine", &changed).expect("a table");
        let kit = Kit::from_parts(kit().parts().iter().cloned().chain([table]).collect()).expect("a kit");
        let taken = taken_through(&with_form(&kit, "normal-85", "mine").expect("a kit"));
        let fits = fit(&kit, "normal-85", std::slice::from_ref(&taken), &unheard).expect("fits");
        assert_eq!((fits.len(), fits[0].design.key()), (rays::FORMS.len() + 1, "mine"));
        assert_close!(fits[0].off_by.clone().expect("told"), 0.0, absolute = 1e-9);
        assert!(fits[1].off_by.clone().is_ok_and(|off| off > 1e-3), "{:?}", fits[1]);
        let mut converted = taken;
        converted.request.parts.insert(1, "converter-14".into());
        assert!(matches!(fit(&kit, "normal-85", &[converted], &unheard), Err(MeasuredError::Unmeasured(_))));
    }

    #[test]
    fn between_the_directions_lies_the_geometric_mean() {
        let transfer = Transfer { sagittal: 0.8, tangential: rays::Response { re: 0.2, im: 0.0 } };
        for (along, contrast) in [(0.0, 0.8), (1.0, 0.2), (0.5, 0.4)] {
            assert_close!(between(&transfer, along), contrast, relative = 1e-12);
        }
    }

    #[test]
    fn a_curve_is_read_between_its_points_and_not_beyond() {
        let curve = [[0.0, 1.0, 0.1], [0.2, 0.6, 0.3]];
        let (contrast, half) = read(&curve, 0.1).expect("between");
        assert_close!(contrast, 0.8, relative = 1e-12);
        assert_close!(half, 0.2, relative = 1e-12);
        assert_eq!(read(&curve, 0.3), None);
    }

    #[test]
    fn what_cannot_be_compared_is_refused() {
        let unknown = fit(&kit(), "nothing", &[frame()], &unheard).expect_err("no lens").to_string();
        assert!(unknown.contains("“nothing”"), "{unknown}");
        let unmeasured = fit(&kit(), "long-160", &[frame()], &unheard).expect_err("no frame").to_string();
        assert!(unmeasured.contains("Long lens, 160 mm"), "{unmeasured}");
        let stop = |_: f64| std::ops::ControlFlow::Break(());
        assert!(matches!(fit(&kit(), "normal-85", &[frame()], &stop), Err(MeasuredError::Trace(TraceError::Stopped))));
    }
}
