//! Winds at standard surfaces against the straight lines between the levels of PILOT Parts B
//! and D by height.

use super::Check;
use super::between::vector;
use crate::forms::text::{Body, Message, Set, Step, WindLevels};
use crate::model::finding::finding;
use crate::model::quantity::SpeedUnit;
use crate::model::{Form, Part};
use crate::tables;
use crate::tables::message_limits;

/// A wind at a standard surface, and where the surface can be.
#[derive(Clone, Copy, Debug)]
pub(in crate::verify) struct StandardWind {
    part: Part,
    set: Set,
    p: f64,
    /// The lowest and the highest height, gpm.
    z: [f64; 2],
    wind: [f64; 2],
}

/// A level by height.
#[derive(Clone, Copy, Debug)]
pub(super) struct HeightLevel {
    pub(super) part: Part,
    pub(super) set: Set,
    /// Height, gpm, and half of its step.
    pub(super) z: f64,
    half: f64,
    pub(super) wind: [f64; 2],
}

/// Levels of PILOT by height, lowest first. The surface has no height.
#[derive(Clone, Debug, Default)]
pub(in crate::verify) struct HeightLine(pub(super) Vec<HeightLevel>);

/// A wind off the line.
struct Off {
    wind: StandardWind,
    /// The line at the middle of the heights.
    line: [f64; 2],
    /// The level of the line above it.
    above: HeightLevel,
}

impl HeightLine {
    pub(in crate::verify) fn of(message: &Message) -> Self {
        let mut out = Vec::new();
        for (&part, body) in &message.parts {
            let Body::Levels(p) = body else { continue };
            let WindLevels::Heights(h) = &p.levels else {
                continue;
            };
            let lower = h.levels.iter().map(|level| (level, h.step));
            let upper = h.above.iter().map(|level| (level, Step::M500));
            let in_steps = lower.chain(upper).map(|(&(steps, wind), step)| {
                let step = f64::from(step.metres());
                (f64::from(steps) * step, step / 2.0, wind)
            });
            let in_tens = h.significant.iter();
            let in_tens = in_tens.map(|&(tens, wind)| (f64::from(tens) * 10.0, 5.0, wind));
            let own: Vec<HeightLevel> = in_steps
                .chain(in_tens)
                .enumerate()
                .filter(|(_, (z, ..))| *z > 0.0)
                .filter_map(|(i, (z, half, wind))| {
                    Some(HeightLevel {
                        part,
                        set: Set::Wind(i),
                        z,
                        half,
                        wind: vector(wind?, message.unit),
                    })
                })
                .collect();
            out.extend(own);
        }
        // Levels after 21212 stand among those before it.
        out.sort_by(|a, b| a.z.total_cmp(&b.z));
        Self(out)
    }

    pub(in crate::verify) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// How near the line comes to a wind within the heights where it can be; `None` outside
    /// the line. Parts B and D are lines of their own.
    fn off(&self, wind: &StandardWind) -> Option<(f64, Off)> {
        let [low, high] = wind.z;
        let middle = low.midpoint(high);
        let mut at_middle = None;
        let mut least = f64::INFINITY;
        for pair in self.0.windows(2) {
            let [a, b] = pair else { continue };
            let (from, to) = (low - a.half, high + b.half);
            if a.part != b.part || b.z <= a.z || b.z < from || a.z > to {
                continue;
            }
            let share = |z: f64| ((z - a.z) / (b.z - a.z)).clamp(0.0, 1.0);
            let along = [b.wind[0] - a.wind[0], b.wind[1] - a.wind[1]];
            let value = |s: f64| [a.wind[0] + along[0] * s, a.wind[1] + along[1] * s];
            // The nearest point of the stretch.
            let length = along[0] * along[0] + along[1] * along[1];
            let towards =
                (wind.wind[0] - a.wind[0]) * along[0] + (wind.wind[1] - a.wind[1]) * along[1];
            let nearest = if length > 0.0 { towards / length } else { 0.0 };
            let [x, y] = value(nearest.clamp(share(from), share(to)));
            least = least.min((x - wind.wind[0]).hypot(y - wind.wind[1]));
            if a.z <= middle && middle <= b.z {
                let (wind, line, above) = (*wind, value(share(middle)), *b);
                at_middle = at_middle.or(Some(Off { wind, line, above }));
            }
        }
        at_middle.map(|off| (least, off))
    }

    /// The winds that are off the line by more than is allowed.
    fn far(&self, winds: &[StandardWind], most: f64) -> Vec<Off> {
        let off = winds.iter().filter_map(|wind| self.off(wind));
        off.filter(|(by, _)| *by > most)
            .map(|(_, off)| off)
            .collect()
    }
}

/// The winds of TEMP Parts A and C at the heights of the message.
pub(in crate::verify) fn temp_winds(message: &Message) -> Vec<StandardWind> {
    if message.form != Form::Temp {
        return Vec::new();
    }
    let heights = crate::forms::text::heights_of_surfaces(message);
    let mut out = Vec::new();
    for part in [Part::A, Part::C] {
        let Some(a) = message.standard(part) else {
            continue;
        };
        out.extend(a.standard.iter().enumerate().filter_map(|(i, s)| {
            let z = *heights.get(&s.pressure_hpa)?;
            Some(StandardWind {
                part,
                set: Set::Standard(i),
                p: f64::from(s.pressure_hpa),
                z: [z, z],
                wind: vector(s.wind?, message.unit),
            })
        }));
    }
    out
}

/// The winds of PILOT Parts A and C: a surface located by its height is there, another one
/// where the air can have it.
fn pilot_winds(message: &Message) -> Vec<StandardWind> {
    let mut out = Vec::new();
    for (&part, body) in &message.parts {
        let Body::Winds(a) = body else { continue };
        out.extend(a.standard.iter().enumerate().filter_map(|(i, s)| {
            let approximations = tables::height_approximations();
            let row = approximations
                .iter()
                .find(|row| row.pressure_hpa == s.pressure_hpa);
            let fixed = row.map(|row| {
                let own = f64::from(row.height_gpm);
                let second = row.second_gpm.map_or(own, f64::from);
                [own.min(second), own.max(second)]
            });
            let [low, high] = fixed?;
            let spread = match s.by_height {
                true => 0.0,
                false => message_limits().surface_height_pct / 100.0,
            };
            Some(StandardWind {
                part,
                set: Set::Standard(i),
                p: f64::from(s.pressure_hpa),
                z: [low * (1.0 - spread), high * (1.0 + spread)],
                wind: vector(s.wind?, message.unit),
            })
        }));
    }
    out
}

fn shown([first, second]: [f64; 2], unit: SpeedUnit) -> String {
    super::between::Element::Wind.shown([first, second], unit)
}

impl Check<'_> {
    /// Standard surfaces of PILOT Parts A and C on the line of Parts B and D.
    pub(super) fn between_pilot_parts(&mut self) {
        let line = HeightLine::of(self.message);
        let most = message_limits().standard_wind_ms;
        let unit = self.message.unit;
        for off in line.far(&pilot_winds(self.message), most) {
            let StandardWind {
                part, set, p, wind, ..
            } = off.wind;
            self.findings.push(finding!(
                WindOffLine,
                self.place(part, set, p),
                p = p,
                own = shown(wind, unit),
                part = part.letter(),
                line = shown(off.line, unit),
                [most = most]
            ));
        }
    }

    /// The winds of a TEMP on the line of a PILOT of the same station and time; this message
    /// is one of the two.
    pub(super) fn with_pilot(&mut self, winds: &[StandardWind], line: &HeightLine) {
        let most = message_limits().pilot_wind_ms;
        let unit = self.message.unit;
        for off in line.far(winds, most) {
            let StandardWind {
                part, set, p, wind, ..
            } = off.wind;
            let place = match self.message.form {
                Form::Pilot => self.place(off.above.part, off.above.set, p),
                _ => self.place(part, set, p),
            };
            self.findings.push(finding!(
                WindOffPilot,
                place,
                p = p,
                own = shown(wind, unit),
                part = part.letter(),
                other = off.above.part.letter(),
                line = shown(off.line, unit),
                [most = most]
            ));
        }
    }
}
