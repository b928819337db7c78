//! From the notebook to the document.

use std::collections::BTreeSet;

use kit::{Kit, Part};
use notebook::{FrameState, Job, JobId, Notebook, NotebookError};
use verdict::decision::{DecideError, DecideOptions, Decision, Drawer, SetUp, Standing, Why, decide};
use verdict::{Answer, decision};

use super::candidates::{Candidate, Found, gather};
use super::judged::{Judged, answer_words, chance};
use super::money::Prices;
use super::next::{decides, missing};
use super::uses::{Stated, of_job, stated};
use super::words::Teller;
use crate::documents::MADE_BY;
use crate::documents::Measured;
use crate::documents::verdict::{
    ChosenKit, FrameRef, JudgedPart, JudgedSetUp, LostUse, NamedJob, Purchase, RankedDocument, Sentence, SentenceKind,
    Silent, UseStanding, VERDICT_VERSION, VerdictDocument, VerdictSettings, WeakenedUse, WorldShares,
};
use crate::records::NotFound;
use crate::web::PageError;
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::kit_book::{part_name, read_kit, read_wishes};

/// Why there is no document at all.
#[derive(Debug, thiserror::Error)]
pub enum VerdictTrouble {
    /// The notebook.
    #[error(transparent)]
    Notebook(#[from] NotebookError),
    /// A part in the notebook.
    #[error("{}", .0.what())]
    Kit(PageError),
    /// No such job.
    #[error(transparent)]
    NoSuchJob(#[from] NotFound),
    /// The settings make no sense.
    #[error("{0}")]
    Settings(DecideError),
}

/// The verdict on one job, or on all of them together. What cannot be decided is no error: the document says so, and what to do.
pub fn verdict(
    book: &Notebook,
    job: Option<JobId>,
    settings: VerdictSettings,
) -> Result<VerdictDocument, VerdictTrouble> {
    Ok(prepare(book, job, settings)?.document())
}

/// All that a verdict is made of, read at one time: what follows needs the notebook no more.
#[derive(Debug, Clone)]
pub struct Prepared {
    pub(super) material: Material,
    pub(super) uses: Vec<Stated>,
    pub(super) candidates: Vec<Candidate>,
    silent: Vec<Silent>,
}

impl Prepared {
    /// The verdict on what was measured.
    pub fn document(&self) -> VerdictDocument {
        self.material.document(self.uses.clone(), self.candidates.clone(), self.silent.clone())
    }
}

/// Reads what a verdict is made of.
///
/// # Errors
///
/// As of [`verdict()`].
pub fn prepare(book: &Notebook, job: Option<JobId>, settings: VerdictSettings) -> Result<Prepared, VerdictTrouble> {
    check(&settings)?;
    let kit = read_kit(book).map_err(VerdictTrouble::Kit)?;
    let wishes = read_wishes(book).map_err(VerdictTrouble::Kit)?;
    let jobs = jobs(book, job)?;
    let all = with_wishes(&kit, &wishes);
    let (uses, trouble) = uses_of(book, &jobs, &kit)?;
    let Found { candidates, mut silent } = gather(book, &jobs, &all)?;
    silent.splice(0..0, trouble);
    silent.extend(gone(&candidates, &all));
    let material = Material { kit, wishes, all, jobs, whole_drawer: job.is_none(), settings };
    Ok(Prepared { material, uses, candidates, silent })
}

fn check(settings: &VerdictSettings) -> Result<(), VerdictTrouble> {
    use verdict::enough::RuleError;
    let VerdictSettings { sure, worlds, .. } = *settings;
    if !(sure > 0.5 && sure < 1.0) {
        return Err(VerdictTrouble::Settings(RuleError::BadConfidence { sure }.into()));
    }
    if worlds < decision::LEAST_WORLDS {
        return Err(VerdictTrouble::Settings(DecideError::TooFewWorlds { worlds, least: decision::LEAST_WORLDS }));
    }
    Ok(())
}

fn jobs(book: &Notebook, job: Option<JobId>) -> Result<Vec<Job>, VerdictTrouble> {
    let all = book.jobs()?;
    let Some(wanted) = job else { return Ok(all) };
    match all.iter().find(|job| job.id == wanted) {
        Some(job) => Ok(vec![job.clone()]),
        None => Err(NotFound { wanted, jobs: all.into_iter().map(|job| (job.id, job.title.clone())).collect() }.into()),
    }
}

/// The kit and what is wished for as one kit; what is in both is owned.
fn with_wishes(kit: &Kit, wishes: &Kit) -> Kit {
    let wished = wishes.parts().iter().filter(|wish| kit.part(wish.id()).is_none());
    // Ids are once in each and not in both.
    Kit::from_parts(kit.parts().iter().chain(wished).cloned().collect()).unwrap_or_else(|_| kit.clone())
}

/// The uses of these jobs, and those that cannot be judged by.
fn uses_of(book: &Notebook, jobs: &[Job], kit: &Kit) -> Result<(Vec<Stated>, Vec<Silent>), NotebookError> {
    let (mut uses, mut silent) = (Vec::new(), Vec::new());
    for job in jobs {
        let kept = book.uses_of_job(job.id)?;
        let own =
            kept.is_empty().then(|| (String::from("what it asks"), format!("/jobs/{}/edit", job.id), of_job(job, kit)));
        let all = kept.iter().map(|record| {
            (format!("use “{}”", record.draft.title), format!("/uses/{}", record.id), stated(record, job, kit))
        });
        for (what, page, found) in all.chain(own) {
            match found {
                Ok(found) => uses.push(found),
                Err(why) => silent.push(Silent {
                    what: format!("{what} of “{}”", job.title),
                    next: match why {
                        super::uses::UseTrouble::NoBody => "put its body into the kit, or choose another".into(),
                        _ => "change it".into(),
                    },
                    why: why.to_string(),
                    page,
                }),
            }
        }
    }
    Ok((uses, silent))
}

/// Parts that frames were taken with and that are neither in the kit nor wished for.
fn gone(candidates: &[Candidate], all: &Kit) -> Vec<Silent> {
    let ids: BTreeSet<String> = candidates.iter().flat_map(Candidate::part_ids).collect();
    let gone = ids.into_iter().filter(|id| all.part(id).is_none());
    let silent = |id: String| Silent {
        why: "it is no longer in the kit, so its set-ups count as ones that would have to be bought".into(),
        next: "put it back into the kit if it is still there".into(),
        page: "/kit".into(),
        what: id,
    };
    gone.map(silent).collect()
}

/// What a document is made of besides uses and set-ups.
#[derive(Debug, Clone)]
pub(super) struct Material {
    pub kit: Kit,
    pub wishes: Kit,
    pub all: Kit,
    pub jobs: Vec<Job>,
    pub whole_drawer: bool,
    pub settings: VerdictSettings,
}

impl Material {
    fn document(&self, uses: Vec<Stated>, candidates: Vec<Candidate>, silent: Vec<Silent>) -> VerdictDocument {
        let mut document = self.empty(silent);
        let prices = self.prices(&candidates);
        document.money = prices.money.clone();
        let judged = match Judged::new(uses, candidates, self.settings.sure) {
            Ok(judged) => judged,
            Err(why) => {
                document.sentences.push(note(&sentence(&why.to_string())));
                return document;
            }
        };
        document.sentences.extend(self.remarks(&judged));
        let drawer = drawer(&judged, &self.kit, &self.all, &prices);
        let VerdictSettings { sure, worlds, seed } = self.settings;
        match decide(&drawer, &DecideOptions { sure, worlds, seed }) {
            Ok(decision) => self.decided(&mut document, &judged, &decision, &prices),
            Err(why) => self.undecided(&mut document, &judged, &why),
        }
        document.set_ups = self.set_ups(&judged);
        document
    }

    fn empty(&self, silent: Vec<Silent>) -> VerdictDocument {
        VerdictDocument {
            version: VERDICT_VERSION,
            made_by: MADE_BY.into(),
            question: self.question(),
            whole_drawer: self.whole_drawer,
            jobs: self.jobs.iter().map(|job| NamedJob { id: job.id.0, title: job.title.clone() }).collect(),
            settings: self.settings,
            sentences: Vec::new(),
            uses: Vec::new(),
            set_ups: Vec::new(),
            parts: Vec::new(),
            kit: None,
            purchases: Vec::new(),
            worlds: None,
            money: Default::default(),
            silent,
            foreseen: None,
        }
    }

    fn question(&self) -> String {
        match (&self.jobs[..], self.whole_drawer) {
            ([job], false) => format!(
                "Which of the set-ups tried is good enough for “{}”, what would be lost without each part, and what is the cheapest kit that still does the job?",
                job.title
            ),
            _ => "Which parts are needed for all jobs, which could go, and what would one purchase bring?".into(),
        }
    }

    /// Prices of the parts that occur in set-ups, and of all wishes.
    pub fn prices(&self, candidates: &[Candidate]) -> Prices {
        let tried: BTreeSet<String> = candidates.iter().flat_map(Candidate::part_ids).collect();
        let counts = |part: &&Part| tried.contains(part.id()) || self.wishes.part(part.id()).is_some();
        Prices::of(self.all.parts().iter().filter(counts))
    }

    /// Reservations about the whole comparison.
    fn remarks(&self, judged: &Judged) -> Vec<Sentence> {
        let mut remarks = Vec::new();
        if !self.whole_drawer {
            let labels: BTreeSet<&str> = judged
                .candidates
                .iter()
                .flat_map(|candidate| candidate.frames.iter().map(move |taken| (candidate, taken)))
                .filter(|(candidate, taken)| by_hand(candidate, taken) && !taken.frame.label.is_empty())
                .map(|(_, taken)| taken.frame.label.as_str())
                .collect();
            if labels.len() > 1 {
                let named: Vec<String> = labels.into_iter().map(|label| format!("“{label}”")).collect();
                remarks.push(note(&format!(
                    "Single edges were measured in frames of different subjects ({}): their figures compare only as far as those edges are equally sharp themselves. A frame of the target card with each set-up settles it.",
                    super::words::list(&named)
                )));
            }
        }
        remarks
    }

    fn decided(&self, document: &mut VerdictDocument, judged: &Judged, decision: &Decision, prices: &Prices) {
        let known = |use_: usize, candidate: usize| decides(judged, use_, candidate, self.settings.sure);
        document.uses =
            decision.uses.iter().enumerate().map(|(at, verdict)| self.standing(judged, at, verdict)).collect();
        let teller = Teller {
            judged,
            decision,
            all: &self.all,
            money: &prices.money,
            whole_drawer: self.whole_drawer,
            decides: &known,
        };
        document.sentences.splice(0..0, teller.sentences());
        document.parts = self.parts(judged, decision, prices);
        document.kit = Some(self.chosen(judged, decision));
        document.purchases =
            decision.purchases.iter().map(|purchase| self.purchase(judged, decision, purchase)).collect();
        let worlds = &decision.worlds;
        document.worlds = Some(WorldShares {
            drawn: worlds.drawn,
            same_kit: worlds.same_kit,
            nothing_lost: worlds.nothing_lost,
            served: worlds.served.clone(),
        });
        document.silent.extend(self.untried_wishes(judged));
    }

    /// No decision: why, and what to do; the uses are told all the same.
    fn undecided(&self, document: &mut VerdictDocument, judged: &Judged, why: &DecideError) {
        let text = match why {
            _ if self.jobs.is_empty() => "There is no job, so nothing need be kept. Begin one: it says how large and how fine the picture must be.".into(),
            DecideError::NoUses => "No use can be judged by, so nothing can be decided; below stands why.".into(),
            DecideError::NoSetUps => "No frame was planned or taken yet. Plan a test roll: it says which frames tell the set-ups apart.".into(),
            other => sentence(&other.to_string()),
        };
        let page = match (why, &self.jobs[..]) {
            (_, []) => Some(("begin a job", "/jobs/new".to_owned())),
            (DecideError::NoSetUps, [job, ..]) => Some(("plan a test roll", format!("/jobs/{}/test-roll", job.id))),
            _ => None,
        };
        let evidence = page.map(|(words, page)| crate::documents::verdict::Evidence { words: words.into(), page });
        let said = Sentence { evidence: evidence.into_iter().collect(), ..note(&text) };
        document.sentences.insert(0, said);
        document.uses =
            judged.uses.iter().map(|stated| UseStanding { ranked: Vec::new(), standing: None, ..of(stated) }).collect();
    }

    fn standing(&self, judged: &Judged, use_: usize, verdict: &decision::UseVerdict) -> UseStanding {
        let word = match verdict.standing {
            Standing::Served => "served",
            Standing::Perhaps => "perhaps",
            Standing::NotServed => "not served",
        };
        let ranked = verdict.ranked.iter().filter_map(|ranked| self.ranked(judged, use_, ranked));
        UseStanding { standing: Some(word.into()), ranked: ranked.collect(), ..of(&judged.uses[use_]) }
    }

    fn ranked(&self, judged: &Judged, use_: usize, ranked: &decision::Ranked) -> Option<RankedDocument> {
        let at = judged.candidate(&ranked.set_up)?;
        Some(RankedDocument {
            set_up: ranked.set_up.clone(),
            answer: answer_words(ranked.answer).into(),
            probability: ranked.probability,
            why: why_words(&ranked.why),
            findings: judged.findings(use_, at),
            missing: missing(judged, use_, at),
            decides: decides(judged, use_, at, self.settings.sure),
        })
    }

    fn parts(&self, judged: &Judged, decision: &Decision, prices: &Prices) -> Vec<JudgedPart> {
        let ids = tried_in_order(judged, &self.all);
        ids.into_iter().map(|id| self.part(judged, decision, prices, id)).collect()
    }

    fn part(&self, judged: &Judged, decision: &Decision, prices: &Prices, id: String) -> JudgedPart {
        let loss = decision.losses.iter().find(|loss| loss.part == id);
        let lost = loss.iter().flat_map(|loss| &loss.lost).map(|(use_id, nearest)| {
            let nearest = nearest.as_ref().map(|nearest| nearest.set_up.clone());
            let at = nearest.as_deref().and_then(|id| judged.candidate(id));
            let finding = judged.use_at(use_id).zip(at).and_then(|(use_, at)| judged.weakest(use_, at));
            LostUse { use_id: use_id.clone(), nearest, finding }
        });
        let weakened = loss.iter().flat_map(|loss| &loss.weakened).map(|weaker| WeakenedUse {
            use_id: weaker.use_id.clone(),
            from: weaker.from.clone(),
            to: weaker.to.clone(),
            probability: [weaker.probability.0, weaker.probability.1],
        });
        JudgedPart {
            name: part_name(&self.all, &id),
            owned: self.kit.part(&id).is_some(),
            price: prices.known.get(&id).copied(),
            price_plus_minus: prices.doubts.get(&id).copied().unwrap_or(0.0),
            kept: decision.kit.cheapest.parts.contains(&id),
            kept_share: decision.worlds.kept.iter().find(|(part, _)| *part == id).map(|(_, share)| *share),
            lost: lost.collect(),
            weakened: weakened.collect(),
            dearer_by: loss.and_then(|loss| loss.dearer_by).map(|sum| sum.value),
            dearer_by_plus_minus: loss.and_then(|loss| loss.dearer_by).map_or(0.0, |sum| sum.plus_minus),
            id,
        }
    }

    fn chosen(&self, judged: &Judged, decision: &Decision) -> ChosenKit {
        let kit = &decision.kit;
        let tried = tried(judged);
        let is_untried = |part: &&Part| part.kind().is_gear() && !tried.contains(part.id());
        let untried: Vec<&Part> = self.kit.parts().iter().filter(is_untried).collect();
        ChosenKit {
            parts: kit.cheapest.parts.clone(),
            worth: kit.cheapest.worth.value,
            worth_plus_minus: kit.cheapest.worth.plus_minus,
            unpriced: kit.cheapest.unpriced.clone(),
            could_go: kit.could_go.iter().map(|(part, _)| part.clone()).collect(),
            would_bring: kit.would_bring.value,
            would_bring_plus_minus: kit.would_bring.plus_minus,
            fewest_unpriced: kit.fewest_unpriced.as_ref().map(|kit| kit.parts.clone()),
            unserved: kit.unserved.clone(),
            untried: untried.iter().map(|part| part.id().to_owned()).collect(),
            untried_names: untried.iter().map(|part| part.name().to_owned()).collect(),
        }
    }

    fn purchase(&self, judged: &Judged, decision: &Decision, purchase: &decision::Purchase) -> Purchase {
        let available = |id: &String| self.kit.part(id).is_some() || *id == purchase.part;
        let builds = |candidate: &Candidate| {
            let parts = candidate.part_ids();
            parts.contains(&purchase.part) && parts.iter().all(available)
        };
        let may = |use_: usize| {
            let open = judged.rulings[use_].iter().zip(&judged.candidates);
            open.filter(|(_, candidate)| builds(candidate)).any(|(ruling, _)| ruling.answer == Answer::Undecided)
        };
        let unserved = decision.uses.iter().enumerate().filter(|(_, verdict)| verdict.standing == Standing::NotServed);
        let perhaps = unserved.filter(|(use_, _)| may(*use_)).map(|(_, verdict)| verdict.use_id.clone());
        Purchase {
            part: purchase.part.clone(),
            price: purchase.price.map(|sum| sum.value),
            price_plus_minus: purchase.price.map_or(0.0, |sum| sum.plus_minus),
            newly_served: purchase.newly_served.clone(),
            perhaps: perhaps.collect(),
            frees: purchase.frees.map(|sum| sum.value),
            frees_plus_minus: purchase.frees.map_or(0.0, |sum| sum.plus_minus),
            kit: purchase.kit.parts.clone(),
        }
    }

    /// Wishes that no frame was planned or taken with.
    fn untried_wishes(&self, judged: &Judged) -> Vec<Silent> {
        let tried = tried(judged);
        let untried = self.wishes.parts().iter().filter(|wish| !tried.contains(wish.id()));
        let silent = |wish: &Part| {
            Silent {
            what: format!("{}, wished for", part_name(&self.all, wish.id())),
            why: "no frame was planned or taken with it, so that nothing measured is known of what it would do; what tracing predicts stands apart".into(),
            next: "borrow it for a test roll, and enter the frames with it".into(),
            page: "/verdict#wishes".into(),
        }
        };
        untried.map(silent).collect()
    }

    fn set_ups(&self, judged: &Judged) -> Vec<JudgedSetUp> {
        (0..judged.candidates.len()).map(|at| self.set_up(judged, at)).collect()
    }

    fn set_up(&self, judged: &Judged, at: usize) -> JudgedSetUp {
        let candidate = &judged.candidates[at];
        let frames = candidate.frames.iter().map(|taken| FrameRef {
            id: taken.frame.id.0,
            number: taken.frame.number,
            job: taken.job,
            label: taken.frame.label.clone(),
            state: if taken.frame.state == FrameState::Shot { "shot" } else { "planned" }.into(),
            scans: taken.scans.iter().map(|scan| scan.id.0).collect(),
        });
        JudgedSetUp {
            id: candidate.id.clone(),
            name: candidate.name.clone(),
            parts: candidate.parts.clone(),
            focus: candidate.focus.clone(),
            f_number: candidate.f_number,
            owned: candidate.part_ids().iter().all(|id| self.kit.part(id).is_some()),
            frames: frames.collect(),
            magnification: magnification(judged, at),
            figures: judged.figures(at),
            remarks: self.set_up_remarks(judged, at),
        }
    }

    fn set_up_remarks(&self, judged: &Judged, at: usize) -> Vec<String> {
        let candidate = &judged.candidates[at];
        let mut remarks: Vec<String> = candidate.remarks.iter().map(|remark| sentence(remark)).collect();
        for surprise in judged.dossiers[at].surprises() {
            let figure = &judged.known[at][0][surprise.measured];
            let (value, plus_minus) = (surprise.difference.value, surprise.difference.plus_minus);
            remarks.push(format!(
                "Measured less worked out, {}: {}, more than their doubts explain. Is a part or the focus misnamed, or a mark wrong?",
                judged_what(figure),
                fmt::measured(value, Some(plus_minus))
            ));
        }
        if candidate.observed.len() == 1 {
            remarks.push("It rests on one scan: how far focusing scatters from frame to frame is not in it.".into());
        }
        remarks
    }
}

fn judged_what(placed: &super::figures::Placed) -> &'static str {
    use verdict::enough::Quantity;
    match placed.figure.quantity {
        Quantity::Field => "shorter side of the field (mm)",
        Quantity::Magnification => "magnification",
        _ => "a figure",
    }
}

/// As measured, else as worked out.
pub(super) fn magnification(judged: &Judged, at: usize) -> Option<Measured> {
    use verdict::enough::Quantity;
    let all = judged.known[at].iter().flatten();
    let found = all.map(|placed| &placed.figure).find(|figure| figure.quantity == Quantity::Magnification)?;
    let estimate = found.estimate();
    Some(Measured { value: estimate.value, plus_minus: estimate.plus_minus })
}

fn by_hand(candidate: &Candidate, taken: &super::candidates::Taken) -> bool {
    let seen = candidate.observed.iter().filter(|seen| seen.scan.frame == Some(taken.frame.id));
    seen.flat_map(|seen| &seen.sharpness).any(|sharpness| sharpness.page.contains('#'))
}

fn tried(judged: &Judged) -> BTreeSet<String> {
    judged.candidates.iter().flat_map(Candidate::part_ids).collect()
}

/// The parts of all set-ups in the order in which they were entered, those that are gone last.
fn tried_in_order(judged: &Judged, all: &Kit) -> Vec<String> {
    let place = |id: &String| all.parts().iter().position(|part| part.id() == id).unwrap_or(usize::MAX);
    let mut ids: Vec<String> = tried(judged).into_iter().collect();
    ids.sort_by_key(place);
    ids
}

pub(super) fn drawer(judged: &Judged, kit: &Kit, all: &Kit, prices: &Prices) -> Drawer {
    let part = |id: String| {
        let (owned, price) = (kit.part(&id).is_some(), prices.known.get(&id).copied());
        let price_plus_minus = prices.doubts.get(&id).copied().unwrap_or(0.0);
        decision::Part { id, owned, price, price_plus_minus }
    };
    let set_ups = judged.candidates.iter().zip(&judged.dossiers);
    Drawer {
        parts: tried_in_order(judged, all).into_iter().map(part).collect(),
        set_ups: set_ups.map(|(c, dossier)| SetUp { parts: c.part_ids(), dossier: dossier.clone() }).collect(),
        uses: judged.uses.iter().map(|stated| stated.use_.clone()).collect(),
    }
}

fn of(stated: &Stated) -> UseStanding {
    UseStanding {
        id: stated.id.clone(),
        number: stated.number,
        job: stated.job.id.0,
        title: stated.title.clone(),
        magnification: stated.need.magnification(),
        reckoned: stated.reckoned(),
        limits: stated.limits.clone(),
        standing: None,
        ranked: Vec::new(),
    }
}

fn why_words(why: &Why) -> String {
    match why {
        Why::Only => String::new(),
        Why::Surer { than } => format!("surer than the next ({})", chance(*than)),
        Why::Roomier { room, than } => format!(
            "as sure as the next, with more room at its tightest limit: {} of it against {}",
            fmt::percent(room.max(0.0)),
            fmt::percent(than.max(0.0))
        ),
        Why::Simpler => "as good as the next".into(),
    }
}

fn note(text: &str) -> Sentence {
    Sentence { kind: SentenceKind::Note, text: text.into(), about: Vec::new(), evidence: Vec::new() }
}
