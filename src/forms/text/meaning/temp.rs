//! What the groups of TEMP parts say.

use super::{other, sections, shear_words, signed, thermal_words, wind_words};
use crate::forms::text::{Message, NoLevel, Placed, Set, SignificantPart, StandardPart};
use crate::model::DepartureKind;
use crate::model::quantity::SpeedUnit;
use crate::model::{Part, Report, Roles};

/// What a part with standard surfaces says, set by set.
pub(super) fn standard(
    message: &Message,
    part: Part,
    report: &Report,
    p: &StandardPart,
    sets: &[(Set, Vec<String>)],
) -> Vec<Vec<String>> {
    let unit = message.unit;
    // One place decides which height a figure stands for.
    let given = message.report();
    let height = |pressure_hpa: u16| {
        let pressure = Some(f64::from(pressure_hpa));
        let mut levels = given.levels.iter();
        let level = levels.find(|l| l.row.pressure_hpa == pressure && l.roles.any(Roles::STANDARD));
        level.and_then(|l| l.row.height_gpm)
    };
    let one = |set: &Set, count: usize| match *set {
        Set::Surface => p.surface.as_ref().map(|s| placed("surface", s, unit)),
        Set::Standard(n) => p.standard.get(n).map(|s| {
            let first = match height(s.pressure_hpa).filter(|_| s.height.is_some()) {
                Some(z) => format!(
                    "{} hPa at {} gpm",
                    s.pressure_hpa,
                    signed(z).trim_end_matches(".0")
                ),
                None => format!("{} hPa, height missing", s.pressure_hpa),
            };
            let mut out = vec![first, thermal_words(s.thermal), wind_words(s.wind, unit)];
            out.truncate(count);
            out
        }),
        Set::Tropopause(n) => p.tropopauses.get(n).map(|t| {
            let name = match n {
                0 => "first tropopause of the part",
                1 => "second tropopause of the part",
                _ => "further tropopause",
            };
            placed(name, t, unit)
        }),
        Set::Maximum(n) => p.maxima.get(n).map(|m| {
            let name = if m.top {
                "greatest wind, at the top of the wind sounding"
            } else {
                "maximum wind"
            };
            let mut out = vec![
                format!("{name}, at {} hPa", m.pressure.value_hpa()),
                wind_words(m.wind, unit),
            ];
            out.extend(m.shear.map(|shear| shear_words(shear, unit)));
            out
        }),
        Set::Other(NoLevel::End) => {
            let mut out = Vec::new();
            out.extend(p.sonde.iter().flat_map(|s| sections::sonde(s, report)));
            out.extend(sections::last_sections(
                part,
                report,
                &p.regional,
                &p.national,
            ));
            Some(out)
        }
        Set::Other(stated) => Some(other(stated)),
        Set::Thermal(_) | Set::Wind(_) => None,
    };
    sets.iter()
        .map(|(set, groups)| one(set, groups.len()).unwrap_or_default())
        .collect()
}

fn placed(name: &str, level: &Placed, unit: SpeedUnit) -> Vec<String> {
    vec![
        format!("{name}, {} hPa", level.pressure.value_hpa()),
        thermal_words(level.thermal),
        wind_words(level.wind, unit),
    ]
}

/// What a part with significant levels says, set by set.
pub(super) fn significant(
    part: Part,
    report: &Report,
    p: &SignificantPart,
    unit: SpeedUnit,
    sets: &[(Set, Vec<String>)],
) -> Vec<Vec<String>> {
    let mut thermal = p.thermal.iter().flatten();
    let mut winds = p.winds.iter().flatten();
    let first = |n: usize| part == Part::B && n == 0;
    sets.iter()
        .enumerate()
        .map(|(i, (set, _))| match *set {
            Set::Thermal(n) => thermal.next().map_or_else(Vec::new, |(pressure, t)| {
                let surface = first(i) && n == 0;
                let place = sections::significant(surface, pressure.value_hpa());
                vec![place, thermal_words(*t)]
            }),
            Set::Wind(n) => winds.next().map_or_else(Vec::new, |(pressure, wind)| {
                let surface = first(n) && p.winds.first().is_some_and(Option::is_some);
                let place = sections::significant(surface, pressure.value_hpa());
                vec![place, wind_words(*wind, unit)]
            }),
            Set::Other(NoLevel::Gap) if first(i) => vec![
                "the surface was not reached".to_owned(),
                "no data of it".to_owned(),
            ],
            Set::Other(NoLevel::End) => {
                let mut out = Vec::new();
                out.extend(p.sonde.iter().flat_map(|s| sections::sonde(s, report)));
                out.extend(p.clouds.iter().flat_map(sections::clouds));
                let kept = report.parts.get(&part);
                if kept.is_some_and(|kept| kept.departures.has(DepartureKind::Again, 6)) {
                    let again = 1 + 2 * p.winds.len();
                    out.extend((0..again).map(|_| "section 6 once more".to_owned()));
                }
                out.extend(sections::last_sections(
                    part,
                    report,
                    &p.regional,
                    &p.national,
                ));
                out
            }
            Set::Other(stated) => other(stated),
            _ => Vec::new(),
        })
        .collect()
}
