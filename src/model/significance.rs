//! The roles a level can have.

use std::fmt;
use std::sync::LazyLock;

use bitflags::bitflags;
use itertools::Itertools;
use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

bitflags! {
    /// A set of the roles a level can have.
    ///
    /// Bits have the values of BUFR flag table 0 08 042 (WMO-No. 306 Vol. I.2);
    /// the ones above 18 bits are our own and never leave the program in BUFR.
    #[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
    pub struct Roles: u32 {
        /// Bit 1: surface.
        const SURFACE = 131_072;
        /// Bit 2: standard level.
        const STANDARD = 65_536;
        /// Bit 3: tropopause level.
        const TROPOPAUSE = 32_768;
        /// Bit 4: maximum wind level.
        const MAX_WIND = 16_384;
        /// Bit 5: significant temperature level.
        const SIG_TEMPERATURE = 8192;
        /// Bit 6: significant humidity level.
        const SIG_HUMIDITY = 4096;
        /// Bit 7: significant wind level.
        const SIG_WIND = 2048;
        /// Bit 8: beginning of missing temperature data.
        const BEGIN_MISSING_TEMPERATURE = 1024;
        /// Bit 9: end of missing temperature data.
        const END_MISSING_TEMPERATURE = 512;
        /// Bit 10: beginning of missing humidity data.
        const BEGIN_MISSING_HUMIDITY = 256;
        /// Bit 11: end of missing humidity data.
        const END_MISSING_HUMIDITY = 128;
        /// Bit 12: beginning of missing wind data.
        const BEGIN_MISSING_WIND = 64;
        /// Bit 13: end of missing wind data.
        const END_MISSING_WIND = 32;
        /// Bit 14: top of wind sounding.
        const TOP_OF_WIND = 16;
        /// Bit 15: level determined by regional decision.
        const REGIONAL = 8;
        /// Bit 16: freezing level.
        const FREEZING = 4;
        /// Bit 17: pressure originally indicated by height.
        const FROM_HEIGHT = 2;
        /// Our own: put in by an order.
        const FORCED = 1 << 20;
        /// Our own, of rows alone: a significant level for temperature or humidity of a
        /// message that was sent.
        const SENT_THERMAL = 1 << 21;
        /// Our own, of rows alone: a significant wind level of a message that was sent.
        const SENT_WIND = 1 << 22;
    }
}

impl Roles {
    /// The bits of the flag table that mean something: all but the spare one, which
    /// is set in a missing value alone.
    pub const FLAG_TABLE: Self = Self::from_bits_retain(0x3_FFFE);

    /// The roles with a place in section 5 of the text form.
    pub const SIG_T_OR_U: Self = Self::SIG_TEMPERATURE.union(Self::SIG_HUMIDITY);

    /// The roles that are named in reports: the flag table and `forced`.
    pub(super) const NAMED: Self = Self::FLAG_TABLE.union(Self::FORCED);

    /// Whether any role of `other` is in this set: `intersects`, by its short name.
    #[must_use]
    pub const fn any(self, other: Self) -> bool {
        self.intersects(other)
    }

    /// The names in small letters, in the order of the flag table.
    pub fn names(self) -> impl Iterator<Item = &'static str> {
        let own = NAMES.iter().filter(move |(role, _)| self.any(*role));
        own.map(|(_, name)| name.as_str())
    }

    /// The role that is reported under this name.
    #[must_use]
    pub fn of_name(name: &str) -> Option<Self> {
        let mut names = NAMES.iter();
        names.find_map(|(role, own)| (own == name).then_some(*role))
    }
}

/// The roles that are named, in the order of the flag table.
static NAMES: LazyLock<Vec<(Roles, String)>> = LazyLock::new(|| {
    let named = Roles::NAMED.iter_names();
    named
        .map(|(name, role)| (role, name.to_ascii_lowercase()))
        .collect()
});

impl fmt::Display for Roles {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.names().join(" "))
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
        let mut roles = Self::empty();
        for name in Vec::<String>::deserialize(deserializer)? {
            roles |= Self::of_name(&name)
                .ok_or_else(|| D::Error::custom(format!("`{name}` is no role of a level")))?;
        }
        Ok(roles)
    }
}
