//! What is asked of the room, and what it answers: fields and words.

use crate::pointing::camera::Camera;
use crate::pointing::vector::Vector;
use crate::terms::pointing::GOOD_FROM;

/// A good solution has so many matched stars, and a smaller residual in pixels.
const GOOD: (usize, f64) = (GOOD_FROM, 1.0);

/// What is known beforehand.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Hint {
    /// Focal length in pixels of the picture that is searched, good to some percent.
    pub f_px: Option<f64>,
    /// When it was taken, in Julian years after 2000.0, good to some years: stars move.
    pub years: Option<f64>,
    /// Cameras that another frame of the session makes likely: their common lens as it is, their directions to a few pixels.
    /// Where the stars of one are there, nothing is searched.
    pub cameras: [Option<Camera>; 2],
}

/// How well a solution is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grade {
    /// Everywhere in the picture.
    Good,
    /// Which stars they are is certain; places far from the matched ones are not.
    Weak,
}

impl Grade {
    /// The grade of a fit with so many stars and such a residual in pixels.
    pub fn of(matched: usize, residual_px: f64) -> Self {
        if matched >= GOOD.0 && residual_px < GOOD.1 {
            Self::Good
        } else {
            Self::Weak
        }
    }

    /// The word that is listed and kept.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Weak => "weak",
        }
    }
}

/// A star and its image.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MatchedStar {
    /// Its number in the table of stars.
    pub star: usize,
    /// Its direction; the common one where close stars are one light.
    pub direction: Vector,
    /// Where its image is.
    pub x: f64,
    /// The same, downwards.
    pub y: f64,
}

/// Which way a picture looks among the stars.
#[derive(Clone, Debug, PartialEq)]
pub struct Solution {
    /// The camera; its directions are ICRS.
    pub camera: Camera,
    /// The stars that it was fitted to.
    pub matched: Vec<MatchedStar>,
    /// Root mean square of what is left, in pixels.
    pub residual_px: f64,
    /// Natural logarithm of the odds against chance.
    pub log_odds: f64,
    /// How well it is known.
    pub grade: Grade,
    /// Whether the lens is the expected one, and only the directions were fitted.
    pub lens_held: bool,
}

/// Why a picture's direction is not known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// Too few images to tell stars from anything else.
    TooFewStars,
    /// The images are no stars of the table as any lens draws them, or too few of them are.
    NoMatch,
}

impl Refusal {
    /// The word that is listed and kept.
    pub const fn word(self) -> &'static str {
        match self {
            Self::TooFewStars => "too-few-stars",
            Self::NoMatch => "no-match",
        }
    }
}
