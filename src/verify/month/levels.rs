//! Means at the standard surfaces, beside those of the month before.

use itertools::Itertools as _;
use serde::{Deserialize, Serialize};

use super::figures::{Spread, thousandth};
use super::{Ascent, Period};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Form, Report};
use crate::tables::{Averaged, month_limit, standard_levels};
use crate::verify::continuity::standard;

/// What a report has at a standard surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SurfaceValues {
    /// The surface, hPa.
    pub pressure_hpa: u16,
    /// Geopotential height, gpm.
    pub height_gpm: Option<f64>,
    /// Temperature, °C.
    pub temperature_c: Option<f64>,
}

/// The values of a report at the standard surfaces of TEMP (35.2.2.1).
#[must_use]
pub fn surfaces(report: &Report) -> Vec<SurfaceValues> {
    let surfaces = standard_levels().iter();
    let surfaces = surfaces.filter(|surface| surface.form == Form::Temp);
    let found = surfaces.filter_map(|surface| {
        let row = &standard(report, f64::from(surface.pressure_hpa))?.row;
        let (height_gpm, temperature_c) = (row.height_gpm, row.temperature_c);
        height_gpm.or(temperature_c)?;
        Some(SurfaceValues {
            pressure_hpa: surface.pressure_hpa,
            height_gpm,
            temperature_c,
        })
    });
    found.collect()
}

/// A mean beside that of the month before.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MeanBeside {
    /// That of the month.
    pub now: Option<Spread>,
    /// That of the month before.
    pub before: Option<Spread>,
    /// By how much the mean is greater than before.
    pub difference: Option<f64>,
    /// The greatest difference that is not marked (`tables/month_limits.csv`); `None` where
    /// one of the months has too few ascents.
    pub limit: Option<f64>,
    /// Whether the mean moved by more than that.
    pub moved: bool,
}

/// The means at a standard surface.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Surface {
    /// The surface, hPa.
    pub pressure_hpa: u16,
    /// Geopotential height, gpm.
    pub height_gpm: MeanBeside,
    /// Temperature, °C.
    pub temperature_c: MeanBeside,
}

/// The means of every surface that a report of either month has.
pub(super) fn beside(now: &[&Ascent], before: &[&Ascent]) -> Vec<Surface> {
    let surfaces = standard_levels().iter();
    let surfaces = surfaces.filter(|surface| surface.form == Form::Temp);
    let mean = |averaged, pressure_hpa| {
        mean(
            averaged,
            pressure_hpa,
            spread(now, averaged, pressure_hpa),
            spread(before, averaged, pressure_hpa),
        )
    };
    let all = surfaces.map(|surface| Surface {
        pressure_hpa: surface.pressure_hpa,
        height_gpm: mean(Averaged::Height, surface.pressure_hpa),
        temperature_c: mean(Averaged::Temperature, surface.pressure_hpa),
    });
    let has = |one: &MeanBeside| one.now.is_some() || one.before.is_some();
    all.filter(|surface| has(&surface.height_gpm) || has(&surface.temperature_c))
        .collect()
}

fn spread(ascents: &[&Ascent], averaged: Averaged, pressure_hpa: u16) -> Option<Spread> {
    let levels = ascents.iter().flat_map(|ascent| &ascent.levels);
    let values = levels.filter(|level| level.pressure_hpa == pressure_hpa);
    Spread::of(values.filter_map(|level| match averaged {
        Averaged::Height => level.height_gpm,
        Averaged::Temperature => level.temperature_c,
    }))
}

fn mean(
    averaged: Averaged,
    pressure_hpa: u16,
    now: Option<Spread>,
    before: Option<Spread>,
) -> MeanBeside {
    let both = now.zip(before);
    let difference = both.map(|(now, before)| thousandth(now.mean - before.mean));
    let limit = month_limit(averaged, pressure_hpa).filter(|limit| {
        both.is_some_and(|(now, before)| now.count.min(before.count) >= limit.least_ascents)
    });
    let limit = limit.map(|limit| limit.most);
    let outside = difference
        .zip(limit)
        .is_some_and(|(off, most)| off.abs() > most);
    MeanBeside {
        now,
        before,
        difference,
        limit,
        moved: outside,
    }
}

/// A finding for each quantity of which a mean moved.
pub(super) fn moved(levels: &[Surface], before: Period) -> Vec<Finding> {
    let heights = levels
        .iter()
        .map(|level| (level.pressure_hpa, level.height_gpm));
    let temperatures = levels
        .iter()
        .map(|level| (level.pressure_hpa, level.temperature_c));
    let mut findings = Vec::new();
    if let Some(found) = Moved::of(heights) {
        findings.push(finding!(
            MonthHeightMoved,
            Place::default(),
            surfaces = found.surfaces,
            before = before,
            worst = found.worst,
            off = found.off,
            [most = found.most]
        ));
    }
    if let Some(found) = Moved::of(temperatures) {
        findings.push(finding!(
            MonthTemperatureMoved,
            Place::default(),
            surfaces = found.surfaces,
            before = before,
            worst = found.worst,
            off = found.off,
            [most = found.most]
        ));
    }
    findings
}

/// The surfaces at which a mean moved.
struct Moved {
    surfaces: String,
    /// The one with the greatest change as a share of its limit, its change, and its limit.
    worst: u16,
    off: f64,
    most: f64,
}

impl Moved {
    fn of(means: impl Iterator<Item = (u16, MeanBeside)>) -> Option<Self> {
        let moved = means.filter(|(_, mean)| mean.moved);
        let moved: Vec<(u16, f64, f64)> = moved
            .filter_map(|(pressure_hpa, mean)| Some((pressure_hpa, mean.difference?, mean.limit?)))
            .collect();
        let share = |(_, off, most): &(u16, f64, f64)| off.abs() / most;
        let &(worst, off, most) = moved.iter().max_by(|a, b| share(a).total_cmp(&share(b)))?;
        Some(Self {
            surfaces: moved
                .iter()
                .map(|(pressure_hpa, ..)| pressure_hpa)
                .join(", "),
            worst,
            off,
            most,
        })
    }
}
