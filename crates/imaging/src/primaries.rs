//! Primaries that a file states by their chromaticities, or by a sensor's matrix.

use crate::profile::{SRGB_LUMA, inverse, to_srgb};
use crate::source::Primaries;

/// CIE 1931 chromaticity coordinates.
pub(crate) type Xy = (f64, f64);

type Matrix = [[f64; 3]; 3];

/// White of the profile connection space, ICC.1:2022, 7.2.16.
const D50: [f64; 3] = [0.9642, 1.0, 0.8249];

/// The linearised Bradford cone responses (ICC.1:2022, annex E).
const BRADFORD: Matrix = [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]];

/// Primaries red, green, blue and the white that they make together; `None` when these are no colours.
pub(crate) fn from_chromaticities(colours: [Xy; 3], white: Xy) -> Option<Primaries> {
    let column = |(x, y): Xy| (y.abs() > 1e-6).then(|| [x / y, 1.0, (1.0 - x - y) / y]);
    let [r, g, b] = [column(colours[0])?, column(colours[1])?, column(colours[2])?];
    let unscaled: Matrix = [0, 1, 2].map(|i| [r[i], g[i], b[i]]);
    let white = column(white)?;
    let scale = times(&inverse(unscaled)?, white);
    from_columns(unscaled.map(|row| [0, 1, 2].map(|c| row[c] * scale[c])), white)
}

/// A sensor's primaries out of DNG's ColorMatrix (from XYZ to the sensor, for the illuminant stated) and AsShotNeutral
/// (the sensor's values for white); `None` when the matrix is none.
pub(crate) fn from_sensor(matrix: Matrix, neutral: [f64; 3]) -> Option<Primaries> {
    let columns = inverse(matrix)?;
    let white = times(&columns, neutral);
    (white[1] > 0.0).then_some(())?;
    from_columns(columns, white)
}

/// From the XYZ of the three colours, in columns, and that of what is to be white.
fn from_columns(columns: Matrix, white: [f64; 3]) -> Option<Primaries> {
    let luminance: f64 = columns[1].iter().sum();
    if !(luminance.is_finite() && luminance > 0.0) {
        return None;
    }
    let cones = |xyz: [f64; 3]| times(&BRADFORD, xyz);
    let (from, to) = (cones(white.map(|v| v / white[1])), cones(D50));
    let back = inverse(BRADFORD)?;
    let adapt = |xyz: [f64; 3]| {
        let c = cones(xyz);
        times(&back, [0, 1, 2].map(|i| c[i] * to[i] / from[i]))
    };
    let adapted = [0, 1, 2].map(|c| adapt([0, 1, 2].map(|r| columns[r][c] / white[1])));
    let to_srgb = to_srgb([0, 1, 2].map(|r| [0, 1, 2].map(|c| adapted[c][r])))?;
    let luma = columns[1].map(|y| (y / luminance) as f32);
    let sound = to_srgb.iter().flatten().chain(&luma).all(|v| v.is_finite() && v.abs() < 1e3);
    sound.then_some(Primaries { luma, to_srgb })
}

fn times(m: &Matrix, v: [f64; 3]) -> [f64; 3] {
    [0, 1, 2].map(|r| (0..3).map(|c| m[r][c] * v[c]).sum())
}

/// Shares of luminance as in sRGB, colours shown as they are.
pub(crate) fn plain() -> Primaries {
    Primaries { luma: SRGB_LUMA, to_srgb: crate::profile::UNITY }
}

/// Primaries by their number in ITU-T H.273, table 2; `None` for those that are not known here.
pub(crate) fn by_code(code: u8) -> Option<Primaries> {
    const D65: Xy = (0.3127, 0.3290);
    match code {
        1 => Some(plain()),
        9 => from_chromaticities([(0.708, 0.292), (0.170, 0.797), (0.131, 0.046)], D65),
        12 => from_chromaticities([(0.680, 0.320), (0.265, 0.690), (0.150, 0.060)], D65),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    const D65: Xy = (0.3127, 0.3290);

    #[test]
    fn published_luminance_shares() {
        let srgb = from_chromaticities([(0.64, 0.33), (0.30, 0.60), (0.15, 0.06)], D65).unwrap();
        // IEC 61966-2-1: 0.2126, 0.7152, 0.0722, to four digits; and its own colours stay.
        for (found, published) in srgb.luma.iter().zip([0.2126, 0.7152, 0.0722]) {
            assert_close!(f64::from(*found), published, absolute = 6e-5);
        }
        for (r, c) in (0..3).flat_map(|r| (0..3).map(move |c| (r, c))) {
            // The reference profile's colorants are rounded to 1/65536 and its white to four digits.
            assert_close!(f64::from(srgb.to_srgb[r][c]), f64::from(r == c), absolute = 1e-3);
        }
        // Rec. ITU-R BT.2020-2, table 4: 0.2627, 0.6780, 0.0593.
        for (found, published) in by_code(9).unwrap().luma.iter().zip([0.2627, 0.6780, 0.0593]) {
            assert_close!(f64::from(*found), published, absolute = 6e-5);
        }
    }

    #[test]
    fn white_stays_white_in_any_primaries() {
        let wide = from_chromaticities([(0.64, 0.33), (0.21, 0.71), (0.15, 0.06)], D65).unwrap();
        let sensor = from_sensor([[0.7, -0.2, -0.05], [-0.4, 1.2, 0.2], [-0.05, 0.2, 0.5]], [0.5, 1.0, 0.6]).unwrap();
        for (primaries, white) in [(wide, [1.0, 1.0, 1.0]), (sensor, [0.5, 1.0, 0.6])] {
            let shown = primaries.to_srgb.map(|row| row.iter().zip(white).map(|(m, w)| f64::from(*m) * w).sum::<f64>());
            // Closed form: white goes to white, whose three shares are equal.
            assert_close!(shown[0] / shown[1], 1.0, absolute = 1e-3);
            assert_close!(shown[2] / shown[1], 1.0, absolute = 1e-3);
            assert_close!(primaries.luma.iter().map(|&v| f64::from(v)).sum::<f64>(), 1.0, absolute = 1e-6);
        }
    }

    #[test]
    fn what_are_no_colours_make_no_primaries() {
        assert_eq!(from_chromaticities([(0.3, 0.3); 3], D65), None);
        assert_eq!(from_chromaticities([(0.3, 0.0), (0.2, 0.7), (0.1, 0.1)], D65), None);
        assert_eq!(from_sensor([[0.0; 3]; 3], [1.0; 3]), None);
        assert_eq!(from_sensor([[f64::NAN; 3]; 3], [1.0; 3]), None);
        assert_eq!(by_code(22), None);
    }
}
