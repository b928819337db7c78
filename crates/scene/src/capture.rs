//! How a scene reaches the scan: geometry, blur and light, all known.

use crate::gauss::{first_crossing, gaussian_mtf, sinc};
use crate::geometry::{Geometry, Level};
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

impl Spread {
    /// The standard deviation along a direction, clockwise from the rows.
    pub fn along(self, direction_deg: f64) -> f64 {
        let (y, x) = direction_deg.to_radians().sin_cos();
        (self.xx * x * x + self.yy * y * y + 2.0 * self.xy * x * y).max(0.0).sqrt()
    }
}

/// Settings that have been checked: the way from subject to scan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capture {
    settings: Settings,
    /// Kept because every place that is drawn asks for them.
    corner_mm: f64,
    geometry: Geometry,
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
        within(ranges.into_iter().chain(blurs))?;
        let (radial, tangential) = (blur.corner_radial_um, blur.corner_tangential_um);
        let unequal = radial.max(tangential) / radial.min(tangential);
        if radial != tangential && unequal.is_nan() | (unequal > MOST_UNEQUAL) {
            return Err(CaptureError::TooUnequal { given: unequal, highest: MOST_UNEQUAL });
        }
        let corner_mm = 0.5 * side(s.width_px).hypot(side(s.height_px)) * s.pitch_um * 1e-3;
        check_geometry(s, corner_mm)?;
        check_light(s)?;
        Ok(Self { settings, corner_mm, geometry: Geometry::new(s, corner_mm) })
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
        self.to_film_at(channel, subject_mm, 0.0)
    }

    /// The same for a point at a height above the subject's plane, mm towards the camera.
    pub fn to_film_at(&self, channel: Channel, subject_mm: Point, height_mm: f64) -> Point {
        self.geometry.on_film(subject_mm, height_mm, self.colour_scale(channel))
    }

    /// The inverse of [`Self::to_film`].
    pub fn to_subject(&self, channel: Channel, film_mm: Point) -> Point {
        self.geometry.on_subject(Level::default(), film_mm, self.colour_scale(channel))
    }

    /// Where a point of the subject (mm) falls on the scan (pixels).
    pub fn to_pixel(&self, channel: Channel, subject_mm: Point) -> Point {
        self.film_to_pixel(self.to_film(channel, subject_mm))
    }

    /// The same for a point at a height above the subject's plane, mm towards the camera.
    pub fn to_pixel_at(&self, channel: Channel, subject_mm: Point, height_mm: f64) -> Point {
        self.film_to_pixel(self.to_film_at(channel, subject_mm, height_mm))
    }

    pub(crate) fn geometry(&self) -> &Geometry {
        &self.geometry
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

    /// The blur's covariance at a place on film, square pixels, of what lies flat and is sharp by itself.
    pub(crate) fn spread(&self, channel: Channel, film_mm: Point) -> Spread {
        self.lens_spread(channel, film_mm, self.defocus_px(film_mm, Level::default()).powi(2))
    }

    /// The lens's own covariance with a variance added in all directions, square pixels.
    pub(crate) fn lens_spread(&self, channel: Channel, film_mm: Point, more: f64) -> Spread {
        let blur = &self.settings.blur;
        let share = self.radius_squared(film_mm);
        let factor = blur.channel[channel.index()];
        let variance = |corner_um: f64| {
            let sigma = (blur.centre_um + (corner_um - blur.centre_um) * share) * factor;
            (sigma * sigma + (0.25 * blur.defocus_um).powi(2)) / self.settings.pitch_um.powi(2) + more
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

    /// The blur's standard deviation along a direction at a place on film, pixels, of what lies flat and is sharp by
    /// itself; [`Truth`](crate::Truth) knows ramps and soft print too.
    pub fn sigma_px(&self, channel: Channel, film_mm: Point, direction_deg: f64) -> f64 {
        self.spread(channel, film_mm).along(direction_deg)
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

    /// Light that the glare spot adds at a place on film.
    pub fn spot_light(&self, film_mm: Point) -> f64 {
        let Some(spot) = self.settings.glare_spot else { return 0.0 };
        let away = film_mm - spot.at_mm;
        let rest = (1.0 - (away.x * away.x + away.y * away.y) / spot.radius_mm.powi(2)).max(0.0);
        spot.light * rest * rest
    }

    /// Full scale over reflectance 1, from the exposure.
    pub fn exposure(&self) -> f64 {
        self.settings.exposure_stops.exp2()
    }
}

/// Broader blurs would need more of the surroundings than a band of rows holds.
pub(crate) const BROADEST_BLUR_PX: f64 = 40.0;

type Range = (&'static str, f64, f64, f64);

/// The negated form catches what is no number at all.
fn within(ranges: impl IntoIterator<Item = Range>) -> Result<(), CaptureError> {
    let wrong = ranges.into_iter().find(|&(_, given, lowest, highest)| !(given >= lowest && given <= highest));
    wrong
        .map_or(Ok(()), |(what, given, lowest, highest)| Err(CaptureError::OutOfRange { what, given, lowest, highest }))
}

/// Steepest tilt, degrees: a card seen more from the side shows nothing to measure.
const STEEPEST_DEG: f64 = 60.0;

fn check_geometry(s: &Settings, corner_mm: f64) -> Result<(), CaptureError> {
    let far = 1e9;
    within([
        ("the tilt of the right side in degrees", s.perspective.right_deg, -STEEPEST_DEG, STEEPEST_DEG),
        ("the tilt of the lower side in degrees", s.perspective.down_deg, -STEEPEST_DEG, STEEPEST_DEG),
        ("the distance of the entrance pupil in millimetres", s.perspective.distance_mm, 1.0, f64::INFINITY),
        // Beyond, the image's radius would turn back before it has reached the corner and its surroundings.
        ("the distortion", s.distortion, -0.1, 0.5),
        ("the height of best focus in millimetres", s.focus.height_mm, -far, far),
        ("the slope of best focus to the right", s.focus.slope.x, -10.0, 10.0),
        ("the slope of best focus downwards", s.focus.slope.y, -10.0, 10.0),
        ("the curvature of the field in millimetres", s.focus.curvature_mm, -far, far),
        ("the effective f-number", s.focus.f_number, 0.1, f64::INFINITY),
    ])?;
    // Seen from the pupil the tilted plane must stay in front of it all over the frame, with room to spare.
    let lean = s.perspective.right_deg.abs().to_radians().tan() + s.perspective.down_deg.abs().to_radians().tan();
    let given = lean * corner_mm / s.magnification / s.perspective.distance_mm;
    within([("how far the tilted subject comes towards the lens, as a share of its distance,", given, 0.0, 0.6)])?;
    let reach = s.focus.height_mm.abs()
        + (s.focus.slope.length() * corner_mm / s.magnification + s.focus.curvature_mm.abs()) * 1.21;
    let given = reach / s.perspective.distance_mm;
    within([("how far the best focus lies from the subject, as a share of the lens's distance,", given, 0.0, 0.6)])
}

fn check_light(s: &Settings) -> Result<(), CaptureError> {
    if let Some(spot) = s.glare_spot {
        within([
            ("the place of the glare spot to the right in millimetres", spot.at_mm.x, -1e4, 1e4),
            ("the place of the glare spot downwards in millimetres", spot.at_mm.y, -1e4, 1e4),
            ("the radius of the glare spot in millimetres", spot.radius_mm, 1e-3, 1e4),
            ("the light of the glare spot", spot.light, 0.0, 100.0),
        ])?;
    }
    if let Some(negative) = s.negative {
        within([
            ("the negative's base density", negative.base, 0.0, 4.0),
            ("the negative's gamma", negative.gamma, 0.1, 5.0),
            ("the negative's toe", negative.toe, 1e-6, 1.0),
        ])?;
    }
    Ok(())
}
