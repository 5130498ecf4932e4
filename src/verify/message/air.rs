//! What the air can be: temperatures, heights, lapse.

use itertools::Itertools as _;

use super::{Check, HALF_P_HPA};
use crate::forms::text::{Body, Set};
use crate::model::finding::{Place, finding};
use crate::model::{Part, Roles};
use crate::physics::adiabat::potential_temperature_k;
use crate::physics::humidity::virtual_temperature_k;
use crate::physics::hydrostatic::{Column, thickness_gpm};
use crate::tables;
use crate::tables::figure::{DepressionFigure, TemperatureFigure};
use crate::tables::message_limits;

/// Half a step of TTTa (the last figure is even or odd by the sign).
const HALF_T_K: f64 = 0.1;

/// A level with temperature, as a section of a part says it.
#[derive(Clone, Copy)]
pub(super) struct Warm {
    part: Part,
    set: Set,
    p: f64,
    t: f64,
    td: Option<f64>,
}

fn depression(t: Option<TemperatureFigure>, d: Option<DepressionFigure>) -> Option<f64> {
    Some(t?.value_c() - d?.value_k())
}

impl Check<'_> {
    /// Every level with temperature, lowest first; of one pressure the
    /// significant level alone.
    pub(super) fn warm(&self) -> Vec<Warm> {
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

    /// Below the ground nothing was measured, and the height of a surface there follows from
    /// the one above it.
    pub(super) fn below_ground(&mut self, warm: &[Warm]) {
        let Some(a) = self.message.standard(Part::A) else {
            return;
        };
        let Some(surface) = a.surface else { return };
        let ground = surface.pressure.value_hpa();
        for (i, s) in a.standard.iter().enumerate() {
            let p = f64::from(s.pressure_hpa);
            if let Some(t) = s.thermal.0.filter(|_| p > ground) {
                self.findings.push(finding!(
                    TemperatureBelowGround,
                    self.place(Part::A, Set::Standard(i), p),
                    pressure_hpa = p,
                    temperature_c = t.value_c(),
                    [ground_hpa = ground]
                ));
            }
        }
        let Some(t) = surface.thermal.0 else { return };
        let lim = message_limits();
        let heights = self.standard_heights();
        let height = |p: f64| heights.iter().find(|(at, _)| *at == p).map(|(_, z)| *z);
        for pair in a.standard.windows(2) {
            let [low, high] = pair else { continue };
            let (p0, p1) = (f64::from(low.pressure_hpa), f64::from(high.pressure_hpa));
            let Some((z0, z1)) = height(p0).zip(height(p1)).filter(|_| p0 > ground) else {
                continue;
            };
            // The air that is not there has about the temperature of the surface.
            let own = surface.thermal.1.map(|d| t.value_c() - d.value_k());
            let kelvin = virtual_temperature_k(t.value_c(), own, ground);
            let Some((above, fine)) = thickness(warm, ground, p1.min(ground)) else {
                continue;
            };
            let below = thickness_gpm((p0, kelvin), (p1.max(ground), kelvin));
            let off = (z1 - z0) - (below + above);
            let allowed =
                below / kelvin * lim.below_ground_k + self.layer_allowed((p0, p1), above, fine);
            if off.abs() > allowed {
                self.findings.push(finding!(
                    HeightBelowGround,
                    self.standard_place(p0),
                    low_hpa = p0,
                    high_hpa = p1,
                    off_gpm = off,
                    [most_gpm = allowed]
                ));
            }
        }
    }

    /// Temperatures within what has been measured anywhere.
    pub(super) fn gross(&mut self, warm: &[Warm]) {
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
                self.findings.push(finding!(
                    GrossTemperature,
                    self.place(w.part, w.set, w.p),
                    pressure_hpa = w.p,
                    temperature_c = w.t,
                    [low_c = low, high_c = high]
                ));
            }
        }
    }

    /// Heights of neighbouring standard surfaces against the thickness of the
    /// air between them.
    pub(super) fn hydrostatic(&mut self, warm: &[Warm]) {
        let mut standard = self.standard_heights();
        let every = standard.clone();
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
            let allowed = self.layer_allowed((p0, p1), thick, fine);
            residuals.push((p0, p1, (z1 - z0) - thick, allowed));
        }
        // What the temperatures bear out can be, however unusual it is.
        let fits = residuals
            .iter()
            .filter(|(_, _, off, allowed)| off.abs() <= *allowed);
        let borne_out: Vec<f64> = fits.flat_map(|&(p0, p1, ..)| [p0, p1]).collect();
        self.gross_heights(&every, &borne_out);
        let mut skip = false;
        for (i, &(p0, p1, off, allowed)) in residuals.iter().enumerate() {
            if std::mem::take(&mut skip) || off.abs() <= allowed {
                continue;
            }
            // A wrong height is too much below and too little above, or the
            // other way round.
            let next = residuals.get(i + 1).filter(|n| n.0 == p1);
            // Of the lowest layer the lower height is wrong where the upper one fits above.
            let upper_fits = next.is_some_and(|&(_, _, other, more)| other.abs() <= more);
            let place = self.standard_place(if i == 0 && upper_fits { p0 } else { p1 });
            self.findings.push(match next {
                Some(&(_, _, other, more))
                    if (off + other).abs() <= allowed + more && other.abs() > more =>
                {
                    skip = true;
                    finding!(
                        HydrostaticHeight,
                        place,
                        pressure_hpa = p1,
                        off_gpm = off,
                        [most_gpm = allowed]
                    )
                }
                _ => finding!(
                    HydrostaticLayer,
                    place,
                    from_hpa = p0,
                    to_hpa = p1,
                    off_gpm = off,
                    [most_gpm = allowed]
                ),
            });
        }
    }

    /// Pressure and height of the standard surfaces, lowest first.
    fn standard_heights(&self) -> Vec<(f64, f64)> {
        let report = self.message.report();
        let standard = report
            .levels
            .iter()
            .filter(|l| l.roles.any(Roles::STANDARD));
        standard
            .filter_map(|l| Some((l.row.pressure_hpa?, l.row.height_gpm?)))
            .collect()
    }

    /// The most by which the thickness of a layer may differ from that of its air: the steps
    /// of the two heights, and of the temperatures.
    fn layer_allowed(&self, (p0, p1): (f64, f64), thick: f64, fine: bool) -> f64 {
        let lim = message_limits();
        let step = |p: f64| if p > 500.0 { 0.5 } else { 5.0 };
        let per_k = thick / 250.0;
        let layer_k = if fine {
            lim.fine_layer_k
        } else {
            lim.coarse_layer_k
        };
        step(p0) + step(p1) + per_k * (layer_k + HALF_T_K) + lim.height_gross_gpm
    }

    /// Heights of standard surfaces within what has been measured anywhere, but for
    /// those that the temperatures bear out.
    fn gross_heights(&mut self, standard: &[(f64, f64)], borne_out: &[f64]) {
        for &(p, z) in standard {
            let row = tables::gross_limits()
                .iter()
                .find(|row| f64::from(row.pressure_hpa) == p);
            let Some(row) = row.filter(|_| !borne_out.contains(&p)) else {
                continue;
            };
            let low = row.height_low_gpm.unwrap_or(f64::NEG_INFINITY);
            if z < low || z > row.height_high_gpm {
                self.findings.push(finding!(
                    GrossHeight,
                    self.standard_place(p),
                    pressure_hpa = p,
                    height_gpm = z,
                    [low_gpm = low, high_gpm = row.height_high_gpm]
                ));
            }
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
    pub(super) fn superadiabatic(&mut self, warm: &[Warm]) {
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
                self.findings.push(finding!(
                    SuperadiabaticLevels,
                    self.place(high.part, high.set, high.p),
                    low_hpa = low.p,
                    low_c = low.t,
                    high_hpa = high.p,
                    high_c = high.t,
                    [most_k = lim.superadiabatic_k]
                ));
            }
        }
    }

    /// A temperature whose sign turned fits its neighbours, and as it stands
    /// does not.
    pub(super) fn signs(&mut self, warm: &[Warm]) {
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
        let heights = self.standard_heights();
        // What the heights around a level say of its temperature as it stands, and turned.
        let borne_out = |i: usize| {
            let here = warm.get(i)?;
            let mut turned = warm.to_vec();
            turned.get_mut(i)?.t = -here.t;
            let misfit = |column: &[Warm]| {
                let layers = heights.windows(2).filter_map(|pair| match pair {
                    [(p0, z0), (p1, z1)] if *p0 >= here.p && *p1 <= here.p => {
                        Some(((z1 - z0) - thickness(column, *p0, *p1)?.0).abs())
                    }
                    _ => None,
                });
                layers.sum1::<f64>()
            };
            Some(misfit(warm)? < misfit(&turned)?)
        };
        // Without heights to say, the warm air above cold ground is no slip.
        let real = |i: usize| borne_out(i).unwrap_or(i <= 1);
        for (i, here) in warm.iter().enumerate() {
            let Some(off) = slip(i) else { continue };
            // A slip makes its neighbours look wrong too, though less.
            let beside = [i.checked_sub(1), Some(i + 1)];
            if beside
                .into_iter()
                .flatten()
                .filter_map(slip)
                .any(|other| other > off)
                || real(i)
            {
                continue;
            }
            self.findings.push(finding!(
                SignSlip,
                self.place(here.part, here.set, here.p),
                temperature_c = here.t,
                pressure_hpa = here.p,
                off_k = off,
                turned_c = -here.t
            ));
        }
    }
}

/// Thickness between two pressures through the levels with temperature, gpm,
/// and whether significant levels are among them; `None` when they do not reach
/// over the layer.
fn thickness(warm: &[Warm], p0: f64, p1: f64) -> Option<(f64, bool)> {
    let (lowest, highest) = (warm.first()?, warm.last()?);
    if p0 > lowest.p || p1 < highest.p {
        return None;
    }
    let levels: Vec<(f64, f64)> = warm
        .iter()
        .map(|w| (w.p, virtual_temperature_k(w.t, w.td, w.p)))
        .collect();
    let column = Column::new(&levels);
    let sum = column.height_gpm(p1)? - column.height_gpm(p0)?;
    let fine = warm
        .iter()
        .any(|w| matches!(w.set, Set::Thermal(_)) && w.p > p1)
        && warm
            .iter()
            .any(|w| matches!(w.set, Set::Thermal(_)) && w.p <= p1);
    Some((sum, fine))
}
