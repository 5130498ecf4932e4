//! `encode` and `nil`: a report, or that there is none, in the form wanted.

use std::collections::BTreeSet;
use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::flight::{
    CodeArgs, FlightArgs, ReadArgs, SourceArgs, finish, prepare, put, read_sheets, tell_all,
};
use super::share::{self, ShareArgs};
use super::{BulletinArgs, CodeForm, Stop, ccx, compare, draw, tell};
use crate::forms::bufr;
use crate::forms::json;
use crate::forms::json::Record;
use crate::forms::text::Bbb;
use crate::issue;
use crate::issue::folder::FolderError;
use crate::issue::outputs;
use crate::issue::outputs::{Earlier, IssueError, Made, Manner, Output, Wanted};
use crate::issue::{Flight, NoCorrection, early, folder};
use crate::model::finding::{Finding, shown_path};
use crate::model::{Noted, Part, Report};
use crate::view::diagram::Theme;

#[derive(Args)]
pub(super) struct EncodeArgs {
    /// The processed ascent: text with a header row, BUFR, NetCDF, an IGRA v2 station
    /// file or JSON Lines of flights; - for standard input. Several, or a folder: every
    /// one of them, with the sheet beside it (a.toml for a.csv)
    #[arg(value_name = "PROFILE", required_unless_present = "list")]
    pub(super) profiles: Vec<PathBuf>,
    /// A file of paths of profiles, a line each; - for standard input
    #[arg(long, value_name = "FILE")]
    pub(super) list: Option<PathBuf>,
    /// Number of flights coded in parallel (default: one for each processor)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(super) threads: Option<u16>,
    #[command(flatten)]
    pub(super) read: ReadArgs,
    #[command(flatten)]
    pub(super) how: CodeArgs,
    /// What is written; several of text, bulletin, json, bufr and html, with commas
    /// between them, go into a folder of their own in the folder -o
    #[arg(long, value_enum, default_value = "text", value_delimiter = ',')]
    pub(super) to: Vec<MessageForm>,
    #[command(flatten)]
    pub(super) bulletin: BulletinArgs,
    /// Correct a report that was sent: only the parts that changed since --was,
    /// as CCA, CCB …; BUFR goes out whole with the next update number
    #[arg(long, value_name = "CCx", value_parser = ccx, requires = "was", conflicts_with = "bbb")]
    pub(super) correct: Option<Bbb>,
    /// The message that was sent, or the folder of the issue with the corrections beside
    /// it: what --correct corrects, or what a review sheet tells the changes from
    #[arg(long, value_name = "FILE")]
    pub(super) was: Option<PathBuf>,
    /// Write only these parts of the text, such as CD after an early message; BUFR
    /// carries the whole sounding and refuses it
    #[arg(long, value_name = "ABCD", value_parser = super::parts, conflicts_with = "correct")]
    pub(super) parts: Option<BTreeSet<Part>>,
    /// In a folder of issues where the early message is: write every part again, not
    /// only Parts C and D and what of A and B must be corrected
    #[arg(long, conflicts_with = "parts")]
    pub(super) repeat_early: bool,
    #[command(flatten)]
    pub(super) share: ShareArgs,
}

#[derive(Args)]
pub(super) struct NilArgs {
    /// TOML about station and time; later ones win
    #[arg(long, value_name = "FILE", required = true, num_args = 1)]
    sheet: Vec<PathBuf>,
    /// What is written; several of text, bulletin, json and bufr, with commas between
    /// them, go into a folder of their own in the folder -o
    #[arg(long, value_enum, default_value = "text", value_delimiter = ',')]
    to: Vec<MessageForm>,
    /// Which code form
    #[arg(long, value_enum, default_value_t)]
    form: CodeForm,
    #[command(flatten)]
    bulletin: BulletinArgs,
    /// Send NIL although a report of the same station and time lies in the folder -o;
    /// the reason is kept in the issue
    #[arg(long, value_name = "REASON")]
    despite_report: Option<String>,
    /// Output path; a folder: the NIL goes into a folder of its own in it; - for
    /// standard output
    #[arg(short, value_name = "PATH", default_value = "-")]
    output: PathBuf,
}

#[derive(Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum MessageForm {
    /// The symbolic code, Parts A to D
    #[default]
    Text,
    /// A JSON document: values, reasons, groups, findings, fidelity
    Json,
    /// The same, one line per report; of JSON Lines of flights a line for each, with
    /// its id and the report or the error
    Jsonl,
    /// Bulletins: a heading for each part, lines after CR CR LF
    Bulletin,
    /// BUFR edition 4, the whole profile
    Bufr,
    /// The same under its heading (IUK, IUS …)
    BufrBulletin,
    /// BUFR and the WIS2 notification of it, side by side in the folder -o
    Wis2,
    /// A review sheet to look at before sending, as draw makes it
    Html,
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

impl MessageForm {
    /// The output that several of may be issued together.
    pub(super) fn output(self) -> Option<Output> {
        match self {
            Self::Text => Some(Output::Text),
            Self::Bulletin => Some(Output::Bulletin),
            Self::Json => Some(Output::Json),
            Self::Bufr => Some(Output::Bufr),
            Self::Html => Some(Output::Html),
            Self::Jsonl | Self::BufrBulletin | Self::Wis2 => None,
        }
    }

    /// A form that needs a flight is not for NIL.
    fn refuse_nil(self) -> Result<(), Stop> {
        match self {
            Self::Wis2 => Err(usage(
                "NIL is not shared: there is no sounding to notify of",
            )),
            Self::Html => Err(usage("NIL has no review sheet: there is no flight to show")),
            Self::Text
            | Self::Json
            | Self::Jsonl
            | Self::Bulletin
            | Self::Bufr
            | Self::BufrBulletin => Ok(()),
        }
    }

    /// Whether octets rather than text come out.
    fn is_bufr(self) -> bool {
        matches!(self, Self::Bufr | Self::BufrBulletin | Self::Wis2)
    }
}

/// Codes one flight.
pub(super) fn encode(asked: EncodeArgs) -> Result<u8, Stop> {
    let EncodeArgs {
        profiles,
        read,
        how,
        to,
        mut bulletin,
        correct,
        was,
        parts,
        repeat_early,
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
        [one] => *one,
        _ => {
            let folder = Folder {
                flight: &flight,
                to: &to,
                bulletin: &bulletin,
                correct: correct.as_ref(),
                was: was.as_deref(),
                parts: parts.as_ref(),
                repeat_early,
                share: &share,
            };
            return folder.issue();
        }
    };
    share.only_with(to == MessageForm::Wis2)?;
    refuse_terminal(to, &flight.how.output)?;
    misused_was(to == MessageForm::Html, correct.is_some(), was.is_some())?;
    if to == MessageForm::Html && flight.how.levels.is_some() {
        return Err(usage(
            "--levels is for JSON and BUFR; a review sheet shows every row",
        ));
    }
    let mut prepared = prepare(&flight)?;
    let keep = flight.how.levels.map(Into::into);
    let mut manner = bulletin.manner(keep);
    if let (Some(letter), Some(was)) = (correct, &was) {
        manner.unsent = correction(&mut prepared, &letter, was, to.is_bufr(), flight.how.levels)?;
        bulletin.bbb = Some(letter.clone());
        manner.bbb = Some(letter);
    }
    if let Some(parts) = &parts {
        outputs::only_parts(&mut prepared, parts)?;
    }
    let mut findings = prepared.findings.clone();
    let product = match to {
        MessageForm::Text | MessageForm::Json | MessageForm::Bulletin | MessageForm::Bufr => {
            let output = to.output().unwrap_or(Output::Text);
            let (octets, notes) = outputs::one(&prepared, output, &manner)?;
            findings.extend(notes);
            octets
        }
        MessageForm::Jsonl => {
            let record = prepared.record(keep);
            json::write_line(&record).map_err(Stop::data)?.into_bytes()
        }
        MessageForm::BufrBulletin => {
            let report = prepared.for_bufr(keep);
            let (octets, notes) = octets(&report, to, &bulletin)?;
            findings.extend(notes);
            octets
        }
        MessageForm::Wis2 => {
            let report = prepared.for_bufr(keep);
            let (octets, notes) = octets(&report, to, &bulletin)?;
            findings.extend(notes);
            let code = tell_all(&flight.how, &findings)?;
            share::share(&report, &octets, &share, &flight.how.output)?;
            return Ok(code);
        }
        MessageForm::Html => draw::review(&prepared, was.as_deref(), Theme::Auto)?.into_bytes(),
    };
    finish(&flight, &product, &findings)
}

/// Several forms of one flight, into a folder of their own.
struct Folder<'a> {
    flight: &'a FlightArgs,
    to: &'a [MessageForm],
    bulletin: &'a BulletinArgs,
    correct: Option<&'a Bbb>,
    was: Option<&'a Path>,
    parts: Option<&'a BTreeSet<Part>>,
    repeat_early: bool,
    share: &'a ShareArgs,
}

/// The outputs that go together into a folder.
pub(super) fn wanted(to: &[MessageForm]) -> Result<Wanted, Stop> {
    let wanted: Option<Wanted> = to.iter().map(|form| form.output()).collect();
    wanted.ok_or_else(|| {
        usage(
            "--to: text, bulletin, json, bufr and html go together into a folder; write the others alone",
        )
    })
}

impl Folder<'_> {
    /// Issues them, each written atomically.
    fn issue(&self) -> Result<u8, Stop> {
        self.share.only_with(false)?;
        misused_was(false, self.correct.is_some(), self.was.is_some())?;
        let wanted = wanted(self.to)?;
        let out = &self.flight.how.output;
        if out == Path::new("-") {
            return Err(usage(
                "-o: several forms are several files; name a folder for them",
            ));
        }
        std::fs::create_dir_all(out).map_err(|e| Stop::io(out, &e))?;
        let mut prepared = prepare(self.flight)?;
        let mut manner = self.bulletin.manner(self.flight.how.levels.map(Into::into));
        manner.bbb = self.correct.cloned().or(manner.bbb);
        let id = folder::id(&prepared.report)?;
        let name = folder::Name::of(&id, &prepared.report, manner.bbb.as_ref())?;
        let earlier = match self.was {
            Some(was) => Some(sent(was, manner.bbb.as_ref())?),
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
            first_issues(&mut prepared, out, &name, &wanted, &manner)?
        } else {
            let made = outputs::make(&prepared, &wanted, &manner, earlier.as_ref())?;
            vec![(name, made)]
        };
        let mut findings = prepared.findings.clone();
        for (_, made) in &issues {
            for difference in &made.differences {
                tell(&format!("fivefig: corrected: {difference}"));
            }
            findings.extend(made.findings.iter().cloned());
        }
        let code = tell_all(&self.flight.how, &findings)?;
        for (name, made) in &issues {
            put_issue(out, name, made, None)?;
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
    manner: &Manner,
) -> Result<Vec<(folder::Name, Made)>, Stop> {
    let Some(remaining) = early::remaining(flight, out, &name.with(None), wanted, manner)? else {
        let made = outputs::make(flight, wanted, manner, None)?;
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
    made: &Made,
    reason: Option<&str>,
) -> Result<(), Stop> {
    let files = made.files.iter();
    let files = files.map(|(output, octets)| (output.file(), octets.as_slice()));
    let reason = reason.map(|text| (folder::REASON, text.as_bytes()));
    let files: Vec<(&str, &[u8])> = files.chain(reason).collect();
    let path = folder::place(out, name, &files)?;
    put(Path::new("-"), format!("{}\n", path.display()).as_bytes())
}

/// The parts are those of the text.
pub(super) fn parts_refused(parts: bool, to: &[MessageForm]) -> Result<(), Stop> {
    if parts && to.iter().any(|form| form.is_bufr()) {
        return Err(usage(
            "--parts is for text, bulletin, json and jsonl; BUFR carries the whole sounding",
        ));
    }
    if parts && to == [MessageForm::Html] {
        return Err(usage(
            "--parts is for text, bulletin, json and jsonl; a review sheet shows the whole flight",
        ));
    }
    Ok(())
}

/// What was sent: the message of a file, or the issue of a folder with the
/// corrections that lie beside it.
fn sent(was: &Path, letter: Option<&Bbb>) -> Result<Earlier, Stop> {
    if was.is_dir() {
        let name = was.file_name().and_then(|name| name.to_str());
        let name = name.and_then(folder::Name::parse);
        let name =
            name.ok_or_else(|| Stop::data(format!("{}: no folder of an issue", shown_path(was))))?;
        let out = was.parent().unwrap_or(Path::new("."));
        let earlier = folder::earlier(out, &name)?;
        return earlier.ok_or_else(|| {
            Stop::data(format!(
                "{}: it is a correction of nothing",
                shown_path(was)
            ))
        });
    }
    let sent = compare::one(was)?;
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

/// A report in BUFR, under its heading where that is wanted.
pub(super) fn octets(
    report: &Report,
    to: MessageForm,
    bulletin: &BulletinArgs,
) -> Result<(Vec<u8>, Vec<Finding>), Stop> {
    let Noted {
        value: octets,
        mut findings,
    } = bufr::write(report).map_err(Stop::data)?;
    if to != MessageForm::BufrBulletin {
        return Ok((octets, findings));
    }
    let (octets, notes) = bulletin.write_bufr(report, &octets)?;
    findings.extend(notes);
    Ok((octets, findings))
}

fn usage(line: &str) -> Stop {
    let lines = vec![line.to_owned()];
    Stop { code: 2, lines }
}

/// An earlier message is for a correction, or for a review sheet.
fn misused_was(review: bool, correct: bool, was: bool) -> Result<(), Stop> {
    match (review, correct, was) {
        (true, true, _) => Err(usage(
            "--correct is for what is sent; a review sheet shows with --was alone what changed",
        )),
        (false, false, true) => Err(usage(
            "--was needs --correct CCx, or --to html to look at what changed",
        )),
        _ => Ok(()),
    }
}

/// BUFR is no text for a screen.
pub(super) fn refuse_terminal(to: MessageForm, output: &Path) -> Result<(), Stop> {
    if to.is_bufr()
        && to != MessageForm::Wis2
        && output == Path::new("-")
        && std::io::stdout().is_terminal()
    {
        return Err(Stop {
            code: 2,
            lines: vec!["BUFR is not written to a terminal; give -o FILE or a pipe".to_owned()],
        });
    }
    Ok(())
}

/// Writes that there is no report.
pub(super) fn nil(asked: &NilArgs) -> Result<u8, Stop> {
    for form in &asked.to {
        form.refuse_nil()?;
    }
    let to = match asked.to.as_slice() {
        [one] if !asked.output.is_dir() => *one,
        _ => return nil_issue(asked),
    };
    if asked.despite_report.is_some() {
        return Err(usage(
            "--despite-report is for -o DIR, the folder in which reports are looked for",
        ));
    }
    refuse_terminal(to, &asked.output)?;
    let (sheet, findings) = read_sheets(&asked.sheet)?;
    for finding in &findings {
        tell(&format!("fivefig: {finding}"));
    }
    let (report, message) = issue::nil(asked.form.into(), &sheet.context).map_err(Stop::data)?;
    let product = match (to, to.output()) {
        (_, Some(output)) => {
            let manner = asked.bulletin.manner(None);
            let wanted = Wanted::from([output]);
            let made = outputs::make_nil(&report, &message, &findings, &wanted, &manner)?;
            for finding in made.findings {
                tell(&format!("fivefig: {finding}"));
            }
            made.files
                .into_iter()
                .flat_map(|(_, octets)| octets)
                .collect()
        }
        (MessageForm::BufrBulletin, _) => {
            let (octets, notes) = octets(&report, to, &asked.bulletin)?;
            for finding in notes {
                tell(&format!("fivefig: {finding}"));
            }
            octets
        }
        _ => json::write_line(&Record::new(&report, Some(&message), &findings, None))
            .map_err(Stop::data)?
            .into_bytes(),
    };
    put(&asked.output, &product)?;
    Ok(0)
}

/// NIL into a folder of its own, where no report of the same time is out.
fn nil_issue(asked: &NilArgs) -> Result<u8, Stop> {
    let wanted = wanted(&asked.to)?;
    let out = &asked.output;
    if out == Path::new("-") {
        return Err(usage(
            "-o: several forms are several files; name a folder for them",
        ));
    }
    let (sheet, findings) = read_sheets(&asked.sheet)?;
    let (report, message) = issue::nil(asked.form.into(), &sheet.context).map_err(Stop::data)?;
    let manner = asked.bulletin.manner(None);
    let id = folder::id(&report)?;
    let name = folder::Name::of(&id, &report, manner.bbb.as_ref())?;
    let reason = folder::nil_despite_report(out, &name, asked.despite_report.as_deref());
    let reason = reason.map_err(|error| match error {
        error @ FolderError::ReportOut(_) => {
            Stop::data(format!("{error} (--despite-report REASON)"))
        }
        error => error.into(),
    })?;
    let made = outputs::make_nil(&report, &message, &findings, &wanted, &manner)?;
    for finding in findings.iter().chain(&made.findings) {
        tell(&format!("fivefig: {finding}"));
    }
    std::fs::create_dir_all(out).map_err(|e| Stop::io(out, &e))?;
    put_issue(out, &name, &made, reason.as_deref())?;
    Ok(0)
}

/// Keeps the parts that changed since the message that was sent, and tells what
/// changed; BUFR gets the update number of the correction. The parts that were not sent
/// before.
fn correction(
    prepared: &mut Flight,
    letter: &Bbb,
    was: &Path,
    in_bufr: bool,
    keep: Option<super::flight::Keep>,
) -> Result<BTreeSet<Part>, Stop> {
    let earlier = sent(was, Some(letter))?;
    let name = shown_path(was);
    let wanted = outputs::following(earlier.last.as_ref());
    if wanted.as_ref() != Some(letter) {
        let wanted = wanted.map_or("nothing".to_owned(), |b| b.as_str().to_owned());
        return Err(Stop::data(format!(
            "{name}: the next correction is {wanted}, not {}",
            letter.as_str()
        )));
    }
    *prepared = prepared.after(&earlier)?;
    let refused = |no: NoCorrection| Stop::data(format!("{name}: {no}"));
    let mut unsent = BTreeSet::new();
    let differences = if in_bufr {
        outputs::correct_bufr(prepared, &earlier.report, letter, keep.map(Into::into))
    } else {
        let was = match earlier.message {
            Some(message) => message,
            // Why it has none.
            None => compare::one(was)?.message(&name.to_string())?,
        };
        let differences = outputs::correct_text(prepared, &was);
        unsent.extend(outputs::unsent(prepared, &was));
        differences
    };
    for difference in differences.map_err(refused)? {
        tell(&format!("fivefig: corrected: {difference}"));
    }
    Ok(unsent)
}
