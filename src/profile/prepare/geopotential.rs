//! Whether a column of heights is what its name says: a length, or geopotential.

use super::Prepared;
use crate::model::HeightKind;
use crate::model::finding::{counted, finding};
use crate::model::raw::RawRow;
use crate::physics::gravity::{MIDDLE_LATITUDE_DEG, geopotential_gpm};
use crate::physics::humidity::{dewpoint_c, virtual_temperature_k};
use crate::physics::hydrostatic::thickness_gpm;
use crate::tables::{joining_limits, limits, profile_limits};

/// Most levels of the integration: layers of a hundred metres are thin enough.
const MOST_LEVELS: usize = 500;

/// Heights, as the other kind would have them: of a geometric height the
/// geopotential of the same number, and the other way round.
struct Other {
    /// The height as it is read, gpm.
    read_gpm: f64,
    /// The height as the other kind, gpm.
    other_gpm: f64,
}

/// Puts the heights into the column of the kind that the sheet says they are.
///
/// Where a row has both kinds, that of the sheet is used alone.
pub(super) fn as_given(prepared: &mut Prepared) {
    let Some(kind) = prepared.context.meaning.height_kind else {
        return;
    };
    let other = |row: &RawRow| match kind {
        HeightKind::Geopotential => row.altitude_m.is_some(),
        HeightKind::Geometric => row.height_gpm.is_some(),
    };
    let count = prepared.raw.rows.iter().filter(|row| other(row)).count();
    if count == 0 {
        return;
    }
    for row in &mut prepared.raw.to_mut().rows {
        match kind {
            HeightKind::Geopotential => {
                row.height_gpm = row.height_gpm.or(row.altitude_m.take());
                row.altitude_m = None;
            }
            HeightKind::Geometric => {
                row.altitude_m = row.altitude_m.or(row.height_gpm.take());
                row.height_gpm = None;
            }
        }
    }
    let (now, then) = match kind {
        HeightKind::Geopotential => ("geopotential", "geometric height"),
        HeightKind::Geometric => ("geometric height", "geopotential"),
    };
    prepared.findings.push(finding!(
        HeightKindGiven,
        prepared.file(),
        used = now,
        given = then,
        rows = counted(count, "row")
    ));
}

/// Compares heights with those that pressure, temperature and humidity give, and
/// reports when they agree as the other kind only: an error, which no report is
/// made with, until the sheet says which kind they are.
pub(super) fn hold(prepared: &mut Prepared) {
    let rows = &prepared.raw.rows;
    let lengths = rows
        .iter()
        .filter(|r| r.height_gpm.is_none() && r.altitude_m.is_some());
    let lengths = lengths.count() * 2 > rows.len();
    let station = prepared.context.station.latitude_deg;
    let heights = |row: &RawRow| {
        let latitude = row.latitude_deg.or(station).unwrap_or(MIDDLE_LATITUDE_DEG);
        if lengths {
            row.altitude_m
                .filter(|_| row.height_gpm.is_none())
                .map(|m| Other {
                    read_gpm: geopotential_gpm(m, latitude),
                    other_gpm: m,
                })
        } else {
            row.height_gpm.map(|z| Other {
                read_gpm: z,
                other_gpm: geopotential_gpm(z, latitude),
            })
        }
    };
    let departures = departures(rows, heights);
    let Some(&Departure {
        at,
        read,
        other,
        height_gpm,
    }) = departures.last()
    else {
        return;
    };
    let least = profile_limits().height_kind_gpm;
    let ratio = joining_limits().other_height_ratio;
    // The two kinds part with the square of height: by a quarter half-way up. A
    // pressure that is off parts them aloft alone.
    let half = departures
        .iter()
        .rfind(|d| d.height_gpm <= height_gpm / 2.0);
    let square = half.is_some_and(|half| {
        let share = half.read / read;
        (0.1..0.6).contains(&share) && half.other.abs() <= half.read.abs() * 2.0 * ratio
    });
    if read.abs() < least || other.abs() > read.abs() * ratio || !square {
        return;
    }
    let [geopotential, geometric] = [
        ("geopotential", "geopotential"),
        ("geometric height", "geometric"),
    ];
    let ((now, own_word), (then, other_word)) = if lengths {
        (geometric, geopotential)
    } else {
        (geopotential, geometric)
    };
    let place = prepared.place(at);
    if prepared.context.meaning.height_kind.is_some() {
        prepared.findings.push(finding!(
            KindOfHeightGiven,
            place,
            used = now,
            used_gpm = read,
            other = then,
            other_gpm = other,
            [most_gpm = least, used = now]
        ));
        return;
    }
    let finding = finding!(
        KindOfHeight,
        place,
        used = now,
        used_gpm = read,
        other = then,
        other_gpm = other,
        [
            most_gpm = least,
            other_key = other_word,
            other = then,
            used_key = own_word,
            used = now
        ]
    );
    prepared.findings.push(finding.clone());
    prepared.unsettled.push(finding);
}

/// How far a height departs, as it is read and as the other kind, from that of
/// hydrostatic integration.
struct Departure {
    /// The row.
    at: usize,
    /// Its height, gpm.
    height_gpm: f64,
    /// Departures, gpm.
    read: f64,
    other: f64,
}

/// The departures of the rows that can be compared.
fn departures(rows: &[RawRow], heights: impl Fn(&RawRow) -> Option<Other>) -> Vec<Departure> {
    let step = rows.len() / MOST_LEVELS + 1;
    let bridge = limits().bridge_thermal_gpm;
    let mut before: Option<((f64, f64), Other)> = None;
    let (mut read, mut other) = (0.0, 0.0);
    let mut found = Vec::new();
    for (at, row) in rows.iter().enumerate().step_by(step) {
        let Some(((p, t), height)) = row.pressure_hpa.zip(row.temperature_c).zip(heights(row))
        else {
            continue;
        };
        if before.as_ref().is_some_and(|(below, _)| p >= below.0) {
            continue;
        }
        let dew = row
            .dewpoint_c
            .or_else(|| row.humidity_pct.and_then(|u| dewpoint_c(t, u)));
        let level = (p, virtual_temperature_k(t, dew, p));
        if let Some((below, lower)) = &before
            && height.read_gpm - lower.read_gpm <= bridge
        {
            let thickness = thickness_gpm(*below, level);
            read += height.read_gpm - lower.read_gpm - thickness;
            other += height.other_gpm - lower.other_gpm - thickness;
            found.push(Departure {
                at,
                height_gpm: height.read_gpm,
                read,
                other,
            });
        }
        before = Some((level, height));
    }
    found
}
