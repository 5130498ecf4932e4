//! Message → report: the values that the figures stand for.
//!
//! Groups of one pressure in different sections become one level when they do
//! not contradict each other; the report's grain says how coarse it is.

use std::collections::BTreeMap;

use super::{Message, Sonde, Thermal};
use crate::figure::{PressureFigure, WindFigure};
use crate::quantity::SpeedUnit;
use crate::sounding::{
    At, Axis, Clouds, Coding, Context, Element, Equipment, Flight, Grain, Kept, Level, MaxWind,
    MissingLayer, Motion, Part, Reach, Region, Report, Roles, Row, Section7, Shear, Sky, Station,
    Surface, When, Wind,
};
use crate::tables;

/// One group set of a section: what it carries, and as what.
struct Carried {
    pressure: PressureFigure,
    thermal: Option<Thermal>,
    wind: Option<Option<WindFigure>>,
    height_gpm: Option<Option<f64>>,
    roles: Roles,
}

impl Carried {
    /// Takes another group set of the same pressure if nothing contradicts.
    fn join(&mut self, other: &Self) -> bool {
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

impl Message {
    /// The report that the message gives.
    ///
    /// Times are day and hour only; positions, humidity beyond the depression,
    /// and reasons are not in the text and not made up.
    #[must_use]
    pub fn report(&self) -> Report {
        let mut carried: Vec<Carried> = Vec::new();
        let mut maxima = Vec::new();
        let mut missing = Vec::new();
        let mut parts = BTreeMap::new();
        let mut sonde: Option<Sonde> = None;
        let mut clouds = None;
        let ground = self
            .a
            .as_ref()
            .and_then(|a| a.surface)
            .map_or(1013.0, |s| s.pressure.value_hpa());
        for part in Part::ALL {
            let standard = match part {
                Part::A => self.a.as_ref(),
                Part::C => self.c.as_ref(),
                _ => None,
            };
            if let Some(p) = standard {
                self.of_standard(p, ground, &mut carried, &mut maxima);
                sonde = sonde.or(p.sonde);
                parts.insert(
                    part,
                    Kept {
                        section7: p.sonde.is_some(),
                        regional: p.regional.clone(),
                        national: p.national.clone(),
                        ..Kept::default()
                    },
                );
            }
            let significant = match part {
                Part::B => self.b.as_ref(),
                Part::D => self.d.as_ref(),
                _ => None,
            };
            if let Some(p) = significant {
                let mut last = None;
                for level in &p.thermal {
                    match level {
                        Some((pressure, thermal)) => {
                            mark(&mut missing, Element::Temperature, last, *pressure);
                            last = Some(Some(*pressure));
                            carried.push(Carried {
                                pressure: *pressure,
                                thermal: Some(*thermal),
                                wind: None,
                                height_gpm: None,
                                roles: Roles::SIG_TEMPERATURE,
                            });
                        }
                        None => {
                            last = Some(last.flatten())
                                .map(|below| gap(&mut missing, Element::Temperature, below))
                        }
                    }
                }
                let mut last = None;
                for level in &p.winds {
                    match level {
                        Some((pressure, wind)) => {
                            mark(&mut missing, Element::Wind, last, *pressure);
                            last = Some(Some(*pressure));
                            carried.push(Carried {
                                pressure: *pressure,
                                thermal: None,
                                wind: Some(*wind),
                                height_gpm: None,
                                roles: Roles::SIG_WIND,
                            });
                        }
                        None => {
                            last = Some(last.flatten())
                                .map(|below| gap(&mut missing, Element::Wind, below))
                        }
                    }
                }
                sonde = sonde.or(p.sonde);
                clouds = p.clouds.or(clouds);
                parts.insert(
                    part,
                    Kept {
                        section7: p.sonde.is_some(),
                        section8: p.clouds.is_some(),
                        measuring: p.measuring,
                        regional: p.regional.clone(),
                        national: p.national.clone(),
                    },
                );
            }
        }
        let mut joined: Vec<Carried> = Vec::new();
        for next in carried {
            if !joined.iter_mut().any(|c| c.join(&next)) {
                joined.push(next);
            }
        }
        let mut levels: Vec<Level> = joined.iter().map(|c| c.level(self.unit)).collect();
        let p = |l: &Level| l.row.pressure_hpa.unwrap_or(0.0);
        levels.sort_by(|l, r| p(r).total_cmp(&p(l)));
        Report {
            context: self.context(sonde, clouds),
            when: When::Coded {
                day: self.day,
                hour: self.hour,
                release: sonde.and_then(|s| s.release),
            },
            axis: Axis::Pressure,
            motion: Motion::Rising,
            levels,
            missing,
            maxima,
            parts,
            grain: Grain::Text,
            reach: Reach::Whole,
        }
    }

    fn of_standard(
        &self,
        part: &super::StandardPart,
        ground: f64,
        carried: &mut Vec<Carried>,
        maxima: &mut Vec<MaxWind>,
    ) {
        if let Some(s) = &part.surface {
            carried.push(Carried {
                pressure: s.pressure,
                thermal: Some(s.thermal),
                wind: Some(s.wind),
                height_gpm: None,
                roles: Roles::SURFACE,
            });
        }
        for s in &part.standard {
            let p = f64::from(s.pressure_hpa);
            let known = tables::standard_levels()
                .iter()
                .find(|l| l.pressure_hpa == s.pressure_hpa);
            let height = s.height.zip(known).map(|(h, l)| {
                h.value_gpm(
                    l.height_step_gpm,
                    l.typical_height_gpm,
                    p >= ground && p > 900.0,
                )
            });
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
        for t in &part.tropopauses {
            carried.push(Carried {
                pressure: t.pressure,
                thermal: Some(t.thermal),
                wind: Some(t.wind),
                height_gpm: None,
                roles: Roles::TROPOPAUSE,
            });
        }
        for m in &part.maxima {
            let top = if m.top {
                Roles::TOP_OF_WIND
            } else {
                Roles::NONE
            };
            carried.push(Carried {
                pressure: m.pressure,
                thermal: None,
                wind: Some(m.wind),
                height_gpm: None,
                roles: Roles::MAX_WIND | top,
            });
            let ms = |code: Option<u8>| code.map(|c| self.unit.to_ms(f64::from(c)));
            maxima.push(MaxWind {
                pressure_hpa: m.pressure.value_hpa(),
                shear: m.shear.map(|(below, above)| Shear {
                    below_ms: ms(below),
                    above_ms: ms(above),
                }),
            });
        }
    }

    fn context(&self, sonde: Option<Sonde>, clouds: Option<[Option<u8>; 5]>) -> Context {
        Context {
            station: Station {
                wmo_block: Some(self.block),
                wmo_number: Some(self.number),
                ..Station::default()
            },
            flight: Flight::default(),
            surface: sonde.and_then(|s| s.sea).map(|(sign, tenths)| {
                let magnitude = f64::from(tenths) / 10.0;
                Surface {
                    sea_temperature_c: Some(if sign == 1 { -magnitude } else { magnitude }),
                    ..Surface::default()
                }
            }),
            clouds: clouds.map(|[nh, cl, h, cm, ch]| Clouds {
                sky: [nh, cl, h, cm, ch]
                    .iter()
                    .all(Option::is_none)
                    .then_some(Sky::Unseen),
                nh,
                h,
                cl,
                cm,
                ch,
            }),
            equipment: Equipment {
                radiation: sonde.and_then(|s| s.radiation),
                radiosonde: sonde.and_then(|s| s.radiosonde),
                tracking: sonde.and_then(|s| s.tracking),
                measuring: self.b.as_ref().and_then(|b| b.measuring),
                frequency_mhz: None,
            },
            coding: Coding {
                wind_unit: self.unit,
                region: Region::IV,
                section7: Section7::All,
                ..Coding::default()
            },
            ..Context::default()
        }
    }
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
