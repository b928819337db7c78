//! `closework bench measured` and `closework bench fit`

use super::args;
use super::error::CliError;
use super::records::existing;
use super::text::Lines;
use crate::bench::{
    Fit, MeasuredFrame, Way, design_of, fit, measured_frames, not_yours, off_by_words, taken_with, unheard,
};
use crate::documents::{BenchFitDocument, BenchMeasuredDocument, to_json};
use crate::records::Known;
use crate::web::fmt;
use crate::web::kit_book::read_kit;
use kit::Kit;
use notebook::Notebook;

fn kit_in(book: &Notebook) -> Result<Kit, CliError> {
    read_kit(book).map_err(|error| CliError::KitInNotebook(error.what().to_owned()))
}

/// A frame with its prediction, or why there is none.
type Told = (MeasuredFrame, Result<MeasuredFrame, String>);

pub fn measured(args: &args::BenchMeasured) -> Result<String, CliError> {
    let book = existing(&args.notebook)?;
    let kit = kit_in(&book)?;
    if let Some(job) = args.job.filter(|job| !matches!(book.job(*job), Ok(Some(_)))) {
        return Err(Known::not_found(&book, job)?.into());
    }
    let frames =
        measured_frames(&book, |_| true)?.into_iter().filter(|frame| args.job.is_none_or(|job| job == frame.job));
    let told: Vec<Told> = frames
        .map(|frame| {
            let predicted = frame.predicted(&kit, &unheard).map_err(|why| why.to_string());
            (frame, predicted)
        })
        .collect();
    let lenses =
        kit.of_kind(kit::Kind::Lens).filter(|lens| told.iter().any(|(f, _)| taken_with(&f.request.parts, lens.id())));
    let designs: Vec<_> = lenses.filter_map(|lens| design_of(&kit, lens).ok()).collect();
    let label = not_yours(&designs);
    if args.json {
        return Ok(to_json(&BenchMeasuredDocument::of(&told, label))?);
    }
    if told.is_empty() {
        return Ok(
            "No frame can be compared yet: scan one, say which frame it shows, and measure the whole frame.\n".into()
        );
    }
    let mut lines = Lines::default();
    for (frame, predicted) in &told {
        match predicted {
            Err(why) => drop(lines.add(&frame.name, format!("cannot be predicted: {why}"))),
            Ok(predicted) => of_frame(&mut lines, predicted),
        }
    }
    lines.note(&label);
    lines
        .note("shares of the middle's contrast: film and scanner are in the scan and not in the rays, and fall out so");
    Ok(lines.done())
}

fn of_frame(lines: &mut Lines, frame: &MeasuredFrame) {
    let off = frame.off_by().map_or("too little contrast in the middle to compare by".into(), |off| {
        format!("off by {}", off_by_words(off))
    });
    lines.add(&frame.name, off);
    for share in frame.shares() {
        let way = if share.way == Way::Both { String::new() } else { format!(" {}", share.way.word()) };
        lines.add(
            "",
            format!(
                "{}{way}, {} lp/mm: measured {}, predicted {:.2}",
                share.zone,
                share.cycles_per_mm,
                fmt::measured(share.measured, Some(share.plus_minus)),
                share.predicted
            ),
        );
    }
}

pub fn best(args: &args::BenchFit) -> Result<String, CliError> {
    let book = existing(&args.notebook)?;
    let fits = fit(
        &kit_in(&book)?,
        args.lens.trim(),
        &measured_frames(&book, |frame| taken_with(&frame.parts, args.lens.trim()))?,
        &unheard,
    )?;
    if args.json { Ok(to_json(&BenchFitDocument::of(args.lens.trim(), &fits))?) } else { Ok(ranked(&fits)) }
}

fn ranked(fits: &[Fit]) -> String {
    let mut lines = Lines::default();
    for fit in fits {
        let told = match &fit.off_by {
            Ok(off) => format!("off by {}", off_by_words(*off)),
            Err(why) => why.clone(),
        };
        lines.add(fit.design.key(), if fit.chosen { format!("{told} (stands for it now)") } else { told });
    }
    lines.note("nothing was kept: choose a form in the kit (field design_form) or on the bench's page");
    lines.note(not_yours(fits.iter().map(|fit| &fit.design)));
    lines.done()
}
