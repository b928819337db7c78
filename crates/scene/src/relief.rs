//! What of a scene lies higher or lower, or is softer by itself, and the blur that follows from it.

use crate::capture::{BROADEST_BLUR_PX, Capture, Spread};
use crate::geometry::Level;
use crate::settings::Channel;
use crate::shape::{Feature, Point, Scene};

/// A rectangle on the card in which heights or softness differ from the card's.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Stretch {
    /// Bounds on the scan, pixels.
    low: Point,
    high: Point,
    /// Its middle on the card, the unit vector along its length, and half its extent along and across.
    middle: Point,
    along: Point,
    half: [f64; 2],
    level: Level,
    soft_mm: f64,
}

impl Stretch {
    fn holds(&self, at: Point) -> bool {
        let by = at - self.middle;
        let (along, across) = (by.x * self.along.x + by.y * self.along.y, by.y * self.along.x - by.x * self.along.y);
        along.abs() <= self.half[0] && across.abs() <= self.half[1]
    }
}

/// The blur of a scene under a capture, place by place.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Relief {
    capture: Capture,
    soft_mm: f64,
    stretches: Vec<Stretch>,
    /// What defocus and soft print add on the flat card.
    flat: Field,
}

/// A variance at the knots of a grid over the scan and its surroundings, between which it is interpolated.
#[derive(Debug, Clone, PartialEq)]
struct Field {
    columns: usize,
    values: Vec<f64>,
}

/// From knot to knot, pixels: over that length the variance is a straight line to some thousandths of a square pixel.
const KNOT_PX: f64 = 16.0;
/// Knots beyond the scan on every side; further out the last value stays.
const KNOTS_BEYOND: f64 = 3.0;

impl Field {
    fn new(width_px: u32, height_px: u32, at: impl Fn(Point) -> f64) -> Self {
        let count = |px: u32| (f64::from(px) / KNOT_PX + 2.0 * KNOTS_BEYOND).ceil() as usize + 1;
        let (columns, rows) = (count(width_px), count(height_px));
        let place = |knot: usize| (knot as f64 - KNOTS_BEYOND) * KNOT_PX;
        let knots = (0..rows).flat_map(|row| (0..columns).map(move |column| (column, row)));
        let values = knots.map(|(column, row)| at(Point::new(place(column), place(row)))).collect();
        Self { columns, values }
    }

    fn at(&self, pixel: Point) -> f64 {
        let rows = self.values.len() / self.columns;
        let split = |v: f64, count: usize| {
            let at = (v / KNOT_PX + KNOTS_BEYOND).clamp(0.0, (count - 1) as f64);
            let knot = (at as usize).min(count - 2);
            (knot, at - knot as f64)
        };
        let ((column, u), (row, v)) = (split(pixel.x, self.columns), split(pixel.y, rows));
        let line = |row: usize| {
            let first = row * self.columns + column;
            self.values[first] + (self.values[first + 1] - self.values[first]) * u
        };
        let upper = line(row);
        upper + (line(row + 1) - upper) * v
    }
}

/// The blur is drawn a little beyond the corner too, where the passes take their surroundings from.
const SURROUNDINGS: f64 = 1.1;
/// Places along either side of the frame at which the broadest blur is looked for, where it follows no simple law.
const PROBES: usize = 12;
/// What those places may miss.
const SPARE: f64 = 1.03;

impl Relief {
    pub fn new(scene: &Scene, capture: &Capture) -> Self {
        let stretches = scene.features.iter().filter_map(|feature| stretch(scene, capture, feature)).collect();
        let soft_mm = scene.softness_mm;
        let s = capture.settings();
        let flat = Field::new(s.width_px, s.height_px, |pixel| {
            extra(capture, capture.pixel_to_film(pixel), Level::default(), soft_mm)
        });
        Self { capture: *capture, soft_mm, stretches, flat }
    }

    /// What lies higher or lower, or is sharper, at a place on film.
    fn stretch(&self, film_mm: Point) -> Option<&Stretch> {
        let pixel = self.capture.film_to_pixel(film_mm);
        let near =
            |s: &&Stretch| pixel.x >= s.low.x && pixel.x <= s.high.x && pixel.y >= s.low.y && pixel.y <= s.high.y;
        let inside = |s: &&Stretch| s.holds(self.capture.geometry().on_subject(s.level, film_mm, 1.0));
        self.stretches.iter().filter(near).find(inside)
    }

    /// The blur's covariance at a place on film, square pixels: lens, defocus and soft print.
    pub fn spread(&self, channel: Channel, film_mm: Point) -> Spread {
        match self.stretch(film_mm) {
            Some(s) => self.spread_on(channel, film_mm, s.level, s.soft_mm),
            None => self.spread_on(channel, film_mm, Level::default(), self.soft_mm),
        }
    }

    /// The same in less time, for drawing: between knots where the card is flat.
    pub fn drawn(&self, channel: Channel, film_mm: Point) -> Spread {
        let more = match self.stretch(film_mm) {
            Some(s) => extra(&self.capture, film_mm, s.level, s.soft_mm),
            None => self.flat.at(self.capture.film_to_pixel(film_mm)),
        };
        self.capture.lens_spread(channel, film_mm, more)
    }

    pub fn spread_on(&self, channel: Channel, film_mm: Point, level: Level, soft_mm: f64) -> Spread {
        self.capture.lens_spread(channel, film_mm, extra(&self.capture, film_mm, level, soft_mm))
    }

    /// The broadest blur along any pass, and the broadest along a diagonal, pixels, with the surroundings of the frame.
    pub fn broadest_sigmas_px(&self) -> (f64, f64) {
        let capture = &self.capture;
        let corner = Point::new(capture.corner_mm() * SURROUNDINGS, 0.0);
        let (mut broadest, mut slant) = (0.0f64, 0.0f64);
        for channel in Channel::ALL {
            for spread in [Point::default(), corner].map(|place| capture.spread(channel, place)) {
                // Along the radius x and y are the principal variances; half their difference is the largest xy.
                broadest = broadest.max(spread.xx).max(spread.yy);
                slant = slant.max(0.5 * (spread.xx - spread.yy).abs());
            }
        }
        if self.soft_mm > 0.0 || capture.settings().focus.f_number.is_finite() {
            let field = capture.settings();
            let side = |i: usize, px: u32| {
                (i as f64 / PROBES as f64 - 0.5) * SURROUNDINGS * f64::from(px) * capture.pitch_mm()
            };
            let grid = (0..=PROBES).flat_map(|i| (0..=PROBES).map(move |k| (i, k)));
            let grid = grid.map(|(i, k)| Point::new(side(i, field.width_px), side(k, field.height_px)));
            let flat = grid.map(|film| (film, Level::default(), self.soft_mm));
            let ends = self.stretches.iter().flat_map(|s| {
                [-1.0, 1.0].map(|sign| {
                    let at = s.middle + s.along * (sign * s.half[0]);
                    (capture.to_film_at(Channel::Green, at, s.level.height(at)), s.level, s.soft_mm)
                })
            });
            for (film, level, soft) in flat.chain(ends) {
                for channel in Channel::ALL {
                    let spread = self.spread_on(channel, film, level, soft);
                    broadest = broadest.max(SPARE * spread.xx).max(SPARE * spread.yy);
                }
            }
        }
        (broadest.sqrt(), slant.sqrt())
    }
}

/// The variance that defocus and soft print add to the lens's, square pixels.
fn extra(capture: &Capture, film_mm: Point, level: Level, soft_mm: f64) -> f64 {
    let defocus = capture.defocus_px(film_mm, level).powi(2);
    if soft_mm == 0.0 {
        return defocus;
    }
    defocus + (soft_mm * capture.magnification_on(film_mm, level) / capture.pitch_mm()).powi(2)
}

fn stretch(scene: &Scene, capture: &Capture, feature: &Feature) -> Option<Stretch> {
    let (middle, along, half, level, soft_mm) = match feature {
        Feature::Ramp(ramp) => {
            let half = [0.5 * ramp.length_mm(), 0.5 * ramp.width_mm];
            (ramp.middle, ramp.upwards, half, ramp.level(), scene.softness_mm)
        }
        Feature::Blade { ends, outward, cover_mm, .. } => {
            let half = 0.5 * (ends[1] - ends[0]).length();
            let middle = (ends[0] + ends[1]) * 0.5;
            // As far onto the paper as onto the blade: there is nothing else there.
            (middle, *outward, [*cover_mm, half], Level::default(), 0.0)
        }
        _ => return None,
    };
    let across = Point::new(-along.y, along.x);
    let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)].map(|(a, b)| {
        let at = middle + along * (a * half[0]) + across * (b * half[1]);
        capture.to_pixel_at(Channel::Green, at, level.height(at))
    });
    // A pixel more, for sides that distortion bends.
    let reach = |pick: fn(Point) -> f64| {
        let values = corners.map(pick);
        (values.into_iter().fold(f64::MAX, f64::min) - 1.0, values.into_iter().fold(f64::MIN, f64::max) + 1.0)
    };
    let ((left, right), (top, bottom)) = (reach(|p| p.x), reach(|p| p.y));
    Some(Stretch { low: Point::new(left, top), high: Point::new(right, bottom), middle, along, half, level, soft_mm })
}

impl Capture {
    /// Standard deviation that a surface's distance from best focus adds, pixels.
    pub(crate) fn defocus_px(&self, film_mm: Point, level: Level) -> f64 {
        let focus = &self.settings().focus;
        if focus.f_number.is_infinite() {
            return 0.0;
        }
        let disc_mm = self.miss_mm(film_mm, level).1.abs();
        (0.25 * disc_mm / self.pitch_mm()).min(BROADEST_BLUR_PX)
    }

    /// How far a surface lies above best focus, mm along the axis, and the disc on film that follows, mm, with the
    /// same sign.
    pub(crate) fn miss_mm(&self, film_mm: Point, level: Level) -> (f64, f64) {
        let s = self.settings();
        let geometry = self.geometry();
        let straight = geometry.straightened(geometry.seen(film_mm));
        let at = straight * (1.0 / s.magnification);
        let share = (straight.length() / self.corner_mm()).powi(2);
        let best = s.focus.height_mm + s.focus.slope.x * at.x + s.focus.slope.y * at.y + s.focus.curvature_mm * share;
        let height = geometry.depth(level, film_mm);
        let nearness = 1.0 / s.perspective.distance_mm;
        let size = s.magnification.powi(2) / s.focus.f_number;
        let miss = height - best;
        (miss, size * miss / ((1.0 - best * nearness) * (1.0 - height * nearness)))
    }

    /// Image size over subject size at a place on film of what lies on that surface: the root of the factor on areas.
    pub(crate) fn magnification_on(&self, film_mm: Point, level: Level) -> f64 {
        let geometry = self.geometry();
        if geometry.is_plain() && level == Level::default() {
            return self.settings().magnification;
        }
        let at = geometry.on_subject(level, film_mm, 1.0);
        geometry.derivative(at, level).determinant().abs().sqrt()
    }
}
