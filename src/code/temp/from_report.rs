//! Report → TEMP parts: the one place where their values become figures.

use std::collections::BTreeMap;

use super::regional;
use super::{Maximum, Placed, SignificantPart, StandardPart, Surface, Thermal};
use crate::code::sections::{CloudFigures, Sonde};
use crate::code::{Body, CodeError};
use crate::figure::{
    DepressionFigure, FigureError, HeightFigure, PressureFigure, TemperatureFigure, WindFigure,
    is_upper, sea_temperature, shear,
};
use crate::finding::{Finding, Place};
use crate::quantity::SpeedUnit;
use crate::sounding::{Clouds, Element, Kept, Level, MaxWind, Part, Report, Roles, Shear, Sky};
use crate::tables;

/// A level as figures: pressure, TTTaDD, ddfff.
type Figures = (PressureFigure, Thermal, Option<WindFigure>);

/// The TEMP parts of a report.
pub(in crate::code) fn parts(
    report: &Report,
    release: Option<(u8, u8)>,
    findings: &mut Vec<Finding>,
) -> Result<BTreeMap<Part, Body>, CodeError> {
    let sonde = sonde(report, release, findings)?;
    let mut parts = BTreeMap::new();
    for (&part, kept) in report.parts.iter().filter(|(_, kept)| !kept.nil) {
        // The computed groups come first, then those that the sheet gives.
        let mut kept = kept.clone();
        let computed = regional::groups(report, part, findings)?;
        kept.regional.splice(0..0, computed);
        let kept = &kept;
        let body = match part {
            Part::A | Part::C => {
                Body::Standard(standard_part(report, part, kept, sonde, findings)?)
            }
            Part::B | Part::D => Body::Significant(significant_part(report, part, kept, sonde)?),
        };
        parts.insert(part, body);
    }
    Ok(parts)
}

fn sonde(
    report: &Report,
    release: Option<(u8, u8)>,
    findings: &mut Vec<Finding>,
) -> Result<Sonde, CodeError> {
    let equipment = &report.context.equipment;
    let text = equipment
        .radiosonde
        .map(|figure| tables::radiosonde(figure).and_then(|r| r.text));
    if let (Some(figure), Some(None)) = (equipment.radiosonde, text) {
        findings.push(
            Finding::warning(
                "no-text-figure",
                Place::key("equipment.radiosonde"),
                format!("radiosonde type {figure} has no figure in the text code: coded //"),
            )
            .allowed("90 says \"not specified\" where the service wants that")
            .clause("Common Code Table C-2"),
        );
    }
    let sea = report
        .context
        .surface
        .as_ref()
        .and_then(|s| s.sea_temperature_c);
    Ok(Sonde {
        radiation: equipment.radiation.filter(|&r| r <= 7),
        radiosonde: text.flatten(),
        tracking: equipment.tracking,
        release,
        sea: sea.map(sea_temperature).transpose()?,
    })
}

pub(in crate::code) fn pressure(level: &Level) -> f64 {
    level.row.pressure_hpa.unwrap_or(0.0)
}

/// Gives an error of a figure the level it is at.
pub(in crate::code) fn at(level: &Level) -> impl Fn(FigureError) -> CodeError {
    let pressure_hpa = pressure(level);
    move |source| CodeError::Figure {
        pressure_hpa,
        source,
    }
}

fn thermal(level: &Level) -> Result<Thermal, CodeError> {
    let row = &level.row;
    let Some(t) = row.temperature_c else {
        return Ok((None, None));
    };
    let depression = match (row.dewpoint_c, row.humidity_pct) {
        (Some(td), _) => Some(t - td),
        // No dew point exists at 0 %: the driest figure (a note of the reader).
        (None, Some(u)) if u <= 0.0 => Some(f64::MAX),
        _ => None,
    };
    let temperature = TemperatureFigure::from_value(t).map_err(at(level))?;
    let depression = depression
        .map(DepressionFigure::from_value)
        .transpose()
        .map_err(at(level))?;
    Ok((Some(temperature), depression))
}

pub(in crate::code) fn wind(
    level: &Level,
    unit: SpeedUnit,
) -> Result<Option<WindFigure>, CodeError> {
    level
        .row
        .wind
        .map(|w| WindFigure::from_value(w.dir_deg, w.speed_ms, unit))
        .transpose()
        .map_err(at(level))
}

fn figures(level: &Level, unit: SpeedUnit) -> Result<Figures, CodeError> {
    let p = PressureFigure::from_value(pressure(level)).map_err(at(level))?;
    Ok((p, thermal(level)?, wind(level, unit)?))
}

/// The levels of a part that have a role.
pub(in crate::code) fn with(
    report: &Report,
    part: Part,
    roles: Roles,
) -> impl Iterator<Item = &Level> {
    report
        .levels
        .iter()
        .filter(move |l| l.roles.any(roles) && is_upper(pressure(l)) == part.is_upper())
}

/// The maximum winds of a part in the order of reporting, with their levels.
pub(crate) fn maxima(report: &Report, part: Part) -> impl Iterator<Item = (&MaxWind, &Level)> {
    let of_part = report.maxima.iter().filter(move |m| m.part == part);
    of_part.filter_map(move |maximum| {
        let here = |l: &&Level| {
            l.roles.any(Roles::MAX_WIND)
                && match maximum.pressure_hpa {
                    Some(p) => l.row.pressure_hpa == Some(p),
                    None => l.row.height_gpm == maximum.height_gpm,
                }
        };
        let level = report.levels.iter().find(here)?;
        Some((maximum, level))
    })
}

/// vbvb and vava.
pub(in crate::code) fn shears(shears: &Shear, unit: SpeedUnit) -> (Option<u8>, Option<u8>) {
    let code = |ms: Option<f64>| ms.and_then(|ms| shear(ms, unit));
    (code(shears.below_ms), code(shears.above_ms))
}

fn standard_part(
    report: &Report,
    part: Part,
    kept: &Kept,
    sonde: Sonde,
    findings: &mut Vec<Finding>,
) -> Result<StandardPart, CodeError> {
    let context = &report.context;
    let unit = context.coding.wind_unit;
    let placed = |level: &Level| {
        figures(level, unit).map(|(pressure, thermal, wind)| Placed {
            pressure,
            thermal,
            wind,
        })
    };
    let mut out = StandardPart {
        sonde: kept.section7.then_some(sonde),
        regional: kept.regional.clone(),
        national: kept.national.clone(),
        ..StandardPart::default()
    };
    if part == Part::A {
        out.surface = with(report, part, Roles::SURFACE)
            .next()
            .map(placed)
            .transpose()?;
    }
    for standard in tables::temp_levels(context.coding.region, part) {
        let p = f64::from(standard.pressure_hpa);
        let Some(level) =
            with(report, part, Roles::STANDARD).find(|l| l.row.pressure_hpa == Some(p))
        else {
            continue;
        };
        let height = match level
            .row
            .height_gpm
            .map(|z| HeightFigure::from_value(z, standard.height_step_gpm))
        {
            Some(Ok(height)) => Some(height),
            Some(Err(error)) => {
                findings.push(Finding::warning(
                    "height-does-not-fit",
                    Place::pressure(p),
                    format!("{error}: coded ///"),
                ));
                None
            }
            None => None,
        };
        out.standard.push(Surface {
            pressure_hpa: standard.pressure_hpa,
            pp: standard.pp,
            id_figure: standard.id_figure,
            height,
            thermal: thermal(level)?,
            wind: wind(level, unit)?,
        });
    }
    for level in with(report, part, Roles::TROPOPAUSE) {
        let mut tropopause = placed(level)?;
        tropopause.pressure = apart(tropopause.pressure, findings);
        out.tropopauses.push(tropopause);
    }
    for (maximum, level) in maxima(report, part) {
        let (pressure, _, wind) = figures(level, unit)?;
        out.maxima.push(Maximum {
            top: level.roles.any(Roles::TOP_OF_WIND),
            pressure: apart(pressure, findings),
            wind,
            shear: maximum.shear.map(|s| shears(&s, unit)),
        });
    }
    Ok(out)
}

/// In sections 3 and 4 of Part C, 99.9 hPa would be 88999 or 77999, which say
/// that there is none: it is written as 99.8 hPa, with a finding (our decision,
/// no source).
pub(crate) fn apart(pressure: PressureFigure, findings: &mut Vec<Finding>) -> PressureFigure {
    if pressure != PressureFigure::Tenths(999) {
        return pressure;
    }
    findings.push(
        Finding::warning(
            "level-at-99.9",
            Place::pressure(99.9),
            "a level at 99.9 hPa in section 3 or 4 would read as \"none\": written as 99.8 hPa",
        )
        .clause("WMO-No. 306, 35.2.3.2"),
    );
    PressureFigure::Tenths(998)
}

fn significant_part(
    report: &Report,
    part: Part,
    kept: &Kept,
    sonde: Sonde,
) -> Result<SignificantPart, CodeError> {
    let unit = report.context.coding.wind_unit;
    let mut out = SignificantPart {
        measuring: kept.measuring,
        sonde: kept.section7.then_some(sonde),
        regional: kept.regional.clone(),
        national: kept.national.clone(),
        clouds: report
            .context
            .clouds
            .filter(|_| kept.section8)
            .map(cloud_figures),
        ..SignificantPart::default()
    };
    // A layer without data is marked before the level at which they return.
    let returns = |element: Element, level: &Level| {
        report.missing.iter().any(|m| {
            m.element == element && m.to_hpa.is_some() && m.to_hpa == level.row.pressure_hpa
        })
    };
    for level in with(report, part, Roles::SIG_T_OR_U) {
        if returns(Element::Temperature, level) && level.row.temperature_c.is_some() {
            out.thermal.push(None);
        }
        let (p, thermal, _) = figures(level, unit)?;
        out.thermal.push(Some((p, thermal)));
    }
    for level in with(report, part, Roles::SIG_WIND) {
        if returns(Element::Wind, level) && level.row.wind.is_some() {
            out.winds.push(None);
        }
        let (p, _, wind) = figures(level, unit)?;
        out.winds.push(Some((p, wind)));
    }
    Ok(out)
}

/// Nh CL h CM CH in the order of the group NhCLhCMCH.
pub(crate) fn cloud_figures(clouds: Clouds) -> CloudFigures {
    let h = clouds
        .h
        .or_else(|| clouds.base_m.and_then(tables::cloud_base_figure));
    match clouds.sky {
        Some(Sky::Clear) => [Some(0), Some(0), Some(9), Some(0), Some(0)],
        // h is the vertical visibility.
        Some(Sky::Obscured) => [Some(9), None, h, None, None],
        Some(Sky::Unseen) => [None; 5],
        None => {
            let none = |figure: Option<u8>| figure.is_none_or(|f| f == 0);
            let high_alone = clouds.ch.is_some_and(|c| c > 0) && none(clouds.cl) && none(clouds.cm);
            if high_alone && none(clouds.nh) {
                // Neither low nor middle cloud: Nh 0, h 9 (B/C25.5.2.1).
                return [Some(0), Some(0), h.or(Some(9)), Some(0), clouds.ch];
            }
            // A low overcast hides what is above it: CM and CH stay solidi.
            [clouds.nh, clouds.cl, h, clouds.cm, clouds.ch]
        }
    }
}
