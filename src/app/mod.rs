//! The command, the local page and unattended export: the only rooms that read and
//! write files, ask the clock or look at the environment.

pub mod cli;
#[cfg(feature = "desk")]
pub mod desk;
#[cfg(feature = "spool")]
pub mod spool;
