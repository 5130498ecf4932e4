//! Report → message: the one place where its values become BUFR figures.

use jiff::civil::DateTime;

use super::choose;
use super::figure::{Figure, figure};
use super::node::Node;
use super::not_written::{NotWritten, Unfit};
use super::plan::BEHIND;
use super::seen::Body;
use super::thin::{Thinned, coarse};
use super::{Descriptor, Field, Kind, Layout, Message, Section1, Value};
use crate::model::finding::{Finding, Place, counted, finding};
use crate::model::{
    Context, Form, Level, Motion, Noted, Part, Position, Reach, Report, Roles, Shear, StationKind,
};
use crate::physics::drift::wrapped;
use crate::physics::gravity::{MIDDLE_LATITUDE_DEG, altitude_m};
use crate::physics::humidity::reported_dewpoint_c;
use crate::tables;
use crate::tables::BufrTemplate;

/// The most levels and shears: the counters hold one more, which reads as missing
/// elsewhere.
const MOST_LEVELS: usize = 65_534;
const MOST_SHEARS: usize = 254;

/// Rounds a report into a message: the template of the sheet, or the preferred
/// one for the form.
///
/// Every level of the report is written, so a report with every row of its
/// profile ([`crate::levels::report::with_every_row`]) gives the whole profile.
///
/// # Errors
/// A template that does not fit, more levels than the counters hold, a value or
/// text that its bits cannot hold, a report without its full date.
pub fn from_report(report: &Report) -> Result<Noted<Message>, NotWritten> {
    let template = choose::wanted(report)?;
    let (release, standard) = report.when.in_full().ok_or(NotWritten::Time)?;
    let mut findings = Vec::new();
    if release.is_none() && report.start.is_none() {
        findings.push(finding!(LaunchTimeMissing, Place::default()));
    }
    let descriptors = in_front(report, template);
    let layout =
        Layout::new(&descriptors, template.version).map_err(|(_, fault)| fault.at(3, 0))?;
    let mut values = Vec::new();
    let scene = Scene {
        report,
        release: release.unwrap_or(standard),
        nil: report.levels.is_empty(),
    };
    scene.all(&layout.nodes, &mut values, &mut findings)?;
    let context = &report.context;
    let small = |v: i8| u8::try_from(v).unwrap_or(0);
    // Not every form has a figure of its own for radiosondes used before.
    let subcategory = |reused: bool| {
        tables::subcategories()
            .iter()
            .find(|s| (s.form, s.kind, s.reused) == (report.form, context.station.kind, reused))
    };
    let subcategory = subcategory(context.bufr.reused).or_else(|| subcategory(false));
    findings.extend(lacking(report, &layout));
    let section1 = Section1 {
        centre: context.bufr.centre.unwrap_or(u16::MAX),
        sub_centre: context.bufr.sub_centre.unwrap_or(0),
        update: context.bufr.update.unwrap_or(0),
        subcategory: subcategory.map_or(u8::MAX, |s| s.figure),
        table_version: template.version,
        year: u16::try_from(standard.year()).unwrap_or(0),
        month: small(standard.month()),
        day: small(standard.day()),
        clock: [small(standard.hour()), small(standard.minute()), 0],
        ..Section1::default()
    };
    let message = Message {
        section1,
        template: descriptors,
        values: vec![values],
    };
    Ok((message, findings).into())
}

/// Rounds a report into a message and gives its octets.
///
/// # Errors
/// As [`from_report`], and a message longer than its counters hold.
pub fn write(report: &Report) -> Result<Noted<Vec<u8>>, NotWritten> {
    let Noted {
        value: message,
        findings,
    } = from_report(report)?;
    Ok((message.encode()?, findings).into())
}

/// Whether a standard surface below ground lies deeper than 0 10 009 reaches: 1000 hPa
/// under a deep storm, or under a station below the sea.
fn is_too_deep(level: &Level, ground_hpa: Option<f64>) -> bool {
    const LEAST_GPM: f64 = -1000.0;
    let row = &level.row;
    let below = row.pressure_hpa.zip(ground_hpa).is_some_and(|(p, g)| p > g);
    below && row.height_gpm.is_some_and(|z| z < LEAST_GPM)
}

/// What the regulations always ask for and the report does not say.
fn lacking(report: &Report, layout: &Layout) -> Vec<Finding> {
    let context = &report.context;
    let (station, equipment) = (&context.station, &context.equipment);
    let has = |x: u16, y: u16| {
        let here = |f: &Field| (f.descriptor.x(), f.descriptor.y()) == (x, y);
        layout.fields(|_| None).iter().any(here)
    };
    let mut lacks = Vec::new();
    if has(1, 6) && station.call_sign.is_none() {
        lacks.push(("station.call_sign", "0 01 006, aircraft flight number"));
    }
    for (given, x, y, key, what) in [
        (
            equipment.radiosonde,
            2,
            11,
            "equipment.radiosonde",
            "0 02 011, radiosonde type",
        ),
        (
            equipment.radiation,
            2,
            13,
            "equipment.radiation",
            "0 02 013, radiation correction",
        ),
        (
            equipment.tracking,
            2,
            14,
            "equipment.tracking",
            "0 02 014, tracking technique",
        ),
        (
            equipment.measuring,
            2,
            3,
            "equipment.measuring",
            "0 02 003, measuring equipment",
        ),
    ] {
        if has(x, y) && given.is_none() {
            lacks.push((key, what));
        }
    }
    let mut findings: Vec<Finding> = lacks
        .into_iter()
        .map(|(key, what)| finding!(AlwaysReported, Place::key(key), element = what))
        .collect();
    let placed = report.start.map_or_else(
        || station.latitude_deg.is_some() && station.longitude_deg.is_some(),
        |start| start.place.is_some(),
    );
    if !placed {
        let key = Place::key("station.latitude_deg");
        findings.push(finding!(PositionMissing, key));
    }
    findings
}

/// The template with what goes in front of it: the WIGOS identifier and what is
/// known of sonde and balloon, where the template itself has no place for them.
fn in_front(report: &Report, template: &BufrTemplate) -> Vec<Descriptor> {
    let inside = |wanted: Descriptor| {
        tables::bufr_sequence(template.descriptor).is_some_and(|m| m.contains(&wanted))
    };
    let context = &report.context;
    [
        ("301150", context.station.wigos_id.is_some()),
        ("301128", super::sonde::is_known(context)),
    ]
    .into_iter()
    .filter(|(_, known)| *known)
    .filter_map(|(figures, _)| Descriptor::from_figures(figures))
    .filter(|&d| !inside(d))
    .chain([template.descriptor])
    .collect()
}

struct Scene<'a> {
    report: &'a Report,
    /// Time of release, or the standard time where that is not known.
    release: DateTime,
    /// No report: everything but the identification is missing.
    nil: bool,
}

impl Scene<'_> {
    fn all(
        &self,
        nodes: &[Node],
        values: &mut Vec<Value>,
        findings: &mut Vec<Finding>,
    ) -> Result<(), NotWritten> {
        let mut seen: Vec<Descriptor> = Vec::new();
        for node in nodes {
            match node {
                Node::Field(field) => {
                    let nth = seen.iter().filter(|d| **d == field.descriptor).count();
                    seen.push(field.descriptor);
                    let value = self.head(field, nth)?;
                    values.push(written(field, value, String::new)?);
                }
                Node::Repeat { times, body, .. } => {
                    let Err(factor) = times else { continue };
                    if Body::of(body) == Body::Shear {
                        self.shears(factor, body, values)?;
                    } else {
                        self.levels(factor, body, values, findings)?;
                    }
                }
                // No template that is written has one.
                Node::Operator(_) | Node::Marker(_) => {}
            }
        }
        Ok(())
    }

    /// A field outside the levels; `nth` counts those of one descriptor from 0.
    fn head(&self, field: &Field, nth: usize) -> Result<Figure, NotWritten> {
        let context = &self.report.context;
        if self.nil && !identifies(field.descriptor) {
            return Ok(Figure::Missing);
        }
        let station = &context.station;
        let time = match self.report.start {
            // A descent gives its own beginning.
            Some(start) => start.time.ok_or(NotWritten::NoStart)?,
            None => self.release,
        };
        let time = time.round(jiff::Unit::Second).unwrap_or(time);
        let origin = self.origin();
        Ok(match (field.descriptor.x(), field.descriptor.y()) {
            (1, 125..=128) => wigos(context, field.descriptor.y())?,
            (1, 1) => Figure::code(station.wmo_block),
            (1, 2) => Figure::code(station.wmo_number),
            // A fixed land station never gives it; drops have 0 01 006.
            (1, 11) if station.kind != StationKind::Land => {
                Figure::text(station.call_sign.as_deref())
            }
            (1, 6) => Figure::text(station.call_sign.as_deref()),
            // 18: launch time.
            (8, 21) => Figure::Code(18),
            (4, 1) => Figure::Code(i64::from(time.year())),
            (4, 2) => Figure::Code(i64::from(time.month())),
            (4, 3) => Figure::Code(i64::from(time.day())),
            (4, 4) => Figure::Code(i64::from(time.hour())),
            (4, 5) => Figure::Code(i64::from(time.minute())),
            (4, 6) => Figure::Code(i64::from(time.second())),
            // 2: start of observation, for the three fields that follow.
            (8, 91) if nth == 0 => Figure::Code(2),
            (5, 1) => Figure::value(origin.map(|p| p.latitude_deg)),
            (6, 1) => Figure::value(origin.map(|p| p.longitude_deg)),
            (7, 30) if station.kind != StationKind::Drop => Figure::value(station.elevation_m),
            (7, 31) => Figure::value(station.barometer_m),
            (7, 7) => Figure::value(self.release_m()),
            (33, 24) if station.kind == StationKind::Mobile => {
                Figure::code(station.elevation_quality)
            }
            (8, 2) | (20, _) => super::clouds::figure(context.clouds, field.descriptor, nth),
            (22, 43) => {
                let surface = context.surface.as_ref();
                Figure::celsius(surface.and_then(|s| s.sea_temperature_c))
            }
            // An early message is of an ascent that still goes on.
            (35, 35) if self.report.reach == Reach::To100 => Figure::Missing,
            _ => super::sonde::figure(self.report, field.descriptor),
        })
    }

    /// Where displacements count from: the launch, or where a descent begins.
    fn origin(&self) -> Option<Position> {
        if let Some(start) = self.report.start {
            return start.place;
        }
        let station = &self.report.context.station;
        let (latitude_deg, longitude_deg) = station.latitude_deg.zip(station.longitude_deg)?;
        Some(Position {
            latitude_deg,
            longitude_deg,
        })
    }

    /// Height of the release point, or of where a descent begins: a drop begins
    /// where its highest level is.
    fn release_m(&self) -> Option<f64> {
        if let Some(start) = self.report.start {
            return start.height_m;
        }
        let station = &self.report.context.station;
        let top = || {
            let level = self.report.levels.last()?;
            let place = level.row.place.map(|p| p.latitude_deg);
            let latitude = place.or(station.latitude_deg);
            let latitude = latitude.unwrap_or(MIDDLE_LATITUDE_DEG);
            level.row.height_gpm.map(|z| altitude_m(z, latitude))
        };
        let given = station.release_m.or(station.elevation_m);
        if station.kind == StationKind::Drop {
            return station.release_m.or_else(top);
        }
        given
    }

    fn levels(
        &self,
        factor: &Field,
        body: &[Node],
        values: &mut Vec<Value>,
        findings: &mut Vec<Finding>,
    ) -> Result<(), NotWritten> {
        let fields = fields(body);
        if self.nil {
            return nil(factor, &fields, values);
        }
        let levels = self.apart(&fields, findings);
        count("levels", levels.len(), MOST_LEVELS, factor)?;
        values.reserve(1 + levels.len() * fields.len() + BEHIND);
        values.push(count_value(levels.len()));
        let ground = self.ground_hpa();
        for level in &levels {
            let level = level.as_ref();
            if is_too_deep(level, ground) {
                let z = level.row.height_gpm.unwrap_or_default();
                let place = Place::pressure(level.row.pressure_hpa.unwrap_or_default());
                findings.push(finding!(HeightBelowRange, place, height_gpm = z));
            }
            for field in &fields {
                let value = self.level(field, level, ground);
                values.push(written(field, value, || place(level))?);
            }
        }
        Ok(())
    }

    /// Pressure of the surface.
    fn ground_hpa(&self) -> Option<f64> {
        let surface = |l: &&Level| l.roles.any(Roles::SURFACE);
        let found = self.report.levels.iter().find(surface)?;
        found.row.pressure_hpa
    }

    /// One field of a level.
    fn level(&self, field: &Field, level: &Level, ground_hpa: Option<f64>) -> Figure {
        let row = &level.row;
        // Levels below the station, and the surface an ascent begins at: time and
        // displacement 0. Of a drop the surface is the end.
        let at_start = || {
            let below = |ground_hpa| row.pressure_hpa.is_some_and(|p| p > ground_hpa);
            let rises = self.report.motion == Motion::Rising;
            ground_hpa.is_some_and(below) || (rises && level.roles.any(Roles::SURFACE))
        };
        match (field.descriptor.x(), field.descriptor.y()) {
            (4, 86) => {
                let begin_s = self.report.start.and_then(|s| s.time_s).unwrap_or(0.0);
                let since = row.time_s.map(|t| t - begin_s);
                Figure::value(since.or_else(|| at_start().then_some(0.0)))
            }
            (8, 42) => Figure::Code(i64::from(self.flags(level).bits())),
            (7, 4) => Figure::hectopascals(row.pressure_hpa),
            (7, 9) | (10, 9) => {
                Figure::value(row.height_gpm.filter(|_| !is_too_deep(level, ground_hpa)))
            }
            (5, 15) => Figure::value(self.displacement(row.place, at_start).map(|(lat, _)| lat)),
            (6, 15) => Figure::value(self.displacement(row.place, at_start).map(|(_, lon)| lon)),
            (12, 101) => Figure::celsius(row.temperature_c),
            (12, 103) => Figure::celsius(reported_dewpoint_c(
                row.temperature_c,
                row.dewpoint_c,
                row.humidity_pct,
            )),
            (13, 9) => Figure::value(row.humidity_pct),
            (11, 1) => Figure::Direction(row.wind),
            (11, 2) => Figure::value(row.wind.map(|w| w.speed_ms)),
            _ => Figure::Missing,
        }
    }

    /// Degrees north and east of the launch position, the shorter way round.
    fn displacement(
        &self,
        place: Option<Position>,
        at_start: impl FnOnce() -> bool,
    ) -> Option<(f64, f64)> {
        match (place, self.origin()) {
            (Some(place), Some(from)) => Some((
                place.latitude_deg - from.latitude_deg,
                wrapped(place.longitude_deg - from.longitude_deg),
            )),
            _ => at_start().then_some((0.0, 0.0)),
        }
    }

    /// The bits of 0 08 042, with those that go together.
    fn flags(&self, level: &Level) -> Roles {
        let mut roles = level.roles & Roles::FLAG_TABLE;
        if roles.any(Roles::SURFACE) {
            roles |= Roles::SIG_WIND;
            if self.report.form != Form::Pilot {
                roles |= Roles::SIG_T_OR_U;
            }
        }
        if roles.any(Roles::MAX_WIND) {
            roles |= Roles::SIG_WIND;
        }
        roles
    }

    /// The levels, each coded coordinate once where the template is coarse.
    fn apart(&self, fields: &[Field], findings: &mut Vec<Finding>) -> Vec<Thinned<'_>> {
        let levels = &self.report.levels;
        let Some(field) = fields.iter().find(|f| f.descriptor.x() == 7) else {
            return levels.iter().map(Thinned::Own).collect();
        };
        // Where steps are fine, rows without a role that share one all stay.
        let coarse = coarse(field);
        let key = |l: &Level| figure(field, &self.level(field, l, None));
        let mut out: Vec<(Option<i64>, Thinned<'_>)> = Vec::with_capacity(levels.len());
        let mut left_out = 0;
        for level in levels {
            let own = key(level);
            match out.last_mut() {
                Some((last, kept))
                    if own.is_some()
                        && *last == own
                        && (coarse || kept.is_flagged() || !level.roles.is_empty()) =>
                {
                    left_out += 1;
                    kept.unite(level, findings);
                }
                _ => out.push((own, Thinned::Own(level))),
            }
        }
        if left_out > 0 {
            let name = tables::bufr_element(field.descriptor).map_or("coordinate", |e| e.name);
            findings.push(finding!(
                LevelsThinned,
                Place::default(),
                levels = counted(left_out, "level"),
                coordinate = name.to_lowercase()
            ));
        }
        out.into_iter().map(|(_, level)| level).collect()
    }

    fn shears(
        &self,
        factor: &Field,
        body: &[Node],
        values: &mut Vec<Value>,
    ) -> Result<(), NotWritten> {
        let fields = fields(body);
        if self.nil {
            return nil(factor, &fields, values);
        }
        let shears: Vec<(&Level, Shear)> = [Part::A, Part::C]
            .into_iter()
            .flat_map(|part| self.report.maxima_of(part))
            .filter_map(|(maximum, level)| Some((level, maximum.shear?)))
            .collect();
        count("wind shears", shears.len(), MOST_SHEARS, factor)?;
        values.push(count_value(shears.len()));
        let ground = self.ground_hpa();
        for (level, shear) in shears {
            for field in &fields {
                let value = match (field.descriptor.x(), field.descriptor.y()) {
                    (11, 61) => Figure::value(shear.below_ms),
                    (11, 62) => Figure::value(shear.above_ms),
                    (8, 42) => {
                        let kept = Roles::MAX_WIND | Roles::SIG_WIND | Roles::TOP_OF_WIND;
                        Figure::Code(i64::from((self.flags(level) & kept).bits()))
                    }
                    _ => self.level(field, level, ground),
                };
                values.push(written(field, value, || place(level))?);
            }
        }
        Ok(())
    }
}

/// What a NIL report still says.
fn identifies(descriptor: Descriptor) -> bool {
    matches!(descriptor.x(), 1 | 4 | 5 | 6 | 7 | 33)
        || (descriptor.x() == 8 && descriptor.y() == 21)
        || (descriptor.x() == 2 && matches!(descriptor.y(), 3 | 11 | 13 | 14))
}

/// One repetition with everything missing.
fn nil(factor: &Field, fields: &[Field], values: &mut Vec<Value>) -> Result<(), NotWritten> {
    count("levels", 1, 1, factor)?;
    values.push(count_value(1));
    values.extend(fields.iter().map(|_| Value::Missing));
    Ok(())
}

fn count_value(count: usize) -> Value {
    Value::Number(i64::try_from(count).unwrap_or(i64::MAX))
}

fn count(what: &'static str, count: usize, most: usize, factor: &Field) -> Result<(), NotWritten> {
    if count > most {
        return Err(NotWritten::Count {
            what,
            count,
            counter: factor.descriptor,
            most,
        });
    }
    Ok(())
}

/// The fields of a repeated body, which has no repetition of its own in these
/// templates.
pub(super) fn fields(body: &[Node]) -> Vec<Field> {
    body.iter()
        .filter_map(|node| match node {
            Node::Field(field) => Some(*field),
            _ => None,
        })
        .collect()
}

fn place(level: &Level) -> String {
    match (level.row.pressure_hpa, level.row.height_gpm) {
        (Some(p), _) => format!("level {p} hPa: "),
        (None, Some(z)) => format!("level {z} gpm: "),
        _ => "a level: ".to_owned(),
    }
}

/// A figure as a value that fits its field.
fn written(
    field: &Field,
    value: Figure,
    place: impl FnOnce() -> String,
) -> Result<Value, NotWritten> {
    if let (Figure::Text(text), Kind::Text) = (&value, field.kind) {
        let most = usize::try_from(field.width_bits / 8).unwrap_or(0);
        if text.len() > most || !text.is_ascii() {
            return Err(NotWritten::Text {
                key: super::sonde::key(field.descriptor),
                text: text.clone(),
                allowed: super::sonde::allowed(most),
            });
        }
        return Ok(Value::text(text));
    }
    let Some(number) = figure(field, &value) else {
        return Ok(Value::Missing);
    };
    let (low, high) = field.range();
    if (low..=high).contains(&number) {
        return Ok(Value::Number(number));
    }
    let shown = |n: i64| super::dump::decimal(n, field.scale);
    let element = tables::bufr_element(field.descriptor);
    let unit = super::dump::unit(field);
    let unit = if unit.is_empty() {
        String::new()
    } else {
        format!(" {unit}")
    };
    Err(NotWritten::Value(Box::new(Unfit {
        place: place(),
        name: element.map_or("element", |e| e.name),
        descriptor: field.descriptor,
        value: shown(number),
        unit,
        low: shown(low),
        high: shown(high),
    })))
}

/// One of the four pieces of a WIGOS identifier, `0-20000-0-99007`.
fn wigos(context: &Context, y: u16) -> Result<Figure, NotWritten> {
    let Some(id) = context.station.wigos_id.as_deref() else {
        return Ok(Figure::Missing);
    };
    let piece = id.splitn(4, '-').nth(usize::from(y - 125));
    let bad = || NotWritten::Text {
        key: "station.wigos_id",
        text: id.to_owned(),
        allowed: "series-issuer-number-local, such as 0-20000-0-99007",
    };
    let piece = piece.ok_or_else(bad)?;
    if y == 128 {
        return Ok(Figure::text(Some(piece)));
    }
    piece.parse().map(Figure::Code).map_err(|_| bad())
}
