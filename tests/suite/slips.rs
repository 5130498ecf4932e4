//! Seeded slips: messages with one fault of a kind that operators make, each read as traffic
//! and checked. Counted are the slips that a warning or error names, those named at the right
//! place, and the parts lost.
//!
//! `FIVEFIG_TRAFFIC=FOLDER` takes the complete reports of real traffic as well.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use fivefig::forms::text::{Body, Message, Traffic, message};
use fivefig::issue::report;
use fivefig::model::finding::{Finding, Severity};
use fivefig::model::{Form, Part, Reach};
use fivefig::verify::traffic::Checker;

use crate::support;

/// What a group of a part is.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    Time,
    Station,
    /// PPhhh of a standard surface.
    Height,
    /// TTTDD.
    Thermal,
    /// dddff or dddfff.
    Wind,
    /// nnPPP and the like.
    Pressure,
    Other,
}

/// A group of a message, and the number of its level in the part (0: none).
#[derive(Clone, Debug)]
struct Group {
    part: Part,
    text: String,
    kind: Kind,
    level: usize,
}

/// The groups of a message, from its figures.
fn groups(message: &Message) -> Vec<Group> {
    let report = message.report();
    let mut out: Vec<Group> = Vec::new();
    for part in Part::ALL {
        let Some(reported) = message.meanings(part, &report) else {
            continue;
        };
        let (mut winds, mut level, mut within) = (false, 0, 0);
        let mut before = Vec::new();
        for (i, one) in reported.into_iter().enumerate() {
            let group = one.group;
            winds |= one.levels.is_empty() && group == "21212";
            let lower = matches!(part, Part::A | Part::C);
            let begins = if lower {
                within == 3 || one.levels != before
            } else {
                within == 2 || one.levels != before
            };
            (level, within) = match begins && !one.levels.is_empty() {
                true => (level + 1, 1),
                false => (level, within + 1),
            };
            before.clone_from(&one.levels);
            let maximum = lower && matches!(group.get(..2), Some("77" | "66")) && within == 1;
            winds |= maximum;
            let kind = match (i, within) {
                (1, _) => Kind::Time,
                (2, _) => Kind::Station,
                _ if one.levels.is_empty() || group.contains('/') => Kind::Other,
                (_, 1) if lower && !matches!(group.get(..2), Some("99" | "88" | "77" | "66")) => {
                    Kind::Height
                }
                (_, 1) => Kind::Pressure,
                (_, 2) if winds => Kind::Wind,
                (_, 2) => Kind::Thermal,
                _ => Kind::Wind,
            };
            let level = if one.levels.is_empty() { 0 } else { level };
            out.push(Group {
                part,
                text: group,
                kind,
                level,
            });
        }
    }
    out
}

/// One part per line.
fn text(groups: &[Group]) -> String {
    let mut parts: BTreeMap<Part, Vec<&str>> = BTreeMap::new();
    for group in groups.iter().filter(|group| !group.text.is_empty()) {
        parts.entry(group.part).or_default().push(&group.text);
    }
    let lines: Vec<String> = parts.values().map(|part| part.join(" ") + "=\n").collect();
    lines.concat()
}

fn checked(text: &str) -> (BTreeSet<(bool, Part)>, Vec<Finding>) {
    let mut traffic = Traffic::new("t");
    text.lines().for_each(|line| traffic.push(line));
    traffic.finish();
    let mut checker = Checker::default();
    let mut found = traffic.take_findings();
    let mut parts = BTreeSet::new();
    for received in traffic.take() {
        let pilot = received.message.form == Form::Pilot;
        parts.extend(received.message.parts.keys().map(|part| (pilot, *part)));
        found.extend(received.findings.iter().cloned());
        found.extend(checker.check(&received, "t"));
    }
    found.extend(checker.finish());
    found.retain(|finding| finding.severity > Severity::Info);
    (parts, found)
}

/// A sequence without a pattern (Knuth's MMIX constants).
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        let next = self.0.wrapping_mul(6_364_136_223_846_793_005);
        self.0 = next.wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % n.max(1)
    }
}

const KINDS: [&str; 17] = [
    "transposed",
    "sign",
    "hour",
    "day",
    "station",
    "unit",
    "copied",
    "dropped group",
    "garbled",
    "run together",
    "swapped sections",
    "wind + 100",
    "wind turned",
    "height",
    "depression",
    "dropped level",
    "level copied",
];

/// Exchanges two figures that differ.
fn transposed(group: &str, dice: &mut Dice, from: usize) -> Option<String> {
    let mut figures = group.as_bytes().to_vec();
    let places: Vec<usize> = (from..figures.len().saturating_sub(1))
        .filter(|&i| figures[i] != figures[i + 1] && figures[i].is_ascii_digit())
        .filter(|&i| figures[i + 1].is_ascii_digit())
        .collect();
    let at = *places.get(dice.below(places.len()))?;
    figures.swap(at, at + 1);
    String::from_utf8(figures).ok()
}

/// The message with a slip of a kind, and the groups touched.
fn slipped(all: &[Group], kind: &str, dice: &mut Dice) -> Option<(Vec<Group>, Vec<usize>)> {
    let of = |wanted: &[Kind]| -> Vec<usize> {
        let all = all.iter().enumerate();
        all.filter(|(_, g)| wanted.contains(&g.kind))
            .map(|(i, _)| i)
            .collect()
    };
    let mut pick = |from: Vec<usize>| from.get(dice.below(from.len())).copied();
    let figures = |group: &Group, range: std::ops::Range<usize>| -> Option<usize> {
        group.text.get(range)?.parse().ok()
    };
    let mut out = all.to_vec();
    let at = match kind {
        "transposed" => pick(of(&[Kind::Thermal, Kind::Wind, Kind::Height]))?,
        "sign" | "depression" => pick(of(&[Kind::Thermal]))?,
        "hour" | "day" | "unit" => pick(of(&[Kind::Time]))?,
        "station" => pick(of(&[Kind::Station]))?,
        "wind + 100" | "wind turned" => pick(of(&[Kind::Wind]))?,
        "height" => pick(of(&[Kind::Height]))?,
        _ => pick(of(&[
            Kind::Thermal,
            Kind::Wind,
            Kind::Height,
            Kind::Pressure,
        ]))?,
    };
    let group = all[at].clone();
    let mut touched = vec![at];
    let new = match kind {
        "transposed" => match group.kind {
            // Of temperature and direction and of the hundreds and tens of a height: what is
            // within the resolution of the checks is no slip that anyone could see.
            Kind::Thermal => {
                let text = transposed(group.text.get(..3)?, dice, 0)?;
                let value = |t: &str| t.parse::<i32>().ok();
                let off = (value(&text)? - value(group.text.get(..3)?)?).abs();
                let sign = |t: &str| value(t).map(|v| v % 2);
                if off < 50 && sign(&text) == sign(&group.text[..3]) {
                    return None;
                }
                text + group.text.get(3..)?
            }
            Kind::Wind => {
                let text = transposed(group.text.get(..3)?, dice, 0)?;
                if figures(&group, 3..5)? < 10 {
                    return None;
                }
                text + group.text.get(3..)?
            }
            _ => group.text.get(..2)?.to_owned() + &transposed(group.text.get(2..)?, dice, 0)?,
        },
        "sign" => {
            let value = figures(&group, 0..3)?;
            if value < 50 {
                return None;
            }
            format!("{:03}{}", value ^ 1, group.text.get(3..)?)
        }
        "depression" => {
            let d = figures(&group, 3..5)?;
            let other = if d >= 56 { d % 10 } else { 80 + d % 10 };
            format!("{}{other:02}", group.text.get(..3)?)
        }
        "hour" => {
            let hour = (figures(&group, 2..4)? + 12) % 24;
            format!("{}{hour:02}{}", group.text.get(..2)?, group.text.get(4..)?)
        }
        "day" => {
            let day = figures(&group, 0..2)?;
            let other = if day % 10 == 9 { day - 1 } else { day + 1 };
            format!("{other:02}{}", group.text.get(2..)?)
        }
        "unit" => {
            let day = figures(&group, 0..2)?;
            let other = if day > 50 { day - 50 } else { day + 50 };
            format!("{other:02}{}", group.text.get(2..)?)
        }
        "station" => {
            let number = figures(&group, 0..5)?;
            let digit = number % 10;
            format!("{:05}", number - digit + (digit + 3) % 10)
        }
        "wind + 100" => {
            let speed = figures(&group, 2..5)?;
            format!("{}{:03}", group.text.get(..2)?, speed + 100)
        }
        "wind turned" => {
            let (direction, rest) = (figures(&group, 0..3)?, figures(&group, 3..5)?);
            // The hundreds of the speed are in the third figure; a weak wind is turned within
            // the resolution of the checks.
            let (five, hundreds) = (direction / 5 * 5, direction % 5);
            if rest < 10 && hundreds == 0 {
                return None;
            }
            format!("{:03}{rest:02}", (five + 180) % 360 + hundreds)
        }
        "height" => {
            let height = figures(&group, 2..5)?;
            format!("{}{:03}", group.text.get(..2)?, (height + 100) % 1000)
        }
        "copied" => {
            // The same group of the next level instead of its own.
            let next = all
                .iter()
                .skip(at + 1)
                .find(|g| g.part == group.part && g.kind == group.kind && g.text != group.text)?;
            let close = |range: std::ops::Range<usize>, most| {
                figures(next, range.clone())
                    .zip(figures(&group, range))
                    .is_some_and(|(a, b): (usize, usize)| a.abs_diff(b) < most)
            };
            if group.kind == Kind::Thermal && close(0..3, 60)
                || group.kind == Kind::Wind && close(0..3, 40) && close(3..5, 12)
            {
                return None;
            }
            next.text.clone()
        }
        "dropped group" => String::new(),
        "garbled" => {
            let mut text = group.text.clone();
            let i = dice.below(text.len());
            text.replace_range(i..=i, ["X", "?", "Q"][dice.below(3)]);
            text
        }
        "run together" => {
            let next = all.get(at + 1).filter(|g| g.part == group.part)?;
            touched.push(at + 1);
            out[at + 1].text = String::new();
            group.text.clone() + &next.text
        }
        "dropped level" | "level copied" => {
            let own = |g: &Group| g.part == group.part && g.level == group.level;
            let of_standard = out.iter().any(|g| own(g) && g.kind == Kind::Height);
            if group.level == 0 || !of_standard {
                return None;
            }
            let indexes: Vec<usize> = (0..all.len()).filter(|&i| own(&all[i])).collect();
            let mut below = Vec::new();
            for &i in &indexes {
                let from = i.checked_sub(indexes.len()).map(|i| &all[i])?;
                if from.part != group.part || from.kind != all[i].kind {
                    return None;
                }
                below.push(from.text.clone());
            }
            for (&i, text) in indexes.iter().zip(&below) {
                let text = if kind == "level copied" {
                    text.as_str()
                } else {
                    ""
                };
                text.clone_into(&mut out[i].text);
            }
            touched = indexes;
            out[at].text.clone()
        }
        // Sections 5 and 6 of a part exchanged.
        "swapped sections" => {
            let part = if dice.below(2) == 0 { Part::B } else { Part::D };
            let place =
                |of: &dyn Fn(&Group) -> bool| all.iter().position(|g| g.part == part && of(g));
            let start = place(&|g| g.level > 0)?;
            let middle = place(&|g| g.text == "21212")?;
            let end = middle
                + 1
                + all[middle + 1..]
                    .iter()
                    .take_while(|g| g.part == part && g.level > 0)
                    .count();
            out = [
                &all[..start],
                &all[middle + 1..end],
                &all[middle..=middle],
                &all[start..middle],
                &all[end..],
            ]
            .concat();
            touched = (start..end).collect();
            out[at].text.clone()
        }
        _ => return None,
    };
    if kind != "swapped sections" {
        if new == group.text && !matches!(kind, "dropped level" | "level copied") {
            return None;
        }
        out[at].text = new;
    }
    Some((out, touched))
}

/// What became of the slips of a kind.
#[derive(Clone, Copy, Debug, Default)]
struct Count {
    made: usize,
    caught: usize,
    placed: usize,
    lost: usize,
}

/// Complete messages: those of the samples, and of real traffic where a folder is named, each
/// with the PILOT of the same station and time if there is one.
fn messages() -> Vec<(String, Message, String)> {
    let mut out = Vec::new();
    for name in [
        "winter_jet",
        "tropical",
        "polar_night",
        "plateau",
        "minute",
        "low_burst",
    ] {
        let (ascent, sheet) = support::ascent(name, Form::Temp);
        let report = report(Form::Temp, &ascent, &sheet.context, Reach::Whole)
            .unwrap()
            .value;
        out.push((
            name.to_owned(),
            message(&report).unwrap().value,
            String::new(),
        ));
    }
    if let Some(folder) = std::env::var_os("FIVEFIG_TRAFFIC") {
        let mut traffic = Traffic::new("t");
        let mut files: Vec<_> = fs::read_dir(folder)
            .unwrap()
            .map(|e| e.unwrap().path())
            .collect();
        files.sort();
        for file in files {
            let bytes = fs::read(file).unwrap();
            String::from_utf8_lossy(&bytes)
                .lines()
                .for_each(|line| traffic.push(line));
        }
        traffic.finish();
        let all = traffic.take();
        let key = |m: &Message| (m.ident.groups(), m.day, m.hour);
        let pilots = all.iter().map(|received| received.message.clone());
        let pilots = pilots.filter(|message| message.form == Form::Pilot);
        let with_data = |mut message: Message| {
            message
                .parts
                .retain(|_, body| !matches!(body, Body::Nil(_)));
            (key(&message), message.to_string())
        };
        let pilots: BTreeMap<_, _> = pilots.map(with_data).collect();
        for received in all {
            let message = received.message;
            let mut bodies = message.parts.values();
            // A slip in a part without data has nothing that could contradict it.
            let nil = bodies.any(|body| matches!(body, Body::Nil(_)));
            if message.form == Form::Temp && message.parts.len() == Part::ALL.len() && !nil {
                let pilot = pilots.get(&key(&message)).cloned().unwrap_or_default();
                let text = format!("{pilot}{message}");
                if checked(&text).1.is_empty() {
                    out.push((message.ident.groups().join(" "), message, pilot));
                }
            }
        }
    }
    out
}

#[test]
fn seeded_slips_are_caught_at_their_place() {
    let mut counts: BTreeMap<&str, Count> = BTreeMap::new();
    let mut dice = Dice(17);
    let mut missed = Vec::new();
    for (name, message, pilot) in messages() {
        let all = groups(&message);
        let (whole, clean) = checked(&(pilot.clone() + &text(&all)));
        assert!(clean.is_empty(), "{name}: {clean:?}");
        for kind in KINDS {
            let count = counts.entry(kind).or_default();
            let mut made = 0;
            for _ in 0..40 {
                let Some((slip, touched)) = slipped(&all, kind, &mut dice) else {
                    continue;
                };
                made += 1;
                if made > 8 {
                    break;
                }
                count.made += 1;
                let (parts, found) = checked(&(pilot.clone() + &text(&slip)));
                count.lost += usize::from(parts.len() < whole.len());
                count.caught += usize::from(!found.is_empty());
                // The place: a group of the level that was touched, or one beside it.
                let part = all[touched[0]].part;
                let first = all.iter().position(|g| g.part == part).unwrap();
                let own: Vec<usize> = touched.iter().map(|i| i - first + 1).collect();
                let (low, high) = (own[0].saturating_sub(2), own[own.len() - 1] + 2);
                let pressure = pressure(&all, touched[0]);
                let placed = found.iter().any(|f| {
                    let at = f.place.group.is_some_and(|g| g >= low && g <= high);
                    let level = f.place.pressure_hpa.is_some() && f.place.pressure_hpa == pressure;
                    f.place.part == Some(part.letter()) && at || level
                });
                count.placed += usize::from(placed);
                if found.is_empty() || !placed {
                    let before: Vec<&str> = touched.iter().map(|&i| all[i].text.as_str()).collect();
                    let after: Vec<&str> = touched.iter().map(|&i| slip[i].text.as_str()).collect();
                    let stderr: Vec<String> = found.iter().map(Finding::text).collect();
                    missed.push(format!(
                        "{kind} {name} {part:?} {own:?}: {before:?} -> {after:?}: {stderr:?}"
                    ));
                }
            }
        }
    }
    let mut sum = Count::default();
    for (kind, c) in &counts {
        println!(
            "{kind:18} {:4} made {:4} caught {:4} placed {:4} parts lost",
            c.made, c.caught, c.placed, c.lost
        );
        sum.made += c.made;
        sum.caught += c.caught;
        sum.placed += c.placed;
        sum.lost += c.lost;
    }
    println!("{sum:?}");
    for line in &missed {
        println!("{line}");
    }
    assert!(sum.made > 300, "{sum:?}");
    assert_eq!(sum.lost, 0, "{sum:?}");
    assert!(sum.caught * 100 >= sum.made * 95, "{sum:?}");
    assert!(sum.placed * 100 >= sum.made * 85, "{sum:?}");
}

/// Pressure of the level of a group, as its first group gives it.
fn pressure(all: &[Group], at: usize) -> Option<f64> {
    let own = &all[at];
    let first = all
        .iter()
        .find(|g| g.part == own.part && g.level == own.level && g.level > 0)?;
    let upper = matches!(own.part, Part::C | Part::D);
    if first.kind == Kind::Height {
        let pp: f64 = first.text.get(..2)?.parse().ok()?;
        let tens = match (upper, pp as u8) {
            (true, _) => pp,
            (false, 0) => 1000.0,
            (false, 92) => 925.0,
            (false, _) => pp * 10.0,
        };
        return Some(tens);
    }
    let ppp: f64 = first.text.get(2..)?.parse().ok()?;
    Some(match upper {
        true => ppp / 10.0,
        false if ppp < 100.0 => ppp + 1000.0,
        false => ppp,
    })
}
