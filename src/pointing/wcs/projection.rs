//! Zenithal projections of FITS: from the distance from the reference point to the angle from it. Knows no pixels.

use crate::pointing::vector::Vector;
use crate::pointing::vector::cross;
use crate::pointing::vector::from_angles_rad;
use crate::pointing::vector::plus;
use crate::pointing::vector::scaled;

/// Steps of a search for the angle of a polynomial.
const STEPS: u32 = 200;

/// A projection about a point.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Zenithal {
    /// `TAN`: R = tan(gamma).
    Gnomonic,
    /// `STG`: R = 2 tan(gamma/2).
    Stereographic,
    /// `ARC`: R = gamma.
    Equidistant,
    /// `ZEA`: R = 2 sin(gamma/2).
    EqualArea,
    /// `SIN` without parameters: R = sin(gamma).
    Orthographic,
    /// `ZPN`: R is a polynomial of gamma; its coefficients from the power 0 on.
    Polynomial(Vec<f64>),
}

impl Zenithal {
    /// By the last letters of `CTYPE`.
    pub fn named(name: &str) -> Option<Self> {
        Some(match name {
            "TAN" => Self::Gnomonic,
            "STG" => Self::Stereographic,
            "ARC" => Self::Equidistant,
            "ZEA" => Self::EqualArea,
            "SIN" => Self::Orthographic,
            "ZPN" => Self::Polynomial(Vec::new()),
            _ => return None,
        })
    }

    /// The angle from the reference point in radians, for a distance in radians. Gives nothing where the projection does not reach.
    pub fn angle(&self, distance: f64) -> Option<f64> {
        let within = |x: f64| (x <= 1.0).then_some(x);
        Some(match self {
            Self::Gnomonic => distance.atan(),
            Self::Stereographic => 2.0 * (distance / 2.0).atan(),
            Self::Equidistant => distance,
            Self::EqualArea => 2.0 * within(distance / 2.0)?.asin(),
            Self::Orthographic => within(distance)?.asin(),
            Self::Polynomial(powers) => return of_polynomial(powers, distance),
        })
        .filter(|angle| *angle <= std::f64::consts::PI)
    }
}

/// The smallest angle at which a polynomial has a value, as far as it grows.
fn of_polynomial(powers: &[f64], distance: f64) -> Option<f64> {
    let value = |angle: f64| {
        powers
            .iter()
            .rev()
            .fold(0.0, |sum, power| sum * angle + power)
    };
    let least = value(0.0);
    if distance < least {
        // The reference point itself, drawn a little aside.
        return (least - distance < 1e-9).then_some(0.0);
    }
    // The first stretch on which the value is passed.
    let step = std::f64::consts::PI / f64::from(STEPS);
    let (mut low, mut at_low) = (0.0, least);
    for number in 1..=STEPS {
        let high = step * f64::from(number);
        let at_high = value(high);
        if at_high < at_low {
            return None;
        }
        if at_high >= distance {
            let mut high = high;
            for _ in 0..60 {
                let middle = f64::midpoint(low, high);
                if value(middle) < distance {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            return Some(f64::midpoint(low, high));
        }
        (low, at_low) = (high, at_high);
    }
    None
}

/// Where the reference point is on the sky, and how the plane is turned there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Plane {
    centre: Vector,
    /// Directions of growing x and y at the reference point.
    x: Vector,
    y: Vector,
}

impl Plane {
    /// Takes: right ascension and declination of the reference point, native longitude of the celestial pole.
    ///
    /// Source: Calabretta and Greisen 2002, eq. 2, for projections about a pole: with 180° x points east and y north.
    pub fn at(ra_rad: f64, dec_rad: f64, pole_rad: f64) -> Self {
        let centre = from_angles_rad(ra_rad, dec_rad);
        let east = [-ra_rad.sin(), ra_rad.cos(), 0.0];
        let north = cross(centre, east);
        // The native longitude of a point at position angle q is pole - q.
        let (sin, cos) = (pole_rad - std::f64::consts::PI).sin_cos();
        let mix = |a: f64, b: f64| plus(scaled(east, a), scaled(north, b));
        Self {
            centre,
            x: mix(cos, -sin),
            y: mix(sin, cos),
        }
    }

    /// The direction at an angle from the reference point, towards x and y.
    pub fn direction(&self, angle: f64, (x, y): (f64, f64)) -> Vector {
        let length = x.hypot(y);
        if length == 0.0 {
            return self.centre;
        }
        let (sin, cos) = angle.sin_cos();
        let aside = plus(scaled(self.x, x / length), scaled(self.y, y / length));
        plus(scaled(self.centre, cos), scaled(aside, sin))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn angles_of_each_projection() {
        let tan = |deg: f64| deg.to_radians().tan();
        for (name, distance, deg) in [
            ("TAN", tan(50.0), 50.0),
            ("STG", 2.0 * tan(40.0), 80.0),
            ("ARC", 95_f64.to_radians(), 95.0),
            ("ZEA", 2.0 * 45_f64.to_radians().sin(), 90.0),
            ("SIN", 0.5, 30.0),
        ] {
            let found = Zenithal::named(name).unwrap().angle(distance).unwrap();
            assert!((found.to_degrees() - deg).abs() < 1e-9, "{name} {found}");
        }
        assert_eq!(Zenithal::named("AIT"), None);
        assert_eq!(Zenithal::EqualArea.angle(2.1), None);
    }

    #[test]
    fn a_polynomial_is_followed_as_far_as_it_grows() {
        let one = Zenithal::Polynomial(vec![0.0, 1.0, 0.0, -0.1]);
        let found = one.angle(1.0 - 0.1).unwrap();
        assert!((found - 1.0).abs() < 1e-12);
        // Its greatest value is 1.217 at 1.826.
        assert_eq!(one.angle(1.3), None);
        assert_eq!(Zenithal::Polynomial(Vec::new()).angle(0.5), None);
    }
}
