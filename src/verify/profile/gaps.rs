//! Steps of time, and elements missing over a layer.

use super::series::{Series, span};
use crate::model::Row;
use crate::model::finding::{Finding, Place, counted, finding};
use crate::tables::profile_limits;

/// Whether a row has an element.
type Has = fn(&Row) -> bool;

/// Reports gaps, irregular steps and missing layers.
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
            findings.push(finding!(
                TimeGap,
                series.place(from),
                seconds = seconds,
                rows = span(from, to),
                [most_s = lim.gap_s, ratio = lim.gap_ratio, usual_s = usual]
            ));
        } else if (seconds - usual).abs() > lim.irregular_ratio * usual + 1e-6 {
            let (first, count, least, most) = odd.unwrap_or((to, 0, seconds, seconds));
            odd = Some((first, count + 1, least.min(seconds), most.max(seconds)));
        }
    }
    if let Some((first, count, least, most)) = odd {
        findings.push(finding!(
            TimeStepIrregular,
            series.place(first),
            count = count,
            steps = counted(steps.len(), "time step"),
            least_s = least,
            most_s = most,
            row = first + 1,
            [usual_s = usual]
        ));
    }
}

/// Reports every deep layer in which an element is missing.
fn missing(series: &Series, name: &str, has: Has, findings: &mut Vec<Finding>) {
    let rows = &series.profile.rows;
    let lacks: Vec<bool> = rows.iter().map(|r| !has(r)).collect();
    for (first, last) in super::series::stretches(&lacks) {
        let below = first.checked_sub(1);
        let above = (last + 1 < rows.len()).then_some(last + 1);
        if below.is_none() && above.is_none() {
            findings.push(finding!(
                ElementMissingThroughout,
                Place::default(),
                element = name
            ));
            continue;
        }
        let least = profile_limits().missing_layer_gpm;
        let depth = series.depth_gpm(below.unwrap_or(first), above.unwrap_or(last));
        if depth.is_none_or(|dz| dz < least) {
            continue;
        }
        let end = |at: Option<usize>, open: &str| {
            at.and_then(|at| series.row(at))
                .map_or_else(|| open.to_owned(), level)
        };
        findings.push(finding!(
            ElementMissing,
            series.place(first),
            element = name,
            from = end(below, "the surface"),
            to = end(above, "the top"),
            rows = span(first, last),
            [least_gpm = least]
        ));
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
