//! The commands and their options, as one table.
#![allow(clippy::unwrap_used, reason = "a test stops at the first fault")]

use std::collections::BTreeMap;

use clap::{Command, CommandFactory as _, Parser as _};

use super::Cli;

fn commands() -> Vec<Command> {
    let mut all = Cli::command().disable_help_subcommand(true);
    all.build();
    all.get_subcommands().cloned().collect()
}

#[test]
fn every_short_option_has_a_long_name_and_one_meaning() {
    let mut meanings: BTreeMap<char, (String, String)> = BTreeMap::new();
    let mut seen = 0;
    for command in commands() {
        for option in command.get_opts().chain(command.get_arguments()) {
            let Some(short) = option.get_short() else {
                continue;
            };
            let long = option.get_long();
            let long = long.unwrap_or_else(|| panic!("{}: -{short}", command.get_name()));
            // What is written differs from command to command; that it is a path does not.
            let kind = option.get_value_names().unwrap_or_default();
            let meaning = (long.to_owned(), format!("{kind:?}"));
            let known = meanings.entry(short).or_insert_with(|| meaning.clone());
            assert_eq!(*known, meaning, "{}: -{short}", command.get_name());
            seen += 1;
        }
    }
    // -o, -q and -v in most commands, -h in all.
    assert!(meanings.len() >= 4 && seen > 30, "{meanings:?}");
}

/// `-q`, `-v` and `--notes` are described in the same words wherever they are.
#[test]
fn what_is_reported_is_chosen_alike_in_every_command() {
    for name in ["quiet", "verbose", "notes", "strict"] {
        let helps: Vec<String> = commands()
            .iter()
            .filter_map(|command| {
                let mut options = command.get_arguments();
                let option = options.find(|option| option.get_long() == Some(name))?;
                Some(option.get_help()?.to_string())
            })
            .collect();
        assert!(helps.len() >= 4, "{name}: {helps:?}");
        assert!(
            helps.iter().all(|help| Some(help) == helps.first()),
            "{name}: {helps:?}"
        );
    }
}

/// Every long help ends with examples, exit codes and environment; the examples are
/// command lines.
#[test]
fn every_help_has_examples_that_are_read() {
    for command in commands() {
        let name = command.get_name();
        let end = command.get_after_long_help().map(ToString::to_string);
        let end = end.unwrap_or_default();
        let (examples, rest) = end.split_once("\nExit codes:\n").unwrap_or_default();
        assert!(rest.contains("\nEnvironment:\n"), "{name}: {end}");
        let lines = examples.lines().filter(|line| line.starts_with("  "));
        let mut count = 0;
        for line in lines {
            let line = line.split(" > ").next().unwrap_or_default();
            let read = Cli::try_parse_from(line.split_whitespace());
            assert!(read.is_ok(), "{line}: {}", read.err().unwrap());
            count += 1;
        }
        assert!(count > 0, "{name}");
    }
}
