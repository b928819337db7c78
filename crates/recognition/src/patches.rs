//! Tones: grey steps, the trap, blank paper, grain.

use measure::{Channel, ContrastOptions, ContrastReport, EvennessOptions, GrainOptions, contrast, shading};
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

/// Blank places of a sheet with their light, from views of the whole frame: luminance, and red, green and blue where there is colour.
pub(crate) fn ground(views: &[View], sheet: &Sheet, model: &Model, blank: &Blank) -> Vec<GroundSample> {
    let short = sheet.size_mm[0].min(sheet.size_mm[1]);
    let room = 0.016 * short;
    let sample = |place: [f64; 2]| {
        let place_px = model.to_picture(place)?;
        let light = |view: &View| middling(view, place, 0.5 * room, model).filter(|light| *light > 0.0);
        let luminance = light(views.first()?)?;
        let colours = match views {
            [_, red, green, blue] => Some([light(red)?, light(green)?, light(blue)?]),
            _ => None,
        };
        Some(GroundSample { place_px, luminance, colours })
    };
    blank.places(GRID, room).into_iter().filter_map(sample).collect()
}

/// Mean of the middle of sorted levels about a place: a speck of dust counts for nothing.
fn middling(view: &View, place: [f64; 2], half: f64, model: &Model) -> Option<f64> {
    let level = |i: u32| {
        let (s, t) = (f64::from(i % 5) / 2.0 - 1.0, f64::from(i / 5) / 2.0 - 1.0);
        model.to_picture([place[0] + half * s, place[1] + half * t]).and_then(|p| view.at(p))
    };
    let mut levels: Vec<f64> = (0..25).map(level).collect::<Option<_>>()?;
    levels.sort_by(f64::total_cmp);
    Some(levels[8..17].iter().sum::<f64>() / 9.0)
}

/// The fall-off of the light over the frame from its blank places, and of red and blue against green.
pub(crate) fn evenness(mut samples: Vec<GroundSample>, units: &Units, white: f64) -> Result<Evenness, Why> {
    // A lamp's glare on the paper is not the light of the card.
    samples.retain(|s| s.luminance < white);
    let options = EvennessOptions::for_frame(f64::from(units.size.0), f64::from(units.size.1));
    let fitted = |light: &dyn Fn(&GroundSample) -> Option<f64>| {
        let sample = |s: &GroundSample| {
            Some(measure::GroundSample { x: s.place_px.0, y: s.place_px.1, light: light(s)?, weight: 1.0 })
        };
        let seen: Vec<measure::GroundSample> = samples.iter().filter_map(sample).collect();
        measure::evenness(&seen, &options).map_err(Why::Evenness)
    };
    let report = fitted(&|s| Some(s.luminance))?;
    let colours = [Channel::Red, Channel::Green, Channel::Blue];
    let colour = |(i, channel)| Some((channel, fitted(&|s| s.colours.map(|light| light[i])).ok()?));
    let by_colour: Vec<_> = colours.into_iter().enumerate().filter_map(colour).collect();
    Ok(Evenness { shading: shading(&by_colour), report, samples })
}

/// Grain of a blank region, in luminance.
pub(crate) fn grain(picture: &Picture<Linear>, region: Region, options: &Options) -> Result<Grain, Why> {
    let share = clipped(&picture.luminance(), options);
    if share > MOST_CLIPPED {
        return Err(Why::Clipped { percent: 100.0 * share });
    }
    let given = GrainOptions { pitch_um: options.pitch_um, ..GrainOptions::default() };
    let reports = measure::grain(picture, &given).map_err(Why::Grain)?;
    let luminance = reports.into_iter().find(|report| report.channel == Channel::Luminance);
    luminance.map(|report| Grain { region, report }).ok_or(Why::Grey)
}
