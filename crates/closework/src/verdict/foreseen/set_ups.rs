//! The set-ups that are traced: tried and not measured, within the kit's reach, within reach with a wish.

use std::collections::BTreeSet;
use std::sync::Arc;

use kit::{Demand, Focus, Kind, Kit, Part, ReachedSetup, Setup, SetupRequest};
use notebook::Job;
use optics::Estimate;
use verdict::enough::Quantity;

use super::super::build::Prepared;
use super::super::candidates::Candidate;
use super::super::figures::measured;
use super::super::predicted::{address, predicted};
use super::super::uses::Stated;
use super::figures;
use crate::bench::{BenchError, Chain, FIELD, Foresee, PredictedFigures, Told, Trace};
use crate::documents::foreseen::ForeseenCheck;
use crate::documents::verdict::Silent;
use crate::planner::{Planned, Wishes, stop_for, ways};
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::kit_book::set_up_name;

/// Where a set-up comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// A frame was planned or taken with it.
    Tried,
    /// The kit reaches it.
    Kit,
    /// The kit would with a wish.
    Wish,
}

/// A set-up with what tracing tells of it among its predicted figures.
pub struct Foreseen {
    pub candidate: Candidate,
    pub source: Source,
    pub told: Arc<PredictedFigures>,
}

/// A wish, and why nothing was traced with it.
pub struct Wish {
    pub part: String,
    pub why_not: String,
}

/// All of it.
#[derive(Default)]
pub struct Gathered {
    pub foreseen: Vec<Foreseen>,
    pub wishes: Vec<Wish>,
    pub check: Option<ForeseenCheck>,
    pub silent: Vec<Silent>,
}

/// So many set-ups of the kit are traced for each job, and so many with each wish.
const OF_KIT: usize = 10;
const OF_WISH: usize = 4;

/// Whether a frame shows how sharp it is.
pub fn is_measured(candidate: &Candidate) -> bool {
    candidate.observed.iter().any(|seen| !seen.sharpness.is_empty())
}

/// A set-up to be traced.
struct Plain {
    parts: Vec<String>,
    focus: String,
    f_number: Option<f64>,
}

struct Gatherer<'a> {
    prepared: &'a Prepared,
    trace: Trace<'a>,
    wanted: Vec<Quantity>,
    places: Vec<f64>,
    chain: Chain,
    found: Gathered,
}

/// Traces all that comes into question; `None` where the tracing was ended.
pub fn gather(prepared: &Prepared, uses: &[Stated], trace: Trace<'_>) -> Option<Gathered> {
    let mut gatherer = Gatherer {
        prepared,
        trace,
        wanted: figures::wanted(uses),
        places: figures::places(uses),
        chain: chain(prepared),
        found: Gathered::default(),
    };
    gatherer.tried()?;
    gatherer.within_reach()?;
    gatherer.wishes()?;
    gatherer.check()?;
    name_them(&mut gatherer.found.foreseen, &prepared.material.all);
    Some(gatherer.found)
}

/// The finest scan of these jobs says what the scanner does.
pub fn chain(prepared: &Prepared) -> Chain {
    let pitches = prepared.candidates.iter().flat_map(|candidate| &candidate.observed).map(|seen| seen.pitch_um);
    pitches.reduce(f64::min).map_or(Chain::USUAL, |pitch_um| Chain { pitch_um })
}

impl Gatherer<'_> {
    fn all(&self) -> &Kit {
        &self.prepared.material.all
    }

    fn tried(&mut self) -> Option<()> {
        for candidate in self.prepared.candidates.iter().filter(|candidate| !is_measured(candidate)) {
            let plain =
                Plain { parts: candidate.parts.clone(), focus: candidate.focus.clone(), f_number: candidate.f_number };
            match self.traced(&plain, &self.places)? {
                Ok((told, corner_mm)) => self.take(&plain, Source::Tried, told, corner_mm),
                Err(why) => self.found.silent.push(untraced(candidate.name.clone(), &plain, &why)),
            }
        }
        Some(())
    }

    fn within_reach(&mut self) -> Option<()> {
        let mut refused: BTreeSet<Why> = BTreeSet::new();
        for job in &self.prepared.material.jobs {
            let kit = &self.prepared.material.kit;
            for planned in ways_for(kit, job, &|_| true, OF_KIT) {
                let plain = plain(&planned);
                if self.is_known(&plain) {
                    continue;
                }
                match self.traced(&plain, &self.places)? {
                    Ok((told, corner_mm)) => self.take(&plain, Source::Kit, told, corner_mm),
                    // The same lens without a form is told once.
                    Err(why) if refused.insert(why.clone()) => {
                        let name = set_up_name(self.all(), &plain.parts);
                        self.found.silent.push(untraced(name, &plain, &why));
                    }
                    Err(_) => {}
                }
            }
        }
        Some(())
    }

    fn wishes(&mut self) -> Option<()> {
        for wish in self.prepared.material.wishes.parts() {
            let why_not = self.one_wish(wish)?;
            self.found.wishes.push(Wish { part: wish.id().to_owned(), why_not });
        }
        Some(())
    }

    /// Traces what the kit would reach with a part; why not, where it reaches nothing that can be traced.
    fn one_wish(&mut self, wish: &Part) -> Option<String> {
        let kit = &self.prepared.material.kit;
        let with = Kit::from_parts(kit.parts().iter().chain([wish]).cloned().collect());
        let Ok(with) = with else { return Some("a part of the kit has its name already".into()) };
        let has = |setup: &ReachedSetup| setup.parts.iter().any(|word| id_of(word) == wish.id());
        // The simplest set-ups come first, and their refusal says most.
        let mut refused: Option<Why> = None;
        for job in &self.prepared.material.jobs {
            for planned in ways_for(&with, job, &has, OF_WISH) {
                let plain = plain(&planned);
                match self.traced(&plain, &self.places)? {
                    Ok((told, corner_mm)) if !self.is_known(&plain) => {
                        self.take(&plain, Source::Wish, told, corner_mm);
                    }
                    Ok(_) => {}
                    Err(why) => drop(refused.get_or_insert(why)),
                }
            }
        }
        let nothing = "no set-up with it serves the size, room and light of a job as the kit does not already, so that nothing was traced";
        Some(refused.map_or_else(|| nothing.into(), |why| why.words))
    }

    fn is_known(&self, plain: &Plain) -> bool {
        let mut known = self.found.foreseen.iter().map(|foreseen| &foreseen.candidate);
        known.any(|c| c.parts == plain.parts && c.focus == plain.focus && c.f_number == plain.f_number)
    }

    /// Traces a set-up at some places; with it half the frame's diagonal, mm.
    fn traced(&self, plain: &Plain, places: &[f64]) -> Option<Result<(Arc<PredictedFigures>, f64), Why>> {
        let (setup, asked) = match self.question(plain, places) {
            Ok(found) => found,
            Err(why) => return Some(Err(why.into())),
        };
        let told: Told = (self.trace)(&setup, &asked)?;
        Some(told.map(|told| (told, asked.corner_mm)).map_err(Why::from))
    }

    fn question(&self, plain: &Plain, places: &[f64]) -> Result<(Setup<'_>, Foresee), String> {
        let focus: Focus = plain.focus.parse().map_err(|_| format!("Its focus “{}” cannot be read.", plain.focus))?;
        let request = SetupRequest { parts: plain.parts.clone(), focus, f_number: plain.f_number, coc_mm: None };
        let setup = Setup::resolve(self.all(), &request).map_err(|why| sentence(&why.to_string()))?;
        let corner_mm = corner_mm(self.all(), &plain.parts).ok_or("The size of its body's frame is not known.")?;
        let report = setup.report().map_err(|why| sentence(&why.to_string()))?;
        let size = report.figures.get(optics::Figure::Magnification).map_or(f64::NAN, |found| found.value);
        let asked = figures::question(&self.wanted, places, corner_mm, size, self.chain);
        Ok((setup, asked))
    }

    fn take(&mut self, plain: &Plain, source: Source, told: Arc<PredictedFigures>, corner_mm: f64) {
        let mut known = predicted(self.all(), &plain.parts, &plain.focus, plain.f_number).unwrap_or_default();
        let size = known.iter().find(|placed| placed.figure.quantity == Quantity::Magnification);
        let size = size.map_or(Estimate { value: f64::NAN, plus_minus: 0.0 }, |placed| placed.figure.estimate());
        if !(size.value > 0.0 && size.plus_minus.is_finite()) {
            return;
        }
        let page = address(&plain.parts, &plain.focus, plain.f_number);
        known.extend(figures::placed(&told, &self.wanted, corner_mm, size, &page));
        let candidate = Candidate {
            id: format!("predicted-{}", self.found.foreseen.len() + 1),
            name: String::new(),
            parts: plain.parts.clone(),
            focus: plain.focus.clone(),
            f_number: plain.f_number,
            frames: Vec::new(),
            observed: Vec::new(),
            predicted: known,
            frame_short_mm: None,
            remarks: Vec::new(),
        };
        self.found.foreseen.push(Foreseen { candidate, source, told });
    }

    /// Measured set-ups traced as well, to see whether what was measured lies where it was predicted.
    fn check(&mut self) -> Option<()> {
        let (mut check, mut ratios) =
            (ForeseenCheck { set_ups: 0, figures: 0, within: 0, resolution_ratio: None }, Vec::new());
        for candidate in self.prepared.candidates.iter().filter(|candidate| is_measured(candidate)) {
            let scans: Vec<_> = candidate.observed.iter().collect();
            let seen = measured(&scans, &self.wanted, None);
            let seen: Vec<_> = seen.into_iter().filter(|placed| placed.figure.only.is_none()).collect();
            let mut places: Vec<f64> = seen.iter().filter_map(|placed| placed.figure.at).collect();
            places.sort_by(f64::total_cmp);
            places.dedup_by(|a, b| (*a - *b).abs() < NEAR);
            let plain =
                Plain { parts: candidate.parts.clone(), focus: candidate.focus.clone(), f_number: candidate.f_number };
            let Ok((told, corner_mm)) = self.traced(&plain, &places)? else { continue };
            let size = Estimate {
                value: candidate.finest().map_or(f64::NAN, |seen| seen.magnification.value),
                plus_minus: 0.0,
            };
            let foretold = figures::placed(&told, &self.wanted, corner_mm, size, "");
            check.set_ups += 1;
            for figure in seen.iter().map(|placed| &placed.figure) {
                let near = |other: &&verdict::enough::Figure| {
                    let apart = other.at.zip(figure.at).map(|(a, b)| (a - b).abs());
                    other.quantity.is_same(figure.quantity) && apart.is_some_and(|apart| apart < NEAR)
                };
                let Some(other) = foretold.iter().map(|placed| &placed.figure).find(near) else { continue };
                let (found, predicted) = (figure.estimate(), other.estimate());
                check.figures += 1;
                let off = (found.value - predicted.value).abs();
                check.within += usize::from(off <= found.plus_minus.hypot(predicted.plus_minus));
                if matches!(figure.quantity, Quantity::Resolution { .. }) && predicted.value > 0.0 {
                    ratios.push(found.value / predicted.value);
                }
            }
        }
        ratios.sort_by(f64::total_cmp);
        check.resolution_ratio = ratios.get(ratios.len() / 2).copied();
        self.found.check = Some(check).filter(|check| check.figures > 0);
        Some(())
    }
}

/// Places nearer together than this share of the way to the corner are one.
const NEAR: f64 = 0.06;

/// Why there is nothing to be told of a set-up.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Why {
    words: String,
    /// The lens that has no form, or one that there is not.
    formless: Option<String>,
}

impl From<BenchError> for Why {
    fn from(why: BenchError) -> Self {
        let words = sentence(&why.to_string());
        let formless = match why {
            BenchError::NoForm { lens, .. } | BenchError::UnknownForm { lens, .. } => Some(lens),
            _ => None,
        };
        Self { words, formless }
    }
}

impl From<String> for Why {
    fn from(words: String) -> Self {
        Self { words, formless: None }
    }
}

fn untraced(what: String, plain: &Plain, why: &Why) -> Silent {
    let (next, page) = match &why.formless {
        Some(lens) => ("choose its form", format!("/kit/part/{lens}#field-{FIELD}")),
        None => ("look at it", address(&plain.parts, &plain.focus, plain.f_number)),
    };
    Silent { what, why: why.words.trim_end_matches('.').to_owned(), next: next.into(), page }
}

fn id_of(word: &str) -> &str {
    word.split_once('=').map_or(word, |(id, _)| id)
}

/// Half the diagonal of the frame of the set-up's body, mm.
fn corner_mm(kit: &Kit, parts: &[String]) -> Option<f64> {
    let body = kit.part(parts.first()?).filter(|part| part.kind() == Kind::Body)?;
    match body.numbers("frame_mm")[..] {
        [width, height] => Some(0.5 * width.hypot(height)),
        _ => None,
    }
}

/// What a kit reaches for a job; a job that cannot be planned has none.
fn ways_for(kit: &Kit, job: &Job, wanted: &dyn Fn(&ReachedSetup) -> bool, most: usize) -> Vec<Planned> {
    let demand = Demand { body: job.body.clone(), ..Demand::default() };
    ways(kit, &demand, &Wishes::of(&job.draft), wanted, most).unwrap_or_default()
}

fn plain(planned: &Planned) -> Plain {
    let setting = planned.setup.setting.as_ref();
    let parts = setting.map_or_else(|| planned.setup.parts.clone(), |setting| setting.parts.clone());
    Plain {
        parts: parts.iter().map(|word| as_set(word)).collect(),
        focus: setting.map_or_else(|| "infinity".into(), |setting| setting.focus.to_string()),
        f_number: Some(stop_for(&planned.choice)),
    }
}

/// A draw as a person sets it, to a tenth of a millimetre.
fn as_set(word: &str) -> String {
    let set = |(id, mm): (&str, &str)| Some(format!("{id}={}", (mm.parse::<f64>().ok()? * 10.0).round() / 10.0));
    word.split_once('=').and_then(set).unwrap_or_else(|| word.to_owned())
}

/// Parts and f-number; the focus where two would share that.
fn name_them(foreseen: &mut [Foreseen], kit: &Kit) {
    let short: Vec<String> = foreseen
        .iter()
        .map(|Foreseen { candidate, .. }| {
            let parts = set_up_name(kit, &candidate.parts);
            candidate.f_number.map_or(parts.clone(), |f| format!("{parts}, f/{}", fmt::figure(f, 2)))
        })
        .collect();
    for (at, Foreseen { candidate, .. }) in foreseen.iter_mut().enumerate() {
        let alone = short.iter().filter(|name| **name == short[at]).count() == 1;
        candidate.name = if alone { short[at].clone() } else { format!("{}, {}", short[at], candidate.focus) };
    }
}
