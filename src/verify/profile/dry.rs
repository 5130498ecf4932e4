//! Rows of exactly 0 % humidity where air is never free of it.

use super::series::{Series, count};
use crate::model::finding::{Finding, counted, finding};
use crate::tables::profile_limits;

/// Adds up how long such rows last; a file that fills up with zeros, or a sensor
/// that shows none, is found.
pub(super) fn check(series: &Series, findings: &mut Vec<Finding>) {
    let lim = profile_limits();
    let mut rows = Vec::new();
    let mut seconds = 0.0;
    for (at, row) in series.own() {
        if row.humidity_pct == Some(0.0)
            && row.pressure_hpa.is_some_and(|p| p >= lim.zero_humidity_hpa)
        {
            rows.push(at);
            seconds += at.checked_sub(1).map_or(0.0, |b| series.between_s(b, at));
        }
    }
    let (Some(&first), Some(&last)) = (rows.first(), rows.last()) else {
        return;
    };
    if count(rows.len()) < lim.zero_humidity_rows || seconds <= lim.zero_humidity_s {
        return;
    }
    let pressure = |at: usize| series.row(at).and_then(|r| r.pressure_hpa).unwrap_or(0.0);
    findings.push(finding!(
        HumidityZero,
        series.place(first),
        rows = counted(rows.len(), "row"),
        from_hpa = pressure(first),
        to_hpa = pressure(last),
        seconds = seconds,
        [
            most_s = lim.zero_humidity_s,
            top_hpa = lim.zero_humidity_hpa
        ]
    ));
}
