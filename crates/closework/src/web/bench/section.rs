//! Glass and rays drawn to scale: film at the left, subject at the right, as in the set-up's drawing.

use kit::Setup;
use maud::{Markup, html};
use rays::{System, Wavelength};

use crate::bench::{Section, stand_in};
use crate::web::fmt;
use crate::web::manners::Units;
use crate::web::plot::at;

const WIDTH: f64 = 1000.0;
const MARGIN: f64 = 22.0;
/// Beyond this many mm the way to the subject is cut off.
const LONGEST_MM: f64 = 900.0;

/// The cut through a set-up of the kit; nothing where no form is chosen or it cannot be traced.
pub(in crate::web) fn glass_of(setup: &Setup<'_>) -> Option<Section> {
    let system = stand_in(setup).ok()?.0.system(Wavelength::D).ok()?;
    Some(Section::of(&system, setup.numbers().frame[1] / 2.0))
}

/// The drawing of glass and rays: places are turned into the drawing's by `x` and `y`.
pub(in crate::web) fn drawn(section: &Section, x: impl Fn(f64) -> f64, y: impl Fn(f64) -> f64) -> Markup {
    let line = |points: &[[f64; 2]]| -> String {
        let corner = |(i, [mm, height]): (usize, &[f64; 2])| {
            format!("{}{} {}", if i == 0 { "M" } else { "L" }, at(x(*mm)), at(y(*height)))
        };
        points.iter().enumerate().map(corner).collect()
    };
    let [stop, half] = section.stop;
    let beyond = half.max(section.half_height) + 2.0;
    let blade = |sign: f64| line(&[[stop, sign * half], [stop, sign * beyond]]);
    html! {
        @for glass in &section.glasses { path.glass d=(format!("{}Z", line(glass))) {} }
        @for mm in &section.ideals { path.ideal-lens d=(line(&[[*mm, beyond], [*mm, -beyond]])) {} }
        path.iris d=(blade(1.0)) {}
        path.iris d=(blade(-1.0)) {}
        @for ray in &section.rays { path.ray d=(line(ray)) {} }
    }
}

/// The section as a figure of its own.
pub(super) fn figure(system: &System, frame_mm: [f64; 2], subject_mm: Option<f64>, units: Units) -> Markup {
    let section = Section::of(system, frame_mm[1] / 2.0);
    let far = subject_mm.is_none_or(|mm| mm + section.ends[0] > LONGEST_MM);
    let begin = if far { section.ends[0] + 40.0 } else { section.ends[0] + subject_mm.unwrap_or(0.0) };
    let scale = (WIDTH - 2.0 * MARGIN) / begin;
    let shown =
        |ray: &[[f64; 2]]| ray.iter().filter(|[mm, _]| *mm <= begin + 1e-6).map(|[_, y]| y.abs()).fold(0.0, f64::max);
    let half =
        section.rays.iter().map(|ray| shown(ray)).fold(section.half_height + 3.0, f64::max).max(frame_mm[1] / 2.0)
            + 2.0;
    let half = half.min(begin / 2.0);
    let height = 2.0 * half * scale + 34.0;
    let (x, y) = (|mm: f64| MARGIN + mm * scale, |mm: f64| half * scale + 4.0 - mm * scale);
    let words = in_words(&section, subject_mm, units);
    let bar = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0].into_iter().find(|mm| mm * scale >= 60.0).unwrap_or(200.0);
    html! {
        figure.plot.side-view {
            figcaption { "The glass cut along its axis, with its rays, to scale" }
            div.scroll tabindex="0" role="region" aria-label="The glass with its rays" {
                svg viewBox=(format!("0 0 {WIDTH} {}", at(height))) role="img" aria-labelledby="section-d" {
                    desc id="section-d" { (words) }
                    clipPath id="section-c" { rect x=(at(x(0.0))) y="0" width=(at(begin * scale)) height=(at(height)) {} }
                    path.axis-line d=(format!("M{} {}H{}", at(x(0.0)), at(y(0.0)), at(x(begin)))) {}
                    g clip-path="url(#section-c)" { (drawn(&section, x, y)) }
                    path.film d=(format!("M{} {}V{}", at(x(0.0)), at(y(frame_mm[1] / 2.0)), at(y(-frame_mm[1] / 2.0)))) {}
                    path.scale-bar d=(format!("M{} {}v-6m0 6h{}v-6", at(MARGIN), at(height - 8.0), at(bar * scale))) {}
                    text x=(at(MARGIN + bar * scale + 8.0)) y=(at(height - 7.0)) { (bar) " mm" }
                }
            }
            p.soft.small { (words) }
        }
    }
}

fn in_words(section: &Section, subject_mm: Option<f64>, units: Units) -> String {
    let length = |mm: f64| fmt::figure_length(mm, units);
    let subject = subject_mm.map_or("The subject is infinitely far.".into(), |mm| {
        format!("The subject lies {} in front of the foremost glass.", length(mm))
    });
    let converter = section.ideals.iter().map(|mm| {
        format!(" A converter without faults of its own stands as a thin lens, drawn as a broken line, {} in front of the film.", length(*mm))
    });
    let converter: String = converter.collect();
    format!(
        "Film at the left. {}; the rearmost stands {} and the foremost {} in front of the film, the iris {} with an opening of {}.{converter} {subject} Rays: the outermost that pass, of the middle and of the frame's edge.",
        fmt::count(section.glasses.len(), "glass", "glasses"),
        length(section.ends[1]),
        length(section.ends[0]),
        length(section.stop[0]),
        length(2.0 * section.stop[1]),
    )
}
