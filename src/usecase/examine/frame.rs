//! One frame: its picture decoded, stars found, the camera's direction found out. The order of the steps.

use std::borrow::Cow;

use crate::capture::claims::Allowance;
use crate::capture::picture::Limits;
use crate::capture::picture::Room;
use crate::capture::preview::NoPreview;
use crate::capture::preview::read_preview;
use crate::picture::bars::Area;
use crate::picture::bars::area;
use crate::picture::find::EDITION as STARS_EDITION;
use crate::picture::find::binning;
use crate::picture::find::stars;
use crate::picture::glare::glare;
use crate::pointing::answer::Grade;
use crate::pointing::answer::Hint;
use crate::pointing::answer::Refusal;
use crate::pointing::answer::Solution;
use crate::pointing::camera::Camera;
use crate::pointing::horizon::over_horizon;
use crate::pointing::lone::lone_images;
use crate::pointing::solve::EDITION as SOLUTION_EDITION;
use crate::pointing::solve::LEAST_IMAGES;
use crate::pointing::solve::solve;
use crate::sky::look::Looker;
use crate::terms::pointing::FittedTo;
use crate::terms::pointing::FrameToExamine;
use crate::terms::pointing::MeasuredGlare;
use crate::terms::pointing::MeasuredPicture;
use crate::terms::pointing::MeasuredPointing;
use crate::terms::site::Place;
use crate::terms::star_image::Grey;
use crate::terms::star_image::StarField;
use crate::terms::time::Utc;
use crate::trails::search::View;
use crate::trails::segments::Facts;
use crate::trails::window::Held;
use crate::usecase::examine::over::among_stars;
use crate::usecase::examine::over::camera_of;
use crate::usecase::examine::over::carried_by_earth;
use crate::usecase::examine::over::measured;

/// The edition of all that is measured in a picture.
pub(crate) const EDITION: u32 =
    10_000 * GLARE_EDITION + 100 * STARS_EDITION as u32 + SOLUTION_EDITION as u32;
/// That of spots.
const GLARE_EDITION: u32 = 1;

/// Diagonal of a frame of 36 by 24 mm, in millimetres, to which 35 mm equivalents refer.
const FULL_DIAGONAL_MM: f64 = 43.266_615_305_567_87;
/// Years between 1970 and 2000, and milliseconds in a Julian year.
const YEARS_TO_2000: f64 = 30.0;
const YEAR_MS: f64 = 365.25 * 86_400_000.0;

/// A lens is held for other frames of a session when it was fitted to so many stars.
const HELD_FROM: u32 = 60;

/// What other frames of a session tell of one.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Known {
    /// Focal length in diagonals of the picture.
    pub focal_diagonals: Option<f64>,
    /// The camera among the stars, in pixels of the full picture, and when it looked there.
    pub camera: Option<(Camera, Option<Utc>)>,
    /// Whether it is worth searching all focal lengths where none is known, or the known one leads nowhere.
    pub search_all: bool,
}

impl Known {
    /// Learns from a frame that was examined: the latest direction, the first lens that is known well.
    pub fn learn(&mut self, frame: &FrameToExamine, pointing: &MeasuredPointing) {
        let diagonal = pointing.width_px.hypot(pointing.height_px);
        self.focal_diagonals.get_or_insert(pointing.f_px / diagonal);
        let Some(found) = camera_of(pointing) else {
            return;
        };
        match &mut self.camera {
            Some((camera, at)) => (camera.rows, *at) = (found.rows, frame.mid_utc),
            None if pointing.matched >= HELD_FROM => self.camera = Some((found, frame.mid_utc)),
            None => {}
        }
    }

    /// Where the camera looks if it stood still over the ground, and if its mount followed the stars.
    fn cameras(
        &self,
        frame: &FrameToExamine,
        full: Full,
        field: &StarField,
    ) -> [Option<Camera>; 2] {
        let Some((camera, from)) = self.camera else {
            return [None; 2];
        };
        let (width, height) = (field.width as f64, field.height as f64);
        let followed = Camera {
            lens: camera.lens.resized(1.0 / full.by, 0.0, 0.0, width, height),
            rows: camera.rows,
        };
        // The Earth turns alike everywhere.
        let place = frame.place.or_else(|| Place::new(0.0, 0.0, 0.0));
        let horizon = |at: Option<Utc>| Looker::new().horizon(at?, place?);
        let standing = horizon(from)
            .zip(horizon(frame.mid_utc))
            .map(|(from, to)| carried_by_earth(&followed, &from, &to));
        [standing.or(Some(followed)), Some(followed)]
    }
}

/// What a frame's picture shows.
#[derive(Default)]
pub(super) struct Seen {
    /// Stars, widths, pointing; nothing where only the search for trails was wanted.
    pub measured: Option<MeasuredPicture>,
    /// What the search for trails needs of it; nothing where there is no picture.
    pub held: Option<Held>,
}

/// What is wanted of a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Wanted {
    /// Whether its stars are matched and its measures kept.
    pub measures: bool,
    /// Whether trails are searched in its session.
    pub trails: bool,
}

impl Wanted {
    /// Whether anything is.
    pub fn any(self) -> bool {
        self.measures || self.trails
    }
}

/// Examines a frame. Never fails: why there is nothing to see is an answer.
pub(super) fn examine(frame: &FrameToExamine, number: usize, wanted: Wanted, known: Known) -> Seen {
    if !wanted.any() {
        return Seen::default();
    }
    let empty = MeasuredPicture {
        edition: EDITION,
        ..MeasuredPicture::default()
    };
    let (picture, room) = match picture_of(frame) {
        Ok(picture) => picture,
        Err(why) => {
            let measured = MeasuredPicture {
                why_not: Some(why),
                pointing_word: Some("no-picture"),
                ..empty
            };
            return Seen {
                measured: wanted.measures.then_some(measured),
                held: None,
            };
        }
    };
    let by = binning(picture.width());
    let binned = if by > 1 {
        Cow::Owned(picture.binned(by))
    } else {
        Cow::Borrowed(&picture)
    };
    let field = stars(&binned);
    let full = Full::of(frame, &binned);
    let seen = Seen {
        held: wanted.trails.then(|| held(frame, number, &picture, &field)),
        measured: wanted.measures.then(|| {
            let mut lone_px = Vec::new();
            let answer = find_out(frame, &field, known, full).map(|(solution, years)| {
                let pointing = pointing(frame, &field, &solution, years, full);
                let residual_px = pointing.residual_px / full.by;
                let grade = Grade::of(pointing.matched as usize, residual_px);
                if grade == Grade::Good {
                    let places = lone_images(&field, &solution, years).into_iter();
                    lone_px = places.map(|place| full.place(place)).collect();
                }
                (grade, pointing)
            });
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a level of 0 to 1
            let level = (field.sky_level.clamp(0.0, 1.0) * 255.0) as u8;
            let spot = glare(&binned, level).map(|spot| {
                let (x_px, y_px) = full.place((spot.x, spot.y));
                MeasuredGlare {
                    x_px,
                    y_px,
                    radius_px: spot.radius_px * full.by,
                }
            });
            MeasuredPicture {
                stars: u32::try_from(field.stars.len()).ok(),
                sky_level: Some(field.sky_level),
                star_width_px: field.star_width_px.map(|width| width * full.by),
                corner_width_px: field.corner_width_px.map(|width| width * full.by),
                pointing_word: Some(match &answer {
                    Ok((grade, _)) => grade.word(),
                    Err(refusal) => refusal.word(),
                }),
                pointing: answer.ok().map(|(_, pointing)| pointing),
                glare: spot,
                lone_px,
                ..empty
            }
        }),
    };
    drop(room);
    seen
}

/// The picture of a frame in shades of grey at a working size, without black bars.
///
/// Gives: the picture, and the memory kept for the work on it; or why not, in words.
pub(super) fn picture_of(frame: &FrameToExamine) -> Result<(Grey, Room), String> {
    let limits = Limits {
        allowed: Allowance::PREVIEW,
        stop: None,
    };
    let preview = match frame.preview {
        Some(extent) => read_preview(&frame.path, extent, &limits),
        None => Err(NoPreview::TooSmall),
    };
    let (grey, room) = preview.map_err(|why| match why {
        NoPreview::Missing => "the file is not there".to_owned(),
        NoPreview::TooSmall => "it embeds no picture of 600 pixels or more".to_owned(),
        NoPreview::Unreadable(why) => why,
    })?;
    let shape = match (frame.width_px, frame.height_px) {
        (Some(width), Some(height)) if height > 0 => Some(f64::from(width) / f64::from(height)),
        _ => None,
    };
    let Area {
        left,
        top,
        width,
        height,
    } = area(&grey, shape);
    if (width, height) == (grey.width(), grey.height()) {
        return Ok((grey, room));
    }
    Ok((grey.part(left, top, width, height).unwrap_or(grey), room))
}

/// What the search for trails needs of a frame.
fn held(frame: &FrameToExamine, number: usize, picture: &Grey, field: &StarField) -> Held {
    let view = View::of(picture, field);
    let size = (view.width(), view.height());
    Held {
        number,
        full_by: Full::by_width(frame, picture, size.0),
        facts: Facts {
            start_s: frame.clock_s,
            exposure_s: frame.exposure_s,
            iso: frame.iso,
            size,
            stars: view.stars().to_vec(),
        },
        glance: view.glance(picture, field),
        view,
    }
}

/// The full picture, and how many of its pixels one searched becomes.
#[derive(Clone, Copy)]
struct Full {
    by: f64,
    width: f64,
    height: f64,
}

impl Full {
    /// How many pixels of the full picture one of so many across becomes.
    fn by_width(frame: &FrameToExamine, picture: &Grey, width: usize) -> f64 {
        Self::of(frame, picture).width / width as f64
    }

    /// A place in the full picture.
    fn place(&self, (x, y): (f64, f64)) -> (f64, f64) {
        ((x + 0.5) * self.by - 0.5, (y + 0.5) * self.by - 0.5)
    }

    /// Where the searched picture has another shape than the full one, it stands for itself.
    fn of(frame: &FrameToExamine, searched: &Grey) -> Self {
        let (width, height) = (searched.width() as f64, searched.height() as f64);
        match (
            frame.width_px.map(f64::from),
            frame.height_px.map(f64::from),
        ) {
            (Some(full_width), Some(full_height))
                if (full_width / full_height / (width / height) - 1.0).abs() < 0.02 =>
            {
                Self {
                    by: full_width / width,
                    width: full_width,
                    height: full_height,
                }
            }
            _ => Self {
                by: 1.0,
                width,
                height,
            },
        }
    }
}

/// Which way the picture looks among the stars, and the year of their places.
fn find_out(
    frame: &FrameToExamine,
    field: &StarField,
    known: Known,
    full: Full,
) -> Result<(Solution, f64), Refusal> {
    let diagonal = (field.width as f64).hypot(field.height as f64);
    let years = frame
        .mid_utc
        .map(|at| at.unix_ms() as f64 / YEAR_MS - YEARS_TO_2000);
    let f_px = known
        .focal_diagonals
        .or(focal_diagonals(frame))
        .map(|focal| focal * diagonal);
    let hint = Hint {
        f_px,
        years,
        cameras: known.cameras(frame, full, field),
    };
    let blind = Hint { f_px: None, ..hint };
    let mut answer = match f_px {
        Some(_) => solve(field, hint),
        None if known.search_all => solve(field, blind),
        // The same word as a search would give: which frames are searched depends on where a run began.
        None if field.stars.len() < LEAST_IMAGES => Err(Refusal::TooFewStars),
        None => Err(Refusal::NoMatch),
    };
    if answer == Err(Refusal::NoMatch) && f_px.is_some() && known.search_all {
        answer = solve(field, blind);
    }
    Ok((answer?, years.unwrap_or(20.0)))
}

/// The focal length in diagonals of the picture, as the frame says it.
fn focal_diagonals(frame: &FrameToExamine) -> Option<f64> {
    let written35 = frame.focal35_mm.filter(|mm| *mm > 0.0)?;
    // A lens that the body does not know has its focal length from the photographer.
    let stated = match (frame.focal_mm, frame.focal_written_mm) {
        (Some(stated), Some(written)) if stated > 0.0 && written > 0.0 => stated / written,
        _ => 1.0,
    };
    Some(written35 * stated / FULL_DIAGONAL_MM)
}

/// The solution for the full picture: fitted to the horizon where time and place are known and fit.
fn pointing(
    frame: &FrameToExamine,
    field: &StarField,
    solution: &Solution,
    years: f64,
    full: Full,
) -> MeasuredPointing {
    let horizon = frame
        .mid_utc
        .zip(frame.place)
        .and_then(|(at, place)| Looker::new().horizon(at, place));
    let in_full = |camera: &Camera| Camera {
        lens: camera
            .lens
            .resized(full.by, 0.0, 0.0, full.width, full.height),
        rows: camera.rows,
    };
    if let Some(horizon) = horizon
        && let Ok(over) = over_horizon(field, solution, years, &mut |direction| {
            horizon.seen(direction)
        })
    {
        return measured(
            &among_stars(&in_full(&over.camera), &horizon),
            FittedTo::Horizon,
            (over.matched, over.residual_px * full.by, solution.log_odds),
            &over
                .places
                .into_iter()
                .map(|place| full.place(place))
                .collect::<Vec<_>>(),
        );
    }
    let images = solution
        .matched
        .iter()
        .map(|star| full.place((star.x, star.y)));
    measured(
        &in_full(&solution.camera),
        FittedTo::Stars,
        (
            solution.matched.len(),
            solution.residual_px * full.by,
            solution.log_odds,
        ),
        &images.collect::<Vec<_>>(),
    )
}
