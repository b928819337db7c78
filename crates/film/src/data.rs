//! The data file's schema: types that refuse what they do not know, and checks of what only several entries together can get wrong.

use crate::Stock;
use crate::error::DataError;
use crate::film::{Film, Structure, Tone};
use crate::filter::{Filter, FilterTable, Taken};
use crate::fraction::Printed;
use crate::law::{Form, Law};
use crate::source::{By, Seen, Source};
use crate::table::{Row, Table};
use serde::Deserialize;
use std::collections::BTreeSet;
use std::ops::RangeInclusive;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    general: General,
    law: Vec<LawEntry>,
    film: Vec<FilmEntry>,
    filter_table: Vec<FilterTableEntry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct General {
    no_loss_s: [f64; 2],
    document: String,
    date: String,
    page: Option<String>,
    seen: Seen,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LawEntry {
    id: String,
    by: By,
    document: String,
    date: String,
    page: Option<String>,
    seen: Seen,
    #[serde(default)]
    note: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FilmEntry {
    id: String,
    name: String,
    maker: String,
    kind: Tone,
    speed: Option<f64>,
    structure: Option<StructureEntry>,
    #[serde(default)]
    note: String,
    law: Vec<FormEntry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct StructureEntry {
    rms_granularity: f64,
    document: String,
    date: String,
    seen: Seen,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FormEntry {
    of: String,
    power: Option<PowerEntry>,
    added: Option<AddedEntry>,
    table: Option<Vec<RowEntry>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PowerEntry {
    exponent: f64,
    from_s: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AddedEntry {
    factor: f64,
    exponent: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RowEntry {
    metered_s: f64,
    stops: Option<String>,
    time_s: Option<f64>,
    #[serde(default)]
    none: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FilterTableEntry {
    document: String,
    date: String,
    page: Option<String>,
    seen: Seen,
    films: Vec<String>,
    filter: Vec<FilterEntry>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FilterEntry {
    id: String,
    name: String,
    daylight: TakenEntry,
    tungsten: TakenEntry,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TakenEntry {
    stops: String,
    factor: f64,
}

pub fn read(text: &str) -> Result<Stock, DataError> {
    let file: File = toml_edit::de::from_str(text).map_err(|error| DataError::Schema(error.to_string()))?;
    let General { no_loss_s: [from, to], document, date, page, seen } = file.general;
    if !(from > 0.0 && from < to && to.is_finite()) {
        return Err(wrong("general", "no_loss_s must be two rising times above 0".into()));
    }
    let general = source("general", Source { by: By::Maker, document, date, page, seen, note: String::new() })?;
    let laws = file.law.into_iter().map(law_source).collect::<Result<Vec<_>, _>>()?;
    unique("law", laws.iter().map(|(id, _)| id.as_str()))?;
    unique("film", file.film.iter().map(|film| film.id.as_str()))?;
    unused(&laws, &file.film)?;
    let films = file.film.into_iter().map(|entry| film(entry, &laws, from..=to)).collect::<Result<Vec<_>, _>>()?;
    let filters =
        file.filter_table.into_iter().map(|entry| filter_table(entry, &films)).collect::<Result<Vec<_>, _>>()?;
    unique("filter", filters.iter().flat_map(|table| table.filters.iter().map(|filter| filter.id.as_str())))?;
    Ok(Stock { films, filters, no_loss_s: from..=to, general })
}

fn wrong(entry: &str, what: String) -> DataError {
    DataError::Entry { entry: entry.into(), what }
}

/// The source itself when it says which document and when.
fn source(entry: &str, source: Source) -> Result<Source, DataError> {
    let blank = |text: &str| text.trim().is_empty();
    if blank(&source.document) || blank(&source.date) || source.page.as_deref().is_some_and(blank) {
        return Err(wrong(entry, "document, date and page may not be blank".into()));
    }
    Ok(source)
}

fn law_source(entry: LawEntry) -> Result<(String, Source), DataError> {
    let LawEntry { id, by, document, date, page, seen, note } = entry;
    if by == By::Own {
        return Err(wrong(&id, "a test of one's own belongs in the kit".into()));
    }
    let source = source(&id, Source { by, document, date, page, seen, note })?;
    Ok((checked_id(id)?, source))
}

fn checked_id(id: String) -> Result<String, DataError> {
    let fits = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    if id.is_empty() || !id.chars().all(fits) {
        return Err(wrong(&id, "an id holds lower-case letters, digits and dashes".into()));
    }
    Ok(id)
}

fn unique<'a>(what: &str, ids: impl Iterator<Item = &'a str>) -> Result<(), DataError> {
    let mut seen = BTreeSet::new();
    ids.into_iter().try_for_each(|id| match seen.insert(id) {
        true => Ok(()),
        false => Err(wrong(id, format!("there are two of this {what}"))),
    })
}

fn unused(laws: &[(String, Source)], films: &[FilmEntry]) -> Result<(), DataError> {
    let used = |id: &str| films.iter().any(|film| film.law.iter().any(|law| law.of == id));
    match laws.iter().find(|(id, _)| !used(id)) {
        Some((id, _)) => Err(wrong(id, "no film goes by this law".into())),
        None => Ok(()),
    }
}

fn film(entry: FilmEntry, laws: &[(String, Source)], no_loss_s: RangeInclusive<f64>) -> Result<Film, DataError> {
    let FilmEntry { id, name, maker, kind, speed, structure: grain, note, law: forms } = entry;
    let id = checked_id(id)?;
    if name.trim().is_empty() || forms.is_empty() {
        return Err(wrong(&id, "a film needs a name and at least one law".into()));
    }
    let speed = speed.map(|speed| positive(&id, "speed", speed)).transpose()?;
    let structure = grain.map(|found| structure(&id, found)).transpose()?;
    let laws = forms.into_iter().map(|form| law(&id, form, laws, no_loss_s.clone())).collect::<Result<Vec<_>, _>>()?;
    Ok(Film { id, name, maker, tone: Some(kind), speed, structure, laws, note })
}

fn positive(entry: &str, field: &str, number: f64) -> Result<f64, DataError> {
    if number.is_finite() && number > 0.0 { Ok(number) } else { Err(wrong(entry, format!("{field} must be above 0"))) }
}

fn structure(id: &str, entry: StructureEntry) -> Result<Structure, DataError> {
    let StructureEntry { rms_granularity, document, date, seen } = entry;
    let source = source(id, Source { by: By::Maker, document, date, page: None, seen, note: String::new() })?;
    Ok(Structure { rms_granularity: positive(id, "rms_granularity", rms_granularity)?, source })
}

fn law(
    id: &str,
    entry: FormEntry,
    laws: &[(String, Source)],
    no_loss_s: RangeInclusive<f64>,
) -> Result<Law, DataError> {
    let known = laws.iter().find(|(law, _)| *law == entry.of);
    let (_, source) = known.ok_or_else(|| wrong(id, format!("there is no law \"{}\"", entry.of)))?;
    let form = match (entry.power, entry.added, entry.table) {
        (Some(power), None, None) => {
            Form::Power { exponent: at_least_one(id, power.exponent)?, from_s: positive(id, "from_s", power.from_s)? }
        }
        (None, Some(added), None) => {
            Form::Added { factor: positive(id, "factor", added.factor)?, exponent: at_least_one(id, added.exponent)? }
        }
        (None, None, Some(rows)) => {
            let rows = rows.into_iter().map(|entry| row(id, entry)).collect::<Result<_, _>>()?;
            Form::Table(Table::new(rows, no_loss_s).map_err(|source| DataError::Table { film: id.into(), source })?)
        }
        _ => return Err(wrong(id, "a law is one of power, added and table".into())),
    };
    Ok(Law { form, source: source.clone() })
}

/// A smaller exponent would shorten exposures, or let them grow more slowly than the light falls.
fn at_least_one(id: &str, exponent: f64) -> Result<f64, DataError> {
    if exponent.is_finite() && exponent >= 1.0 {
        Ok(exponent)
    } else {
        Err(wrong(id, "an exponent or a factor is 1 or more".into()))
    }
}

fn row(id: &str, entry: RowEntry) -> Result<Row, DataError> {
    let RowEntry { metered_s, stops, time_s, none } = entry;
    if none != (stops.is_none() && time_s.is_none()) {
        return Err(wrong(id, format!("at {metered_s} s stands either none or a figure")));
    }
    if none {
        return Ok(Row {
            metered_s,
            stops: Some(Printed { value: 0.0, text: "none".into() }),
            time_s: Some(metered_s),
        });
    }
    let stops = stops.map(|text| printed(id, &text)).transpose()?;
    Ok(Row { metered_s, stops, time_s })
}

fn printed(id: &str, text: &str) -> Result<Printed, DataError> {
    Printed::read(text).ok_or_else(|| wrong(id, format!("\"{text}\" is no number of stops")))
}

fn filter_table(entry: FilterTableEntry, known: &[Film]) -> Result<FilterTable, DataError> {
    let FilterTableEntry { document, date, page, seen, films, filter: filters } = entry;
    let source = source("filter_table", Source { by: By::Maker, document, date, page, seen, note: String::new() })?;
    if let Some(id) = films.iter().find(|id| !known.iter().any(|film| film.id == **id)) {
        return Err(wrong(id, "the filter table names a film that is not there".into()));
    }
    let filters = filters.into_iter().map(filter).collect::<Result<Vec<_>, _>>()?;
    Ok(FilterTable { source, films, filters })
}

fn filter(entry: FilterEntry) -> Result<Filter, DataError> {
    let FilterEntry { id, name, daylight, tungsten } = entry;
    let taken = |taken: TakenEntry| {
        Ok::<_, DataError>(Taken { stops: printed(&id, &taken.stops)?, factor: at_least_one(&id, taken.factor)? })
    };
    let (daylight, tungsten) = (taken(daylight)?, taken(tungsten)?);
    Ok(Filter { id: checked_id(id)?, name, daylight, tungsten })
}
