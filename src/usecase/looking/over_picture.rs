//! What the page to look shows over a picture and beside it: the paths and the evidence of its trails, radiants, great circles, names of
//! stars; and how a neighbouring frame is turned into its place. No formula: the camera is `pointing`'s, the sky is `sky`'s.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::stated_trails::StatedTrail;
use crate::pointing::camera::Camera;
use crate::pointing::stars::stars;
use crate::pointing::vector::Vector;
use crate::pointing::vector::angle_rad;
use crate::pointing::vector::cross;
use crate::pointing::vector::turned_about;
use crate::pointing::vector::unit;
use crate::sky::horizon::Horizon;
use crate::sky::look::Looker;
use crate::terms::failure::Failure;
use crate::terms::night::NightFrame;
use crate::terms::records::Cell;
use crate::terms::shower::ShowerCode;
use crate::terms::trail::MeteorShower;
use crate::terms::trail::TrailIs;
use crate::trails::words::doubt_words;
use crate::trails::words::evidence_words;
use crate::usecase::looking::trail_list::as_stated;
use crate::usecase::looking::trail_paths::FramePaths;
use crate::usecase::looking::trail_paths::Path;

/// A point of the full picture as stored, in pixels from the outer corner of its first pixel.
pub type Point = (f64, f64);

/// Stars fainter than this are not named.
const NAMED_TO_MAG: f64 = 3.5;
/// As many stars are named at most.
const NAMED: usize = 14;
/// How far a great circle is drawn beyond the trail, and its steps, in degrees.
const CIRCLE_DEG: (f64, f64) = (30.0, 1.0);
/// How far outside the picture a great circle is followed, as a share of its width.
const MARGIN: f64 = 0.3;
/// Milliseconds of a Julian year, and years of 2000.0 after 1970.
const YEAR: (f64, f64) = (365.25 * 86_400_000.0, 30.0);
/// Nodes of the grid by which a frame is turned into the place of another: in a row, and rows.
pub const GRID: (usize, usize) = (9, 7);

/// A trail by its number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TrailNumber {
    /// A stated trail.
    Stated(i64),
    /// A candidate.
    Candidate(i64),
}

/// What is known of a trail.
#[derive(Clone, Debug, PartialEq)]
pub struct TrailFacts {
    /// Which.
    pub number: TrailNumber,
    /// Its length in the sky, in degrees.
    pub length_deg: Option<f64>,
    /// The showers that its path fits, or why that is not known; for meteors.
    pub path: Option<String>,
    /// How far its path misses the likeliest radiant, and one sigma of it, in degrees.
    pub miss_deg: Option<(f64, f64)>,
    /// What speaks for what it is taken for.
    pub evidence: Vec<String>,
    /// What makes it doubtful.
    pub doubts: Vec<String>,
    /// The great circle through the radiant and the trail, where a radiant is likely.
    pub circle: Vec<Point>,
}

/// A radiant and a picture.
#[derive(Clone, Debug, PartialEq)]
pub struct RadiantOver {
    /// Whose.
    pub shower: ShowerCode,
    /// Where trails point back to, if that is in the picture.
    pub at: Option<Point>,
    /// Which way it is from the middle of the picture, right and down: a vector of length 1.
    pub towards: Point,
    /// How far it is from the middle of the picture, in degrees.
    pub away_deg: f64,
}

/// What is over a picture.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OverPicture {
    /// The frame's own facts, and the sky over it.
    pub frame: Option<NightFrame>,
    /// Whether it is known where the camera pointed.
    pub is_pointing_known: bool,
    /// Its trails: stated ones, then candidates.
    pub trails: Vec<TrailFacts>,
    /// Radiants over the horizon.
    pub radiants: Vec<RadiantOver>,
    /// Names of bright stars, and where they are.
    pub stars: Vec<(&'static str, Point)>,
}

/// Reads what is over the picture of a frame.
pub fn over_picture(catalogue: &Catalogue, frame_id: i64) -> Result<OverPicture, Failure> {
    let mut looker = Looker::new();
    let paths = FramePaths::of(catalogue, frame_id, &mut looker)?;
    let over = paths.camera_over();
    let signs = catalogue.sky_signs(frame_id)?.unwrap_or_default();
    let mut trails = Vec::new();
    for stated in catalogue.trails_of(frame_id)? {
        let number = TrailNumber::Stated(stated.trail_id);
        trails.push(facts(number, &stated, &paths, over.as_ref()));
    }
    for kept in catalogue.found_trails(frame_id)? {
        let Some(stated) = as_stated(&kept) else {
            continue;
        };
        let number = TrailNumber::Candidate(kept.trail_id);
        let mut facts = facts(number, &stated, &paths, over.as_ref());
        facts.evidence = evidence_words(&kept.trail.evidence, kept.trail.class);
        facts.doubts = doubt_words(&kept.trail.evidence, &signs);
        trails.push(facts);
    }
    let frame = catalogue.night_frame(frame_id)?;
    let years = frame
        .as_ref()
        .and_then(|frame| frame.mid_utc)
        .map_or(0.0, |at| at.unix_ms() as f64 / YEAR.0 - YEAR.1);
    Ok(OverPicture {
        frame,
        is_pointing_known: paths.camera().is_some(),
        trails,
        radiants: over
            .as_ref()
            .map(|(camera, horizon)| radiants(camera, horizon))
            .unwrap_or_default(),
        stars: match (&over, paths.camera()) {
            (Some((camera, horizon)), _) => named(
                camera,
                |star| Some(horizon.seen(star)).filter(|at| at[2] > 0.0),
                years,
            ),
            (None, Some(camera)) => named(&camera, Some, years),
            (None, None) => Vec::new(),
        },
    })
}

fn facts(
    number: TrailNumber,
    trail: &StatedTrail,
    paths: &FramePaths,
    over: Option<&(Camera, &Horizon)>,
) -> TrailFacts {
    let path = paths.path(trail);
    let [words, miss, error, _] = path.cells();
    let of_shower = match trail.judged.shower {
        Some(MeteorShower::Of(shower)) => Some(shower),
        Some(MeteorShower::Sporadic) => None,
        None => likeliest(&path),
    };
    let circle = over.zip(of_shower).and_then(|((camera, horizon), shower)| {
        (trail.judged.is == TrailIs::Meteor).then(|| circle(camera, horizon, trail, shower))
    });
    TrailFacts {
        number,
        length_deg: paths.length_deg(trail.ends),
        path: match words {
            Cell::Text(words) => Some(words),
            _ => None,
        },
        miss_deg: match (miss, error) {
            (Cell::Number(miss), Cell::Number(error)) => Some((miss, error)),
            _ => None,
        },
        evidence: Vec::new(),
        doubts: Vec::new(),
        circle: circle.unwrap_or_default(),
    }
}

fn likeliest(path: &Path) -> Option<ShowerCode> {
    match path {
        Path::Compared(answer) => answer.fits.first().map(|(fit, _)| fit.shower),
        _ => None,
    }
}

/// The great circle from a radiant through the middle of a trail, as far as it is in the picture or near it.
fn circle(
    camera: &Camera,
    horizon: &Horizon,
    trail: &StatedTrail,
    shower: ShowerCode,
) -> Vec<Point> {
    let (from, to) = (trail.ends.from, trail.ends.to);
    let middle = (
        f64::midpoint(from.x_px(), to.x_px()) - HALF,
        f64::midpoint(from.y_px(), to.y_px()) - HALF,
    );
    let radiants = horizon.radiants();
    let radiant = radiants.iter().find(|one| one.shower == shower);
    let Some((radiant, middle)) = radiant.zip(camera.unproject(middle)) else {
        return Vec::new();
    };
    let start = radiant.trails_from;
    let axis = unit(cross(start, middle));
    let whole_deg = angle_rad(start, middle).to_degrees() + CIRCLE_DEG.0;
    let mut points = Vec::new();
    let mut at_deg = 0.0;
    while at_deg <= whole_deg {
        let direction = turned_about(start, axis, f64::to_radians(at_deg));
        points.extend(
            camera
                .project_within(direction, MARGIN * camera.lens.width)
                .map(from_corner),
        );
        at_deg += CIRCLE_DEG.1;
    }
    points
}

fn radiants(camera: &Camera, horizon: &Horizon) -> Vec<RadiantOver> {
    let lens = &camera.lens;
    let middle = camera.unproject(((lens.width - 1.0) / 2.0, (lens.height - 1.0) / 2.0));
    let Some(middle) = middle else {
        return Vec::new();
    };
    horizon
        .radiants()
        .into_iter()
        .filter(|radiant| radiant.trails_from[2] > 0.0)
        .map(|radiant| {
            let towards = radiant.trails_from;
            RadiantOver {
                shower: radiant.shower,
                at: camera.project_within(towards, 0.0).map(from_corner),
                towards: camera.bearing(towards),
                away_deg: angle_rad(middle, towards).to_degrees(),
            }
        })
        .collect()
}

fn named(
    camera: &Camera,
    seen: impl Fn(Vector) -> Option<Vector>,
    years: f64,
) -> Vec<(&'static str, Point)> {
    let mut all: Vec<(&'static str, Point)> = Vec::new();
    for star in stars().iter().take_while(|star| star.v_mag <= NAMED_TO_MAG) {
        let pixel = seen(star.direction(years)).and_then(|at| camera.project_within(at, 0.0));
        let Some((name, pixel)) = star.name.zip(pixel) else {
            continue;
        };
        // Two stars of a double have one name.
        if all.len() < NAMED && !all.iter().any(|(known, _)| *known == name) {
            all.push((name, from_corner(pixel)));
        }
    }
    all
}

/// Where the nodes of a grid over the picture of `shown` are in the picture of `other`, by the stars: rows of [`GRID`], both in
/// pixels of their full pictures. `None` where it is not known where one of the cameras pointed.
pub fn turned_grid(
    catalogue: &Catalogue,
    shown: i64,
    other: i64,
) -> Result<Option<Vec<Option<Point>>>, Failure> {
    let mut looker = Looker::new();
    let mut camera = |frame_id| -> Result<Option<Camera>, Failure> {
        Ok(FramePaths::of(catalogue, frame_id, &mut looker)?.camera())
    };
    let Some((shown, other)) = camera(shown)?.zip(camera(other)?) else {
        return Ok(None);
    };
    let share = |k: usize, of: usize| k as f64 / (of - 1) as f64;
    let nodes = (0..GRID.0 * GRID.1).map(|node| {
        let x = share(node % GRID.0, GRID.0) * shown.lens.width - HALF;
        let y = share(node / GRID.0, GRID.1) * shown.lens.height - HALF;
        other.project(shown.unproject((x, y))?).map(from_corner)
    });
    Ok(Some(nodes.collect()))
}

/// A camera's pixels count from the centre of the first one, points of the page from its outer corner.
const HALF: f64 = 0.5;

fn from_corner((x, y): (f64, f64)) -> Point {
    (x + HALF, y + HALF)
}
