//! What a film loses in long exposures, and the time that makes up for it.

use crate::source::Source;
use crate::table::Table;

/// The shape of a law. Times are seconds.
#[derive(Debug, Clone, PartialEq)]
pub enum Form {
    /// Given = `from_s`·(metered/`from_s`)^exponent above `from_s`, and metered at or below it. With `from_s` = 1 s this is the printed
    /// metered^exponent.
    Power {
        /// As printed.
        exponent: f64,
        /// s.
        from_s: f64,
    },
    /// Given = metered + factor·metered^exponent.
    Added {
        /// As printed, s.
        factor: f64,
        /// As printed.
        exponent: f64,
    },
    /// Printed points, with straight lines between the logarithms of their times.
    Table(Table),
}

/// One source's account of a film.
#[derive(Debug, Clone, PartialEq)]
pub struct Law {
    /// Its shape.
    pub form: Form,
    /// Who says so.
    pub source: Source,
}

/// Whether a time lies in the range that the source covers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Where {
    /// It does.
    Inside,
    /// Shorter than the first figure, s.
    Before(f64),
    /// Longer than the last figure, s.
    Beyond(f64),
}

/// What to give.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Given {
    /// The time to give at the same aperture, s.
    pub time_s: f64,
    /// Its slope on logarithmic scales: how many stops the given time grows for one stop of the metered time.
    pub slope: f64,
    /// Half-width (95 %) that the print alone leaves, stops: rounded figures inside the range, outside it as much as lies beyond the last
    /// figure besides.
    pub plus_minus_stops: f64,
    /// What to open up by instead, leaving the time as metered, where the source has a column for it.
    pub open_stops: Option<f64>,
    /// Whether the metered time lies in the range that the source covers.
    pub place: Where,
}

impl Given {
    /// What is lost, stops: the given time against the metered one.
    pub fn loss_stops(&self, metered_s: f64) -> f64 {
        (self.time_s / metered_s).log2()
    }
}

/// Exponents and factors are rounded to the last place printed: half of it.
const EXPONENT_ROUNDED: f64 = 0.005;
const FACTOR_ROUNDED: f64 = 0.000_5;

/// Columns of tables are printed in thirds or halves of a stop, a time beside them to one figure or two: half a third.
const COLUMN_ROUNDED_STOPS: f64 = 1.0 / 6.0;

/// Where the search for a metered time begins, below the given one, in natural logarithms: 58 stops.
const FIRST_SPAN: f64 = 40.0;

impl Law {
    /// What to give for a metered time, s, which must be above 0.
    pub fn given(&self, metered_s: f64) -> Given {
        match &self.form {
            Form::Power { exponent, from_s } => power(*exponent, *from_s, metered_s),
            Form::Added { factor, exponent } => added(*factor, *exponent, metered_s),
            Form::Table(table) => tabled(table, metered_s),
        }
    }

    /// The metered time for which so many seconds are right: the other way round.
    pub fn metered_for(&self, time_s: f64) -> f64 {
        // The given time is never shorter than the metered one and rises with it. Far outside its figures a steep table gives times
        // of hundreds of stops more: the search goes down until it has the answer between its ends.
        let high = time_s.ln();
        let (mut low, mut high) = (high - FIRST_SPAN, high);
        while low > -700.0 && self.given(low.exp()).time_s > time_s {
            low -= FIRST_SPAN;
        }
        for _ in 0..80 {
            let middle = 0.5 * (low + high);
            if self.given(middle.exp()).time_s > time_s { high = middle } else { low = middle }
        }
        // At the top end the whole interval was right.
        if self.given(time_s).time_s <= time_s { time_s } else { (0.5 * (low + high)).exp() }
    }

    /// The range of metered times that the source covers, s; `None` where it names no end.
    pub fn range_s(&self) -> (Option<f64>, Option<f64>) {
        match &self.form {
            Form::Power { .. } | Form::Added { .. } => (None, None),
            Form::Table(table) => {
                let (first, last) = table.ends_s();
                (Some(first), Some(last))
            }
        }
    }
}

fn power(exponent: f64, from_s: f64, metered_s: f64) -> Given {
    let stops = (metered_s / from_s).log2();
    if stops <= 0.0 {
        return Given { time_s: metered_s, slope: 1.0, plus_minus_stops: 0.0, open_stops: None, place: Where::Inside };
    }
    Given {
        time_s: from_s * (metered_s / from_s).powf(exponent),
        slope: exponent,
        plus_minus_stops: EXPONENT_ROUNDED * stops,
        open_stops: None,
        place: Where::Inside,
    }
}

fn added(factor: f64, exponent: f64, metered_s: f64) -> Given {
    let more = factor * metered_s.powf(exponent);
    let time_s = metered_s + more;
    let doubt = more * (FACTOR_ROUNDED / factor).hypot(EXPONENT_ROUNDED * metered_s.ln());
    Given {
        time_s,
        slope: (metered_s + exponent * more) / time_s,
        plus_minus_stops: doubt / time_s / std::f64::consts::LN_2,
        open_stops: None,
        place: Where::Inside,
    }
}

fn tabled(table: &Table, metered_s: f64) -> Given {
    let (time_s, slope) = table.time(metered_s);
    let (first, last) = table.ends_s();
    let loss = |time: f64, metered: f64| (time / metered).log2();
    let lost = loss(time_s, metered_s);
    let place = match metered_s {
        short if short < first => Where::Before(first),
        long if long > last => Where::Beyond(last),
        _ => Where::Inside,
    };
    let outside = match place {
        Where::Inside => 0.0,
        Where::Before(end) | Where::Beyond(end) => (lost - loss(table.time(end).0, end)).abs(),
    };
    Given {
        time_s,
        slope,
        plus_minus_stops: lost.min(COLUMN_ROUNDED_STOPS).hypot(outside),
        open_stops: table.open_stops(metered_s),
        place,
    }
}
