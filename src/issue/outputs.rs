//! Every output of a flight that is wanted: octets and the name they go under.
//!
//! Nothing here touches a file; [`super::folder`] does.

use std::collections::BTreeSet;

use thiserror::Error;

pub use super::correction::{Earlier, following};
pub use super::files::{Output, SHEET, profile_of, sheet_text};

use super::correction::{NoCorrection, correct, corrected};
use super::{Flight, FlightError, Keep};
use crate::forms::bufr;
use crate::forms::bufr::NotWritten;
use crate::forms::json;
use crate::forms::json::Record;
use crate::forms::text;
use crate::forms::text::{Bbb, BulletinError, CodeError, Envelope, Message};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Grain, Part, Report};
use crate::verify::compare::{Difference, Tolerance, compare};
use crate::view::diagram::Theme;

/// The outputs that are wanted.
pub type Wanted = BTreeSet<Output>;

/// How outputs are made.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Manner {
    /// The levels of JSON and BUFR; `None`: chosen in JSON, all in BUFR.
    pub keep: Option<Keep>,
    /// BBB of the headings.
    pub bbb: Option<Bbb>,
    /// Parts that go out for the first time beside a correction: their headings have
    /// no BBB.
    pub unsent: BTreeSet<Part>,
    /// What stands around each bulletin.
    pub envelope: Envelope,
}

/// Outputs that were made.
#[derive(Clone, Debug, Default)]
pub struct Made {
    /// Each output with its octets.
    pub files: Vec<(Output, Vec<u8>)>,
    /// What was found in making them; not what the flight brings.
    pub findings: Vec<Finding>,
    /// Of a correction: what changed, the earlier report on the left.
    pub differences: Vec<Difference>,
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
    /// No text code.
    #[error(transparent)]
    Code(#[from] CodeError),
    /// A piece of the heading.
    #[error(transparent)]
    Bulletin(#[from] BulletinError),
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
    /// A number that JSON cannot hold.
    #[error("report.json: {0}")]
    Json(#[from] serde_json::Error),
    /// BUFR cannot hold the report.
    #[error(transparent)]
    Bufr(#[from] NotWritten),
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

/// Makes one output of a flight as it is; corrections are made before
/// ([`correct_text`], [`correct_bufr`]).
///
/// # Errors
/// See [`IssueError`].
pub fn one(
    flight: &Flight,
    output: Output,
    manner: &Manner,
) -> Result<(Vec<u8>, Vec<Finding>), IssueError> {
    let message = || {
        flight
            .message
            .as_ref()
            .ok_or_else(|| no_text(&flight.report))
    };
    match output {
        Output::Text => Ok((message()?.to_string().into_bytes(), Vec::new())),
        Output::Bulletin => {
            let text = bulletins(&flight.report, message()?, manner)?;
            Ok((text.into_bytes(), Vec::new()))
        }
        Output::Json => {
            let text = json::write(vec![flight.record(manner.keep)])?;
            Ok((text.into_bytes(), Vec::new()))
        }
        Output::Bufr => Ok(bufr::write(&flight.for_bufr(manner.keep))?.into()),
        Output::Html => Ok((review(flight, None), Vec::new())),
    }
}

/// Why a report has no text code.
fn no_text(report: &Report) -> CodeError {
    text::message(report).err().unwrap_or(CodeError::NoTextCode)
}

/// The bulletins of a message, those of parts that go out for the first time last.
fn bulletins(report: &Report, message: &Message, manner: &Manner) -> Result<String, BulletinError> {
    let mut envelope = manner.envelope;
    let with = |unsent: bool| {
        let mut some = message.clone();
        some.parts
            .retain(|part, _| manner.unsent.contains(part) == unsent);
        some
    };
    let (known, unsent) = (with(false), with(true));
    let mut text = text::bulletins(&[(report, &known)], manner.bbb.as_ref(), envelope)?;
    // The channel numbers go on.
    envelope.channel = known
        .parts
        .iter()
        .fold(envelope.channel, |number, _| number.map(text::next_channel));
    text.push_str(&text::bulletins(&[(report, &unsent)], None, envelope)?);
    Ok(text)
}

/// Keeps some parts of a flight's text, and tells which of those that are wanted are
/// not there.
///
/// # Errors
/// None of them is there; no text code. The flight is left as it is.
pub fn only_parts(flight: &mut Flight, wanted: &BTreeSet<Part>) -> Result<(), IssueError> {
    let message = flight.message.as_ref().ok_or(CodeError::NoTextCode)?;
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

/// Makes the outputs of what follows an early message: BUFR and the review sheet of the
/// whole flight, the others of the parts in `rest`.
pub(super) fn make_rest(
    flight: &Flight,
    rest: &Flight,
    wanted: &Wanted,
    manner: &Manner,
) -> Result<Made, IssueError> {
    let mut made = Made::default();
    for &output in wanted {
        let of = match output {
            Output::Bufr | Output::Html => flight,
            Output::Text | Output::Bulletin | Output::Json => rest,
        };
        made.add(output, one(of, output, manner)?);
    }
    Ok(made)
}

/// Makes the outputs of a correction whose flight has the changed parts alone.
pub(super) fn make_correction(
    changed: &Flight,
    wanted: &Wanted,
    manner: &Manner,
    earlier: &Earlier,
) -> Result<Made, IssueError> {
    next(earlier, manner.bbb.as_ref())?;
    let mut made = Made::default();
    if let (Some(was), Some(now)) = (&earlier.message, &changed.message) {
        let (left, right) = (was.report(), now.report());
        made.differences = compare(&left, &right, &Tolerance::coarser(&left, &right));
        let of_parts = |d: &Difference| !matches!(d, Difference::Part { .. });
        made.differences.retain(of_parts);
    }
    for &output in wanted {
        made.add(output, one(changed, output, manner)?);
    }
    Ok(made)
}

/// The review sheet, in the colours that the reader's system asks for.
fn review(flight: &Flight, earlier: Option<&Earlier>) -> Vec<u8> {
    let was = earlier.map(|earlier| (earlier.name.as_str(), &earlier.report));
    flight.review(was, Theme::Auto).into_bytes()
}

/// Whether nothing that is sent is wanted.
pub(super) fn nothing(wanted: &Wanted) -> bool {
    wanted.iter().all(|&output| output == Output::Html)
}

/// Makes every output of a flight that is wanted; with an earlier report, those of
/// its correction, `manner.bbb` being its letter.
///
/// Of a correction the text, and with it the bulletin and the parts of the JSON
/// document, have only the parts that changed, and text and bulletin are left out
/// (with a finding) where no part did. BUFR goes out whole with the update number
/// of the letter whenever anything changed, so that both are counted alike. The review
/// sheet shows the whole flight, and what changed.
///
/// # Errors
/// See [`IssueError`]; all outputs are made or none.
pub fn make(
    flight: &Flight,
    wanted: &Wanted,
    manner: &Manner,
    earlier: Option<&Earlier>,
) -> Result<Made, IssueError> {
    if nothing(wanted) {
        return Err(IssueError::Nothing);
    }
    let Some(earlier) = earlier else {
        let mut made = Made::default();
        for &output in wanted {
            made.add(output, one(flight, output, manner)?);
        }
        return Ok(made);
    };
    let letter = next(earlier, manner.bbb.as_ref())?;
    correction(flight, wanted, manner, earlier, letter)
}

impl Made {
    fn add(&mut self, output: Output, (octets, findings): (Vec<u8>, Vec<Finding>)) {
        self.files.push((output, octets));
        self.findings.extend(findings);
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

/// What of a flight is to go out again, one of the two being there.
fn correction(
    flight: &Flight,
    wanted: &Wanted,
    manner: &Manner,
    earlier: &Earlier,
    letter: &Bbb,
) -> Result<Made, IssueError> {
    let mut in_text = flight.clone();
    let text = match (&earlier.message, &flight.message) {
        (Some(was), Some(_)) => match correct_text(&mut in_text, was) {
            Ok(differences) => Some(differences),
            Err(NoCorrection::Nothing) => None,
            Err(no) => return Err(no.into()),
        },
        _ => None,
    };
    let manner = &Manner {
        unsent: match &earlier.message {
            Some(was) => unsent(&in_text, was),
            None => BTreeSet::new(),
        },
        ..manner.clone()
    };
    let mut in_bufr = flight.clone();
    let bufr = if wanted.contains(&Output::Bufr) {
        let update = letter.number().saturating_sub(earlier.of_early);
        match update_bufr(&mut in_bufr, &earlier.report, letter, update, manner.keep) {
            Ok(differences) => Some(differences),
            Err(NoCorrection::Nothing) => None,
            Err(no) => return Err(no.into()),
        }
    } else {
        None
    };
    if text.is_none() && bufr.is_none() {
        return Err(NoCorrection::Nothing.into());
    }
    let changed = text.is_some();
    let mut made = Made {
        differences: match (text, bufr) {
            // BUFR says the same in its finer grain, and more.
            (Some(_), Some(bufr)) => bufr,
            (Some(one), None) | (None, Some(one)) => one,
            (None, None) => Vec::new(),
        },
        ..Made::default()
    };
    for &output in wanted {
        match output {
            Output::Text | Output::Bulletin if !changed => {
                let file = output.file();
                made.findings
                    .push(finding!(TextUnchanged, Place::default(), file = file));
            }
            Output::Bufr => made.add(output, one(&in_bufr, output, manner)?),
            // The whole flight, and what changed: what a checker looks at.
            Output::Html => made.add(output, (review(flight, Some(earlier)), Vec::new())),
            _ => made.add(output, one(&in_text, output, manner)?),
        }
    }
    if made.files.iter().all(|(output, _)| *output == Output::Html) {
        return Err(NoCorrection::Nothing.into());
    }
    Ok(made)
}

/// Keeps the parts of a flight's text that changed since the message that was sent,
/// and tells what changed.
///
/// # Errors
/// See [`correct`]. The flight is left as it is.
pub fn correct_text(flight: &mut Flight, was: &Message) -> Result<Vec<Difference>, NoCorrection> {
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

/// The parts of a flight's text that an earlier message does not have.
pub fn unsent(flight: &Flight, was: &Message) -> BTreeSet<Part> {
    let now = flight.message.iter().flat_map(|now| now.parts.keys());
    now.filter(|part| !was.parts.contains_key(part))
        .copied()
        .collect()
}

/// Gives the report that goes out in BUFR the update number of the correction, and
/// tells what changed.
///
/// # Errors
/// See [`corrected`]. The flight is left as it is.
pub fn correct_bufr(
    flight: &mut Flight,
    was: &Report,
    letter: &Bbb,
    keep: Option<Keep>,
) -> Result<Vec<Difference>, NoCorrection> {
    update_bufr(flight, was, letter, letter.number(), keep)
}

/// The same with the update number that a letter stands for.
fn update_bufr(
    flight: &mut Flight,
    was: &Report,
    letter: &Bbb,
    update: u8,
    keep: Option<Keep>,
) -> Result<Vec<Difference>, NoCorrection> {
    let before = (was.grain == Grain::Bufr).then(|| was.context.bufr.update.unwrap_or(0));
    if let Some(before) = before.filter(|before| before.checked_add(1) != Some(update)) {
        return Err(NoCorrection::Update {
            before,
            letter: letter.as_str().to_owned(),
            update,
        });
    }
    let differences = corrected(was, &flight.for_bufr(keep));
    if matches!(differences, Ok(_) | Err(NoCorrection::Nothing)) {
        flight.report.context.bufr.update = Some(update);
    }
    differences
}

/// Makes the outputs of a NIL, and the report that names it; `findings` are those of
/// the sheet. There is no review sheet of it, which is reported in a finding.
///
/// # Errors
/// See [`IssueError`].
pub fn make_nil(
    report: &Report,
    message: &Message,
    findings: &[Finding],
    wanted: &Wanted,
    manner: &Manner,
) -> Result<Made, IssueError> {
    if nothing(wanted) {
        return Err(IssueError::Nothing);
    }
    let mut made = Made::default();
    for &output in wanted {
        if output == Output::Html {
            let file = output.file();
            made.findings
                .push(finding!(NoReview, Place::default(), file = file));
            continue;
        }
        made.add(output, nil(report, message, findings, output, manner)?);
    }
    Ok(made)
}

fn nil(
    report: &Report,
    message: &Message,
    findings: &[Finding],
    output: Output,
    manner: &Manner,
) -> Result<(Vec<u8>, Vec<Finding>), IssueError> {
    let text = match output {
        Output::Text => message.to_string(),
        Output::Bulletin => {
            text::bulletins(&[(report, message)], manner.bbb.as_ref(), manner.envelope)?
        }
        Output::Json => json::write(vec![Record::new(report, Some(message), findings, None)])?,
        Output::Bufr => return Ok(bufr::write(report)?.into()),
        Output::Html => return Err(IssueError::Nothing),
    };
    Ok((text.into_bytes(), Vec::new()))
}
