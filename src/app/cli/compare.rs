//! `compare`: two messages in any two forms, or a message with a profile.

use std::path::{Path, PathBuf};

use serde::Serialize;

use super::bounded::{MAX_SMALL, text};
use super::flight::{ReadArgs, SourceArgs, load};
use super::output::Sink;
use super::{Stop, decode, table, tell};
use crate::forms::text::{Heading, Message};
use crate::model::fidelity::Fidelity;
use crate::model::finding::{Finding, shown_path};
use crate::model::{Coding, Noted, Reach, Report, Roles};
use crate::verify::compare::{Difference, Side, Tolerance, compare};
use crate::verify::fidelity::{fidelity, not_required};
use crate::{issue, profile};

/// How the result is written.
#[derive(Clone, Copy, Default, clap::ValueEnum)]
pub(super) enum ComparedForm {
    /// A line a difference
    #[default]
    Table,
    /// A JSON document
    Json,
}

/// What is compared, and how.
pub(super) struct Asked<'a> {
    pub(super) left: &'a Path,
    pub(super) right: &'a Path,
    pub(super) sheets: &'a [PathBuf],
    pub(super) tolerance: Option<&'a Path>,
    pub(super) to: ComparedForm,
}

/// The JSON document of a comparison.
#[derive(Serialize)]
struct Compared {
    left: String,
    right: String,
    differences: Vec<Difference>,
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

/// What a profile says of a message.
struct Held {
    ours: Report,
    fidelity: Fidelity,
    not_required: Vec<(f64, Roles)>,
}

/// Compares, writes what differs, and exits 1 when something does.
pub(super) fn run(asked: &Asked<'_>) -> Result<u8, Stop> {
    let left = one(asked.left)?.report;
    let held = if asked.sheets.is_empty() {
        None
    } else {
        Some(from_profile(asked, &left)?)
    };
    let right = match &held {
        Some(held) => held.ours.clone(),
        None => one(asked.right)?.report,
    };
    let mut tolerance = Tolerance::coarser(&left, &right);
    if let Some(path) = asked.tolerance {
        tolerance = wanted(path, &tolerance)?;
    }
    let mut differences = compare(&left, &right, &tolerance);
    if held.is_some() {
        // Which additional levels are taken is free as long as the limits hold,
        // which the fidelity says.
        let by_rule = |p: Option<f64>| {
            let mut here = right.levels.iter().filter(|l| l.row.pressure_hpa == p);
            here.any(|l| l.why.iter().any(|reason| !reason.is_additional()))
        };
        differences.retain(|d| match d {
            Difference::Missing {
                roles,
                side,
                pressure_hpa,
                ..
            } => {
                let choice = roles.without(free()).is_empty();
                !choice || (*side == Side::Left && by_rule(*pressure_hpa))
            }
            _ => true,
        });
    }
    let differ = !differences.is_empty()
        || held.as_ref().is_some_and(|h| {
            h.fidelity
                .departures
                .iter()
                .any(|h| h.after_rounding.beyond > 0)
        });
    let mut sink = Sink::open(Path::new("-"))?;
    match asked.to {
        ComparedForm::Table => {
            for difference in &differences {
                sink.write(&format!("{difference}\n"))?;
            }
            if let Some(held) = &held {
                for &(p, roles) in &held.not_required {
                    let rule = if roles.any(Roles::SIG_WIND) {
                        "35.3.2"
                    } else {
                        "35.3.1"
                    };
                    sink.write(&format!(
                        "the level at {p} hPa ({roles}) is not required by {rule}: every limit holds without it\n"
                    ))?;
                }
                sink.write(&table::fidelity(&held.fidelity))?;
            }
        }
        ComparedForm::Json => {
            let document = Compared {
                left: shown_path(asked.left),
                right: shown_path(asked.right),
                differences,
                not_required: held
                    .iter()
                    .flat_map(|h| &h.not_required)
                    .map(|&(pressure_hpa, roles)| NotRequired {
                        pressure_hpa,
                        roles,
                    })
                    .collect(),
                fidelity: held.map(|h| h.fidelity),
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

impl Sent {
    /// The text code.
    pub(super) fn message(self, name: &str) -> Result<Message, Stop> {
        self.message
            .map_err(|why| Stop::data(format!("{name}: {why}")))
    }
}

/// The one report of a file.
pub(super) fn one(path: &Path) -> Result<Sent, Stop> {
    let name = shown_path(path);
    let mut input = decode::open(path)?;
    let mut all = Vec::new();
    if input.holds == decode::Holds::Groups {
        decode::each_received(
            &mut *input.from,
            path,
            false,
            |findings: Vec<Finding>, received| {
                for finding in findings {
                    tell(&format!("fivefig: {finding}"));
                }
                for one in received {
                    all.push(Sent {
                        report: one.message.report(),
                        message: Ok(one.message),
                        headings: one.headings,
                    });
                }
                Ok(())
            },
        )?;
    } else {
        let mut say = |finding: Finding| {
            tell(&format!("fivefig: {finding}"));
            Ok(())
        };
        for read in decode::documents(&mut input, &name, &mut say)? {
            all.push(Sent {
                report: read.report,
                message: read.message,
                headings: Vec::new(),
            });
        }
    }
    let count = all.len();
    match all.pop().filter(|_| count == 1) {
        Some(one) => Ok(one),
        None => Err(Stop::data(format!(
            "{name}: {count} reports; one is compared at a time (decode --to jsonl takes them apart)"
        ))),
    }
}

/// What the rules make of a profile, and how well a message gives it back.
fn from_profile(asked: &Asked<'_>, message: &Report) -> Result<Held, Stop> {
    let loaded = load(&SourceArgs {
        profile: asked.right.to_owned(),
        read: ReadArgs {
            sheet: asked.sheets.to_vec(),
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
    Ok(Held {
        fidelity: fidelity(&ascent, coding, message, message),
        not_required: not_required(&ascent, coding, message, &ours),
        ours,
    })
}

/// A tolerance with some values replaced by those of a TOML file.
fn wanted(path: &Path, default: &Tolerance) -> Result<Tolerance, Stop> {
    let name = shown_path(path);
    let said = |e: &dyn std::fmt::Display| Stop::data(format!("{name}: {e}"));
    let text = text(path, MAX_SMALL)?;
    let given: toml::Table = text.parse().map_err(|e: toml::de::Error| said(&e))?;
    let mut all = toml::Table::try_from(default).map_err(|e| said(&e))?;
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
                return Err(said(&format!(
                    "unknown key `{key}` (known here: {})",
                    known.join(", ")
                )));
            }
            (_, None) => return Err(said(&format!("`{key}` is a number of 0 or more"))),
        }
    }
    all.try_into().map_err(|e: toml::de::Error| said(&e))
}
