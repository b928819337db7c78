//! The edge's profile: a spline through every sample at its true distance from the edge.

use std::ops::Range;

use planes::{Linear, Plane};

use super::line::{Line, RowDistance};
use super::rounding;
use crate::numeric::{Banded, Factor};
use crate::spline::{Basis, OVERLAP, Table};

/// Shortest piece of the spline, pixels. The pixel's own box passes almost nothing above 2 cycles per pixel, which is
/// what pieces of a quarter pixel can still carry; shorter ones would only follow noise.
const FINEST_PIECE_PX: f64 = 0.25;
/// Pieces over the 10-90 % rise of a blurred edge. A Gaussian's response is below 1e-8 at the frequency that
/// so many pieces can carry; more would only follow noise.
const PIECES_PER_RISE: f64 = 16.0;
/// Each piece beside the core is longer than the one before by this factor: what lies at a distance r from the edge can
/// show detail of about r/4, so flare and halos are followed without letting in the noise of fine pieces.
const GROWTH: f64 = 1.3;
/// Frequency, in units of 1/piece, at which the penalty on roughness weighs as much as evenly spread samples. It is
/// there for slopes such as 1:1, where samples leave pieces empty; at half a cycle per pixel it biases others by 1e-4.
const PENALTY_FREQUENCY: f64 = 0.6;
/// Frequency, in units of 1/rise, above which an edge has no detail of its own: a Gaussian's response is 1 % there.
const RISE_FREQUENCY: f64 = 1.2;
/// What counts as having left a plateau, as a share of the step.
const DEPARTURE: f64 = 0.01;
/// ... and at least so many standard errors of the profile.
const DEPARTURE_ERRORS: f64 = 4.0;

/// Samples on one piece below which they are added one by one: starting a run costs as much as so many.
const SHORT_RUN: usize = 8;
/// Powers of the place that a fit asks for.
const POWERS: usize = 2 * OVERLAP - 1;

/// A part of a plane near the edge.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Strip<'a> {
    pub(crate) plane: &'a Plane<Linear>,
    pub(crate) line: &'a Line,
    /// First and one past the last row that takes part.
    pub(crate) rows: (usize, usize),
}

impl Strip<'_> {
    pub(crate) fn rows(&self) -> Range<usize> {
        self.rows.0..self.rows.1
    }

    /// Distances (to the left negative) up to which at least this share of the rows reaches.
    pub(crate) fn reach(&self, share: f64) -> (f64, f64) {
        let last = self.plane.width() - 1;
        let ends = |column: usize| -> Vec<f64> { self.rows().map(|r| self.line.row(r).of(column)).collect() };
        let left = crate::numeric::quantile(&ends(0), share);
        let right = crate::numeric::quantile(&ends(last), 1.0 - share);
        (left.min(0.0), right.max(0.0))
    }
}

/// Power sums of the samples on one piece of the spline: all that a least-squares fit needs. Powers go in pairs (even, odd), which
/// the processor adds and multiplies at once; the last one of `u` is not asked for.
#[derive(Debug, Clone, Copy, Default)]
struct PieceSums {
    u: [[f64; 2]; OVERLAP],
    v: [[f64; 2]; OVERLAP / 2],
    vv: f64,
}

impl PieceSums {
    #[inline]
    fn add(&mut self, u: f64, value: f64) {
        let (mut power, square) = ([1.0, u], u * u);
        for sum in &mut self.v {
            *sum = [sum[0] + power[0] * value, sum[1] + power[1] * value];
            power = [power[0] * square, power[1] * square];
        }
        power = [1.0, u];
        for sum in &mut self.u {
            *sum = [sum[0] + power[0], sum[1] + power[1]];
            power = [power[0] * square, power[1] * square];
        }
        self.vv += value * value;
    }

    /// Adds samples at u = start, start + step, ... Two samples side by side, so that the sums stay in registers; the places' own
    /// powers are summed by formula.
    fn add_run(&mut self, samples: &[f32], (start, step): (f64, f64), integers: &PowerSums) {
        let (mut v, mut vv) = ([[0.0; 2]; OVERLAP], [0.0; 2]);
        let pairs = samples.chunks_exact(2);
        let odd = pairs.remainder();
        let (mut place, stride) = ([start, start + step], 2.0 * step);
        for pair in pairs {
            let mut term = [f64::from(pair[0]), f64::from(pair[1])];
            vv = [vv[0] + term[0] * term[0], vv[1] + term[1] * term[1]];
            for sum in &mut v {
                *sum = [sum[0] + term[0], sum[1] + term[1]];
                term = [term[0] * place[0], term[1] * place[1]];
            }
            place = [place[0] + stride, place[1] + stride];
        }
        integers.add_places(samples.len() & !1, (start, step), &mut self.u);
        for (sum, part) in self.v.as_flattened_mut().iter_mut().zip(v) {
            *sum += part[0] + part[1];
        }
        self.vv += vv[0] + vv[1];
        if let [last] = odd {
            self.add(place[0], f64::from(*last));
        }
    }

    /// Samples.
    fn count(&self) -> f64 {
        self.u[0][0]
    }
}

/// Sums of powers of 0, 1, 2, ...: the sum of i^k over i below n.
#[derive(Debug, Clone)]
struct PowerSums {
    below: Vec<[f64; POWERS]>,
}

impl PowerSums {
    /// For every n up to this.
    fn up_to(most: usize) -> Self {
        let mut sums = [0.0; POWERS];
        let mut below = Vec::with_capacity(most + 1);
        for i in 0..=most {
            below.push(sums);
            let mut power = 1.0;
            for sum in &mut sums {
                *sum += power;
                power *= i as f64;
            }
        }
        Self { below }
    }

    /// Adds the powers of start, start + step, ..., so many of them: (start + i step)^k by the binomial theorem, whose sums
    /// Pascal's triangle makes one from another. Nothing cancels, as start and step are not negative.
    fn add_places(&self, count: usize, (start, step): (f64, f64), out: &mut [[f64; 2]; OVERLAP]) {
        let mut sums = self.below[count];
        let mut scale = 1.0;
        for sum in &mut sums {
            *sum *= scale;
            scale *= step;
        }
        for first in 1..POWERS {
            for k in (first..POWERS).rev() {
                sums[k] += start * sums[k - 1];
            }
        }
        for (o, sum) in out.as_flattened_mut().iter_mut().zip(sums) {
            *o += sum;
        }
    }
}

/// The samples of one block of rows, reduced to power sums.
#[derive(Debug, Clone)]
struct Block {
    pieces: Vec<PieceSums>,
}

impl Block {
    fn gather(strip: &Strip<'_>, (basis, integers): (&Basis, &PowerSums), rows: Range<usize>) -> Self {
        let mut pieces = vec![PieceSums::default(); basis.len()];
        let tools = (basis, integers);
        for row in rows {
            let distance = strip.line.row(row);
            let samples = strip.plane.row(row);
            let columns = distance.columns(basis.span(), samples.len());
            if let Some(even) = distance.even() {
                Self::gather_runs(&mut pieces, tools, (&samples[..columns.end], columns.start), even);
                continue;
            }
            for column in columns {
                if let Some((piece, u)) = basis.locate(distance.of(column)) {
                    pieces[piece].add(u, f64::from(samples[column]));
                }
            }
        }
        Self { pieces }
    }

    /// Along a straight edge a row's distances are evenly spaced: samples on a long piece are taken all at once.
    fn gather_runs(
        pieces: &mut [PieceSums],
        (basis, integers): (&Basis, &PowerSums),
        (samples, first): (&[f32], usize),
        (start, step): (f64, f64),
    ) {
        // A picture's columns are few: 32 bits turn into a number at once, 64 do not.
        let place = |column: usize| start + step * f64::from(column as u32);
        // The columns may begin a little before the profile.
        let Some((mut column, (mut piece, _))) =
            (first..samples.len()).find_map(|column| Some((column, basis.locate(place(column))?)))
        else {
            return;
        };
        let short = SHORT_RUN as f64 * step;
        while column < samples.len() {
            let x = place(column);
            let Some(next) = basis.next(piece, x) else { return };
            piece = next;
            let (u, sums) = (basis.within(piece, x), &mut pieces[piece]);
            if basis.holds(piece, x + short) {
                let end = basis.leaves(piece, column, (start, step)).min(samples.len());
                sums.add_run(&samples[column..end], (u, step * basis.inverse(piece)), integers);
                column = end;
            } else {
                sums.add(u, f64::from(samples[column]));
                column += 1;
            }
        }
    }

    /// Normal equations: matrix and right-hand side.
    fn equations(&self, basis: &Basis) -> (Banded, Vec<f64>) {
        let mut matrix = Banded::zero(basis.unknowns());
        let mut right = vec![0.0; basis.unknowns()];
        for (i, sums) in self.pieces.iter().enumerate().filter(|(_, s)| s.count() > 0.0) {
            basis.add_samples(i, sums.u.as_flattened(), sums.v.as_flattened(), (&mut matrix, &mut right));
        }
        (matrix, right)
    }

    fn count(&self) -> f64 {
        self.pieces.iter().map(PieceSums::count).sum()
    }

    fn squares(&self) -> f64 {
        self.pieces.iter().map(|p| p.vv).sum()
    }
}

/// A fitted profile. Distances grow to the right, whichever side is brighter.
#[derive(Debug, Clone)]
pub(crate) struct Profile {
    pub(crate) basis: Basis,
    pub(crate) coefficients: Vec<f64>,
    /// The same profile, ready to be asked at every sample.
    table: Table,
    factor: Factor,
    /// How the coefficients would move if one block of rows counted twice; one vector per block.
    pub(crate) influences: Vec<Vec<f64>>,
    /// How the coefficients would move by rounding to the file's steps of tone; one vector for each of several roundings.
    pub(crate) roundings: Vec<Vec<f64>>,
    /// Standard deviation of samples about the profile.
    pub(crate) noise: f64,
    /// Samples per pixel of distance near the edge.
    pub(crate) density: f64,
    /// Length of the pieces near the edge.
    pub(crate) spacing: f64,
    /// Part with the finest pieces.
    pub(crate) core: (f64, f64),
    /// Distances that every row reaches.
    pub(crate) common: (f64, f64),
}

impl Profile {
    /// Fits a profile with fine pieces over `core` and long ones out to `reach`, from rows cut into `blocks`.
    pub(crate) fn fit(strip: &Strip<'_>, layout: &Layout, blocks: usize) -> Option<Self> {
        let basis = Basis::new(layout.breaks())?;
        let parts = split(strip.rows(), blocks);
        let tools = (&basis, &PowerSums::up_to(strip.plane.width()));
        let blocks: Vec<Block> = parts.into_iter().map(|rows| Block::gather(strip, tools, rows)).collect();
        let equations: Vec<_> = blocks.iter().map(|b| b.equations(&basis)).collect();
        let mut matrix = Banded::zero(basis.unknowns());
        let mut right = vec![0.0; basis.unknowns()];
        for (m, r) in &equations {
            add(&mut matrix, m, 1.0);
            right.iter_mut().zip(r).for_each(|(a, b)| *a += b);
        }
        let count: f64 = blocks.iter().map(Block::count).sum();
        let (first, last) = basis.span();
        let density = count / (last - first);
        let unpenalised = matrix.clone();
        add(&mut matrix, &basis.roughness(), penalty(density, layout.spacing));
        let factor = matrix.factor()?;
        let coefficients = factor.solve(&right);
        let squares = blocks.iter().map(Block::squares).sum::<f64>();
        let residual = residual_squares(&unpenalised, &right, &coefficients, squares);
        let free = (count - basis.unknowns() as f64).max(1.0);
        let influences = influences(&equations, &factor, &coefficients);
        let noise = (residual / free).sqrt();
        let (spacing, core) = (layout.spacing, layout.core);
        let table = basis.tabulate(&coefficients);
        let mut profile = Self {
            basis,
            coefficients,
            table,
            factor,
            influences,
            roundings: Vec::new(),
            noise,
            density,
            spacing,
            core,
            common: strip.reach(1.0),
        };
        // Only with blocks is anything asked about how sure the profile is.
        if blocks.len() > 1
            && let Some(smooth) = profile.smoothed(unpenalised, &right)
        {
            profile.roundings = rounding::moves(strip, &profile, &smooth, &profile.factor);
        }
        Some(profile)
    }

    /// Coefficients of a profile with no more detail than the edge's own: free of the file's steps of tone.
    fn smoothed(&self, mut matrix: Banded, right: &[f64]) -> Option<Vec<f64>> {
        let cut = RISE_FREQUENCY / self.crossings()?.rise();
        add(&mut matrix, &self.basis.roughness(), self.density / (std::f64::consts::TAU * cut).powi(6));
        Some(matrix.factor()?.solve(right))
    }

    /// Level and slope at a distance.
    pub(crate) fn at(&self, distance: f64) -> (f64, f64) {
        self.table.at(&self.basis, distance)
    }

    /// Standard error of a weighted sum of levels by the noise of single samples: large where few of them lie, as at the ends.
    pub(crate) fn error_of(&self, levels: &[(f64, f64)]) -> f64 {
        let mut share = vec![0.0; self.basis.unknowns()];
        for (distance, weight) in levels {
            match self.basis.locate(*distance) {
                Some((piece, u)) => {
                    let values = self.basis.values(piece, u);
                    values.iter().enumerate().for_each(|(k, v)| share[self.basis.unknown(piece + k)] += weight * v);
                }
                None if *distance < self.basis.span().0 => share[0] += weight,
                None => *share.last_mut().unwrap_or(&mut 0.0) += weight,
            }
        }
        let through = self.factor.solve(&share);
        self.noise * share.iter().zip(through).map(|(a, b)| a * b).sum::<f64>().max(0.0).sqrt()
    }

    /// For matching a row's samples to the profile: sums of slope times (level less sample) and of slope squared.
    pub(crate) fn match_sums(&self, distance: &RowDistance<'_>, samples: &[f32], columns: Range<usize>) -> (f64, f64) {
        let mut sums = (0.0, 0.0);
        let mut add = |(level, slope): (f64, f64), sample: f32| {
            sums = (sums.0 + slope * (level - f64::from(sample)), sums.1 + slope * slope);
        };
        let Some((start, step)) = distance.even() else {
            columns.for_each(|column| add(self.at(distance.of(column)), samples[column]));
            return sums;
        };
        let mut piece = None;
        for column in columns {
            let x = start + step * f64::from(column as u32);
            // From column to column the piece is the same or one of the next few.
            piece = match piece {
                None => self.basis.locate(x).map(|(piece, _)| piece),
                Some(before) => self.basis.next(before, x),
            };
            let level_and_slope = piece.map_or_else(|| self.at(x), |piece| self.table.on(&self.basis, piece, x));
            add(level_and_slope, samples[column]);
        }
        sums
    }

    /// Level alone at a distance.
    #[inline]
    pub(crate) fn level(&self, distance: f64) -> f64 {
        self.table.value(&self.basis, distance)
    }

    /// What is left of a row's samples when the profile is taken off, from column `first` on; columns beyond the profile
    /// are not asked for. `out` is overwritten.
    pub(crate) fn residuals(
        &self,
        distance: &RowDistance<'_>,
        samples: &[f32],
        columns: Range<usize>,
        out: &mut Vec<f64>,
    ) {
        out.clear();
        let Some((start, step)) = distance.even() else {
            out.extend(columns.map(|c| f64::from(samples[c]) - self.level(distance.of(c))));
            return;
        };
        let mut column = columns.start;
        while column < columns.end {
            let x = start + step * column as f64;
            let Some((piece, first)) = self.basis.locate(x) else {
                out.push(f64::from(samples[column]) - self.level(x));
                column += 1;
                continue;
            };
            let end = self.basis.leaves(piece, column, (start, step)).min(columns.end);
            let (c, pace) = (self.table.piece(piece), step * self.basis.inverse(piece));
            out.extend(samples[column..end].iter().enumerate().map(|(i, &sample)| {
                let u = first + pace * f64::from(i as u32);
                f64::from(sample) - (((((c[5] * u + c[4]) * u + c[3]) * u + c[2]) * u + c[1]) * u + c[0])
            }));
            column = end;
        }
    }

    /// Levels of the left and right plateaus.
    pub(crate) fn plateaus(&self) -> (f64, f64) {
        (self.coefficients[0], self.coefficients[self.coefficients.len() - 1])
    }

    /// Right plateau minus left.
    pub(crate) fn step(&self) -> f64 {
        let (left, right) = self.plateaus();
        right - left
    }

    /// Height within the step, 0 on the left plateau and 1 on the right.
    pub(crate) fn share(&self, distance: f64) -> f64 {
        (self.level(distance) - self.plateaus().0) / self.step()
    }

    /// Where the profile crosses half of its step nearest to 0, then 10 % to the left and 90 % to the right of that.
    pub(crate) fn crossings(&self) -> Option<Crossings> {
        let (first, last) = self.basis.span();
        let fine = self.spacing / 4.0;
        let outward = |n: usize| [f64::from(n as u32) * fine, -f64::from(n as u32) * fine];
        let steps = ((last - first) / fine) as usize;
        let rises = |x: f64| self.share(x) < 0.5 && self.share(x + fine) >= 0.5;
        let start = (0..steps).flat_map(outward).find(|&x| x > first - fine && x < last && rises(x))?;
        let middle = self.bisect((start, start + fine), 0.5);
        let seek = |level: f64, way: f64| {
            let beyond = |x: &f64| if way < 0.0 { self.share(*x) <= level } else { self.share(*x) >= level };
            let found = (1..=steps).map(|n| middle + way * n as f64 * fine).find(beyond)?;
            let bracket = if way < 0.0 { (found, found + fine) } else { (found - fine, found) };
            Some(self.bisect(bracket, level))
        };
        Some(Crossings { low: seek(0.1, -1.0)?, middle, high: seek(0.9, 1.0)? })
    }

    /// Where the share passes `level` between a place below and a place above it.
    fn bisect(&self, (mut below, mut above): (f64, f64), level: f64) -> f64 {
        for _ in 0..50 {
            let middle = f64::midpoint(below, above);
            if self.share(middle) < level { below = middle } else { above = middle }
        }
        f64::midpoint(below, above)
    }

    /// Distances beyond which the profile stays on its plateaus.
    pub(crate) fn transition(&self) -> Option<(f64, f64)> {
        let crossings = self.crossings()?;
        let rise = crossings.rise();
        let (first, last) = self.basis.span();
        // Nothing beyond so many rises is taken for the transition: that is flare or uneven light.
        let limit = 6.0 * rise + 4.0;
        let (from, to) = ((crossings.middle - limit).max(first), (crossings.middle + limit).min(last));
        // Not to hang on the last digit where this comes out whole.
        let steps = (((to - from) / (self.spacing / 2.0) - 1e-6).ceil() as usize).max(1);
        let place = |i: usize| from + (to - from) * i as f64 / steps as f64;
        let (left, right) = self.plateaus();
        let off = |x: f64, plateau: f64| (self.at(x).0 - plateau).abs() > self.departure(x);
        let start = (0..=steps).map(place).find(|&x| off(x, left)).unwrap_or(crossings.low);
        let end = (0..=steps).rev().map(place).find(|&x| off(x, right)).unwrap_or(crossings.high);
        Some((start.min(crossings.low), end.max(crossings.high)))
    }

    /// Where the pieces of the next fit should lie, now that the transition is known.
    pub(crate) fn layout(&self) -> Option<Layout> {
        let (start, end) = self.transition()?;
        let rise = self.crossings()?.rise();
        let pad = 1.0 + 0.25 * rise;
        let spacing = (rise / PIECES_PER_RISE).max(FINEST_PIECE_PX);
        Some(Layout::new((start - pad, end + pad), spacing, self.basis.span()))
    }

    /// What counts as a departure from a plateau at a distance.
    fn departure(&self, distance: f64) -> f64 {
        let beyond = (self.core.0 - distance).max(distance - self.core.1).max(0.0);
        let piece = self.spacing + beyond * (GROWTH - 1.0);
        let error = self.noise / (self.density * piece).max(1.0).sqrt();
        (DEPARTURE * self.step().abs()).max(DEPARTURE_ERRORS * error)
    }
}

/// Places along the profile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Crossings {
    /// 10 % of the way from the left plateau to the right.
    pub(crate) low: f64,
    /// Half-way.
    pub(crate) middle: f64,
    /// 90 % of the way.
    pub(crate) high: f64,
}

impl Crossings {
    pub(crate) fn rise(&self) -> f64 {
        self.high - self.low
    }
}

/// Where the spline's pieces lie.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Layout {
    pub(crate) core: (f64, f64),
    pub(crate) spacing: f64,
    pub(crate) reach: (f64, f64),
}

impl Layout {
    /// For a transition that is only roughly known: `half_width` about 0.
    pub(crate) fn rough(half_width: f64, reach: (f64, f64)) -> Self {
        let core = (-half_width, half_width);
        Self::new(core, (half_width / PIECES_PER_RISE).max(FINEST_PIECE_PX), reach)
    }

    /// The same pieces about the edge out to another reach.
    pub(crate) fn reaching(&self, reach: (f64, f64)) -> Self {
        Self::new(self.core, self.spacing, reach)
    }

    /// The same pieces for the neighbourhood of the edge alone: enough of the plateaus to know their levels.
    pub(crate) fn within(&self, reach: (f64, f64)) -> Self {
        let margin = (self.core.1 - self.core.0) + 8.0;
        self.reaching((reach.0.max(self.core.0 - margin), reach.1.min(self.core.1 + margin)))
    }

    fn new(core: (f64, f64), spacing: f64, reach: (f64, f64)) -> Self {
        // A plateau of at least three pieces on either side.
        let core = (core.0.max(reach.0 + 3.0 * spacing), core.1.min(reach.1 - 3.0 * spacing));
        Self { core, spacing, reach }
    }

    fn breaks(&self) -> Vec<f64> {
        let (start, end) = self.core;
        let pieces = (((end - start) / self.spacing).round() as usize).max(1);
        let inner = (0..=pieces).map(|i| start + (end - start) * i as f64 / pieces as f64);
        let left = growing(self.spacing, start - self.reach.0);
        let right = growing(self.spacing, self.reach.1 - end);
        let before = left.iter().rev().map(|w| start - w);
        before.chain(inner).chain(right.iter().map(|w| end + w)).collect()
    }
}

/// Ends of ever longer pieces that fill a distance, counted from its start.
fn growing(first: f64, distance: f64) -> Vec<f64> {
    let mut ends = Vec::new();
    let (mut length, mut end) = (first, 0.0);
    while end < distance && ends.len() < 200 {
        length *= GROWTH;
        end += length;
        ends.push(end);
    }
    let scale = distance / end;
    ends.iter().map(|e| e * scale).collect()
}

/// Weight of the roughness integral.
fn penalty(density: f64, spacing: f64) -> f64 {
    density / (std::f64::consts::TAU * PENALTY_FREQUENCY / spacing).powi(6)
}

fn add(sum: &mut Banded, other: &Banded, factor: f64) {
    for (a, b) in sum.rows.iter_mut().zip(&other.rows) {
        a.iter_mut().zip(b).for_each(|(a, b)| *a += factor * b);
    }
}

/// Sum of squared residuals from the normal equations.
fn residual_squares(matrix: &Banded, right: &[f64], coefficients: &[f64], squares: f64) -> f64 {
    let through = matrix.times(coefficients);
    let fitted: f64 = coefficients.iter().zip(right).zip(&through).map(|((c, r), t)| c * (2.0 * r - t)).sum();
    (squares - fitted).max(0.0)
}

/// For each block, the coefficients' response to its residuals.
fn influences(equations: &[(Banded, Vec<f64>)], factor: &Factor, coefficients: &[f64]) -> Vec<Vec<f64>> {
    let of = |(matrix, right): &(Banded, Vec<f64>)| {
        let through = matrix.times(coefficients);
        let residual: Vec<f64> = right.iter().zip(&through).map(|(r, t)| r - t).collect();
        factor.solve(&residual)
    };
    equations.iter().map(of).collect()
}

/// Rows cut into so many blocks of nearly equal length.
pub(crate) fn split(rows: Range<usize>, blocks: usize) -> Vec<Range<usize>> {
    let (start, length) = (rows.start, rows.len());
    let blocks = blocks.clamp(1, length.max(1));
    let cut = |i: usize| start + length * i / blocks;
    (0..blocks).map(|i| cut(i)..cut(i + 1)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn layout_fills_the_reach_with_growing_pieces() {
        let layout = Layout { core: (-2.0, 3.0), spacing: 0.25, reach: (-40.0, 12.5) };
        let breaks = layout.breaks();
        assert_close!(breaks[0], -40.0, absolute = 1e-9);
        assert_close!(breaks[breaks.len() - 1], 12.5, absolute = 1e-9);
        assert!(breaks.windows(2).all(|w| w[1] > w[0]));
    }

    #[test]
    fn a_slanted_step_is_followed() {
        let line = Line { coefficients: vec![30.0, 3.0], centre: 30.0, half: 30.0 };
        let level = |d: f64| 0.5 + 0.3 * (d / 2.0).tanh();
        let plane = Plane::from_fn(60, 60, |c, r| level(line.row(r).of(c)) as f32).unwrap();
        let strip = Strip { plane: &plane, line: &line, rows: (0, 60) };
        let profile = Profile::fit(&strip, &Layout::rough(8.0, strip.reach(0.3)), 10).unwrap();
        for d in [-6.0, -2.0, -0.4, 0.0, 1.3, 5.0] {
            assert_close!(profile.at(d).0, level(d), absolute = 2e-5);
        }
        let crossings = profile.crossings().unwrap();
        assert_close!(crossings.middle, 0.0, absolute = 1e-4);
        // tanh passes 0.8 at artanh 0.8 = 1.0986; times 2, twice.
        assert_close!(crossings.rise(), 4.0 * 0.8_f64.atanh(), absolute = 1e-3);
        assert!(profile.noise < 1e-5);
    }
}
