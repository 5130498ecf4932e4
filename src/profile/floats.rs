//! Balloons that stop rising for a while.

use crate::model::Row;
use crate::model::finding::{Finding, Place, finding};
use crate::tables::joining_limits;

/// Tells each stretch in which the balloon rises too slowly, from its first row to
/// its last. Its rows stay: they are part of the ascent.
pub(super) fn tell(rows: &[Row], name: &str, findings: &mut Vec<Finding>) {
    let lim = joining_limits();
    let mut moments: Vec<(&Row, f64, f64)> = Vec::with_capacity(rows.len());
    moments.extend((rows.iter()).filter_map(|r| Some((r, r.time_s?, r.height_gpm?))));
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
        let moment = |row: &Row, time_s: f64| match row.pressure_hpa {
            Some(p) => format!("time_s {time_s} at {p:.1} hPa"),
            None => format!("time_s {time_s}"),
        };
        findings.push(finding!(
            BalloonFloats,
            Place::default().in_file(name),
            from = moment(from.0, from.1),
            to = moment(to.0, to.1),
            rise_gpm = to.2 - from.2,
            minutes = (to.1 - from.1) / 60.0,
            [least_ms = lim.float_ms, window_min = lim.float_s / 60.0]
        ));
    }
}
