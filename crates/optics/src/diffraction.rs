//! Diffraction by a round, perfect pupil.

use crate::Real;

/// The wavelength that Airy discs are quoted at: green, 0.55 µm, in mm.
pub const AIRY_WAVELENGTH_MM: f64 = 0.55e-3;

/// Diameter of the Airy disc to its first dark ring, mm on film: 2.44·λ·N at [`AIRY_WAVELENGTH_MM`].
pub fn airy_diameter_mm<T: Real>(effective_f_number: T) -> T {
    T::exact(2.44 * AIRY_WAVELENGTH_MM) * effective_f_number
}

/// The frequency on film, cycles/mm, that no lens of this f-number carries at all: 1/(λ·N).
pub fn cut_off_cy_per_mm(wavelength_mm: f64, effective_f_number: f64) -> f64 {
    1.0 / (wavelength_mm * effective_f_number)
}

/// Contrast that a perfect lens leaves at `cy_per_mm` on film: (2/π)(acos s − s·√(1 − s²)) with s the share of the
/// cut-off (Goodman, *Introduction to Fourier Optics*, section 6.4, from memory; agrees with Hopkins's integral).
pub fn diffraction_mtf(wavelength_mm: f64, effective_f_number: f64, cy_per_mm: f64) -> f64 {
    let s = (cy_per_mm / cut_off_cy_per_mm(wavelength_mm, effective_f_number)).abs();
    if s >= 1.0 {
        return 0.0;
    }
    std::f64::consts::FRAC_2_PI * (s.acos() - s * (1.0 - s * s).sqrt())
}

/// The effective f-number at which diffraction and want of depth blur alike, and the diameter of their common disc on film,
/// mm, when a subject `depth_mm` deep is taken at `magnification`.
///
/// The disc is the root of the squares' sum of the Airy disc's diameter, 2.44·λ·N, and the disc at the ends of the depth,
/// m²·depth/(2·N); it is smallest at N = m·√(depth/(4.88·λ)) (Hansma, "View Camera Focusing in Practice", *Photo Techniques*,
/// March/April 1996, from memory: its rule of 375 times the focus spread is this with 2.44·λ = 1/750 mm).
pub fn balanced_f_number(magnification: f64, depth_mm: f64) -> (f64, f64) {
    let f_number = magnification * (depth_mm / (2.0 * 2.44 * AIRY_WAVELENGTH_MM)).sqrt();
    (f_number, std::f64::consts::SQRT_2 * airy_diameter_mm(f_number))
}

/// The disc on film that still counts as sharp, mm: the frame's diagonal over 1500 (common practice, no source).
pub fn circle_of_confusion_mm(frame_mm: [f64; 2]) -> f64 {
    frame_mm[0].hypot(frame_mm[1]) / 1500.0
}
