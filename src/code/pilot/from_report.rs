//! Report → PILOT parts: the one place where their values become figures.

use std::collections::BTreeMap;

use super::{Fixed, Heights, LevelPart, MaximumAt, PilotMaximum, Step, WindLevels, WindPart};
use crate::code::temp::from_report::{at, maxima, pressure, shears, wind};
use crate::code::{Body, CodeError};
use crate::figure::{PressureFigure, height_steps, height_tens, is_upper};
use crate::finding::Finding;
use crate::sounding::{Element, Kept, Level, Part, PilotLevels, Report, Roles};
use crate::tables;

/// The PILOT parts of a report.
pub(in crate::code) fn parts(
    report: &Report,
    findings: &mut Vec<Finding>,
) -> Result<BTreeMap<Part, Body>, CodeError> {
    let mut parts = BTreeMap::new();
    for (&part, kept) in report.parts.iter().filter(|(_, kept)| !kept.nil) {
        let body = match part {
            Part::A | Part::C => Body::Winds(wind_part(report, part, kept, findings)?),
            Part::B | Part::D => Body::Levels(level_part(report, part, kept)?),
        };
        parts.insert(part, body);
    }
    Ok(parts)
}

fn wind_part(
    report: &Report,
    part: Part,
    kept: &Kept,
    findings: &mut Vec<Finding>,
) -> Result<WindPart, CodeError> {
    let unit = report.context.coding.wind_unit;
    let mut out = WindPart {
        measuring: kept.measuring,
        regional: kept.regional.clone(),
        national: kept.national.clone(),
        ..WindPart::default()
    };
    // The levels say which surfaces there are: some services begin at 1000 hPa.
    for standard in tables::temp_levels(report.context.coding.region, part) {
        let p = f64::from(standard.pressure_hpa);
        let here = |l: &&Level| l.roles.any(Roles::STANDARD) && l.row.pressure_hpa == Some(p);
        if let Some(level) = report.levels.iter().find(here) {
            out.standard.push(Fixed {
                pressure_hpa: standard.pressure_hpa,
                by_height: level.roles.any(Roles::FROM_HEIGHT),
                wind: wind(level, unit)?,
            });
        }
    }
    for (maximum, level) in maxima(report, part) {
        let place = match (maximum.pressure_hpa, maximum.height_gpm) {
            (Some(p), _) => {
                let figure = PressureFigure::from_value(p).map_err(at(level))?;
                MaximumAt::Pressure(crate::code::temp::from_report::apart(figure, findings))
            }
            (None, Some(z)) => MaximumAt::Height(height_tens(z).map_err(at(level))?),
            (None, None) => continue,
        };
        out.maxima.push(PilotMaximum {
            top: level.roles.any(Roles::TOP_OF_WIND),
            at: place,
            wind: wind(level, unit)?,
            shear: maximum.shear.map(|s| shears(&s, unit)),
        });
    }
    Ok(out)
}

/// The levels of section 4 of a part, lowest first.
pub(crate) fn of_section4(report: &Report, part: Part) -> impl Iterator<Item = &Level> {
    let by_height = report.context.coding.pilot_levels != Some(PilotLevels::Pressure);
    let roles = Roles::SIG_WIND | Roles::REGIONAL;
    report.levels.iter().filter(move |level| {
        let upper = if level.roles.any(Roles::SURFACE) {
            false
        } else if by_height {
            let divide = report.divide_gpm.unwrap_or(f64::INFINITY);
            level.row.height_gpm.is_some_and(|z| z > divide)
        } else {
            is_upper(pressure(level))
        };
        level.roles.any(roles) && upper == part.is_upper()
    })
}

fn level_part(report: &Report, part: Part, kept: &Kept) -> Result<LevelPart, CodeError> {
    let coding = &report.context.coding;
    let unit = coding.wind_unit;
    let step = match coding.pilot_levels {
        Some(PilotLevels::Pressure) => None,
        Some(PilotLevels::Height500) => Some(Step::M500),
        _ => Some(Step::M300),
    };
    let levels = match step {
        Some(step) => {
            let mut levels = Vec::new();
            for level in of_section4(report, part) {
                let steps = match level.row.height_gpm {
                    _ if level.roles.any(Roles::SURFACE) => 0,
                    Some(z) => height_steps(z, step.metres(), step.most()).map_err(at(level))?,
                    None => continue,
                };
                levels.push((steps, wind(level, unit)?));
            }
            WindLevels::Heights(Heights { step, levels })
        }
        None => {
            // A layer without data is marked before the level at which it ends.
            let returns = |level: &Level| {
                report.missing.iter().any(|m| {
                    m.element == Element::Wind
                        && m.to_hpa.is_some()
                        && m.to_hpa == level.row.pressure_hpa
                })
            };
            let mut levels = Vec::new();
            for level in of_section4(report, part) {
                if returns(level) && level.row.wind.is_some() {
                    levels.push(None);
                }
                let p = PressureFigure::from_value(pressure(level)).map_err(at(level))?;
                levels.push(Some((p, wind(level, unit)?)));
            }
            WindLevels::Pressures(levels)
        }
    };
    Ok(LevelPart {
        measuring: kept.measuring,
        levels,
        regional: kept.regional.clone(),
        national: kept.national.clone(),
    })
}
