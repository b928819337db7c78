//! The plan: what is matched, what the frames tell and what not, and the frames by roll.

use maud::{Markup, html};
use planning::test_roll::{Decision, Layout, Pair, RepeatHelps, Role, Slot, TestGroup};

use super::asked::{self, AtHand, layout_fields, question_fields};
use super::{Planned, Whole, address};
use crate::test_roll::Laid;
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::form::{Field, Filled};
use crate::web::kit_book::word_name;
use crate::web::manners::Units;

pub fn plan(whole: &Whole, planned: &Planned, units: Units) -> Markup {
    let all = planned.all();
    let decision = planned.laid.test.decide(&all);
    html! {
        (matched(whole, &planned.laid, units))
        (told(planned, &decision, &all))
        (frames(whole, planned))
        (add(whole, planned))
        (keep(whole, planned))
    }
}

/// How each set-up stands, and how well they match.
fn matched(whole: &Whole, laid: &Laid, units: Units) -> Markup {
    let wanted = laid.test.question.need.magnification;
    html! {
        section aria-labelledby="matched" {
            h2 id="matched" { "Brought to one size" }
            @for group in &laid.test.groups {
                p { (group_words(laid, group, wanted)) }
                div.scroll tabindex="0" role="region" aria-label="set-ups of one size" {
                    table.stacked {
                        thead { tr {
                            th scope="col" { "Set-up" } th scope="col" { "Set to" } th.n scope="col" { "Size on film" }
                            @for aperture in &group.apertures { th.n scope="col" { "At effective f/" (fmt::figure(aperture.effective, 2)) } }
                            th.n scope="col" { "Focus is sure to ±" }
                        } }
                        tbody { @for (m, member) in group.members.iter().enumerate() { (stand(whole, laid, group, m, member.contender, units)) } }
                    }
                }
                @if group.members.len() > 1 { p.small.soft { (mismatch(laid, group)) } }
            }
            @if let Some(Some(bare)) = laid.stands.last() {
                p { "The control: " (laid.test.name(laid.keys.len())) ", " (fmt::ratio(bare.magnification.value)) "." }
            }
        }
    }
}

fn group_words(laid: &Laid, group: &TestGroup, wanted: f64) -> String {
    let at = format!("{} ({}×)", fmt::ratio(group.magnification), fmt::figure(group.magnification, 3));
    let off = group.magnification / wanted - 1.0;
    let job = if off.abs() < 0.005 {
        "the size that the job asks for".into()
    } else {
        let way = if off > 0.0 { "larger" } else { "smaller" };
        format!(
            "{} {way} than the {}× that the job asks for, the nearest that they share",
            fmt::percent(off.abs()),
            fmt::figure(wanted, 3)
        )
    };
    let who = if laid.test.groups.len() > 1 { format!("{} set-ups", group.members.len()) } else { "All".into() };
    let who = if group.members.len() == 1 { "It stands".into() } else { format!("{who} stand") };
    format!(
        "{who} at {at}, {job}. At one size and one effective f-number depth and diffraction are the same for each, whatever is engraved on its ring."
    )
}

fn stand(whole: &Whole, laid: &Laid, group: &TestGroup, m: usize, contender: usize, units: Units) -> Markup {
    let stand = laid.stands[contender].as_ref();
    let kit = &whole.known.kit;
    html! {
        tr {
            th scope="row" {
                (laid.name(contender))
                @if laid.other_tubes.contains(&contender) { " " span.tag { "on other tubes" } }
            }
            td data-label="set to" {
                @if let Some(stand) = stand {
                    @if laid.other_tubes.contains(&contender) { (stand.parts.iter().skip(1).map(|word| word_name(kit, word)).collect::<Vec<_>>().join(" · ")) ", " }
                    @else { @for word in stand.parts.iter().filter(|word| word.contains('=')) { (word_name(kit, word)) ", " } }
                    (focus_words(&stand.focus.to_string()))
                }
            }
            td.n data-label="size on film" { @if let Some(stand) = stand { (fmt::measured(stand.magnification.value, stand.magnification.half_width())) "×" } }
            @for (a, aperture) in group.apertures.iter().enumerate() {
                td.n data-label=(format!("effective f/{}", fmt::figure(aperture.effective, 2))) {
                    @match aperture.settings[m] {
                        Some(setting) => {
                            "f/" (setting.engraved)
                            @if setting.off_stops.abs() > 0.05 { span.soft.small { " (" (stops_off(setting.off_stops)) ")" } }
                            @if let Some(bracket) = group.brackets[m][a].filter(|bracket| bracket.count > 1) {
                                span.soft.small { " " (bracket.count) " focus steps of " (fmt::figure_length(bracket.step_mm, units)) }
                            }
                        },
                        None => "not on its ring",
                    }
                }
            }
            td.n data-label="focus is sure to ±" { (fmt::figure_length(group.focusing[m].plus_minus_mm, units)) }
        }
    }
}

/// How far a ring stands from what is wanted.
fn stops_off(stops: f64) -> String {
    format!("{} stop {}", fmt::figure(stops.abs(), 1), if stops > 0.0 { "closed" } else { "open" })
}

/// "travel=3.5" as a person says it.
fn focus_words(focus: &str) -> String {
    match focus.split_once('=') {
        Some(("travel", mm)) => format!("focused {mm} mm out"),
        Some(("distance", mm)) => format!("focused on {mm} mm of its scale"),
        _ if focus == "closest" => "focused at its closest mark".into(),
        _ => format!("focused at {focus}"),
    }
}

fn mismatch(laid: &Laid, group: &TestGroup) -> String {
    let all = laid.test.mismatches(group, laid.tolerance);
    let worst = all.into_iter().max_by(|p, q| p.1.share.value.total_cmp(&q.1.share.value));
    let Some((pair, mismatch)) = worst else { return String::new() };
    let names = pair.map(|c| laid.test.name(c));
    let percent = |share: f64| 100.0 * share;
    let figure = fmt::measured(percent(mismatch.share.value), mismatch.share.half_width().map(percent));
    let doubt = if mismatch.doubtful {
        format!(
            " As the kit knows them they may differ by more than the {} allowed: the card in the first frame of each tells, and scans are brought to one size by it.",
            fmt::percent(laid.tolerance)
        )
    } else {
        String::new()
    };
    format!(
        "By their scales {} and {} differ most in size, by {figure} %, the two taken as independent.{doubt}",
        names[0], names[1]
    )
}

/// What the frames tell, and what they cannot.
fn told(planned: &Planned, decision: &Decision, all: &[Slot]) -> Markup {
    let test = &planned.laid.test;
    let cannot = test.cannot(decision);
    html! {
        section aria-labelledby="told" {
            h2 id="told" { "What these frames tell" }
            @for group in test.groups.iter().filter(|group| group.members.len() > 1) { (differences(planned, decision, group)) }
            @if test.names.len() == 1 { p { "The apertures of one set-up against each other, and each against the job’s need." } }
            p { (scatter_words(planned, decision)) }
            @if !cannot.is_empty() {
                h3 { "What they cannot tell" }
                ul.misses { @for reason in &cannot { li { (sentence(&reason.to_string())) } } }
            }
            @if let Some(helps) = test.best_repeat(all) { p { strong { (repeat_words(planned, &helps)) } } }
            @if !planned.changed { @if let Some(more) = more_words(planned, decision) { p { (more) } } }
        }
    }
}

fn differences(planned: &Planned, decision: &Decision, group: &TestGroup) -> Markup {
    let asked = planned.laid.test.question.difference_lp_mm;
    let members: Vec<usize> = group.members.iter().map(|member| member.contender).collect();
    let here = |pair: &&Pair, a: usize| {
        pair.is_between_set_ups()
            && pair.cells[0].aperture == a
            && pair.cells.iter().all(|c| members.contains(&c.contender))
    };
    html! {
        div.scroll tabindex="0" role="region" aria-label="differences that are told" {
            table.stacked {
                caption.unseen { "The least difference between set-ups that is told at each aperture" }
                thead { tr { th scope="col" { "Aperture" } th.n scope="col" { "Takes of each" } th.n scope="col" { "Difference told, lp/mm" } th scope="col" { "Asked about: " (fmt::figure(asked, 2)) } } }
                tbody { @for (a, aperture) in group.apertures.iter().enumerate() {
                    @let takes: Vec<usize> = decision.cells.iter().filter(|held| held.cell.aperture == a && members.contains(&held.cell.contender)).map(|held| held.takes).collect();
                    @let pairs: Vec<&Pair> = decision.pairs.iter().filter(|pair| here(pair, a)).collect();
                    @let told = pairs.iter().filter(|pair| pair.told).count();
                    tr {
                        th scope="row" { "effective f/" (fmt::figure(aperture.effective, 2)) }
                        td.n data-label="takes of each" { (range(&takes)) }
                        td.n data-label="difference told, lp/mm" { (decision.worst(a, &members).map_or("none".into(), |least| fmt::figure(least, 2))) }
                        td data-label=(format!("{} asked about", fmt::figure(asked, 2))) { @if told == pairs.len() { "told" } @else if told == 0 { "not told" } @else { (told) " of " (pairs.len()) " pairs told" } }
                    }
                } }
            }
        }
    }
}

fn range(takes: &[usize]) -> String {
    match (takes.iter().min(), takes.iter().max()) {
        (Some(least), Some(most)) if least != most => format!("{least} to {most}"),
        (Some(least), _) => least.to_string(),
        _ => "0".into(),
    }
}

fn scatter_words(planned: &Planned, decision: &Decision) -> String {
    let question = &planned.laid.test.question;
    let known = match question.scatter.degrees {
        0 => "as it is guessed; the repeats of the test show what it is",
        _ => "as it was measured",
    };
    let drift = decision.drift_lp_mm.map_or(String::new(), |least| {
        format!(" A drift from the first control to the last is told from {} lp/mm on.", fmt::figure(least, 2))
    });
    let repeats = if decision.degrees == 1 { "repeat" } else { "repeats" };
    format!(
        "Counted with takes that scatter by {} lp/mm, {known}. {} {repeats} tell scatter from difference; a difference is told with a chance of {}, and where there is none, {} in a hundred comparisons cry wolf.{drift}",
        fmt::figure(question.scatter.lp_mm, 2),
        decision.degrees,
        fmt::percent(question.certainty.power),
        fmt::figure(100.0 * question.certainty.false_alarm, 1),
    )
}

/// Where a cell first stands in the layout: its number and roll.
fn number_of(planned: &Planned, contender: usize, aperture: usize) -> Option<(usize, u32)> {
    planned.layout.iter().enumerate().find_map(|(roll, frames)| {
        let here = |slot: &Slot| slot.contender == contender && slot.aperture == aperture && slot.role != Role::Own;
        let place = frames.iter().position(here)?;
        Some((roll, *planned.seen[roll].at_hand.free.get(place)?))
    })
}

fn repeat_words(planned: &Planned, helps: &RepeatHelps) -> String {
    let test = &planned.laid.test;
    let cell = helps.cell;
    let frame = match number_of(planned, cell.contender, cell.aperture) {
        Some((_, number)) if planned.layout.len() == 1 => format!("frame {number}"),
        Some((roll, number)) => format!("frame {number} on roll {}", roll + 1),
        None => test.name(cell.contender).to_owned(),
    };
    let effective = test.member(cell.contender).map_or(f64::NAN, |(group, _)| group.apertures[cell.aperture].effective);
    let then = fmt::figure(helps.with_repeat_lp_mm, 2);
    let at = fmt::figure(effective, 2);
    match helps.least_lp_mm {
        Some(least) => format!(
            "Without a repeat of {frame} a difference under {} lp/mm cannot be told at effective f/{at}; with it, one of {then} could.",
            fmt::figure(least, 2)
        ),
        None => format!(
            "Without a repeat of {frame} no difference can be told at effective f/{at}; with it, one of {then} lp/mm could."
        ),
    }
}

fn more_words(planned: &Planned, decision: &Decision) -> Option<String> {
    let more = planned.plan.one_more.as_ref()?;
    let group = planned.laid.test.groups.first()?;
    let members: Vec<usize> = group.members.iter().map(|member| member.contender).collect();
    let figure = |decision: &Decision| {
        decision.worst(0, &members).map_or("nothing".into(), |least| format!("{} lp/mm", fmt::figure(least, 2)))
    };
    let told = |decision: &Decision| decision.told();
    let rest = if planned.plan.wanting > more.frames { ", and the test would want more still" } else { "" };
    Some(format!(
        "One more roll would add {} frames: {} of {} comparisons told instead of {}, and at the best aperture {} instead of {}{rest}.",
        more.frames,
        told(&more.decision),
        more.decision.pairs.len(),
        told(decision),
        figure(&more.decision),
        figure(decision),
    ))
}

/// Everything that a button needs to send along.
pub fn state(whole: &Whole, layout: &Layout) -> Markup {
    html! {
        @for (name, value) in question_fields(&whole.filled) { input type="hidden" name=(name) value=(value); }
        @for frames in layout_fields(layout) { input type="hidden" name="on" value=(frames); }
    }
}

fn frames(whole: &Whole, planned: &Planned) -> Markup {
    let test = &planned.laid.test;
    let troubles = test.troubles(&planned.layout, &planned.at_hand());
    html! {
        section aria-labelledby="frames" {
            h2 id="frames" { "The frames" }
            @if !troubles.is_empty() {
                div.refusal role="alert" {
                    p.what { "As it stands this plan cannot be kept." }
                    ul { @for trouble in &troubles { li { (sentence(&trouble.to_string())) } } }
                }
            }
            p.soft { (changes_words(planned)) }
            p.soft { "Move a frame with its buttons, or drag it by its number. Your browser’s back button undoes." }
            form.test-frames method="get" action=(address(&whole.known.job)) {
                (state(whole, &planned.layout))
                @for (roll, frames) in planned.layout.iter().enumerate() { (roll_list(whole, planned, roll, frames)) }
            }
            @if planned.changed { p { a href=(format!("{}?{}", address(&whole.known.job), asked::query(&whole.filled, None))) { "Back to the frames as planned" } } }
        }
    }
}

fn changes_words(planned: &Planned) -> String {
    let test = &planned.laid.test;
    let changes = test.changes(&planned.layout);
    let least = test.changes_at_least(&planned.layout);
    let kinds = [
        (changes.lens, "lens", "lenses"),
        (changes.extension, "extension", "extensions"),
        (changes.close_up, "close-up lens", "close-up lenses"),
        (changes.aperture, "aperture", "apertures"),
        (changes.focus, "focus", "focus settings"),
    ];
    let words: Vec<String> = kinds
        .iter()
        .filter(|(count, ..)| *count > 0)
        .map(|(count, one, many)| format!("{count} {}", if *count == 1 { one } else { many }))
        .collect();
    if words.is_empty() {
        return "Nothing is changed between frames.".into();
    }
    let best = if changes.cost <= least {
        "no order of these frames needs less".into()
    } else {
        format!("no order needs less than {} % of that work", 100 * least / changes.cost.max(1))
    };
    format!("On the way you change {}; {best}.", words.join(", "))
}

fn title(hand: &AtHand, roll: usize, rolls: &[AtHand]) -> String {
    match &hand.known {
        Some((roll, _)) => roll.title.clone(),
        None => {
            let before = rolls[..roll].iter().filter(|hand| hand.known.is_none()).count();
            format!("New roll {}", before + 1)
        }
    }
}

fn roll_list(whole: &Whole, planned: &Planned, roll: usize, frames: &[Slot]) -> Markup {
    let (hand, seen) = (&whole.rolls[roll], &planned.seen[roll]);
    let free = seen.at_hand.free.len();
    html! {
        h3 id=(format!("roll-list-{roll}")) {
            "Roll " (roll + 1) ": " (title(hand, roll, &whole.rolls)) " "
            span.soft { (frames.len()) " of " (free) " frames" @if seen.kept > 0 { " left, after " (seen.kept) " that stay as they are" } }
        }
        ol.test-frames data-roll=(roll) aria-labelledby=(format!("roll-list-{roll}")) {
            @for (place, slot) in frames.iter().enumerate() { (frame(whole, planned, (roll, place), slot)) }
            @if frames.is_empty() { li.empty { "Nothing is planned on it." } }
        }
    }
}

fn frame(whole: &Whole, planned: &Planned, (roll, place): (usize, usize), slot: &Slot) -> Markup {
    let laid = &planned.laid;
    let number = planned.seen[roll].at_hand.free.get(place);
    let (last_roll, last) = (planned.layout.len() - 1, planned.layout[roll].len() - 1);
    let now = whole.filled.text("now");
    let mine = now.split_once('.').filter(|(_, spot)| *spot == format!("{roll}.{place}")).map(|(verb, _)| verb);
    let words = number.map_or("a frame that does not fit".into(), |n| format!("frame {n}"));
    let ends = [(roll, place) == (0, 0), (roll, place) == (last_roll, last)];
    let button = |verb: &str, sign: &str, label: &str, disabled: bool| {
        html! {
            button.quiet name="do" value=(format!("{verb}.{roll}.{place}")) aria-label=(format!("{label}: {words}")) title=(label) disabled[disabled] id=(format!("{verb}-{roll}-{place}")) { (sign) }
        }
    };
    html! {
        li id=(format!("frame-{roll}-{place}")) data-place=(place) .now[mine.is_some()] {
            span.number { @match number { Some(n) => (n), None => "–" } }
            div {
                strong { (laid.label(slot)) }
                p.small { (laid.test.purpose(slot)) }
            }
            div.actions {
                (button("up", "↑", "Move up", ends[0]))
                (button("down", "↓", "Move down", ends[1]))
                (button("repeat", "Repeat", "Repeat", false))
                (button("off", "Take off", "Take off", false))
            }
        }
    }
}

fn add(whole: &Whole, planned: &Planned) -> Markup {
    let test = &planned.laid.test;
    let members = || test.groups.iter().flat_map(|group| group.members.iter().map(|member| member.contender));
    let set_ups = members().map(|c| (c.to_string(), planned.laid.name(c)));
    let longest = test.groups.iter().max_by_key(|group| group.apertures.len());
    let apertures = longest.map(|group| &group.apertures[..]).unwrap_or_default().iter().enumerate();
    let apertures =
        apertures.map(|(a, aperture)| (a.to_string(), format!("effective f/{}", fmt::figure(aperture.effective, 2))));
    let steps = [
        ("0", "as focused"),
        ("-1", "one step nearer to the subject"),
        ("1", "one step away"),
        ("-2", "two steps nearer"),
        ("2", "two steps away"),
    ];
    let rolls = (0..planned.layout.len())
        .map(|roll| (roll.to_string(), format!("{}, {}", roll + 1, title(&whole.rolls[roll], roll, &whole.rolls))));
    let filled = Filled::default();
    html! {
        details {
            summary { "Add a frame" }
            form method="get" action=(address(&whole.known.job)) {
                (state(whole, &planned.layout))
                div.fields {
                    (Field::choice("add_setup", "Set-up", set_ups).show(&filled))
                    (Field::choice("add_aperture", "Aperture", apertures).show(&filled))
                    (Field::choice("add_step", "The camera", steps).show(&filled))
                    (Field::choice("add_for", "For", [("compare", "comparing: it counts as a take"), ("own", "something of your own: it counts for nothing")]).show(&filled))
                    (Field::choice("add_roll", "On roll", rolls).show(&filled))
                }
                div.actions { button name="do" value="add" { "Add it" } }
            }
        }
    }
}

fn keep(whole: &Whole, planned: &Planned) -> Markup {
    let test = &planned.laid.test;
    let valid = test.troubles(&planned.layout, &planned.at_hand()).is_empty();
    let replaced: usize = planned.seen.iter().map(|seen| seen.replaced.len()).sum();
    let new = whole.rolls.iter().any(|roll| roll.known.is_none());
    let mut filled = whole.filled.clone();
    filled.default_to("title", "Test roll");
    html! {
        section aria-labelledby="keep" {
            h2 id="keep" { "Into the notebook" }
            form method="post" action=(address(&whole.known.job)) data-keep=(format!("test-roll-{}", whole.known.job.id)) {
                (state(whole, &planned.layout))
                @if new {
                    div.fields {
                        (Field::text("title", "What the new rolls are called").hint("Several are numbered.").required().show(&filled))
                        (Field::text("film", "Film").show(&filled))
                        (Field::number("iso", "Exposed at").unit("ISO").show(&filled))
                    }
                }
                @if replaced > 0 { p.note { "Takes the place of " (replaced) " planned frames of an earlier test plan. Frames that were shot stay." } }
                div.actions {
                    button.main disabled[!valid] { "Save rolls and frames" }
                    @if !valid { span.hint { "Not while the plan cannot be kept: see above." } }
                }
            }
        }
    }
}
