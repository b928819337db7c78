//! A quintic spline that ends in two plateaus, and its Fourier transform.
//!
//! The edge profile is written as a spline with fine pieces where it changes fast and ever longer ones towards
//! the plateaus. It is fitted to every sample at its true distance from the edge, so nothing is binned and
//! nothing has to be corrected for a bin; its derivative and that derivative's Fourier integral are exact, so nothing has
//! to be corrected for a difference filter either.

use crate::numeric::{BAND, Banded};

/// Polynomial degree of the pieces.
const DEGREE: usize = 5;
/// B-splines that overlap on one piece.
pub(crate) const OVERLAP: usize = DEGREE + 1;

/// A complex number as (real, imaginary).
pub(crate) type Complex = (f64, f64);

/// The pieces and the basis functions on them.
#[derive(Debug, Clone)]
pub(crate) struct Basis {
    /// Ends of the pieces, ascending.
    breaks: Vec<f64>,
    /// One over the pieces' lengths.
    inverse: Vec<f64>,
    /// For each piece and each of its six B-splines, the polynomial in u = (x - start) / length, lowest power first.
    pieces: Vec<[[f64; OVERLAP]; OVERLAP]>,
    /// Piece that holds the left end of each cell of a fine regular grid: finds a piece without a search.
    lookup: Vec<u32>,
    /// Cells per unit.
    per_step: f64,
}

impl Basis {
    /// A basis on these breaks; there must be at least seven pieces of positive length.
    pub(crate) fn new(breaks: Vec<f64>) -> Option<Self> {
        let lengths_ok = breaks.windows(2).all(|w| w[1] - w[0] > 1e-9 && w[1].is_finite());
        if breaks.len() < 8 || !lengths_ok {
            return None;
        }
        let knots = extended(&breaks);
        let pieces = (0..breaks.len() - 1).map(|i| piece(&knots, i)).collect();
        let (lookup, per_step) = lookup(&breaks);
        let inverse = breaks.windows(2).map(|w| 1.0 / (w[1] - w[0])).collect();
        Some(Self { breaks, inverse, pieces, lookup, per_step })
    }

    /// Pieces.
    pub(crate) fn len(&self) -> usize {
        self.pieces.len()
    }

    /// Free coefficients: the first six B-splines share one, and so do the last six, so that the spline is exactly
    /// constant on its first and on its last piece.
    pub(crate) fn unknowns(&self) -> usize {
        self.len() - DEGREE
    }

    /// First and last abscissa.
    pub(crate) fn span(&self) -> (f64, f64) {
        (self.breaks[0], self.breaks[self.breaks.len() - 1])
    }

    /// The coefficient that B-spline `k` uses.
    pub(crate) fn unknown(&self, k: usize) -> usize {
        k.clamp(DEGREE, self.len() - 1) - DEGREE
    }

    /// Piece that holds `x` and the place in it, 0 to 1; `None` outside.
    #[inline]
    pub(crate) fn locate(&self, x: f64) -> Option<(usize, f64)> {
        let (first, last) = self.span();
        if !(x >= first && x < last) {
            return None;
        }
        let cell = ((x - first) * self.per_step) as usize;
        let mut i = self.lookup[cell.min(self.lookup.len() - 1)] as usize;
        while self.breaks[i + 1] <= x {
            i += 1;
        }
        Some((i, (x - self.breaks[i]) * self.inverse[i]))
    }

    /// The six B-splines on a piece at `u`.
    pub(crate) fn values(&self, piece: usize, u: f64) -> [f64; OVERLAP] {
        let mut out = [0.0; OVERLAP];
        for (value, c) in out.iter_mut().zip(&self.pieces[piece]) {
            *value = ((((c[5] * u + c[4]) * u + c[3]) * u + c[2]) * u + c[1]) * u + c[0];
        }
        out
    }

    /// The spline on one piece as a polynomial in u.
    fn polynomial(&self, coefficients: &[f64], piece: usize) -> [f64; OVERLAP] {
        let mut out = [0.0; OVERLAP];
        for (k, basis) in self.pieces[piece].iter().enumerate() {
            let c = coefficients[self.unknown(piece + k)];
            for (o, b) in out.iter_mut().zip(basis) {
                *o += c * b;
            }
        }
        out
    }

    /// Value and slope at `x`; constant beyond the ends.
    pub(crate) fn evaluate(&self, coefficients: &[f64], x: f64) -> (f64, f64) {
        let Some((piece, u)) = self.locate(x) else {
            let end = if x < self.span().0 { 0 } else { coefficients.len() - 1 };
            return (coefficients[end], 0.0);
        };
        let p = self.polynomial(coefficients, piece);
        let length = self.breaks[piece + 1] - self.breaks[piece];
        (crate::numeric::polynomial(&p, u), crate::numeric::polynomial_slope(&p, u) / length)
    }

    /// The spline with these coefficients, ready to be asked very often.
    pub(crate) fn tabulate(&self, coefficients: &[f64]) -> Table {
        let ends = (coefficients[0], coefficients[coefficients.len() - 1]);
        Table { pieces: (0..self.len()).map(|i| self.polynomial(coefficients, i)).collect(), ends }
    }

    /// One over a piece's length.
    #[inline]
    pub(crate) fn inverse(&self, piece: usize) -> f64 {
        self.inverse[piece]
    }

    /// The first column from `from` on whose distance `start + step * column` lies beyond this piece, for a positive
    /// step; never `from` itself.
    #[inline]
    pub(crate) fn leaves(&self, piece: usize, from: usize, (start, step): (f64, f64)) -> usize {
        let beyond = (self.breaks[piece + 1] - start) / step;
        // Rounding may put the border a column too far or too near: a sample within 1e-12 of a break is right in either piece.
        let whole = beyond.max(0.0) as usize;
        (whole + usize::from(beyond > whole as f64)).max(from + 1)
    }

    /// Place in a piece, 0 to 1, of an `x` that it holds.
    #[inline]
    pub(crate) fn within(&self, piece: usize, x: f64) -> f64 {
        (x - self.breaks[piece]) * self.inverse[piece]
    }

    /// Whether `x`, not before this piece, is still on it.
    #[inline]
    pub(crate) fn holds(&self, piece: usize, x: f64) -> bool {
        x < self.breaks[piece + 1]
    }

    /// The piece that holds `x`, which does not lie before this piece; `None` beyond the last.
    #[inline]
    pub(crate) fn next(&self, piece: usize, x: f64) -> Option<usize> {
        let ahead = self.breaks[piece + 1..].iter().position(|&end| x < end)?;
        Some(piece + ahead)
    }

    /// Start and length of a piece.
    #[inline]
    pub(crate) fn extent(&self, piece: usize) -> (f64, f64) {
        (self.breaks[piece], self.breaks[piece + 1] - self.breaks[piece])
    }

    /// Adds the samples on one piece, given as sums of u^p and of u^p times value, to normal equations.
    pub(crate) fn add_samples(
        &self,
        piece: usize,
        powers: &[f64],
        values: &[f64],
        (matrix, right): (&mut Banded, &mut [f64]),
    ) {
        let polynomials = &self.pieces[piece];
        for (a, pa) in polynomials.iter().enumerate() {
            let weighted: [f64; OVERLAP] =
                std::array::from_fn(|j| pa.iter().enumerate().map(|(i, c)| c * powers[i + j]).sum());
            for (b, pb) in polynomials.iter().enumerate().skip(a) {
                let value: f64 = weighted.iter().zip(pb).map(|(w, c)| w * c).sum();
                // The other order of a pair is the same.
                self.add_pair(matrix, (piece + a, piece + b), if a == b { value } else { 2.0 * value });
            }
            right[self.unknown(piece + a)] += pa.iter().zip(values).map(|(c, v)| c * v).sum::<f64>();
        }
    }

    /// Integral of the squared third derivative, as a matrix over the free coefficients.
    pub(crate) fn roughness(&self) -> Banded {
        let mut matrix = Banded::zero(self.unknowns());
        for (i, piece) in self.pieces.iter().enumerate() {
            let length = self.breaks[i + 1] - self.breaks[i];
            let third: Vec<[f64; 3]> = piece.iter().map(|c| [6.0 * c[3], 24.0 * c[4], 60.0 * c[5]]).collect();
            for a in 0..OVERLAP {
                for b in 0..OVERLAP {
                    let value = product_integral(&third[a], &third[b]) / length.powi(5);
                    self.add_pair(&mut matrix, (i + a, i + b), value);
                }
            }
        }
        matrix
    }

    /// Adds one ordered pair of B-splines to a symmetric matrix that stores each pair once.
    fn add_pair(&self, matrix: &mut Banded, (k, l): (usize, usize), value: f64) {
        let (r, s) = (self.unknown(k), self.unknown(l));
        // A pair of different coefficients is met in both orders and must count once.
        matrix.add(r, s, if r == s { value } else { value / 2.0 });
    }

    /// The spline whose slope is this one's times a window that changes slowly against the pieces (Schoenberg's approximation: each step from
    /// one coefficient to the next is weighed at the place where its B-spline of the slope is centred).
    pub(crate) fn windowed(&self, coefficients: &[f64], window: impl Fn(f64) -> f64) -> Vec<f64> {
        let place = |step: usize| self.breaks[step + 1..step + DEGREE].iter().sum::<f64>() / (DEGREE - 1) as f64;
        let mut level = coefficients[0];
        let steps = (1..coefficients.len()).map(|i| {
            level += window(place(i)) * (coefficients[i] - coefficients[i - 1]);
            level
        });
        std::iter::once(coefficients[0]).chain(steps.collect::<Vec<_>>()).collect()
    }

    /// For each free coefficient, the Fourier integral of its function's derivative at `frequency` (cycles per unit).
    pub(crate) fn transform(&self, frequency: f64) -> Vec<Complex> {
        let mut out = vec![(0.0, 0.0); self.unknowns()];
        // Pieces near the edge are equally long and share their moments.
        let (mut known, mut moments) = (0.0, [(0.0, 0.0); DEGREE]);
        // ... and from one to the next the wave turns by the same angle.
        let (mut turn, mut wave) = ((0.0, 0.0), (0.0, 0.0));
        let rate = -std::f64::consts::TAU * frequency;
        // The outermost pieces are constant.
        for i in 1..self.len() - 1 {
            let (start, length) = self.extent(i);
            if (length - known).abs() > 1e-12 * length {
                (known, moments) = (length, moments_of(-rate * length));
                (turn, wave) = ((rate * length).sin_cos(), (rate * start).sin_cos());
            } else {
                wave = (wave.0 * turn.1 + wave.1 * turn.0, wave.1 * turn.1 - wave.0 * turn.0);
            }
            let (sin, cos) = wave;
            for (k, c) in self.pieces[i].iter().enumerate() {
                let (mut re, mut im) = (0.0, 0.0);
                for (p, m) in moments.iter().enumerate() {
                    let slope = (p + 1) as f64 * c[p + 1];
                    re += slope * m.0;
                    im += slope * m.1;
                }
                let o = &mut out[self.unknown(i + k)];
                o.0 += re * cos - im * sin;
                o.1 += re * sin + im * cos;
            }
        }
        out
    }
}

/// A spline as one polynomial for each piece.
#[derive(Debug, Clone)]
pub(crate) struct Table {
    pieces: Vec<[f64; OVERLAP]>,
    ends: (f64, f64),
}

impl Table {
    /// The polynomial of one piece in u.
    #[inline]
    pub(crate) fn piece(&self, piece: usize) -> &[f64; OVERLAP] {
        &self.pieces[piece]
    }

    /// Value at `x`; constant beyond the ends.
    #[inline]
    pub(crate) fn value(&self, basis: &Basis, x: f64) -> f64 {
        match basis.locate(x) {
            Some((piece, u)) => {
                let c = &self.pieces[piece];
                ((((c[5] * u + c[4]) * u + c[3]) * u + c[2]) * u + c[1]) * u + c[0]
            }
            None if x < basis.span().0 => self.ends.0,
            None => self.ends.1,
        }
    }

    /// Value and slope at `x`; constant beyond the ends.
    #[inline]
    pub(crate) fn at(&self, basis: &Basis, x: f64) -> (f64, f64) {
        let Some((piece, u)) = basis.locate(x) else {
            return (if x < basis.span().0 { self.ends.0 } else { self.ends.1 }, 0.0);
        };
        self.in_piece(basis, piece, u)
    }

    /// Value and slope at an `x` that this piece holds.
    #[inline]
    pub(crate) fn on(&self, basis: &Basis, piece: usize, x: f64) -> (f64, f64) {
        self.in_piece(basis, piece, basis.within(piece, x))
    }

    #[inline]
    fn in_piece(&self, basis: &Basis, piece: usize, u: f64) -> (f64, f64) {
        let c = &self.pieces[piece];
        let value = ((((c[5] * u + c[4]) * u + c[3]) * u + c[2]) * u + c[1]) * u + c[0];
        let slope = (((5.0 * c[5] * u + 4.0 * c[4]) * u + 3.0 * c[3]) * u + 2.0 * c[2]) * u + c[1];
        (value, slope * basis.inverse(piece))
    }
}

/// Integral over 0..1 of the product of two quadratics.
fn product_integral(a: &[f64; 3], b: &[f64; 3]) -> f64 {
    let mut sum = 0.0;
    for (i, x) in a.iter().enumerate() {
        for (j, y) in b.iter().enumerate() {
            sum += x * y / (i + j + 1) as f64;
        }
    }
    sum
}

/// Integrals over 0..1 of u^p exp(-i a u) for p = 0..4.
fn moments_of(a: f64) -> [Complex; DEGREE] {
    /// Below this a few terms of the series do.
    const SERIES_TO: f64 = 1.5;
    /// Below this the recursion loses digits and the quadrature is exact to rounding.
    const RECURSION_FROM: f64 = 6.0;
    if a.abs() < SERIES_TO {
        moments_by_series(a)
    } else if a.abs() < RECURSION_FROM {
        moments_by_quadrature(a)
    } else {
        moments_by_recursion(a)
    }
}

/// By the exponential's own series: the sum of (-ia)^n / n! / (n + p + 1). The first term left out is below
/// 1.5^18 / 18! / 19 = 1e-14.
fn moments_by_series(a: f64) -> [Complex; DEGREE] {
    const TERMS: usize = 18;
    /// One over 1, 2, 3, ...
    const INVERSE: [f64; TERMS + DEGREE] = {
        let mut out = [0.0; TERMS + DEGREE];
        let mut i = 0;
        while i < out.len() {
            out[i] = 1.0 / (i + 1) as f64;
            i += 1;
        }
        out
    };
    let mut out = [(0.0, 0.0); DEGREE];
    let mut term = 1.0;
    for n in (0..TERMS).step_by(2) {
        // (-i)^n: 1, -i, -1, i and again; every second pair has the other sign.
        let next = -term * a * INVERSE[n];
        for (p, o) in out.iter_mut().enumerate() {
            o.0 += term * INVERSE[n + p];
            o.1 += next * INVERSE[n + 1 + p];
        }
        term = next * a * INVERSE[n + 1];
    }
    out
}

/// By parts: I_p = (p I_(p-1) - exp(-ia)) / (ia).
fn moments_by_recursion(a: f64) -> [Complex; DEGREE] {
    let end = (a.cos(), -a.sin());
    let mut out = [(0.0, 0.0); DEGREE];
    let mut previous = (0.0, 0.0);
    for (p, o) in out.iter_mut().enumerate() {
        let start = if p == 0 { 1.0 } else { 0.0 };
        let (re, im) = (start + p as f64 * previous.0 - end.0, p as f64 * previous.1 - end.1);
        // Division by ia.
        *o = (im / a, -re / a);
        previous = *o;
    }
    out
}

/// Half of the 12-point Gauss-Legendre rule on -1..1 as (node, weight) (Abramowitz & Stegun, table 25.4).
const GAUSS_12: [(f64, f64); 6] = [
    (0.125_233_408_511_469, 0.249_147_045_813_403),
    (0.367_831_498_998_180, 0.233_492_536_538_355),
    (0.587_317_954_286_617, 0.203_167_426_723_066),
    (0.769_902_674_194_305, 0.160_078_328_543_346),
    (0.904_117_256_370_475, 0.106_939_325_995_318),
    (0.981_560_634_246_719, 0.047_175_336_386_512),
];

fn moments_by_quadrature(a: f64) -> [Complex; DEGREE] {
    let mut out = [(0.0, 0.0); DEGREE];
    let (middle_sin, middle_cos) = (-a / 2.0).sin_cos();
    for (node, weight) in GAUSS_12 {
        // exp(-i a (1 -+ node) / 2): the middle's turn, forth and back by the same angle.
        let (sin, cos) = (a * node / 2.0).sin_cos();
        let turned = |sin: f64| (middle_cos * cos - middle_sin * sin, middle_sin * cos + middle_cos * sin);
        for (u, (re, im)) in [((1.0 - node) / 2.0, turned(sin)), ((1.0 + node) / 2.0, turned(-sin))] {
            let mut power = weight / 2.0;
            for o in &mut out {
                o.0 += power * re;
                o.1 += power * im;
                power *= u;
            }
        }
    }
    out
}

/// Breaks with five more on either side, spaced as the outermost piece.
fn extended(breaks: &[f64]) -> Vec<f64> {
    let n = breaks.len();
    let (left, right) = (breaks[1] - breaks[0], breaks[n - 1] - breaks[n - 2]);
    let before = (1..=DEGREE).rev().map(|i| breaks[0] - i as f64 * left);
    let after = (1..=DEGREE).map(|i| breaks[n - 1] + i as f64 * right);
    before.chain(breaks.iter().copied()).chain(after).collect()
}

/// The six B-splines on piece `i` as polynomials in u, by the Cox-de Boor recursion (de Boor, A Practical Guide to
/// Splines, chapter IX) carried out on polynomials.
fn piece(knots: &[f64], i: usize) -> [[f64; OVERLAP]; OVERLAP] {
    let at = i + DEGREE;
    let (start, length) = (knots[at], knots[at + 1] - knots[at]);
    let mut current: Vec<[f64; OVERLAP]> = vec![[1.0, 0.0, 0.0, 0.0, 0.0, 0.0]];
    for p in 1..=DEGREE {
        let mut next = vec![[0.0; OVERLAP]; p + 1];
        for (m, old) in current.iter().enumerate() {
            // `old` is the B-spline of degree p - 1 that starts at this knot.
            let j = at + 1 - p + m;
            let width = knots[j + p] - knots[j];
            // It rises into the B-spline of degree p that starts with it and falls in the one that starts before.
            add_times_line(&mut next[m + 1], old, (start - knots[j]) / width, length / width);
            add_times_line(&mut next[m], old, (knots[j + p] - start) / width, -length / width);
        }
        current = next;
    }
    std::array::from_fn(|k| current[k])
}

/// Adds p(u) (a + b u).
fn add_times_line(out: &mut [f64; OVERLAP], p: &[f64; OVERLAP], a: f64, b: f64) {
    for i in 0..OVERLAP {
        out[i] += a * p[i] + if i > 0 { b * p[i - 1] } else { 0.0 };
    }
}

/// For cells as long as the shortest piece, the piece that holds each cell's left end.
fn lookup(breaks: &[f64]) -> (Vec<u32>, f64) {
    let shortest = breaks.windows(2).map(|w| w[1] - w[0]).fold(f64::INFINITY, f64::min);
    let span = breaks[breaks.len() - 1] - breaks[0];
    let cells = (span / shortest).ceil().min(1e6) as usize;
    let step = span / cells as f64;
    let mut piece = 0;
    let find = |cell: usize| {
        while piece + 2 < breaks.len() && breaks[piece + 1] <= breaks[0] + cell as f64 * step {
            piece += 1;
        }
        piece as u32
    };
    ((0..cells).map(find).collect(), 1.0 / step)
}

const _: () = assert!(BAND == DEGREE, "the matrices' band is as wide as the splines' overlap");

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    fn uneven() -> Basis {
        Basis::new(vec![-9.0, -6.0, -4.0, -2.5, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.75, 3.0, 5.0, 8.0]).unwrap()
    }

    #[test]
    fn basis_functions_sum_to_one() {
        // Partition of unity of B-splines.
        let basis = uneven();
        for i in 0..basis.len() {
            for u in [0.0, 0.3, 0.99] {
                assert_close!(basis.values(i, u).iter().sum::<f64>(), 1.0, absolute = 1e-12);
            }
        }
    }

    #[test]
    fn value_and_slope_are_continuous_across_pieces() {
        let basis = uneven();
        let c: Vec<f64> = (0..basis.unknowns()).map(|i| (i as f64 * 1.3).sin()).collect();
        for x in [-6.0, -4.0, -1.0, 0.0, 1.75, 5.0] {
            let (before, after) = (basis.evaluate(&c, x - 1e-9), basis.evaluate(&c, x + 1e-9));
            assert_close!(before.0, after.0, absolute = 1e-7);
            assert_close!(before.1, after.1, absolute = 1e-7);
        }
    }

    #[test]
    fn a_window_weighs_the_slope_and_leaves_the_rest() {
        let basis = uneven();
        let c: Vec<f64> = (0..basis.unknowns()).map(|i| (i as f64 * 1.3).sin()).collect();
        // Level at one it changes nothing, level at a half it halves every slope, at nought it leaves the first level.
        for (x, level) in [(-3.0, 1.0), (0.2, 0.5), (0.7, 0.5), (4.0, 0.0)] {
            let windowed = basis.windowed(&c, |_| level);
            assert_close!(basis.evaluate(&windowed, x).1, level * basis.evaluate(&c, x).1, absolute = 1e-12);
        }
        // A straight window on fine, even pieces: the slope of tanh times it, to second order in the pieces.
        let basis = Basis::new((-80..=80).map(|i| f64::from(i) * 0.1).collect()).unwrap();
        let places = (0..basis.unknowns()).map(|i| -8.0 + 0.1 * (i as f64 + 3.0));
        let c: Vec<f64> = places.map(|x| (x / 2.0).tanh()).collect();
        let windowed = basis.windowed(&c, |x| 0.5 + x / 20.0);
        for x in [-3.0, -0.4, 0.0, 1.7] {
            let expected = (0.5 + x / 20.0) * basis.evaluate(&c, x).1;
            assert_close!(basis.evaluate(&windowed, x).1, expected, absolute = 5e-4, "{x}");
        }
    }

    #[test]
    fn the_table_is_the_spline() {
        let basis = uneven();
        let c: Vec<f64> = (0..basis.unknowns()).map(|i| (i as f64 * 1.1).cos()).collect();
        let table = basis.tabulate(&c);
        for x in [-20.0, -9.0, -6.3, -2.5, -0.2, 0.0, 1.9, 7.99, 8.0, 30.0] {
            let (value, slope) = basis.evaluate(&c, x);
            assert_close!(table.value(&basis, x), value, absolute = 1e-12, "{x}");
            assert_close!(table.at(&basis, x).0, value, absolute = 1e-12, "{x}");
            assert_close!(table.at(&basis, x).1, slope, absolute = 1e-12, "slope at {x}");
        }
    }

    #[test]
    fn a_run_of_columns_stays_on_its_piece() {
        let basis = uneven();
        for (start, step) in [(-9.0, 0.1), (-8.7, 0.37), (-9.0, 1.0)] {
            let mut column = 0;
            while let Some((piece, _)) = basis.locate(start + step * column as f64) {
                let end = basis.leaves(piece, column, (start, step));
                assert!(end > column);
                for inside in column..end {
                    let x = start + step * inside as f64;
                    let (from, length) = basis.extent(piece);
                    assert!(x >= from - 1e-9 && x <= from + length + 1e-9, "{x} in {from} + {length}");
                }
                column = end;
            }
            assert!(start + step * column as f64 >= 8.0);
        }
    }

    #[test]
    fn ends_are_level() {
        let basis = uneven();
        let c: Vec<f64> = (0..basis.unknowns()).map(|i| i as f64).collect();
        assert_close!(basis.evaluate(&c, -8.0).1, 0.0, absolute = 1e-12);
        assert_close!(basis.evaluate(&c, 7.0).0, c[c.len() - 1], absolute = 1e-12);
        assert_close!(basis.evaluate(&c, -100.0).0, 0.0, absolute = 1e-12);
    }

    #[test]
    fn transform_equals_a_fine_sum() {
        // The Fourier integral of the slope against a midpoint sum of 200 000 terms (error about 1e-9).
        let basis = uneven();
        let c: Vec<f64> = (0..basis.unknowns()).map(|i| (i as f64 * 0.9).cos()).collect();
        for frequency in [0.0, 0.05, 0.3, 0.9, 2.0] {
            let by_basis = basis.transform(frequency);
            let sum = by_basis.iter().zip(&c).fold((0.0, 0.0), |s, (f, c)| (s.0 + f.0 * c, s.1 + f.1 * c));
            let (first, last) = basis.span();
            let step = (last - first) / 200_000.0;
            let mut plain = (0.0, 0.0);
            for n in 0..200_000 {
                let x = first + (f64::from(n) + 0.5) * step;
                let (sin, cos) = (-std::f64::consts::TAU * frequency * x).sin_cos();
                let slope = basis.evaluate(&c, x).1 * step;
                plain = (plain.0 + slope * cos, plain.1 + slope * sin);
            }
            assert_close!(sum.0, plain.0, absolute = 1e-6);
            assert_close!(sum.1, plain.1, absolute = 1e-6);
        }
    }

    #[test]
    fn moments_agree_where_two_ways_meet() {
        for (a, b) in moments_by_quadrature(6.0).iter().zip(moments_by_recursion(6.0)) {
            assert_close!(a.0, b.0, absolute = 1e-11);
            assert_close!(a.1, b.1, absolute = 1e-11);
        }
        for at in [-1.5, 0.0, 0.3, 1.5] {
            for (a, b) in moments_by_series(at).iter().zip(moments_by_quadrature(at)) {
                assert_close!(a.0, b.0, absolute = 1e-13, "{at}");
                assert_close!(a.1, b.1, absolute = 1e-13, "{at}");
            }
        }
    }

    #[test]
    fn roughness_is_the_integral_of_the_third_derivative_squared() {
        let basis = uneven();
        let c: Vec<f64> = (0..basis.unknowns()).map(|i| (i as f64 * 0.7).sin()).collect();
        let by_matrix: f64 = basis.roughness().times(&c).iter().zip(&c).map(|(a, b)| a * b).sum();
        let (first, last) = basis.span();
        let (n, e) = (40_000, 1e-3);
        let step = (last - first) / f64::from(n);
        let slope = |x: f64| basis.evaluate(&c, x).1;
        let third = |x: f64| (slope(x + e) - 2.0 * slope(x) + slope(x - e)) / (e * e);
        let plain: f64 = (0..n).map(|i| third(first + (f64::from(i) + 0.5) * step).powi(2) * step).sum();
        assert_close!(by_matrix, plain, relative = 1e-3);
    }
}
