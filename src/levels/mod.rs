//! Which levels a report must have, and why: the rules of WMO-No. 306 applied
//! to a profile. One rule per file.
//!
//! Two chains of significant levels meet at 100 hPa: what Parts A and B say
//! rests on rows at or below 100 hPa alone, so that an early message and the
//! final one agree; only tropopauses (2 km) and maximum winds look further up.
//!
//! # Levels of your own
//!
//! [`choose`] gives the levels by the rules, as data: a level can be removed, added or
//! made from scratch before the report is built. (An operator's wish is better an order in
//! [`Context::orders`](crate::model::Context), which is checked against the rules.)
//!
//! ```
//! use fivefig::forms::text;
//! use fivefig::issue::report;
//! use fivefig::levels;
//! use fivefig::model::{At, Level, Reach, Roles, Rule};
//! use fivefig::prelude::*;
//!
//! # let sheet = std::fs::read_to_string("samples/winter_jet.toml").unwrap();
//! # let sheets = [fivefig::input::sheet::Source { name: "winter_jet.toml", text: &sheet }];
//! # let rows = std::fs::read("samples/winter_jet.csv").unwrap();
//! # let ascent = Ascent::from_file(&rows, "winter_jet.csv", &sheets)?;
//! let flight = ascent.report(Form::Temp)?;
//! let (profile, context) = (flight.profile(), ascent.context());
//!
//! let mut chosen = levels::choose(profile, &context.coding, &context.orders, Reach::Whole);
//! // A level of our own: the first row above 600 hPa.
//! let (number, row) = (profile.rows.iter().enumerate())
//!     .find(|(_, row)| row.pressure_hpa.is_some_and(|p| p < 600.0))
//!     .expect("the ascent goes further up");
//! chosen.levels.push(Level {
//!     row: row.clone(),
//!     at: At::Row(number),
//!     roles: Roles::SIG_TEMPERATURE,
//!     why: vec![Rule::Other { text: "wanted by a model".to_owned(), clause: "own choice".to_owned() }],
//! });
//! chosen.levels.sort_by(|a, b| a.order().total_cmp(&b.order()));
//!
//! let report = report::build(Form::Temp, profile, chosen, context, Reach::Whole)?.value;
//! let message = text::message(&report)?.value;
//! let coded = row.pressure_hpa.map(f64::round);
//! assert!(message.report().levels.iter().any(|level| {
//!     level.row.pressure_hpa == coded && level.roles.any(Roles::SIG_TEMPERATURE)
//! }));
//! # Ok::<(), Error>(())
//! ```

mod chain;
mod column;
mod cone;
mod corners;
mod early;
mod freezing;
mod interpolate;
mod layers;
mod max_wind;
mod memo;
mod order;
mod overrides;
mod pair;
mod pilot;
mod reduce;
mod regional;
pub mod report;
mod sent;
mod standard;
mod sums;
mod thermal;
pub(crate) mod tolerance;
mod tropopause;
mod wind;

use std::collections::BTreeMap;

use crate::model::fidelity::Counts;
use crate::model::finding::Finding;
use crate::model::{
    At, Axis, Coding, Element, Form, Level, MaxWind, MissingLayer, Motion, Order, Part, Profile,
    Reach, Regional, Roles, Row, Rule,
};
use crate::tables::figure::PressureFigure;
use crate::tables::limits;
pub(crate) use column::{Column, Grid};
pub(crate) use early::rows_up_to_100;
pub use early::up_to_100;
pub use overrides::OutsideFlight;
pub(crate) use overrides::outside;
pub use pilot::choose_winds;
pub use sent::mark_sent;

/// The levels chosen for a report.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Levels {
    /// Lowest first; a row that is chosen for several reasons is one level.
    pub levels: Vec<Level>,
    /// Layers without data.
    pub missing: Vec<MissingLayer>,
    /// Maximum winds in the order of reporting, those at or below 100 hPa first.
    pub maxima: Vec<MaxWind>,
    /// What the practice of the Region adds.
    pub regional: Regional,
    /// PILOT levels by height above this, gpm, belong to Part D.
    pub divide_gpm: Option<f64>,
    /// What is to be said about the choice.
    pub findings: Vec<Finding>,
}

/// Chooses the levels as [`choose`] does, and counts them against the fewest
/// possible: a search over every row, bounded so that its cost stays in
/// proportion to the rows.
#[must_use]
pub fn count(profile: &Profile, coding: &Coding, orders: &[Order], reach: Reach) -> Counts {
    let column = Column::new(profile, coding);
    select(profile, &column, coding, orders, reach, true).1
}

/// Chooses the levels of a profile on a pressure axis.
///
/// `reach` tells whether the profile is the whole ascent or one still going on,
/// of which the levels up to 100 hPa are chosen as if it went on. Where rows are marked
/// as levels of a message that was sent ([`mark_sent`]), the additional levels start
/// from these.
#[must_use]
pub fn choose(profile: &Profile, coding: &Coding, orders: &[Order], reach: Reach) -> Levels {
    choose_on(
        profile,
        &Column::new(profile, coding),
        coding,
        orders,
        reach,
    )
}

/// The same, of a profile whose columns are at hand.
pub(crate) fn choose_on(
    profile: &Profile,
    column: &Column,
    coding: &Coding,
    orders: &[Order],
    reach: Reach,
) -> Levels {
    select(profile, column, coding, orders, reach, false).0
}

fn select(
    profile: &Profile,
    column: &Column,
    coding: &Coding,
    orders: &[Order],
    reach: Reach,
    count: bool,
) -> (Levels, Counts) {
    let mut out = Levels::default();
    if profile.axis != Axis::Pressure || profile.rows.is_empty() {
        return (out, Counts::default());
    }
    let early = reach == Reach::To100;
    let goes_on = column.lower < column.len() || early;
    let forced = overrides::forced(orders, column);
    let sent_thermal: Vec<usize> = column.rows_given(Roles::SENT_THERMAL).collect();
    let sent_wind: Vec<usize> = column.rows_given(Roles::SENT_WIND).collect();
    let tropopauses = tropopause::tropopauses(column);
    out.findings.extend(tropopauses.doubt);
    if early {
        let pending = early::pending(column, tropopauses.undecided);
        out.findings.extend(pending);
    }
    let tropopauses = tropopauses.rows;
    let thermal = thermal::choose(&thermal::ThermalInput {
        column,
        tropopauses: &tropopauses,
        goes_on,
        early,
        forced: &overrides::with_levels_of_message(&forced, column, Roles::SIG_T_OR_U),
        sent: &sent_thermal,
        count,
    });
    let motion = wind_motion(profile);
    let peaks = max_wind::peaks(column, motion, early);
    let winds = wind::choose(&wind::WindInput {
        column,
        unit: coding.wind_unit,
        goes_on,
        early,
        forced: &overrides::with_levels_of_message(&forced, column, Roles::SIG_WIND),
        sent: &sent_wind,
        form: Form::Temp,
        fixed: &[],
        peaks: &peaks,
        motion,
        count,
    });
    let counts = Counts {
        thermal: thermal.count,
        wind: winds.count,
    };
    let maxima = max_wind::maxima(&winds.picks, column, coding);

    let mut build = Build::new(profile, column);
    out.missing.extend(build.lowest(!winds.picks.is_empty()));
    build.tropopauses(&tropopauses);
    build.thermal(thermal.picks);
    out.maxima = build.maxima(&maxima, &winds.picks, &column.p, Form::Temp);
    build.winds(winds.picks);
    out.missing.extend(thermal.missing);
    out.missing.extend(winds.missing);
    out.findings.extend(thermal.findings);
    out.findings.extend(winds.findings);
    if !profile.descent {
        // What a Region adds is of the ascent from its ground.
        let (regional, above) = regional::regional(profile, column, coding, orders, goes_on);
        out.regional = regional;
        build.between.extend(above);
    }
    build.place(standard::standard(profile, column, coding));
    build.place(freezing::freezing(profile, column));
    out.levels = build.finish();

    overrides::drop_levels(orders, &mut out);
    if early {
        early::keep_lower(&mut out);
        let shear = early::pending_shear(&out, column);
        out.findings.extend(shear);
    }
    (out, counts)
}

/// The wind sounding of a drop ends at its lowest level (B/C26.6.4.4). The
/// regulation for descents is not at hand; as they are soundings of a station, the
/// top of theirs is, as in an ascent, the highest level with wind (our method).
fn wind_motion(profile: &Profile) -> Motion {
    if profile.descent {
        Motion::Rising
    } else {
        profile.motion
    }
}

/// Every row of a profile without the humidity that is not to be reported.
pub(crate) fn every_row<'a>(
    profile: &'a Profile,
    coding: &Coding,
) -> impl Iterator<Item = Row> + 'a {
    let column = Column::new(profile, coding);
    profile.rows.iter().enumerate().map(move |(k, row)| {
        let mut row = row.clone();
        standard::mask(&mut row, &column, k);
        row
    })
}

/// The rows of a profile that are tropopauses, lowest first (35.2.3.1).
#[must_use]
pub fn tropopauses(profile: &Profile, coding: &Coding) -> Vec<usize> {
    match profile.axis {
        Axis::Pressure => tropopause::tropopauses(&Column::new(profile, coding)).rows,
        Axis::Height => Vec::new(),
    }
}

/// The values of a profile at pressures, hPa: those of the row with this pressure, or
/// linear in its logarithm between rows and not across a layer without data. `None`
/// outside of the profile.
#[must_use]
pub fn at_pressures(profile: &Profile, coding: &Coding, hpa: &[f64]) -> Vec<Option<Row>> {
    let column = Column::new(profile, coding);
    let ends = column.p.first().zip(column.p.last());
    let inside = |p: f64| ends.is_some_and(|(&low, &top)| (top..=low).contains(&p));
    let at = |&p: &f64| inside(p).then(|| standard::reached(profile, &column, p).row);
    hpa.iter().map(at).collect()
}

fn pressure(level: &Level) -> f64 {
    level.row.pressure_hpa.unwrap_or(f64::INFINITY)
}

/// Whether Parts A and B of an early message made from the lowest `rows`, those up to 100 hPa,
/// can differ from those of the whole ascent, given its levels: something was open at 100 hPa,
/// and the whole ascent has not settled it as the early message did.
///
/// What Parts A and B say rests on rows at or below 100 hPa, except for tropopauses and
/// maximum winds; these are compared without choosing the other levels again.
pub(crate) fn may_differ(
    profile: &Profile,
    column: &Column,
    rows: usize,
    whole: &[Level],
    coding: &Coding,
) -> bool {
    let now = match profile.axis {
        Axis::Pressure => column.up_to(rows),
        Axis::Height => pilot::column(profile, coding).0.up_to(rows),
    };
    if !early::pending_values(&now).is_empty() {
        return true;
    }
    let lower = |mut rows: Vec<usize>| {
        rows.retain(|&row| row < now.lower);
        rows
    };
    let later = |role: Roles| {
        let of_role = whole.iter().filter(|level| level.roles.any(role));
        let rows = of_role.filter_map(|level| match level.at {
            At::Row(row) => Some(row),
            _ => None,
        });
        lower(rows.collect())
    };
    let peak = max_wind::undecided(&now).is_some();
    let maxima = if peak || coding.shear {
        lower(max_wind::peaks(&now, wind_motion(profile), true))
    } else {
        Vec::new()
    };
    let top = now.z.last().copied().unwrap_or(f64::NAN);
    let deep = |&row: &usize| {
        let here = now.z.get(row);
        here.is_some_and(|z| z + limits().shear_depth_gpm <= top)
    };
    if coding.shear && !maxima.iter().all(deep) {
        return true;
    }
    let (was, undecided) = match profile.axis {
        Axis::Pressure => tropopause::rows(&now),
        Axis::Height => Default::default(),
    };
    let tropopause = undecided.is_some_and(|row| row < now.lower);
    tropopause && lower(was) != later(Roles::TROPOPAUSE) || peak && maxima != later(Roles::MAX_WIND)
}

/// The levels so far: those that are rows, by row, and those between rows.
struct Build<'a> {
    profile: &'a Profile,
    column: &'a Column,
    rows: BTreeMap<usize, Level>,
    between: Vec<Level>,
}

impl<'a> Build<'a> {
    fn new(profile: &'a Profile, column: &'a Column) -> Self {
        Self {
            profile,
            column,
            rows: BTreeMap::new(),
            between: Vec::new(),
        }
    }

    /// The lowest row, and the layers that are missing below it.
    fn lowest(&mut self, has_wind: bool) -> Vec<MissingLayer> {
        let mut roles = Roles::SIG_T_OR_U;
        if has_wind {
            roles |= Roles::SIG_WIND;
        }
        if self.profile.descent {
            // Where the signal was lost or the sonde came down: the air below is
            // no layer with missing data, it was not sounded.
            self.add(0, roles, vec![Rule::LowestOfDescent]);
        } else if self.profile.ends_aloft {
            self.add(0, roles, vec![Rule::LowestOfDrop]);
            // Its values are missing at the surface.
            let first = self.profile.rows.first().and_then(|r| r.pressure_hpa);
            let missing = |element| MissingLayer {
                element,
                from_hpa: None,
                to_hpa: first,
            };
            return vec![missing(Element::Temperature), missing(Element::Wind)];
        } else {
            self.add(0, roles | Roles::SURFACE, Vec::new());
        }
        Vec::new()
    }

    fn tropopauses(&mut self, rows: &[usize]) {
        for (i, &row) in rows.iter().enumerate() {
            let why = Rule::Tropopause {
                first: i == 0,
                significant: false,
            };
            self.add(row, Roles::TROPOPAUSE, vec![why]);
        }
    }

    fn thermal(&mut self, picks: Vec<Pick>) {
        for pick in picks {
            let humidity = pick.humidity;
            let level = self.add(pick.row, pick.roles, pick.why);
            if let (Some(level), Some((td, u))) = (level, humidity) {
                level.row.dewpoint_c = Some(td);
                level.row.humidity_pct = Some(u);
                level.why.push(Rule::HumidityBetween);
            }
        }
    }

    /// The maximum winds among the significant ones: by pressure where it was
    /// measured, else by height.
    fn maxima(
        &mut self,
        maxima: &[max_wind::Maximum],
        picks: &[Pick],
        measured_hpa: &[f64],
        form: Form,
    ) -> Vec<MaxWind> {
        let mut found = Vec::new();
        for maximum in maxima {
            let Some(pick) = picks.get(maximum.pick) else {
                continue;
            };
            let top = pick.roles.any(Roles::TOP_OF_WIND);
            let why = match (top, self.profile.descent) {
                (true, false) => Rule::StrongestAtTop(form),
                (true, true) => Rule::StrongestAtTopOfDescent(form),
                (false, _) => Rule::MaxWind(form),
            };
            self.add(pick.row, Roles::MAX_WIND, vec![why]);
            let of = |c: &[f64]| c.get(pick.row).copied().filter(|v| v.is_finite());
            let pressure_hpa = of(measured_hpa);
            found.push(MaxWind {
                part: if pick.row < self.column.lower {
                    Part::A
                } else {
                    Part::C
                },
                pressure_hpa,
                height_gpm: of(&self.column.z).filter(|_| pressure_hpa.is_none()),
                shear: maximum.shear,
            });
        }
        found
    }

    /// The significant winds; which of their peaks are maxima is already said.
    fn winds(&mut self, picks: Vec<Pick>) {
        for pick in picks {
            self.add(pick.row, pick.roles - Roles::MAX_WIND, pick.why);
        }
    }

    /// Levels that may be rows or stand between them.
    fn place(&mut self, levels: impl IntoIterator<Item = Level>) {
        for level in levels {
            match level.at {
                At::Row(k) => self.merge(k, level),
                _ => self.between.push(level),
            }
        }
    }

    /// All levels, lowest first.
    fn finish(self) -> Vec<Level> {
        let mut levels: Vec<Level> = self.rows.into_values().collect();
        if (self.profile.ends_aloft || self.profile.descent)
            && let Some(lowest) = levels.first_mut()
        {
            lowest.roles -= Roles::SURFACE;
            lowest.why.retain(|rule| !matches!(rule, Rule::Surface(_)));
        }
        levels.extend(self.between);
        // Stable: rows of equal pressure keep their order.
        levels.sort_by(|l, r| pressure(r).total_cmp(&pressure(l)));
        levels
    }

    fn add(&mut self, row: usize, roles: Roles, why: Vec<Rule>) -> Option<&mut Level> {
        let values: &Row = self.profile.rows.get(row)?;
        let column = self.column;
        let level = self.rows.entry(row).or_insert_with(|| {
            let mut values = values.clone();
            standard::mask(&mut values, column, row);
            Level {
                row: values,
                at: At::Row(row),
                roles: Roles::empty(),
                why: Vec::new(),
            }
        });
        level.roles |= roles;
        for rule in why {
            if !level.why.contains(&rule) {
                level.why.push(rule);
            }
        }
        Some(level)
    }

    fn merge(&mut self, row: usize, other: Level) {
        if let Some(level) = self.add(row, other.roles, other.why) {
            let values = &mut level.row;
            values.height_gpm = values.height_gpm.or(other.row.height_gpm);
            values.temperature_c = values.temperature_c.or(other.row.temperature_c);
            values.dewpoint_c = values.dewpoint_c.or(other.row.dewpoint_c);
            values.humidity_pct = values.humidity_pct.or(other.row.humidity_pct);
            values.wind = values.wind.or(other.row.wind);
        }
    }
}

/// The pressure of the code in tenths of hPa, which tells levels apart that
/// the code can tell apart.
#[inline]
fn coded_key(pressure_hpa: f64) -> u16 {
    match PressureFigure::from_value(pressure_hpa) {
        Ok(PressureFigure::Tenths(tenths)) => tenths,
        Ok(PressureFigure::Whole(whole)) => whole.saturating_mul(10),
        Err(_) => 0,
    }
}

/// A chosen row.
#[derive(Clone, Debug)]
struct Pick {
    row: usize,
    roles: Roles,
    why: Vec<Rule>,
    /// Dew point and humidity taken from the rows around.
    humidity: Option<(f64, f64)>,
}
