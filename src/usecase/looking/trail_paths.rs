//! Which showers stated meteors can belong to by their paths: the camera, the horizon and the radiants brought together. No formula.

use crate::catalogue::handle::Catalogue;
use crate::catalogue::stated_trails::StatedTrail;
use crate::pointing::camera::Camera;
use crate::pointing::trail_shower::answer::Answer;
use crate::pointing::trail_shower::answer::Belongs;
use crate::pointing::trail_shower::answer::belongs;
use crate::pointing::trail_shower::ends::Trail;
use crate::pointing::trail_shower::fits::Candidate;
use crate::pointing::trail_shower::fits::Sense;
use crate::pointing::vector::angle_rad;
use crate::sky::horizon::Horizon;
use crate::sky::look::Looker;
use crate::terms::failure::Failure;
use crate::terms::field::Field;
use crate::terms::field::sheet_column;
use crate::terms::field_kind::FieldKind::Number;
use crate::terms::field_kind::FieldKind::Text;
use crate::terms::field_kind::FieldKind::Whole;
use crate::terms::field_kind::Unit;
use crate::terms::pointing::MeasuredPointing;
use crate::terms::records::Cell;
use crate::terms::shower::ShowerCode;
use crate::terms::site::Place;
use crate::terms::trail::PicturePoint;
use crate::terms::trail::TrailEnds;
use crate::terms::trail::TrailIs;
use crate::usecase::examine::over::camera_of;
use crate::usecase::examine::over::of_stated;
use crate::usecase::examine::over::over_horizon;

/// The width of the picture in which an end is stated to a pixel: ends are pointed at in previews.
const STATED_IN_PX: f64 = 1_620.0;
/// A pointing for a picture of another size by more than this share is of another picture.
const SAME_SIZE: f64 = 0.01;

/// How much is listed of each trail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TrailDetail {
    /// A row.
    Row,
    /// A row for each active radiant, and one for none of them.
    EveryRadiant,
}

/// What the path of a trail says.
#[derive(Clone, Debug, PartialEq)]
pub enum Path {
    /// It is no meteor.
    NoMeteor,
    /// Its shower cannot be told, and why.
    Unknown(&'static str),
    /// The radiants that were compared.
    Compared(Answer),
}

#[rustfmt::skip] // a row a column
pub(super) const RADIANTS: &[Field] = &[
    sheet_column("trail", "trail", Whole(Unit::One), 0),
    sheet_column("file", "file", Text, 0),
    sheet_column("shower", "shower", Text, 0),
    sheet_column("verdict", "verdict", Text, 0),
    sheet_column("probability", "probability", Number(Unit::Fraction), 3),
    sheet_column("miss", "miss_deg", Number(Unit::Degrees), 2),
    sheet_column("+-", "miss_error_deg", Number(Unit::Degrees), 2),
    sheet_column("limit", "limit_deg", Number(Unit::Degrees), 2),
    sheet_column("chance", "chance", Number(Unit::Fraction), 3),
    sheet_column("begins at", "begins_at", Text, 0),
    sheet_column("begin", "begin_deg", Number(Unit::Degrees), 1),
    sheet_column("end", "end_deg", Number(Unit::Degrees), 1),
    sheet_column("begin km", "begin_km", Number(Unit::One), 0),
    sheet_column("end km", "end_km", Number(Unit::One), 0),
    sheet_column("path km", "path_km", Number(Unit::One), 0),
    sheet_column("remark", "remark", Text, 0),
];

impl Path {
    /// Where the trail belongs: `GEM`, `GEM/MON`, `sporadic`; nothing where that is not known.
    pub fn shower(&self) -> Option<String> {
        let Self::Compared(answer) = self else {
            return None;
        };
        match &answer.belongs {
            Belongs::To(shower) => Some(shower.to_string()),
            Belongs::Ambiguous(showers) => {
                let codes: Vec<&str> = showers.iter().map(ShowerCode::as_str).collect();
                Some(codes.join("/"))
            }
            Belongs::Sporadic => Some("sporadic".to_owned()),
            Belongs::Undetermined(_) => None,
        }
    }

    /// Shower or reason, miss distance of the likeliest radiant, its error, and the probability that a sporadic fits as well.
    pub fn cells(&self) -> [Cell; 4] {
        let unknown = || Cell::Unknown;
        match self {
            Self::NoMeteor => [unknown(), unknown(), unknown(), unknown()],
            Self::Unknown(why) => [
                Cell::Text((*why).to_owned()),
                unknown(),
                unknown(),
                unknown(),
            ],
            Self::Compared(answer) => {
                let words = match (&answer.belongs, self.shower()) {
                    (Belongs::Ambiguous(_), Some(showers)) => format!("ambiguous: {showers}"),
                    (Belongs::Undetermined(why), _) => format!("undetermined: {}", why.words()),
                    (_, shower) => shower.unwrap_or_default(),
                };
                let best = answer.fits.first().map(|(fit, _)| fit);
                let number = |value: Option<f64>| value.map_or(Cell::Unknown, Cell::Number);
                [
                    Cell::Text(words),
                    number(best.map(|fit| fit.miss_deg)),
                    number(best.map(|fit| fit.miss_error_deg)),
                    Cell::Number(answer.chance),
                ]
            }
        }
    }
}

/// Every radiant against a trail: a row each, the likeliest that fits first, and one for no shower.
pub(super) fn radiant_rows(
    number: Option<i64>,
    file: Option<&Cell>,
    path: &Path,
) -> Vec<Vec<Cell>> {
    let begin = |shower: String, verdict: String| {
        vec![
            number.map_or(Cell::Unknown, Cell::Whole),
            file.cloned().unwrap_or(Cell::Unknown),
            Cell::Text(shower),
            Cell::Text(verdict),
        ]
    };
    let filled = |mut cells: Vec<Cell>| {
        cells.resize(RADIANTS.len(), Cell::Unknown);
        cells
    };
    let answer = match path {
        Path::NoMeteor => return Vec::new(),
        Path::Unknown(why) => return vec![filled(begin("unknown".to_owned(), (*why).to_owned()))],
        Path::Compared(answer) => answer,
    };
    let mut rows = Vec::new();
    for (fit, probability) in &answer.fits {
        let mut cells = begin(fit.shower.to_string(), fit.verdict.word().to_owned());
        let numbers = [
            *probability,
            fit.miss_deg,
            fit.miss_error_deg,
            fit.limit_deg,
            fit.chance(),
        ];
        cells.extend(numbers.map(Cell::Number));
        cells.push(Cell::Text(
            if fit.turned_round { "--to" } else { "--from" }.to_owned(),
        ));
        cells.extend([fit.begin_deg, fit.end_deg].map(Cell::Number));
        let heights = fit.heights;
        let km = |value: Option<f64>| value.map_or(Cell::Unknown, Cell::Number);
        cells.push(km(heights.map(|one| one.begin_km)));
        cells.push(km(heights.map(|one| one.end_km)));
        cells.push(km(heights.map(|one| one.path_km)));
        let mut remarks = Vec::new();
        if heights.is_some_and(|one| !one.plausible) {
            remarks.push("no meteor flies so");
        }
        if fit.long {
            remarks.push("longer than half its distance");
        }
        cells.push(if remarks.is_empty() {
            Cell::Unknown
        } else {
            Cell::Text(remarks.join("; "))
        });
        rows.push(cells);
    }
    let mut none = begin(
        "sporadic".to_owned(),
        match &answer.belongs {
            Belongs::To(_) => "one shower fits",
            Belongs::Ambiguous(_) => "ambiguous",
            Belongs::Sporadic => "none fits",
            Belongs::Undetermined(why) => why.words(),
        }
        .to_owned(),
    );
    none.push(Cell::Number(answer.sporadic));
    none.extend([Cell::Unknown, Cell::Unknown, Cell::Unknown]);
    none.push(Cell::Number(answer.chance));
    rows.push(filled(none));
    rows
}

/// The showers of the meteors in a frame, by their numbers, where they can be told.
pub(crate) fn showers(
    trails: &[StatedTrail],
    known: &MeasuredPointing,
    horizon: &Horizon,
    place: Place,
) -> Vec<(i64, String)> {
    trails
        .iter()
        .filter_map(|trail| {
            let shower = compared(trail, known, horizon, place).shower()?;
            Some((trail.trail_id, shower))
        })
        .collect()
}

/// What the paths of trails in a frame are compared with.
pub(crate) struct FramePaths {
    over: Option<(Horizon, Place)>,
    known: Option<MeasuredPointing>,
}

impl FramePaths {
    /// Of a frame.
    pub fn of(catalogue: &Catalogue, frame_id: i64, looker: &mut Looker) -> Result<Self, Failure> {
        let over = catalogue
            .frame_to_examine(frame_id)?
            .and_then(|frame| frame.mid_utc.zip(frame.place))
            .and_then(|(at, place)| Some((looker.horizon(at, place)?, place)));
        let known = match (catalogue.stated_pointing(frame_id)?, &over) {
            (Some(stated), Some((horizon, _))) => {
                of_stated(&stated, catalogue.mid_reading(frame_id)?, horizon)
            }
            _ => catalogue.measured_pointing(frame_id)?,
        };
        Ok(Self { over, known })
    }

    /// What the path of a trail says.
    pub fn path(&self, trail: &StatedTrail) -> Path {
        match (&self.over, &self.known) {
            _ if trail.judged.is != TrailIs::Meteor => Path::NoMeteor,
            (None, _) => Path::Unknown("time or place unknown"),
            (_, None) => Path::Unknown("pointing unknown"),
            (Some((horizon, place)), Some(known)) => compared(trail, known, horizon, *place),
        }
    }

    /// The camera among the stars.
    pub fn camera(&self) -> Option<Camera> {
        camera_of(self.known.as_ref()?)
    }

    /// The camera over the horizon, and the sky there.
    pub fn camera_over(&self) -> Option<(Camera, &Horizon)> {
        let (horizon, _) = self.over.as_ref()?;
        Some((over_horizon(self.known.as_ref()?, horizon)?, horizon))
    }

    /// How long a trail is in the sky, in degrees.
    pub fn length_deg(&self, ends: TrailEnds) -> Option<f64> {
        let camera = self.camera()?;
        let direction =
            |point: PicturePoint| camera.unproject((point.x_px() - 0.5, point.y_px() - 0.5));
        Some(angle_rad(direction(ends.from)?, direction(ends.to)?).to_degrees())
    }
}

/// A meteor against the radiants that are active at that time and place.
fn compared(
    trail: &StatedTrail,
    known: &MeasuredPointing,
    horizon: &Horizon,
    place: Place,
) -> Path {
    if trail.judged.is != TrailIs::Meteor {
        return Path::NoMeteor;
    }
    let Some(camera) = over_horizon(known, horizon) else {
        return Path::Unknown("pointing unknown");
    };
    // Stated points count from the outer corner of the first pixel, the camera's from its centre.
    let pixel = |point: PicturePoint| (point.x_px() - 0.5, point.y_px() - 0.5);
    let ends = (pixel(trail.ends.from), pixel(trail.ends.to));
    let outside = |(x, y): (f64, f64)| {
        x > camera.lens.width * (1.0 + SAME_SIZE) || y > camera.lens.height * (1.0 + SAME_SIZE)
    };
    if outside(ends.0) || outside(ends.1) {
        return Path::Unknown("pointing of another picture size");
    }
    let error_px = (camera.lens.width / STATED_IN_PX)
        .max(1.0)
        .hypot(known.residual_px);
    let mut geometric = |seen| horizon.geometric_of_seen(seen);
    let Some(path) = Trail::between(&camera, ends, error_px, &mut geometric) else {
        return Path::Unknown("ends outside what the lens draws");
    };
    let candidates: Vec<Candidate> = horizon
        .radiants()
        .into_iter()
        .map(|radiant| Candidate {
            shower: radiant.shower,
            radiant: radiant.trails_from,
            arrival_kms: radiant.arrival_kms,
            rate: radiant.rate,
            half_size_deg: radiant.half_size_deg,
            along: radiant.along_ecliptic,
        })
        .collect();
    // A photograph does not show which end of a meteor is the first.
    Path::Compared(belongs(
        &path,
        Sense::Unknown,
        &candidates,
        place.elev_m() / 1_000.0,
    ))
}
