//! Where a sounding is made, and by whom.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::shape::Shape;

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
    /// Kind of station.
    #[schemars(title = "Kind of station")]
    pub kind: StationKind,
    /// WMO block number II; required of land stations.
    #[schemars(range(min = 1, max = 99))]
    pub wmo_block: Option<u8>,
    /// WMO station number iii; required of land stations.
    #[schemars(range(min = 0, max = 999))]
    pub wmo_number: Option<u16>,
    /// WIGOS station identifier; one of the series `0-20000-0` must agree with block
    /// and number.
    #[schemars(extend("pattern" = Shape::WigosId.pattern()))]
    pub wigos_id: Option<String>,
    /// Call sign; required of ships and mobile stations.
    #[schemars(extend("pattern" = Shape::CallSign.pattern()))]
    pub call_sign: Option<String>,
    /// Name, for people; in no message.
    #[schemars(title = "Name", length(max = 200))]
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
