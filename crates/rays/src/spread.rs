//! What a point becomes on film: the point-spread function, with diffraction, in any mixture of colours.

use std::f64::consts::TAU;

use crate::{Pencil, Pupil, Spectrum, Wavelength, WavelengthError};

/// A point-spread function on square cells.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Shares of the light, `side` × `side` by rows: columns go across the radius, rows outwards. The middle cell's middle is
    /// where the main colour's chief ray meets the film.
    pub cells: Vec<f64>,
    /// Cells along either side.
    pub side: usize,
    /// Share of the light that falls on none of them.
    pub outside: f64,
}

/// Beyond this many waves from cell to cell of the pupil, light is spread by rays alone (see [`Pencil::phase_step`]).
const MOST_PHASE_STEP: f64 = 0.5;

/// Three layers of a colour film as mixtures of wavelengths, nm: where they are most sensitive, and a little to both sides with
/// half the weight. Layers of films peak near 450, 550 and 650 nm (common practice, no source: data sheets print curves).
const LAYERS: [[(f64, f64); 3]; 3] = [
    [(610.0, 1.0), (640.0, 2.0), (660.0, 1.0)],
    [(520.0, 1.0), (545.0, 2.0), (570.0, 1.0)],
    [(430.0, 1.0), (450.0, 2.0), (470.0, 1.0)],
];

/// Colours of a film's three layers: one spectrum for all, and what each of its colours counts for red, green and blue.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmLayers {
    /// All colours; the middle of green is the main one.
    pub spectrum: Spectrum,
    /// For red, green and blue, one weight for each colour.
    pub weights: [Vec<f64>; 3],
}

impl FilmLayers {
    /// The layers of an ordinary colour film.
    pub fn usual() -> Result<Self, WavelengthError> {
        let lines = LAYERS.iter().flatten().map(|(nm, _)| Ok((Wavelength::from_um(nm * 1e-3)?, 1.0)));
        let lines = lines.collect::<Result<Vec<_>, WavelengthError>>()?;
        let weights = [0, 1, 2].map(|layer| {
            let of = |(i, (_, weight)): (usize, &(f64, f64))| if i / 3 == layer { *weight } else { 0.0 };
            LAYERS.iter().flatten().enumerate().map(of).collect()
        });
        // Nine weights of 1, and the main one among them: never refused.
        let spectrum = Spectrum::new(lines, 4).unwrap_or_else(|_| Spectrum::visible());
        Ok(Self { spectrum, weights })
    }
}

impl Pencil {
    /// The point-spread function with the film moved `focus_mm` away from the lens, `weights` for the colours (0 leaves one
    /// out), sampled at the middles of cells of `cell_mm`.
    ///
    /// Each colour is the squared size of the pupil's Fourier transform (Goodman, *Introduction to Fourier Optics*, 6.2),
    /// summed directly over the pupil, row by row and then column by column. Where the aberration is too large for the grid,
    /// rays are counted instead.
    pub fn spread(&self, focus_mm: f64, weights: &[f64], cell_mm: f64, side: usize) -> Spread {
        let total: f64 = weights.iter().sum();
        let mut cells = vec![0.0; side * side];
        for (pupil, weight) in self.pupils.iter().zip(weights).filter(|(_, weight)| **weight > 0.0) {
            let grid = Cells { cell_mm, side, share: weight / total };
            if self.phase_step(focus_mm) < MOST_PHASE_STEP {
                pupil.waves_onto(&mut cells, &grid, self.slope, focus_mm);
            } else {
                pupil.rays_onto(&mut cells, &grid, self.slope, focus_mm);
            }
        }
        if self.film_mm < 0.0 {
            // The picture stands on its head: outwards is toward smaller y.
            let rows: Vec<&[f64]> = cells.chunks_exact(side).rev().collect();
            cells = rows.concat();
        }
        let outside = 1.0 - cells.iter().sum::<f64>();
        Spread { cells, side, outside }
    }
}

struct Cells {
    cell_mm: f64,
    side: usize,
    /// What the colour counts.
    share: f64,
}

impl Cells {
    /// The middle of a column or row, mm from the reference point.
    fn at(&self, i: usize) -> f64 {
        (i as f64 - 0.5 * (self.side as f64 - 1.0)) * self.cell_mm
    }

    /// Whether a cell lies within the half period on either side of `middle` in which a pupil of this grid step tells one
    /// place from another: its transform repeats beyond.
    fn tells(&self, i: usize, middle: f64, step: f64) -> bool {
        (self.at(i) - middle).abs() * step <= 0.5
    }
}

impl Pupil {
    fn waves_onto(&self, cells: &mut [f64], grid: &Cells, slope: f64, focus_mm: f64) {
        let (half, rows, side) = (self.half(), self.samples, grid.side);
        let per_mm = TAU / self.wavelength.mm();
        // Across: the half with x < 0 mirrors the other, so that only cosines are left; and the function is even in x.
        let columns = side.div_ceil(2);
        let mut across = vec![[0.0; 2]; rows * columns];
        let cosines: Vec<f64> = (0..columns * half)
            .map(|k| (TAU * (((k % half) as f64 + 0.5) * self.step[0]) * grid.at(k / half)).cos() * 2.0)
            .collect();
        for row in 0..rows {
            let open = &self.open[row * half..][..half];
            let Some(last) = open.iter().rposition(|open| *open > 0.0) else { continue };
            let amplitudes: Vec<[f64; 2]> = (0..=last)
                .map(|i| {
                    let (sine, cosine) = (per_mm * self.phase_mm(row * half + i, slope, focus_mm)).sin_cos();
                    [open[i] * cosine, open[i] * sine]
                })
                .collect();
            for column in 0..columns {
                let cosines = &cosines[column * half..][..=last];
                let sum =
                    amplitudes.iter().zip(cosines).fold([0.0; 2], |[re, im], (a, c)| [re + a[0] * c, im + a[1] * c]);
                across[row * columns + column] = sum;
            }
        }
        let power: f64 = 2.0 * self.open.iter().map(|open| open * open).sum::<f64>();
        let scale = grid.share * grid.cell_mm.powi(2) * self.step[0] * self.step[1] / power;
        let centre = self.centre(slope, focus_mm);
        for line in (0..side).filter(|line| grid.tells(*line, centre, self.step[1])) {
            let y = grid.at(line);
            let turns: Vec<[f64; 2]> = (0..rows)
                .map(|row| {
                    let (sine, cosine) = (per_mm * self.index * self.direction(row * half)[1] * y).sin_cos();
                    [cosine, sine]
                })
                .collect();
            for column in (0..columns).filter(|column| grid.tells(*column, 0.0, self.step[0])) {
                let sum = turns.iter().enumerate().fold([0.0; 2], |[re, im], (row, t)| {
                    let a = across[row * columns + column];
                    [re + a[0] * t[0] - a[1] * t[1], im + a[0] * t[1] + a[1] * t[0]]
                });
                let light = scale * (sum[0] * sum[0] + sum[1] * sum[1]);
                cells[line * side + column] += light;
                let mirrored = side - 1 - column;
                if mirrored != column {
                    cells[line * side + mirrored] += light;
                }
            }
        }
    }

    /// Every lit cell's ray, shared among the four cells around where it falls.
    fn rays_onto(&self, cells: &mut [f64], grid: &Cells, slope: f64, focus_mm: f64) {
        let lit: f64 = 2.0 * self.open.iter().sum::<f64>();
        let middle = 0.5 * (grid.side as f64 - 1.0);
        let mut drop_at = |x: f64, y: f64, light: f64| {
            let (x, y) = (x / grid.cell_mm + middle, y / grid.cell_mm + middle);
            let (left, top) = (x.floor(), y.floor());
            for (column, across) in [(left, 1.0 - (x - left)), (left + 1.0, x - left)] {
                for (row, down) in [(top, 1.0 - (y - top)), (top + 1.0, y - top)] {
                    let inside = |at: f64| at >= 0.0 && at < grid.side as f64;
                    if inside(column) && inside(row) {
                        cells[row as usize * grid.side + column as usize] += light * across * down;
                    }
                }
            }
        };
        for (cell, open) in self.lit() {
            let [x, y] = self.place(cell, slope, focus_mm);
            let light = grid.share * open / lit;
            drop_at(x, y, light);
            drop_at(-x, y, light);
        }
    }
}
