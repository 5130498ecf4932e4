//! Figures of clouds.

use serde::Deserialize;

use super::{Once, T0509, T0513, T0515, T1600, T2700, load};

/// A figure of cloud amount or cloud type.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CloudMeaning {
    /// The figure of the text code, 0–9.
    pub figure: u8,
    /// The figure of BUFR 0 20 011 (amount) or 0 20 012 (type).
    pub bufr: u8,
    /// What it means, in short.
    pub meaning: &'static str,
}

/// A figure h: heights of the base of the lowest cloud (code table 1600).
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CloudBase {
    /// The figure, 0–9.
    pub figure: u8,
    /// Lower limit above the surface, m, included.
    pub from_m: f64,
    /// Upper limit, m, not included; `None` when there is none.
    pub to_m: Option<f64>,
}

static AMOUNTS: Once<Vec<CloudMeaning>> = Once::new(|| load(T2700));
static LOW: Once<Vec<CloudMeaning>> = Once::new(|| load(T0513));
static MIDDLE: Once<Vec<CloudMeaning>> = Once::new(|| load(T0515));
static HIGH: Once<Vec<CloudMeaning>> = Once::new(|| load(T0509));
static BASES: Once<Vec<CloudBase>> = Once::new(|| load(T1600));

/// Figures of cloud amount (code table 2700, BUFR 0 20 011).
#[must_use]
pub fn cloud_amounts() -> &'static [CloudMeaning] {
    &AMOUNTS
}

/// Figures CL (code table 0513, BUFR 0 20 012).
#[must_use]
pub fn low_clouds() -> &'static [CloudMeaning] {
    &LOW
}

/// Figures CM (code table 0515, BUFR 0 20 012).
#[must_use]
pub fn middle_clouds() -> &'static [CloudMeaning] {
    &MIDDLE
}

/// Figures CH (code table 0509, BUFR 0 20 012).
#[must_use]
pub fn high_clouds() -> &'static [CloudMeaning] {
    &HIGH
}

/// Figures h with their limits (code table 1600, from memory).
#[must_use]
pub fn cloud_bases() -> &'static [CloudBase] {
    &BASES
}

/// The figure h for a height in metres above the surface; a limit takes the
/// higher figure. `None` below zero or when not a number.
///
/// ```
/// assert_eq!(fivefig::tables::cloud_base_figure(600.0), Some(5));
/// ```
#[must_use]
pub fn cloud_base_figure(height_m: f64) -> Option<u8> {
    let reached = BASES.iter().rev().find(|base| height_m >= base.from_m)?;
    Some(reached.figure)
}
