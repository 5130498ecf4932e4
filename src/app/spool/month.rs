//! The month: the flight book and the folder of issues as records of
//! [`crate::verify::month`].
//!
//! Neither is complete alone: the book has what was refused and how late reports were, the
//! folder what was issued by hand, corrections, and the values. What cannot be read becomes
//! a finding, and the rest is added up.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io;
use std::path::Path;

use jiff::civil::DateTime;

use super::book::{self, Line};
use super::journal::Kind;
use super::{BOOK, SpoolError, clock, handover, state_folder};
use crate::forms::json;
use crate::forms::wis2::names::station_id;
use crate::input::sheet;
use crate::input::sheet::Source;
use crate::issue::folder;
use crate::issue::folder::{IssueKind, Name};
use crate::issue::outputs::Output;
use crate::issue::sent;
use crate::model::finding::{Finding, Place, Severity, counted, finding, shown_path};
use crate::model::{Form, GroundQuantity, Report, utc};
use crate::verify::month;
use crate::verify::month::{Ascent, Cause, Checked, Month, Period, Records, Refusal};

/// Adds up a month, such as `2031-01`, of a folder of issues. Where the sheets give a
/// station, its ascents alone count.
///
/// # Errors
/// No month; sheets with a fault in the schedule; a folder with neither book nor issue, or
/// that cannot be read.
pub fn month(
    out: &Path,
    month: &str,
    sheets: &[Source<'_>],
    now_s: i64,
) -> Result<Month, SpoolError> {
    let schedule = sheet::schedule(sheets).map_err(SpoolError::Sheets)?;
    let period =
        Period::parse(month).ok_or_else(|| SpoolError::Month(month.chars().take(40).collect()))?;
    let own = station(sheets, period);
    let names = names(out)?;
    let mut gathering = Gathering::new(out, own, period);
    let path = state_folder(out).join(BOOK);
    match book::read(&path) {
        Ok(octets) => gathering.book(&octets, &path),
        Err(SpoolError::Io { error, .. }) if error.kind() == io::ErrorKind::NotFound => {
            if names.is_empty() {
                return Err(SpoolError::NoRecords(out.to_owned()));
            }
            let place = Place::default().in_file(&shown_path(&path));
            gathering.found(finding!(MonthNoBook, place));
        }
        Err(error) => return Err(error),
    }
    for name in &names {
        gathering.name(name);
    }
    let mut records = gathering.finish();
    match handover::deliveries(out) {
        Ok(deliveries) => records.handover = handover::month(&deliveries, period),
        Err(error) => {
            let why = error.to_string();
            records
                .findings
                .push(finding!(MonthNoHandover, Place::default(), why = why));
        }
    }
    Ok(month::sum(&records, period, &schedule, clock::civil(now_s)))
}

/// The identifier of the station of the sheets, where they give one.
fn station(sheets: &[Source<'_>], period: Period) -> Option<String> {
    let time = utc::print(period.end());
    let text = format!("[flight]\nstandard_time = \"{time}\"\n");
    let name = "month";
    let mut sheets = sheets.to_vec();
    sheets.push(Source { name, text: &text });
    let (sheet, _) = sheet::read(&sheets).ok()?;
    station_id(&sheet.context.station).ok()
}

/// The names of the issues of a folder.
fn names(out: &Path) -> Result<BTreeSet<Name>, SpoolError> {
    let entries = match fs::read_dir(out) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            return Err(SpoolError::NoRecords(out.to_owned()));
        }
        entries => entries.map_err(|error| SpoolError::io(out, error))?,
    };
    let names = entries.flatten().filter_map(|entry| {
        let name = Name::parse(entry.file_name().to_str()?)?;
        entry.path().is_dir().then_some(name)
    });
    Ok(names.collect())
}

/// A standard time of a station.
type Key = (DateTime, String);

/// Takes book and folder together.
struct Gathering<'a> {
    out: &'a Path,
    /// The month and the one before.
    periods: [Period; 2],
    /// The station whose ascents count; `None`: every station.
    own: Option<String>,
    ascents: BTreeMap<Key, Ascent>,
    /// The whole reports of each, without letters.
    reports: BTreeMap<Key, BTreeSet<Name>>,
    early: BTreeSet<Key>,
    nil: BTreeSet<Key>,
    /// Corrections of early messages that the spool issued, by name.
    of_early: BTreeMap<String, DateTime>,
    /// Those whose codes the book does not have.
    without_codes: BTreeSet<Key>,
    /// Standard times of other stations in the month.
    others: BTreeMap<String, BTreeSet<DateTime>>,
    refusals: Vec<Refusal>,
    findings: Vec<Finding>,
}

impl<'a> Gathering<'a> {
    fn new(out: &'a Path, own: Option<String>, period: Period) -> Self {
        Self {
            out,
            periods: [period, period.previous()],
            own,
            ascents: BTreeMap::new(),
            reports: BTreeMap::new(),
            early: BTreeSet::new(),
            nil: BTreeSet::new(),
            of_early: BTreeMap::new(),
            without_codes: BTreeSet::new(),
            others: BTreeMap::new(),
            refusals: Vec::new(),
            findings: Vec::new(),
        }
    }

    fn found(&mut self, finding: Finding) {
        self.findings.push(finding);
    }

    /// Takes the lines of a book; the last may be torn where a spool writes it.
    fn book(&mut self, octets: &[u8], path: &Path) {
        let end = octets.iter().rposition(|&b| b == b'\n');
        let whole = octets.get(..=end.unwrap_or(0)).unwrap_or_default();
        let shown = shown_path(path);
        for (number, line) in book::each(whole, path).enumerate() {
            let fault = match line {
                Ok(line) => {
                    let kind = Kind::of_word(&line.event);
                    let known = kind.and_then(|kind| self.line(kind, &line));
                    let why = "event, issue or time of the line is not that of a flight book";
                    known.is_none().then(|| (number + 2, why.to_owned()))
                }
                Err(SpoolError::Book { line, what, .. }) => {
                    Some((usize::try_from(line).unwrap_or(usize::MAX), what))
                }
                Err(other) => Some((number + 2, other.to_string())),
            };
            if let Some((line, why)) = fault {
                let place = Place::line(&shown, line);
                self.found(finding!(MonthBookLine, place, why = why));
            }
        }
    }

    /// Takes a line; `None` where it cannot be understood.
    fn line(&mut self, kind: Kind, line: &Line) -> Option<()> {
        let at = utc::parse(&line.at)?;
        let name = Name::parse(&line.issue);
        let key = || Some((name.clone()?.standard()?, name.clone()?.id().to_owned()));
        match kind {
            Kind::Same => {}
            Kind::Refused => {
                let standard = utc::parse(&line.standard_time);
                self.refusals.push(Refusal {
                    at: standard.unwrap_or(at),
                    reason: line.refused.clone(),
                    batch: line.batch.clone(),
                    checked: checked(line),
                    codes: codes(line),
                });
            }
            Kind::Correction => {
                let (standard, id) = key()?;
                if self.counts(standard, &id) {
                    self.of_early.insert(line.issue.clone(), standard);
                }
            }
            Kind::Early | Kind::Nil => {
                let key = key()?;
                if self.counts(key.0, &key.1) {
                    let set = if kind == Kind::Nil {
                        &mut self.nil
                    } else {
                        &mut self.early
                    };
                    set.insert(key);
                }
            }
            Kind::Flight => {
                let (key, name) = (key()?, name.clone()?);
                if name.form() != Form::Descent && self.counts(key.0, &key.1) {
                    if line.codes.is_empty() && line.warnings.is_some_and(|n| n > 0) {
                        self.without_codes.insert(key.clone());
                    }
                    self.reports
                        .entry(key.clone())
                        .or_default()
                        .insert(name.with(None));
                    fill(self.ascents.entry(key).or_default(), line);
                }
            }
        }
        Some(())
    }

    /// Whether an issue is one of the months and the station; the others are counted.
    fn counts(&mut self, standard: DateTime, id: &str) -> bool {
        let [period, before] = self.periods;
        if !period.has(standard) && !before.has(standard) {
            return false;
        }
        let is_own = self.own.as_deref().is_none_or(|own| own == id);
        if !is_own && period.has(standard) {
            self.others
                .entry(id.to_owned())
                .or_default()
                .insert(standard);
        }
        is_own
    }

    /// Takes an issue of the folder.
    fn name(&mut self, name: &Name) {
        let Some(standard) = name.standard() else {
            return;
        };
        if name.form() == Form::Descent || !self.counts(standard, name.id()) {
            return;
        }
        let key = (standard, name.id().to_owned());
        match name.kind() {
            _ if name.bbb().is_some_and(|bbb| bbb.is_correction()) => {}
            IssueKind::Nil => {
                self.nil.insert(key);
            }
            IssueKind::Early => {
                self.early.insert(key);
            }
            IssueKind::Whole => {
                self.ascents.entry(key.clone()).or_default();
                self.reports.entry(key).or_default().insert(name.with(None));
            }
        }
    }

    /// Reads the reports.
    fn finish(mut self) -> Records {
        let mut corrections = Vec::new();
        let mut gone: Vec<String> = Vec::new();
        let reports = std::mem::take(&mut self.reports);
        let mut ascents = std::mem::take(&mut self.ascents);
        for ((standard, id), names) in &reports {
            let key = (*standard, id.clone());
            let Some(ascent) = ascents.get_mut(&key) else {
                continue;
            };
            (ascent.standard, ascent.station) = (*standard, id.clone());
            let mut is_there = false;
            for name in names {
                match sent::earlier(self.out, name) {
                    Ok(Some(sent)) => {
                        is_there = true;
                        take(ascent, &sent.report);
                    }
                    Ok(None) => {}
                    Err(error) => {
                        is_there = true;
                        self.unread(name, &error.to_string());
                    }
                }
                if !ascent.in_book || self.without_codes.contains(&key) {
                    self.take_codes(ascent, name);
                }
            }
            if !is_there {
                gone.extend(names.first().map(ToString::to_string));
            }
        }
        // A report may have gone on from an early message alone.
        let early = self.early.iter().filter(|key| !reports.contains_key(key));
        let early = early.flat_map(|(standard, id)| {
            let forms = [Form::Temp, Form::Pilot];
            forms
                .into_iter()
                .filter_map(|form| Name::whole(id, *standard, form))
        });
        let all: Vec<Name> = reports.values().flatten().cloned().chain(early).collect();
        for name in all {
            for (correction, changed) in sent::corrections(self.out, &name) {
                let by_spool = self.of_early.remove(&correction.to_string());
                let cause = match (by_spool, &changed) {
                    (Some(_), _) => Cause::EarlyMessage,
                    (None, Ok(differences)) => Cause::of(differences),
                    (None, Err(_)) => Cause::Unknown,
                };
                corrections.extend(correction.standard().map(|at| (at, cause)));
                if let Err(error) = changed {
                    self.unread(&correction, &error.to_string());
                }
            }
        }
        // What is in the book and no longer in the folder.
        let of_early = self.of_early.values();
        corrections.extend(of_early.map(|standard| (*standard, Cause::EarlyMessage)));
        if let Some(first) = gone.first() {
            let flights = counted(gone.len(), "flight");
            let place = Place::default();
            let finding = finding!(MonthIssueGone, place, flights = flights, first = first);
            self.findings.push(finding);
        }
        let own = self.own.clone().unwrap_or_default();
        for (name, times) in &self.others {
            let times = counted(times.len(), "standard time");
            let place = Place::default();
            let finding = finding!(
                MonthOtherStation,
                place,
                times = times,
                name = name,
                own = own
            );
            self.findings.push(finding);
        }
        let times = |keys: BTreeSet<Key>| keys.into_iter().map(|(time, _)| time).collect();
        Records {
            ascents: ascents.into_values().collect(),
            early: times(self.early),
            nil: times(self.nil),
            corrections,
            refusals: self.refusals,
            handover: BTreeMap::new(),
            findings: self.findings,
        }
    }

    fn unread(&mut self, name: &Name, why: &str) {
        let path = self.out.join(name.to_string());
        let place = Place::default().in_file(&shown_path(&path));
        let finding = finding!(MonthIssueUnread, place, why = why);
        if !self.findings.contains(&finding) {
            self.findings.push(finding);
        }
    }

    /// Takes the codes from the document of an issue, where it has one.
    fn take_codes(&mut self, ascent: &mut Ascent, name: &Name) {
        let Some(name) = folder::first(self.out, name) else {
            return;
        };
        let Some(file) = Output::Json.file() else {
            return;
        };
        let read = folder::file(self.out, &name, file).map_err(|error| error.to_string());
        let Some(octets) = read.ok().flatten() else {
            return;
        };
        match json::read(&String::from_utf8_lossy(&octets)) {
            Ok(records) => {
                let findings = records.iter().flat_map(|record| &record.findings);
                let findings = findings.filter(|f| f.severity != Severity::Info);
                ascent.codes.extend(findings.map(|f| f.code.to_string()));
            }
            Err(error) => self.unread(&name, &error.to_string()),
        }
    }
}

/// Takes what a line of the book has of an ascent; there may be one for each code form.
fn fill(ascent: &mut Ascent, line: &Line) {
    let both = |a: Option<bool>, b: Option<bool>| a.zip(b).map(|(a, b)| a && b).or(a).or(b);
    ascent.in_book = true;
    ascent.after_min = ascent.after_min.max(line.after_min);
    ascent.in_time = both(ascent.in_time, line.in_time);
    ascent.within_limits = both(ascent.within_limits, line.outside.map(|n| n == 0));
    let tops = [ascent.top_hpa, line.top_hpa];
    ascent.top_hpa = tops.into_iter().flatten().reduce(f64::min);
    let tops = [ascent.top_gpm, line.top_gpm];
    ascent.top_gpm = tops.into_iter().flatten().reduce(f64::max);
    ascent.ended_by = ascent.ended_by.or(line.ended_by);
    ascent.codes.extend(codes(line));
    ascent.released |= !line.released.is_empty();
    if ascent.batch.is_empty() {
        ascent.batch.clone_from(&line.batch);
    }
    if ascent.checked.is_none() {
        ascent.checked = checked(line);
    }
}

/// Takes what a report has: the values at the standard surfaces and, where the book has no
/// line, how high the ascent came and why it ended.
fn take(ascent: &mut Ascent, report: &Report) {
    if ascent.levels.is_empty() {
        ascent.levels = month::surfaces(report);
    }
    let rows = report.levels.iter().map(|level| &level.row);
    if ascent.top_hpa.is_none() {
        ascent.top_hpa = rows
            .clone()
            .filter_map(|row| row.pressure_hpa)
            .reduce(f64::min);
    }
    if ascent.top_gpm.is_none() {
        ascent.top_gpm = rows.filter_map(|row| row.height_gpm).reduce(f64::max);
    }
    if ascent.ended_by.is_none() {
        ascent.ended_by = report.context.flight.termination;
    }
}

fn codes(line: &Line) -> Vec<String> {
    line.codes.split_whitespace().map(str::to_owned).collect()
}

fn checked(line: &Line) -> Option<Checked> {
    let differences = [
        (GroundQuantity::Pressure, line.pressure_off_hpa),
        (GroundQuantity::Temperature, line.temperature_off_k),
        (GroundQuantity::Humidity, line.humidity_off_pct),
        (GroundQuantity::DryHumidity, line.dry_humidity_pct),
    ];
    let differences = differences.into_iter();
    Some(Checked {
        result: Some(line.ground_check?),
        differences: differences
            .filter_map(|(quantity, off)| Some((quantity, off?)))
            .collect(),
    })
}
