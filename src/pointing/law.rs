//! The laws by which lenses draw angles: from the angle off the optical axis to the distance from the middle.
//!
//! Source: rectilinear, equidistant, equisolid, stereographic projections of lens design, common practice.

/// How a lens draws.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Law {
    /// Straight lines stay straight: r = f tan(theta).
    Rectilinear,
    /// Fisheye, equal angles at equal distances: r = f theta.
    Equidistant,
    /// Fisheye, equal areas: r = 2 f sin(theta/2).
    Equisolid,
    /// Fisheye, shapes kept: r = 2 f tan(theta/2).
    Stereographic,
}

impl Law {
    /// All of them.
    pub const ALL: [Self; 4] = [
        Self::Rectilinear,
        Self::Equidistant,
        Self::Equisolid,
        Self::Stereographic,
    ];

    /// The word that is listed and kept.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Rectilinear => "rectilinear",
            Self::Equidistant => "equidistant",
            Self::Equisolid => "equisolid",
            Self::Stereographic => "stereographic",
        }
    }

    /// The law of a word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|law| law.word() == word)
    }

    /// Distance from the middle in focal lengths, and how fast it grows with the angle, for an angle in radians.
    ///
    /// Gives: nothing from 90° on for a rectilinear lens (89° is taken as the last), and at 180° for the others.
    pub fn radius(self, theta: f64) -> Option<(f64, f64)> {
        let last = match self {
            Self::Rectilinear => 1.553,
            _ => 3.1,
        };
        if theta > last {
            return None;
        }
        Some(match self {
            Self::Rectilinear => {
                let tan = theta.tan();
                (tan, 1.0 + tan * tan)
            }
            Self::Equidistant => (theta, 1.0),
            Self::Equisolid => (2.0 * (theta / 2.0).sin(), (theta / 2.0).cos()),
            Self::Stereographic => {
                let tan = (theta / 2.0).tan();
                (2.0 * tan, 1.0 + tan * tan)
            }
        })
    }

    /// The angle in radians for a distance in focal lengths. Gives nothing where the law does not reach.
    pub fn theta(self, radius: f64) -> Option<f64> {
        let theta = match self {
            Self::Rectilinear => radius.atan(),
            Self::Equidistant => radius,
            Self::Equisolid if radius > 2.0 => return None,
            Self::Equisolid => 2.0 * (radius / 2.0).asin(),
            Self::Stereographic => 2.0 * (radius / 2.0).atan(),
        };
        (theta < 3.1).then_some(theta)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_law_comes_back_and_grows_as_it_says() {
        for law in Law::ALL {
            assert_eq!(Law::parse(law.word()), Some(law));
            for degree in 0..89 {
                let theta = f64::from(degree).to_radians();
                let (radius, slope) = law.radius(theta).unwrap();
                assert!((law.theta(radius).unwrap() - theta).abs() < 1e-12);
                let further = law.radius(theta + 1e-6).unwrap().0;
                assert!(((further - radius) / 1e-6 - slope).abs() < 2e-3 * slope);
            }
        }
        assert_eq!(Law::Rectilinear.radius(1.6), None);
        assert_eq!(Law::Equisolid.theta(2.1), None);
    }
}
