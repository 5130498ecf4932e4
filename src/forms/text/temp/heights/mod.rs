//! Which height hhh stands for: the leading figures that it leaves out come from
//! the thickness of the air below (decided: WMO-No. 306 gives no rule for readers).
//!
//! The temperatures of the message make a column of air. Its lowest level is put at
//! the height at which most of the coded heights fit, and each surface is read as
//! the height nearest to the one that the column gives. Only without temperatures
//! does the standard atmosphere take the place of the column.

use std::collections::BTreeMap;

use itertools::Itertools;

use super::{Surface, Thermal};
use crate::forms::text::{Body, Ident, Message};
use crate::model::Part;
use crate::physics::humidity::virtual_temperature_k;
use crate::physics::hydrostatic::{Column, height_below, standard_height_gpm};
use crate::tables;
use crate::tables::figure::HeightFigure;

/// Pressure at mean sea level that a land station is assumed to have when the coded
/// heights leave its own height open by 1000 gpm, hPa: about the middle of 925 to
/// 1060 hPa (common practice, no source).
const SEA_LEVEL_HPA: f64 = 990.0;

/// The most that one surface counts against a height of the lowest level, gpm: a
/// single wrong group does not outvote the others.
const MOST_MISFIT_GPM: f64 = 400.0;

/// How much a metre of distance from the expected height of the lowest level
/// counts beside a metre of misfit of a surface: where the message says the height
/// (at sea, a mobile station), and where sea-level pressure makes it.
const KNOWN_WEIGHT: f64 = 0.5;
const ASSUMED_WEIGHT: f64 = 0.1;

/// Ratio of the pressures of two successive temperatures from which there is a gap
/// between them: no two standard surfaces to 10 hPa are further apart.
const GAP_RATIO: f64 = 2.0;

/// Ratio of pressures up to which a surface may lie above the last temperature and
/// still say how high the ground is.
const NEAR_RATIO: f64 = 1.5;

/// How far from the expected height the lowest level is looked for, gpm.
const SEARCH_GPM: f64 = 2500.0;

/// The most by which vapour raises the virtual temperature of air that occurs, K: at
/// a dew point of 35 °C and 1000 hPa it is 7 K.
const MOST_VAPOUR_K: f64 = 10.0;

/// Zero on the Celsius scale, K.
const ZERO_C_K: f64 = 273.15;

/// A standard surface with a coded height.
struct Coded {
    pressure_hpa: u16,
    step_gpm: u16,
    figure: HeightFigure,
    /// Its height over the lowest level of the column, gpm; `None` without a column.
    above_gpm: Option<f64>,
}

/// The height of every standard surface that has one, gpm, by its pressure in hPa.
pub(crate) fn of_surfaces(message: &Message) -> BTreeMap<u16, f64> {
    let column = column(message);
    let coded = coded(message, &column);
    let grounded = column.first().map(|l| l.0) == surface_hpa(message);
    let mut heights = BTreeMap::new();
    let Some(&lowest) = column.first() else {
        for c in &coded {
            let expected = standard_height_gpm(f64::from(c.pressure_hpa));
            heights.insert(c.pressure_hpa, c.nearest_gpm(expected));
        }
        return heights;
    };
    let reached = |c: &&Coded| grounded || f64::from(c.pressure_hpa) <= lowest.0;
    let within: Vec<&Coded> = coded.iter().filter(reached).collect();
    let expected = expected_gpm(message, lowest, grounded);
    let top = first_gap_hpa(&column) / NEAR_RATIO;
    let near = |c: &&&Coded| f64::from(c.pressure_hpa) >= top;
    let voters: Vec<&Coded> = within.iter().filter(near).copied().collect();
    let base = base_gpm(&voters, expected);
    for c in within {
        heights.insert(
            c.pressure_hpa,
            c.nearest_gpm(base + c.above_gpm.unwrap_or_default()),
        );
    }
    // Where temperatures begin aloft, surface by surface downwards with the thickness
    // of the standard atmosphere.
    let mut last = match heights.last_key_value() {
        Some((&p, &z)) => (f64::from(p), z),
        None => (lowest.0, base),
    };
    for c in coded.iter().rev().filter(|c| !reached(c)) {
        let p = f64::from(c.pressure_hpa);
        let layer = standard_height_gpm(last.0) - standard_height_gpm(p);
        last = (p, c.nearest_gpm(last.1 - layer));
        heights.insert(c.pressure_hpa, last.1);
    }
    heights
}

impl Coded {
    fn nearest_gpm(&self, expected_gpm: f64) -> f64 {
        self.figure.nearest_gpm(self.step_gpm, expected_gpm)
    }
}

/// Pressure of the surface, hPa.
fn surface_hpa(message: &Message) -> Option<f64> {
    let surface = message.standard(Part::A)?.surface?;
    Some(surface.pressure.value_hpa())
}

/// The standard surfaces with a coded height, of Parts A and C.
fn coded(message: &Message, column: &[(f64, f64)]) -> Vec<Coded> {
    let above = Column::new(column);
    let one = |s: &Surface| {
        let level = tables::standard_level(s.pressure_hpa);
        Some(Coded {
            pressure_hpa: s.pressure_hpa,
            step_gpm: level.height_step_gpm,
            figure: s.height?,
            above_gpm: in_column(column, &above, f64::from(s.pressure_hpa)),
        })
    };
    let parts = [Part::A, Part::C].into_iter();
    let parts = parts.filter_map(|part| message.standard(part));
    parts
        .flat_map(|p| p.standard.iter().filter_map(one))
        .collect()
}

/// Pressure (hPa) and virtual temperature (K) of the levels with temperature above
/// ground, lowest first; of one pressure the significant level alone.
fn column(message: &Message) -> Vec<(f64, f64)> {
    let mut levels: Vec<(f64, u8, f64)> = Vec::new();
    let mut add = |p: f64, rank: u8, (t, d): Thermal| {
        if let Some(t) = t.map(|t| t.value_c()) {
            let dry = t + ZERO_C_K;
            let moist = virtual_temperature_k(t, d.map(|d| t - d.value_k()), p);
            // A wrong temperature aloft would make more vapour than there is air.
            let possible = (dry..=dry + MOST_VAPOUR_K).contains(&moist);
            levels.push((p, rank, if possible { moist } else { dry }));
        }
    };
    let ground = surface_hpa(message).unwrap_or(f64::INFINITY);
    for body in message.parts.values() {
        match body {
            Body::Standard(p) => {
                if let Some(s) = p.surface {
                    add(s.pressure.value_hpa(), 1, s.thermal);
                }
                for s in &p.standard {
                    add(f64::from(s.pressure_hpa), 2, s.thermal);
                }
                for t in &p.tropopauses {
                    add(t.pressure.value_hpa(), 3, t.thermal);
                }
            }
            Body::Significant(p) => {
                for (pressure, thermal) in p.thermal.iter().flatten() {
                    add(pressure.value_hpa(), 0, *thermal);
                }
            }
            _ => {}
        }
    }
    levels.retain(|l| l.0 <= ground);
    levels.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    levels.dedup_by(|next, kept| next.0 == kept.0);
    levels.into_iter().map(|(p, _, tv)| (p, tv)).collect()
}

/// Pressure of the level below the first gap in the temperatures, or of the top, hPa:
/// what lies across a gap says little of the ground.
fn first_gap_hpa(column: &[(f64, f64)]) -> f64 {
    let mut pairs = column.iter().tuple_windows();
    let gap = pairs.find(|(low, high)| low.0 / high.0 > GAP_RATIO);
    let below = gap.map(|(low, _)| low).or(column.last());
    below.map_or(0.0, |level| level.0)
}

/// Height over the lowest level of the column, gpm: below it (ground) by the standard
/// lapse rate, above the top with the temperature there.
fn in_column(levels: &[(f64, f64)], column: &Column<'_>, pressure_hpa: f64) -> Option<f64> {
    let &(p, tv) = levels.first()?;
    if pressure_hpa > p {
        return Some(height_below(0.0, p, tv - ZERO_C_K, None, pressure_hpa));
    }
    column.height_gpm(pressure_hpa)
}

/// Where the lowest level of the column is expected, gpm, and what a metre of
/// distance from there counts: what the message says of its station, or else what
/// sea-level pressure makes it.
fn expected_gpm(message: &Message, (p, tv): (f64, f64), grounded: bool) -> (f64, f64) {
    match &message.ident {
        _ if !grounded => (standard_height_gpm(p), ASSUMED_WEIGHT),
        Ident::Ship { .. } | Ident::Drop { .. } => (0.0, KNOWN_WEIGHT),
        Ident::Mobile { elevation, .. } => (elevation.value_m(), KNOWN_WEIGHT),
        Ident::Land { .. } => {
            let over_the_sea = -height_below(0.0, p, tv - ZERO_C_K, None, SEA_LEVEL_HPA);
            (over_the_sea, ASSUMED_WEIGHT)
        }
    }
}

/// The height of the lowest level at which the coded heights fit best, gpm: of those
/// that single surfaces allow, the one with the least misfit of all.
fn base_gpm(coded: &[&Coded], (expected, weight): (f64, f64)) -> f64 {
    // What is no less than the least misfit so far is not summed up to its end.
    let misfit = |base: f64, least: f64| {
        let mut sum = 0.0;
        for c in coded {
            let Some(above) = c.above_gpm else {
                continue;
            };
            let wanted = base + above;
            sum += (c.nearest_gpm(wanted) - wanted).abs().min(MOST_MISFIT_GPM);
            if sum >= least {
                return None;
            }
        }
        Some(sum + weight * (base - expected).abs()).filter(|sum| *sum < least)
    };
    let around = [-2.0, -1.0, 0.0, 1.0, 2.0].map(|turns| turns * 1000.0);
    let candidates = coded.iter().flat_map(|c| {
        let above = c.above_gpm;
        around.iter().filter_map(move |turn| {
            let above = above?;
            let z = c.nearest_gpm(expected + above + turn);
            Some(z - above)
        })
    });
    let mut best = (f64::INFINITY, expected);
    for base in candidates.filter(|base| (base - expected).abs() <= SEARCH_GPM) {
        if let Some(least) = misfit(base, best.0) {
            best = (least, base);
        }
    }
    best.1
}

#[cfg(test)]
mod tests;
