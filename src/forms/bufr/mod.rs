//! BUFR (FM 94), edition 4 written, editions 2 to 4 read: WMO-No. 306 Vol. I.2.
//!
//! Two layers. Below, [`Message`] is a list of values in the order of a
//! template: whole numbers in the units of Table B, written and read exactly.
//! Above, [`from_report`] rounds a report into such a message and [`to_report`]
//! gives back the values that one stands for.
//!
//! ```
//! use fivefig::forms::bufr::{Descriptor, Message, Section1, Value};
//!
//! // Block and station number, then a temperature of 273.16 K.
//! let template = ["301001", "012101"].map(|d| Descriptor::from_figures(d).unwrap());
//! let message = Message {
//!     section1: Section1::default(),
//!     template: template.to_vec(),
//!     values: vec![vec![Value::Number(99), Value::Number(11), Value::Number(27316)]],
//! };
//! let bytes = message.encode()?;
//! assert_eq!(fivefig::forms::bufr::read(&bytes)?.message, message);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod bits;
mod choose;
mod clouds;
mod decode;
mod dump;
mod encode;
mod error;
mod field;
mod fields;
mod figure;
mod frame;
mod from_report;
mod head;
mod level;
mod marks;
mod meaning;
mod moments;
mod named;
mod node;
mod not_written;
mod operators;
pub(crate) mod pieces;
mod plan;
mod quality;
mod sections;
mod seen;
mod sonde;
mod sounding;
mod surfaces;
mod template;
#[cfg(test)]
mod tests;
mod thin;
mod to_report;
mod unused;
mod walk;

pub use choose::NotSounding;
pub use decode::{Received, read};
pub use dump::dump;
pub use error::{BufrError, Fault};
pub use field::{Field, Kind};
pub use frame::{Framed, frames};
pub use from_report::{from_report, write};
pub use head::{Changed, head_changes};
pub use marks::Attached;
pub use not_written::{NotWritten, Unfit};
pub(crate) use sonde::codes;
#[cfg(feature = "cli")]
pub(crate) use sonde::descriptor;
pub use sounding::Sounding;
pub use template::Layout;
pub use to_report::to_report;

pub use crate::tables::Descriptor;

/// The longest message, octets: the three octets of its length hold no more.
pub const MAX_OCTETS: usize = 0xFF_FFFF;

/// One value of a message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Value {
    /// All bits are one.
    Missing,
    /// A whole number of units of ten to minus the element's scale: 27316 is
    /// 273.16 K under scale 2. Figures of code tables and bits of flag tables as
    /// they stand.
    Number(i64),
    /// Characters, without the blanks (and, read, zero octets) at their end;
    /// those above 127 are octets as they stand.
    Text(Box<str>),
}

impl Value {
    /// A text value.
    #[must_use]
    pub fn text(text: &str) -> Self {
        Self::Text(text.trim_end_matches(' ').into())
    }

    /// The whole number, where it is one.
    #[must_use]
    pub const fn number(&self) -> Option<i64> {
        match self {
            Self::Number(number) => Some(*number),
            _ => None,
        }
    }
}

/// Section 1: who sends what, for which time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Section1 {
    /// Master table: 0 meteorology.
    pub master_table: u8,
    /// Originating centre (Common Code Table C-11); 65535 missing.
    pub centre: u16,
    /// Originating sub-centre (Common Code Table C-12); 0 none.
    pub sub_centre: u16,
    /// Update sequence number: 0 the original, then 1, 2, …
    pub update: u8,
    /// Data category (Table A): 2 vertical soundings.
    pub category: u8,
    /// International sub-category (Common Code Table C-13); 255 missing.
    pub subcategory: u8,
    /// Local sub-category.
    pub local_subcategory: u8,
    /// Version of the master table (Common Code Table C-0).
    pub table_version: u8,
    /// Version of the local table; 0 none.
    pub local_version: u8,
    /// Year, four figures.
    pub year: u16,
    /// Month, 1–12.
    pub month: u8,
    /// Day, 1–31.
    pub day: u8,
    /// Hour, minute, second.
    pub clock: [u8; 3],
}

impl Default for Section1 {
    /// A vertical sounding of no known centre, sub-category or time.
    fn default() -> Self {
        Self {
            master_table: 0,
            centre: u16::MAX,
            sub_centre: 0,
            update: 0,
            category: 2,
            subcategory: u8::MAX,
            local_subcategory: 0,
            table_version: crate::tables::BUFR_TABLE_VERSION,
            local_version: 0,
            year: 0,
            month: 0,
            day: 0,
            clock: [0; 3],
        }
    }
}

/// A message as values in the order of its template.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Message {
    /// Section 1.
    pub section1: Section1,
    /// The descriptors of section 3.
    pub template: Vec<Descriptor>,
    /// The values of section 4, a list a subset; counts of replications stand
    /// in their places.
    pub values: Vec<Vec<Value>>,
}
