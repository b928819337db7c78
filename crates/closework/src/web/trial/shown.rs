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

/// Gains that bring the median of each channel to one value in all pieces, and the brightest of them no further than full.
pub(super) fn one_tone(pieces: &[PieceLight]) -> Vec<[f64; 3]> {
    let medians: Vec<[f64; 3]> = pieces.iter().map(|piece| piece.quantile(0.5)).collect();
    let highs: Vec<[f64; 3]> = pieces.iter().map(|piece| piece.quantile(0.995)).collect();
    gains(&medians, &highs)
}

/// Less light than this is black, and no gain makes a tone of it.
const BLACK: f64 = 1e-4;

fn gains(medians: &[[f64; 3]], highs: &[[f64; 3]]) -> Vec<[f64; 3]> {
    // The aim of a channel is the geometric mean over the pieces: as many stops up for one as down for another.
    let aim = |c: usize| {
        let logs: Vec<f64> = medians.iter().map(|m| m[c]).filter(|m| *m > BLACK).map(f64::ln).collect();
        (logs.iter().sum::<f64>() / logs.len().max(1) as f64).exp()
    };
    let aims = [0, 1, 2].map(aim);
    let gain = |medians: &[f64; 3]| [0, 1, 2].map(|c| if medians[c] > BLACK { aims[c] / medians[c] } else { 1.0 });
    let gains: Vec<[f64; 3]> = medians.iter().map(gain).collect();
    let brightest = gains.iter().zip(highs).flat_map(|(g, h)| [0, 1, 2].map(|c| g[c] * h[c])).fold(1.0, f64::max);
    gains.into_iter().map(|g| g.map(|g| g / brightest)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn pieces_come_to_one_tone_without_clipping() {
        // By hand: medians 0.1 and 0.4 meet at their geometric mean 0.2; 0.6 · 2 = 1.2 would clip, so that all is a fifth darker.
        let gains = gains(&[[0.1; 3], [0.4; 3]], &[[0.6; 3], [0.9; 3]]);
        for (dark, bright) in gains[0].iter().zip(gains[1]) {
            assert_close!(dark * 0.1, 0.2 / 1.2, absolute = 1e-12);
            assert_close!(bright * 0.4, 0.2 / 1.2, absolute = 1e-12);
            assert_close!(dark * 0.6, 1.0, absolute = 1e-12);
        }
    }

    #[test]
    fn a_cast_goes_and_black_stays_black() {
        let gains = gains(&[[0.2, 0.2, 0.1], [0.2, 0.2, 0.4]], &[[0.3; 3], [0.3; 3]]);
        assert_close!(gains[0][2] * 0.1, gains[1][2] * 0.4, absolute = 1e-12);
        assert_close!(gains[0][0], 1.0, absolute = 1e-12);
        assert_eq!(super::gains(&[[0.0; 3], [0.0; 3]], &[[0.0; 3], [0.0; 3]]), [[1.0; 3], [1.0; 3]]);
    }
}
