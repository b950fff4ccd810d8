//! What a report shows in pictures: radiants, their outlines on the dome, trails cut out, and trails about a radiant. Places in a
//! picture are shares of its width and height as shown, to the right and downward. Fields, no sums.

use crate::terms::picture::Picture;
use crate::terms::shower::ShowerCode;

/// A picture, or why there is none, in words.
pub type PictureOr = Result<Picture, String>;

/// A frame's picture.
#[derive(Clone, Debug)]
pub struct Shown {
    /// Index of the frame in its session.
    pub at: usize,
    /// The picture.
    pub picture: PictureOr,
    /// Radiants, the strongest shower first.
    pub radiants: Vec<RadiantMark>,
}

/// The place that a shower's trails point back to, in a picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RadiantMark {
    /// Which shower's.
    pub shower: ShowerCode,
    /// Where.
    pub place: MarkPlace,
}

/// Where something is as seen from a picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MarkPlace {
    /// Within it.
    Within(f64, f64),
    /// Outside: the direction from the middle of the picture, right and downward, a unit vector.
    Towards(f64, f64),
}

/// The edge of a picture on the sky.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// Altitudes as seen and azimuths of points of it, in degrees; below the horizon 0.
    pub points: Vec<(f64, f64)>,
    /// The middle of the picture.
    pub middle: (f64, f64),
}

/// A trail cut out of its picture.
#[derive(Clone, Debug)]
pub struct CutOut {
    /// The part of the picture around the trail.
    pub picture: PictureOr,
    /// The ends of the trail in it.
    pub ends: [(f64, f64); 2],
}

/// The frame of a trail, as it is listed.
#[derive(Clone, Debug, PartialEq)]
pub struct TrailFrame {
    /// Its session.
    pub session: i64,
    /// Its file.
    pub file: String,
    /// Its start on the axis of its session, in milliseconds.
    pub start_ms: Option<i64>,
}

/// A trail that was found and that nobody has judged.
#[derive(Clone, Debug)]
pub struct Candidate {
    /// Its name: `c17`.
    pub name: String,
    /// Its frame.
    pub frame: TrailFrame,
    /// How likely it is a meteor, 0 to 1.
    pub score: f64,
    /// The shower that it would belong to as a meteor, or why that is not known.
    pub shower: String,
    /// What speaks for it and what is doubtful.
    pub evidence: Vec<String>,
    /// The trail; nothing where pictures are left out.
    pub cut: Option<CutOut>,
}

/// A trail that the photographer judged to be a meteor.
#[derive(Clone, Debug)]
pub struct JudgedMeteor {
    /// Its number.
    pub number: i64,
    /// Its frame.
    pub frame: TrailFrame,
    /// The shower that the photographer stated.
    pub stated: Option<String>,
    /// The shower by its path, or why that is not known.
    pub by_path: String,
    /// How far the path misses that radiant and how well that is known, in degrees.
    pub miss_deg: Option<(f64, f64)>,
    /// Its length on the sky.
    pub length_deg: Option<f64>,
    /// The trail; nothing where pictures are left out.
    pub cut: Option<CutOut>,
}

/// The meteors of a place.
#[derive(Clone, Debug, Default)]
pub struct Meteors {
    /// Those that the photographer judged, in order of time.
    pub judged: Vec<JudgedMeteor>,
    /// One chart for each shower with judged meteors whose frames have a pointing.
    pub charts: Vec<TrailChart>,
    /// The likeliest candidates that nobody has judged, the likeliest first.
    pub candidates: Vec<Candidate>,
    /// How many more there are.
    pub more_candidates: usize,
}

/// Meteors of one shower on the plane that touches the sky at its radiant.
#[derive(Clone, Debug, PartialEq)]
pub struct TrailChart {
    /// Which shower.
    pub shower: ShowerCode,
    /// Half the size of the area that its meteors come from, in degrees.
    pub half_size_deg: f64,
    /// The meteors.
    pub trails: Vec<ChartTrail>,
    /// Numbers of meteors of the shower that are too far from the radiant for the chart.
    pub too_far: Vec<i64>,
}

/// A meteor on such a plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChartTrail {
    /// Its number.
    pub number: i64,
    /// Whether it belongs to this shower alone, by statement or by its path.
    pub sure: bool,
    /// The end nearer to the radiant: towards the east and towards the pole, in radii of the sphere.
    pub near: (f64, f64),
    /// The other end.
    pub far: (f64, f64),
}

/// The greatest distance from the radiant that a chart shows, in degrees: the plane reaches no 90°, and stretches towards it.
pub const CHART_REACH_DEG: f64 = 78.0;
