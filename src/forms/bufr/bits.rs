//! Bits, most significant first.

/// Writes bits.
#[derive(Debug, Default)]
pub(super) struct Writer {
    pub(super) bytes: Vec<u8>,
    pub(super) tail: Tail,
}

/// The last bits, which are no whole word yet.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Tail {
    /// Right-aligned; fewer than 64 between calls. What stands above them is pushed out by
    /// those that follow.
    kept: u64,
    bits: u32,
}

impl Tail {
    /// The `width` low bits of `value`; at most 56, the others must be zero.
    #[inline]
    pub(super) fn put(&mut self, bytes: &mut Vec<u8>, value: u64, width: u32) {
        debug_assert!(width <= 56 && value >> width == 0);
        let bits = self.bits + width;
        if bits < 64 {
            self.kept = (self.kept << width) | value;
            self.bits = bits;
            return;
        }
        // The word is full; what is over begins the next.
        let over = bits - 64;
        let word = (self.kept << (width - over)) | (value >> over);
        bytes.extend_from_slice(&word.to_be_bytes());
        self.kept = value;
        self.bits = over;
    }
}

impl Writer {
    pub(super) fn with_capacity(octets: usize) -> Self {
        Self {
            bytes: Vec::with_capacity(octets),
            ..Self::default()
        }
    }

    /// The `width` low bits of `value`, as [`Tail::put`].
    #[inline]
    pub(super) fn put(&mut self, value: u64, width: u32) {
        self.tail.put(&mut self.bytes, value, width);
    }

    /// Bits written so far.
    pub(super) fn at(&self) -> usize {
        self.bytes.len() * 8 + usize::try_from(self.tail.bits).unwrap_or(0)
    }

    /// The octets, the last one filled up with zero bits.
    pub(super) fn finish(mut self) -> Vec<u8> {
        let Tail { kept, bits } = self.tail;
        if bits > 0 {
            let octets = usize::try_from(bits.div_ceil(8)).unwrap_or(8);
            let last = (kept << (64 - bits)).to_be_bytes();
            self.bytes.extend(last.iter().take(octets));
        }
        self.bytes
    }
}

/// Reads bits.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reader<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Reader<'a> {
    pub(super) const fn new(bytes: &'a [u8]) -> Self {
        Self { bytes, at: 0 }
    }

    /// Bits read so far.
    pub(super) const fn at(&self) -> usize {
        self.at
    }

    /// Bits that are left.
    pub(super) const fn left(&self) -> usize {
        self.bytes.len() * 8 - self.at
    }

    /// The next bits, at most 56; `None` when there are fewer.
    #[inline]
    pub(super) fn get(&mut self, width: u32) -> Option<u64> {
        let octet = self.at / 8;
        let skip = u32::try_from(self.at % 8).unwrap_or(0);
        let word = match self.bytes.get(octet..octet + 8) {
            Some(eight) => u64::from_be_bytes(eight.try_into().ok()?),
            None => {
                if self.left() < usize::try_from(width).ok()? {
                    return None;
                }
                let mut word = [0; 8];
                let rest = self.bytes.get(octet..).unwrap_or_default();
                for (to, from) in word.iter_mut().zip(rest) {
                    *to = *from;
                }
                u64::from_be_bytes(word)
            }
        };
        self.at += usize::try_from(width).ok()?;
        Some(if width == 0 {
            0
        } else {
            (word << skip) >> (64 - width)
        })
    }

    /// The next octets.
    pub(super) fn octets(&mut self, count: usize) -> Option<Vec<u8>> {
        if self.left() / 8 < count {
            return None;
        }
        (0..count)
            .map(|_| self.get(8).and_then(|b| u8::try_from(b).ok()))
            .collect()
    }
}
