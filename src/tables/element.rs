//! Figures of temperature and dew-point depression.

use super::file::{Fault, File, Order, Shape, rows};
use super::{Once, T0777, T3931, loaded};

const TEMPERATURE: Shape = Shape {
    columns: &["figure", "sign", "tenths_from", "tenths_to"],
    group: 0,
    order: Order::Run(&[(0, 9)]),
};

const DEPRESSION: Shape = Shape {
    columns: &["code", "depression_k"],
    group: 0,
    order: Order::Run(&[(0, 50), (56, 99)]),
};

/// The sign words of the tables, and whether they mean "negative".
pub(super) const SIGNS: [(&str, bool); 2] = [("+", false), ("-", true)];

/// Table 3931 turned over: the figure by sign and tenths.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct TemperatureFigures {
    positive: [u8; 10],
    negative: [u8; 10],
}

static FIGURES: Once<TemperatureFigures> = Once::new(|| loaded(read_temperature(T3931)));
static DEPRESSIONS: Once<Vec<(u8, f64)>> = Once::new(|| loaded(read_depression(T0777)));

pub(super) fn read_temperature(file: File) -> Result<TemperatureFigures, Fault> {
    let mut positive = [None; 10];
    let mut negative = [None; 10];
    let rows = rows(file, TEMPERATURE)?;
    for row in &rows {
        let figure: u8 = row.number("figure")?;
        let side = if row.word("sign", &SIGNS)? {
            &mut negative
        } else {
            &mut positive
        };
        let (from, to): (u8, u8) = (row.number("tenths_from")?, row.number("tenths_to")?);
        for tenths in from..=to {
            match side.get_mut(usize::from(tenths)) {
                Some(cell @ None) => *cell = Some(figure),
                Some(Some(_)) => return Err(row.fault(format!("tenths {tenths} stand twice"))),
                None => return Err(row.fault(format!("tenths {tenths} are more than 9"))),
            }
        }
    }
    // Ten figures of two tenths each without a double fill both sides; a
    // shorter range in any row leaves a gap.
    let whole = |side: [Option<u8>; 10]| -> Result<[u8; 10], Fault> {
        let mut full = [0; 10];
        for ((tenths, cell), figure) in (0..).zip(side).zip(&mut full) {
            *figure =
                cell.ok_or_else(|| file.fault_at_end(format!("no figure for {tenths} tenths")))?;
        }
        Ok(full)
    };
    Ok(TemperatureFigures {
        positive: whole(positive)?,
        negative: whole(negative)?,
    })
}

pub(super) fn read_depression(file: File) -> Result<Vec<(u8, f64)>, Fault> {
    let mut codes: Vec<(u8, f64)> = Vec::new();
    for row in rows(file, DEPRESSION)? {
        let depression_k: f64 = row.number("depression_k")?;
        if codes.last().is_some_and(|&(_, last)| last >= depression_k) {
            return Err(row.fault("depressions must rise"));
        }
        codes.push((row.number("code")?, depression_k));
    }
    Ok(codes)
}

/// The figure Ta (code table 3931, from memory) for a magnitude in tenths of a
/// degree, of which only the last figure counts, and a sign.
///
/// ```
/// // −5.2 °C is coded 053.
/// assert_eq!(fivefig::tables::temperature_figure(52, true), 3);
/// ```
#[must_use]
#[expect(
    clippy::indexing_slicing,
    reason = "a remainder of ten indexes ten figures"
)]
pub fn temperature_figure(tenths: u8, negative: bool) -> u8 {
    let figures = &*FIGURES;
    let side = if negative {
        &figures.negative
    } else {
        &figures.positive
    };
    side[usize::from(tenths % 10)]
}

/// Whether the figure Ta stands for a negative temperature (code table 3931);
/// `None` above 9.
#[must_use]
pub fn temperature_negative(figure: u8) -> Option<bool> {
    if FIGURES.negative.contains(&figure) {
        Some(true)
    } else if FIGURES.positive.contains(&figure) {
        Some(false)
    } else {
        None
    }
}

/// The depression of the dew point in kelvins that DD stands for (code table
/// 0777, from memory); `None` for 51–55 and above 99.
#[must_use]
pub fn depression_k(code: u8) -> Option<f64> {
    let codes = depression_codes();
    let at = codes.binary_search_by_key(&code, |&(code, _)| code).ok()?;
    codes.get(at).map(|&(_, depression_k)| depression_k)
}

/// Every DD with its depression in kelvins, rising (code table 0777).
#[must_use]
pub fn depression_codes() -> &'static [(u8, f64)] {
    &DEPRESSIONS
}
