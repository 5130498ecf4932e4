//! Heights against those that pressure, temperature and humidity give.

use super::series::{Series, rounding};
use crate::model::finding::{Finding, finding};
use crate::physics::humidity::virtual_temperature_k;
use crate::physics::hydrostatic::{GAS_CONSTANT, GRAVITY, thickness_gpm};
use crate::tables::{limits, profile_limits};

/// Tells once where heights have grown away from the hydrostatic ones; rows
/// inside a jump of height are left out, and across a deep layer without
/// temperature the two are taken to agree.
pub(super) fn check(series: &Series, leaps: &[(usize, usize)], findings: &mut Vec<Finding>) {
    if series.heights_derived {
        return;
    }
    let lim = profile_limits();
    let pressures = series.own().filter_map(|(_, r)| r.pressure_hpa);
    let loose_hpa = lim.hydrostatic_hpa.max(rounding(pressures));
    let mut leaps = leaps.iter().peekable();
    let mut before: Option<((f64, f64), f64)> = None;
    let mut departure = 0.0;
    let mut passed: Option<(usize, f64, f64)> = None;
    let mut last = None;
    for (at, row) in series.own() {
        while leaps.next_if(|(_, end)| *end <= at).is_some() {}
        if leaps.peek().is_some_and(|&&(start, _)| start < at) {
            continue;
        }
        let values = (row.pressure_hpa.filter(|p| *p > 0.0)).zip(row.temperature_c);
        let Some(((p, t), z)) = values.zip(row.height_gpm) else {
            continue;
        };
        let level = (p, virtual_temperature_k(t, row.any_dewpoint_c(), p));
        if let Some((below, z_below)) = before
            && z - z_below <= limits().bridge_thermal_gpm
        {
            departure += z - z_below - thickness_gpm(below, level);
        }
        before = Some((level, z));
        let loose = GAS_CONSTANT / GRAVITY * level.1 * loose_hpa / p;
        let allowed = lim.hydrostatic_gpm + loose;
        if departure.abs() > allowed && passed.is_none() {
            passed = Some((at, departure, allowed));
        }
        last = Some((at, departure));
    }
    let (Some((at, there, allowed)), Some((top, total))) = (passed, last) else {
        return;
    };
    findings.push(finding!(
        HeightAgainstPressure,
        series.place(at),
        there_gpm = there,
        row = at + 1,
        top_gpm = total,
        top_row = top + 1,
        [
            most_gpm = lim.hydrostatic_gpm,
            loose_hpa = loose_hpa,
            sum_gpm = allowed
        ]
    ));
}
