//! The `fivefig` command.
fn main() {}
