//! PILOT, PILOT SHIP and PILOT MOBIL (WMO-No. 306, FM 32 to 34).

pub(super) mod from_report;
pub(super) mod parse;
pub(super) mod print;
pub(super) mod to_report;

use crate::model::{Departure, DepartureKind, Form, Part};
use crate::tables;
use crate::tables::figure::{PressureFigure, WindFigure};

/// Part A or C.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WindPart {
    /// a4 (table 0265).
    pub measuring: Option<u8>,
    /// Section 2: standard surfaces, in blocks of at most three in the text.
    pub standard: Vec<Fixed>,
    /// Section 3: maximum winds; none is 77999.
    pub maxima: Vec<PilotMaximum>,
    /// Groups after 51515, as they stand.
    pub regional: Vec<String>,
    /// Groups after 61616, as they stand.
    pub national: Vec<String>,
}

/// A standard surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fixed {
    /// Its pressure, hPa.
    pub pressure_hpa: u16,
    /// Whether it was found by the height that stands for it (55), not by
    /// pressure equipment (44).
    pub by_height: bool,
    /// Wind.
    pub wind: Option<WindFigure>,
}

/// Where a maximum wind is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MaximumAt {
    /// 77PmPmPm or 66PmPmPm.
    Pressure(PressureFigure),
    /// 7HmHmHmHm or 6HmHmHmHm, tens of gpm, 0–5999.
    Height(u16),
}

/// A maximum wind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PilotMaximum {
    /// At the top of the wind sounding (6 instead of 7).
    pub top: bool,
    /// Where.
    pub at: MaximumAt,
    /// Wind.
    pub wind: Option<WindFigure>,
    /// vbvb and vava, when the group is there.
    pub shear: Option<(Option<u8>, Option<u8>)>,
}

/// Part B or D.
#[derive(Clone, Debug, PartialEq)]
pub struct LevelPart {
    /// a4 (table 0265).
    pub measuring: Option<u8>,
    /// Section 4: by height or by pressure, one of them throughout (32.3.1.4).
    pub levels: WindLevels,
    /// Groups after 51515, as they stand.
    pub regional: Vec<String>,
    /// Groups after 61616, as they stand.
    pub national: Vec<String>,
}

/// The levels of section 4.
#[derive(Clone, Debug, PartialEq)]
pub enum WindLevels {
    /// Groups 9tnu1u2u3 or 8tnu1u2u3.
    Heights(Heights),
    /// 21212 and groups nnPPP; `None` marks a layer without wind.
    Pressures(Vec<Option<(PressureFigure, Option<WindFigure>)>>),
}

impl WindLevels {
    /// Whether there is no level.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        match self {
            Self::Heights(h) => {
                h.levels.is_empty() && h.above.is_empty() && h.significant.is_empty()
            }
            Self::Pressures(levels) => levels.is_empty(),
        }
    }
}

/// Levels by height.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Heights {
    /// The unit.
    pub step: Step,
    /// Height in steps and wind, rising; 0 is the surface, whatever its height.
    pub levels: Vec<(u8, Option<WindFigure>)>,
    /// Levels from 30 km on in units of 500 m after units of 300 m, as Region IV sends
    /// them: height in steps and wind.
    pub above: Vec<(u8, Option<WindFigure>)>,
    /// Significant levels after 21212, as Region II sends them: tens of metres and wind.
    pub significant: Vec<(u16, Option<WindFigure>)>,
}

/// Where senders pass from steps of 300 m to steps of 500 m, gpm.
fn passes_gpm() -> f64 {
    let (kind, section) = (DepartureKind::CoarserSteps, 4);
    let row = tables::reading_practice(Form::Pilot, Part::D, Departure { kind, section });
    row.and_then(|row| row.height_m).unwrap_or(f64::INFINITY)
}

/// The unit of height.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Step {
    /// 300 m (indicator 9, and 1 from 30 000 m).
    #[default]
    M300,
    /// 500 m (indicator 8).
    M500,
}

impl Step {
    /// Metres.
    #[must_use]
    pub fn metres(self) -> u16 {
        match self {
            Self::M300 => 300,
            Self::M500 => 500,
        }
    }

    /// The most steps that its groups can hold.
    #[must_use]
    pub fn most(self) -> u8 {
        match self {
            // 1tnu1u2u3 goes on to 199.
            Self::M300 => 199,
            Self::M500 => 99,
        }
    }

    /// The first figure of a group whose levels have these tens of steps.
    fn indicator(self, tens: u8) -> char {
        match self {
            Self::M300 if tens < 10 => '9',
            Self::M300 => '1',
            Self::M500 => '8',
        }
    }
}
