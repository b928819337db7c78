//! The figures behind a report: as a table (CSV) and as one document (JSON), unrounded.

use serde::Serialize;
use serde_json::{Value, json};

use super::material::{Material, ReportTrouble};
use crate::documents::{
    ChannelFringingDocument, FrameDocument, FringeAt, FringingDocument, MADE_BY, Measured, SharpnessDocument,
    ZoneDocument, to_json,
};

/// Every figure of set-ups and scans: what, where, value, half-width, unit in its name.
pub fn csv(m: &Material) -> Result<Vec<u8>, ReportTrouble> {
    let written = |cause: csv::Error| ReportTrouble::Written(cause.to_string());
    let mut table = csv::Writer::from_writer(Vec::new());
    table
        .write_record(["set_up", "scan", "frame", "place", "figure", "value", "plus_minus", "bound", "basis"])
        .map_err(written)?;
    for set_up in &m.verdict.set_ups {
        for figure in &set_up.figures {
            let (value, plus_minus) = (figure.figure.value.to_string(), figure.figure.plus_minus.to_string());
            let row =
                [&set_up.name, "", "", &figure.place, &figure.what, &value, &plus_minus, &figure.bound, &figure.basis];
            table.write_record(row).map_err(written)?;
        }
    }
    let foreseen = m.verdict.foreseen.iter().flat_map(|foreseen| &foreseen.set_ups);
    for (set_up, figure) in foreseen.flat_map(|set_up| set_up.figures.iter().map(move |figure| (set_up, figure))) {
        let (value, plus_minus) = (figure.figure.value.to_string(), figure.figure.plus_minus.to_string());
        // Never one basis with what was measured, nor with what the kit's own figures give.
        let basis = if figure.place.is_empty() { "predicted" } else { "predicted by tracing a form, not the lens" };
        let row = [&set_up.name, "", "", &figure.place, &figure.what, &value, &plus_minus, &figure.bound, basis];
        table.write_record(row).map_err(written)?;
    }
    for scanned in &m.scans {
        for [place, what, value, plus_minus] in scanned.whole.iter().flat_map(whole_rows) {
            let frame = scanned.frame.as_ref().map_or(String::new(), |frame| frame.number.to_string());
            let row = ["", &scanned.scan.file_name, &frame, &place, &what, &value, &plus_minus, "", "measured"];
            table.write_record(row).map_err(written)?;
        }
        let frame = scanned.frame.as_ref().map_or(String::new(), |frame| frame.number.to_string());
        for (label, edge, _) in &scanned.edges {
            let Some(channel) = edge.main_channel() else { continue };
            let half = channel.mtf50_cy_px;
            let scales = [
                ("half of the contrast left at, cycles per pixel", Some(1.0)),
                ("half of the contrast left at, lp/mm on film", scanned.scan.pitch_um.map(|um| 1000.0 / um)),
                ("half of the contrast left at, lp/mm on the subject", scanned.px_per_mm.map(|(px, _)| px)),
            ];
            for (what, factor) in scales {
                let (Some(half), Some(factor)) = (half, factor) else { continue };
                let (value, plus) = (
                    (half * factor).to_string(),
                    channel.mtf50_plus_minus.map_or(String::new(), |u| (u * factor).to_string()),
                );
                table
                    .write_record(["", &scanned.scan.file_name, &frame, label, what, &value, &plus, "", "measured"])
                    .map_err(written)?;
            }
        }
    }
    table.into_inner().map_err(|error| ReportTrouble::Written(error.to_string()))
}

/// Place, figure, value, half-width.
type FigureRow = [String; 4];

fn figure_row(place: String, what: &str, found: Measured) -> FigureRow {
    [place, what.to_owned(), found.value.to_string(), found.plus_minus.to_string()]
}

/// Sharpness of a whole frame by zone and way, and its colour fringing by distance.
fn whole_rows(document: &FrameDocument) -> Vec<FigureRow> {
    let fringes = document.fringing.iter().flat_map(fringe_rows);
    document.zones.iter().flat_map(zone_rows).chain(fringes).collect()
}

fn zone_rows(zone: &ZoneDocument) -> Vec<FigureRow> {
    let of_way = |(way, found): (&String, &SharpnessDocument)| {
        let figures = [
            ("half of the contrast left at, cycles per pixel", found.mtf50_cy_px),
            ("half of the contrast left at, lp/mm on film", found.mtf50_lp_mm),
            ("half of the contrast left at, lp/mm on the subject", found.mtf50_subject_lp_mm),
        ];
        let place = format!("{}, {way}", zone.zone);
        figures.map(|(what, found)| Some(figure_row(place.clone(), what, found?)))
    };
    zone.sharpness.iter().flat_map(of_way).flatten().collect()
}

fn fringe_rows(fringing: &FringingDocument) -> Vec<FigureRow> {
    let of_colour = |(colour, channel): (&String, &ChannelFringingDocument)| -> Vec<FigureRow> {
        let of_place = |fringe: &FringeAt| {
            let place = format!("{} mm from the middle", fringe.radius_mm);
            let outward = format!("{colour} beside green, outward, µm on film");
            let along = format!("{colour} beside green, along the circle, µm on film");
            [figure_row(place.clone(), &outward, fringe.radial_um), figure_row(place, &along, fringe.tangential_um)]
        };
        channel.field.iter().flat_map(of_place).collect()
    };
    fringing.channels.iter().flat_map(of_colour).collect()
}

/// What a measurement was, whole.
#[derive(Serialize)]
struct Kept {
    scan: String,
    label: String,
    taken: String,
    made_by: String,
    settings: Value,
    place: Value,
    result: Value,
}

/// All documents of a report in one: job, frames, scans, measurements as they were kept, trials, verdict.
pub fn json(m: &Material, made_on: Option<String>) -> Result<String, ReportTrouble> {
    let text = |text: &str| serde_json::from_str(text).unwrap_or_else(|_| Value::from(text));
    let measurements: Vec<Kept> = m
        .scans
        .iter()
        .flat_map(|scanned| {
            scanned.measurements.iter().map(|kept| Kept {
                scan: scanned.scan.file_name.clone(),
                label: kept.label.clone(),
                taken: kept.created.clone(),
                made_by: kept.made_by.clone(),
                settings: text(&kept.settings),
                place: text(&kept.place),
                result: text(&kept.result),
            })
        })
        .collect();
    let frames: Vec<Value> = m.frames.iter().map(|frame| json!({
        "number": frame.number, "label": frame.label, "parts": frame.parts, "focus": frame.focus, "f_number": frame.f_number,
        "shutter_s": frame.shutter_s, "metered_s": frame.metered_s, "note": frame.note,
        "planned": frame.planned.as_ref().map(|plan| json!({
            "parts": plan.parts, "focus": plan.focus, "f_number": plan.f_number, "shutter_s": plan.shutter_s,
        })),
    })).collect();
    let scans: Vec<Value> = m.scans.iter().map(|scanned| json!({
        "file_name": scanned.scan.file_name, "frame": scanned.frame.as_ref().map(|frame| frame.number),
        "width_px": scanned.scan.width, "height_px": scanned.scan.height, "pitch_um": scanned.scan.pitch_um,
        "magnification": scanned.scan.magnification.map(|m| json!({ "value": m.value, "plus_minus": m.plus_minus, "from": m.from.word() })),
        "px_per_subject_mm": scanned.px_per_mm.map(|(px, u)| json!({ "value": px, "plus_minus": u })),
    })).collect();
    let kit: Vec<String> = m.kit.parts().iter().map(kit::Part::to_toml).collect();
    let document = json!({
        "made_by": MADE_BY,
        "made_on": made_on,
        "job": { "number": m.job.id.0, "title": m.job.title, "subject": m.job.subject, "subject_mm": m.job.subject_mm,
                 "fill": m.job.fill, "print_mm": m.job.print_mm, "criterion_lp_mm": m.job.criterion_lp_mm,
                 "contrast_needed": m.job.contrast_needed },
        "kit_file": kit.join("\n"),
        "frames": frames,
        "scans": scans,
        "measurements": measurements,
        "trials": m.trials.iter().map(|ended| &ended.outcome).collect::<Vec<_>>(),
        "decisions": m.decisions.iter().map(|d| json!({ "text": d.text, "created": d.created })).collect::<Vec<_>>(),
        "verdict": m.verdict,
    });
    to_json(&document).map_err(|cause| ReportTrouble::Written(cause.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::from_value;

    #[test]
    fn a_whole_frame_goes_out_by_zone_and_way_and_its_colour_by_distance() {
        let figure = |value: f64| json!({ "value": value, "plus_minus": value / 10.0 });
        let zone: ZoneDocument = from_value(json!({ "zone": "corner", "places": 4, "sharpness": { "sagittal": {
            "edges": 8, "mtf50_cy_px": figure(0.25), "mtf50_lp_mm": figure(25.0), "mtf50_subject_lp_mm": null,
            "mtf50_lw_ph": null, "mean_contrast_to_limit": null, "curve": [] } } }))
        .expect("a zone");
        let rows = zone_rows(&zone);
        // What is not known has no row.
        assert_eq!(rows.len(), 2);
        assert_eq!(rows[1], ["corner, sagittal", "half of the contrast left at, lp/mm on film", "25", "2.5"]);
        let fringe = json!({ "radius_mm": 20.5, "radial_um": figure(-4.0), "tangential_um": figure(1.0) });
        let channel = json!({ "field": [fringe], "shift_um": [figure(0.0), figure(0.0)],
            "residual_um": 0.1, "arrows": [] });
        let fringing = json!({ "channels": { "red": channel }, "zone_um": null, "warnings": [] });
        let rows = fringe_rows(&from_value(fringing).expect("fringing"));
        assert_eq!(rows[0], ["20.5 mm from the middle", "red beside green, outward, µm on film", "-4", "-0.4"]);
        assert_eq!(rows[1][1], "red beside green, along the circle, µm on film");
    }
}
