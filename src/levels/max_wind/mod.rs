//! Maximum winds (WMO-No. 306, 35.2.4, 32.2.3).
//!
//! Peaks are found on the whole speed curve of the sounding, so that neither
//! 100 hPa nor 500 hPa makes or hides one. Each is then a significant wind level
//! and is reported with the wind of that level.

use super::Pick;
use super::column::{Column, components};
use super::interpolate::wind_at;
use super::layers::rises;
use crate::model::{Coding, Motion, Roles, Shear, Wind};
use crate::tables::figure::WindFigure;
use crate::tables::limits;

/// The speed curve: the rows with wind and their speeds, lowest first.
struct Speeds<'a> {
    column: &'a Column,
    row: Vec<usize>,
    ms: Vec<f64>,
}

impl<'a> Speeds<'a> {
    fn of(column: &'a Column) -> Self {
        let rows = column.speed.len();
        let (mut row, mut ms) = (Vec::with_capacity(rows), Vec::with_capacity(rows));
        for (k, &speed) in column.speed.iter().enumerate() {
            if speed.is_finite() {
                row.push(k);
                ms.push(speed);
            }
        }
        Self { column, row, ms }
    }

    fn at(&self, i: usize) -> f64 {
        self.ms.get(i).copied().unwrap_or(f64::NAN)
    }

    fn len(&self) -> usize {
        self.ms.len()
    }

    /// Where the part of the curve begins that lies above the 500 hPa surface.
    fn floor(&self) -> usize {
        let high = |&row: &usize| {
            let p = self.column.p.get(row);
            p.is_some_and(|&p| p < limits().max_wind_floor_hpa)
        };
        self.row.iter().position(high).unwrap_or(self.len())
    }

    /// Where Parts C and D begin.
    fn upper(&self) -> usize {
        self.row.partition_point(|&row| row < self.column.lower)
    }

    /// The first of the fastest.
    fn fastest(&self, among: impl Iterator<Item = usize>) -> Option<usize> {
        among.reduce(|best, i| if self.at(i) > self.at(best) { i } else { best })
    }

    /// Whether the curve rises to a row and falls after it, or after rows of the
    /// same speed: a flat top is one maximum, at its lowest level.
    fn is_peak(&self, i: usize) -> bool {
        let rises = i.checked_sub(1).is_some_and(|b| self.at(b) < self.at(i));
        let after = (i + 1..self.len()).find(|&k| self.at(k) != self.at(i));
        rises && after.is_some_and(|k| self.at(k) < self.at(i))
    }

    /// Whether the last row is the greatest of all, and the curve rises to it.
    fn ends_fastest(&self) -> bool {
        let Some(top) = self.len().checked_sub(1) else {
            return false;
        };
        let below = (0..top).rev().find(|&k| self.at(k) != self.at(top));
        below.is_some() && (0..top).all(|k| self.at(k) <= self.at(top))
    }

    /// The tops of the curve at the resolution of the significant levels: each
    /// top, and whether it exceeds both adjacent minima by 10 m/s.
    fn tops(&self) -> Vec<(usize, bool)> {
        let lim = limits();
        let found: Vec<_> = rises(&self.ms, lim.wind_speed_ms).collect();
        let ends = found.iter().skip(1).map(|next| next.base);
        let ends = ends.chain([self.len().saturating_sub(1)]);
        let top = |(rise, end): (&super::layers::Layer, usize)| {
            let after = (rise.top..=end).map(|k| self.at(k));
            let minimum = after.fold(f64::INFINITY, f64::min);
            let least = self.at(rise.base).max(minimum);
            (rise.top, self.at(rise.top) - least >= lim.max_wind_rise_ms)
        };
        found.iter().zip(ends).map(top).collect()
    }
}

/// The rows of the maximum winds, lowest first: above the 500 hPa surface and
/// over 30 m/s, the fastest peak of each part and those that exceed both adjacent
/// minima by 10 m/s, and the end of the wind sounding where it is the fastest of
/// all.
///
/// Where the fastest row of a part is no peak, since the slope goes on across the
/// end of the part, the fastest of its peaks counts.
pub(crate) fn peaks(column: &Column, motion: Motion, goes_on: bool) -> Vec<usize> {
    let speeds = Speeds::of(column);
    let (floor, all) = (speeds.floor(), speeds.len());
    let upper = speeds.upper().max(floor);
    let tops = speeds.tops();
    let standing = tops.iter().filter(|(_, stands)| *stands);
    let mut found: Vec<usize> = standing.map(|(i, _)| *i).collect();
    for part in [floor..upper, upper..all] {
        let inside = tops.iter().map(|(i, _)| *i);
        let inside = inside.filter(|i| part.contains(i) && speeds.is_peak(*i));
        let fastest = speeds.fastest(part.clone());
        let fastest = fastest.filter(|&i| speeds.is_peak(i));
        found.extend(fastest.or_else(|| speeds.fastest(inside)));
    }
    match motion {
        // The lowest level of a drop is where its wind sounding ends
        // (B/C26.6.4.4).
        Motion::Falling => {
            let weaker = (1..all).find(|&k| speeds.at(k) != speeds.at(0));
            let ends = weaker.is_some() && (1..all).all(|k| speeds.at(k) <= speeds.at(0));
            found.extend(ends.then_some(0));
        }
        Motion::Rising if !goes_on && speeds.ends_fastest() => found.push(all - 1),
        Motion::Rising => {}
    }
    found.retain(|&i| i >= floor && speeds.at(i) > limits().max_wind_speed_ms);
    found.sort_unstable();
    found.dedup();
    let row = |i: usize| speeds.row.get(i).copied();
    found.into_iter().filter_map(row).collect()
}

/// The row of the latest peak of an ascent that goes on, while it is open what
/// becomes of it: it has not yet fallen by 10 m/s, and the speed at the last row
/// still exceeds 30 m/s or the peak is not the fastest of Part A, which is a
/// maximum whatever follows.
pub(crate) fn undecided(column: &Column) -> Option<usize> {
    let lim = limits();
    let speeds = Speeds::of(column);
    let end = speeds.len().checked_sub(1)?;
    let mut peak = end;
    for i in (0..=end).rev() {
        if speeds.at(i) >= speeds.at(peak) {
            peak = i;
        }
        if speeds.at(peak) - speeds.at(end) >= lim.max_wind_rise_ms {
            return None;
        }
        if speeds.at(peak) - speeds.at(i) >= lim.max_wind_rise_ms {
            break;
        }
    }
    let fastest = speeds.fastest(speeds.floor()..speeds.upper());
    let open = speeds.at(end) > lim.max_wind_speed_ms || fastest != Some(peak);
    let high = peak >= speeds.floor() && speeds.at(peak) > lim.max_wind_speed_ms;
    speeds.row.get(peak).copied().filter(|_| open && high)
}

/// One maximum wind: its place among the wind levels, and its shears.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Maximum {
    /// Index into the list of picks.
    pub pick: usize,
    pub shear: Option<Shear>,
}

/// The significant winds at the peaks: those of A, then those of C, each part's
/// greatest first, the lowest first of equal ones.
pub(crate) fn maxima(picks: &[Pick], column: &Column, coding: &Coding) -> Vec<Maximum> {
    let mut found: Vec<(bool, u16, usize, Maximum)> = Vec::new();
    let heights = Heights::of(column);
    for (pick, level) in picks.iter().enumerate() {
        let row = level.row;
        let wind = column.dir.get(row).zip(column.speed.get(row));
        let Some((&dir, &ms)) = wind.filter(|_| level.roles.any(Roles::MAX_WIND)) else {
            continue;
        };
        // In whole units of the message: what a reader will order by.
        let coded = WindFigure::from_value(dir, ms, coding.wind_unit).map_or(0, WindFigure::speed);
        let is_top = level.roles.any(Roles::TOP_OF_WIND);
        let shear = coding.shear.then(|| shear(column, &heights, row, is_top));
        found.push((row >= column.lower, coded, row, Maximum { pick, shear }));
    }
    found.sort_by_key(|&(above, coded, row, _)| (above, std::cmp::Reverse(coded), row));
    found.into_iter().map(|(.., maximum)| maximum).collect()
}

/// Vector differences to the wind 1 km below and above (35.2.4.4); above the
/// top of the wind sounding there is none.
fn shear(column: &Column, heights: &Heights, row: usize, is_top: bool) -> Shear {
    let depth = limits().shear_depth_gpm;
    let difference = |offset: f64| -> Option<f64> {
        let z = *column.z.get(row)?;
        let here = Wind {
            dir_deg: *column.dir.get(row)?,
            speed_ms: *column.speed.get(row)?,
        };
        let x = heights.coordinate_at(column, z + offset)?;
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
    Heights::of(column).coordinate_at(column, z)
}

/// The greatest height up to each row, gpm, in which the first row at or above a height is
/// found at once.
struct Heights(Vec<f64>);

impl Heights {
    fn of(column: &Column) -> Self {
        let greatest = column.z.iter().scan(f64::NEG_INFINITY, |top, &z| {
            *top = top.max(z);
            Some(*top)
        });
        Self(greatest.collect())
    }

    fn coordinate_at(&self, column: &Column, z: f64) -> Option<f64> {
        let high = self.0.partition_point(|&top| top < z);
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
}

#[cfg(test)]
mod tests;
