//! A lens whose truth is known, frames of it, and seeded chance.

use calibration::{Focused, Frame, Length, Options};
use optics::{COVERAGE_95, Input};

/// SplitMix64 (Steele, Lea & Flood, "Fast Splittable Pseudorandom Number Generators", OOPSLA 2014; constants from
/// memory), with normal deviates by Box and Muller.
pub struct Chance(pub u64);

impl Chance {
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Above 0, at most 1.
    pub fn share(&mut self) -> f64 {
        ((self.bits() >> 11) + 1) as f64 / (1u64 << 53) as f64
    }

    /// Mean 0, standard deviation 1.
    pub fn normal(&mut self) -> f64 {
        (-2.0 * self.share().ln()).sqrt() * (2.0 * std::f64::consts::PI * self.share()).cos()
    }
}

/// An input by its standard uncertainty.
pub fn input(value: f64, u: f64) -> Input {
    Input { value, plus_minus: COVERAGE_95 * u }
}

pub fn exact(value: f64) -> Input {
    Input { value, plus_minus: 0.0 }
}

/// What is true of a lens.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    pub focal_length: f64,
    /// At the closest mark.
    pub travel: f64,
    pub separation: f64,
    pub zero: f64,
}

pub const LENS: Truth = Truth { focal_length: 81.3, travel: 9.2, separation: 3.1, zero: 0.0 };

/// How well things are read (standard uncertainties): magnifications as a share, lengths and distances in mm.
#[derive(Debug, Clone, Copy)]
pub struct Skill {
    pub magnification: f64,
    pub length: f64,
    pub distance: f64,
}

pub const SKILL: Skill = Skill { magnification: 0.002, length: 0.1, distance: 0.8 };

/// A frame to be taken: lengths by name and truth, focusing, and whether the distance is measured.
#[derive(Debug, Clone)]
pub struct Plan {
    pub id: &'static str,
    pub tubes: &'static [(&'static str, f64)],
    pub focused: Focused,
    pub distance: bool,
}

const SHORT: (&str, f64) = ("short tube", 13.1);
const LONG: (&str, f64) = ("long tube", 36.05);

/// Seven frames with tubes singly and together, at all focusings.
pub fn plans() -> Vec<Plan> {
    let plan = |id, tubes, focused, distance| Plan { id, tubes, focused, distance };
    let (infinity, closest) = (Focused::AtInfinityMark, Focused::AtClosestMark);
    vec![
        plan("A", &[SHORT], infinity, false),
        plan("B", &[LONG], infinity, true),
        plan("C", &[SHORT, LONG], infinity, true),
        plan("D", &[], closest, true),
        plan("E", &[SHORT], closest, false),
        plan("F", &[LONG], closest, true),
        plan("G", &[SHORT], Focused::Travel(exact(5.0)), false),
    ]
}

/// Frames of the lens as planned, read with that skill and this chance; with none, exactly.
pub fn take(truth: Truth, plans: &[Plan], skill: Skill, mut chance: Option<&mut Chance>) -> Vec<Frame> {
    let mut noise = move || chance.as_mut().map_or(0.0, |chance| chance.normal());
    let mut read: Vec<Length> = Vec::new();
    let mut frames = Vec::new();
    for plan in plans {
        let mut extension = Vec::new();
        for (name, length) in plan.tubes {
            // A piece is measured once, whatever it is used for.
            let known = read.iter().find(|length| length.name == *name).cloned();
            let length = known.unwrap_or_else(|| {
                let measured =
                    Length { name: (*name).to_owned(), length: input(length + skill.length * noise(), skill.length) };
                read.push(measured.clone());
                measured
            });
            extension.push(length);
        }
        let (own, focused) = match plan.focused {
            Focused::AtInfinityMark => (0.0, plan.focused),
            Focused::AtClosestMark => (truth.travel, plan.focused),
            Focused::Travel(travel) => {
                let reading = input(travel.value + skill.length * noise(), skill.length);
                (travel.value, Focused::Travel(reading))
            }
        };
        let sum = plan.tubes.iter().map(|(_, length)| length).sum::<f64>() + own + truth.zero;
        let m = sum / truth.focal_length;
        let u = skill.magnification * m;
        let subject = truth.focal_length * (2.0 + m + 1.0 / m) + truth.separation;
        let magnification = input(m + u * noise(), u);
        let distance = plan.distance.then(|| input(subject + skill.distance * noise(), skill.distance));
        frames.push(Frame { id: plan.id.to_owned(), extension, focused, magnification, distance });
    }
    frames
}

/// Nothing is left out, so that a fit can be compared with theory.
pub fn keep_all() -> Options {
    Options { leave_out_outliers: false, ..Options::default() }
}
