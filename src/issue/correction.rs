//! Corrections: what was sent before, and what of a report goes out again.

use thiserror::Error;

use crate::forms::bufr;
use crate::forms::text;
use crate::forms::text::{Bbb, Message};
use crate::model::{Part, Report, Resolution, When};
use crate::verify::compare::{Difference, Tolerance, compare};

/// What was sent before, for a correction.
#[derive(Clone, Debug)]
pub struct Earlier {
    /// What it is called: the last folder of the issue, or a file.
    pub name: String,
    /// The message in figures, where it has a text code.
    pub message: Option<Message>,
    /// The report, in the resolution of the form it was read from.
    pub report: Report,
    /// The last correction that was sent.
    pub last: Option<Bbb>,
    /// How many corrections of the early message stand before the whole report: they
    /// have letters, but BUFR of the whole report is not counted over them.
    pub of_early: u8,
}

/// The correction that follows: CCA first; `None` after CCX.
#[must_use]
pub fn following(last: Option<&Bbb>) -> Option<Bbb> {
    last.map_or_else(|| Bbb::new("CCA"), Bbb::next)
}

/// A corrected report: the parts that changed, and how.
#[derive(Clone, Debug)]
pub struct Correction {
    /// The message with the changed parts alone.
    pub message: Message,
    /// What changed, level by level, the earlier message on the left.
    pub differences: Vec<Difference>,
}

/// Compares a report with the one that was sent, and keeps the parts that are to go out
/// again.
///
/// # Errors
/// Another station, time or form than the one that was sent; nothing changed.
pub fn correct(was: &Message, now: &Message) -> Result<Correction, NoCorrection> {
    same_report(was, now)?;
    let mut message = now.clone();
    message
        .parts
        .retain(|&part, _| was.groups(part) != now.groups(part));
    if let Some(part) = was.parts.keys().find(|part| !now.parts.contains_key(part)) {
        return Err(NoCorrection::Gone(part.letter()));
    }
    if message.parts.is_empty() {
        return Err(NoCorrection::Nothing);
    }
    let (left, right) = (was.report(), now.report());
    let tolerance = Tolerance::coarser(&left, &right);
    let differences = compare(&left, &right, &tolerance);
    Ok(Correction {
        message,
        differences,
    })
}

/// Refuses the message of another report than the one that was sent.
pub(super) fn same_report(was: &Message, now: &Message) -> Result<(), NoCorrection> {
    if (was.form, &was.ident) != (now.form, &now.ident) {
        return Err(NoCorrection::Another("station or form"));
    }
    if (was.day, was.hour) != (now.day, now.hour) {
        return Err(NoCorrection::Another("time"));
    }
    Ok(())
}

/// Compares a report in BUFR with the one that was sent: what changed, level by
/// level, the earlier one on the left. The whole message goes out again.
///
/// # Errors
/// Another station, time or form than the one that was sent; nothing changed.
pub fn corrected(was: &Report, now: &Report) -> Result<Vec<Difference>, NoCorrection> {
    let who = |report: &Report| {
        let station = &report.context.station;
        let (block, number) = (station.wmo_block, station.wmo_number);
        (
            report.form,
            station.kind,
            block,
            number,
            station.call_sign.clone(),
        )
    };
    if who(was) != who(now) {
        return Err(NoCorrection::Another("station or form"));
    }
    let same_time = match (was.when, now.when) {
        (When::Full { standard: a, .. }, When::Full { standard: b, .. }) => a == b,
        _ => text::time(was).0 == text::time(now).0 && text::time(was).1 == text::time(now).1,
    };
    if !same_time {
        return Err(NoCorrection::Another("time"));
    }
    let sent = |part: &Part| was.parts.get(part).is_some_and(|kept| !kept.nil);
    let there = |part: &Part| now.parts.get(part).is_some_and(|kept| !kept.nil);
    if let Some(part) = Part::ALL.iter().find(|part| sent(part) && !there(part)) {
        return Err(NoCorrection::Gone(part.letter()));
    }
    let top = was.levels.iter().filter_map(|l| l.row.pressure_hpa);
    let reached = top.fold(f64::INFINITY, f64::min) <= 100.0;
    if reached && !sent(&Part::C) && there(&Part::C) {
        return Err(NoCorrection::Second);
    }
    let mut differences = compare(was, now, &Tolerance::coarser(was, now));
    let message = |report: &Report| Some(bufr::from_report(report).ok()?.value);
    let both = message(was).zip(message(now));
    let same = match (&both, was.resolution) {
        (Some((l, r)), Resolution::Bufr) => {
            let reported = bufr::head_changes(l, r);
            let same = l.values == r.values && reported.is_empty();
            let changed = reported.into_iter().map(|(what, left, right)| {
                let what = what.into();
                Difference::Identity { what, left, right }
            });
            differences.splice(0..0, changed);
            same
        }
        _ => differences.is_empty(),
    };
    if same {
        return Err(NoCorrection::Nothing);
    }
    Ok(differences)
}

/// Why there is no correction.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum NoCorrection {
    /// Not the same report.
    #[error("the earlier message is of another {0}; correct one of the same station and time")]
    Another(&'static str),
    /// The whole sounding after the early message.
    #[error(
        "the earlier message ends at 100 hPa; issue the complete sounding as the second message of the flight, which is not a correction"
    )]
    Second,
    /// A part that was sent is not there any more.
    #[error("Part {0} was sent and is missing now; a correction cannot withdraw a part")]
    Gone(char),
    /// The update number of BUFR that was sent, and the letter, do not follow each
    /// other.
    #[error(
        "its update number is {before}, so the next one is {}; {letter} stands for {update}",
        u16::from(*.before) + 1
    )]
    Update {
        /// The one that was sent.
        before: u8,
        /// The letter of the correction.
        letter: String,
        /// The number it stands for.
        update: u8,
    },
    /// Every part that was sent is the same.
    #[error("nothing has changed since the earlier message: there is nothing to correct")]
    Nothing,
}
