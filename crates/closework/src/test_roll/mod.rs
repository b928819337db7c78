//! A test roll from a kit: the set-ups' spans and settings for `planning::test_roll`, and its slots as frames of the notebook.

mod keep;
mod stand;

pub use keep::{Kept, KeptGroup, OnRoll, on_roll};
pub use stand::{Stand, without_draws};

use kit::{Focus, Kind, Kit, SetupError};
use notebook::{FrameDraft, FrameState};
use planning::OutOfRange;
use planning::test_roll::{
    AperturesAsked, Contender, Control, Gear, Matched, Meeting, MeetingRule, Question, Role, Rounds, Scatter, Slot,
    Test, TestRollError, meet,
};
use stand::{Way, bare, gear_words, ways};

use crate::planner::Wishes;
use crate::web::kit_book::set_up_name;

/// What the control is to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ControlAsked {
    /// One of the set-ups, by its place in the list.
    Reference(usize),
    /// The first set-up's lens, bare at its closest mark.
    Bare,
    /// None.
    Off,
}

/// A test as a person asks for it; `None` takes what is usual.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// The job.
    pub wishes: Wishes,
    /// The set-ups, each as its parts from the body outwards.
    pub set_ups: Vec<Vec<String>>,
    /// Whether a set-up may stand on other tubes or bellows of the kit to come to the size of the others.
    pub other_tubes: bool,
    /// The most that two set-ups may differ in magnification, as a share.
    pub tolerance: Option<f64>,
    /// Which apertures.
    pub apertures: AperturesAsked,
    /// From click to click of the aperture rings, stops.
    pub click_stops: f64,
    /// One standard deviation of takes, lp/mm on film, and the degrees of freedom that it was measured with.
    pub scatter: Option<Scatter>,
    /// The difference that is to be told, lp/mm on film.
    pub difference_lp_mm: Option<f64>,
    /// Half the 95 % interval of the focus, mm on the subject.
    pub focus_plus_minus_mm: Option<f64>,
    /// Frames of a focus bracket at most.
    pub longest_bracket: Option<usize>,
    /// The control.
    pub control: ControlAsked,
    /// The order of takes.
    pub rounds: Rounds,
}

impl Asked {
    /// A test of these set-ups for a job, everything else as usual.
    pub fn new(wishes: Wishes, set_ups: Vec<Vec<String>>) -> Self {
        Self {
            wishes,
            set_ups,
            other_tubes: true,
            tolerance: None,
            apertures: AperturesAsked::Around(3),
            click_stops: 0.5,
            scatter: None,
            difference_lp_mm: None,
            focus_plus_minus_mm: None,
            longest_bracket: None,
            control: ControlAsked::Reference(0),
            rounds: Rounds::Together,
        }
    }

    fn rule(&self) -> MeetingRule {
        let usual = MeetingRule::default();
        MeetingRule { tolerance: self.tolerance.unwrap_or(usual.tolerance), ..usual }
    }
}

/// Why a test cannot be laid out.
#[derive(Debug, thiserror::Error)]
pub enum LayError {
    /// A set-up that the kit cannot make.
    #[error("{name}: {source}")]
    Setup {
        /// Its name.
        name: String,
        /// Why.
        source: Box<SetupError>,
    },
    /// Set-ups on different bodies.
    #[error(
        "{first} stands on {body} and {second} on {other}: a roll stays in one body; test them on one, or plan two tests"
    )]
    Bodies {
        /// A set-up.
        first: String,
        /// Its body.
        body: String,
        /// Another.
        second: String,
        /// Its body.
        other: String,
    },
    /// A set-up that names no body.
    #[error("{0} does not begin with a body of the kit; name its parts from the body outwards")]
    NoBody(String),
    /// The bare lens has no closest mark to stand at.
    #[error(
        "{0}'s lens cannot be the control bare: nothing tells its closest mark; take a set-up as the control, or fill the mark in the kit"
    )]
    NotBare(String),
    /// The job.
    #[error("{0}")]
    Job(#[from] OutOfRange),
    /// The test.
    #[error("{0}")]
    Test(#[from] TestRollError),
}

/// A test laid out with the kit.
#[derive(Debug, Clone, PartialEq)]
pub struct Laid {
    /// The test.
    pub test: Test,
    /// The names of the set-ups, in the order of the contenders; the test itself calls them A, B, C.
    pub names: Vec<String>,
    /// Each set-up as it was asked for, without draws, in the order of the contenders.
    pub keys: Vec<String>,
    /// Each set-up as it stands; `None` for those that are left out. One more at the end for the bare lens.
    pub stands: Vec<Option<Stand>>,
    /// Set-ups that stand on other tubes than asked for, by their place.
    pub other_tubes: Vec<usize>,
    /// The most that two set-ups may differ in magnification, as a share.
    pub tolerance: f64,
}

impl Laid {
    /// Set-ups of one group that come to the same parts and focus, by what sentences call them.
    pub fn twins(&self) -> Vec<[&str; 2]> {
        let set = |contender: usize| self.stands.get(contender)?.as_ref().map(|stand| (&stand.parts, stand.focus));
        let of_group = |members: &[planning::test_roll::Matched]| {
            let all: Vec<usize> = members.iter().map(|member| member.contender).collect();
            let pairs = all.iter().enumerate().flat_map(|(i, a)| all[i + 1..].iter().map(move |b| (*a, *b)));
            pairs.filter(|(a, b)| set(*a).is_some() && set(*a) == set(*b)).collect::<Vec<_>>()
        };
        let pairs = self.test.groups.iter().flat_map(|group| of_group(&group.members));
        pairs.map(|(a, b)| [self.test.name(a), self.test.name(b)]).collect()
    }
}

/// What tells a set-up from others: its parts, no bellows drawn.
pub fn key(kit: &Kit, parts: &[String]) -> String {
    without_draws(kit, parts).join(",")
}

/// Lays a test out: who meets where, how each is set, what each ring is set to.
pub fn lay(kit: &Kit, asked: &Asked) -> Result<Laid, LayError> {
    let names: Vec<String> = asked.set_ups.iter().map(|parts| set_up_name(kit, &without_draws(kit, parts))).collect();
    let frame_mm = one_body(kit, asked, &names)?;
    let need = match frame_mm {
        Some(frame_mm) => asked.wishes.brief(frame_mm).need()?,
        None => return Err(TestRollError::NoSetUps.into()),
    };
    let failed = |c: usize| {
        let name = names[c].clone();
        move |source| LayError::Setup { name, source: Box::new(source) }
    };
    let all: Vec<Vec<Way>> = (0..names.len())
        .map(|c| ways(kit, &asked.set_ups[c], asked.other_tubes).map_err(failed(c)))
        .collect::<Result<_, _>>()?;
    let contenders: Vec<Contender> = all
        .iter()
        .enumerate()
        .map(|(c, ways)| Contender {
            key: key(kit, &asked.set_ups[c]),
            name: names[c].clone(),
            mark: letter(c),
            ways: ways.iter().map(|way| way.span).collect(),
        })
        .collect();
    let meeting = meet(&contenders, need.magnification, &asked.rule())?;
    let stands = stands(kit, asked, &all, &meeting, &failed)?;
    let bare = bare_lens(kit, asked, &names)?;
    let mut book = GearBook::default();
    let gear: Vec<Option<Gear>> = stands.iter().map(|stand| Some(book.of(kit, stand.as_ref()?))).collect();
    let bare_gear = bare.as_ref().map(|stand| (set_up_name(kit, &stand.parts), book.of(kit, stand)));
    let question = question(need, asked, bare_gear);
    let matched = meeting.groups.iter().map(|group| matched(group, &stands, &gear)).collect();
    let test = Test::of(question, &contenders, &meeting, matched)?;
    let moved = |member: &&planning::test_roll::Member| {
        all[member.contender][member.way].parts != without_draws(kit, &asked.set_ups[member.contender])
    };
    let members = meeting.groups.iter().flat_map(|group| &group.members);
    let other_tubes: Vec<usize> = members.filter(moved).map(|member| member.contender).collect();
    // A set-up on other tubes goes by what stands there.
    let name = |(c, name): (usize, String)| match &stands[c] {
        Some(stand) if other_tubes.contains(&c) => set_up_name(kit, &without_draws(kit, &stand.parts)),
        _ => name,
    };
    let names = names.into_iter().enumerate().map(name).collect();
    Ok(Laid {
        test,
        keys: contenders.into_iter().map(|contender| contender.key).collect(),
        names,
        other_tubes,
        stands: stands.into_iter().chain([bare]).collect(),
        tolerance: asked.rule().tolerance,
    })
}

/// The first set-up's lens bare, where it is to be the control.
fn bare_lens(kit: &Kit, asked: &Asked, names: &[String]) -> Result<Option<Stand>, LayError> {
    match (asked.control, asked.set_ups.first()) {
        (ControlAsked::Bare, Some(first)) => {
            let found = bare(kit, first, asked.click_stops).ok_or_else(|| LayError::NotBare(names[0].clone()))?;
            Ok(Some(found))
        }
        _ => Ok(None),
    }
}

/// A, B, C: there are never more set-ups in a test than letters.
fn letter(place: usize) -> String {
    char::from(b'A'.saturating_add(place.min(25) as u8)).to_string()
}

/// The frame of the one body that all stand on; `None` without any set-up.
fn one_body(kit: &Kit, asked: &Asked, names: &[String]) -> Result<Option<[f64; 2]>, LayError> {
    let mut first: Option<(&str, &kit::Part)> = None;
    for (parts, name) in asked.set_ups.iter().zip(names) {
        let body = parts.first().and_then(|id| kit.part(id)).filter(|part| part.kind() == Kind::Body);
        let body =
            body.ok_or_else(|| LayError::NoBody(if name.is_empty() { parts.join(",") } else { name.clone() }))?;
        match first {
            Some((before, known)) if known.id() != body.id() => {
                return Err(LayError::Bodies {
                    first: before.to_owned(),
                    body: known.name().to_owned(),
                    second: name.clone(),
                    other: body.name().to_owned(),
                });
            }
            Some(_) => {}
            None => first = Some((name, body)),
        }
    }
    Ok(first.and_then(|(_, body)| <[f64; 2]>::try_from(body.numbers("frame_mm")).ok()))
}

fn stands<F: FnOnce(SetupError) -> LayError>(
    kit: &Kit,
    asked: &Asked,
    all: &[Vec<Way>],
    meeting: &Meeting,
    failed: &impl Fn(usize) -> F,
) -> Result<Vec<Option<Stand>>, LayError> {
    let mut stands: Vec<Option<Stand>> = vec![None; all.len()];
    for member in meeting.groups.iter().flat_map(|group| &group.members) {
        let way = &all[member.contender][member.way];
        stands[member.contender] =
            way.set(kit, member.magnification, asked.click_stops).map_err(failed(member.contender))?;
    }
    Ok(stands)
}

/// The members of a group as they stand.
fn matched(group: &planning::test_roll::Group, stands: &[Option<Stand>], gear: &[Option<Gear>]) -> Vec<Matched> {
    let of = |member: &planning::test_roll::Member| {
        let (stand, gear) = (stands[member.contender].as_ref()?, gear[member.contender]?);
        let (magnification, ring) = (stand.magnification, stand.ring);
        Some(Matched { contender: member.contender, magnification, ring, gear })
    };
    group.members.iter().filter_map(of).collect()
}

fn question(need: planning::Need, asked: &Asked, bare: Option<(String, Gear)>) -> Question {
    let usual = Question::of(need);
    let control = match (asked.control, bare) {
        (ControlAsked::Reference(place), _) => Control::Reference(place),
        (_, Some((name, gear))) => Control::Bare { name: format!("{name} at its closest mark"), gear },
        (ControlAsked::Off | ControlAsked::Bare, None) => Control::Off,
    };
    Question {
        scatter: asked.scatter.unwrap_or(usual.scatter),
        difference_lp_mm: asked.difference_lp_mm.unwrap_or(usual.difference_lp_mm),
        apertures: asked.apertures.clone(),
        focus_plus_minus_mm: asked.focus_plus_minus_mm,
        longest_bracket: asked.longest_bracket.unwrap_or(usual.longest_bracket),
        control,
        rounds: asked.rounds,
        ..usual
    }
}

/// Numbers for gear, equal for what is the same.
#[derive(Default)]
struct GearBook {
    words: Vec<String>,
}

impl GearBook {
    fn number(&mut self, word: String) -> u32 {
        let place = self.words.iter().position(|known| *known == word).unwrap_or_else(|| {
            self.words.push(word);
            self.words.len() - 1
        });
        place as u32
    }

    fn of(&mut self, kit: &Kit, stand: &Stand) -> Gear {
        let [lens, extension, close_up, focus] =
            gear_words(kit, &stand.parts, &stand.focus).map(|word| self.number(word));
        Gear { lens, extension, close_up, aperture: 0, focus }
    }
}

impl Laid {
    /// What stands on the stand for a slot.
    pub fn stand(&self, slot: &Slot) -> Option<&Stand> {
        self.stands.get(slot.contender)?.as_ref()
    }

    /// What a slot's ring is set to, as engraved.
    pub fn f_number(&self, slot: &Slot) -> Option<f64> {
        match self.test.member(slot.contender) {
            Some((group, member)) => Some(group.apertures.get(slot.aperture)?.settings[member]?.engraved),
            // The bare lens is stopped down to where the others are, as far as it goes.
            None => {
                let [widest, closed] = self.stand(slot)?.ring.effective();
                let wanted = self.test.groups.first()?.apertures.first()?.effective;
                let nearest = self.stand(slot)?.ring.nearest(wanted.clamp(widest, closed))?;
                Some(nearest.engraved)
            }
        }
    }

    /// How far the camera is moved from where it was focused, mm, above 0 away from the subject; `None` without a bracket.
    pub fn focus_offset_mm(&self, slot: &Slot) -> Option<f64> {
        let (group, member) = self.test.member(slot.contender)?;
        let bracket = group.brackets[member].get(slot.aperture).copied().flatten()?;
        (slot.step != 0).then(|| f64::from(slot.step) * bracket.step_mm)
    }

    /// A set-up's letter and name; the bare lens's name alone.
    pub fn name(&self, contender: usize) -> String {
        match self.names.get(contender) {
            Some(name) => format!("{}, {name}", self.test.name(contender)),
            None => self.test.name(contender).to_owned(),
        }
    }

    /// What is on a frame, in a few words.
    pub fn label(&self, slot: &Slot) -> String {
        let name = self.name(slot.contender);
        let at = self.f_number(slot).map_or(String::new(), |f| format!(" at f/{f}"));
        let what = match slot.role {
            Role::Start => "Card: ",
            Role::End | Role::Roll => "Control: ",
            Role::Own => "Own: ",
            Role::Compare => "",
        };
        let take = if slot.take > 0 && slot.role == Role::Compare {
            format!(", take {}", slot.take + 1)
        } else {
            String::new()
        };
        let step = self.focus_offset_mm(slot).map_or(String::new(), |mm| format!(", {mm:+.2} mm"));
        format!("{what}{name}{at}{take}{step}")
    }

    /// A slot as a frame of the notebook, planned.
    pub fn frame(&self, slot: &Slot, number: u32) -> FrameDraft {
        let stand = self.stand(slot);
        FrameDraft {
            number,
            label: self.label(slot),
            parts: stand.map(|stand| stand.parts.clone()).unwrap_or_default(),
            focus: stand.map_or(Focus::Infinity, |stand| stand.focus).to_string(),
            f_number: self.f_number(slot),
            purpose: self.test.purpose(slot),
            slot: slot.to_string(),
            focus_offset_mm: self.focus_offset_mm(slot),
            state: FrameState::Planned,
            ..FrameDraft::default()
        }
    }
}
