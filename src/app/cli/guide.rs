//! `guide`: the pages of the guide, on a terminal through a pager.

use std::env;
use std::fmt::Write as _;
use std::io::{self, IsTerminal as _, Write as _};
use std::path::Path;
use std::process::{Command, Stdio};

use clap::Args;
use clap::builder::{PossibleValue, PossibleValuesParser};

use super::Stop;
use super::flight::put;
use crate::guide::PAGES;

#[derive(Args)]
pub(super) struct GuideArgs {
    /// Which page; without it the pages are listed
    #[arg(value_parser = topics())]
    topic: Option<String>,
}

fn topics() -> PossibleValuesParser {
    let topics = PAGES.iter();
    PossibleValuesParser::new(topics.map(|page| PossibleValue::new(page.topic).help(page.title())))
}

/// Prints a page, or the list of pages.
pub(super) fn guide(asked: &GuideArgs) -> Result<u8, Stop> {
    let Some(topic) = &asked.topic else {
        put(Path::new("-"), list().as_bytes())?;
        return Ok(0);
    };
    let page = PAGES.iter().find(|page| page.topic == topic.as_str());
    let text = page.map(|page| page.text).unwrap_or_default();
    if !(io::stdout().is_terminal() && paged(text)) {
        put(Path::new("-"), text.as_bytes())?;
    }
    Ok(0)
}

/// One line for each page.
fn list() -> String {
    let mut out = String::new();
    for page in PAGES {
        let _ = writeln!(out, "{:<13}{}", page.topic, page.title());
    }
    out.push_str("\nfivefig guide TOPIC prints a page.\n");
    out
}

/// Shows a text in the pager of the user. `false` when there is none: nothing was shown.
fn paged(text: &str) -> bool {
    let pager = env::var("PAGER").unwrap_or_else(|_| "less".to_owned());
    let mut words = pager.split_whitespace();
    let Some(program) = words.next() else {
        return false;
    };
    let child = Command::new(program)
        .args(words)
        .stdin(Stdio::piped())
        .spawn();
    let Ok(mut child) = child else {
        return false;
    };
    if let Some(mut input) = child.stdin.take() {
        // A reader who leaves before the end closes the pipe.
        let _ = input.write_all(text.as_bytes());
    }
    let _ = child.wait();
    true
}
