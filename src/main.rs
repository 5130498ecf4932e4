//! The `fivefig` command: parse, run, exit code.

use std::process::ExitCode;

/// A flight takes and gives back a thousand pages, which the allocator of the system
/// returns to the kernel each time.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    fivefig::app::cli::main()
}
