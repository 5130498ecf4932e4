//! Orders of the operator: levels taken in or out.

use super::Levels;
use super::column::Column;
use crate::finding::{Finding, Place};
use crate::sounding::{Action, Level, MaxWind, Order, Profile, Reason, Roles};

/// Distance in ln p within which an order finds its level.
const NEAR: f64 = 0.02;

/// The rows ordered in, with the words of the order.
pub(crate) fn forced(orders: &[Order], column: &Column) -> Vec<(usize, String)> {
    orders
        .iter()
        .filter_map(|order| match order {
            Order::Level {
                action: Action::Force,
                pressure_hpa,
                reason,
            } => {
                let x = -pressure_hpa.ln();
                let row = (0..column.len()).min_by(|&a, &b| {
                    let off = |k: usize| column.x.get(k).map_or(f64::INFINITY, |c| (c - x).abs());
                    off(a).total_cmp(&off(b))
                })?;
                let words = match reason {
                    Some(reason) => format!("ordered in: {reason}"),
                    None => "ordered in".to_owned(),
                };
                Some((row, words))
            }
            _ => None,
        })
        .collect()
}

/// The same, and the rows that a source wants kept in a role: levels of a message
/// that a profile was rebuilt from.
pub(crate) fn with_kept(
    forced: &[(usize, String)],
    profile: &Profile,
    role: Roles,
) -> Vec<(usize, String)> {
    let kept = profile
        .rows
        .iter()
        .enumerate()
        .filter(|(_, row)| row.given.any(Roles::FORCED) && row.given.any(role));
    let kept = kept.map(|(k, _)| (k, "level of the message".to_owned()));
    forced.iter().cloned().chain(kept).collect()
}

/// Roles that a rule asks for whatever an operator thinks of the level: their
/// levels stay in the text unless a reason is given.
const RULED: Roles =
    Roles(Roles::SURFACE.0 | Roles::STANDARD.0 | Roles::TROPOPAUSE.0 | Roles::TOP_OF_WIND.0);

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
/// told, and one that breaks a rule is a warning that names it.
///
/// A dropped level loses its significant roles. With a reason, a tropopause is
/// no longer reported as one, and at the surface and at standard surfaces,
/// whose place the form keeps, temperature, humidity and wind are withheld;
/// without a reason, levels that a rule asks for stay.
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
        let because = reason.as_deref().unwrap_or("no reason given");
        if *action == Action::Force {
            let what = format!("level at {pressure_hpa} hPa ordered in: {because}");
            levels
                .findings
                .push(Finding::info("level-forced", place, what));
            continue;
        }
        let finding = drop_one(levels, *pressure_hpa, reason.as_deref(), place);
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

fn drop_one(levels: &mut Levels, pressure_hpa: f64, reason: Option<&str>, place: Place) -> Finding {
    let off = |p: Option<f64>| p.map_or(f64::INFINITY, |p| (p / pressure_hpa).ln().abs());
    let nearest = levels
        .levels
        .iter_mut()
        .filter(|l| off(l.row.pressure_hpa) <= NEAR)
        .min_by(|a, b| off(a.row.pressure_hpa).total_cmp(&off(b.row.pressure_hpa)));
    let Some(level) = nearest else {
        let what = format!("no level near {pressure_hpa} hPa to leave out");
        return Finding::warning("order-without-level", place, what);
    };
    let p = level.row.pressure_hpa.unwrap_or(pressure_hpa);
    let (what, clause) = ruled(level);
    let Some(reason) = reason.or_else(|| (!level.roles.any(RULED)).then_some("no reason given"))
    else {
        let what =
            format!("the level at {p} hPa is {what}: it stays, for the order gives no reason");
        return Finding::warning("order-refused", place, what)
            .allowed("write reason = \"…\" in the order")
            .clause(clause);
    };
    let significant = Roles::SIG_T_OR_U | Roles::SIG_WIND;
    let held = Roles::SURFACE | Roles::STANDARD;
    let gone = if level.roles.any(held) {
        let row = &mut level.row;
        row.temperature_c = None;
        row.dewpoint_c = None;
        row.humidity_pct = None;
        row.wind = None;
        level.roles = level.roles.without(Roles::TROPOPAUSE | Roles::MAX_WIND);
        if !level.roles.any(Roles::SURFACE) {
            level.roles = level.roles.without(significant);
        }
        "its temperature, humidity and wind are withheld"
    } else {
        level.roles = level
            .roles
            .without(significant | Roles::TROPOPAUSE | Roles::MAX_WIND | Roles::TOP_OF_WIND);
        "left out"
    };
    level.why.push(Reason {
        text: format!("ordered out: {reason}"),
        clause: "order of the sheet".into(),
    });
    let what = format!("the level at {p} hPa, {what}: {gone} by order: {reason}");
    Finding::warning("level-dropped", place, what).clause(clause)
}

#[cfg(test)]
mod tests;
