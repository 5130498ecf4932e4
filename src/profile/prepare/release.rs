//! When the balloon was let go: times count from there, rows before it go.

use jiff::civil::DateTime;

use super::Prepared;
use crate::finding::Finding;
use crate::profile::ProfileError;
use crate::sounding::utc;
use crate::tables::joining_limits;

/// File and sheet further apart are of two flights, s (our own choice: no ascent
/// lasts longer).
const OTHER_FLIGHT_S: f64 = 6.0 * 3600.0;

/// Counts times from release: by the file's own date and time against the sheet's,
/// by what the sheet orders, or by the rows themselves, in which a standing sonde
/// begins to rise.
pub(super) fn from_release(
    prepared: &mut Prepared,
    heights: &[Option<f64>],
) -> Result<(), ProfileError> {
    let sheet = prepared.context.flight.release;
    let dated = prepared.raw.start.zip(sheet);
    if let Some((start, release)) = dated {
        shift(prepared, seconds_between(start, release));
    }
    if let Some(at) = prepared.context.meaning.release_time_s {
        shift(prepared, at);
        if at != 0.0 {
            let what = format!("times count from time_s {at}, by release_time_s of the sheet");
            let told = Finding::info("release-given", prepared.file(), what);
            prepared.findings.push(told);
        }
        return Ok(());
    }
    let found = prepared.rises().then(|| stands_until(prepared, heights));
    let found = found.flatten();
    if let Some((start, release)) = dated {
        let first = found.unwrap_or(0);
        let off = prepared.raw.rows.get(first).and_then(|r| r.time_s);
        let off = off.filter(|s| s.abs() > joining_limits().release_apart_s);
        if let Some(off) = off {
            let begins = plus(start, seconds_between(start, release) + off);
            if off.abs() > OTHER_FLIGHT_S {
                return Err(ProfileError::OtherFlight {
                    name: prepared.raw.name.clone(),
                    begins: utc::print(begins),
                    release: utc::print(release),
                });
            }
            let what = format!(
                "by the file the balloon rises from {}, the sheet's release is {}",
                utc::print(begins),
                utc::print(release)
            );
            prepared.findings.push(
                Finding::warning("release-apart", prepared.place(first), what)
                    .allowed("mend flight.release, or give release_time_s under [profile]"),
            );
        }
    }
    if let Some(row) = found {
        leave_out(prepared, row);
    }
    Ok(())
}

/// Leaves out the rows before one, from which times count then.
fn leave_out(prepared: &mut Prepared, row: usize) {
    let time_s = prepared.raw.rows.get(row).and_then(|r| r.time_s);
    let at = time_s.map_or_else(String::new, |t| format!(" at time_s {t}"));
    let what = format!(
        "the sonde stands until it is released{at}; {row} rows before are left out, and times \
         count from there"
    );
    prepared.findings.push(
        Finding::info("release-found", prepared.place(row), what)
            .allowed("release_time_s under [profile] says otherwise; 0: the file's own times"),
    );
    if let Some(time_s) = time_s {
        shift(prepared, time_s);
    }
    prepared.raw.to_mut().rows.drain(..row);
}

/// Makes times count from another moment.
fn shift(prepared: &mut Prepared, by_s: f64) {
    if by_s == 0.0 {
        return;
    }
    for row in &mut prepared.raw.to_mut().rows {
        row.time_s = row.time_s.map(|t| crate::quantity::trim(t - by_s));
    }
}

/// The row at which a sonde that stood before begins to rise; `None` when it
/// rises from the first row (or never).
fn stands_until(prepared: &Prepared, heights: &[Option<f64>]) -> Option<usize> {
    let lim = joining_limits();
    let rows = &prepared.raw.rows;
    let timed = rows.iter().any(|r| r.time_s.is_some());
    let mut moments: Vec<(usize, f64, f64)> = Vec::new();
    for (row, height) in heights.iter().enumerate() {
        let time = match rows.get(row) {
            Some(raw) if timed => raw.time_s,
            // A row a second, where no row has a time.
            _ => f64::from(u32::try_from(row).ok()?).into(),
        };
        if let Some((z, t)) = height.zip(time)
            && (!timed || t >= 0.0)
        {
            moments.push((row, t, z));
        }
    }
    let rate = |from: &(usize, f64, f64), span_s: f64, ends: &mut usize| {
        while moments.get(*ends).is_some_and(|m| m.1 < from.1 + span_s) {
            *ends += 1;
        }
        let end = moments.get(*ends)?;
        Some((end.2 - from.2) / (end.1 - from.1))
    };
    let (mut near, mut far) = (0, 0);
    let rises = |from: &(usize, f64, f64)| {
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
    (last.1 - first.1 >= lim.standing_s).then_some(last.0)
}

fn seconds_between(from: DateTime, to: DateTime) -> f64 {
    from.duration_until(to).as_secs_f64()
}

fn plus(time: DateTime, seconds: f64) -> DateTime {
    let span = jiff::SignedDuration::try_from_secs_f64(seconds.round()).unwrap_or_default();
    time.saturating_add(span)
}
