//! Fits the weights of a small net with one layer of hidden sums, by gradient descent with momentum and a step for each weight.
//!
//! Source: D. P. Kingma, J. Ba 2015, ICLR (arXiv:1412.6980), from memory.

use crate::random::Random;

/// A meteor, a moving light, another light, noise.
const CLASSES: usize = 4;
/// Sums in the middle.
const HIDDEN: usize = 16;
/// Measures, the first of them always one.
pub const MEASURES: usize = 37;
/// How hard weights are held near zero, how many steps are made, how long they are at first and at last.
const HOLD: f32 = 3e-4;
const STEPS: i32 = 2_500;
const STEP: (f32, f32) = (0.02, 0.002);

/// A line to be fitted: its measures, what it truly is, how much it counts.
pub struct Row {
    pub measures: [f32; MEASURES],
    pub class: usize,
    pub weight: f32,
}

/// The weights of a net.
#[derive(Clone)]
pub struct Net {
    /// From the measures to the hidden sums.
    pub first: [[f32; HIDDEN]; MEASURES],
    /// From the measures to the classes.
    pub straight: [[f32; CLASSES]; MEASURES],
    /// From the hidden sums to the classes.
    pub last: [[f32; CLASSES]; HIDDEN],
}

impl Net {
    fn zero() -> Self {
        Self {
            first: [[0.0; HIDDEN]; MEASURES],
            straight: [[0.0; CLASSES]; MEASURES],
            last: [[0.0; CLASSES]; HIDDEN],
        }
    }

    fn all(&mut self) -> impl Iterator<Item = &mut f32> {
        let first = self.first.iter_mut().flatten();
        let straight = self.straight.iter_mut().flatten();
        first.chain(straight).chain(self.last.iter_mut().flatten())
    }

    /// The hidden sums and the probabilities of the classes.
    pub fn of(&self, measures: &[f32; MEASURES]) -> ([f32; HIDDEN], [f32; CLASSES]) {
        let mut hidden = [0.0; HIDDEN];
        let mut sums = [0.0; CLASSES];
        for (k, measure) in measures.iter().enumerate() {
            for (sum, weight) in hidden.iter_mut().zip(self.first[k]) {
                *sum += measure * weight;
            }
            for (sum, weight) in sums.iter_mut().zip(self.straight[k]) {
                *sum += measure * weight;
            }
        }
        let hidden = hidden.map(f32::tanh);
        for (value, weights) in hidden.iter().zip(self.last) {
            for (sum, weight) in sums.iter_mut().zip(weights) {
                *sum += value * weight;
            }
        }
        let most = sums.iter().copied().fold(f32::MIN, f32::max);
        let shares = sums.map(|sum| (sum - most).exp());
        let all: f32 = shares.iter().sum();
        (hidden, shares.map(|share| share / all))
    }

    /// Its table of weights: noise has none, for only differences count.
    pub fn print(&self) {
        let row = |weights: &[f32]| {
            let words: Vec<String> = weights.iter().map(|w| format!("{w:.3}")).collect();
            words.join(", ")
        };
        let less = |weights: &[f32; CLASSES]| {
            let noise = weights[CLASSES - 1];
            row(&weights[..CLASSES - 1]
                .iter()
                .map(|w| w - noise)
                .collect::<Vec<_>>())
        };
        for (first, straight) in self.first.iter().zip(&self.straight) {
            println!("    ([{}], [{}]),", row(first), less(straight));
        }
        println!();
        for last in &self.last {
            println!("    [{}],", less(last));
        }
    }
}

/// Fits a net on some lines.
pub fn fitted(rows: &[Row], seed: u64) -> Net {
    // Measures of different sizes are made alike.
    let mut middle = [0.0_f32; MEASURES];
    let mut spread = [1.0_f32; MEASURES];
    for k in 1..MEASURES {
        let count = rows.len() as f64;
        let mean = rows
            .iter()
            .map(|row| f64::from(row.measures[k]))
            .sum::<f64>()
            / count;
        let off = |row: &Row| (f64::from(row.measures[k]) - mean).powi(2);
        let square = rows.iter().map(off).sum::<f64>() / count;
        (middle[k], spread[k]) = (mean as f32, square.sqrt() as f32 + 1e-6);
    }
    let alike: Vec<[f32; MEASURES]> = rows
        .iter()
        .map(|row| std::array::from_fn(|k| (row.measures[k] - middle[k]) / spread[k]))
        .collect();
    let total: f32 = rows.iter().map(|row| row.weight).sum();
    let mut random = Random::new(seed);
    let mut net = Net::zero();
    net.all().for_each(|weight| *weight = 0.2 * random.normal());
    net.straight = [[0.0; CLASSES]; MEASURES];
    let (mut means, mut squares) = (Net::zero(), Net::zero());
    for step in 1..=STEPS {
        let mut slope = Net::zero();
        for (measures, row) in alike.iter().zip(rows) {
            let (hidden, shares) = net.of(measures);
            let scale = row.weight / total;
            let off: [f32; CLASSES] =
                std::array::from_fn(|c| (shares[c] - f32::from(u8::from(c == row.class))) * scale);
            let back: [f32; HIDDEN] = std::array::from_fn(|h| {
                let sum: f32 = off.iter().zip(net.last[h]).map(|(o, w)| o * w).sum();
                slope.last[h]
                    .iter_mut()
                    .zip(off)
                    .for_each(|(s, o)| *s += hidden[h] * o);
                sum * (1.0 - hidden[h] * hidden[h])
            });
            for (k, measure) in measures.iter().enumerate() {
                slope.first[k]
                    .iter_mut()
                    .zip(back)
                    .for_each(|(s, b)| *s += measure * b);
                slope.straight[k]
                    .iter_mut()
                    .zip(off)
                    .for_each(|(s, o)| *s += measure * o);
            }
        }
        let along = step as f32 / STEPS as f32;
        let pace = STEP.0 * (1.0 - along) + STEP.1 * along;
        let moments = means.all().zip(squares.all());
        for ((weight, slope), (mean, square)) in net.all().zip(slope.all()).zip(moments) {
            let g = *slope + HOLD * *weight;
            *mean = 0.9 * *mean + 0.1 * g;
            *square = 0.999 * *square + 0.001 * g * g;
            let (m, s) = (
                *mean / (1.0 - 0.9_f32.powi(step)),
                *square / (1.0 - 0.999_f32.powi(step)),
            );
            *weight -= pace * m / (s.sqrt() + 1e-8);
        }
    }
    // For measures as they are.
    for k in 1..MEASURES {
        net.first[k] = net.first[k].map(|w| w / spread[k]);
        net.straight[k] = net.straight[k].map(|w| w / spread[k]);
        for h in 0..HIDDEN {
            net.first[0][h] -= net.first[k][h] * middle[k];
        }
        for c in 0..CLASSES {
            net.straight[0][c] -= net.straight[k][c] * middle[k];
        }
    }
    net
}
