//! Checks of a stream of reports: each message by itself, its heading, and parts that stand
//! alone because their identification was garbled.

mod summary;
#[cfg(feature = "arrow")]
mod table;

use std::collections::{BTreeMap, VecDeque};

use crate::forms::text;
use crate::forms::text::{Body, Heading, Ident, Message, Received};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Dated, Form, Part};
use crate::tables::message_limits;
use crate::verify::message;
use crate::verify::message::{HeightLine, StandardWind};

pub use summary::{CodeCount, Collector, Counts, Line, Summary};
#[cfg(feature = "arrow")]
pub use table::Rows;

/// How many reports that lack parts are compared with each other.
const MAX_INCOMPLETE: usize = 1024;

/// How many stations and times with winds are remembered.
const MAX_WITH_WINDS: usize = 4096;

/// How often a station must have stood under one heading for it to be the usual one.
const USUAL: usize = 8;

/// How many stations are remembered.
const MAX_STATIONS: usize = 20_000;

/// Checks the reports of a stream as they come.
///
/// ```
/// use fivefig::forms::text::Traffic;
/// use fivefig::verify::traffic::Checker;
///
/// // Invented: one digit of the station number of Part B is wrong.
/// let mut traffic = Traffic::new("bulletin.txt");
/// traffic.push("TTAA 15000 99011 99004 04430 23006 00119 04226 22507 88999 77999=");
/// traffic.push("TTBB 15000 99017 00004 04430 11990 03827 22970 03022=");
/// traffic.finish();
/// let mut checker = Checker::default();
/// let mut found = Vec::new();
/// for received in traffic.take() {
///     found.extend(checker.check(&received, "bulletin.txt"));
/// }
/// found.extend(checker.finish());
/// assert!(found.iter().any(|finding| finding.code == "part-orphaned"));
/// ```
#[derive(Debug, Default)]
pub struct Checker {
    dated: Option<Dated>,
    incomplete: VecDeque<Incomplete>,
    winds: BTreeMap<(String, u8, u8), Winds>,
    /// Keys of `winds`, the oldest first.
    with_winds: VecDeque<(String, u8, u8)>,
    /// Area A1A2 of the headings of each station, and how often.
    headings: BTreeMap<String, BTreeMap<String, usize>>,
}

/// Winds of a TEMP and of a PILOT of one station and time.
#[derive(Debug, Default)]
struct Winds {
    temp: Vec<StandardWind>,
    pilot: HeightLine,
}

/// A report that lacks parts.
#[derive(Debug)]
struct Incomplete {
    message: Message,
    /// Where YYGG and the station number of its first part stand.
    time: Place,
    station: Place,
}

/// What differs between two identifications.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Slip {
    Station,
    Day,
    Hour,
    Unit,
}

impl Checker {
    /// A checker of traffic whose year and month are known.
    #[must_use]
    pub fn dated(dated: Option<Dated>) -> Self {
        Self {
            dated,
            ..Self::default()
        }
    }

    /// The findings about a report, those of its reading not included, with their places in
    /// the named file.
    pub fn check(&mut self, received: &Received, name: &str) -> Vec<Finding> {
        let message = &received.message;
        let mut found = message::check(message);
        found.extend(self.other_form(message));
        let whole = || Place {
            part: message.parts.keys().next().map(|part| part.letter()),
            group: Some(1),
            ..Place::default()
        };
        if let Some(dated) = self.dated.filter(|dated| dated.of(message.day).is_none()) {
            found.push(text::day_not_in_month(message.day, dated, whole()));
        }
        for heading in &received.headings {
            found.extend(heading_time(message, heading, whole()));
            found.extend(self.heading_unusual(message, heading, whole()));
        }
        self.remember(received, name);
        let mut found = received.placed(name, found);
        identify(&mut found, received, self.dated);
        found
    }

    /// The findings about parts that stand alone, once the stream has ended.
    pub fn finish(&mut self) -> Vec<Finding> {
        let all = std::mem::take(&mut self.incomplete);
        let mut found = Vec::new();
        for (i, one) in all.iter().enumerate() {
            for other in all.iter().skip(i + 1) {
                let Some(slip) = slip(&one.message, &other.message) else {
                    continue;
                };
                if !belong(&one.message, &other.message, slip) {
                    continue;
                }
                let (few, many) = (one.message.parts.len(), other.message.parts.len());
                if few <= many {
                    found.push(orphaned(one, other, slip));
                }
                if few >= many {
                    found.push(orphaned(other, one, slip));
                }
            }
        }
        found
    }

    /// TEMP with the PILOT of the same station and time, when the second of them comes.
    fn other_form(&mut self, message: &Message) -> Vec<Finding> {
        let (temp, pilot) = match message.form {
            Form::Pilot => (Vec::new(), HeightLine::of(message)),
            _ => (message::temp_winds(message), HeightLine::default()),
        };
        if temp.is_empty() && pilot.is_empty() {
            return Vec::new();
        }
        let key = (station(message), message.day, message.hour);
        if !self.winds.contains_key(&key) {
            if self.with_winds.len() >= MAX_WITH_WINDS
                && let Some(oldest) = self.with_winds.pop_front()
            {
                self.winds.remove(&oldest);
            }
            self.with_winds.push_back(key.clone());
        }
        let known = self.winds.entry(key).or_default();
        let (other_temp, other_pilot) = (&known.temp, &known.pilot);
        let found = match message.form {
            Form::Pilot => message::with_pilot(message, other_temp, &pilot),
            _ => message::with_pilot(message, &temp, other_pilot),
        };
        match message.form {
            Form::Pilot => known.pilot = pilot,
            _ => known.temp = temp,
        }
        found
    }

    fn remember(&mut self, received: &Received, name: &str) {
        let message = &received.message;
        let reports = |part: &Part| !matches!(message.parts.get(part), None | Some(Body::Nil(_)));
        let there: Vec<Part> = Part::ALL.into_iter().filter(reports).collect();
        let Some(first) = there.first() else { return };
        if there.len() == Part::ALL.len() {
            return;
        }
        // The call sign of ships and mobile stations stands before YYGG.
        let time = if message.ident.sign().is_some() { 3 } else { 2 };
        let at = |group| {
            let place = Place {
                part: Some(first.letter()),
                group: Some(group),
                ..Place::default()
            };
            let probe = finding!(BulletinNil, place);
            let mut placed = received.placed(name, vec![probe]);
            identify(&mut placed, received, self.dated);
            placed.pop().map(|f| f.place).unwrap_or_default()
        };
        if self.incomplete.len() >= MAX_INCOMPLETE {
            self.incomplete.pop_front();
        }
        self.incomplete.push_back(Incomplete {
            message: message.clone(),
            time: at(time),
            station: at(time + 1),
        });
    }

    /// A report under another area than those of the station before.
    fn heading_unusual(
        &mut self,
        message: &Message,
        heading: &Heading,
        place: Place,
    ) -> Option<Finding> {
        let who = station(message);
        if self.headings.len() >= MAX_STATIONS && !self.headings.contains_key(&who) {
            return None;
        }
        let own = heading.designator.get(2..4).unwrap_or_default().to_owned();
        let known = self.headings.entry(who).or_default();
        let usual = known.iter().max_by_key(|(_, count)| **count);
        let unusual = usual
            .filter(|(_, count)| **count >= USUAL && !known.contains_key(&own))
            .map(|(usual, _)| {
                finding!(
                    HeadingUnusual,
                    place,
                    usual = usual,
                    heading = heading.to_string()
                )
            });
        *known.entry(own).or_default() += 1;
        unusual
    }
}

/// Station number, call sign or position of a message.
#[must_use]
pub fn station(message: &Message) -> String {
    message.ident.name()
}

/// Day and hour of a message, `13T00Z`; the date where year and month are known,
/// `2022-07-13T00Z`.
#[must_use]
pub fn time(message: &Message, dated: Option<Dated>) -> String {
    let date = dated.and_then(|dated| dated.of(message.day));
    let day = date.map_or_else(|| format!("{:02}", message.day), |date| date.to_string());
    format!("{day}T{:02}Z", message.hour)
}

/// Gives findings the station, time and heading of a report.
pub fn identify(findings: &mut [Finding], received: &Received, dated: Option<Dated>) {
    let message = &received.message;
    let (station, time) = (station(message), time(message, dated));
    let heading = match received.headings.as_slice() {
        [one] => Some(one.to_string()),
        _ => None,
    };
    for Finding { place, .. } in findings {
        place.station = Some(station.clone());
        place.time = Some(time.clone());
        place.heading = place.heading.take().or_else(|| heading.clone());
    }
}

/// A heading far from day and hour of the message.
fn heading_time(message: &Message, heading: &Heading, place: Place) -> Option<Finding> {
    let days = i32::from(heading.day) - i32::from(message.day);
    let (hour, minute) = heading.clock;
    let minutes = (i32::from(hour) - i32::from(message.hour)) * 60 + i32::from(minute);
    // Across the end of a month, of whatever length.
    let months = [0, 28, 29, 30, 31, -28, -29, -30, -31];
    let apart = months.map(|month| ((days + month) * 24 * 60 + minutes).abs());
    let apart_h = f64::from(apart.into_iter().min().unwrap_or(0)) / 60.0;
    let most_h = message_limits().heading_apart_h;
    (apart_h > most_h).then(|| {
        finding!(
            HeadingTime,
            place,
            heading = heading.to_string(),
            day = message.day,
            hour = message.hour,
            [most_h = most_h]
        )
    })
}

/// Whether one figure differs, or two neighbours are exchanged.
fn one_slip(one: &str, other: &str) -> bool {
    let (a, b) = (one.as_bytes(), other.as_bytes());
    let differ: Vec<usize> = (a.iter().zip(b).enumerate())
        .filter(|(_, (x, y))| x != y)
        .map(|(i, _)| i)
        .collect();
    a.len() == b.len()
        && match differ.as_slice() {
            [_] => true,
            [i, j] => *j == i + 1 && a.get(*i) == b.get(*j) && a.get(*j) == b.get(*i),
            _ => false,
        }
}

/// What alone differs between the identifications of two messages.
fn slip(one: &Message, other: &Message) -> Option<Slip> {
    if one.form != other.form || one.ident.kind() != other.ident.kind() {
        return None;
    }
    if one.parts.keys().any(|part| other.parts.contains_key(part)) {
        return None;
    }
    let mut slips = Vec::new();
    if one.ident != other.ident {
        slips.push(Slip::Station);
    }
    if one.day != other.day {
        slips.push(Slip::Day);
    }
    if one.hour != other.hour {
        slips.push(Slip::Hour);
    }
    if one.unit != other.unit {
        slips.push(Slip::Unit);
    }
    let [slip] = slips.as_slice() else {
        return None;
    };
    let two = |value: u8| format!("{value:02}");
    let near = match slip {
        Slip::Station => match (&one.ident, &other.ident) {
            (Ident::Land { .. }, Ident::Land { .. }) => one_slip(&station(one), &station(other)),
            _ => true,
        },
        Slip::Day => one_slip(&two(one.day), &two(other.day)),
        Slip::Hour | Slip::Unit => true,
    };
    near.then_some(*slip)
}

/// Whether two messages that lack parts agree as one report does.
fn belong(one: &Message, other: &Message, slip: Slip) -> bool {
    // One station reports a sounding in one unit.
    if slip == Slip::Unit {
        return true;
    }
    let mut both = one.clone();
    both.parts.extend(other.parts.clone());
    // Where only upper parts were received there is too little to go by: the air of
    // neighbouring stations is alike up there.
    if !(both.parts.contains_key(&Part::A) && both.parts.contains_key(&Part::B)) {
        return false;
    }
    message::parts_fit(&both, |part| one.parts.contains_key(&part))
}

fn orphaned(one: &Incomplete, other: &Incomplete, slip: Slip) -> Finding {
    let letters = |message: &Message| {
        let letters: Vec<String> = message
            .parts
            .keys()
            .map(|p| p.letter().to_string())
            .collect();
        letters.join(", ")
    };
    let who = |message: &Message| format!("{} {}", station(message), time(message, None));
    let place = match slip {
        Slip::Station => one.station.clone(),
        _ => one.time.clone(),
    };
    finding!(
        PartOrphaned,
        place,
        part = letters(&one.message),
        who = who(&one.message),
        other_part = letters(&other.message),
        other = who(&other.message),
        slips = match slip {
            Slip::Station => "the station",
            Slip::Day => "the day",
            Slip::Hour => "the hour",
            Slip::Unit => "the unit of speed",
        }
    )
}

#[cfg(test)]
mod tests;
