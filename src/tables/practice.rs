//! What Regions add to the forms.

use serde::Deserialize;

use super::{Form, Once, PRACTICES, Part, Standing, load};
use crate::model::{Axis, Coding, PilotLevels, Region};

/// A practice that some Regions have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Practice {
    /// How the levels of PILOT Parts B and D are given.
    Levels,
    /// A fixed level of PILOT Parts B and D.
    Fixed,
    /// The stability index in section 9.
    Stability,
    /// The mean wind of a layer in section 9.
    MeanWind,
    /// The height of a standard surface just above the top in section 9.
    Extrapolated,
    /// Layers of doubtful geopotential in section 9.
    DoubtfulGeopotential,
    /// Layers of doubtful temperature in section 9.
    DoubtfulTemperature,
    /// The reason of a missing or short report in section 9.
    Reason,
    /// The wind at a low level in section 9.
    LowWind,
    /// Heights that stand for standard surfaces in PILOT (32.2.2.2).
    SurfacesByHeight,
}

/// The unit of the levels and layers of a practice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum PracticeUnit {
    /// Pressure, hPa.
    #[serde(rename = "hPa")]
    Pressure,
    /// Height above mean sea level, m.
    #[serde(rename = "m")]
    Sea,
    /// Height above the ground, m.
    #[serde(rename = "m above ground")]
    Ground,
    /// Height in steps of 300 m.
    #[serde(rename = "300 m")]
    Steps300,
    /// Height in steps of 500 m.
    #[serde(rename = "500 m")]
    Steps500,
}

/// A practice of one Region, or one level or layer of it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PracticeRow {
    /// The Region.
    pub region: Region,
    /// The family of forms it belongs to.
    pub form: Form,
    /// What.
    pub practice: Practice,
    /// The parts of the lower two its groups stand in; those of the upper two are
    /// their twins.
    #[serde(deserialize_with = "super::file::parts")]
    pub parts: Vec<Part>,
    /// The group that begins it, or the figures in front of a pressure; may be blank.
    pub group: &'static str,
    /// The unit of `from`, `to` and `every`.
    pub unit: Option<PracticeUnit>,
    /// The level, or the lower end of the layer; `None` of a layer: the ground.
    pub from: Option<f64>,
    /// The upper end of the layer.
    pub to: Option<f64>,
    /// From the level on, one more each so far.
    pub every: Option<f64>,
    /// Which of the sets that the Region allows, from 1.
    pub choice: Option<u8>,
    /// For stations up to and including this height, gpm.
    pub station_gpm: Option<f64>,
    /// How sure it is.
    pub standing: Standing,
}

static ROWS: Once<Vec<PracticeRow>> = Once::new(|| load(PRACTICES));

/// All practices.
#[must_use]
pub fn practices() -> &'static [PracticeRow] {
    &ROWS
}

/// The rows of a practice of a Region, in the order of their groups.
pub fn practice_rows(
    region: Region,
    practice: Practice,
) -> impl Iterator<Item = &'static PracticeRow> {
    ROWS.iter()
        .filter(move |row| row.region == region && row.practice == practice)
}

/// A practice of a Region; `None` when the Region does not have it.
#[must_use]
pub fn practice(region: Region, practice: Practice) -> Option<&'static PracticeRow> {
    practice_rows(region, practice).next()
}

/// How the levels of Parts B and D are wanted: as the sheet or the Region says,
/// else by height.
#[must_use]
pub fn level_manner_wanted(coding: &Coding) -> PilotLevels {
    let regional = || match practice(coding.region, Practice::Levels)?.unit? {
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
pub fn pilot_fixed(region: Region, axis: Axis, choice: u8) -> impl Iterator<Item = f64> {
    let unit = match axis {
        Axis::Height => PracticeUnit::Sea,
        Axis::Pressure => PracticeUnit::Pressure,
    };
    let rows = practice_rows(region, Practice::Fixed);
    rows.filter(move |row| row.unit == Some(unit) && row.choice == Some(choice))
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
