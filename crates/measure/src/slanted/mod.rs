//! Slanted edges: the method of ISO 12233 (e-SFR) in substance, with every sample at its true distance.

pub(crate) mod checks;
pub(crate) mod curve;
mod error;
mod find;
mod line;
mod locate;
mod profile;
mod report;
mod rounding;
mod spectrum;

pub use error::EdgeError;
pub use report::{
    Channel, ChannelReport, Direction, Displacement, EdgeOptions, EdgeRemark, EdgeReport, FREQUENCY_STEP_CY_PX,
    ProfilePoint, SfrPoint, response_at,
};

use std::borrow::Cow;

use locate::Located;
use planes::{Channels, Linear, Picture, Plane};
use profile::{Layout, Profile, Strip};
use spectrum::Spectrum;

/// Rows per block of the bootstrap at least, and blocks at most. Grain and JPEG blocks tie neighbouring rows together,
/// so blocks should be long; the interval needs some twenty blocks to be sure of itself.
const ROWS_PER_BLOCK: usize = 3;
const MOST_BLOCKS: usize = 32;
/// Share of the edge's rows that must reach to the ends of the profile.
const REACH_SHARE: f64 = 0.3;
/// The curve ends here, cycles per pixel: what a pixel passes beyond is of no use to anyone.
const HIGHEST_FREQUENCY: f64 = 1.0;
/// Response at half a cycle per pixel beyond which false detail is to be expected.
const UNDERSAMPLED: f64 = 0.3;
/// Interval of MTF50, as a share of it, beyond which it is called unsure.
const NOISY: f64 = 0.1;

/// Measures the one slanted edge in a picture, which is the region of interest.
///
/// Orientation, polarity and colours are found by themselves. The method: rows' centroids give a first line; every row
/// is then matched to the profile that all rows share, and the line (up to a fifth-degree curve where the rows demand
/// it) is refitted; a spline through all samples at their true distances gives the profile; the Fourier integral
/// of its slope is the response, along the edge's normal.
pub fn edge(picture: &Picture<Linear>, options: &EdgeOptions) -> Result<EdgeReport, EdgeError> {
    measured(picture, options, MOST_BLOCKS)
}

/// All checks and a rough measurement without intervals: tells whether [`edge`] would take the region, in a fraction of the
/// time.
pub(crate) fn quick(picture: &Picture<Linear>) -> Result<EdgeReport, EdgeError> {
    measured(picture, &EdgeOptions { resamples: 2, ..EdgeOptions::default() }, 1)
}

/// [`edge`] with rows cut into so many blocks at most; one block leaves nothing known of how sure the figures are.
fn measured(picture: &Picture<Linear>, options: &EdgeOptions, most_blocks: usize) -> Result<EdgeReport, EdgeError> {
    let luminance = match picture.channels() {
        Channels::Grey(plane) => Cow::Borrowed(plane),
        Channels::Rgb { .. } => Cow::Owned(picture.luminance()),
    };
    let planes = planes_of(picture, &luminance);
    checks::size_and_numbers(&planes)?;
    let sighting =
        find::sight(&luminance).ok_or(EdgeError::NoEdge { prominence: 0.0, least: checks::LEAST_PROMINENCE })?;
    if sighting.prominence < checks::LEAST_PROMINENCE {
        return Err(EdgeError::NoEdge { prominence: sighting.prominence, least: checks::LEAST_PROMINENCE });
    }
    let transposed = sighting.normal.sin().abs() > sighting.normal.cos().abs();
    let seen = Seen { planes: &planes, sighting: &sighting };
    let report = seen.along(transposed, options, most_blocks)?;
    if report.angle_deg <= 45.0 {
        return Ok(report);
    }
    // Near the diagonal the rough sighting may take the wrong axis for the nearer one.
    Ok(seen.along(!transposed, options, most_blocks).ok().filter(|other| other.angle_deg <= 45.0).unwrap_or(report))
}

/// What is known of an edge before it is followed.
struct Seen<'a> {
    planes: &'a [(Channel, &'a Plane<Linear>)],
    sighting: &'a find::Sighting,
}

impl Seen<'_> {
    /// The edge measured row by row, or, transposed, column by column.
    fn along(&self, transposed: bool, options: &EdgeOptions, most_blocks: usize) -> Result<EdgeReport, EdgeError> {
        let Self { planes, sighting } = self;
        let turned: Vec<_> = planes.iter().map(|(channel, plane)| (*channel, turned(plane, transposed))).collect();
        let guide: &Plane<Linear> = &turned[turned.len() - 1].1;
        let located = locate_on(guide, sighting, transposed)?;
        let strip = Strip { plane: guide, line: &located.line, rows: located.rows };
        let profile = full_profile(&strip, &located, most_blocks).ok_or(EdgeError::Undetermined)?;
        let mut remarks = guide_checks(&strip, &located, &profile)?;

        let mut measured = Vec::new();
        for ((channel, _), found) in turned.iter().zip(measure_all(&turned, (&located, &profile), options, most_blocks))
        {
            match found {
                Ok(found) => measured.push((*channel, found)),
                Err(error) if *channel == Channel::Luminance || matches!(error, EdgeError::Clipped { .. }) => {
                    return Err(error);
                }
                Err(error) => remarks.push(EdgeRemark::ChannelLeftOut { channel: *channel, why: error.to_string() }),
            }
        }
        Ok(report(measured, &located, transposed, checks::clipped_fraction(planes, options), remarks))
    }
}

/// A plane on which the edge runs along the columns.
fn turned(plane: &Plane<Linear>, transposed: bool) -> Cow<'_, Plane<Linear>> {
    if transposed { Cow::Owned(plane.transposed()) } else { Cow::Borrowed(plane) }
}

/// The planes to measure, luminance last.
fn planes_of<'a>(picture: &'a Picture<Linear>, luminance: &'a Plane<Linear>) -> Vec<(Channel, &'a Plane<Linear>)> {
    match picture.channels() {
        Channels::Grey(_) => vec![(Channel::Luminance, luminance)],
        Channels::Rgb { planes, .. } => vec![
            (Channel::Red, &planes[0]),
            (Channel::Green, &planes[1]),
            (Channel::Blue, &planes[2]),
            (Channel::Luminance, luminance),
        ],
    }
}

/// Line on the guiding plane.
fn locate_on(plane: &Plane<Linear>, sighting: &find::Sighting, transposed: bool) -> Result<Located, EdgeError> {
    let size = (plane.width(), plane.height());
    let sighted = locate::first_line(sighting, transposed, size);
    let rows = locate::rows_inside(&sighted, size, 0.0);
    let half_width = sighting.half_width.min(plane.width() as f64 / 3.0).max(2.0);
    checks::continuity(&Strip { plane, line: &sighted, rows }, half_width)?;
    let window = half_width + 3.0;
    // The second pass looks through a window about the fitted line.
    let line = locate::by_centroids(plane, &sighted, window + 2.0)
        .and_then(|line| locate::by_centroids(plane, &line, window))
        .unwrap_or(sighted);
    checks::lean_and_length(&line, locate::rows_inside(&line, size, 0.0))?;
    let reach = Strip { plane, line: &line, rows: locate::rows_inside(&line, size, 0.0) }.reach(0.5);
    let located = locate::refine(plane, &line, Layout::rough(half_width, reach))?;
    checks::lean_and_length(&located.line, locate::rows_inside(&located.line, size, 0.0))?;
    Ok(located)
}

/// Checks of the whole region, by the guiding plane.
fn guide_checks(strip: &Strip<'_>, located: &Located, profile: &Profile) -> Result<Vec<EdgeRemark>, EdgeError> {
    checks::no_bar(profile)?;
    if let Err(faint) = checks::contrast(profile) {
        // What drowns the step may be no noise, but a second edge that the profile does not follow.
        if profile.step().abs() >= checks::LEAST_STEP {
            checks::surroundings(strip, profile)?;
        }
        return Err(faint);
    }
    checks::single(profile)?;
    let mut remarks = checks::plateaus(profile)?;
    remarks.extend(checks::surroundings(strip, profile)?);
    remarks.extend(checks::shape(profile));
    if !located.line.straight() {
        let degree = located.line.coefficients.len() - 1;
        remarks.push(EdgeRemark::Curved { bend_px: located.bend, degree });
    }
    let limit = phase_limit(located);
    if limit < HIGHEST_FREQUENCY {
        remarks.push(EdgeRemark::FewPhases { slope: "1:1".into(), limit_cy_px: limit });
    }
    Ok(remarks)
}

/// Highest frequency that the pixel phases along the edge can carry.
///
/// Near a slope of 1:1 successive rows fall on nearly the same phase. The gap of one pixel between them closes
/// once the rows drift by a whole pixel over the edge's length; until then the samples lie cos(45 deg) apart.
fn phase_limit(located: &Located) -> f64 {
    let middle = f64::midpoint(located.rows.0 as f64, located.rows.1 as f64);
    let slope = located.line.slope(middle).abs();
    let drift = (located.rows.1 - located.rows.0) as f64 * (1.0 - slope).abs();
    // A slight bend of a steep edge near 1:1 may hold the drift up by as much.
    if drift >= 1.0 + 2.0 * located.bend || located.bend > 1.0 {
        return HIGHEST_FREQUENCY;
    }
    (0.5 / located.line.cosine(middle)).min(HIGHEST_FREQUENCY)
}

/// Profile out to the region's sides.
fn full_profile(strip: &Strip<'_>, located: &Located, most_blocks: usize) -> Option<Profile> {
    let layout = located.layout.reaching(strip.reach(REACH_SHARE));
    let blocks = (strip.rows().len() / ROWS_PER_BLOCK).max(2).min(most_blocks);
    Profile::fit(strip, &layout, blocks)
}

/// One channel as measured, with where its edge lies.
struct Measured {
    report: ChannelReport,
    /// Column of the half-way point on the middle row of the edge.
    place: Place,
}

/// Where a channel's edge lies.
#[derive(Debug, Clone, Copy)]
struct Place {
    column: f64,
    cosine: f64,
    error: f64,
    sign: f64,
}

/// Every channel side by side; the guiding plane, which is the last, needs no line of its own.
fn measure_all(
    planes: &[(Channel, Cow<'_, Plane<Linear>>)],
    (guide, profile): (&Located, &Profile),
    options: &EdgeOptions,
    most_blocks: usize,
) -> Vec<Result<Measured, EdgeError>> {
    let Some(((last, guiding), colours)) = planes.split_last() else { return Vec::new() };
    let colour = |channel: Channel, plane: &Plane<Linear>| {
        let located = locate::refine(plane, &guide.line, guide.layout.clone())?;
        let strip = Strip { plane, line: &located.line, rows: located.rows };
        let profile = full_profile(&strip, &located, most_blocks).ok_or(EdgeError::Undetermined)?;
        checks::no_bar(&profile)?;
        checks::contrast(&profile)?;
        checks::plateaus(&profile)?;
        measure_channel(channel, &strip, (&located, &profile), (guide, options))
    };
    std::thread::scope(|scope| {
        let jobs: Vec<_> = colours.iter().map(|(channel, plane)| scope.spawn(|| colour(*channel, plane))).collect();
        let strip = Strip { plane: guiding, line: &guide.line, rows: guide.rows };
        let luminance = measure_channel(*last, &strip, (guide, profile), (guide, options));
        // A thread that panicked would be a defect here; its channel is then reported as not determined.
        let mut out: Vec<_> = jobs.into_iter().map(|j| j.join().unwrap_or(Err(EdgeError::Undetermined))).collect();
        out.push(luminance);
        out
    })
}

fn measure_channel(
    channel: Channel,
    strip: &Strip<'_>,
    (located, profile): (&Located, &Profile),
    (guide, options): (&Located, &EdgeOptions),
) -> Result<Measured, EdgeError> {
    checks::clipping(channel, strip, profile, options)?;
    let crossings = profile.crossings().ok_or(EdgeError::Undetermined)?;
    let middle = f64::midpoint(guide.rows.0 as f64, guide.rows.1 as f64);
    let cosine = located.line.cosine(middle);
    let place = Place {
        column: located.line.x(middle) + crossings.middle / cosine,
        cosine,
        error: place_error(profile, crossings.middle),
        sign: profile.step().signum(),
    };
    Ok(Measured { report: channel_report(profile, crossings, phase_limit(located), options), place })
}

/// Standard error of the half-way point: the block's influence on the level there over the slope.
fn place_error(profile: &Profile, middle: f64) -> f64 {
    let slope = profile.at(middle).1;
    let moved = |c: &Vec<f64>| {
        let (level, _) = profile.basis.evaluate(c, middle);
        let half = f64::midpoint(c[0], c[c.len() - 1]);
        ((level - half) / slope).powi(2)
    };
    profile.influences.iter().map(moved).sum::<f64>().sqrt()
}

fn channel_report(
    profile: &Profile,
    crossings: profile::Crossings,
    limit: f64,
    options: &EdgeOptions,
) -> ChannelReport {
    let spectrum = Spectrum::new(profile);
    let sfr = spectrum.curve(limit);
    let mtf50 = spectrum.crossing(&sfr, 0.5, options);
    let mtf10 = spectrum.crossing(&sfr, 0.1, options);
    let (left, right) = profile.plateaus();
    ChannelReport {
        mtf50_cy_px: mtf50.map(|m| m.value),
        mtf50_plus_minus: mtf50.map(|m| m.plus_minus),
        mtf10_cy_px: mtf10.map(|m| m.value),
        mtf10_plus_minus: mtf10.map(|m| m.plus_minus),
        rise_10_90_px: crossings.rise(),
        rise_10_90_plus_minus_px: spectrum.rise_half_width(&crossings),
        above_noise_to_cy_px: above_noise_to(&sfr),
        sfr,
        low: left.min(right),
        high: left.max(right),
        noise: profile.noise,
        profile: drawing(profile, crossings.middle),
    }
}

/// Last frequency before the first point that does not stand above its noise.
fn above_noise_to(sfr: &[SfrPoint]) -> f64 {
    sfr.iter().take_while(|p| p.above_noise()).last().map_or(0.0, |p| p.frequency_cy_px)
}

/// The profile from dark to bright about its half-way point.
fn drawing(profile: &Profile, middle: f64) -> Vec<ProfilePoint> {
    const POINTS: usize = 240;
    let (start, end) = profile.core;
    let margin = 0.5 * (end - start);
    let (first, last) = profile.basis.span();
    let (from, to) = ((start - margin).max(first), (end + margin).min(last));
    let sign = profile.step().signum();
    let point = |i: usize| {
        let d = from + (to - from) * i as f64 / POINTS as f64;
        ProfilePoint { distance_px: sign * (d - middle), level: profile.at(d).0 }
    };
    let mut points: Vec<_> = (0..=POINTS).map(point).collect();
    if sign < 0.0 {
        points.reverse();
    }
    points
}

fn report(
    measured: Vec<(Channel, Measured)>,
    located: &Located,
    transposed: bool,
    clipped_fraction: f64,
    mut remarks: Vec<EdgeRemark>,
) -> EdgeReport {
    if clipped_fraction > 0.0 {
        remarks.insert(0, EdgeRemark::Clipped { fraction: clipped_fraction });
    }
    let guide = &measured[measured.len() - 1].1.report;
    let contrast = (guide.high - guide.low) / (guide.high + guide.low);
    let response = response_at(guide, 0.5).map_or(0.0, |r| r.0);
    if response > UNDERSAMPLED {
        remarks.push(EdgeRemark::Undersampled { response });
    }
    remarks.extend(measured.iter().filter_map(|(channel, m)| noisy(*channel, &m.report)));
    EdgeReport {
        angle_deg: located.angle_deg(),
        angle_plus_minus_deg: located.angle_plus_minus_deg(),
        direction: if transposed { Direction::NearHorizontal } else { Direction::NearVertical },
        displacement_px: displacement(&measured),
        contrast,
        clipped_fraction,
        edge_degree: located.line.coefficients.len() - 1,
        bend_px: located.bend,
        rows: located.rows.1 - located.rows.0,
        trace: trace(located, transposed),
        remarks,
        channels: measured.into_iter().map(|(channel, m)| (channel, m.report)).collect(),
    }
}

fn noisy(channel: Channel, report: &ChannelReport) -> Option<EdgeRemark> {
    let share = report.mtf50_plus_minus? / report.mtf50_cy_px?;
    (share > NOISY).then_some(EdgeRemark::Noisy { channel, percent: 100.0 * share })
}

fn displacement(measured: &[(Channel, Measured)]) -> Displacement {
    let place = |channel: Channel| measured.iter().find(|(c, _)| *c == channel).map(|(_, m)| m.place);
    let Some(green) = place(Channel::Green) else { return Displacement::default() };
    let against = |channel: Channel| {
        let other = place(channel)?;
        let value = green.sign * (other.column - green.column) * green.cosine;
        Some((value, numeric_coverage() * other.error.hypot(green.error)))
    };
    let (red, blue) = (against(Channel::Red), against(Channel::Blue));
    Displacement {
        red: red.map(|r| r.0),
        red_plus_minus: red.map(|r| r.1),
        blue: blue.map(|b| b.0),
        blue_plus_minus: blue.map(|b| b.1),
    }
}

/// Half-width of a 95 % interval in standard errors, for the blocks of the bootstrap.
fn numeric_coverage() -> f64 {
    crate::numeric::student_975((MOST_BLOCKS - 1) as f64)
}

/// The line as points in the picture as given.
fn trace(located: &Located, transposed: bool) -> Vec<(f64, f64)> {
    const PARTS: u32 = 16;
    let (first, last) = (located.rows.0 as f64, located.rows.1 as f64);
    let parts = if located.line.straight() { 1 } else { PARTS };
    let point = |i: u32| {
        let y = first + (last - first) * f64::from(i) / f64::from(parts);
        let x = located.line.x(y);
        if transposed { (y, x) } else { (x, y) }
    };
    (0..=parts).map(point).collect()
}
