//! A list of descriptors becomes a layout: elements with their final widths,
//! and what is repeated (WMO-No. 306 Vol. I.2, 94.5).

use super::{Descriptor, Fault};
use crate::tables::{BUFR_TABLE_VERSION, BufrElement, BufrUnit, bufr_element, bufr_sequence};

/// The most elements of a layout, repetitions not counted.
const MAX_FIELDS: usize = 20_000;
/// The deepest nesting of sequences and replications.
const MAX_DEPTH: usize = 16;
/// The widest number, bits.
const MAX_WIDTH: i64 = 32;

/// What the bits of a field are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A number, a figure of a code table or the bits of a flag table.
    Number,
    /// Characters.
    Text,
    /// A count of repetitions or another element of class 31: never missing.
    Factor,
    /// The associated field of the element that follows (operator 2 04).
    Associated,
}

/// One element with everything that operators changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Field {
    /// The element's descriptor (that of the operator for characters put in by
    /// 2 05, and for associated fields).
    pub descriptor: Descriptor,
    /// The element in Table B.
    pub element: Option<&'static BufrElement>,
    /// What the bits are.
    pub kind: Kind,
    /// The value times ten to this is a whole number.
    pub scale: i32,
    /// The bits are that whole number less this.
    pub reference: i64,
    /// Bits.
    pub width_bits: u32,
}

impl Field {
    /// All bits one: missing.
    pub(super) const fn ones(&self) -> u64 {
        if self.width_bits >= 64 {
            u64::MAX
        } else {
            (1 << self.width_bits) - 1
        }
    }

    /// The greatest that the bits of a value can say.
    pub(super) fn most(&self) -> u64 {
        self.ones() - u64::from(self.can_be_missing())
    }

    /// The least and the greatest value, in units of the last place.
    pub(super) fn range(&self) -> (i64, i64) {
        let most = i64::try_from(self.most()).unwrap_or(i64::MAX);
        (self.reference, most.saturating_add(self.reference))
    }

    /// Whether all bits one mean missing.
    pub(super) fn can_be_missing(&self) -> bool {
        matches!(self.kind, Kind::Number | Kind::Text) && self.width_bits > 1
    }
}

/// An element, or what is repeated.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Node {
    Field(Field),
    Repeat {
        /// `None`: a count of its own stands in front.
        times: Result<u64, Field>,
        body: Vec<Self>,
        /// Fewest bits of one pass.
        least_bits: u64,
    },
}

impl Node {
    fn least_bits(&self) -> u64 {
        match self {
            Self::Field(field) => u64::from(field.width_bits),
            Self::Repeat {
                times: Ok(times),
                least_bits,
                ..
            } => times.saturating_mul(*least_bits),
            Self::Repeat {
                times: Err(factor), ..
            } => u64::from(factor.width_bits),
        }
    }
}

/// A template, compiled.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    pub(super) nodes: Vec<Node>,
}

impl Layout {
    /// Compiles descriptors. `version` is the master table's, for the text of an
    /// error.
    ///
    /// # Errors
    /// A descriptor that is not in the tables, an operator that is not handled,
    /// a replication without its descriptors, too large a template; with the
    /// number of the descriptor, from 0.
    pub fn new(template: &[Descriptor], version: u8) -> Result<Self, (usize, Fault)> {
        let mut compiler = Compiler {
            version,
            state: State::default(),
            fields: 0,
        };
        let mut nodes = Vec::new();
        let mut rest = template;
        while let Some((first, after)) = rest.split_first() {
            let index = template.len() - rest.len();
            rest = compiler
                .one(*first, after, 0, &mut nodes)
                .map_err(|fault| (index, fault))?;
        }
        Ok(Self { nodes })
    }

    /// Whether the levels of a sounding are in it: a repetition with the extended
    /// vertical sounding significance.
    pub(super) fn holds_levels(&self) -> bool {
        let repeated = |node: &Node| matches!(node, Node::Repeat { body, .. } if is_level(body));
        self.nodes.iter().any(repeated)
    }

    /// The fields in the order of the values; `count(n)` gives the repetitions
    /// that stand as value `n` (none: 0).
    #[must_use]
    pub fn fields(&self, count: impl Fn(usize) -> Option<u64>) -> Vec<Field> {
        let mut out = Vec::new();
        flatten(&self.nodes, &count, &mut out);
        out
    }
}

/// Whether what is repeated is a level of a sounding, or the shears at one: it has
/// 0 08 042.
pub(super) fn is_level(body: &[Node]) -> bool {
    body.iter().any(|node| {
        let significance = |d: Descriptor| (d.x(), d.y()) == (8, 42);
        matches!(node, Node::Field(field) if significance(field.descriptor))
    })
}

fn flatten(nodes: &[Node], count: &impl Fn(usize) -> Option<u64>, out: &mut Vec<Field>) {
    for node in nodes {
        match node {
            Node::Field(field) => out.push(*field),
            Node::Repeat { times, body, .. } => {
                let times = match times {
                    Ok(times) => *times,
                    Err(factor) => {
                        let times = count(out.len()).unwrap_or(0);
                        out.push(*factor);
                        times
                    }
                };
                for _ in 0..times {
                    flatten(body, count, out);
                }
            }
        }
    }
}

/// What operators have changed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
struct State {
    /// 2 01: bits added.
    wider: i64,
    /// 2 02: scale added.
    finer: i32,
    /// 2 07: scale added, with reference and width to match.
    increased: u16,
    /// 2 08: octets of characters; 0 as in the table.
    characters: u16,
    /// 2 04: bits of associated fields, the innermost last.
    associated: Vec<u16>,
    /// 2 06: bits of the next element, in the table or not.
    local: Option<u16>,
}

struct Compiler {
    version: u8,
    state: State,
    fields: usize,
}

impl Compiler {
    /// Compiles one descriptor and gives back what follows it.
    fn one<'a>(
        &mut self,
        descriptor: Descriptor,
        after: &'a [Descriptor],
        depth: usize,
        out: &mut Vec<Node>,
    ) -> Result<&'a [Descriptor], Fault> {
        if depth > MAX_DEPTH {
            return Err(Fault::Deep(MAX_DEPTH));
        }
        match descriptor.f() {
            0 => {
                self.element(descriptor, out)?;
                Ok(after)
            }
            1 => self.replication(descriptor, after, depth, out),
            2 => {
                self.operator(descriptor, out)?;
                Ok(after)
            }
            _ => {
                let members = bufr_sequence(descriptor).ok_or_else(|| self.unknown(descriptor))?;
                self.all(members, depth + 1, out)?;
                Ok(after)
            }
        }
    }

    fn all(
        &mut self,
        descriptors: &[Descriptor],
        depth: usize,
        out: &mut Vec<Node>,
    ) -> Result<(), Fault> {
        let mut rest = descriptors;
        while let Some((first, after)) = rest.split_first() {
            rest = self.one(*first, after, depth, out)?;
        }
        Ok(())
    }

    const fn unknown(&self, descriptor: Descriptor) -> Fault {
        Fault::Unknown {
            descriptor,
            version: self.version,
            own: BUFR_TABLE_VERSION,
        }
    }

    fn replication<'a>(
        &mut self,
        descriptor: Descriptor,
        after: &'a [Descriptor],
        depth: usize,
        out: &mut Vec<Node>,
    ) -> Result<&'a [Descriptor], Fault> {
        let broken = || Fault::Replication(descriptor);
        let (times, after) = if descriptor.y() == 0 {
            let (factor, after) = after.split_first().ok_or_else(broken)?;
            // 0 31 011 and 0 31 012 repeat the data, too: not handled.
            let counts = ["031000", "031001", "031002"];
            if !counts
                .iter()
                .any(|c| Descriptor::from_figures(c) == Some(*factor))
            {
                return Err(broken());
            }
            let element = bufr_element(*factor).ok_or_else(|| self.unknown(*factor))?;
            (Err(self.plain(element)), after)
        } else {
            (Ok(u64::from(descriptor.y())), after)
        };
        let (repeated, rest) = after
            .split_at_checked(usize::from(descriptor.x()))
            .filter(|(repeated, _)| !repeated.is_empty())
            .ok_or_else(broken)?;
        let before = self.state.clone();
        let mut body = Vec::new();
        self.all(repeated, depth + 1, &mut body)?;
        if self.state != before {
            return Err(Fault::OpenOperator(descriptor));
        }
        let least_bits = least_bits(&body);
        if least_bits == 0 && times.is_ok() {
            return Ok(rest);
        }
        if least_bits == 0 {
            return Err(broken());
        }
        self.count()?;
        out.push(Node::Repeat {
            times,
            body,
            least_bits,
        });
        Ok(rest)
    }

    /// A field as the table has it.
    fn plain(&self, element: &'static BufrElement) -> Field {
        Field {
            descriptor: element.descriptor,
            element: Some(element),
            kind: if element.descriptor.x() == 31 {
                Kind::Factor
            } else if element.unit == BufrUnit::Text {
                Kind::Text
            } else {
                Kind::Number
            },
            scale: i32::from(element.scale),
            reference: i64::from(element.reference),
            width_bits: u32::from(element.width_bits),
        }
    }

    fn count(&mut self) -> Result<(), Fault> {
        self.fields += 1;
        if self.fields > MAX_FIELDS {
            return Err(Fault::LargeTemplate(MAX_FIELDS));
        }
        Ok(())
    }

    fn element(&mut self, descriptor: Descriptor, out: &mut Vec<Node>) -> Result<(), Fault> {
        self.count()?;
        let local = self.state.local.take();
        let element = bufr_element(descriptor);
        let mut field = match (element, local) {
            (Some(element), None) => self.plain(element),
            // Its bits are those of the table.
            (Some(element), Some(bits)) if bits == element.width_bits => self.plain(element),
            (_, Some(bits)) => Field {
                descriptor,
                element: None,
                kind: Kind::Number,
                scale: 0,
                reference: 0,
                width_bits: u32::from(bits),
            },
            (None, None) => return Err(self.unknown(descriptor)),
        };
        // Class 31 is touched by no operator.
        if field.kind == Kind::Factor {
            out.push(Node::Field(field));
            return Ok(());
        }
        let associated: u16 = self.state.associated.iter().sum();
        if associated > 0 {
            self.count()?;
            let field = Field {
                kind: Kind::Associated,
                scale: 0,
                reference: 0,
                width_bits: width(descriptor, i64::from(associated))?,
                element: None,
                descriptor,
            };
            out.push(Node::Field(field));
        }
        let is_number = field
            .element
            .is_some_and(|e| matches!(e.unit, BufrUnit::Number(_)));
        if is_number {
            let y = i64::from(self.state.increased);
            // 2 07 YYY: scale + YYY, reference x 10^YYY, width + (10 YYY + 2) / 3.
            let power = u32::from(self.state.increased);
            let ten = 10_i64.checked_pow(power);
            let wider = if y > 0 { (10 * y + 2) / 3 } else { 0 };
            let bits = i64::from(field.width_bits) + wider + self.state.wider;
            let bad = Fault::Width { descriptor, bits };
            field.reference = ten
                .and_then(|ten| field.reference.checked_mul(ten))
                .ok_or(bad)?;
            field.scale += self.state.finer + i32::from(self.state.increased);
            field.width_bits = width(descriptor, bits)?;
        } else if field.kind == Kind::Text {
            if self.state.characters > 0 {
                field.width_bits = 8 * u32::from(self.state.characters);
            }
        } else {
            width(descriptor, i64::from(field.width_bits))?;
        }
        out.push(Node::Field(field));
        Ok(())
    }

    fn operator(&mut self, operator: Descriptor, out: &mut Vec<Node>) -> Result<(), Fault> {
        let y = operator.y();
        let shifted = |y: u16| i32::from(y) - 128;
        match operator.x() {
            1 => {
                self.state.wider = if y == 0 { 0 } else { i64::from(shifted(y)) };
            }
            2 => self.state.finer = if y == 0 { 0 } else { shifted(y) },
            4 if y == 0 => {
                self.state
                    .associated
                    .pop()
                    .ok_or(Fault::EmptyOperator(operator))?;
            }
            4 => {
                let bits: i64 = self.state.associated.iter().copied().map(i64::from).sum();
                width(operator, bits + i64::from(y))?;
                self.state.associated.push(y);
            }
            5 | 6 if y == 0 => return Err(Fault::EmptyOperator(operator)),
            5 => {
                self.count()?;
                out.push(Node::Field(Field {
                    descriptor: operator,
                    element: None,
                    kind: Kind::Text,
                    scale: 0,
                    reference: 0,
                    width_bits: 8 * u32::from(y),
                }));
            }
            6 => {
                width(operator, i64::from(y))?;
                self.state.local = Some(y);
            }
            7 => self.state.increased = y,
            8 => self.state.characters = y,
            _ => return Err(Fault::Operator(operator)),
        }
        Ok(())
    }
}

/// Fewest bits of one pass, uncompressed.
pub(super) fn least_bits(nodes: &[Node]) -> u64 {
    let bits = nodes.iter().map(Node::least_bits);
    bits.fold(0, u64::saturating_add)
}

fn width(descriptor: Descriptor, bits: i64) -> Result<u32, Fault> {
    u32::try_from(bits)
        .ok()
        .filter(|bits| (1..=MAX_WIDTH).contains(&i64::from(*bits)))
        .ok_or(Fault::Width { descriptor, bits })
}
