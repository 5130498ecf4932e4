//! Tables of levels, findings and reports as Arrow record batches: what Parquet files and
//! the Python package are made of.
//!
//! Every schema has the metadata `fivefig.table` (its name) and `fivefig.version`
//! ([`VERSION`]); every column with a unit has the metadata `unit`. The guide page
//! [`tables`](crate::guide::tables) lists the columns. Types are those that every reader
//! of Parquet knows: no unsigned integers, no dictionaries.

use std::collections::HashMap;
use std::fmt::Write as _;
use std::sync::Arc;

use arrow_array::builder::{
    BinaryBuilder, Float64Builder, Int8Builder, Int32Builder, Int64Builder, ListBuilder,
    StringBuilder, TimestampMicrosecondBuilder,
};
use arrow_array::{ArrayRef, RecordBatch};
use arrow_schema::{ArrowError, DataType, Field, Schema, SchemaRef, TimeUnit};
use jiff::civil::DateTime;
use jiff::tz::Offset;

mod findings;
mod levels;
#[cfg(feature = "parquet")]
pub mod parquet;
mod reports;

pub use findings::Findings;
pub use levels::{Levels, Source, renumbered};
pub use reports::Reports;

/// The version of the schemas. A column that is added does not change it; one that is
/// renamed, removed or of another type does.
pub const VERSION: u32 = 1;

/// Rows after which a batch is complete: a table of any length is written in bounded
/// memory.
pub const BATCH_ROWS: usize = 1 << 16;

/// The values of a column while a batch is collected.
pub(crate) trait Values {
    /// None yet.
    fn empty() -> Self;
    /// Their type.
    fn data_type() -> DataType;
    /// What was collected; the next batch begins.
    fn take(&mut self) -> ArrayRef;
}

macro_rules! values {
    ($($builder:ty: $data_type:expr, $new:expr;)+) => {$(
        impl Values for $builder {
            fn empty() -> Self {
                $new
            }

            fn data_type() -> DataType {
                $data_type
            }

            fn take(&mut self) -> ArrayRef {
                Arc::new(self.finish())
            }
        }
    )+};
}

/// The name of the time zone of times.
const UTC: &str = "UTC";

/// A list of texts.
pub(crate) type TextsBuilder = ListBuilder<StringBuilder>;

values! {
    BinaryBuilder: DataType::Binary, Self::new();
    Float64Builder: DataType::Float64, Self::new();
    Int8Builder: DataType::Int8, Self::new();
    Int32Builder: DataType::Int32, Self::new();
    Int64Builder: DataType::Int64, Self::new();
    StringBuilder: DataType::Utf8, Self::new();
    TimestampMicrosecondBuilder:
        DataType::Timestamp(TimeUnit::Microsecond, Some(UTC.into())),
        Self::new().with_timezone(UTC);
    TextsBuilder:
        DataType::List(Arc::new(Field::new_list_field(DataType::Utf8, true))),
        Self::new(StringBuilder::new());
}

/// A field of a schema, with the unit of its values and what it holds.
pub(crate) fn field(name: &str, data_type: DataType, unit: &str, what: &str) -> Field {
    let mut metadata = HashMap::new();
    metadata.insert("description".to_owned(), what.trim().to_owned());
    if !unit.is_empty() {
        metadata.insert("unit".to_owned(), unit.to_owned());
    }
    Field::new(name, data_type, true).with_metadata(metadata)
}

/// A schema under its name and version.
pub(crate) fn schema(table: &str, fields: Vec<Field>) -> SchemaRef {
    let metadata = HashMap::from([
        ("fivefig.table".to_owned(), table.to_owned()),
        ("fivefig.version".to_owned(), VERSION.to_string()),
    ]);
    Arc::new(Schema::new_with_metadata(fields, metadata))
}

/// A table by its columns: the schema and the values from one list.
macro_rules! table {
    (
        $(#[$doc:meta])*
        $name:ident = $table:literal {
            $(#[doc = $what:literal] $column:ident: $builder:ty $(, $unit:literal)?;)+
        }
    ) => {
        $(#[$doc])*
        #[derive(Debug)]
        pub struct $name {
            schema: arrow_schema::SchemaRef,
            rows: usize,
            $($column: $builder,)+
        }

        impl Default for $name {
            fn default() -> Self {
                Self::new()
            }
        }

        impl $name {
            /// A table without rows.
            #[must_use]
            pub fn new() -> Self {
                use $crate::forms::columnar::Values;
                Self {
                    schema: Self::schema(),
                    rows: 0,
                    $($column: <$builder as Values>::empty(),)+
                }
            }

            /// Its columns.
            #[must_use]
            pub fn schema() -> arrow_schema::SchemaRef {
                use $crate::forms::columnar::Values;
                let fields = vec![$($crate::forms::columnar::field(
                    stringify!($column),
                    <$builder as Values>::data_type(),
                    concat!($($unit)?),
                    $what,
                ),)+];
                $crate::forms::columnar::schema($table, fields)
            }

            /// Whether enough rows are collected for a batch
            /// ([`BATCH_ROWS`](crate::forms::columnar::BATCH_ROWS)).
            #[must_use]
            pub fn is_full(&self) -> bool {
                self.rows >= $crate::forms::columnar::BATCH_ROWS
            }

            /// The rows collected since the last time, as one batch.
            ///
            /// # Errors
            /// Never in practice: columns of one length make a batch.
            pub fn take(&mut self) -> Result<arrow_array::RecordBatch, arrow_schema::ArrowError> {
                use $crate::forms::columnar::Values;
                self.rows = 0;
                let columns = vec![$(self.$column.take(),)+];
                arrow_array::RecordBatch::try_new(self.schema.clone(), columns)
            }
        }
    };
}
pub(crate) use table;

/// Microseconds since 1970 of a time in UTC.
pub(crate) fn micros(time: DateTime) -> Option<i64> {
    let timestamp = Offset::UTC.to_timestamp(time).ok()?;
    Some(timestamp.as_microsecond())
}

/// A whole number as columns have it; what does not fit is the greatest.
pub(crate) fn whole(value: usize) -> i32 {
    i32::try_from(value).unwrap_or(i32::MAX)
}

/// Texts as the value of one row.
fn texts<T: AsRef<str>>(column: &mut TextsBuilder, values: impl IntoIterator<Item = T>) {
    for value in values {
        column.values().append_value(value);
    }
    column.append(true);
}

/// What prints, as the value of one row.
fn printed(column: &mut StringBuilder, value: Option<impl std::fmt::Display>) {
    match value {
        Some(value) => {
            // Writing into memory does not fail.
            let _ = write!(column, "{value}");
            column.append_value("");
        }
        None => column.append_null(),
    }
}

/// The batches of a table, which are never none: without rows there is one that is empty.
///
/// # Errors
/// As for the batch itself.
pub fn batches(
    mut before: Vec<RecordBatch>,
    last: Result<RecordBatch, ArrowError>,
) -> Result<Vec<RecordBatch>, ArrowError> {
    let last = last?;
    if before.is_empty() || last.num_rows() > 0 {
        before.push(last);
    }
    Ok(before)
}

#[cfg(test)]
mod tests;
