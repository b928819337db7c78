//! A lens's frames placed by the kit, and what they tell.

use super::entries::{At, FrameEntry, Given, PupilEntry, Side};
use super::marked::{marked, marked_travel};
use super::trust::{
    CAMERA_MM, COMMON_SCALE_SHARE, DEPTH_MM, DISC_SHARE, DISTANCE_MM, MAGNIFICATION_SHARE, PUPIL_SCALE_SHARE, TRAVEL_MM,
};
use super::whole::{Told, Trouble};
use calibration::{
    CalibrationError, Focused, Frame, Length, LensCalibration, MOST_FRAMES, Options, Perspective, PupilPhoto,
    PupilRatio, Worth, calibrate_lens, pupil_ratio, worth,
};
use kit::{Facing, Focus, Kind, Kit, Link, Part, Setup, SetupRequest};
use optics::{Estimate, Input};

/// A frame whose set-up the kit makes.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// The lens's id.
    pub lens: String,
    /// As the fit takes it.
    pub frame: Frame,
}

/// What the frames and photographs of one lens tell.
#[derive(Debug, Clone, PartialEq)]
pub struct LensFound {
    /// The lens's id.
    pub id: String,
    /// What a person calls it.
    pub name: String,
    /// Its figures, calibrated beside marked.
    pub told: Vec<Told>,
    /// The frames as they were fitted.
    pub frames: Vec<Frame>,
    /// The fit; `None` without frames.
    pub fit: Option<LensCalibration>,
    /// The pupils; `None` without photographs.
    pub pupil: Option<PupilRatio>,
    /// What each frame was worth and further ones would be; `None` without frames.
    pub worth: Option<Worth>,
}

/// The frame as the kit makes it: one lens the normal way round, with nothing but tubes, bellows and adapters behind it
/// and nothing before it. The refusal is a clause to follow the frame's name.
pub fn placed(kit: &Kit, entry: &FrameEntry) -> Result<Placed, String> {
    let focus = match entry.at {
        At::Travel(travel) => Focus::Travel(travel.value),
        // The closest mark may be all that is not known of a lens: resolving would ask for it.
        At::Infinity | At::Closest => Focus::Infinity,
    };
    let request = SetupRequest { parts: entry.parts.clone(), focus, ..SetupRequest::default() };
    let setup = Setup::resolve(kit, &request).map_err(|error| error.to_string())?;
    check_stack(&setup)?;
    let lens = setup.lens();
    if lens.words("focusing") == Some("internal") && entry.at != At::Infinity {
        return Err(format!(
            "lens \"{}\" focuses inside, so that its focal length changes; only frames at its infinity mark tell its figures, so write focus = \"infinity\" or leave this frame out",
            lens.id()
        ));
    }
    let focused = match entry.at {
        At::Infinity => Focused::AtInfinityMark,
        At::Closest => Focused::AtClosestMark,
        At::Travel(travel) if travel.value == 0.0 => Focused::AtInfinityMark,
        At::Travel(travel) => Focused::Travel(travel.input(TRAVEL_MM)),
    };
    let frame = Frame {
        id: entry.label.clone(),
        extension: extension(&setup)?,
        focused,
        magnification: entry.reading.magnification(),
        distance: entry.subject_to_film_mm.map(|distance| distance.input(DISTANCE_MM)),
    };
    Ok(Placed { lens: lens.id().to_owned(), frame })
}

/// A lens alone the normal way round, tubes, bellows and adapters behind it.
fn check_stack(setup: &Setup<'_>) -> Result<(), String> {
    let wrong = setup
        .choices()
        .iter()
        .skip(1)
        .find(|choice| !matches!(choice.kind(), Some(Kind::Lens | Kind::Tube | Kind::Bellows | Kind::Adapter)));
    if let Some(choice) = wrong {
        let label = choice.kind().map_or("a free distance", |kind| kind.spec().label);
        return Err(format!(
            "{label} \"{}\" has no place in a test frame: it takes one lens the normal way round with tubes, bellows or adapters behind it and nothing before it; leave it out and photograph the ruler again",
            choice.id()
        ));
    }
    if setup.lenses().len() != 1 {
        return Err("two lenses are in it; a test frame takes one lens alone".into());
    }
    if setup.hold().facing != Facing::Normal || setup.hold().free {
        return Err(format!(
            "lens \"{}\" stands reversed or is held by hand; a test frame takes it the normal way round in its mount",
            setup.lens().id()
        ));
    }
    Ok(())
}

/// What lies between the lens's infinity position and where its mount held it, piece by piece under the parts' names.
///
/// An adapter and a register of the lens's own make one piece: the body's register and the adapter less the register
/// that the lens was built for, which is nothing when the adapter is right.
fn extension(setup: &Setup<'_>) -> Result<Vec<Length>, String> {
    let mut lengths = Vec::new();
    let mut adapters: Vec<(&str, Input)> = Vec::new();
    let mut own_register = None;
    for (choice, link) in setup.choices().iter().skip(1).zip(&setup.spec().links) {
        match link {
            Link::Gap(gap) if choice.kind() == Some(Kind::Adapter) => adapters.push((choice.id(), gap.length)),
            // Two draws of a bellows are two lengths; the same draw is one setting, whose error is common.
            Link::Gap(gap) => lengths.push(Length { name: choice.word(), length: gap.length }),
            Link::Lens(link) => own_register = link.lens.register,
            _ => {}
        }
    }
    let body = setup.spec().register;
    let register = own_register.unwrap_or(body);
    if adapters.is_empty() && register.value == body.value {
        return Ok(lengths);
    }
    let differs = register.value != body.value;
    let between: f64 = adapters.iter().map(|(_, length)| length.value).sum();
    let value = if differs { body.value - register.value + between } else { between };
    let squares = adapters.iter().map(|(_, length)| length.plus_minus.powi(2)).sum::<f64>();
    let registers = if differs { body.plus_minus.powi(2) + register.plus_minus.powi(2) } else { 0.0 };
    let plus_minus = (squares + registers).sqrt();
    if value < -plus_minus {
        return Err(format!(
            "lens \"{}\" stands {:.1} mm nearer the film than it was built for; only frames with the lens at its infinity position or forward of it can be fitted",
            setup.lens().id(),
            -value
        ));
    }
    let mut name = format!("register of {}", setup.body().id());
    name.extend(adapters.iter().map(|(id, _)| format!(" and {id}")));
    lengths.push(Length { name, length: Input { value: value.max(0.0), plus_minus } });
    Ok(lengths)
}

fn photo(entry: &PupilEntry) -> PupilPhoto {
    let share = |number: super::Number, share: f64| number.input(share * number.value.abs());
    let perspective = entry
        .camera_mm
        .zip(entry.depth_mm)
        .map(|(camera, depth)| Perspective { distance: camera.input(CAMERA_MM), depth: depth.input(DEPTH_MM) });
    PupilPhoto {
        id: entry.label.clone(),
        diameter_px: share(entry.diameter_px, DISC_SHARE),
        scale_px_per_mm: entry.px_per_mm.map(|scale| share(scale, PUPIL_SCALE_SHARE)),
        perspective,
    }
}

/// How the frames of `given` are fitted for a lens.
fn options(given: &Given, lens: &Part) -> Options {
    Options {
        marked: marked(lens, "focal_length_mm").map(|marked| marked.input()),
        use_marked: false,
        fit_zero: given.fit_infinity_mark,
        leave_out_outliers: !given.use_outliers,
        common_scale: given.common_scale.unwrap_or(COMMON_SCALE_SHARE),
    }
}

/// What is told of one lens by its frames and the photographs of it.
pub fn lens_of(
    kit: &Kit,
    lens: &Part,
    given: &Given,
    entries: &[&FrameEntry],
    pupils: &[&PupilEntry],
) -> Result<LensFound, Trouble> {
    let refused = |source: CalibrationError| Trouble::Refused { part: lens.id().to_owned(), source };
    let mut frames = Vec::new();
    for entry in entries {
        let placed = placed(kit, entry).map_err(|why| Trouble::entry("frame", &entry.label, why))?;
        frames.push(placed.frame);
    }
    let mut found = LensFound {
        id: lens.id().to_owned(),
        name: lens.name().to_owned(),
        told: Vec::new(),
        fit: None,
        pupil: None,
        worth: None,
        frames,
    };
    if !found.frames.is_empty() {
        let options = options(given, lens);
        let fit = calibrate_lens(&found.frames, &options).map_err(refused)?;
        found.worth = further(kit, entries, &found.frames, &fit, &options).map_err(refused)?.into();
        found.told.extend(figures(lens, &fit));
        found.fit = Some(fit);
    }
    if !pupils.is_empty() {
        let side = |side: Side| pupils.iter().filter(|p| p.side == side).map(|p| photo(p)).collect::<Vec<_>>();
        let (front, back) = (side(Side::Front), side(Side::Back));
        for (photos, missing) in [(&front, Side::Front), (&back, Side::Back)] {
            if photos.is_empty() {
                return Err(Trouble::PupilMissing { part: lens.id().to_owned(), side: missing.word() });
            }
        }
        let pupil = pupil_ratio(&front, &back).map_err(refused)?;
        found.told.push(Told::new(lens, "pupil_ratio", pupil.ratio, marked(lens, "pupil_ratio")));
        found.pupil = Some(pupil);
    }
    Ok(found)
}

/// The fitted figures that a kit keeps, beside the marked ones.
fn figures(lens: &Part, fit: &LensCalibration) -> Vec<Told> {
    let mut told = vec![Told::new(lens, "focal_length_mm", fit.focal_length, marked(lens, "focal_length_mm"))];
    told.extend(fit.travel.map(|travel| Told::travel(lens, travel, marked_travel(lens))));
    let separation = "principal_separation_mm";
    told.extend(fit.separation.map(|found| Told::new(lens, separation, found, marked(lens, separation))));
    told
}

/// Sets of tubes that are tried for frames yet to be taken.
const MOST_SETS: usize = 16;

/// How many frames more are forecast.
const FORECAST: usize = 4;

/// What the frames are worth, and further ones with what the kit holds.
fn further(
    kit: &Kit,
    entries: &[&FrameEntry],
    frames: &[Frame],
    fit: &LensCalibration,
    options: &Options,
) -> Result<Worth, CalibrationError> {
    let left_out = |frame: &Frame| fit.outliers_left_out && fit.outliers.iter().any(|outlier| outlier.id == frame.id);
    let used: Vec<Frame> = frames.iter().filter(|frame| !left_out(frame)).cloned().collect();
    let mut candidates: Vec<Frame> =
        used.iter().map(|frame| Frame { id: format!("like {}", frame.id), ..frame.clone() }).collect();
    for parts in sets(kit, entries) {
        candidates.extend(candidate(kit, &parts, At::Infinity, fit));
        candidates.extend(candidate(kit, &parts, At::Closest, fit));
    }
    candidates.truncate(MOST_FRAMES);
    let most = (used.len() + FORECAST).min(MOST_FRAMES);
    // A candidate shares its tubes with the frames; one that gives them another length cannot be compared.
    let joint = worth(&used, &candidates, most, options);
    joint.or_else(|_| worth(&used, &[], most, options))
}

/// Body, tubes of the kit singly and in pairs and all together, lens: as far as they join.
fn sets(kit: &Kit, entries: &[&FrameEntry]) -> Vec<Vec<String>> {
    let Some((body, lens)) = entries.first().and_then(|entry| Some((entry.parts.first()?, entry.parts.last()?))) else {
        return Vec::new();
    };
    let tubes: Vec<&str> = kit.of_kind(Kind::Tube).map(Part::id).collect();
    let single = tubes.iter().map(|tube| vec![*tube]);
    let pairs =
        tubes.iter().enumerate().flat_map(|(at, one)| tubes[at + 1..].iter().map(move |other| vec![*one, *other]));
    let all = (tubes.len() > 2).then(|| tubes.clone());
    let sets = single.chain(all).chain(pairs).map(|tubes| {
        std::iter::once(body.clone()).chain(tubes.into_iter().map(str::to_owned)).chain([lens.clone()]).collect()
    });
    let joins = |parts: &Vec<String>| {
        let request = SetupRequest { parts: parts.clone(), ..SetupRequest::default() };
        Setup::resolve(kit, &request).is_ok()
    };
    sets.filter(joins).take(MOST_SETS).collect()
}

/// A frame that could be taken. Its magnification only sizes its uncertainty.
fn candidate(kit: &Kit, parts: &[String], at: At, fit: &LensCalibration) -> Option<Frame> {
    let tubes = parts.get(1..parts.len() - 1)?.join(" + ");
    let place = if at == At::Closest { "at the closest mark" } else { "at infinity" };
    let reading = super::Reading::Magnification(super::Number::plain(1.0));
    let label = format!("{tubes}, {place}");
    let entry = FrameEntry { label, parts: parts.to_vec(), at, reading, subject_to_film_mm: None };
    let mut frame = placed(kit, &entry).ok()?.frame;
    let travel = if at == At::Closest { fit.travel.map_or(0.0, |travel| travel.value) } else { 0.0 };
    let value = (frame.extension_mm() + travel) / fit.focal_length.value;
    frame.magnification = Input { value, plus_minus: MAGNIFICATION_SHARE * value };
    Some(frame)
}

impl LensFound {
    /// The frames after which each further one betters the focal length by less than a tenth; `None` while the forecast
    /// does not reach so far.
    pub fn enough(&self) -> Option<usize> {
        let steps = &self.worth.as_ref()?.steps;
        let gains_little = |at: usize| match (steps[at - 1].focal_length, steps[at].focal_length) {
            (Some(before), Some(after)) => after > 0.9 * before,
            _ => false,
        };
        let first = (1..steps.len()).find(|at| (*at..steps.len()).all(gains_little))?;
        Some(steps[first - 1].frames)
    }

    /// The offset of the infinity mark, when it was fitted.
    pub fn offset(&self) -> Option<Estimate> {
        self.fit.as_ref()?.zero
    }

    /// Every reservation, as a clause.
    pub fn remarks(&self) -> Vec<String> {
        let fit = self.fit.iter().flat_map(|fit| &fit.remarks).map(ToString::to_string);
        let pupil = self.pupil.iter().flat_map(|pupil| &pupil.remarks).map(ToString::to_string);
        fit.chain(pupil).collect()
    }
}
