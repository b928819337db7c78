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

/// How the subject stands before the lens. The default looks straight on from far away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Perspective {
    /// By how much the subject's right side (as seen, after its turn) is turned back, away from the camera, degrees.
    pub right_deg: f64,
    /// By how much its lower side is turned back, degrees; this turn comes first.
    pub down_deg: f64,
    /// From the entrance pupil to the point where the optical axis meets the subject, mm; infinite for a lens that
    /// shows things at any height equally large.
    pub distance_mm: f64,
}

impl Default for Perspective {
    fn default() -> Self {
        Self { right_deg: 0.0, down_deg: 0.0, distance_mm: f64::INFINITY }
    }
}

/// Where the subject is sharp, and how fast it gets unsharp before and behind. Heights are measured from the plane
/// through the subject's middle at right angles to the optical axis, towards the camera.
///
/// The surface of best focus has the height `height_mm + slope . (x, y) + curvature_mm r^2` where x and y are the place on
/// film without distortion over the magnification, and r its distance from the middle in units of the corner's. A point at a height z
/// that misses the surface by dz spreads to a disc of diameter c = m^2 |dz| / (Ne (1 - z_f / D) (1 - z / D)) on film:
/// similar triangles from the entrance pupil, whose diameter over its distance D is m / Ne. It counts as the Gaussian
/// of the same second moment, c / 4, added by squares; the disc's rim is not drawn. Beyond 40 pixels the deviation
/// grows no more.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Focus {
    /// Height of the surface on the axis, mm; negative when the camera is focused behind the subject.
    pub height_mm: f64,
    /// Rise of the surface per millimetre to the right and downwards, before any mirroring.
    pub slope: Point,
    /// Its height in the corner over that on the axis, from field curvature, mm.
    pub curvature_mm: f64,
    /// Effective f-number on the film's side, N (1 + m) for a thin lens; infinite: everything is sharp.
    pub f_number: f64,
}

impl Default for Focus {
    fn default() -> Self {
        Self { height_mm: 0.0, slope: Point::new(0.0, 0.0), curvature_mm: 0.0, f_number: f64::INFINITY }
    }
}

/// A bright spot of stray light: strongest in its middle, fading smoothly to nothing at its rim as (1 - d^2)^2.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GlareSpot {
    /// Its middle, mm on film from the middle of the frame.
    pub at_mm: Point,
    /// Its radius, mm on film.
    pub radius_mm: f64,
    /// Light added in the middle; 1 is as much as a reflectance of 1 gives.
    pub light: f64,
}

/// A negative: what the scan shows is the film's transmittance, 10^-density, with
/// density = base + gamma log10(1 + exposure / toe). An exposure of 1 is full scale in a positive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Negative {
    /// Density where no light fell.
    pub base: f64,
    /// Density per tenfold exposure on the straight part.
    pub gamma: f64,
    /// Exposure about which the curve bends from the base into its straight part.
    pub toe: f64,
}

impl Negative {
    /// The transmittance that an exposure leaves.
    pub fn transmittance(&self, exposure: f64) -> f64 {
        10f64.powf(-self.base) * (1.0 + exposure.max(0.0) / self.toe).powf(-self.gamma)
    }

    /// The exposure behind a transmittance.
    pub fn exposure(&self, transmittance: f64) -> f64 {
        self.toe * ((transmittance * 10f64.powf(self.base)).powf(-1.0 / self.gamma) - 1.0)
    }
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
    /// Tilt and distance.
    pub perspective: Perspective,
    /// Radial distortion k1: an image height r becomes r (1 + k1 r^2), r in units of the corner's distance from the
    /// middle. Positive is a pincushion.
    pub distortion: f64,
    /// Scanned from the wrong side: left and right are exchanged.
    pub mirrored: bool,
    /// Blur.
    pub blur: Blur,
    /// Where it is sharp.
    pub focus: Focus,
    /// Lateral colour.
    pub lateral: LateralColour,
    /// Veiling glare: this share of the frame's mean light is added everywhere.
    pub veiling_glare: f64,
    /// A spot of stray light.
    pub glare_spot: Option<GlareSpot>,
    /// Fall-off in the corner against the middle, stops; it grows with the square of the distance.
    pub falloff_stops_at_corner: f64,
    /// Exposure: 0 turns a reflectance of 1 into full scale.
    pub exposure_stops: f64,
    /// A negative instead of a positive.
    pub negative: Option<Negative>,
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
            perspective: Perspective::default(),
            distortion: 0.0,
            mirrored: false,
            blur: Blur::even(10.0),
            focus: Focus::default(),
            lateral: LateralColour::default(),
            veiling_glare: 0.0,
            glare_spot: None,
            falloff_stops_at_corner: 0.0,
            exposure_stops: 0.0,
            negative: None,
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
