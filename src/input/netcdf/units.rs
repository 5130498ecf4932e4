//! What a unit alone says of a variable (CF conventions, 4.1 to 4.3).

use crate::input::elements::known;
use crate::input::elements::known::Known;
use crate::input::elements::unit::Unit;
use crate::input::netcdf::few;

/// A value in our unit, without what a conversion leaves in the last bits.
pub(super) fn ours(unit: &Unit, value: f64) -> f64 {
    match unit.convert {
        Some(convert) => few(convert(value)),
        None => value,
    }
}

/// The units of our column, for messages.
pub(super) fn allowed(known: &Known) -> String {
    let names = known.units.iter().map(|u| u.name);
    names.collect::<Vec<_>>().join(", ")
}

/// Whether a unit is one of latitudes: with `north`, or N.
pub(super) fn is_north(text: &str) -> bool {
    [
        "degrees_north",
        "degree_north",
        "degree_N",
        "degrees_N",
        "degreeN",
        "degreesN",
    ]
    .contains(&text)
}

/// The same of longitudes.
pub(super) fn is_east(text: &str) -> bool {
    [
        "degrees_east",
        "degree_east",
        "degree_E",
        "degrees_E",
        "degreeE",
        "degreesE",
    ]
    .contains(&text)
}

/// Whether a unit is one of pressure, by which alone a vertical coordinate is known.
pub(super) fn is_pressure(text: &str) -> bool {
    let pressure = known::known("pressure_hpa");
    pressure.is_some_and(|known| known::unit(known, text).is_some())
}
