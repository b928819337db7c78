//! The corners of a slanted square, from where its four sides cross half-way between dark and bright.

use planes::{Linear, Plane};

pub(crate) type Place = (f64, f64);

/// Coarse steps to the length of a side.
const COARSE_STEPS: f64 = 200.0;
/// Places along a side at which it is looked for, and the share of the side that they keep from its ends: a soft picture
/// rounds the corners.
const PLACES: usize = 36;
const FROM_ENDS: f64 = 0.17;
/// Tracks beside each other that are averaged at each place.
const TRACKS: i32 = 2;
/// Share of a side's places that must show it.
const LEAST_SHARE: f64 = 0.6;
/// Least step, as a share of the brighter side.
const LEAST_STEP: f64 = 0.12;
/// How far found sides may differ from predicted ones.
const MOST_ODD: f64 = 0.2;

/// Why a square was not found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Missing {
    Outside,
    NotThere,
}

/// A plane, and where it lies in the frame.
#[derive(Debug, Clone, Copy)]
pub(crate) struct View<'a> {
    pub plane: &'a Plane<Linear>,
    /// The frame's place of the plane's upper left outer corner.
    pub origin: Place,
    /// Pixels of the frame to one of the plane.
    pub factor: f64,
}

impl View<'_> {
    /// Level at a place of the frame, between the four nearest pixels; `None` outside.
    pub fn at(&self, (x, y): Place) -> Option<f64> {
        let (px, py) = ((x - self.origin.0) / self.factor - 0.5, (y - self.origin.1) / self.factor - 0.5);
        let (width, height) = (self.plane.width(), self.plane.height());
        if !(px >= 0.0 && py >= 0.0 && px < (width - 1) as f64 && py < (height - 1) as f64) {
            return None;
        }
        let (c, r) = (px as usize, py as usize);
        let (fx, fy) = (px - c as f64, py - r as f64);
        let row = |r: usize| {
            let row = self.plane.row(r);
            f64::from(row[c]) * (1.0 - fx) + f64::from(row[c + 1]) * fx
        };
        Some(row(r) * (1.0 - fy) + row(r + 1) * fy)
    }

    /// The same by a windowed sinc (Lanczos, three pixels to each side), which keeps detail of three pixels a period alike
    /// wherever it falls; straight lines between pixels would take more or less of it by chance.
    pub fn fine(&self, (x, y): Place) -> Option<f64> {
        let (px, py) = ((x - self.origin.0) / self.factor - 0.5, (y - self.origin.1) / self.factor - 0.5);
        let (c, r) = (px.floor() as i64, py.floor() as i64);
        let (width, height) = (self.plane.width() as i64, self.plane.height() as i64);
        if c + 1 < FINE || r + 1 < FINE || c + FINE >= width || r + FINE >= height {
            return None;
        }
        let weights = |share: f64| -> [f64; 2 * FINE as usize] {
            let raw: [f64; 2 * FINE as usize] =
                std::array::from_fn(|i| lanczos(share - (i as f64 + 1.0 - FINE as f64)));
            let sum: f64 = raw.iter().sum();
            raw.map(|w| w / sum)
        };
        let (across, down) = (weights(px - c as f64), weights(py - r as f64));
        let mut level = 0.0;
        for (j, v) in down.iter().enumerate() {
            let row = &self.plane.row((r + 1 - FINE) as usize + j)[(c + 1 - FINE) as usize..];
            level += v * across.iter().zip(row).map(|(u, sample)| u * f64::from(*sample)).sum::<f64>();
        }
        Some(level)
    }
}

fn lanczos(x: f64) -> f64 {
    let sinc =
        |x: f64| if x.abs() < 1e-9 { 1.0 } else { (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x) };
    if x.abs() >= FINE as f64 { 0.0 } else { sinc(x) * sinc(x / FINE as f64) }
}

/// Half-width of [`View::fine`]'s window, pixels.
const FINE: i64 = 3;

/// How a square is looked for.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Search {
    /// How far from the predicted side, as a share of its length.
    pub reach: f64,
    /// The square is brighter than its ground.
    pub negative: bool,
    /// Sides are followed as parabolas: a distorted picture bends them.
    pub bent: bool,
    /// Steps across a side may be longer than half a pixel where the side is long: the next look is finer.
    pub coarse: bool,
}

/// Finds a square's four corners near predicted ones (given and returned in the same order).
pub(crate) fn corners(view: &View, predicted: [Place; 4], search: Search) -> Result<[Place; 4], Missing> {
    let mut now = predicted;
    // Each pass looks from where the last one found the sides; the first may be wide of the mark.
    for pass in 0..3 {
        let last = pass == 2;
        let reach = if pass == 0 { search.reach } else { search.reach.min(0.2) };
        let sides = sides(view, now, Search { reach, bent: search.bent && last, coarse: !last, ..search })?;
        now = meet(&sides).ok_or(Missing::NotThere)?;
        plausible(predicted, now)?;
    }
    Ok(now)
}

/// A side as found: v = a + b u + c u², u along the predicted side from its middle, v along its outward normal.
struct Found {
    middle: Place,
    along: Place,
    outward: Place,
    curve: [f64; 3],
    half: f64,
}

impl Found {
    fn at(&self, u: f64) -> Place {
        let v = self.curve[0] + u * (self.curve[1] + u * self.curve[2]);
        (self.middle.0 + u * self.along.0 + v * self.outward.0, self.middle.1 + u * self.along.1 + v * self.outward.1)
    }

    /// How far outside the side a place lies.
    fn beyond(&self, (x, y): Place) -> f64 {
        let (dx, dy) = (x - self.middle.0, y - self.middle.1);
        let (u, v) = (dx * self.along.0 + dy * self.along.1, dx * self.outward.0 + dy * self.outward.1);
        v - (self.curve[0] + u * (self.curve[1] + u * self.curve[2]))
    }
}

fn sides(view: &View, corners: [Place; 4], search: Search) -> Result<[Found; 4], Missing> {
    let centre = mean(&corners);
    let inside = level_inside(view, corners, centre)?;
    let side = |i: usize| {
        let (a, b) = (corners[i], corners[(i + 1) % 4]);
        let length = (b.0 - a.0).hypot(b.1 - a.1);
        let along = ((b.0 - a.0) / length, (b.1 - a.1) / length);
        let middle = ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0);
        let across = (-along.1, along.0);
        let out = (middle.0 - centre.0) * across.0 + (middle.1 - centre.1) * across.1;
        let outward = if out > 0.0 { across } else { (-across.0, -across.1) };
        let mut found = Found { middle, along, outward, curve: [0.0; 3], half: length / 2.0 };
        trace(view, &mut found, inside, search)?;
        Ok(found)
    };
    Ok([side(0)?, side(1)?, side(2)?, side(3)?])
}

pub(crate) fn mean(places: &[Place]) -> Place {
    let n = places.len() as f64;
    (places.iter().map(|p| p.0).sum::<f64>() / n, places.iter().map(|p| p.1).sum::<f64>() / n)
}

fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

fn level_inside(view: &View, corners: [Place; 4], centre: Place) -> Result<f64, Missing> {
    let mut levels = Vec::new();
    for i in 0..64 {
        let (s, t) = (f64::from(i % 8) / 7.0 - 0.5, f64::from(i / 8) / 7.0 - 0.5);
        let (a, b) = (corners[1], corners[3]);
        let at = |k: f64, m: f64| {
            (
                centre.0 + k * (a.0 - corners[0].0) + m * (b.0 - corners[0].0),
                centre.1 + k * (a.1 - corners[0].1) + m * (b.1 - corners[0].1),
            )
        };
        levels.extend(view.at(at(0.5 * s, 0.5 * t)));
    }
    if levels.len() < 48 {
        return Err(Missing::Outside);
    }
    median(&mut levels).ok_or(Missing::Outside)
}

/// Follows a side and sets its curve.
fn trace(view: &View, side: &mut Found, inside: f64, search: Search) -> Result<(), Missing> {
    let reach = search.reach * 2.0 * side.half;
    let fine = 0.5 * view.factor;
    let step = if search.coarse { fine.max(2.0 * side.half / COARSE_STEPS) } else { fine };
    let count = (reach / step).ceil() as i64;
    let sign = if search.negative { -1.0 } else { 1.0 };
    let mut profiles: Vec<(f64, Vec<f64>)> = Vec::new();
    let mut outside = 0;
    for i in 0..PLACES {
        let share = FROM_ENDS + (1.0 - 2.0 * FROM_ENDS) * i as f64 / (PLACES - 1) as f64;
        let u = side.half * (2.0 * share - 1.0);
        let profile: Option<Vec<f64>> = (-count..=count)
            .map(|k| {
                let v = k as f64 * step;
                let track = |t: i32| {
                    let u = u + f64::from(t) * view.factor;
                    let x = side.middle.0 + u * side.along.0 + v * side.outward.0;
                    let y = side.middle.1 + u * side.along.1 + v * side.outward.1;
                    view.at((x, y))
                };
                (-TRACKS..=TRACKS).map(track).sum::<Option<f64>>().map(|s| sign * s / f64::from(2 * TRACKS + 1))
            })
            .collect();
        match profile {
            Some(profile) => profiles.push((u, profile)),
            None => outside += 1,
        }
    }
    if outside as f64 > (1.0 - LEAST_SHARE) * PLACES as f64 {
        return Err(Missing::Outside);
    }
    // The ground beside the side: what its places reach at their brightest, at the median.
    let mut brightest: Vec<f64> =
        profiles.iter().map(|(_, p)| p[p.len() / 2..].iter().copied().fold(f64::MIN, f64::max)).collect();
    let ground = median(&mut brightest).ok_or(Missing::Outside)?;
    let inside = sign * inside;
    let step_found = ground - inside;
    if step_found.is_nan() || step_found <= LEAST_STEP * ground.abs().max(inside.abs()) {
        return Err(Missing::NotThere);
    }
    let mut points: Vec<(f64, f64)> = Vec::new();
    for (u, profile) in &profiles {
        let own = profile[profile.len() / 2..].iter().copied().fold(f64::MIN, f64::max).min(ground + 0.5 * step_found);
        let half = (inside + own.max(inside + 0.5 * step_found)) / 2.0;
        if profile[0] >= half {
            continue;
        }
        let Some(k) = profile.windows(2).position(|w| w[0] < half && w[1] >= half) else { continue };
        let share = (half - profile[k]) / (profile[k + 1] - profile[k]);
        points.push((*u, (k as f64 + share - count as f64) * step));
    }
    if (points.len() as f64) < LEAST_SHARE * PLACES as f64 {
        return Err(Missing::NotThere);
    }
    side.curve = curve(&points, side.half, search.bent, view.factor).ok_or(Missing::NotThere)?;
    Ok(())
}

/// A line or parabola through most of the points.
fn curve(points: &[(f64, f64)], half: f64, bent: bool, pixel: f64) -> Option<[f64; 3]> {
    let mut kept: Vec<(f64, f64)> = points.to_vec();
    let mut fitted = [0.0; 3];
    for round in 0..4 {
        fitted = polynomial(&kept, half, bent && round > 0)?;
        let off = |p: &(f64, f64)| (p.1 - fitted[0] - p.0 * (fitted[1] + p.0 * fitted[2])).abs();
        let mut all: Vec<f64> = points.iter().map(off).collect();
        let limit = 4.0 * median(&mut all)?.max(0.02 * pixel);
        let next: Vec<(f64, f64)> = points.iter().filter(|p| off(p) <= limit).copied().collect();
        if (next.len() as f64) < 0.5 * PLACES as f64 {
            return None;
        }
        kept = next;
    }
    Some(fitted)
}

fn polynomial(points: &[(f64, f64)], half: f64, bent: bool) -> Option<[f64; 3]> {
    let n = if bent { 3 } else { 2 };
    let mut m = [[0.0f64; 4]; 3];
    for (u, v) in points {
        let t = u / half;
        let powers = [1.0, t, t * t];
        for i in 0..n {
            for j in 0..n {
                m[i][j] += powers[i] * powers[j];
            }
            m[i][3] += powers[i] * v;
        }
    }
    for i in 0..n {
        if m[i][i].abs() < 1e-12 {
            return None;
        }
        for j in 0..n {
            if j != i {
                let f = m[j][i] / m[i][i];
                let row = m[i];
                m[j].iter_mut().zip(row).for_each(|(a, b)| *a -= f * b);
            }
        }
    }
    let c = |i: usize| if i < n { m[i][3] / m[i][i] } else { 0.0 };
    Some([c(0), c(1) / half, c(2) / (half * half)])
}

/// Where neighbouring sides meet: corner i lies between side i - 1 and side i.
fn meet(sides: &[Found; 4]) -> Option<[Place; 4]> {
    let corner = |i: usize| {
        let (before, after) = (&sides[(i + 3) % 4], &sides[i]);
        // Newton along the one side until it comes to the other.
        let mut u = -after.half;
        for _ in 0..20 {
            let (d, e) = (before.beyond(after.at(u)), before.beyond(after.at(u + 1e-3)));
            let slope = (e - d) / 1e-3;
            if slope.abs() < 1e-3 {
                return None;
            }
            u -= d / slope;
        }
        (u.is_finite() && u.abs() < 3.0 * after.half).then(|| after.at(u))
    };
    Some([corner(0)?, corner(1)?, corner(2)?, corner(3)?])
}

/// The found square is as large as the predicted one, and one piece.
fn plausible(predicted: [Place; 4], found: [Place; 4]) -> Result<(), Missing> {
    let length = |c: [Place; 4], i: usize, j: usize| (c[i].0 - c[j].0).hypot(c[i].1 - c[j].1);
    let odd = |i: usize, j: usize| (length(found, i, j) / length(predicted, i, j) - 1.0).abs() > MOST_ODD;
    let pairs = [(0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (1, 3)];
    if pairs.iter().any(|(i, j)| odd(*i, *j)) { Err(Missing::NotThere) } else { Ok(()) }
}
