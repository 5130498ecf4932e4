//! `check`: messages for internal consistency, profiles for physical consistency and
//! against their sheets.

use std::io;
use std::path::{Path, PathBuf};

use super::bounded::{MAX_TABLE, text};
use super::diagnostics::{Counts, Diagnostics, Notes, Reporter, counted, is_colour};
use super::flight::{SourceArgs, load, sheet_files, sources};
use super::output::Sink;
use super::{CodeForm, Stop, compare, decode, tell};
use crate::input;
use crate::input::sheet::SheetFault;
use crate::issue::folder::Name;
use crate::issue::{Ascent, folder, previous};
use crate::model::finding::{Code, Finding, Place, finding, shown_path};
use crate::model::{Context, Dated, Form, Noted, PracticeTable, Reach, Report, Station};
use crate::verify::continuity::{Previous, REACH_H, hours_between};
use crate::verify::traffic::Checker;
use crate::{profile, verify};

/// How the findings are wanted.
pub(super) struct Options {
    /// Year and month of text.
    pub(super) dated: Option<Dated>,
    pub(super) diagnostics: Diagnostics,
    pub(super) strict: bool,
    /// Whether a damaged part is left out.
    pub(super) strict_parts: bool,
    /// The table of practices of the station whose messages are checked.
    pub(super) practice: Option<PracticeTable>,
}

impl Options {
    /// How messages are read.
    fn reading(&self) -> decode::Options<'_> {
        decode::Options {
            dated: self.dated,
            strict_parts: self.strict_parts,
            practice: self.practice.as_ref(),
        }
    }
}

/// Checks every report of a file; the findings go to standard output, one per line, and a
/// summary to standard error.
///
/// Exit code 1 when something is an error (or a warning under `--strict`), or
/// when no report could be read.
pub(super) fn messages(path: &Path, options: &Options) -> Result<u8, Stop> {
    let name = shown_path(path);
    let files = decode::files(path)?;
    let mut out = Findings::open(options)?;
    let mut checker = Checker::dated(options.dated);
    let mut reports = 0;
    let mut unchecked = None;
    for file in &files {
        let name = shown_path(file);
        let opened = decode::open(file)?;
        out.write(Vec::from_iter(opened.finding))?;
        for mut input in opened.inputs {
            if input.holds == decode::Holds::Groups {
                decode::each_received(
                    &mut *input.from,
                    file,
                    options.reading(),
                    |findings, received| {
                        out.write(findings)?;
                        for one in received {
                            reports += 1;
                            let mut findings = one.findings.clone();
                            verify::traffic::identify(&mut findings, &one, options.dated);
                            findings.extend(checker.check(&one, &name));
                            out.write(findings)?;
                        }
                        Ok(())
                    },
                )?;
                continue;
            }
            let read = decode::documents(&mut input, &name, options.dated, &mut |finding| {
                out.write(vec![finding])
            });
            for read in read? {
                match &read.message {
                    Ok(message) => {
                        reports += 1;
                        let mut findings = verify::message::check(message);
                        for Finding { place, .. } in &mut findings {
                            place.file = Some(name.clone());
                            place.station = Some(verify::traffic::station(message));
                            place.time = Some(verify::traffic::time(message, options.dated));
                        }
                        out.write(findings)?;
                    }
                    Err(why) => {
                        let place = Place::default().in_file(&name);
                        out.write(vec![finding!(NoTextCode, place, problem = why)])?;
                        unchecked = Some(why.clone());
                    }
                }
            }
        }
    }
    out.write(checker.finish())?;
    let (counts, code) = out.close()?;
    if reports == 0 {
        return Err(Stop::data(
            unchecked.unwrap_or_else(|| format!("{name}: no report could be read")),
        ));
    }
    if !options.diagnostics.quiet {
        tell(&format!(
            "fivefig: {name}: {}, {}, {}, {}",
            counted(reports, "report"),
            counted(counts.errors, "error"),
            counted(counts.warnings, "warning"),
            counted(counts.notes, "note"),
        ));
    }
    Ok(code)
}

/// What others say of the station of a sheet.
pub(super) struct Records {
    /// An exported table of station metadata.
    pub(super) list: Option<PathBuf>,
    /// A WIGOS metadata record.
    pub(super) wmd: Option<PathBuf>,
}

impl Records {
    /// The station of a sheet compared with them.
    fn compare(&self, context: &Context) -> Result<Vec<Finding>, Stop> {
        let mut findings = Vec::new();
        if let Some(list) = &self.list {
            let of = shown_path(list);
            let table = text(list, MAX_TABLE)?;
            let found = verify::station::check(&context.station, &table, &of);
            findings.extend(found.map_err(|e| Stop::data(format!("{of}: {e}")))?);
        }
        if let Some(record) = &self.wmd {
            let of = shown_path(record);
            let xml = text(record, MAX_TABLE)?;
            let found = verify::wmd::check(context, &xml, &of);
            findings.extend(found.map_err(|e| Stop::data(format!("{of}: {e}")))?);
        }
        Ok(findings)
    }
}

/// Checks sheets without a profile: each fault and each mandatory key that is missing is
/// a line.
///
/// Exit code 1 when there is one (or a warning under `--strict`).
pub(super) fn sheet(paths: &[PathBuf], records: &Records, options: &Options) -> Result<u8, Stop> {
    let files = sheet_files(paths)?;
    let mut out = Findings::open(options)?;
    let sources = sources(&files);
    let read = input::sheet::read(&sources).and_then(|read| {
        input::sheet::schedule(&sources)?;
        input::sheet::targets(&sources)?;
        Ok(read)
    });
    let ground_check = input::sheet::ground_check(&sources).ok().flatten();
    let ground_check =
        ground_check.map(|(check, flight)| profile::ground_check(&check, flight.release));
    if let Some(verdict) = &ground_check {
        out.write(verdict.findings.clone())?;
    }
    match read {
        Ok((sheet, mut findings)) => {
            findings.extend(records.compare(&sheet.context)?);
            out.write(findings)?;
        }
        Err(error) => {
            let one = |fault: &SheetFault| {
                // The fault names its key itself.
                let place = Place {
                    key: None,
                    ..fault.place.clone()
                };
                finding!(SheetFault, place, problem = fault.fault)
            };
            out.write(error.faults().iter().map(one).collect())?;
        }
    }
    if let Some(verdict) = ground_check {
        out.more()?;
        out.sink.write(&format!("before release: {verdict}\n"))?;
    }
    let (counts, code) = out.close()?;
    if counts.errors == 0 && !options.diagnostics.quiet {
        tell("fivefig: the sheet is complete");
    }
    options.diagnostics.summarize(counts);
    Ok(code)
}

/// Checks a profile for physical consistency and against its sheet; the last line is the
/// verdict of the checks before release.
///
/// Exit code 1 when something is an error (or a warning under `--strict`).
pub(super) fn profile(
    source: &SourceArgs,
    form: Option<CodeForm>,
    records: &Records,
    previous: &[PathBuf],
    options: &Options,
) -> Result<u8, Stop> {
    let loaded = load(source)?;
    let form = loaded.form(form.map(Form::from));
    let continuity = match previous {
        [] => Vec::new(),
        _ => {
            let flight = loaded.code(form, Reach::Whole).map_err(Stop::data)?;
            continuity(&flight.report, previous, options.diagnostics)?
        }
    };
    let Ascent {
        name,
        raw,
        sheet,
        mut findings,
        ..
    } = loaded;
    findings.extend(records.compare(&sheet.context)?);
    let Noted {
        value: ascent,
        findings: notes,
    } = profile::build_for(form, &raw, &sheet.context).map_err(Stop::data)?;
    findings.extend(notes);
    let checked = verify::profile::check(&ascent, &sheet.context);
    let verdict = verify::profile::verdict(&checked);
    let mut out = Findings::open(options)?;
    out.write(findings)?;
    // The verdict has what was not compared.
    let lines = options.diagnostics.notes == Notes::Text;
    let checked = checked
        .into_iter()
        .filter(|finding| !(lines && finding.is(Code::NotCompared)));
    let placed = checked.map(|mut finding| {
        finding.place.file = Some(name.clone());
        finding
    });
    out.write(placed.collect())?;
    out.write(continuity)?;
    out.more()?;
    out.sink.write(&format!("before release: {verdict}\n"))?;
    let (counts, code) = out.close()?;
    options.diagnostics.summarize(counts);
    Ok(code)
}

/// Compares a report with earlier ones of its station: messages, issues, or the last ones
/// of a folder of issues.
fn continuity(
    report: &Report,
    paths: &[PathBuf],
    diagnostics: Diagnostics,
) -> Result<Vec<Finding>, Stop> {
    let mut all = Vec::new();
    for path in paths {
        let name = shown_path(path);
        let issue = path.file_name().and_then(|name| name.to_str());
        let issue = issue.and_then(Name::parse).filter(|_| path.is_dir());
        let found = match issue {
            Some(issue) => {
                let out = path.parent().unwrap_or(Path::new("."));
                let mut found = previous::read(out, &[issue]);
                found.pop().map(|previous| previous.report)
            }
            None if path.is_dir() => {
                let own = Name::of(&folder::id(report)?, report, None)?;
                let found = previous::in_folder(path, &own);
                if found.is_empty() {
                    tell(&format!(
                        "fivefig: {name}: no report of {} in the {REACH_H} h before; nothing is compared",
                        own.id()
                    ));
                }
                all.extend(found);
                continue;
            }
            None => {
                let practice = report.context.coding.practice.as_ref();
                Some(compare::one(path, practice, diagnostics)?.report)
            }
        };
        let Some(found) = found else {
            return Err(Stop::data(format!(
                "{name}: the report of this issue cannot be read; give another or a message"
            )));
        };
        if !is_same(&found.context.station, &report.context.station) {
            return Err(Stop::data(format!(
                "{name}: it is of {}, the profile is of {}; give an earlier report of the same station",
                station_words(&found),
                station_words(report)
            )));
        }
        let hours = hours_between(&found, report);
        match hours.filter(|hours| *hours > 0.0 && *hours <= REACH_H) {
            Some(_) => all.push(Previous {
                name,
                report: found,
            }),
            None => {
                return Err(Stop::data(format!(
                    "{name}: it is not of the {REACH_H} h before the profile; give an earlier report of that time"
                )));
            }
        }
    }
    all.sort_by(|a, b| {
        let hours = |one: &Previous| hours_between(&one.report, report).unwrap_or(f64::INFINITY);
        hours(a).total_cmp(&hours(b))
    });
    Ok(verify::continuity::check(report, &all))
}

/// Whether two stations are one, by the first identifier that both have.
fn is_same(one: &Station, other: &Station) -> bool {
    let number = |station: &Station| station.wmo_block.zip(station.wmo_number);
    match (number(one), number(other)) {
        (Some(one), Some(other)) => return one == other,
        _ if one.wigos_id.is_some() && other.wigos_id.is_some() => {
            return one.wigos_id == other.wigos_id;
        }
        _ => {}
    }
    one.call_sign == other.call_sign
}

fn station_words(report: &Report) -> String {
    folder::id(report).unwrap_or_else(|_| "a station without identifier".to_owned())
}

/// Findings on standard output.
struct Findings<'a> {
    options: &'a Options,
    reporter: Reporter,
    sink: Sink,
    colour: bool,
}

impl<'a> Findings<'a> {
    fn open(options: &'a Options) -> Result<Self, Stop> {
        Ok(Self {
            options,
            reporter: Reporter::new(options.diagnostics),
            sink: Sink::open(Path::new("-"))?,
            colour: is_colour(&io::stdout()),
        })
    }

    fn write(&mut self, findings: Vec<Finding>) -> Result<(), Stop> {
        for finding in findings {
            if let Some(line) = self.reporter.line("", &finding)? {
                let line = line.shown(self.colour);
                self.sink.write(&format!("{line}\n"))?;
            }
        }
        Ok(())
    }

    /// Says how many more findings there were than were written.
    fn more(&mut self) -> Result<(), Stop> {
        for line in self.reporter.more("") {
            let line = line.shown(self.colour);
            self.sink.write(&format!("{line}\n"))?;
        }
        Ok(())
    }

    /// How many findings there were, and the exit code.
    fn close(mut self) -> Result<(Counts, u8), Stop> {
        self.more()?;
        self.sink.close()?;
        let counts = self.reporter.counts;
        let failed = counts.errors > 0 || (self.options.strict && counts.warnings > 0);
        Ok((counts, u8::from(failed)))
    }
}
