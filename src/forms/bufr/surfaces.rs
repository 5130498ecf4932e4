//! Standard surfaces of a received message: those that lie a little off their
//! pressure.

use crate::model::finding::{Finding, Place, finding};
use crate::model::{Level, Roles};
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
            findings.push(finding!(
                StandardOffSurface,
                Place::pressure(was),
                flagged_hpa = was,
                surface_hpa = p
            ));
        }
    }
}
