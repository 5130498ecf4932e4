//! `compare`: two messages in any two forms, or a message with a profile.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::bounded::{MAX_SMALL, text};
use super::diagnostics::{Diagnostics, Reporter};
use super::flight::{ReadArgs, SourceArgs, load, practice_table};
use super::output::Sink;
use super::{DatedArgs, Stop, decode, table};
use crate::forms::text::{Heading, Message};
use crate::model::fidelity::Fidelity;
use crate::model::finding::{Finding, shown_path};
use crate::model::{Coding, Form, Noted, PracticeTable, Reach, Report, Roles};
use crate::verify::compare::{Difference, Side, Tolerance, compare, compare_forms};
use crate::verify::fidelity::{fidelity, not_required};
use crate::verify::traffic::station;
use crate::{forms, issue, profile};

/// How the result is written.
#[derive(Clone, Copy, Default, PartialEq, Eq, clap::ValueEnum)]
enum ComparedForm {
    /// One line per difference
    #[default]
    Table,
    /// A JSON document
    Json,
    /// Of two streams, one JSON object per report that differs
    Jsonl,
}

/// What is compared, and how.
#[derive(clap::Args)]
pub(super) struct CompareArgs {
    /// A message in groups or BUFR, or a report in JSON; - for standard input
    left: PathBuf,
    /// The other message; with --sheet a profile
    right: PathBuf,
    /// Sheet: a TOML file about station and flight; the right file is then a profile. The
    /// option may be repeated
    #[arg(long, value_name = "FILE", num_args = 1, help_heading = "Input")]
    sheet: Vec<PathBuf>,
    /// TOML file of tolerances that replace those of the forms
    #[arg(long, value_name = "FILE", help_heading = "Input")]
    tolerance: Option<PathBuf>,
    /// Of two streams, compare only the reports and parts that both have
    #[arg(long, conflicts_with = "sheet", help_heading = "Input")]
    common: bool,
    /// The station's own table of practices, whose standard surfaces its messages have
    #[arg(long, value_name = "FILE", help_heading = "Input")]
    practice: Option<PathBuf>,
    #[command(flatten)]
    dated: DatedArgs,
    /// Form of the result
    #[arg(long, value_enum, default_value_t, help_heading = "Output")]
    to: ComparedForm,
    #[command(flatten)]
    diagnostics: Diagnostics,
}

/// The JSON document of a comparison.
#[derive(Serialize)]
struct Compared {
    left: String,
    right: String,
    differences: Vec<Difference>,
    /// What the form of one side cannot give.
    not_in_form: Vec<Finding>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fidelity: Option<Fidelity>,
    /// Significant levels of the message that no rule and no limit requires.
    not_required: Vec<NotRequired>,
}

/// A level that could do without a role.
#[derive(Serialize)]
struct NotRequired {
    pressure_hpa: f64,
    roles: Roles,
}

/// A message compared with a profile.
struct WithProfile {
    ours: Report,
    fidelity: Fidelity,
    not_required: Vec<(f64, Roles)>,
}

/// Compares, writes what differs, and exits 1 when something does.
pub(super) fn run(asked: &CompareArgs) -> Result<u8, Stop> {
    let practice = asked.practice.as_deref().map(practice_table).transpose()?;
    let reading = decode::Options {
        dated: asked.dated.date,
        practice: practice.as_ref(),
        ..decode::Options::default()
    };
    let all_left = reports(&asked.left, reading, asked.diagnostics)?;
    let (left, right, profile) = if asked.sheet.is_empty() {
        let all_right = reports(&asked.right, reading, asked.diagnostics)?;
        if all_left.len() != 1 || all_right.len() != 1 || asked.to == ComparedForm::Jsonl {
            return streams(asked, all_left, all_right);
        }
        let left = only(&asked.left, all_left)?.report;
        (left, only(&asked.right, all_right)?.report, None)
    } else {
        let left = only(&asked.left, all_left)?.report;
        let profile = from_profile(asked, &left)?;
        (left, profile.ours.clone(), Some(profile))
    };
    let mut tolerance = Tolerance::coarser(&left, &right);
    if let Some(path) = &asked.tolerance {
        tolerance = wanted(path, &tolerance)?;
    }
    let Noted {
        value: mut differences,
        findings: not_in_form,
    } = compare_forms(&left, &right, &tolerance);
    let mut reporter = Reporter::new(asked.diagnostics);
    reporter.all(&not_in_form)?;
    reporter.finish();
    if profile.is_some() {
        // Which additional levels are taken is free as long as the limits hold,
        // which the fidelity says.
        let by_rule = |p: Option<f64>| {
            let mut here = right.levels.iter().filter(|l| l.row.pressure_hpa == p);
            here.any(|l| l.why.iter().any(|rule| !rule.is_additional()))
        };
        differences.retain(|d| match d {
            Difference::Missing {
                roles,
                side,
                pressure_hpa,
                ..
            } => {
                let choice = free().contains(*roles);
                !choice || (*side == Side::Left && by_rule(*pressure_hpa))
            }
            _ => true,
        });
    }
    let differ = !differences.is_empty()
        || profile.as_ref().is_some_and(|profile| {
            profile
                .fidelity
                .departures
                .iter()
                .any(|h| h.after_rounding.outside > 0)
        });
    let mut sink = Sink::open(Path::new("-"))?;
    match asked.to {
        ComparedForm::Table => {
            for difference in &differences {
                sink.write(&format!("{difference}\n"))?;
            }
            if let Some(profile) = &profile {
                for &(p, roles) in &profile.not_required {
                    let rule = if roles.any(Roles::SIG_WIND) {
                        "35.3.2"
                    } else {
                        "35.3.1"
                    };
                    sink.write(&format!(
                        "the level at {p} hPa ({roles}) is not required by {rule}: every limit holds without it\n"
                    ))?;
                }
                sink.write(&table::fidelity(&profile.fidelity))?;
            }
        }
        ComparedForm::Json | ComparedForm::Jsonl => {
            let document = Compared {
                left: shown_path(&asked.left),
                right: shown_path(&asked.right),
                differences,
                not_in_form,
                not_required: profile
                    .iter()
                    .flat_map(|profile| &profile.not_required)
                    .map(|&(pressure_hpa, roles)| NotRequired {
                        pressure_hpa,
                        roles,
                    })
                    .collect(),
                fidelity: profile.map(|profile| profile.fidelity),
            };
            let text = serde_json::to_string_pretty(&document).map_err(Stop::data)?;
            sink.write(&(text + "\n"))?;
        }
    }
    sink.close()?;
    Ok(u8::from(differ))
}

/// Roles whose levels may be chosen otherwise.
fn free() -> Roles {
    Roles::SIG_T_OR_U | Roles::SIG_WIND | Roles::FREEZING
}

/// What was read of one message.
pub(super) struct Sent {
    pub(super) report: Report,
    /// Its text code, or why it has none.
    pub(super) message: Result<Message, String>,
    pub(super) headings: Vec<Heading>,
}

/// The one report of a file.
pub(super) fn one(
    path: &Path,
    practice: Option<&PracticeTable>,
    diagnostics: Diagnostics,
) -> Result<Sent, Stop> {
    let reading = decode::Options {
        practice,
        ..decode::Options::default()
    };
    only(path, reports(path, reading, diagnostics)?)
}

/// The reports of a file or folder; there is at least one.
fn reports(
    path: &Path,
    reading: decode::Options<'_>,
    diagnostics: Diagnostics,
) -> Result<Vec<Sent>, Stop> {
    let mut reporter = Reporter::new(diagnostics);
    let mut all = Vec::new();
    for file in decode::files(path)? {
        of_file(&file, reading, &mut reporter, &mut all)?;
    }
    reporter.finish();
    if all.is_empty() {
        let name = shown_path(path);
        return Err(Stop::data(format!(
            "{name}: no report could be read; give a message in groups, JSON or BUFR, or with --sheet a profile as the right file"
        )));
    }
    Ok(all)
}

fn of_file(
    path: &Path,
    reading: decode::Options<'_>,
    reporter: &mut Reporter,
    all: &mut Vec<Sent>,
) -> Result<(), Stop> {
    let name = shown_path(path);
    let opened = decode::open(path)?;
    reporter.all(&Vec::from_iter(opened.finding))?;
    for mut input in opened.inputs {
        if input.holds == decode::Holds::Groups {
            decode::each_received(
                &mut *input.from,
                path,
                reading,
                |findings: Vec<Finding>, received| {
                    reporter.all(&findings)?;
                    for one in received {
                        reporter.all(&one.findings)?;
                        let mut report = one.message.report();
                        let dated = reading.dated;
                        let found = dated.and_then(|dated| forms::text::date(&mut report, dated));
                        reporter.all(&found)?;
                        all.push(Sent {
                            report,
                            message: Ok(one.message),
                            headings: one.headings,
                        });
                    }
                    Ok(())
                },
            )?;
        } else {
            let mut report = |finding: Finding| reporter.report(&finding);
            for read in decode::documents(&mut input, &name, reading.dated, &mut report)? {
                all.push(Sent {
                    report: read.report,
                    message: read.message,
                    headings: Vec::new(),
                });
            }
        }
    }
    Ok(())
}

/// The report of a file that has one.
fn only(path: &Path, mut all: Vec<Sent>) -> Result<Sent, Stop> {
    let name = shown_path(path);
    let count = all.len();
    match (all.pop(), count) {
        (Some(one), 1) => Ok(one),
        _ => Err(Stop::data(format!(
            "{name}: {count} reports, and one is expected here; decode --to jsonl writes one per line"
        ))),
    }
}

/// What the rules make of a profile, and how well a message reproduces it.
fn from_profile(asked: &CompareArgs, message: &Report) -> Result<WithProfile, Stop> {
    let loaded = load(&SourceArgs {
        profile: asked.right.clone(),
        read: ReadArgs {
            sheet: asked.sheet.clone(),
            message: None,
            from: None,
        },
    })?;
    let (name, sheet) = (loaded.name, loaded.sheet);
    let form = message.form;
    let ascent = profile::build_for(form, &loaded.raw, &sheet.context)
        .map_err(Stop::data)?
        .value;
    let coding: &Coding = &sheet.context.coding;
    let Noted { value: ours, .. } = issue::report(form, &ascent, &sheet.context, Reach::Whole)
        .map_err(|refused| Stop::data(format!("{name}: {refused}")))?;
    Ok(WithProfile {
        fidelity: fidelity(&ascent, coding, message, message),
        not_required: not_required(&ascent, coding, message, &ours),
        ours,
    })
}

/// A tolerance with some values replaced by those of a TOML file.
fn wanted(path: &Path, default: &Tolerance) -> Result<Tolerance, Stop> {
    let name = shown_path(path);
    let fault = |e: &dyn std::fmt::Display| Stop::data(format!("{name}: {e}"));
    let text = text(path, MAX_SMALL)?;
    let given: toml::Table = text.parse().map_err(|e: toml::de::Error| fault(&e))?;
    let mut all = toml::Table::try_from(default).map_err(|e| fault(&e))?;
    for (key, value) in given {
        let number = value.as_float().or_else(|| {
            let whole = value.as_integer().and_then(|i| i32::try_from(i).ok());
            whole.map(f64::from)
        });
        let number = number.filter(|n| n.is_finite() && *n >= 0.0);
        match (all.get_mut(&key), number) {
            (Some(slot), Some(number)) => *slot = toml::Value::Float(number),
            (None, _) => {
                let known: Vec<&str> = all.keys().map(String::as_str).collect();
                return Err(fault(&format!(
                    "unknown key `{key}` (known here: {})",
                    known.join(", ")
                )));
            }
            (_, None) => return Err(fault(&format!("`{key}` is a number of 0 or more"))),
        }
    }
    all.try_into().map_err(|e: toml::de::Error| fault(&e))
}

/// Station, time and code form.
type Key = (String, String, Form);

/// What differs between the reports of one station, time and code form.
#[derive(Serialize)]
struct Matched {
    station: String,
    time: String,
    form: Form,
    /// The one stream that has the report.
    #[serde(skip_serializing_if = "Option::is_none")]
    only: Option<Side>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    differences: Vec<Difference>,
}

/// Compares, writes what differs, and exits 1 when something does.
fn streams(asked: &CompareArgs, left: Vec<Sent>, right: Vec<Sent>) -> Result<u8, Stop> {
    // Year and month count where every report has them.
    let mut all = left.iter().chain(&right);
    let whole = all.all(|sent| sent.report.when.in_full().is_some());
    let (left, right) = (by_key(left, whole), by_key(right, whole));
    let keys: BTreeSet<&Key> = left.keys().chain(right.keys()).collect();
    let mut sink = Sink::open(Path::new("-"))?;
    let (mut differ, mut document) = (false, Vec::new());
    for key in keys {
        let mut matched = Matched {
            station: key.0.clone(),
            time: key.1.clone(),
            form: key.2,
            only: None,
            differences: Vec::new(),
        };
        match (left.get(key), right.get(key)) {
            (Some(left), Some(right)) => {
                let mut tolerance = Tolerance::coarser(&left.report, &right.report);
                if let Some(path) = &asked.tolerance {
                    tolerance = wanted(path, &tolerance)?;
                }
                matched.differences = compare(&left.report, &right.report, &tolerance);
                if asked.common {
                    let in_both = |d: &Difference| !matches!(d, Difference::Part { .. });
                    matched.differences.retain(in_both);
                }
            }
            (there, _) if !asked.common => {
                matched.only = Some(there.map_or(Side::Right, |_| Side::Left));
            }
            _ => {}
        }
        if matched.only.is_none() && matched.differences.is_empty() {
            continue;
        }
        differ = true;
        match asked.to {
            ComparedForm::Table => sink.write(&lines(&matched))?,
            ComparedForm::Json => document.push(matched),
            ComparedForm::Jsonl => {
                let line = serde_json::to_string(&matched).map_err(Stop::data)?;
                sink.write(&(line + "\n"))?;
            }
        }
    }
    if let ComparedForm::Json = asked.to {
        let text = serde_json::to_string_pretty(&document).map_err(Stop::data)?;
        sink.write(&(text + "\n"))?;
    }
    sink.close()?;
    Ok(u8::from(differ))
}

/// The reports of a stream; of several for one station, time and code form, the last.
fn by_key(all: Vec<Sent>, whole: bool) -> BTreeMap<Key, Sent> {
    let key = |sent: &Sent| {
        let (day, hour, _) = forms::text::time(&sent.report);
        let full = sent.report.when.in_full().filter(|_| whole);
        let day = match full {
            Some((_, standard)) => standard.date().to_string(),
            None => format!("{day:02}"),
        };
        let who = match &sent.message {
            Ok(message) => station(message),
            Err(_) => sent
                .report
                .context
                .station
                .wigos_id
                .clone()
                .unwrap_or_default(),
        };
        (who, format!("{day}T{hour:02}Z"), sent.report.form)
    };
    all.into_iter().map(|sent| (key(&sent), sent)).collect()
}

/// One line per difference, with station, time and code form in front.
fn lines(matched: &Matched) -> String {
    let form = match matched.form {
        Form::Temp => "TEMP",
        Form::Pilot => "PILOT",
        Form::Descent => "descent",
    };
    let head = format!("{} {} {form}", matched.station, matched.time);
    let only = matched
        .only
        .map(|side| format!("{head}: only on the {side}\n"));
    let differences = matched.differences.iter();
    let differences = differences.map(|difference| format!("{head}: {difference}\n"));
    only.into_iter().chain(differences).collect()
}
