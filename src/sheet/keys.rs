//! The keys of a sheet, all optional; their documentation is the schema's.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Deserialize;

use crate::quantity::SpeedUnit;
use crate::sounding::{
    Action, BelowStation, Element, Hour, PressureAt, Region, Section7, Sky, StationKind,
};

/// A sheet: TOML about the station and the flight. Times are UTC.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct SheetFile {
    pub station: Station,
    pub flight: Flight,
    pub surface: Option<Surface>,
    pub clouds: Option<Clouds>,
    pub equipment: Equipment,
    pub coding: Coding,
    pub text: Text,
    pub columns: BTreeMap<String, Column>,
    pub bulletin: Bulletin,
    pub bufr: Bufr,
    /// Levels taken in or out.
    pub level: Vec<Level>,
    /// Elements withheld in layers.
    pub withhold: Vec<Withhold>,
}

macro_rules! table {
    ($(#[$meta:meta])* $name:ident { $($(#[$doc:meta])* $field:ident: $type:ty,)+ }) => {
        $(#[$meta])*
        #[derive(Clone, Debug, Default, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields, default)]
        pub(crate) struct $name { $($(#[$doc])* pub $field: Option<$type>,)+ }
    };
}

table! {
    /// The station.
    Station {
        /// land (default), ship, mobile or drop.
        kind: StationKind,
        /// WMO block number II.
        #[schemars(range(min = 1, max = 99))]
        wmo_block: i64,
        /// WMO station number iii.
        #[schemars(range(min = 0, max = 999))]
        wmo_number: i64,
        /// WIGOS station identifier.
        wigos_id: String,
        /// Call sign of a ship or mobile station, at most nine characters.
        call_sign: String,
        /// Name, for people.
        name: String,
        /// Degrees north.
        latitude_deg: f64,
        /// Degrees east.
        longitude_deg: f64,
        /// Height of the ground, m.
        elevation_m: f64,
        /// Height of the barometer, m.
        barometer_m: f64,
        /// Height of the release point, m; default elevation_m.
        release_m: f64,
        /// Figure im of a mobile station (table 1845).
        elevation_quality: i64,
    }
}
table! {
    /// The flight.
    Flight {
        /// Time of release, RFC 3339, UTC; required.
        #[schemars(with = "String")]
        release: toml::Value,
        /// Standard time served; default the main hour nearest to release + 30 min.
        #[schemars(with = "String")]
        standard_time: toml::Value,
        /// Number of the ascent.
        ascent: i64,
        /// Which release for this standard time.
        release_number: i64,
        /// Serial number of the sonde.
        serial: String,
    }
}
table! {
    /// The surface observation at release; it becomes the first level.
    Surface {
        /// Pressure, hPa.
        pressure_hpa: f64,
        /// Where it was read: release (default) or barometer.
        pressure_at: PressureAt,
        /// Temperature, °C.
        temperature_c: f64,
        /// Humidity, %.
        humidity_pct: f64,
        /// Dew point, °C.
        dewpoint_c: f64,
        /// Wind direction, degrees.
        wind_dir_deg: f64,
        /// Wind speed, m/s.
        wind_speed_ms: f64,
        /// Sea temperature, °C.
        sea_temperature_c: f64,
    }
}
table! {
    /// Clouds as code figures, or the sky as a whole; absent: coded /////.
    Clouds {
        /// clear, obscured (h is then the vertical visibility) or unseen.
        sky: Sky,
        /// Nh (table 2700).
        nh: i64,
        /// h (table 1600).
        h: i64,
        /// CL (table 0513).
        cl: i64,
        /// CM (table 0515).
        cm: i64,
        /// CH (table 0509).
        ch: i64,
    }
}
table! {
    /// Instruments.
    Equipment {
        /// Radiosonde type, BUFR 0 02 011.
        radiosonde: i64,
        /// Radiation correction, 0 02 013.
        radiation: i64,
        /// Tracking technique, 0 02 014.
        tracking: i64,
        /// a4 (table 0265).
        measuring: i64,
        /// Frequency, MHz.
        frequency_mhz: f64,
    }
}
table! {
    /// Practice of coding.
    Coding {
        /// Unit of speed; default m/s.
        wind_unit: SpeedUnit,
        /// GG: launch (default) or synoptic.
        hour: Hour,
        /// Regional practice; default none.
        region: Region,
        /// Whether shear is reported; default false.
        shear: bool,
        /// Surfaces below the station: extrapolate (default) or omit.
        below_station: BelowStation,
        /// Parts with section 7: all (default) or B.
        section7: Section7,
        /// Humidity is left out below this temperature, °C; default none.
        humidity_min_temperature_c: f64,
    }
}
table! {
    /// How to read delimited text.
    Text {
        /// Delimiter, one character; default found out.
        delimiter: String,
        /// Further marks of a missing value.
        missing: Vec<String>,
    }
}
table! {
    /// Where one of our columns is found.
    Column {
        /// Name in the file; default our own.
        column: String,
        /// Unit in the file; default that of our name.
        unit: String,
    }
}
table! {
    /// Bulletin heading.
    Bulletin {
        /// A1A2.
        area: String,
        /// ii.
        ii: i64,
        /// CCCC.
        centre: String,
    }
}
table! {
    /// BUFR options.
    Bufr {
        /// Template; default 309057.
        template: String,
        /// Originating centre.
        centre: i64,
        /// Sub-centre.
        sub_centre: i64,
        /// Update number.
        update: i64,
    }
}

/// An order for one level.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Level {
    pub action: Action,
    pub pressure_hpa: f64,
    pub reason: Option<String>,
}

/// An order to withhold an element in a layer.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Withhold {
    pub element: Element,
    pub from_hpa: f64,
    pub to_hpa: f64,
    pub reason: Option<String>,
}
