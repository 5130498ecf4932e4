//! Why a report is not written in BUFR.

use thiserror::Error;

use super::{BufrError, Descriptor};

/// Why a report is not written in BUFR.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum NotWritten {
    /// No such template.
    #[error("template {template}: {why}")]
    Template {
        /// What was wanted.
        template: String,
        /// Why not.
        why: String,
    },
    /// No template for the form.
    #[error("there is no BUFR template for a {0}")]
    NoTemplate(&'static str),
    /// Not the full date.
    #[error(
        "the report gives only day and hour, as a text message does; BUFR needs the complete date of release and standard time"
    )]
    Time,
    /// A descent whose beginning has no time.
    #[error(
        "the highest row of the descent has no time_s, which BUFR needs as the time of its start; give it in the file"
    )]
    NoStart,
    /// A text of the sheet.
    #[error("{key}: `{text}` does not fit: {allowed}")]
    Text {
        /// Key of the sheet.
        key: &'static str,
        /// What it gives.
        text: String,
        /// What is allowed.
        allowed: &'static str,
    },
    /// A value that its bits cannot hold.
    #[error(transparent)]
    Value(Box<Unfit>),
    /// More levels than the counter holds.
    #[error(
        "{count} {what} exceed the counter {counter}, which allows {most}; write the chosen levels only"
    )]
    Count {
        /// Levels or shears.
        what: &'static str,
        /// How many.
        count: usize,
        /// The counter.
        counter: Descriptor,
        /// The most.
        most: usize,
    },
    /// The message as a whole.
    #[error(transparent)]
    Message(#[from] BufrError),
}

/// A value that its bits cannot hold.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("{place}{name}: {value}{unit} does not fit {descriptor} ({low} to {high}{unit})")]
pub struct Unfit {
    /// Where: a level, or nothing.
    pub place: String,
    /// The element.
    pub name: &'static str,
    /// Its descriptor.
    pub descriptor: Descriptor,
    /// The value.
    pub value: String,
    /// Its unit after a blank, or nothing.
    pub unit: String,
    /// The least.
    pub low: String,
    /// The greatest.
    pub high: String,
}
