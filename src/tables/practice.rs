//! What Regions add to the forms.

use super::{Once, PRACTICES, load};
use crate::model::{Axis, Coding, PilotLevels};
pub use crate::model::{Practice, PracticeRow, PracticeUnit};

static ROWS: Once<Vec<PracticeRow>> = Once::new(|| load(PRACTICES));

/// All practices.
#[must_use]
pub fn practices() -> &'static [PracticeRow] {
    &ROWS
}

/// The rows of a practice, in the order of their groups: those of the station's own table
/// where it has one, else those of its Region.
pub fn practice_rows(coding: &Coding, practice: Practice) -> impl Iterator<Item = &PracticeRow> {
    let rows = coding
        .practice
        .as_ref()
        .map_or(practices(), |own| own.rows());
    let here = |row: &PracticeRow| row.region.is_none_or(|region| region == coding.region);
    rows.iter()
        .filter(move |row| row.practice == practice && here(row))
}

/// A practice; `None` when neither the station nor its Region has it.
#[must_use]
pub fn practice(coding: &Coding, practice: Practice) -> Option<&PracticeRow> {
    practice_rows(coding, practice).next()
}

/// How the levels of Parts B and D are wanted: as the sheet or the Region says,
/// else by height.
#[must_use]
pub fn level_manner_wanted(coding: &Coding) -> PilotLevels {
    let regional = || match practice(coding, Practice::Levels)?.unit? {
        PracticeUnit::Pressure => Some(PilotLevels::Pressure),
        PracticeUnit::Steps500 => Some(PilotLevels::Height500),
        _ => Some(PilotLevels::Height300),
    };
    let wanted = coding.pilot_levels.or_else(regional);
    wanted.unwrap_or(PilotLevels::Height300)
}

/// How the levels of Parts B and D are given for a profile on an axis: one
/// coordinate throughout (32.3.1.4).
#[must_use]
pub fn level_manner(coding: &Coding, axis: Axis) -> PilotLevels {
    match (axis, level_manner_wanted(coding)) {
        (Axis::Pressure, _) => PilotLevels::Pressure,
        (Axis::Height, PilotLevels::Height500) => PilotLevels::Height500,
        (Axis::Height, _) => PilotLevels::Height300,
    }
}

/// No sounding balloon comes near this height, m; it bounds repeated levels.
const HIGHEST_M: f64 = 60_000.0;

/// The fixed levels of PILOT in a Region on one axis, m or hPa, rising, of one choice
/// (1 unless the Region allows more); repeated ones are written out up to 60 000 m.
pub fn pilot_fixed(coding: &Coding, axis: Axis, choice: u8) -> impl Iterator<Item = f64> {
    let unit = match axis {
        Axis::Height => PracticeUnit::Sea,
        Axis::Pressure => PracticeUnit::Pressure,
    };
    let rows = practice_rows(coding, Practice::Fixed);
    rows.filter(move |row| row.unit == Some(unit) && row.choice.unwrap_or(1) == choice)
        .filter_map(|row| Some((row.from?, row.every)))
        .flat_map(|(first, every)| {
            let further = every.into_iter().flat_map(move |every| {
                (1_u16..)
                    .map(move |n| first + every * f64::from(n))
                    .take_while(|level| *level <= HIGHEST_M)
            });
            std::iter::once(first).chain(further)
        })
}
