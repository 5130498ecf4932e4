//! The wind symbol: a shaft with half barbs, barbs and pennants.
//!
//! The shaft points to where the wind comes from. A half barb stands for 5 kt, a
//! barb for 10 kt, a pennant for 50 kt, speeds taken to the nearest 5 kt; they sit
//! on the side of the lower pressure, which is on the left of one who looks
//! downwind on the northern hemisphere and on the right on the southern
//! (WMO-No. 485, Manual on the Global Data-processing and Forecasting System,
//! attachment on plotting, from memory). A north wind in the north thus has its
//! barbs in the east.

use super::path::tenth;
use std::fmt::Write as _;

/// What stands on the shaft.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WindSymbol {
    /// Two circles, no shaft: less than half a knot.
    Calm,
    /// A shaft.
    Shaft {
        /// Pennants, 50 kt each.
        pennants: u8,
        /// Barbs, 10 kt each.
        barbs: u8,
        /// Whether there is a half barb, 5 kt.
        half: bool,
    },
}

/// The most pennants; 1 000 kt is beyond any wind.
const MAX_PENNANTS: f64 = 20.0;

/// Which side lower pressure lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hemisphere {
    /// On the left of one who looks downwind.
    Northern,
    /// On the right.
    Southern,
}

impl Hemisphere {
    /// That of a latitude, degrees north; the northern where it is not known.
    #[must_use]
    pub fn of(latitude_deg: Option<f64>) -> Self {
        match latitude_deg {
            Some(latitude) if latitude < 0.0 => Self::Southern,
            _ => Self::Northern,
        }
    }
}

impl WindSymbol {
    /// The symbol of a speed, kt, ≥ 0: to the nearest 5 kt, half-way up.
    #[must_use]
    pub fn of_knots(speed_kt: f64) -> Self {
        if speed_kt.is_nan() || speed_kt < 0.5 {
            return Self::Calm;
        }
        let fives = (speed_kt / 5.0 + 0.5).floor();
        let pennants = (fives / 10.0).floor().min(MAX_PENNANTS);
        let rest = (fives - 10.0 * pennants).min(9.0);
        Self::Shaft {
            pennants: small(pennants),
            barbs: small((rest / 2.0).floor()),
            half: rest % 2.0 >= 1.0,
        }
    }

    /// Path data in the frame of a wind from the north, the level at (0, 0), and
    /// the length of the shaft: strokes, and pennants to be filled.
    pub(super) fn strokes(self, hemisphere: Hemisphere) -> Strokes {
        let Self::Shaft {
            pennants,
            barbs,
            half,
        } = self
        else {
            return Strokes::default();
        };
        let side = match hemisphere {
            Hemisphere::Northern => 1.0,
            Hemisphere::Southern => -1.0,
        };
        let (wide, rise) = (side * BARB, BARB * 0.4);
        let (pennants, barbs) = (f64::from(pennants), f64::from(barbs));
        let alone = half && pennants + barbs == 0.0;
        let steps = pennants * 1.6 + barbs + if half { 1.0 } else { 0.0 };
        let length = SHAFT.max(steps * STEP + 8.0);
        let mut lines = format!("M0.0 0.0V{:.1}", -length);
        let mut filled = String::new();
        let mut at = length;
        for _ in count(pennants) {
            let foot = at - STEP * 1.4;
            let _ = write!(
                filled,
                "M0.0 {:.1}L{:.1} {:.1}L0.0 {:.1}Z",
                -at,
                tenth(wide),
                -at,
                -foot
            );
            at -= STEP * 1.6;
        }
        for _ in count(barbs) {
            let _ = write!(lines, "M0.0 {:.1}l{:.1} {:.1}", -at, tenth(wide), -rise);
            at -= STEP;
        }
        if half {
            // Alone it does not sit at the end, where it would look like a barb.
            let at = if alone { at - STEP } else { at };
            let (wide, rise) = (wide / 2.0, rise / 2.0);
            let _ = write!(lines, "M0.0 {:.1}l{:.1} {:.1}", -at, tenth(wide), -rise);
        }
        Strokes {
            lines,
            filled,
            length: length + rise,
            wide,
        }
    }
}

/// Length of a barb, of the shaft, and the way between two barbs.
const BARB: f64 = 10.0;
const SHAFT: f64 = 25.0;
const STEP: f64 = 3.6;

/// A symbol as path data.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Strokes {
    /// To be stroked.
    pub lines: String,
    /// To be filled.
    pub filled: String,
    /// How far it reaches upwind.
    pub length: f64,
    /// How far it reaches to the right (negative: left) of the shaft.
    pub wide: f64,
}

fn small(value: f64) -> u8 {
    (0..=20u8)
        .rev()
        .find(|&n| f64::from(n) <= value)
        .unwrap_or(0)
}

fn count(value: f64) -> std::ops::Range<u8> {
    0..small(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn symbols_by_speed() {
        use WindSymbol::{Calm, Shaft};
        let of = |pennants, barbs, half| Shaft {
            pennants,
            barbs,
            half,
        };
        // Worked from the rule: to the nearest 5 kt, half-way up; 50, 10 and 5 kt.
        for (kt, symbol) in [
            (0.0, Calm),
            (0.4, Calm),
            (2.0, of(0, 0, false)),
            (3.0, of(0, 0, true)),
            (5.0, of(0, 0, true)),
            (7.0, of(0, 0, true)),
            (7.5, of(0, 1, false)),
            (8.0, of(0, 1, false)),
            (10.0, of(0, 1, false)),
            (12.0, of(0, 1, false)),
            (13.0, of(0, 1, true)),
            (15.0, of(0, 1, true)),
            (20.0, of(0, 2, false)),
            (25.0, of(0, 2, true)),
            (45.0, of(0, 4, true)),
            (47.0, of(0, 4, true)),
            (48.0, of(1, 0, false)),
            (50.0, of(1, 0, false)),
            (65.0, of(1, 1, true)),
            (105.0, of(2, 0, true)),
            (150.0, of(3, 0, false)),
            (199.0, of(4, 0, false)),
            (f64::NAN, Calm),
            (1e9, of(20, 4, true)),
        ] {
            assert_eq!(WindSymbol::of_knots(kt), symbol, "{kt}");
        }
    }

    #[test]
    fn barbs_are_on_the_side_of_lower_pressure() {
        // A wind from the north, shaft up: low pressure is in the east on the
        // northern hemisphere (left of one who looks south), in the west on the
        // southern.
        let barb = WindSymbol::of_knots(10.0);
        let north = barb.strokes(Hemisphere::Northern);
        assert_eq!(north.lines, "M0.0 0.0V-25.0M0.0 -25.0l10.0 -4.0");
        let south = barb.strokes(Hemisphere::Southern);
        assert_eq!(south.lines, "M0.0 0.0V-25.0M0.0 -25.0l-10.0 -4.0");
        assert_eq!(Hemisphere::of(Some(-0.1)), Hemisphere::Southern);
        assert_eq!(Hemisphere::of(Some(51.0)), Hemisphere::Northern);
        assert_eq!(Hemisphere::of(None), Hemisphere::Northern);
    }

    #[test]
    fn a_half_barb_alone_stands_off_the_end() {
        let half = WindSymbol::of_knots(5.0).strokes(Hemisphere::Northern);
        assert_eq!(half.lines, "M0.0 0.0V-25.0M0.0 -21.4l5.0 -2.0");
        let after = WindSymbol::of_knots(15.0).strokes(Hemisphere::Northern);
        assert!(after.lines.ends_with("M0.0 -21.4l5.0 -2.0"));
        assert!(after.lines.contains("M0.0 -25.0l10.0 -4.0"));
    }

    #[test]
    fn pennants_are_filled_and_lengthen_the_shaft() {
        let strong = WindSymbol::of_knots(195.0).strokes(Hemisphere::Northern);
        assert_eq!(strong.filled.matches('Z').count(), 3);
        assert!(
            strong.length
                > WindSymbol::of_knots(50.0)
                    .strokes(Hemisphere::Northern)
                    .length
        );
        assert_eq!(
            WindSymbol::Calm.strokes(Hemisphere::Northern),
            Strokes::default()
        );
    }
}
