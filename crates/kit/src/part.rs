//! Parts and the kit that they make.

use crate::field::{Quantity, Value};
use crate::schema::Kind;
use optics::Input;
use std::collections::BTreeMap;

/// One thing in the drawer. Its fields have passed the registry's checks.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    pub(crate) kind: Kind,
    pub(crate) id: String,
    pub(crate) values: BTreeMap<&'static str, Value>,
}

impl Part {
    /// Its kind.
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// Its id.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// Its name, or its id when it has none.
    pub fn name(&self) -> &str {
        self.words("name").unwrap_or(&self.id)
    }

    /// What a field holds.
    pub fn value(&self, field: &str) -> Option<&Value> {
        self.values.get(field)
    }

    /// Words in a field.
    pub fn words(&self, field: &str) -> Option<&str> {
        match self.value(field)? {
            Value::Words(words) => Some(words),
            _ => None,
        }
    }

    /// The number in a field, as stated.
    pub fn number(&self, field: &str) -> Option<f64> {
        match self.value(field)? {
            Value::Number(quantity) => Some(quantity.value),
            _ => None,
        }
    }

    /// The numbers in a field, as stated; empty when it is absent.
    pub fn numbers(&self, field: &str) -> Vec<f64> {
        match self.value(field) {
            Some(Value::Numbers(list)) => list.iter().map(|quantity| quantity.value).collect(),
            _ => Vec::new(),
        }
    }

    /// Yes or no in a field; no when it is absent.
    pub fn flag(&self, field: &str) -> bool {
        matches!(self.value(field), Some(Value::Flag(true)))
    }

    /// A stated number with its uncertainty: its own, or the registry's for that field.
    pub(crate) fn stated(&self, field: &str) -> Option<Input> {
        match self.value(field)? {
            Value::Number(quantity) => self.input(field, *quantity),
            _ => None,
        }
    }

    /// Stated numbers with their uncertainties.
    pub(crate) fn stated_list(&self, field: &str) -> Vec<Input> {
        match self.value(field) {
            Some(Value::Numbers(list)) => list.iter().filter_map(|quantity| self.input(field, *quantity)).collect(),
            _ => Vec::new(),
        }
    }

    fn input(&self, field: &str, quantity: Quantity) -> Option<Input> {
        Some(self.kind.field(field)?.input(quantity))
    }

    /// The number that computations use: the calibrated one where there is one, else the stated one. A calibrated one
    /// is noted in `notes` as "part.field".
    pub(crate) fn best(&self, field: &str, notes: &mut Notes) -> Option<Input> {
        let calibrated = self.kind.field(field).and_then(|field| self.stated(field.calibrated?));
        if calibrated.is_some() {
            notes.calibrated.push(format!("{}.{field}", self.id));
        }
        calibrated.or_else(|| self.stated(field))
    }

    /// The best number, or the registry's assumption for that field; then its name goes to the assumed ones.
    pub(crate) fn best_or_assumed(&self, field: &str, notes: &mut Notes) -> Option<Input> {
        self.best(field, notes).or_else(|| {
            let absent = self.kind.field(field)?.absent?;
            notes.assumed.push(format!("{}.{field}", self.id));
            Some(Input { value: absent.value, plus_minus: absent.plus_minus })
        })
    }

    /// The number in a field or its default, uncertainty aside.
    pub fn number_or_default(&self, field: &str) -> Option<f64> {
        self.number(field).or_else(|| Some(self.kind.field(field)?.absent?.value))
    }
}

/// Where the figures of a set-up come from, as "part.field".
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Notes {
    /// Fields whose defaults were used.
    pub assumed: Vec<String>,
    /// Fields whose calibrated figures were used.
    pub calibrated: Vec<String>,
}

/// All parts, each id once, in the order in which they were entered.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Kit {
    pub(crate) parts: Vec<Part>,
}

impl Kit {
    /// The parts in their order.
    pub fn parts(&self) -> &[Part] {
        &self.parts
    }

    /// The part of that id.
    pub fn part(&self, id: &str) -> Option<&Part> {
        self.parts.iter().find(|part| part.id == id)
    }

    /// The parts of one kind.
    pub fn of_kind(&self, kind: Kind) -> impl Iterator<Item = &Part> {
        self.parts.iter().filter(move |part| part.kind == kind)
    }

    /// A kit of parts that were checked one by one; the first id that occurs twice is the error.
    pub fn from_parts(parts: Vec<Part>) -> Result<Self, String> {
        let mut kit = Self::default();
        for part in parts {
            if kit.part(&part.id).is_some() {
                return Err(part.id);
            }
            kit.parts.push(part);
        }
        Ok(kit)
    }

    /// The id nearest to `id`, when it is near enough to be a slip of the hand.
    pub fn closest_id(&self, id: &str) -> Option<&str> {
        closest(id, self.parts.iter().map(|part| part.id.as_str()))
    }
}

/// The word of `words` nearest to `word`, when it is at most a third of its letters away.
pub(crate) fn closest<'a>(word: &str, words: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let near = words.map(|candidate| (edit_distance(word, candidate), candidate)).min()?;
    (near.0 <= word.chars().count().div_ceil(3)).then_some(near.1)
}

/// The words of `words` that look most like `word`, the nearest first: those that hold it or are held by it, then those within half of
/// its letters. At most so many.
pub(crate) fn nearest<'a>(word: &str, words: impl Iterator<Item = &'a str>, most: usize) -> Vec<String> {
    let bare = |word: &str| word.to_lowercase().replace(|c: char| !c.is_alphanumeric(), "");
    let wanted = bare(word);
    let rank = |candidate: &'a str| {
        let held = bare(candidate);
        let inside = !wanted.is_empty() && (held.contains(&wanted) || wanted.contains(&held));
        let distance = edit_distance(&wanted, &held);
        (inside || 2 * distance <= wanted.chars().count()).then_some((!inside, distance, candidate))
    };
    let mut ranked: Vec<_> = words.filter_map(rank).collect();
    ranked.sort_unstable();
    ranked.dedup();
    ranked.into_iter().take(most).map(|(_, _, candidate)| candidate.to_owned()).collect()
}

/// Levenshtein's distance: how many letters must be put in, taken out or exchanged.
fn edit_distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, letter) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, other) in b.iter().enumerate() {
            let exchanged = diagonal + usize::from(letter != *other);
            diagonal = row[j + 1];
            row[j + 1] = exchanged.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}
