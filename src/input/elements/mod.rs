//! The elements of a profile: their names, bounds and units, by which every reader goes,
//! and the words by which a column of another name is recognised.

pub(in crate::input) mod clock;
pub(crate) mod known;
pub(in crate::input) mod unit;
pub(in crate::input) mod words;
