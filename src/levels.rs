//! Which levels a report must have, and why: the rules of WMO-No. 306 applied
//! to a profile. One rule a file.
//!
//! Two chains of significant levels meet at 100 hPa: what Parts A and B say
//! rests on rows at or below 100 hPa alone, so that an early message and the
//! final one agree; only a tropopause looks 2 km further up.

mod column;
mod freezing;
mod interpolate;
mod layers;
mod max_wind;
mod overrides;
mod reduce;
mod standard;
mod sums;
mod thermal;
mod tropopause;
mod wind;

use std::collections::BTreeMap;

use crate::figure::PressureFigure;
use crate::finding::{Finding, Place};
use crate::sounding::{
    At, Axis, Coding, Level, MaxWind, MissingLayer, Order, Profile, Reach, Reason, Roles, Row,
};
use column::Column;

/// The levels chosen for a report.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Levels {
    /// Lowest first; a row that is chosen for several reasons is one level.
    pub levels: Vec<Level>,
    /// Layers without data.
    pub missing: Vec<MissingLayer>,
    /// Maximum winds in the order of reporting, those at or below 100 hPa first.
    pub maxima: Vec<MaxWind>,
    /// What is to be said about the choice.
    pub findings: Vec<Finding>,
}

/// Chooses the levels of a profile on a pressure axis.
///
/// `reach` tells whether the profile is the whole ascent or was cut at 100 hPa
/// for an early message, in which case Part B closes as if it went on.
#[must_use]
pub fn choose(profile: &Profile, coding: &Coding, orders: &[Order], reach: Reach) -> Levels {
    let mut out = Levels::default();
    if profile.axis != Axis::Pressure || profile.rows.is_empty() {
        return out;
    }
    let column = Column::new(profile, coding);
    let goes_on = column.lower < column.len() || reach == Reach::To100;
    let forced = overrides::forced(orders, &column);
    let tropopauses = tropopause::tropopauses(&column);
    out.findings
        .extend(tropopause::doubt(&column, &tropopauses));

    let thermal = thermal::choose(&thermal::ThermalInput {
        column: &column,
        tropopauses: &tropopauses,
        goes_on,
        forced: &forced,
    });
    let winds = wind::choose(&wind::WindInput {
        column: &column,
        unit: coding.wind_unit,
        goes_on,
        forced: &forced,
    });
    let mut build = Build {
        profile,
        column: &column,
        rows: BTreeMap::new(),
    };
    let mut surface = Roles::SURFACE | Roles::SIG_T_OR_U;
    if !winds.picks.is_empty() {
        surface |= Roles::SIG_WIND;
    }
    build.add(0, surface, Vec::new());
    for (i, &row) in tropopauses.iter().enumerate() {
        let text = if i == 0 {
            "first tropopause"
        } else {
            "further tropopause"
        };
        build.add(
            row,
            Roles::TROPOPAUSE,
            vec![reason(text, "WMO-No. 306, 35.2.3.1")],
        );
    }
    for pick in thermal.picks {
        let humidity = pick.humidity;
        let level = build.add(pick.row, pick.roles, pick.why);
        if let (Some(level), Some((td, u))) = (level, humidity) {
            level.row.dewpoint_c = Some(td);
            level.row.humidity_pct = Some(u);
            level.why.push(reason(
                "humidity from the rows around",
                "common practice, no source",
            ));
        }
    }
    for maximum in max_wind::maxima(&winds.picks, &column, coding) {
        if let Some(pick) = winds.picks.get(maximum.pick) {
            let top = pick.roles.any(Roles::TOP_OF_WIND);
            let text = if top {
                "strongest wind of the ascent, at its top"
            } else {
                "maximum wind"
            };
            build.add(
                pick.row,
                Roles::MAX_WIND,
                vec![reason(text, "WMO-No. 306, 35.2.4")],
            );
            if let Some(&pressure_hpa) = column.p.get(pick.row) {
                out.maxima.push(MaxWind {
                    pressure_hpa,
                    shear: maximum.shear,
                });
            }
        }
    }
    for pick in winds.picks {
        build.add(pick.row, pick.roles, pick.why);
    }
    out.missing = thermal.missing;
    out.missing.extend(winds.missing);
    out.findings.extend(thermal.findings);
    out.findings.extend(winds.findings);

    let mut between = Vec::new();
    for level in standard::standard(profile, &column, coding) {
        match level.at {
            At::Row(k) => build.merge(k, level),
            _ => between.push(level),
        }
    }
    if let Some(level) = freezing::freezing(profile, &column) {
        match level.at {
            At::Row(k) => build.merge(k, level),
            _ => between.push(level),
        }
    }
    out.levels = build.rows.into_values().collect();
    out.levels.extend(between);
    // Stable: rows of equal pressure keep their order.
    out.levels
        .sort_by(|l, r| pressure(r).total_cmp(&pressure(l)));
    overrides::drop_levels(orders, &mut out);
    out
}

fn pressure(level: &Level) -> f64 {
    level.row.pressure_hpa.unwrap_or(f64::INFINITY)
}

/// Levels that are rows, by row.
struct Build<'a> {
    profile: &'a Profile,
    column: &'a Column,
    rows: BTreeMap<usize, Level>,
}

impl Build<'_> {
    fn add(&mut self, row: usize, roles: Roles, why: Vec<Reason>) -> Option<&mut Level> {
        let values: &Row = self.profile.rows.get(row)?;
        let column = self.column;
        let level = self.rows.entry(row).or_insert_with(|| {
            let mut values = values.clone();
            standard::mask(&mut values, column, row);
            Level {
                row: values,
                at: At::Row(row),
                roles: Roles::NONE,
                why: Vec::new(),
            }
        });
        level.roles |= roles;
        for reason in why {
            if !level.why.contains(&reason) {
                level.why.push(reason);
            }
        }
        Some(level)
    }

    fn merge(&mut self, row: usize, other: Level) {
        if let Some(level) = self.add(row, other.roles, other.why) {
            let values = &mut level.row;
            values.height_gpm = values.height_gpm.or(other.row.height_gpm);
            values.temperature_c = values.temperature_c.or(other.row.temperature_c);
            values.dewpoint_c = values.dewpoint_c.or(other.row.dewpoint_c);
            values.humidity_pct = values.humidity_pct.or(other.row.humidity_pct);
            values.wind = values.wind.or(other.row.wind);
        }
    }
}

/// A reason in words, with its rule.
fn reason(text: impl Into<String>, clause: &'static str) -> Reason {
    Reason {
        text: text.into(),
        clause: clause.into(),
    }
}

/// The pressure of the code in tenths of hPa, which tells levels apart that
/// the code can tell apart.
fn coded_key(pressure_hpa: f64) -> u16 {
    match PressureFigure::from_value(pressure_hpa) {
        Ok(PressureFigure::Tenths(tenths)) => tenths,
        Ok(PressureFigure::Whole(whole)) => whole.saturating_mul(10),
        Err(_) => 0,
    }
}

/// The order in which levels of equal coded pressure give way: later ones do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Rank {
    /// The last level of the chain below.
    Anchor,
    Surface,
    Top,
    Tropopause,
    MaxWind,
    MissingEnd,
    Forced,
    LayerEnd,
    Closing,
    Additional,
}

/// A level that a chain must have, by its point in the chain.
#[derive(Clone, Debug)]
struct Fixed {
    k: usize,
    roles: Roles,
    rank: Rank,
    why: Vec<Reason>,
}

/// A chosen row.
#[derive(Clone, Debug)]
struct Pick {
    row: usize,
    roles: Roles,
    why: Vec<Reason>,
    /// Dew point and humidity taken from the rows around.
    humidity: Option<(f64, f64)>,
}

/// Steps of the code within which a level that gives way may find a place.
const MOVE_STEPS: u16 = 20;

/// Puts the fixed levels of a chain in order, one a point, and no two with the
/// same coded pressure: the lesser one moves to the nearest free pressure, or
/// else is dropped (both are told).
fn settle_fixed(
    fixed: &mut Vec<Fixed>,
    key: impl Fn(usize) -> u16,
    p: impl Fn(usize) -> f64,
    points: usize,
    anchored: bool,
    findings: &mut Vec<Finding>,
) {
    fixed.sort_by_key(|f| (f.k, f.rank));
    fixed.dedup_by(|next, kept| {
        let same = next.k == kept.k;
        if same {
            kept.roles |= next.roles;
            kept.why.append(&mut next.why);
        }
        same
    });
    let first = usize::from(anchored);
    let mut i = 0;
    while let (Some(low), Some(high)) = (fixed.get(i), fixed.get(i + 1)) {
        if key(low.k) != key(high.k) {
            i += 1;
            continue;
        }
        let taken = key(low.k);
        let up = high.rank >= low.rank;
        let at = if up { i + 1 } else { i };
        let lesser = if up { high.clone() } else { low.clone() };
        let near = |k: usize| key(k).abs_diff(taken) <= MOVE_STEPS;
        let free = |k: usize, beyond: Option<&Fixed>| {
            key(k) != taken && beyond.is_none_or(|f| key(f.k) != key(k))
        };
        let place = if up {
            let end = fixed.get(i + 2).map_or(points, |f| f.k);
            (lesser.k + 1..end)
                .take_while(|&k| near(k))
                .find(|&k| free(k, fixed.get(i + 2)))
        } else {
            let below = i.checked_sub(1).and_then(|b| fixed.get(b));
            let end = below.map_or(first, |f| f.k + 1);
            (end..lesser.k)
                .rev()
                .take_while(|&k| near(k))
                .find(|&k| free(k, below))
        };
        let what = lesser.why.first().map_or(String::new(), |r| r.text.clone());
        let told = Finding::info(
            "equal-coded-pressure",
            Place::pressure(p(lesser.k)),
            match place {
                Some(k) => format!(
                    "{what}: the code cannot tell it from its neighbour; moved to {} hPa",
                    p(k)
                ),
                None => format!("{what}: the code cannot tell it from its neighbour; left out"),
            },
        );
        findings.push(told.allowed("levels of a section differ in coded pressure"));
        match (place, fixed.get_mut(at)) {
            (Some(k), Some(slot)) => slot.k = k,
            _ => {
                fixed.remove(at);
            }
        }
        // The level moved or removed may now meet its other neighbour.
        i = i.saturating_sub(1);
    }
}
