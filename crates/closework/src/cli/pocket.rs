//! `closework pocket`

use super::args;
use super::error::CliError;
use super::setup::read_kit;
use super::target::write;
use super::text::Lines;
use crate::documents::{PocketDocument, to_json};
use crate::pocket::{self, Correction, FINE_ROWS, Paper, PocketCard, ROWS, card, on_paper, on_phone};
use crate::web::fmt;
use kit::{Kit, SetupRequest};

/// `a6`, `a5` or `a4`.
pub fn paper(text: &str) -> Result<Paper, String> {
    Paper::of(text).ok_or_else(|| format!("must be a6, a5 or a4, not {}", super::values::shown(text)))
}

pub fn run(args: &args::Pocket) -> Result<String, CliError> {
    let phone = match args.out.extension().and_then(|end| end.to_str()).map(str::to_lowercase).as_deref() {
        Some("html") => true,
        Some("pdf") => false,
        _ => return Err(CliError::PocketOut(args.out.clone())),
    };
    let kit = read_kit(&args.kit)?;
    let rows = if phone { FINE_ROWS } else { ROWS };
    let cards: Vec<PocketCard> =
        args.set_ups.iter().map(|parts| one(args, &kit, parts, rows)).collect::<Result<_, _>>()?;
    let date = crate::card::today();
    let film = args.film.as_deref().map(|id| kit.film(id.trim())).transpose()?.map(|chosen| chosen.film);
    if let Some(film) = film.as_ref().filter(|film| film.law().is_none()) {
        return Err(CliError::FilmWithoutLaw(film.full_name()));
    }
    let bytes = if phone {
        on_phone(&cards, film.as_ref().and_then(Correction::on_phone).as_ref(), date).into_bytes()
    } else {
        on_paper(&cards, film.as_ref().and_then(Correction::on_paper).as_ref(), args.paper, date).to_pdf()?
    };
    write(&args.out, &bytes, args.force)?;
    if args.json {
        return Ok(to_json(&PocketDocument::of(&cards, args.out.display().to_string()))?);
    }
    Ok(words(&cards, args))
}

fn one(args: &args::Pocket, kit: &Kit, parts: &str, rows: usize) -> Result<PocketCard, CliError> {
    let request = SetupRequest {
        parts: parts.split(',').map(|id| id.trim().to_owned()).filter(|id| !id.is_empty()).collect(),
        focus: args.focus,
        f_number: None,
        coc_mm: args.coc_mm,
    };
    card(kit, &request, &args.f_numbers, rows).map_err(|source: pocket::PocketError| CliError::Pocket {
        path: args.kit.clone(),
        set_up: parts.to_owned(),
        source: Box::new(source),
    })
}

fn words(cards: &[PocketCard], args: &args::Pocket) -> String {
    let mut lines = Lines::default();
    for card in cards {
        let size = |row: Option<&pocket::Row>| row.map_or("1:∞".into(), |row| fmt::ratio(row.magnification.value));
        lines.add("card", &card.name);
        lines.add(
            "sizes",
            format!("{} to {} in {} rows", size(card.rows.first()), size(card.rows.last()), card.rows.len()),
        );
        lines.note(card.doubts_in_words());
        card.warnings.iter().for_each(|warning| {
            lines.note(warning);
        });
    }
    lines.add("written to", args.out.display());
    lines.done()
}
