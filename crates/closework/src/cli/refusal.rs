//! What the parser refuses, as one sentence with the option and the fix.

use super::args::Args;
use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{CommandFactory, Error};
use std::error::Error as _;

/// The commands below the words of a command line, in the order of the help; none below a command that has none.
fn commands(below: &[&str]) -> Vec<String> {
    let mut at = Args::command();
    for word in below {
        match at.find_subcommand(word).cloned() {
            Some(found) => at = found,
            None => return Vec::new(),
        }
    }
    at.get_subcommands().map(|command| command.get_name().to_owned()).filter(|name| name != "help").collect()
}

/// The sentence. `typed` is the command line, as far as it is text.
pub fn sentence(error: &Error, typed: &[String]) -> String {
    let command = command(typed);
    let help = if command.is_empty() { "closework help".into() } else { format!("closework help {command}") };
    let option = option(error);
    match error.kind() {
        ErrorKind::ValueValidation => refused_value(error, &option),
        ErrorKind::InvalidValue => no_such_value(error, &option),
        ErrorKind::UnknownArgument => unknown(error, &option, &help),
        ErrorKind::MissingRequiredArgument => format!("{command} needs {}; {help} tells more", usage(error)),
        ErrorKind::ArgumentConflict => in_conflict(error, &option),
        ErrorKind::TooManyValues => format!("{option} takes no value; write it alone"),
        ErrorKind::InvalidSubcommand => no_such_command(error, &command),
        ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand | ErrorKind::MissingSubcommand if command == "frames" => {
            "frames needs to know what: closework frames out --job J prints the table, closework frames in TABLE --job J reads \
             one, closework frames template prints one to fill in"
                .into()
        }
        ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand | ErrorKind::MissingSubcommand if command == "bench" => {
            "bench needs to know what: closework bench forms lists the design forms, closework bench set-up --form KEY traces \
             one with attachments"
                .into()
        }
        ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand | ErrorKind::MissingSubcommand => {
            "measure needs to know what: closework measure edge IMAGE --roi X,Y,W,H for sharpness at an edge, closework \
             measure scale IMAGE --from X,Y --to X,Y --tick-mm D for the scale along a ruler, or closework measure frame IMAGE \
             for everything that a frame holds"
                .into()
        }
        _ => format!("{}; {help} tells what it takes", first_line(error)),
    }
}

/// "measure edge", "setup", or nothing.
fn command(typed: &[String]) -> String {
    let mut found: Vec<&str> = Vec::new();
    for word in typed.iter().skip(1).map(String::as_str) {
        if !commands(&found).iter().any(|command| command == word) {
            break;
        }
        found.push(word);
    }
    found.join(" ")
}

fn context(error: &Error, kind: ContextKind) -> Vec<String> {
    match error.get(kind) {
        Some(ContextValue::String(word)) => vec![word.clone()],
        Some(ContextValue::Strings(words)) => words.clone(),
        _ => Vec::new(),
    }
}

/// "--coc-mm C", or several of them.
fn usage(error: &Error) -> String {
    let plain = context(error, ContextKind::InvalidArg).into_iter().map(|arg| arg.replace(['<', '>'], ""));
    plain.collect::<Vec<_>>().join(" and ")
}

/// "--coc-mm".
fn option(error: &Error) -> String {
    usage(error).split_whitespace().next().unwrap_or("the command line").to_string()
}

fn refused_value(error: &Error, option: &str) -> String {
    let why = error.source().map_or_else(|| first_line(error), ToString::to_string);
    let colon = if why.starts_with('"') { ":" } else { "" };
    format!("{option}{colon} {why}")
}

/// A word that is none of those an option takes, or no word at all.
fn no_such_value(error: &Error, option: &str) -> String {
    match context(error, ContextKind::InvalidValue).concat() {
        none if none.is_empty() => format!("{option} needs a value after it: {}", usage(error)),
        found => {
            format!("{option} must be one of {}, not \"{found}\"", context(error, ContextKind::ValidValue).join(", "))
        }
    }
}

/// An option twice, or beside one that says the same another way.
fn in_conflict(error: &Error, option: &str) -> String {
    let bare = |word: String| word.split_whitespace().next().unwrap_or_default().to_string();
    let others = context(error, ContextKind::PriorArg).into_iter().map(bare).filter(|other| other != option);
    match others.collect::<Vec<_>>().join(" or ") {
        none if none.is_empty() => format!("{option} is given twice; give it once"),
        others => format!("{option} does not go together with {others}; give one of them"),
    }
}

fn unknown(error: &Error, option: &str, help: &str) -> String {
    if !option.starts_with('-') {
        return format!(
            "\"{option}\" is one word too many; put words that belong together in quotes ({help} lists what it takes)"
        );
    }
    match context(error, ContextKind::SuggestedArg).first() {
        Some(near) => format!("there is no option {option} here; did you mean {near}?"),
        None => format!("there is no option {option} here; {help} lists those there are"),
    }
}

fn no_such_command(error: &Error, command: &str) -> String {
    let wrong = context(error, ContextKind::InvalidSubcommand).join(" ");
    let choices = match commands(&command.split_whitespace().collect::<Vec<_>>()) {
        none if none.is_empty() => commands(&[]),
        some => some,
    };
    let choices = match choices.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        _ => choices.concat(),
    };
    // The likeliest stands last.
    match context(error, ContextKind::SuggestedSubcommand).last() {
        Some(near) => format!("there is no command \"{wrong}\"; did you mean {near}?"),
        None => format!("there is no command \"{wrong}\"; give one of {choices}"),
    }
}

fn first_line(error: &Error) -> String {
    let words = error.render().to_string();
    words.lines().next().unwrap_or_default().trim_start_matches("error: ").to_string()
}
