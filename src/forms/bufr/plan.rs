//! Passes of a replication whose fields are numbers alone, as levels are: their widths are
//! known before the data, so that bits are moved by words of several fields.

use super::bits::{Reader, Writer};
use super::node::Node;
use super::{Field, Kind, Value};

/// The most bits of a word: what one call of a reader or writer moves.
const WORD_BITS: u32 = 56;
/// Passes for which a plan is worth making.
const LEAST_PASSES: u64 = 4;

/// Values behind the passes for which there is room at once: of a sounding nearly always all.
pub(super) const BEHIND: usize = 64;

/// What the number of a field takes.
pub(super) struct Slot {
    reference: i64,
    /// One more than the greatest bits; 0 for text, which has no number.
    limit: u64,
    /// The bits of a missing value, where there is one.
    missing: Option<u64>,
    /// All bits one.
    ones: u64,
    /// Bits of the word after these.
    shift: u32,
    /// Bits of the word that begins with these; else 0.
    begins: u32,
}

impl Slot {
    pub(super) fn new(field: &Field) -> Self {
        let missing = field.kind == Kind::Number && field.can_be_missing();
        Self {
            reference: field.reference,
            limit: match field.kind {
                Kind::Text | Kind::Reference | Kind::Absent => 0,
                _ => field.most() + 1,
            },
            missing: missing.then(|| field.ones()),
            ones: field.ones(),
            shift: 0,
            begins: 0,
        }
    }

    /// The bits of a value; `None` for text and what does not fit.
    #[inline]
    pub(super) fn raw(&self, value: &Value) -> Option<u64> {
        match value {
            // One below the reference wraps round and is past the limit, too.
            Value::Number(number) => {
                let raw = number.wrapping_sub(self.reference).cast_unsigned();
                (raw < self.limit).then_some(raw)
            }
            Value::Missing => self.missing,
            Value::Text(_) => None,
        }
    }

    /// The value of bits.
    #[inline]
    fn value(&self, raw: u64) -> Value {
        // What is no number below the limit has all bits one.
        if raw < self.limit {
            Value::Number(raw.cast_signed().wrapping_add(self.reference))
        } else {
            Value::Missing
        }
    }
}

/// One pass: fields that follow each other are moved at once, by words.
pub(super) struct Plan {
    slots: Vec<Slot>,
    /// The fields of each word, and its bits.
    words: Vec<(usize, u32)>,
    width_bits: usize,
}

impl Plan {
    /// The plan of nodes that are numbers alone, where it is worth making.
    pub(super) fn of(nodes: &[Node], passes: u64) -> Option<Self> {
        if passes < LEAST_PASSES || nodes.is_empty() {
            return None;
        }
        let mut slots: Vec<Slot> = Vec::with_capacity(nodes.len());
        let mut words = vec![(0, 0)];
        let mut width_bits = 0;
        for node in nodes {
            let Node::Field(field) = node else {
                return None;
            };
            let (slot, width) = (Slot::new(field), field.width_bits);
            let most = slot.reference.checked_add_unsigned(slot.limit);
            if slot.limit == 0 || width > WORD_BITS || most.is_none() {
                return None;
            }
            if words.last()?.1 + width > WORD_BITS {
                words.push((0, 0));
            }
            let (count, bits) = words.last_mut()?;
            for before in slots.iter_mut().rev().take(*count) {
                before.shift += width;
            }
            slots.push(slot);
            *count += 1;
            *bits += width;
            width_bits += usize::try_from(width).ok()?;
        }
        let mut first = 0;
        for &(count, bits) in &words {
            slots.get_mut(first)?.begins = bits;
            first += count;
        }
        Some(Self {
            slots,
            words,
            width_bits,
        })
    }

    /// Writes passes as long as all values of one are numbers that fit; the number of
    /// passes, and the values that are left.
    pub(super) fn write<'v>(
        &self,
        bits: &mut Writer,
        values: &'v [Value],
        passes: u64,
    ) -> (u64, &'v [Value]) {
        let (mut made, mut left) = (0, values);
        let (bytes, mut tail) = (&mut bits.bytes, bits.tail);
        'passes: while made < passes
            && let Some((own, after)) = left.split_at_checked(self.slots.len())
        {
            let before = (bytes.len(), tail);
            let (mut slots, mut own) = (self.slots.iter(), own.iter());
            for &(count, width_bits) in &self.words {
                let mut together = 0;
                for (slot, value) in slots.by_ref().zip(own.by_ref()).take(count) {
                    let Some(raw) = slot.raw(value) else {
                        bytes.truncate(before.0);
                        tail = before.1;
                        break 'passes;
                    };
                    together |= raw << slot.shift;
                }
                tail.put(bytes, together, width_bits);
            }
            left = after;
            made += 1;
        }
        bits.tail = tail;
        (made, left)
    }

    /// Reads passes if there are bits for all of them; the number of passes.
    pub(super) fn read(&self, bits: &mut Reader<'_>, passes: u64, into: &mut Vec<Value>) -> u64 {
        let count = usize::try_from(passes).unwrap_or(usize::MAX);
        if count.saturating_mul(self.width_bits) > bits.left() {
            return 0;
        }
        into.reserve(count * self.slots.len() + BEHIND);
        for _ in 0..passes {
            let mut word = 0;
            into.extend(self.slots.iter().map(|slot| {
                if slot.begins > 0 {
                    word = bits.get(slot.begins).unwrap_or(0);
                }
                slot.value((word >> slot.shift) & slot.ones)
            }));
        }
        passes
    }
}
