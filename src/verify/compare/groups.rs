//! The levels of a report section by section, and what is compared in each.

use super::difference::{Difference, Quantity, Side};
use super::pairs::Open;
use super::tolerance::Tolerance;
use crate::forms::text::{beside_none, of_section4};
use crate::model::quantity::{SpeedUnit, snap};
use crate::model::{Form, Level, Part, Report, Roles, Row, Shear, Wind};
use crate::physics::angles::shorter_arc;
use crate::physics::humidity::reported_dewpoint_c;
use crate::tables::depression_codes;
use crate::tables::figure::{HeightFigure, PressureFigure, height_steps, height_tens, is_upper};

/// What a text gives in one section.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Group {
    Surface,
    Standard,
    Tropopause,
    Maximum,
    /// Significant in temperature or humidity.
    Thermal,
    /// Significant in wind; in PILOT also levels of the Region, and the surface.
    Wind,
    /// Levels that no text has.
    Other,
}

impl Group {
    /// The groups of a code form; those without a place in it only where no side
    /// is a text.
    pub fn of(form: Form, text: bool) -> Vec<Self> {
        let mut groups = match form {
            Form::Temp | Form::Descent => vec![
                Self::Surface,
                Self::Standard,
                Self::Tropopause,
                Self::Maximum,
                Self::Thermal,
                Self::Wind,
            ],
            Form::Pilot => vec![Self::Standard, Self::Maximum, Self::Wind],
        };
        if !text {
            groups.push(Self::Other);
        }
        groups
    }

    /// The roles that put a level into the group.
    fn roles(self, form: Form) -> Roles {
        match self {
            Self::Surface => Roles::SURFACE,
            Self::Standard => Roles::STANDARD,
            Self::Tropopause => Roles::TROPOPAUSE,
            Self::Maximum => Roles::MAX_WIND,
            Self::Thermal => Roles::SIG_T_OR_U,
            Self::Wind if form == Form::Pilot => Roles::SIG_WIND | Roles::REGIONAL,
            Self::Wind => Roles::SIG_WIND,
            Self::Other => Roles::empty(),
        }
    }

    /// Whether its levels are tropopauses or maximum winds.
    fn is_named(self) -> bool {
        matches!(self, Self::Tropopause | Self::Maximum)
    }
}

/// A level as one section has it.
pub(super) struct Entry<'a> {
    row: &'a Row,
    pressure_hpa: Option<f64>,
    height_gpm: Option<f64>,
    form: Form,
    roles: Roles,
    shear: Option<Shear>,
    /// The place among the maximum winds of the report.
    rank: usize,
    /// The part that carries it; `None` when none does.
    pub part: Option<Part>,
}

/// The levels of a report that belong to a group, in the report's order.
pub(super) fn entries(report: &Report, group: Group) -> Vec<Entry<'_>> {
    let form = report.form;
    let new = |level, part| of_level(report, level, part);
    let with = |lower: Part, upper: Part| {
        let roles = group.roles(form);
        let here = report.levels.iter().filter(move |l| l.roles.any(roles));
        here.map(move |level| {
            let above = level.row.pressure_hpa.is_some_and(is_upper);
            new(level, Some(if above { upper } else { lower }))
        })
        .collect::<Vec<_>>()
    };
    match group {
        // A text has one surface.
        Group::Surface => with(Part::A, Part::A).into_iter().take(1).collect(),
        Group::Standard | Group::Tropopause => with(Part::A, Part::C),
        Group::Maximum => [Part::A, Part::C]
            .into_iter()
            .flat_map(|part| report.maxima_of(part).map(move |m| (part, m)))
            .enumerate()
            .map(|(rank, (part, (maximum, level)))| Entry {
                pressure_hpa: maximum.pressure_hpa.or(level.row.pressure_hpa),
                height_gpm: maximum.height_gpm.or(level.row.height_gpm),
                shear: maximum.shear,
                rank,
                ..new(level, Some(part))
            })
            .collect(),
        Group::Wind if form == Form::Pilot => [Part::B, Part::D]
            .into_iter()
            .flat_map(|part| of_section4(report, part).map(move |l| new(l, Some(part))))
            .collect(),
        Group::Thermal | Group::Wind => with(Part::B, Part::D),
        Group::Other => {
            let known = Group::of(form, true)
                .into_iter()
                .fold(Roles::empty(), |all, group| all | group.roles(form))
                - Roles::MAX_WIND;
            let listed = |level: &Level| {
                let mut both = [Part::A, Part::C].into_iter();
                both.any(|part| {
                    report
                        .maxima_of(part)
                        .any(|(_, own)| std::ptr::eq(own, level))
                })
            };
            let here = report.levels.iter().filter(|l| !l.roles.any(known));
            let here = here.filter(|l| !(l.roles.any(Roles::MAX_WIND) && listed(l)));
            here.map(|level| new(level, None)).collect()
        }
    }
}

impl Entry<'_> {
    /// Whether the level is nothing but a row of the whole profile.
    pub fn is_plain(&self) -> bool {
        self.roles.is_empty()
    }
}

fn of_level<'a>(report: &Report, level: &'a Level, part: Option<Part>) -> Entry<'a> {
    Entry {
        row: &level.row,
        pressure_hpa: level.row.pressure_hpa,
        height_gpm: level.row.height_gpm,
        form: report.form,
        roles: level.roles,
        shear: None,
        rank: 0,
        part,
    }
}

/// A pressure as the code has it, hPa; as it stands when it has none.
pub(super) fn coded(pressure_hpa: f64) -> f64 {
    PressureFigure::from_value(pressure_hpa).map_or(pressure_hpa, PressureFigure::value_hpa)
}

/// One step of the code between two coded pressures, hPa, and a hair.
pub(super) fn pressure_step(left: Option<f64>, right: Option<f64>) -> f64 {
    let upper = left.is_some_and(is_upper) || right.is_some_and(is_upper);
    if upper { 0.1 + 1e-6 } else { 1.0 + 1e-6 }
}

impl Entry<'_> {
    /// That a side lacks this level.
    pub fn missing(&self, side: Side, group: Group) -> Difference {
        let own = group.roles(self.form);
        Difference::Missing {
            side,
            pressure_hpa: self.pressure_hpa,
            height_gpm: self.height_gpm.filter(|_| self.pressure_hpa.is_none()),
            roles: match group {
                Group::Other => self.roles,
                _ => self.roles & own,
            },
            parts: self.part.into_iter().collect(),
        }
    }

    /// Temperature less dew point, K: at 0 % that of the floor that BUFR and JSON
    /// give, or without bound where it is compared with a text.
    fn depression_k(&self, text: bool) -> Option<f64> {
        let row = self.row;
        let t = row.temperature_c?;
        if text && row.dewpoint_c.is_none() && row.humidity_pct.is_some_and(|u| u <= 0.0) {
            return Some(f64::MAX);
        }
        let dewpoint = reported_dewpoint_c(row.temperature_c, row.dewpoint_c, row.humidity_pct);
        dewpoint.map(|td| t - td)
    }
}

/// How the levels of a group are held together.
pub(super) struct Pairing<'a> {
    pub group: Group,
    /// Whether a side is a text.
    pub text: bool,
    /// Whether a side is BUFR.
    pub bufr: bool,
    /// Step of PILOT heights, m.
    pub step_m: u16,
    /// Units of speed, left and right.
    pub units: [SpeedUnit; 2],
    /// Which sides are texts, left and right.
    pub texts: [bool; 2],
    pub tolerance: &'a Tolerance,
}

impl Pairing<'_> {
    /// Whether the level is a tropopause or maximum wind, whose pressure of 99.9 hPa
    /// no text gives.
    fn is_named(&self, entry: &Entry) -> bool {
        let named = Roles::TROPOPAUSE | Roles::MAX_WIND;
        self.group.is_named() || entry.roles.any(named)
    }

    /// The pressure as the section writes it, hPa.
    fn coded(&self, entry: &Entry) -> Option<f64> {
        let p = entry.pressure_hpa?;
        match PressureFigure::from_value(p) {
            Ok(figure) if self.text && self.is_named(entry) => {
                Some(beside_none(figure).value_hpa())
            }
            _ => Some(coded(p)),
        }
    }

    /// The height as a section by height writes it, gpm.
    fn coded_height(&self, entry: &Entry) -> Option<f64> {
        let z = entry.height_gpm?;
        let figure = if self.group == Group::Maximum {
            height_tens(z).map(|tens| f64::from(tens) * 10.0)
        } else {
            height_steps(z, self.step_m, u8::MAX)
                .map(|steps| f64::from(steps) * f64::from(self.step_m))
        };
        Some(figure.unwrap_or(z))
    }

    /// Pairs the levels: surface with surface; then by pressure, equal before
    /// equal as coded before one step apart; then by height in the same way,
    /// where a side has no pressure.
    pub fn pair<'e>(&self, open: &mut Open<'e, Entry<'e>>) {
        // Rows of a whole profile: no further apart than rounding puts them.
        let pressure = |e: &&Entry| e.pressure_hpa.filter(|_| e.is_plain());
        open.match_by(pressure, |l, r, off| self.same_row(l, r, off));
        let height = |e: &&Entry| e.height_gpm.filter(|_| e.is_plain());
        open.match_by(height, |_, _, off| off <= self.tolerance.height_gpm);
        let ground = |e: &&Entry| e.roles.any(Roles::SURFACE).then_some(0.0);
        open.match_by(ground, |_, _, _| true);
        let pressure = |e: &&Entry| e.pressure_hpa;
        open.match_by(pressure, |_, _, off| off <= 1e-6);
        let pressure = |e: &&Entry| self.coded(e);
        open.match_by(pressure, |_, _, off| off <= 1e-6);
        open.match_by(pressure, |l, r, off| {
            off <= pressure_step(self.coded(l), self.coded(r))
        });
        let placed = |l: &&Entry, r: &&Entry| l.pressure_hpa.is_some() && r.pressure_hpa.is_some();
        let height = |e: &&Entry| e.height_gpm;
        open.match_by(height, |l, r, off| off <= 1e-6 && !placed(l, r));
        let height = |e: &&Entry| self.coded_height(e);
        open.match_by(height, |l, r, off| off <= 1e-6 && !placed(l, r));
        let step = match self.group {
            Group::Maximum => 10.0,
            _ => f64::from(self.step_m),
        };
        open.match_by(height, |l, r, off| off <= step + 1e-6 && !placed(l, r));
    }

    fn same_row(&self, l: &Entry, r: &Entry, off_hpa: f64) -> bool {
        let p = l.pressure_hpa.or(r.pressure_hpa).unwrap_or(0.0);
        off_hpa <= self.tolerance.pressure_at(p)
    }

    /// Whether a level of a report stands where a row of a whole profile does, with
    /// a role there.
    pub fn stands(&self, report: &Report, row: &Entry) -> bool {
        let near = |level: &Level| match (level.row.pressure_hpa, row.pressure_hpa) {
            (Some(a), Some(b)) => (a - b).abs() <= self.tolerance.pressure_at(b),
            _ => match (level.row.height_gpm, row.height_gpm) {
                (Some(a), Some(b)) => (a - b).abs() <= self.tolerance.height_gpm,
                _ => false,
            },
        };
        report.levels.iter().any(near)
    }

    /// That the maximum winds of a part come in another order.
    pub fn order(&self, pairs: &[(&Entry, &Entry)]) -> Option<Difference> {
        let mut ranks: Vec<_> = pairs
            .iter()
            .map(|(l, r)| (l.rank, r.rank, l.part))
            .collect();
        ranks.sort_unstable_by_key(|&(l, _, _)| l);
        let turned = ranks.windows(2).find(|two| match two {
            [(_, a, _), (_, b, _)] => b < a,
            _ => false,
        })?;
        let part = turned.first()?.2?;
        Some(Difference::MaximumOrder { part })
    }

    /// Compares the values of two levels.
    pub fn values(&self, l: &Entry, r: &Entry, out: &mut Vec<Difference>) {
        let mut at = At::of(self, l, r, out);
        let tolerance = self.tolerance;
        self.places(l, r, &mut at);
        let (temp, all) = (l.form != Form::Pilot, !self.text);
        let thermal = temp && !matches!(self.group, Group::Maximum | Group::Wind);
        // PILOT in BUFR has winds alone.
        if (all && (temp || !self.bufr)) || thermal {
            let (a, b) = (l.row.temperature_c, r.row.temperature_c);
            at.value(Quantity::Temperature, a, b, tolerance.temperature_k);
            // A text has no humidity without temperature.
            if all || a.is_some() == b.is_some() {
                let most = depression_codes().last().map_or(f64::MAX, |&(_, k)| k);
                let own = |e: &Entry| {
                    let k = e.depression_k(self.text)?;
                    Some(if self.text { k.clamp(0.0, most) } else { k })
                };
                let (a, b) = (own(l), own(r));
                let allowed = match (a, b) {
                    (Some(a), Some(b)) => tolerance.depression_between(a, b),
                    _ => tolerance.depression_k,
                };
                at.value(Quantity::Depression, a, b, allowed);
            }
        }
        if all {
            let (a, b) = (l.row.humidity_pct, r.row.humidity_pct);
            // Most templates of BUFR give the dew point alone.
            if !self.bufr || a.is_some() && b.is_some() {
                at.value(Quantity::Humidity, a, b, tolerance.humidity_pct);
            }
        }
        if all || self.group != Group::Thermal {
            self.winds(l.row.wind, r.row.wind, &mut at);
        }
        if self.group == Group::Maximum {
            let (a, b) = (self.shear(l, 0), self.shear(r, 1));
            let allowed = tolerance.wind_speed_ms;
            at.value(Quantity::ShearBelow, a[0], b[0], allowed);
            at.value(Quantity::ShearAbove, a[1], b[1], allowed);
        }
        self.roles(l, r, &mut at);
    }

    /// Pressure and height.
    fn places(&self, l: &Entry, r: &Entry, at: &mut At) {
        let tolerance = self.tolerance;
        let (a, b) = (l.pressure_hpa, r.pressure_hpa);
        let named = self.is_named(l) || self.is_named(r);
        let shifted = self.text && named && self.coded(l) == self.coded(r);
        let moved = shifted && self.coded(l) == Some(99.8);
        let both = |a: Option<f64>, b: Option<f64>| a.is_some() && b.is_some();
        // A template of BUFR has one coordinate of PILOT levels.
        let one = self.bufr && l.form == Form::Pilot;
        if (!self.text && !one || both(a, b)) && !moved {
            let p = a.into_iter().chain(b).fold(0.0, f64::max);
            at.value(Quantity::Pressure, a, b, tolerance.pressure_at(p));
        }
        let (a, b) = (l.height_gpm, r.height_gpm);
        let allowed = match at.pressure_hpa {
            Some(p) => tolerance.height_at(p),
            None if self.group == Group::Maximum => tolerance.height_maximum_gpm,
            None => tolerance.height_pilot_gpm,
        };
        let by_height = l.pressure_hpa.is_none() || r.pressure_hpa.is_none();
        let standard = l.form != Form::Pilot && self.group == Group::Standard;
        let carried = standard || by_height && a.is_some() && b.is_some();
        let reported = !one || both(a, b);
        if (!self.text && reported || carried) && !(self.text && standard && same_figures(at, a, b))
        {
            at.value(Quantity::Height, a, b, allowed);
        }
    }

    /// Direction and speed. A calm, which has less than half a unit, has no
    /// direction.
    fn winds(&self, l: Option<Wind>, r: Option<Wind>, at: &mut At) {
        let tolerance = self.tolerance;
        let speed = |wind: Option<Wind>| wind.map(|w| w.speed_ms);
        at.value(
            Quantity::WindSpeed,
            speed(l),
            speed(r),
            tolerance.wind_speed_ms,
        );
        let (Some(l), Some(r)) = (l, r) else {
            return;
        };
        let calm = |wind: Wind, unit: SpeedUnit| snap(unit.from_ms(wind.speed_ms)) < 0.5;
        let [left_unit, right_unit] = self.units;
        if calm(l, left_unit) || calm(r, right_unit) {
            return;
        }
        if shorter_arc(l.dir_deg - r.dir_deg).abs() > tolerance.wind_dir_deg {
            at.push(
                Quantity::WindDirection,
                Some(l.dir_deg),
                Some(r.dir_deg),
                tolerance.wind_dir_deg,
            );
        }
    }

    /// Shear below and above, m/s; 99 units stand for more.
    fn shear(&self, entry: &Entry, side: usize) -> [Option<f64>; 2] {
        let most = match (self.texts, self.units) {
            ([false, false], _) => f64::INFINITY,
            ([true, false], [unit, _]) | ([false, true], [_, unit]) => unit.to_ms(99.0),
            (_, units) => units.get(side).map_or(f64::INFINITY, |u| u.to_ms(99.0)),
        };
        entry.shear.map_or([None, None], |s| {
            [s.below_ms, s.above_ms].map(|ms| ms.map(|ms| ms.min(most)))
        })
    }

    /// Roles besides those of the group.
    fn roles(&self, l: &Entry, r: &Entry, at: &mut At) {
        let own = match (self.text, self.group) {
            (true, Group::Maximum) => Roles::TOP_OF_WIND,
            (true, Group::Standard) if l.form == Form::Pilot => Roles::FROM_HEIGHT,
            (true, _) => return,
            (false, group) => {
                let sections = [
                    Group::Surface,
                    Group::Standard,
                    Group::Tropopause,
                    Group::Maximum,
                    Group::Wind,
                ]
                .into_iter()
                .fold(Roles::FORCED | Roles::REGIONAL, |all, g| {
                    all | g.roles(l.form)
                });
                // In their own group the two of section 5 are distinguished.
                let section5 = if group == Group::Thermal {
                    Roles::empty()
                } else {
                    Roles::SIG_T_OR_U
                };
                !(sections | section5)
            }
        };
        for (side, has, lacks) in [(Side::Right, l, r), (Side::Left, r, l)] {
            let roles = (has.roles & own) - lacks.roles;
            if !roles.is_empty() {
                at.out.push(Difference::Role {
                    pressure_hpa: at.pressure_hpa,
                    height_gpm: at.height_gpm,
                    roles,
                    side,
                });
            }
        }
    }
}

/// Whether two heights of a standard surface, of which one is below sea level,
/// have the same three figures: 689 is 689 gpm and -189 gpm, and a text does not
/// say which.
fn same_figures(at: &At, l: Option<f64>, r: Option<f64>) -> bool {
    let (Some(l), Some(r), Some(p)) = (l, r, at.pressure_hpa) else {
        return false;
    };
    let step = if p > 500.0 { 1 } else { 10 };
    let figures = |z: f64| HeightFigure::from_value(z, step);
    (l < 0.0 || r < 0.0) && figures(l).is_ok() && figures(l) == figures(r)
}

/// Where two levels are, and what is found there.
struct At<'o> {
    pressure_hpa: Option<f64>,
    height_gpm: Option<f64>,
    roles: Roles,
    out: &'o mut Vec<Difference>,
}

impl<'o> At<'o> {
    /// The place is that of the text, or else the lower one.
    fn of(held: &Pairing, l: &Entry, r: &Entry, out: &'o mut Vec<Difference>) -> Self {
        let pick = |l: Option<f64>, r: Option<f64>, lower: fn(f64, f64) -> f64| match held.texts {
            [true, false] => l.or(r),
            [false, true] => r.or(l),
            _ => match (l, r) {
                (Some(l), Some(r)) => Some(lower(l, r)),
                _ => l.or(r),
            },
        };
        let pressure_hpa = pick(l.pressure_hpa, r.pressure_hpa, f64::max);
        let by_height = l.pressure_hpa.is_none() || r.pressure_hpa.is_none();
        let height_gpm = pick(l.height_gpm, r.height_gpm, f64::min);
        let (pressure_hpa, height_gpm) = match (by_height, height_gpm) {
            (true, Some(z)) => (None, Some(z)),
            _ => (pressure_hpa, None),
        };
        let own = held.group.roles(l.form);
        Self {
            pressure_hpa,
            height_gpm,
            roles: (l.roles | r.roles) & own,
            out,
        }
    }

    /// Adds a value if it differs by more than is allowed.
    fn value(&mut self, quantity: Quantity, l: Option<f64>, r: Option<f64>, allowed: f64) {
        let same = match (l, r) {
            (Some(l), Some(r)) => (l - r).abs() <= allowed,
            (None, None) => true,
            _ => false,
        };
        if !same {
            self.push(quantity, l, r, allowed);
        }
    }

    fn push(&mut self, quantity: Quantity, left: Option<f64>, right: Option<f64>, allowed: f64) {
        self.out.push(Difference::Value {
            pressure_hpa: self.pressure_hpa,
            height_gpm: self.height_gpm,
            roles: self.roles,
            quantity,
            left,
            right,
            allowed,
        });
    }
}
