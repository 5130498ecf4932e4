//! The data every stage speaks of: context, rows, profile, levels, report.
//!
//! A leaf: it holds no rule. Values are unrounded; missing is `None`.

mod context;
pub mod finding;
pub mod quantity;
mod roles;
pub(crate) mod utc;

use std::borrow::Cow;
use std::collections::BTreeMap;

use jiff::civil::DateTime;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use context::*;
pub use roles::Roles;

use crate::model::finding::Finding;
use crate::physics::hydrostatic::standard_height_gpm;

/// How to read delimited text: what the sheet says of columns and marks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reading {
    /// The delimiter; `None` to find it out.
    pub delimiter: Option<char>,
    /// Cells that mean "missing", besides the usual ones.
    pub missing: Vec<String>,
    /// Lines before the header (or the first row) that are passed over unread.
    pub skip_lines: usize,
    /// Names of the columns of a file without a header row; empty: it has one.
    pub names: Vec<String>,
    /// Widths of the columns in characters; empty: the text is delimited.
    pub widths: Vec<usize>,
    /// Our column name → the file's column and unit.
    pub columns: BTreeMap<String, ColumnSource>,
}

/// Where one of our columns is found in a file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ColumnSource {
    /// Name of the column in the file; `None` for our own name.
    pub column: Option<String>,
    /// Unit of the column in the file; `None` for the one that the file states, or
    /// else the unit in our name.
    pub unit: Option<String>,
}

/// A wind.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Wind {
    /// Direction it blows from, degrees true, 0 ≤ d ≤ 360.
    pub dir_deg: f64,
    /// Speed, m/s, ≥ 0.
    pub speed_ms: f64,
}

impl Wind {
    /// A wind of direction and speed; a calm needs no direction.
    #[must_use]
    pub fn from_polar(dir_deg: Option<f64>, speed_ms: Option<f64>) -> Option<Self> {
        match (dir_deg, speed_ms) {
            (Some(dir_deg), Some(speed_ms)) => Some(Self { dir_deg, speed_ms }),
            (None, Some(0.0)) => Some(Self {
                dir_deg: 0.0,
                speed_ms: 0.0,
            }),
            _ => None,
        }
    }

    /// Towards east and towards north, m/s.
    #[must_use]
    pub fn components_ms(self) -> (f64, f64) {
        let (sin, cos) = self.dir_deg.to_radians().sin_cos();
        (-self.speed_ms * sin, -self.speed_ms * cos)
    }

    /// The wind of two components, towards east and north, m/s: it blows from
    /// the opposite side; calm has direction 0.
    #[must_use]
    pub fn from_components_ms(east_ms: f64, north_ms: f64) -> Self {
        let speed_ms = east_ms.hypot(north_ms);
        let dir_deg = if speed_ms == 0.0 {
            0.0
        } else {
            (-east_ms).atan2(-north_ms).to_degrees().rem_euclid(360.0)
        };
        Self { dir_deg, speed_ms }
    }
}

/// A position.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Position {
    /// Degrees north.
    pub latitude_deg: f64,
    /// Degrees east.
    pub longitude_deg: f64,
}

/// One row of the profile.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// Seconds after release.
    pub time_s: Option<f64>,
    /// Pressure, hPa.
    pub pressure_hpa: Option<f64>,
    /// Geopotential height above mean sea level, gpm.
    pub height_gpm: Option<f64>,
    /// Temperature, °C.
    pub temperature_c: Option<f64>,
    /// Dew point over water, °C.
    pub dewpoint_c: Option<f64>,
    /// Relative humidity over water, %.
    pub humidity_pct: Option<f64>,
    /// Wind; both direction and speed, or nothing.
    pub wind: Option<Wind>,
    /// Position.
    pub place: Option<Position>,
    /// Roles the source gave to the row.
    pub given: Roles,
}

/// The vertical coordinate of a profile.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Axis {
    /// Pressure.
    #[default]
    Pressure,
    /// Height; no pressure was measured.
    Height,
}

/// Whether the sonde rose or fell.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Motion {
    /// A balloon ascent.
    #[default]
    Rising,
    /// A dropped sonde or a descent.
    Falling,
}

/// The rows of one ascent, drop or descent, lowest first.
///
/// What [`crate::profile`] promises: every row has the coordinate of the axis;
/// along a pressure axis pressure never increases from row to row, and rows of
/// equal pressure stand in the order of height (or time); the first row is the
/// surface level, except in a descent and in a drop that ends aloft; at least two
/// rows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Profile {
    /// The vertical coordinate.
    pub axis: Axis,
    /// Rising or falling.
    pub motion: Motion,
    /// Whether the lowest row of a fall lies above the surface, which was then
    /// not observed.
    pub ends_aloft: bool,
    /// Whether these are the rows of a radiosonde that fell after burst: the
    /// last one, the highest, is where the descent began. A descent has no
    /// surface observation, even where it ends near the ground.
    pub descent: bool,
    /// The rows.
    pub rows: Vec<Row>,
    /// What was computed rather than read, in words.
    pub derived: Vec<String>,
    /// What the sheet must settle before a report is made of these rows: findings
    /// of severity error, each with what to write.
    pub unsettled: Vec<Finding>,
}

/// Where a level's values come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum At {
    /// The profile row of this number, from 0.
    Row(usize),
    /// Interpolated between rows.
    Interpolated,
    /// Extrapolated beyond the rows.
    Extrapolated,
    /// Read from a message.
    Received,
}

/// Why a level was chosen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Reason {
    /// In words.
    pub text: String,
    /// The rule.
    pub clause: Cow<'static, str>,
}

impl Reason {
    /// How the reason of an additional level begins, which is there for the limits
    /// alone.
    pub(crate) const WITHOUT: &str = "without it";

    /// The same for one that the ratio of neighbouring pressures asks for.
    pub(crate) const RATIO: &str = "pressure of neighbours";

    /// Whether the level is additional by this reason: another choice of levels
    /// may do without it.
    #[must_use]
    pub fn is_additional(&self) -> bool {
        self.text.starts_with(Self::WITHOUT) || self.text.starts_with(Self::RATIO)
    }
}

/// One level of a report.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// The values, unrounded.
    pub row: Row,
    /// Where they come from.
    pub at: At,
    /// What the level is.
    pub roles: Roles,
    /// Why it was chosen, a reason a rule.
    pub why: Vec<Reason>,
}

impl Level {
    /// A number by which levels rise: the height, or that of the pressure in
    /// the standard atmosphere; a surface without either comes first.
    #[must_use]
    pub fn order(&self) -> f64 {
        let row = &self.row;
        let standard = || row.pressure_hpa.map(standard_height_gpm);
        let surface = if self.roles.any(Roles::SURFACE) {
            f64::NEG_INFINITY
        } else {
            f64::INFINITY
        };
        row.height_gpm.or_else(standard).unwrap_or(surface)
    }
}

/// A layer in which an element is missing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MissingLayer {
    /// Which element.
    pub element: Element,
    /// Lower boundary, the last level with data, hPa; `None` when there is none
    /// (or when only a part that starts above it was read).
    pub from_hpa: Option<f64>,
    /// Upper boundary, the first level with data again, hPa; `None` when the
    /// element never returns.
    pub to_hpa: Option<f64>,
}

/// A maximum wind level, in the order in which the maxima are reported.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MaxWind {
    /// The part that reports it: A or C.
    pub part: Part,
    /// Pressure of the level, hPa; `None` when it was found by height alone.
    pub pressure_hpa: Option<f64>,
    /// Geopotential height, gpm, of a level without pressure.
    pub height_gpm: Option<f64>,
    /// The shears, when they are reported.
    pub shear: Option<Shear>,
}

/// Shear in the kilometre below and above a maximum wind (35.2.4.4).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Shear {
    /// Magnitude of the vector difference to the wind 1 km below, m/s.
    pub below_ms: Option<f64>,
    /// The same to the wind 1 km above, m/s.
    pub above_ms: Option<f64>,
}

/// The family of code form.
#[derive(
    Clone,
    Copy,
    Debug,
    Default,
    PartialEq,
    Eq,
    Hash,
    PartialOrd,
    Ord,
    Serialize,
    Deserialize,
    JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Form {
    /// TEMP, TEMP SHIP, TEMP MOBIL, TEMP DROP (FM 35 to 38).
    #[default]
    Temp,
    /// PILOT, PILOT SHIP, PILOT MOBIL (FM 32 to 34).
    Pilot,
    /// The descent of a radiosonde after burst; BUFR 3 09 056 only.
    Descent,
}

/// A part of a message.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
pub enum Part {
    /// Standard levels up to and including 100 hPa.
    A,
    /// Significant levels up to and including 100 hPa.
    B,
    /// Standard levels above 100 hPa.
    C,
    /// Significant levels above 100 hPa.
    D,
}

impl Part {
    /// All four, in the order of sending.
    pub const ALL: [Self; 4] = [Self::A, Self::B, Self::C, Self::D];

    /// The letter.
    #[must_use]
    pub fn letter(self) -> char {
        match self {
            Self::A => 'A',
            Self::B => 'B',
            Self::C => 'C',
            Self::D => 'D',
        }
    }

    /// The part with that letter.
    #[must_use]
    pub fn from_letter(letter: char) -> Option<Self> {
        Self::ALL.into_iter().find(|part| part.letter() == letter)
    }

    /// Whether the part speaks of what lies above 100 hPa.
    #[must_use]
    pub fn is_upper(self) -> bool {
        matches!(self, Self::C | Self::D)
    }
}

/// What a part carries besides its levels.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Kept {
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
pub enum Grain {
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

/// What the practice of a Region adds, in unrounded values.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Regional {
    /// Stability index, K: temperature at 500 hPa less that of a parcel lifted
    /// there from the base level.
    pub stability_k: Option<f64>,
    /// Mean winds from the ground to 1500 m and from there to 3000 m above mean
    /// sea level, when they are reported.
    pub mean_winds: Option<[Option<Wind>; 2]>,
    /// Geopotential of standard surfaces just above the top.
    pub extrapolated: Vec<Extrapolated>,
    /// Doubtful layers.
    pub doubtful: Vec<DoubtfulLayer>,
    /// Winds 900 m above ground, at 800 and at 600 hPa.
    pub low_winds: Vec<LowWind>,
}

/// A standard surface just above the top.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Extrapolated {
    /// The surface, hPa.
    pub pressure_hpa: f64,
    /// Its geopotential, gpm.
    pub height_gpm: f64,
}

/// A doubtful layer.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DoubtfulLayer {
    /// What is doubtful.
    pub doubtful: Doubted,
    /// Lower end, hPa.
    pub from_hpa: f64,
    /// Upper end, hPa.
    pub to_hpa: f64,
}

/// A wind near the ground, or at one of two surfaces.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LowWind {
    /// Indicator: 1 near the ground, 2 at 800 hPa, 3 at 600 hPa.
    pub indicator: u8,
    /// Pressure, hPa.
    pub pressure_hpa: f64,
    /// The wind.
    pub wind: Wind,
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
    pub parts: BTreeMap<Part, Kept>,
    /// What the practice of the Region adds.
    pub regional: Regional,
    /// PILOT levels by height above this, gpm, belong to Part D; `None` in TEMP.
    pub divide_gpm: Option<f64>,
    /// The resolution of the source.
    pub grain: Grain,
    /// How far up it goes.
    pub reach: Reach,
}

impl Report {
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
            grain: Grain::None,
            reach: Reach::Whole,
        }
    }
}
