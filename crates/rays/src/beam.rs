//! Many rays, figure by figure: all heights together, all slopes together, so that the processor takes several at once.

/// Rays are kept in multiples of this, the widest register of any processor known here.
const WIDEST: usize = 8;

/// One ray: a point, a direction of length 1, the optical path so far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ray {
    /// x (sagittal), y (tangential), z from the vertex of the surface last met, mm.
    pub at: [f64; 3],
    /// Direction cosines by x, y, z; the last is positive.
    pub toward: [f64; 3],
    /// Index times length, mm.
    pub path_mm: f64,
}

/// What became of a ray.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Loss {
    /// It ran past the surface, or would have met it from behind.
    Missed,
    /// It met the surface outside its clear diameter, or outside the stop.
    Cut,
    /// It was totally reflected.
    Reflected,
    /// Its point on an asphere was not found to the tolerance.
    Unsettled,
}

/// Losses as they are kept in a lane: 4·row + kind, and 0 for a ray that lives.
impl Loss {
    pub(crate) const KINDS: [Self; 4] = [Self::Missed, Self::Cut, Self::Reflected, Self::Unsettled];

    pub(crate) fn code(self, row: usize) -> f64 {
        (4 * row + 1 + Self::KINDS.iter().position(|kind| *kind == self).unwrap_or(0)) as f64
    }

    fn from_code(code: f64) -> Option<Lost> {
        let code = (code as usize).checked_sub(1)?;
        Some(Lost { row: code / 4, why: Self::KINDS[code % 4] })
    }
}

/// Where and why a ray ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lost {
    /// The row, counted from 0.
    pub row: usize,
    /// The kind.
    pub why: Loss,
}

/// How many rays ended in which way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Losses {
    /// [`Loss::Missed`].
    pub missed: usize,
    /// [`Loss::Cut`].
    pub cut: usize,
    /// [`Loss::Reflected`].
    pub reflected: usize,
    /// [`Loss::Unsettled`].
    pub unsettled: usize,
}

impl Losses {
    fn count(&mut self, loss: Loss) {
        *match loss {
            Loss::Missed => &mut self.missed,
            Loss::Cut => &mut self.cut,
            Loss::Reflected => &mut self.reflected,
            Loss::Unsettled => &mut self.unsettled,
        } += 1;
    }

    /// All together.
    pub fn total(&self) -> usize {
        self.missed + self.cut + self.reflected + self.unsettled
    }
}

/// Rays on their way, as columns of numbers.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rays {
    count: usize,
    /// x, y, z, direction cosines, path, fullness, fate.
    pub(crate) columns: [Vec<f64>; Self::COLUMNS],
}

impl Rays {
    pub(crate) const COLUMNS: usize = 9;
    const FULLNESS: usize = 7;
    const FATE: usize = 8;

    /// Rays at their start, `at` from the vertex of the first surface that they will meet.
    pub fn new(rays: impl IntoIterator<Item = Ray>) -> Self {
        let mut columns: [Vec<f64>; Self::COLUMNS] = Default::default();
        for ray in rays {
            let [x, y, z] = ray.at;
            let [l, m, n] = ray.toward;
            for (column, value) in columns.iter_mut().zip([x, y, z, l, m, n, ray.path_mm, 0.0, 0.0]) {
                column.push(value);
            }
        }
        let count = columns[0].len();
        let whole = count.next_multiple_of(WIDEST);
        for (column, axial) in columns.iter_mut().zip([0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0]) {
            column.resize(whole, axial);
        }
        Self { count, columns }
    }

    /// How many.
    pub fn len(&self) -> usize {
        self.count
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// One ray, or what became of it. A ray that lives has finite figures.
    pub fn get(&self, i: usize) -> Result<Ray, Lost> {
        if let Some(lost) = Loss::from_code(self.columns[Self::FATE][i]) {
            return Err(lost);
        }
        let [x, y, z, l, m, n, path_mm] = std::array::from_fn(|k| self.columns[k][i]);
        Ok(Ray { at: [x, y, z], toward: [l, m, n], path_mm })
    }

    /// How full the narrowest opening is at this ray, as (height/clear half diameter)²: above 1 it would have been cut.
    /// Infinite for a ray that lives no more.
    pub fn fullness(&self, i: usize) -> f64 {
        if self.columns[Self::FATE][i] == 0.0 { self.columns[Self::FULLNESS][i] } else { f64::INFINITY }
    }

    /// Every ray in turn.
    pub fn iter(&self) -> impl Iterator<Item = Result<Ray, Lost>> + '_ {
        (0..self.count).map(|i| self.get(i))
    }

    /// How many are lost, by kind.
    pub fn losses(&self) -> Losses {
        let mut losses = Losses::default();
        self.iter().filter_map(Result::err).for_each(|lost| losses.count(lost.why));
        losses
    }
}
