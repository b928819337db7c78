//! Films: the kit's own, with a person's own tests, and those that come with the program.

use crate::error::Problem;
use crate::part::{Kit, Part, nearest};
use crate::schema::Kind;
use film::{Film, Form, Law, Printed, Row, Source, Table, TableError, Tone, shipped};
use std::collections::BTreeMap;

/// A film as it is used.
#[derive(Debug, Clone, PartialEq)]
pub struct ChosenFilm {
    /// The film. A person's own test stands first among its laws; published ones beside it.
    pub film: Film,
    /// Whether it is one of the kit.
    pub of_kit: bool,
    /// Whether it stands in the place of a shipped film of the same id.
    pub shadows: bool,
}

/// No film of that id.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("there is no film \"{id}\"{}; {}", .other.map_or(String::new(), |kind| format!(" (the kit's part of that id is a {})", kind.spec().label)), offer(.nearest))]
pub struct NoSuchFilm {
    /// What was asked for.
    pub id: String,
    /// The kind of the part that has that id.
    pub other: Option<Kind>,
    /// Ids that are near, the nearest first.
    pub nearest: Vec<String>,
}

fn offer(nearest: &[String]) -> String {
    let named: Vec<_> = nearest.iter().map(|id| format!("\"{id}\"")).collect();
    match named.split_last() {
        None => "\"closework films\" lists those that there are".into(),
        Some((one, [])) => format!("did you mean {one}?"),
        Some((last, rest)) => format!("did you mean {} or {last}?", rest.join(", ")),
    }
}

impl Kit {
    /// The film of that id: the kit's, else the one that is shipped.
    pub fn film(&self, id: &str) -> Result<ChosenFilm, NoSuchFilm> {
        let part = self.part(id);
        if let Some(own) = part.filter(|part| part.kind() == Kind::Film) {
            return Ok(own.chosen_film());
        }
        let found = shipped().film(id).cloned();
        found.map(|film| ChosenFilm { film, of_kit: false, shadows: false }).ok_or_else(|| NoSuchFilm {
            id: id.into(),
            other: part.map(Part::kind),
            nearest: nearest_films(id, self),
        })
    }

    /// All films: the kit's first, then those that are shipped and not shadowed.
    pub fn films(&self) -> Vec<ChosenFilm> {
        let own = self.of_kind(Kind::Film).map(Part::chosen_film);
        let hidden = |id: &str| self.part(id).is_some_and(|part| part.kind() == Kind::Film);
        let published = shipped().films.iter().filter(|film| !hidden(&film.id));
        own.chain(published.map(|film| ChosenFilm { film: film.clone(), of_kit: false, shadows: false })).collect()
    }
}

fn nearest_films(id: &str, kit: &Kit) -> Vec<String> {
    let own = kit.of_kind(Kind::Film).map(Part::id);
    nearest(id, own.chain(shipped().films.iter().map(|film| film.id.as_str())), 3)
}

impl Part {
    fn chosen_film(&self) -> ChosenFilm {
        let published = shipped().film(self.words("published_as").unwrap_or(&self.id));
        let own = Film {
            id: self.id.clone(),
            name: self.name().to_owned(),
            maker: String::new(),
            tone: self.tone(),
            speed: self.number("speed"),
            structure: None,
            // A part that was let into the kit has passed this check.
            laws: self.own_law().ok().flatten().into_iter().collect(),
            note: self.words("notes").unwrap_or_default().to_owned(),
        };
        let film = published.map_or(own.clone(), |film| completed(own, film));
        ChosenFilm { film, of_kit: true, shadows: shipped().film(&self.id).is_some() }
    }

    fn tone(&self) -> Option<Tone> {
        match self.words("kind")? {
            "reversal" => Some(Tone::Reversal),
            _ => Some(Tone::Negative),
        }
    }

    fn points(&self, field: &str) -> &[(f64, f64)] {
        match self.value(field) {
            Some(crate::Value::Points(points)) => points,
            _ => &[],
        }
    }

    /// The person's own test, when there is one.
    fn own_law(&self) -> Result<Option<Law>, (&'static str, TableError)> {
        let (times, stops) = (self.points("times_s"), self.points("open_stops"));
        if times.is_empty() && stops.is_empty() {
            return Ok(None);
        }
        // Each column by itself first, so that a slip is told by its place in it.
        for (field, points) in [("times_s", times), ("open_stops", stops)] {
            if points.is_empty() {
                continue;
            }
            let rows = points.iter().map(|point| row(field, *point)).collect();
            Table::new(rows, shipped().no_loss_s.clone()).map_err(|error| (field, error))?;
        }
        let rows = merged(times, stops);
        let table = Table::new(rows, shipped().no_loss_s.clone()).map_err(|error| ("times_s", error))?;
        let source = Source::own(self.words("tested").unwrap_or_default(), "");
        Ok(Some(Law { form: Form::Table(table), source }))
    }

    /// What can be wrong with a film: the field to blame, and the problem.
    pub(crate) fn check_film(&self) -> Result<(), (&'static str, Problem)> {
        if self.kind != Kind::Film {
            return Ok(());
        }
        if let Some(named) = self.words("published_as").filter(|named| shipped().film(named).is_none()) {
            let near = nearest(named, shipped().films.iter().map(|film| film.id.as_str()), 3);
            return Err(("published_as", Problem::NotPublished(crate::parse::shown(named), offer(&near))));
        }
        self.own_law().map(|_| ()).map_err(|(field, error)| (field, Problem::NotATest(error)))
    }
}

fn row(field: &str, (metered_s, right): (f64, f64)) -> Row {
    match field {
        "times_s" => Row { metered_s, stops: None, time_s: Some(right) },
        _ => Row { metered_s, stops: Some(Printed::plain(right)), time_s: None },
    }
}

/// Both columns in one table; where both have a metered time they share its row.
fn merged(times: &[(f64, f64)], stops: &[(f64, f64)]) -> Vec<Row> {
    // Times above 0 are ordered as their bits are.
    let mut rows: BTreeMap<u64, Row> =
        times.iter().map(|&(t, right)| (t.to_bits(), row("times_s", (t, right)))).collect();
    for &(metered_s, right) in stops {
        let row = rows.entry(metered_s.to_bits()).or_insert(Row { metered_s, stops: None, time_s: None });
        row.stops = Some(Printed::plain(right));
    }
    rows.into_values().collect()
}

/// A film of the kit with what is published of it: beside its own test, and in the place of what the kit leaves open.
fn completed(own: Film, published: &Film) -> Film {
    Film {
        maker: published.maker.clone(),
        tone: own.tone.or(published.tone),
        speed: own.speed.or(published.speed),
        structure: published.structure.clone(),
        laws: own.laws.into_iter().chain(published.laws.iter().cloned()).collect(),
        ..own
    }
}
