//! Bulletins of the telecommunication system: heading, reports, envelope
//! (WMO-No. 386 Part II and Attachment II-5).

use std::collections::BTreeMap;
use std::fmt;

use thiserror::Error;

use super::Message;
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Form, Part, Report, When};
use crate::tables;

/// The alignment function between lines.
const BREAK: &str = "\r\r\n";

/// The group BBB of a late, corrected or amended bulletin.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Bbb(String);

impl Bbb {
    /// RRA to RRX, CCA to CCX, AAA to AAX (WMO-No. 386 Part II, table of BBB).
    #[must_use]
    pub fn new(text: &str) -> Option<Self> {
        let (kind, letter) = text.split_at_checked(2)?;
        let ok = ["RR", "CC", "AA"].contains(&kind) && matches!(letter.as_bytes(), [b'A'..=b'X']);
        ok.then(|| Self(text.to_owned()))
    }

    /// The next of its kind: CCB after CCA; `None` after X.
    #[must_use]
    pub fn next(&self) -> Option<Self> {
        let (kind, letter) = self.0.split_at_checked(2)?;
        let letter = char::from(letter.bytes().next()?.checked_add(1)?);
        Self::new(&format!("{kind}{letter}"))
    }

    /// Which of its kind it is: 1 for A.
    #[must_use]
    pub fn number(&self) -> u8 {
        let letter = self.0.bytes().last().unwrap_or(b'A');
        letter.saturating_sub(b'A').saturating_add(1)
    }

    /// Whether it marks a correction.
    #[must_use]
    pub fn is_correction(&self) -> bool {
        self.0.starts_with("CC")
    }

    /// The group.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// An abbreviated heading: T1T2A1A2ii CCCC YYGGgg (BBB).
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Heading {
    /// T1T2A1A2ii.
    pub designator: String,
    /// CCCC.
    pub centre: String,
    /// YY, day of the standard time.
    pub day: u8,
    /// GG and gg.
    pub clock: (u8, u8),
    /// BBB.
    pub bbb: Option<Bbb>,
}

impl fmt::Display for Heading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (hour, minute) = self.clock;
        write!(
            f,
            "{} {} {:02}{hour:02}{minute:02}",
            self.designator, self.centre, self.day
        )?;
        match &self.bbb {
            Some(bbb) => write!(f, " {}", bbb.as_str()),
            None => Ok(()),
        }
    }
}

/// Why there is no bulletin.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum BulletinError {
    /// A piece of the heading is missing.
    #[error("bulletin.{0}: missing from the sheet; write {1} under [bulletin]")]
    Lacks(&'static str, &'static str),
    /// No designator for this form and kind.
    #[error(
        "there is no heading for Part {0} of this form and kind of station (WMO-No. 386 Att. II-5)"
    )]
    NoDesignator(char),
}

/// What stands around a bulletin.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Envelope {
    /// Channel sequence number nnn of the starting line, 0–999; `None` for a
    /// bulletin without starting line and end of message.
    pub channel: Option<u16>,
}

/// The channel sequence number after another: after 999 it starts again (000 is left
/// out by custom).
pub(crate) fn next_channel(number: u16) -> u16 {
    if number >= 999 { 1 } else { number + 1 }
}

/// The heading of a part.
pub(crate) fn heading(
    report: &Report,
    message: &Message,
    part: Part,
    bbb: Option<&Bbb>,
) -> Result<Heading, BulletinError> {
    let area = report.context.bulletin.area.as_deref();
    let area = area.ok_or(BulletinError::Lacks("area", "area = \"XX\" (A1A2)"))?;
    let letters = tables::text_heading(message.form, message.ident.kind(), part)
        .ok_or(BulletinError::NoDesignator(part.letter()))?
        .letters;
    named(report, &format!("{letters}{area}"), bbb)
}

/// The heading of a designator without its number.
fn named(report: &Report, designator: &str, bbb: Option<&Bbb>) -> Result<Heading, BulletinError> {
    let bulletin = &report.context.bulletin;
    let ii = bulletin.ii.ok_or(BulletinError::Lacks("ii", "ii = 1"))?;
    let centre = bulletin.centre.as_deref();
    let centre = centre.ok_or(BulletinError::Lacks("centre", "centre = \"XXXX\" (CCCC)"))?;
    let small = |v: i8| u8::try_from(v).unwrap_or(0);
    let (day, clock) = match report.when {
        When::Full { standard, .. } => (
            small(standard.day()),
            (small(standard.hour()), small(standard.minute())),
        ),
        // A message that was read does not say which standard time it serves.
        When::Coded { day, hour, .. } => (day, (hour, 0)),
    };
    Ok(Heading {
        designator: format!("{designator}{ii:02}"),
        centre: centre.to_owned(),
        day,
        clock,
        bbb: bbb.cloned(),
    })
}

/// Collects the texts of messages for bulletins, those of one heading together.
///
/// Every report begins on a new line; lines have at most 69 characters and begin after
/// CR CR LF. A stream of any length is written in pieces: [`Self::take`] gives out what was
/// collected, and the numbers of the channel go on.
#[derive(Clone, Debug)]
pub struct Bulletins {
    bbb: Option<Bbb>,
    channel: Option<u16>,
    reports: usize,
    texts: BTreeMap<Heading, Text>,
}

/// What stands under a heading.
#[derive(Clone, Debug)]
struct Text {
    /// The first part and the number of its report: bulletins follow in this order.
    first: (Part, usize),
    lines: BTreeMap<Part, Vec<String>>,
}

impl Bulletins {
    /// No bulletin yet.
    #[must_use]
    pub fn new(bbb: Option<&Bbb>, envelope: Envelope) -> Self {
        Self {
            bbb: bbb.cloned(),
            channel: envelope.channel,
            reports: 0,
            texts: BTreeMap::new(),
        }
    }

    /// Adds the parts of a message.
    ///
    /// # Errors
    /// A piece of the heading that the sheets do not give.
    pub fn add(&mut self, report: &Report, message: &Message) -> Result<(), BulletinError> {
        for part in Part::ALL {
            let Some(lines) = message.lines(part) else {
                continue;
            };
            let heading = heading(report, message, part, self.bbb.as_ref())?;
            let here = (part, self.reports);
            let text = self.texts.entry(heading).or_insert_with(|| Text {
                first: here,
                lines: BTreeMap::new(),
            });
            text.first = text.first.min(here);
            text.lines.entry(part).or_default().extend(lines);
        }
        self.reports += 1;
        Ok(())
    }

    /// How many reports were added since the last [`Self::take`].
    #[must_use]
    pub fn reports(&self) -> usize {
        self.reports
    }

    /// The bulletins of the reports that were added, in the order of the first report of
    /// each.
    pub fn take(&mut self) -> String {
        self.reports = 0;
        let mut texts: Vec<_> = std::mem::take(&mut self.texts).into_iter().collect();
        texts.sort_by_key(|(_, text)| text.first);
        let mut out = String::new();
        for (heading, text) in texts {
            if let Some(number) = self.channel {
                out.push_str(&format!("\u{1}{BREAK}{number:03}{BREAK}"));
                self.channel = Some(next_channel(number));
            }
            out.push_str(&heading.to_string());
            for line in text.lines.values().flatten() {
                out.push_str(BREAK);
                out.push_str(line);
            }
            out.push_str(BREAK);
            if self.channel.is_some() {
                out.push('\u{3}');
            }
        }
        out
    }
}

/// The bulletins of one or more messages ([`Bulletins`]).
///
/// # Errors
/// A piece of the heading that the sheets do not give.
pub fn bulletins(
    messages: &[(&Report, &Message)],
    bbb: Option<&Bbb>,
    envelope: Envelope,
) -> Result<String, BulletinError> {
    let mut all = Bulletins::new(bbb, envelope);
    for (report, message) in messages {
        all.add(report, message)?;
    }
    Ok(all.take())
}

/// A BUFR message as a bulletin: IUK to 100 hPa, IUS whole, IUW and IUJ for PILOT,
/// IUD for drops; A2 as the sheet says, or by the quarter of the globe.
///
/// # Errors
/// A piece of the heading that the sheets do not give.
pub fn bufr_bulletin(
    report: &Report,
    octets: &[u8],
    bbb: Option<&Bbb>,
    envelope: Envelope,
) -> Result<(Vec<u8>, Vec<Finding>), BulletinError> {
    let mut findings = Vec::new();
    let context = &report.context;
    let form = match report.form {
        Form::Descent => {
            findings.push(finding!(HeadingOfTemp, Place::key("bulletin")));
            Form::Temp
        }
        form => form,
    };
    let row = tables::bufr_heading(form, context.station.kind, report.reach)
        .ok_or(BulletinError::NoDesignator('A'))?;
    let station = &context.station;
    let letter = match context.bulletin.bufr_area {
        Some(letter) => letter,
        None => {
            let place = station.latitude_deg.zip(station.longitude_deg);
            let letter = place.and_then(|(lat, lon)| tables::area_letter(lat, lon));
            let lacks = BulletinError::Lacks("bufr_area", "bufr_area = \"X\" (A2)");
            let letter = letter.ok_or(lacks)?;
            let place = Place::key("bulletin.bufr_area");
            findings.push(finding!(AreaAssumed, place, letter = letter));
            letter
        }
    };
    let heading = named(report, &format!("{}{letter}", row.letters), bbb)?;
    if let (Some((from, to)), Some(ii)) = (row.ii(), context.bulletin.ii)
        && !(from..=to).contains(&ii)
    {
        let place = Place::key("bulletin.ii");
        findings.push(finding!(IiUnusual, place, ii = ii, from = from, to = to));
    }
    let mut out = Vec::with_capacity(octets.len() + 64);
    if let Some(number) = envelope.channel {
        out.extend_from_slice(format!("\u{1}{BREAK}{number:03}{BREAK}").as_bytes());
    }
    out.extend_from_slice(format!("{heading}{BREAK}").as_bytes());
    out.extend_from_slice(octets);
    out.extend_from_slice(BREAK.as_bytes());
    if envelope.channel.is_some() {
        out.push(3);
    }
    Ok((out, findings))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bbb_is_one_of_three_kinds_and_a_letter_to_x() {
        // WMO-No. 386 Part II, table of BBB: RR, CC, AA with A to X.
        for good in ["RRA", "CCX", "AAB"] {
            assert_eq!(Bbb::new(good).map(|b| b.0), Some(good.to_owned()));
        }
        for bad in ["", "RR", "RRY", "COR", "RRa", "CCAA", "RTD", "é"] {
            assert_eq!(Bbb::new(bad), None, "{bad}");
        }
    }

    #[test]
    fn a_heading_as_published() {
        // A real heading of 2026: USUS01 KWBC 061200 RRB.
        let heading = Heading {
            designator: "USUS01".to_owned(),
            centre: "KWBC".to_owned(),
            day: 6,
            clock: (12, 0),
            bbb: Bbb::new("RRB"),
        };
        assert_eq!(heading.to_string(), "USUS01 KWBC 061200 RRB");
    }
}
