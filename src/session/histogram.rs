//! A histogram of pixel values.

/// How many pixels have each of the 256 values.
pub struct Histogram([u32; 256]);

impl Default for Histogram {
    fn default() -> Self {
        Self([0; 256])
    }
}

impl Histogram {
    /// Adds the pixels of another histogram.
    pub fn add(&mut self, other: &Self) {
        for (own, more) in self.0.iter_mut().zip(&other.0) {
            *own += more;
        }
    }

    /// Counts pixels of these values.
    pub fn extend(&mut self, values: &[u8]) {
        for value in values {
            self.0[usize::from(*value)] += 1;
        }
    }

    fn count(&self) -> u32 {
        self.0.iter().sum()
    }

    /// The value below which this share of the pixels is.
    pub fn at_share(&self, share: f64) -> f64 {
        let wanted = f64::from(self.count()) * share;
        let mut below = 0.0;
        let reached = self.0.iter().position(|count| {
            below += f64::from(*count);
            below > wanted
        });
        reached.unwrap_or(255) as f64
    }

    /// The mean of the middle half of the pixels, so that stars, hot pixels and dark specks do not count.
    pub fn middle_mean(&self) -> f64 {
        let count = self.count();
        // Four times the number of pixels counted up to a value.
        let (mut below, mut counted, mut sum) = (0, count, 0_u64);
        for (value, of) in (0_u64..).zip(&self.0) {
            below += of;
            let next = (4 * below).clamp(count, 3 * count);
            sum += value * u64::from(next - counted);
            counted = next;
        }
        sum as f64 / f64::from(2 * count).max(1.0)
    }
}
