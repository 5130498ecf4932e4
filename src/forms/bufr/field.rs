//! One place of a template with everything that operators changed.

use super::Descriptor;
use crate::tables::BufrElement;

/// What the bits of a field are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A number, a figure of a code table or the bits of a flag table.
    Number,
    /// Characters.
    Text,
    /// A count of repetitions or another element of class 31: never missing.
    Factor,
    /// The associated field of the element that follows (operator 2 04).
    Associated,
    /// A new reference value of an element (operator 2 03): sign and magnitude.
    Reference,
    /// An element without bits (operator 2 21): always missing.
    Absent,
}

/// One element with everything that operators changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Field {
    /// The element's descriptor; that of the operator for characters put in by 2 05
    /// and for values under 2 23 to 2 25 and 2 32.
    pub descriptor: Descriptor,
    /// The element in Table B.
    pub element: Option<&'static BufrElement>,
    /// What the bits are.
    pub kind: Kind,
    /// The value times ten to this is a whole number.
    pub scale: i32,
    /// The bits are that whole number less this.
    pub reference: i64,
    /// Bits.
    pub width_bits: u32,
    /// Whether the reference is one that the message itself gives (operator 2 03).
    pub redefined: bool,
}

impl Field {
    /// All bits one: missing.
    pub(super) const fn ones(&self) -> u64 {
        if self.width_bits >= 64 {
            u64::MAX
        } else {
            (1 << self.width_bits) - 1
        }
    }

    /// The greatest that the bits of a value can say.
    pub(super) fn most(&self) -> u64 {
        self.ones() - u64::from(self.can_be_missing())
    }

    /// The least and the greatest value, in units of the last place.
    pub(super) fn range(&self) -> (i64, i64) {
        let most = i64::try_from(self.most()).unwrap_or(i64::MAX);
        (self.reference, most.saturating_add(self.reference))
    }

    /// Whether all bits one mean missing.
    pub(super) fn can_be_missing(&self) -> bool {
        matches!(self.kind, Kind::Number | Kind::Text) && self.width_bits > 1
    }
}
