//! What can be wrong with a sheet.

use std::fmt;

use crate::model::finding::Place;

/// Sheets that cannot be used: every fault that was found in them.
///
/// Its text is the first fault and how many more there are.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetError {
    faults: Vec<SheetFault>,
}

impl SheetError {
    /// An error where there are faults.
    pub(super) fn check(faults: Vec<SheetFault>) -> Result<(), Self> {
        if faults.is_empty() {
            Ok(())
        } else {
            Err(Self { faults })
        }
    }

    /// The faults in the order of the files and of their lines; there is at least one.
    #[must_use]
    pub fn faults(&self) -> &[SheetFault] {
        &self.faults
    }

    /// The same faults, each changed.
    pub(super) fn map(self, change: impl FnMut(SheetFault) -> SheetFault) -> Self {
        Self {
            faults: self.faults.into_iter().map(change).collect(),
        }
    }
}

impl From<SheetFault> for SheetError {
    fn from(fault: SheetFault) -> Self {
        Self {
            faults: vec![fault],
        }
    }
}

impl fmt::Display for SheetError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some((first, more)) = self.faults.split_first() else {
            return Ok(());
        };
        write!(f, "{first}")?;
        match more.len() {
            0 => Ok(()),
            1 => write!(f, " (and 1 more fault)"),
            n => write!(f, " (and {n} more faults)"),
        }
    }
}

impl std::error::Error for SheetError {}

/// A fault of a sheet and where it stands.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct SheetFault {
    /// File, line, column and key, as far as there are any.
    pub place: Place,
    /// What is wrong.
    pub fault: Fault,
}

impl SheetFault {
    /// Where the fault stands.
    #[must_use]
    pub fn place(&self) -> &Place {
        &self.place
    }
}

impl fmt::Display for SheetFault {
    /// `FILE:LINE:COL: fault`; the fault names the key itself.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let place = Place {
            key: None,
            ..self.place.clone()
        };
        if !place.is_empty() {
            write!(f, "{place}: ")?;
        }
        write!(f, "{}", self.fault)
    }
}

impl std::error::Error for SheetFault {}

/// A fault of a sheet.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Fault {
    /// The file is too long.
    #[error(
        "the sheet has {bytes} bytes, at most {limit} are read; give one sheet per station and flight"
    )]
    TooLong {
        /// Its length.
        bytes: usize,
        /// The bound.
        limit: usize,
    },
    /// The text is no TOML.
    #[error("not TOML: {message}")]
    Syntax {
        /// What the parser said.
        message: String,
    },
    /// A key stands twice.
    #[error("duplicate key `{key}`: it is already given above; keep one")]
    Duplicate {
        /// The key as written.
        key: String,
    },
    /// No such key.
    #[error("unknown key `{key}` {table} ({})", hint(.nearest.as_deref(), .known))]
    UnknownKey {
        /// The key as written.
        key: String,
        /// The table, in words: `in [station]`.
        table: String,
        /// The known key it most resembles; dotted when of another table.
        nearest: Option<String>,
        /// The keys known in that table.
        known: Vec<String>,
    },
    /// A value of the wrong kind.
    #[error("`{key}` is {found}; {wanted} is expected")]
    Mistyped {
        /// The dotted key.
        key: String,
        /// The kind found.
        found: &'static str,
        /// The kind wanted.
        wanted: &'static str,
    },
    /// A text that is not one of the listed ones.
    #[error(
        "`{key}` = {value:?} is not one of {}{}",
        quoted(.allowed),
        .nearest.as_ref().map(|n| format!(" (did you mean {n:?}?)")).unwrap_or_default()
    )]
    NotListed {
        /// The dotted key.
        key: String,
        /// The value.
        value: String,
        /// What it resembles.
        nearest: Option<String>,
        /// The listed values.
        allowed: Vec<String>,
    },
    /// A number out of its range, or a text or array that is too long.
    #[error("`{key}` = {value} is out of range ({allowed})")]
    OutOfRange {
        /// The dotted key.
        key: String,
        /// The value.
        value: String,
        /// The range, in words.
        allowed: String,
    },
    /// A text of the wrong shape.
    #[error("`{key}` = {value:?} is not {wanted}")]
    Malformed {
        /// The dotted key.
        key: String,
        /// The value.
        value: String,
        /// The shape wanted.
        wanted: &'static str,
    },
    /// A time that is not UTC.
    #[error(
        "`{key}` = {value} is not in UTC: times are UTC, write Z at the end, as in 2031-01-15T11:23:40Z"
    )]
    NotUtc {
        /// The dotted key.
        key: String,
        /// The value.
        value: String,
    },
    /// A key that must be there.
    #[error("missing key `{key}`: {what}; write {example}")]
    Missing {
        /// The dotted key.
        key: String,
        /// Why, and by whom it is missed.
        what: String,
        /// What to write.
        example: String,
    },
    /// Two keys that exclude each other.
    #[error("`{key}` {what}")]
    Conflict {
        /// The dotted key.
        key: String,
        /// What is at odds.
        what: String,
    },
}

fn hint(nearest: Option<&str>, known: &[String]) -> String {
    match nearest {
        Some(nearest) => format!("did you mean `{nearest}`?"),
        None => {
            let known: Vec<String> = known.iter().map(|key| format!("`{key}`")).collect();
            format!("known here: {}", known.join(", "))
        }
    }
}

fn quoted(values: &[String]) -> String {
    let values: Vec<String> = values.iter().map(|value| format!("{value:?}")).collect();
    values.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_is_the_first_fault_and_the_number_of_the_others() {
        assert_eq!(SheetError::check(Vec::new()), Ok(()));
        let fault = |key: &str| SheetFault {
            place: Place::line("a.toml", 3),
            fault: Fault::Duplicate {
                key: key.to_owned(),
            },
        };
        let first = "a.toml:3: duplicate key `h`: it is already given above; keep one";
        for (keys, more) in [
            (vec!["h"], ""),
            (vec!["h", "nh"], " (and 1 more fault)"),
            (vec!["h", "nh", "cl"], " (and 2 more faults)"),
        ] {
            let error = SheetError::check(keys.into_iter().map(fault).collect()).unwrap_err();
            assert_eq!(error.to_string(), format!("{first}{more}"));
        }
    }
}
