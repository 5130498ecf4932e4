//! What the groups of PILOT parts say.

use super::{other, sections, shear_words, wind_words};
use crate::forms::text::{LevelPart, MaximumAt, Message, NoLevel, Set, WindLevels, WindPart};
use crate::model::quantity::SpeedUnit;
use crate::model::{Part, Report};

/// What a part with standard surfaces says, set by set.
pub(super) fn winds(
    message: &Message,
    part: Part,
    report: &Report,
    p: &WindPart,
    sets: &[(Set, Vec<String>)],
) -> Vec<Vec<String>> {
    let unit = message.unit;
    let one = |i: usize, set: &Set, count: usize| match *set {
        Set::Standard(n) => p.standard.get(n).map(|fixed| {
            let mut out = Vec::new();
            if count > 1 {
                let how = if fixed.by_height {
                    "heights stand for the surfaces"
                } else {
                    "found by pressure equipment"
                };
                let surfaces = p.standard.iter().skip(n).take(block(sets, i));
                let names: Vec<String> = surfaces.map(|f| f.pressure_hpa.to_string()).collect();
                out.push(format!("winds at {} hPa follow; {how}", listed(&names)));
            }
            let wind = wind_words(fixed.wind, unit);
            out.push(format!("at {} hPa: {wind}", fixed.pressure_hpa));
            out
        }),
        Set::Maximum(n) => p.maxima.get(n).map(|m| {
            let name = if m.top {
                "greatest wind, at the top of the wind sounding"
            } else {
                "maximum wind"
            };
            let at = match m.at {
                MaximumAt::Pressure(p) => format!("{} hPa", p.value_hpa()),
                MaximumAt::Height(tens) => format!("{} gpm", u32::from(tens) * 10),
            };
            let mut out = vec![format!("{name}, at {at}"), wind_words(m.wind, unit)];
            out.extend(m.shear.map(|shear| shear_words(shear, unit)));
            out
        }),
        Set::Other(NoLevel::End) => Some(sections::last_sections(
            part,
            report,
            &p.regional,
            &p.national,
        )),
        Set::Other(stated) => Some(other(stated)),
        _ => None,
    };
    sets.iter()
        .enumerate()
        .map(|(i, (set, groups))| one(i, set, groups.len()).unwrap_or_default())
        .collect()
}

/// How many winds belong to the block that begins with a set.
fn block(sets: &[(Set, Vec<String>)], at: usize) -> usize {
    let more = sets.get(at + 1..).unwrap_or_default().iter();
    let more = more.take_while(|(set, groups)| {
        matches!(set, Set::Standard(_) | Set::Wind(_)) && groups.len() == 1
    });
    1 + more.count()
}

/// Words one after the other, with `and` before the last.
fn listed(names: &[String]) -> String {
    match names {
        [rest @ .., last] if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => names.concat(),
    }
}

/// What a part with significant levels says, set by set.
pub(super) fn levels(
    part: Part,
    report: &Report,
    p: &LevelPart,
    unit: SpeedUnit,
    sets: &[(Set, Vec<String>)],
) -> Vec<Vec<String>> {
    let one = |i: usize, set: &Set, count: usize| match (*set, &p.levels) {
        (Set::Wind(n), WindLevels::Heights(h)) => {
            let name = |steps: u8| match u32::from(steps) * u32::from(h.step.metres()) {
                0 => "the surface".to_owned(),
                metres => format!("{metres} m"),
            };
            let (steps, wind) = h.levels.get(n)?;
            let mut out = Vec::new();
            if count > 1 {
                let block = h.levels.iter().skip(n).take(block(sets, i));
                let names: Vec<String> = block.map(|(steps, _)| name(*steps)).collect();
                let step = h.step.metres();
                out.push(format!(
                    "winds at {} follow; heights in steps of {step} m",
                    listed(&names)
                ));
            }
            out.push(format!("at {}: {}", name(*steps), wind_words(*wind, unit)));
            Some(out)
        }
        (Set::Wind(n), WindLevels::Pressures(levels)) => {
            let (pressure, wind) = levels.iter().flatten().nth(n)?;
            let surface = part == Part::B && n == 0 && levels.first().is_some_and(Option::is_some);
            let place = sections::significant(surface, pressure.value_hpa());
            Some(vec![place, wind_words(*wind, unit)])
        }
        (Set::Other(NoLevel::End), _) => Some(sections::last_sections(
            part,
            report,
            &p.regional,
            &p.national,
        )),
        (Set::Other(stated), _) => Some(other(stated)),
        _ => None,
    };
    sets.iter()
        .enumerate()
        .map(|(i, (set, groups))| one(i, set, groups.len()).unwrap_or_default())
        .collect()
}
