//! Test rolls: from "which of these set-ups is good enough for this job, at which aperture?" to a list of frames for the rolls at
//! hand.
//!
//! 1. [`meet`] brings the set-ups ([`Contender`]) to a magnification that they share ([`Meeting`]); whoever does not reach
//!    it goes to a second group or is left out with the reason.
//! 2. The caller sets each set-up so and says how it came out ([`Matched`]); [`Test::of`] lays the apertures and the focus
//!    brackets out.
//! 3. [`Test::wishes`] lists every frame that would help, the most telling first; [`Test::plan`] takes as many as the rolls
//!    hold and puts them in an order that changes the gear little ([`order()`]).
//! 4. [`Test::decide`] says what frames can tell, [`Test::cannot`] what they cannot, [`Test::purpose`] what each is for. They
//!    work on any list, so a person may move, drop and add frames; [`Test::troubles`] says what keeps a list from being kept.
//!
//! Like is compared with like: the same magnification within a tolerance and the same *effective* f-number, which together are the
//! same diffraction and the same depth. A difference is told from scatter by repeats ([`Certainty`]).
//!
//! ```
//! use planning::Brief;
//! use planning::test_roll::{Contender, Gear, Matched, MeetingRule, Question, Ring, RollAtHand, Span, Test, meet};
//!
//! // A beetle of 40 mm, 4 mm deep, on 6x6, for a print 30 cm wide.
//! let brief = Brief { subject_depth_mm: Some(4.0), ..Brief::new(40.0, 0.7, [56.0, 56.0], 300.0) };
//! let need = brief.need()?;
//!
//! // Two lenses on bellows, one of them short of life size by a hair.
//! let contender = |name: &str, least, largest| Contender {
//!     key: name.into(),
//!     name: name.into(),
//!     mark: name.into(),
//!     ways: vec![Span { least, largest }],
//! };
//! let contenders = [contender("the 85", 0.3, 0.97), contender("the 160", 0.2, 1.4)];
//! let meeting = meet(&contenders, need.magnification, &MeetingRule::default()).unwrap();
//! assert_eq!(meeting.groups[0].magnification, 0.97);
//!
//! let matched = |contender: usize| Matched {
//!     contender,
//!     magnification: optics::Estimate { value: 0.97, plus_minus: 0.005 },
//!     ring: Ring { factor: 1.97, f_numbers: [4.0, 32.0], click_stops: 0.5 },
//!     gear: Gear { lens: contender as u32, extension: 0, close_up: 0, aperture: 0, focus: 0 },
//! };
//! let test = Test::of(Question::of(need), &contenders, &meeting, vec![vec![matched(0), matched(1)]]).unwrap();
//! let roll = RollAtHand { free: (1..=12).collect(), shot: Vec::new() };
//! let plan = test.plan(&[roll]).unwrap();
//! assert!(plan.layout[0].len() <= 12);
//! assert!(test.purpose(&plan.layout[0][0]).starts_with("The printed card with the 85"));
//! # Ok::<(), planning::OutOfRange>(())
//! ```
//!
//! Method first, limits second: depth and diffraction are those of a perfect lens; scatter is one figure for all set-ups and
//! apertures; each pair is judged by itself, so among many pairs some false alarm is likely.
//!
//! Absent on purpose: gear and how it is set (spans and figures come in), exposure, the notebook.

mod bench;
mod bracket;
mod decide;
mod error;
mod meet;
mod order;
mod plan;
mod power;
mod slot;
mod stops;
mod wishes;
mod words;

pub use bench::{
    Control, Matched, Mismatch, Question, Rounds, SCREEN_DISC_MM, Scatter, Test, TestGroup, USUAL_DIFFERENCE,
    USUAL_SCATTER,
};
pub use bracket::{Bracket, Focusing, steps};
pub use decide::{Cannot, Cell, Decision, Held, Pair};
pub use error::TestRollError;
pub use meet::{Contender, Group, LeftOut, MOST_CONTENDERS, Meeting, MeetingRule, Member, Span, meet};
pub use order::{ChangeCosts, Gear, Ordered, order};
pub use plan::{Changes, Layout, MOST_FRAMES, OneMore, RepeatHelps, RollAtHand, TestPlan, Trouble};
pub use power::{Certainty, chance_beyond, normal_below, normal_point, student_limit};
pub use slot::{Role, Slot};
pub use stops::{Aperture, ApertureMissed, AperturesAsked, Ring, RingSetting, apertures};
pub use wishes::MOST_TAKES;
