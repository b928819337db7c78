//! Where on the scan the measurable features lie, and what is true of each.

use crate::capture::Capture;
use crate::edge::{Axis, BrightSide};
use crate::geometry::Level;
use crate::settings::Channel;
use crate::shape::{Feature, Point, Scene, Side};
use planes::Region;

/// One side of a slanted square: a straight edge to be measured.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgePlace {
    /// Where its square lies: "centre", "right", "top left" ...
    pub name: String,
    /// Which side of the square.
    pub side: Side,
    /// A region that holds this edge and no other, with even ground on both sides.
    pub region: Region,
    /// The pixel axis that the edge runs near.
    pub axis: Axis,
    /// True slant against that axis, degrees, signed as in [`crate::edge::EdgeTruth::angle_deg`].
    pub angle_deg: f64,
    /// Where the light is.
    pub bright_side: BrightSide,
    /// Direction of the normal toward the bright side, clockwise from the rows, degrees.
    pub direction_deg: f64,
    /// Middle of the edge in green, pixels.
    pub middle_px: Point,
    /// Middle of the edge in green, mm on film from the middle of the frame.
    pub film_mm: Point,
    /// Distance from the middle of the frame over the corner's: 0 centre, 1 corner.
    pub radius_share: f64,
    /// Displacement of red and blue against green along the normal, pixels, positive toward the bright side.
    pub displacement_px: [f64; 2],
    /// Reflectance (green) of the dark and the bright side.
    pub levels: [f64; 2],
}

impl EdgePlace {
    /// The true modulation transfer across this edge, that of the print aside; cycles per mm on film.
    pub fn mtf_at(&self, capture: &Capture, channel: Channel, cy_per_mm: f64) -> f64 {
        capture.mtf_at(channel, self.film_mm, self.direction_deg, cy_per_mm)
    }

    /// The frequency, cycles per mm on film, at which the true transfer first falls to `level`.
    pub fn frequency_at(&self, capture: &Capture, channel: Channel, level: f64) -> Option<f64> {
        capture.frequency_at(channel, self.film_mm, self.direction_deg, level)
    }
}

/// A ruler to be read.
#[derive(Debug, Clone, PartialEq)]
pub struct RulerPlace {
    /// "bottom" or "left".
    pub name: String,
    /// A point half a tick before the first tick, on a line across all ticks, pixels in green.
    pub from: Point,
    /// A point half a tick after the last.
    pub to: Point,
    /// Middle of the first tick.
    pub first: Point,
    /// Middle of the last tick.
    pub last: Point,
    /// From tick to tick, mm on the subject.
    pub tick_mm: f64,
    /// Number of ticks, first and last included.
    pub ticks: usize,
    /// True pixels from tick to tick.
    pub px_per_tick: f64,
}

/// An even patch.
#[derive(Debug, Clone, PartialEq)]
pub struct PatchPlace {
    /// "step 1" (the brightest) ..., "trap".
    pub name: String,
    /// Well inside the patch.
    pub region: Region,
    /// Its true reflectance (green).
    pub reflectance: f64,
}

/// All squares, rulers and patches that lie wholly on the scan, where upright regions hold them. [`Truth`](crate::Truth)
/// tells of codes, ramps and blades, and of edges at any slant.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Places {
    /// Sides of slanted squares.
    pub edges: Vec<EdgePlace>,
    /// Rulers.
    pub rulers: Vec<RulerPlace>,
    /// Even patches.
    pub patches: Vec<PatchPlace>,
}

impl Places {
    /// The edge on that side of the square of that name.
    pub fn edge(&self, name: &str, side: Side) -> Option<&EdgePlace> {
        self.edges.iter().find(|edge| edge.name == name && edge.side == side)
    }

    /// The ruler of that name.
    pub fn ruler(&self, name: &str) -> Option<&RulerPlace> {
        self.rulers.iter().find(|ruler| ruler.name == name)
    }

    /// The patch of that name.
    pub fn patch(&self, name: &str) -> Option<&PatchPlace> {
        self.patches.iter().find(|patch| patch.name == name)
    }
}

/// Share of a square's side that a region takes along the edge: its corners stay out of reach of the blur.
const ALONG: f64 = 0.70;
/// Share of a square's side that a region takes on the dark side.
const INTO_THE_DARK: f64 = 0.42;
/// Share of the free ground that a region takes on the bright side.
const INTO_THE_GROUND: f64 = 0.85;
/// Share of a patch's sides that its region takes.
const OF_A_PATCH: f64 = 0.7;

impl Capture {
    /// Where the scene's features lie on the scan. Those that do not lie on it wholly are left out.
    pub fn places(&self, scene: &Scene) -> Places {
        let mut places = Places::default();
        for feature in &scene.features {
            match feature {
                Feature::Square { .. } => places.edges.extend(Side::ALL.iter().filter_map(|&s| self.edge(feature, s))),
                Feature::Ruler { .. } => places.rulers.extend(self.ruler(feature)),
                Feature::Patch { .. } => places.patches.extend(self.patch(feature)),
                Feature::Code { .. } | Feature::Ramp(_) | Feature::Blade { .. } => {}
            }
        }
        places
    }

    fn edge(&self, feature: &Feature, side: Side) -> Option<EdgePlace> {
        let Feature::Square { name, centre, side_mm, turn_deg, free_mm, dark, bright } = feature else { return None };
        let out = side.outward().turned(*turn_deg);
        let along = Point::new(-out.y, out.x);
        let middle = *centre + out * (0.5 * side_mm);
        let corners = [-1.0, 1.0].map(|sign| {
            let on_edge = middle + along * (sign * 0.5 * ALONG * side_mm);
            [on_edge - out * (INTO_THE_DARK * side_mm), on_edge + out * (INTO_THE_GROUND * free_mm)]
        });
        let normal = self.seen_normal(middle, along, out);
        let upright = normal.x.abs() >= normal.y.abs();
        let (across, beside) = if upright { (normal.x, normal.y) } else { (normal.y, normal.x) };
        let film_mm = self.to_film(Channel::Green, middle);
        let displaced = |channel| {
            let by = self.to_film(channel, middle) - film_mm;
            (by.x * normal.x + by.y * normal.y) / self.pitch_mm()
        };
        Some(EdgePlace {
            name: name.clone(),
            side,
            region: self.upright_region(corners, upright)?,
            axis: if upright { Axis::Upright } else { Axis::Level },
            angle_deg: (-beside / across).atan().to_degrees(),
            bright_side: if across > 0.0 { BrightSide::After } else { BrightSide::Before },
            direction_deg: normal.y.atan2(normal.x).to_degrees(),
            middle_px: self.film_to_pixel(film_mm),
            film_mm,
            radius_share: self.radius_squared(film_mm).sqrt(),
            displacement_px: [displaced(Channel::Red), displaced(Channel::Blue)],
            levels: [*dark, *bright],
        })
    }

    /// The largest region of whole pixels whose ends across the edge stay within both slanted ends, and whose ends
    /// along it stay within the corners' middle lines.
    fn upright_region(&self, corners: [[Point; 2]; 2], upright: bool) -> Option<Region> {
        let pixels = corners.map(|pair| pair.map(|p| self.to_pixel(Channel::Green, p)));
        let across = |p: Point| if upright { p.x } else { p.y };
        let along = |p: Point| if upright { p.y } else { p.x };
        let side = |pick: &dyn Fn(Point) -> f64, p: [Point; 2]| 0.5 * (pick(p[0]) + pick(p[1]));
        let (start, end) = ordered(side(&along, pixels[0]), side(&along, pixels[1]));
        // The inner of the two corners at either end.
        let dark = [across(pixels[0][0]), across(pixels[1][0])];
        let bright = [across(pixels[0][1]), across(pixels[1][1])];
        let (low, high) = if dark[0] < bright[0] { (dark, bright) } else { (bright, dark) };
        let (low, high) = (low[0].max(low[1]), high[0].min(high[1]));
        if upright { self.region(low, start, high, end) } else { self.region(start, low, end, high) }
    }

    /// Whole pixels between two corners; `None` when they are not all on the scan.
    fn region(&self, left: f64, top: f64, right: f64, bottom: f64) -> Option<Region> {
        let (left, top, right, bottom) = (left.ceil(), top.ceil(), right.floor(), bottom.floor());
        if left < 0.0 || top < 0.0 || right <= left || bottom <= top {
            return None;
        }
        let whole = |extent: f64| extent as u32;
        let region = Region { x: whole(left), y: whole(top), width: whole(right - left), height: whole(bottom - top) };
        region.lies_within(self.settings().width_px, self.settings().height_px).then_some(region)
    }

    fn ruler(&self, feature: &Feature) -> Option<RulerPlace> {
        let Feature::Ruler { name, first, last, tick_mm, ticks } = feature else { return None };
        let beyond = (*last - *first) * (0.5 / (*ticks as f64 - 1.0));
        let [from, to, first, last] =
            [*first - beyond, *last + beyond, *first, *last].map(|p| self.to_pixel(Channel::Green, p));
        (self.on_scan(from) && self.on_scan(to)).then(|| RulerPlace {
            name: name.clone(),
            from,
            to,
            first,
            last,
            tick_mm: *tick_mm,
            ticks: *ticks,
            px_per_tick: (last - first).length() / (*ticks as f64 - 1.0),
        })
    }

    fn patch(&self, feature: &Feature) -> Option<PatchPlace> {
        let Feature::Patch { name, centre, size_mm, turn_deg, reflectance } = feature else { return None };
        // An upright rectangle that stays inside the patch as it is seen: shrunk by what its corners swing.
        let [w, h] = size_mm.map(|s| 0.5 * OF_A_PATCH * s);
        let seen = self.geometry().derivative(*centre, Level::default());
        let size = self.settings().magnification;
        let swings = [(w, h), (-w, h)].map(|(x, y)| seen.solve(Point::new(x, y) * size).turned(-turn_deg));
        let most = |pick: fn(Point) -> f64| pick(swings[0]).abs().max(pick(swings[1]).abs());
        let fit = (w / most(|p| p.x)).min(h / most(|p| p.y));
        let per_mm = size / self.pitch_mm();
        let (w, h) = (w * fit * per_mm, h * fit * per_mm);
        let middle = self.to_pixel(Channel::Green, *centre);
        let region = self.region(middle.x - w, middle.y - h, middle.x + w, middle.y + h)?;
        Some(PatchPlace { name: name.clone(), region, reflectance: *reflectance })
    }
}

fn ordered(a: f64, b: f64) -> (f64, f64) {
    if a < b { (a, b) } else { (b, a) }
}
