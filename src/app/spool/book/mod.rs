//! The flight book: a line of CSV for each case.
//!
//! The book is drawn from the journal: each line stands in the case it belongs to,
//! and a restart adds the lines that are not in the file yet.

use std::fs::{File, OpenOptions};
use std::io::{Read as _, Seek as _, Write as _};
use std::path::{Path, PathBuf};

use itertools::Itertools as _;
use serde::{Deserialize, Serialize};

use super::SpoolError;
use crate::input::sheet::Schedule;
use crate::issue::Flight;
use crate::issue::folder::Name;
use crate::model::finding::{Finding, Severity};
use crate::model::{GroundCheck, GroundCheckResult, GroundQuantity, When, utc};
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
    /// Codes of the findings of severity warning or error, blanks between.
    pub codes: String,
    /// Of a flight that was held because of its continuity: when it was released, UTC.
    pub released: String,
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
        line.found(&flight.findings);
        let held = flight.fidelity.departures.iter();
        let shares = held.clone().map(|h| h.after_rounding.greatest / h.limit);
        line.departure = shares
            .reduce(f64::max)
            .map(|share| (share * 100.0).round() / 100.0);
        line.outside = Some(held.map(|h| h.after_rounding.outside).sum());
        line.ended_by = flight.report.context.flight.termination;
        line
    }

    /// Which findings of severity warning or error there are.
    pub(super) fn found(&mut self, findings: &[Finding]) {
        let findings = findings.iter().filter(|f| f.severity != Severity::Info);
        self.codes = findings.map(|f| f.code.as_ref()).join(" ");
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

/// The octets of a book; of one that is longer than may be read the beginning.
pub(super) fn read(path: &Path) -> Result<Vec<u8>, SpoolError> {
    let fault = |error| SpoolError::io(path, error);
    let mut octets = Vec::new();
    let file = File::open(path).map_err(fault)?;
    file.take(MAX_BOOK)
        .read_to_end(&mut octets)
        .map_err(fault)?;
    Ok(octets)
}

/// Every line of a book, or why it cannot be understood.
pub(super) fn each<'a>(
    octets: &'a [u8],
    path: &'a Path,
) -> impl Iterator<Item = Result<Line, SpoolError>> + 'a {
    let lines = csv::Reader::from_reader(octets).into_deserialize();
    lines.map(|line| {
        line.map_err(|error: csv::Error| SpoolError::Book {
            path: path.to_owned(),
            line: error.position().map_or(0, csv::Position::line),
            what: error.to_string(),
        })
    })
}

fn lines(octets: &[u8], path: &Path) -> Result<Vec<Line>, SpoolError> {
    each(octets, path).collect()
}
