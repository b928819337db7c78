//! A close-up lens's pairs of frames placed by the kit, and the power that they tell.

use super::entries::{At, CloseUpEntry, Given};
use super::marked::{best, marked};
use super::trust::COMMON_SCALE_SHARE;
use super::whole::{Told, Trouble};
use calibration::{Carrier, CloseUpPair, CloseUpPower, close_up_power};
use kit::{Facing, Focus, Kind, Kit, Link, Part, Setup, SetupRequest};
use optics::Input;

/// What the pairs of one close-up lens tell.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerFound {
    /// The close-up lens's id.
    pub id: String,
    /// What a person calls it.
    pub name: String,
    /// The id of the lens that it was screwed to.
    pub lens: String,
    /// Its power, calibrated beside marked.
    pub told: Vec<Told>,
    /// The fit.
    pub fit: CloseUpPower,
}

/// The lens with the close-up lens on it, on a body of the kit.
fn set_up<'a>(kit: &'a Kit, entry: &CloseUpEntry) -> Result<Setup<'a>, String> {
    let on = |body: &str| {
        let parts = [body, entry.lens.as_str()].into_iter().map(str::to_owned);
        let parts = parts.chain(entry.rings.iter().cloned()).chain([entry.part.clone()]).collect();
        Setup::resolve(kit, &SetupRequest { parts, focus: Focus::Infinity, ..SetupRequest::default() })
    };
    if let Some(body) = &entry.body {
        return on(body).map_err(|error| error.to_string());
    }
    let mut why = None;
    for body in kit.of_kind(Kind::Body) {
        match on(body.id()) {
            Ok(setup) => return Ok(setup),
            Err(error) => drop(why.get_or_insert(error.to_string())),
        }
    }
    Err(why.unwrap_or_else(|| "the kit has no body; add one, since the lens's place is told from the film".into()))
}

/// The lens that carries it, and how it sits there: H lies f + t before the film at infinity, the rim a register and
/// the lens's length. One f stands in both the carrier's focal length and its place; that they err together is left out,
/// which changes the half-width by less than the share m₀.
fn carrier(kit: &Kit, entry: &CloseUpEntry) -> Result<Carrier, String> {
    for (id, kind) in [(&entry.part, Kind::CloseUpLens), (&entry.lens, Kind::Lens)] {
        match kit.part(id) {
            Some(part) if part.kind() != kind => {
                return Err(format!("\"{id}\" is a {}, not a {}", part.kind().spec().label, kind.spec().label));
            }
            _ => {}
        }
    }
    let setup = set_up(kit, entry)?;
    if setup.hold().facing != Facing::Normal || setup.hold().free {
        return Err("the lens must stand the normal way round in its mount".into());
    }
    let lens = setup.lens();
    if lens.words("focusing") == Some("internal") && entry.at != At::Infinity {
        return Err(format!("lens \"{}\" focuses inside; take its pairs at its infinity mark", lens.id()));
    }
    let nothing = Input { value: 0.0, plus_minus: 0.0 };
    let field = |name: &str| best(lens, name).unwrap_or(nothing);
    let mut gaps = Vec::new();
    let mut register = setup.spec().register;
    for link in &setup.spec().links {
        match link {
            Link::Gap(gap) => gaps.push(gap.length),
            Link::CloseUp(close_up) => gaps.extend(close_up.gap),
            Link::Lens(link) => register = link.lens.register.unwrap_or(register),
            Link::Converter(_) => return Err("a teleconverter has no place in a pair".into()),
        }
    }
    let sum = |terms: &[(f64, Input)]| Input {
        value: terms.iter().map(|(sign, input)| sign * input.value).sum(),
        plus_minus: terms.iter().map(|(_, input)| input.plus_minus.powi(2)).sum::<f64>().sqrt(),
    };
    let focal_length = field("focal_length_mm");
    let separation = field("principal_separation_mm");
    let place = [(1.0, register), (1.0, field("length_mm")), (-1.0, focal_length), (-1.0, separation)];
    let gap = sum(&gaps.into_iter().map(|gap| (1.0, gap)).collect::<Vec<_>>());
    Ok(Carrier { focal_length, gap, rim_to_plane: sum(&place) })
}

/// A pair's readings. At infinity nothing is sharp without the close-up lens. What the scale errs by is common to both
/// frames and so counts for their difference alone, m = m₀ + D(f + m₀(f − s)): there it is a full error of the power.
fn pair(entry: &CloseUpEntry, common: f64) -> Result<CloseUpPair, String> {
    let with = entry.with.magnification();
    let without = entry.without.map(|reading| reading.magnification());
    match (entry.at, without) {
        (At::Infinity, Some(_)) => Err(
            "magnification_without is given, but a lens at its infinity mark without the close-up lens shows nothing near sharp; leave it out, or write the focus that was set".into(),
        ),
        (At::Closest | At::Travel(_), None) => Err(format!(
            "magnification_without is missing; photograph the ruler at the same focus ({}) without the close-up lens too",
            entry.at
        )),
        _ => {
            let added = with.value - without.map_or(0.0, |without| without.value);
            let with = Input { plus_minus: with.plus_minus.hypot(common * added), ..with };
            Ok(CloseUpPair { id: entry.label.clone(), without, with })
        }
    }
}

/// The power of one close-up lens from its pairs.
pub fn power_of(kit: &Kit, part: &Part, given: &Given, entries: &[&CloseUpEntry]) -> Result<PowerFound, Trouble> {
    let fail = |entry: &CloseUpEntry, why: String| Trouble::entry("close-up pair", &entry.label, why);
    let Some(first) = entries.first() else { return Err(Trouble::Nothing) };
    let different = entries.iter().find(|entry| (&entry.lens, &entry.rings) != (&first.lens, &first.rings));
    if let Some(entry) = different {
        let why = format!(
            "the pairs of one close-up lens must be taken with one lens and the same rings; \"{}\" has lens \"{}\"; put the others into a file of their own",
            first.label, first.lens
        );
        return Err(fail(entry, why));
    }
    let common = given.common_scale.unwrap_or(COMMON_SCALE_SHARE);
    let mut pairs = Vec::new();
    for entry in entries {
        pairs.push(pair(entry, common).map_err(|why| fail(entry, why))?);
    }
    let carrier = carrier(kit, first).map_err(|why| fail(first, why))?;
    let engraved = marked(part, "power_dpt");
    let refused = |source| Trouble::Refused { part: part.id().to_owned(), source };
    let fit = close_up_power(&pairs, &carrier, engraved.map(|marked| marked.input())).map_err(refused)?;
    let told = vec![Told::new(part, "power_dpt", fit.power_dpt, engraved)];
    Ok(PowerFound { id: part.id().to_owned(), name: part.name().to_owned(), lens: first.lens.clone(), told, fit })
}
