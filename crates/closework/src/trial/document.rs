//! What a trial shows: written once when it starts, and never changed.

use serde::{Deserialize, Serialize};

/// Fewest scans of a trial.
pub const FEWEST: usize = 2;
/// Most scans of a trial: 66 pairs, as many as a person gets through in one sitting (own choice, no source).
pub const MOST: usize = 12;

/// A trial as it was set up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrialDocument {
    /// What is asked of each pair, in the person's words.
    pub question: String,
    /// Decides by chance what stands on which side; nobody who picks may see it.
    pub seed: u64,
    /// The scans, in an order by chance.
    pub scans: Vec<TrialScan>,
    /// Where the pieces lie, in words: "the middle of the frame".
    pub place: String,
    /// Side of the square piece on the subject, mm.
    pub piece_mm: f64,
    /// The same in pixels as shown.
    pub piece_px: u32,
    /// Whether all pieces were brought to one tone.
    pub one_tone: bool,
    /// Which program in which version made it.
    pub made_by: String,
}

/// One scan of a trial.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrialScan {
    /// Its number in the notebook.
    pub scan: i64,
    /// The name of its file.
    pub name: String,
    /// Its set-up in words, where its frame is known.
    pub set_up: String,
    /// Middle of the piece, pixels of the scan.
    pub centre_px: [f64; 2],
    /// Pixels of the scan on a millimetre of the subject.
    pub px_per_mm: f64,
    /// Half-width of its 95 % interval, where that is known.
    pub plus_minus: Option<f64>,
    /// What the light of red, green and blue is multiplied by.
    pub gain: [f64; 3],
}

impl TrialDocument {
    /// Pixels of a scan to one pixel as shown.
    pub fn step(&self, item: usize) -> f64 {
        self.scans[item].px_per_mm * self.piece_mm / f64::from(self.piece_px)
    }
}
