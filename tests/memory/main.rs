//! Memory that reading, choosing and writing take at most.

#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test stops at the first fault"
)]

use std::sync::{Mutex, PoisonError};

use peak_alloc::PeakAlloc;

mod bufr;
#[path = "../bench/flights.rs"]
#[allow(dead_code, reason = "shared with the benches")]
mod flights;
mod jsonl;
mod levels;
#[path = "../bench/soundings.rs"]
mod soundings;
mod traffic;

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

/// One is measured at a time, and nothing else is done then.
static ALONE: Mutex<()> = Mutex::new(());

/// The most memory that `work` holds at once beyond what there was, and what comes of it.
fn peak<T>(work: impl FnOnce() -> T) -> (usize, T) {
    let before = MEMORY.current_usage();
    MEMORY.reset_peak_usage();
    let made = work();
    (MEMORY.peak_usage().saturating_sub(before), made)
}

/// Keeps other measurements waiting for as long as the result lives.
fn alone() -> impl Drop {
    ALONE.lock().unwrap_or_else(PoisonError::into_inner)
}
