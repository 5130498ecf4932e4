//! Octets → values, editions 2 to 4, compressed or not, several subsets.
//!
//! Memory is bounded by the length of the message: counts are compared with the
//! bits that are left before anything is repeated, and values are counted
//! (`tests/memory/bufr.rs` states and holds the bound).

use super::bits::Reader;
use super::marks::Attached;
use super::node::{Node, least_bits};
use super::plan::Plan;
use super::sections::{Section, section1};
use super::seen::Body;
use super::walk::{Visit, walk};
use super::{BufrError, Descriptor, Fault, Field, Kind, Layout, MAX_OCTETS, Message, Value};

/// Octets of sections 0 and 5: no message is shorter.
const LEAST_OCTETS: usize = 12;
/// Values that an octet of a message can stand for, uncompressed: one per bit.
const VALUES_AN_OCTET: usize = 8;
/// Values that compression may add, which gives a value that is the same in
/// all subsets once.
const MORE_VALUES: usize = 65_536;
/// Octets of a text that count as one more value.
const TEXT_A_VALUE: usize = 8;

/// A message as it was received.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Received {
    /// The message.
    pub message: Message,
    /// Edition: 2, 3 or 4.
    pub edition: u8,
    /// Section 2, where there is one.
    pub local: Option<Vec<u8>>,
    /// Whether the data are observed (bit 1 of octet 7 of section 3).
    pub observed: bool,
    /// Whether the subsets are compressed together.
    pub compressed: bool,
    /// Octets of the message.
    pub octets: usize,
    /// Bits of section 4 after the last value.
    pub spare_bits: usize,
    /// Why the descriptors after those of `message` were not read, where there are
    /// more: the levels of a sounding are read whatever follows them.
    pub unread: Option<BufrError>,
    /// Values that say something of other values, a list a subset; one list for all
    /// where the subsets are compressed.
    pub attached: Vec<Vec<Attached>>,
}

impl Received {
    /// The values of a subset, from 0, that say something of its other values.
    #[must_use]
    pub fn attached(&self, subset: usize) -> &[Attached] {
        let at = if self.compressed { 0 } else { subset };
        self.attached.get(at).map_or(&[], Vec::as_slice)
    }
}

/// Reads one message; what follows it in `bytes` is left alone.
///
/// # Errors
/// No message, an edition or operator that is not handled, lengths that do not
/// fit each other, data that end early; with section and bit.
pub fn read(bytes: &[u8]) -> Result<Received, BufrError> {
    let mut keep = Keep::default();
    let mut head = pass(bytes, &mut keep)?;
    head.message.values = keep.subsets;
    Ok(head)
}

/// What is done with each value.
pub(super) trait Sink {
    /// The number of subsets, once, and the number of octets.
    fn begin(&mut self, subsets: usize);
    /// One value: its field, where its bits are, its raw bits (`None`: characters).
    fn value(&mut self, subset: usize, field: &Field, bit: usize, raw: Option<u64>, value: Value);
    /// The values of a subset, where nothing but these is wanted.
    fn values(&mut self, _subset: usize) -> Option<&mut Vec<Value>> {
        None
    }
}

#[derive(Default)]
struct Keep {
    subsets: Vec<Vec<Value>>,
}

impl Sink for Keep {
    fn begin(&mut self, subsets: usize) {
        self.subsets.resize(subsets, Vec::new());
    }

    fn value(&mut self, subset: usize, _: &Field, _: usize, _: Option<u64>, value: Value) {
        if let Some(subset) = self.subsets.get_mut(subset) {
            subset.push(value);
        }
    }

    fn values(&mut self, subset: usize) -> Option<&mut Vec<Value>> {
        self.subsets.get_mut(subset)
    }
}

/// Reads a message and passes every value to a sink.
pub(super) fn pass(bytes: &[u8], sink: &mut impl Sink) -> Result<Received, BufrError> {
    if bytes.get(..4) != Some(b"BUFR") {
        return Err(Fault::NoStart.at(0, 0));
    }
    let [_, _, _, _, a, b, c, edition, ..] = *bytes else {
        let (needs, has) = (8, bytes.len());
        return Err(Fault::Short { needs, has }.at(0, 0));
    };
    if !(2..=4).contains(&edition) {
        return Err(Fault::Edition(edition).at(0, 56));
    }
    let octets = usize::from(a) << 16 | usize::from(b) << 8 | usize::from(c);
    if octets < LEAST_OCTETS {
        let fault = Fault::SectionLength {
            length: octets,
            least: LEAST_OCTETS,
            most: MAX_OCTETS,
        };
        return Err(fault.at(0, 32));
    }
    let message = bytes.get(..octets).ok_or_else(|| {
        let (needs, has) = (octets, bytes.len());
        Fault::Short { needs, has }.at(0, 32)
    })?;
    let least = if edition == 4 { 22 } else { 17 };
    let (one, mut at) = Section::take(1, message, 8, least)?;
    let (section1, has_local) = section1(&one, edition);
    let mut local = None;
    if has_local {
        let (two, end) = Section::take(2, message, at, 4)?;
        local = two.bytes.get(4..).map(<[u8]>::to_vec);
        at = end;
    }
    let (three, at) = Section::take(3, message, at, 7)?;
    let (four, at) = Section::take(4, message, at, 4)?;
    if message.get(at..) != Some(b"7777") {
        return Err(Fault::NoEnd.at(5, 8 * at));
    }
    let subsets = usize::from(three.two(5));
    if subsets == 0 {
        return Err(three.fault(5, Fault::NoSubset));
    }
    let mut template: Vec<Descriptor> = (three.bytes.get(7..).unwrap_or_default())
        .chunks_exact(2)
        .map(|pair| {
            let bits = pair
                .iter()
                .fold(0, |bits, octet| bits << 8 | u16::from(*octet));
            Descriptor::from_bits(bits)
        })
        .collect();
    if template.is_empty() {
        return Err(three.fault(8, Fault::NoDescriptor));
    }
    let flags = three.octet(7);
    let compressed = flags & 0x40 != 0;
    let mut unread = None;
    let layout = match Layout::of(&template, &section1) {
        Ok(layout) => layout,
        Err((n, fault)) => {
            let fault = three.fault(8 + 2 * n, fault);
            // What follows the levels of a sounding is not needed to read them, as
            // long as no other subset comes after it.
            template.truncate(n);
            let before = Layout::of(&template, &section1).ok();
            let other = matches!(fault.fault, Fault::Unknown { .. } | Fault::Operator(_));
            let alone = other && (subsets == 1 || compressed);
            let before = before.filter(|layout| alone && !Body::levels(&layout.nodes).is_empty());
            unread = Some(fault.clone());
            before.ok_or(fault)?
        }
    };
    let most = (VALUES_AN_OCTET * message.len()).saturating_add(MORE_VALUES);
    let data = Data {
        reader: Reader::new(four.bytes.get(4..).unwrap_or_default()),
        start: 8 * (four.start + 4),
        left: most,
        most,
        sink,
        starts: Vec::new(),
        spends: false,
    };
    let (spare_bits, attached) = data.read(&layout, subsets, compressed)?;
    Ok(Received {
        message: Message {
            section1,
            template,
            values: Vec::new(),
        },
        edition,
        local,
        observed: flags & 0x80 != 0,
        compressed,
        octets,
        spare_bits,
        unread,
        attached,
    })
}

/// The bits of section 4 on their way into a sink.
struct Data<'a, S> {
    reader: Reader<'a>,
    /// Where the bits begin, in bits of the message.
    start: usize,
    /// Values that may still come and are not in the bits one by one, of how many.
    left: usize,
    most: usize,
    sink: &'a mut S,
    /// Where data begin that stand once for several passes, the innermost last.
    starts: Vec<Reader<'a>>,
    /// Whether values are counted because they may come of such data.
    spends: bool,
}

impl<S: Sink> Data<'_, S> {
    /// Reads all subsets; the bits that are left, and what is attached to values.
    fn read(
        mut self,
        layout: &Layout,
        subsets: usize,
        together: bool,
    ) -> Result<(usize, Vec<Vec<Attached>>), BufrError> {
        // Before anything is made for them.
        self.spend(subsets)?;
        if !together && subsets > 1 {
            let least = least_bits(&layout.nodes);
            self.fits(u64::try_from(subsets).unwrap_or(u64::MAX), least)?;
        }
        self.sink.begin(subsets);
        let mut attached = Vec::new();
        let mut keep = |marks: Option<super::marks::Marks>| {
            attached.extend(marks.map(|marks| marks.attached));
        };
        if together {
            let mut marks = layout.marks();
            let mut data = Together {
                data: &mut self,
                subsets,
            };
            walk(&layout.nodes, &mut marks, &mut data)?;
            keep(marks);
        } else {
            for subset in 0..subsets {
                let mut marks = layout.marks();
                let mut data = One {
                    data: &mut self,
                    subset,
                };
                walk(&layout.nodes, &mut marks, &mut data)?;
                keep(marks);
            }
        }
        Ok((self.reader.left(), attached))
    }

    /// A pass over data that stand once.
    fn once(&mut self, first: bool) {
        self.spends = true;
        if first {
            self.starts.push(self.reader);
        } else if let Some(start) = self.starts.last() {
            self.reader = *start;
        }
    }

    fn fault(&self, fault: Fault) -> BufrError {
        fault.at(4, self.start + self.reader.at())
    }

    /// Counts one field of a number of subsets.
    fn spend_on(&mut self, field: &Field, subsets: usize) -> Result<(), BufrError> {
        let text = match field.kind {
            Kind::Text => usize::try_from(field.width_bits / 8).unwrap_or(0) / TEXT_A_VALUE,
            _ => 0,
        };
        self.spend(subsets.saturating_mul(1 + text))
    }

    fn spend(&mut self, values: usize) -> Result<(), BufrError> {
        match self.left.checked_sub(values) {
            Some(left) => {
                self.left = left;
                Ok(())
            }
            None => Err(self.fault(Fault::Values(self.most))),
        }
    }

    #[cold]
    fn end(&self, field: &Field, bits: usize) -> BufrError {
        self.fault(Fault::DataEnd {
            descriptor: field.descriptor,
            bits,
        })
    }

    /// One field of one subset.
    #[inline]
    fn field(&mut self, field: &Field) -> Result<(Option<u64>, Value), BufrError> {
        if field.kind == Kind::Text {
            return self.text(field).map(|text| (None, text));
        }
        let raw = self.reader.get(field.width_bits);
        let bits = || usize::try_from(field.width_bits).unwrap_or(0);
        let raw = raw.ok_or_else(|| self.end(field, bits()))?;
        Ok((Some(raw), number_value(field, raw)))
    }

    #[cold]
    fn text(&mut self, field: &Field) -> Result<Value, BufrError> {
        let octets = usize::try_from(field.width_bits / 8).unwrap_or(0);
        let text = self.reader.octets(octets);
        let text = text.ok_or_else(|| self.end(field, 8 * octets))?;
        Ok(text_value(&text))
    }

    /// Holds a count against the bits that are left.
    fn fits(&self, count: u64, bits: u64) -> Result<(), BufrError> {
        let left = self.reader.left();
        let needed = count.saturating_mul(bits);
        if usize::try_from(needed).is_ok_and(|needed| needed <= left) {
            return Ok(());
        }
        Err(self.fault(Fault::Count { count, bits, left }))
    }

    /// One field of all subsets, compressed: the least value, the bits of the
    /// increments, the increments. Its number where it is the same in all.
    fn column(&mut self, field: &Field, subsets: usize) -> Result<Option<i64>, BufrError> {
        let bit = self.start + self.reader.at();
        if field.kind == Kind::Absent {
            self.spend_on(field, subsets)?;
            for subset in 0..subsets {
                self.sink.value(subset, field, bit, None, Value::Missing);
            }
            return Ok(None);
        }
        let (least, value) = self.field(field)?;
        let width = self.reader.get(6).ok_or_else(|| self.end(field, 6))?;
        let wide = |own: &Self| {
            own.fault(Fault::Increment {
                descriptor: field.descriptor,
                bits: width,
            })
        };
        self.spend_on(field, subsets)?;
        if width == 0 {
            for subset in 0..subsets {
                self.sink.value(subset, field, bit, least, value.clone());
            }
            return Ok(value.number());
        }
        let mut equal = None;
        self.fits(u64::try_from(subsets).unwrap_or(u64::MAX), width)?;
        let bits = u32::try_from(width).unwrap_or(64);
        for subset in 0..subsets {
            let at = self.start + self.reader.at();
            let (raw, value) = match least {
                // Characters: octets of each subset.
                None => {
                    // The characters of a subset are at most those of the element.
                    if width > u64::from(field.width_bits / 8) {
                        return Err(wide(self));
                    }
                    let octets = usize::try_from(width).unwrap_or(64);
                    let text = self.reader.octets(octets);
                    let text = text.ok_or_else(|| self.end(field, 8 * octets))?;
                    (None, text_value(&text))
                }
                Some(least) => {
                    if bits > field.width_bits.max(32) {
                        return Err(wide(self));
                    }
                    let more = self.reader.get(bits);
                    let more = more.ok_or_else(|| self.end(field, 56))?;
                    let missing = (1_u64 << bits) - 1;
                    // Some writers have the bits of a missing value as a sum.
                    let raw = if more == missing && field.can_be_missing() {
                        field.ones()
                    } else {
                        least + more
                    };
                    if raw > field.ones() {
                        return Err(wide(self));
                    }
                    (Some(raw), number_value(field, raw))
                }
            };
            equal = if subset == 0 {
                raw
            } else {
                equal.filter(|&e| Some(e) == raw)
            };
            self.sink.value(subset, field, at, raw, value);
        }
        Ok(equal.and_then(|raw| number_value(field, raw).number()))
    }
}

/// One subset.
struct One<'d, 'a, S> {
    data: &'d mut Data<'a, S>,
    subset: usize,
}

impl<S: Sink> Visit for One<'_, '_, S> {
    type Stop = BufrError;

    #[inline]
    fn field(&mut self, field: &Field) -> Result<Option<i64>, BufrError> {
        let data = &mut *self.data;
        let bit = data.start + data.reader.at();
        let (raw, value) = data.field(field)?;
        // Otherwise it has a bit of its own at least, a text its octets.
        if data.spends || field.kind == Kind::Absent {
            data.spend_on(field, 1)?;
        }
        let number = value.number();
        data.sink.value(self.subset, field, bit, raw, value);
        Ok(number)
    }

    fn stop(&self, fault: Fault) -> BufrError {
        self.data.fault(fault)
    }

    fn no_count(&self, _: &Field) -> Result<u64, BufrError> {
        Err(self.data.fault(Fault::UnequalCounts))
    }

    fn repeat(&mut self, times: u64, least_bits: u64) -> Result<(), BufrError> {
        self.data.fits(times, least_bits)
    }

    fn passes(&mut self, body: &[Node], times: u64) -> u64 {
        let data = &mut *self.data;
        let plan = Plan::of(body, times).filter(|_| !data.spends);
        let values = data.sink.values(self.subset);
        match plan.zip(values) {
            Some((plan, values)) => plan.read(&mut data.reader, times, values),
            None => 0,
        }
    }

    fn once(&mut self, first: bool) -> Result<(), BufrError> {
        self.data.once(first);
        Ok(())
    }

    fn end_once(&mut self) {
        self.data.starts.pop();
    }
}

/// All subsets, compressed.
struct Together<'d, 'a, S> {
    data: &'d mut Data<'a, S>,
    subsets: usize,
}

impl<S: Sink> Visit for Together<'_, '_, S> {
    type Stop = BufrError;

    fn field(&mut self, field: &Field) -> Result<Option<i64>, BufrError> {
        self.data.column(field, self.subsets)
    }

    fn stop(&self, fault: Fault) -> BufrError {
        self.data.fault(fault)
    }

    fn no_count(&self, _: &Field) -> Result<u64, BufrError> {
        Err(self.data.fault(Fault::UnequalCounts))
    }

    fn repeat(&mut self, times: u64, least_bits: u64) -> Result<(), BufrError> {
        self.data.fits(times, least_bits)
    }

    fn once(&mut self, first: bool) -> Result<(), BufrError> {
        self.data.once(first);
        Ok(())
    }

    fn end_once(&mut self) {
        self.data.starts.pop();
    }
}

#[inline]
fn number_value(field: &Field, raw: u64) -> Value {
    if raw == field.ones() && field.can_be_missing() {
        return Value::Missing;
    }
    let number = i64::try_from(raw).ok();
    number.map_or(Value::Missing, |raw| match field.kind {
        Kind::Absent => Value::Missing,
        Kind::Reference => {
            let sign = 1_i64 << field.width_bits.saturating_sub(1).min(62);
            Value::Number(if raw >= sign { sign - raw } else { raw })
        }
        _ => Value::Number(raw.saturating_add(field.reference)),
    })
}

fn text_value(octets: &[u8]) -> Value {
    if octets.iter().all(|&octet| octet == 0xFF) {
        return Value::Missing;
    }
    // Some writers fill up with zero octets instead of blanks.
    let filled = octets
        .iter()
        .rev()
        .take_while(|&&octet| matches!(octet, b' ' | 0));
    let text = octets.iter().take(octets.len() - filled.count());
    Value::Text(text.map(|&octet| char::from(octet)).collect())
}
