//! `decode`: traffic or JSON in, any form out, report by report.

use std::fs::{self, File};
use std::io::{self, BufRead, BufReader};
use std::path::{Path, PathBuf};

use super::bounded::{MAX_INPUT, all};
use super::diagnostics::{Counts, Diagnostics, Line, Reporter};
use super::output::Sink;
use super::{BulletinArgs, DecodedForm, Stop, table};
use crate::forms::bufr;
use crate::forms::bufr::Sounding;
use crate::forms::gts;
use crate::forms::json;
use crate::forms::json::Record;
use crate::forms::text;
use crate::forms::text::{Bulletins, CodeError, Message, Received};
use crate::input;
use crate::input::bufr::Messages;
use crate::input::messages;
pub(super) use crate::input::messages::{Holds, Options};
use crate::model::finding::{Finding, Severity, shown_path};
use crate::model::{Dated, Form, Noted, Profile, Qualities, Report, Resolution, Row};

/// One report, as it was read.
pub(super) struct Read {
    pub(super) report: Report,
    /// Its text code, or why it has none.
    pub(super) message: Result<Message, String>,
    findings: Vec<Finding>,
    /// What the report came with, where it was read from JSON.
    given: Option<Box<Record>>,
    /// What a BUFR message says of the values, where it is wanted.
    quality: Option<Box<Qualities>>,
}

impl Read {
    /// The report with what belongs to it.
    fn record(self) -> Record {
        let message = self.message.as_ref().ok();
        let mut record = Record::new(&self.report, message, &[], None);
        (record.findings, record.fidelity) = match self.given {
            Some(given) => (given.findings, given.fidelity),
            None => (self.findings, None),
        };
        match self.quality {
            Some(quality) => record.with_quality(*quality),
            None => record,
        }
    }

    fn text(&self) -> Result<&Message, Stop> {
        self.message.as_ref().map_err(Stop::data)
    }
}

/// How reports are read and written.
#[derive(Clone, Copy)]
pub(super) struct Wanted<'a> {
    pub(super) to: DecodedForm,
    /// What a BUFR message says of its values goes beside them.
    pub(super) quality: bool,
    /// How messages are read.
    pub(super) reading: Options<'a>,
}

/// A file that was opened.
pub(super) struct Opened {
    /// What is in it; a file of messages may have both text and BUFR.
    pub(super) inputs: Vec<Input>,
    /// What is wrong with a file of messages and their lengths.
    pub(super) finding: Option<Finding>,
}

/// One kind of content of a file.
pub(super) struct Input {
    pub(super) from: Box<dyn BufRead>,
    pub(super) holds: Holds,
}

/// Reads a file and writes its reports; those of a stream of traffic go out as
/// they leave the window, so that memory stays bounded. Exit code 1 when
/// something in the file is an error; what could be read is written all the same.
pub(super) fn decode(
    path: &Path,
    Wanted {
        to,
        quality,
        reading,
    }: Wanted<'_>,
    bulletin: &BulletinArgs,
    output: &Path,
    diagnostics: Diagnostics,
) -> Result<u8, Stop> {
    let name = shown_path(path);
    if quality && !matches!(to, DecodedForm::Json | DecodedForm::Jsonl) {
        let what = "--quality goes with --to json or --to jsonl; --to dump lists every value of a BUFR message";
        return Err(Stop::usage(what));
    }
    #[cfg(feature = "parquet")]
    if to == DecodedForm::Parquet {
        super::parquet::refuse_terminal(output)?;
    }
    let files = files(path)?;
    if to == DecodedForm::Dump {
        return dump(&files, &name, output);
    }
    let mut out = Out {
        to,
        quality,
        reading,
        bulletins: bulletin.bulletins(),
        sink: Sink::open(output)?,
        first: None,
        document: json::Writer::default(),
        octets: Vec::new(),
        pieces: Vec::new(),
        count: 0,
        reporter: Reporter::new(diagnostics),
        #[cfg(feature = "parquet")]
        file: String::new(),
        #[cfg(feature = "parquet")]
        levels: super::parquet::Levels::new().map_err(Stop::data)?,
    };
    for file in &files {
        match decode_file(file, &mut out) {
            // Of several files a broken one costs itself.
            Err(stop) if files.len() > 1 => out.lost(&stop),
            ended => ended?,
        }
    }
    out.join(&name)?;
    if out.count == 0 {
        return Err(Stop::data(format!("{name}: no report could be read")));
    }
    let counts = out.finish()?;
    Ok(u8::from(counts.errors > 0))
}

/// A file, or the files of a folder in the order of their names.
pub(super) fn files(path: &Path) -> Result<Vec<PathBuf>, Stop> {
    if !path.is_dir() {
        return Ok(vec![path.to_owned()]);
    }
    let mut files = Vec::new();
    for entry in fs::read_dir(path).map_err(|e| Stop::io(path, &e))? {
        let file = entry.map_err(|e| Stop::io(path, &e))?.path();
        if file.is_file() {
            files.push(file);
        }
    }
    files.sort();
    if files.is_empty() {
        let what = format!("{}: the folder has no file", path.display());
        return Err(Stop::data(what));
    }
    Ok(files)
}

/// Decodes one file; its reports go out as they are read.
fn decode_file(path: &Path, out: &mut Out<'_>) -> Result<(), Stop> {
    let opened = open(path)?;
    #[cfg(feature = "parquet")]
    {
        out.file = shown_path(path);
    }
    out.reporter.all(&Vec::from_iter(opened.finding))?;
    let mut inputs = opened.inputs.into_iter();
    inputs.try_for_each(|input| decode_input(input, path, out))
}

fn decode_input(mut input: Input, path: &Path, out: &mut Out<'_>) -> Result<(), Stop> {
    let name = path.display().to_string();
    match input.holds {
        Holds::Groups => {
            each_received(&mut *input.from, path, out.reading, |findings, received| {
                flow(&findings, received, out)
            })
        }
        Holds::Json => {
            let reporter = &mut out.reporter;
            let mut say = |finding| reporter.report(&finding);
            let read = documents(&mut input, &name, out.reading.dated, &mut say)?;
            read.into_iter().try_for_each(|read| out.report(read))
        }
        Holds::Bufr => {
            let mut messages = Messages::new(&mut input.from);
            let mut next = || messages.next_message().map_err(|e| Stop::io(path, &e));
            let mut following = next()?;
            let mut number = 0;
            while let Some(message) = following {
                following = next()?;
                number += 1;
                let several = number > 1 || following.is_some();
                let place = several.then_some((number, message.offset));
                let (soundings, findings) = input::bufr::of_message(&message.bytes, &name, place);
                out.reporter.all(&findings)?;
                for sounding in soundings {
                    match out.sounding(sounding, &name) {
                        // A message without a text code costs itself.
                        Err(stop) if several && stop.code == 1 => out.lost(&stop),
                        ended => ended?,
                    }
                }
            }
            Ok(())
        }
    }
}

/// The most messages of ascents in several that wait for the others.
const MAX_PIECES: usize = 256;

/// How many reports are collected for bulletins before these are written.
const MAX_COLLECTED: usize = 4096;

/// Where reports go.
struct Out<'a> {
    to: DecodedForm,
    /// Whether quality goes beside the values.
    quality: bool,
    /// How messages are read.
    reading: Options<'a>,
    bulletins: Bulletins,
    sink: Sink,
    /// For a form of one report alone.
    first: Option<Read>,
    document: json::Writer,
    /// The octets of one report.
    octets: Vec<u8>,
    /// Messages of ascents that come in several.
    pieces: Vec<Sounding>,
    count: usize,
    reporter: Reporter,
    /// The file that is read.
    #[cfg(feature = "parquet")]
    file: String,
    /// Levels that are not written yet.
    #[cfg(feature = "parquet")]
    levels: super::parquet::Levels,
}

impl Out<'_> {
    /// What could not be written, while others can.
    fn lost(&mut self, stop: &Stop) {
        stop.print();
        self.reporter.counts.errors += 1;
    }

    /// A sounding of BUFR goes out, or waits for the others of its ascent.
    fn sounding(&mut self, sounding: Sounding, name: &str) -> Result<(), Stop> {
        if sounding.piece.is_some() {
            self.pieces.push(sounding);
            return if self.pieces.len() < MAX_PIECES {
                Ok(())
            } else {
                self.join(name)
            };
        }
        let (read, findings) = of_sounding(sounding, name, self.quality);
        self.reporter.all(&findings)?;
        self.report(read)
    }

    /// Ascents in several messages go out.
    fn join(&mut self, name: &str) -> Result<(), Stop> {
        for sounding in bufr::pieces::join(std::mem::take(&mut self.pieces)) {
            let (read, findings) = of_sounding(sounding, name, self.quality);
            self.reporter.all(&findings)?;
            self.report(read)?;
        }
        Ok(())
    }

    fn report(&mut self, read: Read) -> Result<(), Stop> {
        let text = match self.to {
            DecodedForm::Text => read.text()?.to_string(),
            DecodedForm::Table => table::table(&read.report),
            DecodedForm::Jsonl => {
                self.count += 1;
                let line = json::write_line(&read.record()).map_err(Stop::data)?;
                return self.sink.write(&line);
            }
            DecodedForm::Json => {
                self.count += 1;
                self.octets.clear();
                let written = self.document.write(&read.record(), &mut self.octets);
                written.map_err(Stop::data)?;
                return self.sink.write_bytes(&self.octets);
            }
            DecodedForm::Bufr => {
                self.count += 1;
                let Noted {
                    value: octets,
                    findings,
                } = bufr::write(&read.report).map_err(Stop::data)?;
                self.reporter.all(&findings)?;
                return self.sink.write_bytes(&octets);
            }
            DecodedForm::Bulletin => {
                self.count += 1;
                self.bulletins
                    .add(&read.report, read.text()?)
                    .map_err(Stop::data)?;
                return match self.bulletins.reports() < MAX_COLLECTED {
                    true => Ok(()),
                    false => self.sink.write(&self.bulletins.take()),
                };
            }
            DecodedForm::Profile => {
                self.count += 1;
                self.first.get_or_insert(read);
                return Ok(());
            }
            DecodedForm::Dump => return Ok(()),
            #[cfg(feature = "parquet")]
            DecodedForm::Parquet => {
                self.count += 1;
                let message = read.message.as_ref().ok();
                self.levels
                    .add(&self.file, self.count, &read.report, message);
                return match self.levels.ready().map_err(Stop::data)? {
                    Some(octets) => self.sink.write_bytes(&octets),
                    None => Ok(()),
                };
            }
        };
        self.text(&text)
    }

    /// A report as text, a blank line after the one before.
    fn text(&mut self, text: &str) -> Result<(), Stop> {
        if self.count > 0 {
            self.sink.write("\n")?;
        }
        self.count += 1;
        self.sink.write(text)
    }

    fn finish(mut self) -> Result<Counts, Stop> {
        match self.to {
            DecodedForm::Json => {
                self.octets.clear();
                // Octets in memory do not fail.
                let _ = self.document.finish(&mut self.octets);
                self.sink.write_bytes(&self.octets)?;
            }
            DecodedForm::Profile => {
                let Some(one) = self.first.as_ref().filter(|_| self.count == 1) else {
                    return Err(Stop::data(format!(
                        "a profile is written from one report, and there are {}; split the file (--to jsonl writes one report per line)",
                        self.count
                    )));
                };
                self.sink.write(&as_profile(one)?)?;
            }
            DecodedForm::Bulletin => {
                self.sink.write(&self.bulletins.take())?;
            }
            #[cfg(feature = "parquet")]
            DecodedForm::Parquet => {
                let octets = self.levels.finish().map_err(Stop::data)?;
                self.sink.write_bytes(&octets)?;
            }
            _ => {}
        }
        self.sink.close()?;
        Ok(self.reporter.finish())
    }
}

/// The levels of a report as a profile in delimited text.
fn as_profile(one: &Read) -> Result<String, Stop> {
    let (rows, what) = if one.report.resolution == Resolution::Bufr {
        (rows_of(&one.report), "the levels of a BUFR message")
    } else {
        (
            one.text()?.profile(),
            "the levels of a message, not a measured profile",
        )
    };
    let (day, hour, _) = text::time(&one.report);
    let who = match &one.message {
        Ok(message) => message.ident.groups().join(" "),
        Err(_) => one
            .report
            .context
            .station
            .wigos_id
            .clone()
            .unwrap_or_default(),
    };
    let head = format!("# {what}: {who}, day {day}, {hour:02} UTC\n");
    Ok(head + &text::rows_as_text(&rows))
}

/// Every level that was measured as a row, in the order of time.
fn rows_of(report: &Report) -> Profile {
    let rows = input::bufr::rows(report).into_iter().map(|raw| Row {
        time_s: raw.time_s,
        pressure_hpa: raw.pressure_hpa,
        height_gpm: raw.height_gpm,
        temperature_c: raw.temperature_c,
        dewpoint_c: raw.dewpoint_c,
        humidity_pct: raw.humidity_pct,
        wind: raw.wind(),
        place: raw.place(),
        given: raw.flags,
    });
    Profile {
        axis: report.axis,
        motion: report.motion,
        rows: rows.collect(),
        ..Profile::default()
    }
}

/// The reports of a file of JSON or BUFR; what was found goes to `say`.
pub(super) fn documents(
    input: &mut Input,
    name: &str,
    dated: Option<Dated>,
    say: &mut dyn FnMut(Finding) -> Result<(), Stop>,
) -> Result<Vec<Read>, Stop> {
    let bytes = all(&mut input.from, Path::new(name), MAX_INPUT)?;
    if input.holds == Holds::Bufr {
        from_bufr(&bytes, name, say)
    } else {
        from_json(bytes, name, dated, say)
    }
}

fn from_bufr(
    bytes: &[u8],
    name: &str,
    say: &mut dyn FnMut(Finding) -> Result<(), Stop>,
) -> Result<Vec<Read>, Stop> {
    let Noted {
        value: soundings,
        findings,
    } = input::bufr::soundings(bytes, name);
    for finding in findings {
        say(finding)?;
    }
    let mut out = Vec::new();
    for sounding in soundings {
        let (read, findings) = of_sounding(sounding, name, false);
        for finding in findings {
            say(finding)?;
        }
        out.push(read);
    }
    Ok(out)
}

/// A sounding with its text code, and what was found.
fn of_sounding(sounding: Sounding, name: &str, quality: bool) -> (Read, Vec<Finding>) {
    let mut findings = sounding.findings;
    let report = sounding.report;
    let message = match text::message(&report) {
        Ok(Noted {
            value: message,
            findings: notes,
        }) => {
            findings.extend(notes);
            Ok(message)
        }
        Err(error) => Err(format!("{name}: no text code: {error}")),
    };
    let read = Read {
        report,
        message,
        findings: findings.clone(),
        given: None,
        quality: quality.then(|| Box::new(sounding.quality)),
    };
    (read, findings)
}

fn from_json(
    bytes: Vec<u8>,
    name: &str,
    dated: Option<Dated>,
    say: &mut dyn FnMut(Finding) -> Result<(), Stop>,
) -> Result<Vec<Read>, Stop> {
    let fault = |what: &dyn std::fmt::Display| Stop::data(format!("{name}: {what}"));
    let text = String::from_utf8(bytes).map_err(|_| fault(&"not UTF-8 text"))?;
    let mut out = Vec::new();
    for (i, kept) in json::read(&text)
        .map_err(|e| fault(&e))?
        .into_iter()
        .enumerate()
    {
        let (mut report, quality) = kept.report_with_quality(i + 1).map_err(|e| fault(&e))?;
        for finding in kept.disagreements(&report).map_err(|e| fault(&e))? {
            say(finding)?;
        }
        if let Some(finding) = dated.and_then(|dated| text::date(&mut report, dated)) {
            say(finding)?;
        }
        let message = if report.form == Form::Descent {
            Err(CodeError::NoTextCode.to_string())
        } else {
            let Noted {
                value: message,
                findings: notes,
            } = text::message(&report).map_err(|e| fault(&e))?;
            for finding in notes {
                say(finding)?;
            }
            Ok(message)
        };
        out.push(Read {
            report,
            message,
            findings: Vec::new(),
            given: Some(Box::new(kept)),
            quality: Some(Box::new(quality)),
        });
    }
    Ok(out)
}

/// Lists the fields of every message of BUFR files.
fn dump(files: &[PathBuf], name: &str, output: &Path) -> Result<u8, Stop> {
    let mut sink = Sink::open(output)?;
    let (mut listed, mut failed) = (0, 0);
    for path in files {
        let name = path.display().to_string();
        let mut inputs = open(path)?.inputs.into_iter();
        let Some(input) = inputs.find(|input| input.holds == Holds::Bufr) else {
            let what =
                format!("{name}: this is not BUFR; --to dump lists the bits of BUFR messages");
            if files.len() == 1 {
                return Err(Stop::data(what));
            }
            failed += 1;
            Line::error(&what).print();
            continue;
        };
        let mut messages = Messages::new(input.from);
        let mut next = || messages.next_message().map_err(|e| Stop::io(path, &e));
        let mut following = next()?;
        let mut number = 0;
        while let Some(message) = following {
            following = next()?;
            number += 1;
            let several = number > 1 || following.is_some() || files.len() > 1;
            match bufr::dump(&message.bytes) {
                Ok((lines, received)) => {
                    listed += 1;
                    if let Some(fault) = &received.unread {
                        let what =
                            format!("{name}: message {number}: not listed to its end: {fault}");
                        Line::new(Severity::Warning, &what).print();
                    }
                    if files.len() > 1 {
                        sink.write(&format!("{name}, "))?;
                    }
                    if several {
                        sink.write(&format!(
                            "message {number}, octet {}, {} octets\n",
                            message.offset, received.octets
                        ))?;
                    }
                    sink.write(&lines)?;
                }
                Err(error) => {
                    failed += 1;
                    let at = message.offset;
                    let what = format!("{name}: message {number} (octet {at}): {error}");
                    Line::error(&what).print();
                }
            }
        }
    }
    if listed == 0 {
        return Err(Stop::data(format!("{name}: no message could be listed")));
    }
    sink.close()?;
    Ok(u8::from(failed > 0))
}

/// Opens a file of messages and looks what it holds.
pub(super) fn open(path: &Path) -> Result<Opened, Stop> {
    let mut from: Box<dyn BufRead> = if path == Path::new("-") {
        Box::new(BufReader::new(io::stdin()))
    } else {
        let file = File::open(path).map_err(|e| Stop::io(path, &e))?;
        Box::new(BufReader::new(file))
    };
    let start = from.fill_buf().map_err(|e| Stop::io(path, &e))?;
    if gts::is_framed(start) {
        return framed(&mut from, path);
    }
    let holds = Holds::of(start);
    Ok(Opened {
        inputs: vec![Input { from, holds }],
        finding: None,
    })
}

/// A file of messages with their lengths: its text, and its BUFR.
fn framed(from: &mut dyn BufRead, path: &Path) -> Result<Opened, Stop> {
    let (contents, finding) = messages::framed(all(from, path, MAX_INPUT)?, &shown_path(path));
    let input = |(octets, holds)| Input {
        from: Box::new(io::Cursor::new(octets)) as Box<dyn BufRead>,
        holds,
    };
    let inputs = contents.into_iter().map(input).collect();
    Ok(Opened { inputs, finding })
}

/// Reads traffic and passes on what it gives, line by line.
pub(super) fn each_received(
    input: &mut dyn BufRead,
    path: &Path,
    options: Options<'_>,
    pass: impl FnMut(Vec<Finding>, Vec<Received>) -> Result<(), Stop>,
) -> Result<(), Stop> {
    let fault = |error| Stop::io(path, &error);
    messages::each_received(input, &shown_path(path), options, fault, pass)
}

/// Reports what was found and writes the reports.
fn flow(findings: &[Finding], received: Vec<Received>, out: &mut Out<'_>) -> Result<(), Stop> {
    out.reporter.all(findings)?;
    for Received {
        message, findings, ..
    } in received
    {
        out.reporter.all(&findings)?;
        // Text needs no values.
        if out.to == DecodedForm::Text {
            out.text(&message.to_string())?;
            continue;
        }
        let mut report = message.report();
        if let Some(dated) = out.reading.dated {
            let found = text::date(&mut report, dated);
            out.reporter.all(&found)?;
        }
        out.report(Read {
            report,
            message: Ok(message),
            findings,
            given: None,
            quality: None,
        })?;
    }
    Ok(())
}
