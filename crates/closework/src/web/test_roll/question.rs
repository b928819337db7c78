//! What the test is about: set-ups, apertures, how sure, which rolls.

use kit::Kit;
use maud::{Markup, html};
use notebook::{Frame, FrameState, Roll};
use planning::test_roll::{SCREEN_DISC_MM, USUAL_DIFFERENCE, USUAL_SCATTER};

use super::asked::{self, USUAL_FRAMES};
use super::{Whole, address};
use crate::planner::{Plan, Planned};
use crate::test_roll::{key, without_draws};
use crate::web::form::{Field, Filled};
use crate::web::kit_book::set_up_name;
use crate::web::manners::Units;
use crate::web::{fmt, jobs};

/// Set-ups that are offered to be ticked, at most.
const OFFERED: usize = 16;

/// What tells lenses and what is screwed into them apart: the words of the set-up but tubes and bellows.
fn head(kit: &Kit, parts: &[String]) -> Vec<String> {
    let extension = |word: &&String| {
        let id = word.split_once('=').map_or(word.as_str(), |(id, _)| id);
        let kind = kit.part(id).map(kit::Part::kind);
        matches!(kind, Some(kit::Kind::Tube | kit::Kind::Bellows))
    };
    parts.iter().filter(|word| !extension(word)).cloned().collect()
}

/// The set-ups that are ticked at first: up to three, different lenses before different glass on the same.
pub fn suggested(kit: &Kit, choice: &Plan) -> Vec<String> {
    let usual = || choice.front.iter().filter(|planned| planned.setup.obstacles.is_empty()).map(|p| &p.setup.parts);
    let body = usual().next().and_then(|parts| parts.first());
    let usual = || usual().filter(|parts| parts.first() == body);
    let mut picked: Vec<&Vec<String>> = Vec::new();
    for parts in usual() {
        if picked.len() < 3 && !picked.iter().any(|known| lenses(kit, known) == lenses(kit, parts)) {
            picked.push(parts);
        }
    }
    for parts in usual() {
        if picked.len() < 3 && !picked.iter().any(|known| head(kit, known) == head(kit, parts)) {
            picked.push(parts);
        }
    }
    picked.into_iter().map(|parts| key(kit, parts)).collect()
}

fn lenses(kit: &Kit, parts: &[String]) -> Vec<String> {
    let lens = |word: &&String| kit.part(word).is_some_and(|part| part.kind() == kit::Kind::Lens);
    parts.iter().filter(lens).cloned().collect()
}

pub fn form(whole: &Whole, units: Units) -> Markup {
    let filled = &whole.filled;
    let planned = matches!(whole.laid, Some(Ok(_)));
    html! {
        details.detail open[!planned || filled.has_errors()] {
            summary { strong { "The question" } ": " (in_words(whole)) }
            form method="get" action=(address(&whole.known.job)) {
                input type="hidden" name="asked" value="1";
                h3 { "Set-ups" }
                (choices(whole, units))
                h3 { "What is to be told" }
                (certainty(whole))
                h3 { "Rolls at hand" }
                (rolls(whole))
                div.actions { button.main { "Plan the frames" } @if planned { span.hint { "Plans anew: frames that were moved or added by hand go." } } }
            }
        }
    }
}

fn in_words(whole: &Whole) -> String {
    let count = asked::set_ups(&whole.filled).len();
    let frames: u32 = whole.rolls.iter().map(|roll| roll.holds).sum();
    let set_ups = if count == 1 { "set-up" } else { "set-ups" };
    let rolls = if whole.rolls.len() == 1 { "roll" } else { "rolls" };
    format!("{count} {set_ups}, {} {rolls} of {frames} frames in all", whole.rolls.len())
}

fn choices(whole: &Whole, units: Units) -> Markup {
    let (kit, filled) = (&whole.known.kit, &whole.filled);
    let ticked: Vec<Vec<String>> = filled.all("setup").map(asked::parts).collect();
    let front = whole.choice.as_ref().map(|plan| plan.front.as_slice()).unwrap_or_default();
    let mut offered: Vec<&Planned> = Vec::new();
    for planned in front {
        if offered.len() < OFFERED
            && !offered.iter().any(|known| asked::same(kit, &known.setup.parts, &planned.setup.parts))
        {
            offered.push(planned);
        }
    }
    let others = ticked.iter().filter(|parts| !offered.iter().any(|p| asked::same(kit, &p.setup.parts, parts)));
    let others: Vec<&Vec<String>> = others.collect();
    html! {
        @if let Err(error) = &whole.choice { p.note { "No set-up of the kit is offered: " (error) "." } }
        @else if offered.is_empty() { p.note { "No set-up of the kit meets every wish of the job; name those to be tested below." } }
        ul.choices {
            @for planned in &offered {
                @let parts = &planned.setup.parts;
                (choice(whole, parts, ticked.iter().any(|t| asked::same(kit, t, parts)), facts(planned, units)))
            }
            @for parts in others { (choice(whole, parts, true, "chosen by you".into())) }
        }
        div.fields {
            (Field::area("more", "Other set-ups").hint("One a line, parts from the body outwards with commas between: body, tube, lens, close-up lens.").show(filled))
            (Field::tick("tubes", "A set-up may stand on other tubes or bellows to come to the size of the others").show(filled))
        }
    }
}

fn facts(planned: &Planned, units: Units) -> String {
    let candidate = &planned.choice.candidate;
    let room =
        candidate.working_distance_mm.map_or("far away".into(), |mm| fmt::figure_length(mm, units) + " in front");
    format!("{} stops lost, {room}", fmt::figure(candidate.stops_lost, 2))
}

fn choice(whole: &Whole, parts: &[String], ticked: bool, facts: String) -> Markup {
    let kit = &whole.known.kit;
    let key = key(kit, parts);
    let id = format!("setup-{key}");
    html! {
        li {
            input type="checkbox" name="setup" id=(id) value=(key) checked[ticked];
            label for=(id) { (set_up_name(kit, &without_draws(kit, parts))) span.soft.small { " " (facts) } }
        }
    }
}

fn certainty(whole: &Whole) -> Markup {
    let (kit, filled) = (&whole.known.kit, &whole.filled);
    let fineness = jobs::need_for(&whole.known.job, kit).map(|need| need.on_film_lp_mm());
    let usual =
        |share: f64| fineness.map_or(String::new(), |lp| format!(" Empty: {} lp/mm.", fmt::figure(share * lp, 2)));
    let scatter =
        format!("One standard deviation of MTF50 when the same frame is taken again, on film.{}", usual(USUAL_SCATTER));
    let difference = format!("What is to be told with a chance of 80 %, on film.{}", usual(USUAL_DIFFERENCE));
    let focus = format!(
        "Half of where 95 % of your focusing falls, on the subject. Empty: what the screen shows wide open with a magnifier (discs of {SCREEN_DISC_MM} mm)."
    );
    let set_ups = asked::set_ups(filled);
    let names = set_ups
        .iter()
        .map(|parts| (key(kit, parts), format!("{}, at start and end", set_up_name(kit, &without_draws(kit, parts)))));
    let controls: Vec<(String, String)> = names
        .chain([
            ("bare".into(), "the first set-up’s lens bare at its closest mark".into()),
            ("off".into(), "none".into()),
        ])
        .collect();
    let mut shown = filled.clone();
    shown.default_to("apertures", "3");
    shown.default_to("click", "0.5");
    shown.default_to("bracket", "5");
    html! {
        div.fields {
            (Field::choice("apertures", "Apertures", (1..=5).map(|n| (n.to_string(), if n == 1 { "the best by calculation".into() } else { format!("{n} whole stops around the best") }))).show(&shown))
            (Field::text("effective", "Or these effective f-numbers").hint("At the film, the same for all: 16 22 32.").show(&shown))
            (Field::choice("click", "The rings click every", [("0.3333333333333333", "third of a stop"), ("0.5", "half stop"), ("1", "stop")]).show(&shown))
            (Field::number("difference", "Difference").unit("lp/mm").hint(&difference).show(&shown))
            (Field::number("scatter", "Takes scatter by").unit("lp/mm").hint(&scatter).show(&shown))
            (Field::number("focus", "Focus is sure to ±").unit("mm").hint(&focus).show(&shown))
            (Field::choice("bracket", "Focus brackets", [("1", "none"), ("3", "of 3 frames at most"), ("5", "of 5 frames at most"), ("7", "of 7 frames at most")]).show(&shown))
            (Field::choice("control", "Control", controls).show(&shown))
            (Field::choice("rounds", "Takes of a set-up", [("together", "one after the other, focused anew"), ("back", "once through all and back again, against drift")]).show(&shown))
        }
        details { summary { "How sizes match, and a scatter that was measured" }
            div.fields {
                (Field::number("tolerance", "Sizes may differ by").unit("%").hint("Between any two that are compared. Empty: 2 %.").show(&shown))
                (Field::number("degrees", "The scatter was measured with").unit("repeats").hint("Frames less set-ups of an earlier test. Empty: it is a guess, and this test’s own repeats must show it.").show(&shown))
            }
        }
    }
}

fn rolls(whole: &Whole) -> Markup {
    let filled = &whole.filled;
    let ticked: Vec<&str> = filled.all("roll").collect();
    let mut shown = filled.clone();
    shown.default_to("frames", USUAL_FRAMES.to_string());
    shown.default_to("new", "1");
    html! {
        ul.choices {
            @for (roll, frames) in &whole.known.rolls {
                @let id = format!("roll-{}", roll.id);
                li {
                    input type="checkbox" name="roll" id=(id) value=(roll.id.to_string()) checked[ticked.contains(&roll.id.to_string().as_str())];
                    label for=(id) { (roll.title) " " span.soft.small { (state(roll, frames, &shown)) } }
                }
            }
        }
        div.fields {
            (Field::number("new", "New rolls").show(&shown))
            (Field::number("frames", "Frames on a roll").hint("12 on 6×6, 36 on 24×36 mm. Of the notebook’s rolls where they do not say.").show(&shown))
        }
    }
}

fn state(roll: &Roll, frames: &[Frame], filled: &Filled) -> String {
    let shot = frames.iter().filter(|frame| frame.state == FrameState::Shot).count();
    let planned = frames.iter().filter(|frame| frame.state == FrameState::Planned).count();
    let holds =
        roll.frames.map_or_else(|| format!("taken to hold {}", filled.text("frames")), |n| format!("holds {n}"));
    format!("{holds}; {shot} shot, {planned} planned")
}
