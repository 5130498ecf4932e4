//! What is known of station and flight besides the profile.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use std::collections::BTreeMap;

use super::{Part, Station, utc};
use crate::model::quantity::SpeedUnit;

/// The flight's times and numbers.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Flight {
    /// Time of release, UTC.
    #[serde(with = "utc::option")]
    #[schemars(with = "Option<String>")]
    pub release: Option<DateTime>,
    /// The standard time the ascent serves, UTC.
    #[serde(with = "utc::option")]
    #[schemars(with = "Option<String>")]
    pub standard_time: Option<DateTime>,
    /// Number of the ascent in the station's own count.
    pub ascent: Option<u32>,
    /// Which release for this standard time: 1, 2, …
    pub release_number: Option<u8>,
    /// Serial number of the sonde.
    pub serial: Option<String>,
    /// Observer, BUFR 0 01 095.
    pub observer: Option<String>,
    /// Why the ascent ended, BUFR 0 35 035.
    pub termination: Option<u8>,
    /// Why there is no report, or a short one (table 0421, 40–59).
    pub reason: Option<u8>,
    /// The other flight for the same standard time, which is not reported.
    pub not_reported: Option<String>,
}

/// The surface observation at release.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
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
    /// Time of the observation, UTC.
    #[serde(with = "utc::option")]
    #[schemars(with = "Option<String>")]
    pub time: Option<DateTime>,
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
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
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
    /// Height of the base of the lowest cloud above ground, m, instead of h; in
    /// an obscured sky the vertical visibility.
    pub base_m: Option<f64>,
}

/// Instruments and how they were used.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
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
    /// Radiosonde completeness, BUFR 0 02 015.
    pub completeness: Option<u8>,
    /// Radiosonde configuration, the bits of its flag table added up, BUFR 0 02 016.
    pub configuration: Option<u8>,
    /// Correction algorithms for humidity, BUFR 0 02 017.
    pub humidity_correction: Option<u8>,
    /// Ground receiving system, BUFR 0 02 066.
    pub receiver: Option<u8>,
    /// Type of pressure sensor, BUFR 0 02 095.
    pub pressure_sensor: Option<u8>,
    /// Type of temperature sensor, BUFR 0 02 096.
    pub temperature_sensor: Option<u8>,
    /// Type of humidity sensor, BUFR 0 02 097.
    pub humidity_sensor: Option<u8>,
    /// 2 where a radome protects the antenna, BUFR 0 02 103.
    pub radome: Option<u8>,
    /// How geopotential is computed: 0 from pressure, 1 from satellite height, BUFR 0 02 191.
    pub height_calculation: Option<u8>,
    /// Software of the ground system with its version, BUFR 0 25 061.
    pub software: Option<String>,
}

/// The balloon and its train.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Balloon {
    /// Balloon manufacturer, code figure, BUFR 0 02 080.
    pub maker: Option<u8>,
    /// Type of balloon, BUFR 0 02 081.
    pub kind: Option<u8>,
    /// Weight of the balloon, kg, BUFR 0 02 082.
    pub mass_kg: Option<f64>,
    /// Type of balloon shelter, BUFR 0 02 083.
    pub shelter: Option<u8>,
    /// Type of gas: 0 hydrogen, 1 helium, 2 natural gas, BUFR 0 02 084.
    pub gas: Option<u8>,
    /// Amount of gas, kg, BUFR 0 02 085.
    pub gas_kg: Option<f64>,
    /// Length of the flight train, m, BUFR 0 02 086.
    pub train_m: Option<f64>,
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
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum AboveTop {
    /// Nothing.
    #[default]
    Omit,
    /// Its geopotential is extrapolated and coded where 35.2.2.4 allows it.
    Extrapolate,
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

/// How the levels of PILOT Parts B and D are given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
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
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
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
    /// A standard surface just above the top.
    pub above_top: AboveTop,
    /// Which parts carry section 7.
    pub section7: Section7,
    /// An ascent that ends below this, hPa, advises a second release.
    pub advise_below_hpa: Option<f64>,
    /// Below this temperature, °C, humidity is not reported.
    pub humidity_min_temperature_c: Option<f64>,
    /// How the levels of PILOT Parts B and D are given; `None`: as the Region
    /// does, by height where it says nothing.
    pub pilot_levels: Option<PilotLevels>,
    /// Whether the Region lets heights stand for standard surfaces where pressure
    /// was not measured (PILOT, `55nPP`; WMO-No. 306, 32.2.2.2).
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub surfaces_by_height: bool,
}

/// What heights above the ground refer to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum HeightKind {
    /// Geopotential, gpm.
    Geopotential,
    /// Geometric height (altitude), m.
    Geometric,
}

/// What relative humidity and dew point below 0 °C refer to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum HumidityOver {
    /// Liquid water, as WMO asks for (WMO-No. 306 B/C25; WMO-No. 8).
    #[default]
    Water,
    /// Ice; a dew point is a frost point then.
    Ice,
}

/// What the rows of a profile mean, where the file does not say it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Meaning {
    /// What heights refer to.
    pub height_reference: HeightReference,
    /// What heights are, whatever the file calls them; `None`: what the file says.
    pub height_kind: Option<HeightKind>,
    /// What humidity refers to.
    pub humidity_over: HumidityOver,
    /// `time_s` of release, s; `None`: it is looked for.
    pub release_time_s: Option<f64>,
    /// Width of the window in which winds are taken from positions, s; `None`
    /// for the usual one.
    pub track_window_s: Option<f64>,
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

/// What can be doubtful in a layer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
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
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged, deny_unknown_fields)]
pub enum Order {
    /// Take one level in or out.
    Level {
        /// In or out.
        action: Action,
        /// Pressure of the level, hPa.
        pressure_hpa: f64,
        /// Why, in the operator's words.
        reason: String,
    },
    /// Report a layer as doubtful.
    Doubtful {
        /// What is doubtful.
        doubtful: Doubted,
        /// Lower end, hPa.
        from_hpa: f64,
        /// Upper end, hPa.
        to_hpa: f64,
        /// Why, in the operator's words.
        reason: String,
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
        reason: String,
    },
}

/// Heading of the bulletin.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Bulletin {
    /// Area letters A1A2.
    pub area: Option<String>,
    /// A2 of a BUFR heading, one letter; `None`: by the quarter of the globe.
    pub bufr_area: Option<char>,
    /// Number ii.
    pub ii: Option<u8>,
    /// Centre CCCC.
    pub centre: Option<String>,
    /// The parts that are scheduled, such as `ABCD`; `None` for all four.
    pub parts: Option<String>,
    /// Whether the whole report after an early message has every part again, not only
    /// those that were not sent.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub repeat_early: bool,
}

/// Groups that the sheet gives as they are to stand, part by part.
pub type GivenGroups = BTreeMap<Part, Vec<String>>;

/// BUFR options of the sheet.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct BufrOptions {
    /// Template, six figures.
    pub template: Option<String>,
    /// Originating centre (Common Code Table C-11).
    pub centre: Option<u16>,
    /// Originating sub-centre.
    pub sub_centre: Option<u16>,
    /// Update sequence number.
    pub update: Option<u8>,
    /// Whether the radiosonde was used before.
    pub reused: bool,
}

/// What others may do with shared data (WMO Unified Data Policy, Resolution 1,
/// Cg-Ext(2021)).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Policy {
    /// Free and without conditions.
    #[default]
    Core,
    /// Under the conditions that the discovery metadata state.
    Recommended,
}

/// Options of the sheet for sharing through WIS2.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Wis2Options {
    /// Identifier of the centre, such as `xx-invented`.
    pub centre_id: Option<String>,
    /// Where the web server gives out the files: an address that ends before the
    /// file name.
    pub base_url: Option<String>,
    /// What others may do with the data.
    pub policy: Policy,
    /// Identifier of the discovery metadata record, `urn:wmo:md:CENTRE-ID:…`.
    pub metadata_id: Option<String>,
}

/// Everything about the flight that the profile itself does not say.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Context {
    /// The station.
    pub station: Station,
    /// The flight.
    pub flight: Flight,
    /// What the rows of the profile mean.
    pub meaning: Meaning,
    /// The surface observation.
    pub surface: Option<Surface>,
    /// The clouds; `None` when the sheet says nothing.
    pub clouds: Option<Clouds>,
    /// The equipment.
    pub equipment: Equipment,
    /// The balloon.
    pub balloon: Balloon,
    /// The practice of coding.
    pub coding: Coding,
    /// The bulletin heading.
    pub bulletin: Bulletin,
    /// Groups of section 9 (51515) given by the sheet, part by part.
    pub section9: GivenGroups,
    /// Groups of section 10 (61616) given by the sheet, part by part.
    pub section10: GivenGroups,
    /// BUFR options.
    pub bufr: BufrOptions,
    /// Options for sharing through WIS2.
    pub wis2: Wis2Options,
    /// Overrides, in the order given.
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
