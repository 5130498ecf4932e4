//! What was sent before: the issues of a report and its corrections, read from their folders.

use std::path::Path;

use super::correction::Earlier;
use super::folder::{FolderError, IssueKind, Name, file, first, is_issued, letters};
use super::output::Output;
use super::saved_sheet::SHEET;
use crate::forms::json;
use crate::forms::text;
use crate::forms::text::{Bbb, Message, Traffic};
use crate::input;
use crate::model::{Form, PracticeTable, Reach, Report};
use crate::verify::compare::{Difference, Tolerance, compare};

/// What was issued under a name and in the corrections of it, taken together: of
/// each part the last text, of BUFR the last message. `None` when it was not issued.
/// A report that went out late stands in the place of the one without letter, and a
/// whole report comes after its early message: letters of corrections are counted over
/// both, since both have the headings of Parts A and B.
///
/// # Errors
/// A file that cannot be read or understood; no output that says what was sent.
pub fn earlier(out: &Path, name: &Name) -> Result<Option<Earlier>, FolderError> {
    earlier_with(out, name, None)
}

/// The same of a station with a table of practices of its own, for issues that do not have
/// it beside their text.
///
/// # Errors
/// As [`earlier`].
pub fn earlier_with(
    out: &Path,
    name: &Name,
    practice: Option<&PracticeTable>,
) -> Result<Option<Earlier>, FolderError> {
    if first(out, name).is_none() {
        return Ok(None);
    }
    let own = name.with(None);
    let used = corrected(out, &own);
    let mut sent: Option<Earlier> = None;
    let mut of_early: u8 = 0;
    for issue in in_order(out, &own, &used) {
        let one = sent_in(out, &issue, practice)?;
        if issue.kind() != own.kind() && issue.bbb().is_some_and(Bbb::is_correction) {
            of_early = of_early.saturating_add(1);
        }
        sent = Some(match sent {
            None => one,
            Some(before) => after(before, one),
        });
    }
    Ok(sent.map(|sent| Earlier {
        last: used.last().cloned(),
        of_early,
        ..sent
    }))
}

/// Every correction of a report and of its early message, and what it changed, the report
/// before on the left; an error for one that cannot be read, or whose report cannot.
#[must_use]
pub fn corrections(out: &Path, name: &Name) -> Vec<(Name, Result<Vec<Difference>, FolderError>)> {
    let own = name.with(None);
    let mut sent: Option<Earlier> = None;
    let mut found = Vec::new();
    for issue in in_order(out, &own, &corrected(out, &own)) {
        let is_correction = issue.bbb().is_some_and(Bbb::is_correction);
        match (sent_in(out, &issue, None), sent.take()) {
            (Ok(one), None) => {
                if is_correction {
                    found.push((issue, Ok(Vec::new())));
                }
                sent = Some(one);
            }
            (Ok(one), Some(before)) => {
                let now = after(before.clone(), one);
                if is_correction {
                    let tolerance = Tolerance::coarser(&before.report, &now.report);
                    let differences = compare(&before.report, &now.report, &tolerance);
                    found.push((issue, Ok(differences)));
                }
                sent = Some(now);
            }
            (Err(error), before) => {
                if is_correction {
                    found.push((issue, Err(error)));
                }
                sent = before;
            }
        }
    }
    found
}

/// The letters of the corrections of a report and its early message, or of a NIL.
fn corrected(out: &Path, own: &Name) -> Vec<Bbb> {
    let headings: Vec<Name> = match own.is_nil() {
        true => vec![own.clone()],
        false => own.kin().filter(|kin| !kin.is_nil()).collect(),
    };
    let used = |letter: &Bbb| {
        let mut names = headings.iter().map(|name| name.with(Some(letter.clone())));
        names.any(|name| is_issued(out, &name))
    };
    letters("CCA").take_while(used).collect()
}

/// Every issue of a report in the order in which they went out, the early message first.
fn in_order(out: &Path, own: &Name, corrected: &[Bbb]) -> Vec<Name> {
    let of_kin = |kin: Name| -> Vec<Name> {
        let corrections = corrected
            .iter()
            .map(|letter| kin.with(Some(letter.clone())));
        let issues = first(out, &kin).into_iter().chain(corrections);
        issues.filter(|name| is_issued(out, name)).collect()
    };
    let kin = own.early().into_iter().chain([own.clone()]);
    kin.flat_map(of_kin).collect()
}

/// An issue and its correction as one.
fn after(before: Earlier, one: Earlier) -> Earlier {
    use crate::model::Resolution;
    let message = match (before.message, one.message) {
        (Some(mut whole), Some(parts)) => {
            whole.parts.extend(parts.parts);
            Some(whole)
        }
        (message, None) | (None, message) => message,
    };
    let report = match (one.report.resolution, before.report.resolution, &message) {
        // A text alone is the parts that changed; BUFR and JSON are whole.
        (Resolution::Text, Resolution::Text, Some(message)) => message.report(),
        (Resolution::Text, _, _) => before.report,
        _ => one.report,
    };
    Earlier {
        name: one.name,
        message,
        report,
        last: one.last,
        of_early: 0,
    }
}

/// What one folder says was sent.
fn sent_in(
    out: &Path,
    name: &Name,
    practice: Option<&PracticeTable>,
) -> Result<Earlier, FolderError> {
    let named = Output::file_or_name;
    let of = |output: Output| file(out, name, named(output));
    let fault = |output: Output, what: String| FolderError::Unread {
        path: out.join(name.to_string()).join(named(output)),
        what,
    };
    let mut bufr = None;
    for output in [Output::Bufr, Output::BufrBulletin] {
        if let (None, Some(octets)) = (&bufr, of(output)?) {
            bufr = Some(sounding_in(out, name, output, &octets)?);
        }
    }
    let mut message = None;
    for output in [Output::Text, Output::Bulletin] {
        if let (None, Some(octets)) = (&message, of(output)?) {
            let text = String::from_utf8_lossy(&octets);
            let own = practice_of(out, name);
            let read = read_text(&text, own.as_ref().or(practice));
            message = Some(read.map_err(|what| fault(output, what))?);
        }
    }
    let report = match (bufr, &message, of(Output::Json)?) {
        (Some(report), _, _) => report,
        (None, Some(message), _) => message.report(),
        (None, None, Some(octets)) => {
            let text = String::from_utf8_lossy(&octets);
            let read = json::read(&text).map_err(|e| fault(Output::Json, e.to_string()))?;
            let first = read.first().map(|record| record.report(1));
            let first = first.ok_or_else(|| fault(Output::Json, "no report".to_owned()))?;
            first.map_err(|e| fault(Output::Json, e.to_string()))?
        }
        (None, None, None) => {
            let what = "it has no file that says what was sent".to_owned();
            let path = out.join(name.to_string());
            return Err(FolderError::Unread { path, what });
        }
    };
    if message.is_none() && report.form != Form::Descent {
        message = text::message(&report).ok().map(|noted| noted.value);
    }
    Ok(Earlier {
        name: name.to_string(),
        message,
        report,
        last: None,
        of_early: 0,
    })
}

/// The BUFR of an issue and the report in it; `None` when the issue has none.
///
/// The identifier and the kind are those of the issue's name, which BUFR need not have.
///
/// # Errors
/// It cannot be read or understood.
pub fn sounding(out: &Path, name: &Name) -> Result<Option<(Vec<u8>, Report)>, FolderError> {
    let Some(octets) = file(out, name, Output::Bufr.file_or_name())? else {
        return Ok(None);
    };
    let mut report = sounding_in(out, name, Output::Bufr, &octets)?;
    report.context.station.wigos_id = Some(name.id().to_owned());
    if name.kind() == IssueKind::Early {
        report.reach = Reach::To100;
    }
    Ok(Some((octets, report)))
}

/// The report of the first sounding in an output of an issue.
fn sounding_in(
    out: &Path,
    name: &Name,
    output: Output,
    octets: &[u8],
) -> Result<Report, FolderError> {
    let file = output.file_or_name();
    let soundings = input::bufr::soundings(octets, file).value;
    let first = soundings.into_iter().next();
    let first = first.ok_or_else(|| FolderError::Unread {
        path: out.join(name.to_string()).join(file),
        what: "no sounding could be read".to_owned(),
    })?;
    Ok(first.report)
}

/// The station's own table of practices, as the sheet or the document of an issue has it.
fn practice_of(out: &Path, name: &Name) -> Option<PracticeTable> {
    let text = |file_name: &str| String::from_utf8(file(out, name, file_name).ok()??).ok();
    let of_sheet = || {
        let sheet: toml::Table = text(SHEET)?.parse().ok()?;
        sheet.get("coding")?.get("practice")?.as_str()?.parse().ok()
    };
    let of_document = || {
        let read = json::read(&text(Output::Json.file_or_name())?).ok()?;
        read.into_iter().next()?.coding.practice
    };
    of_sheet().or_else(of_document)
}

/// The one message of a text or of bulletins.
fn read_text(text: &str, practice: Option<&PracticeTable>) -> Result<Message, String> {
    let mut traffic = Traffic::new("").strict_parts();
    if let Some(practice) = practice {
        traffic = traffic.with_practice(practice);
    }
    for line in text.split_inclusive('\n') {
        traffic.push(line);
    }
    traffic.finish();
    let mut read = traffic.take();
    match (read.pop(), read.len()) {
        (Some(one), 0) => Ok(one.message),
        (_, more) => Err(format!("{} reports where one is expected", more + 1)),
    }
}
