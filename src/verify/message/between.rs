//! Standard levels against the straight lines through the significant levels, which the
//! receiver draws: temperature, dew-point depression and wind of Parts A and C against
//! Parts B and D.

use super::{Check, near_thermal};
use crate::forms::text::{Body, Set, Thermal};
use crate::model::Part;
use crate::model::finding::finding;
use crate::model::quantity::SpeedUnit;
use crate::physics::humidity::relative_humidity_pct;
use crate::tables::figure::WindFigure;
use crate::tables::message_limits;

/// How many levels must agree for two parts to belong together.
const LEAST_COMPARED: usize = 3;

/// How well a standard level must fit for a significant level to be named instead of it when
/// no other standard level is off.
const ALONE: f64 = 0.7;

/// A level with the element that is compared: a vector, of which scalars use the first part.
#[derive(Clone, Copy)]
struct Point {
    part: Part,
    set: Set,
    p: f64,
    value: [f64; 2],
}

/// What is compared.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Element {
    Temperature,
    Depression,
    Wind,
}

impl Element {
    /// How far a level is off the line, as a multiple of what is allowed: of the depression
    /// either itself or as relative humidity.
    fn off(self, own: [f64; 2], line: [f64; 2]) -> f64 {
        let most = self.most(line);
        let ([own_d, t], [line_d, _]) = (own, line);
        if self != Self::Depression {
            return apart(own, line) / most;
        }
        let humidity = |d: f64| relative_humidity_pct(t, t - d);
        let moist = (humidity(own_d) - humidity(line_d)).abs();
        let dry = (own_d - line_d).abs() / most;
        dry.max(moist / message_limits().standard_humidity_pct)
    }

    /// The most by which a level may be off the line; a depression is coarser, and means
    /// less, the drier the air is.
    fn most(self, line: [f64; 2]) -> f64 {
        let lim = message_limits();
        let [first, _] = line;
        match self {
            Self::Temperature => lim.standard_temperature_k,
            Self::Depression => {
                lim.standard_depression_k + lim.standard_depression_pct / 100.0 * first.max(0.0)
            }
            Self::Wind => lim.standard_wind_ms,
        }
    }

    fn of_thermal(self, (t, d): Thermal) -> Option<[f64; 2]> {
        match self {
            Self::Temperature => Some([t?.value_c(), 0.0]),
            Self::Depression => Some([d?.value_k(), t?.value_c()]),
            Self::Wind => None,
        }
    }

    /// The value as a text gives it.
    pub(super) fn shown(self, [first, second]: [f64; 2], unit: SpeedUnit) -> String {
        match self {
            Self::Temperature => format!("{first:.1} °C"),
            Self::Depression => format!("{first:.1} K"),
            Self::Wind => {
                let speed = first.hypot(second) / unit.to_ms(1.0);
                let from = first.atan2(second).to_degrees().rem_euclid(360.0);
                format!("{from:.0}° {speed:.0} {}", unit.symbol())
            }
        }
    }
}

pub(super) fn vector(wind: WindFigure, unit: SpeedUnit) -> [f64; 2] {
    let (sin, cos) = wind.dir_deg().to_radians().sin_cos();
    let ms = wind.speed_ms(unit);
    [ms * sin, ms * cos]
}

fn apart([a, b]: [f64; 2], [c, d]: [f64; 2]) -> f64 {
    (a - c).hypot(b - d)
}

/// The significant levels of one element, lowest first; `None` is a layer without it.
struct Line(Vec<Option<Point>>);

/// A standard level off the line.
struct Off {
    /// Its place among the standard levels.
    at: usize,
    /// The ends of the stretch of the line.
    ends: [usize; 2],
    by: f64,
}

impl Line {
    /// The stretch around a pressure when a level of the line is left out: its ends, and the
    /// value there.
    fn at(&self, p: f64, without: Option<usize>) -> Option<([usize; 2], [f64; 2])> {
        let mut below: Option<(usize, Point)> = None;
        for (i, point) in self.0.iter().enumerate() {
            if Some(i) == without {
                continue;
            }
            let Some(here) = point else {
                below = None;
                continue;
            };
            if here.p <= p
                && let Some((from, low)) = below
                && low.p >= p
            {
                let share = if low.p > here.p {
                    (low.p / p).ln() / (low.p / here.p).ln()
                } else {
                    0.0
                };
                let [a, b] = low.value;
                let [c, d] = here.value;
                return Some(([from, i], [a + (c - a) * share, b + (d - b) * share]));
            }
            below = Some((i, *here));
        }
        None
    }

    /// How far standard levels within two places of the line are off it at most, as a
    /// multiple of what is allowed, when a level of either is left out.
    fn misfit(
        &self,
        element: Element,
        standard: &[Point],
        (from, to): (f64, f64),
        (without, ignored): (Option<usize>, Option<usize>),
    ) -> f64 {
        let near = standard.iter().enumerate();
        near.filter(|(i, s)| Some(*i) != ignored && s.p <= from && s.p >= to)
            .filter_map(|(_, s)| {
                let (_, line) = self.at(s.p, without)?;
                Some(element.off(s.value, line))
            })
            .fold(0.0, f64::max)
    }
}

impl Check<'_> {
    /// Standard levels on the line through the significant levels.
    pub(super) fn between_parts(&mut self) {
        for element in [Element::Temperature, Element::Depression, Element::Wind] {
            self.on_line(element);
        }
    }

    fn on_line(&mut self, element: Element) {
        let (standard, line) = (self.standard_points(element), self.line(element));
        let off = standard.iter().enumerate().filter_map(|(at, s)| {
            let (ends, value) = line.at(s.p, None)?;
            let same = |end: &usize| matches!(line.0.get(*end), Some(Some(e)) if e.p == s.p);
            // Levels of one coded pressure are compared by themselves.
            let shared = element == Element::Temperature && ends.iter().any(same);
            let by = element.off(s.value, value);
            (by > 1.0 && !shared).then_some(Off { at, ends, by })
        });
        let mut off: Vec<Off> = off.collect();
        off.sort_by(|a, b| b.by.total_cmp(&a.by));
        // Levels of the line with standard levels off on both sides explain them.
        let both = |end: usize| {
            let on = |side: usize| off.iter().any(|o| o.ends.get(side) == Some(&end));
            on(0) && on(1)
        };
        // Levels of the line that explain what is off, worst first.
        let mut explained: Vec<usize> = Vec::new();
        for &Off { at, ends, .. } in &off {
            if ends.iter().any(|end| explained.contains(end)) {
                continue;
            }
            let Some(own) = standard.get(at).copied() else {
                continue;
            };
            let blamed = ends
                .into_iter()
                .filter_map(|end| {
                    let left = self.explains(element, &standard, &line, end, own);
                    Some((end, left.or(both(end).then_some(1.0))?))
                })
                .min_by(|(_, a), (_, b)| a.total_cmp(b));
            let (point, others) = match blamed {
                Some((end, _)) => {
                    explained.push(end);
                    let Some(Some(point)) = line.0.get(end) else {
                        continue;
                    };
                    (*point, line.at(point.p, Some(end)))
                }
                None => (own, line.at(own.p, None)),
            };
            let Some((_, value)) = others else { continue };
            self.off_line(element, &point, value);
        }
    }

    /// Whether a level of the line, left out, explains what is off better than the standard
    /// level does: then all standard levels beside it fit. Gives what remains.
    fn explains(
        &self,
        element: Element,
        standard: &[Point],
        line: &Line,
        end: usize,
        own: Point,
    ) -> Option<f64> {
        let point = line.0.get(end).copied().flatten()?;
        let pressure = |i: Option<usize>| {
            let at = i.and_then(|i| line.0.get(i)).copied().flatten();
            at.map(|point| point.p)
        };
        let from = pressure(end.checked_sub(1)).unwrap_or(point.p);
        let to = pressure(Some(end + 1)).unwrap_or(point.p);
        // Both neighbours are needed to draw the line without it.
        if from <= point.p || to >= point.p {
            return None;
        }
        let own_index = standard.iter().position(|s| s.p == own.p)?;
        let without = line.misfit(element, standard, (from, to), (Some(end), None));
        let ignored = line.misfit(element, standard, (from, to), (None, Some(own_index)));
        let (_, value) = line.at(point.p, Some(end))?;
        let own_off = element.off(own.value, line.at(own.p, None)?.1);
        let lies_off = element.off(point.value, value) >= own_off;
        // One standard level alone proves little: then it must fit well.
        let enough = if ignored > 1.0 { 1.0 } else { ALONE };
        (without <= enough && lies_off).then_some(without)
    }

    fn off_line(&mut self, element: Element, point: &Point, value: [f64; 2]) {
        let place = self.place(point.part, point.set, point.p);
        let unit = self.message.unit;
        let (p, own) = (point.p, element.shown(point.value, unit));
        let (part, line) = (point.part.letter(), element.shown(value, unit));
        let most = element.most(value);
        macro_rules! off {
            ($code:ident) => {
                finding!(
                    $code,
                    place,
                    p = p,
                    own = own,
                    part = part,
                    line = line,
                    [most = most]
                )
            };
        }
        self.findings.push(match element {
            Element::Temperature => off!(TemperatureOffLine),
            Element::Depression => off!(DepressionOffLine),
            Element::Wind => off!(WindOffLine),
        });
    }

    /// The standard levels above the ground that have the element, lowest first.
    fn standard_points(&self, element: Element) -> Vec<Point> {
        let ground = self.message.standard(Part::A).and_then(|a| a.surface);
        let ground = ground.map_or(f64::INFINITY, |s| s.pressure.value_hpa());
        let mut out = Vec::new();
        for part in [Part::A, Part::C] {
            let Some(a) = self.message.standard(part) else {
                continue;
            };
            for (i, s) in a.standard.iter().enumerate() {
                let p = f64::from(s.pressure_hpa);
                let value = match element {
                    Element::Wind => s.wind.map(|wind| vector(wind, self.message.unit)),
                    _ => element.of_thermal(s.thermal),
                };
                if let Some(value) = value.filter(|_| p <= ground) {
                    let set = Set::Standard(i);
                    out.push(Point {
                        part,
                        set,
                        p,
                        value,
                    });
                }
            }
        }
        // The other elements of a tropopause are those of the significant level there.
        if element == Element::Wind {
            let parts = [Part::A, Part::C].into_iter();
            let parts = parts.filter_map(|part| Some((part, self.message.standard(part)?)));
            for (part, a) in parts {
                let winds = a.tropopauses.iter().enumerate();
                out.extend(winds.filter_map(|(i, t)| {
                    Some(Point {
                        part,
                        set: Set::Tropopause(i),
                        p: t.pressure.value_hpa(),
                        value: vector(t.wind?, self.message.unit),
                    })
                }));
            }
            out.sort_by(|a, b| b.p.total_cmp(&a.p));
        }
        out
    }

    /// The significant levels of an element.
    fn line(&self, element: Element) -> Line {
        let mut out = Vec::new();
        for (&part, body) in &self.message.parts {
            let Body::Significant(b) = body else { continue };
            // Between parts that do not follow each other no line is drawn.
            let upper_alone = part.is_upper() && !self.message.parts.contains_key(&Part::B);
            if upper_alone {
                out.push(None);
            }
            match element {
                Element::Wind => {
                    out.extend(b.winds.iter().enumerate().map(|(i, level)| {
                        let (p, wind) = (*level)?;
                        let value = vector(wind?, self.message.unit);
                        let set = Set::Wind(i);
                        Some(Point {
                            part,
                            set,
                            p: p.value_hpa(),
                            value,
                        })
                    }));
                }
                _ => {
                    out.extend(b.thermal.iter().enumerate().map(|(i, level)| {
                        let (p, thermal) = (*level)?;
                        let value = element.of_thermal(thermal)?;
                        let set = Set::Thermal(i);
                        Some(Point {
                            part,
                            set,
                            p: p.value_hpa(),
                            value,
                        })
                    }));
                }
            }
        }
        Line(out)
    }
}

/// Whether parts of two messages agree as those of one report do: where the surface stands in
/// both it is the same, and standard levels of one lie on the line of the other. None of them
/// contradicts the line, and together they are much nearer to it than a contradiction is:
/// of the air of another station or time some levels fit as well, but not all.
pub(in crate::verify) fn fit(check: &Check<'_>, first: impl Fn(Part) -> bool) -> bool {
    let message = check.message;
    for (standard, significant) in [(Part::A, Part::B), (Part::C, Part::D)] {
        let (Some(a), Some(b)) = (message.standard(standard), message.significant(significant))
        else {
            continue;
        };
        if first(standard) == first(significant) {
            continue;
        }
        let level = b.thermal.first().copied().flatten();
        if let (Some(surface), Some((p, thermal))) = (a.surface, level) {
            let known = thermal.0.is_some();
            return known && p == surface.pressure && near_thermal(thermal, surface.thermal);
        }
        let (mut compared, mut off) = (0, Vec::new());
        for element in [Element::Temperature, Element::Depression, Element::Wind] {
            let line = check.line(element);
            for s in check.standard_points(element) {
                if s.part != standard {
                    continue;
                }
                if let Some((_, value)) = line.at(s.p, None) {
                    compared += usize::from(element == Element::Temperature);
                    off.push(element.off(s.value, value));
                }
            }
        }
        let most = message_limits().parts_fit_ratio.powi(2);
        let excess: f64 = off.iter().map(|off| off * off - most).sum();
        let fits = off.iter().all(|off| *off <= 1.0) && excess <= 0.0;
        return fits && compared >= LEAST_COMPARED;
    }
    false
}
