//! Message → report: the values that its figures stand for.

use super::choose::{self, NotSounding};
use super::figure::real;
use super::named::name_surfaces;
use super::surfaces::settle_surfaces;
use super::template::{Kind, Node, is_level};
use super::{Descriptor, Fault, Field, Layout, Received, Section1, Value, clouds, sonde};
use crate::finding::{Finding, Place};
use crate::physics::drift::wrapped;
use crate::quantity::{celsius_from_kelvin, trim};
use crate::report::{Holds, nil, parts};
use crate::sounding::{
    At, Axis, Context, Element, Form, Grain, Level, MaxWind, MissingLayer, Motion, Part, Position,
    Reach, Report, Roles, Row, Shear, Start, StationKind, Surface, When, Wind,
};
use crate::tables::{self, BUFR_TABLE_VERSION, BufrTemplate, level_manner};
use jiff::civil::{DateTime, date};

/// A report that was read, and what is to be said about it.
#[derive(Clone, Debug, PartialEq)]
pub struct Sounding {
    /// The report, every level that the message has.
    pub report: Report,
    /// Findings.
    pub findings: Vec<Finding>,
}

/// The reports of a message, one a subset.
///
/// A report has the message's own roles; levels without one are rows of the whole
/// profile. Layers without data follow from the bits that begin and end them.
///
/// # Errors
/// A template without a sounding in it, or a message without its time.
pub fn to_report(received: &Received) -> Result<Vec<Sounding>, NotSounding> {
    let message = &received.message;
    let template = choose::found(message)?;
    let layout = Layout::new(&message.template, message.section1.table_version)
        .map_err(|(_, fault)| fault)?;
    let mut common = Vec::new();
    if message.section1.table_version > BUFR_TABLE_VERSION {
        let what = format!(
            "the message uses master table version {}; the tables here are version {BUFR_TABLE_VERSION}",
            message.section1.table_version
        );
        common.push(
            Finding::info("newer-tables", Place::default(), what)
                .allowed("elements keep their meaning from version to version"),
        );
    }
    if let Some(fault) = &received.unread {
        let what = format!("what follows the levels was not read: {fault}");
        common.push(Finding::info("descriptors-unread", Place::default(), what));
    } else if received.spare_bits >= 32 {
        let what = format!(
            "section 4 has {} bits after the last value",
            received.spare_bits
        );
        common.push(Finding::warning("bits-left-over", Place::default(), what));
    }
    message
        .values
        .iter()
        .map(|values| {
            let mut seen = Seen::default();
            seen.all(&layout.nodes, &mut values.iter())?;
            let mut sounding = seen.sounding(template, &message.section1)?;
            sounding.findings.splice(0..0, common.iter().cloned());
            Ok(sounding)
        })
        .collect()
}

/// The values of a subset, sorted by what they belong to.
#[derive(Default)]
struct Seen<'v> {
    head: Vec<(Field, &'v Value)>,
    levels: Vec<Vec<(Field, &'v Value)>>,
    shears: Vec<Vec<(Field, &'v Value)>>,
}

/// Fields with their values, by descriptor.
#[derive(Clone, Copy)]
struct Fields<'a, 'v>(&'a [(Field, &'v Value)]);

impl<'v> Fields<'_, 'v> {
    fn nth(&self, x: u16, y: u16, nth: usize) -> Option<(Field, &'v Value)> {
        // An associated field stands under the descriptor of its element.
        let here = |f: &Field| {
            (f.descriptor.x(), f.descriptor.y()) == (x, y) && f.kind != Kind::Associated
        };
        let mut found = self.0.iter().filter(|(field, _)| here(field));
        found.nth(nth).copied()
    }

    /// The first value of a descriptor in units of the last place.
    fn code(&self, x: u16, y: u16) -> Option<i64> {
        self.nth(x, y, 0).and_then(|(_, value)| value.number())
    }

    /// A small figure.
    fn small<T: TryFrom<i64>>(&self, x: u16, y: u16) -> Option<T> {
        self.code(x, y).and_then(|n| T::try_from(n).ok())
    }

    /// The first value of a descriptor in the element's unit.
    fn value(&self, x: u16, y: u16) -> Option<f64> {
        let (field, value) = self.nth(x, y, 0)?;
        value.number().map(|n| real(n, field.scale))
    }

    fn celsius(&self, x: u16, y: u16) -> Option<f64> {
        self.value(x, y).map(|k| trim(celsius_from_kelvin(k)))
    }

    /// hPa from Pa, one division.
    fn hectopascals(&self, x: u16, y: u16) -> Option<f64> {
        let (field, value) = self.nth(x, y, 0)?;
        value.number().map(|n| real(n, field.scale + 2))
    }

    fn text(&self, x: u16, y: u16) -> Option<String> {
        match self.nth(x, y, 0)? {
            (_, Value::Text(text)) => {
                let text = text.trim_matches(|c: char| c == '\0' || c == ' ');
                (!text.is_empty()).then(|| text.to_owned())
            }
            _ => None,
        }
    }

    /// A wind: calm has neither direction nor speed; direction 0 with a speed is
    /// light and variable, kept as it stands.
    fn wind(&self) -> Option<Wind> {
        Wind::from_polar(self.value(11, 1), self.value(11, 2))
    }
}

impl<'v> Seen<'v> {
    fn all(
        &mut self,
        nodes: &[Node],
        values: &mut std::slice::Iter<'v, Value>,
    ) -> Result<(), Fault> {
        for node in nodes {
            match node {
                Node::Field(field) => {
                    let value = values.next().ok_or(Fault::FewValues(field.descriptor))?;
                    self.head.push((*field, value));
                }
                Node::Repeat { times, body, .. } => {
                    let times = match times {
                        Ok(times) => Some(*times),
                        Err(factor) => {
                            let value = values.next();
                            let value = value.ok_or(Fault::FewValues(factor.descriptor))?;
                            value.number().and_then(|n| u64::try_from(n).ok())
                        }
                    };
                    for _ in 0..times.unwrap_or(0) {
                        let mut inside = Self::default();
                        inside.all(body, values)?;
                        if super::is_shear(body) {
                            self.shears.push(inside.head);
                        } else if is_level(body) {
                            self.levels.push(inside.head);
                        } else {
                            self.head.append(&mut inside.head);
                        }
                    }
                }
            }
        }
        Ok(())
    }

    fn sounding(
        &self,
        template: &BufrTemplate,
        section1: &Section1,
    ) -> Result<Sounding, NotSounding> {
        let head = Fields(&self.head);
        let mut findings = Vec::new();
        let standard = nominal(section1);
        let release = launch(&head);
        let (release, standard) = match (release, standard) {
            (Some(release), Some(standard)) => (release, standard),
            (Some(one), None) | (None, Some(one)) => {
                let what = if release.is_none() {
                    "the launch time is missing or no time: the standard time is taken for it"
                } else {
                    "section 1 has no standard time: the launch time is taken for it"
                };
                let finding = Finding::warning("time-missing", Place::default(), what);
                findings.push(finding.clause("WMO-No. 306 Vol. I.2, B/C25"));
                (one, one)
            }
            (None, None) => return Err(NotSounding::Time),
        };
        let mut context = context(&head, template, section1);
        let station = &mut context.station;
        let from = station.latitude_deg.zip(station.longitude_deg);
        // A descent gives where it began, not the station.
        let start = (template.form == Form::Descent).then(|| {
            let height_m = station.release_m.take();
            (station.latitude_deg, station.longitude_deg) = (None, None);
            Start {
                time: Some(release),
                time_s: Some(0.0),
                place: from.map(|(latitude_deg, longitude_deg)| Position {
                    latitude_deg,
                    longitude_deg,
                }),
                height_m,
            }
        });
        let mut levels: Vec<Level> = self
            .levels
            .iter()
            .map(|fields| level(&Fields(fields), from))
            .filter(|level| !says_nothing(level))
            .collect();
        tell_half_winds(&self.levels, &mut findings);
        let up = |l: &Level| match template.axis {
            Axis::Pressure => l.row.pressure_hpa.map_or(f64::INFINITY, |p| -p),
            Axis::Height => l.order(),
        };
        if !levels.is_sorted_by(|l, r| up(l) <= up(r)) {
            let what = "levels are not in order of falling pressure (or rising height)";
            let finding = Finding::warning("levels-out-of-order", Place::default(), what);
            findings.push(finding.clause("WMO-No. 306 Vol. I.2, B/C25"));
            levels.sort_by(|l, r| up(l).total_cmp(&up(r)));
        }
        match template.axis {
            Axis::Height => name_surfaces(&mut levels, &mut findings),
            Axis::Pressure => settle_surfaces(&mut levels, &mut findings),
        }
        // A surface without any wind has nothing of a wind level.
        if levels.iter().all(|l| l.row.wind.is_none()) {
            for level in &mut levels {
                level.roles = level.roles.without(Roles::SIG_WIND);
            }
        }
        let missing = missing(&levels);
        let maxima = self.maxima(&levels);
        let mut report = Report {
            form: template.form,
            when: When::Full { release, standard },
            axis: template.axis,
            motion: match template.form {
                Form::Descent => Motion::Falling,
                _ if template.drop => Motion::Falling,
                _ => Motion::Rising,
            },
            start,
            levels,
            missing,
            maxima,
            grain: Grain::Bufr,
            reach: Reach::Whole,
            ..Report::empty(context)
        };
        if report.form == Form::Pilot {
            let manner = level_manner(&report.context.coding, report.axis);
            report.context.coding.pilot_levels = Some(manner);
            report.divide_gpm = divide_gpm(&report);
        }
        report.parts = if report.levels.is_empty() {
            Part::ALL
                .into_iter()
                .map(|part| (part, nil(None)))
                .collect()
        } else {
            parts(&Holds {
                form: report.form,
                context: &report.context,
                levels: &report.levels,
                divide_gpm: report.divide_gpm,
                reach: report.reach,
            })
        };
        Ok(Sounding { report, findings })
    }

    /// The maximum winds in the order of their shears, or else the strongest
    /// first, part by part.
    fn maxima(&self, levels: &[Level]) -> Vec<MaxWind> {
        let of = |level: &Level, shear: Option<Shear>| MaxWind {
            part: match level.row.pressure_hpa {
                Some(p) if crate::figure::is_upper(p) => Part::C,
                _ => Part::A,
            },
            pressure_hpa: level.row.pressure_hpa,
            height_gpm: level
                .row
                .height_gpm
                .filter(|_| level.row.pressure_hpa.is_none()),
            shear,
        };
        let mut found: Vec<&Level> = levels
            .iter()
            .filter(|l| l.roles.any(Roles::MAX_WIND))
            .collect();
        let speed = |l: &Level| l.row.wind.map_or(0.0, |w| w.speed_ms);
        found.sort_by(|l, r| speed(r).total_cmp(&speed(l)));
        let mut out = Vec::new();
        for fields in &self.shears {
            let fields = Fields(fields);
            let place = (fields.hectopascals(7, 4), fields.value(7, 9));
            // Shears have their coordinate in 10 Pa or 1 gpm, also where the levels
            // are finer: the nearest level within one such step.
            let apart = |l: &Level| match place {
                (Some(p), _) => l.row.pressure_hpa.map(|own| (own - p).abs() / 0.1),
                (None, Some(z)) => l.row.height_gpm.map(|own| (own - z).abs()),
                (None, None) => None,
            };
            let nearest = found
                .iter()
                .enumerate()
                .filter_map(|(at, l)| Some((at, apart(l)?)))
                .filter(|(_, apart)| *apart < 1.0)
                .min_by(|(_, a), (_, b)| a.total_cmp(b));
            if let Some((at, _)) = nearest {
                let shear = Shear {
                    below_ms: fields.value(11, 61),
                    above_ms: fields.value(11, 62),
                };
                out.push(of(found.remove(at), Some(shear)));
            }
        }
        out.extend(found.into_iter().map(|level| of(level, None)));
        out.sort_by_key(|maximum| maximum.part);
        out
    }
}

/// The height above which PILOT levels by height belong to Part D: that of the
/// last level not above the height that stands for 100 hPa.
fn divide_gpm(report: &Report) -> Option<f64> {
    if report.axis == Axis::Pressure {
        return None;
    }
    let stands = tables::height_approximations()
        .iter()
        .find(|h| h.pressure_hpa == 100)
        .map(|h| f64::from(h.height_gpm))?;
    let heights = || report.levels.iter().filter_map(|l| l.row.height_gpm);
    heights().any(|z| z > stands).then_some(())?;
    heights().filter(|z| *z <= stands).reduce(f64::max)
}

/// The standard time of section 1.
fn nominal(s: &Section1) -> Option<DateTime> {
    let [hour, minute, second] = s.clock;
    moment([
        i64::from(s.year),
        i64::from(s.month),
        i64::from(s.day),
        i64::from(hour),
        i64::from(minute),
        i64::from(second),
    ])
}

/// The time of launch, seconds 0 where they are missing.
fn launch(head: &Fields<'_, '_>) -> Option<DateTime> {
    moment([
        head.code(4, 1)?,
        head.code(4, 2)?,
        head.code(4, 3)?,
        head.code(4, 4)?,
        head.code(4, 5).unwrap_or(0),
        head.code(4, 6).unwrap_or(0),
    ])
}

fn moment([year, month, day, hour, minute, second]: [i64; 6]) -> Option<DateTime> {
    let small = |v: i64| i8::try_from(v).ok();
    let year = i16::try_from(year).ok().filter(|y| *y > 0)?;
    jiff::civil::Date::new(year, small(month)?, small(day)?)
        .ok()
        .and_then(|day| {
            let time =
                jiff::civil::Time::new(small(hour)?, small(minute)?, small(second)?, 0).ok()?;
            Some(day.to_datetime(time))
        })
        .filter(|t| t.date() > date(1900, 1, 1))
}

/// Station, flight, equipment, clouds and surface.
fn context(head: &Fields<'_, '_>, template: &BufrTemplate, section1: &Section1) -> Context {
    let mut context = Context::default();
    let station = &mut context.station;
    station.wmo_block = head.small(1, 1);
    station.wmo_number = head.small(1, 2);
    station.call_sign = head.text(1, 11).or_else(|| head.text(1, 6));
    station.wigos_id = wigos(head);
    station.latitude_deg = head.value(5, 1);
    station.longitude_deg = head.value(6, 1);
    station.elevation_m = head.value(7, 30);
    station.barometer_m = head.value(7, 31);
    station.release_m = head.value(7, 7);
    station.elevation_quality = head.small(33, 24);
    let listed = tables::subcategories()
        .iter()
        .find(|s| s.form == template.form && s.figure == section1.subcategory);
    let land = station.wmo_block.is_some() && station.call_sign.is_none();
    station.kind = match listed {
        _ if template.drop => StationKind::Drop,
        Some(listed) if listed.kind != StationKind::Drop => listed.kind,
        _ if land => StationKind::Land,
        _ if station.elevation_quality.is_some() => StationKind::Mobile,
        _ => StationKind::Ship,
    };
    context.bufr.reused = listed.is_some_and(|s| s.reused);
    context.bufr.template = Some(template.descriptor.to_string());
    context.bufr.centre = Some(section1.centre).filter(|c| *c != u16::MAX);
    context.bufr.sub_centre = Some(section1.sub_centre).filter(|s| *s != 0);
    context.bufr.update = Some(section1.update).filter(|u| *u != 0);
    context.flight.release = launch(head);
    context.flight.standard_time = nominal(section1);
    sonde::read(head_of(head), &mut context);
    let nth = |x, y, n| head.nth(x, y, n).and_then(|(_, value)| value.number());
    let clouds = clouds::Read {
        significance: nth(8, 2, 0),
        amount: nth(20, 11, 0),
        base_m: head.value(20, 13),
        types: [nth(20, 12, 0), nth(20, 12, 1), nth(20, 12, 2)],
    };
    context.clouds = clouds.clouds();
    let surface = Surface {
        pressure_hpa: head.hectopascals(10, 4),
        temperature_c: head.celsius(12, 101),
        dewpoint_c: head.celsius(12, 103),
        humidity_pct: head.value(13, 3),
        wind_dir_deg: head.wind().map(|w| w.dir_deg),
        wind_speed_ms: head.wind().map(|w| w.speed_ms),
        sea_temperature_c: head.celsius(22, 43),
        ..Surface::default()
    };
    context.surface = (surface != Surface::default()).then_some(surface);
    context
}

/// Looks a descriptor up among the fields outside the levels.
fn head_of<'a>(head: &'a Fields<'_, '_>) -> impl Fn(Descriptor) -> sonde::Given + 'a {
    |descriptor| {
        let (x, y) = (descriptor.x(), descriptor.y());
        sonde::Given {
            code: head.code(x, y),
            value: head.value(x, y),
            text: head.text(x, y),
        }
    }
}

fn wigos(head: &Fields<'_, '_>) -> Option<String> {
    let (series, issuer, number) = (head.code(1, 125)?, head.code(1, 126)?, head.code(1, 127)?);
    let local = head.text(1, 128)?;
    Some(format!("{series}-{issuer}-{number}-{local}"))
}

fn level(fields: &Fields<'_, '_>, from: Option<(f64, f64)>) -> Level {
    let displaced = fields.value(5, 15).zip(fields.value(6, 15));
    let place = displaced.zip(from).map(|((north, east), (lat, lon))| {
        let longitude = wrapped(lon + east);
        Position {
            latitude_deg: trim(lat + north),
            longitude_deg: trim(longitude),
        }
    });
    let roles = fields.code(8, 42).and_then(|bits| u32::try_from(bits).ok());
    Level {
        row: Row {
            time_s: fields.value(4, 86),
            pressure_hpa: fields.hectopascals(7, 4),
            height_gpm: fields.value(10, 9).or_else(|| fields.value(7, 9)),
            temperature_c: fields.celsius(12, 101),
            dewpoint_c: fields.celsius(12, 103),
            humidity_pct: fields.value(13, 9),
            wind: fields.wind(),
            place,
            given: Roles::NONE,
        },
        at: At::Received,
        roles: Roles(roles.unwrap_or(0)).within(Roles::FLAG_TABLE),
        why: Vec::new(),
    }
}

/// A level of a NIL report.
fn says_nothing(level: &Level) -> bool {
    let row = &level.row;
    row.pressure_hpa.is_none()
        && row.height_gpm.is_none()
        && row.temperature_c.is_none()
        && row.wind.is_none()
}

/// Winds of which only one half is there.
fn tell_half_winds(levels: &[Vec<(Field, &Value)>], findings: &mut Vec<Finding>) {
    let half = levels
        .iter()
        .filter(|fields| {
            let fields = Fields(fields);
            let (dir, speed) = (fields.code(11, 1), fields.code(11, 2));
            dir.is_some() != speed.is_some() && speed != Some(0)
        })
        .count();
    let variable = levels
        .iter()
        .filter(|fields| {
            let fields = Fields(fields);
            fields.code(11, 1) == Some(0) && fields.code(11, 2).is_some_and(|speed| speed > 0)
        })
        .count();
    if variable > 0 {
        let noun = if variable == 1 {
            "level has"
        } else {
            "levels have"
        };
        let what = format!("{variable} {noun} a light and variable wind, which is taken as north");
        findings.push(
            Finding::warning("wind-variable", Place::default(), what)
                .clause("WMO-No. 306 Vol. I.2, Table B, class 11"),
        );
    }
    if half > 0 {
        let noun = if half == 1 { "level" } else { "levels" };
        let what = format!("{half} {noun} with only one half of a wind; wind taken as missing");
        findings.push(Finding::info("wind-incomplete", Place::default(), what));
    }
}

/// Layers without data, from the bits that begin and end them.
fn missing(levels: &[Level]) -> Vec<MissingLayer> {
    let mut out = Vec::new();
    for (element, begin, end) in [
        (
            Element::Temperature,
            Roles::BEGIN_MISSING_TEMPERATURE,
            Roles::END_MISSING_TEMPERATURE,
        ),
        (
            Element::Humidity,
            Roles::BEGIN_MISSING_HUMIDITY,
            Roles::END_MISSING_HUMIDITY,
        ),
        (
            Element::Wind,
            Roles::BEGIN_MISSING_WIND,
            Roles::END_MISSING_WIND,
        ),
    ] {
        let mut open: Option<Option<f64>> = None;
        for level in levels {
            if level.roles.any(end)
                && let Some(from_hpa) = open.take()
            {
                out.push(MissingLayer {
                    element,
                    from_hpa,
                    to_hpa: level.row.pressure_hpa,
                });
            }
            if level.roles.any(begin) {
                open = Some(level.row.pressure_hpa);
            }
        }
        if let Some(from_hpa) = open {
            out.push(MissingLayer {
                element,
                from_hpa,
                to_hpa: None,
            });
        }
    }
    out
}
