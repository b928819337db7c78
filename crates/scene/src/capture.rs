//! How a scene reaches the scan: geometry, blur and light, all known.

use crate::gauss::{first_crossing, gaussian_mtf, sinc};
use crate::settings::{CaptureError, Channel, Settings};
use crate::shape::Point;

/// A blur is drawn as three passes, along columns, rows and one diagonal. Their variances stay positive in every
/// direction while the two deviations differ by less than 1 + sqrt 2; a little below that is the limit here.
const MOST_UNEQUAL: f64 = 2.4;

/// A covariance of the blur: xx, yy and xy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spread {
    pub xx: f64,
    pub yy: f64,
    pub xy: f64,
}

/// Settings that have been checked: the way from subject to scan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capture {
    settings: Settings,
    /// Kept because every place that is drawn asks for them.
    corner_mm: f64,
    turn: Turn,
}

/// A turn by its sine and cosine.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Turn {
    sin: f64,
    cos: f64,
}

impl Turn {
    fn new(degrees: f64) -> Self {
        let (sin, cos) = degrees.to_radians().sin_cos();
        Self { sin, cos }
    }

    fn clockwise(self, p: Point) -> Point {
        Point::new(p.x * self.cos - p.y * self.sin, p.x * self.sin + p.y * self.cos)
    }

    fn back(self, p: Point) -> Point {
        Point::new(p.x * self.cos + p.y * self.sin, p.y * self.cos - p.x * self.sin)
    }
}

impl Capture {
    /// Checks the settings.
    pub fn new(settings: Settings) -> Result<Self, CaptureError> {
        let s = &settings;
        let blur = &s.blur;
        let side = |px: u32| f64::from(px);
        let ranges = [
            ("the magnification", s.magnification, 1e-3, 1e3),
            ("the pitch in micrometres", s.pitch_um, 0.1, 1000.0),
            ("the width in pixels", side(s.width_px), 1.0, 65_535.0),
            ("the height in pixels", side(s.height_px), 1.0, 65_535.0),
            ("the turn in degrees", s.rotation_deg, -360.0, 360.0),
            ("the shift to the right in millimetres", s.shift_mm.x, -1e4, 1e4),
            ("the shift downwards in millimetres", s.shift_mm.y, -1e4, 1e4),
            ("the lateral colour of red in micrometres", s.lateral.red_um, -1000.0, 1000.0),
            ("the lateral colour of blue in micrometres", s.lateral.blue_um, -1000.0, 1000.0),
            ("the veiling glare as a share", s.veiling_glare, 0.0, 1.0),
            ("the fall-off in stops", s.falloff_stops_at_corner, -5.0, 10.0),
            ("the exposure in stops", s.exposure_stops, -20.0, 20.0),
            ("the factor on red's blur", blur.channel[0], 0.0, 10.0),
            ("the factor on green's blur", blur.channel[1], 0.0, 10.0),
            ("the factor on blue's blur", blur.channel[2], 0.0, 10.0),
            ("the grain's deviation in density", s.grain.density_sd, 0.0, 1.0),
            ("the grain's correlation in pixels", s.grain.correlation_um / s.pitch_um, 0.0, 20.0),
        ];
        let widest = BROADEST_BLUR_PX * s.pitch_um;
        let blurs = [
            ("the blur's deviation in the middle in micrometres", blur.centre_um),
            ("the blur's deviation along the radius in micrometres", blur.corner_radial_um),
            ("the blur's deviation across the radius in micrometres", blur.corner_tangential_um),
            ("the disc of defocus in micrometres", blur.defocus_um),
        ];
        let strongest = blur.channel.iter().copied().fold(1.0, f64::max);
        let blurs = blurs.into_iter().map(|(what, given)| (what, given, 0.0, widest / strongest));
        for (what, given, lowest, highest) in ranges.into_iter().chain(blurs) {
            // The negated form catches what is no number at all.
            if !(given >= lowest && given <= highest) {
                return Err(CaptureError::OutOfRange { what, given, lowest, highest });
            }
        }
        let (radial, tangential) = (blur.corner_radial_um, blur.corner_tangential_um);
        let unequal = radial.max(tangential) / radial.min(tangential);
        if radial != tangential && unequal.is_nan() | (unequal > MOST_UNEQUAL) {
            return Err(CaptureError::TooUnequal { given: unequal, highest: MOST_UNEQUAL });
        }
        let corner_mm = 0.5 * side(s.width_px).hypot(side(s.height_px)) * s.pitch_um * 1e-3;
        Ok(Self { settings, corner_mm, turn: Turn::new(settings.rotation_deg) })
    }

    /// What it was made from.
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// The pixel's side, mm on film.
    pub fn pitch_mm(&self) -> f64 {
        self.settings.pitch_um * 1e-3
    }

    /// Width and height of the part of the subject that the scan shows, mm.
    pub fn field_mm(&self) -> [f64; 2] {
        let s = &self.settings;
        [s.width_px, s.height_px].map(|px| f64::from(px) * self.pitch_mm() / s.magnification)
    }

    /// From the middle of the frame to its corner, mm on film.
    pub fn corner_mm(&self) -> f64 {
        self.corner_mm
    }

    /// Image size over green's image size in that colour.
    pub(crate) fn colour_scale(&self, channel: Channel) -> f64 {
        let outwards = match channel {
            Channel::Red => self.settings.lateral.red_um,
            Channel::Green => 0.0,
            Channel::Blue => self.settings.lateral.blue_um,
        };
        1.0 + outwards * 1e-3 / self.corner_mm()
    }

    /// Where a point of the subject (mm) falls on film (mm from the middle of the frame).
    pub fn to_film(&self, channel: Channel, subject_mm: Point) -> Point {
        let s = &self.settings;
        let placed = self.turn.clockwise(subject_mm) + s.shift_mm;
        placed * (s.magnification * self.colour_scale(channel))
    }

    /// The inverse of [`Self::to_film`].
    pub fn to_subject(&self, channel: Channel, film_mm: Point) -> Point {
        let s = &self.settings;
        let placed = film_mm * (1.0 / (s.magnification * self.colour_scale(channel)));
        self.turn.back(placed - s.shift_mm)
    }

    /// Where a point of the subject (mm) falls on the scan (pixels).
    pub fn to_pixel(&self, channel: Channel, subject_mm: Point) -> Point {
        self.film_to_pixel(self.to_film(channel, subject_mm))
    }

    fn middle_px(&self) -> Point {
        Point::new(0.5 * f64::from(self.settings.width_px), 0.5 * f64::from(self.settings.height_px))
    }

    /// Film millimetres to pixels.
    pub fn film_to_pixel(&self, film_mm: Point) -> Point {
        film_mm * (1.0 / self.pitch_mm()) + self.middle_px()
    }

    /// Pixels to film millimetres.
    pub fn pixel_to_film(&self, pixel: Point) -> Point {
        (pixel - self.middle_px()) * self.pitch_mm()
    }

    /// Distance from the middle over the corner's, squared.
    pub(crate) fn radius_squared(&self, film_mm: Point) -> f64 {
        (film_mm.x * film_mm.x + film_mm.y * film_mm.y) / self.corner_mm().powi(2)
    }

    /// The blur's covariance at a place on film, square pixels.
    pub(crate) fn spread(&self, channel: Channel, film_mm: Point) -> Spread {
        let blur = &self.settings.blur;
        let share = self.radius_squared(film_mm);
        let factor = blur.channel[channel.index()];
        let variance = |corner_um: f64| {
            let sigma = (blur.centre_um + (corner_um - blur.centre_um) * share) * factor;
            (sigma * sigma + (0.25 * blur.defocus_um).powi(2)) / self.settings.pitch_um.powi(2)
        };
        let (radial, tangential) = (variance(blur.corner_radial_um), variance(blur.corner_tangential_um));
        let radius = (film_mm.x * film_mm.x + film_mm.y * film_mm.y).sqrt();
        if radius == 0.0 {
            return Spread { xx: radial, yy: tangential, xy: 0.0 };
        }
        let (x, y) = (film_mm.x / radius, film_mm.y / radius);
        Spread {
            xx: radial * x * x + tangential * y * y,
            yy: radial * y * y + tangential * x * x,
            xy: (radial - tangential) * x * y,
        }
    }

    /// The broadest blur along any pass, and the broadest along a diagonal, pixels, with the surroundings of the frame.
    pub(crate) fn broadest_sigmas_px(&self) -> (f64, f64) {
        let corner = Point::new(self.corner_mm() * SURROUNDINGS, 0.0);
        let places = [Point::default(), corner];
        let spreads = places.iter().flat_map(|&p| Channel::ALL.map(|channel| self.spread(channel, p)));
        let (mut broadest, mut slant) = (0.0f64, 0.0f64);
        for spread in spreads {
            // Along the radius x and y are the principal variances; half their difference is the largest xy.
            broadest = broadest.max(spread.xx).max(spread.yy);
            slant = slant.max(0.5 * (spread.xx - spread.yy).abs());
        }
        (broadest.sqrt(), slant.sqrt())
    }

    /// The blur's standard deviation along a direction at a place on film, pixels.
    pub fn sigma_px(&self, channel: Channel, film_mm: Point, direction_deg: f64) -> f64 {
        let (y, x) = direction_deg.to_radians().sin_cos();
        let spread = self.spread(channel, film_mm);
        (spread.xx * x * x + spread.yy * y * y + 2.0 * spread.xy * x * y).max(0.0).sqrt()
    }

    /// The modulation transfer at a place on film, for detail that varies along `direction_deg` (clockwise from the
    /// rows: 0 for an upright edge), at a frequency in cycles per mm on film. The pixel's aperture is included; grain,
    /// glare and clipping are not part of it.
    pub fn mtf_at(&self, channel: Channel, film_mm: Point, direction_deg: f64, cy_per_mm: f64) -> f64 {
        let (y, x) = direction_deg.to_radians().sin_cos();
        let nu = cy_per_mm * self.pitch_mm();
        gaussian_mtf(self.sigma_px(channel, film_mm, direction_deg), nu) * (sinc(nu * x) * sinc(nu * y)).abs()
    }

    /// The frequency, cycles per mm on film, at which [`Self::mtf_at`] first falls to `level`.
    pub fn frequency_at(&self, channel: Channel, film_mm: Point, direction_deg: f64, level: f64) -> Option<f64> {
        let limit = 5.0 / self.pitch_mm();
        first_crossing(level, limit, |nu| self.mtf_at(channel, film_mm, direction_deg, nu))
    }

    /// Light at a place on film over light in the middle, from fall-off alone.
    pub fn falloff_at(&self, film_mm: Point) -> f64 {
        (-self.settings.falloff_stops_at_corner * self.radius_squared(film_mm)).exp2()
    }

    /// Full scale over reflectance 1, from the exposure.
    pub fn exposure(&self) -> f64 {
        self.settings.exposure_stops.exp2()
    }
}

/// The blur is drawn a little beyond the corner too, where the passes take their surroundings from.
const SURROUNDINGS: f64 = 1.1;

/// Broader blurs would need more of the surroundings than a band of rows holds.
pub(crate) const BROADEST_BLUR_PX: f64 = 40.0;
