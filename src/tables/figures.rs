//! Code and flag tables of BUFR for what a sheet says of instruments, balloon
//! and flight.

use serde::Deserialize;

use super::{
    B02015, B02016, B02017, B02081, B02083, B02084, B02095, B02096, B02097, B02103, B02191, B35035,
    Once, load,
};

/// A figure of a code table, or a bit of a flag table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Figure {
    /// The figure; of a bit its value.
    pub figure: u8,
    /// What it means.
    pub meaning: &'static str,
}

/// A code or flag table of BUFR. A figure whose bits are all ones is missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FigureTable {
    /// 0 02 015, radiosonde completeness.
    Completeness,
    /// 0 02 016, radiosonde configuration (flags).
    Configuration,
    /// 0 02 017, correction algorithms for humidity.
    HumidityCorrection,
    /// 0 02 081, type of balloon.
    Balloon,
    /// 0 02 083, type of balloon shelter.
    Shelter,
    /// 0 02 084, type of gas used in the balloon.
    Gas,
    /// 0 02 095, type of pressure sensor.
    PressureSensor,
    /// 0 02 096, type of temperature sensor.
    TemperatureSensor,
    /// 0 02 097, type of humidity sensor.
    HumiditySensor,
    /// 0 02 103, radome (flags).
    Radome,
    /// 0 02 191, geopotential height calculation.
    HeightCalculation,
    /// 0 35 035, reason for termination.
    Termination,
}

impl FigureTable {
    /// All of them, in the order of their descriptors.
    pub const ALL: [Self; 12] = [
        Self::Completeness,
        Self::Configuration,
        Self::HumidityCorrection,
        Self::Balloon,
        Self::Shelter,
        Self::Gas,
        Self::PressureSensor,
        Self::TemperatureSensor,
        Self::HumiditySensor,
        Self::Radome,
        Self::HeightCalculation,
        Self::Termination,
    ];

    /// The descriptor of the element.
    #[must_use]
    pub fn descriptor(self) -> &'static str {
        match self {
            Self::Completeness => "0 02 015",
            Self::Configuration => "0 02 016",
            Self::HumidityCorrection => "0 02 017",
            Self::Balloon => "0 02 081",
            Self::Shelter => "0 02 083",
            Self::Gas => "0 02 084",
            Self::PressureSensor => "0 02 095",
            Self::TemperatureSensor => "0 02 096",
            Self::HumiditySensor => "0 02 097",
            Self::Radome => "0 02 103",
            Self::HeightCalculation => "0 02 191",
            Self::Termination => "0 35 035",
        }
    }

    /// Whether figures are sums of flags.
    #[must_use]
    pub fn is_flags(self) -> bool {
        matches!(self, Self::Configuration | Self::Radome)
    }

    /// The figures that have a meaning; the bits of a flag table.
    #[must_use]
    pub fn figures(self) -> &'static [Figure] {
        match self {
            Self::Completeness => &COMPLETENESS,
            Self::Configuration => &CONFIGURATION,
            Self::HumidityCorrection => &HUMIDITY_CORRECTION,
            Self::Balloon => &BALLOON,
            Self::Shelter => &SHELTER,
            Self::Gas => &GAS,
            Self::PressureSensor => &PRESSURE_SENSOR,
            Self::TemperatureSensor => &TEMPERATURE_SENSOR,
            Self::HumiditySensor => &HUMIDITY_SENSOR,
            Self::Radome => &RADOME,
            Self::HeightCalculation => &HEIGHT_CALCULATION,
            Self::Termination => &TERMINATION,
        }
    }

    /// Whether a figure has a meaning: it is listed, or is a sum of listed flags
    /// (of none: 0).
    ///
    /// ```
    /// use fivefig::tables::FigureTable;
    /// assert!(FigureTable::Gas.lists(1));
    /// assert!(!FigureTable::Gas.lists(3));
    /// assert!(FigureTable::Configuration.lists(4 + 8));
    /// ```
    #[must_use]
    pub fn lists(self, figure: u8) -> bool {
        let rows = self.figures();
        if self.is_flags() {
            let known = rows.iter().fold(0, |bits, row| bits | row.figure);
            figure & !known == 0
        } else {
            rows.iter().any(|row| row.figure == figure)
        }
    }
}

static COMPLETENESS: Once<Vec<Figure>> = Once::new(|| load(B02015));
static CONFIGURATION: Once<Vec<Figure>> = Once::new(|| load(B02016));
static HUMIDITY_CORRECTION: Once<Vec<Figure>> = Once::new(|| load(B02017));
static BALLOON: Once<Vec<Figure>> = Once::new(|| load(B02081));
static SHELTER: Once<Vec<Figure>> = Once::new(|| load(B02083));
static GAS: Once<Vec<Figure>> = Once::new(|| load(B02084));
static PRESSURE_SENSOR: Once<Vec<Figure>> = Once::new(|| load(B02095));
static TEMPERATURE_SENSOR: Once<Vec<Figure>> = Once::new(|| load(B02096));
static HUMIDITY_SENSOR: Once<Vec<Figure>> = Once::new(|| load(B02097));
static RADOME: Once<Vec<Figure>> = Once::new(|| load(B02103));
static HEIGHT_CALCULATION: Once<Vec<Figure>> = Once::new(|| load(B02191));
static TERMINATION: Once<Vec<Figure>> = Once::new(|| load(B35035));
