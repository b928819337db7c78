//! The orientation tag: how the stored picture is turned to be shown.

use planes::Region;

/// One of the eight orientations of TIFF 6.0 (tag 274) and EXIF.
///
/// Convention: first either stored axis may be reversed, then the two axes may be exchanged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Orientation {
    /// Stored columns run against the direction in which they are shown.
    pub(crate) flip_x: bool,
    /// Stored rows run against the direction in which they are shown.
    pub(crate) flip_y: bool,
    /// Stored rows are shown as columns.
    pub(crate) transposed: bool,
}

impl Orientation {
    /// From the tag's value, 1 to 8.
    pub fn from_tag(value: u32) -> Option<Self> {
        let (flip_x, flip_y, transposed) = match value {
            1 => (false, false, false),
            2 => (true, false, false),
            3 => (true, true, false),
            4 => (false, true, false),
            5 => (false, false, true),
            6 => (false, true, true),
            7 => (true, true, true),
            8 => (true, false, true),
            _ => return None,
        };
        Some(Self { flip_x, flip_y, transposed })
    }

    /// The tag's value, 1 to 8.
    pub fn tag(self) -> u32 {
        (1..=8).find(|&v| Self::from_tag(v) == Some(self)).unwrap_or(1)
    }

    /// True when width and height are exchanged.
    pub fn swaps_sides(self) -> bool {
        self.transposed
    }

    /// Sides as shown from sides as stored, or the other way round.
    pub(crate) fn sides<T>(self, width: T, height: T) -> (T, T) {
        if self.transposed { (height, width) } else { (width, height) }
    }

    /// The stored region that is shown as `shown`; `stored` is the size of the stored picture, and `shown` lies within it.
    pub(crate) fn to_stored(self, shown: Region, stored: (u32, u32)) -> Region {
        let (x, y) = self.sides(shown.x, shown.y);
        let (width, height) = self.sides(shown.width, shown.height);
        let x = if self.flip_x { stored.0 - x - width } else { x };
        let y = if self.flip_y { stored.1 - y - height } else { y };
        Region { x, y, width, height }
    }

    /// Where a stored pixel of a block of `size` columns and rows is shown: its index, row by row, in the block as shown.
    pub(crate) fn shown_index(self, column: usize, row: usize, size: (usize, usize)) -> usize {
        let column = if self.flip_x { size.0 - 1 - column } else { column };
        let row = if self.flip_y { size.1 - 1 - row } else { row };
        if self.transposed { column * size.1 + row } else { row * size.0 + column }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Stored picture "a b / c d / e f" as it looks under each tag, from the table in TIFF 6.0, page 36: tag 6, for
    /// example, says that stored row 0 is the right-hand side and stored column 0 the top.
    const SHOWN: [(u32, usize, &str); 8] = [
        (1, 2, "abcdef"),
        (2, 2, "badcfe"),
        (3, 2, "fedcba"),
        (4, 2, "efcdab"),
        (5, 3, "acebdf"),
        (6, 3, "ecafdb"),
        (7, 3, "fdbeca"),
        (8, 3, "bdface"),
    ];

    #[test]
    fn all_eight_orientations_show_what_the_standard_says() {
        for (tag, width, expected) in SHOWN {
            let orientation = Orientation::from_tag(tag).unwrap();
            let mut shown = [' '; 6];
            for (i, letter) in "abcdef".chars().enumerate() {
                shown[orientation.shown_index(i % 2, i / 2, (2, 3))] = letter;
            }
            assert_eq!(shown.iter().collect::<String>(), expected, "tag {tag}");
            assert_eq!(orientation.sides(2, 3).0, width);
            assert_eq!(orientation.tag(), tag);
        }
        assert_eq!(Orientation::from_tag(0), None);
        assert_eq!(Orientation::from_tag(9), None);
    }

    #[test]
    fn a_shown_pixel_comes_from_the_stored_pixel_that_is_shown_there() {
        for tag in 1..=8 {
            let orientation = Orientation::from_tag(tag).unwrap();
            let (width, height) = orientation.sides(2_u32, 3);
            for (x, y) in (0..height).flat_map(|y| (0..width).map(move |x| (x, y))) {
                let stored = orientation.to_stored(Region { x, y, width: 1, height: 1 }, (2, 3));
                let index = orientation.shown_index(stored.x as usize, stored.y as usize, (2, 3));
                assert_eq!(index as u32, y * width + x, "tag {tag}");
            }
        }
    }
}
