//! How delimited text is to be read.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

#[cfg(test)]
use super::shape::Shape;

/// How to read delimited text: what the sheet says of columns and marks.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Reading {
    /// The delimiter, one character; absent: it is detected.
    #[cfg_attr(test, schemars(extend("pattern" = Shape::Delimiter.pattern())))]
    #[cfg_attr(test, schemars(with = "Option<String>"))]
    pub delimiter: Option<char>,
    /// The encoding; absent: UTF-8 or UTF-16, or Windows-1252 where it is neither.
    pub encoding: Option<Encoding>,
    /// Cells that mean "missing", besides the usual ones.
    #[cfg_attr(test, schemars(length(max = 100)))]
    pub missing: Vec<String>,
    /// Lines before the header row (or, with `names`, before the first row) that
    /// are passed over, whatever they hold.
    #[cfg_attr(test, schemars(range(min = 0, max = 100000)))]
    pub skip_lines: usize,
    /// Names of the columns, in order: the file has no header row.
    #[cfg_attr(test, schemars(length(max = 1000)))]
    pub names: Vec<String>,
    /// Widths of the columns in characters, in order: the text is not delimited.
    #[cfg_attr(test, schemars(length(max = 1000), inner(range(min = 1, max = 10000))))]
    pub widths: Vec<usize>,
    /// Our column name → the file's column and unit: `[columns]` of the sheet.
    #[serde(skip)]
    pub columns: BTreeMap<String, ColumnSource>,
}

/// An encoding of text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Encoding {
    /// UTF-8.
    #[serde(rename = "utf-8")]
    Utf8,
    /// UTF-16 in either order of bytes.
    #[serde(rename = "utf-16")]
    Utf16,
    /// Central European languages.
    #[serde(rename = "windows-1250")]
    Windows1250,
    /// Cyrillic.
    #[serde(rename = "windows-1251")]
    Windows1251,
    /// Western European languages.
    #[serde(rename = "windows-1252")]
    Windows1252,
    /// Chinese, GBK among it.
    #[serde(rename = "gb18030")]
    Gb18030,
    /// Japanese.
    #[serde(rename = "shift_jis")]
    ShiftJis,
}

/// Where one of our columns is found in a file.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct ColumnSource {
    /// Name of the column in the file; absent: our own name.
    pub column: Option<String>,
    /// Unit of the column in the file; absent: the one that the file states, or else
    /// the unit in our name.
    pub unit: Option<String>,
}
