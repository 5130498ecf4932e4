//! The rows of a radiosonde that falls after burst.

#[cfg(test)]
mod tests;

use super::tally::{Kind, Tally};
use super::{Numbered, ProfileError, ascent, axis_of, derive, is_aloft, observes};
use super::{tell_missing, usable, withhold};
use crate::model::finding::{Finding, Place, finding};
use crate::model::raw::{RawProfile, RawRow};
use crate::model::{Axis, Context, Form, Motion, Profile, Row};

/// Rows below the top that a descent needs at least.
const LEAST: usize = 2;

/// Makes the descent of a flight: the row at the top and what fell below it,
/// stored lowest first.
pub(super) fn build(
    raw: &RawProfile,
    context: &Context,
) -> Result<(Profile, Vec<Finding>), ProfileError> {
    let name = &raw.name;
    let axis = axis_of(Form::Descent, raw, context)?;
    if !raw.rows.iter().any(derive::observes) {
        return Err(ProfileError::NoObservation { name: name.clone() });
    }
    let mut tally = Tally::default();
    let top = top(&raw.rows, context, axis);
    let (before, fall) = raw.rows.split_at_checked(top).unwrap_or_default();
    for row in before {
        tally.add(Kind::BeforeDescent, row.line);
    }
    // The sonde comes down elsewhere: the ground of the station bounds nothing.
    let rows = usable(fall, context, None, axis, &mut tally);
    let mut rows = down(rows, axis, &mut tally);
    let below = rows.len().saturating_sub(1);
    if below < LEAST {
        return Err(ProfileError::NoDescent {
            name: name.clone(),
            rows: raw.rows.len(),
            kept: below,
            left_out: tally.left_out(),
        });
    }
    rows.reverse();
    ascent::sort_ties(&mut rows, axis);
    let mut rows: Vec<Row> = rows.into_iter().map(|r| r.row).collect();
    let mut findings = Vec::new();
    if rows.iter().all(|r| r.height_gpm.is_none()) {
        let place = Place::default().in_file(name);
        findings.push(finding!(DescentHeightMissing, place));
    }
    withhold::apply(&mut rows, &context.orders, &mut findings);
    let lowest = rows.first().and_then(|r| r.height_gpm);
    let profile = Profile {
        axis,
        motion: Motion::Falling,
        ends_aloft: lowest.is_none_or(|z| is_aloft(z, context)),
        descent: true,
        rows,
        derived: tally.derived(),
        ..Profile::default()
    };
    tell_missing(&profile, name, &mut findings);
    findings.extend(tally.findings(name, axis));
    Ok((profile, findings))
}

/// Where the descent begins: the last row of least pressure (or of greatest
/// height) that observes anything, so that a balloon that floats at the top ends
/// its float first.
fn top(rows: &[RawRow], context: &Context, axis: Axis) -> usize {
    let mut top = 0;
    let mut highest = f64::NEG_INFINITY;
    for (i, row) in rows.iter().enumerate() {
        let up = match axis {
            Axis::Pressure => row.pressure_hpa.map(|p| -p),
            Axis::Height => derive::height_gpm(row, context.station.latitude_deg),
        };
        if let Some(up) = up.filter(|&up| up >= highest)
            && row.time_s.is_none_or(|t| t >= 0.0)
            && derive::observes(row)
        {
            (top, highest) = (i, up);
        }
    }
    top
}

/// The rows, from the top down, whose pressure is not below any earlier one (or
/// whose height is below every earlier one), up to the last that observes
/// anything.
fn down(rows: Vec<Numbered>, axis: Axis, tally: &mut Tally) -> Vec<Numbered> {
    let mut kept: Vec<Numbered> = Vec::with_capacity(rows.len());
    let mut lowest = f64::NEG_INFINITY;
    for numbered in rows {
        // Falls along an ascent, so rises along a descent.
        let Some(here) = numbered.falling(axis) else {
            continue;
        };
        if here > lowest || (here == lowest && axis == Axis::Pressure) {
            lowest = here;
            kept.push(numbered);
        } else {
            tally.add(Kind::PressureFalls, numbered.line);
        }
    }
    let end = kept.iter().rposition(|r| observes(&r.row));
    for gone in kept.drain(end.map_or(0, |i| i + 1)..) {
        tally.add(Kind::NothingBelow, gone.line);
    }
    kept
}
