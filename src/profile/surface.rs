//! Whether the surface observation of the sheet is of the place where the flight
//! begins.

use super::Numbered;
use super::join::at_release;
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Station, Surface};
use crate::physics::hydrostatic::pressure_below;
use crate::tables::profile_limits;

/// Temperature of the air near the ground when nothing gives one, °C: 10 K more
/// or less are 4 % of the difference of pressure.
const MIDDLE_TEMPERATURE_C: f64 = 15.0;

/// Compares the pressure of the first row of the file, carried down to the release
/// point, with that of the sheet, before the one replaces the other.
///
/// A first row without a height is compared when it is of the time of release.
pub(super) fn compare(
    first: &Numbered,
    surface: &Surface,
    station: &Station,
    name: &str,
) -> Option<Finding> {
    let lim = profile_limits();
    let row = &first.row;
    let barometer = at_release(surface, station, row)?;
    let read = row.pressure_hpa?;
    let release = station.release_m.or(station.elevation_m);
    let at_release = row.time_s.is_some_and(|t| t <= lim.release_s);
    let depth = match row.height_gpm.zip(release) {
        Some((z, ground)) => z - ground,
        None if at_release => 0.0,
        None => return None,
    };
    if depth.abs() > lim.surface_depth_gpm {
        return None;
    }
    let temperatures = row.temperature_c.zip(surface.temperature_c);
    let mean = temperatures.map(|(sonde, ground)| f64::midpoint(sonde, ground));
    let t = mean.or(row.temperature_c).or(surface.temperature_c);
    let t = t.unwrap_or(MIDDLE_TEMPERATURE_C);
    let carried = pressure_below(read, t, row.any_dewpoint_c(), depth);
    let off = carried - barometer;
    (off.abs() > lim.surface_pressure_hpa).then(|| {
        finding!(
            SurfacePressure,
            Place::line(name, first.line),
            carried_hpa = carried,
            barometer_hpa = barometer,
            off_hpa = off,
            [most_hpa = lim.surface_pressure_hpa]
        )
    })
}
