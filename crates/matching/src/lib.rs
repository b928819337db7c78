//! Which scan shows which frame.
//!
//! There are three ways to find out ([`by_order`], [`by_name`], [`by_code`]); a person who compares pictures is the fourth.
//! Each gives a [`Proposal`] for every scan: the frame, how sure that is ([`Sureness`]), the other frames that it may be,
//! and the reasons. [`troubles`] looks over matches that were made, by whatever way, for those that cannot be right.
//!
//! What "sure" means is the same for all: **if every scan shows one of these frames, no other frame fits what was measured.**
//! By order it is also taken that no frame was scanned twice and that the order was kept, forwards or backwards; blank or
//! skipped frames may lie anywhere. A name alone never makes sure: a scanner's counter looks like a frame's number.
//!
//! ```
//! use matching::{Direction, Film, Frame, Order, Scan, Size, SortBy, Sureness, by_order};
//!
//! let size = |value| Some(Size { value, plus_minus: 0.01 });
//! let frame = |number, m| Frame { size: size(m), ..Frame::new(0, number) };
//! let film = Film { rolls: vec!["A".into()], frames: vec![frame(1, 0.5), frame(2, 1.0), frame(3, 1.0), frame(4, 2.0)] };
//!
//! // Three scans of four frames: the measured sizes say that one of the two at life size is missing.
//! let scan = |name: &str, m| Scan { size: size(m), ..Scan::named(name) };
//! let scans = [scan("s9.tif", 0.5), scan("s10.tif", 1.003), scan("s11.tif", 1.995)];
//! let found = by_order(&film, &scans, Order { by: SortBy::Name, direction: Direction::Forwards });
//! let frames: Vec<_> = found.proposals.iter().map(|p| (p.frame, p.sureness)).collect();
//! assert_eq!(frames[0], (Some(0), Sureness::Sure));
//! assert_eq!(frames[1], (Some(1), Sureness::Open)); // frame 2 or 3
//! assert_eq!(frames[2], (Some(3), Sureness::Sure));
//! ```
//!
//! Method first, limits second: pictures are not looked at; two frames that were taken alike are told apart by order alone.
//!
//! Absent on purpose: files, the notebook, gear, words for a person.

mod align;
mod code;
mod facts;
mod names;
mod order;
mod sort;
mod trouble;

pub use code::by_code;
pub use facts::{Film, Fit, Frame, Scan, Size};
pub use names::by_name;
pub use order::{Direction, Order, by_order};
pub use sort::{SortBy, by_numbers, sorted};
pub use trouble::{Trouble, troubles};

/// How sure a proposal is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Sureness {
    /// Nothing is proposed.
    Nothing,
    /// One of several that fit alike.
    Open,
    /// The one that fits best; others are not ruled out by what was measured.
    Likely,
    /// No other frame fits what was measured (see the head of the crate for what is taken for granted).
    Sure,
}

/// Why a frame is proposed, or why none.
#[derive(Debug, Clone, PartialEq)]
pub enum Reason {
    /// Its place among the scans that were put in order, from 1.
    Place {
        /// The place.
        place: usize,
        /// How many there are.
        of: usize,
        /// In which order.
        by: SortBy,
    },
    /// The name holds the frame's number, and the roll's where `roll` is given.
    Named {
        /// What in the name stands for the roll.
        roll: Option<String>,
        /// The frame's number.
        number: u32,
    },
    /// No number in the name is that of a frame.
    NoNumber,
    /// The number in the name is no frame's.
    NoSuchFrame(u32),
    /// The name does not say which roll, and several have a frame of this number.
    RollNotSaid(u32),
    /// The numbers in the names run on without a gap while frames are left over: they may count the scans.
    MayBeACounter,
    /// More than one name says this frame.
    NamedTwice,
    /// What was measured against what was planned.
    Measured {
        /// Size on film over size of the subject, measured in the scan.
        measured: Size,
        /// As planned.
        planned: Size,
        /// How they go together.
        fit: Fit,
    },
    /// In this order nothing else fits what was measured.
    OnlyOne,
    /// Of all frames no other has a magnification that fits.
    OnlySize,
    /// So many frames have a magnification that fits.
    ManyFit(usize),
    /// No frame's magnification fits; the nearest is this one (an index into the frames).
    NoneFits(Option<usize>),
    /// So many frames have no set-up whose magnification is known, so that they are not ruled out.
    NotRuledOut(usize),
    /// The frame's words name the print of the card that is in the scan.
    Print(String),
    /// Nothing was measured in the scan that would tell.
    NotMeasured,
    /// In this order it fits none of the frames that are left for it.
    LeftOver,
}

/// What is proposed for one scan.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The scan, as an index into those that were given.
    pub scan: usize,
    /// The frame, as an index into the film's.
    pub frame: Option<usize>,
    /// How sure that is.
    pub sureness: Sureness,
    /// The frames that it may be, the proposed one among them; at most [`MOST_CANDIDATES`].
    pub candidates: Vec<usize>,
    /// How many there are in all.
    pub candidates_in_all: usize,
    /// Why.
    pub reasons: Vec<Reason>,
}

/// So many candidates are named for one scan.
pub const MOST_CANDIDATES: usize = 12;

impl Proposal {
    fn nothing(scan: usize, reason: Reason) -> Self {
        let (candidates, reasons) = (Vec::new(), vec![reason]);
        Self { scan, frame: None, sureness: Sureness::Nothing, candidates, candidates_in_all: 0, reasons }
    }
}

/// What is proposed for all scans.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Proposals {
    /// One for each scan, in the order in which they were given; by order, in that order.
    pub proposals: Vec<Proposal>,
    /// Frames that no scan is proposed for (those that were said to be missing are not among them).
    pub without_scan: Vec<usize>,
    /// Of those, the frames whose absence explains everything as well: pressing one of them settles where the order shifts.
    pub may_be_missing: Vec<usize>,
    /// The direction in which what was measured fits clearly better than in the one that was asked for.
    pub better: Option<Direction>,
}
