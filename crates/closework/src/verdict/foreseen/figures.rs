//! Predicted figures on film, brought to the subject as measured ones are.

use optics::Estimate;
use verdict::enough::{Cause, Figure, Quantity};

use super::super::figures::Placed;
use super::super::uses::Stated;
use crate::bench::{Chain, Foresee, Foretold, ForetoldPlace, PredictedFigures};

/// Places, as shares of the way to the corner, that some uses need to be known at: the middle, half-way to each rim and each rim.
pub fn places(uses: &[Stated]) -> Vec<f64> {
    let rims = uses.iter().flat_map(|stated| &stated.use_.requirements);
    let rims = rims.filter(|asked| has_places(asked.quantity)).map(|asked| asked.out_to);
    let mut all: Vec<f64> = rims.flat_map(|rim| [0.5 * rim, rim]).chain([0.0]).collect();
    all.sort_by(f64::total_cmp);
    // What lies closer together differs by less than its doubt.
    all.dedup_by(|a, b| (*a - *b).abs() < 0.04);
    if let (Some(last), Some(rim)) = (all.last_mut(), uses.iter().flat_map(rim_of).reduce(f64::max)) {
        *last = rim;
    }
    all
}

fn rim_of(stated: &Stated) -> Option<f64> {
    let rims = stated.use_.requirements.iter().filter(|asked| has_places(asked.quantity));
    rims.map(|asked| asked.out_to).reduce(f64::max)
}

fn has_places(quantity: Quantity) -> bool {
    matches!(quantity, Quantity::Resolution { .. } | Quantity::Contrast { .. } | Quantity::Fringing)
}

/// Every quantity with places that some uses ask for, each once.
pub fn wanted(uses: &[Stated]) -> Vec<Quantity> {
    let mut wanted: Vec<Quantity> = Vec::new();
    for asked in uses.iter().flat_map(|stated| &stated.use_.requirements) {
        if has_places(asked.quantity) && !wanted.iter().any(|known| known.is_same(asked.quantity)) {
            wanted.push(asked.quantity);
        }
    }
    wanted
}

/// What to ask the bench of a set-up of this size on film.
pub fn question(wanted: &[Quantity], places: &[f64], corner_mm: f64, magnification: f64, chain: Chain) -> Foresee {
    let contrasts = wanted.iter().filter_map(|quantity| match quantity {
        Quantity::Resolution { contrast } => Some(*contrast),
        _ => None,
    });
    let cycles = wanted.iter().filter_map(|quantity| match quantity {
        Quantity::Contrast { lp_mm } => Some(lp_mm / magnification),
        _ => None,
    });
    Foresee {
        film_mm: places.iter().map(|place| place * corner_mm).collect(),
        corner_mm,
        contrasts: contrasts.collect(),
        cycles_per_mm: cycles.collect(),
        chain,
    }
}

/// The figures of a set-up on the subject. `size` is its size on film over that of the subject.
pub fn placed(told: &PredictedFigures, wanted: &[Quantity], corner_mm: f64, size: Estimate, page: &str) -> Vec<Placed> {
    let lenses = told.forms.iter().map(|(lens, _)| lens.as_str()).collect::<Vec<_>>().join(" and ");
    let mut all = Vec::new();
    for place in &told.places {
        let at = place.film_mm / corner_mm;
        let (mut resolutions, mut contrasts) = (place.resolution.iter(), place.contrast.iter());
        for quantity in wanted {
            let (found, factor) = match quantity {
                Quantity::Resolution { .. } => (resolutions.next().and_then(Option::as_ref), size.value),
                Quantity::Contrast { .. } => (contrasts.next().and_then(Option::as_ref), 1.0),
                _ => (fringing(place), size.value.recip()),
            };
            let Some(found) = found else { continue };
            let figure = figure(*quantity, at, &found.scaled(factor), size, &lenses, page);
            all.push(Placed { figure, place: format!("traced {}", where_words(at)) });
        }
    }
    all
}

fn fringing(place: &ForetoldPlace) -> Option<&Foretold> {
    place.fringing_um.as_ref()
}

fn where_words(at: f64) -> String {
    match at {
        middle if middle < 0.02 => "in the middle".into(),
        out => format!("{} of the way to the corner", crate::web::fmt::percent(out)),
    }
}

fn figure(quantity: Quantity, at: f64, told: &Foretold, size: Estimate, lenses: &str, page: &str) -> Figure {
    // What the size on film is unsure by moves a figure on the subject as much; of a contrast it is left out as small.
    let of_size = match quantity {
        Quantity::Contrast { .. } => 0.0,
        _ => told.value * size.plus_minus / size.value,
    };
    // A lens better than its form is so in every set-up; its colour is another matter than its sharpness.
    let of_form = match quantity {
        Quantity::Fringing => format!("how far the colour of {lenses} is from its form's"),
        _ => format!("how far {lenses} is from its form"),
    };
    let shared = [(of_form, told.of_form), ("film and scanner".to_owned(), told.of_chain)];
    let shared = shared.into_iter().filter(|(_, plus_minus)| *plus_minus > 0.0);
    Figure {
        quantity,
        at: Some(at.clamp(0.0, 1.0)),
        value: told.value,
        own_plus_minus: told.of_focus.hypot(of_size),
        shared: shared.map(|(name, plus_minus)| Cause { name, plus_minus }).collect(),
        only: None,
        evidence: vec![page.to_owned()],
    }
}
