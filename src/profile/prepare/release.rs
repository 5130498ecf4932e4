//! When the balloon was let go: times count from there, rows before it go.

use jiff::civil::DateTime;

use super::Prepared;
use crate::model::finding::{counted, finding};
use crate::model::quantity::trim;
use crate::model::{Form, StationKind, utc};
use crate::profile::ProfileError;
use crate::tables::joining_limits;

/// File and sheet further apart are of two flights, s (our own choice: no ascent
/// lasts longer).
const OTHER_FLIGHT_S: f64 = 6.0 * 3600.0;

/// Counts times from release and leaves out what was before it.
///
/// Release is where the sheet orders it (`release_time_s`, a time of the file), or
/// where a sonde that stood before begins to rise (a drop: to fall). Else it is
/// where the file's times are 0; a file with dates counts from the sheet's release,
/// unless the balloon rises from the first row, which then is the release. Rows in
/// which the balloon rises are never interpreted as rows before release.
pub(super) fn from_release(
    prepared: &mut Prepared,
    heights: &[Option<f64>],
) -> Result<(), ProfileError> {
    if let Some(at) = prepared.context.meaning.release_time_s {
        if at != 0.0 {
            shift(prepared, at);
            let reported = finding!(ReleaseGiven, prepared.file(), time_s = at);
            prepared.findings.push(reported);
        }
    } else if let Some(row) = stands_until(prepared, heights) {
        against_sheet(prepared, row)?;
        leave_out(prepared, row);
    } else if prepared.raw.start.is_some() {
        by_date(prepared)?;
    } else {
        late_clock(prepared);
    }
    drop_before(prepared);
    Ok(())
}

/// Seconds from the sheet's release to time 0 of a file that says its date.
fn start_after_release(prepared: &Prepared) -> Option<f64> {
    let (start, release) = prepared.raw.start.zip(prepared.context.flight.release)?;
    Some(release.duration_until(start).as_secs_f64())
}

fn time_of(prepared: &Prepared, row: usize) -> Option<f64> {
    prepared.raw.rows.get(row).and_then(|r| r.time_s)
}

/// Holds a release found in a file with dates against the sheet's.
fn against_sheet(prepared: &mut Prepared, row: usize) -> Result<(), ProfileError> {
    let after = start_after_release(prepared).zip(time_of(prepared, row));
    let Some(off) = after.map(|(start, time)| start + time) else {
        return Ok(());
    };
    if off.abs() <= joining_limits().release_apart_s {
        return Ok(());
    }
    let release = prepared.context.flight.release.unwrap_or_default();
    let span = jiff::SignedDuration::try_from_secs_f64(off.round()).unwrap_or_default();
    let begins: DateTime = release.saturating_add(span);
    if off.abs() > OTHER_FLIGHT_S {
        return Err(ProfileError::OtherFlight {
            name: prepared.raw.name.clone(),
            begins: utc::print(begins),
            release: utc::print(release),
        });
    }
    prepared.findings.push(finding!(
        ReleaseApart,
        prepared.place(row),
        begins = utc::print(begins),
        release = utc::print(release)
    ));
    Ok(())
}

/// A file with dates in which nothing stands: it begins at release or after it.
fn by_date(prepared: &mut Prepared) -> Result<(), ProfileError> {
    let Some(off) = start_after_release(prepared) else {
        return Ok(());
    };
    if prepared.rises() {
        against_sheet(prepared, 0)?;
        // The balloon rises from the first row: no row is before release.
        if off + time_of(prepared, 0).unwrap_or(0.0) <= 0.0 {
            if let Some(first) = time_of(prepared, 0) {
                shift(prepared, first);
            }
            return Ok(());
        }
    }
    shift(prepared, -off);
    Ok(())
}

/// A clock that was running long before the first row, which is at the height of
/// the release point.
fn late_clock(prepared: &mut Prepared) {
    let lim = joining_limits();
    let Some(time_s) = time_of(prepared, 0) else {
        return;
    };
    if !prepared.rises() || time_s <= lim.release_apart_s {
        return;
    }
    let first = prepared.raw.rows.first();
    let height = first.and_then(|r| r.altitude_m.or(r.height_gpm));
    let near = height.zip(prepared.ground_m());
    if near.is_some_and(|(z, ground)| (z - ground).abs() <= lim.offset_m) {
        leave_out(prepared, 0);
    } else {
        let reported = finding!(ReleaseFar, prepared.place(0), time_s = time_s);
        prepared.findings.push(reported);
    }
}

/// Makes times count from a row and leaves out those before it.
fn leave_out(prepared: &mut Prepared, row: usize) {
    let time_s = time_of(prepared, row);
    let at = time_s.map_or_else(String::new, |t| format!(" at time_s {t}"));
    let reported = finding!(
        ReleaseFound,
        prepared.place(row),
        at = at,
        rows = counted(row, "row")
    );
    prepared.findings.push(reported);
    if let Some(time_s) = time_s {
        shift(prepared, time_s);
    }
    if row > 0 {
        prepared.raw.to_mut().rows.drain(..row);
    }
}

/// Makes times count from another moment.
fn shift(prepared: &mut Prepared, by_s: f64) {
    if by_s == 0.0 {
        return;
    }
    for row in &mut prepared.raw.to_mut().rows {
        row.time_s = row.time_s.map(|t| trim(t - by_s));
    }
}

/// Leaves out rows of a time before release.
fn drop_before(prepared: &mut Prepared) {
    let before = |time: Option<f64>| time.is_some_and(|t| t < 0.0);
    let rows = prepared.raw.rows.iter();
    let count = rows.filter(|r| before(r.time_s)).count();
    let Some(first) = prepared.raw.rows.iter().position(|r| before(r.time_s)) else {
        return;
    };
    let rows = counted(count, "row");
    prepared
        .findings
        .push(finding!(BeforeRelease, prepared.place(first), rows = rows));
    prepared.raw.to_mut().rows.retain(|r| !before(r.time_s));
}

/// A row with its time, s, and its height, gpm, upside down for a drop.
type Moment = (usize, f64, f64);

/// The row at which a sonde that stood before begins to rise; `None` when it
/// rises from the first row (or never), or did not stand still.
fn stands_until(prepared: &Prepared, heights: &[Option<f64>]) -> Option<usize> {
    let lim = joining_limits();
    let up = match prepared.context.station.kind {
        _ if prepared.form == Form::Descent => 1.0,
        StationKind::Drop => -1.0,
        _ => 1.0,
    };
    let moments = moments(prepared, heights, up);
    let rate = |from: &Moment, span_s: f64, ends: &mut usize| {
        while moments.get(*ends).is_some_and(|m| m.1 < from.1 + span_s) {
            *ends += 1;
        }
        let end = moments.get(*ends)?;
        Some((end.2 - from.2) / (end.1 - from.1))
    };
    let (mut near, mut far) = (0, 0);
    let rises = |from: &Moment| {
        let soon = rate(from, lim.release_window_s, &mut near)?;
        let then = rate(from, lim.release_rise_s, &mut far)?;
        Some(soon >= lim.release_rate_ms && then >= lim.release_rate_ms)
    };
    let begins = moments.iter().map(rises).position(|r| r == Some(true))?;
    let &(_, t, z) = moments.get(begins)?;
    // The window rises before the sonde does: the last moment at which it has not.
    let mut standing: Vec<f64> = moments.iter().take(begins + 1).map(|m| m.2).collect();
    standing.sort_by(f64::total_cmp);
    let stood = standing.get(standing.len() / 2).copied().unwrap_or(z);
    let last = moments
        .iter()
        .skip(begins)
        .take_while(|m| m.1 <= t + lim.release_window_s)
        .filter(|m| m.2 <= stood + lim.release_noise_gpm)
        .last()
        .or_else(|| moments.get(begins))?;
    let first = moments.first()?;
    let still = moments
        .iter()
        .take_while(|m| m.0 <= last.0)
        .all(|m| (m.2 - stood).abs() <= lim.standing_gpm);
    (still && last.1 - first.1 >= lim.standing_s).then_some(last.0)
}

fn moments(prepared: &Prepared, heights: &[Option<f64>], up: f64) -> Vec<Moment> {
    let rows = &prepared.raw.rows;
    let timed = rows.iter().any(|r| r.time_s.is_some());
    let mut moments: Vec<Moment> = Vec::with_capacity(heights.len());
    for ((row, height), raw) in heights.iter().enumerate().zip(rows) {
        let time = match u32::try_from(row) {
            _ if timed => raw.time_s,
            // One row per second, where no row has a time.
            Ok(row) => Some(f64::from(row)),
            Err(_) => None,
        };
        if let Some((z, t)) = height.zip(time)
            && (!timed || t >= 0.0)
        {
            moments.push((row, t, z * up));
        }
    }
    moments
}
