//! What associated fields mean (BUFR code table 0 31 021).

use serde::Deserialize;

use super::{B31021, Once, load};

/// A meaning of an associated field.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Associated {
    /// The figure of 0 31 021.
    significance: u8,
    /// The value; `None`: the field as a whole.
    value: Option<u32>,
    meaning: &'static str,
}

static ASSOCIATED: Once<Vec<Associated>> = Once::new(|| load(B31021));

/// What an associated field is under a figure of 0 31 021 (`value` `None`), or what
/// one of its values means.
#[must_use]
pub fn associated_field(significance: i64, value: Option<u32>) -> Option<&'static str> {
    let own = |a: &&Associated| i64::from(a.significance) == significance && a.value == value;
    ASSOCIATED.iter().find(own).map(|a| a.meaning)
}
