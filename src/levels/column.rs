//! The profile as plain columns, for the kernels of level selection.
//!
//! Inside these kernels NaN marks a missing value, so that a comparison with
//! it is false; nothing outside [`crate::levels`] sees one.

use std::cell::OnceCell;

use itertools::Itertools;

use super::coded_key;
use crate::model::{Axis, Coding, Motion, PilotLevels, Profile, Roles, Row, Wind};
use crate::physics::humidity::dewpoint_c;
use crate::profile::gaps::{Lost, Observed};
use crate::tables::figure::is_upper;
use crate::tables::{self, level_manner};

/// What the code can tell apart.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) enum Grid {
    /// Pressures: whole hPa up to 100 hPa, tenths above.
    #[default]
    Pressure,
    /// Heights in steps of this many metres (PILOT Parts B and D).
    Metres(f64),
}

impl Grid {
    /// The grid of the levels of PILOT Parts B and D.
    pub fn of_levels(levels: PilotLevels) -> Self {
        match levels {
            PilotLevels::Pressure => Self::Pressure,
            PilotLevels::Height300 => Self::Metres(300.0),
            PilotLevels::Height500 => Self::Metres(500.0),
        }
    }

    /// Tenths of hPa of a pressure, or steps of a height.
    pub fn key(self, value: f64) -> u16 {
        match self {
            Self::Pressure => coded_key(value),
            Self::Metres(step) => {
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "such a cast saturates"
                )]
                let key = (value / step + 0.5).floor().max(0.0) as u16;
                key
            }
        }
    }
}

/// The columns of one ascent, row by row.
#[derive(Clone, Debug, Default)]
pub(crate) struct Column {
    /// Vertical coordinate, strictly increasing upwards: −ln p on a pressure
    /// axis, height in gpm on a height axis. Rows of equal recorded pressure
    /// are spread by height (or time) between their neighbours.
    pub x: Vec<f64>,
    /// Recorded pressure, hPa.
    pub p: Vec<f64>,
    /// Geopotential, gpm.
    pub z: Vec<f64>,
    /// Temperature, °C.
    pub t: Vec<f64>,
    /// Dew point, °C, where the profile has it itself.
    pub td: Vec<f64>,
    /// Relative humidity over water, %.
    pub u: Vec<f64>,
    /// Wind direction, degrees.
    pub dir: Vec<f64>,
    /// Wind speed, m/s.
    pub speed: Vec<f64>,
    /// Number of rows at or below 100 hPa (parts A and B).
    pub lower: usize,
    /// What the code of the levels can tell apart.
    pub grid: Grid,
    /// Whether all rows are near to the next.
    pub is_dense: bool,
    /// The rows with roles that the source gave them.
    pub given: Vec<(usize, Roles)>,
    /// No row above this one has a position.
    pub last_place: Option<usize>,
    /// What [`Self::keys`] gives.
    pub keys: Keys,
}

/// The keys of rows, made when they are asked for; a copy, which may be changed, has none.
#[derive(Debug, Default)]
pub(crate) struct Keys(OnceCell<Vec<u16>>);

impl Clone for Keys {
    fn clone(&self) -> Self {
        Self::default()
    }
}

/// The wind as westerly and southerly components, m/s.
pub(crate) fn components(wind: Wind) -> (f64, f64) {
    wind.components_ms()
}

/// The wind of two components, m/s; calm has direction 0.
pub(crate) fn wind_from_components(east_ms: f64, north_ms: f64) -> Wind {
    Wind::from_components_ms(east_ms, north_ms)
}

impl Column {
    /// Lays a profile out in columns, on the grid that its levels are coded on; humidity
    /// colder than the limit of the sheet is left out (WMO-No. 306, 35.3.1.1).
    pub fn new(profile: &Profile, coding: &Coding) -> Self {
        let rows = &profile.rows;
        let coldest = coding
            .humidity_min_temperature_c
            .unwrap_or(f64::NEG_INFINITY);
        let humid = |row: &Row| row.temperature_c.is_some_and(|t| t >= coldest);
        let mut column = Self {
            x: Vec::new(),
            p: pull(rows, |r| r.pressure_hpa),
            z: pull(rows, |r| r.height_gpm),
            t: pull(rows, |r| r.temperature_c),
            td: pull(rows, |r| r.dewpoint_c.filter(|_| humid(r))),
            u: pull(rows, |r| r.humidity_pct.filter(|_| humid(r))),
            dir: pull(rows, |r| r.wind.map(|w| w.dir_deg)),
            speed: pull(rows, |r| r.wind.map(|w| w.speed_ms)),
            lower: rows.len(),
            grid: Grid::of_levels(level_manner(coding, profile.axis)),
            is_dense: false,
            given: (rows.iter().enumerate())
                .filter(|(_, row)| !row.given.is_empty())
                .map(|(k, row)| (k, row.given))
                .collect(),
            last_place: rows.iter().rposition(|row| row.place.is_some()),
            keys: Keys::default(),
        };
        let near = [Lost::Thermal, Lost::Wind].map(Lost::near);
        let ends = column.p.iter().zip(&column.z);
        let mut steps = ends.clone().zip(ends.skip(1));
        column.is_dense =
            steps.all(|((p0, z0), (p1, z1))| near.iter().all(|near| near(p1 - p0, z1 - z0)));
        match profile.axis {
            Axis::Pressure => {
                column.lower = column.p.partition_point(|&p| !is_upper(p));
                let upwards = match profile.motion {
                    Motion::Rising => 1.0,
                    Motion::Falling => -1.0,
                };
                let time = || pull(rows, |r| r.time_s.map(|t| t * upwards));
                column.x = spread(&column.p, &column.z, time);
            }
            Axis::Height => column.x.clone_from(&column.z),
        }
        column
    }

    /// The columns of the lowest rows.
    pub fn up_to(&self, rows: usize) -> Self {
        let cut = |values: &[f64]| values.get(..rows).unwrap_or(values).to_vec();
        Self {
            x: cut(&self.x),
            p: cut(&self.p),
            z: cut(&self.z),
            t: cut(&self.t),
            td: cut(&self.td),
            u: cut(&self.u),
            dir: cut(&self.dir),
            speed: cut(&self.speed),
            lower: self.lower.min(rows),
            grid: self.grid,
            is_dense: self.is_dense,
            given: (self.given.iter().copied())
                .filter(|&(row, _)| row < rows)
                .collect(),
            last_place: (self.last_place).map(|row| row.min(rows.saturating_sub(1))),
            keys: Keys::default(),
        }
    }

    /// A number that differs where the code of the levels can tell rows apart;
    /// on a grid of heights the surface is 0.
    pub fn key(&self, row: usize) -> u16 {
        match self.grid {
            Grid::Metres(_) if row == 0 => 0,
            Grid::Metres(_) => self.z.get(row).map_or(0, |&z| self.grid.key(z)),
            Grid::Pressure => self.p.get(row).map_or(0, |&p| self.grid.key(p)),
        }
    }

    /// The same of all rows.
    pub fn keys(&self) -> &[u16] {
        let Keys(keys) = &self.keys;
        keys.get_or_init(|| (0..self.len()).map(|row| self.key(row)).collect())
    }

    /// The rows to which the source gave a role.
    pub fn rows_given(&self, role: Roles) -> impl Iterator<Item = usize> {
        let rows = self.given.iter().filter(move |(_, given)| given.any(role));
        rows.map(|&(row, _)| row)
    }

    /// Dew point of a row, °C: its own, or else that of its temperature and humidity.
    pub fn dewpoint_c(&self, row: usize) -> Option<f64> {
        let derived = || dewpoint_c(finite(&self.t, row)?, finite(&self.u, row)?);
        finite(&self.td, row).or_else(derived)
    }

    /// Whether nothing of an element, of which these are the values, is missing: every row has
    /// it and is near to the next.
    pub fn is_whole(&self, values: &[f64]) -> bool {
        self.is_dense && values.iter().all(|value| value.is_finite())
    }

    /// Whether the stretch between two successive rows that have an element is marked as
    /// missing; `values` are those of the element.
    #[inline]
    pub fn is_missing(&self, lost: Lost, values: &[f64], low: usize, high: usize) -> bool {
        let span = |of: &[f64]| match (of.get(low), of.get(high)) {
            (Some(low), Some(high)) => high - low,
            _ => f64::NAN,
        };
        !lost.near()(span(&self.p), span(&self.z))
            && self.observed(&|k| finite(values, k).is_some(), |rows| {
                rows.missing_share(lost, low, high)
            }) >= 1.0
    }

    /// Whether nothing may be interpolated between two successive rows that have
    /// an element; `values` are those of the element.
    pub fn is_gap(&self, lost: Lost, values: &[f64], low: usize, high: usize) -> bool {
        self.is_gap_of(lost, &|k| finite(values, k).is_some(), low, high)
    }

    /// The same, where `has` tells which rows have the element.
    pub fn is_gap_of(
        &self,
        lost: Lost,
        has: &dyn Fn(usize) -> bool,
        low: usize,
        high: usize,
    ) -> bool {
        self.observed(has, |rows| rows.is_gap(lost, low, high))
    }

    fn observed<T>(&self, has: &dyn Fn(usize) -> bool, ask: impl FnOnce(&Observed<'_>) -> T) -> T {
        let at = |values: &[f64], k: usize| values.get(k).copied().unwrap_or(f64::NAN);
        ask(&Observed {
            rows: self.len(),
            has,
            pressure_hpa: &|k| at(&self.p, k),
            height_gpm: &|k| at(&self.z, k),
        })
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.x.len()
    }
}

/// Number of rows that belong to Parts A and B: by pressure as far as it was
/// measured, by the height that stands for 100 hPa from there on.
pub(crate) fn lower_rows(column: &Column, coding: &Coding) -> usize {
    let divide = tables::height_for_surface(coding, 100).unwrap_or(f64::INFINITY);
    let above = column
        .p
        .iter()
        .zip(&column.z)
        .position(|(&p, &z)| if p.is_nan() { z > divide } else { is_upper(p) });
    above.unwrap_or(column.len())
}

/// A value of a column, where it is not missing.
#[inline]
pub(crate) fn finite(values: &[f64], row: usize) -> Option<f64> {
    values.get(row).copied().filter(|value| value.is_finite())
}

/// A value of each row; NaN where it is missing.
fn pull(rows: &[Row], of: impl Fn(&Row) -> Option<f64>) -> Vec<f64> {
    let values = rows.iter().map(|row| of(row).unwrap_or(f64::NAN));
    values.collect()
}

/// −ln p with the rows of equal pressure spread: the middle of a run stands at
/// its pressure, the rows between two middles are placed by height, or by time
/// where a height is missing, or else evenly.
#[expect(
    clippy::indexing_slicing,
    reason = "every index comes from a loop over columns of one length"
)]
fn spread(p: &[f64], z: &[f64], time: impl FnOnce() -> Vec<f64>) -> Vec<f64> {
    let mut x: Vec<f64> = p.iter().map(|p| -p.ln()).collect();
    let n = p.len();
    if p.iter().tuple_windows().all(|(low, high)| low != high) {
        return x;
    }
    let time = time();
    // Runs of equal pressure as (first, last).
    let mut runs: Vec<(usize, usize)> = Vec::new();
    let mut first = 0;
    for k in 1..=n {
        if k == n || p[k] != p[first] {
            runs.push((first, k - 1));
            first = k;
        }
    }
    if runs.len() < 2 {
        // One pressure throughout: no profile promises that; keep the order.
        for (k, x) in x.iter_mut().enumerate() {
            *x += f64::from(u32::try_from(k).unwrap_or(u32::MAX)) * 1e-9;
        }
        return x;
    }
    let index = |k: usize| f64::from(u32::try_from(k).unwrap_or(u32::MAX));
    // A rising measure along the rows from a to b inclusive.
    let measure = |a: usize, b: usize| -> Box<dyn Fn(usize) -> f64> {
        let rises = |c: &[f64]| (a..b).all(|k| c[k + 1] > c[k]);
        if rises(z) {
            let z = z[a..=b].to_vec();
            Box::new(move |k| z[k - a])
        } else if rises(&time) {
            let time = time[a..=b].to_vec();
            Box::new(move |k| time[k - a])
        } else {
            Box::new(index)
        }
    };
    let centre = |m: &dyn Fn(usize) -> f64, run: (usize, usize)| f64::midpoint(m(run.0), m(run.1));
    for (r, (&low, &high)) in runs.iter().tuple_windows().enumerate() {
        if low.0 == low.1 && high.0 == high.1 {
            continue;
        }
        let m = measure(low.0, high.1);
        let (m0, m1) = (centre(&m, low), centre(&m, high));
        let (x0, x1) = (-p[low.0].ln(), -p[high.0].ln());
        let slope = (x1 - x0) / (m1 - m0);
        for (k, slot) in x.iter_mut().enumerate().take(high.1 + 1).skip(low.0) {
            let here = m(k);
            let own = (here >= m0 && here <= m1)
                || (r == 0 && here < m0)
                || (r + 2 == runs.len() && here > m1);
            if own {
                *slot = x0 + (here - m0) * slope;
            }
        }
    }
    x
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn equal_pressures_are_spread_by_height() {
        // Runs 10.2 ×1, 10.1 ×3, 10.0 ×1; heights evenly 10 gpm apart: the
        // middle row of the run stands at its pressure, the outer ones half way
        // to the middle of the neighbours (hand-worked: 30 of 40 gpm is from
        // middle to middle 20).
        let p = [10.2, 10.1, 10.1, 10.1, 10.0];
        let z = [0.0, 10.0, 20.0, 30.0, 40.0];
        let x = spread(&p, &z, || vec![f64::NAN; 5]);
        let ln = |p: f64| -p.ln();
        assert_eq!(x[0], ln(10.2));
        assert_abs_diff_eq!(x[2], ln(10.1), epsilon = 1e-15);
        assert_abs_diff_eq!(x[1], f64::midpoint(ln(10.2), ln(10.1)), epsilon = 1e-12);
        assert_abs_diff_eq!(x[3], f64::midpoint(ln(10.1), ln(10.0)), epsilon = 1e-12);
        assert_eq!(x[4], ln(10.0));
        assert!(x.windows(2).all(|w| w[1] > w[0]));
    }

    #[test]
    fn without_height_time_spreads_and_ends_are_carried_on() {
        let p = [10.1, 10.1, 10.0, 10.0];
        let x = spread(&p, &[f64::NAN; 4], || vec![0.0, 1.0, 2.0, 3.0]);
        assert!(x.windows(2).all(|w| w[1] > w[0]));
        // Middles at 0.5 and 2.5 s: two seconds are ln(10.1/10.0).
        let step = (10.1f64 / 10.0).ln() / 2.0;
        for w in x.windows(2) {
            assert_abs_diff_eq!(w[1] - w[0], step, epsilon = 1e-12);
        }
    }

    #[test]
    fn components_and_back() {
        let w = wind_from_components(-10.0, 0.0);
        assert_eq!((w.dir_deg, w.speed_ms), (90.0, 10.0));
        let (u, v) = components(Wind {
            dir_deg: 270.0,
            speed_ms: 5.0,
        });
        assert!((u - 5.0).abs() < 1e-12 && v.abs() < 1e-12);
        assert_eq!(wind_from_components(0.0, 0.0).dir_deg, 0.0);
    }
}
