//! A value with the findings about it.

use super::finding::Finding;

/// A value, and what was found while it was made: a rounding that changed it, a value that
/// was assumed, a row that was left out. Nothing here is an error.
#[derive(Clone, Debug, Default, PartialEq)]
#[must_use]
pub struct Noted<T> {
    /// The value.
    pub value: T,
    /// The findings, in the order in which they arose.
    pub findings: Vec<Finding>,
}

impl<T> From<Noted<T>> for (T, Vec<Finding>) {
    fn from(noted: Noted<T>) -> Self {
        (noted.value, noted.findings)
    }
}

impl<T> From<(T, Vec<Finding>)> for Noted<T> {
    fn from((value, findings): (T, Vec<Finding>)) -> Self {
        Self { value, findings }
    }
}
