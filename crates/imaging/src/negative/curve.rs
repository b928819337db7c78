//! Characteristic curves of film: log₁₀ of exposure for a density above the base.

/// Why something is no characteristic curve.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CurveError {
    /// A slope that no film has.
    #[error("a gamma of {0} is none; it lies above 0 and up to 10")]
    Gamma(f64),
    /// A range that no film has.
    #[error("a straight line up to a density of {0} above the base is none; it ends above 0 and up to 5")]
    Range(f64),
    /// Too few or too many points.
    #[error("a curve of {0} point(s) cannot be used; 2 to {MOST_POINTS} can")]
    Points(usize),
    /// A point that does not lie above and to the right of the one before.
    #[error("point {0} of the curve does not lie above and to the right of the one before: both numbers must rise")]
    NotRising(usize),
    /// A line of text that is no point.
    #[error(
        "line {0} of the curve is no point; write log10 of the exposure and the density above the base, such as: -1.5 0.42"
    )]
    Line(usize),
}

/// Most points of a table.
const MOST_POINTS: usize = 1000;

/// A film's characteristic curve. Densities are counted above base and fog.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve(Shape);

#[derive(Debug, Clone, PartialEq)]
enum Shape {
    /// log H = D / gamma, from 0 to this density.
    Straight { gamma: f64, most: f64 },
    /// Points of density and log H, rising in both, with the slope of log H over density in each.
    Table { points: Vec<(f64, f64)>, slopes: Vec<f64> },
}

impl Curve {
    /// A straight line of the slope `gamma` (density over log₁₀ exposure: the average gradient of a data sheet), up to
    /// the density `most` above the base, where the film's shoulder begins. log H is 0 at the base.
    pub fn straight(gamma: f64, most: f64) -> Result<Self, CurveError> {
        if !(gamma > 0.0 && gamma <= 10.0) {
            return Err(CurveError::Gamma(gamma));
        }
        if !(most > 0.0 && most <= 5.0) {
            return Err(CurveError::Range(most));
        }
        Ok(Self(Shape::Straight { gamma, most }))
    }

    /// A table of (log₁₀ H, density above the base), both rising, joined by a monotone curve (PCHIP: F. N. Fritsch,
    /// J. Butland, A method for constructing local monotone piecewise cubic interpolants, SIAM J. Sci. Stat. Comput. 5
    /// (1984) 300).
    pub fn table(points: &[(f64, f64)]) -> Result<Self, CurveError> {
        if !(2..=MOST_POINTS).contains(&points.len()) {
            return Err(CurveError::Points(points.len()));
        }
        let rises = |w: &[(f64, f64)]| w[1].0 - w[0].0 > LEAST_STEP && w[1].1 - w[0].1 > LEAST_STEP;
        let sound = |p: &(f64, f64)| p.0.abs() <= 20.0 && p.1.abs() <= 20.0;
        if let Some(i) = points.iter().position(|p| !sound(p)) {
            return Err(CurveError::NotRising(i + 1));
        }
        if let Some(i) = points.windows(2).position(|w| !rises(w)) {
            return Err(CurveError::NotRising(i + 2));
        }
        let points: Vec<(f64, f64)> = points.iter().map(|&(h, d)| (d, h)).collect();
        let slopes = slopes(&points);
        Ok(Self(Shape::Table { points, slopes }))
    }

    /// A table as text: a point in each line, log₁₀ H and density above the base, apart by spaces, a comma, a semicolon
    /// or a tabulator; empty lines, and lines that begin with #, are left out.
    pub fn parse(text: &str) -> Result<Self, CurveError> {
        let mut points = Vec::new();
        for (number, line) in text.lines().enumerate() {
            let line = line.trim();
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            let mut numbers = line.split([' ', ',', ';', '\t']).filter(|w| !w.is_empty()).map(str::parse::<f64>);
            match (numbers.next(), numbers.next(), numbers.next()) {
                (Some(Ok(h)), Some(Ok(d)), None) => points.push((h, d)),
                _ => return Err(CurveError::Line(number + 1)),
            }
            if points.len() > MOST_POINTS {
                return Err(CurveError::Points(points.len()));
            }
        }
        Self::table(&points)
    }

    /// The slope of a straight line; `None` for a table.
    pub fn gamma(&self) -> Option<f64> {
        match self.0 {
            Shape::Straight { gamma, .. } => Some(gamma),
            Shape::Table { .. } => None,
        }
    }

    /// Least and greatest density above the base that the curve holds for.
    pub fn density_range(&self) -> (f64, f64) {
        match &self.0 {
            Shape::Straight { most, .. } => (0.0, *most),
            Shape::Table { points, .. } => (points[0].0, points[points.len() - 1].0),
        }
    }

    /// log₁₀ H at the ends of [`Self::density_range`].
    pub fn log_h_range(&self) -> (f64, f64) {
        let (least, most) = self.density_range();
        (self.log_h(least), self.log_h(most))
    }

    /// log₁₀ H for a density above the base; beyond the ends that of the end.
    pub fn log_h(&self, density: f64) -> f64 {
        let (least, most) = self.density_range();
        // What is no density (the logarithm of a negative number) is taken for the lower end.
        let d = if density > least { density.min(most) } else { least };
        match &self.0 {
            Shape::Straight { gamma, .. } => d / gamma,
            Shape::Table { points, slopes } => {
                let i = points.partition_point(|p| p.0 <= d).clamp(1, points.len() - 1) - 1;
                hermite(points[i], points[i + 1], (slopes[i], slopes[i + 1]), d)
            }
        }
    }
}

/// Points nearer than this in either direction are one: a densitometer reads to 0.01.
const LEAST_STEP: f64 = 1e-6;

/// The cubic through two points with those slopes.
fn hermite((x0, y0): (f64, f64), (x1, y1): (f64, f64), slopes: (f64, f64), x: f64) -> f64 {
    let (h, t) = (x1 - x0, (x - x0) / (x1 - x0));
    let value = y0 * (1.0 + 2.0 * t) * (1.0 - t).powi(2)
        + slopes.0 * h * t * (1.0 - t).powi(2)
        + y1 * t.powi(2) * (3.0 - 2.0 * t)
        - slopes.1 * h * t.powi(2) * (1.0 - t);
    // Rounding must not lead beyond the points.
    value.clamp(y0, y1)
}

/// Slopes that keep the curve rising: inside the weighted harmonic mean of the neighbouring chords, at the ends the
/// three-point formula, held back where it would overshoot.
fn slopes(points: &[(f64, f64)]) -> Vec<f64> {
    let steps: Vec<f64> = points.windows(2).map(|w| w[1].0 - w[0].0).collect();
    let chords: Vec<f64> = points.windows(2).map(|w| (w[1].1 - w[0].1) / (w[1].0 - w[0].0)).collect();
    let n = points.len();
    if n == 2 {
        return vec![chords[0]; 2];
    }
    let inner = |i: usize| {
        let (w0, w1) = (2.0 * steps[i] + steps[i - 1], steps[i] + 2.0 * steps[i - 1]);
        (w0 + w1) / (w0 / chords[i - 1] + w1 / chords[i])
    };
    let end = |h: (f64, f64), c: (f64, f64)| {
        let slope = ((2.0 * h.0 + h.1) * c.0 - h.0 * c.1) / (h.0 + h.1);
        slope.clamp(0.0, 3.0 * c.0)
    };
    let mut all = vec![end((steps[0], steps[1]), (chords[0], chords[1]))];
    all.extend((1..n - 1).map(inner));
    all.push(end((steps[n - 2], steps[n - 3]), (chords[n - 2], chords[n - 3])));
    all
}
