//! Trails that were found in a picture, and the state of its sky. Fields, no formulas.

use crate::terms::trail::PicturePoint;
use crate::terms::trail::TrailEnds;
use crate::terms::words::words;

words! {
    /// What a line of light is taken for.
    #[derive(Clone, Copy, Debug, PartialEq, Eq)]
    pub enum TrailClass {
        /// A meteor.
        Meteor = "meteor",
        /// A satellite or an aircraft.
        MovingLight = "moving-light",
        /// Anything else: lamps, fireflies, branches, edges of clouds, noise.
        OtherLight = "other-light",
    }
}

/// What was measured of a line of light.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TrailEvidence {
    /// Its length in pixels of the searched picture.
    pub length_px: f32,
    /// Its whole light in units of its noise.
    pub line_snr: f32,
    /// Its mean light in units of the noise of a pixel.
    pub mean_snr: f32,
    /// The brightest five pixels of it, the same.
    pub peak_snr: f32,
    /// Where along it it is brightest, 0 to 1 from the nearer end: 0 to 0.5.
    pub peak_at: f32,
    /// Share of its known pixels that are lit.
    pub lit: f32,
    /// Share of its pixels that no star hides.
    pub seen: f32,
    /// Root mean square of its light off the line, in pixels.
    pub off_line_px: f32,
    /// How far its middle bends off the line through its ends, in pixels.
    pub bend_px: f32,
    /// Its width at half maximum in pixels.
    pub width_px: f32,
    /// Light beside it, as a share of its own.
    pub beside: f32,
    /// Light at its two ends, as a share of its middle.
    pub ends: f32,
    /// The fainter end against the brighter one.
    pub lopsided: f32,
    /// How often its light rises and falls again.
    pub peaks: f32,
    /// How restless its pixels are, 1 for none.
    pub unrest: f32,
    /// Share of it over places where stars are seen.
    pub starry: f32,
    /// How many of its ends are at the edge of the picture.
    pub edge: f32,
    /// Light that goes on beyond an end in a neighbour, where a moving light would be: in units of the noise.
    pub goes_on: f32,
    /// The same, the weaker of the two sides.
    pub goes_on_both: f32,
    /// The same two frames away.
    pub goes_on_far: f32,
    /// Light on the line in the neighbours, at any place beyond its ends.
    pub on_line: f32,
    /// Light that stays in place afterwards, in units of the noise.
    pub stays: f32,
    /// A like line beside it in the frames before and after, as a share of its own light.
    pub twin: f32,
    /// How many other lines were found in the frame.
    pub others: f32,
    /// How many neighbours there were to compare with, 0 to 4.
    pub neighbours: f32,
    /// In how many of the frames from two before to two after a line lies on its path, in the order in which one light would draw them.
    pub linked: f32,
    /// Of how many dashes in a row it consists.
    pub dashes: f32,
    /// How many lines in all frames the same moving light drew, with this one.
    pub chain: f32,
    /// In what share of the frames near this one a like line was found at its place.
    pub again: f32,
    /// How many lines were found around it in each of the frames near this one.
    pub crowd: f32,
}

/// The light along a trail, in equal parts from its first end to its second.
///
/// Each part is a mean in units of the noise of a pixel; nothing where stars hide it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LightCurve(pub [Option<f32>; Self::PARTS]);

impl LightCurve {
    /// How many parts there are.
    pub const PARTS: usize = 16;

    /// Numbers with one decimal, separated by spaces; a hidden part is `-`.
    pub fn words(&self) -> String {
        self.0
            .map(|part| part.map_or("-".to_owned(), |light| format!("{light:.1}")))
            .join(" ")
    }

    /// From such words. Gives: nothing where they are none.
    pub fn from_words(words: &str) -> Option<Self> {
        let mut curve = Self::default();
        let mut parts = words.split(' ');
        for part in &mut curve.0 {
            *part = match parts.next()? {
                "-" => None,
                light => Some(light.parse().ok()?),
            };
        }
        parts.next().is_none().then_some(curve)
    }
}

/// A trail that was found in a picture.
#[derive(Clone, Debug, PartialEq)]
pub struct FoundTrail {
    /// One end in pixels of the full picture as stored, from the outer corner of its first pixel: to the right and downwards.
    pub from_px: (f64, f64),
    /// The other end.
    pub to_px: (f64, f64),
    /// What it is taken for.
    pub class: TrailClass,
    /// How likely it is a meteor, 0 to 1.
    pub score: f64,
    /// The moving light that drew it, by a number within its session; nothing for a line alone.
    pub light: Option<u32>,
    /// What speaks for it and against it; lengths are pixels of the full picture.
    pub evidence: TrailEvidence,
    /// The light along it.
    pub light_curve: LightCurve,
}

impl FoundTrail {
    /// Its ends as those of a stated trail.
    pub fn ends(&self) -> Option<TrailEnds> {
        let point = |(x, y)| PicturePoint::from_px(x, y);
        Some(TrailEnds {
            from: point(self.from_px)?,
            to: point(self.to_px)?,
        })
    }
}

/// What the search for trails gave for one frame.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SearchedFrame {
    /// Edition of the search.
    pub edition: u32,
    /// Why the frame was not searched.
    pub why_not: Option<&'static str>,
    /// Why it is the first of another segment than the frame before.
    pub began: Option<&'static str>,
    /// Whether its segment ends with it, or begins: what is found is less sure.
    pub at_end: bool,
    /// Share of the sky that shows its usual stars, 0 to 1.
    pub clear: Option<f64>,
    /// Brightness of the sky in stops against the median of its segment.
    pub sky_stops: Option<f64>,
    /// What is noticed of its sky: words of [`SKY_SIGNS`].
    pub signs: Vec<&'static str>,
    /// Trails.
    pub trails: Vec<FoundTrail>,
}

/// The sky of a frame of a session, as its picture shows it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SessionSky {
    /// The catalogue's number.
    pub frame_id: i64,
    /// Its session.
    pub session_id: i64,
    /// Its file's name.
    pub file: String,
    /// Share of its sky that shows its usual stars.
    pub clear: Option<f64>,
    /// What is noticed: words of [`SKY_SIGNS`], separated by spaces.
    pub signs: String,
}

impl SessionSky {
    /// Whether something is noticed.
    pub fn has(&self, sign: &str) -> bool {
        self.signs.split(' ').any(|word| word == sign)
    }
}

/// What may be noticed of the sky of a frame.
pub const SKY_SIGNS: &[&str] = &["cloud", "dew", "focus", "shaken", "light"];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_light_curve_is_read_as_it_was_written() {
        let mut curve = LightCurve([Some(0.5); LightCurve::PARTS]);
        (curve.0[3], curve.0[7]) = (None, Some(12.5));
        assert!(curve.words().starts_with("0.5 0.5 0.5 - 0.5"));
        assert_eq!(LightCurve::from_words(&curve.words()), Some(curve));
        for none in ["", "1.0 2.0", "x", &format!("{} 1.0", curve.words())] {
            assert_eq!(LightCurve::from_words(none), None);
        }
    }
}
