//! A profile: the rows of one ascent, drop or descent.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::Row;
use super::finding::Finding;

/// The vertical coordinate of a profile.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Axis {
    /// Pressure.
    #[default]
    Pressure,
    /// Height; no pressure was measured.
    Height,
}

/// Whether the sonde rose or fell.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
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
    /// What was computed rather than read.
    pub derived: Vec<Derivation>,
    /// What the sheet must settle before a report is made of these rows: findings
    /// of severity error, each with what to write.
    pub unsettled: Vec<Finding>,
}

/// How values were computed that a file does not give.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Derivation {
    /// Geopotential height from geometric height and gravity.
    HeightFromAltitude,
    /// Geopotential height by hydrostatic integration.
    HeightByIntegration,
    /// Geometric height from height above the ellipsoid.
    AltitudeFromEllipsoid,
    /// Pressure by hydrostatic integration of height.
    PressureByIntegration,
    /// Relative humidity from the dew point.
    HumidityFromDewpoint,
    /// Dew point from relative humidity.
    DewpointFromHumidity,
    /// Humidity over water from humidity over ice.
    HumidityFromIce,
    /// Wind from its components.
    WindFromComponents,
    /// Wind from the positions of the sonde.
    WindFromPositions,
    /// Positions of the balloon from the angles at which it was seen.
    PositionsFromAngles,
    /// Geometric height from an assumed rate of ascent.
    HeightFromAscentRate,
    /// Geometric height from the angles of two theodolites.
    HeightFromBaseLine,
    /// Positions of the sonde from the wind.
    PositionsFromWind,
    /// The levels of a message as rows.
    RowsFromMessage,
}

impl fmt::Display for Derivation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::HeightFromAltitude => "height_gpm from altitude_m and gravity at the latitude",
            Self::HeightByIntegration => "height_gpm by hydrostatic integration",
            Self::AltitudeFromEllipsoid => "altitude_m from height above the ellipsoid",
            Self::PressureByIntegration => "pressure_hpa by hydrostatic integration of height",
            Self::HumidityFromDewpoint => "humidity_pct from dewpoint_c",
            Self::DewpointFromHumidity => "dewpoint_c from humidity_pct",
            Self::HumidityFromIce => "humidity over water from humidity over ice",
            Self::WindFromComponents => "wind from wind_u_ms and wind_v_ms",
            Self::WindFromPositions => "wind from positions",
            Self::PositionsFromAngles => "position from elevation_deg and azimuth_deg",
            Self::HeightFromAscentRate => "altitude_m from an assumed rate of ascent",
            Self::HeightFromBaseLine => "altitude_m from two theodolites",
            Self::PositionsFromWind => "position from the wind",
            Self::RowsFromMessage => "the levels of a message as rows",
        })
    }
}
