//! What is known of station and flight besides the profile.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;
use serde::{Deserialize, Serialize};

use std::collections::BTreeMap;

#[cfg(test)]
use super::shape::Shape;
use super::{GroundCheck, Part, PracticeTable, Station, utc};
use crate::model::quantity::SpeedUnit;

/// The flight's times and numbers.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Flight {
    /// Time of release, UTC; required.
    #[serde(with = "utc::option")]
    #[cfg_attr(
        test,
        schemars(title = "Release, UTC", with = "Option<super::schema::Text>")
    )]
    pub release: Option<DateTime>,
    /// Standard time served, UTC; when absent, the main hour (00, 06, 12, 18)
    /// nearest to half an hour after release.
    #[serde(with = "utc::option")]
    #[cfg_attr(
        test,
        schemars(title = "Standard time, UTC", with = "Option<super::schema::Text>")
    )]
    pub standard_time: Option<DateTime>,
    /// Number of the ascent in the station's own count (0 01 082).
    #[cfg_attr(test, schemars(title = "Ascent number", range(min = 0, max = 16382)))]
    pub ascent: Option<u32>,
    /// Which release for this standard time (0 01 083).
    #[cfg_attr(test, schemars(title = "Release number", range(min = 0, max = 6)))]
    pub release_number: Option<u8>,
    /// Serial number of the sonde.
    #[cfg_attr(test, schemars(title = "Sonde serial number", length(max = 64)))]
    pub serial: Option<String>,
    /// Identification of the observer, 0 01 095.
    #[cfg_attr(test, schemars(title = "Observer", extend("pattern" = Shape::Observer.pattern())))]
    pub observer: Option<String>,
    /// Why the ascent ended, 0 35 035: 1 burst, 13 by the user, 14 loss of signal …
    #[cfg_attr(
        test,
        schemars(title = "Why it ended (0 35 035)", range(min = 0, max = 30))
    )]
    pub termination: Option<u8>,
    /// Why there is no report, or a short one (table 0421 of Region IV).
    #[cfg_attr(
        test,
        schemars(
            title = "Reason of no or a short report (0421)",
            range(min = 40, max = 59)
        )
    )]
    pub reason: Option<u8>,
    /// The other flight for the same standard time, which is not reported: its
    /// name, and why.
    #[cfg_attr(
        test,
        schemars(title = "Other flight, not reported", length(max = 200))
    )]
    pub not_reported: Option<String>,
}

/// The surface observation at release.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Surface {
    /// Pressure, hPa, at `pressure_at`.
    #[cfg_attr(test, schemars(title = "Pressure, hPa", range(min = 1, max = 1100)))]
    pub pressure_hpa: Option<f64>,
    /// Where the pressure was read.
    #[cfg_attr(test, schemars(title = "Pressure read at"))]
    pub pressure_at: PressureAt,
    /// Temperature, °C.
    #[cfg_attr(test, schemars(extend("x-forms" = ["temp"])))]
    #[cfg_attr(test, schemars(title = "Temperature, °C", range(min = -99.9, max = 60)))]
    pub temperature_c: Option<f64>,
    /// Dew point over water, °C.
    #[cfg_attr(test, schemars(extend("x-forms" = ["temp"])))]
    #[cfg_attr(test, schemars(title = "Dew point, °C", range(min = -99.9, max = 60)))]
    pub dewpoint_c: Option<f64>,
    /// Relative humidity over water, %.
    #[cfg_attr(test, schemars(extend("x-forms" = ["temp"])))]
    #[cfg_attr(test, schemars(title = "Humidity, %", range(min = 0, max = 100)))]
    pub humidity_pct: Option<f64>,
    /// Direction the wind blows from, degrees true.
    #[cfg_attr(test, schemars(title = "Wind from, °", range(min = 0, max = 360)))]
    pub wind_dir_deg: Option<f64>,
    /// Wind speed, m/s.
    #[cfg_attr(test, schemars(title = "Wind speed, m/s", range(min = 0, max = 250)))]
    pub wind_speed_ms: Option<f64>,
    /// Sea-surface temperature, °C.
    #[cfg_attr(test, schemars(extend("x-stations" = ["ship"])))]
    #[cfg_attr(test, schemars(extend("x-forms" = ["temp"])))]
    #[cfg_attr(test, schemars(title = "Sea surface, °C", range(min = -99.9, max = 60)))]
    pub sea_temperature_c: Option<f64>,
    /// Time of the observation, UTC; it should be close to release.
    #[serde(with = "utc::option")]
    #[cfg_attr(
        test,
        schemars(
            title = "Time of observation, UTC",
            with = "Option<super::schema::Text>"
        )
    )]
    pub time: Option<DateTime>,
}

/// The height at which the surface pressure was read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum PressureAt {
    /// At the release point.
    #[default]
    Release,
    /// At the barometer.
    Barometer,
}

/// What was seen of the sky.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
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
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Clouds {
    /// The sky as a whole, instead of figures (`h` may stand beside `obscured`:
    /// the vertical visibility).
    #[cfg_attr(test, schemars(title = "Sky as a whole"))]
    pub sky: Option<Sky>,
    /// Nh, amount of all low (or else middle) cloud (table 2700).
    #[cfg_attr(test, schemars(title = "Nh: amount", range(min = 0, max = 9)))]
    pub nh: Option<u8>,
    /// h, height of the base of the lowest cloud (table 1600).
    #[cfg_attr(
        test,
        schemars(title = "h: base of the lowest", range(min = 0, max = 9))
    )]
    pub h: Option<u8>,
    /// CL, low cloud (table 0513).
    #[cfg_attr(test, schemars(title = "CL: low cloud", range(min = 0, max = 9)))]
    pub cl: Option<u8>,
    /// CM, middle cloud (table 0515).
    #[cfg_attr(test, schemars(title = "CM: middle cloud", range(min = 0, max = 9)))]
    pub cm: Option<u8>,
    /// CH, high cloud (table 0509).
    #[cfg_attr(test, schemars(title = "CH: high cloud", range(min = 0, max = 9)))]
    pub ch: Option<u8>,
    /// Height of the base of the lowest cloud above ground, m, instead of `h`;
    /// in an obscured sky the vertical visibility.
    #[cfg_attr(
        test,
        schemars(title = "Base instead of h, m", range(min = 0, max = 20000))
    )]
    pub base_m: Option<f64>,
}

/// Instruments and how they were used.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Equipment {
    /// Radiosonde type, 0 02 011 (Common Code Table C-2).
    #[cfg_attr(test, schemars(range(min = 0, max = 254)))]
    pub radiosonde: Option<u8>,
    /// Solar and infrared radiation correction, 0 02 013 (table 3849).
    #[cfg_attr(test, schemars(range(min = 0, max = 9)))]
    pub radiation: Option<u8>,
    /// Tracking technique, 0 02 014 (Common Code Table C-7).
    #[cfg_attr(test, schemars(range(min = 0, max = 99)))]
    pub tracking: Option<u8>,
    /// Type of measuring equipment, the a4 figure (table 0265).
    #[cfg_attr(test, schemars(range(min = 0, max = 9)))]
    pub measuring: Option<u8>,
    /// Radiosonde operating frequency, MHz.
    #[cfg_attr(test, schemars(range(min = 1, max = 3276.6)))]
    pub frequency_mhz: Option<f64>,
    /// Radiosonde completeness, 0 02 015.
    #[cfg_attr(test, schemars(range(min = 0, max = 14)))]
    pub completeness: Option<u8>,
    /// Radiosonde configuration, the bits of its flag table added up, 0 02 016.
    #[cfg_attr(test, schemars(range(min = 0, max = 30)))]
    pub configuration: Option<u8>,
    /// Correction algorithms for humidity, 0 02 017.
    #[cfg_attr(test, schemars(range(min = 0, max = 30)))]
    pub humidity_correction: Option<u8>,
    /// Ground receiving system, 0 02 066.
    #[cfg_attr(test, schemars(range(min = 0, max = 62)))]
    pub receiver: Option<u8>,
    /// Type of pressure sensor, 0 02 095.
    #[cfg_attr(test, schemars(range(min = 0, max = 30)))]
    pub pressure_sensor: Option<u8>,
    /// Type of temperature sensor, 0 02 096.
    #[cfg_attr(test, schemars(range(min = 0, max = 30)))]
    pub temperature_sensor: Option<u8>,
    /// Type of humidity sensor, 0 02 097.
    #[cfg_attr(test, schemars(range(min = 0, max = 30)))]
    pub humidity_sensor: Option<u8>,
    /// 2 where a radome protects the antenna, 0 02 103.
    #[cfg_attr(test, schemars(range(min = 0, max = 2)))]
    pub radome: Option<u8>,
    /// How geopotential is computed: 0 from pressure, 1 from satellite height, 0 02 191.
    #[cfg_attr(test, schemars(range(min = 0, max = 14)))]
    pub height_calculation: Option<u8>,
    /// Software of the ground system with its version, 0 25 061.
    #[cfg_attr(test, schemars(extend("pattern" = Shape::Software.pattern())))]
    pub software: Option<String>,
}

/// The balloon and its train.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Balloon {
    /// Balloon manufacturer, code figure, 0 02 080.
    #[cfg_attr(test, schemars(range(min = 0, max = 62)))]
    pub maker: Option<u8>,
    /// Type of balloon, 0 02 081.
    #[cfg_attr(test, schemars(range(min = 0, max = 30)))]
    pub kind: Option<u8>,
    /// Weight of the balloon, kg, 0 02 082.
    #[cfg_attr(test, schemars(range(min = 0, max = 4.094)))]
    pub mass_kg: Option<f64>,
    /// Type of balloon shelter, 0 02 083.
    #[cfg_attr(test, schemars(range(min = 0, max = 14)))]
    pub shelter: Option<u8>,
    /// Type of gas: 0 hydrogen, 1 helium, 2 natural gas, 0 02 084.
    #[cfg_attr(test, schemars(range(min = 0, max = 14)))]
    pub gas: Option<u8>,
    /// Amount of gas, kg, 0 02 085.
    #[cfg_attr(test, schemars(range(min = 0, max = 8.19)))]
    pub gas_kg: Option<f64>,
    /// Length of the flight train, m, 0 02 086.
    #[cfg_attr(test, schemars(range(min = 0, max = 102.2)))]
    pub train_m: Option<f64>,
}

/// How the heights of a balloon are known that is followed by its angles.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum TrackingMethod {
    /// By an assumed rate of ascent.
    #[serde(rename = "ascent rate")]
    AscentRate,
    /// By the heights of the rows, or their pressures and temperatures.
    #[serde(rename = "height")]
    Height,
    /// By a second theodolite at the other end of a base line.
    #[serde(rename = "base line")]
    BaseLine,
}

/// Balloons followed by their angles: what the columns `elevation_deg` and `azimuth_deg`
/// need to become winds.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Tracking {
    /// How heights are known; absent: by the base line, the heights of the rows or the rate of
    /// ascent, the first of them that is given.
    #[cfg_attr(test, schemars(title = "Heights are known by"))]
    pub method: Option<TrackingMethod>,
    /// Assumed rate of ascent, m/s; absent: by the mass of the balloon (`balloon.mass_kg`)
    /// and its free lift.
    #[cfg_attr(
        test,
        schemars(title = "Rate of ascent, m/s", range(min = 0.5, max = 15))
    )]
    pub ascent_rate_ms: Option<f64>,
    /// Free lift of the balloon, g; absent: as is usual for its mass.
    #[cfg_attr(test, schemars(title = "Free lift, g", range(min = 5, max = 5000)))]
    pub free_lift_g: Option<f64>,
    /// Where azimuth 0 of the instrument points, degrees true; absent: 0.
    #[cfg_attr(
        test,
        schemars(title = "Azimuth 0 points to, °", range(min = 0, max = 360))
    )]
    pub azimuth_zero_deg: Option<f64>,
    /// Height of the instrument above mean sea level, m; absent: that of the release point.
    #[cfg_attr(test, schemars(title = "Height of the instrument, m", range(min = -450, max = 9000)))]
    pub instrument_m: Option<f64>,
    /// Length of the base line to the second theodolite, m.
    #[cfg_attr(test, schemars(title = "Base line, m", range(min = 10, max = 50000)))]
    pub base_length_m: Option<f64>,
    /// Direction of the second theodolite from the first, degrees true.
    #[cfg_attr(
        test,
        schemars(title = "Base line towards, °", range(min = 0, max = 360))
    )]
    pub base_azimuth_deg: Option<f64>,
    /// Where azimuth 0 of the second theodolite points, degrees true; absent: as of the first.
    #[cfg_attr(
        test,
        schemars(title = "Second azimuth 0 points to, °", range(min = 0, max = 360))
    )]
    pub azimuth_zero_2_deg: Option<f64>,
    /// Height of the second theodolite above mean sea level, m; absent: that of the first.
    #[cfg_attr(test, schemars(title = "Height of the second, m", range(min = -450, max = 9000)))]
    pub instrument_2_m: Option<f64>,
}

impl Tracking {
    /// Whether nothing is said of it.
    #[must_use]
    pub fn is_none(&self) -> bool {
        *self == Self::default()
    }
}

/// Which hour GG gives.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Hour {
    /// Release time to the nearest whole hour.
    #[default]
    Launch,
    /// The standard hour the ascent serves.
    Synoptic,
}

/// WMO Region whose practice is followed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Region {
    /// No regional practice.
    #[default]
    #[serde(rename = "none")]
    None,
    /// Africa.
    I,
    /// Asia.
    II,
    /// South America.
    III,
    /// North America, Central America and the Caribbean.
    IV,
    /// South-West Pacific.
    V,
    /// Europe.
    VI,
}

/// What is done with a standard surface just above the top of the ascent.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum AboveTop {
    /// Nothing.
    #[default]
    Omit,
    /// Its geopotential is extrapolated and coded where 35.2.2.4 allows it.
    Extrapolate,
}

/// What is done with standard surfaces below the station.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum BelowStation {
    /// The geopotential is extrapolated and coded (35.2.2.2).
    #[default]
    Extrapolate,
    /// The levels are left out.
    Omit,
}

/// Which parts carry section 7.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Section7 {
    /// All four.
    #[default]
    #[serde(rename = "all")]
    All,
    /// Part B only.
    B,
}

/// How the levels of PILOT Parts B and D are given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum PilotLevels {
    /// By height in units of 300 m.
    #[serde(rename = "300 m")]
    Height300,
    /// By height in units of 500 m.
    #[serde(rename = "500 m")]
    Height500,
    /// By pressure.
    #[serde(rename = "hPa")]
    Pressure,
}

/// Choices of practice for the coded message.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Coding {
    /// Unit of wind speed.
    #[cfg_attr(test, schemars(title = "Unit of wind in the message"))]
    pub wind_unit: SpeedUnit,
    /// Which hour GG gives: of the release, to the nearest, or the standard hour.
    #[cfg_attr(test, schemars(title = "Hour GG"))]
    pub hour: Hour,
    /// WMO Region whose practice is followed as a whole.
    pub region: Region,
    /// Whether the vertical wind shear 4vbvbvava is written.
    pub shear: bool,
    /// What is done with standard surfaces below the station (35.2.2.2).
    #[cfg_attr(test, schemars(extend("x-forms" = ["temp"])))]
    pub below_station: BelowStation,
    /// What is done with a standard surface just above the top (35.2.2.4).
    #[cfg_attr(test, schemars(extend("x-forms" = ["temp"])))]
    pub above_top: AboveTop,
    /// Which parts carry section 7.
    #[cfg_attr(test, schemars(extend("x-forms" = ["temp"])))]
    pub section7: Section7,
    /// An ascent that ends below this, hPa, advises a second release.
    #[cfg_attr(test, schemars(range(min = 1, max = 1100)))]
    pub advise_below_hpa: Option<f64>,
    /// Below this temperature, °C, humidity is not reported; absent: no limit.
    #[cfg_attr(test, schemars(extend("x-forms" = ["temp"])))]
    #[cfg_attr(test, schemars(range(min = -150, max = 60)))]
    pub humidity_min_temperature_c: Option<f64>,
    /// How the levels of PILOT Parts B and D are given; absent: as the Region
    /// does.
    #[cfg_attr(test, schemars(extend("x-forms" = ["pilot"])))]
    pub pilot_levels: Option<PilotLevels>,
    /// Whether the Region lets heights stand for standard surfaces where pressure
    /// was not measured (PILOT, `55nPP`; WMO-No. 306, 32.2.2.2).
    #[cfg_attr(test, schemars(extend("x-forms" = ["pilot"])))]
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    #[cfg_attr(test, schemars(extend("default" = false)))]
    pub surfaces_by_height: bool,
    /// The station's own table of practices, which stands for those of the Region: the name
    /// of a file beside the sheet, or its rows with semicolons between them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub practice: Option<PracticeTable>,
}

/// What heights above the ground refer to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum HeightReference {
    /// Mean sea level.
    #[default]
    #[serde(rename = "sea level")]
    SeaLevel,
    /// The ellipsoid of satellite navigation, WGS 84.
    #[serde(rename = "ellipsoid")]
    Ellipsoid,
}

/// What the heights of a profile are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum HeightKind {
    /// Geopotential, gpm.
    Geopotential,
    /// Geometric height (altitude), m.
    Geometric,
}

/// What relative humidity and dew point below 0 °C refer to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum HumidityOver {
    /// Liquid water, as WMO asks for (WMO-No. 306 B/C25; WMO-No. 8).
    #[default]
    Water,
    /// Ice; a dew point is a frost point then.
    Ice,
}

/// What the rows of a profile mean, where the file does not say it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Meaning {
    /// What heights refer to. Those above the ellipsoid are moved so that the
    /// sonde is released at the height of the release point.
    pub height_reference: HeightReference,
    /// What the heights are, whatever the file calls them. Absent: what the file
    /// or the name of the column says.
    pub height_kind: Option<HeightKind>,
    /// What relative humidity below 0 °C refers to; over ice, a dew point is a
    /// frost point.
    pub humidity_over: HumidityOver,
    /// `time_s` of release: rows before it are left out and times count from it.
    /// Absent: release is looked for; 0: it is where the file's times say.
    #[cfg_attr(test, schemars(range(min = -1_000_000, max = 1_000_000)))]
    pub release_time_s: Option<f64>,
    /// Width of the window in which winds are taken from positions, s; absent:
    /// 30 s.
    #[cfg_attr(test, schemars(range(min = 2, max = 600)))]
    pub track_window_s: Option<f64>,
}

/// What the operator orders for one level.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Action {
    /// Report the row nearest to this pressure as a significant level.
    Force,
    /// Do not report the level nearest to this pressure.
    Drop,
}

/// An element that can be withheld.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Element {
    /// Temperature (and with it humidity).
    Temperature,
    /// Humidity and dew point.
    Humidity,
    /// Wind.
    Wind,
}

/// What can be doubtful in a layer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Doubted {
    /// Geopotential.
    Geopotential,
    /// Temperature.
    Temperature,
    /// Both.
    Both,
}

/// An operator's override.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(untagged, deny_unknown_fields)]
pub enum Order {
    /// Take one level in or out.
    Level {
        /// In or out.
        action: Action,
        /// Pressure of the level, hPa.
        #[cfg_attr(test, schemars(range(min = 1, max = 1100)))]
        pressure_hpa: f64,
        /// Why, in the operator's words.
        #[cfg_attr(test, schemars(length(max = 200), extend("pattern" = Shape::Reason.pattern())))]
        reason: String,
    },
    /// Report a layer as doubtful.
    Doubtful {
        /// What is doubtful.
        doubtful: Doubted,
        /// Lower end, hPa; ends in the other order are swapped.
        #[cfg_attr(test, schemars(range(min = 1, max = 1100)))]
        from_hpa: f64,
        /// Upper end, hPa.
        #[cfg_attr(test, schemars(range(min = 1, max = 1100)))]
        to_hpa: f64,
        /// Why, in the operator's words.
        #[cfg_attr(test, schemars(length(max = 200), extend("pattern" = Shape::Reason.pattern())))]
        reason: String,
    },
    /// Treat an element as missing in a layer.
    Withhold {
        /// Which element.
        element: Element,
        /// Lower end, hPa; ends in the other order are swapped.
        #[cfg_attr(test, schemars(range(min = 1, max = 1100)))]
        from_hpa: f64,
        /// Upper end, hPa.
        #[cfg_attr(test, schemars(range(min = 1, max = 1100)))]
        to_hpa: f64,
        /// Why, in the operator's words.
        #[cfg_attr(test, schemars(length(max = 200), extend("pattern" = Shape::Reason.pattern())))]
        reason: String,
    },
}

/// Heading of the bulletin.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Bulletin {
    /// Area letters A1A2.
    #[cfg_attr(test, schemars(extend("pattern" = Shape::Area.pattern())))]
    pub area: Option<String>,
    /// A2 of a BUFR heading; absent: by the quarter of the globe.
    #[cfg_attr(test, schemars(extend("enum" = [
        "A", "B", "C", "D", "E", "F", "G", "H", "I", "J", "K", "L", "N", "S", "T", "X"
    ])))]
    pub bufr_area: Option<char>,
    /// Number ii.
    #[cfg_attr(test, schemars(range(min = 1, max = 99)))]
    pub ii: Option<u8>,
    /// Centre CCCC.
    #[cfg_attr(test, schemars(extend("pattern" = Shape::Centre.pattern())))]
    pub centre: Option<String>,
    /// The parts that are scheduled; absent: all four.
    #[cfg_attr(test, schemars(extend("enum" = ["A", "B", "AB", "ABC", "ABCD", "AC", "BD", "CD", "C", "D"])))]
    pub parts: Option<String>,
    /// Whether the whole report after an early message has every part again; default:
    /// Parts C and D alone, A or B only as a correction.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    #[cfg_attr(test, schemars(extend("default" = false)))]
    pub repeat_early: bool,
}

/// Groups that the sheet gives as they are to stand, part by part.
pub type GivenGroups = BTreeMap<Part, Vec<String>>;

/// The keys of [`GivenGroups`] in a sheet.
#[derive(Default)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[cfg_attr(test, schemars(default, deny_unknown_fields))]
#[allow(
    non_snake_case,
    dead_code,
    reason = "the schema alone is used; the parts have capital letters"
)]
struct PartKeys {
    /// Groups of Part A.
    #[cfg_attr(test, schemars(length(max = 100)))]
    A: Vec<String>,
    /// Groups of Part B.
    #[cfg_attr(test, schemars(length(max = 100)))]
    B: Vec<String>,
    /// Groups of Part C.
    #[cfg_attr(test, schemars(length(max = 100)))]
    C: Vec<String>,
    /// Groups of Part D.
    #[cfg_attr(test, schemars(length(max = 100)))]
    D: Vec<String>,
}

/// BUFR options of the sheet.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct BufrOptions {
    /// Template, six figures.
    #[cfg_attr(test, schemars(extend("enum" = [
        "309050", "309051", "309052", "309053", "309055", "309056", "309057"
    ])))]
    pub template: Option<String>,
    /// Originating centre (Common Code Table C-11).
    #[cfg_attr(test, schemars(range(min = 0, max = 65535)))]
    pub centre: Option<u16>,
    /// Originating sub-centre.
    #[cfg_attr(test, schemars(range(min = 0, max = 65535)))]
    pub sub_centre: Option<u16>,
    /// Update sequence number.
    #[cfg_attr(test, schemars(range(min = 0, max = 255)))]
    pub update: Option<u8>,
    /// Whether the radiosonde was used before.
    pub reused: bool,
}

/// What others may do with shared data (WMO Unified Data Policy, Resolution 1,
/// Cg-Ext(2021)).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Policy {
    /// Free and without conditions.
    #[default]
    Core,
    /// Under the conditions that the discovery metadata state.
    Recommended,
}

/// Options of the sheet for sharing through WIS2.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Wis2Options {
    /// Identifier of the centre: small letters, figures and dashes.
    #[cfg_attr(test, schemars(extend("pattern" = Shape::CentreId.pattern())))]
    #[cfg_attr(test, schemars(length(max = 64)))]
    pub centre_id: Option<String>,
    /// Where the web server gives out the files: an address that ends before the
    /// file name.
    #[cfg_attr(test, schemars(extend("pattern" = Shape::BaseUrl.pattern())))]
    #[cfg_attr(test, schemars(length(max = 500)))]
    pub base_url: Option<String>,
    /// What others may do with the data: `core` without conditions.
    pub policy: Policy,
    /// Identifier of the discovery metadata record, of the same centre.
    #[cfg_attr(test, schemars(extend("pattern" = Shape::MetadataId.pattern())))]
    #[cfg_attr(test, schemars(length(max = 300)))]
    pub metadata_id: Option<String>,
}

/// Everything about the flight that the profile itself does not say.
///
/// Each field is a table of the sheet under the same name (`meaning` is `[profile]`);
/// `orders` are its tables `[[level]]`, `[[withhold]]` and `[[doubtful]]`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default)]
pub struct Context {
    /// Where the sounding was made.
    pub station: Station,
    /// The flight's times and numbers.
    pub flight: Flight,
    /// What the rows of the profile mean, where the file does not say it.
    #[serde(rename = "profile")]
    pub meaning: Meaning,
    /// The ground check of the sonde before release.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ground_check: Option<GroundCheck>,
    /// The surface observation at release; it becomes the first level.
    #[cfg_attr(test, schemars(extend("x-stations" = ["land", "ship", "mobile"])))]
    pub surface: Option<Surface>,
    /// Clouds as code figures of section 8, or `sky` alone.
    #[cfg_attr(test, schemars(extend("x-stations" = ["land", "ship", "mobile"])))]
    #[cfg_attr(test, schemars(extend("x-forms" = ["temp"])))]
    pub clouds: Option<Clouds>,
    /// Instruments and how they were used.
    pub equipment: Equipment,
    /// The balloon and its train.
    #[cfg_attr(test, schemars(extend("x-stations" = ["land", "ship", "mobile"])))]
    pub balloon: Balloon,
    /// Balloons followed by their angles.
    #[cfg_attr(test, schemars(extend("x-stations" = ["land", "ship", "mobile"])))]
    pub tracking: Tracking,
    /// Choices of practice for the coded message.
    pub coding: Coding,
    /// Heading of the bulletin.
    pub bulletin: Bulletin,
    /// Groups of section 9 (51515) to be passed on, each group a string.
    #[cfg_attr(test, schemars(with = "PartKeys"))]
    pub section9: GivenGroups,
    /// Groups of section 10 (61616) to be passed on.
    #[cfg_attr(test, schemars(with = "PartKeys"))]
    pub section10: GivenGroups,
    /// BUFR options.
    pub bufr: BufrOptions,
    /// Options for sharing through WIS2.
    pub wis2: Wis2Options,
    /// Orders of the operator, in the order given.
    #[serde(skip)]
    pub orders: Vec<Order>,
}

impl Context {
    /// A station and the time at which the sonde was released from it.
    ///
    /// Everything else is as a sheet that says nothing of it would leave it, and can be
    /// set in the fields.
    ///
    /// ```
    /// use fivefig::model::{Context, Position, Region, Station, WmoNumber};
    ///
    /// // Invented.
    /// let station = Station::land(WmoNumber::new(99, 11)?, Position::new(51.25, -3.4)?, 84.0);
    /// let mut context = Context::new(station, "2031-01-15T11:23:40Z".parse()?);
    /// context.coding.region = Region::VI;
    /// # Ok::<(), fivefig::Error>(())
    /// ```
    #[must_use]
    pub fn new(station: Station, release: Timestamp) -> Self {
        Self {
            station,
            flight: Flight {
                release: Some(Offset::UTC.to_datetime(release)),
                ..Flight::default()
            },
            ..Self::default()
        }
    }
}
