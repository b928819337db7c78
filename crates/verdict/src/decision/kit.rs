//! The cheapest kit, and what buying a part would bring.

use super::case::Case;
use super::drawer::{DecideError, Part};
use crate::cover::{PartSet, cheapest, members};

/// A sum of money with the half-width of its 95 % interval: prices are known apart from each other, so that their half-widths add as squares
/// (JCGM 100:2008, 5.1.2). It is 0 where every price in the sum is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sum {
    /// The sum.
    pub value: f64,
    /// Half-width.
    pub plus_minus: f64,
}

impl Sum {
    /// Of the priced ones among these parts.
    fn of<'a>(parts: impl Iterator<Item = &'a Part>) -> Self {
        Self::signed(parts.map(|part| (part, 1.0)))
    }

    /// Of priced parts that are added (1) or taken away (−1).
    fn signed<'a>(parts: impl Iterator<Item = (&'a Part, f64)>) -> Self {
        let (mut value, mut squares) = (0.0, 0.0_f64);
        for (part, sign) in parts {
            if let Some(price) = part.price {
                value += sign * price;
                squares += part.price_plus_minus.powi(2);
            }
        }
        Self { value, plus_minus: squares.sqrt() }
    }
}

/// How much more one kit ties up than another: the doubt of a part that both have falls out.
pub(super) fn difference(case: &Case, more: &Kit, less: &Kit) -> Sum {
    let only = |set: PartSet, sign: f64| members(set).map(move |part| (&case.drawer.parts[part], sign));
    Sum::signed(only(more.set & !less.set, 1.0).chain(only(less.set & !more.set, -1.0)))
}

/// A kit with its money.
#[derive(Debug, Clone, PartialEq)]
pub struct Kit {
    /// Ids of the parts kept (or bought).
    pub parts: Vec<String>,
    /// What the priced ones among them are worth: what keeping them ties up.
    pub worth: Sum,
    /// Those among them whose price nobody knows.
    pub unpriced: Vec<String>,
    pub(super) set: PartSet,
}

/// The kit chosen, and what could go.
#[derive(Debug, Clone, PartialEq)]
pub struct KitChoice {
    /// The cheapest by known prices; of equally cheap ones that with the fewest unpriced parts, then with the fewest parts.
    pub cheapest: Kit,
    /// The kit with the fewest unpriced parts, where that is another one: it is the cheaper one if the parts without price that it
    /// does without are worth more than the two kits' difference.
    pub fewest_unpriced: Option<Kit>,
    /// Owned parts that no use needs, with what they would bring.
    pub could_go: Vec<(String, Option<Sum>)>,
    /// What all priced ones of those would bring together.
    pub would_bring: Sum,
    /// Uses that nothing owned serves, not even perhaps; the kit cannot save them.
    pub unserved: Vec<String>,
}

/// What buying one part would bring.
#[derive(Debug, Clone, PartialEq)]
pub struct Purchase {
    /// The part.
    pub part: String,
    /// What it costs, if that is known.
    pub price: Option<Sum>,
    /// Uses that are surely served with it and are not without it.
    pub newly_served: Vec<String>,
    /// The cheapest kit with it at hand.
    pub kit: Kit,
    /// How much less that kit ties up than the one without, its own price counted; negative when it ties up more. `None`
    /// where a price is missing, or where more uses are served and the two do not compare.
    pub frees: Option<Sum>,
}

/// Which of two unequal things counts first.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum First {
    Price,
    Unpriced,
}

/// Hundredths (at most 10⁹ a part, 2³⁷ for all), parts without price and parts (at most 128 each) as one whole number, the
/// first in rank at the top.
fn cost(part: &Part, price: Option<f64>, first: First) -> i64 {
    let hundredths = price.map_or(0, |price| (price * 100.0).round() as i64);
    let unpriced = i64::from(part.price.is_none());
    match first {
        First::Price => (hundredths << 16) + (unpriced << 8) + 1,
        First::Unpriced => (unpriced << 46) + (hundredths << 8) + 1,
    }
}

/// The cheapest parts, of those available, for the uses whose serving sets are given.
pub(super) fn solve(case: &Case, first: First, uses: &[Vec<PartSet>]) -> Result<PartSet, DecideError> {
    let costs: Vec<i64> = case.drawer.parts.iter().map(|part| cost(part, part.price, first)).collect();
    Ok(cheapest(&costs, uses)?.parts)
}

/// The same at other prices than are stated, by part.
pub(super) fn solve_at(case: &Case, prices: &[Option<f64>], uses: &[Vec<PartSet>]) -> Result<PartSet, DecideError> {
    let costs = case.drawer.parts.iter().zip(prices).map(|(part, price)| cost(part, *price, First::Price));
    Ok(cheapest(&costs.collect::<Vec<_>>(), uses)?.parts)
}

/// The sets of parts that count as serving each use, uses that nothing serves left out.
fn serving(case: &Case, available: PartSet) -> Vec<Vec<PartSet>> {
    let of = |use_| case.counted(use_, available).into_iter().map(|at| case.parts[at]).collect::<Vec<_>>();
    (0..case.drawer.uses.len()).map(of).filter(|sets| !sets.is_empty()).collect()
}

pub(super) fn choose(case: &Case) -> Result<KitChoice, DecideError> {
    let uses = serving(case, case.owned);
    let cheapest = kit(case, solve(case, First::Price, &uses)?);
    let other = kit(case, solve(case, First::Unpriced, &uses)?);
    let going: Vec<usize> = members(case.owned & !cheapest.set).collect();
    let part = |part: &usize| &case.drawer.parts[*part];
    let unserved = (0..case.drawer.uses.len()).filter(|use_| case.counted(*use_, case.owned).is_empty());
    Ok(KitChoice {
        fewest_unpriced: (other.unpriced.len() < cheapest.unpriced.len()).then_some(other),
        could_go: going.iter().map(|at| (case.part_id(*at), price(part(at)))).collect(),
        would_bring: Sum::of(going.iter().map(part)),
        unserved: unserved.map(|use_| case.use_id(use_)).collect(),
        cheapest,
    })
}

/// What one part would bring or cost; `None` where nobody knows.
fn price(part: &Part) -> Option<Sum> {
    part.price.map(|_| Sum::of(std::iter::once(part)))
}

pub(super) fn kit(case: &Case, set: PartSet) -> Kit {
    let parts = || members(set).map(|part| &case.drawer.parts[part]);
    Kit {
        parts: parts().map(|part| part.id.clone()).collect(),
        worth: Sum::of(parts()),
        unpriced: parts().filter(|part| part.price.is_none()).map(|part| part.id.clone()).collect(),
        set,
    }
}

/// The cheapest kit of these parts, if it serves no fewer uses than `least`.
pub(super) fn cheapest_of(case: &Case, available: PartSet, least: usize) -> Result<Option<Kit>, DecideError> {
    let uses = serving(case, available);
    if uses.len() < least {
        return Ok(None);
    }
    Ok(Some(kit(case, solve(case, First::Price, &uses)?)))
}

pub(super) fn purchases(case: &Case, now: &Kit) -> Result<Vec<Purchase>, DecideError> {
    let wanted = (0..case.drawer.parts.len()).filter(|part| !case.drawer.parts[*part].owned);
    wanted.map(|part| purchase(case, now, part)).collect()
}

fn purchase(case: &Case, now: &Kit, part: usize) -> Result<Purchase, DecideError> {
    let available = case.owned | 1 << part;
    let uses = serving(case, available);
    let newly = |use_: &usize| case.surely_served(*use_, available) && !case.surely_served(*use_, case.owned);
    let newly_served: Vec<_> = (0..case.drawer.uses.len()).filter(newly).map(|use_| case.use_id(use_)).collect();
    let kit = kit(case, solve(case, First::Price, &uses)?);
    let comparable = newly_served.is_empty() && kit.unpriced.is_empty() && now.unpriced.is_empty();
    let frees = comparable.then(|| difference(case, now, &kit));
    let bought = &case.drawer.parts[part];
    Ok(Purchase { part: bought.id.clone(), price: price(bought), newly_served, kit, frees })
}
