//! How a set-up of the kit can stand, and how it is set for a magnification.

use kit::{Demand, Facing, Focus, Kind, Kit, Limits, Obstacle, Part, ReachedSetup, Setup, SetupError, SetupRequest};
use optics::{Estimate, Figure};
use planning::test_roll::{Ring, Span};

/// One way to put a set-up together.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Way {
    /// Its parts from the body outwards, a bellows without its draw.
    pub parts: Vec<String>,
    /// What it reaches.
    pub span: Span,
}

/// A set-up, set.
#[derive(Debug, Clone, PartialEq)]
pub struct Stand {
    /// Its parts from the body outwards, a bellows with its draw to the tenth of a millimetre.
    pub parts: Vec<String>,
    /// Where the lens is focused, to the tenth of a millimetre.
    pub focus: Focus,
    /// Its magnification so.
    pub magnification: Estimate,
    /// Its aperture ring.
    pub ring: Ring,
    /// Subject to the front, mm; `None` when infinitely far.
    pub working_distance_mm: Option<f64>,
}

/// The part that a word names: "bellows=85", "normal-85=reversed" or a part alone.
pub(super) fn id_of(word: &str) -> &str {
    word.split_once('=').map_or(word, |(id, _)| id)
}

fn kind_of(kit: &Kit, word: &str) -> Option<Kind> {
    kit.part(id_of(word)).map(Part::kind)
}

/// The same parts with no bellows drawn.
pub fn without_draws(kit: &Kit, parts: &[String]) -> Vec<String> {
    let bare = |word: &String| match kind_of(kit, word) {
        Some(Kind::Bellows) => id_of(word).to_owned(),
        _ => word.clone(),
    };
    parts.iter().map(bare).collect()
}

/// Held by hand somewhere: nothing but its one place is known.
fn held(parts: &[String]) -> bool {
    parts.iter().any(|word| word.starts_with("free=") || word.ends_with("=reversed"))
}

/// What may be exchanged to bring a lens to another size.
fn is_extension(kind: Kind) -> bool {
    matches!(kind, Kind::Tube | Kind::Bellows)
}

fn sorted(parts: &[String]) -> Vec<&str> {
    let mut ids: Vec<&str> = parts.iter().map(|word| id_of(word)).collect();
    ids.sort_unstable();
    ids
}

/// A kit of these parts alone, and what it reaches.
fn reached(
    kit: &Kit,
    keep: impl Fn(&Part) -> bool,
    magnification: Option<f64>,
    limits: Option<Limits>,
) -> Result<Vec<ReachedSetup>, SetupError> {
    let parts: Vec<Part> = kit.parts().iter().filter(|part| keep(part)).cloned().collect();
    // A part of a kit is there once.
    let few = Kit::from_parts(parts).unwrap_or_default();
    let limits = limits.unwrap_or_else(|| Limits::everything(&few));
    Ok(kit::reach(&few, &Demand { magnification, limits, ..Demand::default() })?.setups)
}

/// Ways at most: more only repeat sizes that are there.
const MOST_WAYS: usize = 60;

/// The ways in which a set-up can stand: its own, then, where `other_tubes` may be used, its lens on any other tubes and bellows
/// of the kit, those that change least first. Empty when it gives a picture of nothing.
pub(super) fn ways(kit: &Kit, parts: &[String], other_tubes: bool) -> Result<Vec<Way>, SetupError> {
    let own = without_draws(kit, parts);
    // What is no set-up at all is said in the kit's words.
    let setup = Setup::resolve(kit, &request(&at_shortest(kit, &own), Focus::Infinity))?;
    if held(&own) {
        return Ok(fixed(&setup, parts));
    }
    let mut all: Vec<Way> = reached(kit, |part| own.iter().any(|word| word == part.id()), None, None)?
        .into_iter()
        .filter(|found| sorted(&found.parts) == sorted(&own))
        .map(|found| Way { parts: own.clone(), span: span(&found) })
        .take(1)
        .collect();
    if other_tubes {
        let head = |words: &[String]| -> Vec<String> {
            let fixed = words.iter().filter(|word| !kind_of(kit, word).is_some_and(is_extension));
            sorted(&fixed.cloned().collect::<Vec<_>>()).into_iter().map(str::to_owned).collect()
        };
        let wanted = head(&own);
        let may = |part: &Part| is_extension(part.kind()) || own.iter().any(|word| word == part.id());
        // Of a drawer full of tubes, stacks of the usual size are enough.
        let mut others = reached(kit, may, None, Some(Limits::default()))?;
        others.retain(|found| head(&found.parts) == wanted && sorted(&found.parts) != sorted(&own));
        let changed = |found: &ReachedSetup| found.parts.iter().filter(|part| !own.contains(part)).count();
        others.sort_by_key(|found| (changed(found), found.parts.len(), found.parts.clone()));
        all.extend(others.into_iter().map(|found| Way { span: span(&found), parts: found.parts }));
        all.truncate(MOST_WAYS);
    }
    Ok(all)
}

/// The smallest size that is of any use to a test: a set-up that focuses at infinity starts from nothing.
const SMALLEST: f64 = 1e-3;

fn span(found: &ReachedSetup) -> Span {
    let kit::Span { min, max } = found.magnification;
    Span { least: min.max(SMALLEST).min(max), largest: max }
}

fn fixed(setup: &Setup<'_>, parts: &[String]) -> Vec<Way> {
    let found = setup.report().ok().and_then(|report| report.figures.get(Figure::Magnification));
    let at = |m: Estimate| Way { parts: parts.to_vec(), span: Span { least: m.value.abs(), largest: m.value.abs() } };
    found.filter(|m| m.value.abs() >= SMALLEST).map(at).into_iter().collect()
}

fn at_shortest(kit: &Kit, parts: &[String]) -> Vec<String> {
    let drawn = |word: &String| match kit.part(id_of(word)).map(|part| (part.kind(), part.numbers("draw_mm"))) {
        Some((Kind::Bellows, ends)) if !word.contains('=') && !ends.is_empty() => format!("{word}={}", ends[0]),
        _ => word.clone(),
    };
    parts.iter().map(drawn).collect()
}

fn request(parts: &[String], focus: Focus) -> SetupRequest {
    SetupRequest { parts: parts.to_vec(), focus, ..SetupRequest::default() }
}

/// A scale is set to the tenth of a millimetre, and no finer.
fn tenth(mm: f64) -> f64 {
    (10.0 * mm).round() / 10.0
}

fn to_the_tenth(word: &str) -> String {
    let number = word.split_once('=').and_then(|(id, number)| Some((id, number.parse::<f64>().ok()?)));
    number.map_or_else(|| word.to_owned(), |(id, mm)| format!("{id}={}", tenth(mm)))
}

impl Way {
    /// The way set for a magnification, as its scales can be set; `None` when it does not come to it.
    pub fn set(&self, kit: &Kit, magnification: f64, click_stops: f64) -> Result<Option<Stand>, SetupError> {
        if held(&self.parts) {
            return stand(kit, self.parts.clone(), Focus::Infinity, click_stops).map(Some);
        }
        let found = reached(kit, |part| self.parts.iter().any(|word| word == part.id()), Some(magnification), None)?;
        let own = found.into_iter().find(|found| sorted(&found.parts) == sorted(&self.parts));
        let Some(setting) = own.and_then(|found| found.setting) else { return Ok(None) };
        let focus = match setting.focus {
            Focus::Travel(mm) => Focus::Travel(tenth(mm)),
            Focus::Distance(mm) => Focus::Distance(mm.round()),
            other => other,
        };
        let parts = setting.parts.iter().map(|word| to_the_tenth(word)).collect::<Vec<_>>();
        // At the end of a scale the rounded setting may lie a hair past it.
        let rounded = stand(kit, parts, focus, click_stops);
        rounded.or_else(|_| stand(kit, setting.parts, setting.focus, click_stops)).map(Some)
    }
}

/// The figures of a set-up as it stands.
pub(super) fn stand(kit: &Kit, parts: Vec<String>, focus: Focus, click_stops: f64) -> Result<Stand, SetupError> {
    let setup = Setup::resolve(kit, &request(&parts, focus))?;
    let report = setup.report()?;
    let figure = |figure| report.figures.get(figure);
    let magnification = figure(Figure::Magnification).unwrap_or(Estimate::exact(0.0));
    let lens = setup.lens();
    let widest = lens.number("max_aperture").unwrap_or(1.0);
    let open = setup.obstacles().iter().any(|obstacle| matches!(obstacle, Obstacle::IrisStaysOpen { .. }));
    let closed = if open { widest } else { lens.number("min_aperture").unwrap_or(SMALLEST_STOP).max(widest) };
    let factor = figure(Figure::EffectiveFNumber).map_or(1.0, |effective| effective.value / widest);
    let ring = Ring { factor, f_numbers: [widest, closed], click_stops };
    let working_distance_mm = figure(Figure::WorkingDistance).map(|distance| distance.value);
    Ok(Stand {
        parts,
        focus,
        magnification: Estimate { value: magnification.value.abs(), ..magnification },
        ring,
        working_distance_mm,
    })
}

/// The smallest stop of a lens that does not say (common practice, no source).
const SMALLEST_STOP: f64 = 32.0;

/// What stands on the stand, in words that are equal for what is the same.
pub(super) fn gear_words(kit: &Kit, parts: &[String], focus: &Focus) -> [String; 4] {
    let of = |kinds: &[Kind]| {
        let words = parts.iter().filter(|word| kind_of(kit, word).is_some_and(|kind| kinds.contains(&kind)));
        words
            .map(|word| if word.ends_with("=reversed") { word.as_str() } else { id_of(word) })
            .collect::<Vec<_>>()
            .join(",")
    };
    let lens = of(&[Kind::Lens, Kind::ReversingRing, Kind::CouplingRing]);
    let extension = of(&[Kind::Tube, Kind::Bellows, Kind::Teleconverter, Kind::Adapter]);
    let close_up = of(&[Kind::CloseUpLens, Kind::StepRing]);
    let drawn = parts.iter().filter(|word| word.contains('=')).cloned().collect::<Vec<_>>().join(",");
    [lens, extension, close_up, format!("{drawn} {focus}")]
}

/// The lens of a set-up bare on its body at its closest mark; `None` where nothing tells that mark.
pub(super) fn bare(kit: &Kit, parts: &[String], click_stops: f64) -> Option<Stand> {
    let setup = Setup::resolve(kit, &request(&at_shortest(kit, &without_draws(kit, parts)), Focus::Infinity)).ok()?;
    if setup.hold().facing != Facing::Normal {
        return None;
    }
    let bare = vec![setup.body().id().to_owned(), setup.lens().id().to_owned()];
    stand(kit, bare, Focus::Closest, click_stops).ok().filter(|stand| stand.magnification.value > 0.0)
}
