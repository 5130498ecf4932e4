//! The cloud group 3 02 049 (WMO-No. 306 Vol. I.2, B/C25).

use super::Descriptor;
use super::figure::Figure;
use crate::model::{Clouds, Sky};
use crate::tables;

/// Vertical significance 0 08 002: what the amount and base belong to.
const HIGH_ALONE: i64 = 0;
const OBSCURED: i64 = 5;
const LOW: i64 = 7;
const MIDDLE: i64 = 8;
const CLEAR: i64 = 62;

/// The types 0 20 012 of low, middle and high cloud: figure 0 of the text code,
/// and what stands for "not visible".
const TYPES: [(i64, i64); 3] = [(30, 62), (20, 61), (10, 60)];

/// Amount of a sky that cannot be seen, oktas table.
const HIDDEN: i64 = 9;

/// One field of the group; `nth` counts those of one descriptor.
pub(super) fn figure(clouds: Option<Clouds>, descriptor: Descriptor, nth: usize) -> Figure {
    let Some(clouds) = clouds.filter(|c| c.sky != Some(Sky::Unseen)) else {
        return Figure::Missing;
    };
    let clouds = settled(clouds);
    let of = |figure: Option<u8>| figure.is_some_and(|f| f > 0);
    let significance = match clouds.sky {
        Some(Sky::Clear) => Some(CLEAR),
        Some(Sky::Obscured) => Some(OBSCURED),
        _ if clouds.nh == Some(9) => Some(OBSCURED),
        _ if of(clouds.cl) => Some(LOW),
        _ if of(clouds.cm) && clouds.cl == Some(0) => Some(MIDDLE),
        _ if of(clouds.nh) && !bare(&clouds) => Some(LOW),
        _ if of(clouds.ch) => Some(HIGH_ALONE),
        _ if clouds.nh == Some(0) => Some(CLEAR),
        _ => None,
    };
    match (descriptor.x(), descriptor.y()) {
        // The second one closes what the first opened.
        (8, 2) if nth == 0 => Figure::code(significance),
        (20, 11) => Figure::code(clouds.nh),
        (20, 13) if significance != Some(CLEAR) => Figure::value(base_m(&clouds)),
        (20, 12) => {
            let own = [clouds.cl, clouds.cm, clouds.ch].get(nth).copied();
            match (own, TYPES.get(nth)) {
                (Some(Some(figure)), Some((zero, _))) => Figure::Code(zero + i64::from(figure)),
                (Some(None), Some((_, unseen))) => Figure::Code(*unseen),
                _ => Figure::Missing,
            }
        }
        _ => Figure::Missing,
    }
}

/// Whether there is neither low nor middle cloud.
fn bare(clouds: &Clouds) -> bool {
    clouds.cl == Some(0) && clouds.cm == Some(0)
}

/// The figures that a sky as a whole stands for.
fn settled(clouds: Clouds) -> Clouds {
    match clouds.sky {
        Some(Sky::Clear) => Clouds {
            nh: Some(0),
            cl: Some(0),
            cm: Some(0),
            ch: Some(0),
            ..clouds
        },
        Some(Sky::Obscured) => Clouds {
            nh: Some(9),
            cl: None,
            cm: None,
            ch: None,
            ..clouds
        },
        _ => {
            let high = clouds.ch.is_some_and(|c| c > 0);
            let none = |f: Option<u8>| f.is_none_or(|f| f == 0);
            let alone = none(clouds.nh) && none(clouds.cl) && none(clouds.cm);
            if high && (alone || bare(&clouds)) {
                return Clouds {
                    nh: Some(0),
                    cl: Some(0),
                    cm: Some(0),
                    ..clouds
                };
            }
            if clouds.nh == Some(0) && alone {
                // No cloud below: what is not said of high cloud is none.
                return Clouds {
                    cl: Some(0),
                    cm: Some(0),
                    ch: clouds.ch.or(Some(0)),
                    ..clouds
                };
            }
            clouds
        }
    }
}

/// Height of the base above ground, m: as given, or the lower limit of the range
/// of h (common practice, no source). h 9 without low or middle cloud says only
/// that there is no base.
fn base_m(clouds: &Clouds) -> Option<f64> {
    let from_figure = || {
        let h = clouds.h?;
        let none = clouds.nh == Some(0);
        let row = tables::cloud_bases().iter().find(|b| b.figure == h)?;
        (!none).then_some(row.from_m)
    };
    clouds.base_m.or_else(from_figure)
}

/// What was read of the group.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Read {
    pub(super) significance: Option<i64>,
    pub(super) amount: Option<i64>,
    pub(super) base_m: Option<f64>,
    pub(super) types: [Option<i64>; 3],
}

impl Read {
    /// The clouds, `None` where nothing at all was given.
    pub(super) fn clouds(&self) -> Option<Clouds> {
        let small = |v: i64| u8::try_from(v).ok();
        let mut figures = [None; 3];
        for ((own, (zero, _)), out) in self.types.iter().zip(TYPES).zip(&mut figures) {
            *out = own
                .filter(|t| (zero..zero + 10).contains(t))
                .and_then(|t| small(t - zero));
        }
        let [cl, cm, ch] = figures;
        let clouds = Clouds {
            nh: self
                .amount
                .filter(|a| (0..=HIDDEN).contains(a))
                .and_then(small),
            cl,
            cm,
            ch,
            base_m: self.base_m,
            ..Clouds::default()
        };
        let sky = match self.significance {
            Some(CLEAR) => Some(Sky::Clear),
            Some(OBSCURED) => Some(Sky::Obscured),
            _ if clouds == Clouds::default() => {
                return self.types.iter().any(Option::is_some).then_some(Clouds {
                    sky: Some(Sky::Unseen),
                    ..Clouds::default()
                });
            }
            _ => None,
        };
        Some(match sky {
            Some(Sky::Clear) => Clouds {
                sky,
                ..Clouds::default()
            },
            Some(_) => Clouds {
                sky,
                base_m: self.base_m,
                ..Clouds::default()
            },
            None => clouds,
        })
    }
}
