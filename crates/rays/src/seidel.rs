//! Third-order sums, surface by surface, from two paraxial rays.
//!
//! W. T. Welford, *Aberrations of Optical Systems*, 1986, chapters 8 and 10 (from memory; the thin-lens closed forms in the
//! tests stand beside it).

use crate::{Sequence, Start, System, Wavelength};
use std::ops::Add;

/// What one surface, or the whole, adds to the aberrations, as wave aberration coefficients in mm: W at the edge of pupil
/// and field is SI/8 for spherical aberration, SII/2, SIII/2, (SIII + SIV)/4 and SV/2 for the others.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sums {
    /// SI.
    pub spherical: f64,
    /// SII.
    pub coma: f64,
    /// SIII.
    pub astigmatism: f64,
    /// SIV.
    pub petzval: f64,
    /// SV.
    pub distortion: f64,
    /// CI.
    pub axial_colour: f64,
    /// CII.
    pub lateral_colour: f64,
}

impl Add for Sums {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self {
            spherical: self.spherical + other.spherical,
            coma: self.coma + other.coma,
            astigmatism: self.astigmatism + other.astigmatism,
            petzval: self.petzval + other.petzval,
            distortion: self.distortion + other.distortion,
            axial_colour: self.axial_colour + other.axial_colour,
            lateral_colour: self.lateral_colour + other.lateral_colour,
        }
    }
}

/// The sums of every surface and of the whole.
#[derive(Debug, Clone, PartialEq)]
pub struct Seidel {
    /// In the order of the rows.
    pub surfaces: Vec<Sums>,
    /// All together.
    pub total: Sums,
    /// H = n(ū·y − u·ȳ), mm: the same everywhere.
    pub lagrange_mm: f64,
    /// Σ (n' − n)c/(n·n'), 1/mm: minus one over the radius of the Petzval surface for an image in air.
    pub petzval_per_mm: f64,
}

/// Middle and ends of the colours that chromatic sums are taken over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Colours {
    /// The rays are traced at this one.
    pub main: Wavelength,
    /// The shorter end.
    pub short: Wavelength,
    /// The longer end.
    pub long: Wavelength,
}

impl Default for Colours {
    /// d, F, C: those of the Abbe number.
    fn default() -> Self {
        Self { main: Wavelength::D, short: Wavelength::F, long: Wavelength::C }
    }
}

impl System {
    /// The sums for a place in the field (see [`crate::Object`]).
    pub fn seidel(&self, field: f64, colours: Colours) -> Seidel {
        let [main, short, long] = [colours.main, colours.short, colours.long].map(|colour| self.at(colour));
        main.seidel(self.marginal(colours.main), self.chief(colours.main, field), [&short, &long])
    }
}

/// A paraxial ray before one surface.
#[derive(Clone, Copy)]
struct Before {
    height: f64,
    slope: f64,
}

impl Sequence {
    /// The sums for two rays; `ends` are the same surfaces at the shorter and at the longer end of the colours.
    pub fn seidel(&self, marginal: Start, chief: Start, ends: [&Sequence; 2]) -> Seidel {
        let rays = [marginal, chief].map(|start| self.before_surfaces(start));
        let both = rays[0].iter().zip(&rays[1]);
        let surfaces: Vec<Sums> =
            both.enumerate().map(|(row, (y, ybar))| self.surface_sums(row, *y, *ybar, ends)).collect();
        Seidel {
            total: surfaces.iter().fold(Sums::default(), |sum, surface| sum + *surface),
            surfaces,
            lagrange_mm: self.index_before() * (chief.slope * marginal.height_mm - marginal.slope * chief.height_mm),
            petzval_per_mm: self
                .steps
                .iter()
                .map(|step| (step.after - step.before) * step.surface.curvature / (step.after * step.before))
                .sum(),
        }
    }

    fn before_surfaces(&self, start: Start) -> Vec<Before> {
        let behind = self.paraxial(start.height_mm, start.slope);
        let slopes = std::iter::once(start.slope).chain(behind.iter().map(|ray| ray.slope));
        behind.iter().zip(slopes).map(|(ray, slope)| Before { height: ray.height_mm, slope }).collect()
    }

    fn surface_sums(&self, row: usize, marginal: Before, chief: Before, ends: [&Sequence; 2]) -> Sums {
        let step = &self.steps[row];
        let (c, n, m) = (step.surface.curvature, step.before, step.after);
        let (y, ybar) = (marginal.height, chief.height);
        // Refraction invariants n·i of both rays, and the Lagrange invariant.
        let (a, abar) = (n * (marginal.slope + y * c), n * (chief.slope + ybar * c));
        let h = abar * y - a * ybar;
        let by_index = 1.0 / m - 1.0 / n;
        let by_square = 1.0 / (m * m) - 1.0 / (n * n);
        // Δ(u/n), from u = A/n − y·c.
        let bend = a * by_square - y * c * by_index;
        // The dispersion δn/n on both sides, δn = n at the short end less n at the long end.
        let spread = |index: fn(&crate::Step) -> f64| index(&ends[0].steps[row]) - index(&ends[1].steps[row]);
        let colour = spread(|step| step.after) / m - spread(|step| step.before) / n;
        // The sphere's SV is (Ā/A)(SIII + SIV) with A divided out, so that A = 0 needs no care.
        let sphere = Sums {
            spherical: -a * a * y * bend,
            coma: -a * abar * y * bend,
            astigmatism: -abar * abar * y * bend,
            petzval: -h * h * c * by_index,
            distortion: -abar.powi(3) * y * by_square + abar * ybar * c * by_index * (abar * y + h),
            axial_colour: a * y * colour,
            lateral_colour: abar * y * colour,
        };
        sphere + figured(step, y, ybar)
    }
}

/// What conic and r⁴ term add: a plate at the surface.
fn figured(step: &crate::Step, y: f64, ybar: f64) -> Sums {
    let c = step.surface.curvature;
    let plate = (step.surface.conic * c.powi(3) + 8.0 * step.surface.asphere[0]) * (step.after - step.before);
    Sums {
        spherical: plate * y.powi(4),
        coma: plate * y.powi(3) * ybar,
        astigmatism: plate * (y * ybar).powi(2),
        distortion: plate * y * ybar.powi(3),
        ..Sums::default()
    }
}
