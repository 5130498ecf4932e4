//! Checks of a message against itself: what its groups say must hang together
//! and be possible.
//!
//! A contradiction is an error, something that nature hardly does a warning.
//! The tolerances contain the grain of the code.

use crate::code::{Body, Message, Set};
use crate::figure::{DepressionFigure, PressureFigure, TemperatureFigure, WindFigure};
use crate::finding::{Finding, Place};
use crate::physics::adiabat::potential_temperature_k;
use crate::physics::humidity::virtual_temperature_k;
use crate::physics::hydrostatic::{standard_height_gpm, thickness_gpm};
use crate::quantity::SpeedUnit;
use crate::sounding::{Form, Part, Region, Roles};
use crate::tables::{self, limits, message_limits};

/// Half a step of TTTa (the last figure is even or odd by the sign).
const HALF_T_K: f64 = 0.1;
/// Half a step of whole hPa.
const HALF_P_HPA: f64 = 0.5;

/// A level with temperature, as a section of a part says it.
#[derive(Clone, Copy)]
struct Warm {
    part: Part,
    set: Set,
    p: f64,
    t: f64,
    td: Option<f64>,
}

/// A level with wind.
#[derive(Clone, Copy)]
struct Windy {
    part: Part,
    set: Set,
    p: f64,
    dir: f64,
    ms: f64,
}

/// Checks a message; nothing to be said is an empty list.
#[must_use]
pub fn check(message: &Message) -> Vec<Finding> {
    let mut out = Check {
        message,
        findings: Vec::new(),
    };
    out.falling();
    if message.form == Form::Temp {
        out.parts_agree();
        out.standard_rows();
        out.named_levels();
        let warm = out.warm();
        out.gross(&warm);
        out.hydrostatic(&warm);
        out.superadiabatic(&warm);
        out.signs(&warm);
    }
    out.shear();
    out.findings
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
        (Form::Temp, Set::Maximum(_)) => 4,
        (Form::Pilot, Set::Maximum(_)) => 3,
        (_, Set::Thermal(_)) => 5,
        (Form::Temp, Set::Wind(_)) => 6,
        (Form::Pilot, Set::Wind(_)) => 4,
        (_, Set::Other) => u8::from(part.is_upper()),
    }
}

fn depression(t: Option<TemperatureFigure>, d: Option<DepressionFigure>) -> Option<f64> {
    Some(t?.value_c() - d?.value_k())
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

    fn error(&mut self, code: &'static str, place: Place, what: String, clause: &'static str) {
        self.findings
            .push(Finding::error(code, place, what).clause(clause));
    }

    fn warn(&mut self, code: &'static str, place: Place, what: String, allowed: String) {
        let finding = Finding::warning(code, place, what).allowed(allowed);
        self.findings
            .push(finding.clause("common practice, no source"));
    }

    /// Pressure falls, and PILOT heights rise, from level to level.
    fn falling(&mut self) {
        let mut steps: Vec<(Part, Set, PressureFigure)> = Vec::new();
        let mut told = Vec::new();
        let mut look = |steps: &mut Vec<(Part, Set, PressureFigure)>| {
            for pair in steps.windows(2) {
                if let [(_, _, below), (part, set, here)] = pair
                    && here.value_hpa() >= below.value_hpa()
                {
                    told.push((*part, *set, below.value_hpa(), here.value_hpa()));
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
                    if let crate::code::WindLevels::Pressures(levels) = &p.levels {
                        let levels = levels.iter().flatten().enumerate();
                        steps.extend(levels.map(|(i, (p, _))| (part, Set::Wind(i), *p)));
                        look(&mut steps);
                    }
                }
                _ => {}
            }
        }
        for (part, set, below, here) in told {
            let what = format!("{here} hPa does not lie above {below} hPa, the level before");
            self.error(
                "pressure-not-falling",
                self.place(part, set, here),
                what,
                "WMO-No. 306, 35.3.1",
            );
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
                let what = "the surface is not the same in Part A and Part B".to_owned();
                let place = self.place(significant, Set::Thermal(0), p.value_hpa());
                self.error("surface-differs", place, what, "WMO-No. 306, 35.3.1.2");
            }
            let first = b.winds.first().copied().flatten();
            if let (Some(s), Some((p, wind))) = (a.surface, first)
                && p == s.pressure
                && wind != s.wind
            {
                let what = "the surface wind is not the same in Part A and Part B".to_owned();
                let place = self.place(significant, Set::Wind(0), p.value_hpa());
                self.error("surface-differs", place, what, "WMO-No. 306, 35.3.2.1");
            }
            for (i, s) in a.standard.iter().enumerate() {
                let p = f64::from(s.pressure_hpa);
                let same = levels.iter().find(|(q, _)| q.value_hpa() == p);
                if let (Some((_, (Some(own), _))), Some(t)) = (same, s.thermal.0) {
                    let off = (own.value_c() - t.value_c()).abs();
                    let allowed = message_limits().shared_temperature_k;
                    if off > allowed {
                        let what = format!(
                            "{p} hPa has {} °C in Part {} and {} °C in Part {}",
                            t.value_c(),
                            standard.letter(),
                            own.value_c(),
                            significant.letter()
                        );
                        let place = self.place(standard, Set::Standard(i), p);
                        let allowed = format!("at most {allowed} K apart");
                        self.warn("shared-level-differs", place, what, allowed);
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
            let list: Vec<u16> = tables::temp_levels(Region::None, part)
                .map(|l| l.pressure_hpa)
                .collect();
            let first = list.iter().position(|&p| there(p).is_some());
            let last = list.iter().rposition(|&p| there(p).is_some());
            // Part C begins where A ends, at 70 hPa.
            let first = if part == Part::C { Some(0) } else { first };
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
                let what = format!("the standard surface {p} hPa is not there");
                self.error(
                    "standard-surface-missing",
                    place,
                    what,
                    "WMO-No. 306, 35.2.2.1",
                );
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
                    None => self.findings.push(
                        Finding::info(
                            "tropopause-not-significant",
                            place,
                            format!("the tropopause {p} hPa is no significant level"),
                        )
                        .clause("WMO-No. 306, 35.3.1.2"),
                    ),
                    Some((_, thermal)) if *thermal != t.thermal => self.error(
                        "tropopause-differs",
                        place,
                        format!(
                            "the tropopause {p} hPa is not the same among the significant levels"
                        ),
                        "WMO-No. 306, 35.3.1.2",
                    ),
                    Some(_) => {}
                }
            }
            for (i, m) in a.maxima.iter().enumerate() {
                let p = m.pressure.value_hpa();
                let place = self.place(standard, Set::Maximum(i), p);
                let lim = limits();
                if let Some(wind) = m.wind {
                    // Half a unit and the grain of the pressure are the code's.
                    let unit = self.message.unit;
                    let ms = unit.to_ms(f64::from(wind.speed()) + 0.5);
                    if ms < lim.max_wind_speed_ms || p >= lim.max_wind_floor_hpa + HALF_P_HPA {
                        let what =
                            format!("{p} hPa with {} units is no maximum wind", wind.speed());
                        self.error(
                            "maximum-wind-weak",
                            place.clone(),
                            what,
                            "WMO-No. 306, 35.2.4.1",
                        );
                    }
                }
                let Some(b) = b.filter(|b| !b.winds.is_empty()) else {
                    continue;
                };
                let same = b.winds.iter().flatten().find(|(q, _)| *q == m.pressure);
                match same {
                    None => self.findings.push(
                        Finding::info(
                            "maximum-wind-not-significant",
                            place,
                            format!("the maximum wind {p} hPa is no significant wind level"),
                        )
                        .clause("WMO-No. 306, 35.2.4.1"),
                    ),
                    Some((_, wind)) if *wind != m.wind => self.error(
                        "maximum-wind-differs",
                        place,
                        format!(
                            "the maximum wind {p} hPa is not the same among the significant levels"
                        ),
                        "WMO-No. 306, 35.2.4.1",
                    ),
                    Some(_) => {}
                }
            }
        }
    }

    /// Every level with temperature, lowest first; of one pressure the
    /// significant level alone.
    fn warm(&self) -> Vec<Warm> {
        let mut out: Vec<Warm> = Vec::new();
        let ground = self.message.standard(Part::A).and_then(|a| a.surface);
        for (&part, body) in &self.message.parts {
            match body {
                Body::Standard(a) => {
                    let surface = a
                        .surface
                        .iter()
                        .map(|s| (Set::Surface, s.pressure.value_hpa(), s.thermal));
                    let standard = a
                        .standard
                        .iter()
                        .enumerate()
                        .map(|(i, s)| (Set::Standard(i), f64::from(s.pressure_hpa), s.thermal));
                    let tropopauses = a
                        .tropopauses
                        .iter()
                        .enumerate()
                        .map(|(i, t)| (Set::Tropopause(i), t.pressure.value_hpa(), t.thermal));
                    for (set, p, (t, d)) in surface.chain(standard).chain(tropopauses) {
                        if let Some(temperature) = t {
                            let td = depression(t, d);
                            out.push(Warm {
                                part,
                                set,
                                p,
                                t: temperature.value_c(),
                                td,
                            });
                        }
                    }
                }
                Body::Significant(b) => {
                    for (i, (p, (t, d))) in b.thermal.iter().flatten().enumerate() {
                        if let Some(temperature) = t {
                            let td = depression(*t, *d);
                            let set = Set::Thermal(i);
                            out.push(Warm {
                                part,
                                set,
                                p: p.value_hpa(),
                                t: temperature.value_c(),
                                td,
                            });
                        }
                    }
                }
                _ => {}
            }
        }
        // Below ground there is nothing to check.
        let ground = ground.map_or(f64::INFINITY, |s| s.pressure.value_hpa());
        out.retain(|w| w.p <= ground);
        let rank = |set: Set| match set {
            Set::Thermal(_) => 0,
            Set::Standard(_) => 1,
            _ => 2,
        };
        out.sort_by(|a, b| b.p.total_cmp(&a.p).then(rank(a.set).cmp(&rank(b.set))));
        out.dedup_by(|b, a| a.p == b.p);
        out
    }

    /// Temperatures, heights and winds of standard surfaces within what has
    /// been measured anywhere.
    fn gross(&mut self, warm: &[Warm]) {
        for w in warm {
            // Between two surfaces the wider limits hold.
            let at = |row: &tables::GrossLimits| f64::from(row.pressure_hpa);
            let rows = tables::gross_limits();
            let below = rows.iter().rev().find(|row| at(row) >= w.p);
            let above = rows.iter().find(|row| at(row) <= w.p);
            let both = || below.into_iter().chain(above);
            let low = both()
                .map(|r| r.temperature_low_c)
                .fold(f64::INFINITY, f64::min);
            let high = both()
                .map(|r| r.temperature_high_c)
                .fold(f64::NEG_INFINITY, f64::max);
            if w.t < low || w.t > high {
                let what = format!("{} °C at {} hPa", w.t, w.p);
                let place = self.place(w.part, w.set, w.p);
                self.warn(
                    "gross-temperature",
                    place,
                    what,
                    format!("{low} to {high} °C"),
                );
            }
        }
        let report = self.message.report();
        for level in report
            .levels
            .iter()
            .filter(|l| l.roles.any(Roles::STANDARD))
        {
            let (Some(p), Some(z)) = (level.row.pressure_hpa, level.row.height_gpm) else {
                continue;
            };
            let row = tables::gross_limits()
                .iter()
                .find(|row| f64::from(row.pressure_hpa) == p);
            let Some(row) = row else { continue };
            let low = row.height_low_gpm.unwrap_or(f64::NEG_INFINITY);
            if z < low || z > row.height_high_gpm {
                let what = format!("{z} gpm at {p} hPa");
                let place = Place {
                    pressure_hpa: Some(p),
                    ..Place::default()
                };
                let allowed = format!("{low} to {} gpm", row.height_high_gpm);
                self.warn("gross-height", place, what, allowed);
            }
        }
    }

    /// Heights of neighbouring standard surfaces against the thickness of the
    /// air between them.
    fn hydrostatic(&mut self, warm: &[Warm]) {
        let lim = message_limits();
        let report = self.message.report();
        let mut standard: Vec<(f64, f64)> = report
            .levels
            .iter()
            .filter(|l| l.roles.any(Roles::STANDARD))
            .filter_map(|l| Some((l.row.pressure_hpa?, l.row.height_gpm?)))
            .collect();
        let ground = warm.first().map_or(f64::INFINITY, |w| w.p);
        standard.retain(|&(p, _)| p <= ground);
        let mut residuals: Vec<(f64, f64, f64, f64)> = Vec::new();
        for pair in standard.windows(2) {
            let &[(p0, z0), (p1, z1)] = pair else {
                continue;
            };
            let Some((thick, fine)) = thickness(warm, p0, p1) else {
                continue;
            };
            let step = |p: f64| if p > 500.0 { 0.5 } else { 5.0 };
            let per_k = thick / 250.0;
            let layer_k = if fine {
                lim.fine_layer_k
            } else {
                lim.coarse_layer_k
            };
            let allowed = step(p0) + step(p1) + per_k * (layer_k + HALF_T_K) + lim.height_gross_gpm;
            residuals.push((p0, p1, (z1 - z0) - thick, allowed));
        }
        let mut skip = false;
        for (i, &(p0, p1, off, allowed)) in residuals.iter().enumerate() {
            if std::mem::take(&mut skip) || off.abs() <= allowed {
                continue;
            }
            // A wrong height is too much below and too little above, or the
            // other way round.
            let next = residuals.get(i + 1).filter(|n| n.0 == p1);
            let what = match next {
                Some(&(_, _, other, more))
                    if (off + other).abs() <= allowed + more && other.abs() > more =>
                {
                    skip = true;
                    format!(
                        "the height of {p1} hPa is about {:.0} gpm {} for the layers below and above it",
                        off.abs(),
                        if off > 0.0 { "too great" } else { "too small" }
                    )
                }
                _ => format!(
                    "the layer from {p0} to {p1} hPa is {:.0} gpm {} than its temperatures make it",
                    off.abs(),
                    if off > 0.0 { "thicker" } else { "thinner" }
                ),
            };
            let place = self.standard_place(p1);
            self.warn(
                "hydrostatic",
                place,
                what,
                format!("at most {allowed:.0} gpm"),
            );
        }
    }

    /// Where a standard surface stands.
    fn standard_place(&self, p: f64) -> Place {
        for part in [Part::A, Part::C] {
            let levels = self.message.standard(part).map(|a| a.standard.as_slice());
            let at = levels.and_then(|l| l.iter().position(|s| f64::from(s.pressure_hpa) == p));
            if let Some(i) = at {
                return self.place(part, Set::Standard(i), p);
            }
        }
        Place::pressure(p)
    }

    /// Potential temperature does not fall with height, away from the ground.
    fn superadiabatic(&mut self, warm: &[Warm]) {
        let lim = message_limits();
        let Some(ground) = warm.first().map(|w| w.p) else {
            return;
        };
        for pair in warm.windows(2) {
            let [low, high] = pair else { continue };
            if low.p > ground - lim.superadiabatic_surface_hpa {
                continue;
            }
            let half = |p: f64| if p >= 100.0 { HALF_P_HPA } else { 0.05 };
            let below = potential_temperature_k(low.t - HALF_T_K, low.p + half(low.p));
            let above = potential_temperature_k(high.t + HALF_T_K, high.p - half(high.p));
            if below - above > lim.superadiabatic_k {
                let what = format!(
                    "from {} hPa {} °C to {} hPa {} °C the air cools faster than dry air can",
                    low.p, low.t, high.p, high.t
                );
                let place = self.place(high.part, high.set, high.p);
                let allowed = format!(
                    "potential temperature falls by at most {} K besides the grain",
                    lim.superadiabatic_k
                );
                self.warn("superadiabatic", place, what, allowed);
            }
        }
    }

    /// A temperature whose sign turned fits its neighbours, and as it stands
    /// does not.
    fn signs(&mut self, warm: &[Warm]) {
        let lim = message_limits();
        // Departure from the neighbours, where the turned sign fits them.
        let slip = |i: usize| {
            let (low, here) = (warm.get(i.checked_sub(1)?)?, warm.get(i)?);
            let high = warm.get(i + 1)?;
            let w = (low.p / here.p).ln() / (low.p / high.p).ln();
            let wanted = low.t + (high.t - low.t) * w;
            let off = (here.t - wanted).abs();
            let fits = here.t.abs() >= lim.sign_least_k
                && off > 1.5 * here.t.abs()
                && off > 2.0 * lim.sign_fit_k
                && (-here.t - wanted).abs() <= lim.sign_fit_k;
            fits.then_some(off)
        };
        for (i, here) in warm.iter().enumerate() {
            let Some(off) = slip(i) else { continue };
            // A slip makes its neighbours look wrong too, though less.
            let beside = [i.checked_sub(1), Some(i + 1)];
            if beside
                .into_iter()
                .flatten()
                .filter_map(slip)
                .any(|other| other > off)
            {
                continue;
            }
            let what = format!(
                "{} °C at {} hPa does not fit its neighbours by {off:.0} K; {} °C would",
                here.t, here.p, -here.t
            );
            let place = self.place(here.part, here.set, here.p);
            self.error("sign-slip", place, what, "code table 3931");
        }
    }

    /// Wind does not turn or grow by more in a kilometre.
    fn shear(&mut self) {
        let lim = message_limits();
        let winds = self.windy();
        for pair in winds.windows(2) {
            let [low, high] = pair else { continue };
            let uv = |w: &Windy| {
                let (sin, cos) = w.dir.to_radians().sin_cos();
                (w.ms * sin, w.ms * cos)
            };
            let ((u0, v0), (u1, v1)) = (uv(low), uv(high));
            let change = (u1 - u0).hypot(v1 - v0);
            let deep = standard_height_gpm(high.p) - standard_height_gpm(low.p);
            // Thin layers are as coarse as the code.
            let allowed = lim.shear_ms * (deep.max(300.0) / 1000.0).max(0.6);
            if change > allowed {
                let what = format!(
                    "the wind changes by {change:.0} m/s from {} to {} hPa",
                    low.p, high.p
                );
                let place = self.place(high.part, high.set, high.p);
                self.warn(
                    "wind-shear",
                    place,
                    what,
                    format!("at most {allowed:.0} m/s"),
                );
            }
        }
    }

    /// Significant winds, or those of standard surfaces where there are none.
    fn windy(&self) -> Vec<Windy> {
        let unit: SpeedUnit = self.message.unit;
        let level = |part, set, p: f64, wind: Option<WindFigure>| {
            let wind = wind?;
            Some(Windy {
                part,
                set,
                p,
                dir: wind.dir_deg(),
                ms: wind.speed_ms(unit),
            })
        };
        let mut out = Vec::new();
        for upper in [false, true] {
            let before = out.len();
            for (&part, body) in self
                .message
                .parts
                .iter()
                .filter(|(p, _)| p.is_upper() == upper)
            {
                if let Body::Significant(b) = body {
                    let winds = b.winds.iter().flatten().enumerate();
                    out.extend(winds.filter_map(|(i, (p, wind))| {
                        level(part, Set::Wind(i), p.value_hpa(), *wind)
                    }));
                }
            }
            if out.len() > before {
                continue;
            }
            for (&part, body) in self
                .message
                .parts
                .iter()
                .filter(|(p, _)| p.is_upper() == upper)
            {
                if let Body::Standard(a) = body {
                    out.extend(a.standard.iter().enumerate().filter_map(|(i, s)| {
                        level(part, Set::Standard(i), f64::from(s.pressure_hpa), s.wind)
                    }));
                }
            }
        }
        out.sort_by(|a, b| b.p.total_cmp(&a.p));
        out
    }
}

/// Thickness between two pressures through the levels with temperature, gpm,
/// and whether significant levels are among them; `None` when they do not reach
/// over the layer.
fn thickness(warm: &[Warm], p0: f64, p1: f64) -> Option<(f64, bool)> {
    let at = |p: f64| {
        let high = warm.iter().position(|w| w.p <= p)?;
        let here = warm.get(high)?;
        let tv = |w: &Warm| virtual_temperature_k(w.t, w.td, w.p);
        if here.p == p {
            return Some(tv(here));
        }
        let below = warm.get(high.checked_sub(1)?)?;
        let share = (below.p / p).ln() / (below.p / here.p).ln();
        Some(tv(below) + (tv(here) - tv(below)) * share)
    };
    let mut below = (p0, at(p0)?);
    let mut sum = 0.0;
    let inner = warm.iter().filter(|w| w.p < p0 && w.p > p1);
    let inner = inner.map(|w| (w.p, virtual_temperature_k(w.t, w.td, w.p)));
    for here in inner.chain([(p1, at(p1)?)]) {
        sum += thickness_gpm(below, here);
        below = here;
    }
    let fine = warm
        .iter()
        .any(|w| matches!(w.set, Set::Thermal(_)) && w.p > p1)
        && warm
            .iter()
            .any(|w| matches!(w.set, Set::Thermal(_)) && w.p <= p1);
    Some((sum, fine))
}

#[cfg(test)]
mod tests;
