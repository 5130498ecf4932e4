//! What the practice of a Region adds to TEMP, and the height of a standard
//! surface just above the top (WMO-No. 306 Vol. II; 35.2.2.4).

use super::column::{Column, components, wind_from_components};
use super::interpolate::{row_at, wind_at};
use super::max_wind::coordinate_at;
use crate::model::{
    AboveTop, At, Coding, DoubtfulLayer, Extrapolated, Level, LowWind, Order, Part, Profile,
    Regional, Roles, Row, Rule, SurfaceFrom, Wind,
};
use crate::physics::adiabat::lifted_c;
use crate::physics::humidity::virtual_temperature_k;
use crate::physics::hydrostatic::thickness_gpm;
use crate::profile::gaps::Lost;
use crate::tables;
use crate::tables::{Practice, limits, practice};

/// Heights that bound the layers of the mean winds, m above mean sea level
/// (B/C25 Annex I, 0 11 044 to 0 11 055).
const MEAN_WINDS_M: [f64; 2] = [1500.0, 3000.0];

/// The lower winds of Region VI: metres above ground, and surfaces (6/35.2.2).
const LOW_M: f64 = 900.0;
const LOW_HPA: [f64; 2] = [800.0, 600.0];

/// Base of the lifted parcel, hPa, by the height of the station up to and
/// including so many gpm (B/C25 Annex I).
const BASES: [(f64, f64); 3] = [(999.999, 850.0), (1400.0, 800.0), (2000.0, 750.0)];

/// The values, and the level above the top where the sheet wants it coded.
pub(crate) fn regional(
    profile: &Profile,
    column: &Column,
    coding: &Coding,
    orders: &[Order],
    goes_on: bool,
) -> (Regional, Option<Level>) {
    let has = |what| practice(coding.region, what).is_some();
    let mut out = Regional::default();
    if has(Practice::Stability) {
        out.stability_k = stability_k(profile, column);
    }
    if has(Practice::MeanWinds) {
        out.mean_winds = mean_winds(column, profile.ends_aloft);
    }
    if has(Practice::LowWinds) {
        out.low_winds = low_winds(column);
    }
    // Whether a group says so is the code form's to decide.
    out.doubtful = doubtful(orders);
    // Something above 100 hPa is to come, or the top is known.
    let above = if goes_on && column.lower == column.len() {
        None
    } else {
        above_top(profile, column, coding)
    };
    if has(Practice::Extrapolated) {
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

/// Temperature at 500 hPa less that of a parcel lifted there from the base.
fn stability_k(profile: &Profile, column: &Column) -> Option<f64> {
    const TO_HPA: f64 = 500.0;
    let ground = profile.rows.first()?.height_gpm?;
    let &(_, base) = BASES.iter().find(|(most, _)| ground <= *most)?;
    if *column.p.first()? < base || *column.p.last()? > TO_HPA {
        return None;
    }
    let at = |p: f64| row_at(profile, column, -p.ln(), p);
    let (low, high) = (at(base), at(TO_HPA));
    let lifted = lifted_c(low.temperature_c?, low.dewpoint_c?, base, TO_HPA);
    Some(high.temperature_c? - lifted)
}

/// The mean wind of both layers, weighted by height; a layer whose lower part a
/// drop did not reach has none.
fn mean_winds(column: &Column, ends_aloft: bool) -> Option<[Option<Wind>; 2]> {
    let lowest = *column.z.first()?;
    let [low, high] = MEAN_WINDS_M;
    let winds = if ends_aloft {
        [None, mean_wind(column, low, high)]
    } else {
        [
            mean_wind(column, lowest, low),
            mean_wind(column, low.max(lowest), high),
        ]
    };
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
    let gap = |w: &[(usize, _)]| match w {
        [(low, _), (high, _)] => column.is_gap(Lost::Wind, &column.speed, *low, *high),
        _ => false,
    };
    if inner.windows(2).any(gap) {
        return None;
    }
    let mut sum = (0.0, 0.0);
    let mut below = first;
    for here in inner.into_iter().map(|(_, here)| here).chain([last]) {
        let (deep, (u0, v0), (u1, v1)) = (here.0 - below.0, below.1, here.1);
        sum.0 += deep * f64::midpoint(u0, u1);
        sum.1 += deep * f64::midpoint(v0, v1);
        below = here;
    }
    let depth = to - from;
    Some(wind_from_components(sum.0 / depth, sum.1 / depth))
}

fn low_winds(column: &Column) -> Vec<LowWind> {
    let ground = column.z.first().copied().unwrap_or(f64::NAN);
    let near = coordinate_at(column, ground + LOW_M).map(|x| (1, x));
    let first = column.p.first().copied().unwrap_or(f64::NAN);
    let surfaces = (2..).zip(LOW_HPA).filter(|&(_, p)| p < first);
    near.into_iter()
        .chain(surfaces.map(|(indicator, p)| (indicator, -p.ln())))
        .filter_map(|(indicator, x)| {
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
        .flat_map(|part| tables::temp_levels(coding.region, part))
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
