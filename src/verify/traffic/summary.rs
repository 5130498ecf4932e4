//! What a day's traffic holds: parts expected, received, NIL, late, corrected and damaged, and
//! errors by station, centre and code.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use itertools::Itertools as _;
use serde::Serialize;

use super::{station, time};
use crate::forms::text::{Body, Received};
use crate::model::finding::{Code, Finding, Severity};
use crate::model::{Dated, Form, Part};
use crate::tables;

/// Codes of findings about groups that could not be read.
const DAMAGE: &[Code] = &[
    Code::Malformed,
    Code::PartTooLong,
    Code::GroupDamaged,
    Code::LevelDamaged,
    Code::LevelLost,
    Code::LevelAbsent,
    Code::GroupExtra,
    Code::IndicatorDamaged,
    Code::PartCut,
];

/// Numbers of parts, and of findings about them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// Parts A to D of each listed station and time.
    pub expected: usize,
    /// Parts with data.
    pub received: usize,
    /// Parts that report NIL.
    pub nil: usize,
    /// Parts expected and neither received nor reported NIL.
    pub missing: usize,
    /// Parts under a heading with RRx.
    pub late: usize,
    /// Parts under a heading with CCx.
    pub corrected: usize,
    /// Parts of which groups could not be read.
    pub damaged: usize,
    /// Findings of severity error.
    pub errors: usize,
    /// Findings of severity warning.
    pub warnings: usize,
}

impl Counts {
    /// Names of the counts, in the order of [`Counts::values`].
    pub const NAMES: [&'static str; 9] = [
        "expected",
        "received",
        "nil",
        "missing",
        "late",
        "corrected",
        "damaged",
        "errors",
        "warnings",
    ];

    /// The counts in the order of [`Counts::NAMES`].
    #[must_use]
    pub fn values(&self) -> [usize; 9] {
        [
            self.expected,
            self.received,
            self.nil,
            self.missing,
            self.late,
            self.corrected,
            self.damaged,
            self.errors,
            self.warnings,
        ]
    }

    fn add(&mut self, other: &Self) {
        self.expected += other.expected;
        self.received += other.received;
        self.nil += other.nil;
        self.missing += other.missing;
        self.late += other.late;
        self.corrected += other.corrected;
        self.damaged += other.damaged;
        self.errors += other.errors;
        self.warnings += other.warnings;
    }
}

/// A station, time and code form with its counts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Line {
    /// Station number, call sign or position.
    pub station: String,
    /// Day of the month and hour, `13T00Z`; with year and month where they are known.
    pub time: String,
    /// The code form.
    pub form: Form,
    /// What was received.
    pub counts: Counts,
    /// Letters of the parts that are missing.
    pub missing_parts: String,
}

/// Collects what a stream brings.
#[derive(Debug, Default)]
pub struct Collector {
    dated: Option<Dated>,
    lines: BTreeMap<(String, String, bool), Entry>,
    centres: BTreeMap<String, Counts>,
    codes: BTreeMap<String, (Severity, usize)>,
    /// Damage of parts whose station could not be read.
    unidentified: Counts,
}

#[derive(Debug, Default)]
struct Entry {
    counts: Counts,
    /// Parts with data, and those that are NIL.
    received: BTreeSet<Part>,
    nil: BTreeSet<Part>,
}

impl Collector {
    /// A collector of traffic whose year and month are known.
    #[must_use]
    pub fn dated(dated: Option<Dated>) -> Self {
        Self {
            dated,
            ..Self::default()
        }
    }

    /// Adds a report with the findings about it.
    pub fn add(&mut self, received: &Received, findings: &[Finding]) {
        let message = &received.message;
        let pilot = message.form == Form::Pilot;
        let key = (station(message), time(message, self.dated), pilot);
        let entry = self.lines.entry(key).or_default();
        let mut own = Counts::default();
        for (&part, body) in &message.parts {
            let new = match body {
                Body::Nil(_) => entry.nil.insert(part),
                _ => entry.received.insert(part),
            };
            if !new {
                continue;
            }
            let letters = tables::text_heading(message.form, message.ident.kind(), part);
            let under = received.headings.iter().filter(|heading| {
                let of_part = letters.is_none_or(|row| heading.designator.starts_with(row.letters));
                of_part || received.headings.len() == 1
            });
            let marks = under
                .filter_map(|heading| heading.bbb.as_ref())
                .collect_vec();
            own.late += usize::from(marks.iter().any(|bbb| bbb.as_str().starts_with("RR")));
            own.corrected += usize::from(marks.iter().any(|bbb| bbb.is_correction()));
            match body {
                Body::Nil(_) => own.nil += 1,
                _ => own.received += 1,
            }
        }
        own.damaged = damaged(findings);
        (own.errors, own.warnings) = severities(findings);
        entry.counts.add(&own);
        for centre in received.headings.iter().map(|h| &h.centre).unique() {
            self.centres.entry(centre.clone()).or_default().add(&own);
        }
        self.count(findings);
    }

    /// Adds findings that belong to no report.
    pub fn add_findings(&mut self, findings: &[Finding]) {
        self.unidentified.damaged += damaged(findings);
        let (errors, warnings) = severities(findings);
        self.unidentified.errors += errors;
        self.unidentified.warnings += warnings;
        self.count(findings);
    }

    fn count(&mut self, findings: &[Finding]) {
        let loud = findings.iter().filter(|f| f.severity > Severity::Info);
        for finding in loud {
            let code = finding.code.clone().into_owned();
            self.codes.entry(code).or_insert((finding.severity, 0)).1 += 1;
        }
    }

    /// The summary; of the stations listed (IIiii), each TEMP part is expected at every time at
    /// which one of them reports.
    #[must_use]
    pub fn finish(mut self, listed: &[String]) -> Summary {
        let times: BTreeSet<String> = self
            .lines
            .keys()
            .filter(|(station, _, pilot)| !pilot && listed.contains(station))
            .map(|(_, time, _)| time.clone())
            .collect();
        for (station, time) in listed.iter().cartesian_product(&times) {
            let entry = self.lines.entry((station.clone(), time.clone(), false));
            entry.or_default().counts.expected = Part::ALL.len();
        }
        let mut total = self.unidentified;
        let mut lines = Vec::new();
        for ((station, time, pilot), mut entry) in self.lines {
            let there = |part: &Part| entry.received.contains(part) || entry.nil.contains(part);
            let missing = match entry.counts.expected {
                0 => Vec::new(),
                _ => Part::ALL.into_iter().filter(|part| !there(part)).collect(),
            };
            entry.counts.missing = missing.len();
            total.add(&entry.counts);
            lines.push(Line {
                station,
                time,
                form: if pilot { Form::Pilot } else { Form::Temp },
                counts: entry.counts,
                missing_parts: missing.into_iter().map(Part::letter).collect(),
            });
        }
        let codes = self.codes.into_iter();
        let codes = codes.map(|(code, (severity, count))| CodeCount {
            code,
            severity,
            count,
        });
        let worst = |c: &CodeCount| (std::cmp::Reverse(c.severity), std::cmp::Reverse(c.count));
        Summary {
            total,
            lines,
            centres: self.centres,
            codes: codes.sorted_by_key(worst).collect(),
        }
    }
}

/// How often a finding was made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CodeCount {
    /// Its code.
    pub code: String,
    /// Its severity.
    pub severity: Severity,
    /// How often.
    pub count: usize,
}

/// The summary of a stream; it prints as text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Summary {
    /// All together.
    pub total: Counts,
    /// By station, time and code form.
    pub lines: Vec<Line>,
    /// By the centre of the heading, CCCC.
    pub centres: BTreeMap<String, Counts>,
    /// Errors and warnings by code, most severe and most frequent first.
    pub codes: Vec<CodeCount>,
}

impl fmt::Display for Summary {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let row = |f: &mut fmt::Formatter<'_>, name: &str, counts: &Counts| {
            write!(f, "{name:28}")?;
            counts
                .values()
                .iter()
                .try_for_each(|count| write!(f, " {count:>9}"))?;
            writeln!(f)
        };
        write!(f, "{:28}", "parts")?;
        Counts::NAMES
            .iter()
            .try_for_each(|name| write!(f, " {name:>9}"))?;
        writeln!(f)?;
        row(f, "all", &self.total)?;
        for (centre, counts) in &self.centres {
            row(f, &format!("  centre {centre}"), counts)?;
        }
        let wrong = |line: &&Line| {
            let Counts {
                missing,
                damaged,
                errors,
                warnings,
                ..
            } = line.counts;
            missing + damaged + errors + warnings > 0
        };
        for line in self.lines.iter().filter(wrong) {
            let form = if line.form == Form::Pilot {
                "PILOT"
            } else {
                "TEMP"
            };
            let name = format!(
                "  {} {} {form} {}",
                line.station, line.time, line.missing_parts
            );
            row(f, name.trim_end(), &line.counts)?;
        }
        for CodeCount {
            code,
            severity,
            count,
        } in &self.codes
        {
            writeln!(f, "{severity}: {code}: {count}")?;
        }
        Ok(())
    }
}

/// Parts with damage among findings.
fn damaged(findings: &[Finding]) -> usize {
    let damage = findings
        .iter()
        .filter(|f| DAMAGE.iter().any(|code| f.is(*code)));
    let parts = damage.map(|f| (f.place.part, f.place.part.is_none().then_some(f.place.line)));
    let (named, unnamed): (Vec<_>, Vec<_>) = parts.partition(|(part, _)| part.is_some());
    // In a stream the same part stands in many reports: there each finding counts.
    if findings.iter().any(|f| f.place.station.is_some()) {
        named.iter().unique().count() + unnamed.len()
    } else {
        named.len() + unnamed.len()
    }
}

fn severities(findings: &[Finding]) -> (usize, usize) {
    let of = |severity| findings.iter().filter(|f| f.severity == severity).count();
    (of(Severity::Error), of(Severity::Warning))
}
