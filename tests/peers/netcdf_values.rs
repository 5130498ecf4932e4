//! The rows of NetCDF profiles as JSON, for comparison with another reader.
//!
//! `netcdf_values FILE [NUMBER] [SHEET]` prints an object: `start` (or null),
//! `columns` (those with a value somewhere), `rows` (one list per row, null for
//! missing), `variables` (name, what it is interpreted as, values present), `sheet` and
//! `findings`; a file that is refused gives `{"error": "…"}`.

use std::process::ExitCode;

use fivefig::input;
use fivefig::input::sheet;
use fivefig::input::{Format, RawRow};
use fivefig::model::Reading;
use serde_json::{Value, json};

type Get = fn(&RawRow) -> Option<f64>;

const COLUMNS: &[(&str, Get)] = &[
    ("time_s", |r| r.time_s),
    ("pressure_hpa", |r| r.pressure_hpa),
    ("height_gpm", |r| r.height_gpm),
    ("altitude_m", |r| r.altitude_m),
    ("temperature_c", |r| r.temperature_c),
    ("humidity_pct", |r| r.humidity_pct),
    ("dewpoint_c", |r| r.dewpoint_c),
    ("wind_dir_deg", |r| r.wind_dir_deg),
    ("wind_speed_ms", |r| r.wind_speed_ms),
    ("wind_u_ms", |r| r.wind_u_ms),
    ("wind_v_ms", |r| r.wind_v_ms),
    ("latitude_deg", |r| r.latitude_deg),
    ("longitude_deg", |r| r.longitude_deg),
];

fn read(words: &[String]) -> Result<Value, Box<dyn std::error::Error>> {
    let path = words.first().ok_or("netcdf_values FILE [NUMBER] [SHEET]")?;
    let number = words.get(1).map(|n| n.parse()).transpose()?;
    let number = Some(number.unwrap_or(0)).filter(|n| *n > 0);
    let reading = match words.get(2) {
        None => Reading::default(),
        Some(path) => {
            let text = std::fs::read_to_string(path)?;
            let source = sheet::Source {
                name: path,
                text: &text,
            };
            sheet::reading(&[source])?
        }
    };
    let bytes = std::fs::read(path)?;
    let contents = input::read(&bytes, path, Format::NetCdf, number, &reading)?;
    let rows = &contents.raw.rows;
    let there = |get: &Get| rows.iter().any(|r| get(r).is_some());
    let used: Vec<_> = COLUMNS.iter().filter(|(_, get)| there(get)).collect();
    let cells: Vec<Vec<Option<f64>>> = (rows.iter())
        .map(|row| used.iter().map(|(_, get)| get(row)).collect())
        .collect();
    let variables: Vec<Value> = (contents.columns.iter())
        .map(|t| json!([t.column, t.ours.map(|o| o.0), t.present]))
        .collect();
    let findings = contents.findings.iter().map(ToString::to_string);
    Ok(json!({
        "start": contents.raw.start.map(|s| s.to_string()),
        "columns": used.iter().map(|(name, _)| *name).collect::<Vec<_>>(),
        "rows": cells,
        "variables": variables,
        "sheet": contents.sheet,
        "findings": findings.collect::<Vec<_>>(),
    }))
}

#[expect(clippy::print_stdout, reason = "this is what it is for")]
fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let stated = read(&words).unwrap_or_else(|e| json!({ "error": e.to_string() }));
    println!("{stated}");
    ExitCode::SUCCESS
}
