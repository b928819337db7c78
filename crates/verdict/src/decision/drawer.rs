//! What a decision is about, and why it may be refused.

use std::collections::BTreeSet;

use crate::cover::{CoverError, MOST_PARTS};
use crate::enough::{Dossier, RuleError, Use};

/// A part of the kit, or one that could be bought.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Its id.
    pub id: String,
    /// Whether it is there.
    pub owned: bool,
    /// What selling it would bring (owned) or buying it would cost, in one currency for all; `None` when nobody knows. It counts to
    /// the hundredth.
    pub price: Option<f64>,
    /// Half-width of the price's 95 % interval; 0 for a price that is known. The cheapest kit goes by the price as it stands, the share
    /// of worlds by prices drawn.
    pub price_plus_minus: f64,
}

/// A set-up with the parts that it needs and all that is known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct SetUp {
    /// Ids of its parts.
    pub parts: Vec<String>,
    /// Its figures; its name is the set-up's.
    pub dossier: Dossier,
}

/// Parts, set-ups and uses.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drawer {
    /// All parts, owned or not.
    pub parts: Vec<Part>,
    /// All set-ups that come into question.
    pub set_ups: Vec<SetUp>,
    /// What pictures are for.
    pub uses: Vec<Use>,
}

/// Why nothing can be decided.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DecideError {
    /// No use was stated.
    #[error("no use is stated, so nothing need be kept: say first what the pictures are for")]
    NoUses,
    /// There is no set-up.
    #[error("there is no set-up to judge: plan one, or measure a frame of one")]
    NoSetUps,
    /// Two things of one name.
    #[error("two {what} are called “{id}”; give one of them another name")]
    Twice {
        /// Parts, set-ups or uses.
        what: &'static str,
        /// The name.
        id: String,
    },
    /// A set-up has a part that there is not.
    #[error("set-up “{set_up}” needs “{part}”, which is not among the parts")]
    NoSuchPart {
        /// The set-up.
        set_up: String,
        /// The part.
        part: String,
    },
    /// A price makes no sense.
    #[error("the price of “{part}” is {price}; it must be a number from 0 to {most}, or be left open")]
    BadPrice {
        /// The part.
        part: String,
        /// As given.
        price: f64,
        /// Largest allowed.
        most: f64,
    },
    /// A price's doubt makes no sense.
    #[error("the price of “{part}” is given as ± {plus_minus}; that must be a number, 0 or above")]
    BadPriceDoubt {
        /// The part.
        part: String,
        /// As given.
        plus_minus: f64,
    },
    /// More parts than can be weighed up.
    #[error("{parts} parts; at most {most} can be weighed up together")]
    TooManyParts {
        /// Given.
        parts: usize,
        /// Allowed.
        most: usize,
    },
    /// Too few worlds for a share.
    #[error("{worlds} worlds are too few to tell a share; at least {least} are needed")]
    TooFewWorlds {
        /// Asked for.
        worlds: usize,
        /// Needed.
        least: usize,
    },
    /// A use, a figure or the confidence makes no sense.
    #[error(transparent)]
    Rule(#[from] RuleError),
    /// The choice of parts was refused.
    #[error(transparent)]
    Cover(#[from] CoverError),
}

/// Dearer parts are not weighed up: sums must stay whole numbers.
const MOST_PRICE: f64 = 1e7;

pub(super) fn check(drawer: &Drawer) -> Result<(), DecideError> {
    if drawer.uses.is_empty() {
        return Err(DecideError::NoUses);
    }
    if drawer.set_ups.is_empty() {
        return Err(DecideError::NoSetUps);
    }
    if drawer.parts.len() > MOST_PARTS {
        return Err(DecideError::TooManyParts { parts: drawer.parts.len(), most: MOST_PARTS });
    }
    once("parts", drawer.parts.iter().map(|part| &part.id))?;
    once("set-ups", drawer.set_ups.iter().map(|set_up| &set_up.dossier.set_up))?;
    once("uses", drawer.uses.iter().map(|use_| &use_.id))?;
    for part in &drawer.parts {
        if let Some(price) = part.price.filter(|price| !(0.0..=MOST_PRICE).contains(price)) {
            return Err(DecideError::BadPrice { part: part.id.clone(), price, most: MOST_PRICE });
        }
        let plus_minus = part.price_plus_minus;
        if !(0.0..=MOST_PRICE).contains(&plus_minus) {
            return Err(DecideError::BadPriceDoubt { part: part.id.clone(), plus_minus });
        }
    }
    Ok(())
}

fn once<'a>(what: &'static str, ids: impl Iterator<Item = &'a String>) -> Result<(), DecideError> {
    let mut seen = BTreeSet::new();
    for id in ids {
        if !seen.insert(id) {
            return Err(DecideError::Twice { what, id: id.clone() });
        }
    }
    Ok(())
}
