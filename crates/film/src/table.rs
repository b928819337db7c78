//! Printed points and what lies between them.

use crate::error::TableError;
use crate::fraction::Printed;
use std::ops::RangeInclusive;

/// What is printed beside a metered time.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// s.
    pub metered_s: f64,
    /// To open up by.
    pub stops: Option<Printed>,
    /// To expose instead, s.
    pub time_s: Option<f64>,
}

impl Row {
    fn loses(&self) -> bool {
        self.time_s.is_some_and(|time| time > self.metered_s)
            || self.stops.as_ref().is_some_and(|stops| stops.value > 0.0)
    }
}

/// A point of a person's own test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Point {
    /// This many seconds were right.
    Time(f64),
    /// Opening up by so many stops was right, the time left as metered.
    Stops(f64),
}

/// Printed points. The two columns stay apart: times are read from times, stops from stops. Where a row has stops alone, the time is the
/// one whose own loss by the stop column it makes up for, T = t·2^(s(T)), which is longer than t·2^(s(t)) because the longer
/// exposure loses more.
///
/// Between points times run straight over logarithms of both times (usual for such tables; no source), stops straight over
/// the logarithm of time. Before the first point the loss stays; beyond the last the last line goes on.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    rows: Vec<Row>,
    /// Logarithms (base 2) of metered and given time.
    times: Vec<(f64, f64)>,
    /// Logarithm (base 2) of the time, and stops.
    stops: Vec<(f64, f64)>,
    /// The last time without a loss that another source supplies, s.
    no_loss_to_s: Option<f64>,
    /// The shortest time that is known of, s.
    begins_s: f64,
}

impl Table {
    /// A table of printed rows. `no_loss_s` is the range in which most films lose nothing: a table whose first row has a loss begins at
    /// its end.
    pub fn new(rows: Vec<Row>, no_loss_s: RangeInclusive<f64>) -> Result<Self, TableError> {
        check_rows(&rows)?;
        let no_loss_to_s = *no_loss_s.end();
        let begins = rows.first().filter(|row| row.loses() && row.metered_s > no_loss_to_s).map(|_| no_loss_to_s);
        let start = begins.map(f64::log2);
        let stop_points = rows.iter().filter_map(|row| Some((row.metered_s.log2(), row.stops.as_ref()?.value)));
        let stops: Vec<_> = start.map(|x| (x, 0.0)).into_iter().chain(stop_points).collect();
        let has_times = rows.iter().any(|row| row.time_s.is_some_and(|time| time > row.metered_s));
        let points = rows.iter().filter_map(|row| {
            let metered = row.metered_s.log2();
            match (row.time_s, row.stops.as_ref()) {
                (Some(time), _) => Some((metered, time.log2())),
                (None, Some(_)) if has_times => Some((metered, lasting(&stops, metered))),
                // With stops alone each row is itself a point of the answer: lasting so long, it loses so much.
                (None, Some(printed)) => Some((metered - printed.value, metered)),
                (None, None) => None,
            }
        });
        let times: Vec<_> = start.map(|x| (x, x)).into_iter().chain(points).collect();
        let begins_s = match rows.first() {
            Some(row) if row.loses() && begins.is_none() => row.metered_s,
            Some(row) => row.metered_s.min(*no_loss_s.start()),
            None => f64::NAN,
        };
        let table = Self { rows, times, stops, no_loss_to_s: begins, begins_s };
        table.check_rising()?;
        Ok(table)
    }

    /// A person's own test: metered times with what was right.
    pub fn measured(points: &[(f64, Point)], no_loss_s: RangeInclusive<f64>) -> Result<Self, TableError> {
        let row = |(metered_s, point): &(f64, Point)| match *point {
            Point::Time(time_s) => Row { metered_s: *metered_s, stops: None, time_s: Some(time_s) },
            Point::Stops(stops) => Row { metered_s: *metered_s, stops: Some(Printed::plain(stops)), time_s: None },
        };
        Self::new(points.iter().map(row).collect(), no_loss_s)
    }

    /// The rows as printed.
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// The last time without a loss, where it is not the table's own, s.
    pub fn no_loss_to_s(&self) -> Option<f64> {
        self.no_loss_to_s
    }

    /// The shortest and the longest metered time that something is known of, s.
    pub fn ends_s(&self) -> (f64, f64) {
        (self.begins_s, self.rows.last().map_or(f64::NAN, |row| row.metered_s))
    }

    /// The time to give, s, and its slope over the metered one on logarithmic scales.
    pub(crate) fn time(&self, metered_s: f64) -> (f64, f64) {
        let (time, slope) = along(&self.times, metered_s.log2(), 1.0);
        (time.exp2(), slope)
    }

    /// What to open up by instead, where the table has a column for it.
    pub(crate) fn open_stops(&self, metered_s: f64) -> Option<f64> {
        let printed = self.rows.iter().any(|row| row.stops.as_ref().is_some_and(|stops| stops.value > 0.0));
        printed.then(|| along(&self.stops, metered_s.log2(), 0.0).0.max(0.0))
    }

    /// Every longer metered time must get a longer exposure.
    fn check_rising(&self) -> Result<(), TableError> {
        // A point from another source may stand before the first row.
        let row = |at: usize| at + 2 - usize::from(self.no_loss_to_s.is_some());
        for (at, pair) in self.stops.windows(2).enumerate() {
            let [(x0, s0), (x1, s1)] = [pair[0], pair[1]];
            if s1 - s0 >= x1 - x0 {
                return Err(TableError::TooSteep {
                    row: row(at),
                    before_s: x0.exp2(),
                    metered_s: x1.exp2(),
                    stops: s1 - s0,
                });
            }
        }
        match self.times.windows(2).enumerate().find(|(_, pair)| pair[1].1 <= pair[0].1) {
            Some((at, pair)) => {
                let [before, time_s] = [pair[0].1.exp2(), pair[1].1.exp2()];
                Err(TableError::GivenNotRising { row: row(at), time_s, before })
            }
            None => Ok(()),
        }
    }
}

fn check_rows(rows: &[Row]) -> Result<(), TableError> {
    let mut before = None;
    if rows.is_empty() {
        return Err(TableError::Empty);
    }
    for (at, row) in rows.iter().enumerate() {
        check_row(at + 1, row, before)?;
        before = Some(row.metered_s);
    }
    Ok(())
}

fn check_row(row: usize, found: &Row, before: Option<f64>) -> Result<(), TableError> {
    let time = |time: f64| time.is_finite() && time > 0.0;
    if let Some(&wrong) = [Some(found.metered_s), found.time_s].iter().flatten().find(|t| !time(**t)) {
        return Err(TableError::NotATime { row, found: wrong });
    }
    if let Some(stops) = found.stops.as_ref().filter(|stops| !(stops.value.is_finite() && stops.value >= 0.0)) {
        return Err(TableError::NotALoss { row, found: stops.value });
    }
    if let Some(before) = before.filter(|before| found.metered_s <= *before) {
        return Err(TableError::NotRising { row, found: found.metered_s, before });
    }
    match found.time_s.filter(|time| *time < found.metered_s) {
        Some(time_s) => Err(TableError::Shortens { row, metered_s: found.metered_s, time_s }),
        None => Ok(()),
    }
}

/// The logarithm of the time that makes up for its own loss: x − s(x) = metered.
fn lasting(stops: &[(f64, f64)], metered: f64) -> f64 {
    let turned: Vec<_> = stops.iter().map(|(x, s)| (x - s, *x)).collect();
    along(&turned, metered, 1.0).0
}

/// Straight lines through points of rising x, and the slope there. Before the first point the line has slope `before`, beyond the
/// last it goes on as the last one; a single point carries `before` both ways.
fn along(points: &[(f64, f64)], x: f64, before: f64) -> (f64, f64) {
    let Some(&(first, y)) = points.first() else { return (f64::NAN, f64::NAN) };
    if x < first || points.len() == 1 {
        return (y + before * (x - first), before);
    }
    let at = points.partition_point(|(known, _)| *known <= x).clamp(1, points.len() - 1);
    let ((x0, y0), (x1, y1)) = (points[at - 1], points[at]);
    let slope = (y1 - y0) / (x1 - x0);
    // From the nearer end, so that a printed point comes out as it is printed.
    if x - x0 <= x1 - x { (y0 + slope * (x - x0), slope) } else { (y1 + slope * (x - x1), slope) }
}
