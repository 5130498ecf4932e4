//! `draw`: a flight as a picture.

use std::path::Path;

use clap::{Args, ValueEnum};

use super::Stop;
use super::flight::{FlightArgs, finish, prepare};
use crate::draw::{Style, Theme, diagram};

#[derive(Args)]
pub(super) struct DrawArgs {
    #[command(flatten)]
    flight: FlightArgs,
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

/// Draws a flight.
pub(super) fn draw(asked: &DrawArgs) -> Result<u8, Stop> {
    let path = &asked.flight.output;
    if !is_svg(path) {
        return Err(Stop {
            code: 2,
            lines: vec![format!(
                "-o {}: a diagram is written as SVG; give a name that ends in .svg, or - for standard output",
                path.display()
            )],
        });
    }
    if asked.flight.levels.is_some() {
        return Err(Stop {
            code: 2,
            lines: vec!["--levels is for JSON and BUFR; a diagram shows every row".to_owned()],
        });
    }
    let prepared = prepare(&asked.flight)?;
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

fn is_svg(path: &Path) -> bool {
    let svg = |e: &std::ffi::OsStr| e.eq_ignore_ascii_case("svg");
    path == "-" || path.extension().is_some_and(svg)
}
