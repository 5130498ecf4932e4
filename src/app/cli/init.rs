//! `init`: a commented sheet to start from, and the next command.

use std::io::{self, BufRead, IsTerminal as _, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::bounded::{MAX_INPUT, get};
use super::columns;
use super::diagnostics::{Diagnostics, Line, Reporter, counted};
use super::flight::ProfileFormat;
use super::output::create;
use super::{CodeForm, Stop, tell};
use crate::input;
use crate::input::Format;
use crate::input::sheet::{Key, KeyKind, keys_of};
use crate::input::starter::{MARK, NotSet, Starter, range};
use crate::model::Form;
use crate::model::finding::shown_path;

#[derive(Args)]
pub(super) struct InitArgs {
    /// Profile that the sheet is for; - for standard input
    profile: Option<PathBuf>,
    /// Kind of station (default: that of the file, else land)
    #[arg(long, value_enum, value_name = "KIND", help_heading = "Station")]
    kind: Option<Kind>,
    /// Value of a key of the sheet, as in station.wmo_block=99. The option may be repeated
    #[arg(long, value_name = "KEY=VALUE", num_args = 1, value_parser = pair, help_heading = "Station")]
    set: Vec<(String, String)>,
    /// Code form (default: that of a BUFR message, else temp)
    #[arg(long, value_enum, help_heading = "Coding")]
    form: Option<CodeForm>,
    /// Number of the sounding in a file with several, from 1
    #[arg(long, value_name = "N", help_heading = "Input")]
    message: Option<usize>,
    /// Format of the profile (default: detected from the content)
    #[arg(long, value_enum, value_name = "FORMAT", help_heading = "Input")]
    from: Option<ProfileFormat>,
    /// Output path, which must not exist; - for standard output
    #[arg(
        short,
        long,
        value_name = "PATH",
        default_value = "sheet.toml",
        help_heading = "Output"
    )]
    output: PathBuf,
    #[command(flatten)]
    diagnostics: Diagnostics,
}

/// A kind of station.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Kind {
    /// Fixed land station with a WMO number
    Land,
    /// Ship
    Ship,
    /// Mobile land station
    Mobile,
    /// Sonde dropped from an aircraft
    Drop,
}

/// A key and its value.
fn pair(text: &str) -> Result<(String, String), String> {
    let pair = text.split_once('=');
    let pair = pair.map(|(key, value)| (key.trim().to_owned(), value.trim().to_owned()));
    pair.ok_or_else(|| "KEY=VALUE is expected, as in station.wmo_block=99".to_owned())
}

/// Writes a sheet to start from.
pub(super) fn init(asked: &InitArgs) -> Result<u8, Stop> {
    // Nothing is asked for in vain.
    if asked.output != Path::new("-") && asked.output.symlink_metadata().is_ok() {
        let what = "it exists and is not overwritten; name another file with --output";
        return Err(Stop::io(&asked.output, &io::Error::other(what)));
    }
    let mut starter = Starter::new(asked.form.map_or(Form::Temp, Form::from));
    if let Some(path) = &asked.profile {
        read(&mut starter, path, asked)?;
    }
    if let Some(kind) = asked.kind.and_then(|kind| kind.to_possible_value()) {
        set(&mut starter, "station.kind", kind.get_name())?;
    }
    for (key, value) in &asked.set {
        set(&mut starter, key, value)?;
    }
    let terminal = io::stdin().is_terminal() && io::stderr().is_terminal();
    if terminal && asked.profile.as_deref() != Some(Path::new("-")) {
        ask(
            &mut starter,
            asked.kind.is_none(),
            &mut io::stdin().lock(),
            &mut io::stderr(),
        )
        .map_err(|error| Stop::io(Path::new("-"), &error))?;
    }
    let profile = asked.profile.as_deref().map(shown_path);
    let columns = starter
        .columns
        .as_ref()
        .map_or_else(String::new, columns::listing);
    let next = next(asked, profile.as_deref());
    let text = format!("{}\n{}", head(&next), starter.print(&columns));
    create(&asked.output, &text)?;
    if asked.diagnostics.quiet {
        return Ok(0);
    }
    let missing: Vec<String> = starter.missing().into_iter().map(|key| key.name).collect();
    let name = shown_path(&asked.output);
    if missing.is_empty() {
        tell(&format!(
            "fivefig: {name}: written, nothing mandatory is missing"
        ));
    } else {
        let count = counted(missing.len(), "mandatory value");
        tell(&format!(
            "fivefig: {name}: written; {count} to fill in: {}",
            missing.join(", ")
        ));
    }
    tell(&format!("fivefig: next: {next}"));
    Ok(0)
}

/// Reads the profile into the sheet.
fn read(starter: &mut Starter, path: &Path, asked: &InitArgs) -> Result<(), Stop> {
    let bytes = get(path, MAX_INPUT)?;
    let name = shown_path(path);
    let format = asked
        .from
        .map_or_else(|| input::detect(&bytes), Format::from);
    let why = starter
        .profile(&bytes, &name, format, asked.message)
        .map_err(Stop::data)?;
    let mut reporter = Reporter::new(asked.diagnostics);
    reporter.all(&starter.findings)?;
    reporter.finish();
    if let Some(why) = why {
        for line in why.to_string().lines() {
            Line::error(line).print();
        }
        tell("fivefig: the rows are not read yet; correct [text] and [columns] in the sheet");
    }
    Ok(())
}

fn set(starter: &mut Starter, key: &str, value: &str) -> Result<(), Stop> {
    starter.set(key, value).map_err(|why| match why {
        NotSet::NoKey(known) => Stop::usage(format!("`{key}` is not a key of a sheet; {known}")),
        NotSet::Value(error) => super::flight::all(&error),
    })
}

/// Asks for the kind of station and for what is mandatory and not known; an empty answer
/// leaves it open, and the end of input all that follows.
fn ask(
    starter: &mut Starter,
    kind: bool,
    from: &mut impl BufRead,
    to: &mut impl Write,
) -> io::Result<()> {
    writeln!(
        to,
        "Press Enter to leave a value open; Ctrl-D ends the questions."
    )?;
    if kind {
        let kind = keys_of("station")
            .into_iter()
            .find(|key| key.name == "station.kind");
        if let Some(key) = kind
            && !question(starter, &key, from, to)?
        {
            return Ok(());
        }
    }
    for key in starter.missing() {
        if !question(starter, &key, from, to)? {
            break;
        }
    }
    Ok(())
}

/// Asks for a value until it can stand in a sheet or is left open; `false` at the end of
/// input.
fn question(
    starter: &mut Starter,
    key: &Key,
    from: &mut impl BufRead,
    to: &mut impl Write,
) -> io::Result<bool> {
    loop {
        write!(to, "{}{}\n  {}: ", key.about, range(&key.kind), key.name)?;
        to.flush()?;
        let mut answer = String::new();
        if from.read_line(&mut answer)? == 0 {
            writeln!(to)?;
            return Ok(false);
        }
        let mut answer = answer.trim().to_owned();
        if matches!(key.kind, KeyKind::Number(..)) {
            answer = answer.replace(',', ".");
        }
        if answer.is_empty() {
            return Ok(true);
        }
        match starter.set(&key.name, &answer) {
            Ok(()) | Err(NotSet::NoKey(_)) => return Ok(true),
            Err(NotSet::Value(error)) => {
                let faults = error.faults().iter().map(|fault| fault.fault.to_string());
                writeln!(to, "  {}", faults.collect::<Vec<_>>().join("; "))?;
            }
        }
    }
}

/// The command that comes next.
fn next(asked: &InitArgs, profile: Option<&str>) -> String {
    let quoted = |name: &str| {
        let plain = |c: char| c.is_alphanumeric() || "/._-+".contains(c);
        match name.chars().all(plain) {
            true => name.to_owned(),
            false => format!("'{}'", name.replace('\'', "'\\''")),
        }
    };
    let form = match asked.form.and_then(|form| form.to_possible_value()) {
        Some(form) if form.get_name() != "temp" => format!(" --form {}", form.get_name()),
        _ => String::new(),
    };
    let sheet = match shown_path(&asked.output).as_str() {
        "-" => "SHEET".to_owned(),
        path => quoted(path),
    };
    let profile = profile.map_or_else(|| "PROFILE".to_owned(), quoted);
    format!("fivefig encode {profile} --sheet {sheet}{form}")
}

/// The first lines of the sheet.
fn head(next: &str) -> String {
    format!(
        "# A sheet: what fivefig must know of the station and the flight besides the profile.\n\
         # Fill in every line marked \"{MARK}\". To use a line such as #name =, remove its #.\n\
         # [flight], [surface] and [clouds] change with every flight: a second sheet may hold them.\n\
         # What is missing: fivefig check --sheet FILE. All keys: fivefig guide sheet.\n\
         # Next command: {next}\n"
    )
}

#[cfg(test)]
mod tests;
