//! Whether rows are a profile: their order and their values.

use thiserror::Error;

use crate::input::{RawRow, out_of_bounds, raw_out_of_bounds};
use crate::model::{Axis, Profile, Row};

/// What is wrong with the rows of a profile, or with the levels chosen from it;
/// both are counted from 1, lowest first.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum RowFault {
    /// Too few.
    #[error("the profile has {rows} row(s); at least 2 are needed, give the complete ascent")]
    TooFew {
        /// How many there are.
        rows: usize,
    },
    /// Without the coordinate of the axis.
    #[error("{noun} {number} has no {coordinate}; every {noun} needs it")]
    NoCoordinate {
        /// `row` or `level`.
        noun: &'static str,
        /// Its number.
        number: usize,
        /// The coordinate of the axis.
        coordinate: &'static str,
    },
    /// Not in order.
    #[error(
        "{noun} {number}: {coordinate} {value} after {before}; {noun}s are given lowest first, so that {coordinate} {}",
        direction(.coordinate)
    )]
    Order {
        /// `row` or `level`.
        noun: &'static str,
        /// Its number.
        number: usize,
        /// The coordinate of the axis.
        coordinate: &'static str,
        /// Its value.
        value: f64,
        /// The value before it.
        before: f64,
    },
    /// A value out of its bounds.
    #[error("{noun} {number}: {element} is {value}; {allowed}")]
    OutOfBounds {
        /// `row` or `level`.
        noun: &'static str,
        /// Its number.
        number: usize,
        /// The element, as the columns of a profile are named.
        element: &'static str,
        /// The value.
        value: f64,
        /// The bounds, in words.
        allowed: String,
    },
}

const PRESSURE: &str = "pressure_hpa";
const HEIGHT: &str = "height_gpm";

fn direction(coordinate: &str) -> &'static str {
    if coordinate == PRESSURE {
        "never rises"
    } else {
        "never falls"
    }
}

/// Checks what [`Profile`] promises of its rows: at least two, each with the
/// coordinate of the axis, lowest first, every value within the bounds that the
/// readers of profiles have.
///
/// # Errors
/// The first row that is at fault.
pub fn check_rows(profile: &Profile) -> Result<(), RowFault> {
    let rows = profile.rows.len();
    if rows < 2 {
        return Err(RowFault::TooFew { rows });
    }
    in_bounds("row", &profile.rows)?;
    in_order("row", profile.axis, &profile.rows, true)
}

/// Checks that levels stand lowest first along an axis of pressure.
///
/// # Errors
/// The first level that is at fault.
pub(crate) fn check_levels<'a>(
    axis: Axis,
    levels: impl IntoIterator<Item = &'a Row>,
) -> Result<(), RowFault> {
    match axis {
        Axis::Pressure => in_order("level", axis, levels, false),
        // Heights of standard surfaces are of another kind there.
        Axis::Height => Ok(()),
    }
}

/// Checks that every value of rows that a program gives is within the bounds that the
/// readers of profiles have.
///
/// # Errors
/// The first row that is at fault.
pub(crate) fn check_raw(rows: &[RawRow]) -> Result<(), RowFault> {
    first_out_of_bounds("row", rows.iter().map(raw_out_of_bounds))
}

fn in_bounds<'a>(
    noun: &'static str,
    rows: impl IntoIterator<Item = &'a Row>,
) -> Result<(), RowFault> {
    first_out_of_bounds(noun, rows.into_iter().map(out_of_bounds))
}

/// The first of the values out of bounds, one of each row at most.
fn first_out_of_bounds(
    noun: &'static str,
    rows: impl IntoIterator<Item = Option<(&'static str, f64, String)>>,
) -> Result<(), RowFault> {
    for (at, out) in rows.into_iter().enumerate() {
        if let Some((element, value, allowed)) = out {
            return Err(RowFault::OutOfBounds {
                noun,
                number: at + 1,
                element,
                value,
                allowed,
            });
        }
    }
    Ok(())
}

fn in_order<'a>(
    noun: &'static str,
    axis: Axis,
    rows: impl IntoIterator<Item = &'a Row>,
    required: bool,
) -> Result<(), RowFault> {
    let coordinate = match axis {
        Axis::Pressure => PRESSURE,
        Axis::Height => HEIGHT,
    };
    let mut last: Option<f64> = None;
    for (at, row) in rows.into_iter().enumerate() {
        let value = match axis {
            Axis::Pressure => row.pressure_hpa,
            Axis::Height => row.height_gpm,
        };
        let number = at + 1;
        let Some(value) = value else {
            if required {
                return Err(RowFault::NoCoordinate {
                    noun,
                    number,
                    coordinate,
                });
            }
            continue;
        };
        let up = |before: f64| match axis {
            Axis::Pressure => value <= before,
            Axis::Height => value >= before,
        };
        if let Some(before) = last.filter(|&before| !up(before)) {
            return Err(RowFault::Order {
                noun,
                number,
                coordinate,
                value,
                before,
            });
        }
        last = Some(value);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn profile(pressures: &[f64]) -> Profile {
        let row = |&p: &f64| Row {
            pressure_hpa: Some(p),
            ..Row::default()
        };
        Profile {
            rows: pressures.iter().map(row).collect(),
            ..Profile::default()
        }
    }

    fn reported(profile: &Profile) -> String {
        check_rows(profile).map_or_else(|fault| fault.to_string(), |()| String::new())
    }

    #[test]
    fn rows_that_run_downwards_are_refused() {
        assert_eq!(reported(&profile(&[1000.0, 900.0, 900.0])), "");
        assert_eq!(
            reported(&profile(&[800.0, 700.0, 900.0])),
            "row 3: pressure_hpa 900 after 700; rows are given lowest first, so that \
             pressure_hpa never rises"
        );
        assert_eq!(
            reported(&profile(&[800.0])),
            "the profile has 1 row(s); at least 2 are needed, give the complete ascent"
        );
        let by_height = Profile {
            axis: Axis::Height,
            ..profile(&[900.0, 800.0])
        };
        assert_eq!(
            reported(&by_height),
            "row 1 has no height_gpm; every row needs it"
        );
    }

    #[test]
    fn values_no_atmosphere_has_are_refused() {
        let mut hot = profile(&[1000.0, 900.0]);
        hot.rows[1].temperature_c = Some(75.0);
        assert_eq!(
            reported(&hot),
            "row 2: temperature_c is 75; -120 to 60 °C is allowed"
        );
        let mut none = profile(&[1000.0, f64::NAN]);
        assert!(reported(&none).starts_with("row 2: pressure_hpa is NaN; more than 0"));
        none.rows[1].pressure_hpa = Some(f64::INFINITY);
        assert!(reported(&none).starts_with("row 2: pressure_hpa is inf"));
    }
}
