//! A profile: the rows of one ascent, drop or descent.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Row;
use super::finding::Finding;

/// The vertical coordinate of a profile.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Axis {
    /// Pressure.
    #[default]
    Pressure,
    /// Height; no pressure was measured.
    Height,
}

/// Whether the sonde rose or fell.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Motion {
    /// A balloon ascent.
    #[default]
    Rising,
    /// A dropped sonde or a descent.
    Falling,
}

/// The rows of one ascent, drop or descent, lowest first.
///
/// What [`crate::profile`] promises: every row has the coordinate of the axis;
/// along a pressure axis pressure never increases from row to row, and rows of
/// equal pressure stand in the order of height (or time); the first row is the
/// surface level, except in a descent and in a drop that ends aloft; at least two
/// rows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Profile {
    /// The vertical coordinate.
    pub axis: Axis,
    /// Rising or falling.
    pub motion: Motion,
    /// Whether the lowest row of a fall lies above the surface, which was then
    /// not observed.
    pub ends_aloft: bool,
    /// Whether these are the rows of a radiosonde that fell after burst: the
    /// last one, the highest, is where the descent began. A descent has no
    /// surface observation, even where it ends near the ground.
    pub descent: bool,
    /// The rows.
    pub rows: Vec<Row>,
    /// What was computed rather than read, in words.
    pub derived: Vec<String>,
    /// What the sheet must settle before a report is made of these rows: findings
    /// of severity error, each with what to write.
    pub unsettled: Vec<Finding>,
}
