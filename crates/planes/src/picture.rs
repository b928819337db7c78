//! The picture types.

use std::marker::PhantomData;

/// What the numbers of a plane mean: [`Linear`] or [`Encoded`].
pub trait Meaning: Copy + Clone + std::fmt::Debug + PartialEq {}

/// Numbers in proportion to light.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Linear;

/// Numbers as a file holds them, through a tone curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Encoded;

impl Meaning for Linear {}
impl Meaning for Encoded {}

/// Why samples could not become a plane or a picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ShapeError {
    /// The number of samples is not width times height.
    Samples {
        /// Columns asked for.
        width: usize,
        /// Rows asked for.
        height: usize,
        /// Samples given.
        given: usize,
    },
    /// The planes of one picture differ in size.
    PlanesDiffer,
    /// A picture must have at least one pixel.
    Empty,
}

impl std::fmt::Display for ShapeError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Samples { width, height, given } => {
                write!(f, "a picture of {width} x {height} pixels cannot be made of {given} samples")
            }
            Self::PlanesDiffer => write!(f, "the colour planes of one picture differ in size"),
            Self::Empty => write!(f, "a picture must have at least one pixel"),
        }
    }
}

impl std::error::Error for ShapeError {}

/// A rectangle of whole pixels. It may be empty; it says nothing about the picture it lies in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Region {
    /// First column.
    pub x: u32,
    /// First row.
    pub y: u32,
    /// Columns.
    pub width: u32,
    /// Rows.
    pub height: u32,
}

impl Region {
    /// True when all of it lies within a picture of that size and it holds at least one pixel.
    pub fn lies_within(&self, width: u32, height: u32) -> bool {
        let ends = |start: u32, extent: u32, limit: u32| {
            extent > 0 && u64::from(start) + u64::from(extent) <= u64::from(limit)
        };
        ends(self.x, self.width, width) && ends(self.y, self.height, height)
    }
}

/// One colour, or one grey, of a picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane<M: Meaning> {
    width: usize,
    height: usize,
    samples: Vec<f32>,
    meaning: PhantomData<M>,
}

impl<M: Meaning> Plane<M> {
    /// A plane from its samples, row by row.
    pub fn new(width: usize, height: usize, samples: Vec<f32>) -> Result<Self, ShapeError> {
        if width == 0 || height == 0 {
            return Err(ShapeError::Empty);
        }
        if width.checked_mul(height) != Some(samples.len()) {
            return Err(ShapeError::Samples { width, height, given: samples.len() });
        }
        Ok(Self { width, height, samples, meaning: PhantomData })
    }

    /// A plane computed pixel by pixel; `sample(column, row)`.
    pub fn from_fn(
        width: usize,
        height: usize,
        mut sample: impl FnMut(usize, usize) -> f32,
    ) -> Result<Self, ShapeError> {
        let mut samples = Vec::with_capacity(width.saturating_mul(height));
        for row in 0..height {
            samples.extend((0..width).map(|column| sample(column, row)));
        }
        Self::new(width, height, samples)
    }

    /// Columns.
    pub fn width(&self) -> usize {
        self.width
    }

    /// Rows.
    pub fn height(&self) -> usize {
        self.height
    }

    /// All samples, row by row.
    pub fn samples(&self) -> &[f32] {
        &self.samples
    }

    /// One row. Panics when `row` is not below [`Self::height`].
    pub fn row(&self, row: usize) -> &[f32] {
        &self.samples[row * self.width..(row + 1) * self.width]
    }

    /// One sample. Panics outside the plane.
    pub fn at(&self, column: usize, row: usize) -> f32 {
        self.row(row)[column]
    }

    /// The plane with rows and columns exchanged.
    pub fn transposed(&self) -> Self {
        let samples = (0..self.width).flat_map(|c| (0..self.height).map(move |r| (c, r))).map(|(c, r)| self.at(c, r));
        Self { width: self.height, height: self.width, samples: samples.collect(), meaning: PhantomData }
    }

    /// The same shape with every sample put through `f`; the meaning is the caller's to state.
    pub(crate) fn map<N: Meaning>(&self, f: impl Fn(f32) -> f32) -> Plane<N> {
        let samples = self.samples.iter().map(|&s| f(s)).collect();
        Plane { width: self.width, height: self.height, samples, meaning: PhantomData }
    }
}

/// How much of red, green and blue linear light makes luminance; the three add up to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LumaWeights(pub [f32; 3]);

impl LumaWeights {
    /// Rec. ITU-R BT.709 / IEC 61966-2-1 (sRGB) primaries with their D65 white.
    pub const SRGB: Self = Self([0.2126, 0.7152, 0.0722]);
}

/// The planes of a picture.
#[derive(Debug, Clone, PartialEq)]
pub enum Channels<M: Meaning> {
    /// One grey plane.
    Grey(Plane<M>),
    /// Red, green and blue planes of one size.
    Rgb {
        /// Red, green, blue.
        planes: Box<[Plane<M>; 3]>,
        /// Their shares of luminance.
        luma: LumaWeights,
    },
}

/// A picture, or a region cut from one.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture<M: Meaning> {
    channels: Channels<M>,
}

impl<M: Meaning> Picture<M> {
    /// A grey picture.
    pub fn grey(plane: Plane<M>) -> Self {
        Self { channels: Channels::Grey(plane) }
    }

    /// A colour picture; the planes must be of one size.
    pub fn rgb(planes: [Plane<M>; 3], luma: LumaWeights) -> Result<Self, ShapeError> {
        let size = |p: &Plane<M>| (p.width(), p.height());
        if planes.iter().any(|p| size(p) != size(&planes[0])) {
            return Err(ShapeError::PlanesDiffer);
        }
        Ok(Self { channels: Channels::Rgb { planes: Box::new(planes), luma } })
    }

    /// The planes.
    pub fn channels(&self) -> &Channels<M> {
        &self.channels
    }

    fn first(&self) -> &Plane<M> {
        match &self.channels {
            Channels::Grey(plane) => plane,
            Channels::Rgb { planes, .. } => &planes[0],
        }
    }

    /// Columns.
    pub fn width(&self) -> usize {
        self.first().width()
    }

    /// Rows.
    pub fn height(&self) -> usize {
        self.first().height()
    }

    pub(crate) fn map<N: Meaning>(&self, f: impl Fn(f32) -> f32 + Copy) -> Picture<N> {
        let channels = match &self.channels {
            Channels::Grey(plane) => Channels::Grey(plane.map(f)),
            Channels::Rgb { planes, luma } => {
                Channels::Rgb { planes: Box::new([0, 1, 2].map(|i| planes[i].map(f))), luma: *luma }
            }
        };
        Picture { channels }
    }
}

impl Picture<Linear> {
    /// Luminance: the grey plane itself, or the weighted sum of the colours. Only linear light may be added up.
    pub fn luminance(&self) -> Plane<Linear> {
        match &self.channels {
            Channels::Grey(plane) => plane.clone(),
            Channels::Rgb { planes, luma: LumaWeights([wr, wg, wb]) } => {
                let [r, g, b] = &**planes;
                let samples = r.samples.iter().zip(&g.samples).zip(&b.samples);
                let samples = samples.map(|((r, g), b)| wr * r + wg * g + wb * b).collect();
                Plane { width: r.width, height: r.height, samples, meaning: PhantomData }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shapes_are_checked() {
        assert_eq!(
            Plane::<Linear>::new(2, 2, vec![0.0; 3]),
            Err(ShapeError::Samples { width: 2, height: 2, given: 3 })
        );
        assert_eq!(Plane::<Linear>::new(0, 2, vec![]), Err(ShapeError::Empty));
        let (a, b) = (Plane::new(1, 1, vec![0.0]).unwrap(), Plane::new(2, 1, vec![0.0; 2]).unwrap());
        let picture = Picture::<Linear>::rgb([a.clone(), a, b], LumaWeights::SRGB);
        assert_eq!(picture, Err(ShapeError::PlanesDiffer));
    }

    #[test]
    fn transposing_twice_is_the_identity() {
        let plane = Plane::<Linear>::from_fn(3, 2, |c, r| (10 * r + c) as f32).unwrap();
        assert_eq!(plane.transposed().at(1, 2), 12.0);
        assert_eq!(plane.transposed().transposed(), plane);
    }

    #[test]
    fn regions_at_the_limit_of_the_number_range_do_not_wrap() {
        let region = Region { x: u32::MAX, y: 0, width: 2, height: 1 };
        assert!(!region.lies_within(u32::MAX, 1));
        assert!(!Region { x: 0, y: 0, width: 0, height: 1 }.lies_within(5, 5));
        assert!(Region { x: 4, y: 4, width: 1, height: 1 }.lies_within(5, 5));
    }
}
