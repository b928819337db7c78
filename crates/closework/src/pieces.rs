//! Pieces of scans to be looked at beside each other: at which place of the frame, and brought to one tone.

use imaging::pyramid::PieceLight;

/// A place that is the same share of every frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FramePlace {
    /// Its word in forms.
    pub word: &'static str,
    /// Its name.
    pub name: &'static str,
    /// From the middle towards the right and lower corner, each −1 to 1 of where a piece just fits.
    toward: (f64, f64),
}

/// The places offered.
pub const PLACES: [FramePlace; 9] = [
    FramePlace { word: "centre", name: "the middle of the frame", toward: (0.0, 0.0) },
    FramePlace { word: "half-top-left", name: "half-way to the top left corner", toward: (-0.5, -0.5) },
    FramePlace { word: "half-top-right", name: "half-way to the top right corner", toward: (0.5, -0.5) },
    FramePlace { word: "half-bottom-left", name: "half-way to the bottom left corner", toward: (-0.5, 0.5) },
    FramePlace { word: "half-bottom-right", name: "half-way to the bottom right corner", toward: (0.5, 0.5) },
    FramePlace { word: "top-left", name: "the top left corner", toward: (-1.0, -1.0) },
    FramePlace { word: "top-right", name: "the top right corner", toward: (1.0, -1.0) },
    FramePlace { word: "bottom-left", name: "the bottom left corner", toward: (-1.0, 1.0) },
    FramePlace { word: "bottom-right", name: "the bottom right corner", toward: (1.0, 1.0) },
];

/// Into a corner no further than this share of a side from it: scans seldom end exactly where the frame does.
const BORDER: f64 = 0.02;

impl FramePlace {
    /// By its word.
    pub fn of(word: &str) -> Option<Self> {
        PLACES.into_iter().find(|place| place.word == word)
    }

    /// The piece's middle in a scan, pixels; `side` is the piece's, in pixels of the scan.
    pub fn centre(&self, (width, height): (u32, u32), side: f64) -> [f64; 2] {
        let along = |length: u32, toward: f64| {
            let length = f64::from(length);
            let room = ((1.0 - 2.0 * BORDER) * length - side).max(0.0) / 2.0;
            length / 2.0 + toward * room
        };
        [along(width, self.toward.0), along(height, self.toward.1)]
    }
}

/// Gains that bring the mean light of each channel to one value in all pieces, and the brightest of them no further than full.
///
/// The mean and not the median: where a piece is half subject and half ground, a little more of the one would throw the median
/// from subject to ground, in one channel before the other, and the cast would tell which scan it is.
pub fn one_tone(pieces: &[PieceLight]) -> Vec<[f64; 3]> {
    let means: Vec<[f64; 3]> = pieces.iter().map(mean).collect();
    let highs: Vec<[f64; 3]> = pieces.iter().map(|piece| piece.quantile(0.995)).collect();
    gains(&means, &highs)
}

fn mean(piece: &PieceLight) -> [f64; 3] {
    let count = piece.rgb.len().max(1) as f64;
    [0, 1, 2].map(|c| piece.rgb.iter().map(|pixel| f64::from(pixel[c])).sum::<f64>() / count)
}

/// Less light than this is black, and no gain makes a tone of it.
const BLACK: f64 = 1e-4;

fn gains(means: &[[f64; 3]], highs: &[[f64; 3]]) -> Vec<[f64; 3]> {
    // The aim of a channel is the geometric mean over the pieces: as many stops up for one as down for another.
    let aim = |c: usize| {
        let logs: Vec<f64> = means.iter().map(|m| m[c]).filter(|m| *m > BLACK).map(f64::ln).collect();
        (logs.iter().sum::<f64>() / logs.len().max(1) as f64).exp()
    };
    let aims = [0, 1, 2].map(aim);
    let gain = |means: &[f64; 3]| [0, 1, 2].map(|c| if means[c] > BLACK { aims[c] / means[c] } else { 1.0 });
    let gains: Vec<[f64; 3]> = means.iter().map(gain).collect();
    let brightest = gains.iter().zip(highs).flat_map(|(g, h)| [0, 1, 2].map(|c| g[c] * h[c])).fold(1.0, f64::max);
    gains.into_iter().map(|g| g.map(|g| g / brightest)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn places_by_hand() {
        // A frame of 1000 by 600, a piece of 160: from the corner it keeps 20 and 12 off; half-way is half of that way.
        let centre = |word| FramePlace::of(word).unwrap().centre((1000, 600), 160.0);
        for (word, [x, y]) in [
            ("centre", [500.0, 300.0]),
            ("top-left", [100.0, 92.0]),
            ("bottom-right", [900.0, 508.0]),
            ("half-top-right", [700.0, 196.0]),
        ] {
            let found = centre(word);
            assert_close!(found[0], x, absolute = 1e-9, "{word}");
            assert_close!(found[1], y, absolute = 1e-9, "{word}");
        }
        assert_eq!(FramePlace::of("elsewhere"), None);
    }

    #[test]
    fn pieces_come_to_one_tone_without_clipping() {
        // By hand: means of 0.1 and 0.4 meet at their geometric mean 0.2; 0.6 · 2 = 1.2 would clip, so that all is a fifth darker.
        let gains = gains(&[[0.1; 3], [0.4; 3]], &[[0.6; 3], [0.9; 3]]);
        for (dark, bright) in gains[0].iter().zip(gains[1]) {
            assert_close!(dark * 0.1, 0.2 / 1.2, absolute = 1e-12);
            assert_close!(bright * 0.4, 0.2 / 1.2, absolute = 1e-12);
            assert_close!(dark * 0.6, 1.0, absolute = 1e-12);
        }
    }

    /// 49 of 100 pixels of brown beetle in one piece, 51 in the other: nobody shall see which is which.
    #[test]
    fn a_little_more_of_the_subject_makes_no_cast() {
        let piece = |brown: usize| {
            let pixel = |i: usize| if i < brown { [0.2, 0.08, 0.03] } else { [0.6, 0.6, 0.6] };
            PieceLight { width: 10, height: 10, rgb: (0..100).map(pixel).collect() }
        };
        let gains = one_tone(&[piece(49), piece(51)]);
        for c in [0, 1, 2] {
            assert_close!(gains[0][c] / gains[1][c], 1.0, absolute = 0.04);
            assert_close!((gains[0][c] / gains[1][c]) / (gains[0][1] / gains[1][1]), 1.0, absolute = 0.02);
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
