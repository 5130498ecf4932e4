//! Where a sounding is made, and by whom.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

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
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
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
