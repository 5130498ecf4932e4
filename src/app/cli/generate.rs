//! `generate`: manual pages and completions, drawn from the command's own description.

use std::path::{Path, PathBuf};

use clap::{Args, Command, CommandFactory as _, ValueEnum};
use clap_complete::Shell;

use super::flight::put;
use super::{Cli, Stop, manual};
use crate::guide::PAGES;
use crate::model::finding::shown_path;

#[derive(Args)]
pub(super) struct GenerateArgs {
    /// What to write
    #[arg(value_enum)]
    what: What,
    /// Output path, for man an existing folder; - for standard output
    #[arg(
        short,
        long,
        value_name = "PATH",
        default_value = "-",
        help_heading = "Output"
    )]
    output: PathBuf,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum What {
    /// Manual pages in troff: fivefig(1), one for each of its commands, and one of section
    /// 7 for each page of the guide
    Man,
    /// Completions for bash
    Bash,
    /// Completions for zsh
    Zsh,
    /// Completions for fish
    Fish,
}

/// Writes what was asked for.
pub(super) fn generate(asked: &GenerateArgs) -> Result<u8, Stop> {
    let shell = match asked.what {
        What::Man => return pages(&asked.output),
        What::Bash => Shell::Bash,
        What::Zsh => Shell::Zsh,
        What::Fish => Shell::Fish,
    };
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "fivefig", &mut script);
    put(&asked.output, &script)?;
    Ok(0)
}

/// The manual pages, each in a file of the folder; to standard output the first alone.
fn pages(folder: &Path) -> Result<u8, Stop> {
    let mut command = Cli::command().disable_help_subcommand(true);
    command.build();
    if folder == Path::new("-") {
        put(folder, &page(command)?)?;
        return Ok(0);
    }
    if !folder.is_dir() {
        return Err(Stop {
            code: 3,
            lines: vec![format!(
                "{}: not a folder; the manual pages need an existing folder",
                shown_path(folder)
            )],
        });
    }
    let own = command.get_subcommands().map(|own| {
        let name = format!("fivefig-{}", own.get_name());
        let title = own.clone().display_name(&name);
        (name, title)
    });
    let own: Vec<(String, Command)> = own.collect();
    for (name, command) in own.into_iter().chain([("fivefig".to_owned(), command)]) {
        put(&folder.join(format!("{name}.1")), &page(command)?)?;
    }
    for page in PAGES {
        let name = format!("fivefig-{}.7", page.topic);
        put(&folder.join(name), manual::page(page).as_bytes())?;
    }
    Ok(0)
}

fn page(command: Command) -> Result<Vec<u8>, Stop> {
    let mut page = Vec::new();
    let man = clap_mangen::Man::new(command)
        .manual("fivefig")
        .source("fivefig");
    man.render(&mut page).map_err(Stop::data)?;
    Ok(page)
}
