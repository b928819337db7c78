//! The verdict in sentences, each with what it rests on.

use kit::Kit;
use verdict::Answer;
use verdict::decision::{Decision, KeptFor, Loss, Ranked, Standing, Statement, Sum, Why};

use super::judged::{Judged, chance, figure_words, limit_words};
use super::money::sum_of;
use super::next::{missing, use_page};
use super::uses::Stated;
use crate::documents::Side;
use crate::documents::verdict::{DecidesDocument, Evidence, FindingDocument, Money, Sentence, SentenceKind};
use crate::web::fmt;
use crate::web::kit_book::part_name;

/// What sentences are made of.
pub struct Teller<'a> {
    /// Rulings and figures.
    pub judged: &'a Judged,
    /// What comes out.
    pub decision: &'a Decision,
    /// The kit together with what is wished for: for names.
    pub all: &'a Kit,
    /// Prices.
    pub money: &'a Money,
    /// Whether all jobs are weighed together.
    pub whole_drawer: bool,
    /// What would decide each undecided set-up: by use, then by set-up.
    pub decides: &'a dyn Fn(usize, usize) -> Vec<DecidesDocument>,
}

impl Teller<'_> {
    /// All of them, in the order to be read.
    pub fn sentences(&self) -> Vec<Sentence> {
        let said = &self.decision.statements;
        let mut all: Vec<Sentence> = said.iter().filter_map(|said| self.sentence(said)).collect();
        all.extend(self.not_needed().filter(|_| !self.whole_drawer));
        all.extend(self.kept());
        all.extend(self.how_sure());
        // In the order in which a person asks: what serves, what to keep, what could go, what it would bring, how sure.
        all.sort_by_key(|sentence| sentence.kind);
        all
    }

    fn sentence(&self, said: &Statement) -> Option<Sentence> {
        match said {
            Statement::Best { use_id, set_up } => self.best(use_id, set_up),
            Statement::Perhaps { use_id, set_up } => self.perhaps(use_id, set_up),
            Statement::NotServed { use_id, .. } => self.not_served(use_id),
            Statement::Keep { .. } => None,
            Statement::CouldGo { .. } if !self.whole_drawer => None,
            Statement::CouldGo { part, brings, weakened } => Some(self.could_go(part, *brings, *weakened)),
            Statement::PricesMissing { parts } => Some(self.prices_missing(parts)),
            Statement::Buy(purchase) => Some(self.buy(purchase)),
        }
    }

    /// What a use is called in a sentence.
    fn use_name(&self, stated: &Stated) -> String {
        match (stated.number.is_some(), self.whole_drawer) {
            (true, true) => format!("“{}” of “{}”", stated.title, stated.job.title),
            (true, false) => format!("“{}”", stated.title),
            (false, true) => format!("the print of “{}”", stated.job.title),
            (false, false) => "the job's print".into(),
        }
    }

    fn use_names(&self, ids: &[String]) -> String {
        let names = ids.iter().filter_map(|id| Some(self.use_name(&self.judged.uses[self.judged.use_at(id)?])));
        list(&names.collect::<Vec<_>>())
    }

    fn part(&self, id: &str) -> String {
        part_name(self.all, id)
    }

    fn parts(&self, ids: &[String]) -> String {
        list(&ids.iter().map(|id| self.part(id)).collect::<Vec<_>>())
    }

    fn money(&self, amount: Sum) -> String {
        sum_of(amount, &self.money.currency)
    }

    /// The figure that is met least surely, against its limit: "its tightest figure is …, … are asked for".
    fn tightest(&self, use_: usize, candidate: usize) -> Option<(String, FindingDocument)> {
        let finding = self.judged.weakest(use_, candidate)?;
        let limit = &self.judged.uses[use_].limits[finding.limit];
        let side = limit.asked.side.words();
        Some((format!("{}, where {side} {} is asked for", figure_words(limit, &finding), limit_words(limit)), finding))
    }

    fn best(&self, use_id: &str, set_up: &Ranked) -> Option<Sentence> {
        let (use_, at) = (self.judged.use_at(use_id)?, self.judged.candidate(&set_up.set_up)?);
        let name = &self.judged.candidates[at].name;
        let mut text = format!(
            "For {}: “{name}”. It meets everything that is asked with {}",
            self.use_name(&self.judged.uses[use_]),
            chance(set_up.probability)
        );
        let mut evidence = Vec::new();
        if let Some((words, finding)) = self.tightest(use_, at) {
            text += &format!("; tightest is {words}");
            evidence = finding.evidence;
        }
        text.push('.');
        if let Some(next) = self.runner_up(use_) {
            text += &format!(" {}", self.above(&set_up.why, &next));
        }
        Some(self.said(SentenceKind::Best, text, [use_id, &set_up.set_up], evidence))
    }

    fn runner_up(&self, use_: usize) -> Option<String> {
        let ranked = &self.decision.uses.get(use_)?.ranked;
        Some(self.judged.name(&ranked.get(1)?.set_up).to_owned())
    }

    fn above(&self, why: &Why, next: &str) -> String {
        match why {
            Why::Only => String::new(),
            Why::Surer { than } => format!("The next, “{next}”, does so with {}.", chance(*than)),
            Why::Roomier { room, than } => format!(
                "The next, “{next}”, is as sure and has less room to its limit: {} of it against {}.",
                fmt::percent(than.max(0.0)),
                fmt::percent(room.max(0.0))
            ),
            Why::Simpler => format!("The next, “{next}”, is as good."),
        }
    }

    fn perhaps(&self, use_id: &str, set_up: &Ranked) -> Option<Sentence> {
        let (use_, at) = (self.judged.use_at(use_id)?, self.judged.candidate(&set_up.set_up)?);
        let (stated, name) = (&self.judged.uses[use_], &self.judged.candidates[at].name);
        let tight = self.tightest(use_, at);
        let state = match (&tight, set_up.missing.is_empty()) {
            (Some((words, _)), true) => format!("it has a chance of {}: {words}", chance(set_up.probability)),
            (Some((words, finding)), false) if finding.probability < 0.95 => {
                format!("its chance is {} at most: {words}", chance(set_up.probability))
            }
            _ => "not everything that is asked was measured".into(),
        };
        let mut text = format!("For {} nothing is sure yet; likeliest is “{name}”: {state}.", self.use_name(stated));
        let mut evidence = tight.map(|(_, finding)| finding.evidence).unwrap_or_default();
        if let Some(first) = (self.decides)(use_, at).into_iter().next() {
            text += &format!(" What would decide: {}", lower(&first.words));
            evidence.push(Evidence { words: "do this".into(), page: first.page });
        }
        Some(self.said(SentenceKind::Perhaps, text, [use_id, &set_up.set_up], evidence))
    }

    fn not_served(&self, use_id: &str) -> Option<Sentence> {
        let use_ = self.judged.use_at(use_id)?;
        let stated = &self.judged.uses[use_];
        let mut text = format!("Nothing that was tried serves {}", self.use_name(stated));
        let mut evidence = Vec::new();
        let first = self.decision.uses[use_].ranked.first();
        match first.and_then(|first| self.judged.candidate(&first.set_up)) {
            Some(at) => {
                text += &format!("; “{}” comes nearest", self.judged.candidates[at].name);
                if let Some((words, finding)) = self.tightest(use_, at) {
                    text += &format!(", with {words}");
                    evidence = finding.evidence;
                }
                text.push('.');
            }
            None => text += ": none of its set-ups can be built of this kit.",
        }
        text += " Try another set-up, or ask less.";
        evidence.push(Evidence { words: "set-ups for it".into(), page: format!("/jobs/{}/plan", stated.job.id) });
        evidence.push(Evidence { words: "what it asks".into(), page: use_page(stated) });
        Some(self.said(SentenceKind::NotServed, text, [use_id], evidence))
    }

    /// What to keep, parts with one and the same reason together.
    fn kept(&self) -> Vec<Sentence> {
        let mut groups: Vec<(Vec<String>, String, Vec<Evidence>)> = Vec::new();
        for said in &self.decision.statements {
            let Statement::Keep { part, because } = said else { continue };
            let (reason, evidence) = self.reason(part, because);
            match groups.iter_mut().find(|(_, known, _)| *known == reason) {
                Some((parts, ..)) => parts.push(part.clone()),
                None => groups.push((vec![part.clone()], reason, evidence)),
            }
        }
        let sentence = |(parts, reason, evidence): (Vec<String>, String, Vec<Evidence>)| {
            let text = format!("Keep {}: {reason}", self.parts(&parts));
            self.said(SentenceKind::Keep, text, parts.iter().map(String::as_str), evidence)
        };
        groups.into_iter().map(sentence).collect()
    }

    fn reason(&self, part: &str, because: &KeptFor) -> (String, Vec<Evidence>) {
        match because {
            KeptFor::OnlyWay(lost) => self.only_way(part, lost.iter().map(|(use_id, _)| use_id.clone()).collect()),
            KeptFor::Cheapest(dearer) => (self.cheaper_with(part, *dearer), Vec::new()),
        }
    }

    /// "no other set-up reaches …; the best, …, has …"
    fn only_way(&self, part: &str, lost: Vec<String>) -> (String, Vec<Evidence>) {
        let uses = self.use_names(&lost);
        match lost.iter().find_map(|use_id| self.nearest_without(part, use_id)) {
            Some((words, evidence)) => (format!("nothing else is known to serve {uses}. {words}"), evidence),
            None => (format!("no set-up for {uses} that was tried does without."), Vec::new()),
        }
    }

    fn nearest_without(&self, part: &str, use_id: &str) -> Option<(String, Vec<Evidence>)> {
        let use_ = self.judged.use_at(use_id)?;
        let nearest = self.loss(part)?.lost.iter().find(|(lost, _)| lost == use_id)?.1.as_ref()?;
        let at = self.judged.candidate(&nearest.set_up)?;
        let (name, ruling) = (&self.judged.candidates[at].name, &self.judged.rulings[use_][at]);
        if let Some(missing) = missing(self.judged, use_, at).first().filter(|_| ruling.answer == Answer::Undecided) {
            let words = format!("“{name}” may, but {}.", missing.why);
            let steps = (self.decides)(use_, at).into_iter().take(1);
            return Some((words, steps.map(|step| Evidence { words: "do this".into(), page: step.page }).collect()));
        }
        let finding = self.judged.weakest(use_, at)?;
        let limit = &self.judged.uses[use_].limits[finding.limit];
        let (has, asked) = (figure_words(limit, &finding), limit_words(limit));
        let words = match ruling.answer {
            Answer::FallsShort => {
                let verb = if limit.asked.side == Side::AtLeast { "reaches" } else { "keeps to" };
                format!("No other set-up {verb} {asked}; the best, “{name}”, has {has}.")
            }
            _ => {
                let open = chance(ruling.probability);
                format!("The best of the others, “{name}”, is undecided ({open}): it has {has}, {asked} asked for.")
            }
        };
        Some((words, finding.evidence))
    }

    fn loss(&self, part: &str) -> Option<&Loss> {
        self.decision.losses.iter().find(|loss| loss.part == part)
    }

    /// A part that the cheapest kit has though no use hangs on it alone.
    fn cheaper_with(&self, part: &str, dearer: Option<Sum>) -> String {
        if let Some(waiting) = self.waiting_for(part) {
            return format!("for now, the likeliest set-up for {waiting} needs it, and nothing is sure there yet.");
        }
        match dearer {
            Some(more) if more.value > 0.005 => {
                let more = self.money(more);
                format!("other parts would do, but the cheapest kit without would tie up {more} more.")
            }
            Some(_) => "or exchange it: other parts would do at the same price.".into(),
            None if self.decision.kit.cheapest.worth.value > 0.0 => {
                "the kit that is cheapest by the prices that are known has it; by how much another would be dearer hangs on prices that are not.".into()
            }
            None => "the kit that serves everything with the fewest parts has it; other parts would do as well.".into(),
        }
    }

    /// Uses that are not surely served and whose likeliest set-up has the part.
    fn waiting_for(&self, part: &str) -> Option<String> {
        let waits = |verdict: &&verdict::decision::UseVerdict| {
            let first = verdict.ranked.first().and_then(|first| self.judged.candidate(&first.set_up));
            let needs = first.is_some_and(|at| self.judged.candidates[at].part_ids().iter().any(|id| id == part));
            verdict.standing == Standing::Perhaps && needs
        };
        let ids: Vec<String> = self.decision.uses.iter().filter(waits).map(|verdict| verdict.use_id.clone()).collect();
        (!ids.is_empty()).then(|| self.use_names(&ids))
    }

    fn could_go(&self, part: &str, brings: Option<Sum>, weakened: usize) -> Sentence {
        let name = self.part(part);
        let brings = brings.map_or(String::new(), |price| format!("; it would bring {}", self.money(price)));
        let weaker = match weakened {
            0 => String::new(),
            1 => ". One use would go on with its second-best set-up".into(),
            more => format!(". {more} uses would go on with their second-best set-ups"),
        };
        let text = format!("{name} could go: every use that is served is served without it{brings}{weaker}.");
        self.said(SentenceKind::CouldGo, text, [part], Vec::new())
    }

    /// Of one job alone nothing follows for selling: only that it does not need these.
    fn not_needed(&self) -> Option<Sentence> {
        let ids: Vec<String> = self.decision.kit.could_go.iter().map(|(part, _)| part.clone()).collect();
        let verb = if ids.len() == 1 {
            "is not needed for this job. Another job may need it"
        } else {
            "are not needed for this job. Other jobs may need them"
        };
        let text = format!("{} {verb}: see the whole drawer before anything goes.", self.parts(&ids));
        let to_drawer = Evidence { words: "the whole drawer".into(), page: "/verdict".into() };
        (!ids.is_empty())
            .then(|| self.said(SentenceKind::CouldGo, text, ids.iter().map(String::as_str), vec![to_drawer]))
    }

    fn prices_missing(&self, parts: &[String]) -> Sentence {
        let text = if self.money.mixed.len() > 1 {
            format!(
                "Prices are in {}: they are not summed, and the kit is the one with the fewest parts. Enter them in one currency.",
                list(&self.money.mixed)
            )
        } else {
            let other = self.decision.kit.fewest_unpriced.as_ref();
            let other = other.map_or(String::new(), |kit| {
                format!(" If those are dear, this kit is the cheaper one: {}.", self.parts(&kit.parts))
            });
            format!(
                "No price is known of {}. {} as nothing, the rest is decided by the prices that are known.{other}",
                self.parts(parts),
                if parts.len() == 1 { "It counts" } else { "They count" }
            )
        };
        let here = Evidence { words: "enter prices".into(), page: "/verdict#prices".into() };
        self.said(SentenceKind::Prices, text, parts.iter().map(String::as_str), vec![here])
    }

    fn buy(&self, purchase: &verdict::decision::Purchase) -> Sentence {
        let price =
            purchase.price.map_or("at a price that is not known".into(), |price| format!("for {}", self.money(price)));
        let name = self.part(&purchase.part);
        let brings = match (&purchase.newly_served[..], purchase.frees) {
            ([], Some(frees)) => {
                format!("would let {} go: the cheapest kit would tie up so much less", self.money(frees))
            }
            (newly, _) => format!("would serve {}", self.use_names(newly)),
        };
        self.said(SentenceKind::Buy, format!("Buying {name} {price} {brings}."), [purchase.part.as_str()], Vec::new())
    }

    fn how_sure(&self) -> Option<Sentence> {
        let worlds = &self.decision.worlds;
        if self.decision.kit.cheapest.parts.is_empty() {
            return None;
        }
        let text = format!(
            "How sure: in {} of {} worlds drawn from all these doubts the same kit comes out as the cheapest; in {} it serves every use that anything here serves.",
            share(worlds.same_kit),
            worlds.drawn,
            share(worlds.nothing_lost)
        ) + self.open_uses();
        Some(self.said(SentenceKind::Sure, text, [], Vec::new()))
    }

    /// How a use counts of which nothing is sure; empty where there is none.
    fn open_uses(&self) -> &'static str {
        let open = self.decision.uses.iter().any(|verdict| verdict.standing == Standing::Perhaps);
        if open { " A use of which nothing is sure yet counts with its likeliest set-up." } else { "" }
    }

    fn said<'a>(
        &self,
        kind: SentenceKind,
        text: String,
        about: impl IntoIterator<Item = &'a str>,
        evidence: Vec<Evidence>,
    ) -> Sentence {
        Sentence { kind, text, about: about.into_iter().map(str::to_owned).collect(), evidence }
    }
}

/// A share of worlds, without figures that so few worlds cannot show.
fn share(of: f64) -> String {
    match of {
        1.0 => "all".into(),
        0.0 => "none".into(),
        part => format!("{:.0}\u{a0}%", 100.0 * part),
    }
}

/// "a, b and c"; "a, 1; b, 2" where names hold commas.
pub fn list(names: &[String]) -> String {
    // Names hold commas of their own.
    let between = if names.iter().any(|name| name.contains(',')) { "; " } else { ", " };
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] if between == ", " => format!("{} and {last}", rest.join(between)),
        all => all.join(between),
    }
}

/// To follow a colon: names keep their capitals, since only a first plain word loses it.
fn lower(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_lowercase().chain(letters).collect()).unwrap_or_default()
}
