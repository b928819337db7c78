//! The binary: parses, calls, maps to an exit status.

use std::process::ExitCode;

fn main() -> ExitCode {
    closework::cli::run(std::env::args_os())
}
