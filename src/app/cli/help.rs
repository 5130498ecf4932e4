//! What the long help of a command ends with: examples, exit codes, environment.

use std::fmt::Write as _;

/// The meanings of exit codes 0, 2 and 3.
const DONE: (u8, &str) = (0, "success");
const USAGE: (u8, &str) = (2, "invalid command line");
const FAILED: (u8, &str) = (3, "a file or stream cannot be read or written");

/// The variable that every command reads.
const COLOUR: (&str, &str) = ("NO_COLOR", "if set, output is not coloured");

/// The end of the long help of a command whose exit code 1 means `refused`.
pub(super) fn help(examples: &[&str], refused: &str) -> String {
    with(examples, &[DONE, (1, refused), USAGE, FAILED], &[COLOUR])
}

/// The same with other exit codes and more of the environment.
pub(super) fn with(
    examples: &[&str],
    codes: &[(u8, &str)],
    environment: &[(&str, &str)],
) -> String {
    let mut out = String::from("Examples:\n");
    for example in examples {
        let _ = writeln!(out, "  {example}");
    }
    out.push_str("\nExit codes:\n");
    for (code, meaning) in codes {
        let _ = writeln!(out, "  {code}  {meaning}");
    }
    out.push_str("\nEnvironment:\n");
    for (name, meaning) in environment {
        let _ = writeln!(out, "  {name}  {meaning}");
    }
    out.truncate(out.trim_end().len());
    out
}

pub(super) fn init() -> String {
    help(
        &[
            "fivefig init flight.csv",
            "fivefig init flight.csv --set station.wmo_block=99 --set station.wmo_number=11",
            "fivefig init --kind ship --form pilot --output ship.toml",
        ],
        "the profile or a value was refused",
    )
}

pub(super) fn encode() -> String {
    help(
        &[
            "fivefig encode flight.csv --sheet station.toml",
            "fivefig encode flight.csv --sheet station.toml --to bulletin --output flight.txt",
            "fivefig encode flight.csv --sheet station.toml --to text,json,bufr --output issues",
            "fivefig encode flights --sheet station.toml --to jsonl --output reports.jsonl",
        ],
        "a flight was refused, or with --strict there was a warning",
    )
}

pub(super) fn nil() -> String {
    help(
        &[
            "fivefig nil --sheet station.toml --to bulletin",
            "fivefig nil --sheet station.toml --to text,bulletin,bufr --output issues",
        ],
        "the NIL was refused",
    )
}

pub(super) fn levels() -> String {
    help(
        &["fivefig levels flight.csv --sheet station.toml"],
        "the flight was refused, or with --strict there was a warning",
    )
}

pub(super) fn draw() -> String {
    help(
        &[
            "fivefig draw flight.csv --sheet station.toml --output flight.svg",
            "fivefig draw flight.csv --sheet station.toml --output review.html",
        ],
        "the flight was refused, or with --strict there was a warning",
    )
}

pub(super) fn decode() -> String {
    help(
        &[
            "fivefig decode message.txt --to table",
            "fivefig decode traffic --to jsonl --output reports.jsonl",
            "fivefig decode sounding.bufr --to dump",
            "fivefig decode traffic.txt --date 2022-07 --to bufr --output traffic.bufr",
        ],
        "the input has an error; the reports that could be read were written",
    )
}

pub(super) fn check() -> String {
    help(
        &[
            "fivefig check bulletins.txt",
            "fivefig check flight.csv --sheet station.toml",
            "fivefig check --sheet station.toml",
        ],
        "there was an error, or with --strict a warning",
    )
}

pub(super) fn summary() -> String {
    help(
        &[
            "fivefig summary traffic --station-list stations.csv",
            "fivefig summary 00.txt 12.txt --to csv --output day.csv",
        ],
        "no report could be read",
    )
}

pub(super) fn compare() -> String {
    help(
        &[
            "fivefig compare message.txt sounding.bufr",
            "fivefig compare one_hub.txt other_hub.txt --common --to jsonl",
            "fivefig compare message.txt flight.csv --sheet station.toml",
        ],
        "the two differ, or one of them was refused",
    )
}

pub(super) fn columns() -> String {
    help(
        &["fivefig columns flight.txt > sheet.toml"],
        "the file was refused",
    )
}

pub(super) fn profile() -> String {
    help(
        &[
            "fivefig profile sounding.bufr --output flight.csv",
            "fivefig profile flight.csv --sheet station.toml --to jsonl",
        ],
        "the file was refused",
    )
}

#[cfg(feature = "desk")]
pub(super) fn desk() -> String {
    help(
        &["fivefig desk --sheet station.toml --out issues --in profiles"],
        "a sheet was refused",
    )
}

#[cfg(feature = "spool")]
pub(super) fn spool() -> String {
    with(
        &[
            "fivefig spool --in profiles --out issues --sheet station.toml",
            "fivefig spool --out issues --status",
            "fivefig spool --out issues --summary 2031-01 --sheet station.toml --to html -o month.html",
            "fivefig spool --in profiles --out issues --release flight.csv",
        ],
        &[
            DONE,
            (
                1,
                "with --once a flight was refused; with --status something needs attention",
            ),
            USAGE,
            (
                3,
                "a file or folder cannot be read or written; with --status the spool is not running",
            ),
        ],
        &[COLOUR],
    )
}

#[cfg(feature = "spool")]
pub(super) fn handover() -> String {
    with(
        &[
            "fivefig handover --out issues --sheet station.toml",
            "fivefig handover --out issues --sheet station.toml --once",
            "fivefig handover --out issues --status",
        ],
        &[
            DONE,
            (
                1,
                "a sheet was refused, or a target does not have every issue",
            ),
            USAGE,
            FAILED,
        ],
        &[COLOUR],
    )
}

pub(super) fn guide() -> String {
    with(
        &["fivefig guide", "fivefig guide start"],
        &[DONE, USAGE, FAILED],
        &[(
            "PAGER",
            "program that shows a page on a terminal (default: less); if empty, none",
        )],
    )
}

pub(super) fn generate() -> String {
    with(
        &[
            "fivefig generate man --output man1",
            "fivefig generate bash --output fivefig.bash",
        ],
        &[DONE, USAGE, FAILED],
        &[COLOUR],
    )
}

pub(super) fn schema() -> String {
    with(
        &["fivefig schema report > report.schema.json"],
        &[DONE, USAGE, FAILED],
        &[COLOUR],
    )
}

pub(super) fn explain() -> String {
    with(
        &[
            "fivefig explain superadiabatic",
            "fivefig explain --to json > findings.jsonl",
        ],
        &[DONE, USAGE, FAILED],
        &[COLOUR],
    )
}

/// Of the command as a whole.
pub(super) fn all() -> String {
    help(
        &[
            "fivefig encode samples/winter_jet.csv --sheet samples/winter_jet.toml",
            "fivefig guide start",
        ],
        "the input was refused, or two messages differ",
    )
}
