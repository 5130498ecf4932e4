//! How high ascents came.

use serde::{Deserialize, Serialize};

use super::Ascent;
use super::figures::{Extremes, Share};

/// The surfaces for which it is counted how many ascents reached them, hPa: the end of
/// Part A, and the two that networks ask for.
pub const REACHED_HPA: [f64; 3] = [100.0, 30.0, 10.0];

/// Ascents that reached a surface.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Reached {
    /// The surface, hPa.
    pub pressure_hpa: f64,
    /// How many ascents reached it.
    pub count: usize,
    /// Of how many.
    pub of: usize,
}

/// How high the ascents of a month came.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Tops {
    /// Ascents that reached 100, 30 and 10 hPa.
    pub reached: Vec<Reached>,
    /// The lowest pressure of each ascent, hPa; the least is that of the highest ascent.
    pub pressure_hpa: Option<Extremes>,
    /// The greatest geopotential height of each ascent, gpm.
    pub height_gpm: Option<Extremes>,
}

/// Whether an ascent reached a pressure, hPa.
pub(super) fn reaches(ascent: &Ascent, pressure_hpa: f64) -> bool {
    ascent.top_hpa.is_some_and(|top| top <= pressure_hpa)
}

pub(super) fn tops(ascents: &[&Ascent]) -> Tops {
    let reached = REACHED_HPA.map(|pressure_hpa| {
        let Share { count, of } = Share::of(ascents.iter().map(|a| reaches(a, pressure_hpa)));
        Reached {
            pressure_hpa,
            count,
            of,
        }
    });
    Tops {
        reached: reached.to_vec(),
        pressure_hpa: Extremes::of(ascents.iter().filter_map(|a| a.top_hpa)),
        height_gpm: Extremes::of(ascents.iter().filter_map(|a| a.top_gpm)),
    }
}
