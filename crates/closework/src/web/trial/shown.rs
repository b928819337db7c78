//! The pieces as they are shown: same size of subject, same tone, no names.

use imaging::pyramid::{self, Piece, PieceLight};
use sha2::{Digest, Sha256};

use crate::trial::TrialDocument;
use crate::web::App;
use crate::web::scans::tiles_of;

/// High, so that what is judged is the scan and not the compression.
const QUALITY: u8 = 95;

/// Which of the two.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Left,
    Right,
}

/// The name of a picture: it follows from the secret number, the trial, the pick and the side, and says nothing of the scan.
pub(super) fn name(document: &TrialDocument, trial: i64, number: u32, side: Side) -> String {
    let mut hash = Sha256::new();
    hash.update(document.seed.to_le_bytes());
    hash.update(trial.to_le_bytes());
    hash.update(number.to_le_bytes());
    hash.update([side as u8]);
    let hex: String = hash.finalize().iter().take(16).map(|byte| format!("{byte:02x}")).collect();
    format!("{hex}.jpg")
}

/// The piece of a candidate's scan, kept under `stored`.
pub(super) fn light(app: &App, document: &TrialDocument, item: usize, stored: &str) -> Result<PieceLight, String> {
    let folder = tiles_of(app, stored);
    let pyramid = pyramid::load(&folder).map_err(|error| error.to_string())?;
    let side = document.piece_px;
    let [x, y] = document.scans[item].centre_px;
    let piece = Piece { centre: (x, y), step: document.step(item), size: (side, side) };
    pyramid::piece(&folder, &pyramid, &piece).map_err(|error| error.to_string())
}

/// The picture of a candidate.
pub(super) fn picture(app: &App, document: &TrialDocument, item: usize, stored: &str) -> Result<Vec<u8>, String> {
    let gain = document.scans[item].gain;
    light(app, document, item, stored).map(|light| light.jpeg(gain, QUALITY))
}
