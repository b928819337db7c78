//! Rulers: how many pixels lie between the marks along a line.

mod comb;
mod error;
mod finer;
mod fit;
mod period;
mod report;
mod rows;
mod shape;
mod strip;

pub use error::ScaleError;
pub use report::{ScaleOptions, ScaleRemark, ScaleReport};

use comb::Comb;
use fit::Spacing;
use planes::{Linear, Picture, Plane};
use shape::Placed;
use strip::{Band, Course, Reading};

/// Finest spacing looked for: below two and a half pixels marks come back as false ones.
pub(crate) const LEAST_PERIOD_PX: f64 = 2.5;
/// Least number of marks: two give a spacing, two more tell that it is even.
const LEAST_TICKS: usize = 4;
/// Shortest line: four marks at the finest spacing and a little room.
const LEAST_LENGTH_PX: f64 = 12.0;
/// Half-widths of the bands across the line that are tried in turn, pixels. The marks that the line itself crosses
/// count, so the narrowest comes first; wider ones help where noise hides the marks or the line just misses them.
const HALF_WIDTHS_PX: [f64; 7] = [1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0];
/// Widest band, as a share of the line.
const WIDEST_SHARE: f64 = 0.25;
/// Likeness of the marks to their common shape: least, and by how much more for the fewest marks, since chance may look
/// like three or four waves. Of lines across random texture 87 in 1000 pass all the same (tests/measure/ruler_mistakes.rs), 64 of them
/// with fewer than ten marks, which is remarked on: texture through a band of an octave and a half does look like waves,
/// and clouds of five octaves pass in 3 of 100. Stricter limits (0.7 and 0.25) would stop a fifth of those.
const LEAST_LIKENESS: f64 = 0.6;
const MORE_FOR_FEW: f64 = 0.3;
/// Least difference between a mark and the ground beside it, linear light: the smallest step of an 8-bit file, which lies
/// at its dark end (1/255 / 12.92 through the curve of IEC 61966-2-1). No 8-bit scan holds fainter marks, and marks that only
/// 16 bits tell from their ground cannot be seen to draw a line along. A limit of 0.001 would refuse marks that differ by
/// a tenth from a ground of density 2. What rounding leaves on an even area of 32-bit samples (1e-7, as regular as any
/// ruler) is a thousand times fainter.
const LEAST_AMPLITUDE: f64 = 3e-4;
/// Fewer marks than this are few.
const FEW: usize = 10;
/// Share of the marks between the first and the last that must be there.
const LEAST_COVERAGE: f64 = 0.75;
/// Largest scatter, share of the spacing; half of it for few marks.
const MOST_SCATTER: f64 = 0.1;
/// Most that the marks may lean against the line, degrees: nobody draws a line so far off a ruler, textures lean anyhow.
const MOST_OBLIQUE_DEG: f64 = 20.0;
/// Largest change of the spacing along the line that one ruler seen at a slant may show.
const MOST_CHANGE: f64 = 0.25;
/// A spacing must explain this share of what the best one explains.
const LEAST_ENERGY_SHARE: f64 = 0.6;
/// Scatter worth a remark, share of the spacing and pixels.
const UNEVEN_SHARE: f64 = 0.03;
const UNEVEN_PX: f64 = 0.3;
/// Change of spacing worth a remark.
const CHANGE_SHARE: f64 = 0.003;
/// Spacing close to what pixels can separate.
const FINE_PX: f64 = 4.0;
/// Obliquity worth a remark, degrees.
const OBLIQUE_DEG: f64 = 1.0;
/// Marks may stand off the square of their ruler by so much, degrees (common practice, no source): what the
/// correction for obliquity may owe to the ruler itself.
const SQUARENESS_DEG: f64 = 0.3;

/// Measures the spacing of a ruler's marks along a line.
///
/// The line may run in any direction and the marks may lean against it. The profile along a narrow band about it
/// tells by its likeness to itself which spacings are possible; for each the marks are sought one after the other and
/// numbered; their common shape, learned from themselves, places each of them; a straight line through place
/// against number gives the spacing. The rows beside the line then tell how far the marks reach and how they lean;
/// over all of them the marks are placed anew, and the spacing is taken square to the marks.
pub fn scale(picture: &Picture<Linear>, options: &ScaleOptions) -> Result<ScaleReport, ScaleError> {
    check_numbers(options)?;
    let plane = picture.luminance();
    check_line(&plane, options)?;
    let course = Course::new(&plane, options.from, options.to);
    let first = first_look(&course)?;
    let (placed, band) = second_look(&course, &first);
    let again = Sighting { placed, expected: first.expected, band: first.band };
    if !again.alike() || !again.regular() {
        return Err(again.refusal());
    }
    let placed = again.placed;
    let lean = band.map_or(0.0, |b| b.0);
    if lean.atan().to_degrees().abs() > MOST_OBLIQUE_DEG {
        return Err(ScaleError::NoTicks { least_px: LEAST_PERIOD_PX });
    }
    let cosine = lean.atan().cos();
    let spacing = &inner(&placed.spacing).unwrap_or(placed.spacing);
    let px_per_tick = spacing.period * cosine;
    if px_per_tick < LEAST_PERIOD_PX {
        return Err(ScaleError::NoTicks { least_px: LEAST_PERIOD_PX });
    }
    let finer = finer::beside(&course, spacing, (&again.band, lean), placed.amplitude);
    // Where the spacing changes the interval reaches from one end of the line to the other.
    let unsure = obliquity_error(band).hypot(spacing.change / 2.0);
    let plus_minus = (spacing.plus_minus * cosine).hypot(px_per_tick * unsure);
    let px_per_mm = px_per_tick / options.tick_mm;
    let pitch_mm = options.pitch_um.map(|p| p / 1000.0);
    let plus_minus = plus_minus / options.tick_mm;
    Ok(ScaleReport {
        px_per_tick,
        px_per_mm,
        plus_minus,
        ticks: spacing.ticks.len(),
        magnification: pitch_mm.map(|p| px_per_mm * p),
        magnification_plus_minus: pitch_mm.map(|p| plus_minus * p),
        obliquity_deg: band.map(|b| b.0.atan().to_degrees().abs()),
        places: spacing.ticks.iter().map(|t| course.place(t.place, 0.0)).collect(),
        remarks: remarks(spacing, px_per_tick, band).into_iter().chain(finer).collect(),
    })
}

fn check_numbers(options: &ScaleOptions) -> Result<(), ScaleError> {
    let usable = |length: f64| length.is_finite() && length > 0.0;
    if !usable(options.tick_mm) {
        return Err(ScaleError::BadTick { tick_mm: options.tick_mm });
    }
    match options.pitch_um {
        Some(pitch_um) if !usable(pitch_um) => Err(ScaleError::BadPitch { pitch_um }),
        _ => Ok(()),
    }
}

fn check_line(plane: &Plane<Linear>, options: &ScaleOptions) -> Result<(), ScaleError> {
    let (width, height) = (plane.width(), plane.height());
    let inside = |(x, y): (f64, f64)| (0.0..=width as f64).contains(&x) && (0.0..=height as f64).contains(&y);
    let (from, to) = (options.from, options.to);
    if !inside(from) || !inside(to) {
        return Err(ScaleError::OutsidePicture { from, to, width, height });
    }
    let length_px = (to.0 - from.0).hypot(to.1 - from.1);
    if length_px < LEAST_LENGTH_PX {
        return Err(ScaleError::LineTooShort { length_px, least_px: LEAST_LENGTH_PX });
    }
    let count = plane.samples().iter().filter(|s| !s.is_finite()).count();
    if count > 0 { Err(ScaleError::NotFinite { count }) } else { Ok(()) }
}

/// Spacing below which a mark's flanks reach into its neighbours', pixels. The first and the last mark then lack one
/// neighbour's flank and seem to lie further out; they are left out of the fit while others are enough.
const OVERLAPPING_PX: f64 = 10.0;
const LEAST_INNER: usize = 4;

/// The spacing without the two outermost marks where those are not like the others.
fn inner(spacing: &Spacing) -> Option<Spacing> {
    let marks = &spacing.ticks;
    if spacing.period > OVERLAPPING_PX || marks.len() < LEAST_INNER + 2 {
        return None;
    }
    let mut fitted = fit::spacing(&marks[1..marks.len() - 1])?;
    fitted.ticks.clone_from(marks);
    Some(fitted)
}

/// Marks found in a band.
struct Sighting {
    placed: Placed,
    expected: usize,
    band: Band,
}

impl Sighting {
    fn found(&self) -> usize {
        self.placed.spacing.ticks.len()
    }

    /// The marks can be seen, are no finer than pixels can tell, and look like each other.
    fn alike(&self) -> bool {
        self.placed.amplitude >= LEAST_AMPLITUDE
            && self.placed.spacing.period >= LEAST_PERIOD_PX
            && self.placed.likeness >= LEAST_LIKENESS + MORE_FOR_FEW * self.fewness()
    }

    /// 1 for the least number of marks, 0 for enough.
    fn fewness(&self) -> f64 {
        (FEW.saturating_sub(self.found()) as f64 / (FEW - LEAST_TICKS) as f64).min(1.0)
    }

    fn regular(&self) -> bool {
        let spacing = &self.placed.spacing;
        self.found() as f64 >= LEAST_COVERAGE * self.expected as f64
            && spacing.scatter <= MOST_SCATTER * (1.0 - 0.5 * self.fewness()) * spacing.period
            && spacing.change.abs() <= MOST_CHANGE
    }

    /// A ruler: enough marks that are alike and evenly spaced.
    fn good(&self) -> bool {
        self.alike() && self.regular() && self.found() >= LEAST_TICKS
    }

    fn refusal(&self) -> ScaleError {
        let spacing = &self.placed.spacing;
        if !self.alike() {
            return ScaleError::NoTicks { least_px: LEAST_PERIOD_PX };
        }
        if self.regular() {
            return ScaleError::TooFewTicks { found: self.found(), least: LEAST_TICKS };
        }
        ScaleError::TooIrregular {
            period_px: spacing.period,
            found: self.found(),
            expected: self.expected,
            percent: 100.0 * (spacing.scatter / spacing.period).max(spacing.change.abs() / 4.0),
        }
    }
}

/// The narrowest band in which evenly spaced marks show.
fn first_look(course: &Course<'_>) -> Result<Sighting, ScaleError> {
    let mut refused: Option<Sighting> = None;
    for half in HALF_WIDTHS_PX.iter().filter(|&&half| half <= HALF_WIDTHS_PX[0].max(WIDEST_SHARE * course.length)) {
        let step = (half / 8.0).max(0.5);
        let band = Band { side: (-half, *half), step, lean: 0.0 };
        let mut seen = sightings(course, band, |_| true);
        seen.retain(Sighting::alike);
        let most = seen.iter().filter(|s| s.good()).map(|s| s.placed.energy).fold(0.0, f64::max);
        let strong = |s: &Sighting| s.placed.energy >= LEAST_ENERGY_SHARE * most;
        // Distances ascend: the marks' own spacing comes before that of every fifth or tenth.
        if let Some(i) = seen.iter().position(|s| s.good() && strong(s)) {
            return Ok(seen.swap_remove(i));
        }
        let best =
            seen.into_iter().filter(|s| s.found() >= 2).max_by(|a, b| a.placed.energy.total_cmp(&b.placed.energy));
        refused = refused.or(best);
    }
    Err(refused.map_or(ScaleError::NoTicks { least_px: LEAST_PERIOD_PX }, |s| s.refusal()))
}

/// What each possible spacing, of those wanted, finds in a band.
fn sightings(course: &Course<'_>, band: Band, wanted: impl Fn(f64) -> bool) -> Vec<Sighting> {
    let reading = if course.length < 2000.0 { Reading::Fine } else { Reading::Linear };
    let profile = course.profile(band, 0.5, course.length / 4.0, reading);
    // Marks over a running mean differ by at most twice what the profile itself does: no need to look for them there.
    if profile.range() < LEAST_AMPLITUDE / 2.0 {
        return Vec::new();
    }
    let candidates = period::candidates(&profile, course.length).into_iter().filter(|&period| wanted(period));
    let look = |period: f64| {
        let comb: Comb = comb::track(&profile, period, course.length);
        let placed = shape::place(&profile, &comb.ticks)?;
        Some(Sighting { placed, expected: comb.expected(), band })
    };
    candidates.filter_map(look).collect()
}

/// Lean of the marks and the half-width of its 95 % interval, both as tangents.
type Lean = (f64, f64);

/// The marks over their whole height, placed anew; the first look's when that does not hold.
fn second_look(course: &Course<'_>, first: &Sighting) -> (Placed, Option<Lean>) {
    let spacing = &first.placed.spacing;
    let period = spacing.period;
    let reading = if period < 16.0 { Reading::Fine } else { Reading::Linear };
    let extent = rows::extent(course, &spacing.ticks, period, first.band, reading);
    let lean = extent.lean_plus_minus.map(|e| (extent.band.lean, e));
    let step = (period / 24.0).clamp(0.125, 0.5);
    let profile = course.profile(extent.band, step, period, reading);
    let again = shape::place(&profile, &spacing.ticks).filter(|placed| {
        let fitted = &placed.spacing;
        (fitted.period / period - 1.0).abs() < 0.02
            && fitted.ticks.len() * 4 >= spacing.ticks.len() * 3
            && fitted.ticks.len() >= LEAST_TICKS
    });
    (again.unwrap_or_else(|| first.placed.clone()), lean)
}

/// Relative uncertainty of the cosine by which the spacing is turned square to the marks.
fn obliquity_error(lean: Option<Lean>) -> f64 {
    lean.map_or(0.0, |(lean, error)| {
        let error = error.hypot(SQUARENESS_DEG.to_radians());
        lean.abs() * error + error * error / 2.0
    })
}

fn remarks(spacing: &Spacing, px_per_tick: f64, lean: Option<Lean>) -> Vec<ScaleRemark> {
    let ticks = spacing.ticks.len();
    let (first, last) = (spacing.ticks[0].number, spacing.ticks[ticks - 1].number);
    let count = (last - first + 1) as usize - ticks;
    let percent = 100.0 * spacing.scatter / spacing.period;
    let uneven = spacing.scatter > (UNEVEN_SHARE * spacing.period).max(UNEVEN_PX);
    let degrees = lean.map_or(0.0, |l| l.0.atan().to_degrees().abs());
    let change = spacing.change;
    [
        (ticks < FEW).then_some(ScaleRemark::FewTicks { ticks }),
        (count > 0).then_some(ScaleRemark::LeftOut { count }),
        uneven.then_some(ScaleRemark::Uneven { percent }),
        (change.abs() > CHANGE_SHARE).then_some(ScaleRemark::SpacingChanges { percent: 100.0 * change.abs() }),
        (px_per_tick < FINE_PX).then_some(ScaleRemark::Fine { px_per_tick }),
        (degrees > OBLIQUE_DEG).then_some(ScaleRemark::Oblique { degrees }),
    ]
    .into_iter()
    .flatten()
    .collect()
}
