//! A map of the frame: contrast and light wherever one looks.

use rays::{AimError, Zone};

/// Cells from the middle to a side.
const CELLS: usize = 8;

/// A quarter of the frame: lenses look alike in all four.
#[derive(Debug, Clone, PartialEq)]
pub struct FrameMap {
    /// Columns, mm from the middle to the side.
    pub x_mm: Vec<f64>,
    /// Rows, mm from the middle.
    pub y_mm: Vec<f64>,
    /// Row by row; none where it is dark.
    pub rows: Vec<Vec<Option<Cell>>>,
}

/// One place of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cell {
    /// Contrast of patterns that vary across the radius.
    pub sagittal: f64,
    /// Contrast of patterns that vary along it.
    pub tangential: f64,
    /// Light as a share of the middle's.
    pub illumination: f64,
}

impl Cell {
    /// Both directions alike.
    pub fn mean(&self) -> f64 {
        0.5 * (self.sagittal + self.tangential)
    }

    fn between(self, other: Self, share: f64) -> Self {
        let mix = |one: f64, other: f64| one + share * (other - one);
        Self {
            sagittal: mix(self.sagittal, other.sagittal),
            tangential: mix(self.tangential, other.tangential),
            illumination: mix(self.illumination, other.illumination),
        }
    }
}

impl From<&Zone> for Cell {
    /// A turned contrast, in which light and dark change places, is none.
    fn from(zone: &Zone) -> Self {
        let transfer = zone.transfer.first().copied().unwrap_or_default();
        Self {
            sagittal: transfer.sagittal.max(0.0),
            tangential: transfer.tangential.contrast(),
            illumination: zone.illumination,
        }
    }
}

impl FrameMap {
    /// From places along the radius, the middle first; straight in between.
    pub fn of(frame_mm: [f64; 2], radius: &[(f64, Result<Zone, AimError>)]) -> Self {
        let places: Vec<(f64, Option<Cell>)> =
            radius.iter().map(|(mm, zone)| (*mm, zone.as_ref().ok().map(Cell::from))).collect();
        let steps = |side: f64| (0..=CELLS).map(|i| 0.5 * side * i as f64 / CELLS as f64).collect::<Vec<f64>>();
        let (x_mm, y_mm) = (steps(frame_mm[0]), steps(frame_mm[1]));
        let row = |y: &f64| x_mm.iter().map(|x| at(&places, x.hypot(*y))).collect();
        Self { rows: y_mm.iter().map(row).collect(), x_mm, y_mm }
    }
}

fn at(places: &[(f64, Option<Cell>)], radius: f64) -> Option<Cell> {
    let next = places.iter().position(|(mm, _)| *mm >= radius).unwrap_or(places.len().checked_sub(1)?);
    let last = next.saturating_sub(1);
    let ((from, here), (to, there)) = (places[last], places[next]);
    let share = if to > from { ((radius - from) / (to - from)).min(1.0) } else { 0.0 };
    Some(here?.between(there?, share))
}
