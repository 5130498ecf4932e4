//! How well the significant levels alone give the profile back.
//!
//! A receiver of the message has nothing but its levels and draws straight
//! lines in ln p between them. Here these lines are drawn twice, from the
//! levels as chosen and from the levels as the code gives them, and every row
//! of the profile is compared with them (WMO-No. 306, 35.3.1.3, 35.3.2.1).

use std::collections::BTreeSet;

use itertools::Itertools as _;

use crate::levels::{Column, Grid, tolerance};
use crate::model::fidelity::{Departures, Fidelity, Quantity, QuantityFidelity};
use crate::model::finding::{Finding, Place, counted, finding};
use crate::model::quantity::trim;
use crate::model::{At, Axis, Coding, Form, Level, Profile, Report, Roles, Wind};
use crate::physics::angles::shorter_arc;
use crate::physics::humidity::relative_humidity_pct;
use crate::tables::limits;

impl Quantity {
    const ALL: [Self; 5] = [
        Self::Temperature,
        Self::TemperatureAloft,
        Self::Humidity,
        Self::WindDirection,
        Self::WindSpeed,
    ];

    /// In words.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Temperature => "temperature",
            Self::TemperatureAloft => "temperature aloft",
            Self::Humidity => "humidity",
            Self::WindDirection => "wind direction",
            Self::WindSpeed => "wind speed",
        }
    }

    /// Symbol of the unit.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::Temperature | Self::TemperatureAloft => "K",
            Self::Humidity => "%",
            Self::WindDirection => "°",
            Self::WindSpeed => "m/s",
        }
    }

    /// The greatest departure that the rules allow, in the unit.
    #[must_use]
    pub fn limit(self) -> f64 {
        let lim = limits();
        match self {
            Self::Temperature => lim.temperature_low_k,
            Self::TemperatureAloft => lim.temperature_high_k,
            Self::Humidity => lim.humidity_pct,
            Self::WindDirection => lim.wind_direction_deg,
            Self::WindSpeed => lim.wind_speed_ms,
        }
    }

    /// The rule.
    #[must_use]
    pub fn clause(self) -> &'static str {
        match self {
            Self::Temperature | Self::TemperatureAloft => "WMO-No. 306, 35.3.1.3 (a)",
            Self::Humidity => "WMO-No. 306, 35.3.1.3 (b)",
            Self::WindDirection | Self::WindSpeed => "WMO-No. 306, 35.3.2.1",
        }
    }
}

/// Holds every row of a profile against the curves that two reports draw: the
/// one made from the profile, and the same as read from its coded form. The
/// counts are left to [`crate::levels::count`].
#[must_use]
pub fn fidelity(profile: &Profile, coding: &Coding, chosen: &Report, coded: &Report) -> Fidelity {
    on_columns(&Column::new(profile, coding), chosen, coded)
}

/// The same, of the columns of a profile.
pub(crate) fn on_columns(column: &Column, chosen: &Report, coded: &Report) -> Fidelity {
    let before = departures(column, chosen);
    let after = departures(column, coded);
    let departures = Quantity::ALL
        .into_iter()
        .zip(before.into_iter().zip(after))
        .map(
            |(quantity, (before_rounding, after_rounding))| QuantityFidelity {
                quantity,
                limit: quantity.limit(),
                before_rounding,
                after_rounding,
            },
        )
        .collect();
    Fidelity {
        departures,
        counts: None,
    }
}

impl Fidelity {
    /// A warning for every quantity that passes its limit after rounding; a note
    /// only where the code gives heights in steps of hundreds of metres, in
    /// which no level can stand where it belongs.
    #[must_use]
    pub fn findings(&self, report: &Report) -> Vec<Finding> {
        let by_height = report.form == Form::Pilot && report.axis == Axis::Height;
        self.departures
            .iter()
            .filter(|held| held.after_rounding.outside > 0)
            .map(|held| {
                let after = &held.after_rounding;
                let (name, unit) = (held.quantity.name(), held.quantity.unit());
                let place = after.pressure_hpa.map_or(Place::default(), Place::pressure);
                let rows = counted(after.outside, "row");
                let finding = if by_height {
                    finding!(
                        LimitPassedByHeightSteps,
                        place,
                        quantity = name,
                        greatest = after.greatest,
                        unit = unit,
                        rows = rows,
                        [most = held.limit, unit = unit]
                    )
                } else {
                    finding!(
                        LimitPassedAfterRounding,
                        place,
                        quantity = name,
                        greatest = after.greatest,
                        unit = unit,
                        rows = rows,
                        [most = held.limit, unit = unit]
                    )
                };
                finding.clause(held.quantity.clause())
            })
            .collect()
    }
}

/// Significant levels of a report that 35.3.1 and 35.3.2 do not require: without
/// any one of them the others give the profile back as well, no two neighbours
/// stand further apart than 35.3.1.3 (c) allows, and a level remains between 110
/// and 100 hPa. Nor are levels among them that stand for one that a rule asks for
/// in `by_rule` (the report that was made from the profile).
///
/// Each is a level's pressure, hPa, and the role it could do without.
#[must_use]
pub fn not_required(
    profile: &Profile,
    coding: &Coding,
    report: &Report,
    by_rule: &Report,
) -> Vec<(f64, Roles)> {
    let column = Column {
        grid: Grid::Pressure,
        ..Column::new(profile, coding)
    };
    let beyond = |report: &Report| departures(&column, report).map(|d| d.outside);
    let now = beyond(report);
    let mut found = Vec::new();
    for role in [Roles::SIG_T_OR_U, Roles::SIG_WIND] {
        let asked = stand_for_rules(report, by_rule, role);
        let levels = of_role(report, role);
        for (n, &(i, p)) in levels.iter().enumerate() {
            let below = n.checked_sub(1).and_then(|n| levels.get(n));
            let (Some(&(_, below)), Some(&(_, above))) = (below, levels.get(n + 1)) else {
                // The outermost levels are required.
                continue;
            };
            let mut less = report.clone();
            let Some(level) = less.levels.get_mut(i).filter(|_| !asked.contains(&i)) else {
                continue;
            };
            level.roles -= role;
            let placed = role == Roles::SIG_WIND
                || (neighbours(below, above, by_rule) && near_100(&less) == near_100(report));
            if placed && beyond(&less).iter().zip(&now).all(|(a, b)| a <= b) {
                found.push((p, role));
            }
        }
    }
    found
}

/// The levels with a role and a pressure: place in the report, and hPa.
fn of_role(report: &Report, role: Roles) -> Vec<(usize, f64)> {
    let levels = report.levels.iter().enumerate();
    let levels = levels.filter(|(_, l)| l.roles.any(role));
    levels
        .filter_map(|(i, l)| Some((i, l.row.pressure_hpa?)))
        .collect()
}

/// Distance in ln p within which a level stands for another.
const NEAR: f64 = 0.02;

/// The levels of a report that stand for those that a rule asks for: the nearest
/// one to each.
fn stand_for_rules(report: &Report, by_rule: &Report, role: Roles) -> BTreeSet<usize> {
    let own = of_role(report, role);
    let ruled = by_rule
        .levels
        .iter()
        .filter(|l| l.roles.any(role) && l.why.iter().any(|rule| !rule.is_additional()));
    let nearest = |p: f64| {
        let off = |q: f64| (q / p).ln().abs();
        let near = own.iter().filter(|(_, q)| off(*q) <= NEAR);
        near.min_by(|(_, a), (_, b)| off(*a).total_cmp(&off(*b)))
    };
    ruled
        .filter_map(|l| nearest(l.row.pressure_hpa?))
        .map(|&(i, _)| i)
        .collect()
}

/// Whether two levels may be neighbours by the ratio of their pressures, which is
/// bounded up to the first tropopause (35.3.1.3 (c)).
fn neighbours(below_hpa: f64, above_hpa: f64, by_rule: &Report) -> bool {
    let lim = limits();
    let mut levels = by_rule.levels.iter();
    let tropopause = levels.find(|l| l.roles.any(Roles::TROPOPAUSE));
    let to = tropopause.and_then(|l| l.row.pressure_hpa);
    above_hpa < to.unwrap_or(lim.thermal_bound_hpa) || above_hpa / below_hpa > lim.pressure_ratio
}

/// Whether a level stands between 110 and 100 hPa (35.3.1.2).
fn near_100(report: &Report) -> bool {
    let lim = limits();
    let near = lim.near_100_high_hpa..=lim.near_100_low_hpa;
    let levels = of_role(report, Roles::SIG_T_OR_U);
    levels.iter().any(|(_, p)| near.contains(p))
}

/// Sums up the departures of one quantity.
#[derive(Clone, Copy)]
struct Sum {
    /// More than this is outside the limit.
    most: f64,
    /// What is no more than this is neither outside nor the greatest.
    usual: f64,
    squares: f64,
    rows: usize,
    outside: usize,
    greatest: f64,
    /// The row of the greatest.
    row: usize,
}

impl Sum {
    fn new(quantity: Quantity) -> Self {
        // Any departure is more.
        let none = -1.0;
        Self {
            most: quantity.limit() * (1.0 + 1e-9),
            usual: none,
            squares: 0.0,
            rows: 0,
            outside: 0,
            greatest: none,
            row: 0,
        }
    }

    /// Adds the departure of a row.
    #[inline]
    fn add(&mut self, departure: f64, row: usize) {
        // A value that is missing departs by no number.
        if departure < f64::INFINITY {
            self.squares += departure * departure;
            self.rows += 1;
            if departure > self.usual {
                self.outside += usize::from(departure > self.most);
                if departure > self.greatest {
                    (self.greatest, self.row) = (departure, row);
                    self.usual = departure.min(self.most);
                }
            }
        }
    }

    /// The sum of all rows, of which these are the pressures.
    fn finish(self, hpa: &[f64]) -> Departures {
        if self.rows == 0 {
            return Departures::default();
        }
        let rows = u32::try_from(self.rows).unwrap_or(u32::MAX);
        let pressure_hpa = hpa.get(self.row).map(|&p| trim(p));
        Departures {
            rms: trim((self.squares / f64::from(rows)).sqrt()),
            greatest: trim(self.greatest),
            pressure_hpa: pressure_hpa.filter(|p| p.is_finite()),
            // Counted from 1.
            row: Some(self.row + 1),
            rows: self.rows,
            outside: self.outside,
        }
    }
}

/// A level as a point of the curve; NaN is missing.
struct Point {
    x: f64,
    p: f64,
    key: u16,
    t: f64,
    u: f64,
    dir: f64,
    speed: f64,
}

fn point(level: &Level, column: &Column) -> Option<Point> {
    let row = &level.row;
    let surface = level.roles.any(Roles::SURFACE);
    let (x, key) = match column.grid {
        Grid::Pressure => {
            let p = row.pressure_hpa?;
            let own = match level.at {
                At::Row(k) => (column.p.get(k).zip(column.x.get(k)))
                    .filter(|(there, _)| (*there - p).abs() < 1e-6)
                    .map(|(_, &x)| x),
                _ => None,
            };
            (own.unwrap_or(-p.ln()), column.grid.key(p))
        }
        // The surface of a message has no height: it is the first row.
        Grid::Metres(_) if surface => (*column.x.first()?, 0),
        Grid::Metres(_) => {
            let z = row.height_gpm?;
            (z, column.grid.key(z))
        }
    };
    let p = row.pressure_hpa.unwrap_or(f64::NAN);
    let nan = f64::NAN;
    let humidity = row.humidity_pct.or_else(|| {
        let (t, td) = row.temperature_c.zip(row.dewpoint_c)?;
        Some(relative_humidity_pct(t, td))
    });
    Some(Point {
        x,
        p,
        key,
        t: row.temperature_c.unwrap_or(nan),
        u: humidity.unwrap_or(nan),
        dir: row.wind.map_or(nan, |w| w.dir_deg),
        speed: row.wind.map_or(nan, |w| w.speed_ms),
    })
}

/// The points of the levels with a role, lowest first.
fn points(report: &Report, column: &Column, roles: Roles) -> Vec<Point> {
    report
        .levels
        .iter()
        .filter(|l| l.roles.any(roles))
        .filter_map(|l| point(l, column))
        .collect()
}

/// A straight line between two points of a curve.
struct Line {
    start: f64,
    rise: f64,
}

impl Line {
    fn new(start: f64, end: f64) -> Self {
        let rise = end - start;
        Self { start, rise }
    }

    /// The value at a share of the way.
    #[inline]
    fn at(&self, share: f64) -> f64 {
        self.start + self.rise * share
    }
}

/// The stretches between neighbouring points of a curve, lowest first: both points, and
/// every row between them with the share of the way from the lower one. A row outside the
/// outermost points that the code cannot tell from them counts as being there.
fn stretches<'a>(
    column: &'a Column,
    points: &'a [Point],
) -> impl Iterator<Item = (&'a Point, &'a Point, impl Iterator<Item = (usize, f64)>)> {
    let x = column.x.iter().copied().enumerate();
    let lowest = points.first().and_then(|first| {
        let reached = |&(k, x): &(usize, f64)| x >= first.x || column.key(k) == first.key;
        x.clone().find(reached).map(|(k, _)| k)
    });
    let highest = points.last().and_then(|last| {
        let reached = |&(k, x): &(usize, f64)| x <= last.x || column.key(k) == last.key;
        x.rev().find(reached).map(|(k, _)| k)
    });
    let mut begin = lowest.unwrap_or(column.x.len());
    let end = highest.map_or(0, |highest| highest + 1);
    let pairs = points.iter().tuple_windows().enumerate();
    pairs.map(move |(i, (a, b))| {
        let rows = column.x.get(begin..end).unwrap_or_default();
        // The highest stretch has all the rows that are left.
        let is_last = i + 2 == points.len();
        let above = rows.iter().position(|&x| b.x < x).filter(|_| !is_last);
        let rows = rows.get(..above.unwrap_or(rows.len())).unwrap_or_default();
        let from = begin;
        begin += rows.len();
        let shares = rows.iter().zip(from..).map(move |(&x, k)| {
            let share = (x - a.x) / (b.x - a.x);
            // Below the lower point, or no number: its value.
            let share = if share > 0.0 { share } else { 0.0 };
            (k, if share < 1.0 { share } else { 1.0 })
        });
        (a, b, shares)
    })
}

/// What a report says at one row of the profile, on its straight lines in ln p
/// (in height where there is no pressure); `None` beyond its outermost levels and
/// where a level has no value.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Rebuilt {
    /// Temperature, °C.
    pub temperature_c: Option<f64>,
    /// The greatest departure of temperature that the rules allow there, K.
    pub temperature_limit_k: Option<f64>,
    /// Relative humidity over water, %.
    pub humidity_pct: Option<f64>,
    /// Wind.
    pub wind: Option<Wind>,
    /// Whether a departure of direction counts: not where both winds are light.
    pub direction_counts: bool,
}

/// The curves that the significant levels of a report draw, at every row of a
/// profile: the same that [`fidelity`] holds the rows against.
#[must_use]
pub fn rebuilt(profile: &Profile, coding: &Coding, report: &Report) -> Vec<Rebuilt> {
    let column = Column::new(profile, coding);
    let mut rows = vec![Rebuilt::default(); profile.rows.len()];
    let known = |value: f64| Some(value).filter(|v| v.is_finite());
    let tropopause = tropopause_hpa(report);
    let levels = points(report, &column, Roles::SIG_T_OR_U);
    for (a, b, stretch) in stretches(&column, &levels) {
        let (t, u, limit) = thermal(a, b, tropopause);
        for (k, share) in stretch {
            if let Some(row) = rows.get_mut(k) {
                row.temperature_c = known(t.at(share));
                row.temperature_limit_k = known(limit);
                row.humidity_pct = known(u.at(share));
            }
        }
    }
    let levels = points(report, &column, WINDS);
    for (a, b, stretch) in stretches(&column, &levels) {
        let (dir, speed) = wind(a, b);
        for (k, share) in stretch {
            let own = column.speed.get(k).copied().unwrap_or(f64::NAN);
            let (dir, speed_ms) = (dir.at(share), speed.at(share));
            if let Some(row) = rows.get_mut(k) {
                row.wind = known(dir).zip(known(speed_ms)).map(|(dir, speed_ms)| Wind {
                    dir_deg: dir.rem_euclid(360.0),
                    speed_ms,
                });
                let light_ms = limits().light_wind_ms;
                row.direction_counts = tolerance::direction_counts(own, speed_ms, light_ms);
            }
        }
    }
    rows
}

/// The levels that winds are drawn from.
const WINDS: Roles = Roles::SIG_WIND.union(Roles::REGIONAL);

/// Pressure of the first tropopause.
fn tropopause_hpa(report: &Report) -> Option<f64> {
    let mut levels = report.levels.iter();
    let tropopause = levels.find(|l| l.roles.any(Roles::TROPOPAUSE))?;
    tropopause.row.pressure_hpa
}

/// Temperature °C and humidity % between two levels, and the limit of temperature, K.
fn thermal(a: &Point, b: &Point, tropopause: Option<f64>) -> (Line, Line, f64) {
    let limit = tolerance::temperature_k(a.p, tropopause);
    (Line::new(a.t, b.t), Line::new(a.u, b.u), limit)
}

/// Direction in degrees, not brought to 0 to 360, and speed m/s between two levels.
fn wind(a: &Point, b: &Point) -> (Line, Line) {
    let start = a.dir;
    let rise = shorter_arc(b.dir - start);
    (Line { start, rise }, Line::new(a.speed, b.speed))
}

/// Departures in the order of [`Quantity::ALL`].
fn departures(column: &Column, report: &Report) -> [Departures; 5] {
    let [mut low, mut aloft, mut humidity, mut direction, mut speed] = Quantity::ALL.map(Sum::new);
    let own = |values: &[f64], k: usize| values.get(k).copied().unwrap_or(f64::NAN);
    let lim = limits();
    let tropopause = tropopause_hpa(report);
    let levels = points(report, column, Roles::SIG_T_OR_U);
    for (a, b, stretch) in stretches(column, &levels) {
        let (t, u, limit) = thermal(a, b, tropopause);
        let temperature = if limit > lim.temperature_low_k {
            &mut aloft
        } else {
            &mut low
        };
        // Copies, which the compiler keeps in registers.
        let (mut of_t, mut of_u) = (*temperature, humidity);
        for (k, share) in stretch {
            of_t.add((own(&column.t, k) - t.at(share)).abs(), k);
            of_u.add((own(&column.u, k) - u.at(share)).abs(), k);
        }
        (*temperature, humidity) = (of_t, of_u);
    }
    let levels = points(report, column, WINDS);
    for (a, b, stretch) in stretches(column, &levels) {
        let (line, of_speed) = wind(a, b);
        for (k, share) in stretch {
            let (own_ms, ms) = (own(&column.speed, k), of_speed.at(share));
            speed.add((own_ms - ms).abs(), k);
            if tolerance::direction_counts(own_ms, ms, lim.light_wind_ms) {
                let off = shorter_arc(own(&column.dir, k) - line.at(share)).abs();
                direction.add(off, k);
            }
        }
    }
    [low, aloft, humidity, direction, speed].map(|sum| sum.finish(&column.p))
}

#[cfg(test)]
mod tests;
