//! How a profile is to be read.

use std::collections::BTreeMap;

use super::keys::{ColumnKeys, SheetKeys, TextKeys};
use super::{Fault, SheetError, SheetFault};
use crate::model::finding::Place;
use crate::model::{ColumnSource, Reading};

/// The keys of merged files.
pub(super) fn keys(merged: toml::Table) -> Result<SheetKeys, SheetError> {
    merged.try_into().map_err(|error: toml::de::Error| {
        let message = error.message().to_owned();
        let fault = SheetFault {
            place: Place::default(),
            fault: Fault::Syntax { message },
        };
        fault.into()
    })
}

/// What the keys say of reading.
pub(super) fn reading(text: TextKeys, columns: BTreeMap<String, ColumnKeys>) -> Reading {
    let columns = columns.into_iter().map(|(name, source)| {
        let column = source.column;
        let unit = source.unit;
        (name, ColumnSource { column, unit })
    });
    Reading {
        delimiter: text.delimiter.and_then(|text| text.chars().next()),
        missing: text.missing,
        skip_lines: text.skip_lines,
        names: text.names,
        widths: text.widths,
        columns: columns.collect(),
    }
}
