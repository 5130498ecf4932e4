//! One rounding rule a function: a value becomes a coded figure.
//!
//! A coded figure is an integer with two constructors: `from_value` rounds by
//! the rule named, `from_code` takes the figure as it stands. Nothing clamps
//! silently: what does not fit is an error with the value and the bound.

mod position;

use thiserror::Error;

use crate::model::quantity::{SpeedUnit, round, snap};
use crate::tables;

pub use position::{ElevationFigure, PositionFigure, Tenths};

/// A value that no figure of the code can hold.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum FigureError {
    /// Beyond ±99.9 °C.
    #[error("temperature {0} °C does not fit TTTa (-99.9 to 99.9 °C)")]
    Temperature(f64),
    /// 500 units or more.
    #[error("wind speed {speed} {unit} does not fit fff (less than 499.5)")]
    Speed {
        /// Speed in `unit`.
        speed: f64,
        /// Unit symbol.
        unit: &'static str,
    },
    /// Not a pressure the part can hold.
    #[error("pressure {0} hPa does not fit the part (100 to 1099 hPa in A and B, less in C and D)")]
    Pressure(f64),
    /// Below −499 gpm or above 99 994 gpm.
    #[error("height {0} gpm does not fit hhh (-499 to 99994 gpm)")]
    Height(f64),
    /// A height that no group of PILOT can hold.
    #[error("height {0} gpm does not fit PILOT (0 to {1} gpm)")]
    PilotHeight(f64, f64),
    /// Not on the globe.
    #[error("position {0}° north, {1}° east is not on the globe")]
    Position(f64, f64),
    /// An elevation or its confidence figure that does not fit.
    #[error("elevation {0} m with im {1} does not fit h0h0h0h0im (0 to 9999 units, im 1 to 8)")]
    Elevation(f64, u8),
    /// Not a number.
    #[error("{0} is not a finite number")]
    NotFinite(&'static str),
}

/// Nearest whole number, halves up, after [`snap`].
#[inline]
fn half_up(value: f64) -> f64 {
    whole_below(value + 0.5).unwrap_or_else(|| (snap(value) + 0.5).floor())
}

/// Nearest whole number, halves away from zero, after [`snap`].
#[inline]
fn half_away(value: f64) -> f64 {
    let size = whole_below(value.abs() + 0.5);
    size.map_or_else(|| round(snap(value)), |size| size.copysign(value))
}

/// The whole number below a value that is so far from any that to snap it changes nothing,
/// as nearly every value is; of positive values alone.
#[inline]
fn whole_below(value: f64) -> Option<f64> {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "such a cast saturates, and what is left is then no share of one"
    )]
    let whole = f64::from(value as i32);
    let share = value - whole;
    (share > 1e-5 && share < 1.0 - 1e-5).then_some(whole)
}

/// A whole number in `lo..=hi`, as an integer.
fn whole(value: f64, lo: i32, hi: i32) -> Option<i32> {
    if value >= f64::from(lo) && value <= f64::from(hi) {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "rounded by the caller and between two i32"
        )]
        Some(value as i32)
    } else {
        None
    }
}

/// TTTa: temperature in the resolution of table 3931.
///
/// Held as signed tenths in which the last figure has the parity of the sign:
/// even for zero and above, odd below. `+8.9 °C` is 88, `−4.0 °C` is −41.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TemperatureFigure(i16);

impl TemperatureFigure {
    /// Rounds °C to the nearest tenth, half away from zero, then to the figure
    /// of table 3931; what rounds to 0.0 is positive.
    ///
    /// # Errors
    /// Beyond ±99.9 °C, or not finite.
    pub fn from_value(temperature_c: f64) -> Result<Self, FigureError> {
        if !temperature_c.is_finite() {
            return Err(FigureError::NotFinite("temperature"));
        }
        let tenths = whole(half_away(temperature_c * 10.0), -999, 999)
            .ok_or(FigureError::Temperature(temperature_c))?;
        Ok(Self::from_tenths(tenths))
    }

    /// Whole tenths of a degree, −999…999, to the figure.
    fn from_tenths(tenths: i32) -> Self {
        let negative = tenths < 0;
        let magnitude = tenths.unsigned_abs();
        let last = u8::try_from(magnitude % 10).unwrap_or(0);
        let figure = tables::temperature_figure(last, negative);
        let coded = i16::try_from(magnitude / 10 * 10).unwrap_or(0) + i16::from(figure);
        Self(if negative { -coded } else { coded })
    }

    /// The figure TTTa, 000…999, as it stands in a message.
    #[must_use]
    pub fn from_code(code: u16) -> Option<Self> {
        let magnitude = i16::try_from(code).ok().filter(|&c| c <= 999)?;
        Some(Self(if code % 2 == 1 { -magnitude } else { magnitude }))
    }

    /// The three figures TTTa.
    #[must_use]
    pub fn code(self) -> u16 {
        self.0.unsigned_abs()
    }

    /// The temperature the figure stands for, °C: the figure itself, so that
    /// 041 is −4.1 (it was −4.0 or −4.1).
    #[must_use]
    pub fn value_c(self) -> f64 {
        f64::from(self.0) / 10.0
    }
}

/// DD: dew-point depression by table 0777.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct DepressionFigure(u8);

impl DepressionFigure {
    /// The figure whose table entry is nearest, halves up: tenths to 5.0, whole
    /// degrees from 5.5 on, 99 above 49.
    ///
    /// A negative depression (humidity over 100 %) is 00.
    ///
    /// # Errors
    /// Not finite.
    pub fn from_value(depression_k: f64) -> Result<Self, FigureError> {
        if !depression_k.is_finite() {
            return Err(FigureError::NotFinite("dew-point depression"));
        }
        let k = snap(depression_k).max(0.0);
        let codes = tables::depression_codes();
        // The first entry above the value, and the one before it.
        let above = codes.partition_point(|&(_, entry)| entry <= k);
        let code = match (
            above.checked_sub(1).and_then(|i| codes.get(i)),
            codes.get(above),
        ) {
            (Some(&(low, low_k)), Some(&(high, high_k))) => {
                let more = (k - low_k) - (high_k - k);
                let is_high = if more.abs() > 1e-5 {
                    more > 0.0
                } else {
                    snap(k - low_k) >= snap(high_k - k)
                };
                if is_high { high } else { low }
            }
            (Some(&(low, _)), None) => low,
            (None, Some(&(high, _))) => high,
            (None, None) => 0,
        };
        Ok(Self(code))
    }

    /// The same, but 51 to 55 from 5.05 K to less than 5.55 K, for a part that has such
    /// figures.
    ///
    /// # Errors
    /// As [`Self::from_value`].
    pub fn from_tenths(depression_k: f64) -> Result<Self, FigureError> {
        (51..=55_u8)
            .find(|&code| (f64::from(code) / 10.0 - depression_k).abs() < 0.05)
            .map_or_else(|| Self::from_value(depression_k), |code| Ok(Self(code)))
    }

    /// The figure as it stands in a message; 51–55 are not used.
    #[must_use]
    pub fn from_code(code: u8) -> Option<Self> {
        tables::depression_k(code).map(|_| Self(code))
    }

    /// The same as some stations send it: 51 to 55 too, tenths that go on from 5.0.
    #[must_use]
    pub fn from_received(code: u8) -> Option<Self> {
        Self::from_code(code).or((51..=55).contains(&code).then_some(Self(code)))
    }

    /// Whether table 0777 does not use the figure: 51 to 55.
    #[must_use]
    pub fn is_unused(self) -> bool {
        tables::depression_k(self.0).is_none()
    }

    /// The two figures DD.
    #[must_use]
    pub fn code(self) -> u8 {
        self.0
    }

    /// The depression, K.
    #[must_use]
    pub fn value_k(self) -> f64 {
        tables::depression_k(self.0).unwrap_or(f64::from(self.0) / 10.0)
    }
}

/// ddfff: wind to 5° and whole units.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct WindFigure {
    /// Direction, degrees, a multiple of 5: 5…360, or 0 in a calm without one.
    dir_deg: u16,
    /// Speed in the unit of the message, 0…499.
    speed: u16,
}

impl WindFigure {
    /// Calm, `00000`.
    pub const CALM: Self = Self {
        dir_deg: 0,
        speed: 0,
    };

    /// Direction to the nearest 5°, half up (357.5 to 2.49 is 360); speed to
    /// the nearest whole unit, half up; a speed that rounds to 0 is calm.
    ///
    /// # Errors
    /// A speed of 499.5 units or more, or a value that is not finite.
    pub fn from_value(dir_deg: f64, speed_ms: f64, unit: SpeedUnit) -> Result<Self, FigureError> {
        if !dir_deg.is_finite() || !speed_ms.is_finite() {
            return Err(FigureError::NotFinite("wind"));
        }
        let speed = unit.from_ms(speed_ms);
        let figure = whole(half_up(speed), 0, 499).ok_or_else(|| FigureError::Speed {
            speed: snap(speed),
            unit: unit.symbol(),
        })?;
        if figure == 0 {
            return Ok(Self::CALM);
        }
        let step = whole(half_up(snap(dir_deg).rem_euclid(360.0) / 5.0), 0, 72).unwrap_or(0);
        let dir_deg = if step == 0 { 360 } else { step * 5 };
        Ok(Self {
            dir_deg: u16::try_from(dir_deg).unwrap_or(360),
            speed: u16::try_from(figure).unwrap_or(0),
        })
    }

    /// The five figures as they stand in a message. Refused: a direction above
    /// 36, and `00fff` other than calm and 005°.
    #[must_use]
    pub fn from_code(code: u32) -> Option<Self> {
        let dd = code / 1000;
        let fff = code % 1000;
        let (half, speed) = if fff >= 500 { (5, fff - 500) } else { (0, fff) };
        let dir_deg = dd * 10 + half;
        let calm = code == 0;
        if dir_deg > 360 || (dir_deg == 0 && !calm) {
            return None;
        }
        Some(Self {
            dir_deg: u16::try_from(dir_deg).ok()?,
            speed: u16::try_from(speed).ok()?,
        })
    }

    /// The five figures ddfff.
    #[must_use]
    pub fn code(self) -> u32 {
        let five = u32::from(self.dir_deg % 10 == 5);
        u32::from(self.dir_deg / 10) * 1000 + five * 500 + u32::from(self.speed)
    }

    /// The same for a wind that was read from a text: a calm keeps the direction
    /// that the text gave it (`21500`), which some services write.
    ///
    /// # Errors
    /// As [`Self::from_value`].
    pub fn from_received(
        dir_deg: f64,
        speed_ms: f64,
        unit: SpeedUnit,
    ) -> Result<Self, FigureError> {
        let figure = Self::from_value(dir_deg, speed_ms, unit)?;
        if figure != Self::CALM || dir_deg == 0.0 {
            return Ok(figure);
        }
        // One unit of speed is enough to find the figure of the direction.
        let moving = Self::from_value(dir_deg, unit.to_ms(1.0), unit)?;
        Ok(Self { speed: 0, ..moving })
    }

    /// Direction, degrees: 5…360, 0 in a calm without direction.
    #[must_use]
    pub fn dir_deg(self) -> f64 {
        f64::from(self.dir_deg)
    }

    /// Speed in the unit of the message.
    #[must_use]
    pub fn speed(self) -> u16 {
        self.speed
    }

    /// Speed, m/s.
    #[must_use]
    pub fn speed_ms(self, unit: SpeedUnit) -> f64 {
        unit.to_ms(f64::from(self.speed))
    }
}

/// Pressure rounded to tenths, which decides between A/B and C/D: below 100.0
/// it belongs to C and D (decision of the form: the parts split at 100 hPa
/// inclusive).
#[must_use]
pub fn is_upper(pressure_hpa: f64) -> bool {
    half_up(pressure_hpa * 10.0) < 1000.0
}

/// A pressure as a part writes it: whole hPa in A and B, tenths in C and D.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PressureFigure {
    /// Tenths of hPa, 1…999 (C and D).
    Tenths(u16),
    /// Whole hPa, 100…1099 (A and B); the thousands figure is not written.
    Whole(u16),
}

impl PressureFigure {
    /// Nearest tenth; if that is 100.0 or more, nearest whole hPa, half up.
    ///
    /// # Errors
    /// Not between 0.05 and 1099.5 hPa.
    #[inline]
    pub fn from_value(pressure_hpa: f64) -> Result<Self, FigureError> {
        if !pressure_hpa.is_finite() {
            return Err(FigureError::NotFinite("pressure"));
        }
        let tenths = half_up(pressure_hpa * 10.0);
        let code = |value: f64, lo: i32, hi: i32| u16::try_from(whole(value, lo, hi)?).ok();
        let figure = if tenths < 1000.0 {
            code(tenths, 1, 999).map(Self::Tenths)
        } else {
            code(half_up(pressure_hpa), 100, 1099).map(Self::Whole)
        };
        figure.ok_or(FigureError::Pressure(pressure_hpa))
    }

    /// Three figures of a part: in A and B less than 100 means 1000 and more.
    #[must_use]
    pub fn from_code(code: u16, upper: bool) -> Option<Self> {
        match (code, upper) {
            (1..=999, true) => Some(Self::Tenths(code)),
            (0..=99, false) => Some(Self::Whole(code + 1000)),
            (100..=999, false) => Some(Self::Whole(code)),
            _ => None,
        }
    }

    /// The three figures.
    #[must_use]
    pub fn code(self) -> u16 {
        match self {
            Self::Tenths(v) => v,
            Self::Whole(v) => v % 1000,
        }
    }

    /// The pressure, hPa.
    #[must_use]
    pub fn value_hpa(self) -> f64 {
        match self {
            Self::Tenths(v) => f64::from(v) / 10.0,
            Self::Whole(v) => f64::from(v),
        }
    }
}

/// hhh: geopotential of a standard surface.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct HeightFigure(u16);

impl HeightFigure {
    /// Whole gpm or tens of gpm as the surface asks, nearest, half up; leading
    /// figures dropped; 500 added to the magnitude of a negative height.
    ///
    /// # Errors
    /// Below −499 gpm, or above what five figures hold, or not finite.
    pub fn from_value(height_gpm: f64, step_gpm: u16) -> Result<Self, FigureError> {
        if !height_gpm.is_finite() {
            return Err(FigureError::NotFinite("height"));
        }
        let steps = whole(half_up(height_gpm / f64::from(step_gpm)), -499, 99_994)
            .ok_or(FigureError::Height(height_gpm))?;
        let magnitude = steps.unsigned_abs();
        let code = if steps < 0 {
            magnitude + 500
        } else {
            magnitude
        };
        Ok(Self(u16::try_from(code % 1000).unwrap_or(0)))
    }

    /// Three figures as they stand.
    #[must_use]
    pub fn from_code(code: u16) -> Option<Self> {
        (code <= 999).then_some(Self(code))
    }

    /// The three figures.
    #[must_use]
    pub fn code(self) -> u16 {
        self.0
    }

    /// The height nearest to `expected_gpm` that has this figure, gpm: in whole gpm
    /// (below 500 hPa) more than 500 may stand for a height below sea level.
    #[must_use]
    pub fn nearest_gpm(self, step_gpm: u16, expected_gpm: f64) -> f64 {
        let step = f64::from(step_gpm);
        let base = f64::from(self.0) * step;
        let turn = 1000.0 * step;
        let above = base + turn * ((expected_gpm - base) / turn).round().max(0.0);
        if self.0 <= 500 || step_gpm > 1 {
            return above;
        }
        let below = -f64::from(self.0 - 500) * step;
        let off = |height: f64| (height - expected_gpm).abs();
        if off(below) < off(above) {
            below
        } else {
            above
        }
    }
}

/// HmHmHmHm: tens of gpm of a maximum wind in PILOT, nearest, half up.
///
/// # Errors
/// Below 0 or above 59 990 gpm (6 and 7 in front would read as a pressure), or
/// not finite.
pub fn height_tens(height_gpm: f64) -> Result<u16, FigureError> {
    if !height_gpm.is_finite() {
        return Err(FigureError::NotFinite("height"));
    }
    let tens = whole(half_up(height_gpm / 10.0), 0, 5999).and_then(|t| u16::try_from(t).ok());
    tens.ok_or(FigureError::PilotHeight(height_gpm, 59_990.0))
}

/// tnu of a PILOT level: the nearest whole number of steps, half up.
///
/// # Errors
/// Below 0 or above `most` steps, or not finite.
pub fn height_steps(height_gpm: f64, step_m: u16, most: u8) -> Result<u8, FigureError> {
    if !height_gpm.is_finite() {
        return Err(FigureError::NotFinite("height"));
    }
    let steps = whole(half_up(height_gpm / f64::from(step_m)), 0, i32::from(most));
    let steps = steps.and_then(|s| u8::try_from(s).ok());
    let bound = f64::from(step_m) * f64::from(most);
    steps.ok_or(FigureError::PilotHeight(height_gpm, bound))
}

/// The nearest whole hour of a release, half up, as (day offset, hour).
#[must_use]
pub fn nearest_hour(hour: i8, minute: i8) -> (i8, i8) {
    let up = hour + i8::from(minute >= 30);
    (up / 24, up % 24)
}

/// Two figures of shear: the nearest whole unit, half up; above 99 is 99.
///
/// `None` when not finite or negative.
#[must_use]
pub fn shear(shear_ms: f64, unit: SpeedUnit) -> Option<u8> {
    let units = half_up(unit.from_ms(shear_ms)).min(99.0);
    whole(units, 0, 99).and_then(|v| u8::try_from(v).ok())
}

/// IsIs: stability index to the nearest K, half away from zero; 50 added to the
/// magnitude of a negative one (B/C25 Annex I; the 50 is seen in real messages).
///
/// `None` when not finite or beyond ±40 (91 to 99 are reasons of missing).
#[must_use]
pub fn stability(index_k: f64) -> Option<u8> {
    let whole = whole(half_away(index_k), -40, 49)?;
    let code = if whole < 0 { 50 - whole } else { whole };
    u8::try_from(code).ok()
}

/// TwTwTw: sea temperature as (sign figure sn, tenths), nearest tenth, half
/// away from zero.
///
/// # Errors
/// Beyond ±99.9 °C, or not finite.
pub fn sea_temperature(temperature_c: f64) -> Result<(u8, u16), FigureError> {
    if !temperature_c.is_finite() {
        return Err(FigureError::NotFinite("sea temperature"));
    }
    let tenths = whole(half_away(temperature_c * 10.0), -999, 999)
        .ok_or(FigureError::Temperature(temperature_c))?;
    let magnitude = u16::try_from(tenths.unsigned_abs()).unwrap_or(0);
    Ok((u8::from(tenths < 0), magnitude))
}

#[cfg(test)]
mod tests;
