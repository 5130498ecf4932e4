//! `explain`: the catalogue of findings.

use std::ffi::OsStr;
use std::fmt::Write as _;
use std::path::Path;

use clap::Args;
use clap::builder::{PossibleValue, TypedValueParser};
use clap::error::ErrorKind;
use itertools::Itertools as _;
use serde::Serialize;

use super::Stop;
use super::diagnostics::Notes;
use super::flight::put;
use crate::model::finding::{Code, Severity, UnknownCode};

#[derive(Args)]
pub(super) struct ExplainArgs {
    /// Code of the finding, such as sign-slip; without it, all findings are listed
    #[arg(value_parser = Codes, hide_possible_values = true)]
    code: Option<Code>,
    /// Output form
    #[arg(long, value_enum, default_value_t, help_heading = "Output")]
    to: Notes,
}

/// Reads a code; completion knows all of them.
#[derive(Clone)]
struct Codes;

impl TypedValueParser for Codes {
    type Value = Code;

    fn parse_ref(
        &self,
        command: &clap::Command,
        _: Option<&clap::Arg>,
        value: &OsStr,
    ) -> Result<Code, clap::Error> {
        let text = value.to_string_lossy();
        text.parse().map_err(|unknown: UnknownCode| {
            let message = format!("{unknown}; similar are {}\n", similar(&text).join(", "));
            clap::Error::raw(ErrorKind::InvalidValue, message).with_cmd(command)
        })
    }

    fn possible_values(&self) -> Option<Box<dyn Iterator<Item = PossibleValue> + '_>> {
        let codes = Code::ALL.iter();
        Some(Box::new(
            codes.map(|code| PossibleValue::new(code.as_str())),
        ))
    }
}

/// The three codes most like a text.
fn similar(text: &str) -> Vec<&'static str> {
    let likeness = |code: &str| strsim::jaro_winkler(text, code);
    let codes = Code::ALL.iter().map(|code| code.as_str());
    let sorted = codes.sorted_by(|a, b| likeness(b).total_cmp(&likeness(a)));
    sorted.take(3).collect()
}

/// An entry of the catalogue. A text names its values in angle brackets.
#[derive(Serialize)]
struct Entry {
    code: &'static str,
    severity: Severity,
    /// Whether it is reported only when details are asked for.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    detail: bool,
    what: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    allowed: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    clause: Option<&'static str>,
}

impl From<Code> for Entry {
    fn from(code: Code) -> Self {
        Self {
            code: code.as_str(),
            severity: code.severity(),
            detail: code.is_detail(),
            what: code.what(),
            allowed: code.allowed(),
            clause: code.clause(),
        }
    }
}

/// Prints one entry of the catalogue, or one line for each.
pub(super) fn explain(asked: &ExplainArgs) -> Result<u8, Stop> {
    let all = Code::ALL.iter().copied();
    let wanted = all.filter(|code| asked.code.is_none_or(|one| one == *code));
    let mut out = String::new();
    for entry in wanted.map(Entry::from) {
        match asked.to {
            Notes::Json => {
                out += &serde_json::to_string(&entry).map_err(Stop::data)?;
                out.push('\n');
            }
            Notes::Text if asked.code.is_some() => text(&mut out, &entry),
            Notes::Text => {
                let Entry {
                    code,
                    severity,
                    what,
                    ..
                } = entry;
                let _ = writeln!(out, "{code:<28} {severity:<7} {what}");
            }
        }
    }
    put(Path::new("-"), out.as_bytes())?;
    Ok(0)
}

fn text(out: &mut String, entry: &Entry) {
    let only = if entry.detail {
        ", only with --verbose"
    } else {
        ""
    };
    let _ = writeln!(out, "{} ({}{only})", entry.code, entry.severity);
    let parts = [
        ("what", Some(entry.what.as_str())),
        ("allowed", entry.allowed.as_deref()),
        ("clause", entry.clause),
    ];
    for (name, part) in parts {
        if let Some(part) = part {
            let _ = writeln!(out, "  {name:<8} {part}");
        }
    }
}
