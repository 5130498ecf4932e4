//! Two numbers that are calculated side by side, which the compiler makes one instruction
//! each.

use std::ops::{Add, Div, Mul, Sub};

/// Two numbers; every operation is done on each.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Pair(pub f64, pub f64);

impl Pair {
    /// The same number twice.
    #[inline]
    pub fn of(value: f64) -> Self {
        Self(value, value)
    }

    #[inline]
    pub fn each(self, make: impl Fn(f64) -> f64) -> Self {
        Self(make(self.0), make(self.1))
    }
}

impl Add for Pair {
    type Output = Self;

    #[inline]
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0, self.1 + other.1)
    }
}

impl Sub for Pair {
    type Output = Self;

    #[inline]
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0, self.1 - other.1)
    }
}

impl Mul for Pair {
    type Output = Self;

    #[inline]
    fn mul(self, other: Self) -> Self {
        Self(self.0 * other.0, self.1 * other.1)
    }
}

impl Div for Pair {
    type Output = Self;

    #[inline]
    fn div(self, other: Self) -> Self {
        Self(self.0 / other.0, self.1 / other.1)
    }
}
