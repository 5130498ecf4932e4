//! How fast the balloon rose.

use super::series::{Series, span, stretches};
use crate::model::finding::{Finding, finding};
use crate::tables::profile_limits;

/// A moment: row, time s, height gpm.
type Moment = (usize, f64, f64);

/// A window of time: its first and last row, and the rate over it, m/s.
type Window = (usize, usize, f64);

/// Tells mean, slowest and fastest rates of ascent. Windows with a jump of
/// height in them do not count.
pub(super) fn check(series: &Series, leaps: &[(usize, usize)], findings: &mut Vec<Finding>) {
    if !series.rising() {
        return;
    }
    let lim = profile_limits();
    let mut moments: Vec<Moment> = Vec::new();
    for (at, row) in series.own() {
        if let Some((t, z)) = row.time_s.zip(row.height_gpm)
            && moments.last().is_none_or(|&(_, before, _)| t > before)
        {
            moments.push((at, t, z));
        }
    }
    let (Some(first), Some(last)) = (moments.first(), moments.last()) else {
        return;
    };
    let windows = windows(&moments, leaps);
    let slowest = windows.iter().min_by(|a, b| a.2.total_cmp(&b.2));
    let fastest = windows.iter().max_by(|a, b| a.2.total_cmp(&b.2));
    let (Some(slowest), Some(fastest)) = (slowest, fastest) else {
        return;
    };
    let mean = (last.2 - first.2) / (last.1 - first.1);
    let words = |w: &Window| format!("{:.1} m/s ({})", w.2, span(w.0, w.1));
    let place = series.place(first.0);
    let usual = (lim.ascent_mean_least_ms..=lim.ascent_mean_most_ms).contains(&mean);
    findings.push(if usual {
        finding!(
            MeanAscentRate,
            place,
            mean_ms = mean,
            window_s = lim.ascent_window_s,
            slowest = words(slowest),
            fastest = words(fastest),
            [
                usual_ms = lim.ascent_usual_ms,
                least_ms = lim.ascent_mean_least_ms,
                most_ms = lim.ascent_mean_most_ms
            ]
        )
    } else {
        finding!(
            AscentRateUnusual,
            place,
            mean_ms = mean,
            window_s = lim.ascent_window_s,
            slowest = words(slowest),
            fastest = words(fastest),
            [
                usual_ms = lim.ascent_usual_ms,
                least_ms = lim.ascent_mean_least_ms,
                most_ms = lim.ascent_mean_most_ms
            ]
        )
    });
    slow(series, &windows, findings);
    fast(series, &windows, findings);
}

/// The windows from each row on, those without a jump.
fn windows(moments: &[Moment], leaps: &[(usize, usize)]) -> Vec<Window> {
    let length = profile_limits().ascent_window_s;
    let mut ends = moments.iter().peekable();
    let mut leaps = leaps.iter().peekable();
    let mut out = Vec::with_capacity(moments.len());
    for &(from, t, z) in moments {
        while ends.next_if(|end| end.1 < t + length).is_some() {}
        while leaps.next_if(|(_, last)| *last <= from).is_some() {}
        let Some(&&(to, t_end, z_end)) = ends.peek() else {
            break;
        };
        if leaps.peek().is_none_or(|&&(first, _)| first >= to) {
            out.push((from, to, (z_end - z) / (t_end - t)));
        }
    }
    out
}

/// Stretches that are too slow: floating, falling or merely slow.
fn slow(series: &Series, windows: &[Window], findings: &mut Vec<Finding>) {
    let lim = profile_limits();
    let slow: Vec<bool> = windows.iter().map(|w| w.2 < lim.ascent_slow_ms).collect();
    for (first, last) in stretches(&slow) {
        let here = windows.get(first..=last).unwrap_or_default();
        let least = here.iter().map(|w| w.2).fold(f64::INFINITY, f64::min);
        let still = least < lim.floating_ms;
        let below = if still {
            lim.floating_ms
        } else {
            lim.ascent_slow_ms
        };
        let mut chosen = here.iter().filter(|w| w.2 < below);
        let Some(first) = chosen.next() else { continue };
        let last = chosen.next_back().unwrap_or(first);
        let (place, rows) = (series.place(first.0), span(first.0, last.1));
        let (window_s, least_ms) = (lim.ascent_window_s, lim.ascent_slow_ms);
        findings.push(if least < -lim.floating_ms {
            finding!(
                Falling,
                place,
                rate_ms = least,
                window_s = window_s,
                rows = rows,
                [least_ms = least_ms]
            )
        } else if still {
            finding!(
                Floating,
                place,
                rate_ms = least,
                window_s = window_s,
                rows = rows,
                [least_ms = least_ms]
            )
        } else {
            finding!(
                AscentSlow,
                place,
                rate_ms = least,
                window_s = window_s,
                rows = rows,
                [least_ms = least_ms]
            )
        });
    }
}

fn fast(series: &Series, windows: &[Window], findings: &mut Vec<Finding>) {
    let lim = profile_limits();
    let fast: Vec<bool> = windows.iter().map(|w| w.2 > lim.ascent_fast_ms).collect();
    for (first, last) in stretches(&fast) {
        let here = windows.get(first..=last).unwrap_or_default();
        let most = here.iter().map(|w| w.2).fold(f64::NEG_INFINITY, f64::max);
        let Some((first, last)) = here.first().zip(here.last()) else {
            continue;
        };
        findings.push(finding!(
            AscentFast,
            series.place(first.0),
            rate_ms = most,
            window_s = lim.ascent_window_s,
            rows = span(first.0, last.1),
            [most_ms = lim.ascent_fast_ms]
        ));
    }
}
