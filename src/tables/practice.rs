//! What Regions add to the forms.

use super::{Form, Once, PRACTICES, Part, height_approximations, load};
use crate::model::{Axis, Coding, PilotLevels, Section7, first_hours};
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

/// The rows of a practice of one form.
fn rows_of_form(coding: &Coding, what: Practice, form: Form) -> impl Iterator<Item = &PracticeRow> {
    practice_rows(coding, what).filter(move |row| row.form == form)
}

/// The parts of a form that are asked for at a standard hour; `None` where no row speaks of
/// the hour.
#[must_use]
pub fn hours_parts(coding: &Coding, form: Form, hour: i8) -> Option<&[Part]> {
    let mut rows = rows_of_form(coding, Practice::Hours, form);
    let here = |row: &&PracticeRow| first_hours(row).any(|own| own == f64::from(hour));
    rows.find(here).map(|row| row.parts.as_slice())
}

/// The parts of TEMP that carry section 7: those of the practice, else as the sheet says.
#[must_use]
pub fn section7_parts(coding: &Coding) -> &[Part] {
    match (practice(coding, Practice::Section7), coding.section7) {
        (Some(row), _) => &row.parts,
        (None, Section7::All) => &Part::ALL,
        (None, Section7::B) => &[Part::B],
    }
}

/// The parts of the whole report that go out after an early message; `None` where the
/// practice does not say: those that did not go out before.
#[must_use]
pub fn parts_after_early(coding: &Coding, form: Form) -> Option<&[Part]> {
    let row = rows_of_form(coding, Practice::AfterEarly, form).next()?;
    Some(&row.parts)
}

/// The height that stands for a standard surface of PILOT (32.2.2.2), gpm: that of the
/// practice, else that of the table.
#[must_use]
pub fn height_for_surface(coding: &Coding, pressure_hpa: u16) -> Option<f64> {
    let pp = format!("{:02}", super::standard_level(pressure_hpa).pp);
    let mut rows = practice_rows(coding, Practice::SurfacesByHeight);
    let own = rows.find(|row| row.group == pp).and_then(|row| row.from);
    let mut all = height_approximations().iter();
    let general = all.find(|row| row.pressure_hpa == pressure_hpa);
    own.or_else(|| Some(f64::from(general?.height_gpm)))
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
