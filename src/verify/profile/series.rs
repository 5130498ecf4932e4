//! The rows of an ascent with a clock, as every check wants them.

use std::cell::OnceCell;

use crate::model::finding::Place;
use crate::model::{Context, Derivation, Motion, Profile, Row, Wind};
use crate::physics::hydrostatic::standard_height_gpm;
use crate::tables::profile_limits;

/// Steps in which a column may be rounded, greatest first.
const ROUNDINGS: [f64; 4] = [1.0, 0.1, 0.01, 0.001];

/// The rows of one ascent.
pub(super) struct Series<'a> {
    pub profile: &'a Profile,
    /// Seconds since the first row, never falling: by the times of the rows, or
    /// by their distance at the usual rate of ascent.
    clock: OnceCell<Vec<f64>>,
    /// The first row that is the sonde's own: the surface observation of the
    /// sheet replaces the first row of the file.
    pub first: usize,
    /// Whether the heights follow from the pressures.
    pub heights_derived: bool,
    /// Whether the pressures follow from the heights.
    pub pressures_derived: bool,
    /// Whether the positions follow from the winds, or the winds from them.
    pub places_derived: bool,
    /// Whether the positions follow from the winds.
    pub places_from_wind: bool,
}

impl<'a> Series<'a> {
    pub fn new(profile: &'a Profile, context: &Context) -> Self {
        let joined = context.surface.is_some() && !profile.ends_aloft && !profile.descent;
        let derived = |how| profile.derived.contains(&how);
        Self {
            profile,
            clock: OnceCell::new(),
            first: usize::from(joined),
            heights_derived: derived(Derivation::HeightByIntegration),
            pressures_derived: derived(Derivation::PressureByIntegration),
            places_from_wind: derived(Derivation::PositionsFromWind),
            places_derived: derived(Derivation::PositionsFromWind)
                || derived(Derivation::WindFromPositions),
        }
    }

    pub fn row(&self, at: usize) -> Option<&'a Row> {
        self.profile.rows.get(at)
    }

    pub fn rising(&self) -> bool {
        self.profile.motion == Motion::Rising
    }

    /// The sonde's own rows, each with its number from 0.
    pub fn own(&self) -> impl Iterator<Item = (usize, &'a Row)> + Clone {
        self.profile.rows.iter().enumerate().skip(self.first)
    }

    /// The own rows in which something stands, with it.
    pub fn having<V>(&self, of: impl Fn(&Row) -> Option<V>) -> Vec<(usize, V)> {
        self.own()
            .filter_map(|(at, row)| of(row).map(|v| (at, v)))
            .collect()
    }

    /// Seconds from one row to a later one.
    pub fn between_s(&self, from: usize, to: usize) -> f64 {
        let clock = self.clock.get_or_init(|| clock(&self.profile.rows));
        match (clock.get(from), clock.get(to)) {
            (Some(from), Some(to)) => to - from,
            _ => 0.0,
        }
    }

    /// Geopotential metres from one row up to another.
    pub fn depth_gpm(&self, from: usize, to: usize) -> Option<f64> {
        self.row(from)
            .zip(self.row(to))
            .and_then(|(a, b)| depth_gpm(a, b))
    }

    /// Where a row stands.
    pub fn place(&self, at: usize) -> Place {
        let pressure = self.row(at).and_then(|r| r.pressure_hpa);
        pressure.map_or_else(Place::default, Place::pressure)
    }
}

/// The clock of rows: seconds since the first, one for each.
fn clock(rows: &[Row]) -> Vec<f64> {
    let mut now = 0.0;
    let mut before: Option<&Row> = None;
    let mut at = |row| {
        now += before.map_or(0.0, |before| seconds(before, row));
        before = Some(row);
        now
    };
    rows.iter().map(&mut at).collect()
}

/// Seconds between two rows.
pub(super) fn seconds(before: &Row, row: &Row) -> f64 {
    let timed = before.time_s.zip(row.time_s).map(|(a, b)| (b - a).abs());
    let far = || depth_gpm(before, row).map(|dz| dz.abs() / profile_limits().ascent_usual_ms);
    timed
        .or_else(far)
        .filter(|s| s.is_finite())
        .unwrap_or_default()
}

/// From one row up to another, gpm: by their heights, or else by those of their
/// pressures in the standard atmosphere.
fn depth_gpm(from: &Row, to: &Row) -> Option<f64> {
    let heights = from.height_gpm.zip(to.height_gpm);
    let standard = |row: &Row| row.pressure_hpa.map(standard_height_gpm);
    heights
        .or_else(|| standard(from).zip(standard(to)))
        .map(|(a, b)| b - a)
}

/// Towards east and north, m/s.
pub(super) fn components(wind: Wind) -> (f64, f64) {
    wind.components_ms()
}

/// Length of the difference of two vectors.
pub(super) fn apart(a: (f64, f64), b: (f64, f64)) -> f64 {
    (a.0 - b.0).hypot(a.1 - b.1)
}

/// The step in which all of some values are rounded; 0 when it is finer than a
/// thousandth or there is no value.
pub(super) fn rounding(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let whole = |step: f64| {
        values
            .clone()
            .all(|v| (v / step - (v / step).round()).abs() < 1e-6)
    };
    if values.clone().next().is_none() {
        return 0.0;
    }
    ROUNDINGS.into_iter().find(|&s| whole(s)).unwrap_or(0.0)
}

/// `row 5` or `rows 5 to 9`, from 1, of rows counted from 0.
pub(super) fn span(first: usize, last: usize) -> String {
    if first == last {
        format!("row {}", first + 1)
    } else {
        format!("rows {} to {}", first + 1, last + 1)
    }
}

/// A count as a number to reckon with.
pub(super) fn count(n: usize) -> f64 {
    u32::try_from(n).map_or(f64::from(u32::MAX), f64::from)
}

/// Stretches of items that follow one another and are marked: first and last
/// item of each.
pub(super) fn stretches(marks: &[bool]) -> Vec<(usize, usize)> {
    let mut out: Vec<(usize, usize)> = Vec::new();
    for (at, _) in marks.iter().enumerate().filter(|&(_, &mark)| mark) {
        match out.last_mut() {
            Some((_, last)) if *last + 1 == at => *last = at,
            _ => out.push((at, at)),
        }
    }
    out
}
