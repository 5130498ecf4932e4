//! The embedded tables: comma-separated values under header comments that name the
//! source. A test reads them all.

use csv::{ReaderBuilder, StringRecord};
use serde::de::Error as _;
use serde::{Deserialize, Deserializer};

use super::Part;
use crate::model::Roles;

/// An embedded file.
#[derive(Clone, Copy, Debug)]
pub(super) struct File {
    /// Path from the root of the crate.
    pub(super) name: &'static str,
    /// The whole text.
    pub(super) text: &'static str,
}

/// The rows of a file. They live as long as the program, as the tables that borrow
/// from them do.
pub(super) fn read<T: Deserialize<'static>>(file: File) -> Result<Vec<T>, csv::Error> {
    let mut reader = ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(file.text.as_bytes());
    let columns: &StringRecord = Box::leak(Box::new(reader.headers()?.clone()));
    let records: Vec<StringRecord> = reader.into_records().collect::<Result<_, _>>()?;
    let rows = records.leak().iter();
    rows.map(|row| row.deserialize(Some(columns))).collect()
}

/// The rows of a file, or a halt that names file and line: a fault is a mistake of
/// ours, never of a user.
#[expect(
    clippy::panic,
    reason = "an embedded table is part of the program, no input reaches it, and a test reads every one"
)]
pub(super) fn load<T: Deserialize<'static>>(file: File) -> Vec<T> {
    match read(file) {
        Ok(rows) => rows,
        Err(error) => panic!("broken table {}: {error}", file.name),
    }
}

/// A list in one field, with a blank between two items.
pub(super) fn list<'de, D: Deserializer<'de>, T>(
    from: D,
    one: impl Fn(&'de str) -> Option<T>,
) -> Result<Vec<T>, D::Error> {
    let words = <&str>::deserialize(from)?.split_ascii_whitespace();
    words
        .map(|word| one(word).ok_or_else(|| D::Error::custom(format!("`{word}` is unknown"))))
        .collect()
}

/// Names, a blank between two.
pub(super) fn names<'de: 'static, D: Deserializer<'de>>(
    from: D,
) -> Result<Vec<&'static str>, D::Error> {
    list(from, Some)
}

/// Names of roles, a blank between two.
pub(super) fn roles<'de, D: Deserializer<'de>>(from: D) -> Result<Roles, D::Error> {
    let roles = list(from, Roles::of_name)?;
    Ok(roles.into_iter().collect())
}

/// Letters of parts, `AB`.
pub(super) fn parts<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<Part>, D::Error> {
    let letters = <&str>::deserialize(from)?.chars();
    let parts: Option<Vec<Part>> = letters.map(Part::from_letter).collect();
    parts.ok_or_else(|| D::Error::custom("a part is A, B, C or D"))
}
