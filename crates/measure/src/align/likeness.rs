//! Whether two frames that were brought together show the same subject.

use super::fine::Pair;
use super::grey::{Grey, Halved};
use super::similarity::Similarity;

/// Half the side, pixels, of the surrounding that detail is told from.
const REACH: usize = 6;
/// Places that the frames are displaced to, to see how alike any two parts of them are.
const DISPLACED: usize = 24;

/// How alike two frames are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Likeness {
    /// Correlation of the detail where the frames lie on each other.
    pub correlation: f64,
    /// How far that stands above displaced ones, in their standard deviations.
    pub stands_out: f64,
}

/// Detail finer than shading, correlated; then displaced by a twelfth to a third of the frame in all directions.
pub(super) fn likeness(first: &Halved, second: &Halved, similarity: &Similarity, pair: Pair) -> Option<Likeness> {
    let [a, b] = [first.level(pair.first()), second.level(pair.second())].map(|grey| grey.detail(REACH));
    let (k, l) = pair.pixels();
    let to_second = |(x, y): (f64, f64)| {
        let (u, v) = similarity.to_second((x * k, y * k));
        (u / l, v / l)
    };
    let correlation = correlated(&a, &b, to_second)?;
    let side = a.width.min(a.height) as f64 * similarity.scale() * k / l;
    let displaced = |n: usize| {
        let angle = std::f64::consts::TAU * n as f64 * 0.381_966;
        let distance = side * (1.0 / 12.0 + 0.25 * n as f64 / DISPLACED as f64);
        let (dx, dy) = (distance * angle.cos(), distance * angle.sin());
        correlated(&a, &b, |at| {
            let (u, v) = to_second(at);
            (u + dx, v + dy)
        })
    };
    let others: Vec<f64> = (0..DISPLACED).filter_map(displaced).collect();
    let n = others.len() as f64;
    let mean = others.iter().sum::<f64>() / n;
    let deviation = (others.iter().map(|c| (c - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    Some(Likeness { correlation, stands_out: (correlation - mean) / deviation.max(1e-3) })
}

fn correlated(first: &Grey, second: &Grey, to_second: impl Fn((f64, f64)) -> (f64, f64)) -> Option<f64> {
    let (mut n, mut f, mut g, mut ff, mut gg, mut fg) = (0.0_f64, 0.0, 0.0, 0.0, 0.0, 0.0);
    for row in 0..first.height {
        for (column, a) in first.row(row).iter().enumerate() {
            let Some(b) = second.between(to_second((column as f64 + 0.5, row as f64 + 0.5))) else { continue };
            let (a, b) = (f64::from(*a), f64::from(b));
            n += 1.0;
            f += a;
            g += b;
            ff += a * a;
            gg += b * b;
            fg += a * b;
        }
    }
    let spread = (ff - f * f / n) * (gg - g * g / n);
    (n > 100.0 && spread > 0.0).then(|| (fg - f * g / n) / spread.sqrt())
}
