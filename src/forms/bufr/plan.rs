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

/// Fields that are moved at once, the first in the highest bits.
#[derive(Default)]
struct Word {
    slots: Vec<Slot>,
    width_bits: u32,
}

/// One pass: the words of its fields.
pub(super) struct Plan {
    words: Vec<Word>,
    fields: usize,
    width_bits: usize,
}

impl Plan {
    /// The plan of nodes that are numbers alone, where it is worth making.
    pub(super) fn of(nodes: &[Node], passes: u64) -> Option<Self> {
        if passes < LEAST_PASSES || nodes.is_empty() {
            return None;
        }
        let mut words = vec![Word::default()];
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
            if words.last()?.width_bits + width > WORD_BITS {
                words.push(Word::default());
            }
            let word = words.last_mut()?;
            for before in &mut word.slots {
                before.shift += width;
            }
            word.width_bits += width;
            word.slots.push(slot);
            width_bits += usize::try_from(width).ok()?;
        }
        Some(Self {
            words,
            fields: nodes.len(),
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
            && let Some((own, after)) = left.split_at_checked(self.fields)
        {
            let before = (bytes.len(), tail);
            let mut own = own.iter();
            for word in &self.words {
                let mut together = 0;
                for (slot, value) in word.slots.iter().zip(own.by_ref()) {
                    let Some(raw) = slot.raw(value) else {
                        bytes.truncate(before.0);
                        tail = before.1;
                        break 'passes;
                    };
                    together |= raw << slot.shift;
                }
                tail.put(bytes, together, word.width_bits);
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
        into.reserve(count * self.fields + BEHIND);
        for _ in 0..passes {
            for word in &self.words {
                let together = bits.get(word.width_bits).unwrap_or(0);
                let value = |slot: &Slot| slot.value((together >> slot.shift) & slot.ones);
                into.extend(word.slots.iter().map(value));
            }
        }
        passes
    }
}
