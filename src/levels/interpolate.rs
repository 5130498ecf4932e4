//! Values between rows, linear in the vertical coordinate, and not across more
//! than the bridging limits.

use super::column::{Column, components, wind_from_components};
use crate::sounding::{Position, Profile, Row, Wind};
use crate::tables::limits;

/// The rows around a coordinate that have an element, with the weight of the
/// upper one.
struct Bracket {
    low: usize,
    high: usize,
    weight: f64,
}

impl Bracket {
    fn of(&self, values: &[f64]) -> Option<f64> {
        let (low, high) = (*values.get(self.low)?, *values.get(self.high)?);
        Some(low + (high - low) * self.weight)
    }
}

/// The nearest rows below and above `x` for which `present` holds.
fn bracket(column: &Column, x: f64, present: impl Fn(usize) -> bool) -> Option<Bracket> {
    let above = column.x.partition_point(|&c| c < x);
    let high = (above..column.len()).find(|&k| present(k))?;
    let x_high = *column.x.get(high)?;
    if x_high <= x {
        return Some(Bracket {
            low: high,
            high,
            weight: 0.0,
        });
    }
    let low = (0..above).rev().find(|&k| present(k))?;
    let x_low = *column.x.get(low)?;
    Some(Bracket {
        low,
        high,
        weight: (x - x_low) / (x_high - x_low),
    })
}

/// Whether a stretch between two rows may be bridged.
fn bridged(column: &Column, b: &Bracket, gpm: f64, hpa: f64) -> bool {
    let span = |c: &[f64]| match (c.get(b.low), c.get(b.high)) {
        (Some(low), Some(high)) => (high - low).abs(),
        _ => f64::INFINITY,
    };
    // A missing height or pressure decides nothing.
    let within = |span: f64, limit: f64| span.is_nan() || span <= limit;
    within(span(&column.z), gpm) && within(span(&column.p), hpa)
}

/// Wind at a coordinate, by its components.
pub(crate) fn wind_at(column: &Column, x: f64) -> Option<Wind> {
    let lim = limits();
    let has = |k: usize| column.speed.get(k).is_some_and(|s| s.is_finite());
    let b = bracket(column, x, has)?;
    if !bridged(column, &b, lim.bridge_wind_gpm, lim.bridge_wind_hpa) {
        return None;
    }
    let wind = |k: usize| {
        Some(Wind {
            dir_deg: *column.dir.get(k)?,
            speed_ms: *column.speed.get(k)?,
        })
    };
    if b.low == b.high {
        return wind(b.low);
    }
    let (u0, v0) = components(wind(b.low)?);
    let (u1, v1) = components(wind(b.high)?);
    Some(wind_from_components(
        u0 + (u1 - u0) * b.weight,
        v0 + (v1 - v0) * b.weight,
    ))
}

/// A row at a coordinate: every element that can be interpolated there
/// (decision of the trade for the limits: common practice, no source).
pub(crate) fn row_at(profile: &Profile, column: &Column, x: f64, pressure_hpa: f64) -> Row {
    let lim = limits();
    let element = |values: &[f64], gpm: f64, hpa: f64| {
        let has = |k: usize| values.get(k).is_some_and(|v| v.is_finite());
        bracket(column, x, has)
            .filter(|b| bridged(column, b, gpm, hpa))
            .and_then(|b| b.of(values))
    };
    let thermal = |values: &[f64]| element(values, lim.bridge_thermal_gpm, lim.bridge_thermal_hpa);
    let rows = &profile.rows;
    let timed = |k: usize| rows.get(k).is_some_and(|r| r.time_s.is_some());
    let placed = |k: usize| rows.get(k).is_some_and(|r| r.place.is_some());
    let time_s = bracket(column, x, timed).and_then(|b| {
        let (low, high) = (rows.get(b.low)?.time_s?, rows.get(b.high)?.time_s?);
        Some(low + (high - low) * b.weight)
    });
    let place = bracket(column, x, placed).and_then(|b| {
        let (low, high) = (rows.get(b.low)?.place?, rows.get(b.high)?.place?);
        let east = super::column::shorter_arc(high.longitude_deg - low.longitude_deg);
        Some(Position {
            latitude_deg: low.latitude_deg + (high.latitude_deg - low.latitude_deg) * b.weight,
            longitude_deg: super::column::shorter_arc(low.longitude_deg + east * b.weight),
        })
    });
    Row {
        time_s,
        pressure_hpa: Some(pressure_hpa),
        height_gpm: element(&column.z, lim.bridge_wind_gpm, lim.bridge_wind_hpa),
        temperature_c: thermal(&column.t),
        dewpoint_c: thermal(&column.td),
        humidity_pct: thermal(&column.u),
        wind: wind_at(column, x),
        place,
        given: crate::sounding::Roles::NONE,
    }
}
