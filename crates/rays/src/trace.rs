//! The exact trace: where a ray meets a surface and how it leaves (Snell), for as many rays at once as the processor takes.
//!
//! Sphere: from the point of the ray nearest to the vertex, D. P. Feder, "Optical calculations with automatic computing
//! machinery", *J. Opt. Soc. Am.* 41, 1951, 630, which loses no digits however far the ray comes from; conics likewise.
//! Aspheres: Newton's rule from the conic's point, to [`SETTLED_MM`].
//!
//! Work goes in blocks: a block's columns stay in the nearest cache while every surface passes over them. Planes and spheres
//! are first traced as if nothing could go wrong (`fast`): a ray that misses or is totally reflected then becomes NaN, or
//! meets a surface from behind, and its group goes again from its start, slowly, with every loss written down where it
//! happens.

use crate::beam::{Loss, Rays};
use crate::lanes::{Lanes, Mask};
use crate::sequence::{Sequence, Step};
use crate::surface::Shape;
use pulp::{Arch, Simd, WithSimd};
use std::ops::Range;

mod fast;

/// A point on an asphere is found when it lies this near to the surface along the axis, mm: 2·10⁻⁸ of a wave of green
/// light, and some hundred roundings of a coordinate. One more step is then made.
pub const SETTLED_MM: f64 = 1e-11;

/// Newton doubles its digits: from a conic within a millimetre of the asphere four steps are the rule, twelve a refusal.
const MOST_STEPS: usize = 12;

/// Rays in a block: nine columns of 192 doubles are 13.5 KB, less than half of a common first-level cache; a third as many were a
/// few per cent slower in the bench, since every surface has to start anew.
const BLOCK: usize = 192;

/// What an opening does to the rays outside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Openings {
    /// They end there, counted as [`Loss::Cut`].
    Cut,
    /// They go on, and [`Rays::fullness`] tells by how much they are outside: for finding the edge of a pupil.
    Measure,
}

impl Sequence {
    /// Traces rays through every surface. They start relative to the first vertex and end on the last surface, relative to
    /// the last vertex.
    pub fn trace(&self, rays: &mut Rays, openings: Openings) {
        self.trace_rows(rays, 0..self.steps.len(), openings);
    }

    /// Traces rays through some of the surfaces only: they start relative to the vertex before `rows` (to the first one of
    /// the lens when it starts at 0).
    pub fn trace_rows(&self, rays: &mut Rays, rows: Range<usize>, openings: Openings) {
        let first = rows.start;
        Arch::new().dispatch(Work { way: Way { steps: &self.steps[rows], first, openings }, rays });
    }
}

struct Work<'a> {
    way: Way<'a>,
    rays: &'a mut Rays,
}

impl WithSimd for Work<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { way, rays } = self;
        let mut columns = rays.columns.each_mut().map(|column| S::as_mut_simd_f64s(column).0);
        let per_block = BLOCK / S::F64_LANES;
        let quick = way.steps.iter().all(|step| matches!(step.shape, Shape::Plane | Shape::Sphere));
        let cuts = way.openings == Openings::Cut;
        let ready: Vec<fast::Ready> = way.steps.iter().map(fast::Ready::new).collect();
        // Whole columns lie a power of two apart and would push each other out of the cache; these do not.
        let mut near = [[0.0; BLOCK]; Rays::COLUMNS];
        while !columns[0].is_empty() {
            let take = per_block.min(columns[0].len());
            let mut block = columns.each_mut().map(|column| column.split_off_mut(..take).unwrap_or_default());
            if !quick {
                careful(simd, block, &way);
                continue;
            }
            let mut near = near.each_mut().map(|column| &mut S::as_mut_simd_f64s(column).0[..take]);
            for (near, column) in near.iter_mut().zip(&block) {
                near.copy_from_slice(column);
            }
            fast::trace(simd, near.each_mut().map(|column| &mut **column), &ready);
            if fast::all_live(simd, &mut near, cuts) {
                for (column, near) in block.iter_mut().zip(&near) {
                    column.copy_from_slice(near);
                }
                continue;
            }
            for i in 0..take {
                if fast::settle(simd, &mut near, i, cuts) {
                    for (column, near) in block.iter_mut().zip(&near) {
                        column[i] = near[i];
                    }
                } else {
                    careful(simd, block.each_mut().map(|column| &mut column[i..=i]), &way);
                }
            }
        }
    }
}

/// What rays go through.
struct Way<'a> {
    steps: &'a [Step],
    first: usize,
    openings: Openings,
}

/// Every surface in turn, with every loss written down.
#[inline(always)]
fn careful<S: Simd>(simd: S, mut block: [&mut [S::f64s]; Rays::COLUMNS], way: &Way) {
    for (i, step) in way.steps.iter().enumerate() {
        let surface = Constants::new(simd, step, way.first + i, way.openings);
        pass(simd, block.each_mut().map(|column| &mut **column), step, surface);
    }
}

/// One block through one surface.
#[inline(always)]
fn pass<S: Simd>(simd: S, block: [&mut [S::f64s]; Rays::COLUMNS], step: &Step, surface: Constants<S>) {
    match step.shape {
        Shape::Plane if step.before == step.after => each(simd, block, |ray| surface.pass(ray)),
        Shape::Plane => each(simd, block, |ray| surface.plane(ray)),
        Shape::Sphere => each(simd, block, |ray| surface.sphere(ray)),
        Shape::Conic => each(simd, block, |ray| surface.conic(ray)),
        Shape::Asphere => each(simd, block, |ray| surface.asphere(ray, step)),
    }
}

/// Applies `surface` to every group of rays of the block.
#[inline(always)]
fn each<S: Simd>(simd: S, block: [&mut [S::f64s]; Rays::COLUMNS], surface: impl Fn(Group<S>) -> Group<S>) {
    let [x, y, z, l, m, n, path, full, fate] = block;
    let columns = x.iter_mut().zip(y).zip(z).zip(l).zip(m).zip(n).zip(path).zip(full).zip(fate);
    for ((((((((x, y), z), l), m), n), path), full), fate) in columns {
        let out = surface(Group {
            at: [Lanes { simd, value: *x }, Lanes { simd, value: *y }, Lanes { simd, value: *z }],
            toward: [Lanes { simd, value: *l }, Lanes { simd, value: *m }, Lanes { simd, value: *n }],
            path: Lanes { simd, value: *path },
            full: Lanes { simd, value: *full },
            fate: Lanes { simd, value: *fate },
        });
        (*x, *y, *z) = (out.at[0].value, out.at[1].value, out.at[2].value);
        (*l, *m, *n) = (out.toward[0].value, out.toward[1].value, out.toward[2].value);
        (*path, *full, *fate) = (out.path.value, out.full.value, out.fate.value);
    }
}

/// Some rays side by side.
#[derive(Clone, Copy)]
struct Group<S: Simd> {
    at: [Lanes<S>; 3],
    toward: [Lanes<S>; 3],
    path: Lanes<S>,
    full: Lanes<S>,
    fate: Lanes<S>,
}

/// A step's numbers, spread over the lanes once for a whole block.
#[derive(Clone, Copy)]
struct Constants<S: Simd> {
    simd: S,
    zero: Lanes<S>,
    one: Lanes<S>,
    gap: Lanes<S>,
    curvature: Lanes<S>,
    conic: Lanes<S>,
    before: Lanes<S>,
    /// n/n', its square, and 1 less its square.
    ratio: Lanes<S>,
    ratio_squared: Lanes<S>,
    ratio_rest: Lanes<S>,
    /// One over the squared clear half diameter; 0 where unknown.
    fill: Lanes<S>,
    /// The fullness beyond which a ray is cut: 1, or infinity when it is only measured.
    limit: Lanes<S>,
    /// Codes of the four losses at this row.
    losses: [Lanes<S>; 4],
}

/// A point on a surface: how far along the ray, and the cosine of incidence times the length of the gradient there.
#[derive(Clone, Copy)]
struct Met<S: Simd> {
    distance: Lanes<S>,
    slant: Lanes<S>,
    missed: Mask<S>,
}

impl<S: Simd> Constants<S> {
    #[inline(always)]
    fn new(simd: S, step: &Step, row: usize, openings: Openings) -> Self {
        let all = |value| Lanes::all(simd, value);
        let ratio = step.before / step.after;
        Self {
            simd,
            zero: all(0.0),
            one: all(1.0),
            gap: all(step.gap_before_mm),
            curvature: all(step.surface.curvature),
            conic: all(step.surface.conic),
            before: all(step.before),
            ratio: all(ratio),
            ratio_squared: all(ratio * ratio),
            ratio_rest: all(1.0 - ratio * ratio),
            fill: all(step.semi_aperture_mm.powi(-2)),
            limit: all(if openings == Openings::Cut { 1.0 } else { f64::INFINITY }),
            losses: Loss::KINDS.map(|loss| all(loss.code(row))),
        }
    }

    /// A plane with the same on both sides: the stop.
    #[inline(always)]
    fn pass(&self, ray: Group<S>) -> Group<S> {
        let nowhere = self.one.above(self.one);
        let to_plane = self.zero - (ray.at[2] - self.gap) / ray.toward[2];
        self.judged(self.moved(ray, to_plane), ray.fate, nowhere, nowhere)
    }

    #[inline(always)]
    fn plane(&self, ray: Group<S>) -> Group<S> {
        let nowhere = self.one.above(self.one);
        let to_plane = self.zero - (ray.at[2] - self.gap) / ray.toward[2];
        let moved = self.moved(ray, to_plane);
        self.refracted(moved, [self.zero, self.zero, self.one], moved.toward[2], nowhere)
    }

    #[inline(always)]
    fn sphere(&self, ray: Group<S>) -> Group<S> {
        let met = self.meet(&ray, None);
        let moved = self.moved(ray, met.distance);
        let [x, y, z] = moved.at;
        let normal =
            [self.zero - self.curvature * x, self.zero - self.curvature * y, self.curvature.times_from(z, self.one)];
        self.refracted(moved, normal, met.slant, met.missed)
    }

    #[inline(always)]
    fn conic(&self, ray: Group<S>) -> Group<S> {
        let met = self.meet(&ray, Some(self.conic));
        let moved = self.moved(ray, met.distance);
        let [x, y, z] = moved.at;
        let bent = self.curvature * (self.one + self.conic);
        let gradient = [self.zero - self.curvature * x, self.zero - self.curvature * y, bent.times_from(z, self.one)];
        self.refracted_unscaled(moved, gradient, met.missed)
    }

    /// Where the rays meet the sphere, or the conic of that constant.
    ///
    /// With M the ray's point nearest to the vertex, the surface c(M² + kz²) = 2z is met where A·t² + 2B·t + C = 0, and
    /// −B is the slant cosine there in the limit C → 0: of the two roots that nearer to the vertex is meant.
    #[inline(always)]
    fn meet(&self, ray: &Group<S>, conic: Option<Lanes<S>>) -> Met<S> {
        let [l, m, n] = ray.toward;
        let z = ray.at[2] - self.gap;
        let nearest = self.zero - ray.at[0].times_plus(l, ray.at[1].times_plus(m, z * n));
        let [x, y] = [nearest.times_plus(l, ray.at[0]), nearest.times_plus(m, ray.at[1])];
        let z = nearest.times_plus(n, z);
        let square = x.times_plus(x, y.times_plus(y, z * z));
        let (flat, bend, offset) = match conic {
            None => (n, self.curvature, square),
            Some(k) => {
                let kn = k * n;
                let flat = (self.curvature * z).times_from(kn, n);
                (flat, self.curvature * kn.times_plus(n, self.one), (k * z).times_plus(z, square))
            }
        };
        let offset = self.curvature.times_plus(offset, self.zero - (z + z));
        let radicand = bend.times_from(offset, flat.square());
        let slant = radicand.max(self.zero).sqrt();
        let denominator = flat + slant;
        let missed = (radicand.at_least(self.zero) & denominator.above(self.zero)).not();
        Met { distance: nearest + offset / denominator, slant, missed }
    }

    /// Newton's rule along the ray from the conic's point, on z − sag(x² + y²).
    #[inline(always)]
    fn asphere(&self, ray: Group<S>, step: &Step) -> Group<S> {
        let start = self.meet(&ray, Some(self.conic));
        let (mut distance, mut missed) = (start.distance, start.missed);
        let lost = ray.fate.above(self.zero) | missed;
        let tolerance = Lanes::all(self.simd, SETTLED_MM);
        let mut unsettled = self.one.above(self.zero);
        for _ in 0..MOST_STEPS {
            let (miss, bend, inside) = self.asphere_miss(&ray, distance, step);
            let [x, y] = [distance.times_plus(ray.toward[0], ray.at[0]), distance.times_plus(ray.toward[1], ray.at[1])];
            let closing = bend.times_from(x.times_plus(ray.toward[0], y * ray.toward[1]), ray.toward[2]);
            distance = distance - miss / closing;
            missed = missed | inside.not();
            unsettled = tolerance.at_least(miss.abs()).not();
            if !((unsettled & lost.not()) & missed.not()).any() {
                break;
            }
        }
        let moved = self.moved(ray, distance);
        let (_, bend, _) = self.asphere_miss(&ray, distance, step);
        let [x, y, _] = moved.at;
        let gradient = [self.zero - bend * x, self.zero - bend * y, self.one];
        let found = self.refracted_unscaled(moved, gradient, missed);
        let failed = unsettled & self.zero.at_least(found.fate);
        Group { fate: failed.choose(self.losses[3], found.fate), ..found }
    }

    /// How far the ray's point at `distance` lies behind the asphere, twice the sag's derivative by r², and whether the
    /// conic part exists there.
    #[inline(always)]
    fn asphere_miss(&self, ray: &Group<S>, distance: Lanes<S>, step: &Step) -> (Lanes<S>, Lanes<S>, Mask<S>) {
        let [x, y] = [distance.times_plus(ray.toward[0], ray.at[0]), distance.times_plus(ray.toward[1], ray.at[1])];
        let z = distance.times_plus(ray.toward[2], ray.at[2] - self.gap);
        let square = x.times_plus(x, y * y);
        let under = ((self.one + self.conic) * self.curvature.square()).times_from(square, self.one);
        let inside = under.above(self.zero);
        let root = inside.choose(under, self.one).sqrt();
        let (mut value, mut slope) = (self.zero, self.zero);
        for term in step.surface.asphere.iter().rev() {
            slope = slope.times_plus(square, value);
            value = value.times_plus(square, Lanes::all(self.simd, *term));
        }
        // Σ aᵢ r^(2i+4) = r⁴·value, and its derivative by r² is r²(2·value + r²·slope).
        let sag = square.times_plus(square * value, self.curvature * square / (self.one + root));
        let derivative = square * square.times_plus(slope, value + value);
        (z - sag, self.curvature / root + derivative + derivative, inside)
    }

    /// Forward by `distance`, and into the coordinates of this surface's vertex.
    #[inline(always)]
    fn moved(&self, ray: Group<S>, distance: Lanes<S>) -> Group<S> {
        let [x, y, z] = ray.at;
        let [l, m, n] = ray.toward;
        let at = [distance.times_plus(l, x), distance.times_plus(m, y), distance.times_plus(n, z - self.gap)];
        Group { at, path: self.before.times_plus(distance, ray.path), ..ray }
    }

    /// As [`Self::refracted`], for a gradient that is not of length 1.
    #[inline(always)]
    fn refracted_unscaled(&self, ray: Group<S>, gradient: [Lanes<S>; 3], missed: Mask<S>) -> Group<S> {
        let [a, b, c] = gradient;
        let scale = self.one / a.times_plus(a, b.times_plus(b, c * c)).sqrt();
        let normal = [a * scale, b * scale, c * scale];
        let [l, m, n] = ray.toward;
        let slant = normal[0].times_plus(l, normal[1].times_plus(m, normal[2] * n));
        self.refracted(ray, normal, slant, missed | slant.above(self.zero).not())
    }

    /// Snell: the new direction is μ·old + (cos I' − μ·cos I)·normal.
    #[inline(always)]
    fn refracted(&self, ray: Group<S>, normal: [Lanes<S>; 3], slant: Lanes<S>, missed: Mask<S>) -> Group<S> {
        let radicand = self.ratio_squared.times_plus(slant * slant, self.ratio_rest);
        let reflected = radicand.at_least(self.zero).not();
        let turn = self.ratio.times_from(slant, radicand.max(self.zero).sqrt());
        let [l, m, n] = ray.toward;
        let toward = [
            turn.times_plus(normal[0], self.ratio * l),
            turn.times_plus(normal[1], self.ratio * m),
            turn.times_plus(normal[2], self.ratio * n),
        ];
        // Light that would go backwards is light that met the surface from behind.
        let missed = missed | toward[2].above(self.zero).not();
        self.judged(Group { toward, ..ray }, ray.fate, missed, reflected)
    }

    /// Writes down what became of the rays that still lived.
    #[inline(always)]
    fn judged(&self, ray: Group<S>, fate: Lanes<S>, missed: Mask<S>, reflected: Mask<S>) -> Group<S> {
        let [x, y, _] = ray.at;
        let here = x.times_plus(x, y * y) * self.fill;
        let cut = here.above(self.limit);
        let [missed_code, cut_code, reflected_code, _] = self.losses;
        let outside = cut.choose(cut_code, reflected.choose(reflected_code, self.zero));
        let loss = missed.choose(missed_code, outside);
        Group { full: here.max(ray.full), fate: fate.above(self.zero).choose(fate, loss), ..ray }
    }
}
