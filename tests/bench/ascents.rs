//! Writes an ascent for measuring as a file: `ascents KIND ROWS`.

use std::io::Write as _;
use std::process::ExitCode;

#[path = "flights.rs"]
#[allow(dead_code, reason = "shared with the benches")]
mod flights;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let rows = words.get(1).and_then(|w| w.parse::<u32>().ok());
    let kind = match words.first().map(String::as_str) {
        Some("noisy") => flights::Kind::Noisy,
        Some("even") => flights::Kind::Even,
        Some("random") => flights::Kind::Random,
        Some("toothed") => flights::Kind::Toothed,
        _ => return ExitCode::from(2),
    };
    let Some(rows) = rows else {
        return ExitCode::from(2);
    };
    let octets = flights::file(&flights::ascent(kind, rows.max(2)));
    match std::io::stdout().write_all(&octets) {
        Ok(()) => ExitCode::SUCCESS,
        Err(_) => ExitCode::from(3),
    }
}
