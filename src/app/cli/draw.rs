//! `draw`: a flight as a picture, or as a review sheet.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::flight::{FlightArgs, finish, prepare};
use super::{Stop, compare};
use crate::issue::Flight;
use crate::model::finding::shown_path;
use crate::view::diagram::{Style, Theme, diagram};

#[derive(Args)]
pub(super) struct DrawArgs {
    #[command(flatten)]
    flight: FlightArgs,
    /// An earlier message in any form: the review sheet shows what changed
    #[arg(long, value_name = "FILE")]
    was: Option<PathBuf>,
    /// Colours on light or on dark; auto follows the reader's system, and is light
    /// on paper
    #[arg(long, value_enum, default_value_t)]
    theme: ThemeWord,
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum ThemeWord {
    /// As the reader's system asks for
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
    let usage = |line: String| {
        let lines = vec![line];
        Err(Stop { code: 2, lines })
    };
    let html = ends(path, "html");
    if !html && path != "-" && !ends(path, "svg") {
        return usage(format!(
            "-o {}: a diagram is written as SVG, a review sheet as HTML; give a name that ends in .svg or .html, or - for a diagram to standard output",
            shown_path(path)
        ));
    }
    if !html && asked.was.is_some() {
        return usage("--was is for the review sheet: give a name that ends in .html".to_owned());
    }
    if asked.flight.how.levels.is_some() {
        return usage("--levels is for JSON and BUFR; a diagram shows every row".to_owned());
    }
    let prepared = prepare(&asked.flight)?;
    if html {
        let page = review(&prepared, asked.was.as_deref(), asked.theme.into())?;
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
    finish(&asked.flight, picture.as_bytes(), &prepared.findings)
}

fn ends(path: &Path, with: &str) -> bool {
    path.extension()
        .is_some_and(|e| e.eq_ignore_ascii_case(with))
}

/// The review sheet of a flight, with what changed since an earlier message.
pub(super) fn review(prepared: &Flight, was: Option<&Path>, theme: Theme) -> Result<String, Stop> {
    let was = match was {
        Some(path) => Some((shown_path(path), compare::one(path)?.report)),
        None => None,
    };
    let was = was.as_ref().map(|(name, report)| (name.as_str(), report));
    Ok(prepared.review(was, theme))
}
