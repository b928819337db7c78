//! `films --json`

use film::{Film, Filter, FilterTable, Form, Lamp, Law, Row, Seen, Source, Tone};
use kit::ChosenFilm;
use serde::Serialize;

/// `films --json`
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FilmsDocument {
    films: Vec<FilmDocument>,
    filter_tables: Vec<FilterTableDocument>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct FilmDocument {
    id: String,
    name: String,
    maker: String,
    kind: Option<&'static str>,
    speed: Option<f64>,
    rms_granularity: Option<f64>,
    of_kit: bool,
    shadows_published: bool,
    /// The one that is used first.
    laws: Vec<LawDocument>,
    note: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct SourceDocument {
    by: &'static str,
    document: String,
    date: String,
    page: Option<String>,
    seen: &'static str,
    standing: &'static str,
    note: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct LawDocument {
    used: bool,
    form: &'static str,
    exponent: Option<f64>,
    from_s: Option<f64>,
    factor: Option<f64>,
    rows: Option<Vec<RowDocument>>,
    source: SourceDocument,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct RowDocument {
    metered_s: f64,
    /// As printed, in stops.
    stops: Option<f64>,
    time_s: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct FilterTableDocument {
    source: SourceDocument,
    films: Vec<String>,
    filters: Vec<FilterDocument>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct FilterDocument {
    id: String,
    name: String,
    daylight: TakenDocument,
    tungsten: TakenDocument,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct TakenDocument {
    stops: f64,
    factor: f64,
}

impl FilmsDocument {
    /// The films and tables of filters.
    pub fn of(films: &[ChosenFilm], tables: &[FilterTable]) -> Self {
        Self { films: films.iter().map(film).collect(), filter_tables: tables.iter().map(table).collect() }
    }
}

fn film(chosen: &ChosenFilm) -> FilmDocument {
    let film = &chosen.film;
    let used = film.law();
    let mut laws: Vec<_> = film.laws.iter().map(|law| document(law, used == Some(law))).collect();
    laws.sort_by_key(|law| !law.used);
    FilmDocument {
        id: film.id.clone(),
        name: film.name.clone(),
        maker: film.maker.clone(),
        kind: film.tone.map(kind),
        speed: film.speed,
        rms_granularity: grain(film),
        of_kit: chosen.of_kit,
        shadows_published: chosen.shadows,
        laws,
        note: film.note.clone(),
    }
}

fn grain(film: &Film) -> Option<f64> {
    film.structure.as_ref().map(|structure| structure.rms_granularity)
}

fn kind(tone: Tone) -> &'static str {
    match tone {
        Tone::Negative => "negative",
        Tone::Reversal => "reversal",
    }
}

fn document(law: &Law, used: bool) -> LawDocument {
    let bare = LawDocument {
        used,
        form: "table",
        exponent: None,
        from_s: None,
        factor: None,
        rows: None,
        source: source(&law.source),
    };
    match &law.form {
        Form::Power { exponent, from_s } => {
            LawDocument { form: "power", exponent: Some(*exponent), from_s: Some(*from_s), ..bare }
        }
        Form::Added { factor, exponent } => {
            LawDocument { form: "added", exponent: Some(*exponent), factor: Some(*factor), ..bare }
        }
        Form::Table(table) => LawDocument { rows: Some(table.rows().iter().map(row).collect()), ..bare },
    }
}

fn row(row: &Row) -> RowDocument {
    RowDocument { metered_s: row.metered_s, stops: row.stops.as_ref().map(|stops| stops.value), time_s: row.time_s }
}

fn source(source: &Source) -> SourceDocument {
    SourceDocument {
        by: match source.by {
            film::By::Maker => "maker",
            film::By::Independent => "independent",
            film::By::Own => "own",
        },
        document: source.document.clone(),
        date: source.date.clone(),
        page: source.page.clone(),
        seen: if source.seen == Seen::Print { "print" } else { "copy" },
        standing: source.standing(),
        note: source.note.clone(),
    }
}

fn table(table: &FilterTable) -> FilterTableDocument {
    let taken = |filter: &Filter, lamp| {
        let taken = filter.taken(lamp);
        TakenDocument { stops: taken.stops.value, factor: taken.factor }
    };
    let filter = |filter: &Filter| FilterDocument {
        id: filter.id.clone(),
        name: filter.name.clone(),
        daylight: taken(filter, Lamp::Daylight),
        tungsten: taken(filter, Lamp::Tungsten),
    };
    FilterTableDocument {
        source: source(&table.source),
        films: table.films.clone(),
        filters: table.filters.iter().map(filter).collect(),
    }
}
