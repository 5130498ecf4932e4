//! Shares, means and delays.

use std::fmt;

use serde::{Deserialize, Serialize};

/// A share of a whole.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Share {
    /// How many.
    pub count: usize,
    /// Of how many.
    pub of: usize,
}

impl Share {
    /// The share for which something is so.
    #[must_use]
    pub fn of(all: impl Iterator<Item = bool>) -> Self {
        all.fold(Self::default(), |share, is| Self {
            count: share.count + usize::from(is),
            of: share.of + 1,
        })
    }
}

impl fmt::Display for Share {
    /// `2 of 3 (66.7 %)`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} of {}", self.count, self.of)?;
        if let Some(tenths) = (self.count * 1000 + self.of / 2).checked_div(self.of) {
            write!(f, " ({}.{} %)", tenths / 10, tenths % 10)?;
        }
        Ok(())
    }
}

/// Mean and standard deviation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Spread {
    /// How many values.
    pub count: u32,
    /// Their mean.
    pub mean: f64,
    /// Their standard deviation (of n − 1); `None` of one value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub deviation: Option<f64>,
}

impl Spread {
    /// That of values, to a thousandth; `None` of none.
    #[must_use]
    pub fn of(values: impl Iterator<Item = f64> + Clone) -> Option<Self> {
        let (count, mean) = mean(values.clone())?;
        let squares: f64 = values.map(|value| (value - mean).powi(2)).sum();
        Some(Self {
            count,
            mean: thousandth(mean),
            deviation: (count > 1).then(|| thousandth((squares / (f64::from(count) - 1.0)).sqrt())),
        })
    }
}

impl fmt::Display for Spread {
    /// Mean ± standard deviation, to a hundredth.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // No minus before nothing.
        write!(f, "{:+.2}", (self.mean * 100.0).round() / 100.0 + 0.0)?;
        match self.deviation {
            Some(deviation) => write!(f, " ± {deviation:.2}"),
            None => Ok(()),
        }
    }
}

/// Mean, least and greatest value.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Extremes {
    /// How many values.
    pub count: u32,
    /// Their mean.
    pub mean: f64,
    /// The least.
    pub least: f64,
    /// The greatest.
    pub greatest: f64,
}

impl Extremes {
    /// Those of values, to a thousandth; `None` of none.
    #[must_use]
    pub fn of(values: impl Iterator<Item = f64> + Clone) -> Option<Self> {
        let (count, mean) = mean(values.clone())?;
        Some(Self {
            count,
            mean: thousandth(mean),
            least: thousandth(values.clone().fold(f64::INFINITY, f64::min)),
            greatest: thousandth(values.fold(f64::NEG_INFINITY, f64::max)),
        })
    }
}

/// Median and greatest of a number of minutes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Delay {
    /// How many values.
    pub count: usize,
    /// The median, min; of an even number the mean of the two in the middle.
    pub median_min: f64,
    /// The greatest, min.
    pub greatest_min: i64,
}

impl Delay {
    /// Those of minutes; `None` of none.
    #[must_use]
    pub fn of(minutes: impl Iterator<Item = i64>) -> Option<Self> {
        let mut minutes: Vec<i64> = minutes.collect();
        minutes.sort_unstable();
        let count = minutes.len();
        let at = |index: usize| {
            let value = minutes.get(index)?;
            Some(f64::from(i32::try_from(*value).unwrap_or(i32::MAX)))
        };
        let (low, high) = (at(count.checked_sub(1)? / 2)?, at(count / 2)?);
        Some(Self {
            count,
            median_min: f64::midpoint(low, high),
            greatest_min: *minutes.last()?,
        })
    }
}

impl fmt::Display for Delay {
    /// `median 12 min, greatest 40 min`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "median {} min, greatest {} min",
            self.median_min, self.greatest_min
        )
    }
}

/// How many values, and their mean; `None` of none.
pub(super) fn mean(values: impl Iterator<Item = f64>) -> Option<(u32, f64)> {
    let (count, sum) = values.fold((0_u32, 0.0), |(count, sum), value| {
        (count.saturating_add(1), sum + value)
    });
    (count > 0).then(|| (count, sum / f64::from(count)))
}

/// To a thousandth.
pub(super) fn thousandth(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}
