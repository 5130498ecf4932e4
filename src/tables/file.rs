//! The embedded tables: comma-separated values under header comments that name the
//! source. A test reads them all.

use std::sync::OnceLock;

use csv::StringRecord;
use memchr::{memchr, memchr_iter};
use serde::de::Error as _;
use serde::{Deserialize, Deserializer};

use super::{Descriptor, Part};
use crate::model::Roles;

/// An embedded file.
#[derive(Clone, Copy, Debug)]
pub(super) struct File {
    /// Path from the root of the crate.
    pub(super) name: &'static str,
    /// The whole text.
    pub(super) text: &'static str,
}

/// The columns of a file, and its lines with their numbers.
fn lines(
    file: File,
) -> (
    &'static StringRecord,
    impl Iterator<Item = (u64, &'static str)>,
) {
    let mut rest = file.text;
    let line = std::iter::from_fn(move || {
        let end = memchr(b'\n', rest.as_bytes()).unwrap_or(rest.len());
        let (line, behind) = rest.split_at_checked(end).filter(|_| !rest.is_empty())?;
        rest = behind.get(1..).unwrap_or_default();
        Some(line.strip_suffix('\r').unwrap_or(line))
    });
    let mut lines = (1..).zip(line);
    let columns = lines.find(|(_, line)| !line.starts_with('#'));
    let columns = columns.map_or_else(StringRecord::new, |(_, line)| record(line));
    (Box::leak(Box::new(columns)), lines)
}

/// The fields of a line: those in quotes may have commas, and two quotes for one. No field
/// has a line break, which a test checks; so a line needs no reader, which would cost more
/// than most tables.
pub(super) fn record(line: &str) -> StringRecord {
    let fields = memchr_iter(b',', line.as_bytes()).count() + 1;
    let mut out = StringRecord::with_capacity(line.len(), fields);
    if memchr(b'"', line.as_bytes()).is_none() {
        let mut from = 0;
        for comma in memchr_iter(b',', line.as_bytes()).chain([line.len()]) {
            out.push_field(line.get(from..comma).unwrap_or_default());
            from = comma + 1;
        }
        return out;
    }
    let (mut field, mut quoted) = (String::new(), false);
    let mut characters = line.chars().peekable();
    while let Some(character) = characters.next() {
        match character {
            '"' if quoted && characters.next_if_eq(&'"').is_some() => field.push('"'),
            '"' => quoted = !quoted,
            ',' if !quoted => {
                out.push_field(&field);
                field.clear();
            }
            other => field.push(other),
        }
    }
    out.push_field(&field);
    out
}

/// The rows of a file. They live as long as the program, as the tables that borrow
/// from them do.
pub(super) fn read<T: Deserialize<'static>>(file: File) -> Result<Vec<T>, csv::Error> {
    let (columns, lines) = lines(file);
    let placed = |(number, line)| {
        let mut row = record(line);
        let mut place = csv::Position::new();
        place.set_line(number);
        row.set_position(Some(place));
        row
    };
    let records: Vec<StringRecord> = lines.map(placed).collect();
    let rows = records.leak().iter();
    rows.map(|row| row.deserialize(Some(columns))).collect()
}

/// What the rows of a long table are found by.
pub(super) trait Key: Copy + Ord {
    /// The key of a row, in its first field.
    fn of(line: &str) -> Option<Self>;
}

impl Key for Descriptor {
    fn of(line: &str) -> Option<Self> {
        Self::from_figures(line.get(..6)?)
    }
}

impl Key for u8 {
    fn of(line: &str) -> Option<Self> {
        line.split_once(',')?.0.parse().ok()
    }
}

/// A table of many rows, of which a program needs a few: each is read when it is asked for.
/// The rows rise by their first field, which several may share.
pub(super) struct Rows<K, T: 'static> {
    file: File,
    columns: &'static StringRecord,
    rows: Vec<(K, &'static str, OnceLock<&'static T>)>,
}

impl<K: Key, T: Deserialize<'static>> Rows<K, T> {
    pub(super) fn new(file: File) -> Self {
        let (columns, lines) = lines(file);
        let row = |(_, line): (u64, &'static str)| Some((K::of(line)?, line, OnceLock::new()));
        let mut rows = Vec::with_capacity(memchr_iter(b'\n', file.text.as_bytes()).count());
        rows.extend(lines.filter_map(row));
        Self {
            file,
            columns,
            rows,
        }
    }

    pub(super) fn get(&self, key: K) -> Option<&T> {
        self.of(key).next()
    }

    /// The rows of a key, in the order of the file.
    pub(super) fn of(&self, key: K) -> impl Iterator<Item = &T> {
        let first = self.rows.partition_point(|(row, ..)| *row < key);
        let rows = self.rows.iter().skip(first);
        let rows = rows.take_while(move |(row, ..)| *row == key);
        rows.map(|(_, line, row)| {
            *row.get_or_init(|| {
                let record = Box::leak(Box::new(record(line)));
                Box::leak(Box::new(halt(
                    self.file,
                    record.deserialize(Some(self.columns)),
                )))
            })
        })
    }

    pub(super) fn keys(&self) -> impl Iterator<Item = K> {
        self.rows.iter().map(|(key, ..)| *key)
    }
}

/// The rows of a file, or a halt that names it.
pub(super) fn load<T: Deserialize<'static>>(file: File) -> Vec<T> {
    halt(file, read(file))
}

/// What was read, or a halt that names the file: a fault is a mistake of ours, never of a
/// user.
#[expect(
    clippy::panic,
    reason = "an embedded table is part of the program, no input reaches it, and a test reads every one"
)]
fn halt<T>(file: File, read: Result<T, csv::Error>) -> T {
    match read {
        Ok(read) => read,
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
