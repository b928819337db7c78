//! Films as their makers publish them: what a long exposure costs, how far off an exposure may be, filters in front of them.
//!
//! - [`shipped`] is the data file `data/films.toml`, read and checked: every figure in it names its document, date and how it was
//!   seen. What is known from memory alone is not in it.
//! - [`Law`] turns a metered time into the time to give. A film may have several that disagree; they are never averaged.
//! - [`Table::new`] takes a person's own test, by the same rules.
//!
//! Times are seconds, losses stops. Absent on purpose: meters, shutters, trains, a kit of one's own.

mod data;
mod error;
mod film;
mod filter;
mod fraction;
mod law;
mod source;
mod table;

pub use error::{DataError, TableError};
pub use film::{Film, Latitude, Structure, Tone};
pub use filter::{Filter, FilterTable, Lamp, Taken};
pub use fraction::Printed;
pub use law::{Form, Given, Law, Where};
pub use source::{By, Seen, Source};
pub use table::{Point, Row, Table};

use std::ops::RangeInclusive;
use std::sync::LazyLock;

/// Everything that is shipped.
#[derive(Debug, Clone, PartialEq)]
pub struct Stock {
    /// The films, in the order of the file.
    pub films: Vec<Film>,
    /// Tables of filters.
    pub filters: Vec<FilterTable>,
    /// The exposures in which most films lose nothing, s.
    pub no_loss_s: RangeInclusive<f64>,
    /// Where that is said.
    pub general: Source,
}

impl Stock {
    /// The film of that id.
    pub fn film(&self, id: &str) -> Option<&Film> {
        self.films.iter().find(|film| film.id == id)
    }

    /// The filter of that id, with the table it stands in.
    pub fn filter(&self, id: &str) -> Option<(&FilterTable, &Filter)> {
        self.filters.iter().find_map(|table| Some((table, table.filters.iter().find(|filter| filter.id == id)?)))
    }

    /// The least and the most that films with a published figure for it lose at this metered time, stops.
    pub fn spread(&self, metered_s: f64) -> Option<(f64, f64)> {
        let losses = self.films.iter().flat_map(|film| &film.laws).map(|law| law.given(metered_s));
        let known = losses.filter(|given| given.place == Where::Inside).map(|given| given.loss_stops(metered_s));
        known.fold(None, |ends, loss| {
            Some(ends.map_or((loss, loss), |(low, high)| (f64::min(low, loss), f64::max(high, loss))))
        })
    }
}

/// A data file of that form, checked whole: the first thing wrong refuses it.
pub fn read(text: &str) -> Result<Stock, DataError> {
    data::read(text)
}

/// The films and filters that come with the program.
pub fn shipped() -> &'static Stock {
    static STOCK: LazyLock<Stock> = LazyLock::new(|| match read(include_str!("../data/films.toml")) {
        Ok(stock) => stock,
        // This crate's own tests read the same file: a build that passes them cannot come here.
        Err(error) => unreachable!("the shipped data cannot be read: {error}"),
    });
    &STOCK
}
