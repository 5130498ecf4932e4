//! The strict reader: exactly the PILOT form, by position.

use super::print::BLOCK;
use super::{Fixed, Heights, LevelPart, MaximumAt, PilotMaximum, Step, WindLevels, WindPart};
use crate::forms::text::groups::{Groups, Result, indicator};
use crate::forms::text::sections::read_last_sections;
use crate::model::{Part, Region};
use crate::tables;
use crate::tables::StandardLevel;

/// Reads Part A or C after the identification.
pub(in crate::forms::text) fn winds(
    g: &mut Groups,
    part: Part,
    measuring: Option<u8>,
) -> Result<WindPart> {
    g.enter(2);
    let mut out = WindPart {
        measuring,
        ..WindPart::default()
    };
    // Some services begin at 1000 hPa: the list of TEMP has these surfaces too.
    let levels: Vec<&StandardLevel> = tables::temp_levels(Region::IV, part).collect();
    let mut next = 0;
    while g.peek_is("44") || g.peek_is("55") {
        let group = g.next("44nP1P1 or 55nP1P1 is expected")?;
        let by_height = group.starts_with("55");
        let count: Option<usize> = group.get(2..3).and_then(|n| n.parse().ok());
        let count = count
            .filter(|n| (1..=BLOCK).contains(n))
            .ok_or_else(|| g.error("n is 1 to 3, the number of surfaces in the block"))?;
        let pp: Option<u8> = group.get(3..).and_then(|p| p.parse().ok());
        let from = levels
            .iter()
            .position(|l| Some(l.pp) == pp)
            .ok_or_else(|| g.error("P1P1 is no standard surface of the part"))?;
        if from < next {
            return Err(g.error("the surfaces of the blocks rise"));
        }
        for i in from..from + count {
            let level = levels
                .get(i)
                .ok_or_else(|| g.error("n goes beyond the last standard surface of the part"))?;
            out.standard.push(Fixed {
                pressure_hpa: level.pressure_hpa,
                by_height,
                wind: g.wind()?,
            });
        }
        next = from + count;
    }
    g.enter(3);
    if !g.take("77999") {
        while g.peek_is("7") || g.peek_is("6") {
            if g.peek() == Some("61616") {
                break;
            }
            out.maxima.push(maximum(g, part)?);
        }
        if out.maxima.is_empty() {
            g.any();
            return Err(g.error("77PPP, 66PPP, 7HHHH, 6HHHH or 77999 is expected"));
        }
    }
    g.enter(5);
    (out.regional, out.national) = read_last_sections(g)?;
    Ok(out)
}

fn maximum(g: &mut Groups, part: Part) -> Result<PilotMaximum> {
    let group = g.next("a maximum wind is expected")?;
    let at = if group.starts_with("77") || group.starts_with("66") {
        MaximumAt::Pressure(g.pressure(&group, part.is_upper())?)
    } else {
        let height = group.get(1..).and_then(|h| h.parse().ok());
        MaximumAt::Height(height.ok_or_else(|| g.error("HmHmHmHm is four figures"))?)
    };
    Ok(PilotMaximum {
        top: group.starts_with('6'),
        at,
        wind: g.wind()?,
        shear: g.shear()?,
    })
}

/// Reads Part B or D after the identification.
pub(in crate::forms::text) fn levels(
    g: &mut Groups,
    part: Part,
    measuring: Option<u8>,
) -> Result<LevelPart> {
    g.enter(4);
    let levels = if g.take("21212") {
        WindLevels::Pressures(pressures(g, part)?)
    } else {
        WindLevels::Heights(heights(g)?)
    };
    g.enter(5);
    let (regional, national) = read_last_sections(g)?;
    Ok(LevelPart {
        measuring,
        levels,
        regional,
        national,
    })
}

type PressureLevels = Vec<
    Option<(
        tables::figure::PressureFigure,
        Option<tables::figure::WindFigure>,
    )>,
>;

fn pressures(g: &mut Groups, part: Part) -> Result<PressureLevels> {
    let start = usize::from(part == Part::D);
    let mut out = PressureLevels::new();
    while g.peek_is(&indicator(start + out.len())) {
        let group = g.next("nnPPP is expected")?;
        out.push(if group.ends_with("///") {
            g.nothing()?;
            None
        } else {
            Some((g.pressure(&group, part.is_upper())?, g.wind()?))
        });
    }
    if out.is_empty() {
        return Err(g.error("21212 is followed by levels"));
    }
    Ok(out)
}

fn heights(g: &mut Groups) -> Result<Heights> {
    let mut step = None;
    let mut levels: Vec<(u8, Option<tables::figure::WindFigure>)> = Vec::new();
    while g.peek_is("9") || g.peek_is("8") || g.peek_is("1") {
        let group = g.next("9tnu1u2u3 or 8tnu1u2u3 is expected")?;
        let own = if group.starts_with('8') {
            Step::M500
        } else {
            Step::M300
        };
        if *step.get_or_insert(own) != own {
            return Err(g.error("8 and 9 do not stand in one report"));
        }
        let mut figures = group.chars().skip(1).map(|c| c.to_digit(10));
        let tens = figures.next().flatten();
        let tens = tens.ok_or_else(|| g.error("tn is a figure"))?;
        let hundred = if group.starts_with('1') { 100 } else { 0 };
        // A solidus stands for no level; some services write it in front too.
        let units: Vec<u32> = figures.flatten().collect();
        if units.is_empty() {
            return Err(g.error("u1u2u3 name one level at least"));
        }
        for unit in units {
            let steps = u8::try_from(hundred + tens * 10 + unit).unwrap_or(u8::MAX);
            if levels.last().is_some_and(|(last, _)| steps <= *last) {
                return Err(g.error("heights rise from level to level"));
            }
            levels.push((steps, g.wind()?));
        }
    }
    if levels.is_empty() {
        g.any();
        return Err(g.error("9tnu1u2u3, 8tnu1u2u3 or 21212 is expected"));
    }
    Ok(Heights {
        step: step.unwrap_or_default(),
        levels,
    })
}
