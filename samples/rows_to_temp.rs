//! Rows in a `Vec` become a TEMP message: `cargo run --example rows_to_temp`.
//!
//! The message goes to standard output; the levels with the rules that chose them, and
//! the findings, to standard error. Station and flight are invented.
#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a program prints"
)]

use fivefig::prelude::*;

/// Time, s; pressure, hPa; temperature, °C; relative humidity, %; wind direction, degrees;
/// wind speed, m/s.
const FLIGHT: &[[f64; 6]] = &[
    [0.0, 1004.3, 4.5, 73.0, 230.0, 5.8],
    [60.0, 966.1, 2.0, 80.0, 236.0, 8.9],
    [120.0, 929.0, -0.4, 88.0, 241.0, 11.5],
    [180.0, 893.2, -2.7, 94.0, 245.0, 12.6],
    [220.0, 870.4, -4.1, 97.0, 246.0, 12.9],
    [250.0, 853.6, -0.6, 41.0, 252.0, 14.8],
    [300.0, 826.3, -1.5, 33.0, 256.0, 16.2],
    [420.0, 763.5, -5.0, 29.0, 260.0, 18.8],
    [600.0, 676.2, -10.7, 35.0, 263.0, 23.1],
    [900.0, 548.0, -21.4, 44.0, 266.0, 31.0],
    [1200.0, 440.7, -33.2, 38.0, 268.0, 39.6],
    [1500.0, 351.0, -44.9, 31.0, 270.0, 48.4],
    [1700.0, 299.3, -53.0, 24.0, 271.0, 55.2],
    [1800.0, 275.8, -56.6, 18.0, 271.0, 52.7],
    [2100.0, 215.9, -56.1, 9.0, 273.0, 40.1],
    [2400.0, 169.2, -57.3, 6.0, 275.0, 31.5],
    [2700.0, 132.4, -58.8, 4.0, 277.0, 26.0],
];

/// The rows of the flight above.
pub fn rows() -> Vec<RawRow> {
    let row = |values: &[f64; 6]| {
        let [
            time_s,
            pressure_hpa,
            temperature_c,
            humidity_pct,
            wind_dir_deg,
            wind_speed_ms,
        ] = values.map(Some);
        RawRow {
            time_s,
            pressure_hpa,
            temperature_c,
            humidity_pct,
            wind_dir_deg,
            wind_speed_ms,
            ..RawRow::default()
        }
    };
    FLIGHT.iter().map(row).collect()
}

/// What is known of station and flight besides the rows.
pub fn context() -> Result<Context, Error> {
    let station = Station::land(WmoNumber::new(99, 11)?, Position::new(51.25, -3.4)?, 84.0);
    Ok(Context::new(station, "2031-01-15T11:23:40Z".parse()?))
}

/// Prints the message, the levels and the findings.
pub fn main() -> Result<(), Error> {
    let report = Ascent::from_rows(rows(), &context()?)?.report(Form::Temp)?;
    print!("{}", report.text()?);
    for level in report.levels() {
        let pressure_hpa = level.row.pressure_hpa.unwrap_or(f64::NAN);
        for reason in &level.why {
            eprintln!(
                "{pressure_hpa:7.1} hPa  {}  [{}]",
                reason.text(),
                reason.clause()
            );
        }
    }
    for finding in report.findings() {
        eprintln!("{finding}");
    }
    Ok(())
}
