//! A report: the hub between the rules and the forms.

use std::collections::BTreeMap;

use jiff::civil::DateTime;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    Axis, Context, Form, Level, MaxWind, MissingLayer, Motion, Part, Position, Regional, Roles,
    StationKind, utc,
};

/// What a part carries besides its levels.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct PartContent {
    /// Whether the part says only that there is no report (NIL, or a reason in
    /// `regional`).
    pub nil: bool,
    /// Whether section 7 (31313) is in the part.
    pub section7: bool,
    /// The groups of section 7 after 31313 as they stand, in a part that was read
    /// where they differ from what equipment and release of the report say.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub section7_groups: Vec<String>,
    /// Whether section 8 (41414) is in the part.
    pub section8: bool,
    /// The a4 figure of parts B and D (table 0265); of a part without report the
    /// last figure of its time group.
    pub measuring: Option<u8>,
    /// Groups of section 9 after 51515, as they stand; one empty group stands for
    /// the indicator alone.
    pub regional: Vec<String>,
    /// Groups of section 10 after 61616, in the same way.
    pub national: Vec<String>,
}

/// How far up a report goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Reach {
    /// Only to 100 hPa: an early message.
    To100,
    /// The whole ascent.
    #[default]
    Whole,
}

/// When a report was made, as far as it is known.
///
/// A text message gives only day, hour and the clock time of the release.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged, deny_unknown_fields)]
pub enum When {
    /// Release and standard time, UTC, in full.
    Full {
        /// Time of release.
        #[serde(with = "utc::required")]
        #[schemars(with = "String")]
        release: DateTime,
        /// Standard time served.
        #[serde(with = "utc::required")]
        #[schemars(with = "String")]
        standard: DateTime,
    },
    /// What a text message says.
    Coded {
        /// Day of the month YY.
        day: u8,
        /// Hour GG.
        hour: u8,
        /// Clock time of release GGgg, when section 7 is there.
        release: Option<(u8, u8)>,
    },
}

/// The resolution of the form a report was read from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Resolution {
    /// Nothing was rounded.
    #[default]
    None,
    /// The text code: 0.2 K, whole hPa or tenths, 5°, whole units of speed.
    Text,
    /// BUFR: 0.01 K, 1 or 10 Pa, 0.1 or 1 gpm, 1°, 0.1 m/s.
    Bufr,
}

/// Where and when a descent begins: the row at the top of the flight.
///
/// BUFR 3 09 056 gives this time and place instead of those of the release, and
/// counts seconds and displacements of its levels from here: a level's seconds
/// are its own `time_s` less the one here.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Start {
    /// Time in UTC, that of release plus `time_s`; `None` when the row has no time.
    #[serde(with = "utc::option")]
    #[schemars(with = "Option<String>")]
    pub time: Option<DateTime>,
    /// Seconds after release, ≥ 0.
    #[schemars(range(min = 0.0))]
    pub time_s: Option<f64>,
    /// Position.
    pub place: Option<Position>,
    /// Geometric height above mean sea level, m.
    pub height_m: Option<f64>,
}

/// One ascent as a report: the hub between rules and forms.
#[derive(Clone, Debug, PartialEq)]
pub struct Report {
    /// The family of code form.
    pub form: Form,
    /// What the sheet said (or what the message gave).
    pub context: Context,
    /// When.
    pub when: When,
    /// The vertical coordinate.
    pub axis: Axis,
    /// Rising or falling.
    pub motion: Motion,
    /// Where and when a descent begins; `None` in every other form.
    pub start: Option<Start>,
    /// The levels, lowest first; `time_s` of each counts from release, in a
    /// descent too.
    pub levels: Vec<Level>,
    /// Layers without data.
    pub missing: Vec<MissingLayer>,
    /// The maximum winds in the order of reporting, part by part, each with
    /// its shears when they are wanted.
    pub maxima: Vec<MaxWind>,
    /// The parts there are, and what each carries besides levels.
    pub parts: BTreeMap<Part, PartContent>,
    /// What the practice of the Region adds.
    pub regional: Regional,
    /// PILOT levels by height above this, gpm, belong to Part D; `None` in TEMP.
    pub divide_gpm: Option<f64>,
    /// The resolution of the source.
    pub resolution: Resolution,
    /// How far up it goes.
    pub reach: Reach,
}

impl Report {
    /// The maximum winds of a part in the order of reporting, with their levels.
    pub(crate) fn maxima_of(&self, part: Part) -> impl Iterator<Item = (&MaxWind, &Level)> {
        let of_part = self.maxima.iter().filter(move |m| m.part == part);
        of_part.enumerate().filter_map(move |(i, maximum)| {
            let place = |m: &MaxWind| (m.pressure_hpa, m.height_gpm);
            let here = |l: &&Level| {
                l.roles.any(Roles::MAX_WIND)
                    && match maximum.pressure_hpa {
                        Some(p) => l.row.pressure_hpa == Some(p),
                        None => l.row.height_gpm == maximum.height_gpm,
                    }
            };
            // A text that was read may have two maxima at one place.
            let before = self.maxima.iter().filter(|m| m.part == part).take(i);
            let nth = before.filter(|m| place(m) == place(maximum)).count();
            let level = self.levels.iter().filter(here).nth(nth)?;
            Some((maximum, level))
        })
    }

    /// A report without levels and parts; its time is unknown (day 1, hour 0).
    #[must_use]
    pub fn empty(context: Context) -> Self {
        Self {
            form: Form::Temp,
            motion: if context.station.kind == StationKind::Drop {
                Motion::Falling
            } else {
                Motion::Rising
            },
            context,
            when: When::Coded {
                day: 1,
                hour: 0,
                release: None,
            },
            axis: Axis::Pressure,
            start: None,
            levels: Vec::new(),
            missing: Vec::new(),
            maxima: Vec::new(),
            parts: BTreeMap::new(),
            regional: Regional::default(),
            divide_gpm: None,
            resolution: Resolution::None,
            reach: Reach::Whole,
        }
    }
}

impl AsRef<Self> for Report {
    fn as_ref(&self) -> &Self {
        self
    }
}
