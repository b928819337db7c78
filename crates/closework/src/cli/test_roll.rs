//! `closework test-roll`

use super::args;
use super::error::CliError;
use super::plan::wishes;
use super::setup::read_kit;
use crate::documents::{TestRollDocument, to_json};
use crate::test_roll::{Asked, ControlAsked, Laid, lay};
use crate::web::error::sentence;
use crate::web::fmt;
use planning::test_roll::{AperturesAsked, RollAtHand, Rounds, Scatter, TestPlan};

pub fn run(args: &args::TestRoll) -> Result<String, CliError> {
    let kit = read_kit(&args.job.kit)?;
    let set_ups =
        args.setups.iter().map(|parts| parts.split(',').map(|word| word.trim().to_owned()).collect()).collect();
    let apertures = match &args.effective[..] {
        [] => AperturesAsked::Around(args.apertures),
        listed => AperturesAsked::These(listed.to_vec()),
    };
    let asked = Asked {
        other_tubes: !args.own_tubes_only,
        tolerance: args.tolerance,
        apertures,
        click_stops: args.click_stops,
        scatter: args.scatter_lp_mm.map(|lp_mm| Scatter { lp_mm, degrees: args.scatter_repeats }),
        difference_lp_mm: args.difference_lp_mm,
        focus_plus_minus_mm: args.focus_mm,
        longest_bracket: args.longest_bracket,
        control: match args.control {
            args::TestControl::First => ControlAsked::Reference(0),
            args::TestControl::Bare => ControlAsked::Bare,
            args::TestControl::None => ControlAsked::Off,
        },
        rounds: if args.there_and_back { Rounds::ThereAndBack } else { Rounds::Together },
        ..Asked::new(wishes(&args.job), set_ups)
    };
    let refused = |source| CliError::TestRoll { path: args.job.kit.clone(), source: Box::new(source) };
    let laid = lay(&kit, &asked).map_err(refused)?;
    let rolls: Vec<RollAtHand> =
        args.rolls.iter().map(|frames| RollAtHand { free: (1..=*frames).collect(), shot: Vec::new() }).collect();
    let plan = laid.test.plan(&rolls).map_err(|error| refused(error.into()))?;
    if args.job.json {
        Ok(to_json(&TestRollDocument::of(&laid, &plan))?)
    } else {
        Ok(words(&laid, &plan, &args.setups))
    }
}

fn words(laid: &Laid, plan: &TestPlan, named: &[String]) -> String {
    let mut text = String::new();
    for group in &laid.test.groups {
        text += &format!("at {} ({}×):\n", fmt::ratio(group.magnification), fmt::figure(group.magnification, 3));
        for (m, member) in group.members.iter().enumerate() {
            let stand = laid.stands[member.contender].as_ref();
            let set = stand.map_or(String::new(), |stand| format!("{} at {}", stand.parts.join(","), stand.focus));
            let instead = if laid.other_tubes.contains(&member.contender) {
                format!(
                    " (in the place of {}, which does not come to this size; --own-tubes-only keeps to what is named)",
                    named.get(member.contender).map_or("what is named", String::as_str)
                )
            } else {
                String::new()
            };
            let rings = group.apertures.iter().map(|aperture| match aperture.settings[m] {
                Some(setting) => {
                    format!("f/{} for effective f/{}", setting.engraved, fmt::figure(aperture.effective, 2))
                }
                None => format!("not effective f/{}", fmt::figure(aperture.effective, 2)),
            });
            let size = fmt::measured(member.magnification.value, member.magnification.half_width());
            text += &format!(
                "  {}, {set}{instead}: {size}×; {}\n",
                laid.test.name(member.contender),
                rings.collect::<Vec<_>>().join(", ")
            );
        }
    }
    for (roll, frames) in plan.layout.iter().enumerate() {
        text += &format!("roll {}:\n", roll + 1);
        for (place, slot) in frames.iter().enumerate() {
            text += &format!("{:4}  {}\n      {}\n", place + 1, laid.label(slot), laid.test.purpose(slot));
        }
    }
    for [first, second] in laid.twins() {
        text += &format!(
            "* {first} and {second} come to the same set-up at this size, so that nothing is compared: name another, or ask for another size.\n"
        );
    }
    for reason in laid.test.cannot(&plan.decision) {
        text += &format!("* {}\n", sentence(&reason.to_string()));
    }
    if let Some(more) = &plan.one_more {
        let (told, then) = (plan.decision.told(), more.decision.told());
        let all = plan.decision.pairs.len();
        text += &format!(
            "* One more roll would add {} frames: {then} of {all} comparisons told instead of {told}.\n",
            more.frames
        );
    }
    text
}
