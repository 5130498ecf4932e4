//! Figures of clouds.

use super::file::{Fault, File, Order, read};
use super::{Once, T0509, T0513, T0515, T1600, T2700, loaded};

/// A figure of cloud amount or cloud type.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CloudMeaning {
    /// The figure of the text code, 0–9.
    pub figure: u8,
    /// The figure of BUFR 0 20 011 (amount) or 0 20 012 (type).
    pub bufr: u8,
    /// What it means, in short.
    pub meaning: &'static str,
}

/// A figure h: heights of the base of the lowest cloud (code table 1600).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CloudBase {
    /// The figure, 0–9.
    pub figure: u8,
    /// Lower limit above the surface, m, included.
    pub from_m: f64,
    /// Upper limit, m, not included; `None` when there is none.
    pub to_m: Option<f64>,
}

static AMOUNTS: Once<Vec<CloudMeaning>> = Once::new(|| loaded(read_amounts(T2700)));
static LOW: Once<Vec<CloudMeaning>> = Once::new(|| loaded(read_types(T0513)));
static MIDDLE: Once<Vec<CloudMeaning>> = Once::new(|| loaded(read_types(T0515)));
static HIGH: Once<Vec<CloudMeaning>> = Once::new(|| loaded(read_types(T0509)));
static BASES: Once<Vec<CloudBase>> = Once::new(|| loaded(read_bases(T1600)));

const TEN: Order = Order::Run(&[(0, 9)]);

fn read_amounts(file: File) -> Result<Vec<CloudMeaning>, Fault> {
    read(file, &["figure", "meaning"], TEN, |row| {
        let figure = row.number("figure")?;
        Ok(CloudMeaning {
            figure,
            bufr: figure,
            meaning: row.text("meaning")?,
        })
    })
}

fn read_types(file: File) -> Result<Vec<CloudMeaning>, Fault> {
    read(file, &["figure", "bufr", "meaning"], TEN, |row| {
        let (figure, bufr): (u8, u8) = (row.number("figure")?, row.number("bufr")?);
        if bufr % 10 != figure {
            return Err(row.fault("the last figure of `bufr` is not the figure"));
        }
        Ok(CloudMeaning {
            figure,
            bufr,
            meaning: row.text("meaning")?,
        })
    })
}

pub(super) fn read_bases(file: File) -> Result<Vec<CloudBase>, Fault> {
    let bases = read(file, &["figure", "from_m", "to_m"], TEN, |row| {
        Ok(CloudBase {
            figure: row.number("figure")?,
            from_m: row.number("from_m")?,
            to_m: row.optional_number("to_m")?,
        })
    })?;
    let joined = bases.windows(2).all(|pair| match pair {
        [below, above] => below.to_m == Some(above.from_m),
        _ => false,
    });
    if joined && bases.last().is_some_and(|last| last.to_m.is_none()) {
        Ok(bases)
    } else {
        Err(file.fault_at_end("the ranges do not join up to an open end"))
    }
}

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
