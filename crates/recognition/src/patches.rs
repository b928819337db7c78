//! Tones: grey steps, the trap, blank paper, grain.

use measure::{ContrastOptions, ContrastReport, Figure, contrast};
use planes::{Channels, Linear, Picture, Plane, Region};
use target::Sheet;

use crate::edges::Units;
use crate::error::Why;
use crate::pose::Model;
use crate::recognised::{Evenness, Grain, GroundSample, Options, Patch, PatchKind};
use crate::regions::Blank;
use crate::squares::{Place, View};

/// Reflectance of paper (common practice, no source), as the layout's steps are counted from.
pub(crate) const WHITE: f64 = 0.85;
/// Share of a patch's side that its region takes: blur and light that strays from its borders stay outside.
const INNER: f64 = 0.62;
/// Least side of a patch's region, pixels.
pub(crate) const LEAST_PX: usize = 8;
/// Share of clipped samples from which on a patch says nothing.
const MOST_CLIPPED: f64 = 0.01;
/// Places of a grid across a sheet at which blank paper is looked for.
const GRID: usize = 26;
/// Blank places that the evenness needs.
pub(crate) const LEAST_GROUND: usize = 12;

/// The upright box of a patch in the picture: the largest about its middle within the patch's shrunken outline.
pub(crate) fn patch_box(model: &Model, centre: [f64; 2], size_mm: [f64; 2]) -> Option<(Place, f64, f64)> {
    let middle = model.to_picture(centre)?;
    let right = model.to_picture([centre[0] + size_mm[0] / 2.0, centre[1]])?;
    let down = model.to_picture([centre[0], centre[1] + size_mm[1] / 2.0])?;
    let (u, v) = ((right.0 - middle.0, right.1 - middle.1), (down.0 - middle.0, down.1 - middle.1));
    // A box of half sides (a, b) lies within the parallelogram of half sides u, v when its corners do; with a : b as the
    // parallelogram's own extents along the axes.
    let (wide, high) = ((u.0.abs() + v.0.abs()), (u.1.abs() + v.1.abs()));
    let determinant = u.0 * v.1 - u.1 * v.0;
    let reach = |x: f64, y: f64| {
        let (s, t) = ((x * v.1 - y * v.0) / determinant, (y * u.0 - x * u.1) / determinant);
        s.abs().max(t.abs())
    };
    let share = INNER / reach(wide, high).max(reach(wide, -high));
    share.is_finite().then_some((middle, share * wide, share * high))
}

fn clipped(plane: &Plane<Linear>, options: &Options) -> f64 {
    let out = |s: &&f32| f64::from(**s) <= options.edge.black || f64::from(**s) >= options.edge.white;
    plane.samples().iter().filter(out).count() as f64 / plane.samples().len() as f64
}

fn mean(plane: &Plane<Linear>) -> f64 {
    plane.samples().iter().map(|s| f64::from(*s)).sum::<f64>() / plane.samples().len() as f64
}

/// What a patch shows.
pub(crate) fn patch(
    picture: &Picture<Linear>,
    region: Region,
    (part, kind, reflectance): (target::Part, PatchKind, Option<f64>),
    options: &Options,
) -> Result<Patch, Why> {
    let least_side = picture.width().min(picture.height());
    if least_side < LEAST_PX {
        return Err(Why::TooSmall { found: least_side, least: LEAST_PX });
    }
    let luminance = picture.luminance();
    let (light, share) = match picture.channels() {
        Channels::Grey(plane) => ([mean(plane); 3], clipped(plane, options)),
        Channels::Rgb { planes, .. } => {
            ([0, 1, 2].map(|i| mean(&planes[i])), planes.iter().map(|plane| clipped(plane, options)).sum::<f64>() / 3.0)
        }
    };
    if share > MOST_CLIPPED && kind != PatchKind::Trap {
        return Err(Why::Clipped { percent: 100.0 * share });
    }
    let level = mean(&luminance);
    let spread = luminance.samples().iter().map(|s| (f64::from(*s) - level).powi(2)).sum::<f64>();
    let deviation = (spread / luminance.samples().len() as f64).sqrt();
    Ok(Patch { part, kind, reflectance, region, light, luminance: level, deviation, clipped: share })
}

/// Contrast and glare of trap against white.
pub(crate) fn glare(trap: &Picture<Linear>, white: &Picture<Linear>, options: &Options) -> Result<ContrastReport, Why> {
    let trap_reflectance = if options.trap_cut_out { 0.0 } else { target::TRAP_PRINTED_REFLECTANCE };
    let given = ContrastOptions {
        trap_reflectance,
        white_reflectance: WHITE,
        black: options.edge.black,
        white: options.edge.white,
        ..ContrastOptions::default()
    };
    contrast(trap, white, &given).map_err(Why::Contrast)
}

/// The blank place with most room near another one.
pub(crate) fn blank_near(sheet: &Sheet, blank: &Blank, place: [f64; 2], room_mm: f64) -> Option<[f64; 2]> {
    let short = sheet.size_mm[0].min(sheet.size_mm[1]);
    let away = |p: &[f64; 2]| (p[0] - place[0]).hypot(p[1] - place[1]);
    let places = blank.places(2 * GRID, room_mm);
    places.into_iter().filter(|p| away(p) < 0.35 * short).min_by(|a, b| away(a).total_cmp(&away(b)))
}

/// Blank places of a sheet with their light, from a view of the whole frame.
pub(crate) fn ground(view: &View, sheet: &Sheet, model: &Model, blank: &Blank) -> Vec<GroundSample> {
    let short = sheet.size_mm[0].min(sheet.size_mm[1]);
    let room = 0.016 * short;
    let mut out = Vec::new();
    for place in blank.places(GRID, room) {
        let Some(at) = model.to_picture(place) else { continue };
        let half = 0.5 * room;
        let levels: Option<Vec<f64>> = (0..25)
            .map(|i| {
                let (s, t) = (f64::from(i % 5) / 2.0 - 1.0, f64::from(i / 5) / 2.0 - 1.0);
                model.to_picture([place[0] + half * s, place[1] + half * t]).and_then(|p| view.at(p))
            })
            .collect();
        // The middle of sorted levels: a speck of dust counts for nothing.
        let Some(mut levels) = levels else { continue };
        levels.sort_by(f64::total_cmp);
        let luminance = levels[8..17].iter().sum::<f64>() / 9.0;
        if luminance > 0.0 {
            out.push(GroundSample { place_px: at, luminance });
        }
    }
    out
}

/// Follows log2 of the light by a constant, a slope and the squared distance from the frame's middle.
pub(crate) fn evenness(mut samples: Vec<GroundSample>, units: &Units, white: f64) -> Result<Evenness, Why> {
    // Glare of a lamp on the paper is not the light of the card: what stands out from the fit is taken away, once.
    samples.retain(|s| s.luminance < white);
    let (cx, cy) = units.middle();
    let row = |s: &GroundSample| {
        let (x, y) = ((s.place_px.0 - cx) / cx, (s.place_px.1 - cy) / cy);
        [1.0, x, y, units.radius_share(s.place_px).powi(2)]
    };
    for last in [false, true] {
        if samples.len() < LEAST_GROUND {
            return Err(Why::TooFew { found: samples.len(), least: LEAST_GROUND });
        }
        let rows: Vec<([f64; 4], f64)> = samples.iter().map(|s| (row(s), s.luminance.log2())).collect();
        let Some((c, inverse)) = least_squares(&rows) else {
            return Err(Why::TooFew { found: samples.len(), least: LEAST_GROUND });
        };
        let residual = |(row, v): &([f64; 4], f64)| v - row.iter().zip(&c).map(|(a, b)| a * b).sum::<f64>();
        let squares = rows.iter().map(|r| residual(r).powi(2)).sum::<f64>();
        let sd = (squares / (samples.len() - 4) as f64).sqrt();
        if !last {
            let mut sizes: Vec<f64> = rows.iter().map(|r| residual(r).abs()).collect();
            sizes.sort_by(f64::total_cmp);
            let limit = (5.0 * sizes[sizes.len() / 2]).max(0.02);
            let keep: Vec<bool> = rows.iter().map(|r| residual(r).abs() <= limit).collect();
            let mut at = 0;
            samples.retain(|_| {
                at += 1;
                keep[at - 1]
            });
            continue;
        }
        // Two standard errors: with a dozen samples and more Student's factor is 2.0 to 2.3.
        let figure = |i: usize, sign: f64| Figure::new(sign * c[i], 2.2 * sd * inverse[i].max(0.0).sqrt());
        let light = |f: fn(f64, f64) -> f64, start: f64| samples.iter().map(|s| s.luminance).fold(start, f);
        return Ok(Evenness {
            middle: c[0].exp2(),
            falloff_stops: figure(3, -1.0),
            slope_stops: (figure(1, 1.0), figure(2, 1.0)),
            residual_stops: sd,
            range_stops: (light(f64::max, f64::MIN) / light(f64::min, f64::MAX)).log2(),
            samples,
        });
    }
    unreachable!("the second round returns")
}

/// Four unknowns and the diagonal of the normal matrix's inverse, by Gauss-Jordan.
fn least_squares(rows: &[([f64; 4], f64)]) -> Option<([f64; 4], [f64; 4])> {
    let mut m = [[0.0f64; 9]; 4];
    for (row, v) in rows {
        for i in 0..4 {
            for j in 0..4 {
                m[i][j] += row[i] * row[j];
            }
            m[i][8] += row[i] * v;
        }
    }
    for (i, row) in m.iter_mut().enumerate() {
        row[4 + i] = 1.0;
    }
    for i in 0..4 {
        let pivot = (i..4).max_by(|a, b| m[*a][i].abs().total_cmp(&m[*b][i].abs()))?;
        m.swap(i, pivot);
        let p = m[i][i];
        if p.abs() < 1e-9 {
            return None;
        }
        m[i].iter_mut().for_each(|a| *a /= p);
        for j in 0..4 {
            if j != i {
                let f = m[j][i];
                let own = m[i];
                m[j].iter_mut().zip(own).for_each(|(a, b)| *a -= f * b);
            }
        }
    }
    Some(([m[0][8], m[1][8], m[2][8], m[3][8]], [m[0][4], m[1][5], m[2][6], m[3][7]]))
}

/// Grain of a blank region: the deviation of luminance about a sloping plane, as density.
///
/// Density is -log10 of the light, so that a small share s of the mean is s / ln 10 in density. The interval is that of a
/// deviation of n independent samples, 1.96/√(2n); grain that spans several pixels makes it wider than is said.
pub(crate) fn grain(picture: &Picture<Linear>, region: Region, options: &Options) -> Result<Grain, Why> {
    let plane = picture.luminance();
    let least_side = plane.width().min(plane.height());
    if least_side < 2 * LEAST_PX {
        return Err(Why::TooSmall { found: least_side, least: 2 * LEAST_PX });
    }
    let share = clipped(&plane, options);
    if share > MOST_CLIPPED {
        return Err(Why::Clipped { percent: 100.0 * share });
    }
    let (w, h) = (plane.width() as f64, plane.height() as f64);
    let rows: Vec<([f64; 4], f64)> = (0..plane.samples().len())
        .map(|i| {
            let (x, y) = ((i % plane.width()) as f64 / w - 0.5, (i / plane.width()) as f64 / h - 0.5);
            ([1.0, x, y, x * x + y * y], f64::from(plane.samples()[i]))
        })
        .collect();
    let Some((c, _)) = least_squares(&rows) else {
        return Err(Why::TooSmall { found: least_side, least: 2 * LEAST_PX });
    };
    let squares: f64 =
        rows.iter().map(|(row, v)| (v - row.iter().zip(&c).map(|(a, b)| a * b).sum::<f64>()).powi(2)).sum();
    let n = rows.len() as f64 - 4.0;
    let share = (squares / n).sqrt() / mean(&plane);
    let density = share / std::f64::consts::LN_10;
    Ok(Grain { region, density: Figure::new(density, density * 1.96 / (2.0 * n).sqrt()), share })
}
