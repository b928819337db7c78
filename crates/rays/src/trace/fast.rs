//! Planes and spheres as if nothing could go wrong: half the work of the careful way, and nothing that waits for a choice.
//!
//! A sphere that a ray misses and a total reflection both take the root of a negative number, and NaN stays in the direction
//! ever after. What a root does not tell, a surface met from behind, shows in the lowest of two figures that are positive for
//! every ray that goes on: the root's own sum and the direction's z. It is kept where the careful way keeps a ray's fate.

use crate::beam::Rays;
use crate::lanes::{Lanes, Mask};
use crate::sequence::Step;
use crate::surface::Shape;
use pulp::Simd;

/// Where a column lies among a block's.
const FULL: usize = 7;
const FATE: usize = 8;

/// A gap times a curvature up to which the quadratic equation of a sphere is solved from the ray's last point itself. The
/// squared cosine then errs by some roundings times the square of this; from farther away the point nearest to the vertex is
/// taken first, as the careful way always does.
const NEAR: f64 = 1.0;

/// A step's numbers, made once for all blocks: divisions cost as much as a ray.
pub(super) struct Ready {
    shape: Shape,
    near: bool,
    passes: bool,
    has_rim: bool,
    gap: f64,
    curvature: f64,
    before: f64,
    ratio: f64,
    fill: f64,
}

impl Ready {
    pub(super) fn new(step: &Step) -> Self {
        let curvature = step.surface.curvature;
        Self {
            shape: step.shape,
            near: (step.gap_before_mm * curvature).abs() <= NEAR,
            passes: step.before == step.after,
            has_rim: step.semi_aperture_mm.is_finite(),
            gap: step.gap_before_mm,
            curvature,
            before: step.before,
            ratio: step.before / step.after,
            fill: step.semi_aperture_mm.powi(-2),
        }
    }
}

/// A step's numbers in every lane.
struct Surface<S: Simd> {
    zero: Lanes<S>,
    minus_two: Lanes<S>,
    gap: Lanes<S>,
    curvature: Lanes<S>,
    before: Lanes<S>,
    ratio: Lanes<S>,
    ratio_squared: Lanes<S>,
    ratio_rest: Lanes<S>,
    fill: Lanes<S>,
}

/// Some rays side by side, with the lowest of what has to stay positive.
struct Group<S: Simd> {
    at: [Lanes<S>; 3],
    toward: [Lanes<S>; 3],
    path: Lanes<S>,
    full: Lanes<S>,
    least: Lanes<S>,
}

/// A block through every surface.
#[inline(always)]
pub(super) fn trace<S: Simd>(simd: S, mut block: [&mut [S::f64s]; Rays::COLUMNS], steps: &[Ready]) {
    let (zero, one) = (Lanes::all(simd, 0.0), Lanes::all(simd, 1.0));
    for fate in &mut *block[FATE] {
        // A ray that is lost already is left to the careful way.
        *fate = Lanes { simd, value: *fate }.above(zero).choose(zero - one, one).value;
    }
    for (i, step) in steps.iter().enumerate() {
        let block = block.each_mut().map(|column| &mut **column);
        let surface = Surface::new(simd, step);
        match (step.shape, i > 0 && step.near, step.has_rim) {
            (Shape::Plane, _, _) if step.passes => each(simd, block, |ray| surface.rim(surface.pass(ray))),
            (Shape::Plane, _, _) => each(simd, block, |ray| surface.rim(surface.plane(ray))),
            (_, true, true) => spheres::<S, false, true>(simd, block, &surface),
            (_, true, false) => spheres::<S, false, false>(simd, block, &surface),
            (_, false, _) => spheres::<S, true, true>(simd, block, &surface),
        }
    }
}

/// Whether every ray of the block went through; their fates are then written as those of the living.
#[inline(always)]
pub(super) fn all_live<S: Simd>(simd: S, block: &mut [&mut [S::f64s]; Rays::COLUMNS], cuts: bool) -> bool {
    let (zero, one) = (Lanes::all(simd, 0.0), Lanes::all(simd, 1.0));
    let mut lives = one.above(zero);
    for i in 0..block[FATE].len() {
        lives = lives & living(simd, block, i, cuts);
    }
    let all = !lives.not().any();
    if all {
        block[FATE].fill(zero.value);
    }
    all
}

/// The same of one group.
#[inline(always)]
pub(super) fn settle<S: Simd>(simd: S, block: &mut [&mut [S::f64s]; Rays::COLUMNS], i: usize, cuts: bool) -> bool {
    let all = !living(simd, block, i, cuts).not().any();
    if all {
        block[FATE][i] = Lanes::all(simd, 0.0).value;
    }
    all
}

#[inline(always)]
fn living<S: Simd>(simd: S, block: &[&mut [S::f64s]; Rays::COLUMNS], i: usize, cuts: bool) -> Mask<S> {
    let (zero, one) = (Lanes::all(simd, 0.0), Lanes::all(simd, 1.0));
    // NaN lies nowhere, so that it fails every one of these.
    let lives = Lanes { simd, value: block[5][i] }.above(zero) & Lanes { simd, value: block[FATE][i] }.above(zero);
    if cuts { lives & one.at_least(Lanes { simd, value: block[FULL][i] }) } else { lives }
}

#[inline(always)]
fn each<S: Simd>(simd: S, block: [&mut [S::f64s]; Rays::COLUMNS], surface: impl Fn(Group<S>) -> Group<S>) {
    let [x, y, z, l, m, n, path, full, least] = block;
    let columns = x.iter_mut().zip(y).zip(z).zip(l).zip(m).zip(n).zip(path).zip(full).zip(least);
    for ((((((((x, y), z), l), m), n), path), full), least) in columns {
        let out = surface(Group {
            at: [Lanes { simd, value: *x }, Lanes { simd, value: *y }, Lanes { simd, value: *z }],
            toward: [Lanes { simd, value: *l }, Lanes { simd, value: *m }, Lanes { simd, value: *n }],
            path: Lanes { simd, value: *path },
            full: Lanes { simd, value: *full },
            least: Lanes { simd, value: *least },
        });
        (*x, *y, *z) = (out.at[0].value, out.at[1].value, out.at[2].value);
        (*l, *m, *n) = (out.toward[0].value, out.toward[1].value, out.toward[2].value);
        (*path, *full, *least) = (out.path.value, out.full.value, out.least.value);
    }
}

/// A sphere in two halves: what leads up to the division is computed for the next group before this one is ended. The division waits
/// for a root, and the next root needs nothing of it: in one piece, a processor that looks some hundred instructions ahead would see
/// no more than three groups at a time, and wait.
#[inline(always)]
fn spheres<S: Simd, const FAR: bool, const RIM: bool>(
    simd: S,
    block: [&mut [S::f64s]; Rays::COLUMNS],
    surface: &Surface<S>,
) {
    let count = block[0].len();
    // One length for all, so that the compiler sees that no place is outside.
    let [x, y, z, l, m, n, path, full, least] = block;
    let (x, y, z) = (&mut x[..count], &mut y[..count], &mut z[..count]);
    let (l, m, n) = (&mut l[..count], &mut m[..count], &mut n[..count]);
    let (path, full, least) = (&mut path[..count], &mut full[..count], &mut least[..count]);
    let Some(last) = count.checked_sub(1) else { return };
    let mut ahead = surface.sighted::<FAR>(three(simd, x[0], y[0], z[0]), three(simd, l[0], m[0], n[0]));
    for i in 0..count {
        let next = (i + 1).min(last);
        let after =
            surface.sighted::<FAR>(three(simd, x[next], y[next], z[next]), three(simd, l[next], m[next], n[next]));
        let ray = Group {
            at: three(simd, x[i], y[i], z[i]),
            toward: three(simd, l[i], m[i], n[i]),
            path: Lanes { simd, value: path[i] },
            full: Lanes { simd, value: full[i] },
            least: Lanes { simd, value: least[i] },
        };
        let out = surface.met::<FAR>(ray, ahead);
        let out = if RIM { surface.rim(out) } else { out };
        (x[i], y[i], z[i]) = (out.at[0].value, out.at[1].value, out.at[2].value);
        (l[i], m[i], n[i]) = (out.toward[0].value, out.toward[1].value, out.toward[2].value);
        (path[i], full[i], least[i]) = (out.path.value, out.full.value, out.least.value);
        ahead = after;
    }
}

#[inline(always)]
fn three<S: Simd>(simd: S, x: S::f64s, y: S::f64s, z: S::f64s) -> [Lanes<S>; 3] {
    [Lanes { simd, value: x }, Lanes { simd, value: y }, Lanes { simd, value: z }]
}

/// What is known of a group before the division.
struct Sighted<S: Simd> {
    /// How far along the ray the equation starts; 0 unless it is far.
    nearest: Lanes<S>,
    offset: Lanes<S>,
    denominator: Lanes<S>,
    turn: Lanes<S>,
}

impl<S: Simd> Surface<S> {
    #[inline(always)]
    fn new(simd: S, step: &Ready) -> Self {
        let all = |value| Lanes::all(simd, value);
        let ratio = step.ratio;
        Self {
            zero: all(0.0),
            minus_two: all(-2.0),
            gap: all(step.gap),
            curvature: all(step.curvature),
            before: all(step.before),
            ratio: all(ratio),
            ratio_squared: all(ratio * ratio),
            ratio_rest: all(1.0 - ratio * ratio),
            fill: all(step.fill),
        }
    }

    /// How full the opening is at these rays.
    #[inline(always)]
    fn rim(&self, ray: Group<S>) -> Group<S> {
        let [x, y, _] = ray.at;
        let here = x.times_plus(x, y * y) * self.fill;
        // NaN is told by the direction; a first figure that is NaN leaves the second.
        Group { full: here.max(ray.full), ..ray }
    }

    #[inline(always)]
    fn moved(&self, ray: Group<S>, z: Lanes<S>, distance: Lanes<S>) -> Group<S> {
        let [x, y, _] = ray.at;
        let [l, m, n] = ray.toward;
        let at = [distance.times_plus(l, x), distance.times_plus(m, y), distance.times_plus(n, z)];
        Group { at, path: self.before.times_plus(distance, ray.path), ..ray }
    }

    /// A plane with the same on both sides.
    #[inline(always)]
    fn pass(&self, ray: Group<S>) -> Group<S> {
        let z = ray.at[2] - self.gap;
        let distance = self.zero - z / ray.toward[2];
        self.moved(ray, z, distance)
    }

    #[inline(always)]
    fn plane(&self, ray: Group<S>) -> Group<S> {
        let ray = self.pass(ray);
        let [l, m, n] = ray.toward;
        let turn = self.ratio.times_from(n, self.ratio_squared.times_plus(n * n, self.ratio_rest).sqrt());
        let toward = [self.ratio * l, self.ratio * m, self.ratio.times_plus(n, turn)];
        Group { toward, least: toward[2].min(ray.least), ..ray }
    }

    /// Where c(x² + y² + z²) = 2z, solved from the ray's own point or, if that is far, from the point of the ray nearest to the vertex.
    #[inline(always)]
    fn sighted<const FAR: bool>(&self, [x, y, z]: [Lanes<S>; 3], [l, m, n]: [Lanes<S>; 3]) -> Sighted<S> {
        let z = z - self.gap;
        let along = x.times_plus(l, y * m) + z * n;
        let (x, y, z, flat, nearest) = if FAR {
            let nearest = self.zero - along;
            (nearest.times_plus(l, x), nearest.times_plus(m, y), nearest.times_plus(n, z), n, nearest)
        } else {
            (x, y, z, self.curvature.times_from(along, n), self.zero)
        };
        let square = x.times_plus(x, y * y) + z * z;
        let offset = self.curvature.times_plus(square, self.minus_two * z);
        // The squared cosine of incidence is the equation's radicand itself: both roots can be taken at once.
        let radicand = self.curvature.times_from(offset, flat.square());
        let slant = radicand.sqrt();
        let root = self.ratio_squared.times_plus(radicand, self.ratio_rest).sqrt();
        Sighted { nearest, offset, denominator: flat + slant, turn: self.ratio.times_from(slant, root) }
    }

    /// The meeting point, and the refraction there (Snell).
    #[inline(always)]
    fn met<const FAR: bool>(&self, ray: Group<S>, sighted: Sighted<S>) -> Group<S> {
        let Sighted { nearest, offset, denominator, turn } = sighted;
        let further = offset / denominator;
        let z = ray.at[2] - self.gap;
        let ray = self.moved(ray, z, if FAR { nearest + further } else { further });
        let bend = turn * self.curvature;
        let ([x, y, z], [l, m, n]) = (ray.at, ray.toward);
        let toward = [
            bend.times_from(x, self.ratio * l),
            bend.times_from(y, self.ratio * m),
            bend.times_from(z, self.ratio.times_plus(n, turn)),
        ];
        Group { toward, least: denominator.min(toward[2].min(ray.least)), ..ray }
    }
}
