//! The data every stage speaks of: context, rows, profile, levels, report.
//!
//! A leaf: it holds no rule. Values are unrounded; missing is `None`.

use std::collections::BTreeMap;
use std::fmt;
use std::ops::{BitOr, BitOrAssign};

use jiff::civil::DateTime;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::quantity::SpeedUnit;

/// The kind of station, which decides the form of identification.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum StationKind {
    /// Fixed land station (or fixed sea platform) with a WMO number.
    #[default]
    Land,
    /// Ship.
    Ship,
    /// Mobile land station.
    Mobile,
    /// Sonde dropped from an aircraft.
    Drop,
}

/// Where the sounding was made, and how the place is named.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Station {
    /// Land, ship, mobile or drop.
    pub kind: StationKind,
    /// WMO block number II, 01–99.
    pub wmo_block: Option<u8>,
    /// WMO station number iii, 000–999.
    pub wmo_number: Option<u16>,
    /// WIGOS station identifier.
    pub wigos_id: Option<String>,
    /// Call sign D…D of ships and mobile stations.
    pub call_sign: Option<String>,
    /// Name, for people.
    pub name: Option<String>,
    /// Degrees north, −90…90.
    pub latitude_deg: Option<f64>,
    /// Degrees east, −180…180.
    pub longitude_deg: Option<f64>,
    /// Height of the ground above mean sea level, m.
    pub elevation_m: Option<f64>,
    /// Height of the barometer above mean sea level, m.
    pub barometer_m: Option<f64>,
    /// Height of the release point above mean sea level, m.
    pub release_m: Option<f64>,
    /// Confidence figure im of a mobile station's elevation (table 1845).
    pub elevation_quality: Option<u8>,
}

/// The flight's times and numbers.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Flight {
    /// Time of release, UTC.
    pub release: Option<DateTime>,
    /// The standard time the ascent serves, UTC.
    pub standard_time: Option<DateTime>,
    /// Number of the ascent in the station's own count.
    pub ascent: Option<u32>,
    /// Which release for this standard time: 1, 2, …
    pub release_number: Option<u8>,
    /// Serial number of the sonde.
    pub serial: Option<String>,
}

/// The surface observation at release.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Surface {
    /// Pressure, hPa, at `pressure_at`.
    pub pressure_hpa: Option<f64>,
    /// Where the pressure was read.
    pub pressure_at: PressureAt,
    /// Temperature, °C.
    pub temperature_c: Option<f64>,
    /// Dew point over water, °C.
    pub dewpoint_c: Option<f64>,
    /// Relative humidity over water, %.
    pub humidity_pct: Option<f64>,
    /// Direction the wind blows from, degrees true.
    pub wind_dir_deg: Option<f64>,
    /// Wind speed, m/s.
    pub wind_speed_ms: Option<f64>,
    /// Sea-surface temperature, °C.
    pub sea_temperature_c: Option<f64>,
}

/// The height at which the surface pressure was read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum PressureAt {
    /// At the release point.
    #[default]
    Release,
    /// At the barometer.
    Barometer,
}

/// What was seen of the sky.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Sky {
    /// No cloud.
    Clear,
    /// Sky hidden by fog or another phenomenon.
    Obscured,
    /// No observation.
    Unseen,
}

/// Cloud, as code figures of section 8.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Clouds {
    /// The sky as a whole, when no figures are given.
    pub sky: Option<Sky>,
    /// Nh, amount of all low (or else middle) cloud, oktas, 0–9 (table 2700).
    pub nh: Option<u8>,
    /// h, height of the base of the lowest cloud (table 1600).
    pub h: Option<u8>,
    /// CL, low cloud (table 0513).
    pub cl: Option<u8>,
    /// CM, middle cloud (table 0515).
    pub cm: Option<u8>,
    /// CH, high cloud (table 0509).
    pub ch: Option<u8>,
}

/// Instruments and how they were used.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Equipment {
    /// Radiosonde type, BUFR 0 02 011 (Common Code Table C-2).
    pub radiosonde: Option<u8>,
    /// Solar and infrared correction, BUFR 0 02 013 (table 3849).
    pub radiation: Option<u8>,
    /// Tracking technique, BUFR 0 02 014 (Common Code Table C-7).
    pub tracking: Option<u8>,
    /// Type of measuring equipment, the a4 figure (table 0265).
    pub measuring: Option<u8>,
    /// Radiosonde operating frequency, MHz.
    pub frequency_mhz: Option<f64>,
}

/// Which hour GG gives.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Hour {
    /// Release time to the nearest whole hour.
    #[default]
    Launch,
    /// The standard hour the ascent serves.
    Synoptic,
}

/// WMO Region whose practice is followed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[allow(missing_docs)]
pub enum Region {
    #[default]
    #[serde(rename = "none")]
    None,
    I,
    II,
    III,
    IV,
    V,
    VI,
}

/// What is done with standard surfaces below the station.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum BelowStation {
    /// The geopotential is extrapolated and coded (35.2.2.2).
    #[default]
    Extrapolate,
    /// The levels are left out.
    Omit,
}

/// Which parts carry section 7.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum Section7 {
    /// All four.
    #[default]
    #[serde(rename = "all")]
    All,
    /// Part B only.
    B,
}

/// Choices of practice for the coded message.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Coding {
    /// Unit of speed.
    pub wind_unit: SpeedUnit,
    /// Which hour GG gives.
    pub hour: Hour,
    /// Regional practice.
    pub region: Region,
    /// Whether the shear group 4vbvbvava is written.
    pub shear: bool,
    /// Standard surfaces below the station.
    pub below_station: BelowStation,
    /// Which parts carry section 7.
    pub section7: Section7,
    /// Below this temperature, °C, humidity is not reported.
    pub humidity_min_temperature_c: Option<f64>,
}

/// What the operator orders for one level.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Action {
    /// Report the row nearest to this pressure as a significant level.
    Force,
    /// Do not report the level nearest to this pressure.
    Drop,
}

/// An element that can be withheld.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Element {
    /// Temperature (and with it humidity).
    Temperature,
    /// Humidity and dew point.
    Humidity,
    /// Wind.
    Wind,
}

/// An operator's override.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Order {
    /// Take one level in or out.
    Level {
        /// In or out.
        action: Action,
        /// Pressure of the level, hPa.
        pressure_hpa: f64,
        /// Why, in the operator's words.
        reason: Option<String>,
    },
    /// Treat an element as missing in a layer.
    Withhold {
        /// Which element.
        element: Element,
        /// Lower end, hPa.
        from_hpa: f64,
        /// Upper end, hPa.
        to_hpa: f64,
        /// Why, in the operator's words.
        reason: Option<String>,
    },
}

/// Heading of the bulletin.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Bulletin {
    /// Area letters A1A2.
    pub area: Option<String>,
    /// Number ii.
    pub ii: Option<u8>,
    /// Centre CCCC.
    pub centre: Option<String>,
}

/// BUFR options of the sheet.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct BufrOptions {
    /// Template, six figures.
    pub template: Option<String>,
    /// Originating centre (Common Code Table C-11).
    pub centre: Option<u16>,
    /// Originating sub-centre.
    pub sub_centre: Option<u16>,
    /// Update sequence number.
    pub update: Option<u8>,
}

/// Everything about the flight that the profile itself does not say.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Context {
    /// The station.
    pub station: Station,
    /// The flight.
    pub flight: Flight,
    /// The surface observation.
    pub surface: Option<Surface>,
    /// The clouds; `None` when the sheet says nothing.
    pub clouds: Option<Clouds>,
    /// The equipment.
    pub equipment: Equipment,
    /// The practice of coding.
    pub coding: Coding,
    /// The bulletin heading.
    pub bulletin: Bulletin,
    /// BUFR options.
    pub bufr: BufrOptions,
    /// Overrides, in the order given.
    pub orders: Vec<Order>,
}

/// How to read delimited text: what the sheet says of columns and marks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reading {
    /// The delimiter; `None` to find it out.
    pub delimiter: Option<char>,
    /// Cells that mean "missing", besides the usual ones.
    pub missing: Vec<String>,
    /// Our column name → the file's column and unit.
    pub columns: BTreeMap<String, ColumnSource>,
}

/// Where one of our columns is found in a file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ColumnSource {
    /// Name of the column in the file; `None` for our own name.
    pub column: Option<String>,
    /// Unit of the column in the file; `None` for the unit in our name.
    pub unit: Option<String>,
}

/// A wind.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Wind {
    /// Direction it blows from, degrees true, 0 ≤ d ≤ 360.
    pub dir_deg: f64,
    /// Speed, m/s, ≥ 0.
    pub speed_ms: f64,
}

/// A position.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Position {
    /// Degrees north.
    pub latitude_deg: f64,
    /// Degrees east.
    pub longitude_deg: f64,
}

/// A set of the roles a level can have.
///
/// Bits have the values of BUFR flag table 0 08 042 (WMO-No. 306 Vol. I.2);
/// the ones above 18 bits are our own and never leave the program in BUFR.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Roles(pub u32);

impl Roles {
    /// No role.
    pub const NONE: Self = Self(0);
    /// Bit 1: surface.
    pub const SURFACE: Self = Self(131_072);
    /// Bit 2: standard level.
    pub const STANDARD: Self = Self(65_536);
    /// Bit 3: tropopause level.
    pub const TROPOPAUSE: Self = Self(32_768);
    /// Bit 4: maximum wind level.
    pub const MAX_WIND: Self = Self(16_384);
    /// Bit 5: significant temperature level.
    pub const SIG_TEMPERATURE: Self = Self(8192);
    /// Bit 6: significant humidity level.
    pub const SIG_HUMIDITY: Self = Self(4096);
    /// Bit 7: significant wind level.
    pub const SIG_WIND: Self = Self(2048);
    /// Bit 8: beginning of missing temperature data.
    pub const BEGIN_MISSING_TEMPERATURE: Self = Self(1024);
    /// Bit 9: end of missing temperature data.
    pub const END_MISSING_TEMPERATURE: Self = Self(512);
    /// Bit 10: beginning of missing humidity data.
    pub const BEGIN_MISSING_HUMIDITY: Self = Self(256);
    /// Bit 11: end of missing humidity data.
    pub const END_MISSING_HUMIDITY: Self = Self(128);
    /// Bit 12: beginning of missing wind data.
    pub const BEGIN_MISSING_WIND: Self = Self(64);
    /// Bit 13: end of missing wind data.
    pub const END_MISSING_WIND: Self = Self(32);
    /// Bit 14: top of wind sounding.
    pub const TOP_OF_WIND: Self = Self(16);
    /// Bit 15: level determined by regional decision.
    pub const REGIONAL: Self = Self(8);
    /// Bit 16: freezing level.
    pub const FREEZING: Self = Self(4);
    /// Bit 17: pressure originally indicated by height.
    pub const FROM_HEIGHT: Self = Self(2);
    /// Our own: put in by an order.
    pub const FORCED: Self = Self(1 << 20);

    /// The roles with a place in section 5 of the text form.
    pub const SIG_T_OR_U: Self = Self(Self::SIG_TEMPERATURE.0 | Self::SIG_HUMIDITY.0);

    const NAMES: [(Self, &'static str); 18] = [
        (Self::SURFACE, "surface"),
        (Self::STANDARD, "standard"),
        (Self::TROPOPAUSE, "tropopause"),
        (Self::MAX_WIND, "max_wind"),
        (Self::SIG_TEMPERATURE, "sig_temperature"),
        (Self::SIG_HUMIDITY, "sig_humidity"),
        (Self::SIG_WIND, "sig_wind"),
        (Self::BEGIN_MISSING_TEMPERATURE, "begin_missing_temperature"),
        (Self::END_MISSING_TEMPERATURE, "end_missing_temperature"),
        (Self::BEGIN_MISSING_HUMIDITY, "begin_missing_humidity"),
        (Self::END_MISSING_HUMIDITY, "end_missing_humidity"),
        (Self::BEGIN_MISSING_WIND, "begin_missing_wind"),
        (Self::END_MISSING_WIND, "end_missing_wind"),
        (Self::TOP_OF_WIND, "top_of_wind"),
        (Self::REGIONAL, "regional"),
        (Self::FREEZING, "freezing"),
        (Self::FROM_HEIGHT, "from_height"),
        (Self::FORCED, "forced"),
    ];

    /// Whether any role of `other` is in this set.
    #[must_use]
    pub fn any(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// Whether the set is empty.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// This set without the roles of `other`.
    #[must_use]
    pub fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// The names, in the order of the flag table.
    pub fn names(self) -> impl Iterator<Item = &'static str> {
        Self::NAMES
            .iter()
            .filter(move |(role, _)| self.any(*role))
            .map(|&(_, name)| name)
    }

    /// The role of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::NAMES
            .iter()
            .find(|&&(_, n)| n == name)
            .map(|&(role, _)| role)
    }
}

impl BitOr for Roles {
    type Output = Self;
    fn bitor(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}

impl BitOrAssign for Roles {
    fn bitor_assign(&mut self, other: Self) {
        self.0 |= other.0;
    }
}

impl fmt::Display for Roles {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut first = true;
        for name in self.names() {
            if !first {
                f.write_str(" ")?;
            }
            first = false;
            f.write_str(name)?;
        }
        Ok(())
    }
}

impl Serialize for Roles {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.names())
    }
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
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Axis {
    /// Pressure.
    #[default]
    Pressure,
    /// Height; no pressure was measured.
    Height,
}

/// Whether the sonde rose or fell.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Motion {
    /// A balloon ascent.
    #[default]
    Rising,
    /// A dropped sonde or a descent.
    Falling,
}

/// The rows of one ascent, lowest first.
///
/// What [`crate::profile`] promises: every row has the coordinate of the axis;
/// along a pressure axis pressure never increases from row to row, and rows of
/// equal pressure stand in the order of height (or time); the first row is the
/// surface level; at least two rows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Profile {
    /// The vertical coordinate.
    pub axis: Axis,
    /// Rising or falling.
    pub motion: Motion,
    /// The rows.
    pub rows: Vec<Row>,
    /// What was computed rather than read, in words.
    pub derived: Vec<String>,
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
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Reason {
    /// In words.
    pub text: String,
    /// The rule.
    pub clause: &'static str,
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

/// A layer in which an element is missing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
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
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MaxWind {
    /// Pressure of the level, hPa.
    pub pressure_hpa: f64,
    /// The shears, when they are reported.
    pub shear: Option<Shear>,
}

/// Shear in the kilometre below and above a maximum wind (35.2.4.4).
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Shear {
    /// Magnitude of the vector difference to the wind 1 km below, m/s.
    pub below_ms: Option<f64>,
    /// The same to the wind 1 km above, m/s.
    pub above_ms: Option<f64>,
}

/// A part of a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
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

    /// Whether the part speaks of what lies above 100 hPa.
    #[must_use]
    pub fn is_upper(self) -> bool {
        matches!(self, Self::C | Self::D)
    }
}

/// What a part carries besides its levels.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Kept {
    /// Whether section 7 (31313) is in the part.
    pub section7: bool,
    /// Whether section 8 (41414) is in the part.
    pub section8: bool,
    /// The a4 figure of parts B and D (table 0265).
    pub measuring: Option<u8>,
    /// Groups of section 9 after 51515, as they stand.
    pub regional: Vec<String>,
    /// Groups of section 10 after 61616, as they stand.
    pub national: Vec<String>,
}

/// How far up a report goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum When {
    /// Release and standard time, UTC, in full.
    Full {
        /// Time of release.
        release: DateTime,
        /// Standard time served.
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
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Grain {
    /// Nothing was rounded.
    #[default]
    None,
    /// The text code: 0.2 K, whole hPa or tenths, 5°, whole units of speed.
    Text,
}

/// One ascent as a report: the hub between rules and forms.
#[derive(Clone, Debug, PartialEq)]
pub struct Report {
    /// What the sheet said (or what the message gave).
    pub context: Context,
    /// When.
    pub when: When,
    /// The vertical coordinate.
    pub axis: Axis,
    /// Rising or falling.
    pub motion: Motion,
    /// The levels, lowest first.
    pub levels: Vec<Level>,
    /// Layers without data.
    pub missing: Vec<MissingLayer>,
    /// The maximum winds in the order of reporting, part by part, each with
    /// its shears when they are wanted.
    pub maxima: Vec<MaxWind>,
    /// The parts there are, and what each carries besides levels.
    pub parts: BTreeMap<Part, Kept>,
    /// The resolution of the source.
    pub grain: Grain,
    /// How far up it goes.
    pub reach: Reach,
}
