//! Octets → values, editions 3 and 4, compressed or not, several subsets.
//!
//! Memory is bounded by the length of the message: counts are held against the
//! bits that are left before anything is repeated, and values are counted
//! (`tests/bufr_memory.rs` states and holds the bound).

use super::bits::Reader;
use super::template::{Kind, Node, least_bits};
use super::{BufrError, Descriptor, Fault, Field, Layout, MAX_OCTETS, Message, Section1, Value};

/// Octets of sections 0 and 5: no message is shorter.
const LEAST_OCTETS: usize = 12;
/// Values that an octet of a message can stand for, uncompressed: one a bit.
const VALUES_AN_OCTET: usize = 8;
/// So many more may come of compression, which says a value that is the same in
/// all subsets once.
const MORE_VALUES: usize = 65_536;
/// Octets of a text that count as one more value.
const TEXT_A_VALUE: usize = 8;

/// A message as it was received.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Received {
    /// The message.
    pub message: Message,
    /// Edition: 3 or 4.
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
}

/// Where a section begins and ends, in octets of the message.
pub(super) struct Section<'a> {
    pub(super) number: u8,
    pub(super) start: usize,
    pub(super) bytes: &'a [u8],
}

impl<'a> Section<'a> {
    /// A section that begins with its own length.
    pub(super) fn take(
        number: u8,
        message: &'a [u8],
        start: usize,
        least: usize,
    ) -> Result<(Self, usize), BufrError> {
        let rest = message.get(start..).unwrap_or_default();
        // Section 5 comes after all.
        let most = rest.len().saturating_sub(4);
        let short = Fault::Short {
            needs: start + least + 4,
            has: message.len(),
        };
        let [a, b, c, ..] = *rest else {
            return Err(short.at(number, 8 * start));
        };
        let length = usize::from(a) << 16 | usize::from(b) << 8 | usize::from(c);
        if least > most {
            return Err(short.at(number, 8 * start));
        }
        let bytes = rest
            .get(..length)
            .filter(|_| (least..=most).contains(&length));
        let bytes = bytes.ok_or_else(|| {
            let fault = Fault::SectionLength {
                length,
                least,
                most,
            };
            fault.at(number, 8 * start)
        })?;
        let section = Self {
            number,
            start,
            bytes,
        };
        Ok((section, start + length))
    }

    /// Octet of the section, from 1 as the tables count; 0 where there is none.
    pub(super) fn octet(&self, number: usize) -> u8 {
        self.bytes.get(number - 1).copied().unwrap_or(0)
    }

    fn two(&self, number: usize) -> u16 {
        u16::from(self.octet(number)) << 8 | u16::from(self.octet(number + 1))
    }

    fn fault(&self, octet: usize, fault: Fault) -> BufrError {
        fault.at(self.number, 8 * (self.start + octet - 1))
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
    if !(3..=4).contains(&edition) {
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
    let version = section1.table_version;
    let mut unread = None;
    let layout = match Layout::new(&template, version) {
        Ok(layout) => layout,
        Err((n, fault)) => {
            let fault = three.fault(8 + 2 * n, fault);
            // What follows the levels of a sounding is not needed to read them, as
            // long as no other subset comes after it.
            template.truncate(n);
            let before = Layout::new(&template, version).ok();
            let other = matches!(fault.fault, Fault::Unknown { .. } | Fault::Operator(_));
            let alone = other && (subsets == 1 || compressed);
            let before = before.filter(|layout| alone && layout.holds_levels());
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
    };
    let spare_bits = data.read(&layout, subsets, compressed)?;
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
    })
}

/// Section 1, and whether a section 2 follows.
fn section1(one: &Section<'_>, edition: u8) -> (Section1, bool) {
    if edition == 4 {
        let section1 = Section1 {
            master_table: one.octet(4),
            centre: one.two(5),
            sub_centre: one.two(7),
            update: one.octet(9),
            category: one.octet(11),
            subcategory: one.octet(12),
            local_subcategory: one.octet(13),
            table_version: one.octet(14),
            local_version: one.octet(15),
            year: one.two(16),
            month: one.octet(18),
            day: one.octet(19),
            clock: [one.octet(20), one.octet(21), one.octet(22)],
        };
        return (section1, one.octet(10) & 0x80 != 0);
    }
    // Edition 3: centres of one octet, one sub-category (local), the year of the
    // century from 1 to 100. Its years are those from 1951 to 2050 (our choice).
    let year = u16::from(one.octet(13));
    let century = if year > 50 { 1900 } else { 2000 };
    let all = |octet: u8| {
        if octet == u8::MAX {
            u16::MAX
        } else {
            u16::from(octet)
        }
    };
    let section1 = Section1 {
        master_table: one.octet(4),
        centre: all(one.octet(6)),
        sub_centre: u16::from(one.octet(5)),
        update: one.octet(7),
        category: one.octet(9),
        subcategory: u8::MAX,
        local_subcategory: one.octet(10),
        table_version: one.octet(11),
        local_version: one.octet(12),
        year: if year == 100 { 2000 } else { century + year },
        month: one.octet(14),
        day: one.octet(15),
        clock: [one.octet(16), one.octet(17), 0],
    };
    (section1, one.octet(8) & 0x80 != 0)
}

/// The bits of section 4 on their way into a sink.
struct Data<'a, S> {
    reader: Reader<'a>,
    /// Where the bits begin, in bits of the message.
    start: usize,
    /// Compressed values that may still come, of how many.
    left: usize,
    most: usize,
    sink: &'a mut S,
}

impl<S: Sink> Data<'_, S> {
    /// Reads all subsets; the bits that are left.
    fn read(mut self, layout: &Layout, subsets: usize, together: bool) -> Result<usize, BufrError> {
        // Before anything is made for them.
        self.spend(subsets)?;
        if !together && subsets > 1 {
            let least = least_bits(&layout.nodes);
            self.fits(u64::try_from(subsets).unwrap_or(u64::MAX), least)?;
        }
        self.sink.begin(subsets);
        if together {
            self.walk(&layout.nodes, &|data, field| data.column(field, subsets))?;
        } else {
            for subset in 0..subsets {
                self.walk(&layout.nodes, &|data, field| data.one(field, subset))?;
            }
        }
        Ok(self.reader.left())
    }

    fn fault(&self, fault: Fault) -> BufrError {
        fault.at(4, self.start + self.reader.at())
    }

    /// Counts one field of so many subsets.
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

    /// Reads what belongs to some nodes, each field by `one`, which gives the raw
    /// bits that a count has.
    fn walk(
        &mut self,
        nodes: &[Node],
        one: &impl Fn(&mut Self, &Field) -> Result<Option<u64>, BufrError>,
    ) -> Result<(), BufrError> {
        for node in nodes {
            match node {
                Node::Field(field) => {
                    one(self, field)?;
                }
                Node::Repeat {
                    times,
                    body,
                    least_bits,
                } => {
                    let times = match times {
                        Ok(times) => *times,
                        Err(factor) => {
                            let times = one(self, factor)?;
                            times.ok_or_else(|| self.fault(Fault::UnequalCounts))?
                        }
                    };
                    self.fits(times, *least_bits)?;
                    for _ in 0..times {
                        self.walk(body, one)?;
                    }
                }
            }
        }
        Ok(())
    }

    #[inline]
    fn one(&mut self, field: &Field, subset: usize) -> Result<Option<u64>, BufrError> {
        let bit = self.start + self.reader.at();
        let (raw, value) = self.field(field)?;
        // Not counted: it has a bit of its own at least, a text its octets.
        self.sink.value(subset, field, bit, raw, value);
        Ok(raw)
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
    /// increments, the increments. Its raw bits where they are the same in all.
    fn column(&mut self, field: &Field, subsets: usize) -> Result<Option<u64>, BufrError> {
        let bit = self.start + self.reader.at();
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
            return Ok(least);
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
                    if bits > 32 {
                        return Err(wide(self));
                    }
                    let more = self.reader.get(bits);
                    let more = more.ok_or_else(|| self.end(field, 32))?;
                    let missing = (1_u64 << bits) - 1;
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
        Ok(equal)
    }
}

#[inline]
fn number_value(field: &Field, raw: u64) -> Value {
    if raw == field.ones() && field.can_be_missing() {
        return Value::Missing;
    }
    i64::try_from(raw).map_or(Value::Missing, |raw| Value::Number(raw + field.reference))
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
