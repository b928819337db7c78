//! What can be wrong with film data.

/// A table that no film can have. `row` counts from 1.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TableError {
    /// Nothing in it.
    #[error("holds no point; give at least one, such as 10=20")]
    Empty,
    /// A time that is none.
    #[error("point {row}: {found} s is no time; write seconds above 0")]
    NotATime {
        /// Which.
        row: usize,
        /// What was found, s.
        found: f64,
    },
    /// A loss below 0 or no number.
    #[error("point {row}: {found} stops is no loss; write 0 or more")]
    NotALoss {
        /// Which.
        row: usize,
        /// What was found, stops.
        found: f64,
    },
    /// Metered times out of order.
    #[error("point {row}: {found} s comes after {before} s; write the metered times in rising order, each once")]
    NotRising {
        /// Which.
        row: usize,
        /// Its metered time, s.
        found: f64,
        /// The one before, s.
        before: f64,
    },
    /// A time that is shorter than the metered one.
    #[error(
        "point {row}: metered {metered_s} s, given {time_s} s: no film wants less light than the meter says; the given time comes second"
    )]
    Shortens {
        /// Which.
        row: usize,
        /// Metered, s.
        metered_s: f64,
        /// Given, s.
        time_s: f64,
    },
    /// A longer metered time that gets no longer exposure.
    #[error("point {row}: it gives {} s for more than the point before, which gives {} s; check both", six(*.time_s), six(*.before))]
    GivenNotRising {
        /// Which.
        row: usize,
        /// Given, s.
        time_s: f64,
        /// The given time before, s.
        before: f64,
    },
    /// A loss that grows faster than the exposure.
    #[error("point {row}: from {} to {} s the loss grows by {} stops, as much as the exposure or more: a longer exposure would then darken the film no more; check both", six(*.before_s), six(*.metered_s), six(*.stops))]
    TooSteep {
        /// Which.
        row: usize,
        /// The metered time before, s.
        before_s: f64,
        /// The metered time, s.
        metered_s: f64,
        /// Growth of the loss, stops.
        stops: f64,
    },
}

/// A data file that cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum DataError {
    /// Not TOML of the schema.
    #[error("{0}")]
    Schema(String),
    /// Something in an entry.
    #[error("{entry}: {what}")]
    Entry {
        /// Which entry.
        entry: String,
        /// What is wrong.
        what: String,
    },
    /// A table that no film can have.
    #[error("{film}: {source}")]
    Table {
        /// Which film.
        film: String,
        /// What is wrong.
        source: TableError,
    },
}

/// Without what the machine's logarithms leave behind the sixth place.
fn six(number: f64) -> f64 {
    (number * 1e6).round() / 1e6
}
