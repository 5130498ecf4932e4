//! Maximum winds, from the significant wind levels (WMO-No. 306, 35.2.4,
//! 32.2.3).

use super::Pick;
use super::column::{Column, components};
use super::interpolate::wind_at;
use crate::figure::WindFigure;
use crate::sounding::{Coding, Motion, Roles, Shear, Wind};
use crate::tables::limits;

/// One maximum wind: its place among the wind levels, and its shears.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Maximum {
    /// Index into the list of picks.
    pub pick: usize,
    pub shear: Option<Shear>,
}

/// A significant wind as the rules see it.
#[derive(Clone, Copy, Debug)]
struct Speed {
    pick: usize,
    ms: f64,
    /// In whole units of the message: what a reader will order by.
    coded: u16,
    p: f64,
    is_top: bool,
}

/// The maximum winds of A, then of C, each part's greatest first.
pub(crate) fn maxima(
    picks: &[Pick],
    column: &Column,
    coding: &Coding,
    motion: Motion,
) -> Vec<Maximum> {
    let winds: Vec<Speed> = picks
        .iter()
        .enumerate()
        .filter_map(|(pick, p)| {
            let (&ms, &dir) = (column.speed.get(p.row)?, column.dir.get(p.row)?);
            let coded =
                WindFigure::from_value(dir, ms, coding.wind_unit).map_or(0, WindFigure::speed);
            Some(Speed {
                pick,
                ms,
                coded,
                p: *column.p.get(p.row)?,
                is_top: p.roles.any(Roles::TOP_OF_WIND),
            })
        })
        .collect();
    let split = picks
        .iter()
        .position(|p| p.row >= column.lower)
        .unwrap_or(picks.len());
    let greatest = winds.iter().map(|w| w.ms).fold(0.0, f64::max);
    let (below, _) = winds.split_at(split.min(winds.len()));
    // C starts from the last level of B as neighbour.
    let above = winds.get(split.saturating_sub(1)..).unwrap_or(&[]);
    let mut found = of_part(below, greatest, 0, motion);
    found.extend(of_part(above, greatest, usize::from(split > 0), motion));
    found
        .into_iter()
        .map(|w| Maximum {
            pick: w.pick,
            shear: coding
                .shear
                .then(|| picks.get(w.pick).map(|p| shear(column, p.row, w.is_top)))
                .flatten(),
        })
        .collect()
}

/// The maxima of one part; the first `skip` levels are neighbours only.
fn of_part(winds: &[Speed], greatest: f64, skip: usize, motion: Motion) -> Vec<Speed> {
    let lim = limits();
    let mut found: Vec<(Speed, bool)> = Vec::new();
    for (i, here) in winds.iter().enumerate().skip(skip) {
        if here.p >= lim.max_wind_floor_hpa || here.ms <= lim.max_wind_speed_ms {
            continue;
        }
        let below = winds.get(..i).unwrap_or(&[]);
        let above = winds.get(i + 1..).unwrap_or(&[]);
        if below.is_empty() && motion == Motion::Falling {
            // The lowest level of a drop is where its wind sounding ends; it
            // counts if nothing is stronger (B/C26.6.4.4).
            let weaker_above = above.first().is_none_or(|w| w.ms < here.ms);
            if here.is_top && here.ms >= greatest && weaker_above {
                found.push((*here, true));
            }
            continue;
        }
        if below.last().is_none_or(|w| w.ms >= here.ms) {
            continue;
        }
        if above.is_empty() {
            // The top of the wind sounding counts if nothing is stronger; the
            // last level of Part B of a sounding that goes on does not.
            if here.is_top && here.ms >= greatest {
                found.push((*here, true));
            }
            continue;
        }
        // A flat top is one maximum, its lowest level reported.
        if above
            .iter()
            .find(|w| w.ms != here.ms)
            .is_none_or(|w| w.ms > here.ms)
        {
            continue;
        }
        let rises = |side: &mut dyn Iterator<Item = &Speed>| {
            here.ms - minimum(here.ms, side) >= lim.max_wind_rise_ms
        };
        let stands = rises(&mut below.iter().rev()) && rises(&mut above.iter());
        found.push((*here, stands));
    }
    found.sort_by(|(l, _), (r, _)| r.coded.cmp(&l.coded).then(r.p.total_cmp(&l.p)));
    found
        .into_iter()
        .enumerate()
        .filter(|(i, (_, stands))| *i == 0 || *stands)
        .map(|(_, (w, _))| w)
        .collect()
}

/// The adjacent minimum: the speed at which the wind, going away from a
/// maximum, first stops falling.
fn minimum(from: f64, side: &mut dyn Iterator<Item = &Speed>) -> f64 {
    let mut least = from;
    for w in side {
        if w.ms > least {
            break;
        }
        least = w.ms;
    }
    least
}

/// Vector differences to the wind 1 km below and above (35.2.4.4); above the
/// top of the wind sounding there is none.
fn shear(column: &Column, row: usize, is_top: bool) -> Shear {
    let depth = limits().shear_depth_gpm;
    let difference = |offset: f64| -> Option<f64> {
        let z = *column.z.get(row)?;
        let here = Wind {
            dir_deg: *column.dir.get(row)?,
            speed_ms: *column.speed.get(row)?,
        };
        let x = coordinate_at(column, z + offset)?;
        let other = wind_at(column, x)?;
        let ((u0, v0), (u1, v1)) = (components(here), components(other));
        Some((u1 - u0).hypot(v1 - v0))
    };
    Shear {
        below_ms: difference(-depth),
        above_ms: if is_top { None } else { difference(depth) },
    }
}

/// The vertical coordinate at a height, between the rows around it.
pub(crate) fn coordinate_at(column: &Column, z: f64) -> Option<f64> {
    let high = (0..column.len()).find(|&k| column.z.get(k).is_some_and(|&h| h >= z))?;
    let low = (0..high)
        .rev()
        .find(|&k| column.z.get(k).is_some_and(|h| h.is_finite()));
    let (x1, z1) = (*column.x.get(high)?, *column.z.get(high)?);
    match low {
        Some(low) => {
            let (x0, z0) = (*column.x.get(low)?, *column.z.get(low)?);
            Some(x0 + (x1 - x0) * (z - z0) / (z1 - z0))
        }
        None if z1 == z => Some(x1),
        None => None,
    }
}
