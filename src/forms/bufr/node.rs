//! What a layout is made of: elements, and what repeats.

use super::Descriptor;
use super::field::Field;

/// An element, or what is repeated.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Node {
    Field(Field),
    Repeat {
        /// `None`: a count of its own stands in front.
        times: Result<u64, Field>,
        body: Vec<Self>,
        /// Fewest bits of one pass.
        least_bits: u64,
        /// The data stand once and count for every pass (0 31 011, 0 31 012).
        once: bool,
    },
    /// An operator whose work depends on the data: 2 22 000 to 2 37 255.
    Operator(Descriptor),
    /// A value for an element that a bit-map points at: 2 23 255, 2 24 255, 2 25 255,
    /// 2 32 255.
    Marker(Descriptor),
}

impl Node {
    fn least_bits(&self) -> u64 {
        match self {
            Self::Field(field) => u64::from(field.width_bits),
            Self::Repeat {
                times: Ok(times),
                least_bits,
                ..
            } => times.saturating_mul(*least_bits),
            Self::Repeat {
                times: Err(factor), ..
            } => u64::from(factor.width_bits),
            Self::Operator(_) => 0,
            Self::Marker(_) => 1,
        }
    }
}

/// Fewest bits of one pass, uncompressed.
pub(super) fn least_bits(nodes: &[Node]) -> u64 {
    let bits = nodes.iter().map(Node::least_bits);
    bits.fold(0, u64::saturating_add)
}
