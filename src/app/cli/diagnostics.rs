//! Findings on standard error: which are reported, how they look, how many there were.

use std::collections::BTreeMap;
use std::fmt;
use std::io::{self, Write as _};

use clap::builder::styling::{AnsiColor, Style};
use clap::{Args, ValueEnum};
use itertools::Itertools as _;

use super::Stop;
use crate::model::finding::{Code, Finding, Severity, printable};

/// The most findings of a kind about one file that are reported unless all are wanted.
const MAX_OF_A_KIND: usize = 10;

/// What every command that has findings does with them.
#[derive(Args, Clone, Copy, Default)]
#[command(next_help_heading = "Diagnostics")]
pub(super) struct Diagnostics {
    /// Report errors only
    #[arg(short, long, conflicts_with = "verbose")]
    pub(super) quiet: bool,
    /// Report details, such as computed values, and every finding instead of ten of a kind
    #[arg(short, long)]
    pub(super) verbose: bool,
    /// Format of the findings; json includes details and every finding
    #[arg(long, value_enum, default_value_t)]
    pub(super) notes: Notes,
}

/// A format of findings.
#[derive(Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum Notes {
    /// One line per finding
    #[default]
    Text,
    /// One JSON object per line
    Json,
}

/// How many findings there were.
#[derive(Clone, Copy, Default)]
pub(super) struct Counts {
    pub(super) errors: usize,
    pub(super) warnings: usize,
    pub(super) notes: usize,
}

impl Counts {
    pub(super) fn add(&mut self, other: Self) {
        self.errors += other.errors;
        self.warnings += other.warnings;
        self.notes += other.notes;
    }

    /// Errors and warnings, `2 errors, 1 warning`; `None` where there is neither.
    pub(super) fn summary(&self) -> Option<String> {
        let counts = [(self.errors, "error"), (self.warnings, "warning")];
        let words = counts.into_iter().filter(|(count, _)| *count > 0);
        let words = words.map(|(count, noun)| counted(count, noun)).join(", ");
        (!words.is_empty()).then_some(words)
    }
}

/// A number and its noun: `1 report`, `2 reports`.
pub(super) fn counted(number: usize, noun: &str) -> String {
    format!("{number} {noun}{}", if number == 1 { "" } else { "s" })
}

/// A line about a finding.
pub(super) struct Line {
    before: String,
    severity: Option<Severity>,
    after: String,
}

impl Line {
    /// An error that stops the command or an input.
    pub(super) fn error(text: &str) -> Self {
        Self::new(Severity::Error, text)
    }

    pub(super) fn new(severity: Severity, text: &str) -> Self {
        Self {
            before: "fivefig: ".to_owned(),
            severity: Some(severity),
            after: text.to_owned(),
        }
    }

    /// A line of a log, with its time.
    #[cfg(feature = "spool")]
    pub(super) fn at(time: &str, severity: Severity, text: &str) -> Self {
        Self {
            before: format!("{time} "),
            ..Self::new(severity, text)
        }
    }

    /// A line that is no finding.
    pub(super) fn plain(text: String) -> Self {
        Self {
            before: String::new(),
            severity: None,
            after: text,
        }
    }

    /// The line with its severity in colour.
    pub(super) fn shown(&self, colour: bool) -> String {
        let (before, after) = (printable(&self.before), printable(&self.after));
        let Some(severity) = self.severity else {
            return format!("{before}{after}");
        };
        let style = match severity {
            _ if !colour => Style::new(),
            Severity::Error => AnsiColor::Red.on_default().bold(),
            Severity::Warning => AnsiColor::Yellow.on_default().bold(),
            Severity::Info => AnsiColor::Cyan.on_default().bold(),
        };
        format!("{before}{style}{severity}{style:#}: {after}")
    }

    /// Prints it to standard error; nothing can be done if that fails.
    pub(super) fn print(&self) {
        let colour = is_colour(&io::stderr());
        let _ = writeln!(io::stderr(), "{}", self.shown(colour));
    }
}

/// Whether a stream is a terminal of a user who wants colours (`NO_COLOR`, `CLICOLOR`).
pub(super) fn is_colour(stream: &impl anstream::stream::RawStream) -> bool {
    anstream::AutoStream::choice(stream) != anstream::ColorChoice::Never
}

/// Reports findings as the options ask, and counts all of them.
pub(super) struct Reporter {
    options: Diagnostics,
    pub(super) counts: Counts,
    /// How many of each kind there were about each file.
    kinds: BTreeMap<Option<String>, BTreeMap<String, (Severity, usize)>>,
}

impl Reporter {
    pub(super) fn new(options: Diagnostics) -> Self {
        Self {
            options,
            counts: Counts::default(),
            kinds: BTreeMap::new(),
        }
    }

    /// The line of a finding with what stands before it; `None` where none is wanted.
    pub(super) fn line(&mut self, before: &str, finding: &Finding) -> Result<Option<Line>, Stop> {
        match finding.severity {
            Severity::Error => self.counts.errors += 1,
            Severity::Warning => self.counts.warnings += 1,
            Severity::Info => self.counts.notes += 1,
        }
        let Diagnostics {
            quiet,
            verbose,
            notes,
        } = self.options;
        let error = finding.severity == Severity::Error;
        if !error && quiet {
            return Ok(None);
        }
        if notes == Notes::Json {
            let text = serde_json::to_string(finding).map_err(Stop::data)?;
            return Ok(Some(Line::plain(text)));
        }
        if finding.is_detail() && !verbose {
            return Ok(None);
        }
        let kinds = match self.kinds.get_mut(&finding.place.file) {
            Some(kinds) => kinds,
            None => self.kinds.entry(finding.place.file.clone()).or_default(),
        };
        let count = match kinds.get_mut(finding.code.as_ref()) {
            Some((_, count)) => count,
            None => {
                let code = finding.code.clone().into_owned();
                &mut kinds.entry(code).or_insert((finding.severity, 0)).1
            }
        };
        *count += 1;
        if !verbose && *count > MAX_OF_A_KIND {
            return Ok(None);
        }
        Ok(Some(Line {
            before: before.to_owned(),
            severity: Some(finding.severity),
            after: finding.text(),
        }))
    }

    /// Reports a finding on standard error.
    pub(super) fn report(&mut self, finding: &Finding) -> Result<(), Stop> {
        let Some(line) = self.line("fivefig: ", finding)? else {
            return Ok(());
        };
        line.print();
        let likely = finding.is(Code::LikelyColumn) || finding.is(Code::UnknownVariable);
        if let (Notes::Text, true, Some(file)) = (self.options.notes, likely, &finding.place.file) {
            super::tell(&format!("fivefig: {}", columns_advice(file)));
        }
        Ok(())
    }

    /// Reports findings on standard error.
    pub(super) fn all<'f>(
        &mut self,
        findings: impl IntoIterator<Item = &'f Finding>,
    ) -> Result<(), Stop> {
        findings
            .into_iter()
            .try_for_each(|finding| self.report(finding))
    }

    /// A line for each kind of which more was found than was reported.
    pub(super) fn more(&mut self, before: &str) -> Vec<Line> {
        let verbose = self.options.verbose;
        let kinds = std::mem::take(&mut self.kinds).into_iter();
        let kinds = kinds.flat_map(|(file, codes)| {
            let file = file.clone();
            codes.into_iter().map(move |kind| (file.clone(), kind))
        });
        let hidden = kinds.filter(|(_, (_, (_, count)))| !verbose && *count > MAX_OF_A_KIND);
        let line = |(file, (code, (severity, count))): (Option<String>, (String, _))| {
            let file = file.map(|file| format!("{file}: ")).unwrap_or_default();
            let more = count - MAX_OF_A_KIND;
            Line {
                before: before.to_owned(),
                severity: Some(severity),
                after: format!("{file}{more} more findings `{code}` (-v lists all)"),
            }
        };
        hidden.map(line).collect()
    }

    /// Says what was not reported and how many errors and warnings there were.
    pub(super) fn finish(mut self) -> Counts {
        for line in self.more("fivefig: ") {
            line.print();
        }
        self.options.summarize(self.counts);
        self.counts
    }
}

impl Diagnostics {
    /// A last line that counts errors and warnings, where there are any.
    pub(super) fn summarize(self, counts: Counts) {
        let shown = Counts {
            warnings: if self.quiet { 0 } else { counts.warnings },
            ..counts
        };
        if let (Notes::Text, Some(summary)) = (self.notes, shown.summary()) {
            super::tell(&format!("fivefig: {summary}"));
        }
    }
}

/// Where the command shows what the columns of a file are.
pub(super) fn columns_advice(name: &str) -> String {
    format!("run `fivefig columns {name}` to see what each column is likely to be")
}

impl fmt::Display for Line {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.shown(false))
    }
}
