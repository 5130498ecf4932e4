//! Figures of temperature and dew-point depression.

use serde::Deserialize;

use super::{Once, T0777, T3931, load};

/// A sign, as tables write it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub(super) enum Sign {
    #[serde(rename = "+")]
    Positive,
    #[serde(rename = "-")]
    Negative,
}

impl Sign {
    pub(super) fn of(negative: bool) -> Self {
        if negative {
            Self::Negative
        } else {
            Self::Positive
        }
    }

    pub(super) fn is_negative(self) -> bool {
        self == Self::Negative
    }
}

/// A figure Ta (code table 3931).
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct TemperatureFigure {
    pub(super) figure: u8,
    pub(super) sign: Sign,
    pub(super) tenths_from: u8,
    pub(super) tenths_to: u8,
}

static FIGURES: Once<Vec<TemperatureFigure>> = Once::new(|| load(T3931));
static DEPRESSIONS: Once<Vec<(u8, f64)>> = Once::new(|| load(T0777));

/// The figure Ta (code table 3931, from memory) for a magnitude in tenths of a
/// degree, of which only the last figure counts, and a sign.
///
/// ```
/// // −5.2 °C is coded 053.
/// assert_eq!(fivefig::tables::temperature_figure(52, true), 3);
/// ```
#[must_use]
pub fn temperature_figure(tenths: u8, negative: bool) -> u8 {
    let (tenths, sign) = (tenths % 10, Sign::of(negative));
    let own = |row: &&TemperatureFigure| {
        row.sign == sign && (row.tenths_from..=row.tenths_to).contains(&tenths)
    };
    // The table has every tenth of both signs, which a test checks.
    FIGURES.iter().find(own).map_or(0, |row| row.figure)
}

/// Whether the figure Ta stands for a negative temperature (code table 3931);
/// `None` above 9.
#[must_use]
pub fn temperature_negative(figure: u8) -> Option<bool> {
    let row = FIGURES.iter().find(|row| row.figure == figure)?;
    Some(row.sign.is_negative())
}

/// The depression of the dew point in kelvins that DD stands for (code table
/// 0777, from memory); `None` for 51–55 and above 99.
#[must_use]
pub fn depression_k(code: u8) -> Option<f64> {
    static BY_CODE: Once<[Option<f64>; 100]> = Once::new(|| {
        let mut by_code = [None; 100];
        for &(code, depression_k) in depression_codes() {
            if let Some(of_code) = by_code.get_mut(usize::from(code)) {
                *of_code = Some(depression_k);
            }
        }
        by_code
    });
    BY_CODE.get(usize::from(code)).copied().flatten()
}

/// Every DD with its depression in kelvins, rising (code table 0777).
#[must_use]
pub fn depression_codes() -> &'static [(u8, f64)] {
    &DEPRESSIONS
}
