//! Tone curves: the only way between encoded and linear.

use crate::{Encoded, Linear, Picture};

/// Encoded value below which the sRGB curve is a straight line (IEC 61966-2-1:1999).
pub const SRGB_THRESHOLD_ENCODED: f64 = 0.04045;
/// Linear value below which the sRGB curve is a straight line (IEC 61966-2-1:1999).
pub const SRGB_THRESHOLD_LINEAR: f64 = 0.0031308;

/// Linear light from an sRGB-encoded value, both in 0 ..= 1 (IEC 61966-2-1:1999, section 5.2).
pub fn srgb_decode(encoded: f64) -> f64 {
    if encoded <= SRGB_THRESHOLD_ENCODED { encoded / 12.92 } else { ((encoded + 0.055) / 1.055).powf(2.4) }
}

/// The sRGB-encoded value of linear light, both in 0 ..= 1 (IEC 61966-2-1:1999, section 5.2).
pub fn srgb_encode(linear: f64) -> f64 {
    if linear <= SRGB_THRESHOLD_LINEAR { linear * 12.92 } else { 1.055 * linear.powf(1.0 / 2.4) - 0.055 }
}

/// A tone curve that is the same for every colour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ToneCurve {
    /// The values are linear light already.
    Linear,
    /// The piecewise curve of IEC 61966-2-1.
    Srgb,
    /// Light is the encoded value to this power; must be above 0.
    Gamma(f64),
}

impl ToneCurve {
    /// Linear light from an encoded value; 0 and 1 stay where they are.
    pub fn decode(self, encoded: f64) -> f64 {
        match self {
            Self::Linear => encoded,
            Self::Srgb => srgb_decode(encoded),
            Self::Gamma(gamma) => encoded.max(0.0).powf(gamma),
        }
    }

    /// The encoded value of linear light; the inverse of [`Self::decode`].
    pub fn encode(self, linear: f64) -> f64 {
        match self {
            Self::Linear => linear,
            Self::Srgb => srgb_encode(linear),
            Self::Gamma(gamma) => linear.max(0.0).powf(1.0 / gamma),
        }
    }

    /// A whole picture to linear light.
    pub fn to_linear(self, picture: &Picture<Encoded>) -> Picture<Linear> {
        picture.map(|s| self.decode(f64::from(s)) as f32)
    }

    /// A whole picture as a file would hold it.
    pub fn to_encoded(self, picture: &Picture<Linear>) -> Picture<Encoded> {
        picture.map(|s| self.encode(f64::from(s)) as f32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn srgb_published_midpoint() {
        // IEC 61966-2-1:1999: the curve at one half, computed from the printed constants.
        assert_close!(srgb_decode(0.5), 0.214_041_140_482_232_55, relative = 1e-12);
        assert_close!(srgb_decode(1.0), 1.0, relative = 1e-12);
    }

    #[test]
    fn decoding_undoes_encoding() {
        for curve in [ToneCurve::Linear, ToneCurve::Srgb, ToneCurve::Gamma(1.8), ToneCurve::Gamma(2.2)] {
            for i in 0..=100 {
                let light = f64::from(i) / 100.0;
                // The two printed sRGB thresholds meet only to 2e-8, which is what the tolerance allows for.
                assert_close!(curve.decode(curve.encode(light)), light, absolute = 1e-7, "{curve:?}");
            }
        }
    }
}
