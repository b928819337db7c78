//! `closework sidecars` and `closework frames`

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};

use super::args;
use super::error::CliError;
use super::text::Lines;
use crate::documents::{PaperDocument, SidecarDocument, SidecarsDocument, WrittenDocument, to_json};
use crate::records::beside::{Naming, Wanted, Written, plan};
use crate::records::paper::{self, Paper, PaperError, Preview};
use crate::records::{Known, table};
use crate::web::kit_book::read_kit;
use notebook::{JobId, Notebook};

/// A notebook that is there: reading from one that is not would begin it.
pub(super) fn existing(path: &Option<PathBuf>) -> Result<Notebook, CliError> {
    let path = path.clone().map_or_else(super::serve::default_notebook, Ok)?;
    if !path.exists() {
        return Err(CliError::NoSuchNotebook(path));
    }
    Ok(Notebook::open(&path)?)
}

fn known(book: &Notebook, job: JobId) -> Result<Known, CliError> {
    let kit = read_kit(book).map_err(|error| CliError::KitInNotebook(error.what().to_owned()))?;
    match Known::read(book, job, kit)? {
        Some(known) => Ok(known),
        None => Err(Known::not_found(book, job)?.into()),
    }
}

/// Sidecars of a job's scans, told or written.
pub fn sidecars(args: &args::Sidecars) -> Result<String, CliError> {
    let known = known(&existing(&args.of.notebook)?, args.of.job)?;
    let naming = if args.keep_ending { Naming::BehindEnding } else { Naming::default() };
    let mut wanted = Vec::new();
    let mut without_frame = Vec::new();
    for scan in &known.scans {
        match known.sidecar(scan) {
            Some(said) => {
                wanted.push(Wanted { scan: scan.file_name.clone(), bytes: scan.bytes, content: said.to_xmp() });
            }
            None => without_frame.push(scan.file_name.clone()),
        }
    }
    match &args.beside {
        None => told(&wanted, &without_frame, naming, args.json),
        Some(folder) if wanted.is_empty() => Err(CliError::NothingToTell(folder.clone(), without_frame.len())),
        Some(folder) => {
            let written = plan(folder, &wanted, naming)?.write()?;
            report(folder, written, without_frame, args.json)
        }
    }
}

/// Without a folder nothing is written: what would be.
fn told(wanted: &[Wanted], without_frame: &[String], naming: Naming, json: bool) -> Result<String, CliError> {
    if json {
        let one = |wanted: &Wanted| SidecarDocument {
            scan: wanted.scan.clone(),
            sidecar: naming.of(&wanted.scan),
            content: wanted.content.clone(),
        };
        let sidecars = wanted.iter().map(one).collect();
        return Ok(to_json(&SidecarsDocument { sidecars, without_frame: without_frame.to_vec() })?);
    }
    let mut lines = Lines::default();
    for wanted in wanted {
        lines.add(&wanted.scan, naming.of(&wanted.scan));
    }
    loose(&mut lines, without_frame);
    lines.note("nothing was written; --beside FOLDER writes them beside the scans in that folder");
    Ok(lines.done())
}

fn loose(lines: &mut Lines, without_frame: &[String]) {
    if !without_frame.is_empty() {
        lines.note(format!(
            "without a frame, so that nothing is known to write: {}; match them first",
            without_frame.join(", ")
        ));
    }
}

fn report(folder: &Path, written: Written, without_frame: Vec<String>, json: bool) -> Result<String, CliError> {
    let Written { new, renewed, unchanged, not_there } = written;
    if json {
        let folder = folder.display().to_string();
        return Ok(to_json(&WrittenDocument { folder, new, renewed, unchanged, not_there, without_frame })?);
    }
    let mut lines = Lines::default();
    for (label, names) in [("written", &new), ("written anew", &renewed), ("said the same already", &unchanged)] {
        if !names.is_empty() {
            lines.add(label, names.join(", "));
        }
    }
    if !not_there.is_empty() {
        lines.note(format!("not in {}: {}", folder.display(), not_there.join(", ")));
    }
    loose(&mut lines, &without_frame);
    Ok(lines.done())
}

/// The frames of a job as a table.
pub fn out(args: &args::OfJob) -> Result<String, CliError> {
    Ok(table::write(&known(&existing(&args.notebook)?, args.job)?))
}

/// A table to fill in.
pub fn template(args: &args::Template) -> Result<String, CliError> {
    let known = args.job.map(|job| known(&existing(&args.notebook)?, job)).transpose()?;
    Ok(table::template(known.as_ref()))
}

/// A log that was kept on paper.
pub fn read_in(args: &args::ReadIn) -> Result<String, CliError> {
    let told = |source: PaperError| CliError::Paper { path: args.table.clone(), source };
    // Read twice, and must not change in between: a copy without a name.
    let copy = copied(&args.table).map_err(|error| told(error.into()))?;
    let mut paper = Paper::open(copy).map_err(told)?;
    let mut book = existing(&args.of.notebook)?;
    let Known { job, kit, .. } = known(&book, args.of.job)?;
    let preview = if args.keep {
        paper::keep(&mut paper, &mut book, &job, &kit).map_err(told)?.preview
    } else {
        paper::check(&mut paper, &book, &job, &kit).map_err(told)?
    };
    if args.json {
        let remarks = paper.remarks();
        let document = PaperDocument {
            kept: args.keep,
            rows: preview.rows,
            new: preview.new,
            changed: preview.changed,
            same: preview.same,
            new_rolls: preview.new_rolls,
            changed_rolls: preview.changed_rolls,
            encoding: paper.encoding.name(),
            separator: paper.head.separator_name(),
            unknown_columns: paper.head.unknown,
            remarks,
        };
        return Ok(to_json(&document)?);
    }
    Ok(words(&paper, &preview, args.keep))
}

fn copied(path: &Path) -> io::Result<File> {
    let mut source = File::open(path)?;
    if source.metadata()?.is_dir() {
        return Err(io::ErrorKind::IsADirectory.into());
    }
    let mut copy = tempfile::tempfile()?;
    // One byte more than is read tells that it is too large.
    io::copy(&mut io::Read::take(&mut source, paper::MOST_BYTES + 1), &mut copy)?;
    Ok(copy)
}

fn words(paper: &Paper, preview: &Preview, kept: bool) -> String {
    let mut lines = Lines::default();
    lines.add("read as", format!("{}, cells between {}", paper.encoding.name(), paper.head.separator_name()));
    lines.add("rows", preview.rows);
    lines.add("new frames", preview.new);
    lines.add("changed frames", preview.changed);
    lines.add("already so", preview.same);
    for (label, rolls) in [("new rolls", &preview.new_rolls), ("changed rolls", &preview.changed_rolls)] {
        if !rolls.is_empty() {
            lines.add(label, rolls.join(", "));
        }
    }
    for remark in paper.remarks() {
        lines.note(remark);
    }
    lines.note(if kept { "all of it is kept" } else { "nothing is kept yet; --keep keeps it" });
    lines.done()
}
