//! The ground check: the sonde beside the references of the station before its release.

use jiff::civil::DateTime;
use serde::{Deserialize, Serialize};

#[cfg(test)]
use super::shape::Shape;
use super::utc;

/// What was read of the sonde and of the references at the ground check.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct GroundCheck {
    /// Time of the check, UTC.
    #[serde(with = "utc::option", skip_serializing_if = "Option::is_none")]
    #[cfg_attr(
        test,
        schemars(title = "Time of the check, UTC", with = "Option<super::schema::Text>")
    )]
    pub time: Option<DateTime>,
    /// Initials of the operator; 0 01 095 where `flight.observer` is not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(test, schemars(title = "Operator's initials", extend("pattern" = Shape::Observer.pattern())))]
    pub operator: Option<String>,
    /// Batch or delivery of the sonde, as the station calls it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(test, schemars(title = "Batch of the sonde", length(max = 40)))]
    pub batch: Option<String>,
    /// Pressure of the reference at the height of the sonde, hPa.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(
        test,
        schemars(title = "Reference pressure, hPa", range(min = 1, max = 1100))
    )]
    pub reference_pressure_hpa: Option<f64>,
    /// Pressure of the sonde, hPa.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(
        test,
        schemars(title = "Sonde pressure, hPa", range(min = 1, max = 1100))
    )]
    pub sonde_pressure_hpa: Option<f64>,
    /// Temperature of the reference, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(test, schemars(title = "Reference temperature, °C", range(min = -99.9, max = 60)))]
    pub reference_temperature_c: Option<f64>,
    /// Temperature of the sonde, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(test, schemars(title = "Sonde temperature, °C", range(min = -99.9, max = 60)))]
    pub sonde_temperature_c: Option<f64>,
    /// Relative humidity of the reference, %.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(
        test,
        schemars(title = "Reference humidity, %", range(min = 0, max = 100))
    )]
    pub reference_humidity_pct: Option<f64>,
    /// Relative humidity of the sonde, %.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(test, schemars(title = "Sonde humidity, %", range(min = -10, max = 110)))]
    pub sonde_humidity_pct: Option<f64>,
    /// Relative humidity of the sonde in dry air (zero-humidity check), %.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(test, schemars(title = "Sonde humidity in dry air, %", range(min = -10, max = 110)))]
    pub dry_humidity_pct: Option<f64>,
    /// Voltage of the battery under load, V.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(test, schemars(title = "Battery, V", range(min = 0, max = 60)))]
    pub battery_v: Option<f64>,
    /// The least voltage by the manual of the sonde, V.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(
        test,
        schemars(title = "Battery, at least, V", range(min = 0, max = 60))
    )]
    pub battery_least_v: Option<f64>,
}

/// What came of a ground check.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum GroundCheckResult {
    /// Everything that was compared is within its limit.
    Go,
    /// Something is outside its limit.
    LookAgain,
    /// Nothing was compared.
    Incomplete,
}

impl GroundCheckResult {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Go => "go",
            Self::LookAgain => "look again",
            Self::Incomplete => "incomplete",
        }
    }
}

/// What of the sonde is compared with a reference.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum GroundQuantity {
    /// Pressure, hPa.
    Pressure,
    /// Temperature, K.
    Temperature,
    /// Relative humidity, %.
    Humidity,
    /// Relative humidity in dry air, %.
    DryHumidity,
}

impl GroundQuantity {
    /// Every quantity.
    pub const ALL: [Self; 4] = [
        Self::Pressure,
        Self::Temperature,
        Self::Humidity,
        Self::DryHumidity,
    ];

    /// In words.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Pressure => "pressure",
            Self::Temperature => "temperature",
            Self::Humidity => "humidity",
            Self::DryHumidity => "humidity in dry air",
        }
    }

    /// Symbol of the unit of a difference.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::Pressure => "hPa",
            Self::Temperature => "K",
            Self::Humidity | Self::DryHumidity => "%",
        }
    }

    /// Name and unit as columns have them: `dry_humidity`, `pct`.
    #[must_use]
    pub fn key(self) -> (&'static str, &'static str) {
        match self {
            Self::Pressure => ("pressure_off", "hpa"),
            Self::Temperature => ("temperature_off", "k"),
            Self::Humidity => ("humidity_off", "pct"),
            Self::DryHumidity => ("dry_humidity", "pct"),
        }
    }
}

/// The sonde beside a reference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GroundDifference {
    /// Of what.
    pub quantity: GroundQuantity,
    /// The reference; 0 in dry air.
    pub reference: f64,
    /// The sonde.
    pub sonde: f64,
}

impl GroundDifference {
    /// The sonde less the reference, to a thousandth: readings have no more.
    #[must_use]
    pub fn off(&self) -> f64 {
        ((self.sonde - self.reference) * 1000.0).round() / 1000.0
    }
}

impl GroundCheck {
    /// Every quantity of which both values are there.
    #[must_use]
    pub fn differences(&self) -> Vec<GroundDifference> {
        self.pairs()
            .into_iter()
            .filter_map(|(quantity, reference, sonde)| {
                Some(GroundDifference {
                    quantity,
                    reference: reference?,
                    sonde: sonde?,
                })
            })
            .collect()
    }

    /// Every quantity with the values of reference and sonde.
    #[must_use]
    pub fn pairs(&self) -> [(GroundQuantity, Option<f64>, Option<f64>); 4] {
        let dry = self.dry_humidity_pct;
        [
            (
                GroundQuantity::Pressure,
                self.reference_pressure_hpa,
                self.sonde_pressure_hpa,
            ),
            (
                GroundQuantity::Temperature,
                self.reference_temperature_c,
                self.sonde_temperature_c,
            ),
            (
                GroundQuantity::Humidity,
                self.reference_humidity_pct,
                self.sonde_humidity_pct,
            ),
            (GroundQuantity::DryHumidity, dry.map(|_| 0.0), dry),
        ]
    }
}
