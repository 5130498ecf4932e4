//! Identifiers of stations, which cannot hold what no station has.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

/// A value outside what is allowed for it.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{what}: {value} is not valid; {allowed} is allowed")]
#[non_exhaustive]
pub struct InvalidValue {
    /// What the value is for.
    pub what: &'static str,
    /// The value as it was given.
    pub value: String,
    /// What is allowed.
    pub allowed: &'static str,
}

impl InvalidValue {
    pub(crate) fn new(what: &'static str, value: impl fmt::Display, allowed: &'static str) -> Self {
        let value = value.to_string();
        Self {
            what,
            value,
            allowed,
        }
    }
}

/// Block and station number IIiii of a fixed station (WMO-No. 306 Vol. I.1, IIiii; the
/// numbers themselves are assigned in OSCAR/Surface).
///
/// ```
/// use fivefig::model::WmoNumber;
///
/// let number: WmoNumber = "99011".parse()?;
/// assert_eq!(number, WmoNumber::new(99, 11)?);
/// assert_eq!(number.to_string(), "99011");
/// assert!(WmoNumber::new(99, 1000).is_err());
/// # Ok::<(), fivefig::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct WmoNumber {
    block: u8,
    number: u16,
}

impl WmoNumber {
    /// A block number of 1 to 99 and a station number of 0 to 999.
    ///
    /// # Errors
    /// A number outside its range.
    pub fn new(block: u8, number: u16) -> Result<Self, InvalidValue> {
        if !(1..=99).contains(&block) {
            return Err(InvalidValue::new("WMO block number", block, "1 to 99"));
        }
        if number > 999 {
            return Err(InvalidValue::new("WMO station number", number, "0 to 999"));
        }
        Ok(Self { block, number })
    }

    /// Block number II, 1 to 99.
    #[must_use]
    pub const fn block(self) -> u8 {
        self.block
    }

    /// Station number iii, 0 to 999.
    #[must_use]
    pub const fn number(self) -> u16 {
        self.number
    }
}

impl fmt::Display for WmoNumber {
    /// The five figures IIiii.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:02}{:03}", self.block, self.number)
    }
}

impl FromStr for WmoNumber {
    type Err = InvalidValue;

    /// Reads the five figures IIiii.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let figures = text.len() == 5 && text.bytes().all(|b| b.is_ascii_digit());
        let part = |range| text.get(range).filter(|_| figures);
        part(0..2)
            .and_then(|block| block.parse().ok())
            .zip(part(2..5).and_then(|number| number.parse().ok()))
            .and_then(|(block, number)| Self::new(block, number).ok())
            .ok_or_else(|| InvalidValue::new("WMO number", text, "01000 to 99999, five figures,"))
    }
}

/// Call sign D....D of a ship or a mobile station: 1 to 9 capital letters or figures
/// (BUFR 0 01 011 has nine characters).
///
/// ```
/// use fivefig::model::CallSign;
///
/// assert_eq!(CallSign::new("XXXX9")?.as_str(), "XXXX9");
/// assert!(CallSign::new("xxxx9").is_err());
/// # Ok::<(), fivefig::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct CallSign(String);

impl CallSign {
    /// A call sign.
    ///
    /// # Errors
    /// Any other length or character.
    pub fn new(text: &str) -> Result<Self, InvalidValue> {
        let valid = |b: u8| b.is_ascii_uppercase() || b.is_ascii_digit();
        if (1..=9).contains(&text.len()) && text.bytes().all(valid) {
            return Ok(Self(text.to_owned()));
        }
        let shown = format!("{text:?}");
        let allowed = "1 to 9 capital letters or figures";
        Err(InvalidValue::new("call sign", shown, allowed))
    }

    /// The characters.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for CallSign {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl FromStr for CallSign {
    type Err = InvalidValue;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Self::new(text)
    }
}
