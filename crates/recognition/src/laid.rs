//! What a person lays on a small card: where a blade's edge is looked for, and the fields of a grey scale.

use std::ops::Range;

use planes::{Linear, Picture, Region};
use target::{Blade, GreyScale};

use crate::edges::{Bare, piece};
use crate::error::Why;
use crate::pose::Model;
use crate::recognised::Options;
use crate::regions::{edge_box, within};
use crate::squares::{Place, View};

/// Share of the strip that a blade covers, and of its line, that its edge's region reaches: the broken outline stays outside.
const FREE_SHARE: f64 = 0.6;
const ALONG_SHARE: f64 = 0.86;
/// Samples across a grey scale, and the share of its width over which they are taken: its long sides are cut by hand.
const ROWS: usize = 40;
const ACROSS: f64 = 0.5;
/// Least step between two fields, stops (a third of a stop is a common scale's), and the share of the scale's length over which
/// light is averaged on either side of it.
const LEAST_STOPS: f64 = 0.15;
const BESIDE: f64 = 1.0 / 60.0;
/// Least length of a field, as a share of the scale's.
const LEAST_FIELD: f64 = 1.0 / 40.0;

/// Where a blade's edge is looked for: the frame's region, its middle, and the direction to the white.
pub(crate) fn blade_region(blade: &Blade, model: &Model, size: (u32, u32)) -> Result<(Region, Place, Place), Why> {
    let at = |place: [f64; 2]| model.to_picture(place).ok_or(Why::OutsideFrame);
    let [a, b] = blade.ends;
    let middle_mm = [0, 1].map(|i| (a[i] + b[i]) / 2.0);
    let (a, b, middle) = (at(a)?, at(b)?, at(middle_mm)?);
    let out = at([0, 1].map(|i| middle_mm[i] + FREE_SHARE * blade.cover_mm * blade.outward[i]))?;
    let length = (b.0 - a.0).hypot(b.1 - a.1);
    let across = (-(b.1 - a.1) / length, (b.0 - a.0) / length);
    let free = (out.0 - middle.0) * across.0 + (out.1 - middle.1) * across.1;
    let outward = if free > 0.0 { across } else { (-across.0, -across.1) };
    let (w, h) = edge_box(outward, free.abs(), ALONG_SHARE * length / 2.0).ok_or(Why::NotLaid)?;
    let (from, to) = ((middle.0 - w, middle.1 - h), (middle.0 + w, middle.1 + h));
    let inside = from.0 >= 0.0 && from.1 >= 0.0 && to.0 <= f64::from(size.0) && to.1 <= f64::from(size.1);
    let region = within(from, to, size).filter(|_| inside).ok_or(Why::OutsideFrame)?;
    Ok((region, middle, outward))
}

/// The edge of a blade in the picture of its region.
pub(crate) fn blade_edge(
    picture: &Picture<Linear>,
    region: Region,
    outward: Place,
    options: &Options,
) -> Result<Bare, Why> {
    use measure::EdgeError as E;
    let whole = Region { x: 0, y: 0, ..region };
    match measure::edge(&piece(picture, whole), &options.edge) {
        Ok(report) => Ok(Bare { side: 0, region, outward, report }),
        // Bare paper, and the outline's dashes.
        Err(E::NoEdge { .. } | E::LowContrast { .. }) => Err(Why::NotLaid),
        Err(error) => Err(Why::Edge(error)),
    }
}

/// A field of a grey scale: its middle and size on the sheet, mm.
pub(crate) type Field = ([f64; 2], [f64; 2]);

/// The fields of a grey scale on its place, the lightest first: they follow each other along the place's one side or the other.
pub(crate) fn grey_fields(view: &View, scale: &GreyScale, model: &Model) -> Result<Vec<Field>, Why> {
    let along_x = profile(view, scale, model, 0).ok_or(Why::OutsideFrame)?;
    let along_y = profile(view, scale, model, 1).ok_or(Why::OutsideFrame)?;
    let (axis, levels) = if range(&along_x) >= range(&along_y) { (0, along_x) } else { (1, along_y) };
    let found = fields(&levels);
    if found.len() < 2 {
        return Err(Why::NotLaid);
    }
    let n = levels.len() as f64;
    let field = |r: &Range<usize>| {
        let (mut centre, mut size) = (scale.centre, scale.size_mm);
        size[axis] = (r.len() as f64 / n) * scale.size_mm[axis];
        centre[axis] += ((r.start + r.end) as f64 / (2.0 * n) - 0.5) * scale.size_mm[axis];
        size[1 - axis] *= ACROSS / 0.62;
        (centre, size)
    };
    let mut lit: Vec<(f64, Field)> = found.iter().map(|r| (mean(&levels[r.clone()]), field(r))).collect();
    lit.sort_by(|a, b| b.0.total_cmp(&a.0));
    Ok(lit.into_iter().map(|(_, field)| field).collect())
}

/// log2 of the light along one side of the place, averaged over its middle.
fn profile(view: &View, scale: &GreyScale, model: &Model, axis: usize) -> Option<Vec<f64>> {
    let at = |along: f64, across: f64| {
        let mut place = scale.centre;
        place[axis] += along * scale.size_mm[axis];
        place[1 - axis] += across * scale.size_mm[1 - axis];
        model.to_picture(place)
    };
    let (from, to) = (at(-0.5, 0.0)?, at(0.5, 0.0)?);
    let count = ((to.0 - from.0).hypot(to.1 - from.1) as usize).clamp(16, 2000);
    let level = |i: usize| {
        let along = (i as f64 + 0.5) / count as f64 - 0.5;
        let row = |r: usize| view.at(at(along, ACROSS * ((r as f64 + 0.5) / ROWS as f64 - 0.5))?);
        let sum: Option<f64> = (0..ROWS).map(row).sum();
        sum.map(|sum| (sum / ROWS as f64).max(1e-5).log2())
    };
    (0..count).map(level).collect()
}

fn mean(levels: &[f64]) -> f64 {
    levels.iter().sum::<f64>() / levels.len().max(1) as f64
}

fn range(levels: &[f64]) -> f64 {
    levels.iter().copied().fold(f64::MIN, f64::max) - levels.iter().copied().fold(f64::MAX, f64::min)
}

/// Stretches of one level, without what lies close to their ends.
fn fields(levels: &[f64]) -> Vec<Range<usize>> {
    let beside = ((levels.len() as f64 * BESIDE) as usize).max(3);
    let step = |i: usize| {
        let before = mean(&levels[i.saturating_sub(beside)..i]);
        (mean(&levels[i..(i + beside).min(levels.len())]) - before).abs()
    };
    let places = beside..levels.len().saturating_sub(beside);
    let steps: Vec<f64> = places.clone().map(step).collect();
    let mut cuts = vec![0];
    for (k, &height) in steps.iter().enumerate() {
        let around = k.saturating_sub(beside)..(k + beside + 1).min(steps.len());
        let first = around.clone().find(|&j| steps[j] >= height);
        if height > LEAST_STOPS && first == Some(k) {
            cuts.push(k + beside);
        }
    }
    cuts.push(levels.len());
    let least = (levels.len() as f64 * LEAST_FIELD).ceil() as usize;
    let inner = |pair: &[usize]| pair[0] + beside / 2..pair[1].saturating_sub(beside / 2);
    cuts.windows(2).map(inner).filter(|field| field.len() >= least).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_lie_between_the_steps() {
        // Four fields with a slope of the light over all of them, blurred over five samples.
        let sharp: Vec<f64> = (0..400).map(|i| -[0.0, 0.5, 1.5, 3.0][i / 100] + 1e-4 * i as f64).collect();
        let soft: Vec<f64> = (0..400usize).map(|i| mean(&sharp[i.saturating_sub(2)..(i + 3).min(400)])).collect();
        let found = fields(&soft);
        assert_eq!(found.len(), 4, "{found:?}");
        for (n, field) in found.iter().enumerate() {
            assert!(field.start >= 100 * n && field.end <= 100 * (n + 1) && field.len() > 85, "{field:?}");
        }
        assert_eq!(fields(&vec![-1.0; 300]).len(), 1);
    }
}
