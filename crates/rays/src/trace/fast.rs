//! Planes and spheres as if nothing could go wrong: half the work of the careful way, and nothing that waits for a choice.
//!
//! A sphere that a ray misses and a total reflection both take the root of a negative number, and NaN stays in the direction
//! ever after. What a root does not tell, a surface met from behind, shows in the lowest of two figures that are positive for
//! every ray that goes on: the root's own sum and the direction's z. It is kept where the careful way keeps a ray's fate.

use crate::beam::Rays;
use crate::lanes::Lanes;
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

/// A step's numbers in every lane.
struct Surface<S: Simd> {
    zero: Lanes<S>,
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
pub(super) fn trace<S: Simd>(simd: S, mut block: [&mut [S::f64s]; Rays::COLUMNS], steps: &[Step]) {
    let (zero, one) = (Lanes::all(simd, 0.0), Lanes::all(simd, 1.0));
    for fate in &mut *block[FATE] {
        // A ray that is lost already is left to the careful way.
        *fate = Lanes { simd, value: *fate }.above(zero).choose(zero - one, one).value;
    }
    for (i, step) in steps.iter().enumerate() {
        let block = block.each_mut().map(|column| &mut **column);
        let surface = Surface::new(simd, step);
        let near = i > 0 && (step.gap_before_mm * step.surface.curvature).abs() <= NEAR;
        match (step.shape, near, step.semi_aperture_mm.is_finite()) {
            (Shape::Plane, _, _) if step.before == step.after => {
                each(simd, block, |ray| surface.rim(surface.pass(ray)))
            }
            (Shape::Plane, _, _) => each(simd, block, |ray| surface.rim(surface.plane(ray))),
            (_, true, true) => each(simd, block, |ray| surface.rim(surface.sphere(ray))),
            (_, true, false) => each(simd, block, |ray| surface.sphere(ray)),
            (_, false, _) => each(simd, block, |ray| surface.rim(surface.far_sphere(ray))),
        }
    }
}

/// Whether every ray of group `i` went through; its fate is then written as that of the living.
#[inline(always)]
pub(super) fn settle<S: Simd>(simd: S, block: &mut [&mut [S::f64s]; Rays::COLUMNS], i: usize, cuts: bool) -> bool {
    let lanes = |column: usize| Lanes { simd, value: block[column][i] };
    let (zero, one) = (Lanes::all(simd, 0.0), Lanes::all(simd, 1.0));
    // NaN lies nowhere, so that it fails every one of these.
    let mut lives = lanes(5).above(zero) & lanes(FATE).above(zero);
    if cuts {
        lives = lives & one.at_least(lanes(FULL));
    }
    let all = !lives.not().any();
    if all {
        block[FATE][i] = zero.value;
    }
    all
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

impl<S: Simd> Surface<S> {
    #[inline(always)]
    fn new(simd: S, step: &Step) -> Self {
        let all = |value| Lanes::all(simd, value);
        let ratio = step.before / step.after;
        Self {
            zero: all(0.0),
            gap: all(step.gap_before_mm),
            curvature: all(step.surface.curvature),
            before: all(step.before),
            ratio: all(ratio),
            ratio_squared: all(ratio * ratio),
            ratio_rest: all(1.0 - ratio * ratio),
            fill: all(step.semi_aperture_mm.powi(-2)),
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

    /// Where c(x² + y² + z²) = 2z, solved from the ray's own point.
    #[inline(always)]
    fn sphere(&self, ray: Group<S>) -> Group<S> {
        let ([x, y, _], [l, m, n]) = (ray.at, ray.toward);
        let z = ray.at[2] - self.gap;
        let along = x.times_plus(l, y.times_plus(m, z * n));
        let square = x.times_plus(x, y.times_plus(y, z * z));
        let offset = self.curvature.times_plus(square, self.zero - (z + z));
        let flat = self.curvature.times_from(along, n);
        self.met(ray, z, self.zero, flat, offset)
    }

    /// The same from the ray's point nearest to the vertex, `nearest` along it.
    #[inline(always)]
    fn far_sphere(&self, ray: Group<S>) -> Group<S> {
        let ([x, y, _], [l, m, n]) = (ray.at, ray.toward);
        let z = ray.at[2] - self.gap;
        let nearest = self.zero - x.times_plus(l, y.times_plus(m, z * n));
        let [x, y] = [nearest.times_plus(l, x), nearest.times_plus(m, y)];
        let close = nearest.times_plus(n, z);
        let square = x.times_plus(x, y.times_plus(y, close * close));
        let offset = self.curvature.times_plus(square, self.zero - (close + close));
        self.met(ray, z, nearest, n, offset)
    }

    /// The meeting point, `nearest` and a little more along the ray, and the refraction there (Snell).
    #[inline(always)]
    fn met(&self, ray: Group<S>, z: Lanes<S>, nearest: Lanes<S>, flat: Lanes<S>, offset: Lanes<S>) -> Group<S> {
        let radicand = self.curvature.times_from(offset, flat.square());
        let slant = radicand.sqrt();
        // The squared cosine of incidence is the radicand itself: both roots can be taken at once.
        let root = self.ratio_squared.times_plus(radicand, self.ratio_rest).sqrt();
        let denominator = flat + slant;
        let ray = self.moved(ray, z, nearest + offset / denominator);
        let turn = self.ratio.times_from(slant, root);
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
