//! Values between rows, linear in the vertical coordinate, and not across a gap.

use super::column::{Column, components, finite, wind_from_components};
use crate::model::{Position, Profile, Row, Wind};
use crate::physics::angles::shorter_arc;
use crate::profile::gaps::Lost;

/// The rows around a coordinate that have an element, with the weight of the
/// upper one.
struct Bracket {
    low: usize,
    high: usize,
    weight: f64,
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

/// Wind at a coordinate, by its components.
pub(crate) fn wind_at(column: &Column, x: f64) -> Option<Wind> {
    let has = |k: usize| finite(&column.speed, k).is_some();
    let b = bracket(column, x, has)?;
    if column.is_gap(Lost::Wind, &column.speed, b.low, b.high) {
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
    let element = |lost: Lost, value: &dyn Fn(usize) -> Option<f64>| {
        let has = |k: usize| value(k).is_some();
        let b = bracket(column, x, has)?;
        if column.is_gap_of(lost, &has, b.low, b.high) {
            return None;
        }
        let (low, high) = (value(b.low)?, value(b.high)?);
        Some(low + (high - low) * b.weight)
    };
    let of = |values: &[f64], lost: Lost| element(lost, &|k| finite(values, k));
    let rows = &profile.rows;
    let timed = |k: usize| rows.get(k).is_some_and(|r| r.time_s.is_some());
    let placed = |k: usize| rows.get(k).is_some_and(|r| r.place.is_some());
    let time_s = bracket(column, x, timed).and_then(|b| {
        let (low, high) = (rows.get(b.low)?.time_s?, rows.get(b.high)?.time_s?);
        Some(low + (high - low) * b.weight)
    });
    let highest = column.last_place.and_then(|row| column.x.get(row));
    let around = highest.is_some_and(|&highest| x <= highest);
    let around = around.then(|| bracket(column, x, placed)).flatten();
    let place = around.and_then(|b| {
        let (low, high) = (rows.get(b.low)?.place?, rows.get(b.high)?.place?);
        let east = shorter_arc(high.longitude_deg - low.longitude_deg);
        Some(Position {
            latitude_deg: low.latitude_deg + (high.latitude_deg - low.latitude_deg) * b.weight,
            longitude_deg: shorter_arc(low.longitude_deg + east * b.weight),
        })
    });
    Row {
        time_s,
        pressure_hpa: Some(pressure_hpa),
        height_gpm: of(&column.z, Lost::Wind),
        temperature_c: of(&column.t, Lost::Thermal),
        dewpoint_c: element(Lost::Thermal, &|k| column.dewpoint_c(k)),
        humidity_pct: of(&column.u, Lost::Thermal),
        wind: wind_at(column, x),
        place,
        given: crate::model::Roles::empty(),
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::model::{Axis, Coding};

    /// Rows every 1000 gpm: times 0, 200, 500 s; places across the date line.
    fn profile() -> Profile {
        let rows = [
            (0.0, 0.0, 179.4),
            (200.0, 1000.0, 179.8),
            (500.0, 2000.0, -179.4),
        ];
        let row = |(time_s, height, east): (f64, f64, f64)| Row {
            time_s: Some(time_s),
            height_gpm: Some(height),
            wind: Some(Wind {
                dir_deg: 270.0,
                speed_ms: 10.0,
            }),
            place: Some(Position {
                latitude_deg: height / 1000.0,
                longitude_deg: east,
            }),
            ..Row::default()
        };
        Profile {
            axis: Axis::Height,
            rows: rows.into_iter().map(row).collect(),
            ..Profile::default()
        }
    }

    fn between(profile: &Profile, height_gpm: f64) -> Row {
        let column = Column::new(profile, &Coding::default());
        row_at(profile, &column, height_gpm, 900.0)
    }

    #[test]
    fn time_and_place_are_linear_between_rows() {
        let profile = profile();
        // A quarter of the way: 50 s, 0.25°, 179.4° + 0.1°.
        let row = between(&profile, 250.0);
        assert_eq!(row.time_s, Some(50.0));
        let place = row.place.unwrap();
        assert_eq!(place.latitude_deg, 0.25);
        assert_abs_diff_eq!(place.longitude_deg, 179.5, epsilon = 1e-9);
        // On a row, what the row has.
        let row = between(&profile, 1000.0);
        assert_eq!(
            (row.time_s, row.place),
            (Some(200.0), profile.rows[1].place)
        );
    }

    #[test]
    fn the_lowest_rows_alone_have_the_same_places() {
        let profile = profile();
        let column = Column::new(&profile, &Coding::default()).up_to(2);
        let place = |height| row_at(&profile, &column, height, 900.0).place;
        assert_eq!(place(250.0), between(&profile, 250.0).place);
        assert!(place(250.0).is_some() && place(1500.0).is_none());
    }

    #[test]
    fn the_shorter_way_across_180_degrees() {
        // From 179.8° to -179.4° are 0.8°: a half is -179.8°, a quarter 180°.
        let profile = profile();
        let east = |height| between(&profile, height).place.unwrap().longitude_deg;
        assert!((east(1500.0) + 179.8).abs() < 1e-9);
        assert_abs_diff_eq!(east(1250.0).abs(), 180.0, epsilon = 1e-9);
        assert!((east(1750.0) + 179.6).abs() < 1e-9);
        let mut other = profile.clone();
        for place in other.rows.iter_mut().filter_map(|r| r.place.as_mut()) {
            place.longitude_deg = -place.longitude_deg;
        }
        let west = between(&other, 1500.0).place.unwrap().longitude_deg;
        assert_abs_diff_eq!(west, 179.8, epsilon = 1e-9);
    }

    #[test]
    fn rows_without_time_or_place_are_stepped_over() {
        let mut profile = profile();
        profile.rows[1].time_s = None;
        profile.rows[1].place = None;
        // Of 500 s and of 1.2° three tenths; latitude 0.6°.
        let row = between(&profile, 600.0);
        assert_abs_diff_eq!(row.time_s.unwrap(), 150.0, epsilon = 1e-9);
        let place = row.place.unwrap();
        assert_abs_diff_eq!(place.latitude_deg, 0.6, epsilon = 1e-9);
        assert_abs_diff_eq!(place.longitude_deg, 179.76, epsilon = 1e-9);
        // None above the last row that has them.
        profile.rows[2].time_s = None;
        profile.rows[2].place = None;
        let row = between(&profile, 600.0);
        assert_eq!((row.time_s, row.place), (None, None));
    }
}
