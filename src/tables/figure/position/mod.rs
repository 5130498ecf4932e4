//! Where a ship, a mobile station or a dropped sonde was: 99LaLaLa QcLoLoLoLo
//! MMMULaULo, and h0h0h0h0im (WMO-No. 306, FM 36 to 38, section 1).
//!
//! The Marsden square and the unit figures follow from the coded tenths, not
//! from the position itself.

use super::{FigureError, half_away, half_up, whole};
use crate::model::Position;
use crate::model::quantity::snap;
use crate::tables;
use crate::tables::ElevationUnit;

/// How tenths of a degree are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tenths {
    /// Cut off: ships and mobile stations (marine practice, from memory).
    Truncated,
    /// Nearest, half away from zero: drops (seen in real messages).
    Nearest,
}

/// A position in tenths of a degree with its Marsden square.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct PositionFigure {
    /// LaLaLa, 0–900.
    latitude: u16,
    /// LoLoLoLo, 0–1800.
    longitude: u16,
    /// Qc (table 3333): 1, 3, 5 or 7.
    quadrant: u8,
    /// MMM (table 2590).
    square: u16,
}

/// Number of the square of ten degrees (table 2590; the rule is from memory
/// and agrees with real messages). 90° and 180° belong to the last square.
fn marsden(latitude: u16, longitude: u16, south: bool, west: bool) -> u16 {
    let la = (latitude / 100).min(8);
    let lo = (longitude / 100).min(17);
    match (south, la) {
        (false, 8) => 901 + if west { lo } else { 35 - lo },
        (false, _) => 36 * la + if west { lo + 1 } else { 36 - lo },
        (true, _) => 300 + 36 * la + if west { lo } else { 35 - lo },
    }
}

impl PositionFigure {
    /// Tenths of degrees of a position, degrees north and east.
    ///
    /// # Errors
    /// Beyond ±90° of latitude or ±360° of longitude, or not finite.
    pub fn from_value(place: Position, how: Tenths) -> Result<Self, FigureError> {
        let (lat, lon) = (place.latitude_deg, place.longitude_deg);
        if !lat.is_finite() || !lon.is_finite() {
            return Err(FigureError::NotFinite("position"));
        }
        if lat.abs() > 90.0 || lon.abs() > 360.0 {
            return Err(FigureError::Position(lat, lon));
        }
        // −180…180.
        let lon = if lon > 180.0 {
            lon - 360.0
        } else if lon < -180.0 {
            lon + 360.0
        } else {
            lon
        };
        let tenths = |degrees: f64, most: i32| {
            let tenths = match how {
                Tenths::Truncated => snap(degrees.abs() * 10.0).floor(),
                Tenths::Nearest => half_away(degrees.abs() * 10.0),
            };
            let tenths = whole(tenths, 0, most).and_then(|t| u16::try_from(t).ok());
            tenths.ok_or(FigureError::Position(lat, lon))
        };
        let (latitude, longitude) = (tenths(lat, 900)?, tenths(lon, 1800)?);
        // A coded zero keeps its side in the sign of the zero.
        let (south, west) = (lat.is_sign_negative(), lon.is_sign_negative());
        let quadrant =
            tables::quadrant_figure(south, west).ok_or(FigureError::Position(lat, lon))?;
        Ok(Self {
            latitude,
            longitude,
            quadrant,
            square: marsden(latitude, longitude, south, west),
        })
    }

    /// The figures of three groups: LaLaLa, Qc and LoLoLoLo, MMMULaULo.
    ///
    /// On the equator, the Greenwich meridian and the date line either side is
    /// taken, in Qc as in MMM. `None` when they do not belong together.
    #[must_use]
    pub fn from_code(latitude: u16, quadrant: u8, longitude: u16, square: u32) -> Option<Self> {
        let (south, west) = tables::quadrant_signs(quadrant)?;
        if latitude > 900 || longitude > 1800 {
            return None;
        }
        let (square, units) = (u16::try_from(square / 100).ok()?, square % 100);
        let fits = [false, true].into_iter().any(|flip_ns| {
            [false, true].into_iter().any(|flip_ew| {
                let allowed =
                    (!flip_ns || latitude == 0) && (!flip_ew || matches!(longitude, 0 | 1800));
                allowed && marsden(latitude, longitude, south ^ flip_ns, west ^ flip_ew) == square
            })
        });
        let figure = Self {
            latitude,
            longitude,
            quadrant,
            square,
        };
        (fits && u32::from(figure.units()) == units).then_some(figure)
    }

    /// The same where MMMULaULo is that of a neighbouring whole degree of latitude,
    /// longitude or both: the figure of LaLaLa, Qc and LoLoLoLo.
    #[must_use]
    pub fn beside(latitude: u16, quadrant: u8, longitude: u16, square: u32) -> Option<Self> {
        let (south, west) = tables::quadrant_signs(quadrant)?;
        let near = |tenths: u16| [tenths.checked_sub(10), Some(tenths), tenths.checked_add(10)];
        let beside = near(latitude).into_iter().flatten().any(|lat| {
            let mut lon = near(longitude).into_iter().flatten();
            lon.any(|lon| Self::from_code(lat, quadrant, lon, square).is_some())
        });
        (beside && latitude <= 900 && longitude <= 1800).then(|| Self {
            latitude,
            longitude,
            quadrant,
            square: marsden(latitude, longitude, south, west),
        })
    }

    /// LaLaLa.
    #[must_use]
    pub fn latitude(self) -> u16 {
        self.latitude
    }

    /// LoLoLoLo.
    #[must_use]
    pub fn longitude(self) -> u16 {
        self.longitude
    }

    /// Qc.
    #[must_use]
    pub fn quadrant(self) -> u8 {
        self.quadrant
    }

    /// MMM.
    #[must_use]
    pub fn square(self) -> u16 {
        self.square
    }

    /// ULaULo: the units of whole degrees.
    #[must_use]
    pub fn units(self) -> u8 {
        let unit = |tenths: u16| u8::try_from(tenths / 10 % 10).unwrap_or(0);
        unit(self.latitude) * 10 + unit(self.longitude)
    }

    /// The position that the figures stand for.
    #[must_use]
    pub fn place(self) -> Position {
        let (south, west) = tables::quadrant_signs(self.quadrant).unwrap_or_default();
        let degrees = |tenths: u16, negative: bool| {
            let value = f64::from(tenths) / 10.0;
            if negative { -value } else { value }
        };
        Position {
            latitude_deg: degrees(self.latitude, south),
            longitude_deg: degrees(self.longitude, west),
        }
    }
}

/// h0h0h0h0im: elevation of a mobile station and the confidence in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct ElevationFigure {
    /// h0h0h0h0, in the unit of im.
    pub height: u16,
    /// im (table 1845).
    pub quality: u8,
}

/// Metres in a foot (international foot, exact).
const FOOT_M: f64 = 0.3048;

/// Whether im counts in feet; `None` when it is no figure of table 1845.
fn feet(quality: u8) -> Option<bool> {
    let row = tables::elevations().iter().find(|e| e.figure == quality)?;
    Some(row.unit == ElevationUnit::Feet)
}

impl ElevationFigure {
    /// The nearest whole unit that im asks for, half up.
    ///
    /// # Errors
    /// Below 0 or above 9999 units, not finite, or im not in table 1845.
    pub fn from_value(elevation_m: f64, quality: u8) -> Result<Self, FigureError> {
        if !elevation_m.is_finite() {
            return Err(FigureError::NotFinite("elevation"));
        }
        let bad = FigureError::Elevation(elevation_m, quality);
        let units = match feet(quality) {
            Some(true) => elevation_m / FOOT_M,
            Some(false) => elevation_m,
            None => return Err(bad),
        };
        let height = whole(half_up(units), 0, 9999).and_then(|h| u16::try_from(h).ok());
        height.map(|height| Self { height, quality }).ok_or(bad)
    }

    /// The figures as they stand.
    #[must_use]
    pub fn from_code(height: u16, quality: u8) -> Option<Self> {
        (height <= 9999 && feet(quality).is_some()).then_some(Self { height, quality })
    }

    /// The elevation, m.
    #[must_use]
    pub fn value_m(self) -> f64 {
        let units = f64::from(self.height);
        if feet(self.quality) == Some(true) {
            units * FOOT_M
        } else {
            units
        }
    }
}

#[cfg(test)]
mod tests;
