//! What can differ, and how it is said.

use std::borrow::Cow;
use std::cmp::Ordering;
use std::fmt;

use serde::{Deserialize, Serialize};

use crate::model::{Element, MissingLayer, Part, Roles};
use crate::physics::hydrostatic::standard_height_gpm;

/// One of the two reports.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// The first.
    Left,
    /// The second.
    Right,
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Left => "left",
            Self::Right => "right",
        })
    }
}

/// Whether a part is there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Presence {
    /// With its levels.
    Present,
    /// It says only that there is no report.
    Nil,
    /// Not at all.
    Missing,
}

impl fmt::Display for Presence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Present => "present",
            Self::Nil => "NIL",
            Self::Missing => "missing",
        })
    }
}

/// A value of a level.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// Pressure, hPa.
    Pressure,
    /// Geopotential height, gpm.
    Height,
    /// Temperature, °C.
    Temperature,
    /// Dew-point depression, K.
    Depression,
    /// Relative humidity over water, %.
    Humidity,
    /// Direction the wind blows from, degrees true.
    WindDirection,
    /// Wind speed, m/s; also where one side has no wind at all.
    WindSpeed,
    /// Shear in the kilometre below a maximum wind, m/s.
    ShearBelow,
    /// Shear in the kilometre above a maximum wind, m/s.
    ShearAbove,
}

impl Quantity {
    /// In words.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Pressure => "pressure",
            Self::Height => "height",
            Self::Temperature => "temperature",
            Self::Depression => "dew-point depression",
            Self::Humidity => "humidity",
            Self::WindDirection => "wind direction",
            Self::WindSpeed => "wind speed",
            Self::ShearBelow => "shear below",
            Self::ShearAbove => "shear above",
        }
    }

    /// Symbol of the unit.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::Pressure => "hPa",
            Self::Height => "gpm",
            Self::Temperature => "°C",
            Self::Depression => "K",
            Self::Humidity => "%",
            Self::WindDirection => "°",
            Self::WindSpeed | Self::ShearBelow | Self::ShearAbove => "m/s",
        }
    }
}

/// A difference between two reports.
///
/// A level is placed by the coarser of its two pressures or heights.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(tag = "difference", rename_all = "snake_case")]
pub enum Difference {
    /// Who reports, from where, when or how.
    Identity {
        /// What of it, in words.
        what: Cow<'static, str>,
        /// The left side, in words.
        left: String,
        /// The right side, in words.
        right: String,
    },
    /// A part that is not on both sides alike; its levels are not listed.
    Part {
        /// Which part.
        part: Part,
        /// On the left.
        left: Presence,
        /// On the right.
        right: Presence,
    },
    /// A level that one side lacks, as a whole or in some of its roles.
    Missing {
        /// The side that lacks it.
        side: Side,
        /// Pressure, hPa.
        pressure_hpa: Option<f64>,
        /// Height, gpm, of a level without pressure.
        height_gpm: Option<f64>,
        /// The roles in which it is lacking.
        roles: Roles,
        /// The parts that would carry it; none where no text does.
        parts: Vec<Part>,
    },
    /// A value of a level on both sides.
    Value {
        /// Pressure of the level, hPa.
        pressure_hpa: Option<f64>,
        /// Height, gpm, of a level without pressure.
        height_gpm: Option<f64>,
        /// The roles in which the level has the value.
        roles: Roles,
        /// Which value.
        quantity: Quantity,
        /// On the left, in the unit of the quantity; null when it is missing.
        left: Option<f64>,
        /// On the right.
        right: Option<f64>,
        /// How far they may lie apart, in the unit.
        allowed: f64,
    },
    /// A role that a level on both sides has on one of them only, such as that of
    /// the top of the wind sounding.
    Role {
        /// Pressure of the level, hPa.
        pressure_hpa: Option<f64>,
        /// Height, gpm, of a level without pressure.
        height_gpm: Option<f64>,
        /// The roles that are lacking.
        roles: Roles,
        /// The side that lacks them.
        side: Side,
    },
    /// A layer without data, on one side only or with other ends.
    Layer {
        /// On the left.
        left: Option<MissingLayer>,
        /// On the right.
        right: Option<MissingLayer>,
    },
    /// The maximum winds of both sides come in another order.
    MaximumOrder {
        /// Which part.
        part: Part,
    },
}

/// A number with as many figures as a reader needs.
fn short(value: f64) -> f64 {
    let rounded = (value * 1000.0).round() / 1000.0;
    if rounded.is_finite() { rounded } else { value }
}

fn level(pressure_hpa: Option<f64>, height_gpm: Option<f64>) -> String {
    match (pressure_hpa, height_gpm) {
        (Some(p), _) => format!("{} hPa", short(p)),
        (None, Some(z)) => format!("{} gpm", short(z)),
        (None, None) => "the surface".to_owned(),
    }
}

fn roles_of(roles: Roles) -> String {
    if roles.is_empty() {
        String::new()
    } else {
        format!(" ({roles})")
    }
}

fn layer(layer: Option<MissingLayer>) -> String {
    let Some(layer) = layer else {
        return "no layer".to_owned();
    };
    let end = |p: Option<f64>| p.map_or_else(|| "?".to_owned(), |p| short(p).to_string());
    format!("{} to {} hPa", end(layer.from_hpa), end(layer.to_hpa))
}

impl fmt::Display for Difference {
    /// One line.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Identity { what, left, right } => {
                write!(f, "{what}: {left} on the left, {right} on the right")
            }
            Self::Part { part, left, right } => {
                let letter = part.letter();
                match (left, right) {
                    (Presence::Present, there) => {
                        write!(f, "Part {letter} is {there} on the right")
                    }
                    (there, Presence::Present) => write!(f, "Part {letter} is {there} on the left"),
                    _ => write!(
                        f,
                        "Part {letter} is {left} on the left, {right} on the right"
                    ),
                }
            }
            Self::Missing {
                side,
                pressure_hpa,
                height_gpm,
                roles,
                parts,
            } => {
                let at = level(*pressure_hpa, *height_gpm);
                let letters: Vec<String> = parts
                    .iter()
                    .map(|p| format!("Part {}", p.letter()))
                    .collect();
                let of = if letters.is_empty() {
                    String::new()
                } else {
                    format!(" of {}", letters.join(" and "))
                };
                let roles = roles_of(*roles);
                write!(f, "the level at {at}{roles}{of} is missing on the {side}")
            }
            Self::Value {
                pressure_hpa,
                height_gpm,
                roles,
                quantity,
                left,
                right,
                ..
            } => {
                let side = |value: &Option<f64>| {
                    value.map_or_else(
                        || "missing".to_owned(),
                        |v| match quantity {
                            Quantity::WindDirection => format!("{}°", short(v)),
                            _ => format!("{} {}", short(v), quantity.unit()),
                        },
                    )
                };
                write!(
                    f,
                    "{} at {}{}: {} on the left, {} on the right",
                    quantity.name(),
                    level(*pressure_hpa, *height_gpm),
                    roles_of(*roles),
                    side(left),
                    side(right),
                )
            }
            Self::Role {
                pressure_hpa,
                height_gpm,
                roles,
                side,
            } => {
                let at = level(*pressure_hpa, *height_gpm);
                write!(f, "the level at {at} is not {roles} on the {side}")
            }
            Self::Layer { left, right } => {
                let element = left.or(*right).map(|l| l.element);
                let name = match element {
                    Some(Element::Humidity) => "humidity",
                    Some(Element::Wind) => "wind",
                    Some(Element::Temperature) | None => "temperature",
                };
                let (left, right) = (layer(*left), layer(*right));
                write!(
                    f,
                    "layer without {name}: {left} on the left, {right} on the right"
                )
            }
            Self::MaximumOrder { part } => write!(
                f,
                "the maximum winds of Part {} come in another order",
                part.letter()
            ),
        }
    }
}

/// Place, kind and values by which differences of levels are put in order.
type Key = (f64, u8, Option<Side>, Option<Quantity>, [f64; 2]);

impl Difference {
    fn key(&self) -> Key {
        let up = |p: Option<f64>, z: Option<f64>| {
            p.map(standard_height_gpm)
                .or(z)
                .unwrap_or(f64::NEG_INFINITY)
        };
        let number = |v: Option<f64>| v.unwrap_or(f64::INFINITY);
        match self {
            Self::Missing {
                side,
                pressure_hpa,
                height_gpm,
                ..
            } => (
                up(*pressure_hpa, *height_gpm),
                0,
                Some(*side),
                None,
                [0.0; 2],
            ),
            Self::Value {
                pressure_hpa,
                height_gpm,
                quantity,
                left,
                right,
                ..
            } => {
                let values = [number(*left), number(*right)];
                (
                    up(*pressure_hpa, *height_gpm),
                    1,
                    None,
                    Some(*quantity),
                    values,
                )
            }
            Self::Role {
                pressure_hpa,
                height_gpm,
                side,
                ..
            } => (
                up(*pressure_hpa, *height_gpm),
                2,
                Some(*side),
                None,
                [0.0; 2],
            ),
            _ => (f64::INFINITY, 3, None, None, [0.0; 2]),
        }
    }

    /// Takes in a difference of another section that says the same of the same
    /// level; `false` when it does not.
    fn take(&mut self, other: &Self) -> bool {
        if compare_keys(&self.key(), &other.key()) != Ordering::Equal {
            return false;
        }
        match (self, other) {
            (
                Self::Missing { roles, parts, .. },
                Self::Missing {
                    roles: more,
                    parts: others,
                    ..
                },
            ) => {
                *roles |= *more;
                parts.extend(others);
                parts.sort_unstable();
                parts.dedup();
            }
            (Self::Value { roles, .. }, Self::Value { roles: more, .. })
            | (Self::Role { roles, .. }, Self::Role { roles: more, .. }) => *roles |= *more,
            _ => return false,
        }
        true
    }
}

fn compare_keys(a: &Key, b: &Key) -> Ordering {
    a.0.total_cmp(&b.0)
        .then((a.1, a.2, a.3).cmp(&(b.1, b.2, b.3)))
        .then(a.4[0].total_cmp(&b.4[0]))
        .then(a.4[1].total_cmp(&b.4[1]))
}

/// Puts differences of levels in order, from the ground up, and joins what
/// several sections say of one level.
pub(super) fn arrange(differences: &mut Vec<Difference>) {
    differences.sort_by(|a, b| compare_keys(&a.key(), &b.key()));
    differences.dedup_by(|next, kept| kept.take(next));
}
