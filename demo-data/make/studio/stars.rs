//! An invented starry sky: position, brightness and colour of each star. None of these stars exists.

use super::heavens::{Arrow, arrow, dot, to_length_one};
use super::random::Draws;

/// How many single stars are sown.
const SOWN: usize = 15_000;
/// The faintest magnitude.
const FAINTEST: f64 = 7.2;
/// The galaxy's north pole and centre at J2000.0, in degrees (192.86, +27.13 and 266.40, -28.94, from memory).
const GALACTIC_POLE: (f64, f64) = (192.86, 27.13);
/// See [`GALACTIC_POLE`].
const GALACTIC_CENTRE: (f64, f64) = (266.40, -28.94);

/// One star.
#[derive(Clone, Copy)]
pub struct Star {
    /// Direction among the stars.
    pub towards: Arrow,
    /// Light, 1 for magnitude 0.
    pub light: f64,
    /// Red, green, blue; the greatest is 1.
    pub tint: [f64; 3],
}

/// The invented sky.
pub struct StarField {
    /// All stars, in the order of sowing.
    pub stars: Vec<Star>,
    /// Towards the galaxy's north pole.
    pub galactic_pole: Arrow,
    /// Towards the galaxy's centre.
    pub galactic_centre: Arrow,
}

impl StarField {
    /// Sows the sky. There is only one, the same every time.
    pub fn sow() -> Self {
        let mut draws = Draws::new(0x57a2_f1e1);
        let galactic_pole = arrow(GALACTIC_POLE.0, GALACTIC_POLE.1);
        let mut stars = Vec::with_capacity(SOWN + 400);
        while stars.len() < SOWN {
            let up = draws.between(-1.0, 1.0).asin().to_degrees();
            let towards = arrow(draws.between(0.0, 360.0), up);
            let from_plane_deg = dot(towards, galactic_pole).asin().to_degrees().abs();
            if draws.unit() < 0.35 + 0.65 * (-from_plane_deg / 14.0).exp() {
                let light = some_light(&mut draws, FAINTEST);
                stars.push(star(towards, light, &mut draws));
            }
        }
        // Loose clusters, so that the eye finds a knot here and there.
        for _ in 0..14 {
            let up = draws.between(-0.9, 0.9).asin().to_degrees();
            let centre = arrow(draws.between(0.0, 360.0), up);
            let spread = draws.between(0.008, 0.022);
            for _ in 0..draws.bits() % 14 + 8 {
                let off = [0, 1, 2].map(|k| centre[k] + spread * draws.grain());
                let light = some_light(&mut draws, 5.6);
                stars.push(star(to_length_one(off), light, &mut draws));
            }
        }
        Self {
            stars,
            galactic_pole,
            galactic_centre: arrow(GALACTIC_CENTRE.0, GALACTIC_CENTRE.1),
        }
    }
}

/// Three times as many stars from one magnitude to the next, as in the real sky (common practice, no source).
fn some_light(draws: &mut Draws, faintest: f64) -> f64 {
    let magnitude = (faintest + draws.unit().max(1e-6).log10() / 0.48).max(-1.2);
    10.0_f64.powf(-0.4 * magnitude)
}

/// From blue-white through white to orange, with few at either end.
fn star(towards: Arrow, light: f64, draws: &mut Draws) -> Star {
    let warmth = 0.5 + 0.26 * draws.grain();
    let tint = if warmth < 0.5 {
        let cold = (0.5 - warmth).min(0.5);
        [1.0 - 1.1 * cold, 1.0 - 0.5 * cold, 1.0]
    } else {
        let warm = (warmth - 0.5).min(0.5);
        [1.0, 1.0 - 0.7 * warm, 1.0 - 1.4 * warm]
    };
    Star {
        towards,
        light,
        tint,
    }
}
