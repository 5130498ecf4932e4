//! `desk`: a local web page for preparing a report by hand.

use std::path::{Path, PathBuf};

use clap::Args;

use super::flight::{put, sheet_files};
use super::output::outputs;
use super::{Stop, tell};
use crate::app::desk;
use crate::app::desk::{DeskError, Setup};
use crate::issue::outputs::{Output, Wanted};

#[derive(Args)]
pub(super) struct DeskArgs {
    /// Sheet to start from: a TOML file about station and flight. The option may be
    /// repeated; the values of a later sheet replace those of an earlier one
    #[arg(
        long,
        value_name = "FILE",
        required = true,
        num_args = 1,
        help_heading = "Input"
    )]
    sheet: Vec<PathBuf>,
    /// Folder of issues; it is created when it does not exist
    #[arg(long, value_name = "DIR", help_heading = "Output")]
    out: PathBuf,
    /// Folder from which profiles are chosen
    #[arg(long = "in", value_name = "DIR", help_heading = "Input")]
    watched: Option<PathBuf>,
    /// Port on 127.0.0.1; 0 for a free one
    #[arg(long, value_name = "N", default_value_t = 0)]
    port: u16,
    /// Outputs selected for an issue, separated by commas; the operator can change them
    #[arg(
        long,
        value_parser = outputs(|output| output.file().is_some()),
        value_delimiter = ',',
        default_value = "text,bulletin,json,bufr",
        help_heading = "Output"
    )]
    to: Vec<Output>,
}

/// Serves the desk until the process is asked to end.
pub(super) fn desk(asked: DeskArgs) -> Result<u8, Stop> {
    let sheets = sheet_files(&asked.sheet)?;
    std::fs::create_dir_all(&asked.out).map_err(|e| Stop::io(&asked.out, &e))?;
    if let Some(watched) = &asked.watched {
        std::fs::read_dir(watched).map_err(|e| Stop::io(watched, &e))?;
    }
    let setup = Setup {
        sheets,
        out: asked.out,
        watched: asked.watched,
        wanted: asked.to.into_iter().collect::<Wanted>(),
        port: asked.port,
    };
    let address = |address: &str| {
        // Who cannot read standard output has no address to open.
        if put(Path::new("-"), format!("{address}\n").as_bytes()).is_err() {
            tell(address);
        }
    };
    desk::serve(setup, address).map_err(|error| Stop {
        code: match error {
            DeskError::Sheets(_) => 1,
            _ => 3,
        },
        lines: vec![error.to_string()],
    })?;
    Ok(0)
}
