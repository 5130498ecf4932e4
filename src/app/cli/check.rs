//! `check`: messages for internal consistency, profiles against nature and sheet.

use std::path::Path;

use super::bounded::{MAX_TABLE, text};
use super::flight::{SourceArgs, load};
use super::output::Sink;
use super::{CodeForm, Notes, Stop, decode, tell};
use crate::forms::text::Message;
use crate::issue::Ascent;
use crate::model::Form;
use crate::model::Noted;
use crate::model::finding::{Finding, Place, Severity, finding, shown_path};
use crate::{profile, verify};

/// How the findings are wanted.
pub(super) struct Manner {
    pub(super) notes: Notes,
    pub(super) strict: bool,
    pub(super) strict_parts: bool,
    pub(super) quiet: bool,
}

/// Checks every report of a file; the findings go to standard output, a line
/// each, and a summary to standard error.
///
/// Exit code 1 when something is an error (or a warning under `--strict`), or
/// when no report could be read.
pub(super) fn messages(path: &Path, manner: &Manner) -> Result<u8, Stop> {
    let name = shown_path(path);
    let mut input = decode::open(path)?;
    let mut out = Told {
        manner,
        sink: Sink::open(Path::new("-"))?,
        counts: [0; 3],
    };
    let mut reports = 0;
    let mut unchecked = None;
    if input.holds == decode::Holds::Groups {
        let strict = manner.strict_parts;
        decode::each_received(&mut *input.from, path, strict, |findings, received| {
            out.tell("", findings)?;
            for one in received {
                reports += 1;
                let mut findings = one.findings.clone();
                findings.extend(one.placed(&name, verify::message::check(&one.message)));
                out.tell(&label(&one.message), findings)?;
            }
            Ok(())
        })?;
    } else {
        for read in decode::documents(&mut input, &name, &mut |finding| {
            out.tell("", vec![finding])
        })? {
            reports += 1;
            let message = match &read.message {
                Ok(message) => message,
                Err(why) => {
                    unchecked = Some(why.clone());
                    reports -= 1;
                    let place = Place::default().in_file(&name);
                    out.tell("", vec![finding!(NoTextCode, place, problem = why)])?;
                    continue;
                }
            };
            let mut findings = verify::message::check(message);
            for finding in &mut findings {
                finding.place.file = Some(name.clone());
            }
            out.tell(&label(message), findings)?;
        }
    }
    let [infos, warnings, errors] = out.counts;
    out.sink.close()?;
    if reports == 0 {
        return Err(Stop::data(
            unchecked.unwrap_or_else(|| format!("{name}: no report could be read")),
        ));
    }
    if !manner.quiet {
        tell(&format!(
            "fivefig: {name}: {}, {}, {}, {}",
            counted(reports, "report"),
            counted(errors, "error"),
            counted(warnings, "warning"),
            counted(infos, "note"),
        ));
    }
    Ok(u8::from(errors > 0 || (manner.strict && warnings > 0)))
}

/// A number and its noun: `1 report`, `2 reports`.
fn counted(number: usize, noun: &str) -> String {
    format!("{number} {noun}{}", if number == 1 { "" } else { "s" })
}

/// Checks a profile against what nature does and what the sheet says; the last
/// line is the verdict of the checks before release.
///
/// Exit code 1 when something is an error (or a warning under `--strict`).
pub(super) fn profile(
    source: &SourceArgs,
    form: Option<CodeForm>,
    list: Option<&Path>,
    manner: &Manner,
) -> Result<u8, Stop> {
    let loaded = load(source)?;
    let form = loaded.form(form.map(Form::from));
    let Ascent {
        name,
        raw,
        sheet,
        mut findings,
        ..
    } = loaded;
    if let Some(list) = list {
        let of = shown_path(list);
        let table = text(list, MAX_TABLE)?;
        let told = verify::station::check(&sheet.context.station, &table, &of);
        findings.extend(told.map_err(|e| Stop::data(format!("{of}: {e}")))?);
    }
    let Noted {
        value: ascent,
        findings: notes,
    } = profile::build_for(form, &raw, &sheet.context).map_err(Stop::data)?;
    findings.extend(notes);
    let checked = verify::profile::check(&ascent, &sheet.context);
    let verdict = verify::profile::verdict(&checked);
    let mut out = Told {
        manner,
        sink: Sink::open(Path::new("-"))?,
        counts: [0; 3],
    };
    out.tell("", findings)?;
    let placed = checked.into_iter().map(|mut finding| {
        finding.place.file = Some(name.clone());
        finding
    });
    out.tell("", placed.collect())?;
    out.sink.write(&format!("before release: {verdict}\n"))?;
    let [_, warnings, errors] = out.counts;
    out.sink.close()?;
    Ok(u8::from(errors > 0 || (manner.strict && warnings > 0)))
}

/// Station and time of a message.
fn label(message: &Message) -> String {
    let who = message
        .ident
        .sign()
        .map_or_else(|| message.ident.groups().join(" "), str::to_owned);
    format!("{who} {:02} {:02} UTC: ", message.day, message.hour)
}

/// Where findings go, and how many there were.
struct Told<'a> {
    manner: &'a Manner,
    sink: Sink,
    /// Notes, warnings, errors.
    counts: [usize; 3],
}

impl Told<'_> {
    fn tell(&mut self, label: &str, findings: Vec<Finding>) -> Result<(), Stop> {
        for mut finding in findings {
            let [infos, warnings, errors] = &mut self.counts;
            match finding.severity {
                Severity::Info => *infos += 1,
                Severity::Warning => *warnings += 1,
                Severity::Error => *errors += 1,
            }
            if self.manner.quiet && finding.severity == Severity::Info {
                continue;
            }
            finding.what = format!("{label}{}", finding.what);
            let line = match self.manner.notes {
                Notes::Text => finding.to_string(),
                Notes::Json => serde_json::to_string(&finding).map_err(Stop::data)?,
            };
            self.sink.write(&format!("{line}\n"))?;
        }
        Ok(())
    }
}
