//! Operators of Table C that change the elements after them, whatever the data are
//! (WMO-No. 306 Vol. I.2, Table C).

use super::field::Field;
use super::{Descriptor, Fault};

/// The widest number, bits.
const MAX_WIDTH: i64 = 56;

/// What operators have changed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct State {
    /// 2 01: bits added.
    wider: i64,
    /// 2 02: scale added.
    finer: i32,
    /// 2 03: bits of the new references that are being given.
    pub(super) redefining: Option<u16>,
    /// 2 03: elements with a new reference.
    redefined: Vec<Descriptor>,
    /// 2 07: scale added, with reference and width to match.
    increased: u16,
    /// 2 08: octets of characters; 0 as in the table.
    pub(super) characters: u16,
    /// 2 04: bits of associated fields, the innermost last.
    associated: Vec<u16>,
    /// 2 06: bits of the next element, in the table or not.
    pub(super) local: Option<u16>,
    /// 2 21: elements still to come of which only some are there.
    absent: u16,
}

impl State {
    /// Takes in an operator.
    pub(super) fn operate(&mut self, operator: Descriptor) -> Result<(), Fault> {
        let y = operator.y();
        let shifted = |y: u16| i32::from(y) - 128;
        match operator.x() {
            1 => self.wider = if y == 0 { 0 } else { i64::from(shifted(y)) },
            2 => self.finer = if y == 0 { 0 } else { shifted(y) },
            3 if y == 0 => self.redefined.clear(),
            3 if y == 255 => {
                let open = self.redefining.take();
                open.ok_or(Fault::EmptyOperator(operator))?;
            }
            3 => {
                // A sign and a magnitude.
                width(operator, i64::from(y) - 1)?;
                self.redefining = Some(y);
            }
            4 if y == 0 => {
                let open = self.associated.pop();
                open.ok_or(Fault::EmptyOperator(operator))?;
            }
            4 => {
                width(operator, self.associated_bits() + i64::from(y))?;
                self.associated.push(y);
            }
            6 if y == 0 => return Err(Fault::EmptyOperator(operator)),
            6 => {
                width(operator, i64::from(y))?;
                self.local = Some(y);
            }
            7 => self.increased = y,
            8 => self.characters = y,
            21 => self.absent = y,
            _ => return Err(Fault::Operator(operator)),
        }
        Ok(())
    }

    /// Bits of the associated field of the next value.
    pub(super) fn associated_bits(&self) -> i64 {
        self.associated.iter().copied().map(i64::from).sum()
    }

    /// Whether 2 21 leaves this element out: of those it counts, only classes 1 to 9
    /// and 31 have data.
    pub(super) fn takes_away(&mut self, descriptor: Descriptor) -> bool {
        let Some(left) = self.absent.checked_sub(1) else {
            return false;
        };
        self.absent = left;
        !matches!(descriptor.x(), 1..=9 | 31)
    }

    /// The element has a reference of the message's own from here on.
    pub(super) fn redefine(&mut self, descriptor: Descriptor) {
        if !self.redefines(descriptor) {
            self.redefined.push(descriptor);
        }
    }

    pub(super) fn redefines(&self, descriptor: Descriptor) -> bool {
        self.redefined.contains(&descriptor)
    }

    /// Changes a number that is no figure of a code or flag table.
    pub(super) fn change(&self, field: &mut Field) -> Result<(), Fault> {
        let y = i64::from(self.increased);
        // 2 07 YYY: scale + YYY, reference x 10^YYY, width + (10 YYY + 2) / 3.
        let ten = 10_i64.checked_pow(u32::from(self.increased));
        let wider = if y > 0 { (10 * y + 2) / 3 } else { 0 };
        let bits = i64::from(field.width_bits) + wider + self.wider;
        let descriptor = field.descriptor;
        let bad = Fault::Width { descriptor, bits };
        field.reference = ten
            .and_then(|ten| field.reference.checked_mul(ten))
            .ok_or(bad)?;
        field.scale += self.finer + i32::from(self.increased);
        field.width_bits = width(descriptor, bits)?;
        Ok(())
    }
}

/// A width that a number can have.
pub(super) fn width(descriptor: Descriptor, bits: i64) -> Result<u32, Fault> {
    u32::try_from(bits)
        .ok()
        .filter(|bits| (1..=MAX_WIDTH).contains(&i64::from(*bits)))
        .ok_or(Fault::Width { descriptor, bits })
}
