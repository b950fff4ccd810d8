//! One trail and the frames around it, as a picture to look at. Judges nothing.

use crate::catalogue::handle::Catalogue;
use crate::report::trail_picture::Explained;
use crate::report::trail_picture::explained;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::terms::pointing::FrameToExamine;
use crate::terms::star_image::Grey;
use crate::terms::trail::PicturePoint;
use crate::trails::words::doubt_words;
use crate::trails::words::evidence_words;
use crate::usecase::examine::frame::picture_of;
use crate::usecase::examine::scope::lights_of;
use crate::usecase::looking::mark::frames_of;

/// Which trail is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Named {
    /// A stated one, by its number.
    Stated(i64),
    /// A candidate, by its number.
    Candidate(i64),
}

/// The picture of a trail, and what is known of it.
#[derive(Clone, Debug)]
pub struct TrailPicture {
    /// The picture, a JPEG.
    pub jpeg: Vec<u8>,
    /// The file of its frame.
    pub file: String,
    /// What is known of it: labels and values.
    pub lines: Vec<(String, String)>,
}

/// Draws a trail: its frame between its neighbours; and tells its evidence in words.
///
/// Refuses: a number of no trail; a frame whose picture cannot be read.
pub fn trail_picture(catalogue: &Catalogue, trail: Named) -> Result<TrailPicture, Failure> {
    let mut lines = Vec::new();
    let (frame_id, from_px, to_px) = match trail {
        Named::Stated(number) => {
            let found = catalogue.trail(number)?;
            let trail = found.ok_or_else(|| refuse(format!("there is no trail {number}")))?;
            lines.push(("is".to_owned(), trail.judged.is.word().to_owned()));
            let px = |point: PicturePoint| (point.x_px(), point.y_px());
            (trail.frame_id, px(trail.ends.from), px(trail.ends.to))
        }
        Named::Candidate(number) => {
            let found = catalogue.found_trail(number)?;
            let kept = found.ok_or_else(|| refuse(format!("there is no candidate c{number}")))?;
            let signs = catalogue.sky_signs(kept.frame_id)?.unwrap_or_default();
            let trail = &kept.trail;
            lines.push(("taken for".to_owned(), trail.class.word().to_owned()));
            lines.push(("score".to_owned(), format!("{:.2}", trail.score)));
            let curve = trail.light_curve.words();
            lines.push(("light curve".to_owned(), curve));
            let more = evidence_words(&trail.evidence, trail.class);
            lines.extend(more.into_iter().map(|words| ("evidence".to_owned(), words)));
            let more = doubt_words(&trail.evidence, &signs);
            lines.extend(more.into_iter().map(|words| ("doubt".to_owned(), words)));
            (kept.frame_id, trail.from_px, trail.to_px)
        }
    };
    let gone = || refuse("the frame of this trail is no longer in the catalogue".to_owned());
    let frame = catalogue.frame_to_examine(frame_id)?.ok_or_else(gone)?;
    let (picture, _) = picture_of(&frame)
        .map_err(|why| refuse(format!("its picture cannot be read: {why}")).at_file(&frame.path))?;
    let (before, after) = neighbours(catalogue, &frame)?;
    let same = |other: Option<FrameToExamine>| {
        let (other, _) = picture_of(&other?).ok()?;
        let size = |grey: &Grey| (grey.width(), grey.height());
        (size(&other) == size(&picture)).then_some(other)
    };
    let (before, after) = (same(before), same(after));
    let full = frame.width_px.map_or(picture.width() as f64, f64::from);
    let place = |(x, y): (f64, f64)| {
        let by = picture.width() as f64 / full;
        (x * by - 0.5, y * by - 0.5)
    };
    let jpeg = explained(&Explained {
        before: before.as_ref(),
        frame: &picture,
        after: after.as_ref(),
        from: place(from_px),
        to: place(to_px),
    })
    .ok_or_else(|| refuse("the picture cannot be packed as a JPEG".to_owned()))?;
    let name = frame.path.file_name().unwrap_or_default();
    Ok(TrailPicture {
        jpeg,
        file: name.to_string_lossy().into_owned(),
        lines,
    })
}

/// The frames before and after a frame in its session.
fn neighbours(
    catalogue: &Catalogue,
    frame: &FrameToExamine,
) -> Result<(Option<FrameToExamine>, Option<FrameToExamine>), Failure> {
    let Some(session) = frame.session_id else {
        return Ok((None, None));
    };
    let compiled = lights_of(catalogue, Some(&session.to_string()))?;
    let mut frames = Vec::new();
    for frame_id in frames_of(catalogue, &compiled.tree)? {
        frames.extend(catalogue.frame_to_examine(frame_id)?);
    }
    frames.sort_by(|a, b| {
        let order = |f: &FrameToExamine| f.clock_s.unwrap_or(0.0);
        order(a).total_cmp(&order(b))
    });
    let at = frames.iter().position(|f| f.frame_id == frame.frame_id);
    let Some(at) = at else {
        return Ok((None, None));
    };
    let before = at.checked_sub(1).map(|at| frames[at].clone());
    Ok((before, frames.get(at + 1).cloned()))
}

fn refuse(message: String) -> Failure {
    Failure::new(FailureKind::Words, message)
}
