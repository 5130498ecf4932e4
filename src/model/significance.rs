//! The roles a level can have.

use std::borrow::Cow;
use std::fmt;
use std::ops::{BitOr, BitOrAssign};

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A set of the roles a level can have.
///
/// Bits have the values of BUFR flag table 0 08 042 (WMO-No. 306 Vol. I.2);
/// the ones above 18 bits are our own and never leave the program in BUFR.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Roles(pub u32);

impl Roles {
    /// No role.
    pub const NONE: Self = Self(0);
    /// Bit 1: surface.
    pub const SURFACE: Self = Self(131_072);
    /// Bit 2: standard level.
    pub const STANDARD: Self = Self(65_536);
    /// Bit 3: tropopause level.
    pub const TROPOPAUSE: Self = Self(32_768);
    /// Bit 4: maximum wind level.
    pub const MAX_WIND: Self = Self(16_384);
    /// Bit 5: significant temperature level.
    pub const SIG_TEMPERATURE: Self = Self(8192);
    /// Bit 6: significant humidity level.
    pub const SIG_HUMIDITY: Self = Self(4096);
    /// Bit 7: significant wind level.
    pub const SIG_WIND: Self = Self(2048);
    /// Bit 8: beginning of missing temperature data.
    pub const BEGIN_MISSING_TEMPERATURE: Self = Self(1024);
    /// Bit 9: end of missing temperature data.
    pub const END_MISSING_TEMPERATURE: Self = Self(512);
    /// Bit 10: beginning of missing humidity data.
    pub const BEGIN_MISSING_HUMIDITY: Self = Self(256);
    /// Bit 11: end of missing humidity data.
    pub const END_MISSING_HUMIDITY: Self = Self(128);
    /// Bit 12: beginning of missing wind data.
    pub const BEGIN_MISSING_WIND: Self = Self(64);
    /// Bit 13: end of missing wind data.
    pub const END_MISSING_WIND: Self = Self(32);
    /// Bit 14: top of wind sounding.
    pub const TOP_OF_WIND: Self = Self(16);
    /// Bit 15: level determined by regional decision.
    pub const REGIONAL: Self = Self(8);
    /// Bit 16: freezing level.
    pub const FREEZING: Self = Self(4);
    /// Bit 17: pressure originally indicated by height.
    pub const FROM_HEIGHT: Self = Self(2);
    /// Our own: put in by an order.
    pub const FORCED: Self = Self(1 << 20);
    /// Our own, of rows alone: a significant level for temperature or humidity of a
    /// message that was sent.
    pub const SENT_THERMAL: Self = Self(1 << 21);
    /// Our own, of rows alone: a significant wind level of a message that was sent.
    pub const SENT_WIND: Self = Self(1 << 22);

    /// The bits of the flag table that mean something: all but the spare one, which
    /// is set in a missing value alone.
    pub const FLAG_TABLE: Self = Self(0x3_FFFE);

    /// The roles with a place in section 5 of the text form.
    pub const SIG_T_OR_U: Self = Self(Self::SIG_TEMPERATURE.0 | Self::SIG_HUMIDITY.0);

    const NAMES: [(Self, &'static str); 18] = [
        (Self::SURFACE, "surface"),
        (Self::STANDARD, "standard"),
        (Self::TROPOPAUSE, "tropopause"),
        (Self::MAX_WIND, "max_wind"),
        (Self::SIG_TEMPERATURE, "sig_temperature"),
        (Self::SIG_HUMIDITY, "sig_humidity"),
        (Self::SIG_WIND, "sig_wind"),
        (Self::BEGIN_MISSING_TEMPERATURE, "begin_missing_temperature"),
        (Self::END_MISSING_TEMPERATURE, "end_missing_temperature"),
        (Self::BEGIN_MISSING_HUMIDITY, "begin_missing_humidity"),
        (Self::END_MISSING_HUMIDITY, "end_missing_humidity"),
        (Self::BEGIN_MISSING_WIND, "begin_missing_wind"),
        (Self::END_MISSING_WIND, "end_missing_wind"),
        (Self::TOP_OF_WIND, "top_of_wind"),
        (Self::REGIONAL, "regional"),
        (Self::FREEZING, "freezing"),
        (Self::FROM_HEIGHT, "from_height"),
        (Self::FORCED, "forced"),
    ];

    /// Whether any role of `other` is in this set.
    #[must_use]
    pub fn any(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// The roles of this set that are in `other`, too.
    #[must_use]
    pub fn within(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    /// Whether the set is empty.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// This set without the roles of `other`.
    #[must_use]
    pub fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// The names, in the order of the flag table.
    pub fn names(self) -> impl Iterator<Item = &'static str> {
        Self::NAMES
            .iter()
            .filter(move |(role, _)| self.any(*role))
            .map(|&(_, name)| name)
    }

    /// The role of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::NAMES
            .iter()
            .find(|&&(_, n)| n == name)
            .map(|&(role, _)| role)
    }
}

impl BitOr for Roles {
    type Output = Self;
    fn bitor(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}

impl BitOrAssign for Roles {
    fn bitor_assign(&mut self, other: Self) {
        self.0 |= other.0;
    }
}

impl fmt::Display for Roles {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut first = true;
        for name in self.names() {
            if !first {
                f.write_str(" ")?;
            }
            first = false;
            f.write_str(name)?;
        }
        Ok(())
    }
}

/// Serialized as an array of names, in the order of the flag table.
impl Serialize for Roles {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.names())
    }
}

/// Names in any order; an unknown one is an error that names it.
impl<'de> Deserialize<'de> for Roles {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let mut roles = Self::NONE;
        for name in Vec::<String>::deserialize(deserializer)? {
            roles |= Self::from_name(&name)
                .ok_or_else(|| D::Error::custom(format!("`{name}` is no role of a level")))?;
        }
        Ok(roles)
    }
}

impl JsonSchema for Roles {
    fn schema_name() -> Cow<'static, str> {
        "Roles".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let names: Vec<&str> = Self::NAMES.iter().map(|&(_, name)| name).collect();
        json_schema!({
            "description": "What the level is: bits 1 to 17 of BUFR flag table 0 08 042, and `forced` (put in by an order).",
            "type": "array",
            "items": { "enum": names },
            "uniqueItems": true
        })
    }
}
