//! A finding: the one type for errors, warnings and notes about data.

use std::borrow::Cow;
use std::fmt;
use std::path::Path;

use serde::{Deserialize, Serialize};

pub(crate) use super::catalogue::finding;
pub use super::catalogue::{Code, UnknownCode};
pub use super::severity::Severity;

/// Where something stands. Every part is optional; a text form names only the
/// parts that are there.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Place {
    /// File name as the user gave it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// Line, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<usize>,
    /// Column, from 1: of characters in a sheet or message, of fields in a table.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<usize>,
    /// A key of the sheet, dotted (`station.wmo_block`).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub key: Option<String>,
    /// Pressure of the level spoken of, hPa.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pressure_hpa: Option<f64>,
    /// Part of the message: A, B, C or D.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part: Option<char>,
    /// Section of the part, from 1 (WMO-No. 306, FM 35).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub section: Option<u8>,
    /// Group within the part, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub group: Option<usize>,
    /// Station number, call sign or position of the report, as its groups give it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub station: Option<String>,
    /// Time of the report: day of the month and hour, `13T00Z`, or the date in full where it
    /// is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub time: Option<String>,
    /// Heading of the bulletin, `USUS50 KWBC 130000`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub heading: Option<String>,
}

impl Place {
    /// A line of a file.
    #[must_use]
    pub fn line(file: &str, line: usize) -> Self {
        Self {
            file: Some(file.to_owned()),
            line: Some(line),
            ..Self::default()
        }
    }

    /// A level, by its pressure in hPa.
    #[must_use]
    pub fn pressure(pressure_hpa: f64) -> Self {
        Self {
            pressure_hpa: Some(pressure_hpa),
            ..Self::default()
        }
    }

    /// A key of the sheet.
    #[must_use]
    pub fn key(key: &str) -> Self {
        Self {
            key: Some(key.to_owned()),
            ..Self::default()
        }
    }

    /// The same place in a named file.
    #[must_use]
    pub fn in_file(mut self, file: &str) -> Self {
        self.file = Some(file.to_owned());
        self
    }

    /// The same place with a column.
    #[must_use]
    pub fn at_column(mut self, column: usize) -> Self {
        self.column = Some(column);
        self
    }

    /// Whether nothing is said.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

impl fmt::Display for Place {
    /// `FILE:LINE:COL`, then whatever else is known, in that order.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut first = true;
        let mut sep = |f: &mut fmt::Formatter<'_>, s: &str| {
            let r = if first { Ok(()) } else { f.write_str(s) };
            first = false;
            r
        };
        if let Some(file) = &self.file {
            sep(f, "")?;
            f.write_str(file)?;
            if let Some(line) = self.line {
                write!(f, ":{line}")?;
                if let Some(column) = self.column {
                    write!(f, ":{column}")?;
                }
            }
        }
        if let Some(key) = &self.key {
            sep(f, ": ")?;
            f.write_str(key)?;
        }
        if let Some(part) = self.part {
            sep(f, ": ")?;
            write!(f, "part {part}")?;
            if let Some(section) = self.section {
                write!(f, " section {section}")?;
            }
            if let Some(group) = self.group {
                write!(f, " group {group}")?;
            }
        }
        if let Some(p) = self.pressure_hpa {
            sep(f, ": ")?;
            write!(f, "{p} hPa")?;
        }
        Ok(())
    }
}

/// One thing said about data.
///
/// The `code` is stable: a program may act on it. The text is for people and
/// may be reworded.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Finding {
    /// Stable name, lower case with hyphens.
    pub code: Cow<'static, str>,
    /// How much it weighs.
    pub severity: Severity,
    /// Where.
    #[serde(default, skip_serializing_if = "Place::is_empty")]
    pub place: Place,
    /// What was found, with the value.
    pub what: String,
    /// What the rule allows, or what to do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub allowed: Option<String>,
    /// The rule ("WMO-No. 306, 35.3.1").
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clause: Option<Cow<'static, str>>,
}

impl Finding {
    /// A finding as `finding!` creates it; an empty `allowed` is none.
    pub(crate) fn new(code: Code, place: Place, what: String, allowed: String) -> Self {
        Self {
            code: Cow::Borrowed(code.as_str()),
            severity: code.severity(),
            place,
            what,
            allowed: (!allowed.is_empty()).then_some(allowed),
            clause: code.clause().map(Cow::Borrowed),
        }
    }

    /// A finding whose code is data, with the values of its text by name.
    pub(crate) fn of(code: Code, place: Place, values: &[(&str, &str)]) -> Self {
        let fill = |text: &str| {
            let mut out = String::with_capacity(text.len());
            let mut rest = text;
            while let Some((before, (name, after))) = rest
                .split_once('{')
                .and_then(|(before, rest)| Some((before, rest.split_once('}')?)))
            {
                out.push_str(before);
                let value = values.iter().find(|(own, _)| *own == name);
                out.push_str(value.map_or(name, |(_, value)| value));
                rest = after;
            }
            out + rest
        };
        let (what, allowed) = code.texts();
        Self::new(code, place, fill(what), fill(allowed))
    }

    /// Whether this is the finding of a code.
    #[must_use]
    pub fn is(&self, code: Code) -> bool {
        self.code == code.as_str()
    }

    /// The same finding with a rule that depends on the element.
    #[must_use]
    pub(crate) fn clause(mut self, clause: &'static str) -> Self {
        self.clause = Some(Cow::Borrowed(clause));
        self
    }
}

impl Finding {
    /// Whether every ordinary flight has it ([`Code::is_detail`]).
    #[must_use]
    pub fn is_detail(&self) -> bool {
        self.code.parse().is_ok_and(Code::is_detail)
    }

    /// `PLACE: what (allowed) [clause]`, on one line whatever is in it.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = String::new();
        let place = self.place.to_string();
        if !place.is_empty() {
            out = format!("{}: ", printable(&place));
        }
        if let Some(station) = &self.place.station {
            let time = self.place.time.as_deref().unwrap_or_default();
            out.push_str(&printable(&format!("{station} {time}: ")));
        }
        out.push_str(&printable(&self.what));
        if let Some(allowed) = &self.allowed {
            out.push_str(&format!(" ({})", printable(allowed)));
        }
        if let Some(clause) = &self.clause {
            out.push_str(&format!(" [{clause}]"));
        }
        out
    }
}

impl fmt::Display for Finding {
    /// The severity, then [`Finding::text`].
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.severity, self.text())
    }
}

/// Text as a log or a terminal can have it, on one line: control characters, and those
/// that change the direction of the text around them, as `\n` or `\u{1b}`.
pub(crate) fn printable(text: &str) -> Cow<'_, str> {
    let turns = ['\u{061c}', '\u{200e}', '\u{200f}', '\u{2028}', '\u{2029}'];
    let is_odd = |c: char| {
        c.is_control()
            || turns.contains(&c)
            || ('\u{202a}'..='\u{202e}').contains(&c)
            || ('\u{2066}'..='\u{2069}').contains(&c)
    };
    if !text.contains(is_odd) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match is_odd(c) {
            true => out.extend(c.escape_default()),
            false => out.push(c),
        }
    }
    Cow::Owned(out)
}

/// A number with its noun: `1 row`, `2 rows`.
pub(crate) fn counted(count: usize, noun: &str) -> String {
    let ending = if count == 1 { "" } else { "s" };
    format!("{count} {noun}{ending}")
}

/// A path as it is printed.
pub(crate) fn shown_path(path: &Path) -> String {
    printable(&path.to_string_lossy()).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_finding_reads_as_one_line() {
        let finding = Finding {
            code: "late".into(),
            severity: Severity::Warning,
            place: Place::line("x.csv", 7).at_column(2),
            what: "too late".to_owned(),
            allowed: Some("before 12".to_owned()),
            clause: Some("WMO-No. 306, 35.2.5".into()),
        };
        assert_eq!(
            finding.to_string(),
            "warning: x.csv:7:2: too late (before 12) [WMO-No. 306, 35.2.5]"
        );
        let json = serde_json::to_value(&finding).unwrap();
        assert_eq!(json["code"], "late");
        assert_eq!(json["place"]["line"], 7);
    }

    #[test]
    fn what_a_terminal_would_act_on_is_escaped() {
        for (text, printed) in [
            ("a b/é.csv", "a b/é.csv"),
            ("a\nb\r\tc", "a\\nb\\r\\tc"),
            // ESC of a sequence that colours, BEL, DEL, CSI of ECMA-48 in one character.
            (
                "\u{1b}[31mx\u{7}\u{7f}\u{9b}",
                "\\u{1b}[31mx\\u{7}\\u{7f}\\u{9b}",
            ),
            // Right-to-left override: fdp.csv would read vsc.pdf.
            ("a\u{202e}vsc.pdf", "a\\u{202e}vsc.pdf"),
        ] {
            assert_eq!(printable(text), printed);
        }
        let finding = finding!(StrayWord, Place::line("x\ninfo: y", 7), word = "a\u{1b}b");
        assert!(
            finding
                .to_string()
                .starts_with("warning: x\\ninfo: y:7: `a\\u{1b}b` belongs")
        );
    }

    #[test]
    fn severities_are_ordered() {
        assert!(Severity::Error > Severity::Warning && Severity::Warning > Severity::Info);
    }
}
