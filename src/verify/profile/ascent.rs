//! How fast the balloon rose.

use super::series::{Series, source, span, stretches};
use crate::model::finding::Finding;
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
    let what = format!(
        "the mean rate of ascent is {mean:.1} m/s; over {} s the slowest is {}, the fastest {}",
        lim.ascent_window_s,
        words(slowest),
        words(fastest)
    );
    let place = series.place(first.0);
    let usual = (lim.ascent_mean_least_ms..=lim.ascent_mean_most_ms).contains(&mean);
    let finding = if usual {
        Finding::info("ascent-rate", place, what)
    } else {
        Finding::warning("ascent-rate", place, what)
    };
    findings.push(
        finding
            .allowed(format!(
                "usually {} m/s, in the mean {} to {} m/s",
                lim.ascent_usual_ms, lim.ascent_mean_least_ms, lim.ascent_mean_most_ms
            ))
            .clause(source("ascent_usual_ms")),
    );
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
        let (code, verb, below) = if least < -lim.floating_ms {
            ("falling", "falls", lim.floating_ms)
        } else if least < lim.floating_ms {
            ("floating", "floats", lim.floating_ms)
        } else {
            ("ascent-slow", "rises slowly", lim.ascent_slow_ms)
        };
        let allowed = format!(
            "at least {} m/s over {} s",
            lim.ascent_slow_ms, lim.ascent_window_s
        );
        let chosen = here.iter().filter(|w| w.2 < below);
        let limit = "ascent_slow_ms";
        tell(
            series,
            (code, verb),
            least,
            chosen,
            allowed,
            limit,
            findings,
        );
    }
}

fn fast(series: &Series, windows: &[Window], findings: &mut Vec<Finding>) {
    let lim = profile_limits();
    let fast: Vec<bool> = windows.iter().map(|w| w.2 > lim.ascent_fast_ms).collect();
    for (first, last) in stretches(&fast) {
        let here = windows.get(first..=last).unwrap_or_default();
        let most = here.iter().map(|w| w.2).fold(f64::NEG_INFINITY, f64::max);
        let allowed = format!(
            "at most {} m/s over {} s",
            lim.ascent_fast_ms, lim.ascent_window_s
        );
        let (words, limit) = (("ascent-fast", "rises fast"), "ascent_fast_ms");
        tell(series, words, most, here.iter(), allowed, limit, findings);
    }
}

/// One stretch, from the first row of its first window to the last of its last.
fn tell<'w>(
    series: &Series,
    (code, verb): (&'static str, &str),
    rate: f64,
    windows: impl Iterator<Item = &'w Window> + Clone,
    allowed: String,
    limit: &str,
    findings: &mut Vec<Finding>,
) {
    let (Some(first), Some(last)) = (windows.clone().next(), windows.last()) else {
        return;
    };
    let what = format!(
        "the balloon {verb}, {rate:.1} m/s over {} s, {}",
        profile_limits().ascent_window_s,
        span(first.0, last.1)
    );
    let finding = Finding::warning(code, series.place(first.0), what);
    findings.push(finding.allowed(allowed).clause(source(limit)));
}
