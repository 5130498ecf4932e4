//! The freezing level (BUFR 0 08 042, bit 16 and its note).

use itertools::Itertools;

use super::column::Column;
use super::interpolate::row_at;
use crate::model::{At, Level, Profile, Roles, Rule};
use crate::profile::gaps::Lost;

/// The lowest level at which temperature decreases to 0 °C; the surface if it
/// is at 0 °C.
pub(crate) fn freezing(profile: &Profile, column: &Column) -> Option<Level> {
    let rows = column.t.iter().copied().enumerate();
    let mut points = rows.filter(|(_, t)| t.is_finite()).peekable();
    let level = |row: usize| -> Option<Level> {
        let mut values = profile.rows.get(row)?.clone();
        values.dewpoint_c = values.any_dewpoint_c();
        Some(Level {
            row: values,
            at: At::Row(row),
            roles: Roles::FREEZING,
            why: vec![Rule::Freezing { row: true }],
        })
    };
    if let Some(&(0, 0.0)) = points.peek() {
        return level(0);
    }
    let ((low, t_low), (high, t_high)) = points
        .tuple_windows()
        .find(|((_, low), (_, high))| *low > 0.0 && *high <= 0.0)?;
    if t_high == 0.0 {
        return level(high);
    }
    let (p0, p1) = (*column.p.get(low)?, *column.p.get(high)?);
    if column.is_gap(Lost::Thermal, &column.t, low, high) {
        return None;
    }
    let (x0, x1) = (*column.x.get(low)?, *column.x.get(high)?);
    let w = t_low / (t_low - t_high);
    let pressure_hpa = (p0.ln() + (p1.ln() - p0.ln()) * w).exp();
    let mut row = row_at(profile, column, x0 + (x1 - x0) * w, pressure_hpa);
    row.temperature_c = Some(0.0);
    Some(Level {
        row,
        at: At::Interpolated,
        roles: Roles::FREEZING,
        why: vec![Rule::Freezing { row: false }],
    })
}
