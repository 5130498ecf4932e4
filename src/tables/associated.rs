//! What associated fields mean (BUFR code table 0 31 021).

use super::file::{Fault, File, Order, Row, Shape, rows};
use super::{B31021, Once, loaded};

/// A meaning of an associated field.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Associated {
    /// The figure of 0 31 021.
    significance: u8,
    /// The value; `None`: the field as a whole.
    value: Option<u32>,
    meaning: &'static str,
}

const SHAPE: Shape = Shape {
    columns: &["significance", "value", "meaning"],
    group: 1,
    order: Order::Unique,
};

static ASSOCIATED: Once<Vec<Associated>> = Once::new(|| loaded(read(B31021)));

fn read(file: File) -> Result<Vec<Associated>, Fault> {
    rows(file, SHAPE)?.iter().map(associated).collect()
}

fn associated(row: &Row) -> Result<Associated, Fault> {
    let value = match row.text("value")? {
        "field" => None,
        _ => Some(row.number("value")?),
    };
    Ok(Associated {
        significance: row.number("significance")?,
        value,
        meaning: row.text("meaning")?,
    })
}

/// What an associated field is under a figure of 0 31 021 (`value` `None`), or what
/// one of its values means.
#[must_use]
pub fn associated_field(significance: i64, value: Option<u32>) -> Option<&'static str> {
    let own = |a: &&Associated| i64::from(a.significance) == significance && a.value == value;
    ASSOCIATED.iter().find(own).map(|a| a.meaning)
}
