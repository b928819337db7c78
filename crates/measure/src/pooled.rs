//! Several edges as one: means with the scatter between the edges, and a word when they do not agree.
//!
//! Every edge comes with its own interval. If the edges differ by no more than those intervals explain, weighting by the inverse of the
//! variance gives the surest mean. If they differ by more, each edge is its own truth (another place in the field, another
//! direction, another focus), and the scatter between edges counts as well: a random-effects model, its between-edge variance by
//! moments (DerSimonian & Laird, "Meta-analysis in clinical trials", Controlled Clinical Trials 7, 1986), its interval by
//! Student's t on the weighted residuals (Hartung & Knapp, Statistics in Medicine 20, 2001), no narrower than from
//! the weights alone. Both formulas from memory.

use crate::algebra::{COVERAGE_95, Figure, student_975};
use crate::figures::figure;
use crate::slanted::{Channel, ChannelReport, EdgeReport};

/// Edges pooled.
#[derive(Debug, Clone, PartialEq)]
pub struct Pooled {
    /// The channel.
    pub channel: Channel,
    /// How many edges went in.
    pub edges: usize,
    /// The response from frequency 0 to the end of the shortest curve.
    pub curve: Vec<PooledPoint>,
    /// MTF50 over the edges that have one; `None` when fewer than two have.
    pub mtf50_cy_px: Option<PooledFigure>,
    /// Reservations: that the edges do not agree, and edges without an MTF50.
    pub remarks: Vec<PoolRemark>,
}

/// One frequency of a pooled curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PooledPoint {
    /// Cycles per pixel.
    pub frequency_cy_px: f64,
    /// The responses there.
    pub response: PooledFigure,
}

/// Several measured values of one thing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PooledFigure {
    /// How many values.
    pub count: usize,
    /// Mean with weights from each value's own interval and the scatter between values.
    pub weighted: Figure,
    /// Mean with weights from each value's own interval alone: true only for values that do not differ.
    pub inverse_variance: Figure,
    /// Plain mean, each value counting the same; its interval is that of the values' own scatter (Student's t).
    pub plain: Figure,
    /// Standard deviation between edges, beyond what their own intervals explain; 0 when those explain all.
    pub between: f64,
    /// Sum of squared departures from the inverse-variance mean in standard errors (Cochran's Q).
    pub q: f64,
    /// What Q passes in one case of twenty when the values differ by chance alone.
    pub q_limit: f64,
}

impl PooledFigure {
    /// True when the values differ by more than their uncertainty: the mean is then that of different things.
    pub fn differ(&self) -> bool {
        self.q > self.q_limit
    }
}

/// A reservation about pooled edges.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum PoolRemark {
    /// MTF50 differs between the edges by more than their uncertainty.
    Differ {
        /// Standard deviation between edges, cycles per pixel.
        between_cy_px: f64,
        /// That in per cent of the mean.
        percent: f64,
        /// Lowest and highest.
        range_cy_px: (f64, f64),
    },
    /// MTF50 agrees, but the curves differ elsewhere by more than their uncertainty.
    CurvesDiffer {
        /// Frequency at which they differ most, cycles per pixel.
        at_cy_px: f64,
        /// Standard deviation of the response between edges there.
        between: f64,
    },
    /// Edges without an MTF50.
    WithoutMtf50 {
        /// Their numbers, from 0, in the order given.
        edges: Vec<usize>,
    },
}

impl std::fmt::Display for PoolRemark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Differ { between_cy_px, percent, range_cy_px: (low, high) } => write!(
                f,
                "the edges differ by more than their own uncertainty: MTF50 runs from {low:.4} to {high:.4} cycles per pixel, \
                 with {between_cy_px:.4} ({percent:.0} %) of standard deviation between edges; the mean is that of different \
                 sharpness (place in the field, direction, focus), so look at the edges one by one"
            ),
            Self::CurvesDiffer { at_cy_px, between } => write!(
                f,
                "MTF50 agrees, but the curves differ by more than their own uncertainty, most at {at_cy_px:.3} cycles per \
                 pixel, with {between:.3} of standard deviation between edges"
            ),
            Self::WithoutMtf50 { edges } => {
                let named: Vec<String> = edges.iter().map(|e| (e + 1).to_string()).collect();
                write!(f, "edge {} has no MTF50 and does not count in its mean", named.join(", "))
            }
        }
    }
}

/// Why edges cannot be pooled.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PoolError {
    /// A mean of one, or none.
    #[error("{count} edges were given; at least 2 are needed for a mean")]
    TooFew {
        /// How many.
        count: usize,
    },
    /// An edge lacks the channel.
    #[error("edge {} has no figures for {channel}; leave it out or pool another channel", edge + 1)]
    NoChannel {
        /// Its number, from 0, in the order given.
        edge: usize,
        /// The channel asked for.
        channel: Channel,
    },
}

/// Pools the luminance of several edges.
pub fn pool(edges: &[EdgeReport]) -> Result<Pooled, PoolError> {
    pool_channel(edges, Channel::Luminance)
}

/// Pools one channel of several edges. Frequencies are in cycles per pixel: all edges must be of scans at one pitch.
pub fn pool_channel(edges: &[EdgeReport], channel: Channel) -> Result<Pooled, PoolError> {
    if edges.len() < 2 {
        return Err(PoolError::TooFew { count: edges.len() });
    }
    let mut reports: Vec<&ChannelReport> = Vec::new();
    for (edge, report) in edges.iter().enumerate() {
        reports.push(report.channel(channel).ok_or(PoolError::NoChannel { edge, channel })?);
    }
    let (mtf50s, without): (Vec<_>, Vec<_>) = reports
        .iter()
        .map(|r| figure(r.mtf50_cy_px, r.mtf50_plus_minus))
        .enumerate()
        .partition(|(_, mtf50)| mtf50.is_some());
    let values: Vec<Figure> = mtf50s.into_iter().filter_map(|(_, mtf50)| mtf50).collect();
    let mtf50_cy_px = pooled(&values);
    let curve = pooled_curve(&reports);
    let mut remarks = disagreement(mtf50_cy_px.as_ref(), &values, &curve);
    if !without.is_empty() {
        remarks.push(PoolRemark::WithoutMtf50 { edges: without.into_iter().map(|(edge, _)| edge).collect() });
    }
    Ok(Pooled { channel, edges: edges.len(), curve, mtf50_cy_px, remarks })
}

/// The curves share their frequencies: all run in the same steps from 0.
fn pooled_curve(reports: &[&ChannelReport]) -> Vec<PooledPoint> {
    let shortest = reports.iter().map(|r| r.sfr.len()).min().unwrap_or(0);
    let point = |i: usize| {
        let values: Vec<Figure> = reports.iter().map(|r| Figure::new(r.sfr[i].response, r.sfr[i].plus_minus)).collect();
        Some(PooledPoint { frequency_cy_px: reports[0].sfr[i].frequency_cy_px, response: pooled(&values)? })
    };
    (0..shortest).filter_map(point).collect()
}

fn disagreement(mtf50: Option<&PooledFigure>, values: &[Figure], curve: &[PooledPoint]) -> Vec<PoolRemark> {
    if let Some(figure) = mtf50.filter(|m| m.differ()) {
        let range_cy_px = values.iter().fold((f64::INFINITY, 0.0_f64), |r, v| (r.0.min(v.value), r.1.max(v.value)));
        let percent = 100.0 * figure.between / figure.weighted.value;
        return vec![PoolRemark::Differ { between_cy_px: figure.between, percent, range_cy_px }];
    }
    // At one frequency of twenty chance alone passes the limit, and neighbours go together: a fifth of the curve up to where the
    // response is half gone is more than chance does.
    let upper = curve.iter().take_while(|p| p.response.plain.value > 0.25).count();
    let apart: Vec<&PooledPoint> = curve[..upper].iter().filter(|p| p.response.differ()).collect();
    let worst = apart.iter().max_by(|a, b| a.response.between.total_cmp(&b.response.between));
    let differ = worst.filter(|_| 5 * apart.len() > upper);
    differ
        .map(|p| PoolRemark::CurvesDiffer { at_cy_px: p.frequency_cy_px, between: p.response.between })
        .into_iter()
        .collect()
}

/// Means of at least two figures.
fn pooled(values: &[Figure]) -> Option<PooledFigure> {
    let count = values.len();
    if count < 2 {
        return None;
    }
    let n = count as f64;
    let plain = values.iter().map(|v| v.value).sum::<f64>() / n;
    let scatter = values.iter().map(|v| (v.value - plain).powi(2)).sum::<f64>() / (n - 1.0);
    let plain = Figure::new(plain, student_975(count - 1) * (scatter / n).sqrt());
    // Exact values, as at frequency 0, all weigh the same: a millionth of the value, far below anything measured.
    let least = 1e-6 * plain.value.abs().max(1e-6);
    let variances: Vec<f64> = values.iter().map(|v| (v.plus_minus / COVERAGE_95).max(least).powi(2)).collect();
    let weights: Vec<f64> = variances.iter().map(|v| 1.0 / v).collect();
    let (fixed, total) = weighted_mean(values, &weights);
    let q: f64 = values.iter().zip(&weights).map(|(v, w)| w * (v.value - fixed).powi(2)).sum();
    let squares: f64 = weights.iter().map(|w| w * w).sum();
    let between = ((q - (n - 1.0)) / (total - squares / total)).max(0.0);
    let mixed: Vec<f64> = variances.iter().map(|v| 1.0 / (v + between)).collect();
    let (mean, mixed_total) = weighted_mean(values, &mixed);
    let residual: f64 = values.iter().zip(&mixed).map(|(v, w)| w * (v.value - mean).powi(2)).sum();
    let by_weights = COVERAGE_95 / mixed_total.sqrt();
    let q_limit = chi_square_95(count - 1);
    // With a scatter that is there beyond doubt, how few edges tell it decides; without, the edges' own intervals do.
    let by_scatter =
        if q > q_limit { student_975(count - 1) * (residual / (n - 1.0) / mixed_total).sqrt() } else { 0.0 };
    Some(PooledFigure {
        count,
        weighted: Figure::new(mean, by_weights.max(by_scatter)),
        inverse_variance: Figure::new(fixed, COVERAGE_95 / total.sqrt()),
        plain,
        between: between.sqrt(),
        q,
        q_limit,
    })
}

/// Weighted mean and the sum of the weights.
fn weighted_mean(values: &[Figure], weights: &[f64]) -> (f64, f64) {
    let total: f64 = weights.iter().sum();
    (values.iter().zip(weights).map(|(v, w)| w * v.value).sum::<f64>() / total, total)
}

/// What chi-square of so many degrees of freedom passes in one case of twenty: the first four as tabled (Abramowitz &
/// Stegun, table 26.8), beyond them by the normal distribution of its cube root (Wilson & Hilferty 1931; A&S 26.4.17), within 0.3 %.
fn chi_square_95(degrees: usize) -> f64 {
    const TABLED: [f64; 5] = [0.0, 3.841_459, 5.991_465, 7.814_728, 9.487_729];
    const Z_95: f64 = 1.644_853_626_951_473;
    let n = degrees as f64;
    let share = 2.0 / (9.0 * n);
    TABLED.get(degrees).copied().unwrap_or_else(|| n * (1.0 - share + Z_95 * share.sqrt()).powi(3))
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn chi_square_as_tabled() {
        // Abramowitz & Stegun, table 26.8.
        for (degrees, tabled) in
            [(1, 3.841_46), (2, 5.991_46), (3, 7.814_73), (5, 11.070_5), (10, 18.307), (19, 30.143_5)]
        {
            assert_close!(chi_square_95(degrees), tabled, relative = 0.003, "{degrees}");
        }
    }

    #[test]
    fn two_values_worked_by_hand() {
        // 10 and 14 with standard errors 1 and 2: weights 1 and 1/4, mean (10 + 3.5) / 1.25 = 10.8; Q = 0.64 + 10.24 / 4 = 3.2;
        // between: (3.2 - 1) / (1.25 - 1.0625 / 1.25) = 2.2 / 0.4 = 5.5; then weights 1/6.5 and 1/9.5: mean 11.625.
        let values = [Figure::new(10.0, COVERAGE_95), Figure::new(14.0, 2.0 * COVERAGE_95)];
        let found = pooled(&values).unwrap();
        assert_close!(found.inverse_variance.value, 10.8, absolute = 1e-12);
        assert_close!(found.inverse_variance.plus_minus, COVERAGE_95 / 1.25_f64.sqrt(), absolute = 1e-12);
        assert_close!(found.q, 3.2, absolute = 1e-12);
        assert_close!(found.between, 5.5_f64.sqrt(), absolute = 1e-12);
        assert_close!(found.weighted.value, (10.0 / 6.5 + 14.0 / 9.5) / (1.0 / 6.5 + 1.0 / 9.5), absolute = 1e-12);
        assert_close!(found.plain.value, 12.0, absolute = 1e-12);
        // Standard deviation sqrt 8, of the mean 2, times t(1) = 12.706.
        assert_close!(found.plain.plus_minus, 25.412_4, absolute = 1e-3);
        assert!(!found.differ());
    }

    #[test]
    fn exact_values_that_are_equal_do_not_differ() {
        let found = pooled(&[Figure::exact(1.0); 4]).unwrap();
        assert_close!(found.weighted.value, 1.0, absolute = 1e-12);
        assert_close!(found.between, 0.0, absolute = 1e-12);
        assert!(!found.differ());
    }
}
