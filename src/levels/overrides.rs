//! Orders of the operator: levels taken in or out.

use super::Levels;
use super::column::Column;
use crate::finding::{Finding, Place};
use crate::sounding::{Action, Order, Roles};

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

/// Takes ordered levels out of the significant levels; each is told.
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
        let significant = Roles::SIG_T_OR_U | Roles::SIG_WIND;
        let off = |p: Option<f64>| p.map_or(f64::INFINITY, |p| (p / pressure_hpa).ln().abs());
        let nearest = levels
            .levels
            .iter_mut()
            .filter(|l| l.roles.any(significant) && off(l.row.pressure_hpa) <= NEAR)
            .min_by(|a, b| off(a.row.pressure_hpa).total_cmp(&off(b.row.pressure_hpa)));
        let finding = match nearest {
            None => Finding::warning(
                "order-without-level",
                place,
                format!("no significant level near {pressure_hpa} hPa to leave out"),
            ),
            Some(level) if level.roles.any(Roles::SURFACE) => Finding::warning(
                "order-refused",
                place,
                "the surface level cannot be left out",
            )
            .clause("WMO-No. 306, 35.3.1.2"),
            Some(level) => {
                level.roles = level.roles.without(significant);
                let p = level.row.pressure_hpa.unwrap_or(*pressure_hpa);
                Finding::warning(
                    "level-dropped",
                    place,
                    format!("significant level at {p} hPa left out by order: {because}"),
                )
                .clause("WMO-No. 306, 35.3.1.3")
            }
        };
        levels.findings.push(finding);
    }
    levels.levels.retain(|l| !l.roles.is_empty());
}
