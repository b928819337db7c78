//! What was measured for a job, brought to the fineness that the job needs.
//!
//! Like is compared with like: the fineness is fixed on the *subject*, so a frame taken smaller is judged at a finer
//! structure on its film, as it would be after enlarging both to the same print.

use std::collections::BTreeMap;

use notebook::{Frame, Job, MeasurementKind, Notebook, Scan};
use optics::Estimate;
use verdict::{Judgement, Need, judge, weakest};

use crate::documents::{EdgeDocument, FrameDocument, on_curve};
use crate::web::PageError;
use crate::web::scans::whole::frame_of;

/// One measured edge at the fineness that the job needs.
pub(super) struct Edge {
    /// Where in the frame, as it was named.
    pub label: String,
    /// Its scan, for the link.
    pub scan: notebook::ScanId,
    /// Its number, for the link.
    pub id: notebook::MeasurementId,
    /// Contrast left there, 0 to 1; `None` when the scan does not resolve that fineness.
    pub left: Option<Estimate>,
    /// The fineness in the scan, cycles per pixel.
    pub cy_px: f64,
    /// The scan's pitch, µm on film.
    pub pitch_um: f64,
    /// Whether that is enough.
    pub judgement: Option<Judgement>,
}

impl Edge {
    /// The resolution at which a scan would show that fineness with some room, dpi, where this one does not.
    pub fn needed_dpi(&self) -> Option<f64> {
        (self.cy_px > NYQUIST_CY_PX).then(|| 25_400.0 / self.pitch_um * self.cy_px / ROOMY_CY_PX)
    }
}

/// A set-up with all that was measured of it.
pub(super) struct SetUp {
    /// The parts from the body outwards.
    pub parts: Vec<String>,
    /// Where the lens was focused.
    pub focus: String,
    /// The engraved f-number.
    pub f_number: Option<f64>,
    /// Magnification of its first scan.
    pub magnification: Estimate,
    /// The numbers of its frames.
    pub frames: Vec<u32>,
    /// Its edges, in the order in which they were measured.
    pub edges: Vec<Edge>,
}

impl SetUp {
    /// The weakest place of the frame decides; an unresolved one leaves everything open.
    pub fn judgement(&self) -> Option<Judgement> {
        if self.edges.iter().any(|edge| edge.judgement.is_none()) {
            return None;
        }
        weakest(self.edges.iter().filter_map(|edge| edge.judgement))
    }

    /// The least contrast that was found.
    pub fn least(&self) -> Option<Estimate> {
        self.edges.iter().filter_map(|edge| edge.left).min_by(|p, q| p.value.total_cmp(&q.value))
    }
}

/// All evidence of a job, and the scans that give none, with the reason.
pub(super) struct Evidence {
    pub set_ups: Vec<SetUp>,
    pub silent: Vec<(Scan, &'static str)>,
}

pub(super) fn gather(book: &Notebook, job: &Job, need: &Need) -> Result<Evidence, PageError> {
    let frames = book.frames_of_job(job.id)?;
    let mut evidence = Evidence { set_ups: Vec::new(), silent: Vec::new() };
    for scan in book.scans_of_job(job.id)? {
        let frame = frames.iter().find(|frame| scan.frame == Some(frame.id));
        match known(&scan, frame) {
            Err(why) => evidence.silent.push((scan, why)),
            Ok((frame, pitch, m)) => match edges(book, &scan, pitch, m, need)? {
                edges if edges.is_empty() => evidence.silent.push((scan, "no edge was measured in it")),
                edges => add(&mut evidence.set_ups, frame, m, edges),
            },
        }
    }
    // The best first, by the contrast that is left at the weakest place.
    evidence.set_ups.sort_by(|p, q| rank(q).total_cmp(&rank(p)));
    Ok(evidence)
}

fn rank(set_up: &SetUp) -> f64 {
    set_up.judgement().map_or(-1.0, |_| set_up.least().map_or(-1.0, |least| least.value))
}

/// What must be known of a scan before its edges say anything about a set-up.
fn known<'a>(scan: &Scan, frame: Option<&'a Frame>) -> Result<(&'a Frame, f64, Estimate), &'static str> {
    let frame = frame.ok_or("it is not said which frame it shows")?;
    let pitch = scan.pitch_um.ok_or("the scan's pitch is not known")?;
    let m = scan.magnification.ok_or("its magnification is not known: measure a ruler in it")?;
    Ok((frame, pitch, Estimate { value: m.value, plus_minus: m.plus_minus.unwrap_or(0.0) }))
}

fn edges(book: &Notebook, scan: &Scan, pitch_um: f64, m: Estimate, need: &Need) -> Result<Vec<Edge>, PageError> {
    let kept = book.measurements(scan.id)?.into_iter().filter(|kept| kept.kind == MeasurementKind::Edge);
    let read = kept.filter_map(|kept| Some((serde_json::from_str::<EdgeDocument>(&kept.result).ok()?, kept)));
    // Line pairs per mm on the subject, brought to the film by the magnification and to pixels by the pitch.
    let cy_px = need.on_subject_lp_mm() / m.value * pitch_um / 1000.0;
    let mut frames = book.measurements(scan.id)?.into_iter().filter_map(|kept| Some((frame_of(&kept)?, kept)));
    let of_frames =
        frames.next_back().map(|(frame, kept)| weakest_places(&frame, &kept, scan, (cy_px, pitch_um), m, need));
    let edge = |(document, kept): (EdgeDocument, notebook::Measurement)| {
        let left = contrast_left(&document, cy_px, m);
        let judgement = left.map(|left| judge(left, need.contrast));
        Edge { label: kept.label.clone(), scan: scan.id, id: kept.id, left, cy_px, pitch_um, judgement }
    };
    Ok(read.map(edge).chain(of_frames.into_iter().flatten()).collect())
}

/// More than this share of a place's softness explained by misalignment: the place says more of the test than of the lens.
const EXPLAINED: f64 = 0.5;

/// Of a frame that was measured whole, the weakest place of each zone and way; what misalignment could explain is left out.
fn weakest_places(
    frame: &FrameDocument,
    kept: &notebook::Measurement,
    scan: &Scan,
    (cy_px, pitch_um): (f64, f64),
    m: Estimate,
    need: &Need,
) -> Vec<Edge> {
    let mut weakest: BTreeMap<(String, String), (Option<Estimate>, String)> = BTreeMap::new();
    // Where a blade lies, the printed edges of that zone are as soft as the print and say less.
    let bladed: Vec<&str> = frame.places.iter().filter(|p| p.blade).map(|p| p.zone.as_str()).collect();
    for place in frame.places.iter().filter(|p| p.blade || !bladed.contains(&p.zone.as_str())) {
        if place.explained_by_misalignment.is_some_and(|share| share.value > EXPLAINED) {
            continue;
        }
        for (way, sharpness) in &place.sharpness {
            let left = left_on(&|f| on_curve(sharpness.curve.len(), |i| sharpness.curve[i], f), cy_px, m);
            let slot = weakest.entry((place.zone.clone(), way.clone())).or_insert((left, place.name.clone()));
            let weaker = left.is_none() || slot.0.zip(left).is_some_and(|(old, new)| new.value < old.value);
            if weaker {
                *slot = (left, place.name.clone());
            }
        }
    }
    let edge = |((zone, way), (left, name)): ((String, String), (Option<Estimate>, String))| Edge {
        label: if zone == name { format!("{zone}, {way}") } else { format!("{zone}, {way} ({name})") },
        scan: scan.id,
        id: kept.id,
        left,
        cy_px,
        pitch_um,
        judgement: left.map(|left| judge(left, need.contrast)),
    };
    weakest.into_iter().map(edge).collect()
}

/// Finer than this a scan cannot show (the sampling theorem).
const NYQUIST_CY_PX: f64 = 0.5;
/// Where a scan is asked for, the fineness shall lie well within it.
const ROOMY_CY_PX: f64 = 0.4;

/// The response at a fineness, uncertain by its own interval and by the magnification's: dR/df · f · ΔM/M.
fn contrast_left(document: &EdgeDocument, cy_px: f64, m: Estimate) -> Option<Estimate> {
    let channel = document.main_channel()?;
    left_on(&|f| channel.response_at(f), cy_px, m)
}

fn left_on(response_at: &dyn Fn(f64) -> Option<(f64, f64)>, cy_px: f64, m: Estimate) -> Option<Estimate> {
    if cy_px > NYQUIST_CY_PX {
        return None;
    }
    let (value, own) = response_at(cy_px)?;
    let step = cy_px * (m.plus_minus / m.value);
    let beside = response_at((cy_px + step).min(0.5)).map_or(0.0, |(there, _)| (there - value).abs());
    Some(Estimate { value, plus_minus: own.hypot(beside) })
}

/// Frames of one set-up, focused alike, at one f-number belong together.
fn add(set_ups: &mut Vec<SetUp>, frame: &Frame, magnification: Estimate, edges: Vec<Edge>) {
    let same = |s: &&mut SetUp| s.parts == frame.parts && s.focus == frame.focus && s.f_number == frame.f_number;
    match set_ups.iter_mut().find(same) {
        Some(known) => {
            known.frames.push(frame.number);
            known.edges.extend(edges);
        }
        None => set_ups.push(SetUp {
            parts: frame.parts.clone(),
            focus: frame.focus.clone(),
            f_number: frame.f_number,
            magnification,
            frames: vec![frame.number],
            edges,
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};
    use testkit::assert_close;

    /// A place whose curve is this high at every fineness.
    fn place(name: &str, zone: &str, height: f64, more: Value) -> Value {
        let curve: Vec<[f64; 3]> = (0..=10).map(|i| [0.05 * f64::from(i), height, 0.01]).collect();
        let sharpness = json!({
            "edges": 1, "mtf50_cy_px": null, "mtf50_lp_mm": null, "mtf50_subject_lp_mm": null, "mtf50_lw_ph": null,
            "mean_contrast_to_limit": null, "curve": curve
        });
        let mut place = json!({
            "name": name, "zone": zone, "at_px": [0.0, 0.0], "image_height": 0.5,
            "sharpness": { "sagittal": sharpness }, "edges": []
        });
        place.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        place
    }

    fn frame(places: Vec<Value>) -> FrameDocument {
        let document = json!({
            "file": "a.tif", "width_px": 100, "height_px": 100, "transfer": "icc", "pitch_um": 10.0, "pitch_from": "file",
            "magnification": null, "magnification_from": "", "card": null, "places": places, "zones": [], "fringing": null,
            "contrast": {}, "evenness": null, "exposure": null, "grain": null, "rulers": [], "ramps": [],
            "alignment": null, "left_out": [], "warnings": [], "settings": {}, "made_by": "a test"
        });
        serde_json::from_value(document).expect("a frame")
    }

    fn weakest_of(places: Vec<Value>) -> Vec<(String, f64)> {
        let book = Notebook::in_memory().expect("a notebook");
        let (scan, kept) = kept(book);
        let need = Need {
            subject_mm: 30.0,
            fill: 0.8,
            frame_mm: [56.0, 56.0],
            print_mm: 300.0,
            criterion_lp_mm: 5.0,
            contrast: 0.3,
        };
        let m = Estimate { value: 0.5, plus_minus: 0.0 };
        let edges = weakest_places(&frame(places), &kept, &scan, (0.1, 10.0), m, &need);
        edges.into_iter().map(|edge| (edge.label, edge.left.expect("on the curve").value)).collect()
    }

    /// Any scan and measurement: only their numbers are taken over.
    fn kept(mut book: Notebook) -> (Scan, notebook::Measurement) {
        let draft =
            notebook::ScanDraft { file_name: "a.tif".into(), stored: "a".into(), ..notebook::ScanDraft::default() };
        let id = book.add_scan(&draft, "2026-05-01T10:00:00Z").expect("a scan");
        let measured = notebook::MeasurementDraft {
            scan: id,
            kind: MeasurementKind::Frame,
            label: String::new(),
            place: "{}".into(),
            result: "{}".into(),
            settings: "{}".into(),
            made_by: "a test".into(),
        };
        book.add_measurement(&measured, "2026-05-01T10:00:00Z").expect("kept");
        let measurement = book.measurements(id).expect("read").remove(0);
        (book.scan(id).expect("read").expect("there"), measurement)
    }

    #[test]
    fn the_weakest_place_of_a_zone_counts_unless_misalignment_explains_it() {
        let found = weakest_of(vec![
            place("centre", "centre", 0.8, json!({})),
            place("top left", "corner", 0.5, json!({})),
            place("top right", "corner", 0.4, json!({})),
            place(
                "bottom left",
                "corner",
                0.1,
                json!({ "explained_by_misalignment": { "value": 0.8, "plus_minus": 0.1 } }),
            ),
            place(
                "bottom right",
                "corner",
                0.45,
                json!({ "explained_by_misalignment": { "value": 0.3, "plus_minus": 0.1 } }),
            ),
        ]);
        let expected = [("centre, sagittal", 0.8), ("corner, sagittal (top right)", 0.4)];
        assert_eq!(found.len(), 2);
        for ((label, left), (words, height)) in found.iter().zip(expected) {
            assert_eq!(label, words);
            assert_close!(*left, height, absolute = 1e-9);
        }
    }

    #[test]
    fn where_a_blade_lies_printed_edges_of_its_zone_do_not_count() {
        let found = weakest_of(vec![
            place("left", "side", 0.2, json!({})),
            place("blade bottom left", "side", 0.6, json!({ "blade": true })),
            place("blade bottom right", "side", 0.55, json!({ "blade": true })),
            place("top left", "corner", 0.3, json!({})),
        ]);
        assert_eq!(found.len(), 2, "{found:?}");
        assert_eq!(found[0].0, "corner, sagittal (top left)");
        assert_eq!(found[1].0, "side, sagittal (blade bottom right)");
        assert_close!(found[1].1, 0.55, absolute = 1e-9);
    }
}
