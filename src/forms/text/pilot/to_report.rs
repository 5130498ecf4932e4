//! PILOT parts → report: the values that the figures stand for.
//!
//! Levels by height have no pressure and levels by pressure no height: the text
//! does not say how the two belong together.

use std::cell::Cell;

use super::{LevelPart, MaximumAt, WindLevels, WindPart};
use crate::forms::text::temp::to_report::{Carried, Sections, of_section};
use crate::forms::text::{Body, Message};
use crate::model::quantity::SpeedUnit;
use crate::model::{
    At, Axis, Element, Equipment, Level, MaxWind, MissingLayer, Part, PartContent, PilotLevels,
    Report, Roles, Row, Shear, Wind,
};
use crate::tables::figure::{PressureFigure, WindFigure};

/// Adds what the parts of a PILOT message say to its report.
pub(in crate::forms::text) fn fill(message: &Message, report: &mut Report) {
    let mut carried = Sections::default();
    let mut levels: Vec<Level> = Vec::new();
    let mut measuring = None;
    let mut highest_below = None;
    let mut lowest_above = None;
    for (&part, body) in &message.parts {
        let kept = match body {
            Body::Winds(p) => {
                let mut of = OfWinds {
                    part,
                    unit: message.unit,
                    carried: &mut carried,
                    levels: &mut levels,
                    maxima: &mut report.maxima,
                };
                of.read(p);
                (p.measuring, &p.regional, &p.national)
            }
            Body::Levels(p) => {
                let by = of_levels(
                    p,
                    part,
                    message.unit,
                    &mut carried,
                    &mut levels,
                    &mut report.missing,
                );
                report.context.coding.pilot_levels = Some(by);
                if let WindLevels::Heights(h) = &p.levels {
                    report.axis = Axis::Height;
                    let metres = |steps: u8| f64::from(steps) * f64::from(h.step.metres());
                    if part.is_upper() {
                        lowest_above = h.levels.first().map(|l| metres(l.0));
                    } else {
                        highest_below = h.levels.last().map(|l| metres(l.0));
                    }
                }
                (p.measuring, &p.regional, &p.national)
            }
            _ => continue,
        };
        measuring = measuring.or(kept.0);
        let kept = PartContent {
            measuring: kept.0,
            regional: kept.1.clone(),
            national: kept.2.clone(),
            ..PartContent::default()
        };
        report.parts.insert(part, kept);
    }
    levels.sort_by(|l, r| l.order().total_cmp(&r.order()));
    report.levels = merged(levels, carried.levels(message.unit));
    report.divide_gpm = highest_below.or(lowest_above.map(|z| z - 1.0));
    report.context.equipment = Equipment {
        measuring,
        ..Equipment::default()
    };
}

/// Levels by height and levels by pressure in one rising order; each list keeps its
/// own.
fn merged(by_height: Vec<Level>, by_pressure: Vec<Level>) -> Vec<Level> {
    let mut out = Vec::with_capacity(by_height.len() + by_pressure.len());
    let mut heights = by_height.into_iter().peekable();
    for level in by_pressure {
        while let Some(lower) = heights.next_if(|h| h.order() <= level.order()) {
            out.push(lower);
        }
        out.push(level);
    }
    out.extend(heights);
    out
}

fn value(wind: Option<WindFigure>, unit: SpeedUnit) -> Option<Wind> {
    wind.map(|w| Wind {
        dir_deg: w.dir_deg(),
        speed_ms: w.speed_ms(unit),
    })
}

fn by_height(height_gpm: Option<f64>, wind: Option<Wind>, roles: Roles) -> Level {
    Level {
        row: Row {
            height_gpm,
            wind,
            ..Row::default()
        },
        at: At::Received,
        roles,
        why: Vec::new(),
    }
}

/// Part A or C, as it is read.
struct OfWinds<'a> {
    part: Part,
    unit: SpeedUnit,
    carried: &'a mut Sections,
    levels: &'a mut Vec<Level>,
    maxima: &'a mut Vec<MaxWind>,
}

impl OfWinds<'_> {
    fn read(&mut self, part: &WindPart) {
        self.carried.begin();
        for fixed in &part.standard {
            let Ok(pressure) = PressureFigure::from_value(f64::from(fixed.pressure_hpa)) else {
                continue;
            };
            let how = if fixed.by_height {
                Roles::FROM_HEIGHT
            } else {
                Roles::empty()
            };
            self.carried.push(Carried {
                pressure,
                thermal: None,
                wind: Some(fixed.wind),
                height_gpm: None,
                roles: Roles::STANDARD | how,
            });
        }
        for m in &part.maxima {
            // They are reported by speed.
            self.carried.begin();
            let top = if m.top {
                Roles::TOP_OF_WIND
            } else {
                Roles::empty()
            };
            let roles = Roles::MAX_WIND | top;
            let ms = |code: Option<u8>| code.map(|c| self.unit.to_ms(f64::from(c)));
            let shear = m.shear.map(|(below, above)| Shear {
                below_ms: ms(below),
                above_ms: ms(above),
            });
            let (pressure_hpa, height_gpm) = match m.at {
                MaximumAt::Pressure(pressure) => {
                    self.carried.push(Carried {
                        pressure,
                        thermal: None,
                        wind: Some(m.wind),
                        height_gpm: None,
                        roles,
                    });
                    (Some(pressure.value_hpa()), None)
                }
                MaximumAt::Height(tens) => {
                    let z = f64::from(tens) * 10.0;
                    let wind = value(m.wind, self.unit);
                    self.levels.push(by_height(Some(z), wind, roles));
                    (None, Some(z))
                }
            };
            self.maxima.push(MaxWind {
                part: self.part,
                pressure_hpa,
                height_gpm,
                shear,
            });
        }
    }
}

fn of_levels(
    p: &LevelPart,
    part: Part,
    unit: SpeedUnit,
    carried: &mut Sections,
    levels: &mut Vec<Level>,
    missing: &mut Vec<MissingLayer>,
) -> PilotLevels {
    match &p.levels {
        WindLevels::Heights(heights) => {
            for &(steps, wind) in &heights.levels {
                let surface = steps == 0 && part == Part::B;
                let z = f64::from(steps) * f64::from(heights.step.metres());
                let (z, roles) = if surface {
                    (None, Roles::SURFACE | Roles::SIG_WIND)
                } else {
                    (Some(z), Roles::SIG_WIND)
                };
                levels.push(by_height(z, value(wind, unit), roles));
            }
            match heights.step {
                super::Step::M300 => PilotLevels::Height300,
                super::Step::M500 => PilotLevels::Height500,
            }
        }
        WindLevels::Pressures(winds) => {
            // The first level of Part B is the surface, unless it was not reached.
            let surface = Cell::new(part == Part::B && winds.first().is_some_and(Option::is_some));
            let carry = |level: &(PressureFigure, Option<WindFigure>)| Carried {
                pressure: level.0,
                thermal: None,
                wind: Some(level.1),
                height_gpm: None,
                roles: if surface.replace(false) {
                    Roles::SIG_WIND | Roles::SURFACE
                } else {
                    Roles::SIG_WIND
                },
            };
            of_section(winds, Element::Wind, carry, carried, missing);
            PilotLevels::Pressure
        }
    }
}
