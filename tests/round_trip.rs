//! Reading and writing again gives the same groups, for every part that was read:
//! through figures, through the report and through JSON.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test stops at the first fault"
)]

use std::fs;
use std::path::Path;

use fivefig::code::{Message, Received, Traffic, message};
use fivefig::json::{self, Record};
use fivefig::sounding::Part;

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
        .map(|(message, _)| message)
        .map_err(|e| e.to_string());
    let text = json::write(vec![Record::new(&report, Some(one), &[], None)]).unwrap();
    let records = json::read(&text).map_err(|e| e.to_string());
    let through = records.and_then(|records| {
        let report = records.first().unwrap().report(1);
        let report = report.map_err(|e| e.to_string())?;
        let (message, _) = message(&report).map_err(|e| e.to_string())?;
        Ok(message)
    });
    [coded, through]
}

/// Where the groups of a part differ on one of the ways: the way and both texts.
fn differences(one: &Received) -> Vec<String> {
    let mut out = Vec::new();
    let ways = again(&one.message);
    for (part, raw) in &one.raw {
        // A wrong Id is put right with an error of its own.
        if one.findings.iter().any(|f| f.code == "id-wrong") {
            continue;
        }
        let raw: Vec<String> = raw
            .to_ascii_uppercase()
            .split(' ')
            .map(str::to_owned)
            .collect();
        let [report, json] = ways.clone();
        let figures = Ok(one.message.clone());
        for (way, made) in [("figures", figures), ("report", report), ("JSON", json)] {
            let made = groups(made, *part);
            if made != raw {
                out.push(format!(
                    "{way}:\n  {}\n  {}",
                    raw.join(" "),
                    made.join(" ")
                ));
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
    assert!(found.is_empty(), "{} of {parts} parts:\n{}", found.len(), found.join("\n"));
}
