//! A magnification that set-ups share, so that their frames can be compared.

use super::error::{TestRollError, place};

/// From the smallest to the largest magnification of one way to put a set-up together: over its travel, its draw, or
/// nothing at all, when both are the same.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// The smallest, above 0.
    pub least: f64,
    /// The largest.
    pub largest: f64,
}

impl Span {
    fn check(&self) -> bool {
        self.least > 0.0 && self.least <= self.largest && self.largest.is_finite()
    }

    /// The magnification in it that comes nearest to another.
    fn nearest(&self, magnification: f64) -> f64 {
        magnification.clamp(self.least, self.largest)
    }
}

/// A set-up that the test asks about.
#[derive(Debug, Clone, PartialEq)]
pub struct Contender {
    /// What tells it from the others.
    pub key: String,
    /// What a photographer calls it.
    pub name: String,
    /// What it is called in sentences, where the name would be too long: a letter, say.
    pub mark: String,
    /// The ways in which it can stand, the preferred one first: its own tubes, then others that its lens may stand on.
    pub ways: Vec<Span>,
}

/// What counts as the same size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeetingRule {
    /// The most that two set-ups of a group may differ in magnification, as a share. A figure of sharpness on the subject
    /// changes by about this share with it, so it is to be small against the difference that is asked about.
    pub tolerance: f64,
    /// The farthest that a group may stand from the magnification that the job asks for, as a share.
    pub farthest: f64,
    /// How many groups at most.
    pub groups: usize,
}

/// Two percent, twice as much as a finder or mask shows; a quarter; two groups (common practice, no source).
impl Default for MeetingRule {
    fn default() -> Self {
        Self { tolerance: 0.02, farthest: 0.25, groups: 2 }
    }
}

/// A set-up in a group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Member {
    /// Its place among the contenders.
    pub contender: usize,
    /// Its way to stand, by its place in [`Contender::ways`].
    pub way: usize,
    /// The magnification to set it to.
    pub magnification: f64,
}

/// Set-ups of one size, comparable with each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// The magnification that they are brought to.
    pub magnification: f64,
    /// Who, in the order of the contenders.
    pub members: Vec<Member>,
}

/// Why a set-up is in no group.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LeftOut {
    /// It gives no picture at all.
    #[error("{name} gives a picture of no subject; check its parts")]
    NoPicture {
        /// Its name.
        name: String,
    },
    /// It does not come to the size of the others.
    #[error("{name} comes to {}× at best, and the others meet at {}×: {}", place(*.nearest, *.group)[0], place(*.nearest, *.group)[1], if .nearest < .group { "it needs more extension" } else { "it needs less extension" })]
    Alone {
        /// Its name.
        name: String,
        /// What it reaches that comes nearest.
        nearest: f64,
        /// Where the others meet.
        group: f64,
    },
}

/// Who can be compared with whom, and at which size.
#[derive(Debug, Clone, PartialEq)]
pub struct Meeting {
    /// The groups, the largest first.
    pub groups: Vec<Group>,
    /// The others, by their place among the contenders, and why.
    pub left_out: Vec<(usize, LeftOut)>,
}

/// Brings set-ups to magnifications that they share.
///
/// A group is to hold as many as possible; then it is to stand near the wanted magnification, a mismatch inside it
/// counting twice what a departure of the whole group does. Who does not come to the first group may form a second, and
/// whoever is left alone is left out with the reason.
pub fn meet(contenders: &[Contender], wanted: f64, rule: &MeetingRule) -> Result<Meeting, TestRollError> {
    check(contenders)?;
    let mut free: Vec<usize> = (0..contenders.len()).filter(|&c| !contenders[c].ways.is_empty()).collect();
    let mut groups = Vec::new();
    let least = contenders.len().min(2);
    while groups.len() < rule.groups.max(1) {
        let Some(group) = best_group(contenders, &free, wanted, rule).filter(|group| group.members.len() >= least)
        else {
            break;
        };
        free.retain(|c| group.members.iter().all(|member| member.contender != *c));
        groups.push(group);
    }
    let Some(first) = groups.first().map(|group: &Group| group.magnification) else {
        return Err(nothing_shared(contenders, wanted, rule));
    };
    let alone = |c: usize| match nearest(&contenders[c], first) {
        Some(near) => LeftOut::Alone { name: contenders[c].name.clone(), nearest: near.magnification, group: first },
        None => LeftOut::NoPicture { name: contenders[c].name.clone() },
    };
    let grouped = |c: &usize| groups.iter().any(|group| group.members.iter().any(|member| member.contender == *c));
    let left_out = (0..contenders.len()).filter(|c| !grouped(c)).map(|c| (c, alone(c))).collect();
    Ok(Meeting { groups, left_out })
}

/// More set-ups than this are a catalogue, not a test.
pub const MOST_CONTENDERS: usize = 24;

fn check(contenders: &[Contender]) -> Result<(), TestRollError> {
    if contenders.is_empty() {
        return Err(TestRollError::NoSetUps);
    }
    if contenders.len() > MOST_CONTENDERS {
        return Err(TestRollError::TooManySetUps { found: contenders.len(), most: MOST_CONTENDERS });
    }
    for (c, contender) in contenders.iter().enumerate() {
        if contenders[..c].iter().any(|other| other.key == contender.key) {
            return Err(TestRollError::Twice { name: contender.name.clone() });
        }
        if let Some(span) = contender.ways.iter().find(|span| !span.check()) {
            return Err(TestRollError::Span { name: contender.name.clone(), least: span.least, largest: span.largest });
        }
    }
    Ok(())
}

/// How far apart two magnifications are, as a share: the difference of their logarithms.
fn apart(p: f64, q: f64) -> f64 {
    (p / q).ln().abs()
}

/// The way of a contender that comes nearest to a magnification; of several that reach it, the first.
fn nearest(contender: &Contender, magnification: f64) -> Option<Member> {
    let near = |(way, span): (usize, &Span)| Member { contender: 0, way, magnification: span.nearest(magnification) };
    let ways = contender.ways.iter().enumerate().map(near);
    ways.min_by(|p, q| apart(p.magnification, magnification).total_cmp(&apart(q.magnification, magnification)))
}

/// Rounding is no mismatch.
const ROUNDING: f64 = 1e-9;

fn group_at(contenders: &[Contender], free: &[usize], at: f64, rule: &MeetingRule) -> Group {
    // Half the tolerance on either side, so that no two members differ by more than all of it.
    let within = 0.5 * rule.tolerance.ln_1p() + ROUNDING;
    let member = |&contender: &usize| {
        let found = nearest(&contenders[contender], at)?;
        (apart(found.magnification, at) <= within).then_some(Member { contender, ..found })
    };
    Group { magnification: at, members: free.iter().filter_map(member).collect() }
}

fn best_group(contenders: &[Contender], free: &[usize], wanted: f64, rule: &MeetingRule) -> Option<Group> {
    let reach = rule.farthest.ln_1p() + ROUNDING;
    let half = (0.5 * rule.tolerance.ln_1p()).exp();
    let ways = free.iter().flat_map(|&c| &contenders[c].ways);
    // What serves best lies at the wanted magnification or at an end of some span, bare or widened by the tolerance.
    let ends =
        ways.flat_map(|s| [s.least, s.largest, s.least / half, s.largest * half, s.least * half, s.largest / half]);
    let places = ends.chain([wanted]).filter(|at| apart(*at, wanted) <= reach);
    let cost = |group: &Group| {
        let off = group.members.iter().map(|member| apart(member.magnification, group.magnification));
        apart(group.magnification, wanted) + 2.0 * off.fold(0.0, f64::max)
    };
    let groups = places.map(|at| group_at(contenders, free, at, rule)).filter(|group| !group.members.is_empty());
    groups.min_by(|p, q| q.members.len().cmp(&p.members.len()).then(cost(p).total_cmp(&cost(q))))
}

/// The two that come nearest to each other near the wanted size, to be named.
fn nothing_shared(contenders: &[Contender], wanted: f64, rule: &MeetingRule) -> TestRollError {
    let near = |c: &Contender| nearest(c, wanted).map(|member| (c.name.clone(), member.magnification));
    let reached: Vec<(String, f64)> = contenders.iter().filter_map(near).collect();
    TestRollError::NothingShared { wanted, farthest: rule.farthest, reached }
}
