//! `closework target`

use super::args;
use super::error::CliError;
use super::text::Lines;
use crate::card;
use crate::documents::{TargetDocument, to_json};
use printing::Printed;
use std::io::Write;
use std::path::Path;
use target::{Card, Identity, Paper};

/// `a4` or `letter`.
pub fn paper(text: &str) -> Result<Paper, String> {
    card::paper(text).ok_or_else(|| format!("must be a4 or letter, not {}", super::values::shown(text)))
}

/// `random`, or five letters or digits.
pub fn identity(text: &str) -> Result<Identity, String> {
    if text == "random" {
        return Ok(card::random_identity());
    }
    card::identity(text)
        .ok_or_else(|| format!("must be five letters or digits, or random, not {}", super::values::shown(text)))
}

pub fn run(args: &args::Target) -> Result<String, CliError> {
    let card = Card::new(args.field_mm, args.identity)?;
    let printed = card::on_paper(&card, args.paper);
    let bytes = printed.document.to_pdf()?;
    write(&args.out, &bytes, args.force)?;
    if args.json {
        let file = args.out.display().to_string();
        return Ok(to_json(&TargetDocument::of(&card, &printed, args.paper, file))?);
    }
    Ok(words(&card, &printed, args))
}

/// Into a new file, unless what is there may be written over.
pub fn write(path: &Path, bytes: &[u8], force: bool) -> Result<(), CliError> {
    let opened = if force { std::fs::File::create(path) } else { std::fs::File::create_new(path) };
    let mut file = opened.map_err(|source| match source.kind() {
        std::io::ErrorKind::AlreadyExists => CliError::OutExists(path.into()),
        _ => CliError::OutRefused { path: path.into(), source },
    })?;
    let written = file.write_all(bytes).and_then(|()| file.sync_all());
    written.map_err(|source| CliError::OutRefused { path: path.into(), source })
}

fn words(card: &Card, printed: &Printed, args: &args::Target) -> String {
    let mut lines = Lines::default();
    let [width, height] = card.field_mm;
    let pages = printed.document.pages.len();
    lines.add("field", format!("{width:.1} × {height:.1} mm"));
    lines.add("print", args.identity);
    lines.add("written to", format!("{} ({pages} {})", args.out.display(), if pages == 1 { "page" } else { "pages" }));
    for (sheet, placed) in card.sheets.iter().zip(&printed.placed) {
        let [w, h] = sheet.size_mm;
        let strips = match placed.strips_page {
            Some(page) if page != placed.page => format!(", its strips on page {page}"),
            _ => String::new(),
        };
        let label = format!("sheet “{}”", sheet.part.name());
        lines.add(&label, format!("{w:.1} × {h:.1} mm on page {}{strips}", placed.page));
    }
    lines.note("print at 100 %, no fitting; the line at the head of the page must measure 100.0 mm");
    card::notes(card).iter().for_each(|sentence| {
        lines.note(sentence);
    });
    lines.done()
}
