//! The values of a subset, sorted by what they belong to: what repeats is a level, what
//! stands before it is station and flight.

use super::field::{Field, Kind};
use super::fields::Given;
use super::node::Node;
use super::walk::{Visit, walk};
use super::{Descriptor, Fault, Layout, Value};

/// 0 31 021: what the associated fields after it are.
pub(super) const SIGNIFICANCE_OF_ASSOCIATED: Descriptor = Descriptor::from_bits(31 << 8 | 21);

/// Coordinates of a level: 0 07 002, 003, 004, 006, 007, 009; 0 10 003, 004, 008, 009.
const COORDINATES: [(u16, u16); 10] = [
    (7, 2),
    (7, 3),
    (7, 4),
    (7, 6),
    (7, 7),
    (7, 9),
    (10, 3),
    (10, 4),
    (10, 8),
    (10, 9),
];
/// What is measured at a level: temperature, dew point, humidity.
pub(super) const THERMAL: [(u16, u16); 6] =
    [(12, 1), (12, 3), (12, 101), (12, 103), (13, 3), (13, 9)];
/// Wind at a level: direction, speed, components.
const WINDS: [(u16, u16); 4] = [(11, 1), (11, 2), (11, 3), (11, 4)];
/// Wind shears.
const SHEARS: [(u16, u16); 2] = [(11, 61), (11, 62)];
/// 0 08 041: what the data after it belong to.
const DATA_SIGNIFICANCE: (u16, u16) = (8, 41);

/// What is repeated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Body {
    Level,
    Shear,
    Other,
}

/// The fields of nodes, those of inner repetitions too; a level inside is none of them.
pub(super) fn fields(nodes: &[Node]) -> Vec<Field> {
    let mut out = Vec::new();
    for node in nodes {
        match node {
            Node::Field(field) => out.push(*field),
            Node::Repeat { body, .. } if Body::of(body) == Body::Other => out.extend(fields(body)),
            _ => {}
        }
    }
    out
}

/// Whether one of the fields has one of the descriptors.
pub(super) fn has(fields: &[Field], of: &[(u16, u16)]) -> bool {
    fields.iter().any(|f| {
        let own = (f.descriptor.x(), f.descriptor.y());
        f.descriptor.f() == 0 && f.kind != Kind::Associated && of.contains(&own)
    })
}

impl Body {
    /// What a repeated body is, by its descriptors.
    pub(super) fn of(body: &[Node]) -> Self {
        let fields = fields(body);
        if !has(&fields, &COORDINATES) {
            Self::Other
        } else if has(&fields, &SHEARS) {
            Self::Shear
        } else if has(&fields, &THERMAL) || has(&fields, &WINDS) {
            Self::Level
        } else {
            Self::Other
        }
    }

    /// The fields of the levels of a layout, of all its repetitions.
    pub(super) fn levels(nodes: &[Node]) -> Vec<Field> {
        let mut out = Vec::new();
        for node in nodes {
            if let Node::Repeat { body, .. } = node {
                match Self::of(body) {
                    Self::Level => out.extend(fields(body)),
                    Self::Shear => {}
                    Self::Other => out.extend(Self::levels(body)),
                }
            }
        }
        out
    }
}

/// Whether every subset of a layout is one level: without levels that repeat, 0 08 041
/// says what the data belong to.
pub(super) fn is_level_by_subset(nodes: &[Node]) -> bool {
    let fields = fields(nodes);
    Body::levels(nodes).is_empty()
        && has(&fields, &[DATA_SIGNIFICANCE])
        && has(&fields, &COORDINATES)
        && (has(&fields, &THERMAL) || has(&fields, &WINDS))
}

/// The values of a subset, sorted by what they belong to.
#[derive(Default)]
pub(super) struct Seen<'v> {
    pub(super) head: Vec<Given<'v>>,
    pub(super) levels: Vec<Vec<Given<'v>>>,
    /// The figure of 0 31 021 in force where each level begins.
    pub(super) significance: Vec<Option<i64>>,
    pub(super) shears: Vec<Vec<Given<'v>>>,
}

impl<'v> Seen<'v> {
    /// Sorts the values of a subset.
    pub(super) fn of(layout: &Layout, values: &'v [Value]) -> Result<Self, Fault> {
        let mut sort = Sort {
            seen: Self::default(),
            values: values.iter(),
            open: Vec::new(),
            last: None,
            significance: None,
            at_level: None,
        };
        walk(&layout.nodes, &mut layout.marks(), &mut sort)?;
        Ok(sort.seen)
    }
}

/// On the way through a layout.
struct Sort<'v> {
    seen: Seen<'v>,
    values: std::slice::Iter<'v, Value>,
    /// The bodies that are being repeated, the innermost last.
    open: Vec<(Body, Vec<Given<'v>>)>,
    /// The last figure of 0 31 021, and that at the start of the level that is open.
    significance: Option<i64>,
    at_level: Option<i64>,
    /// What the last body was: levels follow each other.
    last: Option<(*const Node, Body)>,
}

impl Visit for Sort<'_> {
    type Stop = Fault;

    fn field(&mut self, field: &Field) -> Result<Option<i64>, Fault> {
        let value = self.values.next();
        let value = value.ok_or(Fault::FewValues(field.descriptor))?;
        if field.descriptor == SIGNIFICANCE_OF_ASSOCIATED {
            self.significance = value.number();
        }
        match self.open.last_mut() {
            Some((_, inside)) => inside.push((*field, value)),
            None => self.seen.head.push((*field, value)),
        }
        Ok(value.number())
    }

    fn stop(&self, fault: Fault) -> Fault {
        fault
    }

    fn no_count(&self, _: &Field) -> Result<u64, Fault> {
        Ok(0)
    }

    fn pass(&mut self, body: &[Node]) {
        let own = body.as_ptr();
        let (_, of) = match self.last {
            Some(last) if last.0 == own => last,
            _ => *self.last.insert((own, Body::of(body))),
        };
        if of == Body::Level {
            self.at_level = self.significance;
        }
        self.open.push((of, Vec::new()));
    }

    fn passed(&mut self, _: &[Node]) {
        let Some((body, mut inside)) = self.open.pop() else {
            return;
        };
        match (body, self.open.last_mut()) {
            (Body::Level, _) => {
                self.seen.levels.push(inside);
                self.seen.significance.push(self.at_level);
            }
            (Body::Shear, _) => self.seen.shears.push(inside),
            (Body::Other, Some((_, outer))) => outer.append(&mut inside),
            (Body::Other, None) => self.seen.head.append(&mut inside),
        }
    }
}

/// Figures of 0 08 041.
const LAUNCH: i64 = 3;
const SURFACE: i64 = 4;
const FLIGHT_LEVEL: i64 = 6;
const TERMINATION: i64 = 7;

/// A subset whose data belong to what 0 08 041 says: station and launch, the surface
/// observation, a level, the end.
#[derive(Default)]
pub(super) struct Parts<'v> {
    pub(super) head: Vec<Given<'v>>,
    pub(super) surface: Vec<Given<'v>>,
    pub(super) level: Vec<Given<'v>>,
    pub(super) end: Vec<Given<'v>>,
}

impl<'v> Parts<'v> {
    /// Sorts the fields of a subset.
    pub(super) fn of(fields: &[Given<'v>]) -> Self {
        let mut parts = Self::default();
        let mut sites = Vec::new();
        let mut part = None;
        for given in fields {
            let (field, value) = given;
            if has(&[*field], &[DATA_SIGNIFICANCE]) {
                part = value.number();
                continue;
            }
            match part {
                Some(LAUNCH) => parts.head.push(*given),
                None | Some(0 | 1) => sites.push(*given),
                Some(SURFACE) => parts.surface.push(*given),
                Some(FLIGHT_LEVEL) => parts.level.push(*given),
                Some(TERMINATION) => parts.end.push(*given),
                // Dates of manufacture, clouds and icing: no place in a report.
                Some(_) => {}
            }
        }
        parts.head.append(&mut sites);
        parts
    }
}
