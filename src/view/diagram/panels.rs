//! Which panels there are, where they stand, and their scales.

use super::data::Data;
use super::labels::Area;
use super::scale::Scale;
use crate::model::Axis;
use crate::model::fidelity::Quantity;

/// Top and bottom of all panels that share the vertical axis.
pub(super) const TOP: f64 = 90.0;
pub(super) const FOOT: f64 = 640.0;

/// Left and right of the first panel.
const LEFT: f64 = 46.0;
const RIGHT: f64 = 640.0;

/// Right of the column of wind symbols, which begins at the heights.
const WINDS: f64 = 820.0;

/// Right of the last strip, and the room between two.
const END: f64 = 1260.0;
const BETWEEN: f64 = 18.0;

/// The temperature panel: log pressure upwards, temperature to the right, leaning
/// over with height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leaning {
    /// Temperature, °C, at the foot of the panel.
    pub foot: Scale,
    /// Pressure at the foot, hPa.
    pub foot_hpa: f64,
    /// How far isotherms lean to the right, K for each e-fold of pressure.
    pub lean_k: f64,
}

impl Leaning {
    /// The place, x, of a temperature, °C, at a pressure, hPa.
    #[must_use]
    pub fn px(&self, temperature_c: f64, pressure_hpa: f64) -> f64 {
        self.foot
            .px(temperature_c + self.lean_k * (self.foot_hpa / pressure_hpa).ln())
    }
}

/// A strip beside the diagram.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strip {
    /// What it shows; [`Quantity::Temperature`]: the departure of the measured
    /// temperature from the one that the message gives.
    pub quantity: Quantity,
    /// Its values, in K, %, degrees, or the unit of speed of the message.
    pub scale: Scale,
}

/// The panels of a diagram and their scales, in units of the view box.
#[derive(Clone, Debug, PartialEq)]
pub struct Panels {
    /// The vertical axis that all panels but the hodograph share: hPa (logarithmic)
    /// or gpm.
    pub vertical: Scale,
    /// Which of the two it is.
    pub axis: Axis,
    /// The temperature panel; `None` without temperatures or by height.
    pub temperature: Option<Leaning>,
    /// The strips from left to right.
    pub strips: Vec<Strip>,
}

/// Pressures that an axis may end at, hPa.
const ENDS: [f64; 24] = [
    850.0, 700.0, 600.0, 500.0, 400.0, 300.0, 250.0, 200.0, 150.0, 100.0, 70.0, 50.0, 30.0, 20.0,
    15.0, 10.0, 7.0, 5.0, 3.0, 2.0, 1.0, 0.5, 0.2, 0.1,
];

/// Isotherms lean by so much, K, from the foot to the top, but not by more than so
/// much an e-fold (our choice: whole ascents then use the width well).
const LEAN_K: f64 = 92.0;
const MOST_LEAN_K: f64 = 45.0;

impl Panels {
    pub(super) fn of(data: &Data<'_>) -> Self {
        let vertical = match data.axis {
            Axis::Pressure => pressures(data),
            Axis::Height => heights(data),
        };
        let temperature = (data.thermal && data.axis == Axis::Pressure)
            .then(|| leaning(data, vertical))
            .flatten();
        Self {
            vertical,
            axis: data.axis,
            temperature,
            strips: strips(data),
        }
    }

    /// The first panel: temperatures, or the hodograph where there are none, which
    /// leaves room for the figures of the vertical axis on its right.
    pub(super) fn first(&self) -> Area {
        match self.temperature {
            Some(_) => Area::new(LEFT, TOP, RIGHT, FOOT),
            None => Area::new(12.0, TOP, RIGHT - 52.0, FOOT),
        }
    }

    /// Right end of the figures of the vertical axis.
    pub(super) fn figures(&self) -> f64 {
        match self.temperature {
            Some(_) => LEFT - 6.0,
            None => RIGHT - 6.0,
        }
    }

    /// The column of heights and wind symbols.
    pub(super) fn winds(&self) -> Area {
        Area::new(RIGHT, TOP, WINDS, FOOT)
    }
}

impl Strip {
    pub(super) fn area(&self) -> Area {
        Area::new(self.scale.from_px, TOP, self.scale.to_px, FOOT)
    }
}

fn pressures(data: &Data<'_>) -> Scale {
    /// Beyond these no flight is drawn, hPa.
    const LEAST: f64 = 0.2;
    const MOST: f64 = 1200.0;
    let (top, lowest) = data.range(|r| data.up(r)).unwrap_or((100.0, 1000.0));
    let (top, lowest) = (top.clamp(LEAST, MOST), lowest.clamp(LEAST, MOST));
    let foot = if lowest > 1045.0 {
        1.02 * lowest
    } else {
        1050.0
    };
    let end = ENDS.into_iter().find(|&end| end <= top * 0.97);
    Scale::logarithmic((foot, end.unwrap_or(0.1)), (FOOT, TOP))
}

fn heights(data: &Data<'_>) -> Scale {
    /// Beyond these no flight is drawn, gpm.
    const LEAST: f64 = -1000.0;
    const MOST: f64 = 80_000.0;
    let (lowest, top) = data.range(|r| data.up(r)).unwrap_or((0.0, 30_000.0));
    let (lowest, top) = (lowest.clamp(LEAST, MOST), top.clamp(LEAST, MOST));
    let foot = (lowest / 500.0).floor() * 500.0;
    let end = (top * 1.02 / 1000.0).ceil() * 1000.0;
    Scale::linear((foot, end.max(foot + 1000.0)), (FOOT, TOP))
}

fn leaning(data: &Data<'_>, vertical: Scale) -> Option<Leaning> {
    /// So far below its temperature a dew point still widens the panel, K.
    const DRY_K: f64 = 25.0;
    /// Beyond these no temperature is drawn.
    const COLDEST_C: f64 = -120.0;
    const WARMEST_C: f64 = 70.0;
    let foot_hpa = vertical.from;
    let lean_k = (LEAN_K / (foot_hpa / vertical.to).ln()).min(MOST_LEAN_K);
    let leant = |t: f64, p: f64| t + lean_k * (foot_hpa / p).ln();
    let sound = |t: f64| t.clamp(COLDEST_C, WARMEST_C);
    let (low, high) = data.range(|r| Some(leant(sound(r.temperature_c?), data.up(r)?)))?;
    let dry = data.range(|r| {
        let t = sound(r.temperature_c?);
        Some(leant(sound(r.dewpoint_c?).max(t - DRY_K), data.up(r)?))
    });
    let low = dry.map_or(low, |d| d.0.min(low));
    let low = ((low - 3.0) / 10.0).floor() * 10.0;
    let high = (((high + 6.0) / 10.0).ceil() * 10.0).max(low + 60.0);
    Some(Leaning {
        foot: Scale::linear((low, high), (LEFT, RIGHT)),
        foot_hpa,
        lean_k,
    })
}

fn strips(data: &Data<'_>) -> Vec<Strip> {
    let mut kinds = Vec::new();
    if data.thermal {
        kinds.push((Quantity::Temperature, departures(data)));
    }
    if data.humid {
        kinds.push((Quantity::Humidity, (0.0, 100.0)));
    }
    if data.windy {
        kinds.push((Quantity::WindSpeed, (0.0, fastest(data))));
        kinds.push((Quantity::WindDirection, (0.0, 360.0)));
    }
    let mut number = 0.0;
    let mut left = WINDS;
    for _ in &kinds {
        number += 1.0;
    }
    let width = (END - WINDS - (number - 1.0) * BETWEEN) / number;
    kinds
        .into_iter()
        .map(|(quantity, ends)| {
            let scale = Scale::linear(ends, (left, left + width));
            left += width + BETWEEN;
            Strip { quantity, scale }
        })
        .collect()
}

/// The scale of departures, K: limits and what goes a little beyond.
fn departures(data: &Data<'_>) -> (f64, f64) {
    let off = data
        .rows
        .iter()
        .zip(&data.rebuilt)
        .filter_map(|(row, stated)| {
            let limit = stated.temperature_limit_k?;
            Some(
                (row.temperature_c? - stated.temperature_c?)
                    .abs()
                    .max(limit),
            )
        });
    let most = off.fold(1.0, f64::max).min(5.0).ceil();
    (-most - 0.5, most + 0.5)
}

/// The end of the scale of speeds, in the unit of the message.
fn fastest(data: &Data<'_>) -> f64 {
    /// Beyond this no wind is drawn, m/s.
    const MOST_MS: f64 = 200.0;
    let (_, most) = data
        .range(|r| r.wind.map(|w| data.speed(w)))
        .unwrap_or((0.0, 0.0));
    let most = most.min(data.unit.from_ms(MOST_MS));
    let step = if most > 80.0 { 20.0 } else { 10.0 };
    (most * 1.05 / step).ceil().max(1.0) * step
}
