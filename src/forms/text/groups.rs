//! Groups one after the other, for the strict readers; figures in them.

use thiserror::Error;

use crate::model::finding::Place;
use crate::model::{Departure, DepartureKind, Departures, Form, LostLevel, Part};
use crate::tables;
use crate::tables::StandardLevel;
use crate::tables::figure::{DepressionFigure, PressureFigure, TemperatureFigure, WindFigure};

/// TTTaDD: temperature, and the depression where humidity is known.
pub type Thermal = (Option<TemperatureFigure>, Option<DepressionFigure>);

/// Why a text is not a message of this form.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("part {part} group {group}: `{read}`: {what}")]
#[non_exhaustive]
pub struct ParseError {
    /// Part letter, `?` before one is known.
    pub part: char,
    /// Section of the form, from 1; 0 before one is known.
    pub section: u8,
    /// Group within the part, from 1.
    pub group: usize,
    /// The group as read; empty at the end.
    pub read: String,
    /// What is expected.
    pub what: &'static str,
}

impl ParseError {
    /// Part, section and group.
    #[must_use]
    pub fn place(&self) -> Place {
        Place {
            part: (self.part != '?').then_some(self.part),
            section: Some(self.section).filter(|&section| section > 0),
            group: Some(self.group),
            ..Place::default()
        }
    }
}

pub(super) type Result<T> = std::result::Result<T, ParseError>;

/// Stands among the groups of a damaged part for a level that was lost.
pub(super) const LOST: &str = "";

/// The groups of one part.
#[derive(Clone)]
pub(super) struct Groups<'a> {
    form: Form,
    part: Part,
    section: u8,
    taken: usize,
    last: &'a str,
    /// All of them, the letters first.
    all: &'a [&'a str],
    /// Number of the first group of the last level, and how many groups it has.
    level: (usize, usize),
    /// Whether damage was taken out of the groups.
    damaged: bool,
    /// Standard surfaces beside those of every Region, hPa.
    surfaces: &'a [(Form, u16)],
    /// What departs from the form, as far as it was read.
    pub(super) departures: Departures,
    /// The practices among it, with the number of the group.
    pub(super) notes: Vec<(usize, Departure)>,
}

impl<'a> Groups<'a> {
    /// The groups of a part after its letters.
    pub(super) fn new(form: Form, part: Part, groups: &'a [&'a str]) -> Self {
        Self {
            form,
            part,
            section: 1,
            taken: 1,
            last: "",
            all: groups,
            level: (1, 1),
            damaged: false,
            surfaces: &[],
            departures: Departures::default(),
            notes: Vec::new(),
        }
    }

    /// The same of a part that may have further standard surfaces, hPa.
    pub(super) fn with_surfaces(self, surfaces: &'a [(Form, u16)]) -> Self {
        Self { surfaces, ..self }
    }

    /// The standard surfaces that the part may have, from the ground up.
    pub(super) fn standard_levels(&self) -> Vec<StandardLevel> {
        tables::known_levels(self.form, self.part, self.surfaces)
    }

    /// The same of a part from which damage was taken out.
    pub(super) fn salvaged(self, damaged: bool) -> Self {
        Self { damaged, ..self }
    }

    /// Whether damage was taken out of the groups.
    pub(super) fn is_damaged(&self) -> bool {
        self.damaged
    }

    /// Says that a level begins at the last group.
    pub(super) fn begin_level(&mut self, groups: usize) {
        self.level = (self.taken, groups);
    }

    /// Number of the first group of the last level, and how many groups it has.
    pub(super) fn level(&self) -> (usize, usize) {
        self.level
    }

    /// The section of the form that is being read.
    pub(super) fn section(&self) -> u8 {
        self.section
    }

    /// Says that the part departs from the form at the last group, or at its end, if that
    /// is a practice of senders; else it is damage. Section 0 stands for any.
    pub(super) fn depart(&mut self, kind: DepartureKind, section: u8) -> bool {
        let departure = Departure { kind, section };
        let practised = tables::reading_practice(self.form, self.part, departure).is_some();
        if practised {
            self.departures.practices.insert(departure);
            self.notes.push((self.taken, departure));
        }
        practised
    }

    /// Takes these groups, if they are next.
    pub(super) fn take_all(&mut self, groups: &[String]) -> bool {
        let next = self.all.get(self.taken..self.taken + groups.len());
        let found = next.is_some_and(|next| next.iter().eq(groups));
        if found {
            groups.iter().for_each(|_| _ = self.any());
        }
        found
    }

    /// Takes the mark of a lost level if it is next; `after` levels were read before.
    pub(super) fn take_lost(&mut self, after: usize) -> bool {
        let lost = self.damaged && self.take(LOST);
        if lost {
            let section = self.section;
            self.departures.lost.push(LostLevel { section, after });
        }
        lost
    }

    /// Whether what follows may be absent: in a damaged part only where a level was lost
    /// after a number of them, or where the part ends.
    pub(super) fn may_lack(&self, section: u8, after: usize) -> bool {
        let here = LostLevel { section, after };
        !self.damaged || self.peek().is_none() || self.departures.lost.contains(&here)
    }

    /// Whether the part ends here, or one of its last sections begins.
    pub(super) fn ends_here(&self) -> bool {
        let last = ["31313", "41414", "51515", "61616"];
        self.peek().is_none_or(|next| last.contains(&next))
    }

    pub(super) fn error(&self, what: &'static str) -> ParseError {
        ParseError {
            part: self.part.letter(),
            section: self.section,
            group: self.taken,
            read: self.last.chars().take(20).collect(),
            what,
        }
    }

    /// Says which section of the form follows.
    pub(super) fn enter(&mut self, section: u8) {
        self.section = section;
    }

    /// The next group, whatever it is; empty at the end.
    pub(super) fn any(&mut self) -> &'a str {
        self.last = self.peek().unwrap_or_default();
        self.taken += 1;
        self.last
    }

    /// The next group of five figures or solidi.
    pub(super) fn next(&mut self, what: &'static str) -> Result<&'a str> {
        let group = self.any();
        let ok = group.bytes().all(|b| b.is_ascii_digit() || b == b'/');
        if group.len() == 5 && ok {
            Ok(group)
        } else {
            Err(self.error(what))
        }
    }

    pub(super) fn peek(&self) -> Option<&'a str> {
        self.all.get(self.taken).copied()
    }

    pub(super) fn peek_is(&self, start: &str) -> bool {
        self.peek().is_some_and(|g| g.starts_with(start))
    }

    /// Whether the next group begins with a number of two figures.
    pub(super) fn peek_names(&self, number: u8) -> bool {
        let begins = [b'0' + number / 10 % 10, b'0' + number % 10];
        self.peek()
            .is_some_and(|group| group.as_bytes().starts_with(&begins))
    }

    /// Takes the next group if it is this one.
    pub(super) fn take(&mut self, group: &str) -> bool {
        let found = self.peek() == Some(group);
        if found {
            self.any();
        }
        found
    }

    /// Nothing may follow.
    pub(super) fn end(&mut self) -> Result<()> {
        if self.peek().is_some() {
            self.any();
            return Err(self.error("nothing of this form can stand here"));
        }
        Ok(())
    }

    pub(super) fn thermal(&mut self) -> Result<Thermal> {
        let group = self.next("TTTaDD is expected")?;
        let (t, d) = group.split_at(3);
        let temperature = number(t).map_err(|()| self.error("TTTa is three figures or ///"))?;
        let depression = number(d).map_err(|()| self.error("DD is two figures or //"))?;
        if temperature.is_none() && depression.is_some() {
            return Err(self.error("a depression without a temperature"));
        }
        let t = temperature
            .map(|t| u16::try_from(t).ok().and_then(TemperatureFigure::from_code))
            .map(|t| t.ok_or_else(|| self.error("TTTa is 000 to 999")))
            .transpose()?;
        let d = depression
            .map(|d| {
                u8::try_from(d)
                    .ok()
                    .and_then(DepressionFigure::from_received)
            })
            .map(|d| d.ok_or_else(|| self.error("DD is two figures or //")))
            .transpose()?;
        let unused = d.is_some_and(DepressionFigure::is_unused);
        if unused && !self.depart(DepartureKind::UnusedFigures, 0) {
            return Err(self.error("DD 51 to 55 are not used"));
        }
        Ok((t, d))
    }

    pub(super) fn wind(&mut self) -> Result<Option<WindFigure>> {
        let group = self.next("ddfff is expected")?;
        let code = number(group).map_err(|()| self.error("ddfff is five figures or /////"))?;
        code.map(|c| WindFigure::from_code(c).ok_or_else(|| self.error("dd is 00 to 36")))
            .transpose()
    }

    /// vbvb and vava of a group 4vbvbvava, if it is the next one.
    pub(super) fn shear(&mut self) -> Result<Option<(Option<u8>, Option<u8>)>> {
        if !self.peek_is("4") {
            return Ok(None);
        }
        let group = self.next("4vbvbvava is expected")?;
        let bad = |()| self.error("vbvb and vava are two figures or //");
        Ok(Some((
            small(group.get(1..3)).map_err(bad)?,
            small(group.get(3..)).map_err(bad)?,
        )))
    }

    /// PPP of a group whose first two figures say what it is.
    pub(super) fn pressure(&self, group: &str, upper: bool) -> Result<PressureFigure> {
        let code = group.get(2..).and_then(|p| p.parse().ok());
        code.and_then(|c| PressureFigure::from_code(c, upper))
            .ok_or_else(|| self.error("PPP is three figures"))
    }

    /// The group `/////` that follows `nn///`.
    pub(super) fn nothing(&mut self) -> Result<()> {
        if self.next("///// is expected")? == "/////" {
            Ok(())
        } else {
            Err(self.error("nn/// is followed by /////"))
        }
    }
}

/// The numbered levels of a section: each `nnPPP` with what `read` takes after it, or
/// `nn/// /////`. The first has the number `start`.
pub(super) fn numbered<'a, T>(
    g: &mut Groups<'a>,
    start: usize,
    upper: bool,
    read: impl Fn(&mut Groups<'a>) -> Result<T>,
) -> Result<Vec<Option<(PressureFigure, T)>>> {
    let mut out = Vec::new();
    let mut number = start;
    let ahead = number == 0 && !g.is_damaged() && g.peek_is("11");
    if ahead && g.depart(DepartureKind::From11, g.section()) {
        let section = g.section();
        g.departures.lost.push(LostLevel { section, after: 0 });
        number = 1;
    }
    loop {
        if g.take_lost(out.len()) {
            number += 1;
            continue;
        }
        if !g.peek_is(indicator(number)) {
            return Ok(out);
        }
        let group = g.next("nnPPP is expected")?;
        g.begin_level(2);
        out.push(if group.ends_with("///") {
            g.nothing()?;
            None
        } else {
            Some((g.pressure(group, upper)?, read(g)?))
        });
        number += 1;
    }
}

/// The indicators of the levels of a section, from the first: those of lost levels
/// stay free.
pub(super) fn indicators(
    start: usize,
    section: u8,
    departures: &Departures,
) -> impl Iterator<Item = &'static str> {
    let lost = departures.lost.iter();
    let after: Vec<usize> = lost
        .filter(|lost| lost.section == section)
        .map(|lost| lost.after)
        .collect();
    (0..).map(move |i| {
        let free = after.iter().filter(|&&after| after <= i).count();
        indicator(start + i + free)
    })
}

/// Figures, or `None` for solidi throughout.
pub(super) fn number(text: &str) -> std::result::Result<Option<u32>, ()> {
    if text.bytes().all(|b| b == b'/') {
        return Ok(None);
    }
    text.parse().map(Some).map_err(|_| ())
}

/// The same, of at most two figures.
pub(super) fn small(text: Option<&str>) -> std::result::Result<Option<u8>, ()> {
    let value = number(text.unwrap_or("x"))?;
    value.map(|v| u8::try_from(v).map_err(|_| ())).transpose()
}

/// The figures of a group.
const GROUP: usize = 5;

/// A figure in a fixed number of digits, or solidi.
pub(super) fn digits(value: Option<impl Into<u32>>, width: usize) -> String {
    let mut out = String::with_capacity(GROUP);
    push_digits(&mut out, value, width);
    out
}

/// Puts a figure in a fixed number of digits, or solidi, to a group.
pub(super) fn push_digits(group: &mut String, value: Option<impl Into<u32>>, width: usize) {
    const SOLIDI: &str = "//////////";
    // Ten digits hold every value; the last is written first.
    let mut digits = [b'0'; SOLIDI.len()];
    let Some(value) = value else {
        return group.push_str(SOLIDI.get(..width).unwrap_or(SOLIDI));
    };
    let (mut rest, mut count) = (value.into(), 0);
    for digit in digits.iter_mut().rev() {
        if rest == 0 && count >= width {
            break;
        }
        *digit += u8::try_from(rest % 10).unwrap_or_default();
        rest /= 10;
        count += 1;
    }
    let digits = digits.get(digits.len() - count..).unwrap_or_default();
    group.push_str(std::str::from_utf8(digits).unwrap_or_default());
}

pub(super) fn thermal_group((t, d): Thermal) -> String {
    let mut group = digits(t.map(|t| t.code()), 3);
    push_digits(&mut group, d.map(|d| d.code()), 2);
    group
}

pub(super) fn wind_group(wind: Option<WindFigure>) -> String {
    digits(wind.map(WindFigure::code), 5)
}

pub(super) fn shear_group((below, above): (Option<u8>, Option<u8>)) -> String {
    format!("4{}{}", digits(below, 2), digits(above, 2))
}

pub(super) fn placed(indicator: &str, pressure: PressureFigure) -> String {
    let mut group = String::with_capacity(GROUP);
    group.push_str(indicator);
    push_digits(&mut group, Some(pressure.code()), 3);
    group
}

/// The indicator of the nth level of a section: 00, 11 … 99, 11 …
pub(super) fn indicator(n: usize) -> &'static str {
    const INDICATORS: [&str; 10] = ["00", "11", "22", "33", "44", "55", "66", "77", "88", "99"];
    let figure = if n == 0 { 0 } else { (n - 1) % 9 + 1 };
    INDICATORS.get(figure).copied().unwrap_or_default()
}
