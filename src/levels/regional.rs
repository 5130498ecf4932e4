//! What the practice of a Region adds to TEMP, and the height of a standard
//! surface just above the top (WMO-No. 306 Vol. II; 35.2.2.4).

use itertools::Itertools;

use super::column::{Column, components, wind_from_components};
use super::interpolate::{row_at, wind_at};
use super::max_wind::coordinate_at;
use crate::model::{
    AboveTop, At, Coding, DoubtfulLayer, Extrapolated, Form, Level, LowWind, Order, Part, Profile,
    Regional, Roles, Row, Rule, SurfaceFrom, Wind,
};
use crate::physics::adiabat::lifted_c;
use crate::physics::humidity::virtual_temperature_k;
use crate::physics::hydrostatic::thickness_gpm;
use crate::profile::gaps::Lost;
use crate::tables;
use crate::tables::{Practice, PracticeRow, PracticeUnit, limits, practice, practice_rows};

/// The values, and the level above the top where the sheet wants it coded.
pub(crate) fn regional(
    profile: &Profile,
    column: &Column,
    coding: &Coding,
    orders: &[Order],
    goes_on: bool,
) -> (Regional, Option<Level>) {
    let mut out = Regional {
        stability_k: stability_k(profile, column, coding),
        mean_winds: mean_winds(column, profile.ends_aloft, coding),
        extrapolated: Vec::new(),
        // Whether a group says so is the code form's to decide.
        doubtful: doubtful(orders),
        low_winds: low_winds(column, coding),
    };
    // Something above 100 hPa is to come, or the top is known.
    let above = if goes_on && column.lower == column.len() {
        None
    } else {
        above_top(profile, column, coding)
    };
    if practice(coding, Practice::Extrapolated).is_some() {
        out.extrapolated.extend(above);
        return (out, None);
    }
    let coded = above.filter(|_| coding.above_top == AboveTop::Extrapolate);
    let level = coded.map(|e| Level {
        row: Row {
            pressure_hpa: Some(e.pressure_hpa),
            height_gpm: Some(e.height_gpm),
            ..Row::default()
        },
        at: At::Extrapolated,
        roles: Roles::STANDARD,
        why: vec![Rule::Standard {
            pressure_hpa: e.pressure_hpa,
            how: SurfaceFrom::Above,
        }],
    });
    (out, level)
}

/// Temperature at the upper surface less that of a parcel lifted there from the lower
/// one, which depends on the height of the station.
fn stability_k(profile: &Profile, column: &Column, coding: &Coding) -> Option<f64> {
    let ground = profile.rows.first()?.height_gpm?;
    let mut rows = practice_rows(coding, Practice::Stability);
    let row = rows.find(|row| row.station_gpm.is_none_or(|most| ground <= most))?;
    let (from, to) = (row.from?, row.to?);
    if *column.p.first()? < from || *column.p.last()? > to {
        return None;
    }
    let at = |p: f64| row_at(profile, column, -p.ln(), p);
    let (low, high) = (at(from), at(to));
    let lifted = lifted_c(low.temperature_c?, low.dewpoint_c?, from, to);
    Some(high.temperature_c? - lifted)
}

/// The mean wind of each layer, weighted by height; a layer whose lower part a drop did
/// not reach has none.
fn mean_winds(column: &Column, ends_aloft: bool, coding: &Coding) -> Option<Vec<Option<Wind>>> {
    let lowest = *column.z.first()?;
    let mean = |row: &PracticeRow| {
        let from = match (row.from, ends_aloft) {
            (from, true) => from?,
            (from, false) => from.map_or(lowest, |from| from.max(lowest)),
        };
        mean_wind(column, from, row.to?)
    };
    let winds: Vec<_> = practice_rows(coding, Practice::MeanWind)
        .map(mean)
        .collect();
    winds.iter().any(Option::is_some).then_some(winds)
}

/// The mean of the straight lines between the winds from one height to another.
fn mean_wind(column: &Column, from: f64, to: f64) -> Option<Wind> {
    if from >= to {
        return None;
    }
    let end = |z: f64| {
        let x = coordinate_at(column, z)?;
        Some((z, components(wind_at(column, x)?)))
    };
    let (first, last) = (end(from)?, end(to)?);
    let inner = (0..column.len()).filter_map(|k| {
        let z = *column.z.get(k)?;
        let wind = Wind {
            dir_deg: *column.dir.get(k)?,
            speed_ms: *column.speed.get(k)?,
        };
        (z > from && z < to && wind.speed_ms.is_finite()).then(|| (k, (z, components(wind))))
    });
    let inner: Vec<_> = inner.collect();
    // What is not bridged has no mean; the ends are not in a gap.
    let gap = |(low, high)| column.is_gap(Lost::Wind, &column.speed, low, high);
    if inner.iter().map(|(k, _)| *k).tuple_windows().any(gap) {
        return None;
    }
    let mut sum = (0.0, 0.0);
    let inner = inner.into_iter().map(|(_, here)| here);
    for (below, here) in [first]
        .into_iter()
        .chain(inner)
        .chain([last])
        .tuple_windows()
    {
        let (deep, (u0, v0), (u1, v1)) = (here.0 - below.0, below.1, here.1);
        sum.0 += deep * f64::midpoint(u0, u1);
        sum.1 += deep * f64::midpoint(v0, v1);
    }
    let depth = to - from;
    Some(wind_from_components(sum.0 / depth, sum.1 / depth))
}

fn low_winds(column: &Column, coding: &Coding) -> Vec<LowWind> {
    let (Some(&ground), Some(&first)) = (column.z.first(), column.p.first()) else {
        return Vec::new();
    };
    (1..)
        .zip(practice_rows(coding, Practice::LowWind))
        .filter_map(|(indicator, row)| {
            let at = row.from?;
            let x = match row.unit? {
                PracticeUnit::Pressure => (at < first).then(|| -at.ln())?,
                PracticeUnit::Ground => coordinate_at(column, ground + at)?,
                _ => coordinate_at(column, at)?,
            };
            Some(LowWind {
                indicator,
                pressure_hpa: (-x).exp(),
                wind: wind_at(column, x)?,
            })
        })
        .collect()
}

fn doubtful(orders: &[Order]) -> Vec<DoubtfulLayer> {
    let layer = |order: &Order| match order {
        Order::Doubtful {
            doubtful,
            from_hpa,
            to_hpa,
            ..
        } => Some(DoubtfulLayer {
            doubtful: *doubtful,
            from_hpa: from_hpa.max(*to_hpa),
            to_hpa: from_hpa.min(*to_hpa),
        }),
        _ => None,
    };
    orders.iter().filter_map(layer).collect()
}

/// The next standard surface above the top, when it is near enough: by not
/// more than a quarter of its pressure and 25 hPa. Its height stands on a
/// straight line in T and ln p through two points, at the top and as far below
/// it as the surface is above (35.2.2.4).
fn above_top(profile: &Profile, column: &Column, coding: &Coding) -> Option<Extrapolated> {
    let lim = limits();
    let top = *column.p.last()?;
    let parts = [Part::A, Part::C].into_iter();
    let surface = parts
        .flat_map(|part| tables::station_levels(Form::Temp, coding, part))
        .find(|s| f64::from(s.pressure_hpa) < top)?;
    let target = f64::from(surface.pressure_hpa);
    let gap = top - target;
    if gap > lim.extrapolation_ratio * target || gap > lim.extrapolation_hpa {
        return None;
    }
    let at = |p: f64| {
        let row = row_at(profile, column, -p.ln(), p);
        let t = virtual_temperature_k(row.temperature_c?, row.dewpoint_c, p);
        Some((t, row.height_gpm))
    };
    let ((t_top, z_top), (t_low, _)) = (at(top)?, at(top + gap)?);
    let slope = (t_top - t_low) / (top / (top + gap)).ln();
    let t_target = t_top + slope * (target / top).ln();
    Some(Extrapolated {
        pressure_hpa: target,
        height_gpm: z_top? + thickness_gpm((top, t_top), (target, t_target)),
    })
}
