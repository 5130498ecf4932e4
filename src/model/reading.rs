//! How delimited text is to be read.

use std::collections::BTreeMap;

/// How to read delimited text: what the sheet says of columns and marks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reading {
    /// The delimiter; `None` to find it out.
    pub delimiter: Option<char>,
    /// Cells that mean "missing", besides the usual ones.
    pub missing: Vec<String>,
    /// Lines before the header (or the first row) that are passed over unread.
    pub skip_lines: usize,
    /// Names of the columns of a file without a header row; empty: it has one.
    pub names: Vec<String>,
    /// Widths of the columns in characters; empty: the text is delimited.
    pub widths: Vec<usize>,
    /// Our column name → the file's column and unit.
    pub columns: BTreeMap<String, ColumnSource>,
}

/// Where one of our columns is found in a file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ColumnSource {
    /// Name of the column in the file; `None` for our own name.
    pub column: Option<String>,
    /// Unit of the column in the file; `None` for the one that the file states, or
    /// else the unit in our name.
    pub unit: Option<String>,
}
