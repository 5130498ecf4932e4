//! Damaged parts: what can be read of them without a guess.
//!
//! The strict reader stops at a group that cannot stand where it stands. Here the groups
//! about it are then changed in the smallest way after which it reads on: values become
//! solidi, two groups that ran together are parted, a level that cannot be identified is
//! marked as lost. A change holds only if the strict reader goes on past the next two
//! levels or to the end of the part. Where two changes hold, both levels are lost; where
//! groups of a level are missing or too many, it is not known which, and all of its values
//! are missing.

use super::groups::{Groups, LOST, ParseError};
use super::{Known, PartRead, letters_of, read_part};
use crate::model::quantity::SpeedUnit;
use crate::model::{Form, Part, StationKind};
use crate::tables;

/// What damage cost a part, and where.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Harm {
    /// Number of the group as received, from 1.
    pub group: usize,
    /// The section of the form.
    pub section: u8,
    /// The group as received; empty at the end of the part.
    pub read: String,
    /// Why the strict reader stopped.
    pub problem: &'static str,
    pub damage: Damage,
}

/// What was changed in the groups.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Damage {
    /// The values of a group are missing.
    Value,
    /// The values of a level are missing: its groups are too few or too many.
    Values,
    /// Groups are left out, and with them a level.
    Level { groups: usize },
    /// A group that belongs to nothing is left out.
    Extra,
    /// One group is read as two.
    RunTogether([String; 2]),
    /// Two groups are read as one.
    Split(String),
    /// A group is read as the indicator of a section.
    Indicator(&'static str),
    /// Nothing is read from here on.
    Rest,
}

/// What was read of a damaged part.
pub(super) struct Salvaged {
    pub read: PartRead,
    pub harms: Vec<Harm>,
    /// For each group as it is written again the number of the received one, from 0.
    pub from: Vec<usize>,
}

/// A group, as received or put in its place.
#[derive(Clone, Debug, PartialEq)]
struct Token {
    text: String,
    /// Number as received, from 0.
    at: usize,
    /// Whether it stands for one whose values were lost.
    damaged: bool,
}

/// Where the strict reader stopped: indices of tokens.
struct Failure {
    at: usize,
    /// First token of the level before or around it, and how many tokens it has.
    level: (usize, usize),
    error: ParseError,
    section: u8,
}

impl Failure {
    /// Whether it is at a value of a level.
    fn is_inside(&self) -> bool {
        let (level, size) = self.level;
        level > 1 && self.at > level && self.at < level + size
    }

    /// Whether it is just after a level, where another one must begin.
    fn is_after_level(&self) -> bool {
        let (level, size) = self.level;
        level > 1 && self.at == level + size
    }
}

/// A change, the harm it names, and where the received groups go on after it.
struct Change {
    tokens: Vec<Token>,
    resume: usize,
    damage: Damage,
    /// The token that the harm names.
    names: usize,
}

/// The most tokens that one part may cost in trials.
const BUDGET: usize = 200_000;

/// How many groups the strict reader must go on past a change: two levels and the
/// beginning of a third.
const PAST: usize = 7;

/// The most places of damage in one part.
const MOST_HARMS: usize = 40;

/// How many groups ahead a level is looked for that has no number.
const AHEAD: usize = 16;

struct Salvage<'k> {
    form: Form,
    kind: StationKind,
    part: Part,
    before: Known<'k>,
    properly: bool,
    trials: usize,
}

/// Reads a part that the strict reader refuses; `properly` says whether it ended with `=`.
/// `None` where section 1 cannot be read or nothing is left.
pub(super) fn salvage(groups: &[&str], before: Known<'_>, properly: bool) -> Option<Salvaged> {
    let (form, kind, part) = letters_of(groups).ok()?;
    let trials = (BUDGET / groups.len().max(1)).clamp(20, 400);
    let mut salvage = Salvage {
        form,
        kind,
        part,
        before,
        properly,
        trials,
    };
    let tokens = groups.iter().enumerate();
    let mut tokens: Vec<Token> = tokens
        .map(|(at, text)| Token {
            text: (*text).to_owned(),
            at,
            damaged: false,
        })
        .collect();
    let mut harms = Vec::new();
    loop {
        let failure = match salvage.attempt(&tokens) {
            Ok(read) => return Some(finish(read, &tokens, harms, groups.len())),
            Err(failure) => failure,
        };
        // Section 1, or too much of it is broken.
        if failure.section <= 1 || harms.len() >= MOST_HARMS {
            return None;
        }
        let change = salvage
            .changes(&tokens, &failure)
            .unwrap_or_else(|| rest(&tokens, &failure));
        if change.tokens == tokens {
            return None;
        }
        let named = tokens.get(change.names);
        let at = named.map_or(groups.len(), |token| token.at);
        harms.push(Harm {
            group: at + 1,
            section: failure.section,
            read: named.map(|token| token.text.clone()).unwrap_or_default(),
            problem: failure.error.what,
            damage: change.damage,
        });
        tokens = change.tokens;
    }
}

/// Notes the damaged groups with the part.
fn finish(mut read: PartRead, tokens: &[Token], harms: Vec<Harm>, received: usize) -> Salvaged {
    let written = || tokens.iter().filter(|token| token.text != LOST);
    let damaged = written().enumerate().filter(|(_, token)| token.damaged);
    let damaged: Vec<usize> = damaged.map(|(i, _)| i + 1).collect();
    let departures = read.message.departures.entry(read.part).or_default();
    departures.salvaged = true;
    departures.damaged = damaged;
    let last = received.saturating_sub(1);
    let from = written().map(|token| token.at.min(last)).collect();
    Salvaged { read, harms, from }
}

/// Nothing is read from a failure on.
fn rest(tokens: &[Token], failure: &Failure) -> Change {
    let end = if failure.is_inside() {
        failure.level.0
    } else {
        failure.at
    };
    // The part must become shorter.
    let end = end.min(tokens.len().saturating_sub(1));
    let mut kept: Vec<Token> = tokens.get(..end).unwrap_or_default().to_vec();
    kept.push(lost(end));
    if kept.len() >= tokens.len() {
        kept.pop();
    }
    Change {
        tokens: kept,
        resume: end,
        damage: Damage::Rest,
        names: end,
    }
}

fn lost(at: usize) -> Token {
    Token {
        text: LOST.to_owned(),
        at,
        damaged: false,
    }
}

/// Whether a group has five figures or solidi.
fn is_group(text: &str) -> bool {
    text.len() == 5 && text.bytes().all(|b| b.is_ascii_digit() || b == b'/')
}

/// The groups that begin a section, whatever comes before.
const SECTIONS: [&str; 5] = ["21212", "31313", "41414", "51515", "61616"];

impl Salvage<'_> {
    fn attempt(&mut self, tokens: &[Token]) -> Result<PartRead, Failure> {
        self.trials = self.trials.saturating_sub(1);
        let groups: Vec<&str> = tokens.iter().map(|token| token.text.as_str()).collect();
        let g = Groups::new(self.form, self.part, &groups).salvaged(true);
        let mut g = g.with_surfaces(self.before.surfaces);
        let read = read_part(&mut g, self.form, self.kind, self.part, self.before.heading);
        read.map_err(|error| {
            let (level, size) = g.level();
            Failure {
                at: error.group.saturating_sub(1),
                level: (level.saturating_sub(1), size),
                section: g.section(),
                error,
            }
        })
    }

    /// Whether the strict reader accepts a change.
    fn holds(&mut self, change: &Change) -> bool {
        if self.trials == 0 {
            return false;
        }
        match self.attempt(&change.tokens) {
            Ok(_) => true,
            Err(failure) => failure.at >= change.resume + PAST,
        }
    }

    /// The first change that holds, from the smallest on.
    fn changes(&mut self, tokens: &[Token], failure: &Failure) -> Option<Change> {
        let mut change = self.only(run_together(tokens, failure));
        if change.is_none() {
            change = self.only(split(tokens, failure));
        }
        if change.is_none() {
            change = self.only(indicator(tokens, failure));
        }
        if change.is_none() {
            change = self.first(two_solidi(tokens, failure));
        }
        if change.is_none() {
            let short = self.short(tokens, failure);
            change = self.first(short);
        }
        if change.is_none() {
            change = self.first(self.values(tokens, failure));
        }
        if change.is_none() {
            change = self.only(extra(tokens, failure));
        }
        if change.is_none() {
            change = self.swapped(tokens, failure);
        }
        if change.is_none() {
            change = self.first(long(tokens, failure));
        }
        if change.is_none() {
            let changes = self.next_anchor(tokens, failure);
            change = self.farther(tokens, changes);
        }
        change
    }

    /// The values of the group at the failure are missing.
    fn values(&self, tokens: &[Token], failure: &Failure) -> Vec<Change> {
        let at = failure.at;
        let (level, size) = failure.level;
        let Some(token) = tokens.get(at) else {
            let cut = cut_short(tokens, failure, self.properly);
            return cut.into_iter().collect();
        };
        let mut with: Vec<Vec<String>> = Vec::new();
        match failure.section {
            2 if at > level + size - 1 || at == level => {
                let name = token
                    .text
                    .get(..2)
                    .filter(|name| name.parse::<u8>().is_ok());
                match name {
                    Some("99") => {
                        with.push(["99///", "/////", "/////"].map(str::to_owned).to_vec())
                    }
                    Some(name) if token.text.len() == 5 => with.push(vec![format!("{name}///")]),
                    _ => {}
                }
            }
            7 => with.extend([vec!["/////".to_owned()], vec!["8////".to_owned()]]),
            8 => with.push(vec!["/////".to_owned()]),
            _ if may_be_exchanged(tokens, failure) => {
                return vec![without_values(tokens, failure, at + 1)];
            }
            _ if at < level + size => with.push(vec!["/////".to_owned()]),
            _ => {}
        }
        let one = |texts: Vec<String>| {
            let end = (at + texts.len()).min(tokens.len());
            let put_in = texts.iter().enumerate().map(|(i, text)| Token {
                text: text.clone(),
                at: tokens.get(at + i).map_or(token.at, |token| token.at),
                damaged: true,
            });
            Change {
                tokens: put(tokens, at..end, put_in.collect()),
                resume: end,
                damage: Damage::Value,
                names: at,
            }
        };
        with.into_iter().map(one).collect()
    }

    fn first(&mut self, changes: Vec<Change>) -> Option<Change> {
        changes.into_iter().find(|change| self.holds(change))
    }

    /// The first change that holds. Where levels have no numbers a value may look like the
    /// beginning of a level: where reading could go on at either of two near groups, it
    /// goes on after both.
    fn farther(&mut self, tokens: &[Token], mut changes: Vec<Change>) -> Option<Change> {
        let left = |change: &Change| match change.damage {
            Damage::Level { groups } => groups,
            _ => 0,
        };
        let mut at = changes.iter().position(|change| self.holds(change))?;
        let first = changes.get(at).map_or(0, left);
        let near = first + 1..=first + 2;
        if self.form == Form::Temp
            && !self.is_numbered(tokens)
            && changes
                .iter()
                .any(|change| near.contains(&left(change)) && self.holds(change))
        {
            let after = |change: &Change| left(change) > first + 2;
            at = changes
                .iter()
                .position(|change| after(change) && self.holds(change))?;
        }
        Some(changes.swap_remove(at))
    }

    /// The change that holds, if it is the only one: else it would be a guess.
    fn only(&mut self, changes: Vec<Change>) -> Option<Change> {
        let holding = changes.into_iter().filter(|change| self.holds(change));
        let mut holding: Vec<Change> = holding.collect();
        holding.dedup_by(|a, b| {
            let texts = |change: &Change| change.tokens.iter().map(|t| t.text.clone()).collect();
            let (a, b): (Vec<String>, Vec<String>) = (texts(a), texts(b));
            a == b
        });
        let one = holding.pop();
        one.filter(|_| holding.is_empty())
    }

    /// Reading goes on at a later level or section.
    fn next_anchor(&self, tokens: &[Token], failure: &Failure) -> Vec<Change> {
        let at = failure.at.min(tokens.len());
        let (level, size) = failure.level;
        let inside = failure.is_inside();
        let lookalike = failure.is_after_level() && self.looks_like_anchor(tokens, failure, at - 1);
        let mut kept: Vec<Token> = if inside || lookalike {
            blank(tokens, level, size)
        } else {
            tokens.get(..at).unwrap_or_default().to_vec()
        };
        if self.part == Part::A && self.form == Form::Temp && level <= 1 {
            // The surface is lost.
            let at = tokens.get(at).map_or(at, |token| token.at);
            kept.extend(["99///", "/////", "/////"].map(|text| Token {
                text: text.to_owned(),
                at,
                damaged: true,
            }));
        }
        let sequence = self.is_numbered(tokens);
        let expected = self.expected(tokens, failure, inside);
        let mut out = Vec::new();
        let mut passed = false;
        for to in at..=tokens.len() {
            let next = tokens.get(to).map(|token| token.text.as_str());
            let section = next.is_none_or(|next| SECTIONS.contains(&next));
            // The levels of the next section are none of this one.
            if passed && !section {
                continue;
            }
            passed |= section;
            let levels = match next {
                _ if section => 1,
                Some(next) if sequence => match number_of(next) {
                    Some(number) => (number + 9 - expected) % 9,
                    None => continue,
                },
                Some(next) => {
                    let named = ["88", "77", "66"].iter().any(|name| next.starts_with(name));
                    if !named && to > at + AHEAD {
                        continue;
                    }
                    1
                }
                None => 1,
            };
            if sequence && !section && self.begins_again(tokens, failure, to) {
                // Only the indicator before the winds is lost.
                let first = tokens.get(at).map_or(at, |token| token.at);
                let mut changed = kept.clone();
                changed.push(lost(first));
                changed.push(Token {
                    text: "21212".to_owned(),
                    at: first,
                    damaged: false,
                });
                let resume = changed.len();
                changed.extend(tokens.get(to..).unwrap_or_default().iter().cloned());
                out.push(Change {
                    tokens: changed,
                    resume,
                    damage: Damage::Level { groups: to - at },
                    names: at,
                });
                continue;
            }
            // A level has two groups: the numbers must fit what is left out.
            let unlike = (2 * levels).abs_diff(to - at) > 2;
            if sequence && !section && (unlike || !self.falls(tokens, level, to)) {
                continue;
            }
            let mut changed = kept.clone();
            let first = tokens.get(at).map_or(at, |token| token.at);
            changed.extend((0..levels).map(|_| lost(first)));
            let resume = changed.len();
            changed.extend(tokens.get(to..).unwrap_or_default().iter().cloned());
            out.push(Change {
                tokens: changed,
                resume,
                damage: if inside && levels == 0 {
                    Damage::Values
                } else {
                    Damage::Level { groups: to - at }
                },
                names: at,
            });
        }
        if !inside {
            // One whole level is the likeliest loss, and a value of it may look like the
            // beginning of another.
            let whole: &[usize] = if sequence { &[2] } else { &[3, 2] };
            let rank = |change: &Change| match change.damage {
                Damage::Level { groups } => whole.iter().position(|&n| n == groups),
                _ => None,
            };
            out.sort_by_key(|change| rank(change).unwrap_or(whole.len()));
        }
        out
    }

    /// The number of the level that is expected at a failure, 1 to 9; 0 for the first of
    /// Part B.
    fn expected(&self, tokens: &[Token], failure: &Failure, inside: bool) -> usize {
        let (level, size) = failure.level;
        let first = usize::from(self.part == Part::D);
        let end = failure.at.min(tokens.len());
        if failure.at == level
            && let Some(own) = tokens.get(level).and_then(|token| number_of(&token.text))
        {
            return own;
        }
        let after = tokens.get(level + size..end).unwrap_or_default();
        let begins = after.iter().rposition(|token| token.text == "21212");
        let before = match begins {
            Some(_) => None,
            None => tokens.get(level).and_then(|token| number_of(&token.text)),
        };
        let after = after.get(begins.map_or(0, |i| i + 1)..).unwrap_or_default();
        let lost = if inside {
            0
        } else {
            after.iter().filter(|token| token.text == LOST).count()
        };
        let next = match before.filter(|_| level > 1) {
            Some(number) => number % 9 + 1,
            None => first,
        };
        if lost == 0 {
            next
        } else {
            (next + lost - 1) % 9 + 1
        }
    }

    /// Whether a value reads as the beginning of the next level or section.
    fn looks_like_anchor(&self, tokens: &[Token], failure: &Failure, at: usize) -> bool {
        let Some(text) = tokens.get(at).map(|token| token.text.as_str()) else {
            return false;
        };
        let own = tokens.get(failure.level.0);
        if SECTIONS.contains(&text) || own.is_some_and(|own| own.text == text) {
            return true;
        }
        if self.is_numbered(tokens) {
            let expected = self.expected(tokens, failure, true);
            return number_of(text) == Some(expected) && self.falls(tokens, failure.level.0, at);
        }
        let levels = tables::known_levels(self.form, self.part, self.before.surfaces);
        let mut names = levels.iter().map(|level| format!("{:02}", level.pp));
        is_group(text) && self.form == Form::Temp && names.any(|name| text.starts_with(&name))
    }

    /// Whether the levels of the part have numbers.
    fn is_numbered(&self, tokens: &[Token]) -> bool {
        matches!(self.part, Part::B | Part::D) && !by_height(tokens)
    }

    /// A level has one group too few: its values are missing.
    fn short(&self, tokens: &[Token], failure: &Failure) -> Vec<Change> {
        let (level, size) = failure.level;
        let at = failure.at;
        if at >= tokens.len() {
            return Vec::new();
        }
        if failure.is_inside() {
            return vec![without_values(tokens, failure, at)];
        }
        if !failure.is_after_level() {
            return Vec::new();
        }
        let mut out = Vec::new();
        let name = |i: usize| tokens.get(i).and_then(|token| token.text.get(..2));
        if !self.is_numbered(tokens) && name(level) != name(at) {
            // A value that was read as a level is none: the next one goes on below it.
            out.push(without_level(tokens, failure, at));
        }
        for to in level + 1..at {
            let indicator = tokens.get(to).map(|token| token.text.as_str());
            if indicator.is_some_and(|text| SECTIONS.contains(&text)) {
                // What comes before an indicator is no level.
                out.push(without_level(tokens, failure, to));
            }
        }
        let last = at - 1;
        if size > 1 && last > level && self.looks_like_anchor(tokens, failure, last) {
            // Where it may as well be the value that it is read as, the next level is
            // lost too.
            let sure = if self.is_numbered(tokens) {
                let next = tokens
                    .get(last + 2)
                    .and_then(|token| number_of(&token.text));
                next.is_none() || self.falls(tokens, last, last + 2)
            } else {
                size == 3 && is_no_wind(tokens, last)
            };
            if sure {
                out.push(without_values(tokens, failure, last));
            }
        }
        out
    }

    /// A group changed places with the beginning of the next level: that level is without
    /// values.
    fn swapped(&mut self, tokens: &[Token], failure: &Failure) -> Option<Change> {
        let at = failure.at;
        let anchor = tokens.get(at + 1)?.clone();
        let mut swapped = tokens.to_vec();
        if !failure.is_after_level()
            || at + 1 >= swapped.len()
            || self.looks_like_anchor(tokens, failure, at - 1)
        {
            return None;
        }
        swapped.swap(at, at + 1);
        let trial = Change {
            tokens: swapped,
            resume: at + 1,
            damage: Damage::Values,
            names: at,
        };
        if !self.holds(&trial) {
            return None;
        }
        let of_level = |values: usize| {
            let mut changed: Vec<Token> = tokens.get(..at).unwrap_or_default().to_vec();
            changed.push(anchor.clone());
            changed.extend(solidi(values, anchor.at));
            let resume = changed.len();
            let rest = tokens.get(at + 1 + values..).unwrap_or_default();
            changed.extend(rest.iter().cloned());
            Change {
                tokens: changed,
                resume,
                damage: Damage::Values,
                names: at,
            }
        };
        self.first(vec![of_level(2), of_level(1)])
    }

    /// Whether the first level of section 6 stands at a token: its number and a pressure
    /// below the level before it, while section 5 is read.
    fn begins_again(&self, tokens: &[Token], failure: &Failure, to: usize) -> bool {
        let first = usize::from(self.part == Part::D);
        let number = tokens.get(to).and_then(|token| number_of(&token.text));
        let before = tokens.get(..failure.at).unwrap_or_default();
        let winds = before.iter().any(|token| token.text == "21212");
        self.form == Form::Temp
            && !winds
            && number == Some(first)
            && to > failure.at
            && !self.falls(tokens, failure.level.0, to)
    }

    /// Whether the pressure of a level lies above that of one before.
    fn falls(&self, tokens: &[Token], level: usize, to: usize) -> bool {
        let pressure = |i: usize| {
            let text = &tokens.get(i)?.text;
            let figures: u16 = text.get(2..)?.parse().ok()?;
            let lower = !self.part.is_upper() && figures < 100;
            Some(if lower { figures + 1000 } else { figures })
        };
        let section = tokens.get(level..to).unwrap_or_default();
        if section.iter().any(|token| token.text == "21212") {
            return true;
        }
        let of_level = tokens.get(level).and_then(|token| number_of(&token.text));
        let numbered = level > 1 && of_level.is_some();
        match (pressure(level), pressure(to)) {
            (Some(below), Some(above)) if numbered => above < below,
            // A layer without data has no pressure to judge by.
            (_, above) => above.is_some(),
        }
    }
}

/// Whether levels are given by height.
fn by_height(tokens: &[Token]) -> bool {
    let first = tokens.get(3).map(|token| token.text.as_str());
    let pilot = tokens.first().is_some_and(|token| {
        ["PP", "QQ", "EE"]
            .iter()
            .any(|letters| token.text.starts_with(letters))
    });
    pilot && first != Some("21212")
}

/// The number nn of a group nnPPP.
fn number_of(text: &str) -> Option<usize> {
    let mut figures = text.chars();
    let (first, second) = (figures.next()?, figures.next()?);
    let number = first
        .to_digit(10)
        .filter(|_| first == second && is_group(text))?;
    usize::try_from(number).ok()
}

/// The tokens up to a level, its values as solidi.
fn blank(tokens: &[Token], level: usize, size: usize) -> Vec<Token> {
    let mut out: Vec<Token> = tokens.get(..=level).unwrap_or_default().to_vec();
    let at = tokens.get(level).map_or(level, |token| token.at);
    out.extend(solidi(size.saturating_sub(1), at));
    out
}

/// Solidi in the place of damaged groups.
fn solidi(count: usize, at: usize) -> impl Iterator<Item = Token> {
    (0..count).map(move |_| Token {
        text: "/////".to_owned(),
        at,
        damaged: true,
    })
}

/// A level without its values, and the groups from another on.
fn without_values(tokens: &[Token], failure: &Failure, to: usize) -> Change {
    let (level, size) = failure.level;
    let mut changed = blank(tokens, level, size);
    let resume = changed.len();
    changed.extend(tokens.get(to..).unwrap_or_default().iter().cloned());
    Change {
        tokens: changed,
        resume,
        damage: Damage::Values,
        names: level,
    }
}

/// The groups without a level, from another one on.
fn without_level(tokens: &[Token], failure: &Failure, to: usize) -> Change {
    let level = failure.level.0;
    let mut changed: Vec<Token> = tokens.get(..level).unwrap_or_default().to_vec();
    changed.push(lost(tokens.get(level).map_or(level, |token| token.at)));
    let resume = changed.len();
    changed.extend(tokens.get(to..).unwrap_or_default().iter().cloned());
    Change {
        tokens: changed,
        resume,
        damage: Damage::Level {
            groups: to.saturating_sub(level),
        },
        names: level,
    }
}

/// Whether the group at a failure may stand in the place of the one before it: the wind
/// of a level is none, but what is read as its temperature may be one.
fn may_be_exchanged(tokens: &[Token], failure: &Failure) -> bool {
    let at = failure.at;
    failure.is_inside()
        && failure.level.1 == 3
        && at == failure.level.0 + 2
        && tokens.get(at).is_some_and(|token| is_group(&token.text))
        && !is_no_wind(tokens, at - 1)
}

/// Whether a group is no wind within the gross limits.
fn is_no_wind(tokens: &[Token], at: usize) -> bool {
    let figures = |i: usize, from: usize, to: usize| -> Option<u16> {
        tokens.get(i)?.text.get(from..to)?.parse().ok()
    };
    let signed = tokens.get(1).is_some_and(|token| !is_group(&token.text));
    let knots = figures(1 + usize::from(signed), 0, 2).is_some_and(|yy| yy > 50);
    let speed = figures(at, 2, 5).map(|fff| f64::from(fff % 500));
    let unit = if knots {
        SpeedUnit::Knots
    } else {
        SpeedUnit::MetresPerSecond
    };
    let limits = tables::gross_limits().iter().map(|row| row.wind_max_kt);
    let most = SpeedUnit::Knots.to_ms(limits.fold(0.0, f64::max));
    figures(at, 0, 2).is_none_or(|dd| dd > 36) || speed.is_none_or(|speed| unit.to_ms(speed) > most)
}

/// Tokens with one in place of some.
fn put(tokens: &[Token], range: std::ops::Range<usize>, with: Vec<Token>) -> Vec<Token> {
    let mut out: Vec<Token> = tokens.get(..range.start).unwrap_or_default().to_vec();
    out.extend(with);
    out.extend(tokens.get(range.end..).unwrap_or_default().iter().cloned());
    out
}

/// The tokens about a failure: from the level before it or around it.
fn about(tokens: &[Token], failure: &Failure) -> std::ops::Range<usize> {
    let end = (failure.at + 1).min(tokens.len());
    failure.level.0.max(1).min(end)..end
}

/// Two groups that ran together are parted.
fn run_together(tokens: &[Token], failure: &Failure) -> Vec<Change> {
    let one = |i: usize| {
        let token = tokens.get(i)?;
        let (first, second) = token.text.split_at_checked(5)?;
        if !is_group(first) || !is_group(second) {
            return None;
        }
        let part = |text: &str| Token {
            text: text.to_owned(),
            at: token.at,
            damaged: false,
        };
        Some(Change {
            tokens: put(tokens, i..i + 1, vec![part(first), part(second)]),
            resume: failure.at.max(i),
            damage: Damage::RunTogether([first.to_owned(), second.to_owned()]),
            names: i,
        })
    };
    about(tokens, failure).filter_map(one).collect()
}

/// One group that was written as two is joined.
fn split(tokens: &[Token], failure: &Failure) -> Vec<Change> {
    let one = |i: usize| {
        let (first, second) = (tokens.get(i)?, tokens.get(i + 1)?);
        let text = format!("{}{}", first.text, second.text);
        if first.text.is_empty() || second.text.is_empty() || !is_group(&text) {
            return None;
        }
        let joined = Token {
            text: text.clone(),
            at: first.at,
            damaged: false,
        };
        Some(Change {
            tokens: put(tokens, i..i + 2, vec![joined]),
            resume: failure.at.max(i + 1),
            damage: Damage::Split(text),
            names: i,
        })
    };
    about(tokens, failure).filter_map(one).collect()
}

/// The part ends within a level: the values that are not there are missing.
fn cut_short(tokens: &[Token], failure: &Failure, properly: bool) -> Option<Change> {
    let (level, size) = failure.level;
    if level <= 1 {
        return None;
    }
    if properly && tokens.len() > level + 1 {
        // A group is missing, but not surely the last one.
        return Some(without_values(tokens, failure, tokens.len()));
    }
    let missing = (level + size)
        .checked_sub(tokens.len())
        .filter(|&n| n > 0)?;
    let at = tokens.last()?.at;
    let mut changed = tokens.to_vec();
    changed.extend(solidi(missing, at));
    Some(Change {
        tokens: changed,
        resume: tokens.len(),
        damage: Damage::Rest,
        names: tokens.len(),
    })
}

/// Two solidi in front of the first block of PILOT, with a wind for each of them: the first
/// is that of the surface, and where the second belongs is not said.
fn two_solidi(tokens: &[Token], failure: &Failure) -> Vec<Change> {
    let at = failure.at;
    let winds = || {
        tokens
            .get(at + 1..at + 4)
            .filter(|winds| winds.iter().all(is_wind))
    };
    let unit = |token: &Token| {
        let text = token
            .text
            .strip_prefix("90//")
            .or(token.text.strip_prefix("80//"))?;
        Some(format!("{}0/{text}/", token.text.get(..1)?))
    };
    let (Some(token), Some([_, second, _])) = (tokens.get(at), winds()) else {
        return Vec::new();
    };
    let Some(text) = unit(token).filter(|text| is_group(text)) else {
        return Vec::new();
    };
    let mut changed = put(tokens, at + 2..at + 3, Vec::new());
    if let Some(first) = changed.get_mut(at) {
        first.text = text;
        first.damaged = true;
    }
    vec![Change {
        tokens: changed,
        resume: at + 3,
        damage: Damage::Value,
        names: tokens.iter().position(|t| t.at == second.at).unwrap_or(at),
    }]
}

/// Whether a group can be a wind and no height: dd is at most 36.
fn is_wind(token: &Token) -> bool {
    is_group(&token.text) && (token.text == "/////" || token.text.starts_with(['0', '1', '2', '3']))
}

/// A group that is none is read as an indicator that it shares four characters with.
fn indicator(tokens: &[Token], failure: &Failure) -> Vec<Change> {
    let at = failure.at;
    let Some(token) = tokens.get(at).filter(|token| !is_group(&token.text)) else {
        return Vec::new();
    };
    let like = |name: &&&'static str| {
        let same = token.text.chars().zip(name.chars());
        token.text.chars().count() == 5 && same.filter(|(a, b)| a == b).count() >= 4
    };
    let one = |name: &&'static str| Change {
        tokens: put(
            tokens,
            at..at + 1,
            vec![Token {
                text: (*name).to_owned(),
                ..token.clone()
            }],
        ),
        resume: at,
        damage: Damage::Indicator(name),
        names: at,
    };
    // After the others anything can stand, so that nothing confirms them.
    ["21212", "31313"].iter().filter(like).map(one).collect()
}

/// A group that is none, or that stands twice, is left out.
fn extra(tokens: &[Token], failure: &Failure) -> Vec<Change> {
    let one = |i: usize| {
        let token = tokens.get(i)?;
        let twice = i.checked_sub(1).and_then(|i| tokens.get(i));
        let twice = twice.is_some_and(|before| before.text == token.text);
        // A word of another length; what has about five characters is a damaged group.
        let word = i >= failure.level.0 && !(4..=6).contains(&token.text.chars().count());
        if token.text == LOST || !(twice || word) {
            return None;
        }
        Some(Change {
            tokens: put(tokens, i..i + 1, Vec::new()),
            resume: failure.at.max(i),
            damage: Damage::Extra,
            names: i,
        })
    };
    // A group that stands twice may be noticed later.
    let end = about(tokens, failure).end;
    let start = end.saturating_sub(PAST).max(2);
    (start..end).filter_map(one).collect()
}

/// A level has one group too many: which one is not known, and its values are missing.
fn long(tokens: &[Token], failure: &Failure) -> Vec<Change> {
    // What is no group stands for the beginning of the next level.
    let group = tokens
        .get(failure.at)
        .is_some_and(|token| is_group(&token.text));
    if failure.is_after_level() && failure.level.1 > 1 && group {
        vec![without_values(tokens, failure, failure.at + 1)]
    } else {
        Vec::new()
    }
}
