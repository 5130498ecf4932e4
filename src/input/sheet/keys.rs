//! The keys of the sheet: names, meanings, ranges and defaults, stated once.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use jiff::civil::DateTime;
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;
use serde_json::{Map, Value};

use super::shape::Shape;
use crate::model::quantity::SpeedUnit;
use crate::model::{
    AboveTop, Action, BelowStation, Doubted, Element, HeightKind, HeightReference, Hour,
    HumidityOver, PilotLevels, Policy, PressureAt, Region, Section7, Sky, StationKind, utc,
};

static SCHEMA: LazyLock<Value> = LazyLock::new(|| {
    let settings = SchemaSettings::draft2020_12().with(|s| s.inline_subschemas = true);
    let mut schema = settings
        .into_generator()
        .into_root_schema_for::<SheetKeys>()
        .to_value();
    without_null(&mut schema);
    schema
});

/// The JSON Schema of one sheet file (draft 2020-12): all keys are optional,
/// since files are merged before anything is missed.
#[must_use]
pub fn schema() -> Value {
    SCHEMA.clone()
}

/// The same, for the checks.
pub(super) fn cached() -> &'static Value {
    &SCHEMA
}

/// TOML has no null: an optional key is simply left out.
fn without_null(value: &mut Value) {
    match value {
        Value::Array(items) => items.iter_mut().for_each(without_null),
        Value::Object(object) => {
            if object.get("default").is_some_and(Value::is_null) {
                object.remove("default");
            }
            if let Some(Value::Array(types)) = object.get_mut("type") {
                types.retain(|t| t != "null");
                if let [only] = types.as_slice() {
                    let only = only.clone();
                    object.insert("type".into(), only);
                }
            }
            for word in ["enum", "oneOf", "anyOf"] {
                if let Some(Value::Array(choices)) = object.get_mut(word) {
                    choices.retain(|c| !c.is_null() && c["type"] != "null");
                }
            }
            if let Some(Value::Array(choices)) = object.get("anyOf")
                && let [Value::Object(only)] = choices.as_slice()
            {
                let only: Map<String, Value> = only.clone();
                object.remove("anyOf");
                for (key, value) in only {
                    object.entry(key).or_insert(value);
                }
            }
            object.values_mut().for_each(without_null);
        }
        _ => {}
    }
}

/// A time, UTC.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(try_from = "String")]
pub(super) struct Utc(pub DateTime);

impl TryFrom<String> for Utc {
    type Error = &'static str;
    fn try_from(text: String) -> Result<Self, Self::Error> {
        utc::parse(&text).map(Utc).ok_or("not a time in UTC")
    }
}

impl JsonSchema for Utc {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Utc".into()
    }
    fn inline_schema() -> bool {
        true
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "format": "date-time" })
    }
}

/// A sheet: what is known about station and flight besides the profile.
#[derive(Default, Deserialize, JsonSchema)]
#[schemars(title = "sheet")]
#[serde(default, deny_unknown_fields)]
pub(super) struct SheetKeys {
    /// Where the sounding was made.
    pub station: StationKeys,
    /// The flight's times and numbers.
    pub flight: FlightKeys,
    /// The surface observation at release; it becomes the first level.
    pub surface: SurfaceKeys,
    /// Clouds as code figures of section 8, or `sky` alone.
    pub clouds: CloudKeys,
    /// Instruments and how they were used.
    pub equipment: EquipmentKeys,
    /// The balloon and its train.
    pub balloon: BalloonKeys,
    /// Choices of practice for the coded message.
    pub coding: CodingKeys,
    /// What the rows of the profile mean, where the file does not say it.
    pub profile: ProfileKeys,
    /// How to read delimited text.
    pub text: TextKeys,
    /// Our column name → the profile's own column and unit, where they differ.
    pub columns: BTreeMap<String, ColumnKeys>,
    /// Heading of the bulletin.
    pub bulletin: BulletinKeys,
    /// Groups of section 9 (51515) to be passed on, each group a string.
    pub section9: PartKeys,
    /// Groups of section 10 (61616) to be passed on.
    pub section10: PartKeys,
    /// BUFR options.
    pub bufr: BufrKeys,
    /// Options for sharing through WIS2.
    pub wis2: Wis2Keys,
    /// When reports are expected, for unattended export.
    pub schedule: ScheduleKeys,
    /// Orders that take one level in or out.
    #[schemars(length(max = 1000))]
    pub level: Vec<LevelKeys>,
    /// Orders that treat an element as missing in a layer.
    #[schemars(length(max = 1000))]
    pub withhold: Vec<WithholdKeys>,
    /// Layers that are reported as doubtful.
    #[schemars(length(max = 1000))]
    pub doubtful: Vec<DoubtfulKeys>,
}

#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct StationKeys {
    /// Kind of station.
    pub kind: StationKind,
    /// WMO block number II; required of land stations.
    #[schemars(range(min = 1, max = 99))]
    pub wmo_block: Option<u8>,
    /// WMO station number iii; required of land stations.
    #[schemars(range(min = 0, max = 999))]
    pub wmo_number: Option<u16>,
    /// WIGOS station identifier.
    #[schemars(extend("pattern" = Shape::WigosId.pattern()))]
    pub wigos_id: Option<String>,
    /// Call sign; required of ships and mobile stations.
    #[schemars(extend("pattern" = Shape::CallSign.pattern()))]
    pub call_sign: Option<String>,
    /// Name, for people.
    #[schemars(length(max = 200))]
    pub name: Option<String>,
    /// Degrees north.
    #[schemars(range(min = -90, max = 90))]
    pub latitude_deg: Option<f64>,
    /// Degrees east.
    #[schemars(range(min = -180, max = 180))]
    pub longitude_deg: Option<f64>,
    /// Height of the ground above mean sea level, m.
    #[schemars(range(min = -450, max = 9000))]
    pub elevation_m: Option<f64>,
    /// Height of the barometer above mean sea level, m.
    #[schemars(range(min = -450, max = 9000))]
    pub barometer_m: Option<f64>,
    /// Height of the release point, where the first level is, above mean sea level, m.
    #[schemars(range(min = -450, max = 9000))]
    pub release_m: Option<f64>,
    /// Confidence figure im of a mobile station's elevation (table 1845).
    #[schemars(range(min = 1, max = 8))]
    pub elevation_quality: Option<u8>,
}

#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct FlightKeys {
    /// Time of release, UTC; required.
    pub release: Option<Utc>,
    /// Standard time served, UTC; when absent, the main hour (00, 06, 12, 18)
    /// nearest to half an hour after release.
    pub standard_time: Option<Utc>,
    /// Number of the ascent in the station's own count (0 01 082).
    #[schemars(range(min = 0, max = 16382))]
    pub ascent: Option<u32>,
    /// Which release for this standard time (0 01 083).
    #[schemars(range(min = 0, max = 6))]
    pub release_number: Option<u8>,
    /// Serial number of the sonde.
    #[schemars(length(max = 64))]
    pub serial: Option<String>,
    /// Observer, 0 01 095.
    #[schemars(extend("pattern" = Shape::Observer.pattern()))]
    pub observer: Option<String>,
    /// Why the ascent ended, 0 35 035: 1 burst, 13 by the user, 14 loss of signal …
    #[schemars(range(min = 0, max = 30))]
    pub termination: Option<u8>,
    /// Why there is no report, or a short one (table 0421 of Region IV).
    #[schemars(range(min = 40, max = 59))]
    pub reason: Option<u8>,
    /// The other flight for the same standard time, which is not reported: its
    /// name, and why.
    #[schemars(length(max = 200))]
    pub not_reported: Option<String>,
}

#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct SurfaceKeys {
    /// Pressure, hPa, at `pressure_at`.
    #[schemars(range(min = 1, max = 1100))]
    pub pressure_hpa: Option<f64>,
    /// Where the pressure was read.
    pub pressure_at: PressureAt,
    /// Temperature, °C.
    #[schemars(range(min = -99.9, max = 60))]
    pub temperature_c: Option<f64>,
    /// Dew point over water, °C.
    #[schemars(range(min = -99.9, max = 60))]
    pub dewpoint_c: Option<f64>,
    /// Relative humidity over water, %.
    #[schemars(range(min = 0, max = 100))]
    pub humidity_pct: Option<f64>,
    /// Direction the wind blows from, degrees true.
    #[schemars(range(min = 0, max = 360))]
    pub wind_dir_deg: Option<f64>,
    /// Wind speed, m/s.
    #[schemars(range(min = 0, max = 250))]
    pub wind_speed_ms: Option<f64>,
    /// Sea-surface temperature, °C.
    #[schemars(range(min = -99.9, max = 60))]
    pub sea_temperature_c: Option<f64>,
    /// Time of the observation, UTC; it should be close to release.
    pub time: Option<Utc>,
}

#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct CloudKeys {
    /// The sky as a whole, instead of figures (`h` may stand beside `obscured`:
    /// the vertical visibility).
    pub sky: Option<Sky>,
    /// Nh, amount of all low (or else middle) cloud (table 2700).
    #[schemars(range(min = 0, max = 9))]
    pub nh: Option<u8>,
    /// h, height of the base of the lowest cloud (table 1600).
    #[schemars(range(min = 0, max = 9))]
    pub h: Option<u8>,
    /// CL, low cloud (table 0513).
    #[schemars(range(min = 0, max = 9))]
    pub cl: Option<u8>,
    /// CM, middle cloud (table 0515).
    #[schemars(range(min = 0, max = 9))]
    pub cm: Option<u8>,
    /// CH, high cloud (table 0509).
    #[schemars(range(min = 0, max = 9))]
    pub ch: Option<u8>,
    /// Height of the base of the lowest cloud above ground, m, instead of `h`;
    /// in an obscured sky the vertical visibility.
    #[schemars(range(min = 0, max = 20000))]
    pub base_m: Option<f64>,
}

#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct EquipmentKeys {
    /// Radiosonde type, 0 02 011 (Common Code Table C-2).
    #[schemars(range(min = 0, max = 254))]
    pub radiosonde: Option<u8>,
    /// Solar and infrared radiation correction, 0 02 013 (table 3849).
    #[schemars(range(min = 0, max = 9))]
    pub radiation: Option<u8>,
    /// Tracking technique, 0 02 014 (Common Code Table C-7).
    #[schemars(range(min = 0, max = 99))]
    pub tracking: Option<u8>,
    /// Type of measuring equipment, the a4 figure (table 0265).
    #[schemars(range(min = 0, max = 9))]
    pub measuring: Option<u8>,
    /// Radiosonde operating frequency, MHz.
    #[schemars(range(min = 1, max = 3276.6))]
    pub frequency_mhz: Option<f64>,
    /// Radiosonde completeness, 0 02 015.
    #[schemars(range(min = 0, max = 14))]
    pub completeness: Option<u8>,
    /// Radiosonde configuration, the bits of its flag table added up, 0 02 016.
    #[schemars(range(min = 0, max = 30))]
    pub configuration: Option<u8>,
    /// Correction algorithms for humidity, 0 02 017.
    #[schemars(range(min = 0, max = 30))]
    pub humidity_correction: Option<u8>,
    /// Ground receiving system, 0 02 066.
    #[schemars(range(min = 0, max = 62))]
    pub receiver: Option<u8>,
    /// Type of pressure sensor, 0 02 095.
    #[schemars(range(min = 0, max = 30))]
    pub pressure_sensor: Option<u8>,
    /// Type of temperature sensor, 0 02 096.
    #[schemars(range(min = 0, max = 30))]
    pub temperature_sensor: Option<u8>,
    /// Type of humidity sensor, 0 02 097.
    #[schemars(range(min = 0, max = 30))]
    pub humidity_sensor: Option<u8>,
    /// 2 where a radome protects the antenna, 0 02 103.
    #[schemars(range(min = 0, max = 2))]
    pub radome: Option<u8>,
    /// How geopotential is computed: 0 from pressure, 1 from satellite height, 0 02 191.
    #[schemars(range(min = 0, max = 14))]
    pub height_calculation: Option<u8>,
    /// Software of the ground system with its version, 0 25 061.
    #[schemars(extend("pattern" = Shape::Software.pattern()))]
    pub software: Option<String>,
}

#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct BalloonKeys {
    /// Balloon manufacturer, code figure, 0 02 080.
    #[schemars(range(min = 0, max = 62))]
    pub maker: Option<u8>,
    /// Type of balloon, 0 02 081.
    #[schemars(range(min = 0, max = 30))]
    pub kind: Option<u8>,
    /// Weight of the balloon, kg, 0 02 082.
    #[schemars(range(min = 0, max = 4.094))]
    pub mass_kg: Option<f64>,
    /// Type of balloon shelter, 0 02 083.
    #[schemars(range(min = 0, max = 14))]
    pub shelter: Option<u8>,
    /// Type of gas: 0 hydrogen, 1 helium, 2 natural gas, 0 02 084.
    #[schemars(range(min = 0, max = 14))]
    pub gas: Option<u8>,
    /// Amount of gas, kg, 0 02 085.
    #[schemars(range(min = 0, max = 8.19))]
    pub gas_kg: Option<f64>,
    /// Length of the flight train, m, 0 02 086.
    #[schemars(range(min = 0, max = 102.2))]
    pub train_m: Option<f64>,
}

#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct CodingKeys {
    /// Unit of wind speed.
    pub wind_unit: SpeedUnit,
    /// Which hour GG gives.
    pub hour: Hour,
    /// WMO Region whose practice is followed.
    pub region: Region,
    /// Whether the shear group 4vbvbvava is written.
    pub shear: bool,
    /// What is done with standard surfaces below the station.
    pub below_station: BelowStation,
    /// What is done with a standard surface just above the top.
    pub above_top: AboveTop,
    /// Which parts carry section 7.
    pub section7: Section7,
    /// An ascent that ends below this, hPa, advises a second release.
    #[schemars(range(min = 1, max = 1100))]
    pub advise_below_hpa: Option<f64>,
    /// Below this temperature, °C, humidity is not reported; absent: no bound.
    #[schemars(range(min = -150, max = 60))]
    pub humidity_min_temperature_c: Option<f64>,
    /// How the levels of PILOT Parts B and D are given; absent: as the Region
    /// does.
    pub pilot_levels: Option<PilotLevels>,
    /// Whether the Region lets heights stand for standard surfaces where pressure
    /// was not measured (PILOT, `55nPP`).
    pub surfaces_by_height: bool,
}

#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct ProfileKeys {
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
    #[schemars(range(min = -1_000_000, max = 1_000_000))]
    pub release_time_s: Option<f64>,
    /// Width of the window in which winds are taken from positions, s; absent:
    /// 30 s.
    #[schemars(range(min = 2, max = 600))]
    pub track_window_s: Option<f64>,
}

#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct TextKeys {
    /// The delimiter, one character; absent: it is detected.
    #[schemars(extend("pattern" = Shape::Delimiter.pattern()))]
    pub delimiter: Option<String>,
    /// Cells that mean "missing", besides the usual ones.
    #[schemars(length(max = 100))]
    pub missing: Vec<String>,
    /// Lines before the header row (or, with `names`, before the first row) that
    /// are passed over, whatever they hold.
    #[schemars(range(min = 0, max = 100000))]
    pub skip_lines: usize,
    /// Names of the columns, in order: the file has no header row.
    #[schemars(length(max = 1000))]
    pub names: Vec<String>,
    /// Widths of the columns in characters, in order: the text is not delimited.
    #[schemars(length(max = 1000), inner(range(min = 1, max = 10000)))]
    pub widths: Vec<usize>,
}

#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct ColumnKeys {
    /// Name of the column in the file; absent: our own name.
    pub column: Option<String>,
    /// Unit of the column in the file; absent: the one that the file states, or else
    /// the unit in our name.
    pub unit: Option<String>,
}

#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct BulletinKeys {
    /// Area letters A1A2.
    #[schemars(extend("pattern" = Shape::Area.pattern()))]
    pub area: Option<String>,
    /// A2 of a BUFR heading; absent: by the quarter of the globe.
    #[schemars(extend("enum" = [
        "A", "B", "C", "D", "E", "F", "G", "H", "I", "J", "K", "L", "N", "S", "T", "X"
    ]))]
    pub bufr_area: Option<String>,
    /// Number ii.
    #[schemars(range(min = 1, max = 99))]
    pub ii: Option<u8>,
    /// Centre CCCC.
    #[schemars(extend("pattern" = Shape::Centre.pattern()))]
    pub centre: Option<String>,
    /// The parts that are scheduled; absent: all four.
    #[schemars(extend("enum" = ["A", "B", "AB", "ABC", "ABCD", "AC", "BD", "CD", "C", "D"]))]
    pub parts: Option<String>,
    /// Whether the whole report after an early message has every part again; default:
    /// Parts C and D alone, A or B only as a correction.
    pub repeat_early: bool,
}

/// Groups as they are to stand, part by part.
#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
#[allow(non_snake_case, reason = "the parts have capital letters")]
pub(super) struct PartKeys {
    /// Groups of Part A.
    #[schemars(length(max = 100))]
    pub A: Vec<String>,
    /// Groups of Part B.
    #[schemars(length(max = 100))]
    pub B: Vec<String>,
    /// Groups of Part C.
    #[schemars(length(max = 100))]
    pub C: Vec<String>,
    /// Groups of Part D.
    #[schemars(length(max = 100))]
    pub D: Vec<String>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct DoubtfulKeys {
    /// What is doubtful.
    pub element: Doubted,
    /// Lower end, hPa; ends in the other order are swapped.
    #[schemars(range(min = 1, max = 1100))]
    pub from_hpa: f64,
    /// Upper end, hPa.
    #[schemars(range(min = 1, max = 1100))]
    pub to_hpa: f64,
    /// Why, in the operator's words.
    #[schemars(length(max = 200), extend("pattern" = Shape::Reason.pattern()))]
    pub reason: String,
}

#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct BufrKeys {
    /// Template, six figures.
    #[schemars(extend("enum" = [
        "309050", "309051", "309052", "309053", "309055", "309056", "309057"
    ]))]
    pub template: Option<String>,
    /// Originating centre (Common Code Table C-11).
    #[schemars(range(min = 0, max = 65535))]
    pub centre: Option<u16>,
    /// Originating sub-centre.
    #[schemars(range(min = 0, max = 65535))]
    pub sub_centre: Option<u16>,
    /// Update sequence number.
    #[schemars(range(min = 0, max = 255))]
    pub update: Option<u8>,
    /// Whether the radiosonde was used before.
    pub reused: bool,
}

#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct Wis2Keys {
    /// Identifier of the centre: small letters, figures and dashes.
    #[schemars(extend("pattern" = Shape::CentreId.pattern()))]
    #[schemars(length(max = 64))]
    pub centre_id: Option<String>,
    /// Where the web server gives out the files: an address that ends before the
    /// file name.
    #[schemars(extend("pattern" = Shape::BaseUrl.pattern()))]
    #[schemars(length(max = 500))]
    pub base_url: Option<String>,
    /// What others may do with the data: `core` without conditions.
    pub policy: Policy,
    /// Identifier of the discovery metadata record, of the same centre.
    #[schemars(extend("pattern" = Shape::MetadataId.pattern()))]
    #[schemars(length(max = 300))]
    pub metadata_id: Option<String>,
}

#[derive(Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(super) struct ScheduleKeys {
    /// Standard hours, UTC, for which a report is expected every day.
    #[schemars(length(max = 24), inner(range(min = 0, max = 23)))]
    pub hours: Vec<u8>,
    /// Minutes after the standard time by which the report is to be out; one that
    /// comes later goes out as RRA, RRB …
    #[schemars(range(min = 1, max = 720))]
    pub limit_min: Option<u16>,
    /// Whether NIL goes out when there is no report by then.
    pub nil: bool,
    /// Whether an ascent that is still going on has its early message at 100 hPa.
    pub two_messages: bool,
    /// The greatest age of a release, hours; an older flight is refused (default 24).
    #[schemars(range(min = 1, max = 1_000_000))]
    pub max_age_h: Option<u32>,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct LevelKeys {
    /// In or out.
    pub action: Action,
    /// Pressure of the level, hPa.
    #[schemars(range(min = 1, max = 1100))]
    pub pressure_hpa: f64,
    /// Why, in the operator's words.
    #[schemars(length(max = 200), extend("pattern" = Shape::Reason.pattern()))]
    pub reason: String,
}

#[derive(Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct WithholdKeys {
    /// Which element.
    pub element: Element,
    /// Lower end, hPa; ends in the other order are swapped.
    #[schemars(range(min = 1, max = 1100))]
    pub from_hpa: f64,
    /// Upper end, hPa.
    #[schemars(range(min = 1, max = 1100))]
    pub to_hpa: f64,
    /// Why, in the operator's words.
    #[schemars(length(max = 200), extend("pattern" = Shape::Reason.pattern()))]
    pub reason: String,
}
