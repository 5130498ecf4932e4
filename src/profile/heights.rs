//! Heights of a profile that gives none: hydrostatic integration.

use crate::model::finding::{Finding, Place, counted, finding};
use crate::model::{Derivation, Row};
use crate::physics::humidity::virtual_temperature_k;
use crate::physics::hydrostatic::thickness_gpm;

/// Integrates upwards from the first row when no row above it has a height, or
/// from the last that has one when heights end below the top.
pub(super) fn complete(
    rows: &mut [Row],
    name: &str,
    derived: &mut Vec<Derivation>,
    findings: &mut Vec<Finding>,
) {
    let last = rows
        .iter()
        .rposition(|r| r.height_gpm.is_some())
        .unwrap_or(0);
    let from = rows.get_mut(last..).unwrap_or_default();
    let warm = |r: &&Row| r.temperature_c.is_some() && r.pressure_hpa.is_some();
    if from.len() < 2 || (last > 0 && from.iter().skip(1).filter(warm).count() < 2) {
        return;
    }
    let place = Place::default().in_file(name);
    let start = match (last, from.first().and_then(|r| r.pressure_hpa)) {
        (1.., Some(p)) => format!("{p:.1} hPa"),
        _ => "the release height".to_owned(),
    };
    match integrate(from) {
        Some(done) => {
            derived.push(Derivation::HeightByIntegration);
            findings.push(finding!(
                HeightIntegrated,
                place,
                start = start,
                bridged = counted(done.bridged, "row"),
                left = counted(done.left, "row")
            ));
        }
        None => findings.push(finding!(HeightMissing, place)),
    }
}

/// Rows without temperature inside and above the integrated ones.
struct Done {
    bridged: usize,
    left: usize,
}

/// A level of the integration: pressure hPa, virtual temperature K.
type Level = (f64, f64);

/// Heights from that of the first row up to the last row with temperature;
/// between two such rows virtual temperature is linear in ln p. `None` when
/// there is no height or no temperature to start from.
fn integrate(rows: &mut [Row]) -> Option<Done> {
    let first = rows.first()?;
    let mut height = first.height_gpm?;
    let start = first.pressure_hpa?;
    let level = |row: &Row| -> Option<Level> {
        let (p, t) = row.pressure_hpa.zip(row.temperature_c)?;
        Some((p, virtual_temperature_k(t, row.any_dewpoint_c(), p)))
    };
    // Below the first temperature, the layer is as warm as it.
    let mut below: Level = (start, rows.iter().find_map(level)?.1);
    let mut done = Done {
        bridged: 0,
        left: 0,
    };
    let mut waiting = 0;
    for i in 0..rows.len() {
        let Some(here) = rows.get(i).and_then(level) else {
            waiting += 1;
            continue;
        };
        for row in rows.get_mut(i - waiting..i).unwrap_or_default() {
            if let Some(p) = row.pressure_hpa {
                row.height_gpm = Some(height + thickness_gpm(below, between(below, here, p)));
            }
        }
        done.bridged += std::mem::take(&mut waiting);
        height += thickness_gpm(below, here);
        if let Some(row) = rows.get_mut(i) {
            row.height_gpm = Some(height);
        }
        below = here;
    }
    done.left = waiting;
    Some(done)
}

/// The level at a pressure between two others.
fn between(lower: Level, upper: Level, p: f64) -> Level {
    let whole = (lower.0 / upper.0).ln();
    let share = if whole > 0.0 {
        (lower.0 / p).ln() / whole
    } else {
        0.0
    };
    (p, lower.1 + share * (upper.1 - lower.1))
}
