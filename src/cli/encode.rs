//! `encode` and `nil`: a report, or that there is none, in the form wanted.

use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::flight::{
    CodeArgs, FlightArgs, ReadArgs, SourceArgs, finish, prepare, put, read_sheets, tell_all,
};
use super::share::{self, ShareArgs};
use super::{BulletinArgs, CodeForm, Stop, ccx, compare, draw, tell};
use crate::bufr;
use crate::code::Bbb;
use crate::draw::Theme;
use crate::finding::{Finding, shown_path};
use crate::json::{self, Record};
use crate::product::folder::FolderError;
use crate::product::issue::{self, Earlier, IssueError, Output, Wanted};
use crate::product::{self, Flight, NoCorrection, folder};
use crate::sounding::Report;

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
    /// So many flights are coded at a time (default: one for each processor)
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
    /// The message that was sent (for several forms, the folder of the issue): what
    /// --correct corrects, or what a review sheet tells the changes from
    #[arg(long, value_name = "FILE")]
    pub(super) was: Option<PathBuf>,
    #[command(flatten)]
    pub(super) share: ShareArgs,
}

#[derive(Args)]
pub(super) struct NilArgs {
    /// TOML about station and time; later ones win
    #[arg(long, value_name = "FILE", required = true, num_args = 1)]
    sheet: Vec<PathBuf>,
    /// What is written
    #[arg(long, value_enum, default_value_t)]
    to: MessageForm,
    /// Which code form
    #[arg(long, value_enum, default_value_t)]
    form: CodeForm,
    #[command(flatten)]
    bulletin: BulletinArgs,
    /// Where the product goes; - for standard output
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
    /// The same on one line a report; of JSON Lines of flights a line for each, with
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
        share,
        ..
    } = asked;
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
    if let (Some(letter), Some(was)) = (correct, &was) {
        correction(&mut prepared, &letter, was, to.is_bufr(), flight.how.levels)?;
        bulletin.bbb = Some(letter);
    }
    let mut findings = prepared.findings.clone();
    let keep = flight.how.levels.map(Into::into);
    let product = match to {
        MessageForm::Text | MessageForm::Json | MessageForm::Bulletin | MessageForm::Bufr => {
            let output = to.output().unwrap_or(Output::Text);
            let manner = bulletin.manner(keep);
            let (octets, notes) = issue::one(&prepared, output, &manner)?;
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
    /// Issues them, whole or not at all.
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
        let prepared = prepare(self.flight)?;
        let mut manner = self.bulletin.manner(self.flight.how.levels.map(Into::into));
        manner.bbb = self.correct.cloned().or(manner.bbb);
        let name = folder::Name::of(
            &folder::id(&prepared.report)?,
            &prepared.report,
            manner.bbb.as_ref(),
        )?;
        let earlier = match self.was {
            Some(was) => Some(sent(was, manner.bbb.as_ref())?),
            None => None,
        };
        let made = issue::make(&prepared, &wanted, &manner, earlier.as_ref())?;
        for difference in &made.differences {
            tell(&format!("fivefig: corrected: {difference}"));
        }
        let mut findings = prepared.findings.clone();
        findings.extend(made.findings);
        let code = tell_all(&self.flight.how, &findings)?;
        let files = made.files.iter();
        let files: Vec<(&str, &[u8])> = files
            .map(|(o, octets)| (o.file(), octets.as_slice()))
            .collect();
        let path = folder::place(out, &name, &files)?;
        put(Path::new("-"), format!("{}\n", path.display()).as_bytes())?;
        Ok(code)
    }
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
    let (octets, mut findings) = bufr::write(report).map_err(Stop::data)?;
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
    refuse_terminal(asked.to, &asked.output)?;
    let (sheet, findings) = read_sheets(&asked.sheet)?;
    for finding in &findings {
        tell(&format!("fivefig: {finding}"));
    }
    let (report, message) = product::nil(asked.form.into(), &sheet.context).map_err(Stop::data)?;
    let product = match (asked.to, asked.to.output()) {
        (MessageForm::Wis2, _) => {
            return Err(usage(
                "NIL is not shared: there is no sounding to notify of",
            ));
        }
        (MessageForm::Html, _) => {
            return Err(usage(
                "NIL has no review sheet: there is no flight to look at",
            ));
        }
        (_, Some(output)) => {
            let manner = asked.bulletin.manner(None);
            let wanted = Wanted::from([output]);
            let made = issue::make_nil(&report, &message, &findings, &wanted, &manner)?;
            for finding in made.findings {
                tell(&format!("fivefig: {finding}"));
            }
            made.files
                .into_iter()
                .flat_map(|(_, octets)| octets)
                .collect()
        }
        (MessageForm::BufrBulletin, _) => {
            let (octets, notes) = octets(&report, asked.to, &asked.bulletin)?;
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

/// Keeps the parts that changed since the message that was sent, and tells what
/// changed; BUFR gets the update number of the correction.
fn correction(
    prepared: &mut Flight,
    letter: &Bbb,
    was: &Path,
    in_bufr: bool,
    keep: Option<super::flight::Keep>,
) -> Result<(), Stop> {
    let sent = compare::one(was)?;
    let name = shown_path(was);
    let last = sent.headings.iter().filter_map(|h| h.bbb.as_ref());
    let last = last.filter(|b| b.is_correction()).max();
    let first = Bbb::new("CCA");
    let wanted = last.map_or(first, Bbb::next);
    if !sent.headings.is_empty() && wanted.as_ref() != Some(letter) {
        let wanted = wanted.map_or("nothing".to_owned(), |b| b.as_str().to_owned());
        return Err(Stop::data(format!(
            "{name}: the next correction is {wanted}, not {}",
            letter.as_str()
        )));
    }
    let refused = |no: NoCorrection| Stop::data(format!("{name}: {no}"));
    let differences = if in_bufr {
        issue::correct_bufr(prepared, &sent.report, letter, keep.map(Into::into))
    } else {
        let sent = sent.message(&name.to_string())?;
        issue::correct_text(prepared, &sent)
    };
    for difference in differences.map_err(refused)? {
        tell(&format!("fivefig: corrected: {difference}"));
    }
    Ok(())
}
