//! Fits the weights of the four classes: a logistic sum for each, by gradient descent with momentum and a step for each weight.
//!
//! Source: D. P. Kingma, J. Ba 2015, ICLR (arXiv:1412.6980), from memory.

use crate::Figures;

/// A meteor, a moving light, another light, noise.
const CLASSES: usize = 4;
/// How hard weights are held near zero, how many steps are made, how long they are.
const HOLD: f64 = 1e-3;
const STEPS: i32 = 3_000;
const STEP: f64 = 0.02;

/// Fits on the lines of some nights, whose meteors were rendered so many times too often, and prints the table.
pub fn print(nights: &[(Figures, f32)]) {
    let mut rows: Vec<(&[f32], usize, f64)> = Vec::new();
    for (figures, more) in nights {
        for line in &figures.lines {
            let class = line.truly();
            let weight = if class == 0 {
                1.0 / f64::from(*more)
            } else {
                1.0
            };
            rows.push((&line.measures, class, weight));
        }
    }
    let count = rows.first().map_or(0, |row| row.0.len());
    let total: f64 = rows.iter().map(|row| row.2).sum();
    // Measures of different sizes are made alike.
    let mut middle = vec![0.0; count];
    let mut spread = vec![1.0; count];
    for k in 1..count {
        let mean = rows.iter().map(|row| f64::from(row.0[k])).sum::<f64>() / rows.len() as f64;
        let square = rows
            .iter()
            .map(|row| (f64::from(row.0[k]) - mean).powi(2))
            .sum::<f64>()
            / rows.len() as f64;
        (middle[k], spread[k]) = (mean, square.sqrt() + 1e-6);
    }
    let mut weights = vec![[0.0_f64; CLASSES]; count];
    let mut slopes = vec![[(0.0_f64, 0.0_f64); CLASSES]; count];
    for step in 1..=STEPS {
        let mut gradient = vec![[0.0_f64; CLASSES]; count];
        for (measures, class, weight) in &rows {
            let alike = |k: usize| (f64::from(measures[k]) - middle[k]) / spread[k];
            let mut sums = [0.0_f64; CLASSES];
            for k in 0..count {
                for (sum, w) in sums.iter_mut().zip(weights[k]) {
                    *sum += alike(k) * w;
                }
            }
            let most = sums.iter().copied().fold(f64::MIN, f64::max);
            let shares = sums.map(|sum| (sum - most).exp());
            let all: f64 = shares.iter().sum();
            for k in 0..count {
                for c in 0..CLASSES {
                    let off = shares[c] / all - f64::from(u8::from(c == *class));
                    gradient[k][c] += alike(k) * off * weight / total;
                }
            }
        }
        for k in 0..count {
            for c in 0..CLASSES {
                let g = gradient[k][c] + HOLD * weights[k][c];
                let (mean, square) = &mut slopes[k][c];
                *mean = 0.9 * *mean + 0.1 * g;
                *square = 0.999 * *square + 0.001 * g * g;
                let (m, s) = (
                    *mean / (1.0 - 0.9_f64.powi(step)),
                    *square / (1.0 - 0.999_f64.powi(step)),
                );
                weights[k][c] -= STEP * m / (s.sqrt() + 1e-8);
            }
        }
    }
    let mut table: Vec<[f64; CLASSES]> = (0..count)
        .map(|k| weights[k].map(|w| w / spread[k]))
        .collect();
    for k in 1..count {
        for c in 0..CLASSES {
            table[0][c] -= table[k][c] * middle[k];
        }
    }
    for [meteor, moving, other, noise] in table {
        let [a, b, c] = [meteor, moving, other].map(|weight| weight - noise);
        println!("    [{a:.3}, {b:.3}, {c:.3}],");
    }
}
