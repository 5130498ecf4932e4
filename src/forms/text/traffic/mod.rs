//! Messages as traffic brings them: bulletins one after the other, any number
//! of reports in each, untidy round the edges.
//!
//! What is in a part is read by position. Of a damaged part what is sound is read too,
//! unless only whole parts are wanted ([`Traffic::strict_parts`]). Every word ends in a
//! report, in a section that stands as it is, or in a finding with its place.

use std::borrow::Cow;
use std::collections::{HashMap, VecDeque};

use super::bulletin::{Bbb, Heading};
use super::salvage::{Damage, Harm, Salvaged, salvage};
use super::{Body, Ident, Known, Message, ParseError, PartRead, known, parse_part};
use crate::model::finding::{Finding, Place, finding};
use crate::model::quantity::SpeedUnit;
use crate::model::{Departure, DepartureKind, Form, Part, PracticeTable, StationKind};
use crate::tables;

/// The control character at the end of a message.
const END_OF_TEXT: char = '\u{3}';

/// How many reports stay open for further parts.
const WINDOW: usize = 4096;

/// How many parts may come while a report is open: four for each report, each of them twice.
/// Without it parts that are sent again and again would keep a report, and what was found in
/// them, for ever.
const PARTS: usize = 8 * WINDOW;

/// The most words of one part; what is longer is no message.
const MAX_WORDS: usize = 4000;

/// How many words a line of 69 characters has at most where they are groups of five.
const WORDS_OF_LINE: usize = 12;

/// How long the letters of a part are.
const LETTERS: usize = 4;

/// A word, and where it stands.
#[derive(Clone, Copy, Debug)]
struct Word<'a> {
    text: &'a str,
    line: usize,
    column: usize,
}

/// Words with one blank between.
#[derive(Clone, Debug, Default)]
struct Words {
    text: String,
    /// Where each ends in the text, its line and its column.
    each: Vec<(usize, usize, usize)>,
}

impl Words {
    fn push(&mut self, word: Word<'_>) {
        if !self.each.is_empty() {
            self.text.push(' ');
        }
        self.text.push_str(word.text);
        let end = self.text.len();
        self.each.push((end, word.line, word.column));
    }

    fn clear(&mut self) {
        self.text.clear();
        self.each.clear();
    }

    fn len(&self) -> usize {
        self.each.len()
    }

    /// The words in another spelling of the text, of the same length.
    fn of<'t>(&self, text: &'t str) -> impl Iterator<Item = &'t str> {
        let mut start = 0;
        self.each.iter().map(move |&(end, ..)| {
            let word = text.get(start..end).unwrap_or_default();
            start = end + 1;
            word
        })
    }

    fn iter(&self) -> impl Iterator<Item = Word<'_>> {
        let words = self.of(&self.text).zip(&self.each);
        words.map(|(text, &(_, line, column))| Word { text, line, column })
    }

    fn get(&self, index: usize) -> Option<Word<'_>> {
        let start = match index.checked_sub(1) {
            Some(before) => self.each.get(before)?.0 + 1,
            None => 0,
        };
        let &(end, line, column) = self.each.get(index)?;
        let text = self.text.get(start..end)?;
        Some(Word { text, line, column })
    }

    fn first(&self) -> Option<Word<'_>> {
        self.get(0)
    }

    fn last(&self) -> Option<Word<'_>> {
        self.get(self.len().checked_sub(1)?)
    }
}

impl<'a> FromIterator<Word<'a>> for Words {
    fn from_iter<T: IntoIterator<Item = Word<'a>>>(words: T) -> Self {
        let mut all = Self::default();
        words.into_iter().for_each(|word| all.push(word));
        all
    }
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

/// A report that may get further parts.
#[derive(Debug)]
struct Open {
    report: Received,
    /// Number of its first part.
    since: usize,
}

/// Reads traffic line by line.
#[derive(Debug, Default)]
pub struct Traffic {
    name: String,
    line: usize,
    heading: Option<Heading>,
    /// Letters of the part before in this bulletin, for reports without them.
    letters: Option<String>,
    /// Whether `part` began with those letters.
    implied: bool,
    /// A word that may stand before the letters of a part, or none.
    ahead: Words,
    /// Whether nothing has come after the heading yet.
    fresh: bool,
    /// Whether damaged parts are left out.
    strict: bool,
    /// Standard surfaces beside those of every Region, hPa.
    surfaces: Vec<(Form, u16)>,
    /// Whether the last line may be followed by a channel number.
    started: bool,
    part: Words,
    open: VecDeque<Open>,
    /// Numbers of the open reports; the first in `open` is number `gone`.
    index: HashMap<Key, usize>,
    gone: usize,
    /// How many parts were read.
    parts: usize,
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

    /// Leaves damaged parts out, instead of reading what is sound in them.
    #[must_use]
    pub fn strict_parts(self) -> Self {
        Self {
            strict: true,
            ..self
        }
    }

    /// Reads messages of a station with a table of practices of its own, whose standard
    /// surfaces are known then.
    #[must_use]
    pub fn with_practice(self, practice: &PracticeTable) -> Self {
        Self {
            surfaces: tables::added_surfaces(practice),
            ..self
        }
    }

    /// Takes the next line, without or with its line break.
    pub fn push(&mut self, text: &str) {
        self.line += 1;
        // The end of one message and the start of the next may share a line.
        let mut pieces = text.split(END_OF_TEXT).peekable();
        let mut column = 1;
        while let Some(piece) = pieces.next() {
            if memchr::memchr2(1, 2, piece.as_bytes()).is_some() {
                self.started = true;
            }
            let mut words = Vec::with_capacity(WORDS_OF_LINE);
            words.extend(LineWords::new(piece, self.line, column));
            if !self.is_envelope(&words) {
                let ends = memchr::memchr(b'=', piece.as_bytes()).is_some();
                for word in words {
                    match ends {
                        true => self.word(word),
                        false => self.piece(word),
                    }
                }
            }
            if pieces.peek().is_some() {
                self.end_of_message();
                column += piece.chars().count() + 1;
            }
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
        self.leave_ahead();
        self.out.extend(self.open.drain(..).map(|open| open.report));
        self.index.clear();
    }

    /// Starting lines, headings and ends of messages.
    fn is_envelope(&mut self, words: &[Word<'_>]) -> bool {
        // No more words are looked at.
        let mut texts = [""; 6];
        let looked_at = texts.iter_mut().zip(words);
        let count = looked_at.map(|(text, word)| *text = word.text).count();
        let texts = texts.get(..count).unwrap_or_default();
        let number = |t: &str| (1..=5).contains(&t.len()) && t.bytes().all(|b| b.is_ascii_digit());
        match texts {
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
            [one] if number(one) && self.started => {
                self.started = false;
                return true;
            }
            [one] if number(one) && self.part.len() == 0 && one.len() < 5 => return true,
            [date, clock] if is_printed_time(date, clock) && self.part.len() == 0 => {
                for word in words {
                    let finding = finding!(PrintedTime, self.place(*word), word = word.text);
                    self.findings.push(finding);
                }
                return true;
            }
            _ => {}
        }
        let Some((heading, unknown)) = heading(texts) else {
            return false;
        };
        self.close(false);
        self.leave_ahead();
        self.started = false;
        self.letters = None;
        self.fresh = true;
        if let (Some(word), Some(first)) = (unknown, words.first()) {
            let finding = finding!(HeadingBbb, self.place(*first), word = word);
            self.findings.push(finding);
        }
        self.heading = Some(heading);
        true
    }

    fn end_of_message(&mut self) {
        self.close(false);
        self.leave_ahead();
        self.heading = None;
        self.letters = None;
        self.started = false;
        self.fresh = false;
    }

    fn place(&self, word: Word<'_>) -> Place {
        Place::line(&self.name, word.line).at_column(word.column)
    }

    /// Takes a word in which a part may end.
    fn word(&mut self, mut word: Word<'_>) {
        while let Some((text, rest)) = word.text.split_once('=') {
            self.piece(Word { text, ..word });
            self.close(true);
            word.column += text.chars().count() + 1;
            word.text = rest;
        }
        self.piece(word);
    }

    fn piece(&mut self, word: Word<'_>) {
        let text = word.text;
        if text.is_empty() {
            return;
        }
        let fresh = std::mem::take(&mut self.fresh);
        // Most words are groups of five.
        if text.len() == LETTERS && known(&capitals(text)).is_some() {
            // What looked like a report without letters was but the station ahead of it.
            if self.implied && self.part.len() == 2 {
                self.ahead = self.part.last().into_iter().collect();
                self.part.clear();
            }
            self.close(false);
            self.letters = Some(capitals(text).into_owned());
            self.part.push(word);
            return;
        }
        if self.part.len() > 0 {
            if self.part.len() < MAX_WORDS {
                self.part.push(word);
            } else {
                let finding = finding!(PartTooLong, self.place(word), most = MAX_WORDS);
                self.findings.push(finding);
                self.close(false);
            }
            return;
        }
        self.leave_ahead();
        let capitals = capitals(text);
        let place = self.place(word);
        let figures = text.bytes().all(|b| b.is_ascii_digit());
        let time = text.len() == 5 && text.bytes().take(4).all(|b| b.is_ascii_digit());
        match &self.letters {
            // Between two reports of a bulletin: the letters may stand but once.
            Some(text) if time => {
                self.part.push(Word { text, ..word });
                self.part.push(word);
                self.implied = true;
            }
            _ if capitals == "NIL" => self.findings.push(finding!(BulletinNil, place)),
            // The length and format of the next message in a file of many.
            _ if figures && text.len() == 10 => {}
            _ if fresh && is_product(&capitals) => {
                self.findings.push(finding!(ReportLine, place, word = text));
            }
            _ => self.ahead.push(word),
        }
    }

    /// A word that no part followed belongs to nothing.
    fn leave_ahead(&mut self) {
        if let Some(word) = std::mem::take(&mut self.ahead).first() {
            let shown: String = word.text.chars().take(20).collect();
            let finding = finding!(StrayWord, self.place(word), word = shown);
            self.findings.push(finding);
        }
    }

    /// Ends the part that is being read; `properly` by `=`.
    fn close(&mut self, properly: bool) {
        let mut words = std::mem::take(&mut self.part);
        self.close_part(&words, properly);
        // Its room serves the next part.
        words.clear();
        self.part = words;
    }

    fn close_part(&mut self, words: &Words, properly: bool) {
        let implied = std::mem::take(&mut self.implied);
        let Some(first) = words.first() else {
            return;
        };
        // A station has a figure in its number or call sign.
        if !self.ahead.text.bytes().any(|b| b.is_ascii_digit()) {
            self.leave_ahead();
        }
        let ahead = std::mem::take(&mut self.ahead);
        if implied && words.len() == 2 {
            self.ahead = words.last().into_iter().collect();
            self.leave_ahead();
            return;
        }
        let Some((_, _, part)) = known(&capitals(first.text)) else {
            return;
        };
        let mut findings = Vec::new();
        let within = |mut place: Place| {
            place.part = Some(part.letter());
            place
        };
        if implied {
            let place = self.place(first);
            findings.push(finding!(LettersMissing, place, letters = first.text));
        }
        if !properly && let Some(last) = words.last() {
            findings.push(finding!(EndMissing, within(self.place(last))));
        }
        if has_small(&words.text) {
            findings.push(finding!(SmallLetters, within(self.place(first))));
        }
        let mark = words.get(1).filter(|word| is_mark(word.text));
        let without_mark: Words;
        let mut words = words;
        if let Some(mark) = mark {
            let others = words.iter().enumerate().filter(|(i, _)| *i != 1);
            without_mark = others.map(|(_, word)| word).collect();
            words = &without_mark;
            let place = within(self.place(mark));
            findings.push(finding!(MarkInPart, place, word = mark.text));
        }
        let corrects = mark.is_some_and(|mark| !mark.text.eq_ignore_ascii_case("AMD"));
        let apart = nils(words);
        for words in apart.as_deref().unwrap_or(std::slice::from_ref(words)) {
            let how = (properly, corrects);
            let findings = std::mem::take(&mut findings);
            self.read(part, words, ahead.first(), how, findings);
        }
    }

    /// Reads one part.
    fn read(
        &mut self,
        part: Part,
        words: &Words,
        ahead: Option<Word<'_>>,
        (properly, corrects): (bool, bool),
        mut findings: Vec<Finding>,
    ) {
        let text = capitals(&words.text);
        let groups: Vec<&str> = words.of(&text).collect();
        let before = Known {
            heading: self.heading.as_ref().map(|h| (h.day, h.clock.0)),
            surfaces: &self.surfaces,
        };
        // A group of the part, or its end.
        let at = |group: usize, section: u8| {
            let word = words.get(group.saturating_sub(1)).or(words.last());
            let mut place = word.map_or_else(Place::default, |word| self.place(word));
            place.part = Some(part.letter());
            place.section = Some(section).filter(|section| *section > 0);
            place.group = Some(group);
            place
        };
        let word = |group: usize| words.get(group.saturating_sub(1)).map_or("", |w| w.text);
        let (read, from) = match parse_part(&groups, before) {
            Ok(read) => (read, None),
            Err(error) => {
                let mut salvaged = None;
                if !self.strict {
                    salvaged = salvage(&groups, before, properly);
                }
                // A wrong Id alone need not cost the part: the groups show what it is. But
                // one harm may as well be a group that the highest surface lacks.
                let one = salvaged.as_ref().is_some_and(
                    |s| matches!(s.harms.as_slice(), [one] if one.damage == Damage::Values),
                );
                let other = with_another_id(&groups, before).filter(|_| !one);
                match (other, salvaged) {
                    (Some((read, id, fits)), _) => {
                        let place = at(id + 1, 0);
                        findings.push(finding!(IdWrong, place, word = word(id + 1), fits = fits));
                        (read, None)
                    }
                    (None, Some(Salvaged { read, harms, from })) => {
                        let harms = harms
                            .iter()
                            .map(|harm| of_harm(harm, at(harm.group, harm.section), words.len()));
                        findings.extend(harms);
                        (read, Some(from))
                    }
                    (None, None) => {
                        let refused = refused(&error, at(error.group, error.section), &words.text);
                        self.findings.extend(findings);
                        self.findings.push(refused);
                        return;
                    }
                }
            }
        };
        for &(group, departure) in &read.notes {
            let group = from
                .as_ref()
                .and_then(|from| from.get(group.saturating_sub(1)))
                .map_or(group, |from| from + 1);
            findings.extend(of_departure(
                departure,
                at(group, 0),
                word(group),
                &read.message,
            ));
        }
        if let Some(ahead) = ahead {
            let station = read.message.station_group();
            if !ahead.text.eq_ignore_ascii_case(&station) {
                let mut place = self.place(ahead);
                place.part = Some(part.letter());
                let word: String = ahead.text.chars().take(20).collect();
                findings.push(finding!(
                    StationAhead,
                    place,
                    word = word,
                    station = station
                ));
            }
        }
        let place = |&(_, line, column): &(usize, usize, usize)| (line, column);
        let places = match from {
            None => words.each.iter().map(place).collect(),
            Some(from) => {
                let of_groups = from.iter().filter_map(|&i| words.each.get(i));
                of_groups.map(place).collect()
            }
        };
        let text = words.text.clone();
        self.join(read.message, part, corrects, (text, places), findings);
        self.leave_window();
    }

    /// Puts a part to its report.
    fn join(
        &mut self,
        message: Message,
        part: Part,
        corrects: bool,
        (raw, places): (String, Vec<(usize, usize)>),
        mut findings: Vec<Finding>,
    ) {
        let key = Key::of(&message);
        let at = self.find(&message, &key);
        let heading = self.heading.as_ref();
        let bbb = heading.and_then(|h| h.bbb.as_ref());
        let corrects = corrects || bbb.is_some_and(Bbb::is_correction);
        let place = || Place {
            part: Some(part.letter()),
            ..Place::line(&self.name, self.line)
        };
        self.parts += 1;
        if let Some(Open { report, .. }) = at.and_then(|i| self.open.get_mut(i)) {
            let own = message.parts.get(&part);
            let there = report.message.parts.get(&part);
            let is_nil = |body: Option<&Body>| matches!(body, Some(Body::Nil(_)));
            let same = there == own && report.message.departures(part) == message.departures(part);
            let (joins, reported) = match there {
                None => (Joins::Replaces, None),
                Some(_) if same => (Joins::Replaces, Some(finding!(PartTwice, place()))),
                Some(_) if is_nil(there) && !is_nil(own) => {
                    (Joins::Replaces, Some(finding!(NilReplaced, place())))
                }
                Some(_) if is_nil(own) => (Joins::IsLeft, Some(finding!(NilNotUsed, place()))),
                Some(_) if corrects => (Joins::Replaces, Some(finding!(PartCorrected, place()))),
                Some(_) => (Joins::StandsAlone, Some(finding!(PartDiffers, place()))),
            };
            findings.extend(reported);
            if joins != Joins::StandsAlone {
                if joins == Joins::Replaces {
                    let mut there = report.message.parts.values();
                    if there.all(|body| is_nil(Some(body))) {
                        report.message.unit = message.unit;
                    }
                    if !same {
                        report.message.departures.remove(&part);
                        report.message.departures.extend(message.departures);
                        report.message.parts.extend(message.parts);
                    }
                    report.raw.retain(|(p, _)| *p != part);
                    report.raw.push((part, raw));
                    report.places.retain(|(p, _)| *p != part);
                    report.places.push((part, places));
                }
                report.findings.extend(findings);
                if let Some(heading) = heading
                    && !report.headings.contains(heading)
                {
                    report.headings.push(heading.clone());
                }
                return;
            }
        }
        self.index.insert(key, self.gone + self.open.len());
        let report = Received {
            message,
            headings: heading.cloned().into_iter().collect(),
            raw: vec![(part, raw)],
            places: vec![(part, places)],
            findings,
        };
        let since = self.parts;
        self.open.push_back(Open { report, since });
    }

    /// Reports leave the window, the oldest first.
    fn leave_window(&mut self) {
        let (many, parts) = (self.open.len() > WINDOW, self.parts);
        let leaves = |oldest: &mut Open| many || parts - oldest.since >= PARTS;
        while let Some(Open { report, .. }) = self.open.pop_front_if(leaves) {
            let key = Key::of(&report.message);
            if self.index.get(&key) == Some(&self.gone) {
                self.index.remove(&key);
            }
            self.gone += 1;
            self.out.push(report);
        }
    }

    /// The open report that a part belongs to: the unit of a NIL says nothing.
    fn find(&mut self, message: &Message, key: &Key) -> Option<usize> {
        let is_nil = |message: &Message| {
            let mut bodies = message.parts.values();
            bodies.all(|body| matches!(body, Body::Nil(_)))
        };
        let place = |index: &HashMap<Key, usize>, key: &Key| {
            index.get(key).and_then(|n| n.checked_sub(self.gone))
        };
        if let Some(at) = place(&self.index, key) {
            return Some(at);
        }
        let other = Key {
            knots: !key.knots,
            ..key.clone()
        };
        let at = place(&self.index, &other)?;
        let nil = is_nil(message);
        let there = is_nil(&self.open.get(at)?.report.message);
        if there && !nil {
            let number = self.index.remove(&other)?;
            self.index.insert(key.clone(), number);
        }
        (nil || there).then_some(at)
    }
}

/// What becomes of a part of a report that is there already.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Joins {
    Replaces,
    IsLeft,
    StandsAlone,
}

/// A part that could not be read. All of it is named: nothing that came in is lost.
fn refused(error: &ParseError, place: Place, raw: &str) -> Finding {
    let read = if error.read.is_empty() {
        "the part ends".to_owned()
    } else {
        format!("`{}`", error.read)
    };
    finding!(
        Malformed,
        place,
        read = read,
        problem = error.what,
        [raw = raw]
    )
}

/// What damage cost a part.
fn of_harm(harm: &Harm, place: Place, groups: usize) -> Finding {
    let read = if harm.read.is_empty() {
        "the part ends".to_owned()
    } else {
        format!("`{}`", harm.read.chars().take(20).collect::<String>())
    };
    let problem = harm.problem;
    match &harm.damage {
        Damage::Value => finding!(GroupDamaged, place, read = read, problem = problem),
        Damage::Values => finding!(LevelDamaged, place, read = read, problem = problem),
        Damage::Level { groups: 0 } => {
            finding!(LevelAbsent, place, read = read, problem = problem)
        }
        Damage::Level { groups } => finding!(
            LevelLost,
            place,
            read = read,
            problem = problem,
            groups = crate::model::finding::counted(*groups, "group")
        ),
        Damage::Extra => finding!(GroupExtra, place, read = read, problem = problem),
        Damage::RunTogether([first, second]) => finding!(
            GroupsRunTogether,
            place,
            read = read,
            first = first,
            second = second
        ),
        Damage::Split(group) => finding!(GroupSplit, place, read = read, group = group),
        Damage::Indicator(name) => {
            finding!(IndicatorDamaged, place, read = read, name = name)
        }
        Damage::Rest => finding!(
            PartCut,
            place,
            read = read,
            problem = problem,
            [left = (groups + 1).saturating_sub(harm.group)]
        ),
    }
}

/// What a part has otherwise than its form.
fn of_departure(
    departure: Departure,
    place: Place,
    group: &str,
    message: &Message,
) -> Option<Finding> {
    let part = *message.parts.keys().next()?;
    let row = tables::reading_practice(message.form, part, departure)?;
    let (day, hour) = (message.day.to_string(), format!("{:02}", message.hour));
    let section = departure.section.to_string();
    let values = [
        ("group", group),
        ("day", &day),
        ("hour", &hour),
        ("section", &section),
    ];
    Some(Finding::of(row.finding, place, &values))
}

/// Whether a word after the letters marks a correction: COR, AMD or a BBB.
fn is_mark(word: &str) -> bool {
    let word = capitals(word);
    ["COR", "AMD"].contains(&word.as_ref()) || Bbb::new(&word).is_some_and(|b| b.is_correction())
}

/// Whether a word is the name of a product that some hubs write below the heading: six
/// letters or figures that begin with three letters.
fn is_product(word: &str) -> bool {
    (5..=6).contains(&word.len())
        && word.bytes().take(3).all(|b| b.is_ascii_uppercase())
        && word.bytes().all(|b| b.is_ascii_alphanumeric())
}

/// Whether two words are a printed date and time of day, `040722 06:00`.
fn is_printed_time(date: &str, clock: &str) -> bool {
    let figures = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
    let hour_and_minute = clock.split_once(':');
    let clock = hour_and_minute
        .is_some_and(|(h, m)| h.len() == 2 && m.len() == 2 && figures(h) && figures(m));
    date.len() == 6 && figures(date) && clock
}

/// A list of NILs as parts of their own; NIL before the station is put after it. `None`
/// where the part stays as it is.
fn nils(words: &Words) -> Option<Vec<Words>> {
    let is_nil = |word: &Word<'_>| word.text.eq_ignore_ascii_case("NIL");
    let is_figures = |word: &Word<'_>| {
        word.text.len() == 5 && word.text.bytes().all(|b| b.is_ascii_digit() || b == b'/')
    };
    // Most parts are none, and end with figures.
    if !words
        .last()
        .is_some_and(|last| is_nil(&last) || words.len() == 3)
    {
        return None;
    }
    let all: Vec<Word<'_>> = words.iter().collect();
    let (letters, rest) = all.split_first()?;
    if let [nil, station] = rest
        && is_nil(nil)
        && is_figures(station)
    {
        return Some(vec![[*letters, *station, *nil].into_iter().collect()]);
    }
    let runs: Vec<&[Word<'_>]> = rest.split_inclusive(is_nil).collect();
    let whole = |run: &&[Word<'_>]| match run {
        [groups @ .., last] => {
            is_nil(last) && (1..=2).contains(&groups.len()) && groups.iter().all(is_figures)
        }
        [] => false,
    };
    if runs.len() < 2 || !runs.iter().all(whole) {
        return None;
    }
    let one = |run: &&[Word<'_>]| [*letters].iter().chain(*run).copied().collect();
    Some(runs.iter().map(one).collect())
}

/// A part whose groups are sound under another Id than its own: the message,
/// where Id stands (an index) and what it should be.
fn with_another_id(groups: &[&str], before: Known<'_>) -> Option<(PartRead, usize, String)> {
    let (form, kind, part) = known(groups.first()?)?;
    if form != Form::Temp || !matches!(part, Part::A | Part::C) {
        return None;
    }
    let signed = matches!(kind, StationKind::Ship | StationKind::Mobile);
    let at = 1 + usize::from(signed);
    let (time, own) = groups.get(at)?.split_at_checked(4)?;
    if own.len() != 1 {
        return None;
    }
    let levels = tables::known_levels(form, part, before.surfaces);
    let of_levels = levels.iter().filter_map(|level| level.id_figure);
    let figures = of_levels.map(|figure| figure.to_string());
    for fits in figures.chain(["/".to_owned()]).filter(|fits| fits != own) {
        let id = format!("{time}{fits}");
        let mut groups = groups.to_vec();
        *groups.get_mut(at)? = &id;
        let read = parse_part(&groups, before).ok();
        // A part that was cut short shows nothing of its winds.
        let whole = |read: &PartRead| {
            let departures = read.message.departures(read.part);
            !departures.has(DepartureKind::Absent, 3)
        };
        if let Some(read) = read.filter(whole) {
            return Some((read, at, fits));
        }
    }
    None
}

/// Whether a text has small letters. All bytes are looked at, which the processor does
/// for many of them at once.
fn has_small(text: &str) -> bool {
    let bytes = text.bytes();
    bytes.fold(false, |found, b| found | b.is_ascii_lowercase())
}

/// A text in capital letters.
fn capitals(text: &str) -> Cow<'_, str> {
    match has_small(text) {
        true => Cow::Owned(text.to_ascii_uppercase()),
        false => Cow::Borrowed(text),
    }
}

/// The words of a line; a control character is a blank.
struct LineWords<'a> {
    rest: &'a str,
    /// Whether a character is a byte.
    ascii: bool,
    line: usize,
    /// Where `rest` begins.
    column: usize,
}

impl<'a> LineWords<'a> {
    fn new(text: &'a str, line: usize, column: usize) -> Self {
        Self {
            rest: text,
            ascii: text.is_ascii(),
            line,
            column,
        }
    }

    /// Start and end of the next word in what is left, octets.
    fn bounds(&self) -> Option<(usize, usize)> {
        if self.ascii {
            let mut bytes = self.rest.as_bytes().iter();
            let start = bytes.position(u8::is_ascii_graphic)?;
            let length = bytes.take_while(|b| b.is_ascii_graphic()).count();
            return Some((start, start + 1 + length));
        }
        let is_blank = |c: char| c.is_whitespace() || c.is_control();
        let start = self.rest.find(|c| !is_blank(c))?;
        let word = self.rest.get(start..)?;
        Some((start, start + word.find(is_blank).unwrap_or(word.len())))
    }

    /// How many characters a piece of the line has.
    fn width(&self, text: &str) -> usize {
        match self.ascii {
            true => text.len(),
            false => text.chars().count(),
        }
    }
}

impl<'a> Iterator for LineWords<'a> {
    type Item = Word<'a>;

    fn next(&mut self) -> Option<Word<'a>> {
        let (start, end) = self.bounds()?;
        let text = self.rest.get(start..end)?;
        let column = self.column + self.width(self.rest.get(..start)?);
        self.column = column + self.width(text);
        self.rest = self.rest.get(end..)?;
        let line = self.line;
        Some(Word { text, line, column })
    }
}

/// A line with blanks for its control characters.
fn without_controls(line: &str) -> String {
    let blank = |c: char| if c.is_control() { ' ' } else { c };
    line.chars().map(blank).collect()
}

/// The abbreviated heading that a line is, control characters aside.
pub(crate) fn read_heading(line: &str) -> Option<Heading> {
    let clean = without_controls(line);
    let words: Vec<&str> = clean.split_ascii_whitespace().collect();
    heading(&words).map(|(heading, _)| heading)
}

/// An abbreviated heading, and a fourth word that is no BBB. Some hubs write three
/// letters or one figure in the designator, the number of the bulletin before it, or the
/// centre and the time without a blank.
fn heading(texts: &[&str]) -> Option<(Heading, Option<String>)> {
    let figures = |t: &str| !t.is_empty() && t.bytes().all(|b| b.is_ascii_digit());
    let texts = match texts {
        [number, rest @ ..] if figures(number) && number.len() <= 5 => rest,
        all => all,
    };
    let (first, rest) = texts.split_first()?;
    let (second, rest) = rest.split_first()?;
    let (centre, time, rest) = match second.split_at_checked(4)? {
        (centre, "") => {
            let (time, rest) = rest.split_first()?;
            (centre, *time, rest)
        }
        (centre, time) => (centre, time, rest),
    };
    if rest.len() > 1 {
        return None;
    }
    let numbered = first.find(|c: char| c.is_ascii_digit())?;
    let (letters, number) = first.split_at_checked(numbered)?;
    let time = time.strip_suffix(['Z', 'z']).unwrap_or(time);
    let ok = (3..=4).contains(&letters.len())
        && letters.bytes().all(|b| b.is_ascii_alphabetic())
        && (1..=2).contains(&number.len())
        && figures(number)
        && centre.bytes().all(|b| b.is_ascii_alphanumeric())
        && centre.bytes().any(|b| b.is_ascii_alphabetic())
        && time.len() == 6
        && figures(time);
    if !ok {
        return None;
    }
    let two = |range: std::ops::Range<usize>| time.get(range)?.parse().ok();
    let fourth = rest.first().map(|w| w.to_ascii_uppercase());
    let bbb = fourth.as_deref().and_then(Bbb::new);
    let unknown = fourth.filter(|_| bbb.is_none());
    let heading = Heading {
        designator: first.to_ascii_uppercase(),
        centre: centre.to_ascii_uppercase(),
        day: two(0..2)?,
        clock: (two(2..4)?, two(4..6)?),
        bbb,
    };
    Some((heading, unknown))
}

#[cfg(test)]
mod tests;
