//! Code and flag tables of BUFR for what a sheet says of instruments, balloon
//! and flight.

use std::sync::OnceLock;

use serde::Deserialize;

use super::bufr::{BufrUnit, Descriptor, bufr_element};
use super::file::File;
use super::{
    B02015, B02016, B02017, B02081, B02083, B02084, B02095, B02096, B02097, B02103, B02191, B35035,
    load,
};

/// A figure of a code table, or a bit of a flag table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Figure {
    /// The figure; of a bit its value.
    pub figure: u8,
    /// What it means.
    pub meaning: &'static str,
}

macro_rules! figure_tables {
    ($($(#[$meaning:meta])+ $name:ident = $file:ident, $x:literal $y:literal;)+) => {
        /// A code or flag table of BUFR. A figure whose bits are all ones is missing.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum FigureTable {
            $($(#[$meaning])+ $name,)+
        }

        impl FigureTable {
            /// All of them, in the order of their descriptors.
            pub const ALL: &[Self] = &[$(Self::$name),+];

            /// The descriptor of the element.
            #[must_use]
            pub const fn descriptor(self) -> Descriptor {
                match self {
                    $(Self::$name => Descriptor::from_bits($x << 8 | $y),)+
                }
            }

            fn file(self) -> File {
                match self {
                    $(Self::$name => $file,)+
                }
            }
        }
    };
}

figure_tables! {
    /// 0 02 015, radiosonde completeness.
    Completeness = B02015, 2 15;
    /// 0 02 016, radiosonde configuration (flags).
    Configuration = B02016, 2 16;
    /// 0 02 017, correction algorithms for humidity.
    HumidityCorrection = B02017, 2 17;
    /// 0 02 081, type of balloon.
    Balloon = B02081, 2 81;
    /// 0 02 083, type of balloon shelter.
    Shelter = B02083, 2 83;
    /// 0 02 084, type of gas used in the balloon.
    Gas = B02084, 2 84;
    /// 0 02 095, type of pressure sensor.
    PressureSensor = B02095, 2 95;
    /// 0 02 096, type of temperature sensor.
    TemperatureSensor = B02096, 2 96;
    /// 0 02 097, type of humidity sensor.
    HumiditySensor = B02097, 2 97;
    /// 0 02 103, radome (flags).
    Radome = B02103, 2 103;
    /// 0 02 191, geopotential height calculation.
    HeightCalculation = B02191, 2 191;
    /// 0 35 035, reason for termination.
    Termination = B35035, 35 35;
}

impl FigureTable {
    /// The table of an element.
    #[must_use]
    pub fn of(descriptor: Descriptor) -> Option<Self> {
        let mut all = Self::ALL.iter().copied();
        all.find(|table| table.descriptor() == descriptor)
    }

    /// Whether figures are sums of flags.
    #[must_use]
    pub fn is_flags(self) -> bool {
        bufr_element(self.descriptor()).is_some_and(|element| element.unit == BufrUnit::Flags)
    }

    /// The figures that have a meaning; the bits of a flag table.
    #[must_use]
    pub fn figures(self) -> &'static [Figure] {
        let table = FIGURES.get(self as usize);
        table.map_or(&[], |table| table.get_or_init(|| load(self.file())))
    }

    /// Whether a figure has a meaning: it is listed, or is a sum of listed flags
    /// (of none: 0).
    ///
    /// ```
    /// use fivefig::tables::FigureTable;
    /// assert!(FigureTable::Gas.lists(1));
    /// assert!(!FigureTable::Gas.lists(3));
    /// assert!(FigureTable::Configuration.lists(4 + 8));
    /// ```
    #[must_use]
    pub fn lists(self, figure: u8) -> bool {
        let rows = self.figures();
        let known = || rows.iter().fold(0, |bits, row| bits | row.figure);
        // A listed flag is a sum as well, and the kind of the table need not be asked for.
        rows.iter().any(|row| row.figure == figure) || self.is_flags() && figure & !known() == 0
    }
}

/// The figures of each table, in the order of [`FigureTable::ALL`], once asked for.
static FIGURES: [OnceLock<Vec<Figure>>; FigureTable::ALL.len()] =
    [const { OnceLock::new() }; FigureTable::ALL.len()];
