//! A trail as the photographer states it: its two ends in pixels of the full picture, and what it is.

use crate::terms::shower::ShowerCode;
use crate::terms::words::words;

/// Hundredths of a pixel: finer than a trail can be drawn, and equal in every catalogue.
const PARTS: f64 = 100.0;

/// No picture is larger, in pixels.
const GREATEST_PX: f64 = 1_000_000.0;

/// A point of the full picture as stored, before its orientation is applied: x to the right and y downward from the outer corner
/// of the first pixel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PicturePoint {
    x: i64,
    y: i64,
}

impl PicturePoint {
    /// The point at these pixels, to a hundredth of one; `None` outside every picture.
    pub fn from_px(x_px: f64, y_px: f64) -> Option<Self> {
        let part = |px: f64| {
            #[allow(clippy::cast_possible_truncation)] // bounded just before
            (0.0..=GREATEST_PX)
                .contains(&px)
                .then(|| (px * PARTS).round() as i64)
        };
        Some(Self {
            x: part(x_px)?,
            y: part(y_px)?,
        })
    }

    /// The point at these hundredths of a pixel.
    pub const fn from_parts(x: i64, y: i64) -> Self {
        Self { x, y }
    }

    /// Hundredths of a pixel, x and y.
    pub const fn parts(self) -> (i64, i64) {
        (self.x, self.y)
    }

    /// Pixels to the right.
    pub fn x_px(self) -> f64 {
        self.x as f64 / PARTS
    }

    /// Pixels downward.
    pub fn y_px(self) -> f64 {
        self.y as f64 / PARTS
    }
}

/// The two ends of a trail, the earlier first where that is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TrailEnds {
    /// One end.
    pub from: PicturePoint,
    /// The other.
    pub to: PicturePoint,
}

impl TrailEnds {
    /// Its length in pixels.
    pub fn length_px(self) -> f64 {
        (self.to.x_px() - self.from.x_px()).hypot(self.to.y_px() - self.from.y_px())
    }
}

words! {
    /// What a trail is.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    pub enum TrailIs {
        /// A meteor.
        Meteor = "meteor",
        /// A satellite.
        Satellite = "satellite",
        /// An aircraft.
        Aircraft = "aircraft",
        /// Anything else.
        Other = "other",
    }
}

impl TrailIs {
    /// Its word with an article: `an aircraft`.
    pub const fn with_article(self) -> &'static str {
        match self {
            Self::Meteor => "a meteor",
            Self::Satellite => "a satellite",
            Self::Aircraft => "an aircraft",
            Self::Other => "another trail",
        }
    }
}

/// Where a meteor belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MeteorShower {
    /// To a shower.
    Of(ShowerCode),
    /// To none.
    Sporadic,
}

impl MeteorShower {
    /// The code of the shower, or `sporadic`.
    pub fn word(&self) -> &str {
        match self {
            Self::Of(code) => code.as_str(),
            Self::Sporadic => "sporadic",
        }
    }

    /// From its word.
    pub fn from_word(word: &str) -> Option<Self> {
        if word == "sporadic" {
            return Some(Self::Sporadic);
        }
        ShowerCode::parse(word).map(Self::Of)
    }
}

/// What the photographer says a trail is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Judgement {
    /// What it is.
    pub is: TrailIs,
    /// Where a meteor belongs, if that is stated.
    pub shower: Option<MeteorShower>,
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        #[test]
        fn a_point_is_the_same_after_its_pixels_were_written_and_read(x in 0..=100_000_000_i64, y in 0..=100_000_000_i64) {
            let point = PicturePoint::from_parts(x, y);
            let text = serde_json::json!([point.x_px(), point.y_px()]).to_string();
            let read: Vec<f64> = serde_json::from_str(&text).unwrap();
            proptest::prop_assert_eq!(PicturePoint::from_px(read[0], read[1]), Some(point));
        }
    }

    #[test]
    fn a_point_outside_every_picture_is_none() {
        for wrong in [-0.01, f64::NAN, f64::INFINITY, 1e6 + 1.0] {
            assert_eq!(PicturePoint::from_px(wrong, 1.0), None, "{wrong}");
            assert_eq!(PicturePoint::from_px(1.0, wrong), None, "{wrong}");
        }
    }

    #[test]
    fn words_come_back() {
        for is in TrailIs::ALL {
            assert_eq!(TrailIs::from_word(is.word()), Some(*is));
        }
        for word in ["GEM", "sporadic"] {
            assert_eq!(MeteorShower::from_word(word).unwrap().word(), word);
        }
        assert_eq!(MeteorShower::from_word("Geminids"), None);
    }
}
