//! Changes from row to row that are faster than nature makes them.

use super::frozen::Frozen;
use super::series::{Series, apart, components, span};
use crate::model::Element;
use crate::model::finding::{Finding, finding};
use crate::tables::profile_limits;

/// A run of pairs of rows beyond the limit.
struct Run {
    first: usize,
    last: usize,
    /// The row after the first of its jumps.
    at: usize,
    /// The greatest change, and the seconds it took.
    greatest: (f64, f64),
}

/// Jumps of one quantity: how they are reported.
struct Kind {
    rate: f64,
    element: Option<Element>,
}

/// Reports jumps, except those where a constant sensor works again and those of a wind
/// spike, which have findings of their own. Returns the rows of jumps of height, first and
/// last.
pub(super) fn check(
    series: &Series,
    frozen: &[Frozen],
    spikes: &[(usize, usize)],
    findings: &mut Vec<Finding>,
) -> Vec<(usize, usize)> {
    let lim = profile_limits();
    let kind = Kind {
        rate: lim.temperature_jump_k_per_s,
        element: Some(Element::Temperature),
    };
    let values = series.having(|r| r.temperature_c);
    let found = runs(series, &values, kind.rate, |a, b| (b - a).abs());
    report(
        series,
        &kind,
        not_reported_elsewhere(found, &kind, frozen, &[]),
        findings,
    );
    let kind = Kind {
        rate: lim.humidity_jump_pct_per_s,
        element: Some(Element::Humidity),
    };
    let values = series.having(|r| r.humidity_pct);
    let found = runs(series, &values, kind.rate, |a, b| (b - a).abs());
    report(
        series,
        &kind,
        not_reported_elsewhere(found, &kind, frozen, &[]),
        findings,
    );
    let kind = Kind {
        rate: lim.wind_jump_ms_per_s,
        element: Some(Element::Wind),
    };
    let values = series.having(|r| r.wind.map(components));
    let found = runs(series, &values, kind.rate, apart);
    report(
        series,
        &kind,
        not_reported_elsewhere(found, &kind, frozen, spikes),
        findings,
    );
    heights(series, findings)
}

/// Jumps of height against time, reported and returned.
fn heights(series: &Series, findings: &mut Vec<Finding>) -> Vec<(usize, usize)> {
    let lim = profile_limits();
    let rate = if series.rising() {
        lim.height_jump_ms
    } else {
        lim.height_jump_falling_ms
    };
    let kind = Kind {
        rate,
        element: None,
    };
    // Only against times that were read: the clock would follow the heights.
    let values = series.having(|r| r.time_s.and(r.height_gpm));
    let found = runs_over(series, &values, kind.rate, f64::INFINITY, |a, b| {
        (b - a).abs()
    });
    let leaps = found.iter().map(|run| (run.first, run.last)).collect();
    report(series, &kind, found, findings);
    leaps
}

fn runs<V: Copy>(
    series: &Series,
    values: &[(usize, V)],
    rate: f64,
    change: impl Fn(V, V) -> f64,
) -> Vec<Run> {
    runs_over(series, values, rate, profile_limits().jump_most_s, change)
}

/// Runs of neighbouring pairs whose change is over `rate` per second; no pair
/// counts as further apart than `most_s`.
fn runs_over<V: Copy>(
    series: &Series,
    values: &[(usize, V)],
    rate: f64,
    most_s: f64,
    change: impl Fn(V, V) -> f64,
) -> Vec<Run> {
    let least_s = profile_limits().jump_least_s;
    let mut out: Vec<Run> = Vec::new();
    for (&(from, a), &(to, b)) in values.iter().zip(values.iter().skip(1)) {
        let seconds = series.between_s(from, to);
        let size = change(a, b);
        if size <= rate * seconds.max(least_s).min(most_s) {
            continue;
        }
        let here = (size, seconds);
        match out.last_mut() {
            Some(run) if run.last == from => {
                run.last = to;
                if size > run.greatest.0 {
                    run.greatest = here;
                }
            }
            _ => out.push(Run {
                first: from,
                last: to,
                at: to,
                greatest: here,
            }),
        }
    }
    out
}

/// The runs that no other finding speaks of.
fn not_reported_elsewhere(
    runs: Vec<Run>,
    kind: &Kind,
    frozen: &[Frozen],
    spikes: &[(usize, usize)],
) -> Vec<Run> {
    // Both lists rise with the rows, so one pass over each is enough.
    let mut stuck = frozen.iter().filter(|f| Some(f.element) == kind.element);
    let mut stuck_now = stuck.next();
    let mut spikes = spikes.iter().peekable();
    runs.into_iter()
        .filter(|run| {
            while stuck_now.is_some_and(|f| f.last < run.first) {
                stuck_now = stuck.next();
            }
            while spikes.next_if(|(_, last)| last + 1 < run.first).is_some() {}
            let thaws = stuck_now.is_some_and(|f| f.first <= run.last);
            let spike = spikes
                .peek()
                .is_some_and(|&&(first, _)| first <= run.last + 1);
            !thaws && !spike
        })
        .collect()
}

fn report(series: &Series, kind: &Kind, runs: Vec<Run>, findings: &mut Vec<Finding>) {
    for run in runs {
        let (size, seconds) = run.greatest;
        let (place, rows) = (series.place(run.at), span(run.first, run.last));
        findings.push(match kind.element {
            Some(Element::Temperature) => finding!(
                TemperatureJump,
                place,
                size = size,
                seconds = seconds,
                rows = rows,
                [rate = kind.rate]
            ),
            Some(Element::Humidity) => finding!(
                HumidityJump,
                place,
                size = size,
                seconds = seconds,
                rows = rows,
                [rate = kind.rate]
            ),
            Some(Element::Wind) => finding!(
                WindJump,
                place,
                size = size,
                seconds = seconds,
                rows = rows,
                [rate = kind.rate]
            ),
            None => finding!(
                HeightJump,
                place,
                size = size,
                seconds = seconds,
                rows = rows,
                [rate = kind.rate]
            ),
        });
    }
}
