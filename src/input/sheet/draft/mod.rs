//! A sheet that is edited key by key and written out again.
//!
//! There are no rules here: what is set is read again by [`super::read`], which
//! has them.

use serde_json::{Number, Value as Json};

use super::entry::Entry;
use super::tables::SHEET_TABLES;
use super::{SheetError, Source, joined, keys};
use crate::model::{Form, StationKind};

/// A sheet that is being edited.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Draft {
    table: toml::Table,
}

/// A key of a sheet with one value.
#[derive(Clone, Debug, PartialEq)]
pub struct Key {
    /// Its dotted name, such as `surface.temperature_c`.
    pub name: String,
    /// Its short name beside a field, where it has one.
    pub label: Option<String>,
    /// What it means, as the schema says.
    pub about: String,
    /// What may stand there.
    pub kind: KeyKind,
    /// What holds where the key does not stand, as far as the schema says it.
    pub default: Option<String>,
    /// The stations and forms that it is for.
    pub(crate) whom: Whom,
}

/// The stations and code forms that a key or table is for; empty: all.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Whom {
    stations: Vec<StationKind>,
    forms: Vec<Form>,
}

impl Whom {
    /// What the schema of a key or table says.
    fn of(entry: &Entry) -> Self {
        Self {
            stations: entry.stations.clone(),
            forms: entry.forms.clone(),
        }
    }

    /// What a table is for.
    #[cfg(feature = "cli")]
    pub(crate) fn table(name: &str) -> Self {
        keys::all().property(name).map(Self::of).unwrap_or_default()
    }

    #[cfg(feature = "cli")]
    pub(crate) fn is(&self, station: StationKind, form: Form) -> bool {
        (self.stations.is_empty() || self.stations.contains(&station))
            && (self.forms.is_empty() || self.forms.contains(&form))
    }
}

/// What may stand under a key.
#[derive(Clone, Debug, PartialEq)]
pub enum KeyKind {
    /// A whole number, with its bounds.
    Integer(Option<i64>, Option<i64>),
    /// A number, with its bounds.
    Number(Option<f64>, Option<f64>),
    /// `true` or `false`.
    Flag,
    /// One of these.
    Choice(Vec<String>),
    /// A time, UTC.
    Time,
    /// Text.
    Text,
}

impl Draft {
    /// Sheet files as one, key by key, the later ones having the last word.
    ///
    /// # Errors
    /// The faults of the files taken alone.
    pub fn merged(files: &[Source<'_>]) -> Result<Self, SheetError> {
        let table = joined(files)?;
        Ok(Self { table })
    }

    /// A draft as [`Draft::print`] writes it, faulty values among it; `None` where the
    /// text is no TOML.
    #[cfg(feature = "desk")]
    pub(crate) fn printed(text: &str) -> Option<Self> {
        let table = text.parse().ok()?;
        Some(Self { table })
    }

    /// What stands under a dotted key, as it is written in a field; empty when
    /// nothing does.
    #[must_use]
    pub fn get(&self, key: &str) -> String {
        self.value(key).map(written).unwrap_or_default()
    }

    pub(crate) fn value(&self, key: &str) -> Option<&toml::Value> {
        let (table, key) = key.split_once('.')?;
        self.table.get(table)?.as_table()?.get(key)
    }

    /// Whether a table has any key.
    #[must_use]
    pub fn has(&self, table: &str) -> bool {
        let table = self.table.get(table).and_then(toml::Value::as_table);
        table.is_some_and(|table| !table.is_empty())
    }

    /// Sets a key to what a field says, an empty field taking it away; `false` when
    /// nothing changed. What is no number where one is wanted is kept as text, for
    /// the reader of sheets to refuse.
    pub fn set(&mut self, key: &Key, text: &str) -> bool {
        let Some((table, name)) = key.name.split_once('.') else {
            return false;
        };
        if self.get(&key.name) == text.trim() {
            return false;
        }
        let before = self.value(&key.name).cloned();
        let value = typed(&key.kind, text.trim());
        if before == value {
            return false;
        }
        let empty = || toml::Value::Table(toml::Table::new());
        let entry = self.table.entry(table).or_insert_with(empty);
        if let Some(inside) = entry.as_table_mut() {
            match value {
                Some(value) => inside.insert(name.to_owned(), value),
                None => inside.remove(name),
            };
            if inside.is_empty() {
                self.table.remove(table);
            }
        }
        true
    }

    /// The orders of a table (`level`, `withhold`, `doubtful`), each with its keys.
    #[must_use]
    pub fn orders(&self, table: &str) -> Vec<Vec<(String, String)>> {
        let orders = self.table.get(table).and_then(toml::Value::as_array);
        let keys = |order: &toml::Value| {
            let order = order.as_table()?;
            Some(order.iter().map(|(k, v)| (k.clone(), written(v))).collect())
        };
        orders.into_iter().flatten().filter_map(keys).collect()
    }

    /// Adds an order to a table; fields that are empty are left out. Nothing happens
    /// where the sheet knows no such table.
    pub fn order(&mut self, table: &str, fields: &[(&str, &str)]) {
        let Some(entry) = keys::all().property(table).and_then(|e| e.items.as_deref()) else {
            return;
        };
        let mut order = toml::Table::new();
        for (name, text) in fields {
            let kind = entry.property(name).and_then(kind);
            if let Some(value) = kind.and_then(|kind| typed(&kind, text.trim())) {
                order.insert((*name).to_owned(), value);
            }
        }
        let empty = || toml::Value::Array(Vec::new());
        let orders = self.table.entry(table).or_insert_with(empty);
        if let Some(orders) = orders.as_array_mut() {
            orders.push(toml::Value::Table(order));
        }
    }

    /// Takes an order back, counted from 0; `false` when there is none.
    pub fn take_back(&mut self, table: &str, index: usize) -> bool {
        let orders = self
            .table
            .get_mut(table)
            .and_then(toml::Value::as_array_mut);
        let Some(orders) = orders.filter(|orders| index < orders.len()) else {
            return false;
        };
        orders.remove(index);
        if orders.is_empty() {
            self.table.remove(table);
        }
        true
    }

    /// The sheet as text that [`super::read`] takes and that gives this draft again.
    #[must_use]
    pub fn print(&self) -> String {
        let known = SHEET_TABLES.iter().map(|table| table.name);
        let other = self.table.keys().map(String::as_str);
        let other = other.filter(|name| SHEET_TABLES.iter().all(|table| table.name != *name));
        let mut out = String::new();
        for name in known.chain(other) {
            if let Some(value) = self.table.get(name) {
                if !out.is_empty() {
                    out.push('\n');
                }
                let one = toml::Table::from_iter([(name.to_owned(), value.clone())]);
                out.push_str(&one.to_string());
            }
        }
        out
    }
}

/// The keys of one value that a table has, in the order of their names.
#[must_use]
pub fn keys_of(table: &str) -> Vec<Key> {
    let all = keys::all().property(table).map(|entry| &entry.properties);
    let all = all.into_iter().flatten();
    all.filter_map(|(name, entry)| {
        Some(Key {
            name: format!("{table}.{name}"),
            label: entry.title.map(str::to_owned),
            about: entry.description.replace('\n', " "),
            kind: kind(entry)?,
            default: match &entry.default {
                Json::String(text) => Some(text.clone()),
                Json::Bool(flag) => Some(flag.to_string()),
                _ => None,
            },
            whom: Whom::of(entry),
        })
    })
    .collect()
}

/// The words of a table.
#[cfg(feature = "cli")]
pub(crate) fn about(table: &str) -> &'static str {
    (keys::all().property(table)).map_or("", |entry| entry.description.as_ref())
}

/// The kind of a key; `None` for tables and lists.
fn kind(entry: &Entry) -> Option<KeyKind> {
    let choices = entry.choices();
    if !choices.is_empty() {
        return Some(KeyKind::Choice(
            choices.into_iter().map(str::to_owned).collect(),
        ));
    }
    let (least, most) = (entry.minimum.as_ref(), entry.maximum.as_ref());
    match entry.r#type? {
        "integer" => Some(KeyKind::Integer(
            least.and_then(Number::as_i64),
            most.and_then(Number::as_i64),
        )),
        "number" => Some(KeyKind::Number(
            least.and_then(Number::as_f64),
            most.and_then(Number::as_f64),
        )),
        "boolean" => Some(KeyKind::Flag),
        "string" if entry.is_time() => Some(KeyKind::Time),
        "string" => Some(KeyKind::Text),
        _ => None,
    }
}

/// A value as it is written in a field.
fn written(value: &toml::Value) -> String {
    match value {
        toml::Value::String(text) => text.clone(),
        toml::Value::Float(number) => number.to_string(),
        value => value.to_string(),
    }
}

/// A text as the value it stands for; `None` when it is empty.
fn typed(kind: &KeyKind, text: &str) -> Option<toml::Value> {
    if text.is_empty() {
        return None;
    }
    let number = || {
        let number = text.parse::<f64>().ok().filter(|n| n.is_finite());
        number.map(toml::Value::Float)
    };
    let typed = match kind {
        KeyKind::Integer(..) => text.parse().ok().map(toml::Value::Integer).or_else(number),
        KeyKind::Number(..) => number(),
        KeyKind::Flag => text.parse().ok().map(toml::Value::Boolean),
        KeyKind::Choice(_) | KeyKind::Time | KeyKind::Text => None,
    };
    Some(typed.unwrap_or_else(|| toml::Value::String(text.to_owned())))
}

#[cfg(test)]
mod tests;
