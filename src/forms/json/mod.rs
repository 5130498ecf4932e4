//! The JSON document: reports with their values, their groups, what was found
//! and how well the levels give the profile back.
//!
//! The values are the report's own, unrounded; on reading they win, and groups
//! that say something else are a finding. The schema is given by [`schema`].

use std::collections::BTreeMap;
use std::io::{self, BufWriter, Write};

use serde::{Deserialize, Serialize};
use serde_json::Value;
use serde_json::ser::Serializer;
use thiserror::Error;

use indented::Indented;

use crate::forms::text;
use crate::forms::text::{CodeError, Message};
use crate::model::fidelity::Fidelity;
use crate::model::finding::{Finding, Place, finding};
use crate::model::quantity::trim;
use crate::model::{
    At, Axis, Balloon, BufrOptions, Bulletin, Clouds, Coding, Context, Equipment, Flight, Form,
    GivenGroups, GroundCheck, GroundCheckResult, Level, MaxWind, Meaning, MissingLayer, Motion,
    Order, Part, PartContent, Position, Qualities, Quality, Reach, Regional, Report, Resolution,
    Roles, Row, Rule, Start, Station, Surface, Tracking, When, Wind, Wis2Options,
};
use crate::physics::humidity::reported_dewpoint_c;
use crate::profile;

mod indented;
#[cfg(test)]
mod schema;

/// What a document says it is.
pub const SCHEMA: &str = "fivefig report 1";

/// What goes out at a time, octets.
const BUFFER: usize = 1 << 16;

/// The longest text that is read, octets.
const MAX_BYTES: usize = 64 << 20;

/// Reports in one document.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[cfg_attr(test, schemars(title = "report"))]
#[serde(deny_unknown_fields)]
pub struct Document {
    /// `fivefig report 1`.
    pub schema: String,
    /// The reports.
    pub reports: Vec<Record>,
}

/// One report with what belongs to it. Missing values are null.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Record {
    /// The family of code form.
    pub form: Form,
    /// Where the sounding was made.
    pub station: Station,
    /// The flight's times and numbers.
    pub flight: Flight,
    /// When: `release` and `standard` in full, or `day`, `hour` and the clock
    /// time of `release` as a text message gives them.
    pub when: Option<When>,
    /// The ground check of the sonde before release.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ground_check: Option<GroundCheck>,
    /// What came of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ground_check_result: Option<GroundCheckResult>,
    /// The surface observation as entered.
    pub surface: Option<Surface>,
    /// Clouds as code figures of section 8, or `sky` alone.
    pub clouds: Option<Clouds>,
    /// Instruments, as code figures.
    pub equipment: Equipment,
    /// The balloon and its train.
    pub balloon: Balloon,
    /// How a balloon was followed by its angles.
    #[serde(default, skip_serializing_if = "Tracking::is_none")]
    pub tracking: Tracking,
    /// Choices of practice.
    pub coding: Coding,
    /// Heading of the bulletin.
    pub bulletin: Bulletin,
    /// Groups of section 9 given by the sheet, part by part.
    pub section9: GivenGroups,
    /// Groups of section 10 given by the sheet, part by part.
    pub section10: GivenGroups,
    /// BUFR options.
    pub bufr: BufrOptions,
    /// Options for sharing through WIS2.
    pub wis2: Wis2Options,
    /// Overrides by the operator.
    pub orders: Vec<Order>,
    /// The vertical coordinate.
    pub axis: Axis,
    /// Rising or falling.
    pub motion: Motion,
    /// Where and when a descent begins; null in every other form.
    pub start: Option<Start>,
    /// How far up the report goes.
    pub reach: Reach,
    /// The resolution of the form the report was read from.
    pub resolution: Resolution,
    /// The levels, lowest first.
    pub levels: Vec<Entry>,
    /// Layers without data.
    pub missing_layers: Vec<MissingLayer>,
    /// Maximum winds in the order of reporting, with the shears where they are
    /// reported.
    pub wind_shear: Vec<MaxWind>,
    /// What the practice of the Region adds.
    pub regional: Regional,
    /// PILOT levels by height above this, gpm, belong to Part D.
    pub divide_gpm: Option<f64>,
    /// What each part carries besides levels.
    pub parts: BTreeMap<Part, PartContent>,
    /// The coded groups, part by part, under the letters of the part in small:
    /// `ttaa`, `ttbb`, `ttcc`, `ttdd` of TEMP, `ppaa` … of PILOT; none of a descent.
    pub groups: BTreeMap<String, Vec<String>>,
    /// What a BUFR message says of its values outside the levels, where that was asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub quality: Vec<Quality>,
    /// What was found.
    pub findings: Vec<Finding>,
    /// How well the levels give the profile back.
    pub fidelity: Option<Fidelity>,
}

/// Where a level's values come from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Origin {
    /// A row of the profile.
    Row,
    /// Interpolated between rows.
    Interpolated,
    /// Extrapolated beyond the rows.
    Extrapolated,
    /// Read from a message.
    #[default]
    Received,
    /// Read from a damaged message, with values that were lost.
    Salvaged,
}

/// One level.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Entry {
    /// Pressure, hPa.
    #[cfg_attr(test, schemars(range(min = 0.0, max = 1200.0)))]
    pub pressure_hpa: Option<f64>,
    /// Geopotential height above mean sea level, gpm.
    pub height_gpm: Option<f64>,
    /// Temperature, °C.
    pub temperature_c: Option<f64>,
    /// Dew point over water, °C; where humidity is 0 %, that of 0.1 %.
    pub dewpoint_c: Option<f64>,
    /// Temperature less dew point, K.
    pub depression_k: Option<f64>,
    /// Relative humidity over water, %.
    #[cfg_attr(test, schemars(range(min = 0.0)))]
    pub humidity_pct: Option<f64>,
    /// Direction the wind blows from, degrees true.
    #[cfg_attr(test, schemars(range(min = 0.0, max = 360.0)))]
    pub wind_dir_deg: Option<f64>,
    /// Wind speed, m/s.
    #[cfg_attr(test, schemars(range(min = 0.0)))]
    pub wind_speed_ms: Option<f64>,
    /// Seconds after release.
    pub time_s: Option<f64>,
    /// Degrees north.
    #[cfg_attr(test, schemars(range(min = -90.0, max = 90.0)))]
    pub latitude_deg: Option<f64>,
    /// Degrees east.
    #[cfg_attr(test, schemars(range(min = -180.0, max = 360.0)))]
    pub longitude_deg: Option<f64>,
    /// What the level is.
    pub roles: Roles,
    /// Why it was chosen, one rule each.
    pub why: Vec<Rule>,
    /// Where the values come from.
    pub at: Origin,
    /// The row of the ascent, from 1, when `at` is `row`.
    #[cfg_attr(test, schemars(range(min = 1)))]
    pub row: Option<usize>,
    /// The groups that stand for the level, part by part.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub groups: BTreeMap<String, Vec<String>>,
    /// What a BUFR message says of the values of the level, where that was asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub quality: Vec<Quality>,
}

/// Why a text is not read as reports.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum JsonError {
    /// Not JSON of this form.
    #[error("{line}:{column}: {what}")]
    Form {
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// What is wrong.
        what: String,
    },
    /// Another kind of document.
    #[error("the schema of the document is `{0}`; `{SCHEMA}` is expected")]
    Schema(String),
    /// Too long.
    #[error("the text has {0} bytes, at most {MAX_BYTES} are read; divide the document")]
    TooLong(usize),
    /// No report in it.
    #[error("there is no report in the text; a document has at least one")]
    Empty,
    /// A value that cannot be.
    #[error("report {report}, level {level}: {what}")]
    Level {
        /// Number of the report, from 1.
        report: usize,
        /// Number of the level, from 1.
        level: usize,
        /// What is wrong, with the value and the bound.
        what: String,
    },
    /// A report without its time.
    #[error("report {report}: `when` is missing (release and standard, or day and hour)")]
    When {
        /// Number of the report, from 1.
        report: usize,
    },
}

/// What is wrong, without the place at the end of the text.
pub(crate) fn what(error: &serde_json::Error) -> String {
    let text = error.to_string();
    let place = format!(" at line {} column {}", error.line(), error.column());
    text.strip_suffix(&place).unwrap_or(&text).to_owned()
}

impl From<serde_json::Error> for JsonError {
    fn from(error: serde_json::Error) -> Self {
        let what = what(&error);
        Self::Form {
            line: error.line(),
            column: error.column(),
            what,
        }
    }
}

/// The JSON Schema of [`Document`] (draft 2020-12).
#[must_use]
pub fn schema() -> Value {
    serde_json::from_str(include_str!("schema.json")).unwrap_or_default()
}

/// The letters of a part in small: `ttaa` to `ttdd`, `ppaa` …
fn name(message: &Message, part: Part) -> String {
    message.letters(part).to_ascii_lowercase()
}

/// The groups of every part there is.
fn groups(message: &Message) -> BTreeMap<String, Vec<String>> {
    Part::ALL
        .into_iter()
        .filter_map(|part| Some((name(message, part), message.groups(part)?)))
        .collect()
}

impl Record {
    /// A report, its message where it has a text code, what was found and, when a
    /// profile is at hand, how well the levels give it back.
    #[must_use]
    pub fn new(
        report: &Report,
        message: Option<&Message>,
        findings: &[Finding],
        fidelity: Option<Fidelity>,
    ) -> Self {
        let context = report.context.clone();
        let release = context.flight.release;
        let (groups, beside) = message
            .map(|message| message.groups_beside(report, |part| name(message, part)))
            .unwrap_or_default();
        let beside = beside
            .into_iter()
            .chain(std::iter::repeat_with(BTreeMap::new));
        let levels = report.levels.iter().zip(beside);
        let levels = levels.map(|(level, groups)| Entry::new(level, groups));
        let levels = levels.collect();
        Self {
            form: report.form,
            station: context.station,
            flight: context.flight,
            when: Some(report.when),
            ground_check_result: (context.ground_check.as_ref())
                .map(|check| profile::ground_check(check, release).result),
            ground_check: context.ground_check,
            surface: context.surface,
            clouds: context.clouds,
            equipment: context.equipment,
            balloon: context.balloon,
            tracking: context.tracking,
            coding: context.coding,
            bulletin: context.bulletin,
            section9: context.section9,
            section10: context.section10,
            bufr: context.bufr,
            wis2: context.wis2,
            orders: context.orders,
            axis: report.axis,
            motion: report.motion,
            start: report.start,
            reach: report.reach,
            resolution: report.resolution,
            levels,
            missing_layers: report.missing.clone(),
            wind_shear: report.maxima.clone(),
            regional: report.regional.clone(),
            divide_gpm: report.divide_gpm,
            parts: report.parts.clone(),
            groups,
            quality: Vec::new(),
            findings: findings.to_vec(),
            fidelity,
        }
    }

    /// The record with what a BUFR message says of its values.
    #[must_use]
    pub fn with_quality(mut self, quality: Qualities) -> Self {
        self.quality = quality.head;
        for (entry, of_level) in self.levels.iter_mut().zip(quality.levels) {
            entry.quality = of_level;
        }
        self
    }

    /// The report; `number` (from 1) names it in an error.
    ///
    /// # Errors
    /// A report without its time, or a level whose values cannot be.
    pub fn report(&self, number: usize) -> Result<Report, JsonError> {
        self.report_with_quality(number).map(|(report, _)| report)
    }

    /// The report with what a BUFR message said of its values.
    ///
    /// # Errors
    /// As [`Record::report`].
    pub fn report_with_quality(&self, number: usize) -> Result<(Report, Qualities), JsonError> {
        let when = self.when.ok_or(JsonError::When { report: number })?;
        let mut levels = Vec::with_capacity(self.levels.len());
        for (i, entry) in self.levels.iter().enumerate() {
            let level = entry.level(self.form).map_err(|what| JsonError::Level {
                report: number,
                level: i + 1,
                what,
            })?;
            levels.push((level, entry.quality.clone()));
        }
        let up = |l: &Level| match self.form {
            Form::Temp | Form::Descent => l.row.pressure_hpa.map_or(f64::INFINITY, |p| -p),
            Form::Pilot => l.order(),
        };
        // The levels of a text stand in its own order, faults of the sender included.
        if self.resolution != Resolution::Text {
            levels.sort_by(|(l, _), (r, _)| up(l).total_cmp(&up(r)));
        }
        let (levels, of_levels) = levels.into_iter().unzip();
        let quality = Qualities {
            head: self.quality.clone(),
            levels: of_levels,
        };
        let report = Report {
            form: self.form,
            context: Context {
                meaning: Meaning::default(),
                station: self.station.clone(),
                flight: self.flight.clone(),
                ground_check: self.ground_check.clone(),
                surface: self.surface.clone(),
                clouds: self.clouds,
                equipment: self.equipment.clone(),
                balloon: self.balloon.clone(),
                tracking: self.tracking.clone(),
                coding: self.coding.clone(),
                bulletin: self.bulletin.clone(),
                section9: self.section9.clone(),
                section10: self.section10.clone(),
                bufr: self.bufr.clone(),
                wis2: self.wis2.clone(),
                orders: self.orders.clone(),
            },
            when,
            axis: self.axis,
            motion: self.motion,
            start: self.start,
            levels,
            missing: self.missing_layers.clone(),
            maxima: self.wind_shear.clone(),
            parts: self.parts.clone(),
            regional: self.regional.clone(),
            divide_gpm: self.divide_gpm,
            resolution: self.resolution,
            reach: self.reach,
        };
        Ok((report, quality))
    }

    /// A warning for every part whose groups are not those of the values; parts
    /// whose groups are not given say nothing.
    ///
    /// # Errors
    /// Values that cannot be coded.
    pub fn disagreements(&self, report: &Report) -> Result<Vec<Finding>, CodeError> {
        if self.groups.is_empty() {
            return Ok(Vec::new());
        }
        let message = text::message(report)?.value;
        let ours = groups(&message);
        let mut findings = Vec::new();
        for (part, theirs) in &self.groups {
            let none = Vec::new();
            let own = ours.get(part).unwrap_or(&none);
            let n = own.iter().zip(theirs).take_while(|(a, b)| a == b).count();
            let (own, given) = (own.get(n), theirs.get(n));
            if own.is_none() && given.is_none() {
                continue;
            }
            let show = |group: Option<&String>| {
                group.map_or_else(
                    || "nothing".to_owned(),
                    |g| {
                        let short: String = g.chars().take(16).collect();
                        format!("`{short}`")
                    },
                )
            };
            let letter = Part::ALL.into_iter().find(|&p| name(&message, p) == *part);
            findings.push(finding!(
                GroupsDisagree,
                Place {
                    part: letter.map(Part::letter),
                    group: Some(n + 1),
                    ..Place::default()
                },
                given = show(given),
                own = show(own)
            ));
        }
        Ok(findings)
    }
}

impl Entry {
    fn new(level: &Level, groups: BTreeMap<String, Vec<String>>) -> Self {
        let row = &level.row;
        let dewpoint_c = reported_dewpoint_c(row.temperature_c, row.dewpoint_c, row.humidity_pct);
        let (at, number) = match level.at {
            At::Row(k) => (Origin::Row, Some(k + 1)),
            At::Interpolated => (Origin::Interpolated, None),
            At::Extrapolated => (Origin::Extrapolated, None),
            At::Received => (Origin::Received, None),
            At::Salvaged => (Origin::Salvaged, None),
        };
        Self {
            pressure_hpa: row.pressure_hpa,
            height_gpm: row.height_gpm,
            temperature_c: row.temperature_c,
            dewpoint_c,
            depression_k: row
                .temperature_c
                .zip(dewpoint_c)
                .map(|(t, td)| trim(t - td)),
            humidity_pct: row.humidity_pct,
            wind_dir_deg: row.wind.map(|w| w.dir_deg),
            wind_speed_ms: row.wind.map(|w| w.speed_ms),
            time_s: row.time_s,
            latitude_deg: row.place.map(|p| p.latitude_deg),
            longitude_deg: row.place.map(|p| p.longitude_deg),
            roles: level.roles,
            why: level.why.clone(),
            at,
            row: number,
            groups,
            quality: Vec::new(),
        }
    }

    /// The level, or what is wrong with it.
    fn level(&self, form: Form) -> Result<Level, String> {
        let within = |name: &str, value: Option<f64>, low: f64, high: f64| match value {
            Some(v) if !(low..=high).contains(&v) => {
                Err(format!("{name} is {v} ({low} to {high} is allowed)"))
            }
            _ => Ok(()),
        };
        within("pressure_hpa", self.pressure_hpa, 1e-3, 1200.0)?;
        within("temperature_c", self.temperature_c, -150.0, 100.0)?;
        within("dewpoint_c", self.dewpoint_c, -273.0, 100.0)?;
        within("wind_dir_deg", self.wind_dir_deg, 0.0, 360.0)?;
        within("wind_speed_ms", self.wind_speed_ms, 0.0, 1000.0)?;
        within("humidity_pct", self.humidity_pct, 0.0, 1000.0)?;
        within("latitude_deg", self.latitude_deg, -90.0, 90.0)?;
        within("longitude_deg", self.longitude_deg, -180.0, 360.0)?;
        let surface = self.roles.any(Roles::SURFACE);
        let unplaced = self.height_gpm.is_none() && !surface;
        if self.pressure_hpa.is_none() && (form != Form::Pilot || unplaced) {
            return Err("pressure_hpa is missing".to_owned());
        }
        // 1000 hPa lies deep below a storm or a station below the sea.
        within("height_gpm", self.height_gpm, -3000.0, 100_000.0)?;
        let both = |names: &str, a: Option<f64>, b: Option<f64>| match (a, b) {
            (Some(a), Some(b)) => Ok(Some((a, b))),
            (None, None) => Ok(None),
            _ => Err(format!("{names} are given together or not at all")),
        };
        let wind = both(
            "wind_dir_deg and wind_speed_ms",
            self.wind_dir_deg,
            self.wind_speed_ms,
        )?;
        let place = both(
            "latitude_deg and longitude_deg",
            self.latitude_deg,
            self.longitude_deg,
        )?;
        let dry = self.humidity_pct.is_some_and(|u| u <= 0.0);
        let from_depression = || Some(self.temperature_c? - self.depression_k?);
        let at = match (self.at, self.row) {
            (Origin::Row, Some(row)) if row > 0 => At::Row(row - 1),
            (Origin::Row, _) => {
                return Err("`at` is `row` but `row` is no number from 1".to_owned());
            }
            (Origin::Interpolated, _) => At::Interpolated,
            (Origin::Extrapolated, _) => At::Extrapolated,
            (Origin::Received, _) => At::Received,
            (Origin::Salvaged, _) => At::Salvaged,
        };
        Ok(Level {
            row: Row {
                time_s: self.time_s,
                pressure_hpa: self.pressure_hpa,
                height_gpm: self.height_gpm,
                temperature_c: self.temperature_c,
                // At 0 % the dew point given is that of the floor.
                dewpoint_c: self.dewpoint_c.or_else(from_depression).filter(|_| !dry),
                humidity_pct: self.humidity_pct,
                wind: wind.map(|(dir_deg, speed_ms)| Wind { dir_deg, speed_ms }),
                place: place.map(|(latitude_deg, longitude_deg)| Position {
                    latitude_deg,
                    longitude_deg,
                }),
                given: Roles::empty(),
            },
            at,
            roles: self.roles,
            why: self.why.clone(),
        })
    }
}

/// A document of reports, indented.
///
/// # Errors
/// A number that JSON cannot hold, which no report has.
pub fn write(records: Vec<Record>) -> Result<String, serde_json::Error> {
    let mut writer = Writer::default();
    let mut out = Vec::new();
    for record in &records {
        writer.write(record, &mut out)?;
    }
    writer.finish(&mut out).map_err(serde_json::Error::io)?;
    String::from_utf8(out).map_err(serde::ser::Error::custom)
}

/// Writes a document report by report, so that a stream of any length needs the memory of one.
///
/// ```
/// use fivefig::forms::json::{Writer, read};
///
/// let mut writer = Writer::default();
/// let mut out = Vec::new();
/// # let record = fivefig::forms::json::Record::default();
/// writer.write(&record, &mut out)?;
/// writer.write(&record, &mut out)?;
/// writer.finish(&mut out)?;
/// assert_eq!(read(std::str::from_utf8(&out)?)?.len(), 2);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Default)]
pub struct Writer {
    begun: bool,
}

impl Writer {
    /// Writes the next report.
    ///
    /// # Errors
    /// The writer fails, or a number that JSON cannot hold, which no report has.
    pub fn write(&mut self, record: &Record, out: impl Write) -> Result<(), serde_json::Error> {
        // Many short pieces come, which this takes faster than octets that grow.
        let mut out = BufWriter::with_capacity(BUFFER, out);
        let before = match self.begun {
            true => ",\n    ".to_owned(),
            false => head(),
        };
        self.begun = true;
        out.write_all(before.as_bytes())
            .map_err(serde_json::Error::io)?;
        // The report stands two levels deep.
        record.serialize(&mut Serializer::with_formatter(&mut out, Indented::new(2)))?;
        out.flush().map_err(serde_json::Error::io)
    }

    /// Ends the document.
    ///
    /// # Errors
    /// The writer fails.
    pub fn finish(self, mut out: impl Write) -> io::Result<()> {
        if self.begun {
            return out.write_all(b"\n  ]\n}\n");
        }
        out.write_all((head().trim_end().to_owned() + "]\n}\n").as_bytes())
    }
}

/// What stands before the first report.
fn head() -> String {
    format!("{{\n  \"schema\": \"{SCHEMA}\",\n  \"reports\": [\n    ")
}

/// One report on a line of its own (JSON Lines).
///
/// # Errors
/// A number that JSON cannot hold, which no report has.
pub fn write_line(record: &Record) -> Result<String, serde_json::Error> {
    let mut out = BufWriter::with_capacity(BUFFER, Vec::new());
    serde_json::to_writer(&mut out, record)?;
    let octets = out
        .into_inner()
        .map_err(|e| serde_json::Error::io(e.into()))?;
    let text = String::from_utf8(octets).map_err(serde::ser::Error::custom)?;
    Ok(text + "\n")
}

/// Reads a document, or JSON Lines with one report per line.
///
/// # Errors
/// Anything else, with line and column; a text of more than 64 MiB.
pub fn read(text: &str) -> Result<Vec<Record>, JsonError> {
    #[derive(Deserialize)]
    struct Probe {
        reports: Option<serde::de::IgnoredAny>,
    }
    if text.len() > MAX_BYTES {
        return Err(JsonError::TooLong(text.len()));
    }
    let probe = serde_json::Deserializer::from_str(text)
        .into_iter::<Probe>()
        .next()
        .ok_or(JsonError::Empty)??;
    let records = if probe.reports.is_some() {
        let document: Document = serde_json::from_str(text)?;
        if document.schema != SCHEMA {
            let short = document.schema.chars().take(64).collect();
            return Err(JsonError::Schema(short));
        }
        document.reports
    } else {
        serde_json::Deserializer::from_str(text)
            .into_iter::<Record>()
            .collect::<Result<_, _>>()?
    };
    if records.is_empty() {
        return Err(JsonError::Empty);
    }
    Ok(records)
}

#[cfg(test)]
mod tests;
