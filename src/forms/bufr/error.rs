//! Why a message is not written or read.

use thiserror::Error;

use super::{Descriptor, MAX_OCTETS};

/// A fault, and where it is.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("section {section}, bit {bit}: {fault}")]
pub struct BufrError {
    /// Section, 0 to 5.
    pub section: u8,
    /// Bits from the start of the message, from 0; in a message that is being
    /// written, bits of section 4.
    pub bit: usize,
    /// What is wrong.
    #[source]
    pub fault: Fault,
}

/// What can be wrong.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum Fault {
    /// No `BUFR` at the start.
    #[error("`BUFR` is expected; this is not a BUFR message")]
    NoStart,
    /// An edition that is not read.
    #[error("edition {0}; editions 2, 3 and 4 are read")]
    Edition(u8),
    /// Fewer octets than a length says.
    #[error("the message ends after {has} octets where {needs} are expected: it is cut short")]
    Short {
        /// Octets needed.
        needs: usize,
        /// Octets there.
        has: usize,
    },
    /// A message or section shorter than its fixed part, or a section longer than
    /// the message.
    #[error("the length given is {length} octets; {least} to {most} are possible")]
    SectionLength {
        /// What it says.
        length: usize,
        /// The fewest.
        least: usize,
        /// The most that are left.
        most: usize,
    },
    /// Sections and total disagree.
    #[error("`7777` is expected here; the total length or that of a section is wrong")]
    NoEnd,
    /// No subset.
    #[error("the message has no subset")]
    NoSubset,
    /// No descriptor.
    #[error("section 3 has no descriptor")]
    NoDescriptor,
    /// A descriptor that is not in the tables.
    #[error(
        "descriptor {descriptor} is not in the built-in tables (version {own}; the message uses {version})"
    )]
    Unknown {
        /// The descriptor.
        descriptor: Descriptor,
        /// Version of the message's master table.
        version: u8,
        /// Ours.
        own: u8,
    },
    /// An operator that is not handled.
    #[error(
        "operator {0} is not handled (2 01 to 2 08, 2 21 to 2 25, 2 32, 2 35 to 2 37 and 2 41 to 2 43 are)"
    )]
    Operator(Descriptor),
    /// An operator that ends what was not begun, or has no width.
    #[error("operator {0} ends nothing or has no meaning here")]
    EmptyOperator(Descriptor),
    /// A replication of nothing, of more descriptors than follow, or without its
    /// count.
    #[error("replication {0} lacks its count or the descriptors it repeats")]
    Replication(Descriptor),
    /// An operator that changes widths goes on past the end of what is repeated.
    #[error("replication {0} leaves an operator open at its end")]
    OpenOperator(Descriptor),
    /// A width that cannot be.
    #[error("descriptor {descriptor} would have {bits} bits; 1 to 56 are handled")]
    Width {
        /// The descriptor.
        descriptor: Descriptor,
        /// Bits after the operators.
        bits: i64,
    },
    /// A bit-map longer than what it is about.
    #[error("the bit-map has {bits} bits for {elements} elements before it")]
    BitMap {
        /// Its bits.
        bits: usize,
        /// Elements in front of the operator.
        elements: usize,
    },
    /// More values than a bit-map points at.
    #[error("operator {0} has more values than its bit-map points at elements")]
    NotPointed(Descriptor),
    /// Too large a template.
    #[error("the template has more than {0} elements")]
    LargeTemplate(usize),
    /// Nested too deep.
    #[error("replications are nested more than {0} deep")]
    Deep(usize),
    /// Bits end inside an element.
    #[error("the data end inside {descriptor}, which needs {bits} bits")]
    DataEnd {
        /// The element.
        descriptor: Descriptor,
        /// Its bits.
        bits: usize,
    },
    /// A count that the bits left cannot hold.
    #[error("{count} times at least {bits} bits do not fit into the {left} bits left")]
    Count {
        /// Repetitions.
        count: u64,
        /// Fewest bits of one.
        bits: u64,
        /// Bits left.
        left: usize,
    },
    /// More values than the message can need.
    #[error("the message would have more than {0} values, too many for its length")]
    Values(usize),
    /// Compressed subsets with different counts.
    #[error("compressed subsets have different counts of repetitions")]
    UnequalCounts,
    /// An increment wider than the element can use.
    #[error("increments of {bits} bits reach past the greatest value of {descriptor}")]
    Increment {
        /// The element.
        descriptor: Descriptor,
        /// Bits of the increment.
        bits: u64,
    },
    /// A value that its bits cannot hold.
    #[error("{descriptor}: {value} does not fit ({low} to {high}, in units of the last place)")]
    Range {
        /// The element.
        descriptor: Descriptor,
        /// The value.
        value: i64,
        /// Least.
        low: i64,
        /// Greatest.
        high: i64,
    },
    /// A text too long.
    #[error("{descriptor}: `{text}` has {length} characters; at most {most} fit")]
    TextLength {
        /// The element.
        descriptor: Descriptor,
        /// The text.
        text: String,
        /// Its characters.
        length: usize,
        /// The most.
        most: usize,
    },
    /// A value of the wrong kind.
    #[error("{descriptor}: {needs} is needed here")]
    WrongKind {
        /// The element.
        descriptor: Descriptor,
        /// What is needed.
        needs: &'static str,
    },
    /// The list of values ends early.
    #[error("the list of values ends before {0}")]
    FewValues(Descriptor),
    /// The list of values goes on.
    #[error("{0} values are left over after the last element of the template")]
    ManyValues(usize),
    /// More octets than a length can say.
    #[error("the message would have {0} octets; at most {MAX_OCTETS} are possible")]
    TooLong(usize),
    /// No descriptors or subsets, or more than two octets can count.
    #[error("{0} descriptors or subsets; section 3 allows 1 to 65535")]
    Section3(usize),
}

impl Fault {
    pub(super) const fn at(self, section: u8, bit: usize) -> BufrError {
        BufrError {
            section,
            bit,
            fault: self,
        }
    }
}
