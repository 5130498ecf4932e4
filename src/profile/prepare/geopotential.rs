//! Whether a column of heights is what its name says: a length, or geopotential.

use super::Prepared;
use crate::finding::Finding;
use crate::physics::gravity::{MIDDLE_LATITUDE_DEG, geopotential_gpm};
use crate::physics::humidity::{dewpoint_c, virtual_temperature_k};
use crate::physics::hydrostatic::thickness_gpm;
use crate::source::RawRow;
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

/// Holds heights against those that pressure, temperature and humidity give, and
/// tells when they agree as the other kind only.
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
    let least = profile_limits().hydrostatic_gpm;
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
    let (now, then, column) = if lengths {
        ("geometric height", "geopotential", "height_gpm")
    } else {
        ("geopotential", "geometric height", "altitude_m")
    };
    let what = format!(
        "as {now} the heights depart by {read:+.0} gpm here from those that pressure and \
         temperature give, as {then} by {other:+.0} gpm"
    );
    let place = prepared.place(at);
    prepared.findings.push(
        Finding::warning("kind-of-height", place, what).allowed(format!(
            "if they are {then}, give the column as {column} under [columns]"
        )),
    );
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
