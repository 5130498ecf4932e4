//! What depends on data that came before: bit-maps and the values for the elements
//! they point at (operators 2 22 to 2 37), and references that a message gives itself
//! (2 03). WMO-No. 306 Vol. I.2, Table C and 94.5.5.3; that a bit-map counts every
//! element descriptor, those of class 31 too, is how ecCodes reads it.

use super::field::{Field, Kind};
use super::{Descriptor, Fault};
use crate::tables::BufrUnit;

/// The most elements that are followed in one subset.
const MAX_ELEMENTS: usize = 1 << 22;

/// A value that says something of another value: quality, statistics, what was there
/// before it was replaced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Attached {
    /// The value it is about, from 0 in its subset.
    pub of: usize,
    /// The value that says it, from 0.
    pub value: usize,
    /// The operator: 2 22 000 quality, 2 23 000 substituted, 2 24 000 and 2 25 000
    /// statistics, 2 32 000 replaced or retained values.
    pub operator: Descriptor,
}

/// The walk so far.
#[derive(Debug, Default)]
pub(super) struct Marks {
    /// Elements with their places among the values.
    elements: Vec<(Field, usize)>,
    values: usize,
    /// Where the elements end that bit-maps are about; new after 2 35 000.
    anchor: Option<usize>,
    /// The operator that what follows belongs to.
    operator: Option<Descriptor>,
    /// Bits of a bit-map that is being read; a zero bit points at an element.
    bits: Option<Vec<bool>>,
    /// 2 36 000: the next bit-map is for use again.
    keeps: bool,
    /// The bit-map of 2 36 000, as elements that it points at.
    again: Option<Vec<usize>>,
    /// Elements that the bit-map in use points at, and the next of them.
    present: Vec<usize>,
    next: usize,
    /// 2 03: references by element.
    references: Vec<(Descriptor, i64)>,
    /// What was said of which value.
    pub(super) attached: Vec<Attached>,
}

const DATA_PRESENT: Descriptor = Descriptor::from_bits(31 << 8 | 31);
const QUALITY: u16 = 22;

impl Marks {
    /// A field with what the data so far make of it.
    pub(super) fn resolved(&self, field: &Field) -> Field {
        let mut field = *field;
        if field.redefined {
            let own = |(d, _): &&(Descriptor, i64)| *d == field.descriptor;
            if let Some((_, reference)) = self.references.iter().find(own) {
                field.reference = *reference;
            }
        }
        field
    }

    /// A field that was read or written, and its number.
    pub(super) fn see(&mut self, field: &Field, number: Option<i64>) -> Result<(), Fault> {
        let at = self.values;
        self.values += 1;
        if field.descriptor == DATA_PRESENT {
            if let Some(bits) = &mut self.bits {
                let bit = number.ok_or(Fault::UnequalCounts)?;
                bits.push(bit == 0);
            }
        } else if self.bits.as_ref().is_some_and(|bits| !bits.is_empty()) {
            self.map()?;
        }
        if field.kind == Kind::Reference {
            let reference = number.ok_or(Fault::UnequalCounts)?;
            self.references.retain(|(d, _)| *d != field.descriptor);
            self.references.push((field.descriptor, reference));
            return Ok(());
        }
        if field.kind == Kind::Associated || field.descriptor.f() != 0 {
            return Ok(());
        }
        let quality = self.operator.filter(|o| o.x() == QUALITY);
        if let Some(operator) = quality.filter(|_| field.descriptor.x() == 33) {
            let (_, of) = self.pointed(operator)?;
            let value = at;
            self.attached.push(Attached {
                of,
                value,
                operator,
            });
        }
        if self.elements.len() >= MAX_ELEMENTS {
            return Err(Fault::Values(MAX_ELEMENTS));
        }
        self.elements.push((*field, at));
        Ok(())
    }

    /// The field of a value for the next element that the bit-map points at.
    pub(super) fn marker(&mut self, marker: Descriptor) -> Result<Field, Fault> {
        if self.bits.is_some() {
            self.map()?;
        }
        let operator = self.operator.filter(|o| o.x() == marker.x());
        let operator = operator.ok_or(Fault::EmptyOperator(marker))?;
        let (mut field, of) = self.pointed(operator)?;
        field.descriptor = marker;
        field.redefined = false;
        let is_number = field
            .element
            .is_some_and(|e| matches!(e.unit, BufrUnit::Number(_)));
        // Differences may be negative: one bit more, and -2^width as the reference.
        if marker.x() == 25 && is_number {
            field.reference = -(1_i64 << field.width_bits.min(56));
            field.width_bits += 1;
        }
        if field.kind == Kind::Factor {
            field.kind = Kind::Number;
        }
        self.attached.push(Attached {
            of,
            value: self.values,
            operator,
        });
        Ok(field)
    }

    /// An operator without bits of its own.
    pub(super) fn operate(&mut self, operator: Descriptor) -> Result<(), Fault> {
        if self.bits.as_ref().is_some_and(|bits| !bits.is_empty()) {
            self.map()?;
        }
        match (operator.x(), operator.y()) {
            (35, _) => {
                (self.anchor, self.again, self.operator) = (None, None, None);
                self.present.clear();
                self.bits = None;
            }
            (36, _) => self.keeps = true,
            (37, 255) => self.again = None,
            (37, _) => {
                let again = self.again.clone();
                self.present = again.ok_or(Fault::EmptyOperator(operator))?;
                (self.next, self.bits) = (0, None);
            }
            _ => {
                self.anchor.get_or_insert(self.elements.len());
                self.operator = Some(operator);
                self.present.clear();
                (self.next, self.bits) = (0, Some(Vec::new()));
            }
        }
        Ok(())
    }

    /// The bit-map is complete.
    fn map(&mut self) -> Result<(), Fault> {
        let bits = self.bits.take().unwrap_or_default();
        let end = self.anchor.unwrap_or(self.elements.len());
        let too_long = Fault::BitMap {
            bits: bits.len(),
            elements: end,
        };
        let start = end.checked_sub(bits.len()).ok_or(too_long)?;
        let here = (start..end).zip(&bits).filter(|(_, present)| **present);
        self.present = here.map(|(element, _)| element).collect();
        self.next = 0;
        if std::mem::take(&mut self.keeps) {
            self.again = Some(self.present.clone());
        }
        Ok(())
    }

    /// The next element that the bit-map points at.
    fn pointed(&mut self, operator: Descriptor) -> Result<(Field, usize), Fault> {
        let at = self.present.get(self.next).copied();
        let element = at.and_then(|at| self.elements.get(at).copied());
        self.next += 1;
        element.ok_or(Fault::NotPointed(operator))
    }
}
