//! The levels of a report as one sounding of an IGRA v2 station file, for an archive.
//!
//! The format is that of the open description "IGRA v2 sounding data format" (NOAA/NCEI,
//! its columns from memory; see [`crate::input::igra`]). Values are rounded to its steps: 1 Pa,
//! 1 m, 0.1 °C, 0.1 %, 1°, 0.1 m/s. The flags of quality and the sources of data, which
//! its own processing assigns, are blank. Levels stand from the ground up. The identifier of a station is `ZZM000` and its
//! WMO number, or `ZZV` and the call sign: the country of a station is in no sheet.

use std::fmt::Write as _;

use thiserror::Error;

use crate::model::{Level, Report, Roles, When};

/// Why a report is no sounding of a station file.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum NotWritten {
    /// Neither a number nor a call sign.
    #[error("a station file needs a WMO number or a call sign; give it under [station]")]
    NoStation,
    /// The position is not known.
    #[error(
        "a station file needs the position of the station; give latitude_deg and longitude_deg under [station]"
    )]
    NoPosition,
    /// The time of release is not known.
    #[error("a station file needs the release; give release under [flight]")]
    NoRelease,
    /// A value has more figures than its columns.
    #[error("{what} {value} does not fit the columns of a station file")]
    TooLong {
        /// What it is.
        what: &'static str,
        /// The value in the step of the format.
        value: i64,
    },
}

/// The mark of a missing value.
const MISSING: i64 = -9999;
/// Figures of a station behind its country and network.
const ID: usize = 8;

/// The report as one sounding: a header record and a record for each level.
///
/// # Errors
/// See [`NotWritten`].
pub fn write(report: &Report) -> Result<String, NotWritten> {
    let station = &report.context.station;
    let id = match (station.wmo(), &station.call_sign) {
        (Some(wmo), _) => format!("ZZM{:0>ID$}", wmo.to_string()),
        (None, Some(sign)) if sign.len() <= ID => format!("ZZV{sign:0>ID$}"),
        _ => return Err(NotWritten::NoStation),
    };
    let place = station.latitude_deg.zip(station.longitude_deg);
    let (latitude, longitude) = place.ok_or(NotWritten::NoPosition)?;
    let When::Full { release, standard } = report.when else {
        return Err(NotWritten::NoRelease);
    };
    let count = i64::try_from(report.levels.len()).unwrap_or(i64::MAX);
    let ten_thousandths = |deg: f64| (deg * 10_000.0).round();
    let mut out = format!(
        "#{id} {} {} {} {}\n",
        standard.strftime("%Y %m %d %H"),
        release.strftime("%H%M"),
        field("the number of levels", count, 4)?,
        // Blank sources of pressure and of other levels.
        format_args!(
            "{:17} {} {}",
            "",
            field("latitude", whole(ten_thousandths(latitude)), 7)?,
            field("longitude", whole(ten_thousandths(longitude)), 8)?
        )
    );
    for level in &report.levels {
        record(&mut out, level)?;
    }
    Ok(out)
}

/// A number in the step of the format.
#[expect(
    clippy::cast_possible_truncation,
    reason = "a cast of floats saturates, and what is too long is refused"
)]
fn whole(value: f64) -> i64 {
    value.round() as i64
}

fn field(what: &'static str, value: i64, width: usize) -> Result<String, NotWritten> {
    let text = format!("{value:width$}");
    if text.len() > width {
        return Err(NotWritten::TooLong { what, value });
    }
    Ok(text)
}

/// The record of a level.
fn record(out: &mut String, level: &Level) -> Result<(), NotWritten> {
    let row = &level.row;
    let scaled = |value: Option<f64>, scale: f64| value.map_or(MISSING, |v| whole(v * scale));
    let kind = match row.pressure_hpa {
        Some(_) if level.roles.any(Roles::STANDARD) => 1,
        Some(_) => 2,
        None => 3,
    };
    let role = if level.roles.any(Roles::SURFACE) {
        1
    } else if level.roles.any(Roles::TROPOPAUSE) {
        2
    } else {
        0
    };
    // Minutes and seconds since release.
    let time = row.time_s.map_or(MISSING, |time_s| {
        let seconds = whole(time_s);
        seconds / 60 * 100 + seconds % 60
    });
    // Of the coded values, so that the dew point comes back to a tenth.
    let tenths = |value: f64| whole(value * 10.0);
    let depression = row.temperature_c.zip(row.dewpoint_c);
    let depression = depression.map_or(MISSING, |(t, td)| tenths(t) - tenths(td));
    let wind = row.wind;
    let _ = writeln!(
        out,
        "{kind}{role} {} {} {} {} {} {} {} {}",
        field("the time", time, 5)?,
        field("the pressure", scaled(row.pressure_hpa, 100.0), 6)?,
        field("the height", scaled(row.height_gpm, 1.0), 5)?,
        field("the temperature", scaled(row.temperature_c, 10.0), 5)?,
        field("the humidity", scaled(row.humidity_pct, 10.0), 5)?,
        field("the depression", depression, 5)?,
        field(
            "the wind direction",
            scaled(wind.map(|w| w.dir_deg), 1.0),
            5
        )?,
        field("the wind speed", scaled(wind.map(|w| w.speed_ms), 10.0), 5)?,
    );
    Ok(())
}
