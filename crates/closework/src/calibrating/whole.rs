//! All parts that something is given for, each calibrated.

use super::close_up::{PowerFound, power_of};
use super::entries::{Given, PupilEntry};
use super::lens::{LensFound, lens_of, placed};
use super::marked::Marked;
use super::trust::usual_words;
use calibration::CalibrationError;
use kit::{Kind, Kit, Part};
use optics::Estimate;

/// A figure as calibration found it, beside what the part says of itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// The field of the kit that holds the marked figure, "travel_mm" for the travel, which has none.
    pub field: &'static str,
    /// The field of the kit that keeps the calibrated one.
    pub kept_as: &'static str,
    /// What a person calls it.
    pub label: &'static str,
    /// Its unit, empty for none.
    pub unit: &'static str,
    /// As calibration found it.
    pub found: Estimate,
    /// Without calibration, where anything is known.
    pub marked: Option<Marked>,
}

impl Told {
    /// For a field whose calibrated twin the registry knows.
    pub(super) fn new(part: &Part, field: &'static str, found: Estimate, marked: Option<Marked>) -> Self {
        let spec = part.kind().field(field);
        let kept_as = spec.and_then(|spec| spec.calibrated).unwrap_or(field);
        let (label, unit) = spec.map_or((field, ""), |spec| (spec.label, spec.unit));
        Self { field, kept_as, label, unit, found, marked }
    }

    /// For the travel to the closest mark.
    pub(super) fn travel(part: &Part, found: Estimate, marked: Option<Marked>) -> Self {
        let kept_as = "calibrated_travel_mm";
        let unit = part.kind().field(kept_as).map_or("mm", |spec| spec.unit);
        Self { field: "travel_mm", kept_as, label: "travel to the closest mark", unit, found, marked }
    }

    /// Whether the marking tells it better, so that a set-up is worse off with the calibrated figure.
    pub fn worse(&self) -> bool {
        self.marked.is_some_and(|marked| marked.figure.plus_minus < self.found.plus_minus)
    }

    /// Whether the kit may keep it: no worse than the marking, and a figure that the field can hold.
    pub fn keeps(&self) -> bool {
        let possible = self.field == "principal_separation_mm" || self.found.value >= 0.0;
        possible && !self.worse()
    }
}

/// Everything that was told.
#[derive(Debug, Clone, PartialEq)]
pub struct Whole {
    /// Lenses in the order in which they were first named.
    pub lenses: Vec<LensFound>,
    /// Close-up lenses in the order in which they were first named.
    pub close_ups: Vec<PowerFound>,
    /// The half-widths that plain numbers got, in words.
    pub usual: Vec<String>,
}

/// Why nothing is told.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Trouble {
    /// One entry cannot be.
    #[error("{kind} \"{label}\": {why}")]
    Entry {
        /// What it is.
        kind: &'static str,
        /// What it is called.
        label: String,
        /// What is wrong and what to do.
        why: String,
    },
    /// The fit is refused.
    #[error("{part}: {source}")]
    Refused {
        /// The part's id.
        part: String,
        /// Why.
        source: CalibrationError,
    },
    /// Photographs from one end alone.
    #[error(
        "{part}: there is no photograph from the {side}; the ratio of the pupils needs one from each end, so add a [[pupil]] with side = \"{side}\""
    )]
    PupilMissing {
        /// The part's id.
        part: String,
        /// The end.
        side: &'static str,
    },
    /// Nothing is given at all.
    #[error(
        "there is nothing to calibrate from; add a [[frame]] of a ruler, photographs of the lens as [[pupil]], or a [[close_up]] pair"
    )]
    Nothing,
    /// Nothing is given for the part asked for.
    #[error("--lens {wanted}: {}", nothing_for(.has, .closest))]
    NothingFor {
        /// The part asked for.
        wanted: String,
        /// Parts that something is given for.
        has: Vec<String>,
        /// The part of the kit that was perhaps meant.
        closest: Option<String>,
    },
}

fn nothing_for(has: &[String], closest: &Option<String>) -> String {
    let near = closest.as_ref().map(|id| format!("; was \"{id}\" meant?")).unwrap_or_default();
    format!("nothing in the file is about it; the file is about {}{near}", has.join(", "))
}

impl Trouble {
    pub(super) fn entry(kind: &'static str, label: &str, why: String) -> Self {
        Self::Entry { kind, label: label.to_owned(), why }
    }
}

/// The part of a photograph, when it is a lens of the kit.
fn pupil_lens<'a>(kit: &Kit, entry: &'a PupilEntry, only: Option<&'a str>) -> Result<&'a str, Trouble> {
    let fail = |why: String| Trouble::entry("pupil photograph", &entry.label, why);
    let Some(id) = entry.lens.as_deref().or(only) else {
        return Err(fail("it does not say of which lens it is; add lens = \"ID\"".into()));
    };
    match kit.part(id) {
        Some(part) if part.kind() == Kind::Lens => Ok(id),
        Some(part) => Err(fail(format!("\"{id}\" is a {}, not a lens; give a lens's id", part.kind().spec().label))),
        None => Err(fail(no_such(kit, id))),
    }
}

fn no_such(kit: &Kit, id: &str) -> String {
    let near = kit.closest_id(id).map_or("check the id".to_owned(), |near| format!("did you mean \"{near}\"?"));
    format!("the kit has no part \"{id}\"; {near}")
}

fn add<'a>(ids: &mut Vec<&'a str>, id: &'a str) {
    if !ids.contains(&id) {
        ids.push(id);
    }
}

/// Calibrates everything that something is given for, or, of a file about several parts, `only` one.
pub fn whole(kit: &Kit, given: &Given, only: Option<&str>) -> Result<Whole, Trouble> {
    let mut lens_of_frame = Vec::new();
    for entry in &given.frames {
        let placed = placed(kit, entry).map_err(|why| Trouble::entry("frame", &entry.label, why))?;
        lens_of_frame.push(placed.lens);
    }
    let mut lenses: Vec<&str> = Vec::new();
    lens_of_frame.iter().for_each(|id| add(&mut lenses, id));
    // A photograph that names no lens is of the frames' lens, or of the one asked for.
    let asked = only.filter(|id| kit.part(id).is_some_and(|part| part.kind() == Kind::Lens));
    let single = match lenses.as_slice() {
        [one] => Some(*one),
        _ => asked,
    };
    let mut lens_of_pupil = Vec::new();
    for entry in &given.pupils {
        let id = pupil_lens(kit, entry, single)?;
        lens_of_pupil.push(id);
        add(&mut lenses, id);
    }
    let mut close_ups: Vec<&str> = Vec::new();
    given.close_ups.iter().for_each(|pair| add(&mut close_ups, &pair.part));
    if lenses.is_empty() && close_ups.is_empty() {
        return Err(Trouble::Nothing);
    }
    if let Some(wanted) = only
        && !lenses.contains(&wanted)
        && !given.close_ups.iter().any(|pair| pair.part == wanted || pair.lens == wanted)
    {
        let has = lenses.iter().chain(&close_ups).map(|id| (*id).to_owned()).collect();
        let closest = kit.part(wanted).is_none().then(|| kit.closest_id(wanted).map(str::to_owned)).flatten();
        return Err(Trouble::NothingFor { wanted: wanted.to_owned(), has, closest });
    }
    let mut whole = Whole { lenses: Vec::new(), close_ups: Vec::new(), usual: usual_words(given) };
    // A close-up lens that is asked for alone is still measured on a lens that the file may tell.
    let carries = |id: &str| given.close_ups.iter().any(|pair| pair.lens == id && Some(pair.part.as_str()) == only);
    for id in lenses.into_iter().filter(|id| only.is_none_or(|only| only == *id || carries(id))) {
        let Some(lens) = kit.part(id) else { continue };
        let frames: Vec<_> = given.frames.iter().zip(&lens_of_frame).filter(|(_, of)| *of == id).map(|p| p.0).collect();
        let pupils: Vec<_> =
            given.pupils.iter().zip(&lens_of_pupil).filter(|(_, of)| **of == id).map(|p| p.0).collect();
        whole.lenses.push(lens_of(kit, lens, given, &frames, &pupils)?);
    }
    // A close-up lens is measured on a lens whose true figures may have come out of the same file.
    let kit = with_calibrated(kit, &whole);
    for id in close_ups {
        let pairs: Vec<_> = given.close_ups.iter().filter(|pair| pair.part == id).collect();
        let wanted = |only: &str| only == id || pairs.iter().any(|pair| pair.lens == only);
        if !only.is_none_or(wanted) {
            continue;
        }
        let Some(part) = kit.part(id) else {
            return Err(Trouble::entry("close-up pair", &pairs[0].label, no_such(&kit, id)));
        };
        whole.close_ups.push(power_of(&kit, part, given, &pairs)?);
    }
    whole.lenses.retain(|lens| only.is_none_or(|only| only == lens.id || !carries(&lens.id)));
    Ok(whole)
}

/// The kit with what was found put in; a part that cannot take it stays as it was.
fn with_calibrated(kit: &Kit, whole: &Whole) -> Kit {
    super::keep::with_all(kit, whole).unwrap_or_else(|_| kit.clone())
}

impl Whole {
    /// What was found of each part: its id and its figures.
    pub fn told(&self) -> impl Iterator<Item = (&str, &[Told])> {
        let lenses = self.lenses.iter().map(|lens| (lens.id.as_str(), lens.told.as_slice()));
        lenses.chain(self.close_ups.iter().map(|power| (power.id.as_str(), power.told.as_slice())))
    }
}
