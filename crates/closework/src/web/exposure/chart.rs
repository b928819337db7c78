//! What a film's sources say, drawn.

use exposure::Answer;
use film::{Film, Law};
use maud::{Markup, html};

use crate::web::fmt;
use crate::web::plot::{Axis, Chart, Mark, Style};

/// All laws of a film around an exposure, the one that is counted heaviest.
pub fn laws(film: &Film, answer: &Answer) -> Markup {
    let at = answer.needed_s.value;
    // Where nothing is lost there is nothing to draw.
    if at < 0.5 || film.laws.is_empty() {
        return html! {};
    }
    drawn(film, (0.5, (at * 3.0).max(100.0)), Some((at, answer.time_s.value)))
}

/// All laws of a film over a range of metered times, s; with an exposure marked.
pub fn drawn(film: &Film, (from, to): (f64, f64), marked: Option<(f64, f64)>) -> Markup {
    let axis = |name| Axis::log(name, "").labels(fmt::shutter);
    let description = format!("Time to give over metered time for {}, by each source", film.name);
    let (x, y) = (axis("Metered, everything else counted").range(from, to), axis("To give"));
    let mut chart = Chart::new(&format!("laws-{}", film.id), "Time to give over time metered", &description, x, y);
    let used = film.law();
    let mut laws: Vec<&Law> = film.laws.iter().collect();
    laws.sort_by_key(|law| used != Some(*law));
    for (style, law) in laws.into_iter().enumerate() {
        let label = format!("{} ({})", law.source.document, law.source.standing());
        chart = chart.with(Mark::Line { label, points: curve(law, from, to), style: Style(style.min(5) as u8) });
    }
    let none = curve_of(from, to, |metered| metered);
    chart = chart.with(Mark::Line { label: "nothing lost".into(), points: none, style: Style(5) });
    if let Some(point) = marked {
        chart = chart.with(Mark::Points { label: "this exposure".into(), points: vec![point], style: Style(0) });
    }
    chart.show()
}

fn curve(law: &Law, from: f64, to: f64) -> Vec<(f64, f64)> {
    curve_of(from, to, |metered| law.given(metered).time_s)
}

/// Enough points that no corner is missed by a pixel.
fn curve_of(from: f64, to: f64, time: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
    const STEPS: i32 = 24;
    let at = |step: i32| from * (to / from).powf(f64::from(step) / f64::from(STEPS));
    (0..=STEPS).map(|step| (at(step), time(at(step)))).collect()
}
