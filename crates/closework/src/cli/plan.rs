//! `closework plan`

use super::args;
use super::error::CliError;
use super::setup::read_kit;
use super::text::Lines;
use crate::bench::{self, Chain, Trace};
use crate::documents::{PlanDocument, to_json};
use crate::planner::{Likelies, Likely, OUT_TO, Plan, Planned, Wishes, likely, plan};
use crate::web::fmt;
use kit::{Demand, Limits};

pub fn run(args: &args::Plan) -> Result<String, CliError> {
    let kit = read_kit(&args.kit)?;
    let wishes = wishes(args);
    let demand = Demand { body: args.body.clone(), limits: Limits::default(), ..Demand::default() };
    let plan = plan(&kit, &demand, &wishes).map_err(CliError::plan(&args.kit))?;
    // Nobody is kept waiting by this thread but who asked.
    let trace: Trace<'_> = &|setup, asked| Some(bench::predicted(setup, asked));
    let chain = args.pitch_um.map_or(Chain::USUAL, |pitch_um| Chain { pitch_um });
    let likelies = likely(&kit, &plan, chain, trace).unwrap_or_default();
    if args.json {
        Ok(to_json(&PlanDocument::of(&plan, &likelies, chain))?)
    } else {
        Ok(words(&plan, &likelies, &chain.words(args.pitch_um.map(|_| "as --pitch-um says"))))
    }
}

/// The job as the command line says.
pub(super) fn wishes(args: &args::Plan) -> Wishes {
    Wishes {
        subject_mm: args.subject.0,
        subject_short_mm: args.subject.1,
        subject_depth_mm: args.depth_mm,
        depth_wanted_mm: args.sharp_mm,
        fill: args.fill,
        print_mm: args.print_mm,
        criterion_lp_mm: args.criterion_lp_mm,
        contrast: args.contrast,
        least_working_distance_mm: args.room_mm,
        most_stops_lost: args.stops,
        largest_crop: args.crop,
    }
}

fn words(plan: &Plan, likelies: &Likelies, chain: &str) -> String {
    let need = &plan.need;
    let mut lines = Lines::default();
    lines.add("size on film", format!("{} ({}×)", fmt::ratio(need.magnification), fmt::figure(need.magnification, 3)));
    lines.add("enlargement", format!("{} times", fmt::figure(need.enlargement, 3)));
    lines.add("detail on film", format!("{} lp/mm", fmt::figure(need.on_film_lp_mm, 3)));
    lines.add("counts as sharp", format!("discs up to {} µm on film", fmt::figure(need.circle_mm * 1000.0, 3)));
    let feasible = need.on_film().feasible(None);
    lines.add("aperture", feasible.to_string());
    let mut text = lines.done();
    text += &format!("{} set-ups serve; these nothing else beats:\n", plan.serving);
    for (at, planned) in plan.front.iter().enumerate() {
        text += &line(planned);
        if let Some(Ok(found)) = likelies.front.get(at) {
            text += &predicted(plan, found);
        }
    }
    if !likelies.added.is_empty() {
        text += "Beaten in all that, and surely sharper or freer of colour than what beats them, as predicted:\n";
    }
    for (planned, found) in &likelies.added {
        text += &line(planned);
        text += &predicted(plan, found);
    }
    if likelies.any() {
        text += &format!("Predicted figures: {}. {chain}\n", likelies.label());
    }
    for out in &plan.ruled_out {
        text += &format!("{} {}", out.count, out.reason.words());
        if let Some((setup, unmet)) = &out.nearest {
            text += &format!("; nearest {}: {unmet}", setup.parts.join(","));
        }
        text.push('\n');
    }
    text
}

fn line(planned: &Planned) -> String {
    let (choice, setup) = (&planned.choice, &planned.setup);
    let candidate = &choice.candidate;
    let parts = setup.setting.as_ref().map_or_else(|| setup.parts.join(","), |s| s.parts.join(","));
    let focus = setup.setting.as_ref().map(|s| s.focus.to_string()).unwrap_or_default();
    let crop = choice.negative.cut_away;
    let cropped = if crop > 0.005 { format!(", cropped by {}", fmt::percent(crop)) } else { String::new() };
    let room = candidate.working_distance_mm.map_or("infinite".into(), |mm| format!("{} mm", fmt::figure(mm, 3)));
    format!(
        "  {parts} at {focus}\n    {} stops lost, {room} free, {} lenses added, {} mm deep in one exposure{cropped}; {}\n",
        fmt::figure(candidate.stops_lost, 2),
        candidate.glass_added,
        fmt::figure(choice.depth_mm, 2),
        choice.feasible
    )
}

fn predicted(plan: &Plan, found: &Likely) -> String {
    let detail = found.detail.as_ref().map(|detail| {
        format!(
            "{} on the subject with {} of the contrast out to {} of the way to the corner, {} wanted",
            fmt::likely(detail.value, detail.plus_minus(), "lp/mm"),
            fmt::percent(plan.need.brief().contrast),
            fmt::percent(OUT_TO),
            fmt::figure(plan.need.on_subject_lp_mm, 3)
        )
    });
    let fringing =
        found.fringing_um.as_ref().map(|um| format!("{} of colour", fmt::likely(um.value, um.plus_minus(), "µm")));
    let both: Vec<String> = [detail, fringing].into_iter().flatten().collect();
    let said = if both.is_empty() { "nothing: its corners are dark".into() } else { both.join("; ") };
    format!("    predicted, at f/{}: {said}\n", fmt::figure(found.f_number, 2))
}
