//! The `fivefig` command: parse, run, exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    fivefig::app::cli::main()
}
