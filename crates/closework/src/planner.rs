//! From a job to the set-ups worth choosing between: the kit's stacks, weighed by the planning crate.

mod likely;

pub use likely::{Likelies, Likely, OUT_TO, likely};

use kit::{Demand, Kit, ReachedSetup, SetupError, Survey, Surveyed};
use planning::{Axis, Brief, Candidate, Choice, Feasible, Need, OutOfRange, Unmet, front};

/// What a job asks, in the terms of the notebook and the command line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wishes {
    /// The subject's longest side, mm.
    pub subject_mm: f64,
    /// Its shorter side, mm.
    pub subject_short_mm: Option<f64>,
    /// Its depth along the line of sight, mm.
    pub subject_depth_mm: Option<f64>,
    /// How much of that is to be sharp, mm.
    pub depth_wanted_mm: Option<f64>,
    /// How much of the frame's shorter side it fills.
    pub fill: f64,
    /// Long side of the print of the whole frame, mm.
    pub print_mm: f64,
    /// Detail on paper, lp/mm.
    pub criterion_lp_mm: f64,
    /// Contrast left in it.
    pub contrast: f64,
    /// Room in front, mm.
    pub least_working_distance_mm: Option<f64>,
    /// Light that may be lost, stops.
    pub most_stops_lost: Option<f64>,
    /// Share of the frame's sides that may be cropped away.
    pub largest_crop: f64,
}

impl Wishes {
    /// As a job of the notebook says.
    pub fn of(job: &notebook::JobDraft) -> Self {
        Self {
            subject_mm: job.subject_mm,
            subject_short_mm: job.subject_short_mm,
            subject_depth_mm: job.subject_depth_mm,
            depth_wanted_mm: job.depth_wanted_mm,
            fill: job.fill,
            print_mm: job.print_mm,
            criterion_lp_mm: job.criterion_lp_mm,
            contrast: job.contrast_needed,
            least_working_distance_mm: job.least_working_distance_mm,
            most_stops_lost: job.most_stops_lost,
            largest_crop: job.largest_crop,
        }
    }

    /// On a frame of this size. A job measures the subject's longest side against the frame's shorter one, so the frame is
    /// looked at with that side as its width.
    pub fn brief(&self, frame_mm: [f64; 2]) -> Brief {
        let (short, long) = (frame_mm[0].min(frame_mm[1]), frame_mm[0].max(frame_mm[1]));
        let base = Brief::new(self.subject_mm, self.fill, [short, long], self.print_mm * short / long);
        // A depth of nothing is a flat subject.
        let depth = |mm: Option<f64>| mm.filter(|mm| *mm > 0.0);
        Brief {
            subject_height_mm: self.subject_short_mm,
            subject_depth_mm: depth(self.subject_depth_mm),
            depth_wanted_mm: depth(self.depth_wanted_mm),
            criterion_lp_mm: self.criterion_lp_mm,
            contrast: self.contrast.min(0.95),
            least_working_distance_mm: self.least_working_distance_mm,
            largest_light_loss_stops: self.most_stops_lost,
            largest_crop: self.largest_crop.min(0.95),
            ..base
        }
    }
}

/// A set-up that nothing else beats.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// How it would serve.
    pub choice: Choice,
    /// The set-up, set for it.
    pub setup: ReachedSetup,
}

/// What a kit has for a job.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// What the pictures need, on the frame of the body asked for or of the first.
    pub need: Need,
    /// The set-ups that serve and that nothing else beats, those that are worked as usual first, then by light lost.
    pub front: Vec<Planned>,
    /// How many more nothing beats that are much like one of these.
    pub alike: usize,
    /// One of every other way that light can go and the job be served: beaten in what the kit's data tell, and perhaps sharper.
    pub near: Vec<Planned>,
    /// How many stacks serve in all, one counted for all of equal figures.
    pub serving: usize,
    /// Why the others do not: each reason with how many it rules out, and the one that comes nearest.
    pub ruled_out: Vec<RuledOut>,
}

/// Stacks that miss a hard wish.
#[derive(Debug, Clone, PartialEq)]
pub struct RuledOut {
    /// What they miss.
    pub reason: Reason,
    /// How many.
    pub count: usize,
    /// The one that comes nearest to it and misses nothing else; `None` when all miss more.
    pub nearest: Option<(ReachedSetup, Unmet)>,
}

/// A hard wish.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Reason {
    /// Room in front.
    Room,
    /// Light.
    Light,
    /// Size on film.
    Size,
    /// Enlargement.
    Enlargement,
    /// Detail against diffraction, or as measured.
    Detail,
}

impl Reason {
    fn of(unmet: &Unmet) -> Self {
        match unmet {
            Unmet::TooNear { .. } => Self::Room,
            Unmet::TooMuchLightLost { .. } => Self::Light,
            Unmet::DoesNotReach { .. } | Unmet::CropTooLarge { .. } | Unmet::TooTight { .. } => Self::Size,
            Unmet::EnlargedTooMuch { .. } => Self::Enlargement,
            Unmet::Diffraction { .. } | Unmet::NotSharp { .. } => Self::Detail,
        }
    }

    /// What is missing, to follow "n".
    pub fn words(self) -> &'static str {
        match self {
            Self::Room => "come too near the subject",
            Self::Light => "lose too much light",
            Self::Size => "do not bring the subject to its size",
            Self::Enlargement => "would be enlarged too much",
            Self::Detail => "cannot hold the detail",
        }
    }
}

/// Why there is no plan.
#[derive(Debug, thiserror::Error)]
pub enum PlanError {
    /// The kit or the limits.
    #[error("{0}")]
    Setup(#[from] SetupError),
    /// The job.
    #[error("{0}")]
    Brief(#[from] OutOfRange),
    /// No body to plan on.
    #[error("the kit has no body to plan on; add one")]
    NoBody,
}

/// So many are weighed at a time; of a drawer of hundreds of thousands the beaten ones go on the way.
const BATCH: usize = 20_000;
/// So many ways for light to go are kept for each body beside the front: all of a usual drawer's.
const NEAR: usize = 24;
/// Shown at most; a front of more is a sign that nothing is asked.
const SHOWN: usize = 60;

/// The set-ups of a kit for a job: those that serve and that nothing else beats in light, room, glass, depth, close range and
/// enlargement.
pub fn plan(kit: &Kit, demand: &Demand, wishes: &Wishes) -> Result<Plan, PlanError> {
    let bodies: Vec<&kit::Part> =
        kit.of_kind(kit::Kind::Body).filter(|body| demand.body.as_deref().is_none_or(|id| body.id() == id)).collect();
    let mut weigher = Weigher::default();
    let mut first = None;
    for body in &bodies {
        let [width, height] = body.numbers("frame_mm")[..] else { continue };
        let need = wishes.brief([width, height]).need()?;
        let one = Demand { body: Some(body.id().into()), ..demand.clone() };
        let survey = Survey::of(kit, &one)?;
        // What falls short by more than the crop that is allowed is of no use; a little beyond is kept to be named.
        let least = need.magnification * (1.0 - wishes.largest_crop) * 0.8;
        let mut wrong = None;
        survey.each(need.magnification, least, &mut |found| {
            if let Err(error) = weigher.weigh(&need, &survey, &found) {
                wrong = Some(error);
            }
        });
        wrong.map_or(Ok(()), Err)?;
        weigher.settle(&survey);
        first.get_or_insert(need);
    }
    let Some(need) = first else {
        // A body that is not there is named as such.
        Survey::of(kit, demand)?;
        return Err(PlanError::NoBody);
    };
    Ok(weigher.plan(need))
}

/// So many stacks of the same optics are looked at for one that is wanted.
const OF_ONE_OPTICS: usize = 8;

/// Set-ups for a job, one for every way that light can go: of stacks that differ in nothing but what makes up their length the one that
/// is worked as usual, crops least and has the fewest parts. `wanted` says which count; the simplest come first, `most` of them.
pub fn ways(
    kit: &Kit,
    demand: &Demand,
    wishes: &Wishes,
    wanted: &dyn Fn(&ReachedSetup) -> bool,
    most: usize,
) -> Result<Vec<Planned>, PlanError> {
    let mut found: Vec<(usize, Planned)> = Vec::new();
    for body in kit.of_kind(kit::Kind::Body).filter(|body| demand.body.as_deref().is_none_or(|id| body.id() == id)) {
        let [width, height] = body.numbers("frame_mm")[..] else { continue };
        let need = wishes.brief([width, height]).need()?;
        let survey = Survey::of(kit, &Demand { body: Some(body.id().into()), ..demand.clone() })?;
        for (obstacles, choice, surveyed) in serving(&survey, &need, wishes)?.into_values().flatten() {
            let Some(setup) = survey.setup(surveyed.place, surveyed.magnification) else { continue };
            let known = found.iter().any(|(_, planned)| planned.setup.parts == setup.parts);
            if wanted(&setup) && !known {
                found.push((obstacles, Planned { choice, setup }));
            }
        }
    }
    found.sort_by_key(|(obstacles, planned)| (*obstacles, planned.setup.glass_added, planned.setup.parts.len()));
    found.truncate(most);
    Ok(found.into_iter().map(|(_, planned)| planned).collect())
}

/// For every optics the stacks that serve, the best few first.
type Serving = std::collections::BTreeMap<kit::Optics, Vec<(usize, Choice, Surveyed)>>;

fn serving(survey: &Survey<'_>, need: &Need, wishes: &Wishes) -> Result<Serving, PlanError> {
    let least = need.magnification * (1.0 - wishes.largest_crop);
    let (mut found, mut wrong) = (Serving::new(), None);
    survey.each(need.magnification, least, &mut |surveyed| match need.choice(&candidate(&surveyed)) {
        Ok(choice) if choice.serves() => {
            found.entry(surveyed.optics).or_default().push((surveyed.obstacles, choice, surveyed));
        }
        Ok(_) => {}
        Err(error) => wrong = Some(error),
    });
    wrong.map_or(Ok(()), Err)?;
    for stacks in found.values_mut() {
        stacks.sort_by(|(p, a, _), (q, b, _)| p.cmp(q).then(a.negative.cut_away.total_cmp(&b.negative.cut_away)));
        stacks.truncate(OF_ONE_OPTICS);
    }
    Ok(found)
}

/// What rings are marked with: half stops (common practice, no source).
const MARKS: [f64; 25] = [
    1.0, 1.2, 1.4, 1.7, 2.0, 2.4, 2.8, 3.3, 4.0, 4.8, 5.6, 6.7, 8.0, 9.5, 11.0, 13.0, 16.0, 19.0, 22.0, 27.0, 32.0,
    38.0, 45.0, 54.0, 64.0,
];

/// The engraved f-number at which a set-up would be used: where depth and diffraction blur alike, or what focus steps are taken at;
/// where no depth is asked for, half-way in stops between wide open and where diffraction takes the detail (common practice, no
/// source: lenses are at their best a few stops closed). The nearest mark that the lens has.
pub fn stop_for(choice: &Choice) -> f64 {
    let candidate = &choice.candidate;
    let [widest, smallest] = candidate.f_numbers;
    let open = candidate.effective_f_numbers()[0];
    let effective = match choice.feasible {
        Feasible::OneExposure { best: Some(best), .. } => best,
        Feasible::OneExposure { from, to, .. } => (from.unwrap_or(open) * to).sqrt(),
        Feasible::Steps(steps) => steps.effective_f_number,
        Feasible::TooDim { widest, .. } => widest,
    };
    let engraved = candidate.engraved(effective);
    let off = |mark: &f64| (mark / engraved).ln().abs();
    let nearest = MARKS.into_iter().min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(engraved);
    nearest.clamp(widest, smallest)
}

#[derive(Default)]
struct Weigher {
    serving: usize,
    /// Choices on the body at hand that nothing has beaten so far, with what they are.
    open: Vec<(Choice, Surveyed)>,
    /// Those of bodies that are done.
    done: Vec<(Choice, Surveyed, ReachedSetup)>,
    ruled_out: Vec<(Reason, usize, Option<NearMiss>)>,
    /// On the body at hand, the best stack of every optics; and those of bodies that are done.
    optics: std::collections::BTreeMap<kit::Optics, (Choice, Surveyed)>,
    near: Vec<Planned>,
}

/// How far off, in what, and which.
type NearMiss = (f64, Unmet, ReachedSetup);

fn candidate(found: &Surveyed) -> Candidate {
    Candidate {
        key: found.obstacles,
        magnification: found.magnification,
        stops_lost: found.stops,
        working_distance_mm: Some(found.working_distance_mm.max(0.0)),
        glass_added: found.glass_added,
        f_number_factor: (found.stops / 2.0).exp2(),
        f_numbers: found.f_numbers,
        past_close_range: found.past_close_range,
        contrast: None,
    }
}

impl Weigher {
    fn weigh(&mut self, need: &Need, survey: &Survey<'_>, found: &Surveyed) -> Result<(), OutOfRange> {
        let choice = need.choice(&candidate(found))?;
        if choice.serves() {
            self.serving += 1;
            let rank =
                |(choice, found): &(Choice, Surveyed)| (found.obstacles, (choice.negative.cut_away * 1e6) as u64);
            let this = (choice.clone(), *found);
            match self.optics.get(&found.optics) {
                Some(known) if rank(known) <= rank(&this) => {}
                _ => drop(self.optics.insert(found.optics, this)),
            }
            self.open.push((choice, *found));
            if self.open.len() >= BATCH {
                self.thin();
            }
            return Ok(());
        }
        for unmet in &choice.unmet {
            let reason = Reason::of(unmet);
            let alone = choice.unmet.len() == 1;
            let slot = match self.ruled_out.iter_mut().find(|(known, ..)| *known == reason) {
                Some(slot) => slot,
                None => {
                    self.ruled_out.push((reason, 0, None));
                    let last = self.ruled_out.len() - 1;
                    &mut self.ruled_out[last]
                }
            };
            slot.1 += 1;
            let off = off(unmet);
            if alone && slot.2.as_ref().is_none_or(|(best, ..)| off < *best) {
                slot.2 = survey.setup(found.place, found.magnification).map(|setup| (off, *unmet, setup));
            }
        }
        Ok(())
    }

    fn thin(&mut self) {
        let choices: Vec<Choice> = self.open.iter().map(|(choice, _)| choice.clone()).collect();
        let members = front(&choices, &Axis::ALL).members;
        self.open = members.into_iter().map(|index| self.open[index].clone()).collect();
    }

    /// A body is done: what is left of it is built.
    fn settle(&mut self, survey: &Survey<'_>) {
        self.thin();
        for (choice, found) in std::mem::take(&mut self.open) {
            if let Some(setup) = survey.setup(found.place, found.magnification) {
                self.done.push((choice, found, setup));
            }
        }
        let mut optics: Vec<(Choice, Surveyed)> = std::mem::take(&mut self.optics).into_values().collect();
        optics.sort_by_key(|(_, found)| (found.obstacles, found.glass_added));
        let setup = |(choice, found): (Choice, Surveyed)| {
            Some(Planned { choice, setup: survey.setup(found.place, found.magnification)? })
        };
        self.near.extend(optics.into_iter().take(NEAR).filter_map(setup));
    }

    fn plan(mut self, need: Need) -> Plan {
        let choices: Vec<Choice> = self.done.iter().map(|(choice, ..)| choice.clone()).collect();
        let members = front(&choices, &Axis::ALL).members;
        let mut best: Vec<_> = members.into_iter().map(|index| self.done[index].clone()).collect();
        best.sort_by(|p, q| {
            let rank = |(choice, found, setup): &(Choice, Surveyed, ReachedSetup)| {
                (found.obstacles, (choice.candidate.stops_lost * 10.0).round() as i64, setup.parts.len())
            };
            rank(p).cmp(&rank(q))
        });
        // Equal in everything that is compared: the smallest stack, which comes first, stands for the others.
        let mut seen = std::collections::HashSet::new();
        best.retain(|(choice, found, _)| {
            let figures = Axis::ALL.map(|axis| axis.figure(choice).map(|figure| (figure * 100.0).round() as i64));
            seen.insert((figures, found.obstacles))
        });
        let beaten_by_none = best.len();
        best = one_of_a_kind(best);
        best.truncate(SHOWN);
        let alike = beaten_by_none - best.len();
        self.ruled_out.sort_by_key(|(reason, ..)| *reason);
        let shown = |near: &Planned| best.iter().any(|(_, _, setup)| setup.parts == near.setup.parts);
        self.near.retain(|near| !shown(near));
        Plan {
            need,
            alike,
            near: self.near,
            serving: self.serving,
            front: best.into_iter().map(|(choice, _, setup)| Planned { choice, setup }).collect(),
            ruled_out: self
                .ruled_out
                .into_iter()
                .map(|(reason, count, nearest)| RuledOut {
                    reason,
                    count,
                    nearest: nearest.map(|(_, unmet, setup)| (setup, unmet)),
                })
                .collect(),
        }
    }
}

/// What differs by less than a photographer would choose by is shown once: a third of a stop, a tenth of the room and of the depth, a
/// sixth past the close range, three hundredths of the enlargement (common practice, no source).
fn much_alike(p: &Choice, q: &Choice) -> bool {
    let close = |axis: Axis, share: f64| match (axis.figure(p), axis.figure(q)) {
        (Some(a), Some(b)) => (a - b).abs() <= share * a.abs().max(b.abs()),
        (a, b) => a == b,
    };
    let stops = (p.candidate.stops_lost - q.candidate.stops_lost).abs() <= 0.34;
    let rooms = close(Axis::WorkingDistance, 0.1) && close(Axis::Depth, 0.1);
    let same = p.candidate.glass_added == q.candidate.glass_added && p.candidate.key == q.candidate.key;
    stops && same && rooms && close(Axis::PastCloseRange, 0.17) && close(Axis::Enlargement, 0.03)
}

/// The first of each kind, in the order given.
fn one_of_a_kind(choices: Vec<(Choice, Surveyed, ReachedSetup)>) -> Vec<(Choice, Surveyed, ReachedSetup)> {
    let mut kept: Vec<(Choice, Surveyed, ReachedSetup)> = Vec::new();
    for choice in choices {
        if !kept.iter().any(|known| much_alike(&known.0, &choice.0)) {
            kept.push(choice);
        }
    }
    kept
}

/// By how much a wish is missed, as a share of it, to find the nearest miss.
fn off(unmet: &Unmet) -> f64 {
    match unmet {
        Unmet::TooNear { working_distance_mm, least_mm } => 1.0 - working_distance_mm / least_mm,
        Unmet::TooMuchLightLost { stops, largest } => stops - largest,
        Unmet::DoesNotReach { magnification, needed } | Unmet::CropTooLarge { magnification, needed, .. } => {
            (needed / magnification - 1.0).abs()
        }
        Unmet::TooTight { fills, wanted, .. } => fills / wanted - 1.0,
        Unmet::EnlargedTooMuch { enlargement, largest, .. } => enlargement / largest - 1.0,
        Unmet::Diffraction { widest, limit, .. } => widest / limit - 1.0,
        Unmet::NotSharp { contrast, wanted } => wanted - contrast.value,
    }
}
