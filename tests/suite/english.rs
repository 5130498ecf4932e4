//! Plain English in everything that a person reads: texts, comments, names of tests.
//!
//! The list has turns of phrase that were in this repository and that a duty forecaster
//! would not say, each with what to say instead.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a test stops at the first fault"
)]

use std::path::{Path, PathBuf};
use std::{env, fs};

/// A turn of phrase, in small letters, and the plain one. It is found at the beginning of a
/// word; a blank at its end asks for the end of the word too.
const TURNS: [(&str, &str); 30] = [
    ("is told ", "is reported"),
    ("are told ", "are reported"),
    ("held against", "compared with"),
    ("hold against", "compare with"),
    ("against itself ", "for internal consistency"),
    ("against themselves", "for internal consistency"),
    ("taken for ", "interpreted as"),
    ("taken as missing", "treated as missing"),
    ("found out from", "detected"),
    ("mend ", "fix"),
    ("whole or not at all", "written atomically"),
    ("a row a second", "one row per second"),
    ("a second each", "one second apart"),
    ("a line a level", "one line per level"),
    ("a file a rule", "one file per rule"),
    ("a finding a ", "one finding per"),
    ("a message a report", "one message per report"),
    ("on one line a ", "on one line per"),
    ("gravest", "most severe"),
    ("beyond need", "not required by 35.3.1"),
    ("for so long", "for this long"),
    ("so many ", "a number of"),
    ("page of this machine", "local web page"),
    (
        "no height of the sea",
        "outside the range of the geoid undulation",
    ),
    ("always to be reported", "mandatory"),
    ("without a word", "unexpectedly"),
    ("message gives back", "how well the message reproduces"),
    ("whoever", "anyone who"),
    ("what the product goes", "the output path"),
    ("once and for all", "finally"),
];

/// Where the turns themselves stand: this list.
const EXEMPT: [&str; 1] = ["tests/suite/english.rs"];

fn files(folder: &Path, out: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy();
        if path.is_dir() && name != "target" {
            files(&path, out);
        } else if path.is_file() {
            out.push(path);
        }
    }
}

/// A line as its words in small letters, a blank after each.
fn plain(line: &str) -> String {
    let small = line.to_lowercase();
    let words = small.split(|c: char| !c.is_alphanumeric());
    words
        .filter(|word| !word.is_empty())
        .flat_map(|word| [word, " "])
        .collect()
}

/// Turns in a text: line, from 1, and place in [`TURNS`]. A sentence goes on over the end of
/// a line, so a line is read with the one after it.
fn turns(text: &str) -> Vec<(usize, usize)> {
    let lines: Vec<String> = text.lines().map(plain).collect();
    let mut found = Vec::new();
    for (number, line) in lines.iter().enumerate() {
        let next = lines.get(number + 1).map_or("", String::as_str);
        let both = format!(" {line}{next}");
        for (turn, (bad, _)) in TURNS.iter().enumerate() {
            if both
                .find(&format!(" {bad}"))
                .is_some_and(|at| at < line.len())
            {
                found.push((number + 1, turn));
            }
        }
    }
    found
}

#[test]
fn texts_comments_and_names_are_in_plain_english() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut all = vec![root.join("README.md"), root.join("DEVELOPERS.md")];
    for folder in ["src", "tests", "samples", "tables"] {
        files(&root.join(folder), &mut all);
    }
    let mut faults = Vec::new();
    for path in all {
        let name = path
            .strip_prefix(root)
            .unwrap()
            .to_string_lossy()
            .into_owned();
        // Binary files have no English.
        let Ok(text) = fs::read_to_string(&path) else {
            continue;
        };
        if EXEMPT.contains(&name.as_str()) {
            continue;
        }
        for (line, turn) in turns(&text) {
            let (bad, good) = TURNS[turn];
            faults.push(format!("{name}:{line}: \"{}\": say \"{good}\"", bad.trim()));
        }
    }
    assert!(
        faults.is_empty(),
        "{}\n{} in all",
        faults.join("\n"),
        faults.len()
    );
}

#[test]
fn a_turn_is_found_across_lines_and_not_inside_words() {
    let bad = |n: usize| TURNS[n].0;
    let found = |text: &str| {
        turns(text)
            .into_iter()
            .map(|(l, t)| (l, bad(t)))
            .collect::<Vec<_>>()
    };
    assert_eq!(found("// Each row is told, in order.\n"), [(1, "is told ")]);
    assert_eq!(
        found("x\n/// It is held\n/// against the sheet."),
        [(2, "held against")]
    );
    assert_eq!(found("fn a_row_is_told_once()"), [(1, "is told ")]);
    // "amend", "recommended": parts of other words.
    assert_eq!(found("to amend or a recommended value"), []);
}
