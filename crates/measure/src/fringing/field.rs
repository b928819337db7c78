//! Fringing over the frame: from what many edges tell along their normals to radial, tangential and common parts.

use crate::algebra::{COVERAGE_95, Figure, least_squares, student_975, variance};
use crate::slanted::Channel;

/// Least edges: three figures (two of the shift, one of the growth) and three left over.
const LEAST_EDGES: usize = 6;
/// Edges from which on the cubic and the turn are looked for.
const LEAST_FOR_MORE: usize = 8;
/// By how much the other unknowns may swell an unknown's variance before it counts as not told by the edges.
const MOST_INFLATION: f64 = 100.0;
/// The cubic and the linear growth always share much; more is forgiven.
const MOST_INFLATION_CUBIC: f64 = 400.0;
/// Standardised residual beyond which an edge is named.
const OUTLYING: f64 = 4.0;

/// What one edge says about fringing at its place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FringeSample {
    /// Place on the film from the frame's centre, millimetres: (to the right, downward) in the picture.
    pub position_mm: (f64, f64),
    /// Direction that the displacement counts along, degrees from the picture's x axis toward its lower side: that of the edge's normal
    /// to its brighter side ([`crate::bright_normal_deg`]).
    pub normal_deg: f64,
    /// Red minus green along that direction, micrometres on the film.
    pub red_um: Option<Figure>,
    /// Blue minus green along that direction, micrometres on the film.
    pub blue_um: Option<Figure>,
}

/// How fringing is split.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FringingOptions {
    /// Width and height of the frame on film, millimetres: its half diagonal is "the corner".
    pub frame_mm: (f64, f64),
    /// Look for a cubic growth with the distance from the centre besides the linear one.
    pub cubic: bool,
    /// Look for a turn of one colour against the other.
    pub turn: bool,
}

impl FringingOptions {
    /// All that the edges tell, for a frame of this width and height, millimetres.
    pub fn for_frame(width_mm: f64, height_mm: f64) -> Self {
        Self { frame_mm: (width_mm, height_mm), cubic: true, turn: true }
    }

    fn corner_mm(&self) -> f64 {
        self.frame_mm.0.hypot(self.frame_mm.1) / 2.0
    }
}

/// The lens's part of the displacement at a distance from the centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldValue {
    /// Distance from the centre, millimetres on film.
    pub radius_mm: f64,
    /// Radial displacement, micrometres, positive outward. 0 and exact at the centre: a lens has no direction there.
    pub radial_um: Figure,
    /// Tangential displacement, micrometres, positive from the picture's x axis toward its lower side.
    pub tangential_um: Figure,
}

/// The displacement at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arrow {
    /// Place on the film from the frame's centre, millimetres: (to the right, downward).
    pub position_mm: (f64, f64),
    /// Displacement to the right, micrometres.
    pub x_um: Figure,
    /// Displacement downward, micrometres.
    pub y_um: Figure,
}

/// One colour's displacement from green over the frame.
#[derive(Debug, Clone, PartialEq)]
pub struct ChannelFringing {
    /// Red or blue.
    pub channel: Channel,
    /// Edges that took part.
    pub edges: usize,
    /// The same displacement everywhere, micrometres (to the right, downward): colours that the scanner (or the sensor) does not lay over
    /// each other, or a decentred lens; a centred lens has none.
    pub shift_um: [Figure; 2],
    /// Linear growth of the radial displacement, micrometres at the corner (lateral colour).
    pub linear_um: Figure,
    /// Cubic growth, micrometres at the corner; `None` when it was not looked for or the edges do not tell it.
    pub cubic_um: Option<Figure>,
    /// Turn against green, micrometres at the corner along the circle; `None` when the edges do not tell it.
    pub turn_um: Option<Figure>,
    /// The lens's part at the centre, at half the way to the corner, and at the corner.
    pub field: [FieldValue; 3],
    /// Root mean square of what the model leaves along the normals, micrometres.
    pub residual_um: f64,
    /// Residuals over what the edges' own intervals ask for: about 1 when the model says all.
    pub residual_ratio: f64,
    corner_mm: f64,
    terms: Vec<Term>,
    parameters: Vec<f64>,
    /// Covariance with the factor to a 95 % interval in it.
    covariance_95: Vec<Vec<f64>>,
}

/// Fringing over the frame.
#[derive(Debug, Clone, PartialEq)]
pub struct FringingReport {
    /// Red against green.
    pub red: ChannelFringing,
    /// Blue against green.
    pub blue: ChannelFringing,
    /// Reservations.
    pub remarks: Vec<FringingRemark>,
}

/// Why fringing was not split.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FringingError {
    /// Too few edges.
    #[error(
        "only {found} edges show {channel}, at least {least} are needed: measure more edges, spread over the frame"
    )]
    TooFewEdges {
        /// The colour.
        channel: Channel,
        /// Edges that show it.
        found: usize,
        /// Least number.
        least: usize,
    },
    /// Edges whose places and directions do not tell the parts apart.
    #[error(
        "the edges do not tell {what} of {channel} from the rest: they lie too close together or all in one direction; \
         measure edges in different directions, at the frame's middle and toward all its sides"
    )]
    Degenerate {
        /// The colour.
        channel: Channel,
        /// Which part.
        what: &'static str,
    },
    /// An edge with a number that is none, or without an interval.
    #[error("edge number {number}: {what} is {value}, which must be {wanted}")]
    BadSample {
        /// Which edge, from 1 on.
        number: usize,
        /// What.
        what: &'static str,
        /// What was given.
        value: f64,
        /// What is taken.
        wanted: &'static str,
    },
    /// A frame without size.
    #[error("the frame is said to be {width_mm} x {height_mm} mm: give its size on film, as 56 x 56")]
    BadFrame {
        /// Width given.
        width_mm: f64,
        /// Height given.
        height_mm: f64,
    },
}

/// A reservation about fringing over the frame.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum FringingRemark {
    /// The colours are shifted all over: misregistration.
    Misregistered {
        /// The colour.
        channel: Channel,
        /// Length of the shift, micrometres.
        shift_um: f64,
    },
    /// The cubic part was left out: the edges' distances from the centre do not tell it.
    NoCubic {
        /// The colour.
        channel: Channel,
    },
    /// The turn was left out: the edges do not tell it.
    NoTurn {
        /// The colour.
        channel: Channel,
    },
    /// The edges agree with the model less well than their own intervals promise; the figures' intervals are wider for it.
    Scattered {
        /// The colour.
        channel: Channel,
        /// Residuals over what the intervals ask for.
        ratio: f64,
    },
    /// One edge stands out from the rest.
    Outlying {
        /// The colour.
        channel: Channel,
        /// Which edge, from 1 on.
        number: usize,
        /// Its residual, micrometres.
        residual_um: f64,
    },
    /// No edge lies near the corner: its figure is carried on.
    Extrapolated {
        /// Farthest edge, millimetres from the centre.
        farthest_mm: f64,
        /// The corner's distance.
        corner_mm: f64,
    },
}

impl std::fmt::Display for FringingRemark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Misregistered { channel, shift_um } => write!(
                f,
                "{channel} is shifted by {shift_um:.1} µm all over the frame: the scanner does not lay its colours over each \
                 other, or the lens is decentred; it is kept apart from the lens's own fringing"
            ),
            Self::NoCubic { channel } => {
                write!(f, "the edges do not tell how {channel} grows toward the corner other than evenly")
            }
            Self::NoTurn { channel } => write!(f, "no edges show whether {channel} is turned against green"),
            Self::Scattered { channel, ratio } => write!(
                f,
                "the edges scatter {ratio:.1} times as much in {channel} as their own intervals promise; the figures' intervals are \
                 widened by that"
            ),
            Self::Outlying { channel, number, residual_um } => {
                write!(
                    f,
                    "edge number {number} does not agree with the others in {channel}: it is off by {residual_um:.1} µm"
                )
            }
            Self::Extrapolated { farthest_mm, corner_mm } => write!(
                f,
                "the farthest edge lies {farthest_mm:.1} mm from the centre, the corner {corner_mm:.1} mm: what is said of the corner is \
                 carried on from within"
            ),
        }
    }
}

/// A part of the model.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Term {
    ShiftX,
    ShiftY,
    Linear,
    Cubic,
    Turn,
}

impl Term {
    /// Displacement (right, down) at a place by one unit of the term; places in units of the corner's distance.
    fn vector(self, (x, y): (f64, f64)) -> (f64, f64) {
        match self {
            Self::ShiftX => (1.0, 0.0),
            Self::ShiftY => (0.0, 1.0),
            Self::Linear => (x, y),
            Self::Cubic => {
                let rr = x * x + y * y;
                (x * rr, y * rr)
            }
            Self::Turn => (-y, x),
        }
    }

    fn of_lens(self) -> bool {
        !matches!(self, Self::ShiftX | Self::ShiftY)
    }

    fn name(self) -> &'static str {
        match self {
            Self::ShiftX | Self::ShiftY => "the common shift",
            Self::Linear => "the radial part",
            Self::Cubic => "the cubic part",
            Self::Turn => "the turn",
        }
    }
}

impl ChannelFringing {
    fn figure(&self, gradient: &[f64]) -> Figure {
        let value = gradient.iter().zip(&self.parameters).map(|(g, p)| g * p).sum();
        Figure::new(value, variance(gradient, &self.covariance_95).max(0.0).sqrt())
    }

    fn arrow(&self, (x, y): (f64, f64), whole: bool) -> Arrow {
        let place = (x / self.corner_mm, y / self.corner_mm);
        let vectors: Vec<(f64, f64)> = self
            .terms
            .iter()
            .map(|term| if whole || term.of_lens() { term.vector(place) } else { (0.0, 0.0) })
            .collect();
        let (right, down): (Vec<f64>, Vec<f64>) = vectors.into_iter().unzip();
        Arrow { position_mm: (x, y), x_um: self.figure(&right), y_um: self.figure(&down) }
    }

    /// The whole displacement at a place on film, millimetres from the centre: lens and common shift.
    pub fn at(&self, position_mm: (f64, f64)) -> Arrow {
        self.arrow(position_mm, true)
    }

    /// The lens's part alone at a place on film, millimetres from the centre.
    pub fn lens_at(&self, position_mm: (f64, f64)) -> Arrow {
        self.arrow(position_mm, false)
    }

    /// The whole displacement on a grid of so many columns and rows over a frame of this size, millimetres, corners included.
    pub fn map(&self, frame_mm: (f64, f64), columns: usize, rows: usize) -> Vec<Arrow> {
        let place = |i: usize, n: usize, extent: f64| {
            if n < 2 { 0.0 } else { extent * (i as f64 / (n - 1) as f64 - 0.5) }
        };
        let cell = |i: usize| self.at((place(i % columns, columns, frame_mm.0), place(i / columns, rows, frame_mm.1)));
        (0..columns * rows).map(cell).collect()
    }

    /// The lens's part at a distance from the centre, millimetres.
    pub fn field_value(&self, radius_mm: f64) -> FieldValue {
        // Along the x axis radial is to the right and tangential downward.
        let arrow = self.lens_at((radius_mm, 0.0));
        FieldValue { radius_mm, radial_um: arrow.x_um, tangential_um: arrow.y_um }
    }
}

/// Splits the displacements that edges all over the frame show along their normals into a common shift, a radial part
/// c1·r + c3·r³, and a turn, for red and blue against green, by weighted least squares.
///
/// An edge tells only the component along its normal, and only that component enters. Weights are those of the edges' own
/// intervals; where the residuals are larger than those promise, the intervals are widened by Student's t of what is left.
pub fn fringing(samples: &[FringeSample], options: &FringingOptions) -> Result<FringingReport, FringingError> {
    let (width_mm, height_mm) = options.frame_mm;
    if !(width_mm > 0.0 && height_mm > 0.0 && width_mm.is_finite() && height_mm.is_finite()) {
        return Err(FringingError::BadFrame { width_mm, height_mm });
    }
    check(samples)?;
    let mut remarks = Vec::new();
    let red = split(Channel::Red, samples, |s| s.red_um, options, &mut remarks)?;
    let blue = split(Channel::Blue, samples, |s| s.blue_um, options, &mut remarks)?;
    let corner_mm = options.corner_mm();
    let farthest_mm = samples.iter().map(|s| s.position_mm.0.hypot(s.position_mm.1)).fold(0.0, f64::max);
    if farthest_mm < 0.7 * corner_mm {
        remarks.push(FringingRemark::Extrapolated { farthest_mm, corner_mm });
    }
    Ok(FringingReport { red, blue, remarks })
}

fn check(samples: &[FringeSample]) -> Result<(), FringingError> {
    for (i, s) in samples.iter().enumerate() {
        let bad = |what, value, wanted| Err(FringingError::BadSample { number: i + 1, what, value, wanted });
        let plain = [("its place", s.position_mm.0), ("its place", s.position_mm.1), ("its direction", s.normal_deg)];
        for (what, value) in plain {
            if !value.is_finite() {
                return bad(what, value, "a finite number");
            }
        }
        for figure in [s.red_um, s.blue_um].into_iter().flatten() {
            if !figure.value.is_finite() {
                return bad("its displacement", figure.value, "a finite number");
            }
            if !(figure.plus_minus > 0.0 && figure.plus_minus.is_finite()) {
                return bad("its displacement's half-width", figure.plus_minus, "above 0");
            }
        }
    }
    Ok(())
}

/// One edge for the fit.
struct Row {
    number: usize,
    place: (f64, f64),
    normal: (f64, f64),
    figure: Figure,
}

fn design(rows: &[Row], terms: &[Term]) -> (Vec<Vec<f64>>, Vec<f64>) {
    let line = |row: &Row| {
        let deviation = row.figure.plus_minus / COVERAGE_95;
        let along = |term: &Term| {
            let (x, y) = term.vector(row.place);
            (x * row.normal.0 + y * row.normal.1) / deviation
        };
        (terms.iter().map(along).collect(), row.figure.value / deviation)
    };
    rows.iter().map(line).unzip()
}

/// By how much the other unknowns swell each unknown's variance; infinite when the rows do not determine them.
fn inflations(rows: &[Row], terms: &[Term]) -> Vec<f64> {
    let (lines, right) = design(rows, terms);
    let Some(found) = least_squares(&lines, &right) else { return vec![f64::INFINITY; terms.len()] };
    let own = |i: usize| lines.iter().map(|l| l[i] * l[i]).sum::<f64>();
    (0..terms.len()).map(|i| own(i) * found.unit_covariance[i][i]).collect()
}

fn split(
    channel: Channel,
    samples: &[FringeSample],
    of: impl Fn(&FringeSample) -> Option<Figure>,
    options: &FringingOptions,
    remarks: &mut Vec<FringingRemark>,
) -> Result<ChannelFringing, FringingError> {
    let corner_mm = options.corner_mm();
    let row = |(i, s): (usize, &FringeSample)| {
        let (sin, cos) = s.normal_deg.to_radians().sin_cos();
        let place = (s.position_mm.0 / corner_mm, s.position_mm.1 / corner_mm);
        of(s).map(|figure| Row { number: i + 1, place, normal: (cos, sin), figure })
    };
    let rows: Vec<Row> = samples.iter().enumerate().filter_map(row).collect();
    if rows.len() < LEAST_EDGES {
        return Err(FringingError::TooFewEdges { channel, found: rows.len(), least: LEAST_EDGES });
    }
    let mut terms = vec![Term::ShiftX, Term::ShiftY, Term::Linear];
    if let Some(worst) = inflations(&rows, &terms).iter().position(|i| *i > MOST_INFLATION) {
        return Err(FringingError::Degenerate { channel, what: terms[worst].name() });
    }
    let more = [
        (options.turn, Term::Turn, MOST_INFLATION, FringingRemark::NoTurn { channel }),
        (options.cubic, Term::Cubic, MOST_INFLATION_CUBIC, FringingRemark::NoCubic { channel }),
    ];
    for (wanted, term, most, remark) in more {
        if !wanted {
            continue;
        }
        let mut trial = terms.clone();
        trial.push(term);
        let told = rows.len() >= LEAST_FOR_MORE && inflations(&rows, &trial).iter().all(|i| *i <= most);
        if told { terms = trial } else { remarks.push(remark) }
    }
    let (lines, right) = design(&rows, &terms);
    let found =
        least_squares(&lines, &right).ok_or(FringingError::Degenerate { channel, what: Term::Linear.name() })?;
    let degrees = rows.len() - terms.len();
    let ratio = (found.squares / degrees as f64).sqrt();
    let factor = if ratio > 1.0 { ratio * student_975(degrees) } else { COVERAGE_95 };
    let covariance_95: Vec<Vec<f64>> =
        found.unit_covariance.iter().map(|r| r.iter().map(|c| c * factor * factor).collect()).collect();
    let residuals: Vec<f64> = rows
        .iter()
        .zip(&lines)
        .map(|(row, line)| {
            let told: f64 = line.iter().zip(&found.x).map(|(a, x)| a * x).sum();
            row.figure.value - told * row.figure.plus_minus / COVERAGE_95
        })
        .collect();
    let of_term = |term: Term| {
        let at = terms.iter().position(|t| *t == term)?;
        Some(Figure::new(found.x[at], covariance_95[at][at].max(0.0).sqrt()))
    };
    let known = |term: Term| of_term(term).unwrap_or_default();
    let nowhere = FieldValue { radius_mm: 0.0, radial_um: Figure::default(), tangential_um: Figure::default() };
    let mut out = ChannelFringing {
        channel,
        edges: rows.len(),
        shift_um: [known(Term::ShiftX), known(Term::ShiftY)],
        linear_um: known(Term::Linear),
        cubic_um: of_term(Term::Cubic),
        turn_um: of_term(Term::Turn),
        field: [nowhere; 3],
        residual_um: (residuals.iter().map(|r| r * r).sum::<f64>() / rows.len() as f64).sqrt(),
        residual_ratio: ratio,
        corner_mm,
        terms: terms.clone(),
        parameters: found.x.clone(),
        covariance_95,
    };
    out.field = [0.0, 0.5, 1.0].map(|share| out.field_value(share * corner_mm));
    if out.shift_um.iter().any(|s| s.stands_out()) {
        let shift_um = out.shift_um[0].value.hypot(out.shift_um[1].value);
        remarks.push(FringingRemark::Misregistered { channel, shift_um });
    }
    // Chance alone passes this once in a thousand (Wilson and Hilferty's cube-root approximation of chi squared).
    let share = 2.0 / (9.0 * degrees as f64);
    if ratio > (1.0 - share + 3.09 * share.sqrt()).powf(1.5) {
        remarks.push(FringingRemark::Scattered { channel, ratio });
    }
    let standing =
        |(row, residual): (&Row, &f64)| (residual.abs() / row.figure.plus_minus * COVERAGE_95, row.number, *residual);
    let worst = rows.iter().zip(&residuals).map(standing).max_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((size, number, residual_um)) = worst
        && size > OUTLYING
    {
        remarks.push(FringingRemark::Outlying { channel, number, residual_um });
    }
    Ok(out)
}
