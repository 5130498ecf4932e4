//! One run of levels, report and text, for counting instructions: `once KIND
//! ROWS RUNS`. With 0 runs only the ascent is made.

use std::process::ExitCode;

use fivefig::forms::text;
use fivefig::issue::report;
use fivefig::levels;
use fivefig::model::{Form, Reach};

#[path = "flights.rs"]
#[allow(dead_code, reason = "shared with the benches")]
mod flights;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let number = |i: usize| words.get(i).and_then(|w| w.parse::<u32>().ok());
    let kind = match words.first().map(String::as_str) {
        Some("noisy") => flights::Kind::Noisy,
        Some("even") => flights::Kind::Even,
        Some("toothed") => flights::Kind::Toothed,
        _ => return ExitCode::from(2),
    };
    let (Some(rows), Some(runs)) = (number(1), number(2)) else {
        return ExitCode::from(2);
    };
    let (profile, context) = (flights::ascent(kind, rows.max(2)), flights::context());
    for _ in 0..runs {
        let chosen = levels::choose(&profile, &context.coding, &[], Reach::Whole);
        let coded = report::build(Form::Temp, &profile, chosen, &context, Reach::Whole)
            .map(|report| text::message(&report.value).map(|message| message.value.to_string()));
        if !matches!(std::hint::black_box(coded), Ok(Ok(_))) {
            return ExitCode::from(1);
        }
    }
    ExitCode::SUCCESS
}
