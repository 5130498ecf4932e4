//! Standard names of the CF conventions.

use serde::Deserialize;

use super::{CF_NAMES, Once, load};

/// A standard name that is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CfName {
    /// The standard name.
    pub standard_name: &'static str,
    /// Our column, or a key of the sheet (with a dot).
    pub column: &'static str,
    /// The unit the convention names; a file may use any that converts.
    #[serde(borrow)]
    pub canonical_unit: Option<&'static str>,
}

static ROWS: Once<Vec<CfName>> = Once::new(|| load(CF_NAMES));

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
