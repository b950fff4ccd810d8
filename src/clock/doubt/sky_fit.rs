//! What the stars in one picture say of an error of the clock, as evidence: hours that put them above the horizon, the shift that puts
//! the Moon or a planet where the picture shows it. Knows no picture; the caller measures.

use crate::terms::day::HOUR_MS;

/// After this many milliseconds the stars stand as before.
///
/// Source: the mean sidereal day, 86164.09 s (IERS Conventions 2010, from memory).
const SIDEREAL_DAY_MS: i64 = 86_164_090;
/// What it costs to put the stars below the horizon, or to tilt the camera as nobody does, as logarithms. Not more: the site may be
/// wrong instead.
///
/// Source: our choice.
const BELOW: f64 = -2.5;
const TILTED: f64 = -0.7;
/// How likely the spot is another one, or the measure is off by far more than its error.
///
/// Source: our choice.
const NOT_IT: f64 = 0.03;

/// What one picture says.
#[derive(Clone, Debug, PartialEq)]
pub enum SkyFit {
    /// Whole hours later, of a day about the frame's time.
    Hours {
        /// At which its stars are above the horizon.
        above: Vec<i32>,
        /// At which its camera is level or upright.
        level: Vec<i32>,
    },
    /// A body of the sky is where the picture shows it.
    Body {
        /// So much later.
        later_ms: i64,
        /// One sigma of it.
        error_ms: i64,
    },
}

impl SkyFit {
    /// The evidence for a shift, as a logarithm: 0 where it fits, less where it does not.
    pub fn weight(&self, later_ms: i64) -> f64 {
        match self {
            Self::Hours { above, level } => {
                let of_day = (later_ms + SIDEREAL_DAY_MS / 2).rem_euclid(SIDEREAL_DAY_MS);
                let hours = (of_day - SIDEREAL_DAY_MS / 2 + HOUR_MS / 2).div_euclid(HOUR_MS);
                let fits = |list: &[i32]| list.iter().any(|hour| i64::from(*hour) == hours);
                let cost = |fits: bool, cost: f64| if fits { 0.0 } else { cost };
                cost(fits(above), BELOW) + cost(fits(level) || level.is_empty(), TILTED)
            }
            Self::Body {
                later_ms: fits,
                error_ms,
            } => {
                let off = (later_ms - fits) as f64 / (*error_ms).max(1) as f64;
                (NOT_IT + (1.0 - NOT_IT) * (-0.5 * off * off).exp()).ln()
            }
        }
    }
}

/// The evidence of several pictures of one night: as much as that of their middle one, since a wrong site or a lamp misleads them all.
pub fn evidence(fits: &[SkyFit], later_ms: i64) -> f64 {
    let mean = |is_body: bool| {
        let weights: Vec<f64> = fits
            .iter()
            .filter(|fit| matches!(fit, SkyFit::Body { .. }) == is_body)
            .map(|fit| fit.weight(later_ms))
            .collect();
        weights.iter().sum::<f64>() / weights.len().max(1) as f64
    };
    mean(false) + mean(true)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_fits_weighs_nothing_and_what_does_not_weighs_against_it() {
        let moon = SkyFit::Body {
            later_ms: -3 * HOUR_MS,
            error_ms: HOUR_MS / 3,
        };
        assert!(moon.weight(-3 * HOUR_MS) > -0.01);
        assert!(moon.weight(0) < -3.0 && moon.weight(-9 * HOUR_MS) < -3.0);
        let stars = SkyFit::Hours {
            above: (-6..=2).collect(),
            level: vec![-1, 0, 1],
        };
        assert!(stars.weight(0).abs() < 1e-9);
        assert!((stars.weight(-5 * HOUR_MS) - TILTED).abs() < 1e-9);
        assert!((stars.weight(8 * HOUR_MS) - BELOW - TILTED).abs() < 1e-9);
        // A wrong date leaves the stars where they were.
        assert!(stars.weight(30 * 24 * HOUR_MS - 2 * HOUR_MS).abs() < 1e-9);
        assert!((evidence(&[stars.clone(), stars, moon], 0) - NOT_IT.ln()).abs() < 0.1);
        assert!(evidence(&[], 0).abs() < 1e-9);
    }
}
