//! How large a stack may get, and how many set-ups that makes before any of them is looked at.

use crate::fit::{mounts_join, threads_join};
use crate::part::{Kit, Part};
use crate::schema::Kind;
use crate::setup_error::SetupError;

/// How large a stack may get.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Tubes at most.
    pub tubes: usize,
    /// Bellows at most.
    pub bellows: usize,
    /// Close-up lenses at most.
    pub close_ups: usize,
}

impl Default for Limits {
    /// Three tubes, one bellows, two close-up lenses: beyond that stacks sag and pictures suffer (common practice, no
    /// source).
    fn default() -> Self {
        Self { tubes: 3, bellows: 1, close_ups: 2 }
    }
}

/// Limits as a person asks for them; `None` leaves the choice to [`Limits::feasible`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct AskedLimits {
    /// Tubes at most.
    pub tubes: Option<usize>,
    /// Bellows at most.
    pub bellows: Option<usize>,
    /// Close-up lenses at most.
    pub close_ups: Option<usize>,
}

/// A list of more set-ups than this is neither made in seconds nor read by anybody.
pub const MOST_SETUPS: u64 = 300_000;

impl Limits {
    /// No limit below what the kit holds: with it every set-up that the kit can make is listed.
    pub fn everything(kit: &Kit) -> Self {
        let count = |kind| kit.of_kind(kind).count();
        Self { tubes: count(Kind::Tube), bellows: count(Kind::Bellows), close_ups: count(Kind::CloseUpLens) }
    }

    /// The widest of these that makes at most [`MOST_SETUPS`]: everything, the usual limits, and two steps below; a
    /// figure that was asked for stands in each.
    pub fn feasible(kit: &Kit, body: Option<&str>, asked: AskedLimits) -> Result<Self, SetupError> {
        let everything = Self::everything(kit);
        let steps = [
            everything,
            Self::default(),
            Self { tubes: 2, bellows: 1, close_ups: 1 },
            Self { tubes: 1, bellows: 1, close_ups: 1 },
        ];
        let steps = steps.map(|step| step.asked(asked).within(everything));
        let fits = steps.into_iter().find(|limits| limits.combinations(kit, body) <= MOST_SETUPS);
        let least = steps[steps.len() - 1].combinations(kit, body);
        fits.ok_or(SetupError::TooMany { combinations: least, most: MOST_SETUPS })
    }

    fn asked(self, asked: AskedLimits) -> Self {
        Self {
            tubes: asked.tubes.unwrap_or(self.tubes),
            bellows: asked.bellows.unwrap_or(self.bellows),
            close_ups: asked.close_ups.unwrap_or(self.close_ups),
        }
    }

    fn within(self, most: Self) -> Self {
        Self {
            tubes: self.tubes.min(most.tubes),
            bellows: self.bellows.min(most.bellows),
            close_ups: self.close_ups.min(most.close_ups),
        }
    }

    /// How many combinations of parts [`crate::reach`] looks at under these limits, on one body or on all. Counted, not
    /// listed: a dozen close-up lenses already stand in millions of orders.
    pub fn combinations(self, kit: &Kit, body: Option<&str>) -> u64 {
        let bodies = kit.of_kind(Kind::Body).filter(|part| body.is_none_or(|id| part.id() == id));
        bodies.map(|body| self.on(kit, body)).fold(0, u64::saturating_add)
    }

    fn on(self, kit: &Kit, body: &Part) -> u64 {
        let spacers = subsets(mounted(kit, body, Kind::Tube), self.tubes)
            .saturating_mul(subsets(mounted(kit, body, Kind::Bellows), self.bellows));
        let ends = lenses(kit).map(|lens| {
            let rings = kit.of_kind(Kind::ReversingRing);
            let reversed = rings.filter(|ring| mounts_join(body, ring).is_ok() && threads_join(ring, lens).is_ok());
            let by_mount = mounts_join(body, lens).is_ok();
            let straight = if by_mount { sequences(screwed(kit, lens), self.close_ups) } else { 0 };
            straight.saturating_add(reversed.count() as u64)
        });
        spacers.saturating_mul(ends.fold(0, u64::saturating_add))
    }

    /// What these limits leave out of the list, one sentence a kind of part; empty when they leave out nothing.
    pub(crate) fn cut(self, kit: &Kit, body: Option<&str>) -> Vec<String> {
        let bodies: Vec<_> = kit.of_kind(Kind::Body).filter(|part| body.is_none_or(|id| part.id() == id)).collect();
        let most = |kind| bodies.iter().map(|body| mounted(kit, body, kind)).max().unwrap_or(0);
        let joined = |lens: &&Part| bodies.iter().any(|body| mounts_join(body, lens).is_ok());
        let close_ups = lenses(kit).filter(joined).map(|lens| screwed(kit, lens)).max().unwrap_or(0);
        let table = [
            (Kind::Tube, self.tubes, most(Kind::Tube)),
            (Kind::Bellows, self.bellows, most(Kind::Bellows)),
            (Kind::CloseUpLens, self.close_ups, close_ups),
        ];
        table.into_iter().filter_map(|(kind, limit, fit)| cut_sentence(kind, limit, fit)).collect()
    }
}

fn cut_sentence(kind: Kind, limit: usize, fit: usize) -> Option<String> {
    let spec = kind.spec();
    let name = if limit == 1 { spec.label } else { spec.plural };
    (fit > limit)
        .then(|| format!("set-ups with more than {limit} {name} are not listed, though {fit} would fit together"))
}

/// The lenses whose optics are part of this version.
pub(crate) fn lenses(kit: &Kit) -> impl Iterator<Item = &Part> {
    kit.of_kind(Kind::Lens).filter(|lens| lens.words("focusing") != Some("internal"))
}

fn mounted(kit: &Kit, body: &Part, kind: Kind) -> usize {
    kit.of_kind(kind).filter(|part| mounts_join(body, part).is_ok()).count()
}

/// How many close-up lenses have this lens's thread; each shows that same thread to the next.
fn screwed(kit: &Kit, lens: &Part) -> usize {
    kit.of_kind(Kind::CloseUpLens).filter(|close_up| threads_join(lens, close_up).is_ok()).count()
}

/// How many sets of at most `most` of `n` things there are: the sum of n over k.
fn subsets(n: usize, most: usize) -> u64 {
    sum_of_products(n, most, |k| k as u128)
}

/// How many rows of at most `most` of `n` things there are: the sum of n!/(n − k)!.
fn sequences(n: usize, most: usize) -> u64 {
    sum_of_products(n, most, |_| 1)
}

/// 1 + n/d(1) + n(n − 1)/(d(1)d(2)) + …, each term whole; no more than a `u64` holds.
fn sum_of_products(n: usize, most: usize, divisor: impl Fn(usize) -> u128) -> u64 {
    let (mut sum, mut term) = (1u64, 1u128);
    for k in 1..=most.min(n) {
        term = term * (n - k + 1) as u128 / divisor(k);
        let Ok(whole) = u64::try_from(term) else { return u64::MAX };
        sum = sum.saturating_add(whole);
    }
    sum
}
