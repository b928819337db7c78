//! `closework measure edge` and `closework measure scale`

use super::args;
use super::error::CliError;
use super::text::{Lines, with_unit};
use crate::documents::{Circumstances, EdgeDocument, ScaleDocument, Sizes, around_line, to_json};
use imaging::{Reading, Scan, ToneChoice};
use measure::{EdgeOptions, ScaleOptions};
use planes::Region;

fn sentences(remarks: &[imaging::Remark]) -> Vec<String> {
    remarks.iter().map(ToString::to_string).collect()
}

fn read(scan: &mut Scan, region: Region, tone: ToneChoice) -> Result<Reading, CliError> {
    let (width, height) = (scan.info().width, scan.info().height);
    if !region.lies_within(width, height) {
        let Region { x, y, width: w, height: h } = region;
        let what = format!("the region {x},{y},{w},{h}");
        return Err(CliError::Outside { path: scan.path().into(), what, option: "--roi", width, height });
    }
    Ok(scan.read_linear(region, tone)?)
}

pub fn edge(args: &args::Edge) -> Result<String, CliError> {
    let sizes = Sizes { pitch_um: args.pitch_um, magnification: args.magnification };
    let mut scan = Scan::open(&args.image)?;
    let reading = read(&mut scan, args.roi.0, args.transfer.0)?;
    let report = measure::edge(&reading.picture, &EdgeOptions::default())
        .map_err(|source| CliError::Edge { path: args.image.clone(), source })?;
    let around = Circumstances {
        corner: (args.roi.0.x, args.roi.0.y),
        sizes,
        transfer: reading.tone.label(),
        about_file: sentences(&reading.remarks),
    };
    let document = EdgeDocument::of(&report, around);
    if args.json { Ok(to_json(&document)?) } else { Ok(edge_words(&document)) }
}

fn edge_words(document: &EdgeDocument) -> String {
    let mut lines = Lines::default();
    lines.add("angle", with_unit(document.angle_deg, None, "degrees"));
    for (name, channel) in &document.channels {
        let half = match channel.mtf50_cy_px {
            None => "not measured".into(),
            Some(value) => with_unit(value, channel.mtf50_plus_minus, "cycles/pixel"),
        };
        lines.add(&format!("{name}: half contrast at"), half);
        if let Some(on_film) = channel.mtf50_cy_mm {
            lines.add("  on film", with_unit(on_film, None, "lp/mm"));
        }
        if let Some(on_subject) = channel.mtf50_subject_cy_mm {
            lines.add("  on the subject", with_unit(on_subject, None, "lp/mm"));
        }
        let tenth = channel.mtf10_cy_px.map_or("not measured".into(), |f| with_unit(f, None, "cycles/pixel"));
        lines.add("  a tenth at", tenth);
        lines.add("  rise 10 to 90 %", with_unit(channel.rise_10_90_px, None, "pixels"));
    }
    for (name, shift) in &document.displacement_px {
        let half = document.displacement_plus_minus_px.get(name).copied();
        lines.add(&format!("{name} against green"), with_unit(*shift, half, "pixels"));
    }
    lines.add("contrast", with_unit(document.contrast, None, ""));
    lines.add("clipped samples", crate::web::fmt::percent(document.clipped_fraction));
    lines.add("numbers to light by", &document.transfer);
    for warning in &document.warnings {
        lines.note(warning);
    }
    lines.done()
}

pub fn scale(args: &args::Scale) -> Result<String, CliError> {
    let pitch_um = args.pitch_um;
    let mut scan = Scan::open(&args.image)?;
    let (from, to) = ((args.from.0, args.from.1), (args.to.0, args.to.1));
    let region = around_line(from, to, (scan.info().width, scan.info().height)).ok_or_else(|| outside(&scan, args))?;
    let reading = read(&mut scan, region, args.transfer.0)?;
    let in_region = |(x, y): (f64, f64)| (x - f64::from(region.x), y - f64::from(region.y));
    let options = ScaleOptions { from: in_region(from), to: in_region(to), tick_mm: args.tick_mm, pitch_um };
    let report = measure::scale(&reading.picture, &options)
        .map_err(|source| CliError::Scale { path: args.image.clone(), source })?;
    let document = ScaleDocument::of(&report, (region.x, region.y), reading.tone.label(), sentences(&reading.remarks));
    if args.json { Ok(to_json(&document)?) } else { Ok(scale_words(&document)) }
}

fn outside(scan: &Scan, args: &args::Scale) -> CliError {
    let (from, to) = (args.from, args.to);
    let what = format!("the line from {},{} to {},{}", from.0, from.1, to.0, to.1);
    let (width, height) = (scan.info().width, scan.info().height);
    CliError::Outside { path: scan.path().into(), what, option: "--from and --to", width, height }
}

fn scale_words(document: &ScaleDocument) -> String {
    let mut lines = Lines::default();
    lines.add("on the subject", with_unit(document.px_per_mm, Some(document.plus_minus), "pixels/mm"));
    lines.add("from tick to tick", with_unit(document.px_per_tick, None, "pixels"));
    lines.add("ticks", document.ticks);
    match document.magnification {
        Some(m) => {
            lines.add("magnification", with_unit(m, document.magnification_plus_minus, ""));
            lines.add("  as a ratio", crate::web::fmt::ratio(m));
        }
        None => {
            lines.note("give --pitch-um for the magnification");
        }
    }
    lines.add("numbers to light by", &document.transfer);
    for warning in &document.warnings {
        lines.note(warning);
    }
    lines.done()
}
