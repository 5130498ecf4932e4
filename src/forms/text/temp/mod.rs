//! TEMP, TEMP SHIP, TEMP DROP and TEMP MOBIL (WMO-No. 306, FM 35 to 38).

pub(super) mod from_report;
pub(super) mod heights;
pub(super) mod parse;
pub(super) mod print;
pub(super) mod regional;
pub(super) mod to_report;

use super::groups::Thermal;
use super::sections::{CloudFigures, Sonde};
use crate::tables;
use crate::tables::figure::{HeightFigure, PressureFigure, WindFigure};

/// Part A or C.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StandardPart {
    /// Id as received, where damage hides the surface that it names.
    pub id: Option<u8>,
    /// Section 2: the surface (Part A); `None` in Part A is a drop that ended
    /// above it, `99/// ///// /////`.
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
    /// Position in [`Self::standard`] of the highest surface with wind up to which Id can
    /// say that there are winds (table 1734): in Part C that is 10 hPa.
    #[must_use]
    pub fn last_with_wind(&self) -> Option<usize> {
        self.standard
            .iter()
            .rposition(|s| s.wind.is_some() && tables::id_figure(s.pressure_hpa).is_some())
    }

    /// Which surfaces of [`Self::standard`] have a wind group: those up to the one that Id
    /// names and its twin of the same figure. The surfaces of 7 to 1 hPa, which Id cannot
    /// name, all have one where one of them has wind (as messages of Region IV do).
    pub(super) fn with_wind_groups(&self) -> impl Fn(&Surface) -> bool + use<> {
        let is_named = |s: &Surface| tables::id_figure(s.pressure_hpa).is_some();
        let mut winds = self.standard.iter().filter(|s| s.wind.is_some());
        let unnamed = winds.any(|s| !is_named(s));
        let id = self.id_figure();
        // The highest surface of the figure below 100 hPa, and from there up.
        let highest = [false, true].map(|upper| {
            let all = tables::standard_levels().iter();
            let of_id = all.filter(|l| l.id_figure == id && (l.pressure_hpa < 100) == upper);
            let highest = of_id.map(|level| level.pressure_hpa).min();
            highest.filter(|_| id.is_some())
        });
        move |surface| {
            if !is_named(surface) {
                return unnamed;
            }
            let [lower, upper] = highest;
            let highest = if surface.pressure_hpa < 100 {
                upper
            } else {
                lower
            };
            highest.is_some_and(|p| surface.pressure_hpa >= p)
        }
    }
}

/// Part B or D.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SignificantPart {
    /// a4 (table 0265).
    pub measuring: Option<u8>,
    /// Section 5: `None` marks a layer without data, as the first level of Part
    /// B a surface that was not reached.
    pub thermal: Vec<Option<(PressureFigure, Thermal)>>,
    /// Section 6: `None` marks a layer without data.
    pub winds: Vec<Option<(PressureFigure, Option<WindFigure>)>>,
    /// Section 7.
    pub sonde: Option<Sonde>,
    /// Section 8: Nh CL h CM CH, `None` for a solidus.
    pub clouds: Option<CloudFigures>,
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
