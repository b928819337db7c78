//! What a capture is made from, and why it may be refused.

use crate::shape::Point;

/// One of the three colours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Channel {
    /// Red.
    Red,
    /// Green, against which the others are displaced.
    Green,
    /// Blue.
    Blue,
}

impl Channel {
    /// Red, green, blue: the order of samples in a scan.
    pub const ALL: [Self; 3] = [Self::Red, Self::Green, Self::Blue];

    pub(crate) fn index(self) -> usize {
        self as usize
    }
}

/// The blur of lens, film and scanner together: a Gaussian whose spread grows evenly with the square of the distance
/// from the middle of the frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blur {
    /// Standard deviation in the middle, micrometres on film.
    pub centre_um: f64,
    /// Standard deviation along the radius in the corner.
    pub corner_radial_um: f64,
    /// Standard deviation across the radius in the corner.
    pub corner_tangential_um: f64,
    /// Factor on all of these for red, green and blue.
    pub channel: [f64; 3],
    /// Diameter of the disc that a point out of focus spreads to, micrometres on film. It counts as the Gaussian of
    /// the same second moment, a quarter of the diameter, added by squares: the rim of the disc is not drawn.
    pub defocus_um: f64,
}

impl Blur {
    /// The same blur everywhere, in all directions and colours.
    pub const fn even(sigma_um: f64) -> Self {
        Self {
            centre_um: sigma_um,
            corner_radial_um: sigma_um,
            corner_tangential_um: sigma_um,
            channel: [1.0; 3],
            defocus_um: 0.0,
        }
    }
}

/// Lateral colour: how far outwards red and blue lie from green in the corner of the frame, micrometres on film. It
/// grows evenly with the distance from the middle, as a change of magnification does.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LateralColour {
    /// Red, positive outwards.
    pub red_um: f64,
    /// Blue, positive outwards.
    pub blue_um: f64,
}

/// Film grain: normally distributed in density, independent in the three colours.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Grain {
    /// Standard deviation of density, as sampled by the pixels.
    pub density_sd: f64,
    /// Standard deviation of the Gaussian by which neighbouring pixels share their grain, micrometres on film.
    pub correlation_um: f64,
}

/// Everything that a [`Capture`](crate::Capture) is made from. Start from [`Settings::default`] and change what matters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Image size over subject size.
    pub magnification: f64,
    /// From pixel to pixel, micrometres on film.
    pub pitch_um: f64,
    /// Columns of the scan.
    pub width_px: u32,
    /// Rows of the scan.
    pub height_px: u32,
    /// Turn of the subject in the frame, clockwise, degrees.
    pub rotation_deg: f64,
    /// Shift of the subject in the frame after the turn, subject millimetres.
    pub shift_mm: Point,
    /// Blur.
    pub blur: Blur,
    /// Lateral colour.
    pub lateral: LateralColour,
    /// Veiling glare: this share of the frame's mean light is added everywhere.
    pub veiling_glare: f64,
    /// Fall-off in the corner against the middle, stops; it grows with the square of the distance.
    pub falloff_stops_at_corner: f64,
    /// Exposure: 0 turns a reflectance of 1 into full scale.
    pub exposure_stops: f64,
    /// Grain.
    pub grain: Grain,
    /// Which grain.
    pub seed: u64,
}

impl Default for Settings {
    /// A 56 mm square at life size and 1000 samples to the inch, sharp, even and clean.
    fn default() -> Self {
        Self {
            magnification: 1.0,
            pitch_um: 25.4,
            width_px: 2205,
            height_px: 2205,
            rotation_deg: 0.0,
            shift_mm: Point::default(),
            blur: Blur::even(10.0),
            lateral: LateralColour::default(),
            veiling_glare: 0.0,
            falloff_stops_at_corner: 0.0,
            exposure_stops: 0.0,
            grain: Grain::default(),
            seed: 1,
        }
    }
}

/// Why settings cannot be photographed with.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CaptureError {
    /// A figure lies outside what can be drawn.
    #[error("{what} is {given}; it must lie between {lowest} and {highest}")]
    OutOfRange {
        /// The setting, with its unit.
        what: &'static str,
        /// As given.
        given: f64,
        /// Smallest allowed.
        lowest: f64,
        /// Largest allowed.
        highest: f64,
    },
    /// The blur in the corner is too unequal along and across the radius.
    #[error("the corner's blur along and across the radius differ {given:.2} times; at most {highest} can be drawn")]
    TooUnequal {
        /// The larger over the smaller.
        given: f64,
        /// Largest allowed.
        highest: f64,
    },
}
