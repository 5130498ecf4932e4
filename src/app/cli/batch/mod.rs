//! `encode` of many flights: files, folders, lists, lines of JSON.
//!
//! A thread feeds the inputs one by one, others code them, and what comes out is
//! written in the order of the inputs. Only a limited number of flights is processed in parallel,
//! whatever their number; the output is the same for any number of threads.

mod engine;
mod inputs;
mod progress;

use std::collections::BTreeSet;
use std::io::{self, IsTerminal as _};
use std::path::{Path, PathBuf};

use itertools::Itertools as _;
use serde::Serialize;

use super::diagnostics::{Counts, Diagnostics, Line, Notes, Reporter};
use super::encode::{EncodeArgs, first_issues, parts_refused, refuse_terminal};
use super::flight::{CodeArgs, Named, all, prepared, sheet_files, sources};
use super::output::Sink;
use super::{Stop, tell};
use crate::forms::gts;
use crate::forms::json::Record;
use crate::input;
use crate::input::sheet;
use crate::input::{Format, SourceError, jsonl};
use crate::issue::folder;
use crate::issue::folder::Name;
use crate::issue::outputs;
use crate::issue::outputs::{Options, Output, Wanted};
use crate::issue::{Ascent, Flight, Which};
use crate::model::Part;
use crate::model::finding::{Finding, Severity, shown_path};
use crate::profile::Positions;
use inputs::{Inputs, Item};
use progress::Progress;

/// Flights under way for each thread: enough that no thread waits.
const UNDER_WAY: usize = 4;

/// The most refused inputs that are named at the end.
const MAX_NAMED: usize = 20;

/// Where the outputs of flights go.
enum Outlet {
    /// A line of JSON for each.
    Lines,
    /// One message after the other.
    Messages(Output),
    /// A folder for each.
    Folders(Wanted),
    /// One table of the levels of all.
    #[cfg(feature = "parquet")]
    Table,
}

impl Outlet {
    /// Which positions its flights need.
    fn positions(&self) -> Positions {
        match self {
            Self::Messages(output) => output.positions(),
            _ => Positions::FromWind,
        }
    }
}

/// A line of JSON.
#[derive(Serialize)]
struct JsonLine<'a> {
    id: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    report: Option<Record>,
    #[serde(skip_serializing_if = "Option::is_none")]
    error: Option<&'a str>,
}

/// What was written of a flight.
enum Product {
    Octets(Vec<u8>),
    /// One after the other: the correction of an early message before what follows it.
    Issues(Vec<Files>),
    /// Levels of a table.
    #[cfg(feature = "parquet")]
    Levels(arrow_array::RecordBatch),
}

/// An issue and its files.
type Files = (Name, Vec<(&'static str, Vec<u8>)>);

/// A flight that is done with.
struct Done {
    /// What the input is called.
    name: String,
    made: Result<Product, Stop>,
    /// What is written in the place of a refused flight.
    instead: Vec<u8>,
    /// Lines for standard error.
    notes: Vec<Line>,
    counts: Counts,
    /// Whether the flight has a warning.
    warned: bool,
    /// Octets of the input.
    read: u64,
}

/// Whether more than one flight is asked for: several inputs, a folder, a list, or
/// flights in JSON Lines where each may have its output. Nothing is taken from
/// standard input.
pub(super) fn is_asked(asked: &EncodeArgs) -> Result<bool, Stop> {
    let [only] = asked.profiles.as_slice() else {
        return Ok(true);
    };
    if asked.list.is_some() || only.is_dir() {
        return Ok(true);
    }
    let lines = matches!(asked.to.as_slice(), [Output::Jsonl]) && asked.read.message.is_none();
    Ok(lines && inputs::is_jsonl(only, asked.read.from)?)
}

/// How a batch is done.
struct Batch<'a> {
    how: &'a CodeArgs,
    sheets: Vec<Named>,
    format: Option<Format>,
    outlet: Outlet,
    options: Options,
    parts: Option<&'a BTreeSet<Part>>,
    repeat_early: bool,
}

/// Codes every flight of the inputs.
///
/// The exit code is the greatest of all; work goes on past a flight that is refused.
pub(super) fn run(asked: &EncodeArgs) -> Result<u8, Stop> {
    if asked.names.is_some() {
        return Err(Stop::usage(
            "--names: files are named one flight at a time; give one profile",
        ));
    }
    let outlet = outlet(asked)?;
    let sheets = sheet_files(&asked.read.sheet)?;
    sheet::joined(&sources(&sheets)).map_err(|error| all(&error))?;
    let batch = Batch {
        how: &asked.how,
        sheets,
        format: asked.read.from.map(Format::from),
        options: asked.bulletin.options(asked.how.levels.map(Into::into)),
        parts: asked.parts.as_ref(),
        repeat_early: asked.repeat_early,
        outlet,
    };
    let inputs = Inputs {
        paths: &asked.profiles,
        list: asked.list.as_deref(),
        from: asked.read.from,
    };
    let threads = match asked.threads {
        Some(threads) => threads.into(),
        None => std::thread::available_parallelism().map_or(1, usize::from),
    };
    left_out(&inputs.others(), batch.how.diagnostics);
    let mut writer = Writer::open(&batch, inputs.total())?;
    engine::ordered(
        threads,
        threads * UNDER_WAY,
        |give| inputs.feed(give),
        |item| batch.code(item),
        &mut writer,
    )
    .map_err(|error| Stop {
        code: 3,
        lines: vec![format!("--threads {threads}: {error}")],
    })?;
    writer.close()
}

/// Says once which files of folders are not coded.
fn left_out(others: &[PathBuf], diagnostics: Diagnostics) {
    let Some(first) = others.first().filter(|_| !diagnostics.quiet) else {
        return;
    };
    let what = match others.len() {
        1 => format!("{}: left out", shown_path(first)),
        count => format!("{} and {} more left out", shown_path(first), count - 1),
    };
    let what = format!(
        "{what}: neither the content nor the ending is that of a profile; to code such a file, name it, or give --from FORMAT"
    );
    if diagnostics.notes == Notes::Text {
        Line::new(Severity::Info, &what).print();
    }
}

/// What goes together with many flights.
fn outlet(asked: &EncodeArgs) -> Result<Outlet, Stop> {
    if asked.correct.is_some() || asked.was.is_some() {
        return Err(Stop::usage(
            "--correct and --was are for one flight; name it with --message N",
        ));
    }
    if asked.read.message.is_some() {
        return Err(Stop::usage(
            "--message picks a flight of one file; give one file",
        ));
    }
    parts_refused(asked.parts.is_some(), &asked.to)?;
    asked.share.only_with(false)?;
    let out = &asked.how.output;
    if let &[one] = asked.to.as_slice() {
        if one == Output::Jsonl {
            return Ok(Outlet::Lines);
        }
        #[cfg(feature = "parquet")]
        if one == Output::Parquet {
            refuse_terminal(one, out)?;
            return Ok(Outlet::Table);
        }
        if one.between().is_none() {
            let many = Output::ALL
                .iter()
                .filter(|output| output.between().is_some());
            return Err(Stop::usage(format!(
                "--to {} is for one flight; write many flights with --to {}, or several outputs of each into a folder",
                one.name(),
                many.map(|output| output.name()).join(", ")
            )));
        }
        if !out.is_dir() {
            refuse_terminal(one, out)?;
            return Ok(Outlet::Messages(one));
        }
    }
    if out == Path::new("-") {
        return Err(super::encode::folder_needed());
    }
    let wanted = super::encode::wanted(&asked.to)?;
    std::fs::create_dir_all(out).map_err(|e| Stop::io(out, &e))?;
    Ok(Outlet::Folders(wanted))
}

impl Batch<'_> {
    /// One input to what is written of it.
    fn code(&self, item: Item) -> Done {
        let (name, file, read) = (item.name(), item.file(), item.octets());
        let mut reporter = Reporter::new(self.how.diagnostics);
        let is_line = matches!(item, Item::Line { .. });
        let mut notes = Vec::new();
        let mut warned = false;
        let (id, loaded) = self.load(item);
        let made = loaded
            .and_then(|loaded| prepared(self.how, self.outlet.positions(), loaded))
            .and_then(|mut flight| {
                if let Some(parts) = self.parts {
                    outputs::only_parts(&mut flight, parts)?;
                }
                let warning = |f: &Finding| f.severity >= Severity::Warning;
                warned = flight.findings.iter().any(warning);
                self.make(flight, id.as_deref(), &name, &mut reporter, &mut notes)
            })
            .map_err(|stop| match (&id, is_line) {
                (Some(id), true) => {
                    let place = format!("{name}: flight `{}`", input::shown(id));
                    placed(&stop, &file, &place)
                }
                _ => placed(&stop, &file, &name),
            });
        let mut instead = Vec::new();
        notes.extend(reporter.more(&format!("fivefig: {name}: ")));
        if let Err(stop) = &made {
            let lines = stop.lines.iter().flat_map(|line| line.lines());
            notes.extend(lines.map(Line::error));
            if let Outlet::Lines = self.outlet {
                let why = stop.lines.join("\n");
                let line = JsonLine {
                    id: id.as_deref(),
                    report: None,
                    error: Some(&why),
                };
                // Text alone is always written.
                instead = line.written().unwrap_or_default();
            }
        }
        Done {
            name,
            made,
            instead,
            notes,
            counts: reporter.counts,
            warned,
            read,
        }
    }

    /// What is known of an input, and its name in lines of JSON.
    fn load(&self, item: Item) -> (Option<String>, Result<Ascent, Stop>) {
        match item {
            Item::Line { file, number, text } => match jsonl::flight(&text, &file, number) {
                Ok((id, contents)) => {
                    let name = contents.raw.name.clone();
                    let loaded = Ascent::of(&name, contents, &sources(&self.sheets));
                    (Some(id), loaded.map_err(Stop::from))
                }
                Err(error) => {
                    let id = match &error {
                        SourceError::Flight { id, .. } => id.clone(),
                        _ => None,
                    };
                    (id, Err(Stop::data(error)))
                }
            },
            Item::File { path } => {
                let name = shown_path(&path);
                let loaded = inputs::open(&path, &self.sheets)
                    .and_then(|(bytes, sheets)| self.read(&bytes, &name, &sheets));
                (Some(name), loaded)
            }
            Item::Octets { name, octets, of } => {
                let sheets = match of {
                    Some(of) => inputs::with_beside(&of, &self.sheets),
                    None => Ok(self.sheets.clone()),
                };
                let loaded = sheets.and_then(|sheets| self.read(&octets, &name, &sheets));
                (Some(name), loaded)
            }
            Item::Unread { name, stop } => (Some(name), Err(stop)),
        }
    }

    fn read(&self, bytes: &[u8], name: &str, sheets: &[Named]) -> Result<Ascent, Stop> {
        let which = Which {
            format: self.format,
            number: None,
        };
        Ok(Ascent::read(bytes, name, which, &sources(sheets))?)
    }

    fn make(
        &self,
        mut flight: Flight,
        id: Option<&str>,
        name: &str,
        reporter: &mut Reporter,
        notes: &mut Vec<Line>,
    ) -> Result<Product, Stop> {
        let mut note = |findings: &[Finding]| self.note(findings, name, reporter, notes);
        match &self.outlet {
            Outlet::Lines => {
                let line = JsonLine {
                    id,
                    report: Some(flight.record(self.options.levels)),
                    error: None,
                };
                Ok(Product::Octets(line.written()?))
            }
            Outlet::Messages(output) => {
                let written = outputs::one(&flight, *output, &self.options)?;
                note(&flight.findings)?;
                note(&written.findings)?;
                Ok(Product::Octets(written.value))
            }
            #[cfg(feature = "parquet")]
            Outlet::Table => {
                note(&flight.findings)?;
                let mut levels = crate::forms::columnar::Levels::new();
                flight.add_levels(self.options.levels, &mut levels);
                Ok(Product::Levels(levels.take().map_err(Stop::data)?))
            }
            Outlet::Folders(wanted) => {
                let id = folder::id(&flight.report)?;
                let issue = Name::of(&id, &flight.report, self.options.bbb.as_ref())?;
                let options = &self.options;
                let issues = if self.parts.is_some() || self.repeat_early {
                    vec![(issue, outputs::make(&flight, wanted, options, None)?)]
                } else {
                    first_issues(&mut flight, &self.how.output, &issue, wanted, options)?
                };
                note(&flight.findings)?;
                let mut files = Vec::new();
                for (issue, made) in issues {
                    note(&made.findings)?;
                    let octets = made.files();
                    let octets = octets.map(|(name, octets)| (name, octets.to_owned()));
                    files.push((issue, octets.collect()));
                }
                Ok(Product::Issues(files))
            }
        }
    }

    /// Findings as lines, each with the name of its input.
    fn note(
        &self,
        findings: &[Finding],
        name: &str,
        reporter: &mut Reporter,
        notes: &mut Vec<Line>,
    ) -> Result<(), Stop> {
        for finding in findings {
            let Some(line) = reporter.line(&format!("fivefig: {name}: "), finding)? else {
                continue;
            };
            notes.push(match self.how.diagnostics.notes {
                Notes::Text => line,
                Notes::Json => {
                    let mut value = serde_json::to_value(finding).map_err(Stop::data)?;
                    if let Some(object) = value.as_object_mut() {
                        object.insert("input".to_owned(), name.into());
                    }
                    Line::plain(value.to_string())
                }
            });
        }
        Ok(())
    }
}

impl JsonLine<'_> {
    fn written(&self) -> Result<Vec<u8>, Stop> {
        let mut text = serde_json::to_vec(self).map_err(Stop::data)?;
        text.push(b'\n');
        Ok(text)
    }
}

/// The same with the place of the input before every line that does not begin with
/// its file.
fn placed(stop: &Stop, file: &str, place: &str) -> Stop {
    let lines = stop.lines.iter().flat_map(|line| line.lines());
    let lines = lines.map(|line| match line.starts_with(file) {
        true => line.to_owned(),
        false => format!("{place}: {line}"),
    });
    Stop {
        code: stop.code,
        lines: lines.collect(),
    }
}

/// Writes what is done, in order.
struct Writer<'a> {
    batch: &'a Batch<'a>,
    /// Of the messages; where every flight has a folder, of the paths.
    sink: Sink,
    progress: Progress,
    code: u8,
    coded: usize,
    refused: usize,
    counts: Counts,
    /// Messages with their lengths in the output.
    messages: usize,
    /// The first refused inputs, with the reasons.
    named: Vec<String>,
    failed: Option<Stop>,
    #[cfg(feature = "parquet")]
    levels: super::parquet::Levels,
}

impl<'a> Writer<'a> {
    fn open(batch: &'a Batch<'a>, total: progress::Total) -> Result<Self, Stop> {
        let sink = Sink::open(match batch.outlet {
            Outlet::Folders(_) => Path::new("-"),
            _ => &batch.how.output,
        })?;
        let visible = io::stderr().is_terminal() && !batch.how.diagnostics.quiet;
        Ok(Self {
            batch,
            sink,
            progress: Progress::new(total, visible),
            code: 0,
            coded: 0,
            refused: 0,
            counts: Counts::default(),
            messages: 0,
            named: Vec::new(),
            failed: None,
            #[cfg(feature = "parquet")]
            levels: super::parquet::Levels::new().map_err(Stop::data)?,
        })
    }

    fn write(&mut self, done: Done) -> Result<(), Stop> {
        self.progress.print(&done.notes);
        self.counts.add(done.counts);
        let placed = match done.made {
            Ok(Product::Octets(octets)) => self.put(&octets).map(|()| Ok(()))?,
            #[cfg(feature = "parquet")]
            Ok(Product::Levels(levels)) => {
                let number = self.coded + self.refused + 1;
                let octets = self.levels.write(&levels, number).map_err(Stop::data)?;
                self.sink.write_bytes(&octets).map(|()| Ok(()))?
            }
            Ok(Product::Issues(issues)) => {
                let mut placed = Ok(());
                for (name, files) in &issues {
                    placed = self.place(name, files)?;
                    if placed.is_err() {
                        break;
                    }
                }
                placed
            }
            Err(stop) => self.put(&done.instead).map(|()| Err(stop))?,
        };
        match placed {
            Ok(()) => {
                self.coded += 1;
                let counts = self.batch.how.strict && done.warned;
                self.code = self.code.max(u8::from(counts));
            }
            Err(stop) => {
                self.refused += 1;
                self.code = self.code.max(stop.code);
                if self.named.len() < MAX_NAMED {
                    let why = stop.lines.first().map_or("", String::as_str);
                    self.named.push(match why.starts_with(&done.name) {
                        true => why.to_owned(),
                        false => format!("{}: {why}", done.name),
                    });
                }
            }
        }
        self.progress.done(done.read);
        Ok(())
    }

    fn put(&mut self, octets: &[u8]) -> Result<(), Stop> {
        if octets.is_empty() {
            return Ok(());
        }
        if let Outlet::Messages(output) = self.batch.outlet
            && self.coded > 0
        {
            self.sink.write(output.between().unwrap_or_default())?;
        }
        if let Outlet::Messages(Output::Gts) = self.batch.outlet {
            self.messages += gts::messages(octets).0.len();
        }
        self.sink.write_bytes(octets)
    }

    /// Puts an issue into its folder and prints its path; the inner error is of that
    /// issue alone.
    fn place(
        &mut self,
        name: &Name,
        files: &[(&'static str, Vec<u8>)],
    ) -> Result<Result<(), Stop>, Stop> {
        let files: Vec<(&str, &[u8])> = files
            .iter()
            .map(|(name, octets)| (*name, octets.as_slice()))
            .collect();
        match folder::place(&self.batch.how.output, name, &files) {
            Ok(path) => {
                let (sink, line) = (&mut self.sink, format!("{}\n", path.display()));
                let written = || sink.write(&line).and_then(|()| sink.flush());
                self.progress.above(written)?;
                Ok(Ok(()))
            }
            Err(error) => {
                self.progress.print(&[Line::error(&error.to_string())]);
                Ok(Err(error.into()))
            }
        }
    }

    /// The end: the whole output in its place, and what came of all.
    fn close(mut self) -> Result<u8, Stop> {
        self.progress.end();
        if let Some(stop) = self.failed {
            return Err(stop);
        }
        #[cfg(feature = "parquet")]
        if let Outlet::Table = self.batch.outlet {
            let octets = self.levels.finish().map_err(Stop::data)?;
            self.sink.write_bytes(&octets)?;
        }
        self.sink.close()?;
        let diagnostics = self.batch.how.diagnostics;
        if let Some(finding) = gts::too_many(self.messages) {
            let mut reporter = Reporter::new(diagnostics);
            reporter.report(&finding)?;
            self.counts.add(reporter.counts);
            self.code = self.code.max(u8::from(self.batch.how.strict));
        }
        diagnostics.summarize(self.counts);
        if !diagnostics.quiet && self.coded + self.refused != 1 {
            tell(&format!(
                "fivefig: {} coded, {} refused",
                self.coded, self.refused
            ));
            for why in &self.named {
                tell(&format!("fivefig: refused: {why}"));
            }
            let more = self.refused - self.named.len();
            if more > 0 {
                tell(&format!("fivefig: refused: {more} more, named above"));
            }
        }
        Ok(self.code)
    }
}

impl engine::Take<Done> for Writer<'_> {
    fn take(&mut self, done: Done) -> bool {
        if let Err(stop) = self.write(done) {
            self.failed = Some(stop);
            return false;
        }
        // Issues are made whether or not somebody reads their paths.
        matches!(self.batch.outlet, Outlet::Folders(_)) || !self.sink.is_closed()
    }

    fn idle(&mut self) {
        if let Err(stop) = self.sink.flush() {
            self.failed = Some(stop);
        }
    }
}
