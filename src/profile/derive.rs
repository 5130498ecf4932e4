//! What follows from the values of one row.

use super::tally::{Kind, Tally};
use crate::model::raw::RawRow;
use crate::model::{Row, Wind};
use crate::physics::gravity::{MIDDLE_LATITUDE_DEG, geopotential_gpm};
use crate::physics::humidity::{dewpoint_c, relative_humidity_pct};

/// Humidity and dew point that disagree by more are reported, K.
const DISAGREE_K: f64 = 0.5;
/// A dew point this far above the temperature is rounding, K.
const SATURATION_K: f64 = 0.05;

/// Most humidity over water that a sensor gives, %: more is no humidity over water
/// (our own choice).
const MOST_PCT: f64 = 105.0;

/// Whether the file observes anything in a row.
pub(super) fn observes(raw: &RawRow) -> bool {
    [
        raw.temperature_c,
        raw.humidity_pct,
        raw.dewpoint_c,
        raw.wind_dir_deg,
        raw.wind_speed_ms,
        raw.wind_u_ms,
        raw.wind_v_ms,
    ]
    .iter()
    .any(Option::is_some)
}

/// Geopotential of a row: as given, or else from the geometric height with
/// gravity at the row's latitude or the station's.
pub(super) fn height_gpm(raw: &RawRow, station_deg: Option<f64>) -> Option<f64> {
    let latitude = raw.latitude_deg.or(station_deg);
    let latitude = latitude.unwrap_or(MIDDLE_LATITUDE_DEG);
    raw.height_gpm
        .or_else(|| raw.altitude_m.map(|m| geopotential_gpm(m, latitude)))
}

/// A row with every element that follows from the others.
pub(super) fn row(raw: &RawRow, height_gpm: Option<f64>, tally: &mut Tally) -> Row {
    if raw.height_gpm.is_none() && height_gpm.is_some() {
        tally.add(Kind::AltitudeUsed, raw.line);
    }
    let mut row = Row {
        time_s: raw.time_s,
        pressure_hpa: raw.pressure_hpa,
        height_gpm,
        temperature_c: raw.temperature_c,
        dewpoint_c: raw.dewpoint_c,
        humidity_pct: raw.humidity_pct,
        wind: wind(raw, tally),
        place: raw.place(),
        given: raw.flags,
    };
    humidity(&mut row, raw.line, tally);
    row
}

/// Direction and speed as given, or else from the components.
/// Whether a raw row has a whole wind.
pub(super) fn has_wind(raw: &RawRow) -> bool {
    (raw.wind_dir_deg.is_some() && raw.wind_speed_ms.is_some())
        || (raw.wind_u_ms.is_some() && raw.wind_v_ms.is_some())
}

fn wind(raw: &RawRow, tally: &mut Tally) -> Option<Wind> {
    let polar = (raw.wind_dir_deg, raw.wind_speed_ms);
    if let Some(wind) = raw.wind() {
        return Some(wind);
    }
    match (raw.wind_u_ms, raw.wind_v_ms) {
        (Some(u), Some(v)) => {
            tally.add(Kind::ComponentsUsed, raw.line);
            Some(Wind::from_components_ms(u, v))
        }
        (None, None) if polar == (None, None) => None,
        _ => {
            tally.add(Kind::WindIncomplete, raw.line);
            None
        }
    }
}

/// Humidity without its temperature is no observation; otherwise humidity follows from the
/// dew point where it is missing. A dew point that is missing is made where it is asked for.
fn humidity(row: &mut Row, line: usize, tally: &mut Tally) {
    let Some(t) = row.temperature_c else {
        if row.humidity_pct.take().is_some() | row.dewpoint_c.take().is_some() {
            tally.add(Kind::HumidityAlone, line);
        }
        return;
    };
    if row.humidity_pct.is_some_and(|u| u > MOST_PCT) {
        tally.add(Kind::HumidityOver105, line);
        row.humidity_pct = None;
    }
    if row.humidity_pct.is_some_and(|u| u > 100.0) {
        tally.add(Kind::Supersaturated, line);
        row.humidity_pct = Some(100.0);
    }
    match (row.humidity_pct, row.dewpoint_c) {
        (Some(_), None) => tally.add(Kind::HumidityUsed, line),
        (None, Some(td)) => {
            tally.add(Kind::DewpointUsed, line);
            if td > t + SATURATION_K {
                tally.add(Kind::DewpointAbove, line);
            }
        }
        (Some(u), Some(td))
            if dewpoint_c(t, u).is_some_and(|own| (own - td).abs() > DISAGREE_K) =>
        {
            tally.add(Kind::Disagree, line);
        }
        _ => {}
    }
    complete_humidity(row);
}

/// Humidity from the dew point where there is none.
pub(super) fn complete_humidity(row: &mut Row) {
    if let (Some(t), None, Some(td)) = (row.temperature_c, row.humidity_pct, row.dewpoint_c) {
        row.humidity_pct = Some(relative_humidity_pct(t, td).min(100.0));
    }
}
