//! Steps of time, and elements missing over a layer.

use super::series::{Series, source, span};
use crate::model::Row;
use crate::model::finding::{Finding, Place};
use crate::tables::profile_limits;

/// Whether a row has an element.
type Has = fn(&Row) -> bool;

/// Tells gaps, irregular steps and missing layers.
pub(super) fn check(series: &Series, findings: &mut Vec<Finding>) {
    steps(series, findings);
    let has: [(&str, Has); 3] = [
        ("temperature", |r| r.temperature_c.is_some()),
        ("relative humidity", |r| {
            r.humidity_pct.is_some() || r.dewpoint_c.is_some()
        }),
        ("wind", |r| r.wind.is_some()),
    ];
    for (name, has) in has {
        missing(series, name, has, findings);
    }
}

/// Median of some values; `None` when there are none.
pub(super) fn median(mut values: Vec<f64>) -> Option<f64> {
    let middle = values.len() / 2;
    (middle < values.len()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

fn steps(series: &Series, findings: &mut Vec<Finding>) {
    let lim = profile_limits();
    let rows = series.profile.rows.iter().enumerate();
    let times: Vec<(usize, f64)> = rows.filter_map(|(at, r)| Some((at, r.time_s?))).collect();
    let pairs = times.iter().zip(times.iter().skip(1));
    let steps: Vec<(usize, usize, f64)> =
        pairs.map(|(a, b)| (a.0, b.0, (b.1 - a.1).abs())).collect();
    let Some(usual) = median(steps.iter().map(|s| s.2).collect()) else {
        return;
    };
    let gap = lim.gap_s.max(lim.gap_ratio * usual);
    let mut odd: Option<(usize, usize, f64, f64)> = None;
    for &(from, to, seconds) in &steps {
        if seconds > gap {
            let what = format!("nothing was read for {seconds:.1} s, {}", span(from, to));
            let finding = Finding::warning("time-gap", series.place(from), what)
                .allowed(format!(
                    "at most {} s, or {} steps of usually {usual} s",
                    lim.gap_s, lim.gap_ratio
                ))
                .clause(source("gap_s"));
            findings.push(finding);
        } else if (seconds - usual).abs() > lim.irregular_ratio * usual + 1e-6 {
            let (first, count, least, most) = odd.unwrap_or((to, 0, seconds, seconds));
            odd = Some((first, count + 1, least.min(seconds), most.max(seconds)));
        }
    }
    if let Some((first, count, least, most)) = odd {
        let what = format!(
            "{count} of {} steps of time are irregular, from {least} to {most} s, the first at \
             row {}",
            steps.len(),
            first + 1
        );
        let finding = Finding::info("time-step-irregular", series.place(first), what)
            .allowed(format!("usually {usual} s"))
            .clause(source("irregular_ratio"));
        findings.push(finding);
    }
}

/// Tells every deep layer in which an element is missing.
fn missing(series: &Series, name: &str, has: Has, findings: &mut Vec<Finding>) {
    let rows = &series.profile.rows;
    let lacks: Vec<bool> = rows.iter().map(|r| !has(r)).collect();
    for (first, last) in super::series::stretches(&lacks) {
        let below = first.checked_sub(1);
        let above = (last + 1 < rows.len()).then_some(last + 1);
        let (code, at) = ("element-missing", span(first, last));
        let finding = if below.is_none() && above.is_none() {
            Finding::info(
                code,
                Place::default(),
                format!("{name} is missing in every row"),
            )
        } else {
            let depth = series.depth_gpm(below.unwrap_or(first), above.unwrap_or(last));
            if depth.is_none_or(|dz| dz < profile_limits().missing_layer_gpm) {
                continue;
            }
            let end = |at: Option<usize>, open: &str| {
                at.and_then(|at| series.row(at))
                    .map_or_else(|| open.to_owned(), level)
            };
            let what = format!(
                "{name} is missing from {} to {}, {at}",
                end(below, "the surface"),
                end(above, "the top")
            );
            Finding::info(code, series.place(first), what)
        };
        let least = profile_limits().missing_layer_gpm;
        findings.push(
            finding
                .allowed(format!("told when {least} gpm deep or deeper"))
                .clause(source("missing_layer_gpm")),
        );
    }
}

/// A level in words.
fn level(row: &Row) -> String {
    match (row.pressure_hpa, row.height_gpm) {
        (Some(p), _) => format!("{p:.2} hPa"),
        (None, Some(z)) => format!("{z:.0} gpm"),
        (None, None) => "an unknown level".to_owned(),
    }
}
