//! The command line. Results go to standard output; everything else to standard error.

mod args;
mod bench;
mod bench_measured;
mod calibrate;
mod error;
mod exposure;
mod films;
mod flash;
mod measure;
mod measure_frame;
mod picture;
mod plan;
mod pocket;
mod reach;
mod records;
mod refusal;
mod report;
mod serve;
mod setup;
mod target;
mod test_roll;
mod text;
mod values;
mod verdict;

use args::{Args, Bench, Command, Frames, Measure};
use clap::Parser;
use error::CliError;
use std::ffi::OsString;
use std::process::ExitCode;

/// Runs the command line and gives the exit status: 0 done, 2 the command line or an input is wrong, 1 anything else.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    let args = match Args::try_parse_from(&arguments) {
        Ok(args) => args,
        Err(error) => return refuse_arguments(&error, &arguments),
    };
    match execute(args.command.unwrap_or_default()) {
        Ok(output) => print(&output),
        Err(error) => {
            eprintln!("closework: {error}");
            error.exit_code()
        }
    }
}

/// The one place where what was printed leaves the program.
fn print(output: &str) -> ExitCode {
    use std::io::Write;
    match std::io::stdout().write_all(output.as_bytes()) {
        Ok(()) => ExitCode::SUCCESS,
        // Whoever read the output has gone (a pager that was closed): nothing is left to say.
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("closework: the result could not be printed: {error}");
            ExitCode::FAILURE
        }
    }
}

/// Help is a result; anything else that the parser says is a wrong command line, said in one sentence.
fn refuse_arguments(error: &clap::Error, arguments: &[OsString]) -> ExitCode {
    if !error.use_stderr() {
        return print(&error.render().to_string());
    }
    let typed: Vec<String> = arguments.iter().map(|word| word.to_string_lossy().into_owned()).collect();
    eprintln!("closework: {}", refusal::sentence(error, &typed));
    ExitCode::from(2)
}

fn execute(command: Command) -> Result<String, CliError> {
    match command {
        Command::Serve(args) => serve::run(&args).map(|()| String::new()),
        Command::Setup(args) => setup::run(&args),
        Command::Reach(args) => reach::run(&args),
        Command::Plan(args) => plan::run(&args),
        Command::TestRoll(args) => test_roll::run(&args),
        Command::Exposure(args) => exposure::run(&args),
        Command::Flash(args) => flash::run(&args),
        Command::Films(args) => films::run(&args),
        Command::Calibrate(args) => calibrate::run(&args),
        Command::Target(args) => target::run(&args),
        Command::Pocket(args) => pocket::run(&args),
        Command::Measure(Measure::Edge(args)) => measure::edge(&args),
        Command::Measure(Measure::Scale(args)) => measure::scale(&args),
        Command::Measure(Measure::Frame(args)) => measure_frame::run(&args),
        Command::Bench(Bench::Forms(args)) => bench::forms(&args),
        Command::Bench(Bench::SetUp(args)) => bench::set_up(&args),
        Command::Bench(Bench::Kit(args)) => bench::kit(&args),
        Command::Bench(Bench::Measured(args)) => bench_measured::measured(&args),
        Command::Bench(Bench::Fit(args)) => bench_measured::best(&args),
        Command::Verdict(args) => verdict::run(&args),
        Command::Report(args) => report::run(&args),
        Command::Sidecars(args) => records::sidecars(&args),
        Command::Frames(Frames::Out(args)) => records::out(&args),
        Command::Frames(Frames::In(args)) => records::read_in(&args),
        Command::Frames(Frames::Template(args)) => records::template(&args),
    }
}
