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
use crate::model::finding::Severity;
use crate::model::{When, utc};
use crate::tables::FigureTable;

#[cfg(test)]
mod tests;

/// The largest book that is read, octets.
const MAX_BOOK: u64 = 1 << 30;

/// A line of the book. What does not apply is empty.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
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
    /// Rows beyond a limit.
    pub beyond: Option<usize>,
    /// Why the ascent ended, 0 35 035.
    pub ended_by: Option<u8>,
    /// Why it was refused, in a word.
    pub refused: String,
    /// The same in a line.
    pub why: String,
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
                book.last = lines(kept, &book.path)?.last().map_or(0, |line| line.no);
            }
            Err(SpoolError::Io { error, .. }) if error.kind() == std::io::ErrorKind::NotFound => {}
            Err(error) => return Err(error),
        }
        Ok(book)
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
        let mut writer = csv::WriterBuilder::new();
        let mut writer = writer.has_headers(end == 0).from_writer(Vec::new());
        let line = Line { no, ..line.clone() };
        let made = writer.serialize(line).map_err(std::io::Error::other);
        made.map_err(fault)?;
        let octets = writer.into_inner().map_err(|e| fault(e.into_error()))?;
        if let Err(error) = file.write_all(&octets).and_then(|()| file.sync_data()) {
            // A torn line would be taken away at the next start.
            let _ = file.set_len(end);
            return Err(fault(error));
        }
        self.last = no;
        Ok(())
    }
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
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
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
        f.write_str(&out)
    }
}
