//! BUFR Tables B and D.
//!
//! The two tables are long, so that their reading is plain: fixed columns, cut from
//! both ends. A test reads them with the strict reader of the other tables, too.

use std::collections::HashMap;
use std::fmt;

use super::file::{Fault, File, Order, Row, Shape, read, rows};
use super::{BUFR_ELEMENTS, BUFR_LOCAL, BUFR_SEQUENCES, BUFR_TEMPLATES, C13, Form, Once, loaded};
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
        if figures.len() != 6 || !figures.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let number: u32 = figures.parse().ok()?;
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

/// An element of Table B.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BufrElement {
    /// Its descriptor.
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
struct BufrSequence {
    descriptor: Descriptor,
    title: &'static str,
    members: Vec<Descriptor>,
}

static ELEMENTS: Once<HashMap<Descriptor, BufrElement>> =
    Once::new(|| loaded(read_elements(BUFR_ELEMENTS)));
static SEQUENCES: Once<HashMap<Descriptor, BufrSequence>> =
    Once::new(|| loaded(read_sequences(BUFR_SEQUENCES)));

/// A template of soundings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BufrTemplate {
    /// Its sequence.
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
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Subcategory {
    /// The figure.
    pub figure: u8,
    /// The family.
    pub form: Form,
    /// The kind of station.
    pub kind: StationKind,
    /// Whether the radiosonde was used before.
    pub reused: bool,
}

static TEMPLATES: Once<Vec<BufrTemplate>> = Once::new(|| loaded(read_templates(BUFR_TEMPLATES)));
static SUBCATEGORIES: Once<Vec<Subcategory>> = Once::new(|| loaded(read_subcategories(C13)));

const FORMS: [(&str, Form); 3] = [
    ("temp", Form::Temp),
    ("pilot", Form::Pilot),
    ("descent", Form::Descent),
];

fn read_templates(file: File) -> Result<Vec<BufrTemplate>, Fault> {
    let columns = &[
        "template",
        "form",
        "axis",
        "kind",
        "written",
        "version",
        "pressure_pa",
        "height_gpm",
        "meaning",
    ];
    read(file, columns, Order::Unique, |row| {
        Ok(BufrTemplate {
            descriptor: descriptor(row, "template", &[3])?,
            form: row.word("form", &FORMS)?,
            axis: row.word(
                "axis",
                &[("pressure", Axis::Pressure), ("height", Axis::Height)],
            )?,
            drop: row.word("kind", &[("any", false), ("drop", true)])?,
            written: row.word("written", &YES)?,
            version: row.number("version")?,
            pressure_pa: row.optional_number("pressure_pa")?,
            height_gpm: row.optional_number("height_gpm")?,
            meaning: row.text("meaning")?,
        })
    })
}

const YES: [(&str, bool); 2] = [("yes", true), ("no", false)];

fn read_subcategories(file: File) -> Result<Vec<Subcategory>, Fault> {
    let kinds = [
        ("land", StationKind::Land),
        ("ship", StationKind::Ship),
        ("mobile", StationKind::Mobile),
        ("drop", StationKind::Drop),
    ];
    let columns = &["subcategory", "form", "kind", "reused"];
    read(file, columns, Order::Rising, |row| {
        Ok(Subcategory {
            figure: row.number("subcategory")?,
            form: row.word("form", &FORMS)?,
            kind: row.word("kind", &kinds)?,
            reused: row.word("reused", &YES)?,
        })
    })
}

fn descriptor(row: &Row, column: &str, kinds: &[u16]) -> Result<Descriptor, Fault> {
    let text = row.text(column)?;
    Descriptor::from_figures(text)
        .filter(|d| kinds.contains(&d.f()))
        .ok_or_else(|| {
            row.fault(format!(
                "`{column}` is `{text}`, no descriptor of its place"
            ))
        })
}

/// The rows of a long table, with their numbers from 1.
fn lines(file: File) -> impl Iterator<Item = (usize, &'static str)> {
    let rows = (1..).zip(file.text.lines());
    rows.skip_while(|(_, line)| line.starts_with('#')).skip(1)
}

/// The key of a row, and what follows the comma after it.
fn keyed(line: &'static str, f: u16) -> Option<(Descriptor, &'static str)> {
    let (key, rest) = line.split_once(',')?;
    let key = Descriptor::from_figures(key).filter(|d| d.f() == f)?;
    Some((key, rest))
}

fn unquoted(text: &'static str) -> &'static str {
    let inside = text.strip_prefix('"').and_then(|t| t.strip_suffix('"'));
    inside.unwrap_or(text)
}

fn read_elements(file: File) -> Result<HashMap<Descriptor, BufrElement>, Fault> {
    let element = |line: &'static str| -> Option<BufrElement> {
        let (descriptor, rest) = keyed(line, 0)?;
        // Names have commas; scale, reference and width have none, nor has the unit.
        let mut from_end = rest.rsplitn(5, ',');
        let width_bits: u16 = from_end.next()?.parse().ok()?;
        let reference = from_end.next()?.parse().ok()?;
        let scale = from_end.next()?.parse().ok()?;
        let unit = match from_end.next()? {
            "Code table" => BufrUnit::Code,
            "Flag table" => BufrUnit::Flags,
            "CCITT IA5" => BufrUnit::Text,
            unit => BufrUnit::Number(unit),
        };
        let fits = match unit {
            BufrUnit::Text => width_bits.is_multiple_of(8),
            _ => width_bits <= 32,
        };
        (width_bits > 0 && fits).then_some(BufrElement {
            descriptor,
            name: unquoted(from_end.next()?),
            unit,
            scale,
            reference,
            width_bits,
        })
    };
    lines(file)
        .map(|(number, line)| {
            let element = element(line).ok_or_else(|| broken(file, number, line))?;
            Ok((element.descriptor, element))
        })
        .collect()
}

fn read_sequences(file: File) -> Result<HashMap<Descriptor, BufrSequence>, Fault> {
    let sequence = |line: &'static str| -> Option<BufrSequence> {
        let (descriptor, rest) = keyed(line, 3)?;
        let (title, members) = rest.rsplit_once(',')?;
        let members = members.split(' ').map(Descriptor::from_figures);
        Some(BufrSequence {
            descriptor,
            title: unquoted(title),
            members: members.collect::<Option<_>>()?,
        })
    };
    lines(file)
        .map(|(number, line)| {
            let sequence = sequence(line).ok_or_else(|| broken(file, number, line))?;
            Ok((sequence.descriptor, sequence))
        })
        .collect()
}

fn broken(file: File, line: usize, text: &str) -> Fault {
    Fault {
        file: file.name,
        line,
        what: format!("`{text}` is no row of this table"),
    }
}

/// A local sequence of an originating centre.
struct LocalSequence {
    centre: u16,
    descriptor: Descriptor,
    members: Vec<Descriptor>,
}

static LOCAL: Once<Vec<LocalSequence>> = Once::new(|| loaded(read_local(BUFR_LOCAL)));

fn read_local(file: File) -> Result<Vec<LocalSequence>, Fault> {
    let shape = Shape {
        columns: &["centre", "sequence", "members"],
        group: 1,
        order: Order::Unique,
    };
    let one = |row: &Row| {
        let members = row.text("members")?.split(' ');
        let members = members.map(Descriptor::from_figures).collect::<Option<_>>();
        Ok(LocalSequence {
            centre: row.number("centre")?,
            descriptor: descriptor(row, "sequence", &[3])?,
            members: members.ok_or_else(|| row.fault("a member is no descriptor"))?,
        })
    };
    rows(file, shape)?.iter().map(one).collect()
}

/// The members of a local sequence of a centre, where it is known.
#[must_use]
pub fn bufr_local_sequence(centre: u16, descriptor: Descriptor) -> Option<&'static [Descriptor]> {
    let own = |l: &&LocalSequence| l.centre == centre && l.descriptor == descriptor;
    LOCAL.iter().find(own).map(|l| l.members.as_slice())
}

/// What a sequence of Table D is, in its words; blank where it has no title.
#[must_use]
pub fn bufr_sequence_title(descriptor: Descriptor) -> Option<&'static str> {
    SEQUENCES.get(&descriptor).map(|s| s.title)
}

/// The element of a descriptor, where it is in the table.
#[must_use]
pub fn bufr_element(descriptor: Descriptor) -> Option<&'static BufrElement> {
    ELEMENTS.get(&descriptor)
}

/// The members of a sequence, where it is in the table.
#[must_use]
pub fn bufr_sequence(descriptor: Descriptor) -> Option<&'static [Descriptor]> {
    SEQUENCES.get(&descriptor).map(|s| s.members.as_slice())
}

/// Every sequence of the table, in no order.
pub fn bufr_sequences() -> impl Iterator<Item = Descriptor> {
    SEQUENCES.keys().copied()
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
