//! Tropopauses by the WMO definition (WMO-No. 182; WMO-No. 306, 35.2.3.1).
//!
//! First tropopause: the lowest row at which the lapse rate has fallen to
//! 2 K/km or less, provided that the mean lapse rate from it to every higher
//! row within 2 km is not above 2 K/km. A further one is looked for in the same
//! way from the first row above from which the mean lapse rate to every row
//! within 1 km is above 3 K/km.

use std::cell::{Cell, LazyCell};

use super::column::Column;
use crate::model::finding::{Finding, Place, finding};
use crate::tables::limits;

/// Rounding left in lapse rates by decimal input, K.
const EPSILON_K: f64 = 1e-9;
/// The same for heights, m.
const EPSILON_M: f64 = 1e-6;

/// The points with temperature and height, lowest first, heights rising.
struct Points {
    row: Vec<usize>,
    z: Vec<f64>,
    t: Vec<f64>,
    /// The points above which data are missing over more than the bridging limit.
    gaps: Vec<usize>,
}

#[expect(
    clippy::indexing_slicing,
    reason = "every index comes from a loop over columns of one length"
)]
impl Points {
    fn new(column: &Column) -> Self {
        let mut points = Self {
            row: Vec::with_capacity(column.len()),
            z: Vec::with_capacity(column.len()),
            t: Vec::with_capacity(column.len()),
            gaps: Vec::new(),
        };
        let bridge = limits().bridge_thermal_gpm;
        let mut top = f64::NEG_INFINITY;
        for (k, (&z, &t)) in column.z.iter().zip(&column.t).enumerate() {
            if z > top && t.is_finite() {
                if z - top > bridge && !points.z.is_empty() {
                    points.gaps.push(points.z.len() - 1);
                }
                top = z;
                points.row.push(k);
                points.z.push(z);
                points.t.push(t);
            }
        }
        points
    }

    fn len(&self) -> usize {
        self.z.len()
    }

    /// Temperature at a height between two points, linear in height; `above`
    /// is a point at or below the first one above, and becomes that one.
    fn at(&self, z: f64, above: &Cell<usize>) -> Option<f64> {
        let mut k = above.get();
        while *self.z.get(k)? < z {
            k += 1;
        }
        above.set(k);
        if self.z[k] == z || k == 0 {
            return self.t.get(k).copied();
        }
        let (z0, t0) = (self.z[k - 1], self.t[k - 1]);
        Some(t0 + (self.t[k] - t0) * (z - z0) / (self.z[k] - z0))
    }

    /// The first point from here on above which data are missing (or the last point).
    fn gap(&self, k: usize) -> usize {
        let above = self.gaps.partition_point(|&gap| gap < k);
        let gap = self.gaps.get(above).copied();
        gap.unwrap_or_else(|| self.len().saturating_sub(1))
    }

    /// Whether there are data without a hole over `depth_gpm` above a point.
    fn covered(&self, k: usize, depth_gpm: f64) -> bool {
        self.z[self.gap(k)] - self.z[k] >= depth_gpm - EPSILON_M
    }
}

/// For each value, the first later one for which `beats(later, value)`.
#[expect(
    clippy::indexing_slicing,
    reason = "what waits are places of values, made here"
)]
fn next(values: &[f64], beats: impl Fn(f64, f64) -> bool) -> Vec<usize> {
    let mut next = vec![values.len(); values.len()];
    let mut waiting: Vec<usize> = Vec::new();
    for (k, &here) in values.iter().enumerate() {
        while let Some(&low) = waiting.last() {
            if !beats(here, values[low]) {
                break;
            }
            next[low] = k;
            waiting.pop();
        }
        waiting.push(k);
    }
    next
}

/// The rows that are tropopauses, lowest first and no more than `most`, and the lowest row
/// up to there that may yet be one: nothing fails up to the end of the data, which comes
/// too soon.
///
/// `reaches_100` tells whether data go on above 100 hPa; what is decided for
/// levels below 100 hPa rests on rows below it and on the 2 km above them.
#[expect(
    clippy::indexing_slicing,
    reason = "every index comes from a loop over columns of one length"
)]
fn search(column: &Column, points: &Points, most: usize) -> (Vec<usize>, Option<usize>) {
    let lim = limits();
    let n = points.len();
    if n < 2 {
        return (Vec::new(), None);
    }
    let km = |z_gpm: f64| z_gpm / 1000.0;
    // A mean lapse rate of at most L from k to j is T(j) + L z(j) >= T(k) + L z(k).
    let along = |lapse: f64| -> Vec<f64> {
        let points = points.t.iter().zip(&points.z);
        points.map(|(t, &z)| t + lapse * km(z)).collect()
    };
    let flat = along(lim.tropopause_lapse_k_per_km);
    let fails = next(&flat, |high, low| high < low - EPSILON_K);
    // Asked for above a tropopause alone.
    let steep = LazyCell::new(|| along(lim.next_tropopause_lapse_k_per_km));
    let ends = LazyCell::new(|| next(&steep, |high, low| high >= low - EPSILON_K));

    // Asked for rising k alone, so the roofs rise too.
    let (above, further) = (Cell::new(0), Cell::new(0));
    let holds = |k: usize| {
        let roof = points.z[k] + lim.tropopause_depth_gpm;
        points.z.get(fails[k]).is_none_or(|&z| z > roof + EPSILON_M)
            && points.covered(k, lim.tropopause_depth_gpm)
            && points
                .at(roof, &above)
                .is_none_or(|t| t + lim.tropopause_lapse_k_per_km * km(roof) >= flat[k] - EPSILON_K)
    };
    let leaves = |k: usize| {
        let roof = points.z[k] + lim.next_tropopause_depth_gpm;
        points.covered(k, lim.next_tropopause_depth_gpm)
            && points.z.get(ends[k]).is_none_or(|&z| z > roof + EPSILON_M)
            && points.at(roof, &further).is_none_or(|t| {
                t + lim.next_tropopause_lapse_k_per_km * km(roof) < steep[k] - EPSILON_K
            })
    };
    let p = |k: usize| column.p[points.row[k]];
    // What the end of the data leaves open: nothing up to there fails.
    let ends_within = |k: usize, depth: f64| points.z[k] + depth > points.z[n - 1] + EPSILON_M;
    let may_hold = |k: usize| {
        ends_within(k, lim.tropopause_depth_gpm) && points.gap(k) == n - 1 && fails[k] == n
    };
    let may_leave = |k: usize| {
        ends_within(k, lim.next_tropopause_depth_gpm) && points.gap(k) == n - 1 && ends[k] == n
    };

    let mut undecided = None;
    let mut may_search = true;
    let mut found: Vec<usize> = Vec::new();
    let mut low: Vec<usize> = Vec::new();
    let mut searching = true;
    let mut held = false;
    for k in 0..n {
        if !searching && leaves(k) {
            searching = true;
            held = false;
        }
        may_search |= searching || may_leave(k);
        if undecided.is_none() && may_search && may_hold(k) {
            undecided = Some(points.row[k]);
        }
        if !searching {
            continue;
        }
        let holds = holds(k);
        if holds && !held {
            if p(k) <= lim.tropopause_floor_hpa {
                found.push(k);
                if found.len() == most {
                    break;
                }
                searching = false;
                may_search = false;
            } else {
                low.push(k);
            }
        }
        held = holds;
    }
    if found.first().is_none_or(|&k| points.row[k] >= column.lower) {
        // Below the 500 hPa surface only one that stands alone counts.
        let last = points.row.partition_point(|&row| row < column.lower);
        if let &[k] = low.as_slice()
            && p(last.saturating_sub(1)) <= lim.tropopause_floor_reach_hpa
            && !steeper_above(points, k, last, lim.next_tropopause_lapse_k_per_km)
        {
            found.insert(0, k);
        }
    }
    (
        found.into_iter().map(|k| points.row[k]).collect(),
        undecided,
    )
}

/// Whether some layer of at least a kilometre between the points `from` and
/// `to` has a mean lapse rate above `lapse_k_km`.
#[expect(
    clippy::indexing_slicing,
    reason = "from and to are bounds of the points"
)]
fn steeper_above(points: &Points, from: usize, to: usize, lapse_k_km: f64) -> bool {
    let value = |k: usize| points.t[k] + lapse_k_km * points.z[k] / 1000.0;
    let mut base = from;
    let mut greatest = f64::NEG_INFINITY;
    for k in from..to {
        while points.z[k] - points.z[base] >= limits().next_tropopause_depth_gpm - EPSILON_M {
            greatest = greatest.max(value(base));
            base += 1;
        }
        if value(k) < greatest - EPSILON_K {
            return true;
        }
    }
    false
}

/// The tropopauses of an ascent.
pub(crate) struct Tropopauses {
    /// Rows, lowest first.
    pub rows: Vec<usize>,
    /// A note when the profile smoothed over 150 m has its first one elsewhere
    /// by more than 5 hPa (our method).
    pub doubt: Option<Finding>,
    /// The lowest row that may yet turn out to be one when the data go on.
    pub undecided: Option<usize>,
}

/// Finds the tropopauses, and looks again at the smoothed profile.
pub(crate) fn tropopauses(column: &Column) -> Tropopauses {
    let mut points = Points::new(column);
    let (rows, undecided) = search(column, &points, usize::MAX);
    points.t = smooth(&points, limits().tropopause_smoothing_gpm / 2.0);
    let (smoothed, _) = search(column, &points, 1);
    let doubt = doubt(column, &rows, &smoothed);
    Tropopauses {
        rows,
        doubt,
        undecided,
    }
}

/// The rows that are tropopauses, and the lowest that may yet be one when the data go on.
pub(crate) fn rows(column: &Column) -> (Vec<usize>, Option<usize>) {
    search(column, &Points::new(column), usize::MAX)
}

fn doubt(column: &Column, found: &[usize], smoothed: &[usize]) -> Option<Finding> {
    let lim = limits();
    let p = |rows: &[usize]| rows.first().and_then(|&k| column.p.get(k)).copied();
    let (raw, other) = (p(found), p(smoothed));
    let agree = match (raw, other) {
        (Some(raw), Some(other)) => (raw - other).abs() <= lim.tropopause_doubt_hpa,
        (None, None) => true,
        _ => false,
    };
    let shown = |p: Option<f64>| p.map_or_else(|| "none".to_owned(), |p| format!("{p} hPa"));
    (!agree).then(|| {
        finding!(
            TropopauseInDoubt,
            raw.map_or_else(Place::default, Place::pressure),
            found = shown(raw),
            smoothed = shown(other)
        )
    })
}

/// Mean temperature of the points within `half_gpm` of each point.
#[expect(
    clippy::indexing_slicing,
    reason = "every index comes from a loop over columns of one length"
)]
fn smooth(points: &Points, half_gpm: f64) -> Vec<f64> {
    let mut sums = Vec::with_capacity(points.len() + 1);
    let mut sum = 0.0;
    sums.push(sum);
    for t in &points.t {
        sum += t;
        sums.push(sum);
    }
    let (mut low, mut high) = (0, 0);
    (0..points.len())
        .map(|k| {
            while points.z[k] - points.z[low] > half_gpm {
                low += 1;
            }
            while high < points.len() && points.z[high] - points.z[k] <= half_gpm {
                high += 1;
            }
            let count = f64::from(u32::try_from(high - low).unwrap_or(u32::MAX));
            (sums[high] - sums[low]) / count
        })
        .collect()
}

#[cfg(test)]
mod tests;
