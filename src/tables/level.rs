//! Standard isobaric surfaces.

use serde::Deserialize;

use super::figure::is_upper;
use super::{
    Form, Once, Part, Practice, PracticeRow, STANDARD_LEVELS, load, practice_rows, practices,
};
use crate::model::{Coding, PracticeError, PracticeTable};
use crate::physics::hydrostatic::standard_height_gpm;

/// A standard isobaric surface (WMO-No. 306, 35.2.2.1 and 32.2.2.1).
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StandardLevel {
    /// The family that reports it.
    pub form: Form,
    /// The part it stands in: A or C.
    pub part: Part,
    /// Pressure, hPa.
    pub pressure_hpa: u16,
    /// The two figures PP of the group, 0–99.
    pub pp: u8,
    /// The figure Id that names it as the last with wind (code table 1734, from
    /// memory); `None` in PILOT and for the surfaces that a practice adds.
    pub id_figure: Option<u8>,
    /// The unit of hhh in gpm: 1 below 500 hPa, 10 from there up.
    pub height_step_gpm: u16,
    /// Height in the U.S. Standard Atmosphere, 1976, gpm: only to restore the
    /// thousands that hhh leaves out.
    pub typical_height_gpm: f64,
}

impl StandardLevel {
    /// A surface that a practice adds: Part A names it by tens of hPa, Part C by whole hPa.
    fn added(form: Form, pressure_hpa: u16) -> Self {
        let upper = is_upper(f64::from(pressure_hpa));
        let pp = if upper {
            pressure_hpa
        } else {
            pressure_hpa / 10
        };
        Self {
            form,
            part: if upper { Part::C } else { Part::A },
            pressure_hpa,
            pp: u8::try_from(pp % 100).unwrap_or(0),
            id_figure: None,
            height_step_gpm: if pressure_hpa > 500 { 1 } else { 10 },
            typical_height_gpm: standard_height_gpm(f64::from(pressure_hpa)).round(),
        }
    }

    /// The surface of a row of practice.
    fn of_row(row: &PracticeRow) -> Option<Self> {
        Some(Self::added(row.form, surface_hpa(row)?))
    }
}

/// The pressure of a surface that a row of practice adds, hPa.
fn surface_hpa(row: &PracticeRow) -> Option<u16> {
    let pressure = row.from.filter(|_| row.practice == Practice::Surface)?;
    // Whole hPa below 1000, which the table of practices asks for.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "limited"
    )]
    let pressure = pressure.clamp(0.0, 1100.0) as u16;
    Some(pressure)
}

static GENERAL: Once<Vec<StandardLevel>> = Once::new(|| load(STANDARD_LEVELS));

/// The general surfaces, and those that Regions add.
static LEVELS: Once<Vec<StandardLevel>> = Once::new(|| {
    let added = practices().iter().filter_map(StandardLevel::of_row);
    sorted(GENERAL.iter().copied().chain(added).collect())
});

/// TEMP, then PILOT, each from the ground up; each surface once.
fn sorted(mut levels: Vec<StandardLevel>) -> Vec<StandardLevel> {
    levels.sort_by_key(|level| (level.form, std::cmp::Reverse(level.pressure_hpa)));
    levels.dedup_by_key(|level| (level.form, level.pressure_hpa));
    levels
}

/// All standard surfaces, with those that Regions add: TEMP, then PILOT, each from the
/// ground up.
#[must_use]
pub fn standard_levels() -> &'static [StandardLevel] {
    &LEVELS
}

/// The surface of TEMP at a pressure, hPa: as the list has it, else as a practice adds it.
#[must_use]
pub fn standard_level(pressure_hpa: u16) -> StandardLevel {
    let mut listed = LEVELS.iter().filter(|level| level.form == Form::Temp);
    let listed = listed.find(|level| level.pressure_hpa == pressure_hpa);
    listed
        .copied()
        .unwrap_or_else(|| StandardLevel::added(Form::Temp, pressure_hpa))
}

/// The surfaces of Part A or C of a form that a station reports, from the ground up: the
/// general ones, and those that its practice adds; none for B and D.
#[must_use]
pub fn station_levels(form: Form, coding: &Coding, part: Part) -> Vec<StandardLevel> {
    let added = practice_rows(coding, Practice::Surface).filter_map(StandardLevel::of_row);
    let all = sorted(GENERAL.iter().copied().chain(added).collect());
    let here = |level: &StandardLevel| level.form == form && level.part == part;
    all.into_iter().filter(here).collect()
}

/// The figure Id (code table 1734) that says that winds go up to a surface of TEMP: its own
/// or, of one that a practice adds, that of the next named surface above it; `None` of
/// those above every named one.
#[must_use]
pub fn id_figure(pressure_hpa: u16) -> Option<u8> {
    let upper = is_upper(f64::from(pressure_hpa));
    let mut levels = GENERAL.iter().filter(|level| {
        level.form == Form::Temp
            && level.part.is_upper() == upper
            && level.pressure_hpa <= pressure_hpa
    });
    levels.next()?.id_figure
}

/// The surfaces that a reader of Part A or C knows, from the ground up: those of TEMP in
/// every Region, which PILOT has as well, and further ones of the form, hPa.
#[must_use]
pub fn known_levels(form: Form, part: Part, further: &[(Form, u16)]) -> Vec<StandardLevel> {
    let further = further.iter().filter(|(own, _)| *own == form);
    let added = further.map(|&(_, p)| StandardLevel::added(Form::Temp, p));
    let all = LEVELS.iter().copied().chain(added);
    let here = |level: &StandardLevel| level.form == Form::Temp && level.part == part;
    sorted(all.filter(here).collect())
}

/// The surfaces that a table of practices adds, hPa, each with its form.
#[must_use]
pub fn added_surfaces(table: &PracticeTable) -> Vec<(Form, u16)> {
    let all = table.rows().iter();
    all.filter_map(|row| Some((row.form, surface_hpa(row)?)))
        .collect()
}

/// What a table of practices has that the built-in tables do not allow.
///
/// # Errors
/// A surface that is a general one, or whose group would begin as that of another does; a
/// height for a surface that there is not.
pub fn check_practice(table: &PracticeTable) -> Result<(), PracticeError> {
    for (line, row) in table.placed() {
        let fault = |column: &str, what: String| PracticeError {
            line,
            column: Some(column.to_owned()),
            what,
        };
        if let Some(own) = StandardLevel::of_row(row) {
            let mut of_form = GENERAL.iter().filter(|level| level.form == row.form);
            let p = own.pressure_hpa;
            if of_form.any(|level| level.pressure_hpa == p) {
                let what = format!("{p} hPa is a standard surface already; remove the row");
                return Err(fault("from", what));
            }
            let same = |level: &&StandardLevel| level.part == own.part && level.pp == own.pp;
            let clash = LEVELS
                .iter()
                .filter(|level| level.pressure_hpa != p)
                .find(same);
            if let Some(other) = clash {
                let (pp, other) = (own.pp, other.pressure_hpa);
                let what = format!(
                    "the group of {p} hPa would begin with {pp:02}, as that of {other} hPa does; choose another surface"
                );
                return Err(fault("from", what));
            }
        }
        if row.practice == Practice::SurfacesByHeight && !row.group.is_empty() {
            let pilot = |level: &&StandardLevel| level.form == Form::Pilot;
            let mut levels = LEVELS.iter().filter(pilot);
            if !levels.any(|level| format!("{:02}", level.pp) == row.group) {
                let what = "PP is that of a standard surface of PILOT, such as 85 or 70".to_owned();
                return Err(fault("group", what));
            }
        }
    }
    Ok(())
}
