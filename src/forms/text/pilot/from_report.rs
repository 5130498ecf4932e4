//! Report → PILOT parts: the one place where their values become figures.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use itertools::{Either, Itertools};

use super::{
    Fixed, Heights, LevelPart, MaximumAt, PilotMaximum, Step, WindLevels, WindPart, passes_gpm,
};
use crate::forms::text::temp::from_report::{
    at, ends_in_gap, has_figure, make_room, maxima_not_in_text, moved, not_in_text, placed_at,
    placed_maxima, pressure, reads_as_none, shears, wind,
};
use crate::forms::text::templates::with_made;
use crate::forms::text::{Body, CodeError, surfaces_for};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{
    DepartureKind, Departures, Element, Form, Level, Part, PartContent, PilotLevels, Report,
    Resolution, Roles,
};
use crate::tables;
use crate::tables::figure::{height_steps, height_tens, is_upper};

/// The PILOT parts of a report.
pub(in crate::forms::text) fn parts(
    report: &Report,
    findings: &mut Vec<Finding>,
) -> Result<BTreeMap<Part, Body>, CodeError> {
    let mut parts = BTreeMap::new();
    for (&part, kept) in report.parts.iter().filter(|(_, kept)| !kept.nil) {
        let kept = &with_made(report, part, kept, Vec::new(), findings);
        let body = match part {
            Part::A | Part::C => Body::Winds(Box::new(wind_part(report, part, kept, findings)?)),
            Part::B | Part::D => Body::Levels(Box::new(level_part(report, part, kept, findings)?)),
        };
        // A part without a level has no text.
        if let Body::Levels(p) = &body
            && p.levels.is_empty()
            && !kept.departures.salvaged
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
    let own = surfaces_for(report, Form::Pilot, part).into_iter();
    let known = tables::known_levels(Form::Pilot, part, &[]).into_iter();
    let all = own.chain(known).sorted_by_key(|s| Reverse(s.pressure_hpa));
    for standard in all.dedup_by(|a, b| a.pressure_hpa == b.pressure_hpa) {
        let p = f64::from(standard.pressure_hpa);
        let here = |l: &&Level| l.roles.any(Roles::STANDARD) && l.row.pressure_hpa == Some(p);
        if let Some(level) = report.levels.iter().find(here) {
            out.standard.push(Fixed {
                pressure_hpa: standard.pressure_hpa,
                by_height: level.roles.any(Roles::FROM_HEIGHT),
                wind: wind(level, report, findings),
            });
        }
    }
    findings.extend(maxima_not_in_text(report, part));
    for (maximum, level) in placed_maxima(report, part) {
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
            wind: wind(level, report, findings),
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

/// How section 4 gives heights; `None`: levels by pressure.
fn step(levels: Option<PilotLevels>) -> Option<Step> {
    match levels {
        Some(PilotLevels::Pressure) => None,
        Some(PilotLevels::Height500) => Some(Step::M500),
        _ => Some(Step::M300),
    }
}

/// Where section 4 has a level by height.
#[derive(Clone, Copy)]
enum CodedHeight {
    /// In steps, among the fixed levels.
    Steps(u8),
    /// In steps of 500 m above 30 km, after levels in steps of 300 m.
    Above(u8),
    /// In tens of metres, after 21212.
    Tens(u16),
}

/// The height of a level in section 4; `None` where no group holds it: 0 is the surface,
/// and nothing else can be given below step 1.
fn coded_height(level: &Level, step: Step, departures: &Departures) -> Option<CodedHeight> {
    if departures.has(DepartureKind::Heights, 4) && !level.roles.any(Roles::REGIONAL) {
        return height_tens(level.row.height_gpm?)
            .ok()
            .map(CodedHeight::Tens);
    }
    if level.roles.any(Roles::SURFACE) {
        return Some(CodedHeight::Steps(0));
    }
    let height_gpm = level.row.height_gpm?;
    if departures.has(DepartureKind::CoarserSteps, 4) && height_gpm >= passes_gpm() {
        let steps = height_steps(height_gpm, Step::M500.metres(), Step::M500.most()).ok()?;
        return Some(CodedHeight::Above(steps));
    }
    let steps = height_steps(height_gpm, step.metres(), step.most()).ok()?;
    let ground = departures.has(DepartureKind::SurfaceSolidus, 4);
    (steps > 0 || ground).then_some(CodedHeight::Steps(steps))
}

/// Whether a group of section 4 can hold a level.
fn is_coded(level: &Level, step: Option<Step>, departures: &Departures) -> bool {
    match step {
        Some(step) => coded_height(level, step, departures).is_some(),
        None => has_figure(level),
    }
}

/// Whether section 4 can hold a level where it gives levels like this.
pub(crate) fn can_be_coded(level: &Level, levels: PilotLevels) -> bool {
    is_coded(level, step(Some(levels)), &Departures::default())
}

/// The levels of section 4 of a part that its groups can hold, in the order of the text:
/// significant levels after 21212 come last.
pub(in crate::forms::text) fn coded_in_section4(report: &Report, part: Part) -> Vec<&Level> {
    let step = step(report.context.coding.pilot_levels);
    let departures = departures(report, part);
    let mut levels: Vec<&Level> = of_section4(report, part)
        .filter(|level| is_coded(level, step, &departures))
        .collect();
    if departures.has(DepartureKind::Heights, 4) {
        levels.sort_by_key(|level| !level.roles.any(Roles::REGIONAL));
    }
    levels
}

fn departures(report: &Report, part: Part) -> Departures {
    let kept = report.parts.get(&part);
    kept.map(|kept| kept.departures.clone()).unwrap_or_default()
}

/// The finding about a level below the first step of section 4.
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
    let step = step(report.context.coding.pilot_levels);
    let coded = coded_in_section4(report, part);
    let left_out =
        of_section4(report, part).filter(|level| !is_coded(level, step, &kept.departures));
    let (low, other): (Vec<_>, Vec<_>) =
        left_out.partition_map(|level| match (level.row.height_gpm, step) {
            (Some(z), Some(step)) if z < f64::from(step.metres()) / 2.0 => Either::Left((z, step)),
            _ => Either::Right(level),
        });
    findings.extend(
        low.into_iter()
            .map(|(z, step)| below_the_first_step(z, step)),
    );
    findings.extend(not_in_text(other.into_iter()));
    let levels = match step {
        Some(step) => {
            let mut heights = Heights {
                step,
                ..Heights::default()
            };
            for level in &coded {
                let Some(height) = coded_height(level, step, &kept.departures) else {
                    continue;
                };
                let wind = wind(level, report, findings);
                match height {
                    CodedHeight::Steps(steps) => heights.levels.push((steps, wind)),
                    CodedHeight::Above(steps) => heights.above.push((steps, wind)),
                    CodedHeight::Tens(tens) => heights.significant.push((tens, wind)),
                }
            }
            WindLevels::Heights(heights)
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
            for level in coded.iter().copied() {
                if returns(level)
                    && (level.row.wind.is_some() || report.resolution == Resolution::Text)
                {
                    levels.push(None);
                }
                levels.push(Some((placed_at(level)?, wind(level, report, findings))));
            }
            make_room(&mut levels, &coded);
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
