//! Scale, turn and place.

use crate::algebra::Figure;
use crate::geometry::Mapping;

/// A place as a complex number: to turn and scale is to multiply.
type Place = (f64, f64);

/// Where a place of the first frame, pixels, lies in the second: scaled, turned clockwise as seen, moved; the first mirrored
/// left for right before where the two frames were scanned from different sides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Similarity {
    /// Scale times cosine and scale times sine of the turn.
    turn: Place,
    /// Where the first frame's origin comes to lie, pixels.
    origin: Place,
    mirrored: bool,
}

impl Similarity {
    /// From scale, clockwise turn in degrees, and where the first frame's origin comes to lie.
    pub fn new(scale: f64, turn_deg: f64, origin_px: Place, mirrored: bool) -> Self {
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        Self { turn: (scale * cos, scale * sin), origin: origin_px, mirrored }
    }

    /// The place in the second frame.
    pub fn to_second(&self, first: Place) -> Place {
        let turned = times(self.turn, flipped(first, self.mirrored));
        (self.origin.0 + turned.0, self.origin.1 + turned.1)
    }

    /// The place in the first frame.
    pub fn to_first(&self, second: Place) -> Place {
        flipped(over((second.0 - self.origin.0, second.1 - self.origin.1), self.turn), self.mirrored)
    }

    /// Pixels of the second frame for one of the first.
    pub fn scale(&self) -> f64 {
        self.turn.0.hypot(self.turn.1)
    }

    /// The turn, degrees, clockwise as seen; −180 to 180.
    pub fn turn_deg(&self) -> f64 {
        self.turn.1.atan2(self.turn.0).to_degrees()
    }

    /// Whether left and right are exchanged.
    pub fn is_mirrored(&self) -> bool {
        self.mirrored
    }

    /// The other way round.
    pub fn inverted(&self) -> Self {
        // z = (w − o)/t, conjugated when mirrored: again a number times w or its conjugate, and an origin.
        let turn = flipped_turn(over((1.0, 0.0), self.turn), self.mirrored);
        Self { turn, origin: self.to_first((0.0, 0.0)), mirrored: self.mirrored }
    }
}

fn times(a: Place, b: Place) -> Place {
    (a.0 * b.0 - a.1 * b.1, a.0 * b.1 + a.1 * b.0)
}

fn over(a: Place, b: Place) -> Place {
    let size = b.0 * b.0 + b.1 * b.1;
    ((a.0 * b.0 + a.1 * b.1) / size, (a.1 * b.0 - a.0 * b.1) / size)
}

/// Left for right: x → −x.
fn flipped((x, y): Place, mirrored: bool) -> Place {
    if mirrored { (-x, y) } else { (x, y) }
}

/// The turn of the way back of a mirrored similarity: −x + iy is −conj(x + iy), so that a turn t comes out as its conjugate.
fn flipped_turn((x, y): Place, mirrored: bool) -> Place {
    if mirrored { (x, -y) } else { (x, y) }
}

fn less(a: Place, b: Place) -> Place {
    (a.0 - b.0, a.1 - b.1)
}

fn square(a: Place) -> f64 {
    a.0 * a.0 + a.1 * a.1
}

/// Two frames brought together, with how sure that is.
#[derive(Debug, Clone, PartialEq)]
pub struct Aligned {
    /// From the first frame to the second.
    pub similarity: Similarity,
    /// Pixels of the second for one of the first.
    pub scale: Figure,
    /// The turn, degrees, clockwise as seen.
    pub turn_deg: Figure,
    /// Reservations.
    pub remarks: Vec<AlignRemark>,
    spread: Spread,
}

/// How the uncertainty of a place grows from where it is least.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spread {
    /// Where in the first frame it is least, pixels.
    pub middle: Place,
    /// Half-width of either coordinate there, pixels of the second frame.
    pub place_px: f64,
    /// Half-width of the scale, and of scale times turn: what each pixel of distance adds, by squares.
    pub per_px: f64,
}

impl Spread {
    /// That of two points whose coordinates have this half-width each: least half-way between them.
    fn of_two(a: Place, b: Place, half_width: f64) -> Self {
        let middle = (f64::midpoint(a.0, b.0), f64::midpoint(a.1, b.1));
        let root = std::f64::consts::SQRT_2;
        Self { middle, place_px: half_width / root, per_px: half_width * root / square(less(b, a)).sqrt() }
    }
}

impl Aligned {
    pub(super) fn new(similarity: Similarity, spread: Spread, remarks: Vec<AlignRemark>) -> Self {
        let scale = Figure::new(similarity.scale(), spread.per_px);
        let of_turn = (spread.per_px / similarity.scale()).to_degrees();
        Self { similarity, scale, turn_deg: Figure::new(similarity.turn_deg(), of_turn), remarks, spread }
    }

    /// The place in the second frame, pixels, with the half-width of either coordinate.
    pub fn place(&self, first: Place) -> [Figure; 2] {
        let grown = self.spread.per_px * square(less(first, self.spread.middle)).sqrt();
        let spread = self.spread.place_px.hypot(grown);
        let (x, y) = self.similarity.to_second(first);
        [Figure::new(x, spread), Figure::new(y, spread)]
    }
}

/// A reservation about an alignment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AlignRemark {
    /// The frames look at the subject from different sides, or through different distortion: brought together as well as scale, turn and
    /// place can, they stay apart by this.
    Apart {
        /// Largest distance over the card, pixels of the second frame.
        most_px: f64,
    },
    /// By the picture the scale differs from the measured one by more than both are unsure.
    ScaleOff {
        /// By the picture.
        found: Figure,
        /// By magnification and pitch.
        expected: Figure,
    },
}

/// Why two frames could not be brought together.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AlignError {
    /// A coordinate or half-width that is no number.
    #[error("{what} is {value}; it must be a finite number{wanted}")]
    BadNumber {
        /// Which.
        what: &'static str,
        /// As given.
        value: f64,
        /// What else.
        wanted: &'static str,
    },
    /// Two points so near to each other say nothing of scale and turn.
    #[error(
        "the two points lie {distance_px:.1} pixels apart in the {frame} frame, at least {least_px:.0} are needed: pick points at opposite \
         ends of the subject"
    )]
    TooNear {
        /// "first" or "second".
        frame: &'static str,
        /// As found.
        distance_px: f64,
        /// Needed.
        least_px: f64,
    },
    /// The card's mapping does not reach over the field that was asked for.
    #[error("the card is not mapped over all of the {width_mm} × {height_mm} mm asked for: ask for a smaller field")]
    NotMapped {
        /// Field, mm.
        width_mm: f64,
        /// Field, mm.
        height_mm: f64,
    },
    /// The two frames do not show the card alike.
    #[error(
        "brought together, the two frames of the card stay {apart_px:.0} pixels apart, more than {most_px:.0}: they look at it from too \
         different sides, or show different cards"
    )]
    TooUnlike {
        /// Largest distance left.
        apart_px: f64,
        /// Largest allowed.
        most_px: f64,
    },
    /// Scale not known well enough to look for the rest.
    #[error(
        "the two frames' scale is known to {percent:.0} % only, {most_percent:.0} % is needed: measure a ruler in each, or pick two points"
    )]
    ScaleUnsure {
        /// As known.
        percent: f64,
        /// Needed.
        most_percent: f64,
    },
    /// A frame of too few pixels.
    #[error("the {frame} frame is {side_px} pixels wide or high, at least {least_px} are needed to look for a subject")]
    TooSmall {
        /// "first" or "second".
        frame: &'static str,
        /// As given.
        side_px: usize,
        /// Needed.
        least_px: usize,
    },
    /// One frame shows a far smaller part than the other.
    #[error(
        "one frame shows {ratio:.1} times as much of the subject as the other, at most {most:.0} times can be searched: pick two points"
    )]
    FieldsUnlike {
        /// Of the longer sides, on the subject.
        ratio: f64,
        /// Allowed.
        most: f64,
    },
    /// No place was found where the detail of the two is alike.
    #[error(
        "these do not show the same subject, as far as the pictures tell: where they fit best their detail correlates by {likeness:.2}, and no          other place is surely worse; pick two points if they do"
    )]
    NotTheSame {
        /// Correlation at the best place.
        likeness: f64,
        /// How far above displaced places, in their standard deviations.
        stands_out: f64,
    },
    /// Broken off by the caller.
    #[error("stopped")]
    Stopped,
}

/// Shorter than this, a picking error of a pixel turns the picture by several degrees.
const LEAST_DISTANCE_PX: f64 = 20.0;

/// Alignment by two points, each picked in both frames: (in the first, in the second), pixels. `plus_minus_px` is the half-width of
/// either coordinate of a pick, alike in both frames. Two points cannot tell a mirrored frame: say it.
///
/// With z the places as complex numbers, turn and scale are (w₂ − w₁)/(z₂ − z₁); uncertainties by the law of propagation.
pub fn align_by_points(points: [(Place, Place); 2], plus_minus_px: f64, mirrored: bool) -> Result<Aligned, AlignError> {
    let [(p1, q1), (p2, q2)] = points;
    check_points(&points, plus_minus_px)?;
    let turn = over(less(q2, q1), less(flipped(p2, mirrored), flipped(p1, mirrored)));
    let moved = times(turn, flipped(p1, mirrored));
    let similarity = Similarity { turn, origin: less(q1, moved), mirrored };
    // A pick in the first frame is worth `scale` pixels of the second.
    let half_width = plus_minus_px * (1.0 + square(turn)).sqrt();
    Ok(Aligned::new(similarity, Spread::of_two(p1, p2, half_width), Vec::new()))
}

fn check_points(points: &[(Place, Place); 2], plus_minus_px: f64) -> Result<(), AlignError> {
    let coordinates = points.iter().flat_map(|((a, b), (c, d))| [*a, *b, *c, *d]);
    if let Some(value) = coordinates.into_iter().find(|value| !value.is_finite()) {
        return Err(AlignError::BadNumber { what: "a coordinate of a point", value, wanted: "" });
    }
    if !(plus_minus_px >= 0.0 && plus_minus_px.is_finite()) {
        let what = "the half-width of a pick";
        return Err(AlignError::BadNumber { what, value: plus_minus_px, wanted: ", 0 or above" });
    }
    let [(p1, q1), (p2, q2)] = *points;
    for (frame, distance_px) in [("first", square(less(p2, p1)).sqrt()), ("second", square(less(q2, q1)).sqrt())] {
        if distance_px < LEAST_DISTANCE_PX {
            return Err(AlignError::TooNear { frame, distance_px, least_px: LEAST_DISTANCE_PX });
        }
    }
    Ok(())
}

/// Places along a side of the field at which the two mappings are compared.
const GRID: usize = 7;
/// Frames that stay further apart than this share of the card's size in the picture are not of one card seen alike.
const MOST_APART: f64 = 0.1;
/// Farther apart than this it is said.
const SAID_PX: f64 = 0.5;

/// Alignment by where one card lies in both frames, over a field in the card's middle, (width, height) mm. `plus_minus_px` is the
/// half-width of a mapped place in either frame.
///
/// The similarity that fits best by least squares over a grid; mirrored or not, whichever fits. The uncertainty is that of two
/// places at the field's left and right end: the mappings' own, not the distance that perspective leaves, which is remarked on.
pub fn align_by_cards(
    (first, second): (&Mapping, &Mapping),
    (width_mm, height_mm): (f64, f64),
    plus_minus_px: f64,
) -> Result<Aligned, AlignError> {
    for (what, value) in [("the field's width", width_mm), ("the field's height", height_mm)] {
        if !(value > 0.0 && value.is_finite()) {
            return Err(AlignError::BadNumber { what, value, wanted: " above 0" });
        }
    }
    if !(plus_minus_px >= 0.0 && plus_minus_px.is_finite()) {
        let what = "the half-width of a mapped place";
        return Err(AlignError::BadNumber { what, value: plus_minus_px, wanted: ", 0 or above" });
    }
    let not_mapped = AlignError::NotMapped { width_mm, height_mm };
    let place = |k: usize, size: f64| (k as f64 / (GRID - 1) as f64 - 0.5) * size;
    let grid = (0..GRID * GRID).map(|k| (place(k % GRID, width_mm), place(k / GRID, height_mm)));
    let pairs = grid.map(|mm| Some((first.to_picture(mm)?, second.to_picture(mm)?)));
    let pairs: Vec<(Place, Place)> = pairs.collect::<Option<_>>().ok_or(not_mapped)?;
    let fits = [false, true].map(|mirrored| {
        let similarity = least_squares(&pairs, mirrored);
        let apart = pairs.iter().map(|(p, q)| square(less(similarity.to_second(*p), *q)).sqrt()).fold(0.0, f64::max);
        (similarity, apart)
    });
    let (similarity, apart_px) = if fits[0].1 <= fits[1].1 { fits[0] } else { fits[1] };
    let ends = (pairs[GRID * (GRID / 2)], pairs[GRID * (GRID / 2) + GRID - 1]);
    let most_px = MOST_APART * square(less(ends.1.1, ends.0.1)).sqrt();
    if apart_px > most_px || apart_px.is_nan() {
        return Err(AlignError::TooUnlike { apart_px, most_px });
    }
    let remarks = if apart_px > SAID_PX { vec![AlignRemark::Apart { most_px: apart_px }] } else { Vec::new() };
    let half_width = plus_minus_px * (1.0 + similarity.scale().powi(2)).sqrt();
    Ok(Aligned::new(similarity, Spread::of_two(ends.0.0, ends.1.0, half_width), remarks))
}

/// Σ w̃ conj(z̃) / Σ |z̃|² with both about their means: the closed form of the complex straight line.
fn least_squares(pairs: &[(Place, Place)], mirrored: bool) -> Similarity {
    let n = pairs.len() as f64;
    let mean = |of: &dyn Fn(&(Place, Place)) -> Place| {
        let sum = pairs.iter().map(of).fold((0.0, 0.0), |sum, p| (sum.0 + p.0, sum.1 + p.1));
        (sum.0 / n, sum.1 / n)
    };
    let (from, to) = (mean(&|pair| flipped(pair.0, mirrored)), mean(&|pair| pair.1));
    let (mut product, mut size) = ((0.0, 0.0), 0.0);
    for (p, q) in pairs {
        let (z, w) = (less(flipped(*p, mirrored), from), less(*q, to));
        let term = times(w, (z.0, -z.1));
        product = (product.0 + term.0, product.1 + term.1);
        size += square(z);
    }
    let turn = (product.0 / size, product.1 / size);
    Similarity { turn, origin: less(to, times(turn, from)), mirrored }
}

/// Pixels of the second frame for one of the first, from what is known of each: magnification and pitch on film (any one unit for
/// both). Magnification over pitch is pixels on the subject's length; relative uncertainties add by squares (JCGM 100:2008, 5.1.6).
pub fn scale_by_magnification(first: (Figure, f64), second: (Figure, f64)) -> Figure {
    let value = second.0.value / second.1 * first.1 / first.0.value;
    let relative = (first.0.plus_minus / first.0.value).hypot(second.0.plus_minus / second.0.value);
    Figure::new(value, value.abs() * relative)
}
