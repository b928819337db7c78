//! `closework reach`

use super::args;
use super::error::CliError;
use super::setup::read_kit;
use crate::documents::{ReachDocument, to_json};
use crate::web::fmt;
use kit::{AskedLimits, Demand, Limits, Reach, Span};

pub fn run(args: &args::Reach) -> Result<String, CliError> {
    let kit = read_kit(&args.kit)?;
    let asked = AskedLimits {
        tubes: args.tubes,
        bellows: args.bellows,
        close_ups: args.close_ups,
        converters: args.converters,
        lenses: args.lenses,
    };
    let (magnification, limits) = (args.magnification, Limits::default().asked(asked));
    let demand = Demand { body: args.body.clone(), magnification, limits, most: args.limit };
    let reach = kit::reach(&kit, &demand).map_err(CliError::setup(&args.kit))?;
    for cut in &reach.cut {
        eprintln!("left out: {cut}; --tubes, --bellows, --close-ups, --converters and --lenses set how many");
    }
    for note in &reach.left_out {
        eprintln!("left out: {note}");
    }
    if args.json { Ok(to_json(&ReachDocument::of(&reach))?) } else { Ok(words(&reach)) }
}

fn span(span: &Span) -> String {
    format!("{:.3}× to {:.3}×  ({} to {})", span.min, span.max, fmt::ratio(span.min), fmt::ratio(span.max))
}

fn words(reach: &Reach) -> String {
    let mut text = format!("{} set-ups", reach.total);
    if reach.ways > reach.total {
        text += &format!(", in {} ways: parts that give the same to the light are counted once", reach.ways);
    }
    text.push('\n');
    for setup in &reach.setups {
        text += &format!("{}  {}\n", span(&setup.magnification), setup.parts.join(","));
        if let Some(setting) = &setup.setting {
            let parts: Vec<_> = setting.parts.iter().map(|word| rounded(word)).collect();
            text += &format!("    set: {} at {}\n", parts.join(","), rounded(&setting.focus.to_string()));
        }
        for other in &setup.alternatives {
            text += &format!("    or:  {}\n", other.join(","));
        }
        for obstacle in &setup.obstacles {
            text += &format!("    note: {obstacle}\n");
        }
    }
    let more = reach.total - reach.setups.len() as u64;
    if more > 0 {
        text += &format!("and {more} more (--limit shows them)\n");
    }
    for miss in &reach.misses {
        text += &format!("misses: {}: {}\n", miss.parts.join(","), miss.why);
    }
    for missing in &reach.missing {
        text +=
            &format!("with {}: {} would reach {}", missing.ring, missing.parts.join(","), span(&missing.magnification));
        text += &missing.remark.map_or("\n".into(), |remark| format!("; {remark}\n"));
    }
    text
}

/// "bellows=140.79999" as "bellows=140.80": for people; scripts get every digit.
fn rounded(word: &str) -> String {
    let number = word.split_once('=').and_then(|(name, number)| Some((name, number.parse::<f64>().ok()?)));
    number.map_or_else(|| word.to_owned(), |(name, number)| format!("{name}={number:.2}"))
}
