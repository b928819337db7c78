//! How far the card leans against the film, from the convergence of its lines.

use super::{GeometryReport, Mapping, TiltError};
use crate::algebra::{Figure, covariance_of, eigen, gradients, variance};

/// What a tilt is computed from besides the mapping.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TiltOptions {
    /// Distance from the lens's entrance pupil along its axis to the subject, millimetres: the perspective's centre.
    pub entrance_pupil_to_subject_mm: Figure,
}

/// How far the card leans against the film, degrees.
#[derive(Debug, Clone, PartialEq)]
pub struct TiltReport {
    /// Lean about the picture's upright axis: positive when the card's right side in the picture lies farther from the lens.
    pub about_upright_deg: Figure,
    /// Lean about the picture's level axis: positive when the card's lower side in the picture lies farther from the lens.
    pub about_level_deg: Figure,
    /// Angle between card and film. Its interval is that of the less sure direction; where it reaches 0 no tilt is shown.
    pub total_deg: Figure,
    /// Direction in the picture in which the card recedes, degrees from the picture's x axis toward its lower side.
    pub recedes_toward_deg: f64,
    /// The tilt that the card's foreshortening alone would ask for, arccos of the least over the largest local scale: blunt
    /// for small tilts, but free of the distance.
    pub from_foreshortening_deg: f64,
    /// Reservations.
    pub remarks: Vec<TiltRemark>,
}

/// A reservation about a tilt.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum TiltRemark {
    /// The interval reaches 0.
    NotShown {
        /// Found tilt, degrees.
        degrees: f64,
        /// Half-width of its interval.
        plus_minus: f64,
    },
    /// Convergence and foreshortening disagree: the card is not drawn to one scale, the pixels are not square, or the
    /// distance is wrong.
    Foreshortening {
        /// Ratio of the scales that was found.
        found: f64,
        /// Ratio that the tilt asks for.
        expected: f64,
    },
}

impl std::fmt::Display for TiltRemark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NotShown { degrees, plus_minus } => {
                write!(f, "no tilt is shown: {degrees:.2}° lies within its own ± {plus_minus:.2}°")
            }
            Self::Foreshortening { found, expected } => write!(
                f,
                "the card is foreshortened to {found:.4} where its tilt asks for {expected:.4}: its two axes are not to one \
                 scale, the pixels are not square, or the distance from the entrance pupil is wrong"
            ),
        }
    }
}

/// The tilt of the card against the film, which is taken as square to the lens's axis.
///
/// With the entrance pupil at the distance P from the card along the axis, a point at (X, Y) from the axis and the depth Z
/// has its chief ray meet the film at K (X, Y)/Z. That holds for a thick lens of any pupil magnification: the slope behind is the
/// slope before over that magnification, and the film's distance from the exit pupil is one constant. Axes are laid
/// through the foot of the optical axis on both sides, so that the undistorted mapping is
/// u = (J x)/(1 + g·x) with x in millimetres on the card. A point of the card at x lies at Z = P + r3·x, with r3 the
/// rise of the depth along the card's axes, hence g = r3/P: sin(tilt) = P |g|. And J = (K/P) R, R the card's axes seen along
/// the lens's: the tilt's direction in the picture follows with K/P from |J|² = (K/P)² (1 + cos² tilt). Neither the focal
/// length, nor the magnification, nor the pixel pitch enters. (Own derivation; the algebra is that of Zhang, "A flexible new
/// technique for camera calibration", 2000, with P known in place of the focal length.)
pub fn tilt(report: &GeometryReport, options: &TiltOptions) -> Result<TiltReport, TiltError> {
    let distance = options.entrance_pupil_to_subject_mm;
    if !(distance.value > 0.0 && distance.value.is_finite() && (0.0..distance.value).contains(&distance.plus_minus)) {
        return Err(TiltError::BadDistance { value: distance.value, plus_minus: distance.plus_minus });
    }
    let found = Lean::of(&report.mapping, distance.value).ok_or(TiltError::OffPlane)?;
    if found.sine >= 1.0 {
        return Err(TiltError::TooSteep {
            convergence: found.sine / distance.value,
            distance_mm: distance.value,
            most: 1.0 / distance.value,
        });
    }
    // The distance is one parameter more, independent of the mapping's.
    let mut parameters = report.numbers.parameters.clone();
    parameters.push(distance.value);
    let mut covariance: Vec<Vec<f64>> = report.numbers.covariance_95.clone();
    covariance.iter_mut().for_each(|row| row.push(0.0));
    covariance.push(vec![0.0; parameters.len()]);
    let last = parameters.len() - 1;
    covariance[last][last] = distance.plus_minus.powi(2);
    let frame = report.numbers.frame();
    let leans = |p: &[f64]| {
        let lean = Lean::of(&frame.mapping(&p[..last]), p[last])?;
        let (p, q) = lean.slopes()?;
        Some([p.atan().to_degrees(), q.atan().to_degrees(), p, q, lean.foreshortening])
    };
    let values = leans(&parameters).ok_or(TiltError::OffPlane)?;
    let slopes = gradients(&parameters, &covariance, leans).ok_or(TiltError::OffPlane)?;
    let half = |i: usize| variance(&slopes[i], &covariance).max(0.0).sqrt();
    let [x, y, p, q, foreshortening] = values;
    let total = p.hypot(q).atan();
    let both = |i: usize, j: usize| covariance_of(&slopes[i], &slopes[j], &covariance);
    let least_sure = eigen(vec![vec![both(2, 2), both(2, 3)], vec![both(3, 2), both(3, 3)]])[1].0;
    let total_half = (least_sure.max(0.0).sqrt() * total.cos().powi(2)).to_degrees();
    let total = Figure::new(total.to_degrees(), total_half);
    let mut remarks = Vec::new();
    if !total.stands_out() {
        remarks.push(TiltRemark::NotShown { degrees: total.value, plus_minus: total.plus_minus });
    }
    let expected = total.value.to_radians().cos();
    let doubt = half(4).hypot(total.value.to_radians().sin() * total_half.to_radians());
    // Twice the interval: the ratio's least value is bent downward by noise.
    if (foreshortening - expected).abs() > (2.0 * doubt).max(1e-6) {
        remarks.push(TiltRemark::Foreshortening { found: foreshortening, expected });
    }
    Ok(TiltReport {
        about_upright_deg: Figure::new(x, half(0)),
        about_level_deg: Figure::new(y, half(1)),
        total_deg: total,
        recedes_toward_deg: q.atan2(p).to_degrees(),
        from_foreshortening_deg: foreshortening.min(1.0).acos().to_degrees(),
        remarks,
    })
}

/// What a mapping says about the card's lean.
#[derive(Debug, Clone, Copy)]
struct Lean {
    /// Rise of the depth along the card's two axes.
    rise: [f64; 2],
    /// Sine of the tilt.
    sine: f64,
    jacobian: [[f64; 2]; 2],
    /// Least over largest local scale at the foot of the axis.
    foreshortening: f64,
}

impl Lean {
    fn of(mapping: &Mapping, distance_mm: f64) -> Option<Self> {
        let straight = Mapping { k1: 0.0, ..*mapping };
        let (x, y) = straight.to_plane(mapping.centre_px)?;
        let jacobian = straight.jacobian((x, y))?;
        let [g, h, i] = mapping.homography[2];
        let w = g * x + h * y + i;
        let rise = [distance_mm * g / w, distance_mm * h / w];
        let [[a, b], [c, d]] = jacobian;
        // Singular values of a 2 x 2 matrix: half the sum and difference of these two lengths.
        let (sum, difference) = ((a + d).hypot(c - b), (a - d).hypot(b + c));
        let foreshortening = (sum - difference).abs() / (sum + difference);
        Some(Self { rise, sine: rise[0].hypot(rise[1]), jacobian, foreshortening })
    }

    /// Rise of the depth along the picture's axes per millimetre across the lens's axis: (right, down).
    fn slopes(&self) -> Option<(f64, f64)> {
        if self.sine >= 1.0 {
            return None;
        }
        let [[a, b], [c, d]] = self.jacobian;
        let scale = ((a * a + b * b + c * c + d * d) / (2.0 - self.sine * self.sine)).sqrt();
        // rise = Rᵗ (p, q), R = J / scale.
        let determinant = a * d - b * c;
        let [r, s] = self.rise;
        let p = scale * (d * r - c * s) / determinant;
        let q = scale * (a * s - b * r) / determinant;
        (p.is_finite() && q.is_finite()).then_some((p, q))
    }
}

/// Tilt against the film, degrees, at which the ends of a subject's extent still lie within a depth: arctan(depth/extent), the
/// depth and the extent in the same unit.
pub fn tilt_allowed_deg(depth: f64, extent: f64) -> f64 {
    (depth / extent).atan().to_degrees()
}

/// Depth on the subject, mm, over which a frame of this width spreads along a subject that is tilted to the film:
/// width / m · tan(tilt), the width along the tilt.
pub fn depth_of_tilt_mm(image_width_mm: f64, magnification: f64, tilt_deg: f64) -> f64 {
    image_width_mm / magnification * tilt_deg.to_radians().tan()
}

/// Tilt of the film, degrees, that brings a tilted subject sharp all over (Scheimpflug): tan(image tilt) = m · tan(subject tilt).
pub fn image_tilt_deg(magnification: f64, subject_tilt_deg: f64) -> f64 {
    (magnification * subject_tilt_deg.to_radians().tan()).atan().to_degrees()
}
