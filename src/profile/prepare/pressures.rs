//! Pressures of a profile that gives heights: the hydrostatic equation upwards
//! from the surface pressure, or from where the sensor failed.

use std::borrow::Cow;
use std::ops::Range;

use super::Prepared;
use crate::model::finding::{Finding, counted, finding};
use crate::model::quantity::trim;
use crate::model::raw::{RawProfile, RawRow};
use crate::model::{Context, Derivation, Form, Row, StationKind};
use crate::physics::gravity::{MIDDLE_LATITUDE_DEG, geopotential_gpm};
use crate::physics::humidity::{dewpoint_c, virtual_temperature_k};
use crate::physics::hydrostatic::pressure_across;
use crate::profile::{derive, join};
use crate::tables::{limits, profile_limits};

/// Rows before a failure among which one with pressure and height is looked for.
const MOST_BACK: usize = 10;

/// Integrates where no row has a pressure, from that of the sheet's surface
/// observation; and across every deep layer in which pressure is missing, from the
/// last row below that has one. PILOT keeps what was measured: heights are its own
/// coordinate.
pub(super) fn complete(prepared: &mut Prepared) {
    if prepared.form == Form::Pilot {
        return;
    }
    if !prepared.raw.rows.iter().any(|r| r.pressure_hpa.is_some()) {
        from_surface(prepared);
        return;
    }
    let mut from = 0;
    while let Some(gap) = next_gap(prepared, from) {
        from = gap.end;
        across(prepared, &gap);
    }
}

/// The pressures of rows by height that have none, from the surface observation of the
/// context upwards, with what was computed; `None` where it cannot be.
pub(crate) fn by_height(raw: &RawProfile, context: &Context) -> Option<(Vec<RawRow>, Finding)> {
    let mut prepared = Prepared {
        raw: Cow::Borrowed(raw),
        derived: Vec::new(),
        findings: Vec::new(),
        unsettled: Vec::new(),
        context,
        form: Form::Temp,
        window_s: None,
    };
    from_surface(&mut prepared);
    let finding = prepared.findings.pop()?;
    Some((prepared.raw.into_owned().rows, finding))
}

/// Whether the hydrostatic equation can go through these rows.
fn can_integrate(rows: &[RawRow]) -> bool {
    let thermal = |r: &&RawRow| r.temperature_c.is_some() && has_height(r);
    rows.iter().filter(thermal).nth(1).is_some()
}

fn from_surface(prepared: &mut Prepared) {
    // The surface pressure is that of a release from the ground.
    if prepared.context.station.kind == StationKind::Drop || !can_integrate(&prepared.raw.rows) {
        return;
    }
    let Some(anchor) = at_surface(prepared) else {
        return;
    };
    let latitude = prepared.context.station.latitude_deg;
    let (done, bridged) = integrate(&mut prepared.raw.to_mut().rows, anchor, latitude);
    let finding = finding!(
        PressureIntegrated,
        prepared.place(0),
        pressure_hpa = anchor.pressure_hpa,
        rows = counted(done, "row"),
        bridged = bridged
    );
    report(prepared, finding);
}

/// The rows without pressure between two that have one, or above the last.
fn next_gap(prepared: &Prepared, from: usize) -> Option<Range<usize>> {
    let rows = &prepared.raw.rows;
    let bare = |r: &RawRow| r.pressure_hpa.is_none();
    let first = rows.iter().position(|r| !bare(r))?.max(from);
    let start = first + rows.iter().skip(first).position(bare)?;
    let length = rows.iter().skip(start).take_while(|r| bare(r)).count();
    Some(start..start + length)
}

/// Integrates through a gap, where it is deep and temperature and height go on.
fn across(prepared: &mut Prepared, gap: &Range<usize>) {
    let rows = &prepared.raw.rows;
    let latitude = prepared.context.station.latitude_deg;
    // The row of the failure itself may lack its height.
    let below = (gap.start.saturating_sub(MOST_BACK)..gap.start).rev();
    let Some(anchor) = below.filter_map(|at| at_row(prepared, at)).next() else {
        return;
    };
    let depth = |at: usize| {
        let height = rows.get(at).and_then(|r| derive::height_gpm(r, latitude))?;
        Some((height - anchor.height_gpm).abs())
    };
    let depth = (gap.start..=gap.end).filter_map(depth).fold(0.0, f64::max);
    let deep = depth >= profile_limits().missing_layer_gpm;
    let inside = rows.get(gap.clone()).unwrap_or_default();
    if !deep || !can_integrate(inside) {
        return;
    }
    let read = rows.get(gap.end).and_then(|r| r.pressure_hpa);
    let mut through: Vec<RawRow> = rows
        .get(gap.start..=gap.end.min(rows.len() - 1))
        .unwrap_or_default()
        .to_vec();
    if read.is_some()
        && let Some(back) = through.last_mut()
    {
        back.pressure_hpa = None;
    }
    let (mut done, bridged) = integrate(&mut through, anchor, latitude);
    let mut returns = None;
    if let Some(read) = read
        && let Some(made) = through.pop().and_then(|r| r.pressure_hpa)
    {
        done -= 1;
        returns = Some((read, made));
    }
    if done == 0 {
        return;
    }
    for (row, made) in prepared
        .raw
        .to_mut()
        .rows
        .iter_mut()
        .skip(gap.start)
        .zip(through)
    {
        row.pressure_hpa = made.pressure_hpa;
    }
    let place = prepared.place(gap.start);
    let rows = counted(done, "row");
    let finding = match returns {
        None => finding!(
            PressureEndIntegrated,
            place,
            pressure_hpa = anchor.pressure_hpa,
            rows = rows,
            bridged = bridged
        ),
        Some((read, made)) => finding!(
            PressureGapIntegrated,
            place,
            pressure_hpa = anchor.pressure_hpa,
            rows = rows,
            bridged = bridged,
            read_hpa = read,
            made_hpa = made
        ),
    };
    report(prepared, finding);
}

fn report(prepared: &mut Prepared, finding: Finding) {
    if !prepared
        .derived
        .contains(&Derivation::PressureByIntegration)
    {
        prepared.derived.push(Derivation::PressureByIntegration);
    }
    prepared.findings.push(finding);
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
