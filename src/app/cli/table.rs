//! The table of chosen levels.

use std::fmt::Write as _;

use super::cell;
use crate::model::fidelity::Fidelity;
use crate::model::{At, Report};
use crate::view::review;

/// One line a level: values, roles, and every reason on a line below.
pub(super) fn table(report: &Report) -> String {
    let mut out = String::from("     hPa     gpm     °C  dew °C  dir   m/s      row  roles\n");
    for level in &report.levels {
        let row = &level.row;
        cell(&mut out, row.pressure_hpa, 8, 2);
        cell(&mut out, row.height_gpm, 8, 0);
        cell(&mut out, row.temperature_c, 7, 1);
        cell(&mut out, row.dewpoint_c, 8, 1);
        cell(&mut out, row.wind.map(|w| w.dir_deg), 5, 0);
        cell(&mut out, row.wind.map(|w| w.speed_ms), 6, 1);
        let _ = match level.at {
            At::Row(k) => writeln!(out, "{:>9}  {}", k + 1, level.roles),
            At::Interpolated => writeln!(out, "{:>9}  {}", "between", level.roles),
            At::Extrapolated => writeln!(out, "{:>9}  {}", "beyond", level.roles),
            At::Received => writeln!(out, "{:>9}  {}", "-", level.roles),
        };
        for rule in &level.why {
            let _ = writeln!(out, "{:10}{} [{}]", "", rule.text(), rule.clause());
        }
    }
    out
}

/// The orders of the sheet, a line each; nothing when there is none.
pub(super) fn orders(report: &Report) -> String {
    let mut out = String::new();
    for order in &report.context.orders {
        let _ = writeln!(out, "  ordered: {}", review::order(order));
    }
    if out.is_empty() {
        out
    } else {
        format!("\n{out}")
    }
}

/// What the levels give back, a line a quantity, and how many there are.
pub(super) fn fidelity(fidelity: &Fidelity) -> String {
    let mut out = String::from(
        "\nfidelity of the significant levels  limit      rms  greatest   coded: rms  greatest      at hPa\n",
    );
    for held in &fidelity.departures {
        let (before, after) = (&held.before_rounding, &held.after_rounding);
        if before.rows == 0 && after.rows == 0 {
            continue;
        }
        let name = format!("{}, {}", held.quantity.name(), held.quantity.unit());
        let _ = write!(
            out,
            "  {name:<32}{:>7}{:>9.2}{:>10.2}{:>13.2}{:>10.2}",
            held.limit, before.rms, before.greatest, after.rms, after.greatest
        );
        cell(&mut out, after.pressure_hpa, 12, 2);
        if after.outside > 0 {
            let _ = write!(out, "  {} rows beyond the limit", after.outside);
        }
        out.push('\n');
    }
    if let Some(counts) = &fidelity.counts {
        for (name, count) in [
            ("temperature and humidity", counts.thermal),
            ("wind", counts.wind),
        ] {
            let least = if count.bound_only { "at least " } else { "" };
            let _ = writeln!(
                out,
                "  {name}: {} levels by rule, {} additional; the fewest before rounding is {least}{}",
                count.fixed, count.additional, count.fewest
            );
        }
    }
    out
}
