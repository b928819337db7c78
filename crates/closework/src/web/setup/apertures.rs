//! A chart over the aperture: what diffraction and what want of depth blur, and where they balance.

use kit::{Report, Setup};
use maud::{Markup, html};
use optics::{Figure, airy_diameter_mm, balanced_f_number};

use super::picked::lens_stops;
use crate::web::fmt;
use crate::web::manners::Units;
use crate::web::plot::{Axis, Chart, Mark, Style};

/// Discs on film over the lens's stops, for a subject so deep focused in its middle. Nothing at infinity, where a depth in
/// millimetres means nothing.
pub(super) fn chart(setup: &Setup<'_>, report: &Report, deep_mm: f64, units: Units) -> Markup {
    let figure = |figure| report.figures.get(figure).map(|e| e.value);
    let (Some(m), Some(effective)) = (figure(Figure::Magnification), figure(Figure::EffectiveFNumber)) else {
        return html! {};
    };
    if m <= 0.0 {
        return html! {};
    }
    let set = setup.numbers().f_number;
    let factor = effective / set;
    let stops = lens_stops(setup.lens());
    let (widest, smallest) = (stops[0], stops[stops.len() - 1]);
    if smallest <= widest {
        return html! {};
    }
    // Fine enough that the lines look like curves.
    let steps = 48;
    let at = |i: i32| widest * (smallest / widest).powf(f64::from(i) / f64::from(steps));
    let airy = |n: f64| airy_diameter_mm(n * factor) * 1000.0;
    let depth = |n: f64| m * m * deep_mm / (2.0 * n * factor) * 1000.0;
    let line = |disc: &dyn Fn(f64) -> f64| (0..=steps).map(at).map(|n| (n, disc(n))).collect::<Vec<_>>();
    let (balance, disc) = balanced_f_number(m, deep_mm);
    let sharp = setup.coc_mm() * 1000.0;
    let deep = fmt::stated_length(deep_mm, units);
    let words = in_words(balance / factor, [widest, smallest], disc * 1000.0, sharp, &deep);
    let chart = Chart::new(
        "apertures",
        "Blur on film over the aperture",
        &words,
        Axis::log("Engraved f-number", "").labels(|n| format!("f/{n}")),
        Axis::log("Disc on film", "µm"),
    )
    .with(Mark::Line { label: "diffraction".into(), points: line(&airy), style: Style(0) })
    .with(Mark::Line { label: format!("ends of {deep} depth"), points: line(&depth), style: Style(1) })
    .with(Mark::Line { label: "both together".into(), points: line(&|n| airy(n).hypot(depth(n))), style: Style(2) })
    .with(Mark::AtY { label: format!("counts as sharp, {} µm", fmt::figure(sharp, 2)), y: sharp })
    .with(Mark::AtX { label: format!("set, f/{}", fmt::figure(set, 2)), x: set });
    html! {
        section aria-labelledby="apertures-head" {
            h2 id="apertures-head" { "Which stop" }
            p { (words) }
            (chart.show())
        }
    }
}

fn in_words(balance: f64, [widest, smallest]: [f64; 2], disc: f64, sharp: f64, deep: &str) -> String {
    let place = if balance < widest {
        format!("wider than the lens opens: at f/{} diffraction already leads", fmt::figure(widest, 2))
    } else if balance > smallest {
        format!("beyond its smallest stop: want of depth leads down to f/{}", fmt::figure(smallest, 2))
    } else {
        format!("at f/{}, with discs of {} µm", fmt::figure(balance, 2), fmt::figure(disc, 2))
    };
    let enough = if disc <= sharp {
        "that counts as sharp"
    } else {
        "that is more than counts as sharp: take it in focus steps"
    };
    format!("For {deep} of depth in one exposure, diffraction and want of depth balance {place}; {enough}.")
}
