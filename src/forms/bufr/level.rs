//! One level of a message, by descriptor.

use super::fields::{Fields, Given};
use super::moments::seconds_between;
use crate::model::finding::{Finding, Place, counted, finding};
use crate::model::quantity::trim;
use crate::model::{At, Level, Position, Roles, Row};
use crate::physics::drift::wrapped;
use crate::physics::gravity::{MIDDLE_LATITUDE_DEG, geopotential_gpm};
use crate::physics::hydrostatic::GRAVITY;
use crate::tables::{roles_of_figure, roles_of_flags};

/// A level of these fields. `head` has the launch, `from` where it was; `geometric`
/// counts the levels whose height is one above sea level in metres.
pub(super) fn level(
    fields: &Fields<'_, '_>,
    head: &Fields<'_, '_>,
    from: Option<(f64, f64)>,
    geometric: &mut usize,
) -> Level {
    let place = place(fields, from);
    let latitude = place.map(|p| p.latitude_deg).or(from.map(|(lat, _)| lat));
    Level {
        row: Row {
            time_s: time_s(fields, head),
            pressure_hpa: fields.hectopascals(&[(7, 4), (10, 4)]),
            height_gpm: height_gpm(fields, head, latitude, geometric),
            temperature_c: fields.celsius(&[(12, 101), (12, 1)]),
            dewpoint_c: fields.celsius(&[(12, 103), (12, 3)]),
            humidity_pct: fields.first(&[(13, 9), (13, 3)]),
            wind: fields.wind(),
            place,
            given: Roles::empty(),
        },
        at: At::Received,
        roles: roles(fields),
        why: Vec::new(),
    }
}

/// Displacements from the launch, or a position of its own.
fn place(fields: &Fields<'_, '_>, from: Option<(f64, f64)>) -> Option<Position> {
    let displaced = fields.value(5, 15).zip(fields.value(6, 15));
    let displaced = displaced.zip(from).map(|((north, east), (lat, lon))| {
        let longitude = wrapped(lon + east);
        (trim(lat + north), trim(longitude))
    });
    let own = || {
        let latitude = fields.first(&[(5, 1), (5, 2)]);
        latitude.zip(fields.first(&[(6, 1), (6, 2)]))
    };
    let (latitude_deg, longitude_deg) = displaced.or_else(own)?;
    Some(Position {
        latitude_deg,
        longitude_deg,
    })
}

/// Seconds after launch: a displacement, or a full date and time.
fn time_s(fields: &Fields<'_, '_>, head: &Fields<'_, '_>) -> Option<f64> {
    let minutes = || fields.first(&[(4, 25), (4, 15)]).map(|min| min * 60.0);
    let seconds = fields.first(&[(4, 86), (4, 16), (4, 26)]);
    let own = match (fields.value(4, 25), seconds) {
        // 0 04 025 and 0 04 026 stand for minutes and seconds of one time.
        (Some(_), Some(seconds)) if fields.nth(4, 26, 0).is_some() => {
            minutes().map(|min| min + seconds)
        }
        (_, Some(seconds)) => Some(seconds),
        _ => minutes(),
    };
    own.or_else(|| seconds_between(head, fields))
}

/// Geopotential height, or geopotential, or a height above sea level or station made into
/// one.
fn height_gpm(
    fields: &Fields<'_, '_>,
    head: &Fields<'_, '_>,
    latitude_deg: Option<f64>,
    geometric: &mut usize,
) -> Option<f64> {
    if let Some(height) = fields.first(&[(10, 9), (7, 9)]) {
        return Some(height);
    }
    // m2 s-2.
    if let Some(geopotential) = fields.first(&[(10, 8), (10, 3), (7, 8), (7, 3)]) {
        return Some(trim(geopotential / GRAVITY));
    }
    let above_station = || {
        let (own, station) = (fields.value(7, 6)?, head.first(&[(7, 30), (7, 1)])?);
        Some(trim(own + station))
    };
    let height_m = fields.first(&[(7, 7), (7, 2)]).or_else(above_station)?;
    *geometric += 1;
    let latitude_deg = latitude_deg.unwrap_or(MIDDLE_LATITUDE_DEG);
    Some(trim(geopotential_gpm(height_m, latitude_deg)))
}

/// The roles that 0 08 042 gives, or an older table.
fn roles(fields: &Fields<'_, '_>) -> Roles {
    let bits = |x, y| fields.small::<u32>(x, y);
    let newer = bits(8, 42).map(|bits| Roles::from_bits_retain(bits) & Roles::FLAG_TABLE);
    newer
        .or_else(|| bits(8, 1).map(roles_of_flags))
        .or_else(|| bits(8, 40).map(roles_of_figure))
        .unwrap_or_default()
}

/// A level of a NIL report.
pub(super) fn says_nothing(level: &Level) -> bool {
    let row = &level.row;
    row.pressure_hpa.is_none()
        && row.height_gpm.is_none()
        && row.temperature_c.is_none()
        && row.wind.is_none()
}

/// Winds of which only one half is there.
pub(super) fn tell_half_winds(levels: &[Vec<Given<'_>>], findings: &mut Vec<Finding>) {
    let half = levels
        .iter()
        .filter(|fields| {
            let fields = Fields(fields);
            let (dir, speed) = (fields.code(11, 1), fields.code(11, 2));
            dir.is_some() != speed.is_some() && speed != Some(0)
        })
        .count();
    let variable = levels
        .iter()
        .filter(|fields| {
            let fields = Fields(fields);
            fields.code(11, 1) == Some(0) && fields.code(11, 2).is_some_and(|speed| speed > 0)
        })
        .count();
    if variable > 0 {
        let levels = counted(variable, "level");
        findings.push(finding!(WindVariable, Place::default(), levels = levels));
    }
    if half > 0 {
        let levels = counted(half, "level");
        findings.push(finding!(WindIncomplete, Place::default(), rows = levels));
    }
}

/// Heights that were made into geopotential ones.
pub(super) fn tell_geometric(levels: usize, findings: &mut Vec<Finding>) {
    if levels > 0 {
        let levels = counted(levels, "level");
        findings.push(finding!(HeightInMetres, Place::default(), levels = levels));
    }
}
