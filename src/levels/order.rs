//! The order of levels from the ground up, whichever coordinate they have.

use crate::model::{Level, Roles};
use crate::physics::hydrostatic::standard_height_gpm;

impl Level {
    /// A number by which levels rise: the height, or that of the pressure in
    /// the standard atmosphere; a surface without either comes first.
    #[must_use]
    pub fn order(&self) -> f64 {
        let row = &self.row;
        let standard = || row.pressure_hpa.map(standard_height_gpm);
        let surface = if self.roles.any(Roles::SURFACE) {
            f64::NEG_INFINITY
        } else {
            f64::INFINITY
        };
        row.height_gpm.or_else(standard).unwrap_or(surface)
    }
}
