//! Humidity over ice becomes humidity over water.

use super::Prepared;
use crate::model::finding::{counted, finding};
use crate::model::quantity::trim;
use crate::model::raw::RawRow;
use crate::model::{Derivation, HumidityOver};
use crate::physics::humidity::{dewpoint_from_frostpoint_c, humidity_from_ice_pct};

/// Where the sheet says that the profile gives humidity over ice: relative
/// humidity below 0 °C and frost points are brought to water.
pub(super) fn over_water(prepared: &mut Prepared) {
    if prepared.context.meaning.humidity_over == HumidityOver::Ice {
        bring(prepared);
    }
}

fn bring(prepared: &mut Prepared) {
    let frozen = |r: &RawRow| r.temperature_c.is_some_and(|t| t < 0.0);
    let cold = |r: &RawRow| {
        r.humidity_pct.is_some() && frozen(r) || r.dewpoint_c.is_some_and(|td| td < 0.0)
    };
    let count = prepared.raw.rows.iter().filter(|r| cold(r)).count();
    let Some(first) = prepared.raw.rows.iter().position(cold) else {
        return;
    };
    for row in &mut prepared.raw.to_mut().rows {
        row.humidity_pct = match (row.temperature_c, row.humidity_pct) {
            (Some(t), Some(u)) => Some(trim(humidity_from_ice_pct(t, u))),
            (_, given) => given,
        };
        row.dewpoint_c = row
            .dewpoint_c
            .and_then(dewpoint_from_frostpoint_c)
            .map(trim);
    }
    prepared.derived.push(Derivation::HumidityFromIce);
    let rows = counted(count, "row");
    prepared.findings.push(finding!(
        HumidityOverIce,
        prepared.place(first),
        rows = rows
    ));
}
