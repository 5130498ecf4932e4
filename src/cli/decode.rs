//! `decode`: traffic or JSON in, any form out, report by report.

use std::fs::File;
use std::io::{self, BufRead, BufReader};
use std::path::Path;

use super::output::Sink;
use super::{BulletinArgs, DecodedForm, Stop, table, tell};
use crate::code::{self, Message, Received, Traffic};
use crate::finding::{Finding, Severity};
use crate::json::{self, Record};
use crate::sounding::Report;

/// The longest line that is read as one, octets.
const MAX_LINE: u64 = 1 << 16;

/// One report, as it was read.
pub(super) struct Read {
    pub(super) report: Report,
    pub(super) message: Message,
    record: Record,
}

/// Reads a file and writes its reports; those of a stream of traffic go out as
/// they leave the window, so that memory stays bounded. Exit code 1 when
/// something in the file is an error; what could be read is written all the same.
pub(super) fn decode(
    path: &Path,
    to: DecodedForm,
    bulletin: &BulletinArgs,
    output: &Path,
) -> Result<u8, Stop> {
    let name = path.display().to_string();
    let (mut input, json) = open(path)?;
    let mut out = Out {
        to,
        bulletin,
        sink: Sink::open(output)?,
        kept: Vec::new(),
        count: 0,
        failed: false,
    };
    if json {
        for read in from_json(&mut *input, &name)? {
            out.report(read)?;
        }
    } else {
        each_received(&mut *input, path, |findings, received| {
            flow(&findings, received, &mut out)
        })?;
    }
    if out.count == 0 {
        return Err(Stop::data(format!("{name}: no report could be read")));
    }
    let code = u8::from(out.failed);
    out.finish()?;
    Ok(code)
}

/// Where reports go.
struct Out<'a> {
    to: DecodedForm,
    bulletin: &'a BulletinArgs,
    sink: Sink,
    /// For the forms that hold all reports together.
    kept: Vec<Read>,
    count: usize,
    /// Whether something of the input was an error.
    failed: bool,
}

impl Out<'_> {
    fn report(&mut self, read: Read) -> Result<(), Stop> {
        let between = self.count > 0;
        self.count += 1;
        let text = match self.to {
            DecodedForm::Text => read.message.to_string(),
            DecodedForm::Table => table::table(&read.report),
            DecodedForm::Jsonl => {
                let line = json::write_line(&read.record).map_err(Stop::data)?;
                return self.sink.write(&line);
            }
            DecodedForm::Json | DecodedForm::Bulletin | DecodedForm::Profile => {
                self.kept.push(read);
                return Ok(());
            }
        };
        if between {
            self.sink.write("\n")?;
        }
        self.sink.write(&text)
    }

    fn finish(mut self) -> Result<(), Stop> {
        match self.to {
            DecodedForm::Json => {
                let records = self.kept.into_iter().map(|r| r.record).collect();
                self.sink
                    .write(&json::write(records).map_err(Stop::data)?)?;
            }
            DecodedForm::Profile => {
                let [one] = self.kept.as_slice() else {
                    return Err(Stop::data(format!(
                        "a profile is made of one report; there are {} here",
                        self.count
                    )));
                };
                let who = one.message.ident.groups().join(" ");
                let (day, hour) = (one.message.day, one.message.hour);
                self.sink.write(&format!(
                    "# the levels of a message, not a measured profile: {who}, day {day}, {hour:02} UTC\n"
                ))?;
                self.sink
                    .write(&code::rows_as_text(&one.message.profile()))?;
            }
            DecodedForm::Bulletin => {
                let all: Vec<_> = self.kept.iter().map(|r| (&r.report, &r.message)).collect();
                self.sink.write(&self.bulletin.write(&all)?)?;
            }
            _ => {}
        }
        self.sink.close()
    }
}

pub(super) fn from_json(input: &mut dyn BufRead, name: &str) -> Result<Vec<Read>, Stop> {
    let said = |what: &dyn std::fmt::Display| Stop::data(format!("{name}: {what}"));
    let mut bytes = Vec::new();
    input
        .read_to_end(&mut bytes)
        .map_err(|e| Stop::io(Path::new(name), &e))?;
    let text = String::from_utf8(bytes).map_err(|_| said(&"not UTF-8 text"))?;
    let mut out = Vec::new();
    for (i, kept) in json::read(&text)
        .map_err(|e| said(&e))?
        .into_iter()
        .enumerate()
    {
        let report = kept.report(i + 1).map_err(|e| said(&e))?;
        let mut findings = kept.disagreements(&report).map_err(|e| said(&e))?;
        let (message, notes) = code::message(&report).map_err(|e| said(&e))?;
        findings.extend(notes);
        for finding in findings {
            tell(&format!("fivefig: {finding}"));
        }
        let mut record = Record::new(&report, &message, &[], None);
        record.findings = kept.findings;
        record.fidelity = kept.fidelity;
        out.push(Read {
            report,
            message,
            record,
        });
    }
    Ok(out)
}

/// Opens a file of messages; whether it holds JSON.
pub(super) fn open(path: &Path) -> Result<(Box<dyn BufRead>, bool), Stop> {
    let mut input: Box<dyn BufRead> = if path == Path::new("-") {
        Box::new(BufReader::new(io::stdin()))
    } else {
        let file = File::open(path).map_err(|e| Stop::io(path, &e))?;
        Box::new(BufReader::new(file))
    };
    let start = input.fill_buf().map_err(|e| Stop::io(path, &e))?;
    let first = start.iter().find(|b| !b.is_ascii_whitespace());
    let json = first == Some(&b'{');
    Ok((input, json))
}

/// Reads traffic and passes on what it gives, line by line.
pub(super) fn each_received(
    input: &mut dyn BufRead,
    path: &Path,
    mut pass: impl FnMut(Vec<Finding>, Vec<Received>) -> Result<(), Stop>,
) -> Result<(), Stop> {
    let mut traffic = Traffic::new(&path.display().to_string());
    let mut line = Vec::new();
    loop {
        line.clear();
        let n = io::Read::take(&mut *input, MAX_LINE)
            .read_until(b'\n', &mut line)
            .map_err(|e| Stop::io(path, &e))?;
        if n == 0 {
            break;
        }
        traffic.push(&String::from_utf8_lossy(&line));
        pass(traffic.take_findings(), traffic.take())?;
    }
    traffic.finish();
    pass(traffic.take_findings(), traffic.take())
}

/// Tells what was found and writes the reports.
fn flow(findings: &[Finding], received: Vec<Received>, out: &mut Out<'_>) -> Result<(), Stop> {
    let told = |findings: &[Finding], out: &mut Out<'_>| {
        for finding in findings {
            out.failed |= finding.severity == Severity::Error;
            tell(&format!("fivefig: {finding}"));
        }
    };
    told(findings, out);
    for Received {
        message, findings, ..
    } in received
    {
        told(&findings, out);
        let report = message.report();
        let record = Record::new(&report, &message, &findings, None);
        out.report(Read {
            report,
            message,
            record,
        })?;
    }
    Ok(())
}
