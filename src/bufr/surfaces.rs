//! Standard surfaces of a received message: named, where it gives them by height or a
//! little off their pressure.

use crate::finding::{Finding, Place};
use crate::sounding::{Level, Part, Region, Roles};
use crate::tables;

/// A level that a message flags as standard a little off the surface is taken as
/// the surface, when that has no level of its own: text knows no other pressure.
pub(super) fn settle_surfaces(levels: &mut [Level], findings: &mut Vec<Finding>) {
    /// What a neighbouring row of a one-second profile may lie off, hPa (our own
    /// choice).
    const OFF_HPA: f64 = 0.5;
    for surface in tables::standard_levels() {
        let p = f64::from(surface.pressure_hpa);
        let flagged = |l: &Level| l.roles.any(Roles::STANDARD);
        let off = |l: &Level| {
            l.row
                .pressure_hpa
                .map_or(f64::INFINITY, |own| (own - p).abs())
        };
        let own = levels.iter().any(|l| flagged(l) && off(l) == 0.0);
        let near = levels
            .iter_mut()
            .filter(|l| flagged(l) && off(l) <= OFF_HPA)
            .min_by(|a, b| off(a).total_cmp(&off(b)));
        if let Some(level) = near.filter(|_| !own)
            && let Some(was) = level.row.pressure_hpa.replace(p)
        {
            let what = format!("the level flagged as standard at {was} hPa is taken as {p} hPa");
            findings.push(Finding::info(
                "standard-off-surface",
                Place::pressure(was),
                what,
            ));
        }
    }
}

/// Gives standard surfaces that a message by height has without their pressures
/// the ones they stand for: the run of neighbouring surfaces whose heights in the
/// standard atmosphere lie nearest (our own way, no source).
pub(super) fn name_surfaces(levels: &mut [Level]) -> Option<Finding> {
    let nameless = |l: &Level| l.roles.any(Roles::STANDARD) && l.row.pressure_hpa.is_none();
    let heights: Vec<f64> = levels
        .iter()
        .filter(|l| nameless(l))
        .filter_map(|l| l.row.height_gpm)
        .collect();
    let parts = [Part::A, Part::C].into_iter();
    let surfaces: Vec<_> = parts
        .flat_map(|part| tables::pilot_levels(Region::None, part))
        .collect();
    let off = |run: &[&tables::StandardLevel]| -> f64 {
        let pairs = run.iter().zip(&heights);
        pairs.map(|(s, z)| (s.typical_height_gpm - z).abs()).sum()
    };
    let run = surfaces
        .windows(heights.len().max(1))
        .min_by(|a, b| off(a).total_cmp(&off(b)))?;
    let mut named = 0;
    let unnamed = levels
        .iter_mut()
        .filter(|l| nameless(l) && l.row.height_gpm.is_some());
    for (level, surface) in unnamed.zip(run) {
        level.row.pressure_hpa = Some(f64::from(surface.pressure_hpa));
        named += 1;
    }
    (named > 0).then(|| {
        let what = format!("{named} standard surfaces are given by height and named by it");
        Finding::info("surfaces-named-by-height", Place::default(), what)
    })
}
