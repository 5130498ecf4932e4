//! The flight book: a line of CSV for each case, and the month's figures.
//!
//! The book is drawn from the journal: each line stands in the case it belongs to,
//! and a restart adds the lines that are not in the file yet.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs::{File, OpenOptions};
use std::io::{Read as _, Seek as _, Write as _};
use std::path::{Path, PathBuf};

use jiff::civil::DateTime;
use serde::{Deserialize, Serialize};

use super::SpoolError;
use crate::input::sheet::Schedule;
use crate::issue::Flight;
use crate::issue::folder::Name;
use crate::model::finding::{Severity, printable};
use crate::model::{GroundCheck, GroundCheckResult, GroundQuantity, When, utc};
use crate::tables::FigureTable;
use crate::{model, profile};

#[cfg(test)]
mod tests;

/// The largest book that is read, octets.
const MAX_BOOK: u64 = 1 << 30;

/// A line of the book. What does not apply is empty.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Line {
    /// The number of the case.
    pub no: u64,
    /// When it was issued or refused, UTC.
    pub at: String,
    /// `flight`, `early`, `nil`, `refused`, `same`.
    pub event: String,
    /// The profile.
    pub input: String,
    /// The name of the issue.
    pub issue: String,
    /// The standard time, UTC.
    pub standard_time: String,
    /// Release, UTC.
    pub release: String,
    /// Minutes from the standard time to the issue.
    pub after_min: Option<i64>,
    /// Whether it was within the limit of the schedule.
    pub in_time: Option<bool>,
    /// Lowest pressure, hPa.
    pub top_hpa: Option<f64>,
    /// Greatest geopotential, gpm.
    pub top_gpm: Option<f64>,
    /// Levels of the report.
    pub levels: Option<usize>,
    /// Findings of severity warning or error.
    pub warnings: Option<usize>,
    /// Findings of severity info.
    pub notes: Option<usize>,
    /// The greatest departure from the curve of the coded message, in limits.
    pub departure: Option<f64>,
    /// Rows outside a limit.
    pub outside: Option<usize>,
    /// Why the ascent ended, 0 35 035.
    pub ended_by: Option<u8>,
    /// Why it was refused, in a word.
    pub refused: String,
    /// The same in a line.
    pub why: String,
    /// Serial number of the sonde.
    pub serial: String,
    /// Its batch.
    pub batch: String,
    /// What came of the ground check.
    pub ground_check: Option<GroundCheckResult>,
    /// Sonde less reference at the ground check, hPa.
    pub pressure_off_hpa: Option<f64>,
    /// The same of temperature, K.
    pub temperature_off_k: Option<f64>,
    /// The same of humidity, %.
    pub humidity_off_pct: Option<f64>,
    /// Humidity of the sonde in dry air, %.
    pub dry_humidity_pct: Option<f64>,
}

impl Line {
    /// What a flight says of itself, as the issue of that name.
    pub(super) fn of(flight: &Flight, name: &Name) -> Self {
        let mut line = Self::named(name);
        if let When::Full { release, .. } = flight.report.when {
            line.release = utc::print(release);
        }
        let rows = flight.ascent.rows.iter();
        let pressures = rows.clone().filter_map(|row| row.pressure_hpa);
        line.top_hpa = pressures.reduce(f64::min);
        line.top_gpm = rows.filter_map(|row| row.height_gpm).reduce(f64::max);
        line.levels = Some(flight.report.levels.len());
        let findings = flight.findings.iter();
        let notes = findings.filter(|f| f.severity == Severity::Info).count();
        line.notes = Some(notes);
        line.warnings = Some(flight.findings.len() - notes);
        let held = flight.fidelity.departures.iter();
        let shares = held.clone().map(|h| h.after_rounding.greatest / h.limit);
        line.departure = shares
            .reduce(f64::max)
            .map(|share| (share * 100.0).round() / 100.0);
        line.outside = Some(held.map(|h| h.after_rounding.outside).sum());
        line.ended_by = flight.report.context.flight.termination;
        line
    }

    /// What the ground check says of the sonde.
    pub(super) fn ground_check(&mut self, check: &GroundCheck, flight: &model::Flight) {
        self.serial = flight.serial.clone().unwrap_or_default();
        self.batch = check.batch.clone().unwrap_or_default();
        self.ground_check = Some(profile::ground_check(check, flight.release).result);
        for difference in check.differences() {
            let off = match difference.quantity {
                GroundQuantity::Pressure => &mut self.pressure_off_hpa,
                GroundQuantity::Temperature => &mut self.temperature_off_k,
                GroundQuantity::Humidity => &mut self.humidity_off_pct,
                GroundQuantity::DryHumidity => &mut self.dry_humidity_pct,
            };
            *off = Some(difference.off());
        }
    }

    /// The identity of an issue.
    pub(super) fn named(name: &Name) -> Self {
        Self {
            issue: name.to_string(),
            standard_time: name.standard().map(utc::print).unwrap_or_default(),
            ..Self::default()
        }
    }

    /// When it was, and by the schedule whether in time.
    pub(super) fn at(&mut self, now_s: i64, schedule: &Schedule) {
        self.at = super::clock::shown(now_s);
        let standard = utc::parse(&self.standard_time).and_then(super::clock::seconds);
        if let Some(standard) = standard {
            let after_s = now_s.saturating_sub(standard);
            self.after_min = Some(after_s.div_euclid(60));
            let limit = schedule.limit_min;
            self.in_time = limit.map(|minutes| after_s <= i64::from(minutes) * 60);
        }
    }
}

/// The book of a spool.
pub(super) struct Book {
    path: PathBuf,
    /// The last case in it.
    pub(super) last: u64,
}

impl Book {
    /// Opens the book; a last line that was torn is taken away.
    pub(super) fn open(path: PathBuf) -> Result<Self, SpoolError> {
        let mut book = Self { path, last: 0 };
        match read(&book.path) {
            Ok(octets) => {
                let whole = octets
                    .iter()
                    .rposition(|&b| b == b'\n')
                    .map_or(0, |end| end + 1);
                if whole < octets.len() {
                    let keep = u64::try_from(whole).unwrap_or(u64::MAX);
                    let cut = || {
                        OpenOptions::new()
                            .write(true)
                            .open(&book.path)?
                            .set_len(keep)
                    };
                    cut().map_err(|error| SpoolError::io(&book.path, error))?;
                }
                let kept = octets.get(..whole).unwrap_or_default();
                let lines = lines(kept, &book.path)?;
                book.last = lines.last().map_or(0, |line| line.no);
                if !lines.is_empty() && !kept.starts_with(&header()?) {
                    book.renew(&lines)?;
                }
            }
            Err(SpoolError::Io { error, .. }) if error.kind() == std::io::ErrorKind::NotFound => {}
            Err(error) => return Err(error),
        }
        Ok(book)
    }

    /// Writes the book anew with the columns of this version, atomically.
    fn renew(&self, lines: &[Line]) -> Result<(), SpoolError> {
        let new = self.path.with_extension("new");
        let write = || -> std::io::Result<()> {
            let mut octets = header().map_err(std::io::Error::other)?;
            for line in lines {
                octets.extend(row(line)?);
            }
            let mut file = File::create(&new)?;
            file.write_all(&octets)?;
            file.sync_all()?;
            std::fs::rename(&new, &self.path)
        };
        write().map_err(|error| SpoolError::io(&self.path, error))
    }

    /// Adds the line of a case, unless it or a later one is there.
    pub(super) fn add(&mut self, no: u64, line: &Line) -> Result<(), SpoolError> {
        if no <= self.last {
            return Ok(());
        }
        let fault = |error| SpoolError::io(&self.path, error);
        let mut options = OpenOptions::new();
        let opened = options.write(true).create(true).truncate(false);
        let mut file = opened.open(&self.path).map_err(fault)?;
        let end = file.seek(std::io::SeekFrom::End(0)).map_err(fault)?;
        let mut octets = match end {
            0 => header()?,
            _ => Vec::new(),
        };
        octets.extend(row(&Line { no, ..line.clone() }).map_err(fault)?);
        if let Err(error) = file.write_all(&octets).and_then(|()| file.sync_data()) {
            // A torn line would be taken away at the next start.
            let _ = file.set_len(end);
            return Err(fault(error));
        }
        self.last = no;
        Ok(())
    }
}

/// The line of a book as its file has it.
fn row(line: &Line) -> std::io::Result<Vec<u8>> {
    let mut writer = csv::WriterBuilder::new();
    let mut writer = writer.has_headers(false).from_writer(Vec::new());
    writer.serialize(line).map_err(std::io::Error::other)?;
    writer.into_inner().map_err(csv::IntoInnerError::into_error)
}

/// The first line of a book: the names of its columns.
fn header() -> Result<Vec<u8>, SpoolError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let fault = |error| SpoolError::io(Path::new(super::BOOK), error);
    let made = writer.serialize(Line::default());
    made.map_err(|error| fault(std::io::Error::other(error)))?;
    let octets = writer.into_inner().map_err(|e| fault(e.into_error()))?;
    let end = octets.iter().position(|&b| b == b'\n');
    Ok(octets.get(..=end.unwrap_or(0)).unwrap_or_default().to_vec())
}

fn read(path: &Path) -> Result<Vec<u8>, SpoolError> {
    let fault = |error| SpoolError::io(path, error);
    let mut octets = Vec::new();
    let file = File::open(path).map_err(fault)?;
    file.take(MAX_BOOK)
        .read_to_end(&mut octets)
        .map_err(fault)?;
    Ok(octets)
}

fn lines(octets: &[u8], path: &Path) -> Result<Vec<Line>, SpoolError> {
    let mut reader = csv::Reader::from_reader(octets);
    let mut lines = Vec::new();
    for line in reader.deserialize() {
        lines.push(line.map_err(|error: csv::Error| SpoolError::Book {
            path: path.to_owned(),
            line: error.position().map_or(0, csv::Position::line),
            what: error.to_string(),
        })?);
    }
    Ok(lines)
}

/// A share of a whole.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Share {
    /// How many.
    pub count: usize,
    /// Of how many.
    pub of: usize,
}

impl std::fmt::Display for Share {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} of {}", self.count, self.of)?;
        if let Some(tenths) = (self.count * 1000 + self.of / 2).checked_div(self.of) {
            write!(f, " ({}.{} %)", tenths / 10, tenths % 10)?;
        }
        Ok(())
    }
}

/// The figures of a month. Flights count by their standard time.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Summary {
    /// The month, `2031-01`.
    pub month: String,
    /// Standard times with a report, of those that the schedule has.
    pub reported: Option<Share>,
    /// Flights that went out.
    pub flights: usize,
    /// Flights within the limit, of those that a limit was known for.
    pub in_time: Share,
    /// Flights that reached 100 hPa.
    pub reached_100_hpa: Share,
    /// Flights that reached 30 hPa.
    pub reached_30_hpa: Share,
    /// Flights that reached 10 hPa.
    pub reached_10_hpa: Share,
    /// Flights no row of which left a limit of the coded message's curve.
    pub within_limits: Share,
    /// Early messages.
    pub early: usize,
    /// NIL.
    pub nil: usize,
    /// Files that were refused, by reason; by the time of the refusal.
    pub refused: BTreeMap<String, usize>,
    /// Why flights ended, in the words of 0 35 035.
    pub ended_by: BTreeMap<String, usize>,
    /// Ground checks by batch of sondes, of flights that were issued or refused; the batch
    /// is empty where the sheet names none.
    pub ground_checks: BTreeMap<String, Batch>,
}

/// The ground checks of a batch of sondes.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Batch {
    /// Sondes that were checked.
    pub checked: usize,
    /// Those of them with something outside a limit.
    pub look_again: usize,
    /// Sonde less reference, hPa.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pressure_hpa: Option<Spread>,
    /// The same of temperature, K.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub temperature_k: Option<Spread>,
    /// The same of humidity, %.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub humidity_pct: Option<Spread>,
    /// Humidity in dry air, %.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dry_humidity_pct: Option<Spread>,
}

/// Mean and standard deviation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Spread {
    /// How many values.
    pub count: u32,
    /// Their mean.
    pub mean: f64,
    /// Their standard deviation (of n − 1); `None` of one value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub deviation: Option<f64>,
}

impl Spread {
    /// That of values, to a thousandth; `None` of none.
    #[must_use]
    pub fn of(values: impl Iterator<Item = f64> + Clone) -> Option<Self> {
        let count = values
            .clone()
            .fold(0_u32, |count, _| count.saturating_add(1));
        let thousandth = |value: f64| (value * 1000.0).round() / 1000.0;
        let n = f64::from(count);
        let mean = values.clone().sum::<f64>() / n;
        let squares: f64 = values.map(|value| (value - mean).powi(2)).sum();
        (count > 0).then(|| Self {
            count,
            mean: thousandth(mean),
            deviation: (count > 1).then(|| thousandth((squares / (n - 1.0)).sqrt())),
        })
    }
}

impl std::fmt::Display for Spread {
    /// Mean ± standard deviation, to a hundredth.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:+.2}", self.mean)?;
        match self.deviation {
            Some(deviation) => write!(f, " ± {deviation:.2}"),
            None => Ok(()),
        }
    }
}

impl Batch {
    fn of(lines: &[&Line]) -> Self {
        let spread =
            |value: fn(&Line) -> Option<f64>| Spread::of(lines.iter().copied().filter_map(value));
        let again = lines
            .iter()
            .filter(|line| line.ground_check == Some(GroundCheckResult::LookAgain));
        Self {
            checked: lines.len(),
            look_again: again.count(),
            pressure_hpa: spread(|line| line.pressure_off_hpa),
            temperature_k: spread(|line| line.temperature_off_k),
            humidity_pct: spread(|line| line.humidity_off_pct),
            dry_humidity_pct: spread(|line| line.dry_humidity_pct),
        }
    }
}

impl std::fmt::Display for Batch {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}, look again {}", self.checked, self.look_again)?;
        let all = [
            ("", self.pressure_hpa, "hPa"),
            ("", self.temperature_k, "K"),
            ("", self.humidity_pct, "%"),
            ("dry air ", self.dry_humidity_pct, "%"),
        ];
        for (before, spread, unit) in all {
            if let Some(spread) = spread {
                write!(f, "; {before}{spread} {unit}")?;
            }
        }
        Ok(())
    }
}

/// The ground checks of a month by batch: of flights by their standard time, of what was
/// refused without one by the time of the refusal.
fn ground_checks(lines: &[Line], month: &str) -> BTreeMap<String, Batch> {
    let mut batches: BTreeMap<String, Vec<&Line>> = BTreeMap::new();
    for line in lines.iter().filter(|line| line.ground_check.is_some()) {
        let time = match line.standard_time.is_empty() {
            true => &line.at,
            false => &line.standard_time,
        };
        let counts = matches!(line.event.as_str(), "flight" | "refused");
        if counts && time.starts_with(month) {
            batches.entry(line.batch.clone()).or_default().push(line);
        }
    }
    let batches = batches.into_iter();
    batches
        .map(|(batch, lines)| (batch, Batch::of(&lines)))
        .collect()
}

/// Sums up the flight book of a folder of issues.
///
/// # Errors
/// A book that cannot be read; a month that is none.
pub fn summary(out: &Path, month: &str, schedule: &Schedule) -> Result<Summary, SpoolError> {
    let path = super::state_folder(out).join(super::BOOK);
    let days = days(month).ok_or_else(|| SpoolError::Month(month.chars().take(40).collect()))?;
    let lines = lines(&read(&path)?, &path)?;
    Ok(sum(&lines, month, days, schedule))
}

/// The days of a month in the form `2031-01`.
fn days(month: &str) -> Option<usize> {
    let (year, of) = month.split_once('-')?;
    if year.len() != 4 || of.len() != 2 {
        return None;
    }
    let first = DateTime::new(year.parse().ok()?, of.parse().ok()?, 1, 0, 0, 0, 0).ok()?;
    usize::try_from(first.days_in_month()).ok()
}

fn sum(lines: &[Line], month: &str, days: usize, schedule: &Schedule) -> Summary {
    let flights: Vec<&Line> = lines
        .iter()
        .filter(|line| line.event == "flight" && line.standard_time.starts_with(month))
        .collect();
    let of = |event: &str| {
        let all = lines.iter().filter(|line| line.event == event);
        all.filter(|line| line.standard_time.starts_with(month))
            .count()
    };
    let share = |is: &dyn Fn(&Line) -> bool| Share {
        count: flights.iter().filter(|line| is(line)).count(),
        of: flights.len(),
    };
    let reached = |hpa: f64| share(&|line| line.top_hpa.is_some_and(|top| top <= hpa));
    let timed = flights.iter().filter(|line| line.in_time.is_some());
    let mut refused = BTreeMap::new();
    let all = lines.iter().filter(|line| line.event == "refused");
    for line in all.filter(|line| line.at.starts_with(month)) {
        *refused.entry(line.refused.clone()).or_insert(0) += 1;
    }
    let mut ended_by = BTreeMap::new();
    for line in &flights {
        *ended_by.entry(ended(line.ended_by)).or_insert(0) += 1;
    }
    Summary {
        month: month.to_owned(),
        reported: (!schedule.hours.is_empty()).then(|| {
            let mut times: Vec<&str> = flights
                .iter()
                .map(|line| line.standard_time.as_str())
                .filter(|time| on_schedule(time, schedule))
                .collect();
            times.sort_unstable();
            times.dedup();
            Share {
                count: times.len(),
                of: days * schedule.hours.len(),
            }
        }),
        flights: flights.len(),
        in_time: Share {
            count: timed
                .clone()
                .filter(|line| line.in_time == Some(true))
                .count(),
            of: timed.count(),
        },
        reached_100_hpa: reached(100.0),
        reached_30_hpa: reached(30.0),
        reached_10_hpa: reached(10.0),
        within_limits: share(&|line| line.outside == Some(0)),
        early: of("early"),
        nil: of("nil"),
        refused,
        ended_by,
        ground_checks: ground_checks(lines, month),
    }
}

fn on_schedule(time: &str, schedule: &Schedule) -> bool {
    utc::parse(time).is_some_and(|time| {
        let hour = u8::try_from(time.hour()).unwrap_or(u8::MAX);
        time.minute() == 0 && schedule.hours.contains(&hour)
    })
}

fn ended(figure: Option<u8>) -> String {
    let Some(figure) = figure else {
        return "not stated".to_owned();
    };
    let rows = FigureTable::Termination.figures();
    let meaning = rows.iter().find(|row| row.figure == figure);
    meaning.map_or_else(|| format!("figure {figure}"), |row| row.meaning.to_owned())
}

impl std::fmt::Display for Summary {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut out = String::new();
        let mut put = |what: &str, value: &dyn std::fmt::Display| {
            // Writing to a string does not fail.
            let _ = writeln!(out, "{what:<34}{value}");
        };
        put("month", &self.month);
        match &self.reported {
            Some(share) => put("standard times with a report", share),
            None => put(
                "standard times with a report",
                &"no schedule is given (--sheet)",
            ),
        }
        put("flights issued", &self.flights);
        put("  in time", &self.in_time);
        put("  reached 100 hPa", &self.reached_100_hpa);
        put("  reached 30 hPa", &self.reached_30_hpa);
        put("  reached 10 hPa", &self.reached_10_hpa);
        put("  every row within the limits", &self.within_limits);
        put("early messages", &self.early);
        put("NIL", &self.nil);
        put("files refused", &self.refused.values().sum::<usize>());
        for (why, count) in &self.refused {
            put(&format!("  {why}"), count);
        }
        if self.flights > 0 {
            put("flights ended by", &"");
        }
        for (why, count) in &self.ended_by {
            put(&format!("  {why}"), count);
        }
        if !self.ground_checks.is_empty() {
            put("ground checks, sonde − reference", &"");
        }
        for (batch, checks) in &self.ground_checks {
            match batch.is_empty() {
                true => put("  batch not stated", checks),
                false => put(&format!("  batch {}", printable(batch)), checks),
            }
        }
        f.write_str(&out)
    }
}
