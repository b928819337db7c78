//! Where in a frame the piece lies.

/// A place that is the same share of every frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct FramePlace {
    /// Its word in forms.
    pub word: &'static str,
    /// Its name.
    pub name: &'static str,
    /// From the middle towards the right and lower corner, each −1 to 1 of where a piece just fits.
    toward: (f64, f64),
}

/// The places offered.
pub(super) const PLACES: [FramePlace; 9] = [
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

/// The word for a place that is marked in each scan.
pub(super) const MARKED: &str = "marked";

/// Into a corner no further than this share of a side from it: scans seldom end exactly where the frame does.
const BORDER: f64 = 0.02;

impl FramePlace {
    pub(super) fn of(word: &str) -> Option<Self> {
        PLACES.into_iter().find(|place| place.word == word)
    }

    /// The piece's middle in a scan, pixels; `side` is the piece's, in pixels of the scan.
    pub(super) fn centre(&self, (width, height): (u32, u32), side: f64) -> [f64; 2] {
        let along = |length: u32, toward: f64| {
            let length = f64::from(length);
            let room = ((1.0 - 2.0 * BORDER) * length - side).max(0.0) / 2.0;
            length / 2.0 + toward * room
        };
        [along(width, self.toward.0), along(height, self.toward.1)]
    }
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
}
