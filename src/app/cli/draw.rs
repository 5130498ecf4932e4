//! `draw`: a flight as a picture, or as a review sheet.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::diagnostics::Diagnostics;
use super::flight::{FlightArgs, finish, prepare};
use super::{Stop, compare};
use crate::issue::Flight;
use crate::model::finding::shown_path;
use crate::view::diagram::{Style, Theme, diagram};

#[derive(Args)]
pub(super) struct DrawArgs {
    #[command(flatten)]
    flight: FlightArgs,
    /// The message that was sent, in any form; the review sheet shows the differences
    #[arg(long, value_name = "FILE", help_heading = "Input")]
    was: Option<PathBuf>,
    /// Colour theme
    #[arg(long, value_enum, default_value_t, help_heading = "Output")]
    theme: ThemeWord,
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum ThemeWord {
    /// As set in the reader's system; light in print
    #[default]
    Auto,
    /// Dark on light
    Light,
    /// Light on dark
    Dark,
}

impl From<ThemeWord> for Theme {
    fn from(word: ThemeWord) -> Self {
        match word {
            ThemeWord::Auto => Self::Auto,
            ThemeWord::Light => Self::Light,
            ThemeWord::Dark => Self::Dark,
        }
    }
}

/// Draws a flight; by its name the file is a diagram or a review sheet.
pub(super) fn draw(asked: &DrawArgs) -> Result<u8, Stop> {
    let path = &asked.flight.how.output;
    let usage = |line: &str| Err(Stop::usage(line));
    let html = ends(path, "html");
    if !html && path != "-" && !ends(path, "svg") {
        let path = shown_path(path);
        return usage(&format!(
            "--output {path}: a diagram is written as SVG and a review sheet as HTML; give a name that ends in .svg or .html, or - to write a diagram to standard output"
        ));
    }
    if !html && asked.was.is_some() {
        return usage("--was is for the review sheet; give an output path that ends in .html");
    }
    if asked.flight.how.levels.is_some() {
        return usage("--levels is for JSON and BUFR; a diagram shows every row");
    }
    let prepared = prepare(&asked.flight)?;
    if html {
        let diagnostics = asked.flight.how.diagnostics;
        let was = asked.was.as_deref();
        let page = review(&prepared, was, asked.theme.into(), diagnostics)?;
        return finish(&asked.flight, page.as_bytes(), &prepared.findings);
    }
    let style = Style {
        theme: asked.theme.into(),
        inside: false,
    };
    let picture = diagram(
        &prepared.ascent,
        &prepared.report,
        Some(&prepared.fidelity),
        &style,
    );
    finish(
        &asked.flight,
        picture.to_string().as_bytes(),
        &prepared.findings,
    )
}

fn ends(path: &Path, with: &str) -> bool {
    path.extension()
        .is_some_and(|e| e.eq_ignore_ascii_case(with))
}

/// The review sheet of a flight, with what changed since an earlier message.
pub(super) fn review(
    prepared: &Flight,
    was: Option<&Path>,
    theme: Theme,
    diagnostics: Diagnostics,
) -> Result<String, Stop> {
    let practice = prepared.report.context.coding.practice.as_ref();
    let was = match was {
        Some(path) => Some((
            shown_path(path),
            compare::one(path, practice, diagnostics)?.report,
        )),
        None => None,
    };
    let was = was.as_ref().map(|(name, report)| (name.as_str(), report));
    Ok(prepared.review(was, theme))
}
