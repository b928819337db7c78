//! What is known of scans and frames.

/// A magnification with the half-width of its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Size {
    /// Size on film over size of the subject; above 0.
    pub value: f64,
    /// Half-width of its 95 % interval, in the same measure; 0 or more.
    pub plus_minus: f64,
}

/// How two magnifications go together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Fit {
    /// Their intervals meet.
    Agrees,
    /// Their intervals do not meet, and chance may still explain it.
    Doubtful,
    /// They lie apart by more than `BEYOND_CHANCE` of both half-widths together.
    Disagrees,
}

/// Two figures whose 95 % intervals are right differ by more than twice the root of both half-widths' squares about once in
/// 10 000 times (3.92 standard deviations of a normal difference). Smaller, and right frames would be ruled out; larger,
/// and wrong ones would stay.
pub const BEYOND_CHANCE: f64 = 2.0;

/// A frame never agrees to better than this share of its size: a copy stand is not set more finely (common practice, no
/// source), and figures without any doubt would rule out everything.
const LEAST_SHARE: f64 = 0.001;

impl Size {
    /// How this one goes together with another.
    pub fn fit(self, other: Self) -> Fit {
        let apart = (self.value - other.value).abs();
        if apart <= self.doubt() + other.doubt() {
            Fit::Agrees
        } else if apart <= BEYOND_CHANCE * self.doubt().hypot(other.doubt()) {
            Fit::Doubtful
        } else {
            Fit::Disagrees
        }
    }

    /// How far they lie apart, in units of what both half-widths allow together; up to 1 they agree.
    pub fn apart(self, other: Self) -> f64 {
        (self.value - other.value).abs() / (self.doubt() + other.doubt())
    }

    fn doubt(self) -> f64 {
        self.plus_minus.max(LEAST_SHARE * self.value)
    }
}

/// A scan.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Scan {
    /// The name of its file.
    pub name: String,
    /// When it was made, as a text that sorts as time does; scans without come last.
    pub time: Option<String>,
    /// The magnification that was measured in it.
    pub size: Option<Size>,
    /// The print of the card that was read in it.
    pub print: Option<String>,
}

impl Scan {
    /// A scan of which only the name is known.
    pub fn named(name: &str) -> Self {
        Self { name: name.into(), ..Self::default() }
    }
}

/// A frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    /// Its roll, as an index into the film's.
    pub roll: usize,
    /// Its number on the film.
    pub number: u32,
    /// The magnification of its set-up.
    pub size: Option<Size>,
    /// It was logged as taken.
    pub taken: bool,
    /// There is no scan of it: blank, skipped, or left out.
    pub missing: bool,
    /// What is written about it: the print of a card may be named there.
    pub words: String,
}

impl Frame {
    /// A frame that was taken, of which only roll and number are known.
    pub fn new(roll: usize, number: u32) -> Self {
        Self { roll, number, size: None, taken: true, missing: false, words: String::new() }
    }
}

/// The frames of one or several rolls.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Film {
    /// What the rolls are called, in the order in which they were exposed.
    pub rolls: Vec<String>,
    /// Their frames, roll by roll, by number.
    pub frames: Vec<Frame>,
}

impl Film {
    /// Frames that there may be a scan of, as indices.
    pub(crate) fn present(&self) -> impl DoubleEndedIterator<Item = usize> {
        (0..self.frames.len()).filter(|index| !self.frames[*index].missing)
    }
}

/// How a scan goes together with a frame; nothing where either is not known.
pub(crate) fn fit(scan: &Scan, frame: &Frame) -> Option<Fit> {
    Some(scan.size?.fit(frame.size?))
}

/// What was measured against what was planned, as a reason.
pub(crate) fn measured(scan: &Scan, frame: &Frame) -> Option<crate::Reason> {
    let (measured, planned) = (scan.size?, frame.size?);
    Some(crate::Reason::Measured { measured, planned, fit: measured.fit(planned) })
}
