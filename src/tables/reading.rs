//! What senders do otherwise than the form.

use serde::{Deserialize, Deserializer, de};

use super::{Form, Once, Part, READING_PRACTICES, load};
use crate::model::{Code, Departure, DepartureKind};

/// A practice of senders that the reader follows.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReadingPractice {
    /// What they do.
    pub kind: DepartureKind,
    /// In which family of forms; `None` in each.
    pub form: Option<Form>,
    /// In which parts.
    #[serde(deserialize_with = "super::file::parts")]
    pub parts: Vec<Part>,
    /// In which section; `None` in each.
    pub section: Option<u8>,
    /// From which height on, m.
    pub height_m: Option<f64>,
    /// The finding that names it.
    #[serde(deserialize_with = "code")]
    pub finding: Code,
    /// A report of open traffic that has it.
    pub example: &'static str,
}

fn code<'de, D: Deserializer<'de>>(from: D) -> Result<Code, D::Error> {
    let code = <&str>::deserialize(from)?;
    code.parse()
        .map_err(|_| de::Error::custom("no finding has this code"))
}

static READING: Once<Vec<ReadingPractice>> = Once::new(|| load(READING_PRACTICES));

/// Every practice of senders.
#[must_use]
pub fn reading_practices() -> &'static [ReadingPractice] {
    &READING
}

/// The practice by which a part departs from its form, if senders have it.
#[must_use]
pub fn reading_practice(
    form: Form,
    part: Part,
    departure: Departure,
) -> Option<&'static ReadingPractice> {
    READING.iter().find(|row| {
        row.kind == departure.kind
            && row.form.is_none_or(|of| of == form)
            && row.parts.contains(&part)
            && row
                .section
                .is_none_or(|section| section == departure.section)
    })
}
