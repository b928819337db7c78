//! `closework reach`

use super::args;
use super::error::CliError;
use super::setup::read_kit;
use crate::documents::{ReachDocument, to_json};
use crate::web::fmt;
use kit::{AskedLimits, Demand, Limits, Reach, Span};

pub fn run(args: &args::Reach) -> Result<String, CliError> {
    let kit = read_kit(&args.kit)?;
    let asked = AskedLimits { tubes: args.tubes, bellows: args.bellows, close_ups: args.close_ups };
    let limits = Limits::feasible(&kit, args.body.as_deref(), asked).map_err(CliError::setup(&args.kit))?;
    let demand = Demand { body: args.body.clone(), magnification: args.magnification, limits };
    let reach = kit::reach(&kit, &demand).map_err(CliError::setup(&args.kit))?;
    for cut in &reach.cut {
        eprintln!("left out: {cut}; --tubes, --bellows and --close-ups set how many");
    }
    for note in &reach.left_out {
        eprintln!("left out: {note}");
    }
    if args.json { Ok(to_json(&ReachDocument::of(&reach, args.limit))?) } else { Ok(words(&reach, args.limit)) }
}

fn span(span: &Span) -> String {
    format!("{:.3}× to {:.3}×  ({} to {})", span.min, span.max, fmt::ratio(span.min), fmt::ratio(span.max))
}

fn words(reach: &Reach, limit: usize) -> String {
    let mut text = format!("{} set-ups\n", reach.setups.len());
    for setup in reach.setups.iter().take(limit) {
        text += &format!("{}  {}\n", span(&setup.magnification), setup.parts.join(","));
        if let Some(setting) = &setup.setting {
            let parts: Vec<_> = setting.parts.iter().map(|word| rounded(word)).collect();
            text += &format!("    set: {} at {}\n", parts.join(","), rounded(&setting.focus.to_string()));
        }
    }
    if reach.setups.len() > limit {
        text += &format!("and {} more (--limit shows them)\n", reach.setups.len() - limit);
    }
    for miss in &reach.misses {
        text += &format!("misses: {}: {}\n", miss.parts.join(","), miss.why);
    }
    text
}

/// "bellows=140.79999" as "bellows=140.80": for people; scripts get every digit.
fn rounded(word: &str) -> String {
    let number = word.split_once('=').and_then(|(name, number)| Some((name, number.parse::<f64>().ok()?)));
    number.map_or_else(|| word.to_owned(), |(name, number)| format!("{name}={number:.2}"))
}
