//! A list of descriptors becomes a layout: elements with their final widths,
//! and what is repeated (WMO-No. 306 Vol. I.2, 94.5).

use super::field::{Field, Kind};
use super::marks::Marks;
use super::node::{Node, least_bits};
use super::operators::{State, width};
use super::walk::{Visit, walk};
use super::{Descriptor, Fault, Section1};
use crate::tables::{
    BUFR_TABLE_VERSION, BufrElement, BufrUnit, bufr_element, bufr_local_sequence, bufr_sequence,
};

/// The most elements of a layout, repetitions not counted.
const MAX_FIELDS: usize = 20_000;
/// The deepest nesting of sequences and replications.
const MAX_DEPTH: usize = 16;

/// A template, compiled.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    pub(super) nodes: Vec<Node>,
    /// Whether widths or references depend on the data.
    pub(super) tracked: bool,
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
        Self::compile(template, version, None)
    }

    /// Compiles descriptors of a message, with the local sequences of its centre.
    ///
    /// # Errors
    /// As [`Layout::new`].
    pub fn of(template: &[Descriptor], section1: &Section1) -> Result<Self, (usize, Fault)> {
        let centre = (section1.local_version > 0).then_some(section1.centre);
        Self::compile(template, section1.table_version, centre)
    }

    fn compile(
        template: &[Descriptor],
        version: u8,
        centre: Option<u16>,
    ) -> Result<Self, (usize, Fault)> {
        let mut compiler = Compiler {
            version,
            centre,
            state: State::default(),
            fields: 0,
            tracked: false,
        };
        let mut nodes = Vec::new();
        let mut rest = template;
        while let Some((first, after)) = rest.split_first() {
            let index = template.len() - rest.len();
            rest = compiler
                .one(*first, after, 0, &mut nodes)
                .map_err(|fault| (index, fault))?;
        }
        Ok(Self {
            nodes,
            tracked: compiler.tracked,
        })
    }

    /// Whether widths or references depend on the data (2 03, 2 22 to 2 37).
    #[must_use]
    pub const fn depends_on_data(&self) -> bool {
        self.tracked
    }

    /// What follows data that later widths and references depend on.
    pub(super) fn marks(&self) -> Option<Marks> {
        self.tracked.then(Marks::default)
    }

    /// The fields in the order of the values; `count(n)` gives the number that stands
    /// as value `n`: repetitions, and where the layout depends on the data any number
    /// (none: 0). What does not fit together ends the list.
    #[must_use]
    pub fn fields(&self, count: impl Fn(usize) -> Option<u64>) -> Vec<Field> {
        let number = |n| count(n).and_then(|n| i64::try_from(n).ok());
        self.fields_by(number)
    }

    /// The same, with numbers that may be negative.
    #[must_use]
    pub fn fields_by(&self, number: impl Fn(usize) -> Option<i64>) -> Vec<Field> {
        struct List<F> {
            fields: Vec<Field>,
            number: F,
            /// Whether every number is asked for, or counts alone.
            every: bool,
        }
        impl<F: Fn(usize) -> Option<i64>> Visit for List<F> {
            type Stop = Fault;

            fn field(&mut self, field: &Field) -> Result<Option<i64>, Fault> {
                let number = self.every.then(|| (self.number)(self.fields.len()));
                self.fields.push(*field);
                Ok(number.flatten())
            }

            fn count(&mut self, factor: &Field) -> Result<Option<i64>, Fault> {
                let number = (self.number)(self.fields.len());
                self.fields.push(*factor);
                Ok(number)
            }

            fn stop(&self, fault: Fault) -> Fault {
                fault
            }

            fn no_count(&self, _: &Field) -> Result<u64, Fault> {
                Ok(0)
            }
        }
        let mut list = List {
            fields: Vec::new(),
            number,
            every: self.tracked,
        };
        // The list ends where the values do not fit the template.
        let _ = walk(&self.nodes, &mut self.marks(), &mut list);
        list.fields
    }
}

struct Compiler {
    version: u8,
    /// Whose local sequences may stand in the template.
    centre: Option<u16>,
    state: State,
    fields: usize,
    tracked: bool,
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
                let local = || bufr_local_sequence(self.centre?, descriptor);
                let members = bufr_sequence(descriptor)
                    .or_else(local)
                    .ok_or_else(|| self.unknown(descriptor))?;
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
        let mut once = false;
        let (times, after) = if descriptor.y() == 0 {
            let (factor, after) = after.split_first().ok_or_else(broken)?;
            if factor.f() != 0 || factor.x() != 31 || !matches!(factor.y(), 0..=2 | 11 | 12) {
                return Err(broken());
            }
            once = factor.y() > 2;
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
            once,
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
            redefined: self.state.redefines(element.descriptor),
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
        if self.state.takes_away(descriptor) {
            let element = element.ok_or_else(|| self.unknown(descriptor))?;
            let mut field = self.plain(element);
            (field.kind, field.width_bits) = (Kind::Absent, 0);
            out.push(Node::Field(field));
            return Ok(());
        }
        if let Some(bits) = self.state.redefining {
            let element = element.ok_or_else(|| self.unknown(descriptor))?;
            let mut field = self.plain(element);
            (field.kind, field.scale, field.reference) = (Kind::Reference, 0, 0);
            field.width_bits = u32::from(bits);
            field.redefined = false;
            self.state.redefine(descriptor);
            self.tracked = true;
            out.push(Node::Field(field));
            return Ok(());
        }
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
                redefined: false,
            },
            (None, None) => return Err(self.unknown(descriptor)),
        };
        // Class 31 is touched by no operator.
        if field.kind == Kind::Factor {
            out.push(Node::Field(field));
            return Ok(());
        }
        self.associated(descriptor, out)?;
        let is_number = field
            .element
            .is_some_and(|e| matches!(e.unit, BufrUnit::Number(_)));
        if is_number {
            self.state.change(&mut field)?;
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

    /// The associated field in front of a value, where there is one.
    fn associated(&mut self, descriptor: Descriptor, out: &mut Vec<Node>) -> Result<(), Fault> {
        let bits = self.state.associated_bits();
        if bits > 0 {
            self.count()?;
            out.push(Node::Field(Field {
                kind: Kind::Associated,
                scale: 0,
                reference: 0,
                width_bits: width(descriptor, bits)?,
                element: None,
                descriptor,
                redefined: false,
            }));
        }
        Ok(())
    }

    fn operator(&mut self, operator: Descriptor, out: &mut Vec<Node>) -> Result<(), Fault> {
        match (operator.x(), operator.y()) {
            (5, 0) => return Err(Fault::EmptyOperator(operator)),
            (5, y) => {
                self.count()?;
                out.push(Node::Field(Field {
                    descriptor: operator,
                    element: None,
                    kind: Kind::Text,
                    scale: 0,
                    reference: 0,
                    width_bits: 8 * u32::from(y),
                    redefined: false,
                }));
            }
            (22..=25 | 32 | 35..=37, 0) | (37, 255) => {
                self.tracked = true;
                out.push(Node::Operator(operator));
            }
            (23..=25 | 32, 255) => {
                self.tracked = true;
                self.count()?;
                self.associated(operator, out)?;
                out.push(Node::Marker(operator));
            }
            // Events, conditioning events and categorical forecasts: no bits.
            (41..=43, 0 | 255) => {}
            _ => self.state.operate(operator)?,
        }
        Ok(())
    }
}
