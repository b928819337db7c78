//! One refracting surface, turned round the axis.

/// How many even terms beyond the conic a surface may have: r⁴, r⁶ … r¹⁸.
pub const ASPHERE_TERMS: usize = 8;

/// A plane, sphere, conic or even asphere, by its sag
/// z = c·r²/(1 + √(1 − (1 + k)c²r²)) + a₀r⁴ + a₁r⁶ + …, the usual form.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surface {
    /// One over the radius, 1/mm: positive when the centre lies behind the surface, where light goes.
    pub curvature: f64,
    /// Conic constant k: 0 a sphere, −1 a paraboloid.
    pub conic: f64,
    /// a₀ in mm⁻³, a₁ in mm⁻⁵, …
    pub asphere: [f64; ASPHERE_TERMS],
}

/// What kind of work a ray has with a surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Shape {
    Plane,
    Sphere,
    Conic,
    Asphere,
}

impl Surface {
    /// A plane.
    pub const PLANE: Self = Self { curvature: 0.0, conic: 0.0, asphere: [0.0; ASPHERE_TERMS] };

    /// A sphere of that radius, mm.
    pub fn sphere(radius_mm: f64) -> Self {
        Self::curved(1.0 / radius_mm)
    }

    /// A sphere of that curvature, 1/mm.
    pub const fn curved(curvature: f64) -> Self {
        Self { curvature, ..Self::PLANE }
    }

    /// A conic of that radius at its vertex, mm.
    pub fn conic(radius_mm: f64, conic: f64) -> Self {
        Self { conic, ..Self::sphere(radius_mm) }
    }

    pub(crate) fn shape(&self) -> Shape {
        if self.asphere.iter().any(|term| *term != 0.0) {
            Shape::Asphere
        } else if self.curvature == 0.0 {
            Shape::Plane
        } else if self.conic == 0.0 {
            Shape::Sphere
        } else {
            Shape::Conic
        }
    }

    /// Σ aᵢ·r^(2i+4), at r² = `square`.
    fn even_terms(&self, square: f64) -> f64 {
        square * square * self.asphere.iter().rev().fold(0.0, |sum, term| sum * square + term)
    }

    /// How far the surface lies behind its vertex at height `r`, mm; `None` beyond the surface's own rim.
    pub fn sag(&self, r: f64) -> Option<f64> {
        let square = r * r;
        let under = 1.0 - (1.0 + self.conic) * self.curvature.powi(2) * square;
        (under >= 0.0).then(|| self.curvature * square / (1.0 + under.sqrt()) + self.even_terms(square))
    }

    /// dz/dr and d²z/dr² at height `r`; `None` beyond the rim.
    pub fn slopes(&self, r: f64) -> Option<(f64, f64)> {
        let square = r * r;
        let under = 1.0 - (1.0 + self.conic) * self.curvature.powi(2) * square;
        if under <= 0.0 {
            return None;
        }
        let root = under.sqrt();
        // Conic part: z' = c·r/√, z'' = c/√³. Even part Σ aᵢ r^(2i+4) term by term.
        let even = self.asphere.iter().enumerate().fold((0.0, 0.0), |(first, second), (i, term)| {
            let power = 2.0 * i as f64 + 4.0;
            let r_power = term * r.powi(2 * i as i32 + 2);
            (first + power * r_power * r, second + power * (power - 1.0) * r_power)
        });
        Some((self.curvature * r / root + even.0, self.curvature / (root * under) + even.1))
    }

    /// The surface as light from the other side meets it.
    pub fn reversed(&self) -> Self {
        Self { curvature: -self.curvature, conic: self.conic, asphere: self.asphere.map(|term| -term) }
    }

    /// The surface made `factor` times as large.
    pub fn scaled(&self, factor: f64) -> Self {
        let mut asphere = self.asphere;
        for (i, term) in asphere.iter_mut().enumerate() {
            *term /= factor.powi(2 * i as i32 + 3);
        }
        Self { curvature: self.curvature / factor, conic: self.conic, asphere }
    }
}
