//! Orders of the operator: levels taken in or out, and whether an order lies
//! within the flight.

use std::cmp::Ordering;

use thiserror::Error;

use super::column::Column;
use super::{Levels, coded_key};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Action, Level, MaxWind, Order, Profile, Reach, Roles, Row, Rule};
use crate::physics::hydrostatic::standard_pressure_hpa;

/// Distance in ln p within which an order finds its level.
const NEAR: f64 = 0.02;

/// An order of a place that the flight did not reach.
#[derive(Clone, Debug, PartialEq, Error)]
#[error(
    "`{key}`: {asked} lies outside the flight, {lowest_hpa} to {highest_hpa} hPa, whose nearest row is at {nearest_hpa} hPa; give a pressure of the flight or remove the order"
)]
pub struct OutsideFlight {
    /// The order, as a sheet names it: `level[1]`.
    pub key: String,
    /// What it asks for, in words.
    pub asked: String,
    /// Pressure of the lowest row, hPa.
    pub lowest_hpa: f64,
    /// Pressure of the highest row, hPa.
    pub highest_hpa: f64,
    /// Pressure of the row nearest to what is asked for, hPa.
    pub nearest_hpa: f64,
}

/// Pressure of a row, hPa: as measured, or that of its height in the standard
/// atmosphere, as the choice of levels by height has it.
fn pressure(row: &Row) -> Option<f64> {
    row.pressure_hpa
        .or_else(|| row.height_gpm.map(standard_pressure_hpa))
}

/// The first order that lies outside the flight.
///
/// An order for one level must not be above the highest or below the lowest row
/// by more than the code can tell; a layer must have a row within it. What lies
/// above the rows of an ascent that is still going on may yet be reached.
pub(crate) fn outside(orders: &[Order], profile: &Profile, reach: Reach) -> Option<OutsideFlight> {
    let pressures = || profile.rows.iter().filter_map(pressure);
    let lowest_hpa = pressures().next()?;
    let highest_hpa = pressures().next_back()?;
    let mut counts = [0; 3];
    orders.iter().find_map(|order| {
        let (kind, table, low, high) = match order {
            Order::Level { pressure_hpa, .. } => (0, "level", *pressure_hpa, *pressure_hpa),
            Order::Withhold {
                from_hpa, to_hpa, ..
            } => (1, "withhold", *from_hpa, *to_hpa),
            Order::Doubtful {
                from_hpa, to_hpa, ..
            } => (2, "doubtful", *from_hpa, *to_hpa),
        };
        if let Some(count) = counts.get_mut(kind) {
            *count += 1;
        }
        let (low, high) = (low.max(high), low.min(high));
        let inside = match order {
            Order::Level { .. } => {
                let key = coded_key(low);
                (low <= lowest_hpa || key == coded_key(lowest_hpa))
                    && (low >= highest_hpa || key == coded_key(highest_hpa))
            }
            _ => pressures().any(|p| (high..=low).contains(&p)),
        };
        if inside || (reach == Reach::To100 && low < highest_hpa) {
            return None;
        }
        let off = |p: f64| (p / p.clamp(high, low)).ln().abs();
        let nearest_hpa = pressures().min_by(|&a, &b| off(a).total_cmp(&off(b)))?;
        let number = counts.get(kind).copied().unwrap_or(1);
        Some(OutsideFlight {
            key: format!("{table}[{number}]"),
            asked: match low.partial_cmp(&high) {
                Some(Ordering::Greater) => format!("the layer from {low} to {high} hPa"),
                _ => format!("{low} hPa"),
            },
            lowest_hpa,
            highest_hpa,
            nearest_hpa,
        })
    })
}

/// The rows ordered in.
pub(crate) fn forced(orders: &[Order], column: &Column) -> Vec<(usize, Rule)> {
    orders
        .iter()
        .filter_map(|order| match order {
            Order::Level {
                action: Action::Force,
                pressure_hpa,
                reason,
            } => {
                let off = |k: usize| {
                    let p = column.p.get(k).copied().unwrap_or(f64::NAN);
                    (p / pressure_hpa).ln().abs()
                };
                let known = (0..column.len()).filter(|&k| off(k).is_finite());
                let row = known.min_by(|&a, &b| off(a).total_cmp(&off(b)))?;
                Some((row, Rule::OrderedIn(reason.clone())))
            }
            _ => None,
        })
        .collect()
}

/// The same, and the rows that a source wants kept in a role: levels of a message
/// that a profile was rebuilt from.
pub(crate) fn with_levels_of_message(
    forced: &[(usize, Rule)],
    column: &Column,
    role: Roles,
) -> Vec<(usize, Rule)> {
    let kept = column.given.iter();
    let kept = kept.filter(|(_, given)| given.any(Roles::FORCED) && given.any(role));
    let kept = kept.map(|&(k, _)| (k, Rule::OfMessage));
    forced.iter().cloned().chain(kept).collect()
}

/// What an order takes away from a level, and the rule that it goes against.
fn ruled(level: &Level) -> (&'static str, &'static str) {
    let roles = level.roles;
    if roles.any(Roles::SURFACE) {
        ("the surface level", "WMO-No. 306, 35.2.1")
    } else if roles.any(Roles::STANDARD) {
        ("a standard surface", "WMO-No. 306, 35.2.2.1")
    } else if roles.any(Roles::TROPOPAUSE) {
        ("a tropopause found by the rule", "WMO-No. 306, 35.2.3.1")
    } else if roles.any(Roles::TOP_OF_WIND) {
        ("the highest level with wind", "WMO-No. 306, 35.3.2.1")
    } else {
        ("a significant level", "WMO-No. 306, 35.3.1.3 and 35.3.2.1")
    }
}

/// Carries out what is ordered of levels once they are chosen; each order is
/// reported, and one that breaks a rule is a warning that names it.
///
/// A level that is ordered out loses its significant roles. A tropopause is no
/// longer reported as one, and at the surface and at standard surfaces, whose
/// place the form keeps, temperature, humidity and wind are withheld.
pub(crate) fn drop_levels(orders: &[Order], levels: &mut Levels) {
    for order in orders {
        let Order::Level {
            action,
            pressure_hpa,
            reason,
        } = order
        else {
            continue;
        };
        let place = Place::pressure(*pressure_hpa);
        if *action == Action::Force {
            levels.findings.push(finding!(
                LevelForced,
                place,
                pressure_hpa = pressure_hpa,
                reason = reason
            ));
            continue;
        }
        let finding = drop_one(levels, *pressure_hpa, reason, place);
        levels.findings.push(finding);
    }
    levels.levels.retain(|l| !l.roles.is_empty());
    let kept = |m: &MaxWind| {
        levels.levels.iter().any(|l| {
            l.roles.any(Roles::MAX_WIND)
                && match m.pressure_hpa {
                    Some(p) => l.row.pressure_hpa == Some(p),
                    None => l.row.height_gpm == m.height_gpm,
                }
        })
    };
    let maxima: Vec<MaxWind> = levels.maxima.iter().filter(|m| kept(m)).copied().collect();
    levels.maxima = maxima;
}

fn drop_one(levels: &mut Levels, pressure_hpa: f64, reason: &str, place: Place) -> Finding {
    let off = |l: &Level| pressure(&l.row).map_or(f64::INFINITY, |p| (p / pressure_hpa).ln().abs());
    let nearest = levels
        .levels
        .iter_mut()
        .filter(|l| off(l) <= NEAR)
        .min_by(|a, b| off(a).total_cmp(&off(b)));
    let Some(level) = nearest else {
        return finding!(OrderWithoutLevel, place, pressure_hpa = pressure_hpa);
    };
    let p = pressure(&level.row).unwrap_or(pressure_hpa);
    let (role, clause) = ruled(level);
    let significant = Roles::SIG_T_OR_U | Roles::SIG_WIND;
    let held = Roles::SURFACE | Roles::STANDARD;
    let withheld = level.roles.any(held);
    if withheld {
        let row = &mut level.row;
        row.temperature_c = None;
        row.dewpoint_c = None;
        row.humidity_pct = None;
        row.wind = None;
        level.roles -= Roles::TROPOPAUSE | Roles::MAX_WIND;
        if !level.roles.any(Roles::SURFACE) {
            level.roles -= significant;
        }
    } else {
        level.roles -= significant | Roles::TROPOPAUSE | Roles::MAX_WIND | Roles::TOP_OF_WIND;
    }
    level.why.push(Rule::OrderedOut(reason.to_owned()));
    let finding = if withheld {
        finding!(
            LevelWithheld,
            place,
            pressure_hpa = p,
            role = role,
            reason = reason
        )
    } else {
        finding!(
            LevelRemoved,
            place,
            pressure_hpa = p,
            role = role,
            reason = reason
        )
    };
    finding.clause(clause)
}

#[cfg(test)]
mod tests;
