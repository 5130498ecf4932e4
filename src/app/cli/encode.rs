//! `encode` and `nil`: a report, or that there is none, in the form wanted.

use std::collections::BTreeSet;
use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use itertools::Itertools as _;
use jiff::Timestamp;
use jiff::tz::Offset;

use super::diagnostics::{Diagnostics, Reporter};
use super::flight::{
    CodeArgs, FlightArgs, ReadArgs, SourceArgs, finish, load, prepare, prepared, put, read_sheets,
    report_all,
};
use super::output::outputs as output_names;
use super::share::{self, ShareArgs};
use super::{BulletinArgs, CodeForm, Stop, ccx, compare, draw, tell};
use crate::forms::text::Bbb;
use crate::issue;
use crate::issue::flat;
use crate::issue::flat::Numbers;
use crate::issue::folder::FolderError;
use crate::issue::outputs;
use crate::issue::outputs::{Content, Earlier, IssueError, Options, Output, Outputs, Wanted};
use crate::issue::{Flight, early, folder, sent};
use crate::model::finding::shown_path;
use crate::model::{FileNames, Part, PracticeTable};
use crate::profile::Positions;
use crate::verify::compare::Difference;
use crate::view::diagram::Theme;

#[derive(Args)]
pub(super) struct EncodeArgs {
    /// The processed ascent: text with a header row, BUFR, NetCDF, an IGRA v2 station
    /// file or JSON Lines of flights; - for standard input. Several files, or the profiles
    /// of a folder, are each coded with the sheet beside it (a.toml for a.csv)
    #[arg(value_name = "PROFILE", required_unless_present = "list")]
    pub(super) profiles: Vec<PathBuf>,
    /// File of paths of profiles, one per line; - for standard input
    #[arg(long, value_name = "FILE", help_heading = "Input")]
    pub(super) list: Option<PathBuf>,
    /// Number of flights coded in parallel (default: number of processors)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024), help_heading = "Coding")]
    pub(super) threads: Option<u16>,
    #[command(flatten)]
    pub(super) read: ReadArgs,
    #[command(flatten)]
    pub(super) how: CodeArgs,
    /// Outputs. Several of text, bulletin, json, bufr and html, separated by commas, go
    /// into a folder of their own in the output folder
    #[arg(
        long,
        value_parser = output_names(|_| true),
        default_value = "text",
        value_delimiter = ',',
        help_heading = "Output"
    )]
    pub(super) to: Vec<Output>,
    #[command(flatten)]
    pub(super) bulletin: BulletinArgs,
    /// Write the outputs as files of their own in the output folder, named by this
    /// convention, instead of a folder of the issue; none is overwritten
    #[arg(long, value_enum, value_name = "CONVENTION", help_heading = "Output")]
    pub(super) names: Option<NamesChoice>,
    /// Write a correction of the report in --was with this BBB, CCA to CCX: only the parts
    /// that changed; BUFR is written whole with the next update number
    #[arg(long, value_name = "CCx", value_parser = ccx, requires = "was", conflicts_with = "bbb", help_heading = "Corrections")]
    pub(super) correct: Option<Bbb>,
    /// The message that was sent, or the folder of its issue with its corrections beside
    /// it; with --to html the review sheet shows the differences
    #[arg(long, value_name = "FILE", help_heading = "Corrections")]
    pub(super) was: Option<PathBuf>,
    /// Write only these parts of the text, such as CD after an early message; BUFR has no
    /// parts
    #[arg(long, value_name = "ABCD", value_parser = super::parts, conflicts_with = "correct", help_heading = "Corrections")]
    pub(super) parts: Option<BTreeSet<Part>>,
    /// Write all parts although the early message is in the output folder (default: Parts C
    /// and D, and corrections of A and B)
    #[arg(long, conflicts_with = "parts", help_heading = "Corrections")]
    pub(super) repeat_early: bool,
    #[command(flatten)]
    pub(super) share: ShareArgs,
}

/// How files that stand by themselves are named.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum NamesChoice {
    /// One file per bulletin, named by its heading and the time at which it was made:
    /// A_TTAAiiCCCCYYGGgg_C_CCCC_yyyyMMddhhmmss.txt, .bin for BUFR
    Gts,
    /// One file per issue, named by centre and running number: CCCCNNNNNNNN.a, .b with
    /// BUFR; with --to gts
    Sequence,
    /// One file per output, named by issue and output
    Issue,
}

impl From<NamesChoice> for FileNames {
    fn from(names: NamesChoice) -> Self {
        match names {
            NamesChoice::Gts => Self::Gts,
            NamesChoice::Sequence => Self::Sequence,
            NamesChoice::Issue => Self::Issue,
        }
    }
}

#[derive(Args)]
pub(super) struct NilArgs {
    /// Sheet: a TOML file about station and time. The option may be repeated; the values
    /// of a later sheet replace those of an earlier one
    #[arg(
        long,
        value_name = "FILE",
        required = true,
        num_args = 1,
        help_heading = "Input"
    )]
    sheet: Vec<PathBuf>,
    /// Outputs. Several of text, bulletin, json and bufr, separated by commas, go into a
    /// folder of their own in the output folder
    #[arg(
        long,
        value_parser = output_names(|output| !output.needs_flight()),
        default_value = "text",
        value_delimiter = ',',
        help_heading = "Output"
    )]
    to: Vec<Output>,
    /// Code form
    #[arg(long, value_enum, default_value_t, help_heading = "Coding")]
    form: CodeForm,
    #[command(flatten)]
    bulletin: BulletinArgs,
    /// Write the outputs as files of their own in the output folder, named by this
    /// convention, instead of a folder of the issue; none is overwritten
    #[arg(long, value_enum, value_name = "CONVENTION", help_heading = "Output")]
    names: Option<NamesChoice>,
    /// Issue NIL although a report of the same station and time is in the output folder;
    /// the reason is saved in the issue
    #[arg(long, value_name = "REASON", help_heading = "Output")]
    despite_report: Option<String>,
    /// Output path; if it is an existing folder, the NIL is issued into a folder of its own
    /// there; - for standard output
    #[arg(
        short,
        long,
        value_name = "PATH",
        default_value = "-",
        help_heading = "Output"
    )]
    output: PathBuf,
    #[command(flatten)]
    diagnostics: Diagnostics,
}

impl From<FolderError> for Stop {
    fn from(error: FolderError) -> Self {
        let code = match error {
            FolderError::Io { .. } => 3,
            _ => 1,
        };
        let lines = vec![error.to_string()];
        Self { code, lines }
    }
}

impl From<IssueError> for Stop {
    fn from(error: IssueError) -> Self {
        match error {
            IssueError::Folder(error) => error.into(),
            error => Self::data(error),
        }
    }
}

/// Codes one flight.
pub(super) fn encode(asked: EncodeArgs) -> Result<u8, Stop> {
    let EncodeArgs {
        profiles,
        read,
        how,
        to,
        bulletin,
        correct,
        was,
        parts,
        repeat_early,
        names,
        share,
        ..
    } = asked;
    parts_refused(parts.is_some(), &to)?;
    let flight = FlightArgs {
        source: SourceArgs {
            profile: profiles.into_iter().next().unwrap_or_default(),
            read,
        },
        how,
    };
    let to = match to.as_slice() {
        [one] if names.is_none() => *one,
        _ => {
            let folder = Folder {
                flight: &flight,
                to: &to,
                bulletin: &bulletin,
                correct: correct.as_ref(),
                was: was.as_deref(),
                parts: parts.as_ref(),
                repeat_early,
                names: names.map(Into::into),
                share: &share,
            };
            return folder.issue();
        }
    };
    let how = &flight.how;
    share.only_with(to == Output::Wis2)?;
    refuse_terminal(to, &how.output)?;
    let review = to.content() == Content::Review;
    misused_was(review, correct.is_some(), was.is_some())?;
    if review && how.levels.is_some() {
        return Err(Stop::usage(
            "--levels is for JSON and BUFR; a review sheet shows every row",
        ));
    }
    // A correction is compared with what was sent, positions and all.
    let positions = match correct {
        Some(_) => Positions::FromWind,
        None => to.positions(),
    };
    let mut prepared = prepared(how, positions, load(&flight.source)?)?;
    if let Some(parts) = &parts {
        outputs::only_parts(&mut prepared, parts)?;
    }
    let mut options = bulletin.options(how.levels.map(Into::into));
    let mut findings = prepared.findings.clone();
    let mut update = prepared.report.context.bufr.update;
    let product = match (correct, &was) {
        (Some(letter), Some(was)) => {
            let practice = prepared.report.context.coding.practice.as_ref();
            let earlier = sent(was, Some(&letter), practice, how.diagnostics)?;
            options.bbb = Some(letter);
            prepared = prepared.after(&earlier)?;
            findings.clone_from(&prepared.findings);
            let made = outputs::make(&prepared, &[to].into(), &options, Some(&earlier));
            let made = made.map_err(|error| no_correction(was, error))?;
            tell_differences(&made.differences);
            findings.extend(made.findings);
            update = made.update;
            made.files
                .into_iter()
                .flat_map(|(_, octets)| octets)
                .collect()
        }
        _ if review => {
            let was = was.as_deref();
            draw::review(&prepared, was, Theme::Auto, how.diagnostics)?.into_bytes()
        }
        _ => {
            let written = outputs::one(&prepared, to, &options)?;
            findings.extend(written.findings);
            written.value
        }
    };
    if to != Output::Wis2 {
        return finish(&flight, &product, &findings);
    }
    let code = report_all(how, &findings)?;
    let mut report = prepared.for_bufr(options.levels);
    report.context.bufr.update = update;
    share::share(&report, &product, &share, &how.output)?;
    Ok(code)
}

/// Why there is no correction of the message that was sent.
fn no_correction(was: &Path, error: IssueError) -> Stop {
    match error {
        IssueError::NoCorrection(_) | IssueError::NotNext { .. } => {
            Stop::data(format!("{}: {error}", shown_path(was)))
        }
        error => error.into(),
    }
}

fn tell_differences(differences: &[Difference]) {
    for difference in differences {
        tell(&format!("fivefig: corrected: {difference}"));
    }
}

/// Several forms of one flight, into a folder of their own.
struct Folder<'a> {
    flight: &'a FlightArgs,
    to: &'a [Output],
    bulletin: &'a BulletinArgs,
    correct: Option<&'a Bbb>,
    was: Option<&'a Path>,
    parts: Option<&'a BTreeSet<Part>>,
    repeat_early: bool,
    names: Option<FileNames>,
    share: &'a ShareArgs,
}

/// The outputs that go together into a folder.
pub(super) fn wanted(to: &[Output]) -> Result<Wanted, Stop> {
    match to.iter().find(|output| output.file().is_none()) {
        None => Ok(to.iter().copied().collect()),
        Some(alone) => Err(Stop::usage(format!(
            "--to {}: it is written by itself; {} go together into a folder",
            alone.name(),
            Output::issued().map(Output::name).join(", ")
        ))),
    }
}

/// Refuses several outputs without a folder for them.
pub(super) fn folder_needed() -> Stop {
    Stop::usage("--output: several outputs are several files; name a folder for them")
}

impl Folder<'_> {
    /// Issues them, each written atomically.
    fn issue(&self) -> Result<u8, Stop> {
        self.share.only_with(false)?;
        misused_was(false, self.correct.is_some(), self.was.is_some())?;
        let wanted = match self.names {
            Some(names) => flat_outputs(self.to, names)?,
            None => wanted(self.to)?,
        };
        let out = &self.flight.how.output;
        if out == Path::new("-") {
            return Err(folder_needed());
        }
        std::fs::create_dir_all(out).map_err(|e| Stop::io(out, &e))?;
        let mut prepared = prepare(self.flight)?;
        let mut options = self
            .bulletin
            .options(self.flight.how.levels.map(Into::into));
        options.bbb = self.correct.cloned().or(options.bbb);
        let id = folder::id(&prepared.report)?;
        let name = folder::Name::of(&id, &prepared.report, options.bbb.as_ref())?;
        let earlier = match self.was {
            Some(was) => {
                let diagnostics = self.flight.how.diagnostics;
                let practice = prepared.report.context.coding.practice.as_ref();
                Some(sent(was, options.bbb.as_ref(), practice, diagnostics)?)
            }
            None => None,
        };
        if let Some(earlier) = &earlier {
            prepared = prepared.after(earlier)?;
        }
        if let Some(parts) = self.parts {
            outputs::only_parts(&mut prepared, parts)?;
        }
        let by_itself = earlier.is_none() && self.parts.is_none() && !self.repeat_early;
        let issues = if by_itself {
            first_issues(&mut prepared, out, &name, &wanted, &options)?
        } else {
            let made = outputs::make(&prepared, &wanted, &options, earlier.as_ref())?;
            vec![(name, made)]
        };
        let mut findings = prepared.findings.clone();
        for (_, made) in &issues {
            tell_differences(&made.differences);
            findings.extend(made.findings.iter().cloned());
        }
        let code = report_all(&self.flight.how, &findings)?;
        for (name, made) in &issues {
            match self.names {
                Some(names) => put_flat(out, name, made, names)?,
                None => put_issue(out, name, made, None)?,
            }
        }
        Ok(code)
    }
}

/// The issues of a flight that was not issued before: one, or, after an early message,
/// its correction where one is needed and the parts that were not sent. The flight is
/// then the one whose levels start from those that were sent.
pub(super) fn first_issues(
    flight: &mut Flight,
    out: &Path,
    name: &folder::Name,
    wanted: &Wanted,
    options: &Options,
) -> Result<Vec<(folder::Name, Outputs)>, Stop> {
    let Some(remaining) = early::remaining(flight, out, &name.with(None), wanted, options)? else {
        let made = outputs::make(flight, wanted, options, None)?;
        return Ok(vec![(name.clone(), made)]);
    };
    *flight = remaining.flight;
    let rest = remaining.rest.map(|made| (name.clone(), made));
    let issues: Vec<_> = remaining.correction.into_iter().chain(rest).collect();
    if issues.is_empty() {
        return Err(Stop::data(format!(
            "{name}: nothing is left to send: the early message is out and nothing lies above 100 hPa; --repeat-early sends every part again"
        )));
    }
    Ok(issues)
}

/// Puts an issue into its folder, a file of the reason beside it where there is one, and
/// prints its path.
fn put_issue(
    out: &Path,
    name: &folder::Name,
    made: &Outputs,
    reason: Option<&str>,
) -> Result<(), Stop> {
    let reason = reason.map(|text| (folder::REASON, text.as_bytes()));
    let files: Vec<(&str, &[u8])> = made.files().chain(reason).collect();
    let path = folder::place(out, name, &files)?;
    put(Path::new("-"), format!("{}\n", path.display()).as_bytes())
}

/// The outputs that files by themselves can have, named by a convention.
fn flat_outputs(to: &[Output], names: FileNames) -> Result<Wanted, Stop> {
    let fits = |output: &Output| flat::fits(*output, names);
    match to.iter().find(|output| !fits(output)) {
        None => Ok(to.iter().copied().collect()),
        Some(other) => {
            let allowed = Output::ALL.iter().filter(|output| fits(output));
            Err(Stop::usage(format!(
                "--to {}: it has no name by this convention; with --names of this kind go {}",
                other.name(),
                allowed.map(|output| output.name()).join(", ")
            )))
        }
    }
}

/// Puts the outputs of an issue into a folder as files of their own, and prints their
/// paths.
fn put_flat(out: &Path, name: &folder::Name, made: &Outputs, names: FileNames) -> Result<(), Stop> {
    let files = made.files.iter();
    let files: Vec<(Output, &[u8])> = files
        .map(|(output, octets)| (*output, octets.as_slice()))
        .collect();
    let now = Offset::UTC.to_datetime(Timestamp::now());
    let numbers = Numbers::of(out);
    for file in flat::files(name, &files, names, now, &mut || numbers.take())? {
        let path = flat::put(out, &file)?;
        put(Path::new("-"), format!("{}\n", path.display()).as_bytes())?;
    }
    Ok(())
}

/// The parts are those of the text.
pub(super) fn parts_refused(parts: bool, to: &[Output]) -> Result<(), Stop> {
    let with_parts = |output: &Output| output.content() == Content::Parts;
    let sounding = to.iter().any(|output| output.content().has_sounding());
    if parts && (sounding || !to.iter().any(with_parts)) {
        let names = Output::ALL.iter().copied().filter(with_parts);
        return Err(Stop::usage(format!(
            "--parts is for {}; BUFR and the review sheet have the whole flight",
            names.map(Output::name).join(", ")
        )));
    }
    Ok(())
}

/// What was sent: the message of a file, or the issue of a folder with the
/// corrections that lie beside it.
fn sent(
    was: &Path,
    letter: Option<&Bbb>,
    practice: Option<&PracticeTable>,
    diagnostics: Diagnostics,
) -> Result<Earlier, Stop> {
    if was.is_dir() {
        let name = was.file_name().and_then(|name| name.to_str());
        let name = name.and_then(folder::Name::parse);
        let name =
            name.ok_or_else(|| Stop::data(format!("{}: the folder is not that of an issue; name a folder that encode made, or a message", shown_path(was))))?;
        let out = was.parent().unwrap_or(Path::new("."));
        let earlier = sent::earlier_with(out, &name, practice)?;
        return earlier.ok_or_else(|| {
            Stop::data(format!(
                "{}: the issue that it corrects is not beside it",
                shown_path(was)
            ))
        });
    }
    let sent = compare::one(was, practice, diagnostics)?;
    let last = sent.headings.iter().filter_map(|h| h.bbb.clone());
    let mut last = last.filter(Bbb::is_correction).max();
    if sent.headings.is_empty() {
        // Only a heading says which letter was the last; without one any goes.
        let letters = std::iter::successors(Bbb::new("CCA"), Bbb::next);
        last = letters.take_while(|one| Some(one) != letter).last();
    }
    Ok(Earlier {
        name: shown_path(was),
        last,
        of_early: 0,
        message: sent.message.ok(),
        report: sent.report,
    })
}

/// An earlier message is for a correction, or for a review sheet.
fn misused_was(review: bool, correct: bool, was: bool) -> Result<(), Stop> {
    match (review, correct, was) {
        (true, true, _) => Err(Stop::usage(
            "--correct is for what is sent; a review sheet shows what changed with --was alone",
        )),
        (false, false, true) => Err(Stop::usage(
            "--was needs --correct CCx, or --to html for a review sheet of what changed",
        )),
        _ => Ok(()),
    }
}

/// BUFR and NetCDF are no text for a screen.
pub(super) fn refuse_terminal(to: Output, output: &Path) -> Result<(), Stop> {
    #[cfg(feature = "parquet")]
    if to == Output::Parquet {
        return super::parquet::refuse_terminal(output);
    }
    if (to.content().has_sounding() || to == Output::NetCdf)
        && to != Output::Wis2
        && output == Path::new("-")
        && std::io::stdout().is_terminal()
    {
        return Err(Stop::usage(
            "BUFR and NetCDF are not written to a terminal; give --output FILE or a pipe",
        ));
    }
    Ok(())
}

/// Writes that there is no report.
pub(super) fn nil(asked: &NilArgs) -> Result<u8, Stop> {
    let out = &asked.output;
    let alone = match asked.to.as_slice() {
        [one] if !out.is_dir() && asked.names.is_none() => Some(*one),
        _ => None,
    };
    if alone.is_none() && out == Path::new("-") {
        return Err(folder_needed());
    }
    if alone.is_some() && asked.despite_report.is_some() {
        return Err(Stop::usage(
            "--despite-report is for an output folder, in which reports are looked for; name one with --output",
        ));
    }
    let wanted = match alone {
        Some(to) => {
            refuse_terminal(to, out)?;
            Wanted::from([to])
        }
        None => match asked.names {
            Some(names) => flat_outputs(&asked.to, names.into())?,
            None => wanted(&asked.to)?,
        },
    };
    let (sheet, findings) = read_sheets(&asked.sheet)?;
    let (report, message) = issue::nil(asked.form.into(), &sheet.context).map_err(Stop::data)?;
    let options = asked.bulletin.options(None);
    let issue = match alone {
        Some(_) => None,
        None => {
            let id = folder::id(&report)?;
            let name = folder::Name::of(&id, &report, options.bbb.as_ref())?;
            let reason = asked.despite_report.as_deref();
            let reason = folder::nil_despite_report(out, &name, reason);
            let reason = reason.map_err(|error| match error {
                error @ FolderError::ReportOut(_) => {
                    Stop::data(format!("{error} (--despite-report REASON)"))
                }
                error => error.into(),
            })?;
            Some((name, reason))
        }
    };
    let made = outputs::make_nil(&report, &message, &findings, &wanted, &options)?;
    let mut reporter = Reporter::new(asked.diagnostics);
    reporter.all(findings.iter().chain(&made.findings))?;
    reporter.finish();
    match issue {
        Some((name, reason)) => {
            std::fs::create_dir_all(out).map_err(|e| Stop::io(out, &e))?;
            match asked.names {
                Some(names) => put_flat(out, &name, &made, names.into())?,
                None => put_issue(out, &name, &made, reason.as_deref())?,
            }
        }
        None => {
            let files = made.files.into_iter();
            let product: Vec<u8> = files.flat_map(|(_, octets)| octets).collect();
            put(out, &product)?;
        }
    }
    Ok(0)
}
