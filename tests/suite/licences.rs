//! Every crate that is built into fivefig comes under a licence that is allowed, and
//! the library alone brings none of the command's crates.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::process::Command;

use serde_json::Value;

/// The crates of a build for this machine: names and licences.
fn crates(features: &[&str]) -> BTreeSet<(String, String)> {
    let mut command = Command::new(env!("CARGO"));
    command.args(["metadata", "--format-version", "1", "--locked"]);
    command.args(["--filter-platform", "x86_64-unknown-linux-gnu"]);
    let out = command.args(features).output().unwrap();
    assert!(
        out.status.success(),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let all: Value = serde_json::from_slice(&out.stdout).unwrap();
    let by_id = |list: &Value| -> BTreeMap<String, Value> {
        let list = list.as_array().unwrap().iter();
        list.map(|one| (one["id"].as_str().unwrap().to_owned(), one.clone()))
            .collect()
    };
    let (packages, nodes) = (by_id(&all["packages"]), by_id(&all["resolve"]["nodes"]));
    let mut seen = BTreeSet::new();
    let mut open = vec![all["resolve"]["root"].as_str().unwrap().to_owned()];
    while let Some(id) = open.pop() {
        for dep in nodes[&id]["deps"].as_array().unwrap() {
            let kinds = dep["dep_kinds"].as_array().unwrap();
            // Those of tests are not built in.
            if kinds.iter().any(|kind| kind["kind"] != "dev") {
                open.push(dep["pkg"].as_str().unwrap().to_owned());
            }
        }
        if !seen.insert(id) {
            open.retain(|id| !seen.contains(id));
        }
    }
    let one = |id: String| {
        let package = &packages[&id];
        let licence = package["license"].as_str().unwrap_or("none");
        (
            package["name"].as_str().unwrap().to_owned(),
            licence.to_owned(),
        )
    };
    seen.into_iter().map(one).collect()
}

fn allowed() -> BTreeSet<String> {
    let text = fs::read_to_string("tests/licences.csv").unwrap();
    let mut reader = csv::ReaderBuilder::new();
    let mut reader = reader.comment(Some(b'#')).from_reader(text.as_bytes());
    reader
        .records()
        .map(|row| row.unwrap()[0].to_owned())
        .collect()
}

/// Whether a licence expression can be met with the licences allowed: OR binds least,
/// then AND, then WITH (SPDX specification, annex on licence expressions); an old `/`
/// stands for OR.
fn is_met(expression: &str, allowed: &BTreeSet<String>) -> bool {
    let spaced = expression
        .replace('/', " OR ")
        .replace('(', " ( ")
        .replace(')', " ) ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut at = 0;
    let met = either(&words, &mut at, allowed);
    assert_eq!(at, words.len(), "`{expression}` is no licence expression");
    met
}

fn either(words: &[&str], at: &mut usize, allowed: &BTreeSet<String>) -> bool {
    let mut met = both(words, at, allowed);
    while words.get(*at) == Some(&"OR") {
        *at += 1;
        met |= both(words, at, allowed);
    }
    met
}

fn both(words: &[&str], at: &mut usize, allowed: &BTreeSet<String>) -> bool {
    let mut met = one(words, at, allowed);
    while words.get(*at) == Some(&"AND") {
        *at += 1;
        met &= one(words, at, allowed);
    }
    met
}

fn one(words: &[&str], at: &mut usize, allowed: &BTreeSet<String>) -> bool {
    let word = words.get(*at).copied().unwrap_or_default();
    *at += 1;
    if word == "(" {
        let met = either(words, at, allowed);
        assert_eq!(words.get(*at), Some(&")"));
        *at += 1;
        return met;
    }
    let mut licence = word.to_owned();
    if words.get(*at) == Some(&"WITH") {
        licence = format!("{word} WITH {}", words[*at + 1]);
        *at += 2;
    }
    allowed.contains(&licence)
}

#[test]
fn expressions_are_judged_as_they_are_written() {
    let allowed: BTreeSet<String> = ["MIT", "Apache-2.0", "X WITH Y"].map(str::to_owned).into();
    for (expression, met) in [
        ("MIT", true),
        ("GPL-3.0-only", false),
        ("GPL-3.0-only OR MIT", true),
        ("GPL-3.0-only AND MIT", false),
        ("MIT AND Apache-2.0", true),
        // AND binds closer than OR.
        ("MIT OR GPL-3.0-only AND Apache-2.0", true),
        ("(MIT OR GPL-3.0-only) AND GPL-3.0-only", false),
        ("(MIT OR GPL-3.0-only) AND Apache-2.0", true),
        ("MIT/GPL-3.0-only", true),
        ("X WITH Y", true),
        ("X", false),
        ("MIT WITH Y", false),
        ("none", false),
    ] {
        assert_eq!(is_met(expression, &allowed), met, "{expression}");
    }
}

#[test]
fn every_crate_that_is_built_in_has_a_licence_that_is_allowed() {
    let allowed = allowed();
    let crates = crates(&["--features", "mqtt,https,smtp"]);
    assert!(crates.len() > 100, "{} crates are not all", crates.len());
    let others = crates
        .iter()
        .filter(|(_, licence)| !is_met(licence, &allowed));
    let others: Vec<_> = others.collect();
    assert!(
        others.is_empty(),
        "not allowed by tests/licences.csv: {others:?}"
    );
}

/// What a program gets that uses the library without features: neither the command's
/// crates nor the desk's, nor NetCDF.
#[test]
fn the_library_alone_is_light() {
    let alone = crates(&["--no-default-features"]);
    let whole = crates(&[]);
    let has =
        |crates: &BTreeSet<(String, String)>, name: &str| crates.iter().any(|(one, _)| one == name);
    for name in [
        "clap",
        "clap_mangen",
        "clap_complete",
        "tempfile",
        "rayon",
        "indicatif",
        "axum",
        "tokio",
        "getrandom",
        "netcdf-reader",
        "signal-hook",
    ] {
        assert!(has(&whole, name), "{name} is not in the whole");
        assert!(!has(&alone, name), "{name} is in the library alone");
    }
    // Nothing of handing over is there unless it is asked for.
    for name in ["ureq", "lettre", "rumqttc", "rustls"] {
        assert!(!has(&whole, name), "{name} is in the default build");
    }
    // Five of them are encoding_rs and what it needs.
    assert!(alone.len() <= 60, "{} crates: {alone:?}", alone.len());
}
