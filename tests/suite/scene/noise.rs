//! Sensor-like noise from a fixed integer generator: the same on every machine.

/// A sequence of pseudo-random integers (an additive step followed by a mixing
/// of the bits; the constants are those in common use for 64-bit mixing).
#[derive(Clone, Debug)]
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut x = self.0;
        x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        x ^ (x >> 31)
    }

    /// Nearly normal, mean 0, standard deviation 1, within ±3.5: the sum of
    /// four 16-bit pieces.
    fn normal(&mut self) -> f64 {
        let bits = self.next();
        let sum: f64 = [bits, bits >> 16, bits >> 32, bits >> 48]
            .into_iter()
            .map(|piece| u16::try_from(piece & 0xFFFF).map_or(0.0, f64::from) / 65_536.0 - 0.5)
            .sum();
        sum * 3.0_f64.sqrt()
    }
}

/// Noise with a memory: each value keeps a share of the one before.
#[derive(Clone, Debug)]
pub struct Wander {
    dice: Dice,
    memory: f64,
    size: f64,
    now: f64,
}

impl Wander {
    /// Standard deviation `size`, correlation `memory` from row to row.
    pub fn new(seed: u64, size: f64, memory: f64) -> Self {
        Self {
            dice: Dice(seed),
            memory,
            size,
            now: 0.0,
        }
    }

    /// The next value.
    pub fn step(&mut self) -> f64 {
        let fresh = (1.0 - self.memory * self.memory).sqrt();
        self.now = self.memory * self.now + fresh * self.dice.normal();
        self.size * self.now
    }
}
