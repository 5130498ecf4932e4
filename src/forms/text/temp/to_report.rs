//! TEMP parts → report: the values that the figures stand for.
//!
//! Groups of one pressure in different sections become one level when they do
//! not contradict each other; the report's resolution says how coarse it is.

use std::collections::BTreeMap;

use super::{SignificantPart, StandardPart, Thermal, from_report, heights};
use crate::forms::text::sections::{CloudFigures, Sonde};
use crate::forms::text::{Body, Message};
use crate::model::quantity::SpeedUnit;
use crate::model::{
    At, Clouds, Context, Element, Equipment, Level, MaxWind, MissingLayer, Part, PartContent,
    Region, Report, Roles, Row, Section7, Shear, Sky, Surface, When, Wind,
};
use crate::tables::figure::{PressureFigure, WindFigure};

/// One group set of a section: what it carries, and as what.
pub(in crate::forms::text) struct Carried {
    pub pressure: PressureFigure,
    pub thermal: Option<Thermal>,
    pub wind: Option<Option<WindFigure>>,
    pub height_gpm: Option<Option<f64>>,
    pub roles: Roles,
}

impl Carried {
    /// Takes another group set of the same pressure if nothing contradicts.
    pub(in crate::forms::text) fn join(&mut self, other: &Self) -> bool {
        fn agree<T: PartialEq>(a: Option<&T>, b: Option<&T>) -> bool {
            a.is_none() || b.is_none() || a == b
        }
        let fits = self.pressure == other.pressure
            && !self.roles.any(other.roles)
            && agree(self.thermal.as_ref(), other.thermal.as_ref())
            && agree(self.wind.as_ref(), other.wind.as_ref())
            && agree(self.height_gpm.as_ref(), other.height_gpm.as_ref());
        if fits {
            self.thermal = self.thermal.or(other.thermal);
            self.wind = self.wind.or(other.wind);
            self.height_gpm = self.height_gpm.or(other.height_gpm);
            self.roles |= other.roles;
        }
        fits
    }

    fn level(&self, unit: SpeedUnit) -> Level {
        let (t, d) = self.thermal.unwrap_or((None, None));
        let temperature_c = t.map(|t| t.value_c());
        Level {
            row: Row {
                pressure_hpa: Some(self.pressure.value_hpa()),
                height_gpm: self.height_gpm.flatten(),
                temperature_c,
                dewpoint_c: temperature_c.zip(d).map(|(t, d)| t - d.value_k()),
                wind: self.wind.flatten().map(|w| Wind {
                    dir_deg: w.dir_deg(),
                    speed_ms: w.speed_ms(unit),
                }),
                ..Row::default()
            },
            at: At::Received,
            roles: self.roles,
            why: Vec::new(),
        }
    }
}

/// The group sets of a message as levels: sets of one pressure in different
/// sections are joined, and the order of each section is kept even where pressure
/// does not fall in it, so that the text can be written again as it was.
#[derive(Default)]
pub(in crate::forms::text) struct Sections {
    levels: Vec<Carried>,
    /// Where the next set of the section can stand at the lowest.
    next: usize,
}

impl Sections {
    /// The next sets belong to another section.
    pub(in crate::forms::text) fn begin(&mut self) {
        self.next = 0;
    }

    /// Adds the next set of the section.
    pub(in crate::forms::text) fn push(&mut self, set: Carried) {
        let from = self.next.min(self.levels.len());
        let (_, rest) = self.levels.split_at_mut(from);
        let at = match rest.iter_mut().position(|level| level.join(&set)) {
            Some(i) => from + i,
            None => {
                let p = set.pressure.value_hpa();
                let above = |level: &Carried| level.pressure.value_hpa() < p;
                let at = from + rest.iter().position(above).unwrap_or(rest.len());
                self.levels.insert(at, set);
                at
            }
        };
        self.next = at + 1;
    }

    pub(in crate::forms::text) fn levels(&self, unit: SpeedUnit) -> Vec<Level> {
        self.levels.iter().map(|level| level.level(unit)).collect()
    }
}

/// Adds what the parts of a TEMP message say to its report.
pub(in crate::forms::text) fn fill(message: &Message, report: &mut Report) {
    let mut carried = Sections::default();
    let mut sonde: Option<Sonde> = None;
    let mut clouds = None;
    let heights = heights::of_surfaces(message);
    for (&part, body) in &message.parts {
        let kept = match body {
            Body::Standard(p) => {
                let unit = message.unit;
                of_standard(p, part, &heights, unit, &mut carried, &mut report.maxima);
                sonde = sonde.or(p.sonde);
                PartContent {
                    section7: p.sonde.is_some(),
                    regional: p.regional.clone(),
                    national: p.national.clone(),
                    ..PartContent::default()
                }
            }
            Body::Significant(p) => {
                of_significant(p, &mut carried, &mut report.missing);
                sonde = sonde.or(p.sonde);
                clouds = p.clouds.or(clouds);
                PartContent {
                    section7: p.sonde.is_some(),
                    section8: p.clouds.is_some(),
                    measuring: p.measuring,
                    regional: p.regional.clone(),
                    national: p.national.clone(),
                    ..PartContent::default()
                }
            }
            _ => continue,
        };
        report.parts.insert(part, kept);
    }
    report.levels = carried.levels(message.unit);
    if let When::Coded { release, .. } = &mut report.when {
        *release = sonde.and_then(|s| s.release);
    }
    context(message, &mut report.context, sonde, clouds);
    own_section7(message, report);
}

/// Keeps the groups of section 7 of each part that are not those of the report.
fn own_section7(message: &Message, report: &mut Report) {
    let release = crate::forms::text::time(report).2;
    let made = from_report::sonde(report, release, &mut Vec::new()).ok();
    for (part, body) in &message.parts {
        let sonde = match body {
            Body::Standard(p) => p.sonde,
            Body::Significant(p) => p.sonde,
            _ => None,
        };
        let own = sonde.filter(|_| sonde != made);
        if let (Some(own), Some(kept)) = (own, report.parts.get_mut(part)) {
            let mut groups = Vec::new();
            own.write(&mut groups);
            kept.section7_groups = groups.into_iter().skip(1).collect();
        }
    }
}

fn of_significant(p: &SignificantPart, carried: &mut Sections, missing: &mut Vec<MissingLayer>) {
    let thermal = |level: &(PressureFigure, Thermal)| Carried {
        pressure: level.0,
        thermal: Some(level.1),
        wind: None,
        height_gpm: None,
        roles: Roles::SIG_TEMPERATURE,
    };
    let wind = |level: &(PressureFigure, Option<WindFigure>)| Carried {
        pressure: level.0,
        thermal: None,
        wind: Some(level.1),
        height_gpm: None,
        roles: Roles::SIG_WIND,
    };
    of_section(&p.thermal, Element::Temperature, thermal, carried, missing);
    of_section(&p.winds, Element::Wind, wind, carried, missing);
}

/// The levels of section 5 or 6, and the layers without data between them.
pub(in crate::forms::text) fn of_section<T>(
    levels: &[Option<T>],
    element: Element,
    carry: impl Fn(&T) -> Carried,
    carried: &mut Sections,
    missing: &mut Vec<MissingLayer>,
) {
    carried.begin();
    let mut last = None;
    for level in levels {
        match level {
            Some(level) => {
                let next = carry(level);
                mark(missing, element, last, next.pressure);
                last = Some(Some(next.pressure));
                carried.push(next);
            }
            None => last = Some(last.flatten()).map(|below| gap(missing, element, below)),
        }
    }
}

fn of_standard(
    standard: &StandardPart,
    part: Part,
    heights: &BTreeMap<u16, f64>,
    unit: SpeedUnit,
    carried: &mut Sections,
    maxima: &mut Vec<MaxWind>,
) {
    carried.begin();
    if let Some(s) = &standard.surface {
        carried.push(Carried {
            pressure: s.pressure,
            thermal: Some(s.thermal),
            wind: Some(s.wind),
            height_gpm: None,
            roles: Roles::SURFACE,
        });
    }
    carried.begin();
    for s in &standard.standard {
        let p = f64::from(s.pressure_hpa);
        let height = heights.get(&s.pressure_hpa).copied();
        let Ok(pressure) = PressureFigure::from_value(p) else {
            continue;
        };
        carried.push(Carried {
            pressure,
            thermal: Some(s.thermal),
            wind: Some(s.wind),
            height_gpm: Some(height),
            roles: Roles::STANDARD,
        });
    }
    carried.begin();
    for t in &standard.tropopauses {
        carried.push(Carried {
            pressure: t.pressure,
            thermal: Some(t.thermal),
            wind: Some(t.wind),
            height_gpm: None,
            roles: Roles::TROPOPAUSE,
        });
    }
    for m in &standard.maxima {
        // They are reported by speed.
        carried.begin();
        let top = if m.top {
            Roles::TOP_OF_WIND
        } else {
            Roles::empty()
        };
        carried.push(Carried {
            pressure: m.pressure,
            thermal: None,
            wind: Some(m.wind),
            height_gpm: None,
            roles: Roles::MAX_WIND | top,
        });
        let ms = |code: Option<u8>| code.map(|c| unit.to_ms(f64::from(c)));
        maxima.push(MaxWind {
            part,
            pressure_hpa: Some(m.pressure.value_hpa()),
            height_gpm: None,
            shear: m.shear.map(|(below, above)| Shear {
                below_ms: ms(below),
                above_ms: ms(above),
            }),
        });
    }
}

fn context(
    message: &Message,
    context: &mut Context,
    sonde: Option<Sonde>,
    clouds: Option<CloudFigures>,
) {
    context.surface = sonde.and_then(|s| s.sea).map(|(sign, tenths)| {
        let magnitude = f64::from(tenths) / 10.0;
        Surface {
            sea_temperature_c: Some(if sign == 1 { -magnitude } else { magnitude }),
            ..Surface::default()
        }
    });
    context.clouds = clouds.map(|[nh, cl, h, cm, ch]| Clouds {
        sky: [nh, cl, h, cm, ch]
            .iter()
            .all(Option::is_none)
            .then_some(Sky::Unseen),
        nh,
        h,
        cl,
        cm,
        ch,
        base_m: None,
    });
    context.equipment = Equipment {
        radiation: sonde.and_then(|s| s.radiation),
        radiosonde: sonde.and_then(|s| s.radiosonde),
        tracking: sonde.and_then(|s| s.tracking),
        measuring: message.significant(Part::B).and_then(|b| b.measuring),
        ..Equipment::default()
    };
    context.coding.region = Region::IV;
    context.coding.section7 = Section7::All;
}

/// Opens a layer without data above a level.
fn gap(
    missing: &mut Vec<MissingLayer>,
    element: Element,
    below: Option<PressureFigure>,
) -> Option<PressureFigure> {
    missing.push(MissingLayer {
        element,
        from_hpa: below.map(PressureFigure::value_hpa),
        to_hpa: None,
    });
    None
}

/// Closes a layer that was opened just below a level.
fn mark(
    missing: &mut [MissingLayer],
    element: Element,
    last: Option<Option<PressureFigure>>,
    pressure: PressureFigure,
) {
    if let (Some(None), Some(layer)) = (last, missing.last_mut())
        && layer.element == element
        && layer.to_hpa.is_none()
    {
        layer.to_hpa = Some(pressure.value_hpa());
    }
}
