//! Standard names of the CF conventions.

use super::file::{Fault, File, Order, read};
use super::{CF_NAMES, Once, loaded};

/// A standard name that is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CfName {
    /// The standard name.
    pub standard_name: &'static str,
    /// Our column, or a key of the sheet (with a dot).
    pub column: &'static str,
    /// The unit the convention names; a file may use any that converts.
    pub canonical_unit: Option<&'static str>,
}

static ROWS: Once<Vec<CfName>> = Once::new(|| loaded(rows(CF_NAMES)));

fn rows(file: File) -> Result<Vec<CfName>, Fault> {
    let columns = &["standard_name", "column", "canonical_unit"];
    read(file, columns, Order::Unique, |row| {
        Ok(CfName {
            standard_name: row.text("standard_name")?,
            column: row.text("column")?,
            canonical_unit: row.optional("canonical_unit")?,
        })
    })
}

/// All standard names that are read, the preferred of a column first.
#[must_use]
pub fn cf_names() -> &'static [CfName] {
    &ROWS
}

/// What a standard name stands for.
///
/// ```
/// let name = fivefig::tables::cf_name("air_pressure").unwrap();
/// assert_eq!(name.column, "pressure_hpa");
/// assert_eq!(fivefig::tables::cf_name("air_pressure status_flag"), None);
/// ```
#[must_use]
pub fn cf_name(standard_name: &str) -> Option<&'static CfName> {
    ROWS.iter().find(|row| row.standard_name == standard_name)
}
