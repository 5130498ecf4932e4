//! Balloons that stop rising for a while.

use crate::model::Row;
use crate::model::finding::{Finding, Place};
use crate::tables::joining_limits;

/// Tells each stretch in which the balloon rises too slowly, from its first row to
/// its last. Its rows stay: they are part of the ascent.
pub(super) fn tell(rows: &[Row], name: &str, findings: &mut Vec<Finding>) {
    let lim = joining_limits();
    let moments: Vec<(&Row, f64, f64)> = rows
        .iter()
        .filter_map(|r| Some((r, r.time_s?, r.height_gpm?)))
        .collect();
    let mut ends = 0;
    let mut gap = 0;
    let mut stretch: Option<(usize, usize)> = None;
    let mut stretches = Vec::new();
    for (at, from) in moments.iter().enumerate() {
        while (moments.get(ends)).is_some_and(|m| m.1 < from.1 + lim.float_s) {
            ends += 1;
            let step = moments.get(ends).zip(moments.get(ends - 1));
            if step.is_some_and(|(m, before)| m.1 - before.1 > lim.float_gap_s) {
                gap = ends;
            }
        }
        let Some(end) = moments.get(ends) else { break };
        if gap > at {
            continue;
        }
        if (end.2 - from.2) / (end.1 - from.1) >= lim.float_ms {
            continue;
        }
        stretch = match stretch {
            Some((first, last)) if at <= last => Some((first, ends.max(last))),
            other => {
                stretches.extend(other);
                Some((at, ends))
            }
        };
    }
    stretches.extend(stretch);
    for (first, last) in stretches {
        let Some((from, to)) = moments.get(first).zip(moments.get(last)) else {
            continue;
        };
        let pressure = |row: &Row| {
            row.pressure_hpa
                .map_or_else(String::new, |p| format!(" at {p:.1} hPa"))
        };
        let what = format!(
            "the balloon floats from time_s {}{} to time_s {}{}: it rises {:.0} gpm in {:.0} min",
            from.1,
            pressure(from.0),
            to.1,
            pressure(to.0),
            to.2 - from.2,
            (to.1 - from.1) / 60.0
        );
        findings.push(
            Finding::warning("floating", Place::default().in_file(name), what).allowed(format!(
                "at least {} m/s over {:.0} min",
                lim.float_ms,
                lim.float_s / 60.0
            )),
        );
    }
}
