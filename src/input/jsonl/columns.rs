//! The columns of a flight, read value by value: of a line of many megabytes nothing is
//! held twice.

use std::borrow::Cow;
use std::fmt;

use serde::Deserialize;
use serde::de::{Deserializer, IgnoredAny, MapAccess, SeqAccess, Visitor};
use serde_json::value::RawValue;

use crate::input::RawRow;
use crate::input::elements::known::{FLAG_BITS, FLAGS, Known, known, names, nearest, shown};
use crate::input::jsonl::MAX_ROWS;
use crate::model::Roles;
use crate::model::quantity::snap;

/// The columns as they stand in the line, or the first name that is wrong.
pub(super) struct Columns<'a>(Result<Vec<Column<'a>>, String>);

/// A column: our name, where its values go (else they are roles), and its text.
struct Column<'a> {
    name: &'static str,
    known: Option<&'static Known>,
    text: &'a str,
}

impl<'de: 'a, 'a> Deserialize<'de> for Columns<'a> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Table;

        impl<'de> Visitor<'de> for Table {
            type Value = Columns<'de>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a map")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Columns<'de>, A::Error> {
                let mut columns: Vec<Column<'de>> = Vec::new();
                let mut wrong = None;
                while let Some(Text(name)) = map.next_key()? {
                    let column = match wrong {
                        None => column(&name, &columns),
                        // The rest is only read over.
                        Some(_) => Err(String::new()),
                    };
                    match column {
                        Ok((name, known)) => {
                            let text = map.next_value::<&RawValue>()?.get();
                            columns.push(Column { name, known, text });
                        }
                        Err(what) => {
                            map.next_value::<IgnoredAny>()?;
                            wrong.get_or_insert(what);
                        }
                    }
                }
                Ok(Columns(wrong.map_or(Ok(columns), Err)))
            }
        }

        from.deserialize_map(Table)
    }
}

/// A text, borrowed where it has no escapes.
#[derive(Deserialize)]
struct Text<'a>(#[serde(borrow)] Cow<'a, str>);

/// The column of a name that has not come yet.
fn column(
    name: &str,
    before: &[Column<'_>],
) -> Result<(&'static str, Option<&'static Known>), String> {
    let (name, known) = match known(name) {
        Some(known) => (known.name, Some(known)),
        None if name == FLAGS => (FLAGS, None),
        None => {
            let like = nearest(name).map(|n| format!("; did you mean {n}?"));
            return Err(format!(
                "columns.{}: no such column is read{}; there are {}",
                shown(name),
                like.unwrap_or_default(),
                names().collect::<Vec<_>>().join(", ")
            ));
        }
    };
    if before.iter().any(|one| one.name == name) {
        return Err(format!("columns.{name} comes twice; give it once"));
    }
    Ok((name, known))
}

impl Columns<'_> {
    /// The columns as rows.
    ///
    /// # Errors
    /// In words: a column that is not known or comes twice, a value that is not allowed,
    /// columns of different lengths, more than [`MAX_ROWS`] rows, none at all.
    pub(super) fn rows(self) -> Result<Vec<RawRow>, String> {
        let columns = self.0?;
        let first = columns.first();
        let row = |line| RawRow {
            line,
            ..RawRow::default()
        };
        let mut rows: Vec<RawRow> = match first {
            Some(first) => (1..=first.count()?).map(row).collect(),
            None => Vec::new(),
        };
        for column in &columns {
            let count = column.take(&mut rows)?;
            if count != rows.len() {
                return Err(format!(
                    "columns.{} has {} values and columns.{} {count}; every column has one for each row",
                    first.map_or("", |first| first.name),
                    rows.len(),
                    column.name
                ));
            }
        }
        if rows.is_empty() || columns.iter().all(|column| column.known.is_none()) {
            let what = "columns holds no row; at least one column with values is expected";
            return Err(what.to_owned());
        }
        Ok(rows)
    }
}

impl Column<'_> {
    /// How many values there are, before anything is made of them.
    fn count(&self) -> Result<usize, String> {
        let mut count = 0_usize;
        self.each(|_| {
            count += 1;
            Ok(())
        })?;
        if count > MAX_ROWS {
            return Err(format!(
                "columns.{} has {count} values; at most {MAX_ROWS} are read",
                self.name
            ));
        }
        Ok(count)
    }

    /// Puts the values into the rows; how many there are.
    fn take(&self, rows: &mut [RawRow]) -> Result<usize, String> {
        let (mut rows, mut count) = (rows.iter_mut(), 0_usize);
        self.each(|value| {
            count += 1;
            let Some(row) = rows.next() else {
                return Ok(());
            };
            let place = row.line;
            match self.known {
                Some(known) => one(known, value, row),
                None => flags(value).map(|roles| row.flags = roles),
            }
            .map_err(|what| format!("columns.{}[{place}] is {what}", self.name))
        })?;
        Ok(count)
    }

    /// Does something with the text of each value, up to the first that is wrong.
    fn each(&self, work: impl FnMut(&str) -> Result<(), String>) -> Result<(), String> {
        struct List<F>(F);

        impl<'de, F: FnMut(&str) -> Result<(), String>> Visitor<'de> for List<F> {
            type Value = Result<(), String>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an array")
            }

            fn visit_seq<A: SeqAccess<'de>>(
                mut self,
                mut values: A,
            ) -> Result<Self::Value, A::Error> {
                let mut done = Ok(());
                while let Some(value) = values.next_element::<&RawValue>()? {
                    if done.is_ok() {
                        done = (self.0)(value.get());
                    }
                }
                Ok(done)
            }
        }

        if !self.text.starts_with('[') {
            return Err(format!(
                "columns.{} is {}; an array of numbers and null is expected",
                self.name,
                kind(self.text)
            ));
        }
        let mut from = serde_json::Deserializer::from_str(self.text);
        // The text has been read as JSON once.
        let done = from.deserialize_seq(List(work));
        done.map_err(|error| format!("columns.{}: {error}", self.name))?
    }
}

/// What a text of JSON is.
fn kind(text: &str) -> &'static str {
    match text.as_bytes().first() {
        Some(b'n') => "null",
        Some(b't' | b'f') => "true or false",
        Some(b'"') => "a text",
        Some(b'[') => "an array",
        Some(b'{') => "an object",
        _ => "a number",
    }
}

/// Takes a value; the error says what it is and what is allowed.
fn one(known: &Known, text: &str, row: &mut RawRow) -> Result<(), String> {
    if text == "null" {
        return Ok(());
    }
    let Some(value) = number::<f64>(text) else {
        return Err(format!("{} (a number or null is expected)", kind(text)));
    };
    if !known.allows(value) && !known.allows(snap(value)) {
        return Err(format!("{} ({})", shown(text), known.bounds()));
    }
    (known.set)(row, value);
    Ok(())
}

fn flags(text: &str) -> Result<Roles, String> {
    if text == "null" {
        return Ok(Roles::empty());
    }
    let known = |bits: &u32| bits & !Roles::FORCED.bits() < 1 << FLAG_BITS;
    number(text)
        .filter(known)
        .map(Roles::from_bits_retain)
        .ok_or_else(|| {
            let most = (1 << FLAG_BITS) - 1;
            format!(
                "{} (a whole number from 0 to {most} is expected)",
                shown(text)
            )
        })
}

/// The number that a text of JSON is; `None`: it is something else.
fn number<T: std::str::FromStr>(text: &str) -> Option<T> {
    text.parse().ok()
}
