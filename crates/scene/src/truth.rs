//! What is true of a scene under a capture: every edge, code and ramp, whether or not an upright region holds it.

use crate::capture::Capture;
use crate::finish::glare_light;
use crate::gauss::{first_crossing, gaussian_mtf, sinc};
use crate::geometry::Level;
use crate::relief::Relief;
use crate::settings::Channel;
use crate::shape::{Feature, Point, Scene, Side, SlopingStrip};

/// A straight edge, in pixels of the scan.
#[derive(Debug, Clone, PartialEq)]
pub struct TrueEdge {
    /// Name of its square, or of its blade.
    pub name: String,
    /// Which side of the square before any turn; none of a blade.
    pub side: Option<Side>,
    /// Its ends in green.
    pub ends_px: [Point; 2],
    /// Its middle on the subject, in green: half-way between the ends on the subject.
    pub middle_px: Point,
    /// The same, mm on film from the middle of the frame.
    pub film_mm: Point,
    /// Unit normal on the scan at the middle, from dark to bright.
    pub normal: Point,
    /// Its direction, clockwise from the rows, degrees, -180 to 180.
    pub direction_deg: f64,
    /// Distance from the middle of the frame over the corner's: 0 centre, 1 corner.
    pub radius_share: f64,
    /// Displacement of red and blue against green along the normal, pixels.
    pub displacement_px: [f64; 2],
    /// Standard deviation of the blur along the normal for red, green and blue, pixels; without the pixel's aperture.
    pub sigma_px: [f64; 3],
    /// Reflectance (green) of the dark and the bright side.
    pub levels: [f64; 2],
    pitch_mm: f64,
}

impl TrueEdge {
    /// The modulation transfer across it, the pixel's aperture and the print's softness included; cycles per mm on
    /// film. It takes the blur of the edge's middle.
    pub fn mtf_at(&self, channel: Channel, cy_per_mm: f64) -> f64 {
        let nu = cy_per_mm * self.pitch_mm;
        let pixel = (sinc(nu * self.normal.x) * sinc(nu * self.normal.y)).abs();
        gaussian_mtf(self.sigma_px[channel.index()], nu) * pixel
    }

    /// The frequency, cycles per mm on film, at which the transfer first falls to `level`.
    pub fn frequency_at(&self, channel: Channel, level: f64) -> Option<f64> {
        first_crossing(level, 5.0 / self.pitch_mm, |nu| self.mtf_at(channel, nu))
    }
}

/// A code, in pixels of the scan.
#[derive(Debug, Clone, PartialEq)]
pub struct TrueCode {
    /// What it says.
    pub text: String,
    /// Its corners in green without the quiet zone, from the one that is its own top left, clockwise on the card.
    pub corners_px: [Point; 4],
    /// Modules along a side.
    pub modules: usize,
    /// Whether all of it lies on the scan.
    pub on_scan: bool,
}

/// A sloping strip, in green.
#[derive(Debug, Clone, PartialEq)]
pub struct TrueRamp {
    /// What the place is called.
    pub name: String,
    /// Its mark, pixels.
    pub mark_px: Point,
    /// Its two ends on its middle line, the one near to the camera first, pixels.
    pub ends_px: [Point; 2],
    /// Whether all of its middle line lies on the scan.
    pub on_scan: bool,
    /// Where it is sharpest, if it is anywhere; the place where it meets the surface of best focus.
    pub best: Option<BestFocus>,
}

/// Where a sloping strip is sharpest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BestFocus {
    /// Along the strip from its mark, mm, positive towards the end near to the camera.
    pub along_mm: f64,
    /// Height above the card, mm.
    pub height_mm: f64,
    /// On the scan.
    pub at_px: Point,
    /// Frequency of the bars there, cycles per mm on film.
    pub cy_per_mm: f64,
    /// Depth along the optical axis, mm, both sides together, over which the bars' fundamental keeps more than half of
    /// the contrast that it has at best focus: 2 sqrt(ln 2 / 2) / (pi k nu), where k is the deviation on film per
    /// millimetre of height. All else being even, that is; infinite with an infinite f-number.
    pub depth_mm: f64,
    /// The same along the strip, mm.
    pub along_depth_mm: f64,
}

/// The truth about a scene under a capture.
#[derive(Debug, Clone)]
pub struct Truth<'a> {
    scene: &'a Scene,
    capture: &'a Capture,
    relief: Relief,
}

impl<'a> Truth<'a> {
    /// About that scene under that capture.
    pub fn new(scene: &'a Scene, capture: &'a Capture) -> Self {
        Self { scene, capture, relief: Relief::new(scene, capture) }
    }

    /// Standard deviation of the blur at a place on film along a direction (clockwise from the rows), pixels: lens,
    /// defocus at the height of what lies there, and the print's own softness.
    pub fn sigma_px(&self, channel: Channel, film_mm: Point, direction_deg: f64) -> f64 {
        self.relief.spread(channel, film_mm).along(direction_deg)
    }

    /// All sides of squares, and all blades, that lie on the scan from end to end.
    pub fn edges(&self) -> Vec<TrueEdge> {
        self.scene.features.iter().flat_map(|feature| self.edges_of(feature)).collect()
    }

    fn edges_of(&self, feature: &Feature) -> Vec<TrueEdge> {
        match feature {
            Feature::Square { name, centre, side_mm, turn_deg, dark, bright, .. } => {
                let side = |&side: &Side| {
                    let out = side.outward().turned(*turn_deg);
                    let along = Point::new(-out.y, out.x) * (0.5 * side_mm);
                    let middle = *centre + out * (0.5 * side_mm);
                    self.edge(name, Some(side), [middle - along, middle + along], out, [*dark, *bright])
                };
                Side::ALL.iter().filter_map(side).collect()
            }
            Feature::Blade { name, ends, outward, dark, bright, .. } => {
                self.edge(name, None, *ends, *outward, [*dark, *bright]).into_iter().collect()
            }
            _ => Vec::new(),
        }
    }

    fn edge(&self, name: &str, side: Option<Side>, ends: [Point; 2], out: Point, levels: [f64; 2]) -> Option<TrueEdge> {
        let capture = self.capture;
        let ends_px = ends.map(|end| capture.to_pixel(Channel::Green, end));
        if !ends_px.iter().all(|&end| capture.on_scan(end)) {
            return None;
        }
        let middle = (ends[0] + ends[1]) * 0.5;
        let film_mm = capture.to_film(Channel::Green, middle);
        let normal = capture.seen_normal(middle, ends[1] - ends[0], out);
        let direction_deg = normal.y.atan2(normal.x).to_degrees();
        let displaced = |channel| {
            let by = capture.to_film(channel, middle) - film_mm;
            (by.x * normal.x + by.y * normal.y) / capture.pitch_mm()
        };
        Some(TrueEdge {
            name: name.into(),
            side,
            ends_px,
            middle_px: capture.film_to_pixel(film_mm),
            film_mm,
            normal,
            direction_deg,
            radius_share: capture.radius_squared(film_mm).sqrt(),
            displacement_px: [displaced(Channel::Red), displaced(Channel::Blue)],
            sigma_px: Channel::ALL.map(|channel| self.sigma_px(channel, film_mm, direction_deg)),
            levels,
            pitch_mm: capture.pitch_mm(),
        })
    }

    /// All codes of the scene, those that do not lie on the scan too.
    pub fn codes(&self) -> Vec<TrueCode> {
        let codes = self.scene.features.iter().filter_map(|feature| {
            let Feature::Code { text, corners, modules } = feature else { return None };
            let corners_px = corners.map(|corner| self.capture.to_pixel(Channel::Green, corner));
            let on_scan = corners_px.iter().all(|&corner| self.capture.on_scan(corner));
            Some(TrueCode { text: text.clone(), corners_px, modules: *modules, on_scan })
        });
        codes.collect()
    }

    /// All ramps of the scene and tilted rules, those that do not lie on the scan too.
    pub fn ramps(&self) -> Vec<TrueRamp> {
        let ramps = self.scene.features.iter().filter_map(|feature| {
            let Feature::Ramp(strip) = feature else { return None };
            let at = |along_mm: f64| self.capture.film_to_pixel(self.on_strip(strip, along_mm));
            let ends_px = [0.5, -0.5].map(|share| at(share * strip.strip_mm));
            Some(TrueRamp {
                name: strip.name.clone(),
                mark_px: at(0.0),
                ends_px,
                on_scan: ends_px.iter().all(|&end| self.capture.on_scan(end)),
                best: self.best_focus(strip),
            })
        });
        ramps.collect()
    }

    fn on_strip(&self, strip: &SlopingStrip, along_mm: f64) -> Point {
        let place = strip.point(along_mm, 0.0);
        self.capture.to_film_at(Channel::Green, place.at, place.height_mm)
    }

    fn miss(&self, strip: &SlopingStrip, along_mm: f64) -> (f64, f64) {
        self.capture.miss_mm(self.on_strip(strip, along_mm), strip.level())
    }

    fn best_focus(&self, strip: &SlopingStrip) -> Option<BestFocus> {
        let (mut low, mut high) = (-0.5 * strip.strip_mm, 0.5 * strip.strip_mm);
        let rising = self.miss(strip, high).0 > 0.0;
        if self.capture.settings().focus.f_number.is_infinite() || (self.miss(strip, low).0 > 0.0) == rising {
            return None;
        }
        for _ in 0..80 {
            let middle = 0.5 * (low + high);
            if (self.miss(strip, middle).0 > 0.0) == rising { high = middle } else { low = middle }
        }
        let along_mm = 0.5 * (low + high);
        let film = self.on_strip(strip, along_mm);
        let step = 1e-3 * strip.strip_mm;
        let ends = [along_mm - step, along_mm + step].map(|at| self.miss(strip, at));
        let per_along = (ends[1].0 - ends[0].0) / (2.0 * step);
        let per_mm = 0.25 * (ends[1].1 - ends[0].1) / (ends[1].0 - ends[0].0);
        let cy_per_mm = 1.0 / (strip.bar_mm * self.film_per_along(strip, along_mm));
        let depth_mm = 2.0 * (0.5 * std::f64::consts::LN_2).sqrt() / (std::f64::consts::PI * per_mm.abs() * cy_per_mm);
        let height_mm = strip.point(along_mm, 0.0).height_mm;
        let at_px = self.capture.film_to_pixel(film);
        let along_depth_mm = depth_mm / per_along.abs();
        Some(BestFocus { along_mm, height_mm, at_px, cy_per_mm, depth_mm, along_depth_mm })
    }

    /// Film mm per mm along the strip.
    fn film_per_along(&self, strip: &SlopingStrip, along_mm: f64) -> f64 {
        let seen = strip.upwards * strip.slope_deg.to_radians().cos();
        self.capture.geometry().derivative(strip.point(along_mm, 0.0).at, strip.level()).of(seen).length()
    }

    /// Contrast of the fundamental of a strip's bars at a place along it, over what a sharp picture would show: the
    /// transfer at the bars' frequency there, in green, pixel aperture and print included. `None` for no such strip.
    pub fn bar_contrast(&self, name: &str, along_mm: f64) -> Option<f64> {
        let strip = self.scene.features.iter().find_map(|feature| match feature {
            Feature::Ramp(strip) if strip.name == name => Some(strip),
            _ => None,
        })?;
        let film = self.on_strip(strip, along_mm);
        let geometry = self.capture.geometry();
        let run = geometry.derivative(strip.point(along_mm, 0.0).at, strip.level()).of(strip.upwards);
        let unit = run * (1.0 / run.length());
        let nu = self.capture.pitch_mm() / (strip.bar_mm * self.film_per_along(strip, along_mm));
        let spread = self.relief.spread_on(Channel::Green, film, strip.level(), self.scene.softness_mm);
        let sigma = spread.along(unit.y.atan2(unit.x).to_degrees());
        Some(gaussian_mtf(sigma, nu) * (sinc(nu * unit.x) * sinc(nu * unit.y)).abs())
    }

    /// Light that veiling glare adds everywhere in red, green and blue, in units of reflectance in the middle of the
    /// frame; the glare spot comes on top ([`Capture::spot_light`]). A black of reflectance b over a white of w is
    /// seen in the middle as (b + g) / (w + g).
    pub fn glare_light(&self) -> [f64; 3] {
        glare_light(self.scene, self.capture)
    }

    /// Image size over subject size at a place on the subject: the root of the factor on areas, distortion included.
    pub fn magnification_at(&self, subject_mm: Point) -> f64 {
        self.capture.geometry().derivative(subject_mm, Level::default()).determinant().abs().sqrt()
    }

    /// From the subject's plane (x mm, y mm, 1) to pixels (x w, y w, w) in green; `None` where distortion bends it.
    pub fn homography(&self) -> Option<[[f64; 3]; 3]> {
        let s = self.capture.settings();
        let [along_x, along_y, origin] = self.capture.geometry().columns();
        let size = s.magnification / self.capture.pitch_mm();
        let sign = if s.mirrored { -1.0 } else { 1.0 };
        let middle = [0.5 * f64::from(s.width_px), 0.5 * f64::from(s.height_px)];
        let weight = |axis: [f64; 3], last: f64| last - axis[2] / s.perspective.distance_mm;
        let column = |axis: [f64; 3], last: f64| {
            let w = weight(axis, last);
            [sign * size * axis[0] + middle[0] * w, size * axis[1] + middle[1] * w, w]
        };
        let [x, y, o] = [column(along_x, 0.0), column(along_y, 0.0), column(origin, 1.0)];
        (s.distortion == 0.0).then(|| [0, 1, 2].map(|row| [x[row], y[row], o[row]]))
    }
}

impl Capture {
    /// Unit normal on the scan of an edge on the subject's plane through a place, running along `along`, bright where
    /// `out` points.
    pub(crate) fn seen_normal(&self, at: Point, along: Point, out: Point) -> Point {
        let seen = self.geometry().derivative(at, Level::default());
        let (run, out) = (seen.of(along), seen.of(out));
        let normal = Point::new(run.y, -run.x) * (1.0 / run.length());
        if normal.x * out.x + normal.y * out.y < 0.0 { normal * -1.0 } else { normal }
    }

    /// Whether a place lies on the scan.
    pub(crate) fn on_scan(&self, pixel: Point) -> bool {
        let s = self.settings();
        (0.0..=f64::from(s.width_px)).contains(&pixel.x) && (0.0..=f64::from(s.height_px)).contains(&pixel.y)
    }
}
