//! Reports in any form that is read: traffic in groups, BUFR, JSON, and files of messages
//! with their lengths.

use super::bufr;
use crate::forms::bufr::Sounding;
use crate::forms::json::{JsonError, Record};
use crate::forms::text::{CodeError, Message, Received, Traffic};
use crate::forms::{bufr as frames, gts, json, text};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Dated, Noted, Report};

/// The longest line that is read as one, bytes.
const MAX_LINE: usize = 1 << 16;

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
pub struct Options {
    /// Year and month of text.
    pub dated: Option<Dated>,
    /// Whether a damaged part is left out.
    pub strict_parts: bool,
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
    options: Options,
    pass: &mut dyn FnMut(Read),
) -> Result<(), JsonError> {
    if gts::is_framed(bytes) {
        let (messages, fault) = gts::messages(bytes);
        if let Some(fault) = fault {
            let place = Place::default().in_file(name);
            let found = finding!(FileOfMessages, place, problem = fault);
            pass(Read::Findings(vec![found]));
        }
        let binary = |message: &gts::Framed<'_>| !frames::frames(message.octets).is_empty();
        let count = messages.iter().filter(|message| binary(message)).count();
        if count < messages.len() {
            traffic(&gts::text_of(bytes), name, options, pass);
        }
        if count > 0 {
            soundings(bytes, name, pass);
        }
        return Ok(());
    }
    if bufr::is_bufr(bytes) {
        soundings(bytes, name, pass);
        return Ok(());
    }
    let first = bytes.iter().find(|b| !b.is_ascii_whitespace());
    if first == Some(&b'{') {
        return document(&String::from_utf8_lossy(bytes), name, options, pass);
    }
    traffic(bytes, name, options, pass);
    Ok(())
}

fn traffic(bytes: &[u8], name: &str, options: Options, pass: &mut dyn FnMut(Read)) {
    let mut traffic = Traffic::new(name);
    if options.strict_parts {
        traffic = traffic.strict_parts();
    }
    let mut hand_over = |traffic: &mut Traffic| {
        let findings = traffic.take_findings();
        if !findings.is_empty() {
            pass(Read::Findings(findings));
        }
        for received in traffic.take() {
            pass(Read::Received(Box::new(received)));
        }
    };
    for line in bytes.split_inclusive(|&b| b == b'\n') {
        for piece in line.chunks(MAX_LINE) {
            traffic.push(&String::from_utf8_lossy(piece));
        }
        hand_over(&mut traffic);
    }
    traffic.finish();
    hand_over(&mut traffic);
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
    options: Options,
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
