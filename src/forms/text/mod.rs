//! The symbolic code forms: figures of a message, its text, and back.

mod beside;
mod bulletin;
mod groups;
mod ident;
mod meaning;
mod pilot;
mod rebuild;
mod salvage;
mod sections;
mod temp;
mod templates;
mod traffic;

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::str::FromStr;

use thiserror::Error;

use crate::model::finding::{Place, finding};
use crate::model::quantity::SpeedUnit;
use crate::model::{
    At, Context, Dated, Departure, DepartureKind, Departures, Finding, Form, Hour, Noted, Part,
    PartContent, PracticeTable, Report, Resolution, Roles, StationKind, When,
};
use crate::tables;
use crate::tables::StandardLevel;
use crate::tables::figure::{FigureError, nearest_hour};

pub use beside::Beside;
pub use bulletin::{Bbb, BulletinError, Bulletins, Envelope, Heading, bufr_bulletin, bulletins};
pub use groups::{ParseError, Thermal};
pub use ident::Ident;
pub use meaning::{GroupMeaning, form_name};
pub use pilot::{Fixed, Heights, LevelPart, MaximumAt, PilotMaximum, Step, WindLevels, WindPart};
pub use rebuild::rows_as_text;
pub use sections::{CloudFigures, Sonde, SondeGroups};
pub use temp::{Maximum, Placed, SignificantPart, StandardPart, Surface};
pub(crate) use traffic::read_heading;
pub use traffic::{Received, Traffic};

#[cfg(feature = "desk")]
pub(crate) use bulletin::heading;
pub(crate) use bulletin::next_channel;
pub(crate) use meaning::cloud_words;
pub(crate) use pilot::from_report::{can_be_coded, of_section4};
pub(crate) use temp::from_report::{beside_none, cloud_figures};
pub(crate) use temp::heights::of_surfaces as heights_of_surfaces;

use groups::{Groups, Result, digits, small};

/// Why a report cannot be coded.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum CodeError {
    /// A value does not fit its figure.
    #[error("level {pressure_hpa} hPa: {source}")]
    Figure {
        /// Pressure of the level, hPa.
        pressure_hpa: f64,
        /// What does not fit.
        source: FigureError,
    },
    /// A value of the identification or of section 7 does not fit.
    #[error(transparent)]
    Ident(FigureError),
    /// Something of the identification is missing.
    #[error("the report lacks {0}")]
    Lacks(&'static str),
    /// No such code form.
    #[error("there is no PILOT form for dropsondes (FM 32 to 34); code them as TEMP")]
    NoForm,
    /// A descent.
    #[error("a descent has no text code; write it as BUFR or JSON")]
    NoTextCode,
    /// The text of a part would not give back the figures that it was made from.
    #[error(
        "the message would not be read back: part {part}, group {group} `{read}`: {what}; nothing was written"
    )]
    NotReadBack {
        /// Part letter.
        part: char,
        /// Group within the part, from 1.
        group: usize,
        /// The group that was written; empty at the end.
        read: String,
        /// What the reader expects there, or how it reads the group.
        what: String,
    },
}

/// A message, in figures.
#[derive(Clone, Debug, PartialEq)]
pub struct Message {
    /// TEMP or PILOT; a descent has no message.
    pub form: Form,
    /// Who reports.
    pub ident: Ident,
    /// YY without the 50, day of the month.
    pub day: u8,
    /// GG, hour.
    pub hour: u8,
    /// Unit of speed (YY + 50 for knots).
    pub unit: SpeedUnit,
    /// The parts there are.
    pub parts: BTreeMap<Part, Body>,
    /// Where parts that were read depart from their form; a part that does not has no
    /// entry.
    pub departures: BTreeMap<Part, Departures>,
}

static NONE: Departures = Departures {
    salvaged: false,
    practices: BTreeSet::new(),
    square: None,
    text: Vec::new(),
    damaged: Vec::new(),
    lost: Vec::new(),
};

/// What a part says.
#[derive(Clone, Debug, PartialEq)]
pub enum Body {
    /// Part A or C of TEMP.
    Standard(Box<StandardPart>),
    /// Part B or D of TEMP.
    Significant(Box<SignificantPart>),
    /// Part A or C of PILOT.
    Winds(Box<WindPart>),
    /// Part B or D of PILOT.
    Levels(Box<LevelPart>),
    /// No report.
    Nil(Nil),
}

/// A part that says only that there is no report.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Nil {
    /// The last figure of the time group: a solidus in what we write, but some
    /// services give a4 or Id.
    pub figure: Option<u8>,
    /// The groups of section 9 that give the reason; empty where the part says
    /// `NIL`.
    pub reason: Vec<String>,
}

/// The longest line (WMO-No. 386 Part II, from memory).
pub(crate) const LINE: usize = 69;

/// Longest message, octets.
const MAX_TEXT: usize = 1 << 20;

/// MiMi for a form and kind of station (table 2582).
fn letters(form: Form, kind: StationKind) -> Option<&'static str> {
    tables::report_letters()
        .iter()
        .find(|row| row.form == form && row.kind == kind)
        .map(|row| row.letters)
}

impl Message {
    /// Reads a message as [`parse`] does.
    ///
    /// # Errors
    /// The first group that breaks the form, with part and number.
    ///
    /// ```
    /// use fivefig::prelude::*;
    ///
    /// // Invented.
    /// let text = "TTAA 15110 99011 99004 04430 23006 00119 04226 22507 88999 77999=";
    /// let report = Message::parse(text)?.report();
    /// assert_eq!(report.levels[0].row.pressure_hpa, Some(1004.0));
    /// assert_eq!(report.levels[0].row.temperature_c, Some(4.4));
    /// # Ok::<(), Error>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self> {
        parse(text)
    }

    /// A part of TEMP with standard surfaces (A or C), if it is there.
    #[must_use]
    pub fn standard(&self, part: Part) -> Option<&StandardPart> {
        match self.parts.get(&part) {
            Some(Body::Standard(p)) => Some(p),
            _ => None,
        }
    }

    /// A part of TEMP with significant levels (B or D), if it is there.
    #[must_use]
    pub fn significant(&self, part: Part) -> Option<&SignificantPart> {
        match self.parts.get(&part) {
            Some(Body::Significant(p)) => Some(p),
            _ => None,
        }
    }

    /// The group that names the station: IIiii or D…D; of a drop its letters.
    fn station_group(&self) -> String {
        let groups = self.ident.groups();
        let sign = self.ident.sign().map(str::to_owned);
        sign.or_else(|| groups.into_iter().next())
            .unwrap_or_default()
    }

    /// MiMiMjMj of a part (table 2582).
    #[must_use]
    pub fn letters(&self, part: Part) -> String {
        let letter = part.letter();
        let form = letters(self.form, self.ident.kind()).unwrap_or("TT");
        format!("{form}{letter}{letter}")
    }

    /// The groups of a part; `None` when the message has no such part.
    #[must_use]
    pub fn groups(&self, part: Part) -> Option<Vec<String>> {
        let mut out = self.head_groups(part)?;
        let sets = self.sets(part).into_iter();
        out.extend(sets.flat_map(|(_, groups)| groups));
        Some(out)
    }

    /// The letters and the identification of a part.
    pub(super) fn head_groups(&self, part: Part) -> Option<Vec<String>> {
        let departures = self.departures(part);
        let last = match self.parts.get(&part)? {
            Body::Standard(p) => p.id_figure(),
            Body::Significant(p) => p.measuring,
            Body::Winds(p) => p.measuring,
            Body::Levels(p) => p.measuring,
            Body::Nil(nil) => nil.figure,
        };
        let yy = u32::from(self.day) + if self.unit == SpeedUnit::Knots { 50 } else { 0 };
        let mut out = vec![self.letters(part)];
        out.extend(self.ident.sign().map(str::to_owned));
        if !departures.has(DepartureKind::NoTime, 1) {
            out.push(format!("{yy:02}{:02}{}", self.hour, digits(last, 1)));
        }
        out.extend(self.ident.groups_with(departures));
        Some(out)
    }

    /// Where a part departs from its form.
    #[must_use]
    pub fn departures(&self, part: Part) -> &Departures {
        self.departures.get(&part).unwrap_or(&NONE)
    }

    /// What follows the identification, each level's groups by themselves.
    fn sets(&self, part: Part) -> Sets {
        let departures = self.departures(part);
        match self.parts.get(&part) {
            None => Sets::new(),
            Some(Body::Standard(p)) => p.sets(part, departures),
            Some(Body::Significant(p)) => p.sets(part, departures),
            Some(Body::Winds(p)) => p.sets(departures),
            Some(Body::Levels(p)) => p.sets(part, departures),
            Some(Body::Nil(nil)) if nil.reason.is_empty() => {
                let mut groups = vec!["NIL".to_owned()];
                groups.extend(departures.text.iter().cloned());
                vec![(Set::Other(NoLevel::Nil), groups)]
            }
            Some(Body::Nil(nil)) => {
                let mut groups = Vec::new();
                sections::write_last_sections(&nil.reason, &[], &mut groups);
                vec![(Set::Other(NoLevel::End), groups)]
            }
        }
    }

    /// Number of the first group of a set in its part, the letters being 1.
    pub(crate) fn group_of(&self, part: Part, set: Set) -> Option<usize> {
        let sets = self.sets(part);
        let at = sets.iter().position(|(s, _)| *s == set)?;
        let before: usize = sets.iter().take(at).map(|(_, groups)| groups.len()).sum();
        Some(self.head_groups(part)?.len() + before + 1)
    }

    /// The text of a part: its lines, `=` at the end of the last; `None` when
    /// the message has no such part.
    #[must_use]
    pub fn lines(&self, part: Part) -> Option<Vec<String>> {
        let groups = self.groups(part)?;
        let last = groups.len().saturating_sub(1);
        let mut lines = vec![String::new()];
        for (i, group) in groups.iter().enumerate() {
            let width = group.len() + usize::from(i == last);
            match lines.last_mut() {
                Some(line) if line.is_empty() => line.push_str(group),
                Some(line) if line.len() + 1 + width <= LINE => {
                    line.push(' ');
                    line.push_str(group);
                }
                _ => lines.push(group.clone()),
            }
        }
        if let Some(line) = lines.last_mut() {
            line.push('=');
        }
        Some(lines)
    }

    /// The report that the message gives.
    ///
    /// Times are day and hour only; positions of levels, humidity beyond the
    /// depression, and reasons are not in the text and not made up.
    #[must_use]
    pub fn report(&self) -> Report {
        let mut report = Report {
            form: self.form,
            when: When::Coded {
                day: self.day,
                hour: self.hour,
                release: None,
                date: None,
            },
            resolution: Resolution::Text,
            ..Report::empty(Context {
                station: self.ident.station(),
                ..Context::default()
            })
        };
        report.context.coding.wind_unit = self.unit;
        match self.form {
            Form::Temp | Form::Descent => temp::to_report::fill(self, &mut report),
            Form::Pilot => pilot::to_report::fill(self, &mut report),
        }
        for (&part, body) in &self.parts {
            if let Body::Nil(nil) = body {
                let kept = PartContent {
                    nil: true,
                    measuring: nil.figure,
                    regional: nil.reason.clone(),
                    ..PartContent::default()
                };
                report.parts.insert(part, kept);
            }
        }
        for (part, departures) in &self.departures {
            if let Some(kept) = report.parts.get_mut(part) {
                kept.departures = departures.clone();
            }
            self.mark_damaged(*part, departures, &mut report);
        }
        report
    }

    /// Marks the levels that lost a group.
    fn mark_damaged(&self, part: Part, departures: &Departures, report: &mut Report) {
        if departures.damaged.is_empty() {
            return;
        }
        let mut next = self.head_groups(part).map_or(0, |head| head.len()) + 1;
        for (set, groups) in self.sets(part) {
            let own = next..next + groups.len();
            next = own.end;
            if !departures.damaged.iter().any(|group| own.contains(group)) {
                continue;
            }
            let level = self.level_of(report, part, set);
            if let Some(level) = level.and_then(|i| report.levels.get_mut(i)) {
                level.at = At::Salvaged;
            }
        }
    }
}

impl FromStr for Message {
    type Err = ParseError;

    fn from_str(text: &str) -> Result<Self> {
        parse(text)
    }
}

impl fmt::Display for Message {
    /// The parts from a new line each, `=` last, a blank line between.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, lines) in Part::ALL
            .into_iter()
            .filter_map(|part| self.lines(part))
            .enumerate()
        {
            if i > 0 {
                f.write_str("\n")?;
            }
            for line in lines {
                writeln!(f, "{line}")?;
            }
        }
        Ok(())
    }
}

/// What a set of groups stands for: the nth of its kind in the part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Set {
    Surface,
    Standard(usize),
    Tropopause(usize),
    Maximum(usize),
    Thermal(usize),
    Wind(usize),
    /// Groups without a level.
    Other(NoLevel),
}

/// What groups without a level say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum NoLevel {
    /// `99/// ///// /////`: a drop that ended above the surface.
    NoSurface,
    /// 88999.
    NoTropopause,
    /// 77999.
    NoMaximum,
    /// 21212: winds follow.
    Winds,
    /// `nn/// /////`: a layer without data.
    Gap,
    /// Sections 7 to 10.
    End,
    /// NIL.
    Nil,
}

/// Sets of groups in the order of the text.
type Sets = Vec<(Set, Vec<String>)>;

/// Codes a report: the one place where values become figures.
///
/// Every text that leaves is printed from a message made here, so this is also
/// where it is read back: the text of each part must give the same figures.
///
/// # Errors
/// A value that no figure can hold, a report that lacks what identifies it, or a
/// text that would not be read back ([`CodeError::NotReadBack`]).
pub fn message(report: &Report) -> std::result::Result<Noted<Message>, CodeError> {
    let mut findings = Vec::new();
    if report.form == Form::Descent {
        return Err(CodeError::NoTextCode);
    }
    let mut kept = report.parts.values();
    let ident = match kept.any(|kept| kept.departures.has(DepartureKind::NoSign, 1)) {
        true => Ident::unsigned(&report.context)?,
        false => Ident::of(&report.context)?,
    };
    letters(report.form, ident.kind()).ok_or(CodeError::NoForm)?;
    let (day, hour, release) = time(report);
    let mut parts = match report.form {
        Form::Temp | Form::Descent => temp::from_report::parts(report, release, &mut findings)?,
        Form::Pilot => pilot::from_report::parts(report, &mut findings)?,
    };
    for (&part, kept) in report.parts.iter().filter(|(_, kept)| kept.nil) {
        let nil = Nil {
            figure: kept.measuring,
            reason: kept.regional.clone(),
        };
        parts.insert(part, Body::Nil(nil));
    }
    findings.extend(temp::regional::doubtful_layers(report));
    let own = report
        .parts
        .iter()
        .filter(|(part, kept)| parts.contains_key(*part) && !kept.departures.is_none());
    let departures = own.map(|(part, kept)| (*part, kept.departures.clone()));
    // A level may stand in several sections.
    let mut once: Vec<Finding> = Vec::with_capacity(findings.len());
    for finding in findings {
        if !once.contains(&finding) {
            once.push(finding);
        }
    }
    let message = Message {
        departures: departures.collect(),
        form: report.form,
        ident,
        day,
        hour,
        unit: report.context.coding.wind_unit,
        parts,
    };
    read_back(&message)?;
    Ok((message, once).into())
}

/// Reads the text of every part and compares it with the figures it was made from.
fn read_back(message: &Message) -> std::result::Result<(), CodeError> {
    let surfaces = message.parts.values().flat_map(surfaces_of);
    let surfaces: Vec<(Form, u16)> = surfaces.map(|p| (message.form, p)).collect();
    for part in Part::ALL {
        let Some(groups) = message.groups(part) else {
            continue;
        };
        // What was salvaged of a part of others is no part of ours.
        if message.departures(part).salvaged {
            continue;
        }
        let refused = |group: usize, what: String| CodeError::NotReadBack {
            part: part.letter(),
            group,
            read: groups
                .get(group.saturating_sub(1))
                .cloned()
                .unwrap_or_default(),
            what,
        };
        let texts: Vec<&str> = groups.iter().map(String::as_str).collect();
        let before = Known {
            heading: Some((message.day, message.hour)),
            surfaces: &surfaces,
        };
        let read = parse_part(&texts, before);
        let read = read.map(|read| read.message);
        let read = read.map_err(|error| refused(error.group, error.what.to_owned()))?;
        let again = read.groups(part).unwrap_or_default();
        let same = read.parts.get(&part) == message.parts.get(&part)
            && read.departures(part) == message.departures(part);
        if again != groups || !same {
            let same = groups.iter().zip(&again).take_while(|(a, b)| a == b);
            let at = same.count();
            let as_read = match again.get(at) {
                Some(group) => format!("it is read as `{group}`"),
                None => "the figures that are read are others".to_owned(),
            };
            return Err(refused(at + 1, as_read));
        }
        let timed = !message.departures(part).has(DepartureKind::NoTime, 1);
        let unit = |m: &Message| timed.then_some(m.unit);
        let one = |m: &Message| (m.form, m.ident.clone(), m.day, m.hour, unit(m));
        if one(&read) != one(message) {
            return Err(refused(2, "station or time are read as others".to_owned()));
        }
    }
    Ok(())
}

/// The standard surfaces of a part, hPa.
fn surfaces_of(body: &Body) -> Vec<u16> {
    match body {
        Body::Standard(p) => p.standard.iter().map(|s| s.pressure_hpa).collect(),
        Body::Winds(p) => p.standard.iter().map(|s| s.pressure_hpa).collect(),
        _ => Vec::new(),
    }
}

/// The standard surfaces that a part of a report may have: those of the station, and of a
/// text that was read those that it had.
fn surfaces_for(report: &Report, form: Form, part: Part) -> Vec<StandardLevel> {
    if report.resolution != Resolution::Text {
        return tables::station_levels(form, &report.context.coding, part);
    }
    let flagged = report
        .levels
        .iter()
        .filter(|l| l.roles.any(Roles::STANDARD));
    let pressures = flagged.filter_map(|l| l.row.pressure_hpa);
    let whole = pressures.filter_map(|p| (1..1100).find(|whole| f64::from(*whole) == p));
    let further: Vec<(Form, u16)> = whole.map(|p| (form, p)).collect();
    tables::known_levels(form, part, &further)
}

/// Day, hour GG and the clock time of release.
pub(crate) fn time(report: &Report) -> Time {
    time_by(report.when, report.context.coding.hour)
}

/// Day, hour GG and the clock time of release, where that is known.
pub(crate) type Time = (u8, u8, Option<(u8, u8)>);

/// The same by the practice of the hour.
pub(crate) fn time_by(when: When, practice: Hour) -> Time {
    let small = |v: i8| u8::try_from(v).unwrap_or(0);
    match when {
        When::Coded {
            day, hour, release, ..
        } => (day, hour, release),
        When::Full { release, standard } => {
            let clock = (small(release.hour()), small(release.minute()));
            let coded = match practice {
                Hour::Synoptic => standard,
                Hour::Launch => {
                    let (days, hour) = nearest_hour(release.hour(), release.minute());
                    let date = if days > 0 {
                        release.date().tomorrow()
                    } else {
                        Ok(release.date())
                    };
                    date.unwrap_or(release.date()).at(hour, 0, 0, 0)
                }
            };
            (small(coded.day()), small(coded.hour()), Some(clock))
        }
    }
}

/// Gives a report of text its year and month, and the instrument that rara stood for then.
/// Gives what was found; a report with a full date stays as it is.
pub fn date(report: &mut Report, dated: Dated) -> Option<Finding> {
    let When::Coded { day, date, .. } = &mut report.when else {
        return None;
    };
    let Some(found) = dated.of(*day) else {
        return Some(day_not_in_month(*day, dated, Place::default()));
    };
    let known = date.replace(found).is_some();
    if report.resolution == Resolution::Text && !known {
        let sonde = &mut report.context.equipment.radiosonde;
        let row = sonde.and_then(|figure| tables::radiosonde_from_text(figure, found));
        *sonde = row.map_or(*sonde, |row| Some(row.bufr));
    }
    None
}

pub(crate) fn day_not_in_month(day: u8, dated: Dated, place: Place) -> Finding {
    finding!(DayNotInMonth, place, day = day, month = dated.to_string())
}

/// Reads a message of one station and time: its parts in any order, each from
/// its letters (`TTAA`, `PPBB` …) to `=`, one of each at most.
///
/// # Errors
/// The first group that breaks the form, with part and number.
pub fn parse(text: &str) -> Result<Message> {
    parse_knowing(text, Known::default())
}

/// The same of a station with a table of practices of its own, whose standard surfaces the
/// reader then knows.
///
/// # Errors
/// As [`parse`].
pub fn parse_with(text: &str, practice: &PracticeTable) -> Result<Message> {
    let surfaces = tables::added_surfaces(practice);
    let before = Known {
        surfaces: &surfaces,
        ..Known::default()
    };
    parse_knowing(text, before)
}

fn parse_knowing(text: &str, before: Known<'_>) -> Result<Message> {
    let mut whole: Option<Message> = None;
    let lost = |read: &str, what| ParseError {
        part: '?',
        section: 0,
        group: 1,
        read: read.chars().take(20).collect(),
        what,
    };
    if text.len() > MAX_TEXT {
        return Err(lost("", "a message longer than 1 MiB"));
    }
    let (body, rest) = text
        .rsplit_once('=')
        .ok_or_else(|| lost("", "a part ends with ="))?;
    if !rest.trim().is_empty() {
        return Err(lost(rest.trim(), "a part ends with ="));
    }
    for one in body.split('=') {
        let groups: Vec<&str> = one.split_ascii_whitespace().collect();
        add(parse_part(&groups, before)?, &mut whole)?;
    }
    whole.ok_or_else(|| lost("", "there is no part"))
}

/// Puts a part to those of its report that were read before.
fn add(read: PartRead, whole: &mut Option<Message>) -> Result<()> {
    let PartRead { message, part, .. } = read;
    let Some(before) = whole else {
        *whole = Some(message);
        return Ok(());
    };
    let refused = |group, what| {
        let read = message.groups(part).unwrap_or_default();
        Err(ParseError {
            part: part.letter(),
            section: 1,
            group,
            read: read.get(group - 1).cloned().unwrap_or_default(),
            what,
        })
    };
    if before.form != message.form {
        return refused(1, "another code form than the part before");
    }
    if before.ident != message.ident {
        return refused(3, "another station than the part before");
    }
    if (before.day, before.hour, before.unit) != (message.day, message.hour, message.unit) {
        return refused(2, "another time or unit than the part before");
    }
    if before.parts.contains_key(&part) {
        return refused(1, "the part is there twice");
    }
    before.parts.extend(message.parts);
    before.departures.extend(message.departures);
    Ok(())
}

/// A part as it was read.
struct PartRead {
    /// A message of this part alone.
    message: Message,
    part: Part,
    /// What departs from the form, with the number of the group.
    notes: Vec<(usize, Departure)>,
}

/// What a reader knows before it reads a part.
#[derive(Clone, Copy, Debug, Default)]
struct Known<'a> {
    /// Day and hour of the heading.
    heading: Option<(u8, u8)>,
    /// Standard surfaces beside those of every Region, hPa.
    surfaces: &'a [(Form, u16)],
}

/// Reads one part, its groups from the letters to the last before `=`; a NIL without
/// YYGG has the day and hour of its heading.
fn parse_part(groups: &[&str], before: Known<'_>) -> Result<PartRead> {
    let (form, kind, part) = letters_of(groups)?;
    let mut g = Groups::new(form, part, groups).with_surfaces(before.surfaces);
    read_part(&mut g, form, kind, part, before.heading)
}

/// Form, kind of station and part of the groups of a part.
fn letters_of(groups: &[&str]) -> Result<(Form, StationKind, Part)> {
    let first = groups.first().copied().unwrap_or_default();
    known(first).ok_or_else(|| ParseError {
        part: '?',
        section: 0,
        group: 1,
        read: first.chars().take(20).collect(),
        what: "the letters of a TEMP or PILOT part, such as TTAA, are expected",
    })
}

/// Form, kind of station and part that letters MiMiMjMj name.
fn known(group: &str) -> Option<(Form, StationKind, Part)> {
    let (form, of_part) = group.split_at_checked(2)?;
    let [letter, again] = of_part.as_bytes() else {
        return None;
    };
    let part = Part::from_letter(char::from(*letter)).filter(|_| letter == again)?;
    let mut rows = tables::report_letters().iter();
    let row = rows.find(|row| form == row.letters)?;
    Some((row.form, row.kind, part))
}

fn read_part(
    g: &mut Groups<'_>,
    form: Form,
    kind: StationKind,
    part: Part,
    heading: Option<(u8, u8)>,
) -> Result<PartRead> {
    let sign = Ident::read_sign(g, kind)?;
    let mut ahead = g.clone();
    let nil_next = kind == StationKind::Land && {
        ahead.any();
        ahead.take("NIL")
    };
    let time = if nil_next { None } else { Some(time_group(g)?) };
    let ident = Ident::read(g, kind, sign)?;
    let (day, hour, unit, figure) = match (time, heading) {
        (Some(time), _) => time,
        (None, Some((day, hour))) if g.depart(DepartureKind::NoTime, 1) => {
            (day, hour, SpeedUnit::MetresPerSecond, None)
        }
        (None, _) => return Err(g.error("NIL without YYGG needs a heading with the time")),
    };
    let body = body(g, form, part, figure)?;
    let own = std::mem::take(&mut g.departures);
    let mut departures = BTreeMap::new();
    if !own.is_none() {
        departures.insert(part, own);
    }
    let mut parts = BTreeMap::new();
    parts.insert(part, body);
    Ok(PartRead {
        message: Message {
            form,
            ident,
            day,
            hour,
            unit,
            parts,
            departures,
        },
        part,
        notes: std::mem::take(&mut g.notes),
    })
}

/// YYGGId or YYGGa4: day, hour, unit and the last figure.
fn time_group(g: &mut Groups<'_>) -> Result<(u8, u8, SpeedUnit, Option<u8>)> {
    let group = g.next("YYGGId or YYGGa4 is expected")?;
    let yy: Option<u8> = group.get(..2).and_then(|v| v.parse().ok());
    let hour: Option<u8> = group.get(2..4).and_then(|v| v.parse().ok());
    let figure = small(group.get(4..)).map_err(|()| g.error("a figure or / is expected"))?;
    let (day, unit) = match yy {
        Some(yy @ 1..=31) => (yy, SpeedUnit::MetresPerSecond),
        Some(yy @ 51..=81) => (yy - 50, SpeedUnit::Knots),
        _ => return Err(g.error("YY is 01 to 31, or 51 to 81 with knots")),
    };
    let hour = hour
        .filter(|&h| h <= 23)
        .ok_or_else(|| g.error("GG is 00 to 23"))?;
    Ok((day, hour, unit, figure))
}

fn body(g: &mut Groups<'_>, form: Form, part: Part, figure: Option<u8>) -> Result<Body> {
    // A report that is none: NIL, or nothing but the reason.
    if g.take("NIL") {
        while g.peek().is_some() {
            let word = g.any();
            g.departures.text.push(word.to_owned());
        }
        return Ok(Body::Nil(Nil {
            figure,
            reason: Vec::new(),
        }));
    }
    if g.peek_is("51515") {
        let (reason, national) = sections::read_last_sections(g)?;
        if !reason.is_empty() && national.is_empty() {
            return Ok(Body::Nil(Nil { figure, reason }));
        }
        return Err(g.error("a part without levels gives the reason in section 9"));
    }
    Ok(match (form, part) {
        (Form::Temp | Form::Descent, Part::A | Part::C) => {
            Body::Standard(Box::new(temp::parse::standard(g, part, figure)?))
        }
        (Form::Temp | Form::Descent, Part::B | Part::D) => {
            Body::Significant(Box::new(temp::parse::significant(g, part, figure)?))
        }
        (Form::Pilot, Part::A | Part::C) => {
            Body::Winds(Box::new(pilot::parse::winds(g, part, figure)?))
        }
        (Form::Pilot, Part::B | Part::D) => {
            Body::Levels(Box::new(pilot::parse::levels(g, part, figure)?))
        }
    })
}
