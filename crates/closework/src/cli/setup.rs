//! `closework setup`

use super::args;
use super::error::CliError;
use super::text::Lines;
use crate::documents::{SetupDocument, to_json};
use crate::web::fmt;
use kit::{Kit, SetupRequest};
use optics::{Checked, Figure, Simulation};
use std::path::Path;

/// The kit in a file.
pub fn read_kit(path: &Path) -> Result<Kit, CliError> {
    let text = std::fs::read_to_string(path).map_err(|source| match source.kind() {
        std::io::ErrorKind::InvalidData => CliError::KitNotText(path.into()),
        _ => CliError::KitUnreadable { path: path.into(), source },
    })?;
    Kit::parse(&text).map_err(|source| CliError::Kit { path: path.into(), source: Box::new(source) })
}

/// A set-up as asked for on the command line.
pub fn request(train: &args::Train, f_number: Option<f64>, coc_mm: Option<f64>) -> SetupRequest {
    let parts = train.parts.iter().map(|id| id.trim().to_string()).collect();
    SetupRequest { parts, focus: train.focus, f_number, coc_mm }
}

pub fn run(args: &args::Setup) -> Result<String, CliError> {
    let path = &args.train.kit;
    let kit = read_kit(path)?;
    let request = request(&args.train, args.f_number, args.coc_mm);
    let setup = kit::Setup::resolve(&kit, &request).map_err(CliError::setup(path))?;
    let report = setup.report().map_err(CliError::setup(path))?;
    // Some tens of thousands of set-ups are computed: only where first order fails.
    let checked = if report.steep.is_empty() {
        Vec::new()
    } else {
        setup.drawn(&Simulation::default()).map_err(CliError::setup(path))?
    };
    if args.json {
        Ok(to_json(&SetupDocument::from(&report).with_simulated(&checked))?)
    } else {
        Ok(words(&report, &checked))
    }
}

fn words(report: &kit::Report, checked: &[(Figure, Checked)]) -> String {
    let mut lines = Lines::default();
    for figure in Figure::ALL {
        lines.figure(figure.label(), report.figures.get(figure), figure.unit());
        if figure == Figure::Magnification {
            let m = report.figures.get(figure).map_or(0.0, |m| m.value);
            lines.add("ratio", fmt::ratio(m));
        }
    }
    lines.add("light limited by", &report.limited_by);
    for (figure, checked) in checked.iter().filter(|(_, checked)| !checked.first_order_holds()) {
        let end = |end: f64| if end.is_finite() { fmt::figure(end, 3) } else { "infinity".into() };
        let Some((low, high)) = checked.interval() else { continue };
        let high = if checked.drawn.is_some_and(|drawn| drawn.is_open()) { f64::INFINITY } else { high };
        lines.note(format!(
            "{}: the doubt in the kit is too large for a plain ±; by simulation 95 % lie between {} and {}{}",
            figure.label(),
            end(low),
            end(high),
            if figure.unit().is_empty() { String::new() } else { format!(" {}", figure.unit()) }
        ));
    }
    if !report.calibrated.is_empty() {
        lines.add("calibrated", report.calibrated.join(", "));
    }
    if !report.assumed.is_empty() {
        lines.add("assumed", report.assumed.join(", "));
    }
    if !report.calibrated.is_empty() {
        lines.add("calibrated", report.calibrated.join(", "));
    }
    for warning in &report.warnings {
        lines.note(warning);
    }
    lines.done()
}
