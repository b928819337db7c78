//! The verdict: what serves each use, what each part is good for, and the cheapest kit that still serves everything.
//!
//! Set-ups are judged for every use ([`crate::enough`]), the cheapest kit is exact ([`crate::cover`]), and how sure the
//! decision is comes from worlds: every doubt drawn once a world, shared ones once for all figures that share them, and the
//! whole question answered again in it.

mod case;
mod drawer;
mod kit;
mod losses;
mod ranking;
mod statements;
mod worlds;

pub use drawer::{DecideError, Drawer, Part, SetUp};
pub use kit::{Kit, KitChoice, Purchase, Sum};
pub use losses::{Loss, Weakened};
pub use ranking::{Nearest, Ranked, Standing, UseVerdict, Why};
pub use statements::{KeptFor, Statement};
pub use worlds::{LEAST_WORLDS, Worlds};

use case::Case;

/// How a decision is taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DecideOptions {
    /// The probability from which a set-up counts as serving a use; above 0.5, usually 0.95.
    pub sure: f64,
    /// Worlds drawn; at least [`LEAST_WORLDS`].
    pub worlds: usize,
    /// Which worlds.
    pub seed: u64,
}

impl Default for DecideOptions {
    fn default() -> Self {
        Self { sure: 0.95, worlds: 500, seed: 1 }
    }
}

/// A decision with its reasons. Uses, parts and set-ups are named by their ids.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    /// For every use, in the order given, what serves it.
    pub uses: Vec<UseVerdict>,
    /// The cheapest kit of what is owned that still serves every use that it can serve.
    pub kit: KitChoice,
    /// For every owned part, what would be lost without it.
    pub losses: Vec<Loss>,
    /// For every part that is not owned, what buying it alone would bring.
    pub purchases: Vec<Purchase>,
    /// How sure the kit is.
    pub worlds: Worlds,
    /// The same as sentences would have it, in the order to be read.
    pub statements: Vec<Statement>,
}

/// Judges every set-up for every use and chooses the kit.
pub fn decide(drawer: &Drawer, options: &DecideOptions) -> Result<Decision, DecideError> {
    let case = Case::new(drawer, options)?;
    let uses: Vec<UseVerdict> = (0..drawer.uses.len()).map(|use_| ranking::verdict(&case, use_)).collect();
    let kit = kit::choose(&case)?;
    let losses = losses::all(&case)?;
    let purchases = kit::purchases(&case, &kit.cheapest)?;
    let worlds = worlds::draw(&case, &kit.cheapest, options)?;
    let statements = statements::all(&case, &uses, &kit, &losses, &purchases);
    Ok(Decision { uses, kit, losses, purchases, worlds, statements })
}
