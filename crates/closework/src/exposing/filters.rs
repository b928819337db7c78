//! Filters: by name from a film's sheet, by factor, by stops.

use exposure::ExposureError;
use film::{Lamp, shipped};
use kit::ChosenFilm;
use optics::Estimate;

/// What stands in front of the lens, as said.
#[derive(Debug, Clone, PartialEq)]
pub struct Filters {
    /// Ids of filters of the shipped table.
    pub named: Vec<String>,
    /// The light that they are used in.
    pub lamp: Lamp,
    /// Factors of filters of one's own.
    pub factors: Vec<f64>,
    /// Stops of filters of one's own, all together.
    pub stops: f64,
}

impl Default for Filters {
    fn default() -> Self {
        Self { named: Vec::new(), lamp: Lamp::Daylight, factors: Vec::new(), stops: 0.0 }
    }
}

/// One filter.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// What it is called.
    pub name: String,
    /// What it takes, stops; of a named one by its factor, as a time is sought.
    pub stops: Estimate,
    /// Its factor, as printed.
    pub factor: Option<f64>,
    /// What to open up by, as printed.
    pub printed: Option<String>,
    /// Where it stands.
    pub source: Option<String>,
}

/// All filters together.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// One by one.
    pub lines: Vec<Line>,
    /// Stops in all.
    pub stops: Estimate,
    /// What to know of the printed figures.
    pub remarks: Vec<String>,
}

/// A filter that cannot be.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FiltersError {
    /// No filter of that id.
    #[error("there is no filter \"{0}\"; there are {1}; for any other give its factor or its stops")]
    Unknown(String, String),
    /// A factor that gives light.
    #[error("a filter's factor must be 1 or more, not {0}")]
    Factor(f64),
    /// Stops that give light.
    #[error("{0}")]
    Stops(ExposureError),
}

/// Factors are printed to about a third of a stop: half of it (the shipped table agrees with its stops to a sixth).
const PRINTED_STOPS: f64 = 1.0 / 6.0;

/// A factor and the stops beside it that differ by more are told.
const COLUMNS_APART_STOPS: f64 = 1.0 / 6.0;

impl Filters {
    /// Each with what it takes. A time is multiplied by factors, so that the factor is counted where both are printed.
    pub fn taken(&self, film: Option<&ChosenFilm>) -> Result<Taken, FiltersError> {
        // How much they may take together is the exposure's to say.
        if !(self.stops.is_finite() && self.stops >= 0.0) {
            let (what, rule) = ("the light that filters take, in stops,", "0 or more");
            return Err(FiltersError::Stops(ExposureError::OutOfRange { what, rule, found: self.stops }));
        }
        let mut taken = Taken { lines: Vec::new(), stops: Estimate::exact(0.0), remarks: Vec::new() };
        for id in &self.named {
            taken.add(self.line(id)?);
            taken.remarks.extend(self.remarks(id, film));
        }
        for factor in &self.factors {
            if !(factor.is_finite() && *factor >= 1.0) {
                return Err(FiltersError::Factor(*factor));
            }
            taken.add(own(format!("filter ×{factor}"), factor.log2(), Some(*factor)));
        }
        if self.stops > 0.0 {
            taken.add(own("filters by stops".into(), self.stops, None));
        }
        taken.remarks.dedup();
        Ok(taken)
    }

    fn line(&self, id: &str) -> Result<Line, FiltersError> {
        let (table, filter) = shipped().filter(id).ok_or_else(|| unknown(id))?;
        let taken = filter.taken(self.lamp);
        let stops = Estimate { value: taken.factor.log2(), plus_minus: PRINTED_STOPS };
        Ok(Line {
            name: filter.name.clone(),
            stops,
            factor: Some(taken.factor),
            printed: Some(taken.stops.to_string()),
            source: Some(format!("{}, {}", table.source.words(), self.lamp.words())),
        })
    }

    fn remarks(&self, id: &str, film: Option<&ChosenFilm>) -> Vec<String> {
        let Some((table, filter)) = shipped().filter(id) else { return Vec::new() };
        let taken = filter.taken(self.lamp);
        let mut remarks = Vec::new();
        if taken.disagree_stops().abs() > COLUMNS_APART_STOPS {
            remarks.push(format!(
                "{}: the sheet prints {} to open up and a factor of {}, which do not agree; the factor is counted for the time",
                filter.name, taken.stops, taken.factor
            ));
        }
        if !film.is_some_and(|chosen| table.films.contains(&chosen.film.id)) {
            remarks.push(format!(
                "the filter factors are those of {} for {} in {}; other films see colours otherwise",
                table.source.words(),
                film_names(&table.films),
                self.lamp.words()
            ));
        }
        remarks
    }
}

fn film_names(ids: &[String]) -> String {
    let names: Vec<_> = ids.iter().filter_map(|id| Some(shipped().film(id)?.name.as_str())).collect();
    names.join(" and ")
}

fn unknown(id: &str) -> FiltersError {
    let all: Vec<_> =
        shipped().filters.iter().flat_map(|table| &table.filters).map(|filter| filter.id.as_str()).collect();
    FiltersError::Unknown(id.chars().take(40).collect(), all.join(", "))
}

fn own(name: String, stops: f64, factor: Option<f64>) -> Line {
    Line { name, stops: Estimate::exact(stops), factor, printed: None, source: None }
}

impl Taken {
    /// Several filters: their factors multiply, so that their stops add; doubts add in quadrature.
    fn add(&mut self, line: Line) {
        self.stops = Estimate {
            value: self.stops.value + line.stops.value,
            plus_minus: self.stops.plus_minus.hypot(line.stops.plus_minus),
        };
        self.lines.push(line);
    }
}
