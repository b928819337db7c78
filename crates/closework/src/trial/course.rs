//! How far a trial has come: the picks so far, what they settle, which pair comes next.

use notebook::Choice;
use verdict::paired::{
    FitError, FitOptions, PairState, PairedFit, Pick, Seen, SettleOptions, Settled, fit, next_pair, picks_to_settle,
    place, settle,
};

use super::document::TrialDocument;

/// A trial and its picks.
#[derive(Debug)]
pub struct Course {
    /// How many scans.
    pub items: usize,
    /// What was picked, in order.
    pub picks: Vec<Pick>,
    seed: u64,
    fit: Result<PairedFit, FitError>,
    states: Vec<PairState>,
}

impl Course {
    /// The state of a kept trial. Picks of candidates that the document does not have are left out.
    pub fn of_kept(trial: &TrialDocument, picks: &[notebook::Pick]) -> Self {
        let items = trial.scans.len();
        let inside = |pick: &&notebook::Pick| (pick.left as usize) < items && (pick.right as usize) < items;
        let picks = picks.iter().filter(inside).map(|pick| Pick {
            left: pick.left as usize,
            right: pick.right as usize,
            seen: match pick.choice {
                Choice::Left => Seen::Left,
                Choice::Right => Seen::Right,
                Choice::NoDifference => Seen::NoDifference,
            },
        });
        Self::of(items, picks.collect(), trial.seed)
    }

    /// The state after these picks. `seed` decides by chance where nothing else does.
    pub fn of(items: usize, picks: Vec<Pick>, seed: u64) -> Self {
        let fit = fit(items, &picks, &FitOptions::default());
        let states = fit.as_ref().map(|fit| settle(fit, &SettleOptions::default())).unwrap_or_default();
        Self { items, picks, seed, fit, states }
    }

    /// The scale, or why there is none yet.
    pub fn fit(&self) -> Result<&PairedFit, &FitError> {
        self.fit.as_ref()
    }

    /// Where every pair stands; empty while there is no scale.
    pub fn states(&self) -> &[PairState] {
        &self.states
    }

    /// All pairs.
    pub fn pairs(&self) -> usize {
        self.items * (self.items - 1) / 2
    }

    /// Pairs that need no more picks.
    pub fn settled(&self) -> usize {
        self.states.iter().filter(|state| !matches!(state.settled, Settled::Open { .. })).count()
    }

    /// How many more picks would settle the pairs that picks can settle, and how many pairs no bearable number would. `None`
    /// while there is no scale.
    pub fn more(&self) -> Option<(u32, usize)> {
        let scale = self.fit.as_ref().ok()?;
        let never = |state: &&PairState| matches!(state.settled, Settled::Open { more: None });
        let more = picks_to_settle(scale, &self.states, &SettleOptions::default());
        Some((more, self.states.iter().filter(never).count()))
    }

    /// What is shown next, left and right; `None` when every pair is settled. The same picks and seed always give the same.
    pub fn next(&self) -> Option<(usize, usize)> {
        let pair = next_pair(self.items, &self.picks, self.fit.as_ref().ok(), &SettleOptions::default())?;
        Some(place(pair, &self.picks, self.seed))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(picks: &[(usize, usize, Seen)], items: usize) -> Course {
        let picks = picks.iter().map(|&(left, right, seen)| Pick { left, right, seen });
        Course::of(items, picks.collect(), 7)
    }

    #[test]
    fn a_trial_runs_until_every_pair_is_settled() {
        // The first always beats the second: Wald's kind of rule ends it after some picks, not after one.
        let mut course = after(&[], 2);
        let mut picks = Vec::new();
        while let Some((left, right)) = course.next() {
            assert!(picks.len() < 60, "it does not end");
            let seen = if left == 0 { Seen::Left } else { Seen::Right };
            picks.push((left, right, seen));
            course = after(&picks, 2);
        }
        assert!(picks.len() >= 5, "{} picks", picks.len());
        assert_eq!((course.settled(), course.pairs(), course.more()), (1, 1, Some((0, 0))));
    }

    #[test]
    fn before_there_is_a_scale_nothing_is_promised() {
        let course = after(&[(0, 1, Seen::NoDifference)], 3);
        assert!(course.fit().is_err() && course.more().is_none() && course.settled() == 0);
        // The pair shown already waits for the others.
        let (left, right) = course.next().unwrap();
        assert!((left.min(right), left.max(right)) != (0, 1));
    }
}
