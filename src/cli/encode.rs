//! `encode` and `nil`: a report, or that there is none, in the form wanted.

use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::flight::{FlightArgs, Prepared, finish, prepare, put, read_sheets, tell_all};
use super::flights;
use super::share::{self, ShareArgs};
use super::{BulletinArgs, CodeForm, Stop, ccx, compare, draw, tell};
use crate::bufr;
use crate::code::Bbb;
use crate::draw::Theme;
use crate::finding::Finding;
use crate::json::{self, Record};
use crate::product::{self, NoCorrection};
use crate::sounding::{Grain, Report};

#[derive(Args)]
pub(super) struct EncodeArgs {
    #[command(flatten)]
    flight: FlightArgs,
    /// What is written
    #[arg(long, value_enum, default_value_t)]
    to: MessageForm,
    #[command(flatten)]
    bulletin: BulletinArgs,
    /// Correct a report that was sent: only the parts that changed since --was,
    /// as CCA, CCB …; BUFR goes out whole with the next update number
    #[arg(long, value_name = "CCx", value_parser = ccx, requires = "was", conflicts_with = "bbb")]
    correct: Option<Bbb>,
    /// The message that was sent: what --correct corrects, or what a review sheet
    /// tells the changes from
    #[arg(long, value_name = "FILE")]
    was: Option<PathBuf>,
    #[command(flatten)]
    share: ShareArgs,
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

impl MessageForm {
    /// Whether octets rather than text come out.
    fn is_bufr(self) -> bool {
        matches!(self, Self::Bufr | Self::BufrBulletin | Self::Wis2)
    }
}

/// Codes a flight.
pub(super) fn encode(asked: EncodeArgs) -> Result<u8, Stop> {
    let EncodeArgs {
        flight,
        to,
        mut bulletin,
        correct,
        was,
        share,
    } = asked;
    share.only_with(to == MessageForm::Wis2)?;
    refuse_terminal(to, &flight.output)?;
    misused_was(to, correct.is_some(), was.is_some())?;
    if to == MessageForm::Html && flight.levels.is_some() {
        return Err(usage(
            "--levels is for JSON and BUFR; a review sheet shows every row",
        ));
    }
    if to == MessageForm::Jsonl && flights::are_asked(&flight)? {
        if correct.is_some() {
            return Err(Stop {
                code: 2,
                lines: vec!["--correct is for one flight; name it with --message N".to_owned()],
            });
        }
        return flights::encode(&flight);
    }
    let mut prepared = prepare(&flight)?;
    if let (Some(letter), Some(was)) = (correct, &was) {
        correction(&mut prepared, &letter, was, to.is_bufr(), flight.levels)?;
        bulletin.bbb = Some(letter);
    }
    let mut findings = prepared.findings.clone();
    let product = match to {
        MessageForm::Text => prepared.message()?.to_string().into_bytes(),
        MessageForm::Json => {
            let record = prepared.record(flight.levels);
            json::write(vec![record]).map_err(Stop::data)?.into_bytes()
        }
        MessageForm::Jsonl => {
            let record = prepared.record(flight.levels);
            json::write_line(&record).map_err(Stop::data)?.into_bytes()
        }
        MessageForm::Bulletin => {
            let message = prepared.message()?;
            bulletin.write(&[(&prepared.report, message)])?.into_bytes()
        }
        MessageForm::Bufr | MessageForm::BufrBulletin => {
            let report = prepared.for_bufr(flight.levels);
            let (octets, notes) = octets(&report, to, &bulletin)?;
            findings.extend(notes);
            octets
        }
        MessageForm::Wis2 => {
            let report = prepared.for_bufr(flight.levels);
            let (octets, notes) = octets(&report, to, &bulletin)?;
            findings.extend(notes);
            let code = tell_all(&flight, &findings)?;
            share::share(&report, &octets, &share, &flight.output)?;
            return Ok(code);
        }
        MessageForm::Html => draw::review(&mut prepared, was.as_deref(), Theme::Auto)?.into_bytes(),
    };
    finish(&flight, &product, &findings)
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
fn misused_was(to: MessageForm, correct: bool, was: bool) -> Result<(), Stop> {
    match (to == MessageForm::Html, correct, was) {
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
fn refuse_terminal(to: MessageForm, output: &Path) -> Result<(), Stop> {
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
    let record = || Record::new(&report, Some(&message), &findings, None);
    let product = match asked.to {
        MessageForm::Text => message.to_string().into_bytes(),
        MessageForm::Json => json::write(vec![record()])
            .map_err(Stop::data)?
            .into_bytes(),
        MessageForm::Jsonl => json::write_line(&record())
            .map_err(Stop::data)?
            .into_bytes(),
        MessageForm::Bulletin => asked.bulletin.write(&[(&report, &message)])?.into_bytes(),
        MessageForm::Bufr | MessageForm::BufrBulletin => {
            let (octets, notes) = octets(&report, asked.to, &asked.bulletin)?;
            for finding in notes {
                tell(&format!("fivefig: {finding}"));
            }
            octets
        }
        MessageForm::Wis2 => {
            return Err(usage(
                "NIL is not shared: there is no sounding to notify of",
            ));
        }
        MessageForm::Html => {
            return Err(usage(
                "NIL has no review sheet: there is no flight to look at",
            ));
        }
    };
    put(&asked.output, &product)?;
    Ok(0)
}

/// Keeps the parts that changed since the message that was sent, and tells what
/// changed; BUFR gets the update number of the correction.
fn correction(
    prepared: &mut Prepared,
    letter: &Bbb,
    was: &Path,
    in_bufr: bool,
    keep: Option<super::flight::Keep>,
) -> Result<(), Stop> {
    let sent = compare::one(was)?;
    let name = was.display();
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
    if in_bufr {
        let update = letter.number();
        let before = sent.report.context.bufr.update.unwrap_or(0);
        if sent.report.grain == Grain::Bufr && before.checked_add(1) != Some(update) {
            let next = u16::from(before) + 1;
            return Err(Stop::data(format!(
                "{name}: its update number is {before}, so the next one is {next}; {} stands for {update}",
                letter.as_str()
            )));
        }
        let now = prepared.for_bufr(keep);
        let differences = product::corrected(&sent.report, &now).map_err(refused)?;
        for difference in differences {
            tell(&format!("fivefig: corrected: {difference}"));
        }
        prepared.report.context.bufr.update = Some(update);
        return Ok(());
    }
    let sent = sent.message(&name.to_string())?;
    let correction = product::correct(&sent, prepared.message()?).map_err(refused)?;
    for difference in &correction.differences {
        tell(&format!("fivefig: corrected: {difference}"));
    }
    let parts = &correction.message.parts;
    let kept = &mut prepared.report.parts;
    kept.retain(|part, _| parts.contains_key(part));
    prepared.message = Some(correction.message);
    Ok(())
}
