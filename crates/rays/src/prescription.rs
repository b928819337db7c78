//! A lens as a table of surfaces, checked once.

use crate::{Medium, Surface, Wavelength};

/// One line of a lens table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// The surface.
    pub surface: Surface,
    /// Vertex to vertex of the next row, mm; only the last row has none.
    pub gap_mm: Option<f64>,
    /// What fills that gap; of the last row, what lies behind the lens.
    pub after: Medium,
    /// Half the clear diameter, mm, where it is known.
    pub semi_aperture_mm: Option<f64>,
    /// Whether this is the aperture stop.
    pub stop: bool,
}

impl Row {
    /// A sphere (or a plane, of infinite radius) with what follows it.
    pub fn sphere(radius_mm: f64, gap_mm: f64, after: Medium) -> Self {
        Self::new(Surface::sphere(radius_mm), Some(gap_mm), after)
    }

    /// The last surface, with air behind it.
    pub fn last(radius_mm: f64) -> Self {
        Self::new(Surface::sphere(radius_mm), None, Medium::Air)
    }

    /// The stop as a plane of its own in air.
    pub fn iris(gap_mm: f64) -> Self {
        Self { stop: true, ..Self::new(Surface::PLANE, Some(gap_mm), Medium::Air) }
    }

    /// Any surface; no clear diameter, not the stop.
    pub fn new(surface: Surface, gap_mm: Option<f64>, after: Medium) -> Self {
        Self { surface, gap_mm, after, semi_aperture_mm: None, stop: false }
    }

    /// The same with half its clear diameter, mm.
    pub fn clear(self, semi_aperture_mm: f64) -> Self {
        Self { semi_aperture_mm: Some(semi_aperture_mm), ..self }
    }
}

/// Why a table is no lens. Rows count from 1.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum PrescriptionError {
    /// No rows.
    #[error("a lens needs at least one surface")]
    Empty,
    /// A figure that is no number.
    #[error("row {row}: {what} is {value}, which is no finite number")]
    NotFinite {
        /// Which row.
        row: usize,
        /// Which figure.
        what: &'static str,
        /// The figure.
        value: f64,
    },
    /// A row other than the last without a distance to the next.
    #[error("row {row} has no gap to row {}", .row + 1)]
    MissingGap {
        /// Which row.
        row: usize,
    },
    /// The last row with a distance to nothing.
    #[error("row {row} is the last, so its gap of {gap_mm} mm leads nowhere")]
    GapAfterLast {
        /// Which row.
        row: usize,
        /// The gap, mm.
        gap_mm: f64,
    },
    /// Glass thinner than air.
    #[error("row {row}: an index of {index} lies below 1")]
    Index {
        /// Which row; 0 for the space before the lens.
        row: usize,
        /// The index at the d line.
        index: f64,
    },
    /// An Abbe number that no glass has.
    #[error("row {row}: an Abbe number of {abbe} is not above 0")]
    Abbe {
        /// Which row; 0 for the space before the lens.
        row: usize,
        /// V.
        abbe: f64,
    },
    /// A clear diameter that is none.
    #[error("row {row}: half a clear diameter of {semi_aperture_mm} mm is not above 0")]
    Aperture {
        /// Which row.
        row: usize,
        /// Half the clear diameter, mm.
        semi_aperture_mm: f64,
    },
    /// A clear diameter wider than the surface itself.
    #[error("row {row}: the surface ends before its clear half diameter of {semi_aperture_mm} mm")]
    BeyondSurface {
        /// Which row.
        row: usize,
        /// Half the clear diameter, mm.
        semi_aperture_mm: f64,
    },
    /// Two neighbours that run through each other.
    #[error("rows {row} and {} cross: at height {height_mm:.2} mm the second lies {by_mm:.3} mm before the first", .row + 1)]
    Crossing {
        /// The first of the two.
        row: usize,
        /// Where, mm from the axis.
        height_mm: f64,
        /// By how much, mm.
        by_mm: f64,
    },
    /// Two stops.
    #[error("rows {first} and {second} are both marked as the stop")]
    TwoStops {
        /// The first.
        first: usize,
        /// The second.
        second: usize,
    },
    /// A stop that lies in no gap of the lens.
    #[error("a stop {distance_mm} mm behind row {row} lies outside the gap there")]
    StopOutside {
        /// The row before it.
        row: usize,
        /// How far behind, mm.
        distance_mm: f64,
    },
    /// A size to scale to that is none.
    #[error("a lens cannot be made {factor} times as large")]
    Scale {
        /// The factor asked for.
        factor: f64,
    },
}

/// A lens, or a close-up lens, or any other row of surfaces, as light meets it from the left. Checked: what exists can be
/// traced.
#[derive(Debug, Clone, PartialEq)]
pub struct Prescription {
    before: Medium,
    rows: Vec<Row>,
}

/// At how many heights two neighbours are compared: they are smooth, so crossing between two of these heights and not at
/// either would be by less than any polish.
const CROSSING_HEIGHTS: usize = 32;

/// Neighbours that touch at their rims are made to touch by rounding of printed figures; deeper than this they cross, mm.
const CROSSING_ALLOWED_MM: f64 = 1e-9;

impl Prescription {
    /// A lens in air.
    pub fn new(rows: Vec<Row>) -> Result<Self, PrescriptionError> {
        Self::behind(Medium::Air, rows)
    }

    /// A lens with something else before its first surface.
    pub fn behind(before: Medium, rows: Vec<Row>) -> Result<Self, PrescriptionError> {
        if rows.is_empty() {
            return Err(PrescriptionError::Empty);
        }
        check_medium(0, &before)?;
        for (i, row) in rows.iter().enumerate() {
            check_row(i + 1, row)?;
            check_gap(i + 1, row, i + 1 == rows.len())?;
        }
        for (i, pair) in rows.windows(2).enumerate() {
            check_crossing(i + 1, &pair[0], pair[0].gap_mm.unwrap_or(0.0), &pair[1])?;
        }
        let mut stops = rows.iter().enumerate().filter(|(_, row)| row.stop).map(|(i, _)| i + 1);
        if let (Some(first), Some(second)) = (stops.next(), stops.next()) {
            return Err(PrescriptionError::TwoStops { first, second });
        }
        Ok(Self { before, rows })
    }

    /// The same lens with its stop as a plane of its own, `distance_mm` behind row `row` (counted from 1), in place of any
    /// that it had.
    pub fn with_stop(&self, row: usize, distance_mm: f64) -> Result<Self, PrescriptionError> {
        let outside = PrescriptionError::StopOutside { row, distance_mm };
        let before = row.checked_sub(1).and_then(|i| self.rows.get(i)).ok_or(outside)?;
        let gap = before.gap_mm.ok_or(outside)?;
        if !(0.0..=gap).contains(&distance_mm) {
            return Err(outside);
        }
        let mut rows = self.rows.clone();
        rows.iter_mut().for_each(|row| row.stop = false);
        rows[row - 1].gap_mm = Some(distance_mm);
        let plane = Row { stop: true, ..Row::new(Surface::PLANE, Some(gap - distance_mm), before.after) };
        rows.insert(row, plane);
        Self::behind(self.before, rows)
    }

    /// The rows, in the order in which light meets them.
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// What lies before the first surface.
    pub fn before(&self) -> Medium {
        self.before
    }

    /// What lies behind the last surface.
    pub fn after(&self) -> Medium {
        self.rows[self.rows.len() - 1].after
    }

    /// Which row is the stop, counted from 0.
    pub fn stop(&self) -> Option<usize> {
        self.rows.iter().position(|row| row.stop)
    }

    /// First vertex to last vertex, mm.
    pub fn length_mm(&self) -> f64 {
        self.rows.iter().filter_map(|row| row.gap_mm).sum()
    }

    /// Whether the source tells how every glass of it changes with colour.
    pub fn dispersion_known(&self) -> bool {
        self.before.dispersion_known() && self.rows.iter().all(|row| row.after.dispersion_known())
    }

    /// The lens turned round. Twice is the lens itself.
    pub fn reversed(&self) -> Self {
        let count = self.rows.len();
        let turned = |i: usize| {
            let row = &self.rows[count - 1 - i];
            let next = (count - 1 - i).checked_sub(1).map(|before| &self.rows[before]);
            Row {
                surface: row.surface.reversed(),
                gap_mm: next.and_then(|next| next.gap_mm),
                after: next.map_or(self.before, |next| next.after),
                ..*row
            }
        };
        Self { before: self.after(), rows: (0..count).map(turned).collect() }
    }

    /// The lens made `factor` times as large in every length.
    pub fn scaled(&self, factor: f64) -> Result<Self, PrescriptionError> {
        if !(factor.is_finite() && factor > 0.0) {
            return Err(PrescriptionError::Scale { factor });
        }
        let larger = |row: &Row| Row {
            surface: row.surface.scaled(factor),
            gap_mm: row.gap_mm.map(|gap| gap * factor),
            semi_aperture_mm: row.semi_aperture_mm.map(|semi| semi * factor),
            ..*row
        };
        Self::behind(self.before, self.rows.iter().map(larger).collect())
    }
}

fn finite(row: usize, what: &'static str, value: f64) -> Result<(), PrescriptionError> {
    if value.is_finite() { Ok(()) } else { Err(PrescriptionError::NotFinite { row, what, value }) }
}

fn check_medium(row: usize, medium: &Medium) -> Result<(), PrescriptionError> {
    if let Medium::Abbe { index, abbe, .. } = *medium {
        finite(row, "the index", index)?;
        finite(row, "the Abbe number", abbe)?;
        if abbe <= 0.0 {
            return Err(PrescriptionError::Abbe { row, abbe });
        }
    }
    let index = medium.index(Wavelength::D);
    finite(row, "the index", index)?;
    if index < 1.0 && *medium != Medium::Mirrored { Err(PrescriptionError::Index { row, index }) } else { Ok(()) }
}

fn check_row(row: usize, here: &Row) -> Result<(), PrescriptionError> {
    finite(row, "the curvature", here.surface.curvature)?;
    finite(row, "the conic constant", here.surface.conic)?;
    here.surface.asphere.iter().try_for_each(|term| finite(row, "an aspheric term", *term))?;
    check_medium(row, &here.after)?;
    let Some(semi_aperture_mm) = here.semi_aperture_mm else { return Ok(()) };
    finite(row, "the clear half diameter", semi_aperture_mm)?;
    if semi_aperture_mm <= 0.0 {
        return Err(PrescriptionError::Aperture { row, semi_aperture_mm });
    }
    match here.surface.sag(semi_aperture_mm) {
        Some(_) => Ok(()),
        None => Err(PrescriptionError::BeyondSurface { row, semi_aperture_mm }),
    }
}

fn check_gap(row: usize, here: &Row, last: bool) -> Result<(), PrescriptionError> {
    match here.gap_mm {
        None if last => Ok(()),
        None => Err(PrescriptionError::MissingGap { row }),
        Some(gap_mm) if last => Err(PrescriptionError::GapAfterLast { row, gap_mm }),
        Some(gap_mm) => finite(row, "the gap", gap_mm),
    }
}

/// Whether `next`, `gap_mm` behind `here`, keeps behind it as far out as both are clear (on the axis alone where neither's
/// clear diameter is known).
pub(crate) fn check_crossing(row: usize, here: &Row, gap_mm: f64, next: &Row) -> Result<(), PrescriptionError> {
    let reach = match (here.semi_aperture_mm, next.semi_aperture_mm) {
        (Some(one), Some(other)) => one.min(other),
        (one, other) => one.or(other).unwrap_or(0.0),
    };
    let heights = (0..=CROSSING_HEIGHTS).map(|i| reach * i as f64 / CROSSING_HEIGHTS as f64);
    for height_mm in heights {
        let (Some(first), Some(second)) = (here.surface.sag(height_mm), next.surface.sag(height_mm)) else { break };
        let by_mm = first - gap_mm - second;
        if by_mm > CROSSING_ALLOWED_MM {
            return Err(PrescriptionError::Crossing { row, height_mm, by_mm });
        }
    }
    Ok(())
}
