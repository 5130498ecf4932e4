//! Messages as traffic brings them: bulletins one after the other, any number
//! of reports in each, untidy round the edges.
//!
//! What is in a part is read strictly, by position; what stands around it is
//! not. Nothing is dropped silently: every word ends in a report, in a section
//! kept as it stands, or in a finding with its place.

use std::collections::{HashMap, VecDeque};

use itertools::Itertools;

use super::bulletin::{Bbb, Heading};
use super::{Ident, Message, ParseError, known, parse_part};
use crate::model::finding::{Finding, Place, finding};
use crate::model::quantity::SpeedUnit;
use crate::model::{Form, Part, Region, StationKind};
use crate::tables;

/// How many reports stay open for further parts.
const WINDOW: usize = 4096;

/// The most words of one part; what is longer is no message.
const MAX_WORDS: usize = 4000;

/// A word, and where it stands.
#[derive(Clone, Debug)]
struct Word {
    text: String,
    line: usize,
    column: usize,
}

/// A report that left the window, or was open at the end.
#[derive(Clone, Debug, PartialEq)]
pub struct Received {
    /// The message, of the parts that could be read.
    pub message: Message,
    /// The headings that its parts stood under, each once.
    pub headings: Vec<Heading>,
    /// The text of each part as received, words separated by one blank.
    pub raw: Vec<(Part, String)>,
    /// Line and column of every group of each part, the letters first.
    pub places: Vec<(Part, Vec<(usize, usize)>)>,
    /// What was found in its parts.
    pub findings: Vec<Finding>,
}

impl Received {
    /// Gives findings that name part and group the line and column in the file.
    #[must_use]
    pub fn placed(&self, name: &str, mut findings: Vec<Finding>) -> Vec<Finding> {
        for finding in &mut findings {
            let place = &mut finding.place;
            let part = place.part.and_then(Part::from_letter);
            let group = place.group.and_then(|g| g.checked_sub(1));
            let words = self.places.iter().find(|(p, _)| Some(*p) == part);
            place.file = Some(name.to_owned());
            if let (Some((_, words)), Some(group)) = (words, group)
                && let Some(&(line, column)) = words.get(group)
            {
                place.line = Some(line);
                place.column = Some(column);
            }
        }
        findings
    }
}

/// What makes parts belong together.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
struct Key {
    form: Form,
    ident: Ident,
    day: u8,
    hour: u8,
    knots: bool,
}

impl Key {
    fn of(message: &Message) -> Self {
        Self {
            form: message.form,
            ident: message.ident.clone(),
            day: message.day,
            hour: message.hour,
            knots: message.unit == SpeedUnit::Knots,
        }
    }
}

/// Reads traffic line by line.
#[derive(Debug, Default)]
pub struct Traffic {
    name: String,
    line: usize,
    heading: Option<Heading>,
    /// Letters of the part before in this bulletin, for reports without them.
    letters: Option<String>,
    /// Whether the last line may be followed by a channel number.
    started: bool,
    part: Vec<Word>,
    open: VecDeque<Received>,
    /// Numbers of the open reports; the first in `open` is number `gone`.
    index: HashMap<Key, usize>,
    gone: usize,
    out: Vec<Received>,
    findings: Vec<Finding>,
}

impl Traffic {
    /// Traffic from a file of that name.
    #[must_use]
    pub fn new(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            ..Self::default()
        }
    }

    /// Takes the next line, without or with its line break.
    pub fn push(&mut self, text: &str) {
        self.line += 1;
        if text.contains(['\u{1}', '\u{2}']) {
            self.started = true;
        }
        let ends = text.contains('\u{3}');
        let clean: String = text
            .chars()
            .map(|c| if c.is_control() { ' ' } else { c })
            .collect();
        let words = words(&clean, self.line);
        if !self.is_envelope(&words) {
            for word in words {
                self.word(word);
            }
        }
        if ends {
            self.end_of_message();
        }
    }

    /// Reports that have left the window since the last call.
    pub fn take(&mut self) -> Vec<Received> {
        std::mem::take(&mut self.out)
    }

    /// Findings that belong to no report, since the last call.
    pub fn take_findings(&mut self) -> Vec<Finding> {
        std::mem::take(&mut self.findings)
    }

    /// Ends the reading: the part and the reports that are still open are given
    /// out by [`Self::take`].
    pub fn finish(&mut self) {
        self.close(false);
        self.out.extend(self.open.drain(..));
        self.index.clear();
    }

    /// Starting lines, headings and ends of messages.
    fn is_envelope(&mut self, words: &[Word]) -> bool {
        let texts: Vec<&str> = words.iter().map(|w| w.text.as_str()).collect();
        let number = |t: &str| (1..=5).contains(&t.len()) && t.bytes().all(|b| b.is_ascii_digit());
        match texts.as_slice() {
            [] => return true,
            ["ZCZC", ..] => {
                self.end_of_message();
                self.started = true;
                return true;
            }
            ["NNNN"] => {
                self.end_of_message();
                return true;
            }
            [one] if number(one) && (self.started || self.part.is_empty()) => {
                self.started = false;
                return true;
            }
            _ => {}
        }
        let Some((heading, unknown)) = heading(&texts) else {
            return false;
        };
        self.close(false);
        self.started = false;
        self.letters = None;
        if let (Some(word), Some(first)) = (unknown, words.first()) {
            let finding = finding!(HeadingBbb, self.place(first), word = word);
            self.findings.push(finding);
        }
        self.heading = Some(heading);
        true
    }

    fn end_of_message(&mut self) {
        self.close(false);
        self.heading = None;
        self.letters = None;
        self.started = false;
    }

    fn place(&self, word: &Word) -> Place {
        Place::line(&self.name, word.line).at_column(word.column)
    }

    fn word(&mut self, word: Word) {
        let mut column = word.column;
        let mut pieces = word.text.split('=').peekable();
        while let Some(piece) = pieces.next() {
            if !piece.is_empty() {
                self.piece(Word {
                    text: piece.to_owned(),
                    line: word.line,
                    column,
                });
            }
            column += piece.chars().count() + 1;
            if pieces.peek().is_some() {
                self.close(true);
            }
        }
    }

    fn piece(&mut self, word: Word) {
        if known(&word.text.to_ascii_uppercase()).is_some() {
            self.close(false);
            self.letters = Some(word.text.to_ascii_uppercase());
            self.part.push(word);
            return;
        }
        if !self.part.is_empty() {
            if self.part.len() < MAX_WORDS {
                self.part.push(word);
            } else {
                let finding = finding!(PartTooLong, self.place(&word), most = MAX_WORDS);
                self.findings.push(finding);
                self.close(false);
            }
            return;
        }
        // Between two reports of a bulletin: the letters may stand but once.
        let time = word.text.len() == 5 && word.text.bytes().take(4).all(|b| b.is_ascii_digit());
        let place = self.place(&word);
        match (&self.letters, time) {
            (Some(letters), true) => {
                self.findings
                    .push(finding!(LettersMissing, place, letters = letters));
                self.part.push(Word {
                    text: letters.clone(),
                    ..word.clone()
                });
                self.part.push(word);
            }
            _ if word.text.eq_ignore_ascii_case("NIL") => {
                self.findings.push(finding!(BulletinNil, place));
            }
            _ => {
                let shown: String = word.text.chars().take(20).collect();
                self.findings.push(finding!(StrayWord, place, word = shown));
            }
        }
    }

    /// Ends the part that is being read; `properly` by `=`.
    fn close(&mut self, properly: bool) {
        let words = std::mem::take(&mut self.part);
        let (Some(first), Some(last)) = (words.first(), words.last()) else {
            return;
        };
        let mut findings = Vec::new();
        let Some((_, _, part)) = known(&first.text.to_ascii_uppercase()) else {
            return;
        };
        let within = |mut place: Place| {
            place.part = Some(part.letter());
            place
        };
        if !properly {
            findings.push(finding!(EndMissing, within(self.place(last))));
        }
        let raw = words.iter().map(|w| &w.text).join(" ");
        let capitals = || {
            let groups = words.iter().map(|w| w.text.to_ascii_uppercase());
            groups.collect::<Vec<String>>()
        };
        if raw.chars().any(|c| c.is_ascii_lowercase()) {
            findings.push(finding!(SmallLetters, within(self.place(first))));
        }
        let read = parse_part(capitals()).or_else(|error| {
            // A wrong Id alone need not cost the part: the groups show what it is.
            let (message, at, fits) = with_another_id(capitals()).ok_or(error)?;
            let word = words.get(at).unwrap_or(last);
            let mut place = within(self.place(word));
            place.group = Some(at + 1);
            findings.push(finding!(IdWrong, place, word = word.text, fits = fits));
            Ok::<_, ParseError>(message)
        });
        match read {
            Ok(message) => {
                let places = words.iter().map(|w| (w.line, w.column)).collect();
                self.join(message, part, (raw, places), findings);
            }
            Err(error) => {
                let word = words.get(error.group.saturating_sub(1)).unwrap_or(last);
                let mut place = within(self.place(word));
                place.group = Some(error.group);
                place.section = Some(error.section).filter(|s| *s > 0);
                let read = if error.read.is_empty() {
                    "the part ends".to_owned()
                } else {
                    format!("`{}`", error.read)
                };
                self.findings.extend(findings);
                // All of it: nothing that came in is lost.
                self.findings.push(finding!(
                    Malformed,
                    place,
                    read = read,
                    problem = error.what,
                    [raw = raw]
                ));
            }
        }
    }

    /// Puts a part to its report.
    fn join(
        &mut self,
        message: Message,
        part: Part,
        (raw, places): (String, Vec<(usize, usize)>),
        mut findings: Vec<Finding>,
    ) {
        let key = Key::of(&message);
        let heading = self.heading.clone();
        let corrects = heading
            .as_ref()
            .and_then(|h| h.bbb.as_ref())
            .is_some_and(Bbb::is_correction);
        let place = || Place {
            part: Some(part.letter()),
            ..Place::line(&self.name, self.line)
        };
        let at = self.index.get(&key).and_then(|n| n.checked_sub(self.gone));
        if let Some(report) = at.and_then(|i| self.open.get_mut(i)) {
            let own = message.parts.get(&part);
            let there = report.message.parts.get(&part);
            let (joins, reported) = match there {
                None => (true, None),
                Some(_) if there == own => (true, Some(finding!(PartTwice, place()))),
                Some(_) if corrects => (true, Some(finding!(PartCorrected, place()))),
                Some(_) => (false, Some(finding!(PartDiffers, place()))),
            };
            findings.extend(reported);
            if joins {
                if let Some(body) = own {
                    report.message.parts.insert(part, body.clone());
                }
                report.raw.retain(|(p, _)| *p != part);
                report.raw.push((part, raw));
                report.places.retain(|(p, _)| *p != part);
                report.places.push((part, places));
                report.findings.extend(findings);
                if let Some(heading) = heading
                    && !report.headings.contains(&heading)
                {
                    report.headings.push(heading);
                }
                return;
            }
        }
        self.index.insert(key, self.gone + self.open.len());
        self.open.push_back(Received {
            message,
            headings: heading.into_iter().collect(),
            raw: vec![(part, raw)],
            places: vec![(part, places)],
            findings,
        });
        if self.open.len() > WINDOW
            && let Some(oldest) = self.open.pop_front()
        {
            let key = Key::of(&oldest.message);
            if self.index.get(&key) == Some(&self.gone) {
                self.index.remove(&key);
            }
            self.gone += 1;
            self.out.push(oldest);
        }
    }
}

/// A part whose groups are sound under another Id than its own: the message,
/// where Id stands (an index) and what it should be.
fn with_another_id(mut groups: Vec<String>) -> Option<(Message, usize, String)> {
    let (form, kind, part) = known(groups.first()?)?;
    if form != Form::Temp || !matches!(part, Part::A | Part::C) {
        return None;
    }
    let signed = matches!(kind, StationKind::Ship | StationKind::Mobile);
    let at = 1 + usize::from(signed);
    let time = groups.get(at)?.clone();
    let own = time.get(4..).filter(|own| own.len() == 1)?;
    let of_levels = tables::temp_levels(Region::IV, part).filter_map(|level| level.id_figure);
    let figures = of_levels.map(|figure| figure.to_string());
    for fits in figures.chain(["/".to_owned()]).filter(|fits| fits != own) {
        let id = groups.get_mut(at)?;
        id.replace_range(4.., &fits);
        if let Ok(message) = parse_part(groups.clone()) {
            return Some((message, at, fits));
        }
    }
    None
}

/// The words of a line, with columns from 1.
fn words(line: &str, number: usize) -> Vec<Word> {
    let mut words: Vec<Word> = Vec::new();
    let mut inside = false;
    for (column, c) in line.chars().enumerate() {
        if c.is_whitespace() {
            inside = false;
            continue;
        }
        if !inside {
            words.push(Word {
                text: String::new(),
                line: number,
                column: column + 1,
            });
            inside = true;
        }
        if let Some(word) = words.last_mut() {
            word.text.push(c);
        }
    }
    words
}

/// An abbreviated heading, and a fourth word that is no BBB.
fn heading(texts: &[&str]) -> Option<(Heading, Option<String>)> {
    let (first, rest) = texts.split_first()?;
    let (centre, rest) = rest.split_first()?;
    let (time, rest) = rest.split_first()?;
    if rest.len() > 1 {
        return None;
    }
    let designator = first.to_ascii_uppercase();
    let (letters, figures) = designator.split_at_checked(4)?;
    let ok = letters.bytes().all(|b| b.is_ascii_uppercase())
        && (1..=2).contains(&figures.len())
        && figures.bytes().all(|b| b.is_ascii_digit())
        && centre.len() == 4
        && centre.bytes().all(|b| b.is_ascii_alphanumeric())
        && time.len() == 6
        && time.bytes().all(|b| b.is_ascii_digit());
    if !ok {
        return None;
    }
    let two = |range: std::ops::Range<usize>| time.get(range)?.parse().ok();
    let fourth = rest.first().map(|w| w.to_ascii_uppercase());
    let bbb = fourth.as_deref().and_then(Bbb::new);
    let unknown = fourth.filter(|_| bbb.is_none());
    let heading = Heading {
        designator,
        centre: centre.to_ascii_uppercase(),
        day: two(0..2)?,
        clock: (two(2..4)?, two(4..6)?),
        bbb,
    };
    Some((heading, unknown))
}

#[cfg(test)]
mod tests;
