//! Maximum winds (WMO-No. 306, 35.2.4, 32.2.3).
//!
//! Peaks are found on the whole speed curve of the sounding, so that neither
//! 100 hPa nor 500 hPa makes or hides one, and are then significant wind levels.
//! What is a maximum is judged by the list of these levels: each part's greatest,
//! and those that exceed both adjacent minima by 10 m/s, wherever these lie.

use super::Pick;
use super::column::{Column, components};
use super::interpolate::wind_at;
use super::layers::rises;
use crate::figure::WindFigure;
use crate::sounding::{Coding, Motion, Roles, Shear, Wind};
use crate::tables::limits;

/// The peaks of the whole speed curve, as rows, lowest first.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Peaks {
    /// Above the 500 hPa surface and over 30 m/s: what may be a maximum wind.
    pub high: Vec<usize>,
    /// At or below the 500 hPa surface: neighbours of the others, no more.
    pub low: Vec<usize>,
}

/// The rows with wind and their speeds.
struct Speeds {
    row: Vec<usize>,
    ms: Vec<f64>,
    /// Whether the sounding goes on above the last row.
    goes_on: bool,
}

impl Speeds {
    fn of(column: &Column, goes_on: bool) -> Self {
        let wind = |(row, &ms): (usize, &f64)| ms.is_finite().then_some((row, ms));
        let (row, ms) = (column.speed.iter().enumerate().filter_map(wind)).unzip();
        Self { row, ms, goes_on }
    }

    fn at(&self, i: usize) -> f64 {
        self.ms.get(i).copied().unwrap_or(f64::NAN)
    }

    /// The first of the greatest speeds among some rows.
    fn greatest(&self, rows: std::ops::Range<usize>) -> Option<usize> {
        rows.reduce(|best, i| if self.at(i) > self.at(best) { i } else { best })
    }

    /// Whether the curve rises to a row and falls after it, or after rows of the
    /// same speed.
    fn is_peak(&self, i: usize) -> bool {
        let rises = i.checked_sub(1).is_some_and(|b| self.at(b) < self.at(i));
        let after = (i + 1..self.ms.len()).find(|&k| self.at(k) != self.at(i));
        rises && after.map_or(!self.goes_on, |k| self.at(k) < self.at(i))
    }

    /// The tops of all rises of at least so many m/s.
    fn tops(&self, least: f64) -> Vec<usize> {
        rises(&self.ms, least).into_iter().map(|r| r.top).collect()
    }
}

/// The peaks that stand out by 10 m/s, and the fastest of each part: where the
/// fastest row of a part lies at its end, on a slope that goes on across it, the
/// fastest peak that stands out by the tolerance of speed.
pub(crate) fn peaks(column: &Column, goes_on: bool) -> Peaks {
    let lim = limits();
    let speeds = Speeds::of(column, goes_on);
    let p = |i: usize| {
        let row = speeds.row.get(i).copied().unwrap_or(usize::MAX);
        column.p.get(row).copied().unwrap_or(f64::NAN)
    };
    let lower = speeds.row.partition_point(|&row| row < column.lower);
    let all = speeds.row.len();
    let floor = (0..all)
        .find(|&i| p(i) < lim.max_wind_floor_hpa)
        .unwrap_or(all);
    let mut found = speeds.tops(lim.max_wind_rise_ms);
    found.extend(speeds.greatest(0..floor));
    let small = speeds.tops(lim.wind_speed_ms);
    for part in [floor..lower.max(floor), lower.max(floor)..all] {
        let fastest = speeds.greatest(part.clone());
        let fastest = fastest.filter(|&i| speeds.is_peak(i)).or_else(|| {
            let inside = small.iter().copied().filter(|i| part.contains(i));
            inside.filter(|&i| speeds.is_peak(i)).reduce(|best, i| {
                if speeds.at(i) > speeds.at(best) {
                    i
                } else {
                    best
                }
            })
        });
        found.extend(fastest);
    }
    found.sort_unstable();
    found.dedup();
    let (high, low): (Vec<usize>, Vec<usize>) = found.into_iter().partition(|&i| i >= floor);
    let rows = |list: Vec<usize>| {
        list.into_iter()
            .filter_map(|i| speeds.row.get(i).copied())
            .collect()
    };
    let fast = high
        .into_iter()
        .filter(|&i| speeds.at(i) > lim.max_wind_speed_ms);
    Peaks {
        high: rows(fast.collect()),
        low: rows(low),
    }
}

/// The row of the latest peak of an ascent that goes on, while it is open what
/// becomes of it: the speed at the last row exceeds 30 m/s and has not yet
/// fallen by 10 m/s.
pub(crate) fn undecided(column: &Column) -> Option<usize> {
    let lim = limits();
    let speeds = Speeds::of(column, true);
    let last = speeds.ms.last().copied()?;
    if last <= lim.max_wind_speed_ms {
        return None;
    }
    let mut peak = speeds.ms.len().checked_sub(1)?;
    for i in (0..speeds.ms.len()).rev() {
        if speeds.at(i) >= speeds.at(peak) {
            peak = i;
        }
        if speeds.at(peak) - last >= lim.max_wind_rise_ms {
            return None;
        }
        if speeds.at(peak) - speeds.at(i) >= lim.max_wind_rise_ms {
            break;
        }
    }
    let row = speeds.row.get(peak).copied()?;
    let p = column.p.get(row).copied()?;
    (p < lim.max_wind_floor_hpa).then_some(row)
}

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
    /// Index into the list of picks; `None` for a peak below the 500 hPa surface.
    pick: Option<usize>,
    row: usize,
    ms: f64,
    /// In whole units of the message: what a reader will order by.
    coded: u16,
    p: f64,
    is_top: bool,
    /// Whether it is a peak of the whole curve.
    is_peak: bool,
}

/// The maximum winds of A, then of C, each part's greatest first.
pub(crate) fn maxima(
    picks: &[Pick],
    peaks: &Peaks,
    column: &Column,
    coding: &Coding,
    motion: Motion,
) -> Vec<Maximum> {
    let speed = |pick: Option<usize>, row: usize, roles: Roles| {
        let (&ms, &dir) = (column.speed.get(row)?, column.dir.get(row)?);
        let coded = WindFigure::from_value(dir, ms, coding.wind_unit).map_or(0, WindFigure::speed);
        Some(Speed {
            pick,
            row,
            ms,
            coded,
            p: *column.p.get(row)?,
            is_top: roles.any(Roles::TOP_OF_WIND),
            is_peak: roles.any(Roles::MAX_WIND),
        })
    };
    let own = picks.iter().enumerate();
    let own = own.filter_map(|(pick, p)| speed(Some(pick), p.row, p.roles));
    let low = peaks.low.iter();
    let low = low.filter_map(|&row| speed(None, row, Roles::NONE));
    let mut winds: Vec<Speed> = own.chain(low).collect();
    winds.sort_by_key(|w| w.row);
    winds.dedup_by_key(|w| w.row);

    let found = stand_out(&winds, motion);
    let (below, above): (Vec<_>, Vec<_>) =
        found.into_iter().partition(|(w, _)| w.row < column.lower);
    [below, above]
        .into_iter()
        .flat_map(ordered)
        .filter_map(|w| {
            let pick = w.pick?;
            let shear = coding.shear.then(|| shear(column, w.row, w.is_top));
            Some(Maximum { pick, shear })
        })
        .collect()
}

/// The maxima of the whole list, and whether each exceeds both adjacent minima
/// by 10 m/s.
fn stand_out(winds: &[Speed], motion: Motion) -> Vec<(Speed, bool)> {
    let lim = limits();
    let greatest = winds.iter().map(|w| w.ms).fold(0.0, f64::max);
    let mut found: Vec<(Speed, bool)> = Vec::new();
    for (i, here) in winds.iter().enumerate() {
        let high = here.p < lim.max_wind_floor_hpa && here.ms > lim.max_wind_speed_ms;
        if !high || !(here.is_peak || here.is_top) {
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
        if above.is_empty() {
            // The top of the wind sounding counts if nothing is stronger, also
            // where the rows below have the same speed; the last level of an
            // ascent that goes on does not.
            let rises = below.iter().rev().find(|w| w.ms != here.ms);
            if here.is_top && here.ms >= greatest && rises.is_some_and(|w| w.ms < here.ms) {
                found.push((*here, true));
            }
            continue;
        }
        if below.last().is_none_or(|w| w.ms >= here.ms) {
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
    found
}

/// The maxima of one part in the order of reporting: the greatest first, the
/// lowest first of equal ones; but for the first, those that stand out.
fn ordered(mut found: Vec<(Speed, bool)>) -> impl Iterator<Item = Speed> {
    found.sort_by(|(l, _), (r, _)| r.coded.cmp(&l.coded).then(r.p.total_cmp(&l.p)));
    let reported = |(i, (_, stands)): &(usize, (Speed, bool))| *i == 0 || *stands;
    let numbered = found.into_iter().enumerate();
    numbered.filter(reported).map(|(_, (w, _))| w)
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

#[cfg(test)]
mod tests;
