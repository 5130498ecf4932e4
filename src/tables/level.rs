//! Standard isobaric surfaces.

use serde::Deserialize;

use super::{Form, Once, Part, STANDARD_LEVELS, load};
use crate::model::Region;

/// A standard isobaric surface (WMO-No. 306, 35.2.2.1 and 32.2.2.1).
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StandardLevel {
    /// The family that reports it.
    pub form: Form,
    /// The part it stands in: A or C.
    pub part: Part,
    /// The Region whose stations alone report it; `None` when all do.
    #[serde(rename = "region")]
    pub only_region: Option<Region>,
    /// Pressure, hPa.
    pub pressure_hpa: u16,
    /// The two figures PP of the group, 0–99.
    pub pp: u8,
    /// The figure Id that names it as the last with wind (code table 1734, from
    /// memory); `None` in PILOT and for the surfaces of Region IV.
    pub id_figure: Option<u8>,
    /// The unit of hhh in gpm: 1 below 500 hPa, 10 from there up.
    pub height_step_gpm: u16,
    /// Height in the U.S. Standard Atmosphere, 1976, gpm: only to restore the
    /// thousands that hhh drops.
    pub typical_height_gpm: f64,
}

static LEVELS: Once<Vec<StandardLevel>> = Once::new(|| load(STANDARD_LEVELS));

/// All standard surfaces: TEMP, then PILOT, each from the ground up.
#[must_use]
pub fn standard_levels() -> &'static [StandardLevel] {
    &LEVELS
}

/// The surfaces of Part A or C of TEMP in a Region, from the ground up; none
/// for B and D.
pub fn temp_levels(region: Region, part: Part) -> impl Iterator<Item = &'static StandardLevel> {
    of_form(Form::Temp, region, part)
}

/// The surfaces of Part A or C of PILOT, from the ground up; none for B and D.
pub fn pilot_levels(region: Region, part: Part) -> impl Iterator<Item = &'static StandardLevel> {
    of_form(Form::Pilot, region, part)
}

fn of_form(form: Form, region: Region, part: Part) -> impl Iterator<Item = &'static StandardLevel> {
    LEVELS.iter().filter(move |level| {
        level.form == form
            && level.part == part
            && level.only_region.is_none_or(|only| only == region)
    })
}
