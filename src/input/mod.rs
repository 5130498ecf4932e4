//! Files with a profile in them become raw rows.

pub mod bufr;
pub(crate) mod columns;
pub(crate) mod elements;
#[cfg(feature = "arrow")]
pub mod frame;
pub mod igra;
pub mod jsonl;
pub mod messages;
pub mod netcdf;
pub mod sheet;
#[cfg(feature = "cli")]
pub(crate) mod starter;
pub mod text;

use std::fmt;

use jiff::civil::Time;
use thiserror::Error;

pub use crate::model::raw::{RawProfile, RawRow};
pub use columns::survey::Columns;
#[cfg(feature = "cli")]
pub(crate) use elements::known::shown;
pub(crate) use elements::known::{out_of_bounds, raw_out_of_bounds};

use crate::model::finding::{Finding, Place};
use crate::model::{Form, Reading};

/// A file format in which profiles come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Format {
    /// Delimited text or text in columns of fixed width.
    Text,
    /// BUFR edition 3 or 4.
    Bufr,
    /// An IGRA v2 station file.
    Igra,
    /// JSON Lines, one flight per line.
    Jsonl,
    /// NetCDF-3 or NetCDF-4 with CF attributes.
    NetCdf,
}

/// What a file says of flights: the rows of one, and what else it knows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Contents {
    /// The rows.
    pub raw: RawProfile,
    /// What the file says about station and flight, as a sheet; sheets that are
    /// given come after it and win.
    pub sheet: Option<String>,
    /// The form of a message.
    pub form: Option<Form>,
    /// The time of day at which `time_s` is 0, where the file has clock times without a
    /// date.
    pub clock: Option<Time>,
    /// What each column (or variable) was interpreted as, in the order of the file;
    /// empty for a format whose elements have fixed names.
    pub columns: Vec<ColumnUse>,
    /// What is to be said of it.
    pub findings: Vec<Finding>,
}

/// How it is known what a column is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum By {
    /// It has our own name.
    Name,
    /// The sheet says so under `[columns]`.
    Sheet,
    /// Its CF attributes say so.
    Attribute,
    /// Name, unit and range look like it; a guess is shown, never used.
    Guess,
}

/// A column of a file and what it was interpreted as.
#[derive(Clone, Debug, PartialEq)]
pub struct ColumnUse {
    /// Its name in the file.
    pub column: String,
    /// Its number in the file, from 1.
    pub number: usize,
    /// Our name for it and how that is known; `None` when it is not used.
    pub ours: Option<(&'static str, By)>,
    /// Its unit in the file, when it is known.
    pub unit: Option<String>,
    /// Rows with a value.
    pub present: usize,
    /// Least and greatest value, in the unit of the file.
    pub range: Option<(f64, f64)>,
}

/// The format of a file, by its first octets.
#[must_use]
pub fn detect(bytes: &[u8]) -> Format {
    // Its signature is the first octets; BUFR may stand anywhere near the beginning,
    // and the word in an attribute.
    if netcdf::is_netcdf(bytes) {
        Format::NetCdf
    } else if bufr::is_bufr(bytes) {
        Format::Bufr
    } else if igra::is_igra(bytes) {
        Format::Igra
    } else if jsonl::is_jsonl(bytes) {
        Format::Jsonl
    } else {
        Format::Text
    }
}

/// Reads the one flight of a file, or the one of that number (from 1) where the
/// format holds several.
///
/// # Errors
/// See [`SourceError`].
pub fn read(
    bytes: &[u8],
    name: &str,
    format: Format,
    number: Option<usize>,
    reading: &Reading,
) -> Result<Contents, SourceError> {
    if number.is_some() && format == Format::Text {
        return Err(SourceError::OneFlight {
            name: name.to_owned(),
        });
    }
    match format {
        Format::Text => text::contents(bytes, name, reading),
        Format::Igra => igra::read(bytes, name, number),
        Format::Jsonl => jsonl::read(bytes, name, number).map(|(_, contents)| contents),
        Format::NetCdf => netcdf::read(bytes, name, number, reading),
        Format::Bufr => {
            let (flight, findings) = bufr::read(bytes, name, number)?;
            Ok(Contents {
                raw: flight.raw,
                sheet: Some(flight.sheet),
                form: Some(flight.report.form),
                findings,
                ..Contents::default()
            })
        }
    }
}

/// What the columns of a file are, every one of them, with guesses for those that
/// are not known; `None` for a format whose elements have fixed names.
///
/// # Errors
/// See [`SourceError`]; of text only what keeps it from being split into columns.
pub fn columns(
    bytes: &[u8],
    name: &str,
    format: Format,
    number: Option<usize>,
    reading: &Reading,
) -> Result<Option<Columns>, SourceError> {
    if format == Format::Text && number.is_none() {
        return columns::survey::columns(bytes, name, reading).map(Some);
    }
    if format == Format::NetCdf {
        return netcdf::columns(bytes, name, number, reading).map(Some);
    }
    let contents = read(bytes, name, format, number, reading)?;
    Ok((!contents.columns.is_empty()).then_some(Columns {
        columns: contents.columns,
        rows: contents.raw.rows.len(),
        findings: contents.findings,
        ..Columns::default()
    }))
}

/// One thing wrong with a row or a cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// File.
    pub name: String,
    /// Line, from 1.
    pub line: usize,
    /// Column, from 1; `None` when the row as a whole is at fault.
    pub column: Option<usize>,
    /// What is there.
    pub what: String,
    /// What is allowed, or what to do.
    pub allowed: String,
}

impl fmt::Display for Fault {
    /// `FILE:LINE:COL: what (allowed)`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.name, self.line)?;
        if let Some(column) = self.column {
            write!(f, ":{column}")?;
        }
        write!(f, ": {} ({})", self.what, self.allowed)
    }
}

/// Why a file is not a profile.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum SourceError {
    /// No line that is not blank or a comment.
    #[error("{name}: the file is empty; a header row and rows of numbers are expected")]
    Empty {
        /// File.
        name: String,
    },
    /// A header and nothing else.
    #[error(
        "{name}: there is a header row but no row of numbers below it; give the rows, or set skip_lines or delimiter under [text] if they are not recognized"
    )]
    NoRows {
        /// File.
        name: String,
    },
    /// More octets than are read.
    #[error(
        "{name}: the file has {octets} bytes, at most {limit} are read; give one flight per file"
    )]
    FileTooLarge {
        /// File.
        name: String,
        /// Its size.
        octets: usize,
        /// The bound.
        limit: usize,
    },
    /// A line longer than any row of a profile.
    #[error(
        "{name}:{line}: the line has {octets} bytes, at most {limit} are read; check that the file is delimited text"
    )]
    LineTooLong {
        /// File.
        name: String,
        /// Line.
        line: usize,
        /// Its length.
        octets: usize,
        /// The bound.
        limit: usize,
    },
    /// A header with too many columns.
    #[error(
        "{name}:{line}: the header has more than {limit} columns; check delimiter under [text]"
    )]
    TooManyColumns {
        /// File.
        name: String,
        /// Line.
        line: usize,
        /// The bound.
        limit: usize,
    },
    /// Too many rows.
    #[error("{name}:{line}: the file has more than {limit} rows; give one flight per file")]
    TooManyRows {
        /// File.
        name: String,
        /// Line of the first row too many.
        line: usize,
        /// The bound.
        limit: usize,
    },
    /// A NUL octet: not text at all.
    #[error(
        "{name}:{line}: a zero byte at position {position} of the line: the file is binary; delimited text is expected"
    )]
    Binary {
        /// File.
        name: String,
        /// Line.
        line: usize,
        /// Octet of the line, from 1.
        position: usize,
    },
    /// Bytes that are no character of the encoding that the sheet names.
    #[error(
        "{name}:{line}: not all of it is {encoding}; give encoding under [text], or save the file as UTF-8 text"
    )]
    Encoding {
        /// File.
        name: String,
        /// Line.
        line: usize,
        /// The encoding.
        encoding: &'static str,
    },
    /// Text that is neither UTF-8 nor another encoding that can be detected.
    #[error(
        "{name}:{line}: not UTF-8 at byte {position} of the line; save the file as UTF-8 text, or give encoding under [text]"
    )]
    NotUtf8 {
        /// File.
        name: String,
        /// Line.
        line: usize,
        /// Octet of the line, from 1.
        position: usize,
    },
    /// A delimiter that cannot be one.
    #[error(
        "{name}: [text] delimiter {given:?} cannot be used; it may be a tab, a blank or a sign such as , ; | :"
    )]
    Delimiter {
        /// File.
        name: String,
        /// What the sheet gives.
        given: char,
    },
    /// `[text]` in the sheet does not fit itself.
    #[error("{name}: [text] {what}")]
    Text {
        /// File.
        name: String,
        /// What is wrong and what to do.
        what: String,
    },
    /// None of the names in the sheet is known.
    #[error(
        "{name}: none of [text] names is known; it has {header}; give each its name under [columns] (known: {known})"
    )]
    NoNames {
        /// File.
        name: String,
        /// The names.
        header: String,
        /// The names we know.
        known: String,
    },
    /// No known column in the header.
    #[error(
        "{name}:{line}: no column of the header is known; it has {header}; give each its name under [columns] of the sheet (known: {known})"
    )]
    NoColumns {
        /// File.
        name: String,
        /// Line.
        line: usize,
        /// The header's columns.
        header: String,
        /// The names we know.
        known: String,
    },
    /// No variable of a NetCDF file is known as a quantity that a profile must have.
    #[error(
        "{name}: no variable is known as {lacking}, by standard_name or by a name of ours; it has {variables}; name them under [columns] in the sheet"
    )]
    NoVariables {
        /// File.
        name: String,
        /// The quantities.
        lacking: &'static str,
        /// The variables of the file.
        variables: String,
    },
    /// `[columns]` in the sheet does not fit the file.
    #[error("{name}: [columns] {ours}: {what}")]
    Column {
        /// File.
        name: String,
        /// Our column name.
        ours: String,
        /// What is wrong and what is allowed.
        what: String,
    },
    /// A table in memory that is no profile.
    #[error("{name}: {what}")]
    Table {
        /// The table.
        name: String,
        /// What is wrong and what to do.
        what: String,
    },
    /// A number for a format that holds one flight per file.
    #[error(
        "{name}: a number or name of a flight is given, but this file is one flight; leave it out"
    )]
    OneFlight {
        /// File.
        name: String,
    },
    /// A record of fixed columns that is none.
    #[error("{name}:{line}:{column}: {what}")]
    Record {
        /// File.
        name: String,
        /// Line.
        line: usize,
        /// Character of the line, from 1.
        column: usize,
        /// What is wrong and what is allowed.
        what: String,
    },
    /// A line that is no flight.
    #[error("{name}:{line}: {}{what}", .id.as_ref().map(|id| format!("flight `{id}`: ")).unwrap_or_default())]
    Flight {
        /// File.
        name: String,
        /// Line.
        line: usize,
        /// The flight, where the line says it.
        id: Option<String>,
        /// What is wrong and what is allowed.
        what: String,
    },
    /// Which of several soundings is meant is not known.
    #[error("{name}: there are {count} {of}; give the number of one, 1 to {count}")]
    Several {
        /// File.
        name: String,
        /// How many there are.
        count: usize,
        /// What the format calls them, with more of them where it is known.
        of: String,
    },
    /// There is no such flight.
    #[error("{name}: {what}")]
    Which {
        /// File.
        name: String,
        /// How many there are and what to do.
        what: String,
    },
    /// No sounding in BUFR that could be a profile.
    #[error("{name}: {what}")]
    Bufr {
        /// File.
        name: String,
        /// Why.
        what: String,
    },
    /// A NetCDF file that is no profile, or that cannot be read.
    #[error("{}", under(.name, .what))]
    NetCdf {
        /// File.
        name: String,
        /// Why, one fault per line.
        what: String,
    },
    /// Rows or cells that are no values; reading stops after twenty.
    #[error("{}{}", lines(.faults), if *.more { "\nreading stopped after 20 faults" } else { "" })]
    Cells {
        /// The first of them.
        faults: Vec<Fault>,
        /// Whether reading stopped before the end of the file.
        more: bool,
    },
}

impl SourceError {
    /// Where the fault is: the file, and the line where there is one.
    #[must_use]
    pub fn place(&self) -> Place {
        match self {
            Self::LineTooLong { name, line, .. }
            | Self::TooManyColumns { name, line, .. }
            | Self::TooManyRows { name, line, .. }
            | Self::Binary { name, line, .. }
            | Self::Encoding { name, line, .. }
            | Self::NotUtf8 { name, line, .. }
            | Self::NoColumns { name, line, .. }
            | Self::Flight { name, line, .. } => Place::line(name, *line),
            Self::Record {
                name, line, column, ..
            } => Place::line(name, *line).at_column(*column),
            Self::Empty { name }
            | Self::Several { name, .. }
            | Self::NoRows { name }
            | Self::FileTooLarge { name, .. }
            | Self::Delimiter { name, .. }
            | Self::Text { name, .. }
            | Self::NoNames { name, .. }
            | Self::NoVariables { name, .. }
            | Self::Column { name, .. }
            | Self::Table { name, .. }
            | Self::OneFlight { name }
            | Self::Which { name, .. }
            | Self::Bufr { name, .. }
            | Self::NetCdf { name, .. } => Place::default().in_file(name),
            Self::Cells { faults, .. } => {
                (faults.first()).map_or_else(Place::default, |f| Place::line(&f.name, f.line))
            }
        }
    }
}

/// Each line with the file in front.
fn under(name: &str, what: &str) -> String {
    let lines: Vec<String> = what.lines().map(|l| format!("{name}: {l}")).collect();
    lines.join("\n")
}

fn lines(faults: &[Fault]) -> String {
    let lines: Vec<String> = faults.iter().map(ToString::to_string).collect();
    lines.join("\n")
}
