//! The symbolic code forms: figures of a message, its text, and back.

mod beside;
mod from_report;
mod parse;
mod print;
mod to_report;

use thiserror::Error;

use crate::figure::{
    DepressionFigure, FigureError, HeightFigure, PressureFigure, TemperatureFigure, WindFigure,
};
use crate::quantity::SpeedUnit;

pub use beside::Beside;
pub use from_report::message;
pub use parse::{ParseError, parse};

/// Why a report cannot be coded.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum CodeError {
    /// A value does not fit its figure.
    #[error("level {pressure_hpa} hPa: {source}")]
    Figure {
        /// Pressure of the level, hPa.
        pressure_hpa: f64,
        /// What does not fit.
        source: FigureError,
    },
    /// Something of the identification is missing.
    #[error("the report lacks {0}")]
    Lacks(&'static str),
}

/// TTTaDD: temperature, and the depression where humidity is known.
pub type Thermal = (Option<TemperatureFigure>, Option<DepressionFigure>);

/// A TEMP message of a land station, in figures.
#[derive(Clone, Debug, PartialEq)]
pub struct Message {
    /// II, block number.
    pub block: u8,
    /// iii, station number.
    pub number: u16,
    /// YY without the 50, day of the month.
    pub day: u8,
    /// GG, hour.
    pub hour: u8,
    /// Unit of speed (YY + 50 for knots).
    pub unit: SpeedUnit,
    /// Part A.
    pub a: Option<StandardPart>,
    /// Part B.
    pub b: Option<SignificantPart>,
    /// Part C.
    pub c: Option<StandardPart>,
    /// Part D.
    pub d: Option<SignificantPart>,
}

/// Part A or C.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StandardPart {
    /// Section 2: the surface (Part A).
    pub surface: Option<Placed>,
    /// Section 2: standard surfaces.
    pub standard: Vec<Surface>,
    /// Section 3: tropopauses; none is 88999.
    pub tropopauses: Vec<Placed>,
    /// Section 4: maximum winds; none is 77999.
    pub maxima: Vec<Maximum>,
    /// Section 7.
    pub sonde: Option<Sonde>,
    /// Groups after 51515, as they stand.
    pub regional: Vec<String>,
    /// Groups after 61616, as they stand.
    pub national: Vec<String>,
}

impl StandardPart {
    /// Position in [`Self::standard`] of the highest surface with wind, which
    /// Id names (table 1734).
    #[must_use]
    pub fn last_with_wind(&self) -> Option<usize> {
        self.standard.iter().rposition(|s| s.wind.is_some())
    }
}

/// Part B or D.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SignificantPart {
    /// a4 (table 0265).
    pub measuring: Option<u8>,
    /// Section 5: `None` marks a layer without data.
    pub thermal: Vec<Option<(PressureFigure, Thermal)>>,
    /// Section 6: `None` marks a layer without data.
    pub winds: Vec<Option<(PressureFigure, Option<WindFigure>)>>,
    /// Section 7.
    pub sonde: Option<Sonde>,
    /// Section 8: Nh CL h CM CH, `None` for a solidus.
    pub clouds: Option<[Option<u8>; 5]>,
    /// Groups after 51515, as they stand.
    pub regional: Vec<String>,
    /// Groups after 61616, as they stand.
    pub national: Vec<String>,
}

/// A level with its pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// Pressure.
    pub pressure: PressureFigure,
    /// Temperature and depression.
    pub thermal: Thermal,
    /// Wind.
    pub wind: Option<WindFigure>,
}

/// A standard surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surface {
    /// Its pressure, hPa.
    pub pressure_hpa: u16,
    /// PP.
    pub pp: u8,
    /// Figure of Id.
    pub id_figure: Option<u8>,
    /// hhh.
    pub height: Option<HeightFigure>,
    /// Temperature and depression.
    pub thermal: Thermal,
    /// Wind.
    pub wind: Option<WindFigure>,
}

/// A maximum wind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Maximum {
    /// At the top of the wind sounding (66 instead of 77).
    pub top: bool,
    /// Pressure.
    pub pressure: PressureFigure,
    /// Wind.
    pub wind: Option<WindFigure>,
    /// vbvb and vava, when the group is there.
    pub shear: Option<(Option<u8>, Option<u8>)>,
}

/// Section 7.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sonde {
    /// sr (table 3849).
    pub radiation: Option<u8>,
    /// rara (Common Code Table C-2).
    pub radiosonde: Option<u8>,
    /// sasa (Common Code Table C-7).
    pub tracking: Option<u8>,
    /// GGgg, time of release.
    pub release: Option<(u8, u8)>,
    /// sn and TwTwTw.
    pub sea: Option<(u8, u16)>,
}
