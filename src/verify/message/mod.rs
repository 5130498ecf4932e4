//! Checks of the internal consistency of a message: its groups must agree with each other
//! and be physically possible.
//!
//! A contradiction is an error, something improbable a warning. The tolerances contain the
//! resolution of the code.

mod air;
mod between;
mod outliers;
mod pilot;
mod release;
mod wind;

pub(in crate::verify) use pilot::{HeightLine, StandardWind, temp_winds};

use crate::forms::text::{Body, Message, Set, Thermal};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Coding, Form, Part};
use crate::tables;
use crate::tables::figure::{PressureFigure, WindFigure};
use crate::tables::{limits, message_limits};

/// Half a step of whole hPa.
const HALF_P_HPA: f64 = 0.5;

/// Step of ddfff (WMO-No. 306, 35.2.2.5).
const DIRECTION_STEP_DEG: f64 = 5.0;

/// Step of TTTa: the last figure is even or odd by the sign.
const TEMPERATURE_STEP_K: f64 = 0.2;

fn one_step(one: u16, other: u16) -> bool {
    one.abs_diff(other) <= 1
}

/// Whether temperature and depression differ by one step of the code at most.
fn near_thermal(one: Thermal, other: Thermal) -> bool {
    let ((t, d), (u, e)) = (one, other);
    let warm = match t.zip(u) {
        Some((t, u)) => (t.value_c() - u.value_c()).abs() <= TEMPERATURE_STEP_K + 1e-6,
        None => t == u,
    };
    let dry = match d.zip(e) {
        Some((d, e)) => one_step(d.code().into(), e.code().into()),
        None => d == e,
    };
    warm && dry
}

/// Checks a message; no finding is an empty list.
#[must_use]
pub fn check(message: &Message) -> Vec<Finding> {
    let mut out = Check {
        message,
        findings: Vec::new(),
    };
    out.falling();
    if message.form != Form::Pilot {
        out.parts_agree();
        out.standard_rows();
        out.named_levels();
        let warm = out.warm();
        out.gross(&warm);
        out.hydrostatic(&warm);
        out.superadiabatic(&warm);
        out.signs(&warm);
        out.below_ground(&warm);
        out.between_parts();
        out.maxima();
        out.release();
    } else {
        out.between_pilot_parts();
    }
    out.shear();
    out.outliers();
    out.findings
}

/// The findings about the winds of a TEMP and those of a PILOT of the same station and time;
/// the message is one of the two.
pub(in crate::verify) fn with_pilot(
    message: &Message,
    winds: &[StandardWind],
    line: &HeightLine,
) -> Vec<Finding> {
    let mut out = Check {
        message,
        findings: Vec::new(),
    };
    out.with_pilot(winds, line);
    out.findings
}

/// Whether the parts of two messages, put together, agree as those of one report do; `first`
/// says which parts are of the first message.
pub(in crate::verify) fn parts_fit(message: &Message, first: impl Fn(Part) -> bool) -> bool {
    let check = Check {
        message,
        findings: Vec::new(),
    };
    between::fit(&check, first)
}

struct Check<'a> {
    message: &'a Message,
    findings: Vec<Finding>,
}

/// Section of TEMP or PILOT in which a set of groups stands.
fn section(form: Form, part: Part, set: Set) -> u8 {
    match (form, set) {
        (_, Set::Surface | Set::Standard(_)) => 2,
        (_, Set::Tropopause(_)) => 3,
        (Form::Temp | Form::Descent, Set::Maximum(_)) => 4,
        (Form::Pilot, Set::Maximum(_)) => 3,
        (_, Set::Thermal(_)) => 5,
        (Form::Temp | Form::Descent, Set::Wind(_)) => 6,
        (Form::Pilot, Set::Wind(_)) => 4,
        (_, Set::Other(_)) => u8::from(part.is_upper()),
    }
}

impl Check<'_> {
    /// Where a set of groups stands.
    fn place(&self, part: Part, set: Set, p: f64) -> Place {
        Place {
            part: Some(part.letter()),
            section: Some(section(self.message.form, part, set)),
            group: self.message.group_of(part, set),
            pressure_hpa: Some(p),
            ..Place::default()
        }
    }

    /// Reports that two parts differ: by one step of the code is information.
    fn differ(
        &mut self,
        (part, set, p): (Part, Set, f64),
        other: Part,
        what: &str,
        near: bool,
        finding: impl FnOnce(Place) -> Finding,
    ) {
        let place = self.place(part, set, p);
        let finding = match near {
            true => finding!(
                OneStepApart,
                place,
                what = what,
                pressure_hpa = p,
                part = part.letter(),
                other = other.letter()
            ),
            false => finding(place),
        };
        self.findings.push(finding);
    }

    /// Whether two winds differ by one step of the code at most.
    fn near_wind(&self, one: Option<WindFigure>, other: Option<WindFigure>) -> bool {
        let (Some(one), Some(other)) = (one, other) else {
            return one == other;
        };
        let turn = (one.dir_deg() - other.dir_deg()).rem_euclid(360.0);
        one_step(one.speed(), other.speed()) && turn.min(360.0 - turn) <= DIRECTION_STEP_DEG
    }

    /// Pressure falls, and PILOT heights rise, from level to level.
    fn falling(&mut self) {
        let mut steps: Vec<(Part, Set, PressureFigure)> = Vec::new();
        let mut reported = Vec::new();
        let mut look = |steps: &mut Vec<(Part, Set, PressureFigure)>| {
            for pair in steps.windows(2) {
                if let [(_, _, below), (part, set, here)] = pair
                    && here.value_hpa() >= below.value_hpa()
                {
                    reported.push((*part, *set, below.value_hpa(), here.value_hpa()));
                }
            }
            steps.clear();
        };
        for (&part, body) in &self.message.parts {
            match body {
                Body::Significant(p) => {
                    let levels = p.thermal.iter().flatten().enumerate();
                    steps.extend(levels.map(|(i, (p, _))| (part, Set::Thermal(i), *p)));
                    look(&mut steps);
                    let levels = p.winds.iter().flatten().enumerate();
                    steps.extend(levels.map(|(i, (p, _))| (part, Set::Wind(i), *p)));
                    look(&mut steps);
                }
                Body::Standard(p) => {
                    let levels = p.tropopauses.iter().enumerate();
                    steps.extend(levels.map(|(i, t)| (part, Set::Tropopause(i), t.pressure)));
                    look(&mut steps);
                }
                Body::Levels(p) => {
                    if let crate::forms::text::WindLevels::Pressures(levels) = &p.levels {
                        let levels = levels.iter().flatten().enumerate();
                        steps.extend(levels.map(|(i, (p, _))| (part, Set::Wind(i), *p)));
                        look(&mut steps);
                    }
                }
                _ => {}
            }
        }
        for (part, set, below, here) in reported {
            let place = self.place(part, set, here);
            if here == below {
                let finding = finding!(EqualPressures, place, pressure_hpa = here);
                self.findings.push(finding);
                continue;
            }
            self.findings.push(finding!(
                PressureNotFalling,
                place,
                here_hpa = here,
                below_hpa = below
            ));
        }
    }

    /// Surface and shared levels say the same in A and B, C and D.
    fn parts_agree(&mut self) {
        for (standard, significant) in [(Part::A, Part::B), (Part::C, Part::D)] {
            let (Some(a), Some(b)) = (
                self.message.standard(standard),
                self.message.significant(significant),
            ) else {
                continue;
            };
            let levels: Vec<_> = b.thermal.iter().flatten().copied().collect();
            let first = b.thermal.first().copied().flatten();
            if let (Some(s), Some((p, thermal))) = (a.surface, first)
                && (p != s.pressure || thermal != s.thermal)
            {
                let at = (significant, Set::Thermal(0), p.value_hpa());
                let near =
                    one_step(p.code(), s.pressure.code()) && near_thermal(thermal, s.thermal);
                self.differ(at, standard, "the surface", near, |place| {
                    finding!(SurfaceDiffers, place)
                });
            }
            let first = b.winds.first().copied().flatten();
            if let (Some(s), Some((p, wind))) = (a.surface, first)
                && p == s.pressure
                && wind != s.wind
            {
                let at = (significant, Set::Wind(0), p.value_hpa());
                let near = self.near_wind(wind, s.wind);
                self.differ(at, standard, "the surface wind", near, |place| {
                    finding!(SurfaceWindDiffers, place)
                });
            }
            for (i, s) in a.standard.iter().enumerate() {
                let p = f64::from(s.pressure_hpa);
                let same = levels.iter().find(|(q, _)| q.value_hpa() == p);
                if let (Some((_, (Some(own), _))), Some(t)) = (same, s.thermal.0) {
                    let off = (own.value_c() - t.value_c()).abs();
                    let allowed = message_limits().shared_temperature_k;
                    if off > allowed {
                        self.findings.push(finding!(
                            SharedLevelDiffers,
                            self.place(standard, Set::Standard(i), p),
                            pressure_hpa = p,
                            standard_c = t.value_c(),
                            standard = standard.letter(),
                            significant_c = own.value_c(),
                            significant = significant.letter(),
                            [most_k = allowed]
                        ));
                    }
                }
            }
        }
    }

    /// No standard surface is left out between others.
    fn standard_rows(&mut self) {
        for part in [Part::A, Part::C] {
            let Some(a) = self.message.standard(part) else {
                continue;
            };
            let there = |p: u16| a.standard.iter().position(|s| s.pressure_hpa == p);
            let general = tables::station_levels(Form::Temp, &Coding::default(), part);
            let list: Vec<u16> = general.iter().map(|l| l.pressure_hpa).collect();
            let first = list.iter().position(|&p| there(p).is_some());
            let last = list.iter().rposition(|&p| there(p).is_some());
            // Part C begins where A ends, at 70 hPa.
            let first = if part == Part::C { Some(0) } else { first };
            // What goes on in Part C has reached 100 hPa.
            let goes_on = self.message.standard(Part::C);
            let last = match goes_on.filter(|c| part == Part::A && !c.standard.is_empty()) {
                Some(_) => Some(list.len()),
                None => last,
            };
            let (Some(first), Some(last)) = (first, last) else {
                continue;
            };
            let missing: Vec<u16> = list
                .iter()
                .enumerate()
                .filter(|(i, p)| (first..last).contains(i) && there(**p).is_none())
                .map(|(_, &p)| p)
                .collect();
            for p in missing {
                let next = a.standard.iter().position(|s| s.pressure_hpa < p);
                let place = match next {
                    Some(i) => self.place(part, Set::Standard(i), f64::from(p)),
                    None => Place::pressure(f64::from(p)),
                };
                let finding = finding!(StandardSurfaceMissing, place, pressure_hpa = p);
                self.findings.push(finding);
            }
        }
    }

    /// Tropopauses and maximum winds stand among the significant levels, and
    /// say the same there; a maximum wind is one.
    fn named_levels(&mut self) {
        for (standard, significant) in [(Part::A, Part::B), (Part::C, Part::D)] {
            let Some(a) = self.message.standard(standard) else {
                continue;
            };
            let b = self.message.significant(significant);
            for (i, t) in a.tropopauses.iter().enumerate() {
                let p = t.pressure.value_hpa();
                let place = self.place(standard, Set::Tropopause(i), p);
                let Some(b) = b else { continue };
                let same = b.thermal.iter().flatten().find(|(q, _)| *q == t.pressure);
                match same {
                    None => self.findings.push(finding!(
                        TropopauseNotSignificant,
                        place,
                        pressure_hpa = p
                    )),
                    Some((_, thermal)) if *thermal != t.thermal => {
                        let at = (standard, Set::Tropopause(i), p);
                        let near = near_thermal(*thermal, t.thermal);
                        self.differ(at, significant, "the tropopause", near, |place| {
                            finding!(TropopauseDiffers, place, pressure_hpa = p)
                        });
                    }
                    Some(_) => {}
                }
            }
            for (i, m) in a.maxima.iter().enumerate() {
                let p = m.pressure.value_hpa();
                let place = self.place(standard, Set::Maximum(i), p);
                let lim = limits();
                if let Some(wind) = m.wind {
                    // Half a unit and the resolution of the pressure are the code's.
                    let unit = self.message.unit;
                    let ms = unit.to_ms(f64::from(wind.speed()) + 0.5);
                    if ms < lim.max_wind_speed_ms || p >= lim.max_wind_floor_hpa + HALF_P_HPA {
                        self.findings.push(finding!(
                            MaximumWindWeak,
                            place.clone(),
                            speed = wind.speed(),
                            unit = unit.symbol(),
                            pressure_hpa = p,
                            [
                                least_ms = lim.max_wind_speed_ms,
                                floor_hpa = lim.max_wind_floor_hpa
                            ]
                        ));
                    }
                }
                let Some(b) = b.filter(|b| !b.winds.is_empty()) else {
                    continue;
                };
                let same = b.winds.iter().flatten().find(|(q, _)| *q == m.pressure);
                match same {
                    None => self.findings.push(finding!(
                        MaximumWindNotSignificant,
                        place,
                        pressure_hpa = p
                    )),
                    Some((_, wind)) if *wind != m.wind => {
                        let at = (standard, Set::Maximum(i), p);
                        let near = self.near_wind(*wind, m.wind);
                        self.differ(at, significant, "the maximum wind", near, |place| {
                            finding!(MaximumWindDiffers, place, pressure_hpa = p)
                        });
                    }
                    Some(_) => {}
                }
            }
        }
    }
}

#[cfg(test)]
mod tests;
