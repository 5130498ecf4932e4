//! Pressures of a profile that gives heights: the hydrostatic equation upwards
//! from the surface pressure, or from where the sensor failed.

use super::Prepared;
use crate::finding::Finding;
use crate::physics::gravity::{MIDDLE_LATITUDE_DEG, geopotential_gpm};
use crate::physics::humidity::{dewpoint_c, virtual_temperature_k};
use crate::physics::hydrostatic::pressure_across;
use crate::profile::{derive, join};
use crate::quantity::trim;
use crate::sounding::{Form, Row, StationKind};
use crate::source::RawRow;
use crate::tables::limits;

/// What `derived` says of it.
pub(crate) const DERIVED: &str = "pressure_hpa by hydrostatic integration of height";

/// Integrates where no row has a pressure, from that of the sheet's surface
/// observation; or above the last row that has one. PILOT keeps what was
/// measured: heights are its own coordinate.
pub(super) fn complete(prepared: &mut Prepared) {
    if prepared.form == Form::Pilot {
        return;
    }
    let last = prepared
        .raw
        .rows
        .iter()
        .rposition(|r| r.pressure_hpa.is_some());
    let from = last.map_or(0, |at| at + 1);
    let thermal = |r: &RawRow| r.temperature_c.is_some() && has_height(r);
    let above = prepared.raw.rows.iter().skip(from).filter(|r| thermal(r));
    if above.count() < 2 {
        return;
    }
    let Some(anchor) = (match last {
        Some(at) => at_row(prepared, at),
        // The surface pressure is that of a release from the ground.
        None if prepared.context.station.kind == StationKind::Drop => None,
        None => at_surface(prepared),
    }) else {
        return;
    };
    let latitude = prepared.context.station.latitude_deg;
    let place = prepared.place(from);
    let rows = prepared.raw.to_mut().rows.get_mut(from..);
    let (done, bridged) = integrate(rows.unwrap_or_default(), anchor, latitude);
    if done == 0 {
        return;
    }
    let across = match bridged {
        0 => String::new(),
        n => format!(", {n} of them without temperature"),
    };
    prepared.derived.push(DERIVED.to_owned());
    let what = match last {
        None => format!(
            "pressures are missing; integrated hydrostatically with virtual temperature from \
             {:.1} hPa at the surface for {done} rows{across}",
            anchor.pressure_hpa
        ),
        Some(_) => format!(
            "pressure ends at {:.1} hPa; integrated hydrostatically with virtual temperature from \
             there for {done} rows{across}",
            anchor.pressure_hpa
        ),
    };
    prepared
        .findings
        .push(Finding::info("pressure-integrated", place, what));
}

fn has_height(row: &RawRow) -> bool {
    row.height_gpm.or(row.altitude_m).is_some()
}

/// A level of the integration.
#[derive(Clone, Copy)]
struct Anchor {
    height_gpm: f64,
    pressure_hpa: f64,
    /// Virtual temperature, K; `None`: as that of the first row above.
    virtual_k: Option<f64>,
}

/// Temperature and dew point, °C.
fn air(row: &RawRow) -> Option<(f64, Option<f64>)> {
    let t = row.temperature_c?;
    let from_humidity = || row.humidity_pct.and_then(|u| dewpoint_c(t, u));
    Some((t, row.dewpoint_c.or_else(from_humidity)))
}

/// The last row with a pressure; its height must be known.
fn at_row(prepared: &Prepared, at: usize) -> Option<Anchor> {
    let row = prepared.raw.rows.get(at)?;
    let pressure_hpa = row.pressure_hpa?;
    Some(Anchor {
        height_gpm: derive::height_gpm(row, prepared.context.station.latitude_deg)?,
        pressure_hpa,
        virtual_k: air(row).map(|(t, td)| virtual_temperature_k(t, td, pressure_hpa)),
    })
}

/// The surface observation, at the height of the first row when that is the row
/// of release, else at the height of the release point.
fn at_surface(prepared: &Prepared) -> Option<Anchor> {
    let context = prepared.context;
    let surface = context.surface.as_ref()?;
    let station = &context.station;
    let latitude = station.latitude_deg;
    let mut rows = prepared.raw.rows.iter();
    let first = rows.find(|r| r.time_s.is_none_or(|t| t >= 0.0) && has_height(r))?;
    let height = derive::height_gpm(first, latitude)?;
    let observed = Row {
        temperature_c: first.temperature_c,
        dewpoint_c: air(first).and_then(|(_, td)| td),
        ..Row::default()
    };
    let pressure_hpa = join::at_release(surface, station, &observed)?;
    let ground = prepared.ground_m();
    let ground = ground.map(|m| geopotential_gpm(m, latitude.unwrap_or(MIDDLE_LATITUDE_DEG)));
    if ground.is_some_and(|g| (height - g).abs() > limits().bridge_thermal_gpm) {
        return None;
    }
    let aloft = join::later_and_above(first.time_s, height, prepared.ground_m());
    let height_gpm = match ground {
        Some(ground) if aloft => ground,
        None if aloft => return None,
        _ => height,
    };
    let given = RawRow {
        temperature_c: surface.temperature_c.or(first.temperature_c),
        humidity_pct: surface.humidity_pct,
        dewpoint_c: surface.dewpoint_c,
        ..RawRow::default()
    };
    let dew = |(t, td): (f64, Option<f64>)| (t, td.or(observed.dewpoint_c));
    Some(Anchor {
        height_gpm,
        pressure_hpa,
        virtual_k: (air(&given).map(dew)).map(|(t, td)| virtual_temperature_k(t, td, pressure_hpa)),
    })
}

/// Pressures from an anchor along the rows, up to the last with temperature;
/// between two rows with temperature the virtual one is linear in height. Gives
/// the number of rows that have one now, and how many of them lack temperature.
fn integrate(rows: &mut [RawRow], anchor: Anchor, latitude: Option<f64>) -> (usize, usize) {
    let first = rows.iter().find_map(air);
    let virtual_at = |(t, td): (f64, Option<f64>), p: f64| virtual_temperature_k(t, td, p);
    let mut below = (
        anchor.pressure_hpa,
        anchor
            .virtual_k
            .unwrap_or_else(|| first.map_or(0.0, |air| virtual_at(air, anchor.pressure_hpa))),
    );
    let mut height = anchor.height_gpm;
    let mut from = 0;
    let (mut done, mut bridged) = (0, 0);
    for at in 0..rows.len() {
        let level = rows
            .get(at)
            .and_then(|r| derive::height_gpm(r, latitude).zip(air(r)));
        let Some((here, air)) = level else { continue };
        let pressure = pressure_across(below, here - height, |p| virtual_at(air, p));
        let upper = (pressure, virtual_at(air, pressure));
        for row in rows.get_mut(from..at).unwrap_or_default() {
            let Some(z) = derive::height_gpm(row, latitude) else {
                continue;
            };
            let share = if here == height {
                0.0
            } else {
                (z - height) / (here - height)
            };
            let kelvin = below.1 + share * (upper.1 - below.1);
            row.pressure_hpa = Some(trim(pressure_across(below, z - height, |_| kelvin)));
            done += 1;
            bridged += 1;
        }
        if let Some(row) = rows.get_mut(at) {
            row.pressure_hpa = Some(trim(pressure));
            done += 1;
        }
        (below, height, from) = (upper, here, at + 1);
    }
    (done, bridged)
}
