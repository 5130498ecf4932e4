//! Reports in any form that is read: traffic in groups, BUFR, JSON, and files of messages
//! with their lengths.

use std::io::{self, BufRead};

use super::bufr;
use crate::forms::bufr::Sounding;
use crate::forms::json::{JsonError, Record};
use crate::forms::text::{CodeError, Message, Received, Traffic};
use crate::forms::{bufr as frames, gts, json, text};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Dated, Noted, PracticeTable, Report};

/// The longest line that is read as one, bytes.
const MAX_LINE: u64 = 1 << 16;

/// Input in which there is no report.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{name}: {what}")]
pub struct NoReport {
    /// The input.
    pub name: String,
    /// What is there and what is expected.
    pub what: String,
}

/// How messages are read.
#[derive(Clone, Copy, Debug, Default)]
pub struct Options<'a> {
    /// Year and month of text.
    pub dated: Option<Dated>,
    /// Whether a damaged part is left out.
    pub strict_parts: bool,
    /// The table of practices of the station whose messages are read.
    pub practice: Option<&'a PracticeTable>,
}

/// What a file of messages holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Holds {
    /// Traffic in groups.
    Groups,
    /// Reports in JSON.
    Json,
    /// BUFR.
    Bufr,
}

impl Holds {
    /// What a file holds that begins so, and has no messages with their lengths.
    #[must_use]
    pub fn of(start: &[u8]) -> Self {
        let first = start.iter().find(|b| !b.is_ascii_whitespace());
        match first {
            _ if bufr::is_bufr(start) => Self::Bufr,
            Some(b'{') => Self::Json,
            _ => Self::Groups,
        }
    }
}

/// The text and the BUFR of a file of messages with their lengths, where it has them, and
/// what is wrong with the lengths.
#[must_use]
pub fn framed(bytes: Vec<u8>, name: &str) -> (Vec<(Vec<u8>, Holds)>, Option<Finding>) {
    let (messages, fault) = gts::messages(&bytes);
    let place = Place::default().in_file(name);
    let finding = fault.map(|fault| finding!(FileOfMessages, place, problem = fault));
    let binary = |message: &&gts::Framed<'_>| !frames::frames(message.octets).is_empty();
    let (count, all) = (messages.iter().filter(binary).count(), messages.len());
    let mut contents = Vec::new();
    if count < all {
        contents.push((gts::text_of(&bytes), Holds::Groups));
    }
    if count > 0 {
        contents.push((bytes, Holds::Bufr));
    }
    (contents, finding)
}

/// Reads traffic line by line and passes on what it gives: findings that belong to no
/// report, and the reports that have left the window.
///
/// # Errors
/// A fault of the input, as `fault` gives it, and what `pass` refuses.
pub fn each_received<E>(
    input: &mut dyn BufRead,
    name: &str,
    options: Options<'_>,
    fault: impl Fn(io::Error) -> E,
    mut pass: impl FnMut(Vec<Finding>, Vec<Received>) -> Result<(), E>,
) -> Result<(), E> {
    let mut traffic = Traffic::new(name);
    if options.strict_parts {
        traffic = traffic.strict_parts();
    }
    if let Some(practice) = options.practice {
        traffic = traffic.with_practice(practice);
    }
    let mut line = Vec::new();
    loop {
        line.clear();
        let piece = io::Read::take(&mut *input, MAX_LINE).read_until(b'\n', &mut line);
        if piece.map_err(&fault)? == 0 {
            break;
        }
        // Nearly every line is good.
        match std::str::from_utf8(&line) {
            Ok(text) => traffic.push(text),
            Err(_) => traffic.push(&String::from_utf8_lossy(&line)),
        }
        pass(traffic.take_findings(), traffic.take())?;
    }
    traffic.finish();
    pass(traffic.take_findings(), traffic.take())
}

/// A report that was read.
#[derive(Debug)]
pub struct Decoded {
    /// The report.
    pub report: Report,
    /// Its text code, or why it has none.
    pub message: Result<Message, CodeError>,
    /// What was found in it.
    pub findings: Vec<Finding>,
}

/// What reading gives, in the order of the input.
#[derive(Debug)]
pub enum Read {
    /// Findings that belong to no report.
    Findings(Vec<Finding>),
    /// A report of traffic, as it was received.
    Received(Box<Received>),
    /// A report of BUFR or JSON.
    Decoded(Box<Decoded>),
}

impl Decoded {
    /// A report of traffic with its values, dated where year and month are known.
    #[must_use]
    pub fn of(received: Received, dated: Option<Dated>) -> Self {
        let mut report = received.message.report();
        let mut findings = received.findings;
        findings.extend(dated.and_then(|dated| text::date(&mut report, dated)));
        Self {
            report,
            message: Ok(received.message),
            findings,
        }
    }

    fn new(report: Report, mut findings: Vec<Finding>) -> Self {
        let message = text::message(&report).map(
            |Noted {
                 value,
                 findings: notes,
             }| {
                findings.extend(notes);
                value
            },
        );
        Self {
            report,
            message,
            findings,
        }
    }
}

/// Reads all reports of a file of messages and passes them on one by one. `name` is used
/// in findings.
///
/// # Errors
/// JSON that is no document of reports; other faults are findings.
pub fn read(
    bytes: &[u8],
    name: &str,
    options: Options<'_>,
    pass: &mut dyn FnMut(Read),
) -> Result<(), JsonError> {
    if gts::is_framed(bytes) {
        let (contents, fault) = framed(bytes.to_vec(), name);
        if let Some(found) = fault {
            pass(Read::Findings(vec![found]));
        }
        for (bytes, holds) in contents {
            content(&bytes, holds, name, options, pass)?;
        }
        return Ok(());
    }
    content(bytes, Holds::of(bytes), name, options, pass)
}

fn content(
    bytes: &[u8],
    holds: Holds,
    name: &str,
    options: Options<'_>,
    pass: &mut dyn FnMut(Read),
) -> Result<(), JsonError> {
    match holds {
        Holds::Bufr => soundings(bytes, name, pass),
        Holds::Json => document(&String::from_utf8_lossy(bytes), name, options, pass)?,
        Holds::Groups => traffic(bytes, name, options, pass),
    }
    Ok(())
}

fn traffic(mut bytes: &[u8], name: &str, options: Options<'_>, pass: &mut dyn FnMut(Read)) {
    let hand_over = |findings: Vec<Finding>, received: Vec<Received>| {
        if !findings.is_empty() {
            pass(Read::Findings(findings));
        }
        for received in received {
            pass(Read::Received(Box::new(received)));
        }
        Ok(())
    };
    // Bytes in memory do not fail.
    let never = |_: io::Error| ();
    let _ = each_received(&mut bytes, name, options, never, hand_over);
}

fn soundings(bytes: &[u8], name: &str, pass: &mut dyn FnMut(Read)) {
    let Noted { value, findings } = bufr::soundings(bytes, name);
    if !findings.is_empty() {
        pass(Read::Findings(findings));
    }
    for Sounding {
        report, findings, ..
    } in value
    {
        pass(Read::Decoded(Box::new(Decoded::new(report, findings))));
    }
}

fn document(
    text: &str,
    name: &str,
    options: Options<'_>,
    pass: &mut dyn FnMut(Read),
) -> Result<(), JsonError> {
    let records: Vec<Record> = json::read(text)?;
    for (record, number) in records.into_iter().zip(1..) {
        let mut report = record.report(number)?;
        let disagreements = record.disagreements(&report).unwrap_or_default();
        let mut decoded_findings = record.findings;
        decoded_findings.extend(disagreements);
        let dated = options
            .dated
            .and_then(|dated| text::date(&mut report, dated));
        decoded_findings.extend(dated);
        for finding in &mut decoded_findings {
            finding.place.file.get_or_insert_with(|| name.to_owned());
        }
        pass(Read::Decoded(Box::new(Decoded::new(
            report,
            decoded_findings,
        ))));
    }
    Ok(())
}
