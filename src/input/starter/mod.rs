//! A commented sheet to start from: what the file says of the station and the flight,
//! every mandatory key marked, and the other keys of the kind of station and of the code
//! form with their choices in words.
//!
//! Which keys are mandatory is what the reader of sheets misses.

mod figures;
mod found;
mod order;
#[cfg(test)]
mod tests;

#[cfg(feature = "desk")]
pub(crate) use figures::of as figures_of;

use std::collections::BTreeMap;
use std::fmt::Write as _;

use crate::input::sheet;
use itertools::Itertools as _;

use crate::input::sheet::{
    Draft, Fault, Key, KeyKind, SHEET_TABLES, SheetError, Source, Whom, keys_of,
};
use crate::input::{Columns, Contents, Format, SourceError};
use crate::model::finding::Finding;
use crate::model::{Form, StationKind};

/// The tables of a starter.
fn tables() -> impl Iterator<Item = &'static str> {
    let tables = SHEET_TABLES.iter().filter(|table| table.in_starter);
    tables.map(|table| table.name)
}

/// The key that a starter always has.
const KIND: &str = "station.kind";
/// What stands behind a mandatory key without a value.
pub(crate) const MARK: &str = "# REQUIRED";
const WIDTH: usize = 88;

/// A sheet to start from.
#[derive(Clone, Debug, Default)]
pub(crate) struct Starter {
    draft: Draft,
    form: Form,
    /// Where values of keys come from.
    sources: BTreeMap<String, String>,
    /// What the columns of the file were interpreted as.
    pub(crate) columns: Option<Columns>,
    /// What is to be said of the file.
    pub(crate) findings: Vec<Finding>,
}

/// Why a key was not set.
pub(crate) enum NotSet {
    /// The sheet has no such key of one value.
    NoKey(String),
    /// The value cannot stand there.
    Value(SheetError),
}

impl Starter {
    pub(crate) fn new(form: Form) -> Self {
        let mut starter = Self {
            form,
            ..Self::default()
        };
        starter.put(KIND, "land", None);
        starter
    }

    /// The kind of station.
    pub(crate) fn kind(&self) -> StationKind {
        let kind = self.draft.value(KIND).cloned();
        kind.and_then(|kind| kind.try_into().ok())
            .unwrap_or_default()
    }

    /// Takes over what a file says of its columns, the station and the flight. A file that
    /// gives no rows yet has its columns alone; why, is returned.
    ///
    /// # Errors
    /// A file whose columns cannot be read.
    pub(crate) fn profile(
        &mut self,
        bytes: &[u8],
        name: &str,
        format: Format,
        number: Option<usize>,
    ) -> Result<Option<SourceError>, SourceError> {
        let first = sheet::reading(&[]).unwrap_or_default();
        self.columns = crate::input::columns(bytes, name, format, number, &first)?;
        let shown = self
            .columns
            .as_ref()
            .and_then(Columns::sheet)
            .unwrap_or_default();
        let file = Source { name, text: &shown };
        let reading = sheet::reading(&[file]).unwrap_or_default();
        match crate::input::read(bytes, name, format, number, &reading) {
            Ok(contents) => {
                let clock = contents.clock;
                // What is said of the station goes before where the sonde was.
                if format == Format::Text {
                    self.put_new(found::preamble(bytes, name, &reading, clock));
                }
                self.take(contents, name);
                Ok(None)
            }
            Err(why) => {
                let found = self
                    .columns
                    .as_ref()
                    .map(|columns| columns.findings.clone());
                self.findings.extend(found.unwrap_or_default());
                Ok(Some(why))
            }
        }
    }

    /// Station and flight of a file, and where its first row is.
    fn take(&mut self, contents: Contents, name: &str) {
        if let Some(form) = contents.form {
            self.form = form;
        }
        let own = contents.sheet.as_deref().map(|text| Source { name, text });
        if let Some(own) = own
            && let Ok(own) = Draft::merged(&[own])
        {
            for key in tables().flat_map(keys_of) {
                let value = own.get(&key.name);
                if !value.is_empty() {
                    self.put(&key.name, &value, Some("from the file"));
                }
            }
        }
        self.put_new(found::first_row(&contents.raw));
        self.findings.extend(contents.findings);
    }

    fn put_new(&mut self, found: Vec<found::Found>) {
        for (key, value, source) in found {
            if self.draft.get(key).is_empty() {
                self.put(key, &value, Some(&source));
            }
        }
    }

    /// Sets a key that is known to be one, if the value may stand there.
    fn put(&mut self, name: &str, value: &str, source: Option<&str>) {
        if self.set(name, value).is_ok()
            && let Some(source) = source
        {
            self.sources.insert(name.to_owned(), source.to_owned());
        }
    }

    /// Sets a key to a value as it is written in a field.
    ///
    /// # Errors
    /// No such key, or a value that cannot stand there; nothing is changed then.
    pub(crate) fn set(&mut self, name: &str, value: &str) -> Result<(), NotSet> {
        let table = name.split('.').next().unwrap_or_default();
        let keys = keys_of(table);
        let Some(key) = keys.iter().find(|key| key.name == name) else {
            let known = tables().flat_map(keys_of);
            let known: Vec<String> = known
                .filter(|key| table.is_empty() || key.name.starts_with(table))
                .map(|key| key.name)
                .collect();
            return Err(NotSet::NoKey(match known.is_empty() {
                true => format!("the tables are {}", tables().join(", ")),
                false => format!("there are {}", known.join(", ")),
            }));
        };
        let mut draft = self.draft.clone();
        draft.set(key, value);
        let text = draft.print();
        let file = Source {
            name: "",
            text: &text,
        };
        sheet::joined(&[file]).map_err(NotSet::Value)?;
        self.draft = draft;
        self.sources.remove(name);
        Ok(())
    }

    /// The mandatory keys without a value, as the reader of sheets misses them.
    pub(crate) fn missing(&self) -> Vec<Key> {
        let text = self.draft.print();
        let file = Source {
            name: "",
            text: &text,
        };
        let Err(error) = sheet::read(&[file]) else {
            return Vec::new();
        };
        let one = |fault: &sheet::SheetFault| match &fault.fault {
            Fault::Missing { key, .. } => {
                let keys = keys_of(key.split('.').next()?);
                keys.into_iter().find(|k| k.name == *key)
            }
            _ => None,
        };
        error.faults().iter().filter_map(one).collect()
    }

    /// The sheet, with lines about the columns of the file above their tables.
    pub(crate) fn print(&self, columns: &str) -> String {
        let missing: Vec<String> = self.missing().into_iter().map(|key| key.name).collect();
        let (kind, form) = (self.kind(), self.form);
        let mut out = String::new();
        for (table, names) in order::tables() {
            if !tables().any(|own| own == table) || !Whom::table(&table).is(kind, form) {
                continue;
            }
            let mut keys = keys_of(&table);
            let place = |key: &Key| {
                let mut names = names.iter();
                names
                    .position(|name| key.name.ends_with(&format!(".{name}")))
                    .unwrap_or(usize::MAX)
            };
            keys.sort_by_key(place);
            comment(&mut out, sheet::about(&table));
            let used =
                |key: &Key| !self.draft.get(&key.name).is_empty() || missing.contains(&key.name);
            let _ = writeln!(out, "[{table}]");
            for key in keys {
                let wanted = used(&key) || key.whom.is(kind, form);
                if wanted {
                    self.key(&mut out, &key, missing.contains(&key.name));
                }
            }
            out.push('\n');
        }
        if let Some(found) = &self.columns {
            comment(
                &mut out,
                "The columns of the file and what they are interpreted as. A guess must be checked.",
            );
            for line in columns.lines() {
                let _ = writeln!(out, "# {line}");
            }
            out.push_str(&found.sheet().unwrap_or_default());
        }
        out.truncate(out.trim_end().len());
        out.push('\n');
        out
    }

    fn key(&self, out: &mut String, key: &Key, missing: bool) {
        let name = key.name.split_once('.').map_or("", |(_, name)| name);
        comment(out, &format!("{}{}", key.about, range(&key.kind)));
        // Figures of one meaning, one after the other, stand in one line.
        let figures = figures::of(key);
        for same in figures.chunk_by(|a, b| a.0.saturating_add(1) == b.0 && a.1 == b.1) {
            let _ = match same {
                [(first, meaning), .., (last, _)] => {
                    writeln!(out, "#   {first} to {last} = {meaning}")
                }
                [(figure, meaning)] => writeln!(out, "#   {figure} = {meaning}"),
                [] => Ok(()),
            };
        }
        let value = self.draft.value(&key.name);
        let _ = match (value, self.sources.get(&key.name)) {
            (Some(value), Some(source)) => writeln!(out, "{name} = {value}  # {source}"),
            (Some(value), None) => writeln!(out, "{name} = {value}"),
            (None, _) if missing => writeln!(out, "{name} = \"\"  {MARK}"),
            (None, _) => match &key.default {
                Some(default) if key.kind == KeyKind::Flag => writeln!(out, "#{name} = {default}"),
                Some(default) => writeln!(out, "#{name} = {default:?}"),
                None => writeln!(out, "#{name} ="),
            },
        };
    }
}

/// What may stand under a key, in words.
pub(crate) fn range(kind: &KeyKind) -> String {
    match kind {
        KeyKind::Integer(Some(low), Some(high)) => format!(" From {low} to {high}."),
        KeyKind::Number(Some(low), Some(high)) => format!(" From {low} to {high}."),
        KeyKind::Flag => " Either true or false.".to_owned(),
        KeyKind::Choice(choices) => format!(" One of: {}.", choices.join(", ")),
        KeyKind::Time => " As in \"2031-01-15T11:23:40Z\".".to_owned(),
        KeyKind::Integer(..) | KeyKind::Number(..) | KeyKind::Text => String::new(),
    }
}

/// Lines of a comment, not too long.
fn comment(out: &mut String, text: &str) {
    let mut line = String::from("#");
    for word in text.split_whitespace() {
        if line.chars().count() + word.chars().count() + 1 > WIDTH {
            out.push_str(&line);
            out.push_str("\n#");
            line.clear();
        }
        line.push(' ');
        line.push_str(word);
    }
    out.push_str(&line);
    out.push('\n');
}
