//! From a measured pointing to what follows of it at a time and a place: which way the frame looked over the horizon, where the
//! radiants are in it. No formula: the camera is `pointing`'s, the sky is `sky`'s.

use crate::pointing::camera::Camera;
use crate::pointing::elapsed::TURN_RAD_S;
use crate::pointing::law::Law;
use crate::pointing::lens::Lens;
use crate::pointing::region::holds;
use crate::pointing::region::hull;
use crate::pointing::vector::cross;
use crate::pointing::vector::product;
use crate::pointing::vector::transposed;
use crate::pointing::vector::turned_about;
use crate::sky::horizon::Horizon;
use crate::terms::pointing::DerivedPointing;
use crate::terms::pointing::FittedTo;
use crate::terms::pointing::MeasuredPointing;
use crate::terms::pointing::RadiantPlace;
use crate::terms::stated_pointing::Mount;
use crate::terms::stated_pointing::StatedPointing;
use crate::terms::time::WallTime;

/// A camera as it is kept.
pub(super) fn measured(
    camera: &Camera,
    fitted_to: FittedTo,
    (matched, residual_px, log_odds): (usize, f64, f64),
    images: &[(f64, f64)],
) -> MeasuredPointing {
    let lens = &camera.lens;
    MeasuredPointing {
        fitted_to,
        law: lens.law.word().to_owned(),
        f_px: lens.f_px,
        k1: lens.k1,
        k2: lens.k2,
        cx_px: lens.cx,
        cy_px: lens.cy,
        width_px: lens.width,
        height_px: lens.height,
        right: camera.rows[0],
        forward: camera.rows[2],
        matched: u32::try_from(matched).unwrap_or(u32::MAX),
        residual_px,
        log_odds,
        region: hull(images),
    }
}

/// A camera fitted to the horizon, turned back among the stars: what the Earth's turn does not change.
pub(super) fn among_stars(camera: &Camera, horizon: &Horizon) -> Camera {
    Camera {
        lens: camera.lens,
        rows: product(&camera.rows, &horizon.axes()),
    }
}

/// What follows of a measured pointing at a time and a place. Gives nothing where the kept lens is none of ours.
pub(crate) fn derived(kept: &MeasuredPointing, horizon: &Horizon) -> Option<DerivedPointing> {
    let camera = over_horizon(kept, horizon)?;
    // The middle of the picture, not the optical axis: that is what a photographer points.
    let middle = ((kept.width_px - 1.0) / 2.0, (kept.height_px - 1.0) / 2.0);
    let attitude = camera.looking_at(middle)?;
    let radiants = horizon
        .radiants()
        .into_iter()
        .map(|radiant| {
            let pixel = camera.project(radiant.among_stars);
            // Far from the few stars that it was fitted to, a weak pointing knows no place to a pixel.
            let known = |pixel: &(f64, f64)| kept.holds_everywhere() || holds(&kept.region, *pixel);
            RadiantPlace {
                shower: radiant.shower,
                pixel: pixel.filter(known),
                trails_from: camera.project(radiant.trails_from).filter(known),
                in_picture: pixel.is_some_and(|pixel| camera.lens.contains(pixel, 0.0)),
            }
        })
        .collect();
    Some(DerivedPointing {
        alt_deg: attitude.alt.deg(),
        az_deg: attitude.az.deg(),
        roll_deg: attitude.roll.deg(),
        radiants,
    })
}

/// A stated pointing for a frame whose clock showed this at mid-exposure: the sky turned over a tripod since the frame that was
/// solved. Gives nothing where one of the two clocks is not known.
pub(crate) fn of_stated(
    stated: &StatedPointing,
    mid_reading: Option<WallTime>,
    horizon: &Horizon,
) -> Option<MeasuredPointing> {
    let later_s = match (stated.mount, stated.solved_local) {
        (Mount::Tracked, _) | (Mount::Tripod, None) => 0.0,
        (Mount::Tripod, Some(solved)) => {
            (mid_reading?.reading_ms() - solved.reading_ms()) as f64 / 1000.0
        }
    };
    let turn = |direction| turned_about(direction, horizon.pole(), later_s * TURN_RAD_S);
    let solved = solved(stated);
    Some(MeasuredPointing {
        right: turn(solved.right),
        forward: turn(solved.forward),
        ..solved
    })
}

/// A stated pointing of the frame that was solved.
pub(crate) fn solved(stated: &StatedPointing) -> MeasuredPointing {
    MeasuredPointing {
        fitted_to: FittedTo::Stars,
        law: stated.law.clone(),
        f_px: stated.f_px,
        k1: stated.k1,
        k2: stated.k2,
        cx_px: stated.centre_px.0,
        cy_px: stated.centre_px.1,
        width_px: stated.size_px.0,
        height_px: stated.size_px.1,
        right: stated.right,
        forward: stated.forward,
        matched: 0,
        residual_px: stated.residual_px,
        log_odds: 0.0,
        region: Vec::new(),
    }
}

/// The camera of a kept pointing among the stars. Gives nothing where the kept lens is none of ours.
pub(crate) fn camera_of(kept: &MeasuredPointing) -> Option<Camera> {
    let lens = Lens {
        law: Law::parse(&kept.law)?,
        f_px: kept.f_px,
        k1: kept.k1,
        k2: kept.k2,
        cx: kept.cx_px,
        cy: kept.cy_px,
        width: kept.width_px,
        height: kept.height_px,
    };
    Some(Camera {
        lens,
        rows: [kept.right, cross(kept.forward, kept.right), kept.forward],
    })
}

/// A camera among the stars at one instant, as it looks at another: standing still over the ground.
pub(super) fn carried_by_earth(camera: &Camera, from: &Horizon, to: &Horizon) -> Camera {
    let over = product(&camera.rows, &transposed(&from.axes()));
    Camera {
        lens: camera.lens,
        rows: product(&over, &to.axes()),
    }
}

/// The camera of a frame over the horizon, refraction included.
pub(crate) fn over_horizon(kept: &MeasuredPointing, horizon: &Horizon) -> Option<Camera> {
    let camera = camera_of(kept)?;
    match kept.fitted_to {
        FittedTo::Horizon => Some(Camera {
            lens: camera.lens,
            rows: product(&camera.rows, &transposed(&horizon.axes())),
        }),
        FittedTo::Stars => camera.carried(&mut |direction| horizon.seen(direction)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sky::look::Looker;
    use crate::terms::site::Place;
    use crate::terms::time::Utc;

    /// A wide picture with many radiants in it, and what is told of them with so many stars.
    #[test]
    fn a_weak_pointing_tells_places_between_its_stars_only() {
        let at = Utc::parse("2023-12-14T09:12:14.5Z").unwrap();
        let place = Place::new(38.93, -116.01, 1905.0).unwrap();
        let horizon = Looker::new().horizon(at, place).unwrap();
        let over = Camera {
            lens: Lens::plain(Law::Equisolid, 1_500.0, (6_000.0, 4_000.0)),
            rows: [[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]],
        };
        let corners = [
            (0.0, 0.0),
            (3_000.0, 0.0),
            (3_000.0, 4_000.0),
            (0.0, 4_000.0),
        ];
        let mut kept = measured(
            &among_stars(&over, &horizon),
            FittedTo::Horizon,
            (10, 1.0, 60.0),
            &corners,
        );
        let weak = derived(&kept, &horizon).unwrap().radiants;
        kept.matched = 100;
        let good = derived(&kept, &horizon).unwrap().radiants;
        let mut withheld = 0;
        for (weak, good) in weak.iter().zip(&good) {
            let Some(place) = good.pixel else {
                continue;
            };
            let expect = (0.0..=3_000.0).contains(&place.0) && (0.0..=4_000.0).contains(&place.1);
            assert_eq!(weak.pixel.is_some(), expect, "{good:?}");
            assert_eq!(weak.in_picture, good.in_picture);
            withheld += usize::from(!expect);
        }
        assert!(withheld > 0 && withheld < good.len(), "{good:?}");
    }
}
