//! What a message says of its values beside them.

use serde::{Deserialize, Serialize};

/// What a BUFR message says of one of its values: an associated field in front of it
/// (operator 2 04), or a value after a bit-map (2 22 quality, 2 23 substituted value,
/// 2 24 and 2 25 statistics, 2 32 replaced or retained value).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Quality {
    /// Descriptor of the element that it is about, six figures.
    pub element: String,
    /// Name of that element.
    pub name: String,
    /// What the value is, in words.
    pub kind: String,
    /// The value in `unit`, or a figure of a code table; null when it is missing.
    pub value: Option<f64>,
    /// Unit of the value, blank for figures.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub unit: String,
    /// What the figure means, where the tables say so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub meaning: Option<String>,
}

/// What a message says of the values of one sounding.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Qualities {
    /// Of values outside the levels: station, times, equipment.
    pub head: Vec<Quality>,
    /// Of the values of each level, in the order of the report.
    pub levels: Vec<Vec<Quality>>,
}
