//! Apertures that all set-ups of a group can be set to, so that like is compared with like.
//!
//! Like is the same *effective* f-number, the one at the film. At one magnification it means the same diffraction and the same
//! depth (2·c·N/m²) at once, whatever lens stands in front; the same engraved f-number means neither.

use super::words::f_text;

/// The aperture ring of a set-up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ring {
    /// Effective over engraved f-number.
    pub factor: f64,
    /// Engraved: widest open, most closed.
    pub f_numbers: [f64; 2],
    /// From one click to the next, stops; half a stop is usual.
    pub click_stops: f64,
}

/// An aperture ring set to something.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RingSetting {
    /// As engraved: 2.8, 4, 5.6 …
    pub engraved: f64,
    /// At the film.
    pub effective: f64,
    /// How far that is from what was wanted, stops; above 0 closed further.
    pub off_stops: f64,
}

/// The full stops as they are engraved; their true values are powers of √2 (ISO 517, from memory).
const ENGRAVED: [f64; 16] = [0.7, 1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0, 45.0, 64.0, 90.0, 128.0];

/// What is engraved for a true f-number: the round figure of a full stop, else two digits.
fn as_engraved(true_value: f64) -> f64 {
    let full = ENGRAVED.iter().enumerate().map(|(k, engraved)| (2f64.powf(0.5 * (k as f64 - 1.0)), *engraved));
    let near = full.min_by(|p, q| (p.0 - true_value).abs().total_cmp(&(q.0 - true_value).abs()));
    match near {
        Some((exact, engraved)) if (exact / true_value).log2().abs() < 0.03 => engraved,
        _ => {
            let digits = 10f64.powf(1.0 - true_value.log10().floor());
            (true_value * digits).round() / digits
        }
    }
}

/// The true value of an engraved f-number: a power of √2 where one is meant.
fn as_meant(engraved: f64) -> f64 {
    let half_stops = (4.0 * engraved.log2()).round() / 4.0;
    let meant = 2f64.powf(half_stops);
    if (as_engraved(meant) - engraved).abs() < 1e-9 { meant } else { engraved }
}

impl Ring {
    /// The setting that comes nearest to an effective f-number; `None` when that lies past either end of the ring by more than
    /// half a click.
    pub fn nearest(&self, effective: f64) -> Option<RingSetting> {
        let [widest, closed] = self.f_numbers.map(as_meant);
        let wanted = effective / self.factor;
        let stops = |p: f64, q: f64| 2.0 * (p / q).log2();
        // Clicks lie on the series from f/1; the widest has a click of its own wherever it lies.
        let clicks = (2.0 * wanted.log2() / self.click_stops).round();
        let on_series = 2f64.powf(0.5 * clicks * self.click_stops);
        let ends = [widest, closed];
        let inside = |n: &f64| *n >= widest * (1.0 - 1e-9) && *n <= closed * (1.0 + 1e-9);
        let best = std::iter::once(on_series)
            .filter(inside)
            .chain(ends)
            .min_by(|p, q| stops(*p, wanted).abs().total_cmp(&stops(*q, wanted).abs()))?;
        let off_stops = stops(best, wanted);
        let setting = RingSetting { engraved: self.written(best), effective: best * self.factor, off_stops };
        (off_stops.abs() <= 0.5 * self.click_stops + 1e-9).then_some(setting)
    }

    fn written(&self, true_value: f64) -> f64 {
        let stated = self.f_numbers.iter().copied().find(|end| (as_meant(*end) - true_value).abs() < 1e-9);
        stated.unwrap_or_else(|| as_engraved(true_value))
    }

    /// Effective: widest open, most closed.
    pub fn effective(&self) -> [f64; 2] {
        self.f_numbers.map(|engraved| as_meant(engraved) * self.factor)
    }
}

/// An effective f-number that a group is compared at.
#[derive(Debug, Clone, PartialEq)]
pub struct Aperture {
    /// The effective f-number.
    pub effective: f64,
    /// Whole stops from the first, which is thought the best; above 0 closed further. `None` where a person asked for it.
    pub stops_from_best: Option<i32>,
    /// What each member of the group is set to; `None` where its ring does not go there.
    pub settings: Vec<Option<RingSetting>>,
}

impl Aperture {
    /// The most that two members differ, stops.
    pub fn mismatch_stops(&self) -> f64 {
        let off = || self.settings.iter().flatten().map(|setting| setting.off_stops);
        (off().fold(f64::MIN, f64::max) - off().fold(f64::MAX, f64::min)).max(0.0)
    }

    fn able(&self) -> usize {
        self.settings.iter().flatten().count()
    }
}

/// Which apertures are asked for.
#[derive(Debug, Clone, PartialEq)]
pub enum AperturesAsked {
    /// So many whole stops around the best.
    Around(usize),
    /// These effective f-numbers, the most wanted first.
    These(Vec<f64>),
}

/// An aperture that not every set-up has.
#[derive(Debug, Clone, PartialEq)]
pub struct ApertureMissed {
    /// The effective f-number.
    pub effective: f64,
    /// Who cannot be set to it, by their place in the group.
    pub members: Vec<usize>,
    /// Whether the plan leaves the aperture out for everybody, there being no two to compare.
    pub left_out: bool,
}

fn at(rings: &[Ring], effective: f64, stops_from_best: Option<i32>) -> Aperture {
    let settings = rings.iter().map(|ring| ring.nearest(effective)).collect();
    Aperture { effective, stops_from_best, settings }
}

/// The apertures of a group, the most wanted first, and those that some or all of its members lack.
///
/// Around the best, the whole row is moved by up to half a stop so that as many rings as possible have a click near it.
pub fn apertures(rings: &[Ring], best: f64, asked: &AperturesAsked) -> (Vec<Aperture>, Vec<ApertureMissed>) {
    let wanted: Vec<Aperture> = match asked {
        AperturesAsked::These(list) => list.iter().map(|&effective| at(rings, effective, None)).collect(),
        AperturesAsked::Around(count) => around(rings, best, *count),
    };
    let least = rings.len().min(2);
    let missed = wanted.iter().filter(|aperture| aperture.able() < rings.len()).map(|aperture| ApertureMissed {
        effective: aperture.effective,
        members: (0..rings.len()).filter(|&m| aperture.settings[m].is_none()).collect(),
        left_out: aperture.able() < least,
    });
    let missed = missed.collect();
    (wanted.into_iter().filter(|aperture| aperture.able() >= least).collect(), missed)
}

/// The best, then one stop wider, one closer, two wider and so on.
fn around(rings: &[Ring], best: f64, count: usize) -> Vec<Aperture> {
    /// Twelfths of a stop over half a stop to either side: finer than any ring is set.
    const SHIFTS: i32 = 6;
    let row = |shift: f64| -> Vec<Aperture> {
        let stop = |rank: usize| if rank % 2 == 1 { -(rank as i32).div_euclid(2) - 1 } else { rank as i32 / 2 };
        let one = |rank| at(rings, best * 2f64.powf(0.5 * (f64::from(stop(rank)) + shift)), Some(stop(rank)));
        (0..count).map(one).collect()
    };
    let quality = |row: &[Aperture]| {
        let lacking: usize = row.iter().map(|aperture| rings.len() - aperture.able()).sum();
        (lacking, row.iter().map(Aperture::mismatch_stops).fold(0.0, f64::max))
    };
    let shifts = (-SHIFTS..=SHIFTS).map(|shift| f64::from(shift) / 12.0);
    let rated = shifts.map(|shift| (shift, row(shift))).map(|(shift, row)| (quality(&row), shift, row));
    let better = rated.min_by(|(p, s, _), (q, t, _)| {
        // Rounding must not move the row: what is equal to a thousandth of a stop stays nearest to the best.
        let thousandths = |stops: f64| (1000.0 * stops).round() as i64;
        let rank = |quality: &(usize, f64), shift: f64| (quality.0, thousandths(quality.1), thousandths(shift.abs()));
        rank(p, *s).cmp(&rank(q, *t))
    });
    better.map(|(.., row)| row).unwrap_or_default()
}

/// Effective f-numbers in words.
pub(super) fn list(effective: &[f64]) -> String {
    effective.iter().map(|n| f_text(*n)).collect::<Vec<_>>().join(", ")
}
