//! Wind spikes, and wind compared with the track.

use super::gaps::median;
use super::series::{Series, apart, components, count, rounding, span, stretches};
use crate::model::finding::{Finding, finding};
use crate::model::{Position, Row};
use crate::physics::drift::{EARTH_M, carried_m, way_m};
use crate::tables::profile_limits;

/// Rows on either side that a median is taken of, at most.
const EACH_SIDE: usize = 8;

/// Fewest rows on either side.
const LEAST_EACH_SIDE: usize = 2;

/// Nearer to a pole, degrees, east and north turn too fast to be compared.
const POLE_DEG: f64 = 89.0;

/// Reports winds far from the median of those around them; gives first and last
/// rows. With fewer than two rows on either side within the window nothing is
/// judged; a step that stays is no spike.
pub(super) fn spikes(series: &Series, findings: &mut Vec<Finding>) -> Vec<(usize, usize)> {
    let lim = profile_limits();
    let winds = series.having(|r| r.wind.map(components));
    let clocks: Vec<f64> = (winds.iter())
        .map(|&(at, _)| series.between_s(0, at))
        .collect();
    let off: Vec<f64> = (winds.iter().zip(&clocks).enumerate())
        .map(|(i, (&(_, wind), &clock))| {
            around(&winds, &clocks, i, clock).map_or(0.0, |usual| apart(wind, usual))
        })
        .collect();
    let marks: Vec<bool> = off.iter().map(|&d| d > lim.spike_ms).collect();
    let mut out = Vec::new();
    for (i, j) in stretches(&marks) {
        let (Some(&(first, _)), Some(&(last, _))) = (winds.get(i), winds.get(j)) else {
            continue;
        };
        let run = off.get(i..=j).unwrap_or_default();
        let most = run.iter().copied().fold(0.0, f64::max);
        findings.push(finding!(
            WindSpike,
            series.place(first),
            off_ms = most,
            rows = span(first, last),
            [most_ms = lim.spike_ms, window_s = lim.spike_window_s]
        ));
        out.push((first, last));
    }
    out
}

/// Median wind, component by component, of equally many rows below and above
/// one, and of itself: thinned out where rows are dense.
fn around(
    winds: &[(usize, (f64, f64))],
    clocks: &[f64],
    at: usize,
    clock: f64,
) -> Option<(f64, f64)> {
    let window = profile_limits().spike_window_s;
    let below = at.saturating_sub(clocks.partition_point(|&c| c < clock - window));
    let above = clocks.partition_point(|&c| c <= clock + window);
    let above = above.saturating_sub(at + 1);
    let reach = below.min(above);
    if reach < LEAST_EACH_SIDE {
        return None;
    }
    let stride = reach.div_ceil(EACH_SIDE);
    let rows = winds.get(at - reach / stride * stride..=at + reach)?;
    let near: Vec<(f64, f64)> = rows.iter().step_by(stride).map(|r| r.1).collect();
    let east = median(near.iter().map(|w| w.0).collect())?;
    let north = median(near.iter().map(|w| w.1).collect())?;
    Some((east, north))
}

/// A row with time, position and wind, and what the wind has carried since the
/// first one, m.
struct Fix {
    at: usize,
    time_s: f64,
    place: Position,
    carried: (f64, f64),
    /// Steps too long to know the wind in between, so far.
    breaks: usize,
}

/// Reports how the wind of the track agrees with the wind reported.
pub(super) fn drift(series: &Series, findings: &mut Vec<Finding>) {
    if series.places_derived {
        // They agree with the wind because they are made of it.
        return;
    }
    let lim = profile_limits();
    let fixes = fixes(series);
    let mut ends = fixes.iter().peekable();
    let (mut squares, mut windows) = (0.0, 0_usize);
    let mut greatest: Option<(f64, usize, usize)> = None;
    for fix in &fixes {
        let far = |end: &Fix| (end.time_s - fix.time_s).abs() >= lim.drift_window_s;
        while ends.next_if(|end| !far(end)).is_some() {}
        let Some(end) = ends.peek() else { break };
        if end.breaks != fix.breaks {
            continue;
        }
        let seconds = end.time_s - fix.time_s;
        let track = track(fix.place, end.place, seconds);
        let reported = (
            (end.carried.0 - fix.carried.0) / seconds,
            (end.carried.1 - fix.carried.1) / seconds,
        );
        let off = apart(track, reported);
        squares += off * off;
        windows += 1;
        if greatest.is_none_or(|g| off > g.0) {
            greatest = Some((off, fix.at, end.at));
        }
    }
    let Some((most, first, last)) = greatest else {
        return;
    };
    let rms = (squares / count(windows)).sqrt();
    // What rounded positions leave in the wind of the track.
    let degrees = fixes
        .iter()
        .flat_map(|f| [f.place.latitude_deg, f.place.longitude_deg]);
    let loose = 2.0 * EARTH_M * (rounding(degrees) / 2.0).to_radians() / lim.drift_window_s;
    let (place, rows) = (series.place(first), span(first, last));
    let (mean_ms, anywhere_ms) = (lim.drift_rms_ms + loose, lim.drift_ms + loose);
    findings.push(if rms > mean_ms || most > anywhere_ms {
        finding!(
            DriftAgainstWind,
            place,
            rms_ms = rms,
            windows = windows,
            window_s = lim.drift_window_s,
            most_ms = most,
            rows = rows,
            [mean_ms = mean_ms, anywhere_ms = anywhere_ms]
        )
    } else {
        finding!(
            DriftWind,
            place,
            rms_ms = rms,
            windows = windows,
            window_s = lim.drift_window_s,
            most_ms = most,
            rows = rows,
            [mean_ms = mean_ms, anywhere_ms = anywhere_ms]
        )
    });
}

fn fixes(series: &Series) -> Vec<Fix> {
    let known = |row: &Row| {
        let place = row.place.filter(|p| p.latitude_deg.abs() <= POLE_DEG)?;
        Some((row.time_s?, place, components(row.wind?)))
    };
    let mut out: Vec<Fix> = Vec::new();
    let mut before = None;
    let mut carried = (0.0, 0.0);
    let mut breaks = 0;
    for (at, (time_s, place, wind)) in series.having(known) {
        if let Some((time_before, wind_before)) = before {
            let seconds: f64 = time_s - time_before;
            let way = carried_m(seconds, wind_before, wind);
            carried.0 += way.0;
            carried.1 += way.1;
            breaks += usize::from(seconds.abs() > profile_limits().drift_window_s);
        }
        before = Some((time_s, wind));
        out.push(Fix {
            at,
            time_s,
            place,
            carried,
            breaks,
        });
    }
    out
}

/// The wind, m/s, that carries from one place to another.
fn track(from: Position, to: Position, seconds: f64) -> (f64, f64) {
    let degrees = |p: Position| (p.latitude_deg, p.longitude_deg);
    let (east_m, north_m) = way_m(degrees(from), degrees(to));
    (east_m / seconds, north_m / seconds)
}
