//! A stand with set-ups on it.

use optics::Estimate;
use planning::test_roll::{
    AperturesAsked, Contender, Control, Gear, Matched, Meeting, MeetingRule, Question, Ring, RollAtHand, Span, Test,
    meet,
};
use planning::{Brief, Need};

pub fn spans(ends: &[(f64, f64)]) -> Vec<Span> {
    ends.iter().map(|&(least, largest)| Span { least, largest }).collect()
}

pub fn contender(name: &str, least: f64, largest: f64) -> Contender {
    Contender { key: name.into(), name: name.into(), mark: name.into(), ways: spans(&[(least, largest)]) }
}

/// A beetle of 40 mm, 4 mm deep, on 6x6 for a print of 300 mm.
pub fn need() -> Need {
    Brief { subject_depth_mm: Some(4.0), ..Brief::new(40.0, 0.7, [56.0, 56.0], 300.0) }.need().unwrap()
}

pub fn gear(lens: usize) -> Gear {
    Gear { lens: lens as u32, extension: 0, close_up: 0, aperture: 0, focus: lens as u32 }
}

pub fn matched(contender: usize, magnification: f64) -> Matched {
    Matched {
        contender,
        magnification: Estimate { value: magnification, plus_minus: 0.005 },
        ring: Ring { factor: 1.0 + magnification, f_numbers: [4.0, 32.0], click_stops: 0.5 },
        gear: gear(contender),
    }
}

/// A question whose focus is sure and that asks for so many apertures.
pub fn sure_of_focus(count: usize) -> Question {
    Question {
        focus_plus_minus_mm: Some(0.0),
        apertures: AperturesAsked::Around(count),
        control: Control::Reference(0),
        ..Question::of(need())
    }
}

/// So many lenses on bellows, all alike but for their names.
pub fn meeting(count: usize) -> (Vec<Contender>, Meeting) {
    let all: Vec<Contender> = (0..count).map(|i| contender(&format!("lens {i}"), 0.3, 1.2)).collect();
    let meeting = meet(&all, need().magnification, &MeetingRule::default()).unwrap();
    (all, meeting)
}

pub fn test(count: usize, question: Question) -> Test {
    let (all, meeting) = meeting(count);
    let members = (0..count).map(|c| matched(c, meeting.groups[0].magnification)).collect();
    Test::of(question, &all, &meeting, vec![members]).unwrap()
}

pub fn roll(frames: u32) -> RollAtHand {
    RollAtHand { free: (1..=frames).collect(), shot: Vec::new() }
}
