//! Levels of a message that was sent: where its levels still keep every limit, they
//! stay, so that a correction changes only what is wrong.

use super::Column;
use super::column::Grid;
use crate::model::{Axis, Coding, Level, Profile, Report, Resolution, Roles, Row};
use crate::tables::figure::{DepressionFigure, TemperatureFigure, WindFigure};
use crate::tables::level_manner;

/// Marks the rows of a profile that stand for the significant levels of a report that
/// was sent; the choice of additional levels then starts from these rows.
///
/// A level of the report is the nearest row with the same coded pressure (of PILOT by
/// height: of the same step). Of a report that was read from a text, whose pressures are
/// coarse, a row with the figures of the level comes first, and a maximum wind is the
/// strongest of these. A level without such a row marks none. Marks of an earlier call
/// stay, and a step of the code has one mark.
pub fn mark_sent(profile: &mut Profile, sent: &Report, coding: &Coding) {
    let mut column = Column::new(profile, coding);
    if profile.axis == Axis::Height {
        column.grid = Grid::of_levels(level_manner(coding, profile.axis));
    }
    let marks = [
        (Roles::SIG_T_OR_U, Roles::SENT_THERMAL),
        // Of PILOT by height Part A places a maximum wind more closely than Part B.
        (Roles::MAX_WIND, Roles::SENT_WIND),
        (Roles::SIG_WIND, Roles::SENT_WIND),
    ];
    for (role, mark) in marks {
        // A tropopause is a level by its own rule, and at 99.9 hPa the text moves it.
        let ruled =
            |level: &&Level| role == Roles::SIG_T_OR_U && level.roles.any(Roles::TROPOPAUSE);
        let of_role = sent.levels.iter().filter(|level| level.roles.any(role));
        for level in of_role.filter(|level| !ruled(level)) {
            let wanted = figures(&level.row, mark, coding);
            let rank = |row: &Row, off: f64| {
                if sent.resolution != Resolution::Text {
                    return (false, off);
                }
                let other = figures(row, mark, coding) != wanted;
                let wind = row.wind.filter(|_| role == Roles::MAX_WIND);
                (other, wind.map_or(off, |wind| -wind.speed_ms))
            };
            let Some(row) = row_of(&level.row, profile, &column, rank) else {
                continue;
            };
            let key = column.key(row);
            let taken = marked(profile, mark)
                .into_iter()
                .any(|k| column.key(k) == key);
            if let Some(row) = profile.rows.get_mut(row).filter(|_| !taken) {
                row.given |= mark;
            }
        }
    }
}

/// The row that stands for a level, if there is one: that of the least rank, a rank being
/// made of a row and its distance.
fn row_of(
    level: &Row,
    profile: &Profile,
    column: &Column,
    rank: impl Fn(&Row, f64) -> (bool, f64),
) -> Option<usize> {
    let by_height = column.grid != Grid::Pressure && level.height_gpm.is_some();
    let grid = if by_height {
        column.grid
    } else {
        Grid::Pressure
    };
    let place = |row: &Row| match by_height {
        true => row.height_gpm,
        false => row.pressure_hpa,
    };
    let at = place(level)?;
    let mut best: Option<((bool, f64), usize)> = None;
    for (k, row) in profile.rows.iter().enumerate() {
        let Some(here) = place(row).filter(|&here| grid.key(here) == grid.key(at)) else {
            continue;
        };
        let rank = rank(row, (here - at).abs());
        if best.is_none_or(|(least, _)| rank < least) {
            best = Some((rank, k));
        }
    }
    best.map(|(_, k)| k)
}

/// What the text says of a level in one of its sections.
type Figures = (
    Option<TemperatureFigure>,
    Option<DepressionFigure>,
    Option<WindFigure>,
);

fn figures(row: &Row, mark: Roles, coding: &Coding) -> Figures {
    if mark == Roles::SENT_WIND {
        let unit = coding.wind_unit;
        let wind = row.wind;
        let wind = wind.and_then(|w| WindFigure::from_value(w.dir_deg, w.speed_ms, unit).ok());
        return (None, None, wind);
    }
    let temperature = row.temperature_c;
    let depression = temperature.zip(row.dewpoint_c).map(|(t, td)| t - td);
    (
        temperature.and_then(|t| TemperatureFigure::from_value(t).ok()),
        depression.and_then(|d| DepressionFigure::from_value(d).ok()),
        None,
    )
}

/// The rows that have a mark.
pub(super) fn marked(profile: &Profile, mark: Roles) -> Vec<usize> {
    let rows = profile.rows.iter().enumerate();
    let rows = rows.filter(|(_, row)| row.given.any(mark));
    rows.map(|(k, _)| k).collect()
}

#[cfg(test)]
mod tests;
