//! Levels of a message that was sent: where its levels still keep every limit, they
//! stay, so that a correction changes only what is wrong.

use std::collections::BTreeSet;

use super::Column;
use super::column::Grid;
use crate::model::{Coding, Level, Profile, Report, Resolution, Roles, Row};
use crate::tables::figure::{DepressionFigure, TemperatureFigure, WindFigure};

/// Marks the rows of a profile that stand for the significant levels of a report that
/// was sent; the choice of additional levels then starts from these rows.
///
/// A level of the report is the nearest row with the same coded pressure (of PILOT by
/// height: of the same step). Of a report that was read from a text, whose pressures are
/// coarse, a row with the figures of the level comes first, and a maximum wind is the
/// strongest of these. A level without such a row marks none. Marks of an earlier call
/// stay, and a step of the code has one mark.
pub fn mark_sent(profile: &mut Profile, sent: &Report, coding: &Coding) {
    let column = Column::new(profile, coding);
    let rows = Places::of(&column, profile);
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
        let rows_so_far = profile.rows.iter().enumerate();
        let marked = rows_so_far.filter(|(_, row)| row.given.any(mark));
        let mut taken: BTreeSet<u16> = marked.map(|(row, _)| column.key(row)).collect();
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
            let Some(row) = rows.row_of(&level.row, profile, rank) else {
                continue;
            };
            if let Some(marked) = profile.rows.get_mut(row)
                && taken.insert(column.key(row))
            {
                marked.given |= mark;
            }
        }
    }
}

/// The rows of a profile by what the code can tell apart: number of the code and row, in
/// order.
struct Places {
    grid: Grid,
    by_pressure: Vec<(u16, usize)>,
    /// Where the code gives heights.
    by_height: Vec<(u16, usize)>,
}

impl Places {
    fn of(column: &Column, profile: &Profile) -> Self {
        let grid = column.grid;
        let sorted = |grid: Grid, place: fn(&Row) -> Option<f64>| {
            let rows = profile.rows.iter().enumerate();
            let keys = rows.filter_map(|(k, row)| Some((grid.key(place(row)?), k)));
            let mut keys: Vec<_> = keys.collect();
            keys.sort_unstable();
            keys
        };
        Self {
            grid,
            by_pressure: sorted(Grid::Pressure, |row| row.pressure_hpa),
            by_height: match grid {
                Grid::Pressure => Vec::new(),
                Grid::Metres(_) => sorted(grid, |row| row.height_gpm),
            },
        }
    }

    /// The row that stands for a level, if there is one: that of the least rank, a rank
    /// being made of a row and its distance.
    fn row_of(
        &self,
        level: &Row,
        profile: &Profile,
        rank: impl Fn(&Row, f64) -> (bool, f64),
    ) -> Option<usize> {
        let height = level.height_gpm.filter(|_| self.grid != Grid::Pressure);
        let (keys, at, key) = match height {
            Some(at) => (&self.by_height, at, self.grid.key(at)),
            None => {
                let at = level.pressure_hpa?;
                (&self.by_pressure, at, Grid::Pressure.key(at))
            }
        };
        let from = keys.partition_point(|&(own, _)| own < key);
        let mut best: Option<((bool, f64), usize)> = None;
        for &(_, k) in keys.iter().skip(from).take_while(|&&(own, _)| own == key) {
            let row = profile.rows.get(k)?;
            let here = match height {
                Some(_) => row.height_gpm?,
                None => row.pressure_hpa?,
            };
            let rank = rank(row, (here - at).abs());
            if best.is_none_or(|(least, _)| rank < least) {
                best = Some((rank, k));
            }
        }
        best.map(|(_, k)| k)
    }
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
    let depression = temperature.zip(row.any_dewpoint_c()).map(|(t, td)| t - td);
    (
        temperature.and_then(|t| TemperatureFigure::from_value(t).ok()),
        depression.and_then(|d| DepressionFigure::from_value(d).ok()),
        None,
    )
}

#[cfg(test)]
mod tests;
