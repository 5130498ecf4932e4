//! What the schema says of a table or key: what the checks and the page of the desk ask for.

use std::borrow::Cow;
use std::collections::BTreeMap;

use serde::Deserialize;
use serde_json::{Number, Value};

use crate::model::{Form, StationKind};

/// What may stand in one place of a sheet.
#[derive(Debug, Default, Deserialize)]
#[serde(default, rename_all = "camelCase")]
pub(super) struct Entry {
    /// The type; a list of constants has none.
    pub r#type: Option<&'static str>,
    pub title: Option<&'static str>,
    #[serde(borrow)]
    pub description: Cow<'static, str>,
    pub format: &'static str,
    #[serde(borrow)]
    pub pattern: Cow<'static, str>,
    pub minimum: Option<Number>,
    pub maximum: Option<Number>,
    pub max_length: Option<u64>,
    pub max_items: Option<u64>,
    r#enum: Vec<&'static str>,
    one_of: Vec<Choice>,
    /// Of an array: what each item is.
    pub items: Option<Box<Self>>,
    /// Of a table: its keys.
    pub properties: BTreeMap<&'static str, Self>,
    /// Of a table: keys of other names.
    additional_properties: Option<Others>,
    /// Of a table: keys that must be there.
    pub required: Vec<&'static str>,
    pub default: Value,
    #[serde(rename = "x-stations")]
    pub stations: Vec<StationKind>,
    #[serde(rename = "x-forms")]
    pub forms: Vec<Form>,
}

/// Texts that may stand somewhere.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Choice {
    r#const: Option<&'static str>,
    r#enum: Vec<&'static str>,
}

/// Keys that are not listed.
#[derive(Debug, Deserialize)]
#[serde(untagged, bound(deserialize = "'de: 'static"))]
enum Others {
    /// Whether they may stand there.
    Allowed(#[expect(dead_code, reason = "no sheet has other keys of any kind")] bool),
    /// What they are.
    Each(Box<Entry>),
}

impl Entry {
    /// The type asked for; a list of constants is a string.
    pub fn kind(&self) -> &'static str {
        self.r#type.unwrap_or("string")
    }

    pub fn is_time(&self) -> bool {
        self.format == "date-time"
    }

    /// The texts that are listed.
    pub fn choices(&self) -> Vec<&'static str> {
        let mut listed = self.r#enum.clone();
        for choice in &self.one_of {
            listed.extend(choice.r#const);
            listed.extend(&choice.r#enum);
        }
        listed
    }

    /// What a key of this table is.
    pub fn property(&self, key: &str) -> Option<&Self> {
        self.properties.get(key)
    }

    /// What a key of this table is that may have any name.
    pub fn other(&self) -> Option<&Self> {
        match &self.additional_properties {
            Some(Others::Each(entry)) => Some(entry),
            _ => None,
        }
    }
}
