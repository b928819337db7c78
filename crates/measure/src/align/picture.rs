//! Alignment on the picture itself.
//!
//! **Method.** Every turn and shift on a small canvas by masked correlation of gradients (`coarse.rs`), the best few bettered by
//! Gauss-Newton least squares on the tones with gain and offset as unknowns (B. Lucas & T. Kanade, IJCAI 1981; with tone as in
//! S. Baker & I. Matthews, "Lucas-Kanade 20 years on", Int. J. Computer Vision 56, 2004), from a quarter of a thousand pixels up, then the test
//! whether the detail of the two is alike (`likeness.rs`).
//!
//! **Limits.** One scale, one turn, one place: frames from different sides or through different distortion are brought together on
//! average. The scale has to be known to a tenth. Of the smaller field a third must be in the other. A subject
//! that repeats itself (a grid, a ruler alone) is refused, because its displaced copies are as alike.

use std::ops::ControlFlow;

use planes::{Linear, Plane};

use super::coarse::{LEAST_SHARED, Search};
use super::fine::{Fit, Pair, pairs, refine, refine_on, unlike};
use super::grey::{Grey, Halved, Light};
use super::likeness::{Likeness, likeness};
use super::similarity::{AlignError, AlignRemark, Aligned, Similarity, Spread};
use crate::algebra::{Figure, student_975};

/// What is known beforehand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PictureOptions {
    /// Pixels of the second frame for one of the first, from magnification and pitch
    /// ([`scale_by_magnification`](super::scale_by_magnification)), with its half-width.
    pub scale: Figure,
    /// The frames were scanned from different sides of the film.
    pub mirrored: bool,
}

/// Two frames brought together by what they show.
#[derive(Debug, Clone, PartialEq)]
pub struct ByPicture {
    /// The alignment.
    pub aligned: Aligned,
    /// Correlation of the two frames' detail where they lie on each other, −1 to 1.
    pub likeness: f64,
    /// Share of the first frame that the second shows, 0 to 1.
    pub shared: f64,
}

/// Narrower or lower frames have too little structure.
const LEAST_SIDE: usize = 48;
/// A scale less sure than this would be looked for over too many sizes.
const MOST_UNSURE: f64 = 0.1;
/// Fields that differ by more share too little structure.
const MOST_RATIO: f64 = 6.0;
/// Detail that correlates less is not called the same, whatever its displaced copies do.
const LEAST_LIKENESS: f64 = 0.2;
/// Standard deviations above displaced copies: by chance the best of the few thousand places that are tried stands out by about 4.
const LEAST_STANDING_OUT: f64 = 5.0;
/// Sides, pixels: of the smaller field where refining begins, of the larger where it ends, and about which likeness is judged.
const SIDES: (f64, f64, f64) = (100.0, 1600.0, 400.0);
/// Share of the work that is the search.
const SEARCH_SHARE: f64 = 0.6;
/// The least half-width of a place, pixels of the level that was looked at last, and of the scale. Shading, another blur and straight lines
/// between pixels push all differences the same way, which their scatter does not tell; this much they did on rendered frames.
const LEAST_PLACE_PX: f64 = 0.1;
const LEAST_SCALE: f64 = 4e-4;

/// Brings the second frame to the first by what both show. `heard` is told the share that is done, 0 to 1, and may break off.
pub fn align_by_picture(
    first: &Plane<Linear>,
    second: &Plane<Linear>,
    options: &PictureOptions,
    mut heard: impl FnMut(f64) -> ControlFlow<()>,
) -> Result<ByPicture, AlignError> {
    check(first, second, options)?;
    let (width, lights) = (first.width() as f64, (first, second));
    let grey = Grey::of(first);
    let first = Halved::new(if options.mirrored { grey.mirrored() } else { grey });
    let second = Halved::new(Grey::of(second));
    let starts = search(&first, &second, options, &mut heard)?;
    let levels = pairs(&first, &second, options.scale.value, SIDES.0, SIDES.1);
    let (fit, likeness) = refined(&first, &second, &starts, &levels, &mut heard)?;
    if !(likeness.correlation >= LEAST_LIKENESS && likeness.stands_out >= LEAST_STANDING_OUT) {
        return Err(AlignError::NotTheSame { likeness: likeness.correlation, stands_out: likeness.stands_out });
    }
    let finest = levels.last().map_or(1.0, |pair| pair.pixels().1);
    let sharp = levels.last().and_then(|pair| equally_sharp(lights, options.mirrored, &fit, *pair));
    let moved = sharp.as_ref().map_or((0.0, 0.0), |sharp| moved(&fit, sharp));
    let fit = sharp.unwrap_or(fit);
    let aligned = aligned(&fit, moved, options, (width, finest));
    Ok(ByPicture { aligned, likeness: likeness.correlation, shared: fit.shared })
}

/// Standard deviations by which the sharper frame is blurred to see with which it goes best with the other, pixels of its level.
const BLURS_PX: [f64; 8] = [0.0, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0, 5.6];

/// Share of the move by which equal sharpness mends a fit that may still be missing, as a half-width: on rendered frames of up to
/// seven times the other's blur, with grain, a third to a half was (recorded, no theory).
const NOT_MENDED: f64 = 0.5;
/// Where to look again about the first round's best.
const NEARER: [f64; 3] = [0.85, 1.0, 1.18];

/// The fit with the sharper frame blurred as much as the other is.
///
/// Blur moves what is seen of edges: a round shape shrinks, and a dark one shrinks on bright ground because tones are compared by the root
/// of light. Two frames of unlike sharpness would be laid over each other at a wrong size. So the sharper one is blurred *in light*
/// until the two differ least along their edges.
fn equally_sharp(
    (first, second): (&Plane<Linear>, &Plane<Linear>),
    mirrored: bool,
    fit: &Fit,
    pair: Pair,
) -> Option<Fit> {
    let lights = (Light::new(first, pair.first(), mirrored), Light::new(second, pair.second(), false));
    let plain = (lights.0.blurred(0.0), lights.1.blurred(0.0));
    let none = unlike(&plain.0, &plain.1, &fit.similarity, pair);
    let best = |of: &dyn Fn(f64) -> f64| {
        let tried = |sigma: f64| (sigma, if sigma > 0.0 { of(sigma) } else { none });
        let about = lowest(&BLURS_PX.map(tried));
        let near = NEARER.map(|part| tried(part * about));
        if about > 0.0 { (lowest(&near), near[1].1) } else { (0.0, none) }
    };
    let first = best(&|sigma| unlike(&lights.0.blurred(sigma), &plain.1, &fit.similarity, pair));
    let second = best(&|sigma| unlike(&plain.0, &lights.1.blurred(sigma), &fit.similarity, pair));
    match first.1 <= second.1 {
        true => refine_on(&lights.0.blurred(first.0), &plain.1, &fit.similarity, pair),
        false => refine_on(&plain.0, &lights.1.blurred(second.0), &fit.similarity, pair),
    }
}

/// How far the fit moved: its middle, pixels, and its scale.
fn moved(from: &Fit, to: &Fit) -> (f64, f64) {
    let (before, after) = (from.similarity.to_second(to.middle), to.similarity.to_second(to.middle));
    let scale = to.similarity.scale() - from.similarity.scale();
    ((after.0 - before.0).hypot(after.1 - before.1), scale.abs())
}

/// Where the lowest of some points lies, by a parabola over the squares of their abscissae through it and its neighbours: variances of
/// blur add.
fn lowest(points: &[(f64, f64)]) -> f64 {
    let at = (0..points.len()).min_by(|a, b| points[*a].1.total_cmp(&points[*b].1)).unwrap_or(0);
    let Some([(x0, y0), (x1, y1), (x2, y2)]) = at
        .checked_sub(1)
        .and_then(|from| points.get(from..from + 3))
        .and_then(|three| <&[(f64, f64); 3]>::try_from(three).ok())
        .copied()
    else {
        return points[at].0;
    };
    let (x0, x1, x2) = (x0 * x0, x1 * x1, x2 * x2);
    let (left, right) = ((y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1));
    let bend = (right - left) / (x2 - x0);
    if bend <= 0.0 {
        return points[at].0;
    }
    let square = 0.5 * (x0 + x1) - 0.5 * left / bend;
    square.clamp(x0, x2).max(0.0).sqrt()
}

fn check(first: &Plane<Linear>, second: &Plane<Linear>, options: &PictureOptions) -> Result<(), AlignError> {
    let Figure { value, plus_minus } = options.scale;
    if !(value > 0.0 && value.is_finite()) {
        return Err(AlignError::BadNumber { what: "the scale", value, wanted: " above 0" });
    }
    if !(plus_minus >= 0.0 && plus_minus <= MOST_UNSURE * value) {
        return Err(AlignError::ScaleUnsure { percent: 100.0 * plus_minus / value, most_percent: 100.0 * MOST_UNSURE });
    }
    for (frame, plane) in [("first", first), ("second", second)] {
        let side_px = plane.width().min(plane.height());
        if side_px < LEAST_SIDE {
            return Err(AlignError::TooSmall { frame, side_px, least_px: LEAST_SIDE });
        }
    }
    let side = |plane: &Plane<Linear>| plane.width().max(plane.height()) as f64;
    let ratio = side(second) / value / side(first);
    if ratio.max(1.0 / ratio) > MOST_RATIO {
        return Err(AlignError::FieldsUnlike { ratio: ratio.max(1.0 / ratio), most: MOST_RATIO });
    }
    Ok(())
}

fn on(heard: &mut impl FnMut(f64) -> ControlFlow<()>, share: f64) -> Result<(), AlignError> {
    if heard(share).is_break() { Err(AlignError::Stopped) } else { Ok(()) }
}

/// Candidates, the likeliest first.
fn search(
    first: &Halved,
    second: &Halved,
    options: &PictureOptions,
    heard: &mut impl FnMut(f64) -> ControlFlow<()>,
) -> Result<Vec<Similarity>, AlignError> {
    let Figure { value: scale, plus_minus } = options.scale;
    let tries = Search::tries(scale, plus_minus / scale);
    let mut search = Search::new(first, second, scale);
    for (done, (scale, turn_deg)) in tries.iter().enumerate() {
        on(heard, SEARCH_SHARE * done as f64 / tries.len() as f64)?;
        search.try_at(*scale, *turn_deg);
    }
    Ok(search.best().into_iter().map(|candidate| candidate.similarity).collect())
}

/// The candidate whose detail is most alike after a first refining, refined to the end.
fn refined(
    first: &Halved,
    second: &Halved,
    starts: &[Similarity],
    levels: &[Pair],
    heard: &mut impl FnMut(f64) -> ControlFlow<()>,
) -> Result<(Fit, Likeness), AlignError> {
    let nothing = AlignError::NotTheSame { likeness: 0.0, stands_out: 0.0 };
    let (coarsest, finer) = levels.split_first().ok_or(nothing)?;
    let judge = |fit: Fit, pair: Pair| {
        let alike = likeness(first, second, &fit.similarity, pair)?;
        (fit.shared >= 0.5 * LEAST_SHARED / MOST_RATIO.powi(2)).then_some((fit, alike))
    };
    let mut best: Option<(Fit, Likeness)> = None;
    for (k, start) in starts.iter().enumerate() {
        on(heard, SEARCH_SHARE + 0.2 * k as f64 / starts.len() as f64)?;
        let found = refine(first, second, start, *coarsest).and_then(|fit| judge(fit, *coarsest));
        let better =
            |found: &(Fit, Likeness)| best.as_ref().is_none_or(|best| found.1.correlation > best.1.correlation);
        if let Some(found) = found.filter(better) {
            best = Some(found);
        }
    }
    let (mut fit, mut alike) = best.ok_or(nothing)?;
    for (k, pair) in finer.iter().enumerate() {
        on(heard, 0.8 + 0.2 * k as f64 / finer.len() as f64)?;
        fit = refine(first, second, &fit.similarity, *pair).ok_or(nothing)?;
        if first.level(pair.first()).width.max(first.level(pair.first()).height) as f64 <= SIDES.2 {
            alike = likeness(first, second, &fit.similarity, *pair).ok_or(nothing)?;
        }
    }
    Ok((fit, alike))
}

fn aligned(fit: &Fit, moved: (f64, f64), options: &PictureOptions, (width, pixel): (f64, f64)) -> Aligned {
    let covering = student_975(fit.freedom);
    let place = (covering * fit.place_variance.sqrt()).hypot(LEAST_PLACE_PX * pixel).hypot(NOT_MENDED * moved.0);
    let of_scale = (covering * fit.scale_variance.sqrt()).hypot(LEAST_SCALE * fit.similarity.scale());
    let of_scale = of_scale.hypot(NOT_MENDED * moved.1);
    // The mirrored first frame's places count from its other side.
    let middle = if options.mirrored { (width - fit.middle.0, fit.middle.1) } else { fit.middle };
    let similarity = if options.mirrored {
        let origin = fit.similarity.to_second((width, 0.0));
        Similarity::new(fit.similarity.scale(), fit.similarity.turn_deg(), origin, true)
    } else {
        fit.similarity
    };
    let found = Figure::new(similarity.scale(), of_scale);
    let off = Figure::new(found.value - options.scale.value, of_scale.hypot(options.scale.plus_minus));
    let remarks = off.stands_out().then_some(AlignRemark::ScaleOff { found, expected: options.scale });
    Aligned::new(similarity, Spread { middle, place_px: place, per_px: of_scale }, remarks.into_iter().collect())
}
