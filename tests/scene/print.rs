//! An ascent as delimited text, with the decimals a ground system prints.

use std::fmt::Write as _;

use super::{Row, Scene};

/// The names of the columns.
pub const HEADER: &str = "time_s,pressure_hpa,height_gpm,temperature_c,humidity_pct,\
                          wind_dir_deg,wind_speed_ms,latitude_deg,longitude_deg";

/// The whole file.
pub fn file(scene: &Scene) -> String {
    let mut text = format!(
        "# invented station, invented flight: {}\n\
         # invented station, invented flight: written by tests/generate.rs, measured by no one\n\
         {HEADER}\n",
        scene.about
    );
    for row in scene.rows() {
        line(&mut text, &row);
    }
    text
}

fn line(text: &mut String, row: &Row) {
    let cells = [
        fixed(Some(row.pressure_hpa), 2),
        fixed(Some(row.height_gpm), 1),
        fixed(row.temperature_c, 2),
        fixed(row.humidity_pct, 1),
        fixed(row.wind.map(|wind| wind.dir_deg), 1),
        fixed(row.wind.map(|wind| wind.speed_ms), 2),
        fixed(row.place.map(|place| place.latitude_deg), 5),
        fixed(row.place.map(|place| place.longitude_deg), 5),
    ];
    writeln!(text, "{},{}", row.time_s, cells.join(",")).expect("a string takes all");
}

/// So many decimals, no negative zero, nothing for a missing value.
fn fixed(value: Option<f64>, decimals: usize) -> String {
    let Some(value) = value else {
        return String::new();
    };
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().all(|b| matches!(b, b'0' | b'.')) => digits.to_owned(),
        _ => text,
    }
}

/// Reads such a file back: the rows as printed.
pub fn read(text: &str) -> Vec<Row> {
    text.lines()
        .filter(|line| !line.starts_with('#') && *line != HEADER)
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            assert_eq!(cells.len(), 9, "nine cells: {line}");
            let number = |i: usize| -> Option<f64> {
                let cell = cells.get(i).copied().unwrap_or_default();
                (!cell.is_empty()).then(|| cell.parse().expect("a number"))
            };
            let both = |i: usize| number(i).zip(number(i + 1));
            Row {
                time_s: cells.first().and_then(|c| c.parse().ok()).expect("a time"),
                pressure_hpa: number(1).expect("a pressure"),
                height_gpm: number(2).expect("a height"),
                temperature_c: number(3),
                humidity_pct: number(4),
                wind: both(5).map(|(dir_deg, speed_ms)| super::Wind { dir_deg, speed_ms }),
                place: both(7).map(|(latitude_deg, longitude_deg)| super::Place {
                    latitude_deg,
                    longitude_deg,
                }),
            }
        })
        .collect()
}
