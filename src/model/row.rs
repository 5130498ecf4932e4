//! A row: what was observed at one moment.

use serde::{Deserialize, Serialize};

use super::{InvalidValue, Roles};

/// A wind.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
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

/// A position on the globe.
///
/// ```
/// use fivefig::model::Position;
///
/// let position = Position::new(51.25, -3.4)?;
/// assert_eq!(position.latitude_deg(), 51.25);
/// assert!(Position::new(90.1, 0.0).is_err());
/// assert!(Position::new(0.0, f64::NAN).is_err());
/// # Ok::<(), fivefig::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Position {
    /// Degrees north.
    pub(crate) latitude_deg: f64,
    /// Degrees east.
    pub(crate) longitude_deg: f64,
}

impl Position {
    /// A position: −90 to 90 degrees north, −180 to 180 degrees east.
    ///
    /// # Errors
    /// A coordinate outside its range.
    pub fn new(latitude_deg: f64, longitude_deg: f64) -> Result<Self, InvalidValue> {
        if !(-90.0..=90.0).contains(&latitude_deg) {
            let allowed = "-90 to 90 degrees north";
            return Err(InvalidValue::new("latitude", latitude_deg, allowed));
        }
        if !(-180.0..=180.0).contains(&longitude_deg) {
            let allowed = "-180 to 180 degrees east";
            return Err(InvalidValue::new("longitude", longitude_deg, allowed));
        }
        Ok(Self {
            latitude_deg,
            longitude_deg,
        })
    }

    /// Degrees north.
    #[must_use]
    pub const fn latitude_deg(self) -> f64 {
        self.latitude_deg
    }

    /// Degrees east.
    #[must_use]
    pub const fn longitude_deg(self) -> f64 {
        self.longitude_deg
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
    /// Dew point over water, °C. A row of a profile that has temperature and humidity need
    /// not have it ([`Row::any_dewpoint_c`]); a level has it.
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
