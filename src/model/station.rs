//! Where a sounding is made, and by whom.

use serde::{Deserialize, Serialize};

#[cfg(test)]
use super::shape::Shape;
use super::{CallSign, Position, WmoNumber};

/// The kind of station, which decides the form of identification.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
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
///
/// What identifies the station and where it lies is set by the constructors and the
/// methods alone, so that no station has a number, call sign or position that cannot be.
///
/// ```
/// use fivefig::model::{Position, Station, WmoNumber};
///
/// // Invented.
/// let mut station = Station::land(WmoNumber::new(99, 11)?, Position::new(51.25, -3.4)?, 84.0);
/// station.barometer_m = Some(86.5);
/// assert_eq!(station.wmo().map(WmoNumber::block), Some(99));
/// # Ok::<(), fivefig::Error>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Station {
    /// Kind of station.
    #[cfg_attr(test, schemars(title = "Kind of station"))]
    pub kind: StationKind,
    /// WMO block number II; required of land stations.
    #[cfg_attr(test, schemars(extend("x-stations" = ["land"])))]
    #[cfg_attr(test, schemars(range(min = 1, max = 99)))]
    pub(crate) wmo_block: Option<u8>,
    /// WMO station number iii; required of land stations.
    #[cfg_attr(test, schemars(extend("x-stations" = ["land"])))]
    #[cfg_attr(test, schemars(range(min = 0, max = 999)))]
    pub(crate) wmo_number: Option<u16>,
    /// WIGOS station identifier; one of the series `0-20000-0` must agree with block
    /// and number.
    #[cfg_attr(test, schemars(extend("x-stations" = ["land", "ship", "mobile"])))]
    #[cfg_attr(test, schemars(extend("pattern" = Shape::WigosId.pattern())))]
    pub wigos_id: Option<String>,
    /// Call sign; required of ships and mobile stations.
    #[cfg_attr(test, schemars(extend("x-stations" = ["ship", "mobile"])))]
    #[cfg_attr(test, schemars(extend("pattern" = Shape::CallSign.pattern())))]
    pub(crate) call_sign: Option<String>,
    /// Name, for people; in no message.
    #[cfg_attr(test, schemars(title = "Name", length(max = 200)))]
    pub name: Option<String>,
    /// Degrees north.
    #[cfg_attr(test, schemars(range(min = -90, max = 90)))]
    pub(crate) latitude_deg: Option<f64>,
    /// Degrees east.
    #[cfg_attr(test, schemars(range(min = -180, max = 180)))]
    pub(crate) longitude_deg: Option<f64>,
    /// Height of the ground above mean sea level, m.
    #[cfg_attr(test, schemars(extend("x-stations" = ["land", "mobile"])))]
    #[cfg_attr(test, schemars(range(min = -450, max = 9000)))]
    pub elevation_m: Option<f64>,
    /// Height of the barometer above mean sea level, m.
    #[cfg_attr(test, schemars(extend("x-stations" = ["land", "ship", "mobile"])))]
    #[cfg_attr(test, schemars(range(min = -450, max = 9000)))]
    pub barometer_m: Option<f64>,
    /// Height of the release point, where the first level is, above mean sea level, m.
    #[cfg_attr(test, schemars(extend("x-stations" = ["land", "ship", "mobile"])))]
    #[cfg_attr(test, schemars(range(min = -450, max = 9000)))]
    pub release_m: Option<f64>,
    /// Confidence figure im of a mobile station's elevation (table 1845).
    #[cfg_attr(test, schemars(extend("x-stations" = ["mobile"])))]
    #[cfg_attr(test, schemars(range(min = 1, max = 8)))]
    pub elevation_quality: Option<u8>,
}

impl Station {
    /// A fixed station on land, its ground at `elevation_m` above mean sea level.
    #[must_use]
    pub fn land(wmo: WmoNumber, position: Position, elevation_m: f64) -> Self {
        let station = Self {
            elevation_m: Some(elevation_m),
            ..Self::default()
        };
        station.with_wmo(wmo).at(position)
    }

    /// A ship.
    #[must_use]
    pub fn ship(call_sign: CallSign, position: Position) -> Self {
        let station = Self {
            kind: StationKind::Ship,
            ..Self::default()
        };
        station.with_call_sign(call_sign).at(position)
    }

    /// A mobile station on land, its ground at `elevation_m` above mean sea level;
    /// `elevation_quality` is the confidence figure im, 1 to 8 (table 1845).
    #[must_use]
    pub fn mobile(
        call_sign: CallSign,
        position: Position,
        elevation_m: f64,
        elevation_quality: u8,
    ) -> Self {
        let station = Self {
            kind: StationKind::Mobile,
            elevation_m: Some(elevation_m),
            elevation_quality: Some(elevation_quality),
            ..Self::default()
        };
        station.with_call_sign(call_sign).at(position)
    }

    /// A sonde dropped from an aircraft at a position.
    #[must_use]
    pub fn dropsonde(position: Position) -> Self {
        let station = Self {
            kind: StationKind::Drop,
            ..Self::default()
        };
        station.at(position)
    }

    /// The station with another block and station number.
    #[must_use]
    pub fn with_wmo(mut self, wmo: WmoNumber) -> Self {
        self.wmo_block = Some(wmo.block());
        self.wmo_number = Some(wmo.number());
        self
    }

    /// The station with another call sign.
    #[must_use]
    pub fn with_call_sign(mut self, call_sign: CallSign) -> Self {
        self.call_sign = Some(call_sign.as_str().to_owned());
        self
    }

    /// The station at another position.
    #[must_use]
    pub fn at(mut self, position: Position) -> Self {
        self.latitude_deg = Some(position.latitude_deg);
        self.longitude_deg = Some(position.longitude_deg);
        self
    }

    /// Block and station number; `None` where they are missing or what was received is
    /// not valid.
    #[must_use]
    pub fn wmo(&self) -> Option<WmoNumber> {
        let (block, number) = self.wmo_block.zip(self.wmo_number)?;
        WmoNumber::new(block, number).ok()
    }

    /// What identifies it: WIGOS identifier, WMO number or call sign, whichever it has first.
    #[must_use]
    pub fn identifier(&self) -> Option<String> {
        let number = || self.wmo().map(|wmo| wmo.to_string());
        let own = self.wigos_id.clone().or_else(number);
        own.or_else(|| self.call_sign.clone())
    }

    /// Call sign; `None` where it is missing or what was received is not valid.
    #[must_use]
    pub fn call_sign(&self) -> Option<CallSign> {
        CallSign::new(self.call_sign.as_deref()?).ok()
    }

    /// Position; `None` where it is missing or what was received is not valid.
    #[must_use]
    pub fn position(&self) -> Option<Position> {
        let (latitude_deg, longitude_deg) = self.latitude_deg.zip(self.longitude_deg)?;
        Position::new(latitude_deg, longitude_deg).ok()
    }
}
