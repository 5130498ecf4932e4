//! The fields of the page and how it calls them.

use std::sync::LazyLock;

use crate::input::sheet::{Key, SHEET_TABLES, keys_of};
use crate::model::Roles;

/// The tables with places of their own on the page.
const PLACES: [&str; 3] = ["flight", "surface", "clouds"];

/// The tables with fields, each with its title.
fn titled() -> impl Iterator<Item = (&'static str, &'static str)> {
    let tables = SHEET_TABLES.iter();
    tables.filter_map(|table| Some((table.name, table.title?)))
}

/// The tables that are seldom touched, each with its title.
pub(super) fn rest() -> impl Iterator<Item = (&'static str, &'static str)> {
    titled().filter(|(name, _)| !PLACES.contains(name))
}

/// Every key that has a field.
static KEYS: LazyLock<Vec<Key>> =
    LazyLock::new(|| titled().flat_map(|(table, _)| keys_of(table)).collect());

/// Every key that has a field.
pub(super) fn keys() -> &'static [Key] {
    &KEYS
}

/// The label of a field.
pub(super) fn label(key: &Key) -> &str {
    let label = key.label.as_deref();
    label.unwrap_or_else(|| key.about.trim_end_matches('.'))
}

/// A text in which keys of the sheet have the labels of their fields.
pub(super) fn labelled(text: &str) -> String {
    let named = keys().iter().filter(|key| text.contains(&key.name));
    // A key that begins like another is longer, and comes first.
    let mut named: Vec<&Key> = named.collect();
    named.sort_by_key(|key| std::cmp::Reverse(key.name.len()));
    named.into_iter().fold(text.to_owned(), |text, key| {
        text.replace(&format!("`{}`", key.name), &key.name)
            .replace(&key.name, &label_of(&key.name))
    })
}

/// The label of a key, or the title of a table, as the page shows them.
pub(super) fn label_of(name: &str) -> String {
    let Some((table, _)) = name.split_once('.') else {
        let title = titled().find(|(table, _)| *table == name);
        return title.map_or(name, |(_, title)| title).to_owned();
    };
    let key = keys().iter().find(|key| key.name == name);
    let label = key.map_or(name, label);
    // "Pressure" alone could be any; the fields at hand stand under their title.
    match table {
        "surface" => format!("{}: {label}", label_of(table)),
        _ => label.to_owned(),
    }
}

/// The roles of a level in words.
pub(super) fn role_words(roles: Roles) -> String {
    const WORDS: [(Roles, &str); 18] = [
        (Roles::SURFACE, "surface"),
        (Roles::STANDARD, "standard"),
        (Roles::TROPOPAUSE, "tropopause"),
        (Roles::MAX_WIND, "maximum wind"),
        (Roles::SIG_TEMPERATURE, "significant for temperature"),
        (Roles::SIG_HUMIDITY, "significant for humidity"),
        (Roles::SIG_WIND, "significant for wind"),
        (
            Roles::BEGIN_MISSING_TEMPERATURE,
            "temperature missing from here",
        ),
        (
            Roles::END_MISSING_TEMPERATURE,
            "temperature missing up to here",
        ),
        (Roles::BEGIN_MISSING_HUMIDITY, "humidity missing from here"),
        (Roles::END_MISSING_HUMIDITY, "humidity missing up to here"),
        (Roles::BEGIN_MISSING_WIND, "wind missing from here"),
        (Roles::END_MISSING_WIND, "wind missing up to here"),
        (Roles::TOP_OF_WIND, "top of the winds"),
        (Roles::REGIONAL, "of the Region"),
        (Roles::FREEZING, "freezing level"),
        (Roles::FROM_HEIGHT, "pressure from height"),
        (Roles::FORCED, "by order"),
    ];
    let words = WORDS.iter().filter(|(role, _)| roles.any(*role));
    let words: Vec<&str> = words.map(|(_, word)| *word).collect();
    words.join(", ")
}
