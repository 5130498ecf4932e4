//! Winds of a profile that gives positions: the track of the balloon is that of
//! the air.

use std::ops::Range;

use super::Prepared;
use crate::model::finding::{counted, finding};
use crate::model::quantity::trim;
use crate::model::raw::RawRow;
use crate::model::{Derivation, Wind};
use crate::physics::drift::{EARTH_M, way_m};
use crate::physics::track::{Velocity, velocity};
use crate::tables::joining_limits;

/// Most decimals looked for in positions: a centimetre.
const MOST_DECIMALS: i32 = 7;

/// Most fixes that a window takes in: more make a wind no better.
const MOST_FIXES: usize = 300;

/// Degrees closer than this are the same: a tenth of a millimetre.
const SAME_DEG: f64 = 1e-9;

/// A row with time and position: its number, s, degrees north and east.
struct Fix {
    row: usize,
    time_s: f64,
    place_deg: (f64, f64),
}

/// Takes winds from positions when no row has one, or above the last row that has
/// one: the velocity over a window of time around each row. Where the balloon moves
/// less than one step of the positions there, it is calm.
pub(super) fn winds(prepared: &mut Prepared) {
    let lim = joining_limits();
    let rows = &prepared.raw.rows;
    let half = |r: &RawRow| {
        [r.wind_dir_deg, r.wind_speed_ms, r.wind_u_ms, r.wind_v_ms]
            .iter()
            .any(Option::is_some)
    };
    let from = rows.iter().rposition(half).map_or(0, |at| at + 1);
    let least = least_fixes();
    if rows.len() - from < least {
        return;
    }
    let (fixes, left_out) = fixes(rows);
    let wanted = fixes.iter().filter(|f| f.row >= from).count();
    // A wind or two that are missing at the top are no failure.
    let span = |fixes: &[Fix]| {
        let wanted = fixes.iter().filter(|f| f.row >= from).map(|f| f.time_s);
        wanted.clone().fold(f64::NEG_INFINITY, f64::max) - wanted.fold(f64::INFINITY, f64::min)
    };
    let window_s = prepared.context.meaning.track_window_s;
    let window_s = window_s.or(prepared.window_s).unwrap_or(lim.track_window_s);
    if wanted < least || (from > 0 && span(&fixes) < window_s) {
        return;
    }
    let step_m = step_m(&fixes);
    let place = prepared.place(fixes.iter().find(|f| f.row >= from).map_or(0, |f| f.row));
    if step_m / window_s > lim.track_coarse_ms {
        prepared.findings.push(finding!(
            PositionsCoarse,
            place,
            step_m = step_m,
            window_s = window_s,
            [least_s = (step_m / lim.track_coarse_ms).ceil()]
        ));
        return;
    }
    let found = velocities(&fixes, from, window_s, step_m);
    if found.len() * 2 < wanted {
        let typical = span(&fixes) / f64::from(u32::try_from(wanted).unwrap_or(u32::MAX));
        prepared.findings.push(finding!(
            PositionsSparse,
            place.clone(),
            window_s = window_s,
            found = found.len(),
            rows = counted(wanted, "row"),
            [longer_s = (typical * 4.0).ceil()]
        ));
    }
    if found.is_empty() {
        return;
    }
    let calm = take(&mut prepared.raw.to_mut().rows, &found, step_m);
    prepared.derived.push(Derivation::WindFromPositions);
    let errors = found.iter().map(|f| f.1.error_ms);
    let count = f64::from(u32::try_from(found.len()).unwrap_or(u32::MAX));
    prepared.findings.push(finding!(
        WindFromPositions,
        place,
        found = found.len(),
        rows = counted(prepared.raw.rows.len(), "row"),
        window_s = window_s,
        calm = calm,
        step_m = step_m,
        skipped = counted(left_out, "position"),
        rms_ms = (errors.clone().map(|e| e * e).sum::<f64>() / count).sqrt(),
        greatest_ms = errors.fold(0.0, f64::max)
    ));
}

/// Fewest fixes of a window.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "3, by its table"
)]
fn least_fixes() -> usize {
    joining_limits().track_fixes_rows as usize
}

/// The velocity around each fix from a row on.
fn velocities(fixes: &[Fix], from: usize, window_s: f64, step_m: f64) -> Vec<(usize, Velocity)> {
    let least = least_fixes();
    let cover_s = window_s * joining_limits().track_cover_ratio;
    let most_ms = joining_limits().track_most_ms;
    let mut found: Vec<(usize, Velocity)> = Vec::with_capacity(fixes.len());
    let mut window = 0..0;
    let mut around = Vec::new();
    for here in fixes {
        window = widen(fixes, &window, here.time_s, window_s / 2.0);
        if here.row < from {
            continue;
        }
        // Of very many fixes some do.
        let stride = window.len() / MOST_FIXES + 1;
        around.clear();
        for fix in fixes
            .get(window.clone())
            .unwrap_or_default()
            .iter()
            .step_by(stride)
        {
            let (east, north) = way_m(here.place_deg, fix.place_deg);
            around.push((fix.time_s, east, north));
        }
        let ends = around.first().zip(around.last());
        let spans = ends.is_some_and(|(a, b)| b.0 - a.0 >= cover_s);
        if around.len() >= least
            && spans
            && let Some(velocity) = velocity(&around, step_m)
            && velocity.components_ms.0.hypot(velocity.components_ms.1) <= most_ms
        {
            found.push((here.row, velocity));
        }
    }
    found
}

/// Writes the winds into their rows; how many are calm.
fn take(rows: &mut [RawRow], found: &[(usize, Velocity)], step_m: f64) -> usize {
    let mut calm = 0;
    for (row, velocity) in found {
        let Some(row) = rows.get_mut(*row) else {
            continue;
        };
        let still = velocity.way_m < step_m;
        calm += usize::from(still);
        let (east, north) = if still {
            (0.0, 0.0)
        } else {
            velocity.components_ms
        };
        let wind = Wind::from_components_ms(east, north);
        row.wind_dir_deg = Some(trim(wind.dir_deg));
        row.wind_speed_ms = Some(trim(wind.speed_ms));
    }
    calm
}

/// The rows with time and place, each later than the one before; and how many are
/// left out for being out of reach of both their neighbours.
fn fixes(rows: &[RawRow]) -> (Vec<Fix>, usize) {
    let mut fixes: Vec<Fix> = Vec::with_capacity(rows.len());
    let mut nowhere = 0;
    for (row, raw) in rows.iter().enumerate() {
        // What receivers write for want of a fix.
        if raw.latitude_deg == Some(0.0) && raw.longitude_deg == Some(0.0) {
            nowhere += 1;
            continue;
        }
        if let Some((time_s, place)) = raw.time_s.zip(raw.place())
            && fixes.last().is_none_or(|last| time_s > last.time_s)
        {
            let place_deg = (place.latitude_deg, place.longitude_deg);
            fixes.push(Fix {
                row,
                time_s,
                place_deg,
            });
        }
    }
    let count = fixes.len();
    let far = |a: &Fix, b: &Fix| {
        let (east, north) = way_m(a.place_deg, b.place_deg);
        east.hypot(north) > joining_limits().track_most_ms * (b.time_s - a.time_s)
    };
    let mut kept: Vec<Fix> = Vec::with_capacity(count);
    let mut rest = fixes.into_iter().peekable();
    while let Some(fix) = rest.next() {
        let from = kept.last().map(|last| far(last, &fix));
        let to = rest.peek().map(|next| far(&fix, next));
        if from.or(to) == Some(true) && to.or(from) == Some(true) {
            continue;
        }
        kept.push(fix);
    }
    let left_out = nowhere + count - kept.len();
    (kept, left_out)
}

/// The fixes within a number of seconds of a time, from the window of the fix before.
fn widen(fixes: &[Fix], before: &Range<usize>, time_s: f64, half_s: f64) -> Range<usize> {
    let mut window = before.clone();
    let time = |at: usize| fixes.get(at).map(|f| f.time_s);
    while time(window.start).is_some_and(|t| t < time_s - half_s) {
        window.start += 1;
    }
    window.end = window.end.max(window.start);
    while time(window.end).is_some_and(|t| t <= time_s + half_s) {
        window.end += 1;
    }
    window
}

/// The step to which positions are rounded, m: the fewest decimals of a degree
/// that hold every latitude and longitude.
fn step_m(fixes: &[Fix]) -> f64 {
    let holds = |decimals: i32| {
        let scale = 10_f64.powi(decimals);
        let whole = |deg: f64| (deg - (deg * scale).round() / scale).abs() < SAME_DEG;
        fixes
            .iter()
            .all(|f| whole(f.place_deg.0) && whole(f.place_deg.1))
    };
    let decimals = (0..MOST_DECIMALS)
        .find(|&d| holds(d))
        .unwrap_or(MOST_DECIMALS);
    (EARTH_M * 1_f64.to_radians()) / 10_f64.powi(decimals)
}
