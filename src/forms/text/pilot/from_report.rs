//! Report → PILOT parts: the one place where their values become figures.

use std::collections::BTreeMap;

use super::{Fixed, Heights, LevelPart, MaximumAt, PilotMaximum, Step, WindLevels, WindPart};
use crate::forms::text::temp::from_report::{
    at, ends_in_gap, make_room, moved, placed_at, pressure, reads_as_none, shears, wind,
};
use crate::forms::text::{Body, CodeError};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Element, Level, Part, PartContent, PilotLevels, Report, Roles};
use crate::tables;
use crate::tables::figure::{height_steps, height_tens, is_upper};

/// The PILOT parts of a report.
pub(in crate::forms::text) fn parts(
    report: &Report,
    findings: &mut Vec<Finding>,
) -> Result<BTreeMap<Part, Body>, CodeError> {
    let mut parts = BTreeMap::new();
    for (&part, kept) in report.parts.iter().filter(|(_, kept)| !kept.nil) {
        let body = match part {
            Part::A | Part::C => Body::Winds(wind_part(report, part, kept, findings)?),
            Part::B | Part::D => Body::Levels(level_part(report, part, kept, findings)?),
        };
        // A part without a level has no text.
        if let Body::Levels(p) = &body
            && p.levels.is_empty()
        {
            continue;
        }
        parts.insert(part, body);
    }
    Ok(parts)
}

fn wind_part(
    report: &Report,
    part: Part,
    kept: &PartContent,
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
                wind: wind(level, report)?,
            });
        }
    }
    for (maximum, level) in report.maxima_of(part) {
        let place = match (maximum.pressure_hpa, maximum.height_gpm) {
            (Some(_), _) => {
                findings.extend(reads_as_none(level).then(|| moved(level)));
                MaximumAt::Pressure(placed_at(level)?)
            }
            (None, Some(z)) => MaximumAt::Height(height_tens(z).map_err(at(level))?),
            (None, None) => continue,
        };
        out.maxima.push(PilotMaximum {
            top: level.roles.any(Roles::TOP_OF_WIND),
            at: place,
            wind: wind(level, report)?,
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

/// The finding about a level that no figure of section 4 can hold.
fn below_the_first_step(height_gpm: f64, step: Step) -> Finding {
    finding!(
        LevelBelowFirstStep,
        Place::default(),
        height_gpm = height_gpm,
        step_m = step.metres()
    )
}

fn level_part(
    report: &Report,
    part: Part,
    kept: &PartContent,
    findings: &mut Vec<Finding>,
) -> Result<LevelPart, CodeError> {
    let step = match report.context.coding.pilot_levels {
        Some(PilotLevels::Pressure) => None,
        Some(PilotLevels::Height500) => Some(Step::M500),
        _ => Some(Step::M300),
    };
    let levels = match step {
        Some(step) => {
            let mut levels = Vec::new();
            for level in of_section4(report, part) {
                let surface = level.roles.any(Roles::SURFACE);
                let steps = match level.row.height_gpm {
                    _ if surface => 0,
                    Some(z) if z < f64::from(step.metres()) / 2.0 => {
                        // 0 is the surface, and nothing else can be said below step 1.
                        findings.push(below_the_first_step(z, step));
                        continue;
                    }
                    Some(z) => height_steps(z, step.metres(), step.most()).map_err(at(level))?,
                    None => continue,
                };
                levels.push((steps, wind(level, report)?));
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
                levels.push(Some((placed_at(level)?, wind(level, report)?)));
            }
            let of_part: Vec<&Level> = of_section4(report, part).collect();
            make_room(&mut levels, &of_part);
            if ends_in_gap(report, part, Element::Wind) {
                levels.push(None);
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
