//! Values → octets, edition 4, one subset after the other, not compressed.

use super::bits::Writer;
use super::node::Node;
use super::plan::{Plan, Slot};
use super::walk::{Visit, walk};
use super::{BufrError, Descriptor, Fault, Field, Kind, Layout, MAX_OCTETS, Message, Value};

/// Octets of sections 0 and 1 together, and of the fixed part of section 3.
const HEAD: usize = 8 + 22;
const SECTION_3: usize = 7;

impl Message {
    /// The message in octets.
    ///
    /// # Errors
    /// A template that cannot be compiled; values that are too few, too many, of
    /// the wrong kind or out of range; a message longer than its counters hold.
    pub fn encode(&self) -> Result<Vec<u8>, BufrError> {
        let layout =
            Layout::of(&self.template, &self.section1).map_err(|(_, fault)| fault.at(3, 0))?;
        let count: usize = self.values.iter().map(Vec::len).sum();
        let mut bits = Writer::with_capacity(HEAD + count * 3);
        self.head(&mut bits)?;
        let mut data = Writer::with_capacity(count * 5 / 2 + 64);
        for values in &self.values {
            subset(&mut data, &layout, values).map_err(|fault| fault.at(4, data.at()))?;
        }
        let data = data.finish();
        let total = HEAD + SECTION_3 + 2 * self.template.len() + 4 + data.len() + 4;
        if total > MAX_OCTETS {
            return Err(Fault::TooLong(total).at(0, 32));
        }
        put_length(&mut bits, 4 + data.len());
        bits.put(0, 8);
        let mut octets = bits.finish();
        octets.extend_from_slice(&data);
        octets.extend_from_slice(b"7777");
        let length = octets.len().to_be_bytes();
        for (to, from) in octets
            .iter_mut()
            .skip(4)
            .take(3)
            .zip(length.iter().skip(length.len() - 3))
        {
            *to = *from;
        }
        Ok(octets)
    }

    /// Sections 0 to 3, the total length left zero.
    fn head(&self, bits: &mut Writer) -> Result<(), BufrError> {
        for octet in *b"BUFR" {
            bits.put(u64::from(octet), 8);
        }
        put_length(bits, 0);
        bits.put(4, 8);
        let s = &self.section1;
        put_length(bits, 22);
        bits.put(u64::from(s.master_table), 8);
        bits.put(u64::from(s.centre), 16);
        bits.put(u64::from(s.sub_centre), 16);
        bits.put(u64::from(s.update), 8);
        // No section 2.
        bits.put(0, 8);
        for octet in [
            s.category,
            s.subcategory,
            s.local_subcategory,
            s.table_version,
            s.local_version,
        ] {
            bits.put(u64::from(octet), 8);
        }
        bits.put(u64::from(s.year), 16);
        for octet in [s.month, s.day].into_iter().chain(s.clock) {
            bits.put(u64::from(octet), 8);
        }
        let count = |n: usize| {
            u16::try_from(n)
                .ok()
                .filter(|&n| n > 0)
                .ok_or_else(|| Fault::Section3(n).at(3, 0))
        };
        let (subsets, descriptors) = (count(self.values.len())?, count(self.template.len())?);
        put_length(bits, SECTION_3 + 2 * usize::from(descriptors));
        bits.put(0, 8);
        bits.put(u64::from(subsets), 16);
        // Observed data, not compressed.
        bits.put(0x80, 8);
        for descriptor in &self.template {
            bits.put(u64::from(descriptor.bits()), 16);
        }
        Ok(())
    }
}

fn put_length(bits: &mut Writer, octets: usize) {
    bits.put(u64::try_from(octets).unwrap_or(0) & 0xFF_FFFF, 24);
}

/// Writes the values of a subset.
///
/// # Errors
/// Too few or too many values, a count that is none, a value that does not fit.
fn subset(bits: &mut Writer, layout: &Layout, values: &[Value]) -> Result<(), Fault> {
    let mut marks = layout.marks();
    let mut put = Put { bits, values };
    walk(&layout.nodes, &mut marks, &mut put)?;
    match put.values {
        [] => Ok(()),
        left => Err(Fault::ManyValues(left.len())),
    }
}

/// Values on their way into bits.
struct Put<'b, 'v> {
    bits: &'b mut Writer,
    /// Those that are left.
    values: &'v [Value],
}

impl Visit for Put<'_, '_> {
    type Stop = Fault;

    fn field(&mut self, field: &Field) -> Result<Option<i64>, Fault> {
        if field.kind == Kind::Absent {
            let (_, values) = next(self.values, field.descriptor)?;
            self.values = values;
            return Ok(None);
        }
        let (value, values) = next(self.values, field.descriptor)?;
        put(self.bits, field, value)?;
        self.values = values;
        Ok(value.number())
    }

    fn stop(&self, fault: Fault) -> Fault {
        fault
    }

    fn no_count(&self, factor: &Field) -> Result<u64, Fault> {
        Err(Fault::WrongKind {
            descriptor: factor.descriptor,
            needs: "a count",
        })
    }

    fn passes(&mut self, body: &[Node], times: u64) -> u64 {
        let Some(plan) = Plan::of(body, times) else {
            return 0;
        };
        let (made, left) = plan.write(self.bits, self.values, times);
        self.values = left;
        made
    }

    fn once(&mut self, first: bool) -> Result<(), Fault> {
        // Data that stand once are read, not written.
        if first {
            return Ok(());
        }
        Err(Fault::WrongKind {
            descriptor: Descriptor::from_bits(31 << 8 | 11),
            needs: "a count of 1 when it is written",
        })
    }
}

#[inline]
fn next(values: &[Value], descriptor: Descriptor) -> Result<(&Value, &[Value]), Fault> {
    values.split_first().ok_or(Fault::FewValues(descriptor))
}

/// Writes a value.
fn put(bits: &mut Writer, field: &Field, value: &Value) -> Result<(), Fault> {
    match Slot::new(field).raw(value) {
        Some(raw) => {
            bits.put(raw, field.width_bits);
            Ok(())
        }
        None => put_text(bits, field, value),
    }
}

/// A text; what is neither that nor a number that fits is refused.
#[cold]
fn put_text(bits: &mut Writer, field: &Field, value: &Value) -> Result<(), Fault> {
    let descriptor = field.descriptor;
    match (value, field.kind) {
        (Value::Missing, Kind::Text) => (0..field.width_bits / 8).for_each(|_| bits.put(0xFF, 8)),
        (Value::Text(text), Kind::Text) => put_characters(bits, field, text)?,
        (Value::Number(number), Kind::Reference) => {
            let sign = field.width_bits - 1;
            let most = (1_u64 << sign) - 1;
            if number.unsigned_abs() > most {
                let high = i64::try_from(most).unwrap_or(i64::MAX);
                return Err(Fault::Range {
                    descriptor,
                    value: *number,
                    low: -high,
                    high,
                });
            }
            bits.put(u64::from(*number < 0), 1);
            bits.put(number.unsigned_abs(), sign);
        }
        (Value::Number(number), Kind::Number | Kind::Factor | Kind::Associated) => {
            let (low, high) = field.range();
            return Err(Fault::Range {
                descriptor,
                value: *number,
                low,
                high,
            });
        }
        (_, kind) => {
            let needs = match kind {
                Kind::Text => "a text",
                _ => "a number",
            };
            return Err(Fault::WrongKind { descriptor, needs });
        }
    }
    Ok(())
}

/// Characters, filled up with blanks.
fn put_characters(bits: &mut Writer, field: &Field, text: &str) -> Result<(), Fault> {
    let most = usize::try_from(field.width_bits / 8).unwrap_or(0);
    let length = text.chars().count();
    if length > most {
        return Err(Fault::TextLength {
            descriptor: field.descriptor,
            text: text.to_owned(),
            length,
            most,
        });
    }
    for c in text.chars().chain(std::iter::repeat_n(' ', most - length)) {
        let octet = u8::try_from(u32::from(c)).map_err(|_| Fault::WrongKind {
            descriptor: field.descriptor,
            needs: "a text of CCITT IA5 characters",
        })?;
        bits.put(u64::from(octet), 8);
    }
    Ok(())
}
