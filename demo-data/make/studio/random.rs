//! Draws that look like chance and are the same on every computer and every run. Not for secrets.

/// A small generator of repeatable draws.
///
/// Source: the `SplitMix64` step, Steele, Lea and Flood 2014 (from memory).
pub struct Draws {
    state: u64,
}

impl Draws {
    /// Starts a row of draws. Equal seeds give equal rows.
    pub fn new(seed: u64) -> Self {
        Self {
            state: mix(seed ^ 0x5bd1_e995_0f3a_77c1),
        }
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        mix(self.state)
    }

    /// A number from 0 (included) to 1 (excluded), even.
    pub fn unit(&mut self) -> f64 {
        fraction(self.bits())
    }

    /// A number from `low` to `high`, even.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A number scattered about 0 with a standard deviation of 1, never beyond 3.5 of them.
    ///
    /// The sum of four even draws: near enough to a bell for the grain of a picture, and without a logarithm.
    pub fn grain(&mut self) -> f64 {
        let bits = self.bits();
        let sum: u64 = (0..4).map(|k| (bits >> (16 * k)) & 0xffff).sum();
        (sum as f64 / 65_535.0 - 2.0) * 3.0_f64.sqrt()
    }
}

/// A number from 0 to 1 that belongs to a point of a grid: the seed of landscapes and clouds.
pub fn at_point(seed: u64, x: i64, y: i64) -> f64 {
    let here = mix(seed ^ mix(x.cast_unsigned().wrapping_mul(0x9e37_79b9_7f4a_7c15)));
    fraction(mix(
        here ^ y.cast_unsigned().wrapping_mul(0xc2b2_ae3d_27d4_eb4f)
    ))
}

/// A smooth random surface from 0 to 1 with one bump to a unit of length.
pub fn surface(seed: u64, x: f64, y: f64) -> f64 {
    #[allow(clippy::cast_possible_truncation)] // coordinates are small numbers of bumps
    let (column, row) = (x.floor() as i64, y.floor() as i64);
    let along = ease(x - x.floor());
    let across = |row| {
        blend(
            at_point(seed, column, row),
            at_point(seed, column + 1, row),
            along,
        )
    };
    blend(across(row), across(row + 1), ease(y - y.floor()))
}

/// The straight line from `from` (at 0) to `to` (at 1).
pub fn blend(from: f64, to: f64, share: f64) -> f64 {
    from + (to - from) * share
}

/// Runs from 0 to 1 with level ends, and stays there outside.
pub fn ease(share: f64) -> f64 {
    let s = share.clamp(0.0, 1.0);
    s * s * (3.0 - 2.0 * s)
}

fn fraction(bits: u64) -> f64 {
    (bits >> 11) as f64 / (1_u64 << 53) as f64
}

fn mix(seed: u64) -> u64 {
    let mut z = seed;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}
