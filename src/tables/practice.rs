//! What Regions add to the forms.

use super::file::{Fault, File, Order, Shape, rows};
use super::{Form, Once, PRACTICES, Part, Standing, loaded};
use crate::model::{Axis, Coding, PilotLevels, Region};

/// A practice that some Regions have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Practice {
    /// How the levels of PILOT Parts B and D are given.
    Levels,
    /// The stability index in section 9.
    Stability,
    /// Mean winds of two layers in section 9.
    MeanWinds,
    /// The height of a standard surface just above the top in section 9.
    Extrapolated,
    /// Doubtful layers in section 9.
    Doubtful,
    /// The reason of a missing or short report in section 9.
    Reason,
    /// Winds near the ground, at 800 and at 600 hPa in section 9.
    LowWinds,
    /// Heights that stand for standard surfaces in PILOT (32.2.2.2).
    SurfacesByHeight,
}

/// A practice of one Region.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PracticeRow {
    /// The Region.
    pub region: Region,
    /// The family of forms it belongs to.
    pub form: Form,
    /// What.
    pub practice: Practice,
    /// The parts of the lower two its groups stand in; those of the upper two are
    /// their twins.
    pub parts: &'static [Part],
    /// What its groups begin with, or the manner.
    pub value: &'static str,
    /// How sure it is.
    pub standing: Standing,
}

static ROWS: Once<Vec<PracticeRow>> = Once::new(|| loaded(read(PRACTICES)));

fn read(file: File) -> Result<Vec<PracticeRow>, Fault> {
    let regions = [
        ("I", Region::I),
        ("II", Region::II),
        ("III", Region::III),
        ("IV", Region::IV),
        ("V", Region::V),
        ("VI", Region::VI),
    ];
    let practices = [
        ("levels", Practice::Levels),
        ("stability", Practice::Stability),
        ("mean_winds", Practice::MeanWinds),
        ("extrapolated", Practice::Extrapolated),
        ("doubtful", Practice::Doubtful),
        ("reason", Practice::Reason),
        ("low_winds", Practice::LowWinds),
        ("surfaces_by_height", Practice::SurfacesByHeight),
    ];
    let shape = Shape {
        columns: &["region", "form", "practice", "part", "value", "standing"],
        group: 2,
        order: Order::Unique,
    };
    rows(file, shape)?
        .iter()
        .map(|row| {
            let parts: &[Part] = match row.optional("part")? {
                None => &[],
                Some("A") => &[Part::A],
                Some("B") => &[Part::B],
                Some("AB") => &[Part::A, Part::B],
                Some(other) => {
                    return Err(row.fault(format!("part is A, B or AB, not `{other}`")));
                }
            };
            Ok(PracticeRow {
                region: row.word("region", &regions)?,
                form: row.word("form", &[("temp", Form::Temp), ("pilot", Form::Pilot)])?,
                practice: row.word("practice", &practices)?,
                parts,
                value: row.optional("value")?.unwrap_or_default(),
                standing: row.word("standing", &Standing::WORDS)?,
            })
        })
        .collect()
}

/// All practices.
#[must_use]
pub fn practices() -> &'static [PracticeRow] {
    &ROWS
}

/// A practice of a Region; `None` when the Region does not have it.
#[must_use]
pub fn practice(region: Region, practice: Practice) -> Option<&'static PracticeRow> {
    ROWS.iter()
        .find(|row| row.region == region && row.practice == practice)
}

/// How the levels of Parts B and D are wanted: as the sheet or the Region says,
/// else by height.
#[must_use]
pub fn level_manner_wanted(coding: &Coding) -> PilotLevels {
    let regional = || match practice(coding.region, Practice::Levels)?.value {
        "hPa" => Some(PilotLevels::Pressure),
        "500 m" => Some(PilotLevels::Height500),
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
