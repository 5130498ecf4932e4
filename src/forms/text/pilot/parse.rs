//! The strict reader: exactly the PILOT form, by position.

use super::print::BLOCK;
use super::{
    Fixed, Heights, LevelPart, MaximumAt, PilotMaximum, Step, WindLevels, WindPart, passes_gpm,
};
use crate::forms::text::groups::{Groups, Result, indicator, numbered};
use crate::forms::text::sections::read_last_sections;
use crate::model::{DepartureKind, Part};
use crate::tables::figure::height_tens;

/// Reads Part A or C after the identification.
pub(in crate::forms::text) fn winds(
    g: &mut Groups<'_>,
    part: Part,
    measuring: Option<u8>,
) -> Result<WindPart> {
    g.enter(2);
    let mut out = WindPart {
        measuring,
        ..WindPart::default()
    };
    // Some services begin at 1000 hPa: the list of TEMP has these surfaces too.
    let levels = g.standard_levels();
    let mut next = 0;
    loop {
        while g.take_lost(out.standard.len()) {}
        if !(g.peek_is("44") || g.peek_is("55")) {
            break;
        }
        let group = g.next("44nP1P1 or 55nP1P1 is expected")?;
        let by_height = group.starts_with("55");
        let count: Option<usize> = group.get(2..3).and_then(|n| n.parse().ok());
        let count = count
            .filter(|n| (1..=BLOCK).contains(n))
            .ok_or_else(|| g.error("n is 1 to 3, the number of surfaces in the block"))?;
        g.begin_level(1 + count);
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
                .ok_or_else(|| g.error("n goes above the last standard surface of the part"))?;
            out.standard.push(Fixed {
                pressure_hpa: level.pressure_hpa,
                by_height,
                wind: g.wind()?,
            });
        }
        next = from + count;
    }
    g.enter(3);
    let ends = g.ends_here() && (g.is_damaged() || !out.standard.is_empty());
    if ends && g.depart(DepartureKind::Absent, 3) {
        // Nothing is known of maximum winds.
    } else if !g.take("77999") {
        loop {
            while g.take_lost(out.maxima.len()) {}
            if g.ends_here() || !(g.peek_is("7") || g.peek_is("6")) {
                break;
            }
            out.maxima.push(maximum(g, part)?);
        }
        if out.maxima.is_empty() {
            let ends = g.ends_here() && (g.is_damaged() || !out.standard.is_empty());
            if !(ends && g.depart(DepartureKind::Absent, 3)) {
                g.any();
                return Err(g.error("77PPP, 66PPP, 7HHHH, 6HHHH or 77999 is expected"));
            }
        }
    }
    g.enter(5);
    (out.regional, out.national) = read_last_sections(g)?;
    Ok(out)
}

fn maximum(g: &mut Groups<'_>, part: Part) -> Result<PilotMaximum> {
    let group = g.next("a maximum wind is expected")?;
    g.begin_level(2);
    let at = if group.starts_with("77") || group.starts_with("66") {
        MaximumAt::Pressure(g.pressure(group, part.is_upper())?)
    } else {
        let height = tens_of_gpm(group);
        MaximumAt::Height(height.ok_or_else(|| g.error("HmHmHmHm is 0000 to 5999"))?)
    };
    Ok(PilotMaximum {
        top: group.starts_with('6'),
        at,
        wind: g.wind()?,
        shear: g.shear()?,
    })
}

/// The height behind the first figure of a group, tens of gpm, if a level can be so high.
fn tens_of_gpm(group: &str) -> Option<u16> {
    let tens: u16 = group.get(1..)?.parse().ok()?;
    height_tens(f64::from(tens) * 10.0).ok()
}

/// Reads Part B or D after the identification.
pub(in crate::forms::text) fn levels(
    g: &mut Groups<'_>,
    part: Part,
    measuring: Option<u8>,
) -> Result<LevelPart> {
    g.enter(4);
    let start = usize::from(part == Part::D);
    let mut trial = g.clone();
    let levels = if trial.take("21212") {
        let pressures = numbered(&mut trial, start, part.is_upper(), Groups::wind);
        let whole = trial.ends_here();
        match pressures {
            Ok(levels) if !levels.is_empty() && whole => {
                *g = trial;
                WindLevels::Pressures(levels)
            }
            read => {
                // After 21212 Region II has heights.
                let mut by_height = g.clone();
                match heights(&mut by_height, part) {
                    Ok(levels) if by_height.ends_here() => {
                        *g = by_height;
                        WindLevels::Heights(levels)
                    }
                    _ => {
                        *g = trial;
                        let levels = read?;
                        if levels.is_empty() {
                            g.any();
                            return Err(g.error("21212 is followed by levels"));
                        }
                        WindLevels::Pressures(levels)
                    }
                }
            }
        }
    } else {
        WindLevels::Heights(heights(g, part)?)
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

fn heights(g: &mut Groups<'_>, part: Part) -> Result<Heights> {
    let mut out = Heights::default();
    let mut step = None;
    // Below 100 hPa nothing is 30 km high: 1tnu1u2u3 is in Part D alone.
    let headings: &[&str] = if part == Part::D {
        &["9", "8", "1"]
    } else {
        &["9", "8"]
    };
    loop {
        while g.take_lost(out.levels.len() + out.above.len()) {}
        if !headings.iter().any(|heading| g.peek_is(heading)) {
            break;
        }
        let group = g.next("9tnu1u2u3 or 8tnu1u2u3 is expected")?;
        let own = if group.starts_with('8') {
            Step::M500
        } else {
            Step::M300
        };
        let mut figures = group.chars().skip(1).map(|c| c.to_digit(10));
        let tens = figures.next().flatten();
        let tens = tens.ok_or_else(|| g.error("tn is a figure"))?;
        let hundred = if group.starts_with('1') { 100 } else { 0 };
        let first = figures.clone().next().flatten();
        // A solidus stands for no level; some services write it in front too.
        let units: Vec<u32> = figures.flatten().collect();
        let Some(lowest) = units.first() else {
            return Err(g.error("u1u2u3 name one level at least"));
        };
        let lowest = hundred + tens * 10 + lowest;
        let passes = *step.get_or_insert(own) == Step::M300
            && own == Step::M500
            && part == Part::D
            && f64::from(lowest * 500) >= passes_gpm();
        let begins = passes && out.above.is_empty();
        if begins && !g.depart(DepartureKind::CoarserSteps, 4) {
            return Err(g.error("8 and 9 do not stand in one report"));
        }
        if !passes && (step != Some(own) || !out.above.is_empty()) {
            return Err(g.error("8 and 9 do not stand in one report"));
        }
        g.begin_level(1 + units.len());
        // The solidus in front of the first block stands for the surface, whose wind is
        // the first.
        let lowest_block = part == Part::B && tens == 0 && out.levels.is_empty();
        let ground = lowest_block && first.is_none();
        if ground {
            let one = group.get(3..4) != Some("/");
            if !(one && g.depart(DepartureKind::SurfaceSolidus, 4)) {
                return Err(g.error("u1u2u3 do not say which winds follow"));
            }
            g.begin_level(2 + units.len());
            out.levels.push((0, g.wind()?));
        }
        for unit in units {
            let steps = u8::try_from(hundred + tens * 10 + unit).unwrap_or(u8::MAX);
            let levels = if passes { &out.above } else { &out.levels };
            // Thousands of feet may round to the same 500 m, and a level just above the
            // surface to 0.
            let surface = out.levels.len() == 1 && ground;
            let least = u8::from(!passes && !surface);
            if levels.last().is_some_and(|(last, _)| steps < *last + least) {
                return Err(g.error("heights rise from level to level"));
            }
            let wind = g.wind()?;
            let levels = if passes {
                &mut out.above
            } else {
                &mut out.levels
            };
            levels.push((steps, wind));
        }
    }
    let start = usize::from(part == Part::D);
    if g.take("21212") {
        if !g.depart(DepartureKind::Heights, 4) {
            return Err(g.error("after 21212 levels by pressure are expected"));
        }
        loop {
            let number = indicator(start + out.significant.len());
            let number = number.get(..1).unwrap_or_default();
            while g.take_lost(out.significant.len()) {}
            if g.ends_here() || !g.peek_is(number) {
                break;
            }
            let group = g.next("nHHHH is expected")?;
            g.begin_level(2);
            let tens = tens_of_gpm(group).ok_or_else(|| g.error("HHHH is 0000 to 5999"))?;
            if out
                .significant
                .last()
                .is_some_and(|(last, _)| tens <= *last)
            {
                return Err(g.error("heights rise from level to level"));
            }
            out.significant.push((tens, g.wind()?));
        }
    }
    out.step = step.unwrap_or(if out.significant.is_empty() {
        Step::M300
    } else {
        Step::M500
    });
    let nothing_left = g.is_damaged() && g.ends_here();
    if out.levels.is_empty() && out.significant.is_empty() && !nothing_left {
        g.any();
        return Err(g.error("9tnu1u2u3, 8tnu1u2u3 or 21212 is expected"));
    }
    Ok(out)
}
