//! The table of chosen levels.

use std::fmt::Write as _;

use super::cell;
use crate::sounding::{At, Report};

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
            At::Extrapolated => writeln!(out, "{:>9}  {}", "below", level.roles),
            At::Received => writeln!(out, "{:>9}  {}", "-", level.roles),
        };
        for reason in &level.why {
            let _ = writeln!(out, "{:10}{} [{}]", "", reason.text, reason.clause);
        }
    }
    out
}
