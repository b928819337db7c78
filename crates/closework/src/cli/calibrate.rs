//! `closework calibrate`

use super::args;
use super::error::CliError;
use super::setup::read_kit;
use super::text::{Lines, with_unit};
use crate::calibrating::{Given, LensFound, PowerFound, Told, Whole, whole};
use crate::documents::{CalibrateDocument, to_json};
use crate::web::fmt;
use calibration::{ChiSquare, Residual, Step};
use kit::Kit;
use std::io::Write;
use std::path::Path;

pub fn run(args: &args::Calibrate) -> Result<String, CliError> {
    let kit = read_kit(&args.kit)?;
    let given = read_given(&args.from)?;
    let found = whole(&kit, &given, args.lens.as_deref()).map_err(CliError::calibrate(&args.from))?;
    if let Some(path) = &args.save {
        save(path, &args.kit, &found, &kit)?;
    }
    if args.json {
        let saved = args.save.as_ref().map(|path| path.display().to_string());
        return Ok(to_json(&CalibrateDocument::of(&found, saved))?);
    }
    let mut text = words(&found);
    if let Some(path) = &args.save {
        text += &format!("saved to {}: set-ups from that kit use the calibrated figures\n", path.display());
    }
    Ok(text)
}

fn read_given(path: &Path) -> Result<Given, CliError> {
    let text = std::fs::read_to_string(path).map_err(|source| match source.kind() {
        std::io::ErrorKind::InvalidData => CliError::CalibratingNotText(path.into()),
        _ => CliError::CalibratingUnreadable { path: path.into(), source },
    })?;
    Given::parse(&text).map_err(|source| CliError::Calibrating { path: path.into(), source: Box::new(source) })
}

/// Into a new file: what is there stays as it is.
fn save(path: &Path, old: &Path, found: &Whole, kit: &Kit) -> Result<(), CliError> {
    let unkept = |why| CliError::NotKept { path: old.into(), why };
    let text = found.into_kit(kit).map_err(unkept)?.to_toml();
    let mut file = std::fs::File::create_new(path).map_err(|source| match source.kind() {
        std::io::ErrorKind::AlreadyExists => CliError::SaveExists(path.into()),
        _ => CliError::SaveRefused { path: path.into(), source },
    })?;
    let written = file.write_all(text.as_bytes()).and_then(|()| file.sync_all());
    written.map_err(|source| CliError::SaveRefused { path: path.into(), source })
}

fn words(found: &Whole) -> String {
    let mut text = String::new();
    for lens in &found.lenses {
        text += &about_lens(lens);
    }
    for power in &found.close_ups {
        text += &about_power(power);
    }
    if !found.usual.is_empty() {
        text += "trusted, where the file states nothing else (95 %):\n";
        found.usual.iter().for_each(|sentence| text += &format!("  {sentence}\n"));
    }
    text
}

/// The figures, each beside what is known without calibration.
fn figures(lines: &mut Lines, told: &[Told]) {
    for told in told {
        let found = with_unit(told.found.value, told.found.half_width(), told.unit);
        let beside = told.marked.map(|marked| {
            let figure = with_unit(marked.figure.value, marked.figure.half_width(), told.unit);
            format!("   ({}: {figure})", marked.origin.word())
        });
        lines.add(told.label, found + &beside.unwrap_or_default());
    }
    for told in told.iter().filter(|told| told.worse()) {
        lines.note(format!(
            "the {} is told worse by these frames than by its marking: the marking stays in use; more or better frames would tell it",
            told.label
        ));
    }
}

fn agreement(chi_square: ChiSquare) -> String {
    let ChiSquare { value, degrees, probability } = chi_square;
    match probability {
        None => "cannot be judged: as many figures as readings".into(),
        Some(chance) => format!(
            "chi-square {} of {degrees} {} of freedom, probability {}: {}",
            fmt::figure(value, 3),
            if degrees == 1 { "degree" } else { "degrees" },
            fmt::figure(chance, 2),
            if chi_square.consistent() {
                "as the stated uncertainties allow"
            } else {
                "beyond the stated uncertainties"
            }
        ),
    }
}

fn head(name: &str, id: &str) -> String {
    if name == id { format!("{id}\n") } else { format!("{id}: {name}\n") }
}

fn about_lens(lens: &LensFound) -> String {
    let mut lines = Lines::default();
    figures(&mut lines, &lens.told);
    if let Some(offset) = lens.offset() {
        lines.figure("infinity mark, forward of", Some(offset), "mm");
    }
    let mut text = head(&lens.name, &lens.id);
    if let Some(fit) = &lens.fit {
        lines.add("the readings agree", agreement(fit.solution.chi_square));
        text += &lines.done();
        text += &residuals(lens);
        text += &outliers(lens);
    } else {
        text += &lines.done();
    }
    lens.remarks().iter().for_each(|remark| text += &format!("* {remark}\n"));
    text + &worth(lens) + "\n"
}

fn row(label: &str, reading: &str, residual: &Residual, digits: i32, note: &str) -> String {
    let off =
        residual.studentised.map_or("nothing foretells it".into(), |far| format!("{far:+.1} standard uncertainties"));
    format!(
        "  {label:<24}  {reading:<13}  measured {:<8} fitted {:<8} {off}{note}\n",
        fmt::figure(residual.measured, digits),
        fmt::figure(residual.fitted, digits)
    )
}

fn residuals(lens: &LensFound) -> String {
    let mut text = "frame by frame:\n".to_owned();
    for frame in lens.fit.iter().flat_map(|fit| &fit.solution.frames) {
        let note = if frame.left_out { " (left out)" } else { "" };
        if let Some(m) = &frame.magnification {
            text += &row(&frame.id, "magnification", m, 4, note);
        }
        if let Some(distance) = &frame.distance {
            text += &row(&frame.id, "distance, mm", distance, 4, note);
        }
        if frame.magnification.is_none() && frame.distance.is_none() {
            text += &format!("  {:<24}  left out, and not foretold by the others\n", frame.id);
        }
    }
    text
}

fn outliers(lens: &LensFound) -> String {
    let Some(fit) = &lens.fit else { return String::new() };
    let mut text = String::new();
    for outlier in &fit.outliers {
        let done = if fit.outliers_left_out { "it was left out" } else { "it took part all the same" };
        text += &format!(
            "outlier: {} lies {:.1} standard uncertainties from what the others foretell; {done}\n",
            outlier.id, outlier.distance
        );
    }
    if let Some(other) = &fit.other {
        let focal = other.focal_length();
        let it = if fit.outliers.len() == 1 { "it" } else { "them" };
        let which = if fit.outliers_left_out { format!("with {it}") } else { format!("without {it}") };
        text +=
            &format!("    {which} the focal length would be {}\n", with_unit(focal.value, focal.half_width(), "mm"));
    }
    text
}

fn half_width(figure: Option<f64>) -> String {
    figure.map_or("-".into(), |half_width| format!("± {}", fmt::figure(half_width, 2)))
}

fn worth(lens: &LensFound) -> String {
    let Some(worth) = &lens.worth else { return String::new() };
    let mut text = "how many frames are worth taking (half-widths in mm):\n".to_owned();
    text += "  frames  focal length  travel    separation  with\n";
    let mut next = true;
    for step in &worth.steps {
        if step.to_take && std::mem::take(&mut next) {
            text += "  and if more were taken:\n";
        }
        text += &step_words(step);
    }
    if let Some(enough) = lens.enough() {
        text += &format!("  beyond {enough} each further frame betters the focal length by less than a tenth\n");
    }
    text
}

fn step_words(step: &Step) -> String {
    let [focal, travel, separation] = [step.focal_length, step.travel, step.separation].map(half_width);
    format!("  {:<6}  {focal:<12}  {travel:<8}  {separation:<10}  {}\n", step.frames, step.added)
}

fn about_power(power: &PowerFound) -> String {
    let mut lines = Lines::default();
    figures(&mut lines, &power.told);
    lines.add("measured on", &power.lens);
    lines.add("the pairs agree", agreement(power.fit.chi_square));
    let mut text = head(&power.name, &power.id) + &lines.done() + "pair by pair:\n";
    for (label, residual) in &power.fit.pairs {
        text += &row(label, "magnification", residual, 4, "");
    }
    power.fit.remarks.iter().for_each(|remark| text += &format!("* {remark}\n"));
    text + "\n"
}
