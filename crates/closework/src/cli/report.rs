//! `closework report`

use super::args;
use super::error::CliError;
use super::records::existing;
use super::target::write;
use super::text::Lines;
use crate::report::{Files, ReportTrouble, file_stem, files, read};
use crate::web::fmt;

pub fn run(args: &args::Report) -> Result<String, CliError> {
    let book = existing(&args.of.notebook)?;
    let path = args.of.notebook.clone().map_or_else(super::serve::default_notebook, Ok)?;
    let beside = path.parent().map(std::path::Path::to_owned).unwrap_or_default();
    let trouble = |source: ReportTrouble| match source {
        ReportTrouble::Verdict(verdict) => CliError::Verdict(verdict),
        other => CliError::Report(Box::new(other)),
    };
    let mut material = read(&book, args.of.job, &beside.join("scans")).map_err(trouble)?;
    material.foresee();
    let Files { pdf, html, csv, json } = files(&material, crate::card::today(), &|_| true).map_err(trouble)?;
    let refused = |source| CliError::OutRefused { path: args.out.clone(), source };
    std::fs::create_dir_all(&args.out).map_err(refused)?;
    let mut lines = Lines::default();
    let stem = file_stem(args.of.job);
    for (ending, bytes) in [("pdf", pdf), ("html", html.into_bytes()), ("csv", csv), ("json", json.into_bytes())] {
        let path = args.out.join(format!("{stem}.{ending}"));
        write(&path, &bytes, args.force)?;
        lines.add("written to", format!("{} ({})", path.display(), fmt::bytes(bytes.len() as u64)));
    }
    Ok(lines.done())
}
