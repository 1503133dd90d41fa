//! The door: arguments in, exit status out.

use std::process::ExitCode;

fn main() -> ExitCode {
    steadyohm::cli::run()
}
