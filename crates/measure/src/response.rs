//! A curve with known parts divided out: the scanner's response, the film's, both.
//!
//! Responses of what light passes one after the other multiply (linear systems in series), so a known one is taken off by
//! division. Where the known response is small, division only magnifies what is not known: the corrected curve ends there and says
//! why. Uncertainties of both go into the result by the law of propagation for a quotient (JCGM 100:2008, 5.1.2), as
//! independent ones.

use crate::algebra::Figure;
use crate::slanted::{ChannelReport, SfrPoint, curve};

/// Nothing is divided by a response under this.
pub const LEAST_DIVISOR: f64 = 0.1;
/// Nor by one whose 95 % interval is wider, either way, than this share of it: the law of propagation, which is of first order,
/// would understate the quotient's interval by more than a tenth there.
pub const LEAST_SURENESS: f64 = 0.5;

/// A known response by frequency.
#[derive(Debug, Clone, PartialEq)]
pub struct KnownResponse {
    name: String,
    points: Vec<SfrPoint>,
}

/// One line of a published or measured table of a response.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TablePoint {
    /// Line pairs per millimetre on film.
    pub lp_mm: f64,
    /// Response, 1 for no loss; film with adjacency effects lies above 1 at low frequencies.
    pub response: f64,
    /// Half-width of its 95 % interval.
    pub plus_minus: f64,
}

/// Why a response cannot be used or nothing can be corrected.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ResponseError {
    /// Too few points for a curve.
    #[error("the response of {name} has {count} points; at least 2 are needed")]
    TooFewPoints {
        /// Whose.
        name: String,
        /// How many.
        count: usize,
    },
    /// Frequencies that do not ascend.
    #[error("the response of {name} goes from {before} to {after} lp/mm at point {place}: frequencies must ascend")]
    NotAscending {
        /// Whose.
        name: String,
        /// Which point, from 1.
        place: usize,
        /// The point before.
        before: f64,
        /// This one.
        after: f64,
    },
    /// A number that no response can have.
    #[error("the response of {name} has {what} {value} at point {place}; it must lie between {lowest} and {highest}")]
    OutOfRange {
        /// Whose.
        name: String,
        /// Which number.
        what: &'static str,
        /// Which point, from 1.
        place: usize,
        /// As given.
        value: f64,
        /// Least.
        lowest: f64,
        /// Most.
        highest: f64,
    },
    /// The pixel's size is no positive number.
    #[error("the size of a pixel on film is {value} micrometres; it must be above 0")]
    Pitch {
        /// As given, µm.
        value: f64,
    },
    /// No divisor at all.
    #[error("no known response was given to divide by")]
    NothingKnown,
    /// The divisor is too small or too unsure from the start.
    #[error("nothing can be corrected: {why}")]
    EndsAtOnce {
        /// What ends the curve.
        why: CurveEnd,
    },
}

/// Response of 1.5 and less: adjacency effects of film and sharpening by a scanner lift a curve, but not beyond.
const MOST_RESPONSE: f64 = 1.5;
const MOST_LP_MM: f64 = 10_000.0;

impl KnownResponse {
    /// That of a scanner from an edge so sharp that the scanner alone blurs it, or any other measured edge's. Both edges must
    /// have been scanned at one pitch, and lie the same way on the scanner's bed: most scanners differ between the two.
    pub fn of_edge(name: impl Into<String>, channel: &ChannelReport) -> Result<Self, ResponseError> {
        Self::of_points(name.into(), channel.sfr.clone())
    }

    /// That of a film from its maker's table, or any other by line pairs per millimetre; `pitch_um` is the size of a
    /// pixel of the scan to be corrected, on film. A table that does not begin at 0 is taken to begin there with 1 and no
    /// doubt beyond its first line's.
    pub fn of_table(name: impl Into<String>, table: &[TablePoint], pitch_um: f64) -> Result<Self, ResponseError> {
        if !(pitch_um > 0.0 && pitch_um.is_finite()) {
            return Err(ResponseError::Pitch { value: pitch_um });
        }
        let name = name.into();
        for (i, p) in table.iter().enumerate() {
            let check = |what, value: f64, lowest: f64, highest: f64| {
                let inside = (lowest..=highest).contains(&value);
                let error =
                    || ResponseError::OutOfRange { name: name.clone(), what, place: i + 1, value, lowest, highest };
                if inside { Ok(()) } else { Err(error()) }
            };
            check("a frequency of", p.lp_mm, 0.0, MOST_LP_MM)?;
            check("a response of", p.response, 0.0, MOST_RESPONSE)?;
            check("a half-width of", p.plus_minus, 0.0, MOST_RESPONSE)?;
        }
        let point = |p: &TablePoint| SfrPoint {
            frequency_cy_px: p.lp_mm * pitch_um / 1000.0,
            response: p.response,
            plus_minus: p.plus_minus,
            noise: 0.0,
        };
        let mut points: Vec<SfrPoint> = table.iter().map(point).collect();
        if let Some(first) = points.first().filter(|p| p.frequency_cy_px > 0.0).copied() {
            points
                .insert(0, SfrPoint { frequency_cy_px: 0.0, response: 1.0, plus_minus: first.plus_minus, noise: 0.0 });
        }
        if let Some(i) = table.windows(2).position(|w| w[1].lp_mm <= w[0].lp_mm) {
            let (before, after) = (table[i].lp_mm, table[i + 1].lp_mm);
            return Err(ResponseError::NotAscending { name, place: i + 2, before, after });
        }
        Self::of_points(name, points)
    }

    fn of_points(name: String, points: Vec<SfrPoint>) -> Result<Self, ResponseError> {
        if points.len() < 2 {
            return Err(ResponseError::TooFewPoints { name, count: points.len() });
        }
        Ok(Self { name, points })
    }

    /// As named.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The response at a frequency, cycles per pixel; `None` beyond the table. Between a table's lines it runs straight: published
    /// points lie too far apart and too unevenly for a curve to be sure to follow them better.
    pub fn at(&self, cy_px: f64) -> Option<Figure> {
        let after = self.points.partition_point(|p| p.frequency_cy_px < cy_px);
        let b = self.points.get(after)?;
        let Some(a) = after.checked_sub(1).map(|i| self.points[i]) else {
            return (b.frequency_cy_px == cy_px).then(|| Figure::new(b.response, b.plus_minus));
        };
        let share = (cy_px - a.frequency_cy_px) / (b.frequency_cy_px - a.frequency_cy_px);
        let between = |from: f64, to: f64| from + share * (to - from);
        Some(Figure::new(between(a.response, b.response), between(a.plus_minus, b.plus_minus)))
    }
}

/// Why a corrected curve ends where it does.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum CurveEnd {
    /// The measured curve itself ends.
    Measured,
    /// A known response is not known any further.
    NotKnown {
        /// Whose.
        name: String,
    },
    /// The known response, or the product of several, falls under [`LEAST_DIVISOR`].
    TooSmall {
        /// The smallest of those that were multiplied.
        name: String,
        /// What would have been divided by.
        divisor: f64,
        /// Cycles per pixel.
        at_cy_px: f64,
    },
    /// The known response is too unsure.
    TooUnsure {
        /// The least sure of those that were multiplied.
        name: String,
        /// Half-width of the divisor's 95 % interval over the divisor.
        share: f64,
        /// Cycles per pixel.
        at_cy_px: f64,
    },
}

impl std::fmt::Display for CurveEnd {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Measured => f.write_str("the measured curve ends there"),
            Self::NotKnown { name } => write!(f, "the response of {name} is not known any further"),
            Self::TooSmall { name, divisor, at_cy_px } => write!(
                f,
                "at {at_cy_px:.3} cycles per pixel no more than {divisor:.3} of the detail comes through what is divided by \
                 ({name}); under {LEAST_DIVISOR} nothing is divided"
            ),
            Self::TooUnsure { name, share, at_cy_px } => write!(
                f,
                "at {at_cy_px:.3} cycles per pixel what is divided by is sure to {:.0} % only ({name}); beyond {:.0} % nothing \
                 is divided",
                100.0 * share,
                100.0 * LEAST_SURENESS
            ),
        }
    }
}

/// A curve with known responses divided out.
#[derive(Debug, Clone, PartialEq)]
pub struct Corrected {
    /// The curve, from frequency 0 to where it ends. The noise floor is divided like the response.
    pub curve: Vec<SfrPoint>,
    /// Why it ends.
    pub end: CurveEnd,
    /// Where it falls to one half; `None` when it does not before it ends, or noise hides it.
    pub mtf50_cy_px: Option<Figure>,
    /// What was divided out.
    pub divided: Vec<String>,
}

impl Corrected {
    /// The corrected response at a frequency, cycles per pixel; `None` where the curve has ended.
    pub fn at(&self, cy_px: f64) -> Option<Figure> {
        curve::at(&self.curve, cy_px)
    }
}

/// Divides known responses out of a measured channel's curve.
pub fn corrected(system: &ChannelReport, known: &[KnownResponse]) -> Result<Corrected, ResponseError> {
    if known.is_empty() {
        return Err(ResponseError::NothingKnown);
    }
    let (mut points, mut end) = (Vec::new(), CurveEnd::Measured);
    for point in &system.sfr {
        match divisor(known, point.frequency_cy_px) {
            Ok(divisor) => points.push(quotient(point, divisor)),
            Err(why) => {
                end = why;
                break;
            }
        }
    }
    if points.len() < 2 {
        return Err(ResponseError::EndsAtOnce { why: end });
    }
    let crossing = curve::falls_to(&points, 0.5);
    let heard =
        |found: &Figure| points.iter().take_while(|p| p.frequency_cy_px <= found.value).all(SfrPoint::above_noise);
    let mtf50_cy_px = crossing.filter(heard);
    Ok(Corrected { curve: points, end, mtf50_cy_px, divided: known.iter().map(|k| k.name.clone()).collect() })
}

/// The product of all known responses at a frequency.
fn divisor(known: &[KnownResponse], cy_px: f64) -> Result<Figure, CurveEnd> {
    let mut parts = Vec::new();
    for response in known {
        let here = response.at(cy_px).ok_or_else(|| CurveEnd::NotKnown { name: response.name.clone() })?;
        parts.push((response.name.as_str(), here));
    }
    let value: f64 = parts.iter().map(|(_, r)| r.value).product();
    if value < LEAST_DIVISOR {
        let smallest = parts.iter().min_by(|a, b| a.1.value.total_cmp(&b.1.value));
        let name = smallest.map_or("", |p| p.0).to_string();
        return Err(CurveEnd::TooSmall { name, divisor: value, at_cy_px: cy_px });
    }
    // Of a product the shares add up in squares.
    let share_of = |r: &Figure| r.plus_minus / r.value;
    let share = parts.iter().map(|(_, r)| share_of(r).powi(2)).sum::<f64>().sqrt();
    if share > LEAST_SURENESS {
        let worst = parts.iter().max_by(|a, b| share_of(&a.1).total_cmp(&share_of(&b.1)));
        let name = worst.map_or("", |p| p.0).to_string();
        return Err(CurveEnd::TooUnsure { name, share, at_cy_px: cy_px });
    }
    Ok(Figure::new(value, share * value))
}

fn quotient(point: &SfrPoint, divisor: Figure) -> SfrPoint {
    let response = point.response / divisor.value;
    let own = point.plus_minus / divisor.value;
    let known = response * divisor.plus_minus / divisor.value;
    SfrPoint { response, plus_minus: own.hypot(known), noise: point.noise / divisor.value, ..*point }
}
