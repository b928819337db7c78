//! A traced set-up, whole: the same for the kit's, a form's and a typed table's.

use maud::{Markup, html};

use super::desk::Traced;
use super::{charts, map, section, spots, tables};
use crate::bench::{Design, Focus, Found, NOT_YOURS, Wanted};
use crate::web::error::sentence;
use crate::web::form::Filled;
use crate::web::manners::Units;

/// Frequencies of the curves, cycles/mm.
const FREQUENCIES: [f64; 16] =
    [5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0, 65.0, 70.0, 75.0, 80.0];
/// What a page is for unless another fineness is asked for: a fine print's, on film.
const USUAL_LP: f64 = 20.0;

/// What the page asks for, read from the fields that [`how`] shows.
pub(super) fn wanted(query: &mut Filled, frame_mm: [f64; 2]) -> Wanted {
    let corner = 0.5 * frame_mm[0].hypot(frame_mm[1]);
    let main = query.number_within("lp", 1.0, 200.0, "lp/mm").unwrap_or(USUAL_LP);
    let film_half = query.number_within("film_half", 1.0, 1000.0, "lp/mm");
    Wanted {
        film_mm: vec![0.0, 0.5 * corner, corner],
        cycles_per_mm: FREQUENCIES.to_vec(),
        main_cycles_per_mm: main,
        through_focus: vec![main],
        focus: match query.text("sharpest") {
            "field" => Focus::Field,
            "ground-glass" => Focus::GroundGlass,
            "as-set" => Focus::AsSet,
            _ => Focus::Middle,
        },
        film_half,
        frame_mm,
    }
}

/// The fields of how it is looked at.
pub(super) fn how(query: &Filled) -> Markup {
    use crate::web::form::Field;
    let focus = [
        ("middle", "the sharpest middle"),
        ("ground-glass", "the ground glass, looked at near the middle"),
        ("field", "the whole frame alike"),
        ("as-set", "nothing: as the scales say"),
    ];
    let mut filled = query.clone();
    filled.default_to("lp", USUAL_LP.to_string());
    html! {
        (Field::number("lp", "Fineness of the map and the field").unit("lp/mm").hint("On film. Focus goes by it too.").show(&filled))
        (Field::choice("sharpest", "Focused for", focus).show(&filled))
        (Field::number("film_half", "Film halves contrast at").unit("lp/mm").hint("Empty: the lens alone.").show(&filled))
    }
}

/// The sentence that stands over everything that is said of forms.
pub(super) fn not_yours() -> Markup {
    labelled(NOT_YOURS)
}

/// The same of a result, with what stands for its lens.
pub(super) fn labelled(label: &str) -> Markup {
    html! { p.note { strong { (sentence(label)) } } }
}

/// Where a design is shown.
pub(super) fn page_of(design: &Design) -> String {
    match design {
        Design::Form(form) => format!("/bench/forms/{}", form.key),
        Design::Own(table) => format!("/bench/table?kept={}", table.id),
    }
}

/// What was traced, its progress, or why not.
pub(super) fn result(traced: &Traced, wanted: &Wanted, units: Units) -> Markup {
    match traced {
        Traced::Working(report) => {
            html! { (report.bar()) p { "The wider the iris, the longer it takes. The page shows the result as soon as it is there." } }
        }
        Traced::Told(outcome) => match &**outcome {
            Ok(found) => whole(found, wanted, units),
            Err(why) => refused(&why.to_string()),
        },
    }
}

/// A refusal in words.
pub(super) fn refused(why: &str) -> Markup {
    html! { div.refusal role="alert" { p.what { (sentence(why)) } } }
}

fn whole(found: &Found, wanted: &Wanted, units: Units) -> Markup {
    html! {
        (labelled(found.label()))
        (section::figure(&found.system, wanted.frame_mm, found.subject_mm(), units))
        (tables::whole(found, units))
        h2 { "Sharpness" }
        div.columns { (charts::over_frequency(found, wanted)) (charts::over_field(found, wanted)) }
        div.columns { (charts::over_focus(found, wanted)) (map::map(found, wanted)) }
        h2 { "What a point becomes" }
        (spots::diagrams(found, wanted))
        (charts::fans(found, wanted))
        (charts::waves(found, wanted))
        h2 { "Field, colour, light" }
        div.columns { (charts::curvature(found)) div { (charts::colour(found)) } (charts::light(found)) (charts::distortion(found)) }
        h2 { "Figures" }
        (tables::by_place(found, wanted))
        (tables::sums(found))
        // The first is said above already.
        @if found.remarks.len() > 1 {
            h2 { "To know about it" }
            ul { @for remark in &found.remarks[1..] { li { (sentence(remark)) } } }
        }
    }
}
