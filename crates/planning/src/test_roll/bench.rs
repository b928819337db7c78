//! A test ready to be planned: who is compared with whom, at which apertures, with how many focus steps.

use super::bracket::{Bracket, Focusing};
use super::error::TestRollError;
use super::meet::{Contender, LeftOut, Meeting};
use super::order::{ChangeCosts, Gear};
use super::power::Certainty;
use super::slot::{Role, Slot};
use super::stops::{Aperture, ApertureMissed, AperturesAsked, Ring, apertures, list};
use super::words::f_text;
use crate::brief::within;
use crate::{Feasible, Need, depth_mm};
use optics::Estimate;

/// How far takes of one and the same frame scatter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    /// One standard deviation of the figure that is compared (MTF50), line pairs per mm on film.
    pub lp_mm: f64,
    /// The degrees of freedom that it was measured with: takes less set-ups. 0 where it is only stated: then it serves to
    /// plan with, and the repeats of the test itself must show it.
    pub degrees: usize,
}

/// What the control is.
#[derive(Debug, Clone, PartialEq)]
pub enum Control {
    /// One of the set-ups, by its place among the contenders.
    Reference(usize),
    /// Something that is not compared: the lens alone at its closest mark, say.
    Bare {
        /// What it is called.
        name: String,
        /// What stands on the stand.
        gear: Gear,
    },
    /// None: the first frame is the card all the same.
    Off,
}

/// In which order takes are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Rounds {
    /// All takes of a set-up one after the other, focused anew each time: the fewest changes.
    #[default]
    Together,
    /// Once through all set-ups and back again, so that a drift hits all alike: more changes, and a repeat counts putting the
    /// set-up together too.
    ThereAndBack,
}

/// What a test is to tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// What the job's pictures need.
    pub need: Need,
    /// How far takes scatter.
    pub scatter: Scatter,
    /// The difference that is to be told, lp/mm on film.
    pub difference_lp_mm: f64,
    /// How sure.
    pub certainty: Certainty,
    /// Which apertures.
    pub apertures: AperturesAsked,
    /// Half the 95 % interval of the focus, mm on the subject; `None` for what the focusing screen shows
    /// ([`SCREEN_DISC_MM`]).
    pub focus_plus_minus_mm: Option<f64>,
    /// The chance wanted that a take is in focus.
    pub focus_confidence: f64,
    /// From one frame of a focus bracket to the next, as a share of the depth.
    pub focus_step_share: f64,
    /// Frames of a bracket at most, odd; 1 for none.
    pub longest_bracket: usize,
    /// The control.
    pub control: Control,
    /// The order of takes.
    pub rounds: Rounds,
    /// What changes cost.
    pub costs: ChangeCosts,
}

/// The disc on the focusing screen that the eye takes for sharp, mm: a third of what it does at 250 mm, through a magnifier
/// (common practice, no source).
pub const SCREEN_DISC_MM: f64 = 0.07;

/// Takes of the same frame scatter by about so much of the figure, one standard deviation: measuring takes 1 to 2 %, focusing
/// anew, film and scan the rest (common practice, no source; the control's repeats show what it is on this stand).
pub const USUAL_SCATTER: f64 = 0.05;

/// A difference that matters, as a share of the fineness needed: about half of what one stop of the criterion makes (common
/// practice, no source).
pub const USUAL_DIFFERENCE: f64 = 0.2;

impl Question {
    /// What a job asks with everything else as usual: scatter and difference as shares of the fineness that the job needs on
    /// film, since near that the decision falls.
    pub fn of(need: Need) -> Self {
        Self {
            scatter: Scatter { lp_mm: USUAL_SCATTER * need.on_film_lp_mm, degrees: 0 },
            difference_lp_mm: USUAL_DIFFERENCE * need.on_film_lp_mm,
            certainty: Certainty::default(),
            apertures: AperturesAsked::Around(3),
            focus_plus_minus_mm: None,
            focus_confidence: 0.9,
            focus_step_share: 0.8,
            longest_bracket: 5,
            control: Control::Reference(0),
            rounds: Rounds::Together,
            costs: ChangeCosts::default(),
            need,
        }
    }

    fn check(&self) -> Result<(), TestRollError> {
        within("the scatter of takes", self.scatter.lp_mm, 1e-3..=1000.0, "lp/mm")?;
        within("the difference to be told", self.difference_lp_mm, 1e-3..=1000.0, "lp/mm")?;
        within("the chance of a false alarm", self.certainty.false_alarm, 0.001..=0.5, "")?;
        within("the chance to find a difference", self.certainty.power, 0.5..=0.999, "")?;
        within("the focus's ±", self.focus_plus_minus_mm.unwrap_or(0.0), 0.0..=1000.0, "mm")?;
        within("the chance of being in focus", self.focus_confidence, 0.1..=0.999, "")?;
        within("the step of a focus bracket over the depth", self.focus_step_share, 0.05..=1.0, "")?;
        within("the frames of a focus bracket", self.longest_bracket as f64, 1.0..=15.0, "")?;
        match &self.apertures {
            AperturesAsked::Around(count) => within("the number of apertures", *count as f64, 1.0..=9.0, "")?,
            AperturesAsked::These(list) => {
                within("the number of apertures", list.len() as f64, 1.0..=9.0, "")?;
                list.iter().try_for_each(|n| within("an effective f-number", *n, 0.5..=1000.0, ""))?;
            }
        }
        Ok(())
    }
}

/// A member of a group as it can really be set.
#[derive(Debug, Clone, PartialEq)]
pub struct Matched {
    /// Its place among the contenders.
    pub contender: usize,
    /// Its magnification with what its marks can be set to.
    pub magnification: Estimate,
    /// Its aperture ring.
    pub ring: Ring,
    /// What stands on the stand; aperture and focus tell settings of their own apart and are refined by the plan.
    pub gear: Gear,
}

/// Set-ups that are compared with each other.
#[derive(Debug, Clone, PartialEq)]
pub struct TestGroup {
    /// Where they meet.
    pub magnification: f64,
    /// Who.
    pub members: Vec<Matched>,
    /// The apertures, the most wanted first.
    pub apertures: Vec<Aperture>,
    /// Apertures that some or all members lack.
    pub missed: Vec<ApertureMissed>,
    /// The bracket of each member (outer list) at each aperture; `None` where its ring does not go there.
    pub brackets: Vec<Vec<Option<Bracket>>>,
    /// How sure each member's focusing is.
    pub focusing: Vec<Focusing>,
}

/// How well two set-ups match in size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mismatch {
    /// The larger magnification over the smaller less 1, with its uncertainty, the two taken as independent.
    pub share: Estimate,
    /// Whether it may be as large as the tolerance or larger.
    pub doubtful: bool,
}

/// A test ready to be planned.
#[derive(Debug, Clone, PartialEq)]
pub struct Test {
    /// What it is to tell.
    pub question: Question,
    /// What the set-ups are called in sentences, in their order.
    pub names: Vec<String>,
    /// The groups.
    pub groups: Vec<TestGroup>,
    /// Who is in none, and why.
    pub left_out: Vec<(usize, LeftOut)>,
}

impl Test {
    /// Lays a test out: the apertures of each group and the focus brackets of each member. `matched` holds the members of
    /// each group of the meeting, as they can really be set.
    pub fn of(
        question: Question,
        contenders: &[Contender],
        meeting: &Meeting,
        matched: Vec<Vec<Matched>>,
    ) -> Result<Self, TestRollError> {
        question.check()?;
        let groups = meeting.groups.iter().zip(matched).map(|(group, members)| {
            let group = TestGroup::of(&question, group.magnification, members)?;
            if group.apertures.is_empty() { Err(group.no_aperture(contenders)) } else { Ok(group) }
        });
        let groups = groups.collect::<Result<Vec<_>, TestRollError>>()?;
        let names = contenders.iter().map(|contender| contender.mark.clone()).collect();
        Ok(Self { question, names, groups, left_out: meeting.left_out.clone() })
    }

    /// The group of a contender and its place there.
    pub fn member(&self, contender: usize) -> Option<(&TestGroup, usize)> {
        let place = |group: &TestGroup| group.members.iter().position(|member| member.contender == contender);
        self.groups.iter().find_map(|group| Some((group, place(group)?)))
    }

    /// The set-up that is the control, where it is one of those compared: the one asked for, or the first when that one is
    /// left out.
    pub fn reference(&self) -> Option<usize> {
        let Control::Reference(asked) = self.question.control else { return None };
        let first = self.groups.first()?.members.first()?.contender;
        Some(if self.member(asked).is_some() { asked } else { first })
    }

    /// What stands on the stand for the first frame, and for the control.
    pub(super) fn control(&self) -> usize {
        match self.question.control {
            Control::Bare { .. } => self.names.len(),
            Control::Reference(_) => self.reference().unwrap_or(0),
            Control::Off => self.groups.first().and_then(|group| group.members.first()).map_or(0, |m| m.contender),
        }
    }

    /// Whether a slot is one of this test: the set-up takes part and has that aperture.
    pub fn knows(&self, slot: &Slot) -> bool {
        let bare = matches!(self.question.control, Control::Bare { .. }) && slot.contender == self.names.len();
        if slot.role != Role::Compare && bare {
            return true;
        }
        self.member(slot.contender)
            .and_then(|(group, member)| group.brackets[member].get(slot.aperture).copied().flatten())
            .is_some()
    }

    /// What stands on the stand for a slot that [`Self::knows`].
    pub fn gear(&self, slot: &Slot) -> Gear {
        let Some((group, member)) = self.member(slot.contender) else {
            return match &self.question.control {
                Control::Bare { gear, .. } => *gear,
                _ => Gear { lens: 0, extension: 0, close_up: 0, aperture: 0, focus: 0 },
            };
        };
        let setting = group.apertures.get(slot.aperture).and_then(|aperture| aperture.settings[member]);
        let engraved = setting.map_or(0, |setting| (100.0 * setting.engraved).round() as u32);
        let gear = group.members[member].gear;
        // The same lens further or less far out is focused anew, and so is every step.
        let step = (slot.step + 128).clamp(0, 255) as u32;
        Gear { aperture: engraved, focus: gear.focus * 256 + step, ..gear }
    }

    /// How well every two members of a group match in size: places among the contenders, and the mismatch.
    pub fn mismatches(&self, group: &TestGroup, tolerance: f64) -> Vec<([usize; 2], Mismatch)> {
        let members = &group.members;
        let pairs = (0..members.len()).flat_map(|p| (p + 1..members.len()).map(move |q| (p, q)));
        let one = |(p, q): (usize, usize)| {
            ([members[p].contender, members[q].contender], mismatch(&members[p], &members[q], tolerance))
        };
        pairs.map(one).collect()
    }
}

fn mismatch(p: &Matched, q: &Matched, tolerance: f64) -> Mismatch {
    let (p, q) = (p.magnification, q.magnification);
    let value = (p.value / q.value).max(q.value / p.value) - 1.0;
    let plus_minus = (p.plus_minus / p.value).hypot(q.plus_minus / q.value);
    Mismatch { share: Estimate { value, plus_minus }, doubtful: value + plus_minus > tolerance }
}

impl TestGroup {
    fn of(question: &Question, magnification: f64, members: Vec<Matched>) -> Result<Self, TestRollError> {
        for member in &members {
            within("effective over engraved f-number", member.ring.factor, 0.01..=1e4, "")?;
            within("the lens's smallest f-number", member.ring.f_numbers[0], 0.3..=1000.0, "")?;
            within("the lens's largest f-number", member.ring.f_numbers[1], member.ring.f_numbers[0]..=1000.0, "")?;
            within("a click of the aperture ring", member.ring.click_stops, 0.05..=2.0, "stops")?;
        }
        let rings: Vec<Ring> = members.iter().map(|member| member.ring).collect();
        let best = best_effective(question, magnification, &rings);
        let (apertures, missed) = apertures(&rings, best, &question.apertures);
        let focusing: Vec<Focusing> = members.iter().map(|member| focusing(question, member)).collect();
        let circle_mm = question.need.on_film_at(magnification).circle_mm;
        let bracket = |m: usize, aperture: &Aperture| {
            let effective = aperture.settings[m]?.effective;
            Some(focusing[m].bracket(depth_mm(members[m].magnification.value, effective, circle_mm)))
        };
        let row = |m: usize| apertures.iter().map(|aperture| bracket(m, aperture)).collect();
        let brackets = (0..members.len()).map(row).collect();
        Ok(Self { magnification, members, apertures, missed, brackets, focusing })
    }

    fn no_aperture(&self, contenders: &[Contender]) -> TestRollError {
        let asked: Vec<f64> = self.missed.iter().map(|missed| missed.effective).collect();
        let one = |member: &Matched| {
            let [widest, closed] = member.ring.effective();
            format!("{} gives f/{} to f/{}", contenders[member.contender].name, f_text(widest), f_text(closed))
        };
        let why = self.members.iter().map(one).collect::<Vec<_>>().join(", ");
        TestRollError::NoAperture { asked: list(&asked), why }
    }
}

/// The effective f-number thought the best: where depth and diffraction balance within what serves; for a flat subject half
/// way, in stops, between the widest that all have and the limit of diffraction, since lenses sharpen stopped down a little
/// (common practice, no source).
fn best_effective(question: &Question, magnification: f64, rings: &[Ring]) -> f64 {
    let negative = question.need.on_film_at(magnification);
    let widest = rings.iter().map(|ring| ring.effective()[0]).fold(0.0, f64::max);
    let closed = rings.iter().map(|ring| ring.effective()[1]).fold(f64::INFINITY, f64::min).max(widest);
    match negative.feasible(Some([widest, closed])) {
        Feasible::OneExposure { best: Some(best), .. } => best,
        Feasible::OneExposure { to, .. } => (widest * to.max(widest)).sqrt(),
        Feasible::Steps(steps) => steps.effective_f_number,
        Feasible::TooDim { widest, .. } => widest,
    }
}

/// How sure a member's focusing is: as stated, or what the screen shows wide open.
fn focusing(question: &Question, member: &Matched) -> Focusing {
    let wide_open = member.ring.effective()[0];
    let seen = 0.5 * depth_mm(member.magnification.value, wide_open, SCREEN_DISC_MM);
    Focusing {
        plus_minus_mm: question.focus_plus_minus_mm.unwrap_or(seen),
        step_share: question.focus_step_share,
        confidence: question.focus_confidence,
        most: question.longest_bracket,
    }
}
