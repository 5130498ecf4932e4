//! Reading and writing again gives the same groups, for every part that was read:
//! through figures, through the report and through JSON.

use std::fs;
use std::path::Path;
use std::sync::LazyLock;

use fivefig::forms::json;
use fivefig::forms::json::Record;
use fivefig::forms::text::{Message, Received, Traffic, message};
use fivefig::model::Part;
use proptest::prelude::*;
use proptest::sample::Index;

/// Every part of a text of traffic that was read.
fn received(text: &str) -> Vec<Received> {
    let mut traffic = Traffic::new("traffic");
    for line in text.split('\n') {
        traffic.push(line);
    }
    traffic.finish();
    traffic.take()
}

/// The groups of a part, or why there are none.
fn groups(message: Result<Message, String>, part: Part) -> Vec<String> {
    match message {
        Ok(message) => message.groups(part).unwrap_or_default(),
        Err(why) => vec![why],
    }
}

/// The message that is made again from the report, directly and through JSON.
fn again(one: &Message) -> [Result<Message, String>; 2] {
    let report = one.report();
    let coded = message(&report)
        .map(|noted| noted.value)
        .map_err(|e| e.to_string());
    let text = json::write(vec![Record::new(&report, Some(one), &[], None)]).unwrap();
    let records = json::read(&text).map_err(|e| e.to_string());
    let through = records.and_then(|records| {
        let report = records.first().unwrap().report(1);
        let report = report.map_err(|e| e.to_string())?;
        let message = message(&report).map_err(|e| e.to_string())?.value;
        Ok(message)
    });
    [coded, through]
}

/// What is put right or left out with a finding of its own, so that the text of the part
/// differs from what was received.
const PUT_RIGHT: [&str; 10] = [
    "indicator-damaged",
    "id-wrong",
    "group-damaged",
    "level-damaged",
    "level-lost",
    "level-absent",
    "group-extra",
    "groups-run-together",
    "group-split",
    "part-cut",
];

/// Where the groups of a part differ on one of the ways: the way and both texts.
fn differences(one: &Received) -> Vec<String> {
    let mut out = Vec::new();
    let ways = again(&one.message);
    for (part, raw) in &one.raw {
        let letter = Some(part.letter());
        let put_right = one
            .findings
            .iter()
            .any(|f| f.place.part == letter && PUT_RIGHT.contains(&f.code.as_ref()));
        let raw: Vec<String> = if put_right {
            // What was salvaged stays as it is on every way.
            one.message.groups(*part).unwrap_or_default()
        } else {
            let raw = raw.to_ascii_uppercase();
            raw.split(' ').map(str::to_owned).collect()
        };
        let [report, json] = ways.clone();
        let figures = Ok(one.message.clone());
        for (way, made) in [("figures", figures), ("report", report), ("JSON", json)] {
            let made = groups(made, *part);
            if made != raw {
                out.push(format!("{way}:\n  {}\n  {}", raw.join(" "), made.join(" ")));
            }
        }
    }
    out
}

/// `FIVEFIG_TRAFFIC` names a folder of real traffic.
#[test]
fn parts_of_traffic_are_written_again_with_the_same_groups() {
    let Some(folder) = std::env::var_os("FIVEFIG_TRAFFIC") else {
        return;
    };
    let (mut parts, mut found) = (0, Vec::new());
    for entry in fs::read_dir(Path::new(&folder)).unwrap() {
        let path = entry.unwrap().path();
        let text = String::from_utf8_lossy(&fs::read(&path).unwrap()).into_owned();
        for one in received(&text) {
            parts += one.raw.len();
            let of_one = differences(&one).into_iter();
            found.extend(of_one.map(|what| format!("{}: {what}", path.display())));
        }
    }
    assert!(parts > 0);
    assert!(
        found.is_empty(),
        "{} of {parts} parts:\n{}",
        found.len(),
        found.join("\n")
    );
}

/// Parts of every form, some published (tests/vectors/ names the sources), some seen
/// in real traffic (calms with a direction, winds at 7 hPa, NIL with a4), some our own.
fn examples() -> Vec<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    let mut out = Vec::new();
    for entry in fs::read_dir(root.join("vectors")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "toml") {
            continue;
        }
        let text = fs::read_to_string(path).unwrap();
        let table: toml::Table = text.parse().unwrap_or_default();
        out.extend(
            table
                .get("text")
                .and_then(|t| t.as_str())
                .map(str::to_owned),
        );
    }
    for entry in fs::read_dir(root.join("suite/snapshots")).unwrap() {
        let path = entry.unwrap().path();
        if path
            .file_name()
            .is_some_and(|n| n.to_string_lossy().starts_with("suite__messages__"))
        {
            let text = fs::read_to_string(path).unwrap();
            out.extend(text.splitn(3, "---\n").nth(2).map(str::to_owned));
        }
    }
    out.push(
        "TTAA 28231 57083 99007 06625 21500 00173 14464 24501 92830 13474 30002 85533 08072 34505 \
         70106 01677 05000 50574 15573 33513 40738 29169 31509 30937 43567 30010 25057 51766 30008 \
         20199 58365 28519 15381 58965 27027 10633 625// 27528 88207 58565 28516 77999 31313 63203 \
         82315=\nPPBB 69210 86068 NIL=\nTTCC 63001 72440 70885 62175 28510 50096 55776 13008 30422 \
         52777 07523 20687 46779 09525 10156 37780 09032 07405 31182 08552 88999 77999 31313 45408 \
         82303="
            .to_owned(),
    );
    // Two stations' section 7 differ from part to part; clouds as figures; a gap at the
    // end; 88/// in a PILOT by pressure.
    out.push(
        "TTAA 15118 99011 99012 21212 21212 00104 21212 21212 92790 16410 21212 85510 11612 21212 \
         88999 77999 31313 89999 81123 91000=\nTTBB 15118 99011 00012 21212 11850 11612 22/// ///// \
         33700 02814 44/// ///// 21212 00012 21212 11850 21212 22/// ///// 31313 09608 8//// 41414 \
         0//02 51515 10164 00012 61616 WET=\nPPBB 15118 99011 21212 00012 21212 11850 27010 22/// \
         ///// 33500 28020 44/// /////="
            .to_owned(),
    );
    out
}

#[test]
fn parts_of_every_form_are_written_again_with_the_same_groups() {
    let (mut parts, mut found) = (0, Vec::new());
    for text in examples() {
        for one in received(&text) {
            parts += one.raw.len();
            found.extend(differences(&one));
        }
    }
    assert!(parts > 60, "{parts}");
    assert!(found.is_empty(), "{}", found.join("\n"));
}

static EXAMPLES: LazyLock<Vec<String>> = LazyLock::new(examples);

/// What becomes of a group.
#[derive(Clone, Debug)]
enum Slip {
    /// A figure or solidus in the place of another.
    Figure(Index, Index, u8),
    /// Two groups change places.
    Swap(Index, usize),
    /// A pair of groups (from an even place) comes twice.
    Twice(Index),
}

fn slip() -> impl Strategy<Value = Slip> {
    prop_oneof![
        4 => (any::<Index>(), any::<Index>(), 0..11_u8).prop_map(|(a, b, c)| Slip::Figure(a, b, c)),
        2 => (any::<Index>(), 1..4_usize).prop_map(|(a, b)| Slip::Swap(a, b)),
        1 => any::<Index>().prop_map(Slip::Twice),
    ]
}

fn damage(groups: &mut Vec<String>, slip: &Slip) {
    match *slip {
        Slip::Figure(at, place, figure) => {
            let at = at.index(groups.len());
            let group = &mut groups[at];
            let place = place.index(group.len());
            let with = if figure == 10 {
                "/".to_owned()
            } else {
                figure.to_string()
            };
            if group.is_char_boundary(place) && group.is_char_boundary(place + 1) {
                group.replace_range(place..=place, &with);
            }
        }
        Slip::Swap(at, by) => {
            let at = at.index(groups.len());
            let other = (at + by) % groups.len();
            groups.swap(at, other);
        }
        Slip::Twice(at) => {
            let at = at.index(groups.len());
            let pair: Vec<String> = groups.iter().skip(at).take(2).cloned().collect();
            groups.splice(at..at, pair);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::default())]

    /// A part with slips, if it is read at all, is written again as it was read.
    #[test]
    fn what_is_read_of_damaged_parts_is_written_again(
        which in any::<Index>(), part in any::<Index>(),
        slips in prop::collection::vec(slip(), 0..4),
    ) {
        let text = which.get(&EXAMPLES);
        let parts: Vec<&str> = text.split('=').filter(|p| !p.trim().is_empty()).collect();
        let mut groups: Vec<String> =
            part.get(&parts).split_whitespace().map(str::to_owned).collect();
        for slip in &slips {
            damage(&mut groups, slip);
        }
        for one in received(&(groups.join(" ") + "=")) {
            let found = differences(&one);
            prop_assert!(found.is_empty(), "{}", found.join("\n"));
        }
    }
}

/// What is damaged in a way that no reader can take for a sound group.
#[derive(Clone, Debug)]
enum Damage {
    /// A letter in the place of a figure.
    Letter(Index, Index),
    /// Groups that became unreadable.
    Garbled(Index, usize),
    /// A figure was lost.
    Short(Index, Index),
    /// A blank was lost.
    RunTogether(Index),
    /// A blank was put in.
    Split(Index, usize),
    /// The rest is missing, without `=`.
    Cut(Index),
}

fn harm() -> impl Strategy<Value = Damage> {
    prop_oneof![
        (any::<Index>(), any::<Index>()).prop_map(|(a, b)| Damage::Letter(a, b)),
        (any::<Index>(), 1..4_usize).prop_map(|(a, n)| Damage::Garbled(a, n)),
        (any::<Index>(), any::<Index>()).prop_map(|(a, b)| Damage::Short(a, b)),
        any::<Index>().prop_map(Damage::RunTogether),
        (any::<Index>(), 1..5_usize).prop_map(|(a, n)| Damage::Split(a, n)),
        any::<Index>().prop_map(Damage::Cut),
    ]
}

/// The text of a part after damage to the groups from the `from`th on.
fn harmed(groups: &[String], from: usize, damage: &Damage) -> String {
    let mut groups = groups.to_vec();
    let place = |index: &Index| from + index.index(groups.len() - from);
    let mut end = "=";
    match damage {
        Damage::Letter(at, figure) => {
            let at = place(at);
            let figure = figure.index(groups[at].len());
            groups[at].replace_range(figure..=figure, "X");
        }
        Damage::Garbled(at, count) => {
            let at = place(at);
            groups
                .iter_mut()
                .skip(at)
                .take(*count)
                .for_each(|g| *g = "?????".to_owned());
        }
        Damage::Short(at, figure) => {
            let at = place(at);
            let figure = figure.index(groups[at].len());
            groups[at].remove(figure);
        }
        Damage::RunTogether(at) => {
            let at = place(at).min(groups.len().saturating_sub(2));
            let second = groups.remove(at + 1);
            groups[at].push_str(&second);
        }
        Damage::Split(at, length) => {
            let at = place(at);
            let length = (*length).min(groups[at].len() - 1);
            let second = groups[at].split_off(length);
            groups.insert(at + 1, second);
        }
        Damage::Cut(at) => {
            groups.truncate(place(at) + 1);
            end = "";
        }
    }
    groups.join(" ") + end
}

/// Every value of a report with its level and element, as text.
fn values(one: &Received) -> Vec<String> {
    let report = one.message.report();
    let mut out = Vec::new();
    for level in &report.levels {
        let row = &level.row;
        let place = match row.pressure_hpa {
            Some(p) => format!("{p} hPa"),
            None => format!("{:?} gpm", row.height_gpm),
        };
        let elements = [
            ("T", row.temperature_c),
            ("Td", row.dewpoint_c),
            ("dd", row.wind.map(|w| w.dir_deg)),
            ("ff", row.wind.map(|w| w.speed_ms)),
        ];
        let there = elements
            .iter()
            .filter_map(|(name, value)| Some((name, (*value)?)));
        out.extend(there.map(|(name, value)| format!("{place} {name} {value:.3}")));
    }
    out
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    /// What is unharmed in a damaged part reads as in the unharmed one: a damaged part
    /// gives no value that the sound one has not, and damage to one group costs few levels.
    #[test]
    fn damage_gives_no_other_value(
        which in any::<Index>(), part in any::<Index>(), damage in harm(),
    ) {
        let text = which.get(&EXAMPLES);
        let parts: Vec<&str> = text.split('=').filter(|p| !p.trim().is_empty()).collect();
        let letters = |word: &&str| ["AA", "BB", "CC", "DD"].iter().any(|p| word.get(2..) == Some(p));
        let words = part.get(&parts).split_whitespace().skip_while(|word| !letters(word));
        let groups: Vec<String> = words.map(str::to_owned).collect();
        let sound = received(&(groups.join(" ") + "="));
        let Some(sound) = sound.first().filter(|_| sound.len() == 1) else {
            return Ok(());
        };
        // Section 1 costs the part.
        let identification = sound.message.ident.groups().len() + 2
            + usize::from(sound.message.ident.sign().is_some());
        if groups.len() < identification + 3 || sound.findings.iter().any(|f| f.code != "small-letters") {
            return Ok(());
        }
        let was = values(sound);
        let text = harmed(&groups, identification, &damage);
        let read = received(&text);
        prop_assert!(read.len() == 1, "{text}");
        let now: Vec<String> = read.iter().flat_map(values).collect();
        let mut left = was.clone();
        for value in &now {
            let at = left.iter().position(|v| v == value);
            prop_assert!(at.is_some(), "{value} is new: {damage:?}\n{text}\n{:?}", read[0].findings);
            left.remove(at.unwrap());
        }
        if !matches!(damage, Damage::Cut(_) | Damage::Garbled(..)) {
            prop_assert!(left.len() <= 16, "{left:?} lost: {damage:?}\n{text}");
        }
    }
}
