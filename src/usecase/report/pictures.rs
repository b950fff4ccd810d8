//! The pictures of a report: read from the frames' files, turned upright, with the radiants in them. No formula, no HTML.

use crate::capture::claims::Allowance;
use crate::capture::picture::Limits;
use crate::capture::picture::read_picture;
use crate::capture::preview::WORKING_SIDE;
use crate::picture::bars::area;
use crate::report::night::CUT_SIDE;
use crate::report::night::LARGE_SIDE;
use crate::report::night::PICTURE_SIDE;
use crate::report::seen::CutOut;
use crate::report::seen::MarkPlace;
use crate::report::seen::Outline;
use crate::report::seen::RadiantMark;
use crate::terms::night::NightFrame;
use crate::terms::picture::Picture;
use crate::terms::picture::shown_at;
use crate::terms::records::Extent;
use crate::terms::shower::ShowerCode;
use crate::usecase::looking::trail_paths::FramePaths;

/// What a picture of a page may cost.
const PAGE: Limits<'_> = Limits {
    allowed: Allowance::PAGE,
    stop: None,
};

/// The part of a picture around a trail: so many times as long as the trail, and at least this share of the picture's shorter side.
const CUT: (f64, f64) = (1.7, 0.2);
/// No picture is read larger than this for a cut-out, in pixels.
const CUT_FROM: f64 = 2_400.0;
/// Shares of pixels of a cut-out that become black and white.
const BRIGHTENED: (f64, f64) = (0.02, 0.998);
/// The least range of levels that is spread over black to white: noise stays dark.
const LEAST_RANGE: u8 = 48;
/// Pictures of other shapes are not of the whole frame.
const SAME_SHAPE: f64 = 0.02;

/// Points along each edge of an outline.
const ALONG_EDGE: u8 = 24;

/// A frame's embedded picture, upright and small; why there is none, in words.
pub(super) fn small_picture(frame: &NightFrame) -> Result<Picture, String> {
    let extent = frame.thumbnail.or(frame.preview).ok_or_else(none)?;
    let picture = read(frame, extent, PICTURE_SIDE)?;
    Ok(upright(picture.shrunk(usize::from(PICTURE_SIDE)), frame))
}

/// The same, larger.
pub(super) fn large_picture(frame: &NightFrame) -> Result<Picture, String> {
    let picture = read(frame, frame.preview.ok_or_else(none)?, LARGE_SIDE)?;
    Ok(upright(picture.shrunk(usize::from(LARGE_SIDE)), frame))
}

fn none() -> String {
    "no embedded JPEG in this file".to_owned()
}

/// A JPEG of a frame, without black bars.
fn read(frame: &NightFrame, extent: Extent, enough: u16) -> Result<Picture, String> {
    let picture = read_picture(&frame.path, extent, enough, &PAGE)?;
    let shape = full_size(frame).map(|(width, height)| width / height);
    let within = picture.green().map(|green| area(&green, shape));
    let part = within.and_then(|a| picture.part(a.left, a.top, a.width, a.height));
    Ok(part.unwrap_or(picture))
}

fn upright(picture: Picture, frame: &NightFrame) -> Picture {
    match frame.orientation {
        Some(orientation) => picture.upright(orientation),
        None => picture,
    }
}

/// Width and height of the full picture as stored, in pixels.
fn full_size(frame: &NightFrame) -> Option<(f64, f64)> {
    let (width, height) = (f64::from(frame.width_px?), f64::from(frame.height_px?));
    (width > 0.0 && height > 0.0).then_some((width, height))
}

/// The part of a frame's picture around a trail, brightened; its ends are in pixels of the full picture as stored.
pub(super) fn cut_out(frame: &NightFrame, ends_px: [(f64, f64); 2]) -> CutOut {
    let unknown = |why: String| CutOut {
        picture: Err(why),
        ends: [(0.0, 0.0); 2],
    };
    // Where the size of the full picture is not known, trails are in pixels of the picture that was searched.
    let known: Result<(f64, f64), String> = full_size(frame).map_or_else(
        || {
            let searched = read(frame, frame.preview.ok_or_else(none)?, WORKING_SIDE)?;
            Ok((searched.width() as f64, searched.height() as f64))
        },
        Ok,
    );
    let (width, height) = match known {
        Ok(full) => full,
        Err(why) => return unknown(why),
    };
    let [from, to] = ends_px;
    let length = (to.0 - from.0).hypot(to.1 - from.1);
    let side = (CUT.0 * length).max(CUT.1 * width.min(height));
    let span = |a: f64, b: f64, all: f64| {
        let part = side.min(all);
        let start = (f64::midpoint(a, b) - part / 2.0).clamp(0.0, all - part);
        (start, part)
    };
    let (left, wide) = span(from.0, to.0, width);
    let (top, high) = span(from.1, to.1, height);
    let enough = (f64::from(CUT_SIDE) * width.max(height) / side).clamp(240.0, CUT_FROM);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped just before
    let picture = frame
        .preview
        .ok_or_else(none)
        .and_then(|extent| read(frame, extent, enough as u16))
        .and_then(|picture| {
            let (w, h) = (picture.width() as f64, picture.height() as f64);
            if (w / h / (width / height) - 1.0).abs() > SAME_SHAPE {
                return Err("the embedded JPEG shows a part of the frame only".to_owned());
            }
            let pixels = |share: f64, all: f64| (share * all).round().max(0.0) as usize;
            let (x, y) = (pixels(left / width, w), pixels(top / height, h));
            let most = |part: f64, all: usize, at: usize| {
                (part.round() as usize).clamp(1, all.saturating_sub(at).max(1))
            };
            let columns = most(wide / width * w, picture.width(), x);
            let rows = most(high / height * h, picture.height(), y);
            let part = picture.part(x, y, columns, rows).ok_or_else(none)?;
            let small = part.shrunk(usize::from(CUT_SIDE));
            Ok(upright(brightened(small), frame))
        });
    let share = |(x, y): (f64, f64)| {
        shown_at(
            ((x - left) / wide, (y - top) / high),
            (1.0, 1.0),
            frame.orientation,
        )
    };
    CutOut {
        picture,
        ends: ends_px.map(share),
    }
}

/// Levels spread over black to white, all colours alike.
fn brightened(picture: Picture) -> Picture {
    let mut levels = picture.rgb().to_vec();
    levels.sort_unstable();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    // a share of how many there are
    let level = |share: f64| levels[((levels.len() - 1) as f64 * share) as usize];
    let (low, high) = (level(BRIGHTENED.0), level(BRIGHTENED.1));
    let range = u16::from(high.saturating_sub(low).max(LEAST_RANGE));
    let spread = |value: &u8| {
        let above = u16::from(value.saturating_sub(low)) * 255 / range;
        u8::try_from(above).unwrap_or(u8::MAX)
    };
    let rgb = picture.rgb().iter().map(spread).collect();
    Picture::new(picture.width(), picture.height(), rgb).unwrap_or(picture)
}

/// Where trails of showers point back to in a frame's picture as shown: of those that are above the horizon, in the order given.
pub(super) fn radiant_marks(
    frame: &NightFrame,
    paths: &FramePaths,
    showers: &[ShowerCode],
) -> Vec<RadiantMark> {
    let Some((camera, horizon)) = paths.camera_over() else {
        return Vec::new();
    };
    let size = (camera.lens.width, camera.lens.height);
    let shape = size.0 / size.1;
    if full_size(frame).is_some_and(|(w, h)| (w / h / shape - 1.0).abs() > SAME_SHAPE) {
        return Vec::new();
    }
    let radiants = horizon.radiants();
    let mark_of = |towards| {
        let pixel = camera.project(towards);
        if let Some((x, y)) = pixel.filter(|pixel| camera.lens.contains(*pixel, 0.0)) {
            let part = ((x + 0.5) / size.0, (y + 0.5) / size.1);
            let (x, y) = shown_at(part, (1.0, 1.0), frame.orientation);
            MarkPlace::Within(x, y)
        } else {
            let (x, y) = shown_at(camera.bearing(towards), (0.0, 0.0), frame.orientation);
            MarkPlace::Towards(x, y)
        }
    };
    let mark = |code: &ShowerCode| {
        let radiant = radiants.iter().find(|radiant| radiant.shower == *code)?;
        (radiant.trails_from[2] > 0.0).then(|| RadiantMark {
            shower: *code,
            place: mark_of(radiant.trails_from),
        })
    };
    showers.iter().filter_map(mark).collect()
}

/// The edge of a frame's picture over the horizon.
pub(super) fn outline(paths: &FramePaths) -> Option<Outline> {
    let (camera, _) = paths.camera_over()?;
    let (right, bottom) = (camera.lens.width - 0.5, camera.lens.height - 0.5);
    let corners = [
        (-0.5, -0.5),
        (right, -0.5),
        (right, bottom),
        (-0.5, bottom),
        (-0.5, -0.5),
    ];
    let over = |pixel| {
        let [east, north, up] = camera.unproject(pixel)?;
        let alt = up.atan2(east.hypot(north)).to_degrees();
        Some((
            alt.max(0.0),
            east.atan2(north).to_degrees().rem_euclid(360.0),
        ))
    };
    let mut points = Vec::new();
    for edge in corners.windows(2) {
        for step in 0..ALONG_EDGE {
            let share = f64::from(step) / f64::from(ALONG_EDGE);
            let between = |a: f64, b: f64| a + (b - a) * share;
            let pixel = (between(edge[0].0, edge[1].0), between(edge[0].1, edge[1].1));
            // A fisheye's corners may be beyond what it draws.
            points.extend(over(pixel));
        }
    }
    let middle = over(((right - 0.5) / 2.0, (bottom - 0.5) / 2.0))?;
    (points.len() > 2).then_some(Outline { points, middle })
}
