//! From the plane of a card to the picture and back.

/// A homography followed by one coefficient of radial distortion.
///
/// With (x, y) millimetres on the card and H the homography, the picture without distortion is u = H(x, y); the picture is then
/// c + (u - c)(1 + k1 r²), with c the centre and r the distance of u from it over `radius_px` (the first term of the radial
/// series of Brown, "Close-range camera calibration", 1971, written from the undistorted side).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mapping {
    /// Rows of the homography from millimetres on the card to pixels without distortion; its last element is 1 at the
    /// middle of the points, not at the card's origin.
    pub homography: [[f64; 3]; 3],
    /// Distortion at `radius_px` from the centre, as a share: 0.01 moves a point there outward by 1 %.
    pub k1: f64,
    /// Centre of the distortion, pixels.
    pub centre_px: (f64, f64),
    /// Half the picture's diagonal, pixels: where `k1` is the whole distortion.
    pub radius_px: f64,
}

impl Mapping {
    /// The place in the picture, pixels, of a place on the card, millimetres; `None` at and beyond the horizon.
    pub fn to_picture(&self, (x, y): (f64, f64)) -> Option<(f64, f64)> {
        let [p, q, w] = self.homography.map(|row| row[0] * x + row[1] * y + row[2]);
        (w > 1e-9).then(|| self.distorted((p / w, q / w)))
    }

    /// The place on the card, millimetres, of a place in the picture, pixels; `None` where the distortion folds or the
    /// horizon lies.
    pub fn to_plane(&self, picture: (f64, f64)) -> Option<(f64, f64)> {
        let (u, v) = self.undistorted(picture)?;
        let [a, b, c] = self.homography;
        // Two equations linear in (x, y): (row 1 - u row 3), (row 2 - v row 3).
        let first = [a[0] - u * c[0], a[1] - u * c[1], u * c[2] - a[2]];
        let second = [b[0] - v * c[0], b[1] - v * c[1], v * c[2] - b[2]];
        let determinant = first[0] * second[1] - first[1] * second[0];
        let x = (first[2] * second[1] - first[1] * second[2]) / determinant;
        let y = (first[0] * second[2] - first[2] * second[0]) / determinant;
        let in_front = c[0] * x + c[1] * y + c[2] > 1e-9;
        (in_front && x.is_finite() && y.is_finite()).then_some((x, y))
    }

    /// Where distortion moves a point of the undistorted picture, pixels.
    pub fn distorted(&self, (u, v): (f64, f64)) -> (f64, f64) {
        let (dx, dy) = (u - self.centre_px.0, v - self.centre_px.1);
        let stretch = 1.0 + self.k1 * (dx * dx + dy * dy) / self.radius_px.powi(2);
        (self.centre_px.0 + dx * stretch, self.centre_px.1 + dy * stretch)
    }

    /// The undistorted place of a place in the picture, pixels; `None` where the distortion folds.
    pub fn undistorted(&self, (px, py): (f64, f64)) -> Option<(f64, f64)> {
        let (dx, dy) = (px - self.centre_px.0, py - self.centre_px.1);
        let target = dx.hypot(dy) / self.radius_px;
        if target == 0.0 || self.k1 == 0.0 {
            return target.is_finite().then_some((px, py));
        }
        if self.k1 < 0.0 {
            // r(1 + k1 r²) grows up to r = 1/sqrt(-3 k1) only.
            let fold = (1.0 / (-3.0 * self.k1)).sqrt();
            if target >= fold * 2.0 / 3.0 {
                return None;
            }
        }
        let mut r = if self.k1 < 0.0 { target } else { target / (1.0 + self.k1 * target * target) };
        for _ in 0..60 {
            let step = (r * (1.0 + self.k1 * r * r) - target) / (1.0 + 3.0 * self.k1 * r * r);
            r -= step;
            if step.abs() <= 1e-15 * r.abs() {
                break;
            }
        }
        let shrink = r / target;
        r.is_finite().then_some((self.centre_px.0 + dx * shrink, self.centre_px.1 + dy * shrink))
    }

    /// Local geometric distortion, per cent, where an undistorted picture would have its point this far from the centre:
    /// (actual - predicted) / predicted × 100 % with the prediction from the magnification at the centre (ISO 17850 in
    /// substance). Positive is pincushion, negative barrel.
    pub fn distortion_percent(&self, predicted_radius_px: f64) -> f64 {
        100.0 * self.k1 * (predicted_radius_px / self.radius_px).powi(2)
    }

    /// Derivatives of the picture's place by the card's: [[∂px/∂x, ∂px/∂y], [∂py/∂x, ∂py/∂y]], pixels per millimetre.
    pub fn jacobian(&self, (x, y): (f64, f64)) -> Option<[[f64; 2]; 2]> {
        let [p, q, w] = self.homography.map(|row| row[0] * x + row[1] * y + row[2]);
        if w <= 1e-9 {
            return None;
        }
        let (u, v) = (p / w, q / w);
        let [a, b, c] = self.homography;
        let straight = [[(a[0] - u * c[0]) / w, (a[1] - u * c[1]) / w], [(b[0] - v * c[0]) / w, (b[1] - v * c[1]) / w]];
        let (dx, dy) = (u - self.centre_px.0, v - self.centre_px.1);
        let k = self.k1 / self.radius_px.powi(2);
        let stretch = 1.0 + k * (dx * dx + dy * dy);
        let bend = [[stretch + 2.0 * k * dx * dx, 2.0 * k * dx * dy], [2.0 * k * dx * dy, stretch + 2.0 * k * dy * dy]];
        Some([0, 1].map(|i| [0, 1].map(|j| bend[i][0] * straight[0][j] + bend[i][1] * straight[1][j])))
    }
}
