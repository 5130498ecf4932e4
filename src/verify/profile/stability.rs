//! Layers in which temperature falls faster than dry air that is lifted.

use super::series::{Series, span};
use crate::model::finding::{Finding, finding};
use crate::model::quantity::kelvin_from_celsius;
use crate::physics::adiabat::potential_temperature_k;
use crate::tables::profile_limits;

/// A row with its potential temperature.
#[derive(Clone, Copy)]
struct Theta {
    at: usize,
    theta_k: f64,
    /// Temperature over potential temperature.
    ratio: f64,
}

/// Reports superadiabatic layers, outside the layer near the ground.
pub(super) fn check(series: &Series, findings: &mut Vec<Finding>) {
    let lim = profile_limits();
    let free = |at: usize| {
        let above = series.depth_gpm(0, at);
        series.profile.ends_aloft || above.is_some_and(|dz| dz >= lim.superadiabatic_surface_gpm)
    };
    let rows: Vec<Theta> = series
        .having(|r| r.pressure_hpa.filter(|p| *p > 0.0).zip(r.temperature_c))
        .into_iter()
        .filter(|&(at, _)| free(at))
        .map(|(at, (p, t))| {
            let theta_k = potential_temperature_k(t, p);
            Theta {
                at,
                theta_k,
                ratio: kelvin_from_celsius(t) / theta_k,
            }
        })
        .collect();
    // From each peak of potential temperature down to the trough, until it has
    // recovered by half the limit; every row is passed at most twice.
    let mut peak = 0;
    let mut trough = 0;
    for (k, here) in rows.iter().enumerate() {
        let (Some(high), Some(low)) = (rows.get(peak), rows.get(trough)) else {
            return;
        };
        let recovered = (here.theta_k - low.theta_k) * here.ratio > lim.superadiabatic_k / 2.0;
        if here.theta_k >= high.theta_k || recovered {
            layer(series, rows.get(peak..=trough), findings);
            (peak, trough) = (k, k);
        } else if here.theta_k < low.theta_k {
            trough = k;
        }
    }
    layer(series, rows.get(peak..=trough), findings);
}

/// Reports one layer from peak to trough, if it is deep and unstable enough.
fn layer(series: &Series, rows: Option<&[Theta]>, findings: &mut Vec<Finding>) {
    let lim = profile_limits();
    let Some(rows) = rows else { return };
    let (Some(high), Some(low)) = (rows.first(), rows.last()) else {
        return;
    };
    let noise = lim.superadiabatic_noise_k / low.ratio;
    let foot = (rows.iter()).rfind(|r| r.theta_k >= high.theta_k - noise);
    let top = (rows.iter()).find(|r| r.theta_k <= low.theta_k + noise);
    let (Some(foot), Some(top)) = (foot, top) else {
        return;
    };
    let colder_k = (high.theta_k - low.theta_k) * low.ratio;
    let depth = series.depth_gpm(foot.at, top.at).unwrap_or(0.0);
    if colder_k <= lim.superadiabatic_k || depth < lim.superadiabatic_depth_gpm {
        return;
    }
    let excess = (foot.theta_k - top.theta_k) * top.ratio / depth * 1000.0;
    if excess <= lim.superadiabatic_k_per_km {
        return;
    }
    let lapse = lim.dry_lapse_k_per_km + excess;
    findings.push(finding!(
        Superadiabatic,
        series.place(foot.at),
        lapse = lapse,
        depth_gpm = depth,
        colder_k = colder_k,
        rows = span(foot.at, top.at),
        [
            dry = lim.dry_lapse_k_per_km,
            more = lim.superadiabatic_k_per_km,
            deep_gpm = lim.superadiabatic_depth_gpm,
            ground_gpm = lim.superadiabatic_surface_gpm
        ]
    ));
}
