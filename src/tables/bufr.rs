//! BUFR Tables B and D.

use std::fmt;

use serde::de::Error as _;
use serde::{Deserialize, Deserializer};

use super::file::{Rows, list};
use super::{BUFR_ELEMENTS, BUFR_LOCAL, BUFR_SEQUENCES, BUFR_TEMPLATES, C13, Form, Once, load};
use crate::model::{Axis, StationKind};

/// The newest version of the master tables that these were taken from.
pub const BUFR_TABLE_VERSION: u8 = 45;

/// A descriptor F X Y in its sixteen bits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Descriptor(u16);

impl Descriptor {
    /// The descriptor in sixteen bits: F two, X six, Y eight.
    #[must_use]
    pub const fn from_bits(bits: u16) -> Self {
        Self(bits)
    }

    /// The sixteen bits.
    #[must_use]
    pub const fn bits(self) -> u16 {
        self.0
    }

    /// The descriptor of six figures FXXYYY; `None` when F is above 3, X above 63
    /// or Y above 255.
    #[must_use]
    pub fn from_figures(figures: &str) -> Option<Self> {
        let figures: &[u8; 6] = figures.as_bytes().try_into().ok()?;
        let number = figures.iter().try_fold(0, |number, figure| {
            (figure.is_ascii_digit()).then(|| number * 10 + u32::from(figure - b'0'))
        })?;
        let (f, x, y) = (number / 100_000, number / 1000 % 100, number % 1000);
        let bits = (f << 14) | (x << 8) | y;
        if f > 3 || x > 63 || y > 255 {
            return None;
        }
        u16::try_from(bits).ok().map(Self)
    }

    /// F: 0 element, 1 replication, 2 operator, 3 sequence.
    #[must_use]
    pub const fn f(self) -> u16 {
        self.0 >> 14
    }

    /// X: the class, or how many descriptors are replicated.
    #[must_use]
    pub const fn x(self) -> u16 {
        (self.0 >> 8) & 0x3F
    }

    /// Y.
    #[must_use]
    pub const fn y(self) -> u16 {
        self.0 & 0xFF
    }
}

impl fmt::Display for Descriptor {
    /// Six figures, `309052`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{:02}{:03}", self.f(), self.x(), self.y())
    }
}

impl fmt::Debug for Descriptor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// Six figures, `309052`.
impl<'de> Deserialize<'de> for Descriptor {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let figures = <&str>::deserialize(deserializer)?;
        Self::from_figures(figures)
            .ok_or_else(|| D::Error::custom(format!("`{figures}` is no descriptor")))
    }
}

/// Descriptors, a blank between two.
fn descriptors<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<Descriptor>, D::Error> {
    list(from, Descriptor::from_figures)
}

/// What the figures of an element are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BufrUnit {
    /// A number in this unit.
    Number(&'static str),
    /// A figure of a code table.
    Code,
    /// The bits of a flag table.
    Flags,
    /// Characters (CCITT IA5).
    Text,
}

impl<'de: 'static> Deserialize<'de> for BufrUnit {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Ok(match <&'static str>::deserialize(deserializer)? {
            "Code table" => Self::Code,
            "Flag table" => Self::Flags,
            "CCITT IA5" => Self::Text,
            unit => Self::Number(unit),
        })
    }
}

/// An element of Table B.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BufrElement {
    /// Its descriptor.
    #[serde(rename = "fxy")]
    pub descriptor: Descriptor,
    /// Its name.
    pub name: &'static str,
    /// Its unit, or what it is instead of a number.
    pub unit: BufrUnit,
    /// The value times ten to this is a whole number.
    pub scale: i8,
    /// The bits are that whole number less this.
    pub reference: i32,
    /// Bits.
    pub width_bits: u16,
}

/// A sequence of Table D.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BufrSequence {
    #[expect(dead_code, reason = "the key of the row")]
    sequence: Descriptor,
    title: &'static str,
    #[serde(deserialize_with = "descriptors")]
    members: Vec<Descriptor>,
}

static ELEMENTS: Once<Rows<Descriptor, BufrElement>> = Once::new(|| Rows::new(BUFR_ELEMENTS));
static SEQUENCES: Once<Rows<Descriptor, BufrSequence>> = Once::new(|| Rows::new(BUFR_SEQUENCES));

/// A template of soundings.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BufrTemplate {
    /// Its sequence.
    #[serde(rename = "template")]
    pub descriptor: Descriptor,
    /// The family it carries.
    pub form: Form,
    /// The vertical coordinate of its levels.
    pub axis: Axis,
    /// Whether it is for dropped sondes; else for land, ship and mobile stations.
    pub drop: bool,
    /// Whether messages are written in it.
    pub written: bool,
    /// The master table version that a message in it states.
    pub version: u8,
    /// Step of the pressure of levels, Pa; `None` where they have none.
    pub pressure_pa: Option<f64>,
    /// Step of the geopotential height of levels, gpm; `None` where they have none.
    pub height_gpm: Option<f64>,
    /// In words.
    pub meaning: &'static str,
}

/// An international sub-category of data category 2.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Subcategory {
    /// The figure.
    #[serde(rename = "subcategory")]
    pub figure: u8,
    /// The family.
    pub form: Form,
    /// The kind of station.
    pub kind: StationKind,
    /// Whether the radiosonde was used before.
    pub reused: bool,
}

static TEMPLATES: Once<Vec<BufrTemplate>> = Once::new(|| load(BUFR_TEMPLATES));
static SUBCATEGORIES: Once<Vec<Subcategory>> = Once::new(|| load(C13));

/// A local sequence of an originating centre.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LocalSequence {
    centre: u16,
    #[serde(rename = "sequence")]
    descriptor: Descriptor,
    #[serde(deserialize_with = "descriptors")]
    members: Vec<Descriptor>,
}

static LOCAL: Once<Vec<LocalSequence>> = Once::new(|| load(BUFR_LOCAL));

/// The members of a local sequence of a centre, where it is known.
#[must_use]
pub fn bufr_local_sequence(centre: u16, descriptor: Descriptor) -> Option<&'static [Descriptor]> {
    let own = |l: &&LocalSequence| l.centre == centre && l.descriptor == descriptor;
    LOCAL.iter().find(own).map(|l| l.members.as_slice())
}

/// What a sequence of Table D is, in its words; blank where it has no title.
#[must_use]
pub fn bufr_sequence_title(descriptor: Descriptor) -> Option<&'static str> {
    SEQUENCES.get(descriptor).map(|s| s.title)
}

/// The element of a descriptor, where it is in the table.
#[must_use]
pub fn bufr_element(descriptor: Descriptor) -> Option<&'static BufrElement> {
    ELEMENTS.get(descriptor)
}

/// The members of a sequence, where it is in the table.
#[must_use]
pub fn bufr_sequence(descriptor: Descriptor) -> Option<&'static [Descriptor]> {
    SEQUENCES.get(descriptor).map(|s| s.members.as_slice())
}

/// Every sequence of the table.
pub fn bufr_sequences() -> impl Iterator<Item = Descriptor> {
    SEQUENCES.keys()
}

/// The templates of soundings, the preferred one of a kind first.
#[must_use]
pub fn bufr_templates() -> &'static [BufrTemplate] {
    &TEMPLATES
}

/// The template of six figures, where it is one of soundings.
#[must_use]
pub fn bufr_template(figures: &str) -> Option<&'static BufrTemplate> {
    let descriptor = Descriptor::from_figures(figures)?;
    TEMPLATES.iter().find(|t| t.descriptor == descriptor)
}

/// The international sub-categories of soundings (Common Code Table C-13).
#[must_use]
pub fn subcategories() -> &'static [Subcategory] {
    &SUBCATEGORIES
}
