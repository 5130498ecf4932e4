//! Every output of a flight that is wanted: octets and the name they go under.
//!
//! Nothing here touches a file; [`super::folder`] does.

use std::collections::BTreeSet;

use thiserror::Error;

pub use super::correction::{Earlier, following};
pub use super::output::{Content, Options, Output, OutputError, Wanted, Written};
pub use super::saved_sheet::{SHEET, profile_of, sheet_text};

use super::correction::{NoCorrection, correct, corrected};
use super::output::Subject;
use super::{Flight, FlightError, LevelContent};
use crate::forms::text::{Bbb, CodeError, Message};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Part, Report, Resolution};
use crate::verify::compare::{Difference, Tolerance, compare};

/// The outputs of a flight.
#[derive(Clone, Debug, Default)]
pub struct Outputs {
    /// Each output with its octets.
    pub files: Vec<(Output, Vec<u8>)>,
    /// What was found in writing them; not what the flight brings.
    pub findings: Vec<Finding>,
    /// Of a correction: what changed, the earlier report on the left.
    pub differences: Vec<Difference>,
    /// Of a correction in BUFR: its update number.
    pub update: Option<u8>,
}

/// Why an output is not made.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum IssueError {
    /// Nothing is wanted, or the review sheet alone.
    #[error(
        "no output is selected; select text, bulletin, json or bufr, and html with one of them"
    )]
    Nothing,
    /// The report cannot be written in that form.
    #[error(transparent)]
    Output(#[from] OutputError),
    /// A value that has no figure.
    #[error(transparent)]
    Flight(#[from] FlightError),
    /// None of the parts that are wanted.
    #[error("the message has no Part {wanted}: it has Part {has}")]
    NoPart {
        /// The letters that are wanted.
        wanted: String,
        /// The letters that are there.
        has: String,
    },
    /// No correction.
    #[error(transparent)]
    NoCorrection(#[from] NoCorrection),
    /// Not a correction, or not the next.
    #[error("the next correction is {wanted}, not {given}")]
    NotNext {
        /// The next, or `nothing` after the last letter.
        wanted: String,
        /// What was asked for.
        given: String,
    },
    /// A name that cannot be one, an issue that is there, or a file.
    #[error(transparent)]
    Folder(#[from] super::folder::FolderError),
}

/// Writes one output of a flight as it is.
///
/// # Errors
/// See [`IssueError`].
pub fn one(flight: &Flight, output: Output, options: &Options) -> Result<Written, IssueError> {
    let whole = flight;
    let earlier = None;
    let subject = Subject::Flight {
        flight,
        whole,
        earlier,
    };
    Ok(output.write(&subject, options)?)
}

/// Keeps some parts of a flight's text.
///
/// # Errors
/// None of them is there; no text code. The flight is left as it is.
pub fn only_parts(flight: &mut Flight, wanted: &BTreeSet<Part>) -> Result<(), IssueError> {
    let message = flight
        .message
        .as_ref()
        .ok_or(OutputError::Code(CodeError::NoTextCode))?;
    if message.parts.keys().all(|part| !wanted.contains(part)) {
        let letters = |parts: &mut dyn Iterator<Item = &Part>| {
            let letters: Vec<String> = parts.map(|part| part.letter().to_string()).collect();
            letters.join(" or ")
        };
        return Err(IssueError::NoPart {
            wanted: letters(&mut wanted.iter()),
            has: letters(&mut message.parts.keys()).replace(" or ", " and "),
        });
    }
    keep_parts(flight, |part| wanted.contains(&part));
    Ok(())
}

/// Keeps some parts of a flight's text; the levels stay.
pub(super) fn keep_parts(flight: &mut Flight, keep: impl Fn(Part) -> bool) {
    if let Some(message) = &mut flight.message {
        message.parts.retain(|&part, _| keep(part));
        flight.report.parts.retain(|&part, _| keep(part));
    }
}

/// Writes outputs: what has parts of the text from `flight`, what is whole from `whole`.
pub(super) fn write(
    wanted: impl IntoIterator<Item = Output>,
    flight: &Flight,
    whole: &Flight,
    options: &Options,
    earlier: Option<&Earlier>,
) -> Result<Outputs, IssueError> {
    let mut outputs = Outputs::default();
    let subject = Subject::Flight {
        flight,
        whole,
        earlier,
    };
    for output in wanted {
        outputs.add(output, output.write(&subject, options)?);
    }
    Ok(outputs)
}

/// Writes the correction of an early message from a flight that has the parts alone that
/// go out again.
pub(super) fn correct_early(
    again: &Flight,
    wanted: impl IntoIterator<Item = Output>,
    options: &Options,
    earlier: &Earlier,
) -> Result<Outputs, IssueError> {
    next(earlier, options.bbb.as_ref())?;
    // BUFR has no parts: the rest brings the whole sounding.
    let without = Some(Content::Sounding);
    let options = Options {
        without,
        ..options.clone()
    };
    let mut outputs = write(wanted, again, again, &options, None)?;
    if let (Some(was), Some(now)) = (&earlier.message, &again.message) {
        let (left, right) = (was.report(), now.report());
        outputs.differences = compare(&left, &right, &Tolerance::coarser(&left, &right));
        let of_parts = |d: &Difference| !matches!(d, Difference::Part { .. });
        outputs.differences.retain(of_parts);
    }
    Ok(outputs)
}

/// Whether nothing that is sent is wanted.
pub(super) fn nothing(wanted: &Wanted) -> bool {
    wanted.iter().all(|output| !output.content().is_sent())
}

/// Writes every output of a flight that is wanted; with an earlier report, those of
/// its correction, `options.bbb` being its letter.
///
/// Of a correction the text, and with it the bulletin and the parts of the JSON
/// document, have only the parts that changed, and text and bulletin are left out
/// (with a finding) where no part did. BUFR goes out whole with the update number
/// of the letter whenever anything changed, so that both are counted alike. The review
/// sheet shows the whole flight, and what changed.
///
/// # Errors
/// See [`IssueError`]; all outputs are written or none.
pub fn make(
    flight: &Flight,
    wanted: &Wanted,
    options: &Options,
    earlier: Option<&Earlier>,
) -> Result<Outputs, IssueError> {
    if nothing(wanted) {
        return Err(IssueError::Nothing);
    }
    match earlier {
        None => write(wanted.iter().copied(), flight, flight, options, None),
        Some(earlier) => correction(flight, wanted, options, earlier),
    }
}

impl Outputs {
    fn add(&mut self, output: Output, written: Written) {
        self.files.push((output, written.value));
        self.findings.extend(written.findings);
    }

    /// The names and octets of the files in the folder of an issue.
    pub fn files(&self) -> impl Iterator<Item = (&'static str, &[u8])> {
        let files = self.files.iter();
        files.filter_map(|(output, octets)| Some((output.file()?, octets.as_slice())))
    }
}

/// The letter of a correction, compared with the last that was sent.
fn next<'a>(earlier: &Earlier, given: Option<&'a Bbb>) -> Result<&'a Bbb, IssueError> {
    let wanted = following(earlier.last.as_ref());
    match given {
        Some(given) if Some(given) == wanted.as_ref() => Ok(given),
        _ => Err(IssueError::NotNext {
            wanted: wanted.map_or("nothing".to_owned(), |b| b.as_str().to_owned()),
            given: given.map_or("none", Bbb::as_str).to_owned(),
        }),
    }
}

/// What of a flight goes out again after an earlier report.
fn correction(
    flight: &Flight,
    wanted: &Wanted,
    options: &Options,
    earlier: &Earlier,
) -> Result<Outputs, IssueError> {
    let letter = next(earlier, options.bbb.as_ref())?;
    let changed = |differences| match differences {
        Ok(differences) => Ok(Some(differences)),
        Err(NoCorrection::Nothing) => Ok(None),
        Err(no) => Err(no),
    };
    let carries = |has: fn(Content) -> bool| wanted.iter().any(|output| has(output.content()));
    let mut parts = flight.clone();
    let mut options = options.clone();
    let text = match (&earlier.message, &flight.message) {
        (Some(was), Some(now)) if carries(Content::has_parts) => {
            let text = changed(correct_text(&mut parts, was))?;
            let unsent = now
                .parts
                .keys()
                .filter(|part| !was.parts.contains_key(part));
            options.unsent = unsent.copied().collect();
            text
        }
        _ => None,
    };
    let mut whole = flight.clone();
    // Without a text the whole report alone says what changed.
    let sounding = if carries(Content::has_sounding) || flight.message.is_none() {
        let update = letter.number().saturating_sub(earlier.of_early);
        changed(update_bufr(
            &mut whole,
            earlier,
            letter,
            update,
            options.levels,
        ))?
    } else {
        None
    };
    let sends_text = text.is_some();
    options.without = match (sends_text, sounding.is_some()) {
        (true, true) => None,
        (false, _) => Some(Content::Parts),
        (true, false) => Some(Content::Sounding),
    };
    // BUFR says the same in its finer resolution, and more.
    let Some(differences) = sounding.or(text) else {
        return Err(NoCorrection::Nothing.into());
    };
    let unchanged = |output: &Output| {
        let has_parts = matches!(output, Output::Text | Output::Bulletin);
        has_parts && !sends_text
    };
    let sent: Wanted = wanted.iter().copied().filter(|o| !unchanged(o)).collect();
    if nothing(&sent) {
        return Err(NoCorrection::Nothing.into());
    }
    let mut outputs = write(sent, &parts, &whole, &options, Some(earlier))?;
    for output in wanted.iter().filter(|output| unchanged(output)) {
        let file = output.file_or_name();
        let finding = finding!(TextUnchanged, Place::default(), file = file);
        outputs.findings.push(finding);
    }
    outputs.differences = differences;
    outputs.update = whole.report.context.bufr.update;
    Ok(outputs)
}

/// Keeps the parts of a flight's text that changed since the message that was sent; what
/// changed.
fn correct_text(flight: &mut Flight, was: &Message) -> Result<Vec<Difference>, NoCorrection> {
    let Some(now) = &flight.message else {
        return Err(NoCorrection::Another("form"));
    };
    let correction = correct(was, now)?;
    let parts = &correction.message.parts;
    let kept = &mut flight.report.parts;
    kept.retain(|part, _| parts.contains_key(part));
    flight.message = Some(correction.message);
    Ok(correction.differences)
}

/// Gives the report that goes out in BUFR the update number of the correction; what
/// changed.
fn update_bufr(
    flight: &mut Flight,
    earlier: &Earlier,
    letter: &Bbb,
    update: u8,
    levels: Option<LevelContent>,
) -> Result<Vec<Difference>, NoCorrection> {
    let was = &earlier.report;
    let before = (was.resolution == Resolution::Bufr).then(|| was.context.bufr.update.unwrap_or(0));
    if let Some(before) = before.filter(|before| before.checked_add(1) != Some(update)) {
        return Err(NoCorrection::Update {
            before,
            letter: letter.as_str().to_owned(),
            update,
        });
    }
    let differences = corrected(was, &flight.for_bufr(levels));
    if matches!(differences, Ok(_) | Err(NoCorrection::Nothing)) {
        flight.report.context.bufr.update = Some(update);
    }
    differences
}

/// Writes the outputs of a NIL; `findings` are those of the sheet. What needs a flight is
/// left out with a finding.
///
/// # Errors
/// See [`IssueError`].
pub fn make_nil(
    report: &Report,
    message: &Message,
    findings: &[Finding],
    wanted: &Wanted,
    options: &Options,
) -> Result<Outputs, IssueError> {
    if nothing(wanted) {
        return Err(IssueError::Nothing);
    }
    let subject = Subject::Nil {
        report,
        message,
        findings,
    };
    let mut outputs = Outputs::default();
    for &output in wanted {
        if output.needs_flight() {
            let file = output.file_or_name();
            outputs
                .findings
                .push(finding!(NoReview, Place::default(), file = file));
        } else {
            outputs.add(output, output.write(&subject, options)?);
        }
    }
    Ok(outputs)
}
