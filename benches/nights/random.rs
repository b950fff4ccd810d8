//! Random numbers that are the same everywhere: `SplitMix64`.
//!
//! Source: G. L. Steele, D. Lea, C. H. Flood 2014, OOPSLA 453 (constants from memory).

/// A stream of random numbers.
pub struct Random(u64);

impl Random {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Even in 0..1.
    pub fn share(&mut self) -> f32 {
        (self.bits() >> 40) as f32 / (1_u64 << 24) as f32
    }

    pub fn between(&mut self, low: f32, high: f32) -> f32 {
        low + (high - low) * self.share()
    }

    /// Close to normal: the sum of four even numbers of 16 bits. Fast, and no tails beyond 3.5.
    pub fn normal(&mut self) -> f32 {
        let bits = self.bits();
        let sum: u32 = (0..4)
            .map(|k| (bits >> (16 * k)) as u16)
            .map(u32::from)
            .sum();
        (sum as f32 / 65_535.0 - 2.0) * 3.0_f32.sqrt()
    }

    /// How many events of so many expected.
    pub fn count(&mut self, expected: f32) -> usize {
        let limit = (-expected).exp();
        let (mut product, mut count) = (self.share(), 0);
        while product > limit {
            product *= self.share();
            count += 1;
        }
        count
    }

    pub fn chance(&mut self, of: f32) -> bool {
        self.share() < of
    }
}

/// Smooth noise over the plane: values of a lattice, blended, in three octaves. 0 to 1.
pub struct Field(u64);

impl Field {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn lattice(&self, x: i64, y: i64) -> f32 {
        let key = (x as u64).wrapping_mul(0x1656_67B1_9E37_79F9)
            ^ (y as u64).wrapping_mul(0x27D4_EB2F_1656_67C5);
        Random::new(self.0 ^ key).share()
    }

    fn octave(&self, x: f32, y: f32) -> f32 {
        let (fx, fy) = (x.floor(), y.floor());
        let smooth = |t: f32| t * t * (3.0 - 2.0 * t);
        let (sx, sy) = (smooth(x - fx), smooth(y - fy));
        let (i, j) = (fx as i64, fy as i64);
        let top = self.lattice(i, j) * (1.0 - sx) + self.lattice(i + 1, j) * sx;
        let low = self.lattice(i, j + 1) * (1.0 - sx) + self.lattice(i + 1, j + 1) * sx;
        top * (1.0 - sy) + low * sy
    }

    pub fn at(&self, x: f32, y: f32) -> f32 {
        (self.octave(x, y)
            + 0.5 * self.octave(2.1 * x + 7.0, 2.1 * y)
            + 0.25 * self.octave(4.3 * x, 4.3 * y + 3.0))
            / 1.75
    }
}
