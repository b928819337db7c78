//! The rings and adapters that a person leaves out when naming the parts that matter.

use crate::fit::{Choice, End};
use crate::part::{Kit, Part};
use crate::schema::Kind;

impl Kit {
    /// The parts as named, with the one step ring or adapter of this kit put in wherever two neighbours do not join without and
    /// do with it. What cannot be mended stays as it was named; resolving then says what meets what.
    pub fn completed(&self, parts: &[String]) -> Vec<String> {
        let id = |word: &str| word.split_once('=').map_or(word, |(id, _)| id).trim().to_owned();
        let named: Vec<String> = parts.iter().map(|word| id(word)).collect();
        let mut completed: Vec<String> = Vec::with_capacity(parts.len());
        let mut end: Option<End<'_>> = None;
        for (word, id) in parts.iter().zip(&named) {
            let Some(part) = self.part(id) else {
                completed.push(word.clone());
                end = end.map(|_| End::Free);
                continue;
            };
            if part.kind() == Kind::Body {
                end = Some(End::Mount(part.words("mount").unwrap_or_default()));
                completed.push(word.clone());
                continue;
            }
            let choice = Choice::Part { part, draw_mm: None, turned: word.ends_with("=reversed") };
            let Some(before) = end.take() else {
                completed.push(word.clone());
                continue;
            };
            end = match before.add(&choice) {
                Ok((next, _)) => Some(next),
                Err(_) => {
                    let used = |ring: &Part| named.iter().chain(&completed).any(|used| used == ring.id());
                    let bridge = self.bridge(&before, &choice, &used);
                    bridge.map(|(ring, next)| {
                        completed.push(ring.id().to_owned());
                        next
                    })
                }
            };
            completed.push(word.clone());
        }
        completed
    }

    /// The first unused step ring or adapter behind which a part joins, and what the stack then ends in.
    fn bridge<'a>(
        &'a self,
        end: &End<'a>,
        choice: &Choice<'a>,
        used: &impl Fn(&Part) -> bool,
    ) -> Option<(&'a Part, End<'a>)> {
        let rings = self.parts().iter().filter(|part| matches!(part.kind(), Kind::StepRing | Kind::Adapter));
        let mut joined = rings.filter(|ring| !used(ring)).filter_map(|ring| {
            let (between, _) = end.add(&Choice::of(ring)).ok()?;
            let (next, _) = between.add(choice).ok()?;
            Some((ring, next))
        });
        joined.next()
    }
}
