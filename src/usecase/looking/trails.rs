//! Trails that the photographer states: added by their ends, judged anew, removed, listed.

use crate::catalogue::batch::Batch;
use crate::catalogue::handle::Catalogue;
use crate::catalogue::stated_trails::StatedTrail;
use crate::catalogue::statements::Stamp;
use crate::sky::showers::shower;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::statement::Act;
use crate::terms::trail::Judgement;
use crate::terms::trail::MeteorShower;
use crate::terms::trail::PicturePoint;
use crate::terms::trail::TrailEnds;
use crate::terms::trail::TrailIs;
use crate::usecase::derive::rederive::Mode;
use crate::usecase::examine::in_force::derive_paths;
use crate::usecase::listings::answers::compile_with_names;
use crate::usecase::looking::mark::frames_of;
use crate::usecase::statements::state::state_at;

/// The shortest trail, in pixels.
const SHORTEST_PX: f64 = 1.0;

/// A point as it is typed: `1200,800`.
///
/// Refuses: anything but two numbers of pixels.
pub fn parse_point(text: &str) -> Result<PicturePoint, Failure> {
    let point = || {
        let (x, y) = text.split_once(',')?;
        PicturePoint::from_px(x.trim().parse().ok()?, y.trim().parse().ok()?)
    };
    point().ok_or_else(|| {
        Failure::words(format!("'{text}' is not a point of a picture"))
            .hint("write x,y in pixels of the full picture: --from 1200,800")
    })
}

/// A shower as it is typed: a code, or `sporadic`.
///
/// Refuses: a code that is not in the shower table.
pub fn parse_shower(text: &str) -> Result<MeteorShower, Failure> {
    match MeteorShower::from_word(text) {
        Some(MeteorShower::Of(code)) if shower(code).is_none() => None,
        known => known,
    }
    .ok_or_else(|| {
        let all = CommandLine::new("showers").flag("--all");
        Failure::words(format!("no shower in the table has the code '{text}'")).hint(format!(
            "{all} lists the codes; 'sporadic' means none of them"
        ))
    })
}

/// What a trail is stated to be.
///
/// Refuses: a shower of anything but a meteor.
pub fn judgement(is: TrailIs, shower: Option<MeteorShower>) -> Result<Judgement, Failure> {
    if is != TrailIs::Meteor && shower.is_some() {
        return Err(
            Failure::words(format!("{} has no shower", is.with_article()))
                .hint("leave out --shower, or state --is meteor"),
        );
    }
    Ok(Judgement { is, shower })
}

/// The frame that is named by the name or the path of its file, or by a query that selects it alone.
///
/// Refuses: no frame, several frames.
pub fn frame_named(catalogue: &Catalogue, name: &str) -> Result<i64, Failure> {
    let text = name.replace('"', "\"\"");
    let by_file = format!("file = \"{text}\" or path = \"{text}\"");
    let mut frames = frames_of(catalogue, &compile_with_names(catalogue, &by_file)?.tree)?;
    if frames.is_empty()
        && let Ok(compiled) = compile_with_names(catalogue, name)
    {
        frames = frames_of(catalogue, &compiled.tree)?;
    }
    let hint = "name the frame by its file, or by a query that selects it alone: 'session = 3 and seq = 12'";
    match frames.as_slice() {
        [frame_id] => Ok(*frame_id),
        [] => Err(Failure::words(format!("no frame is named '{name}'")).hint(hint)),
        several => {
            let count = several.len();
            Err(Failure::words(format!("'{name}' selects {count} frames")).hint(hint))
        }
    }
}

/// States a trail in a frame. One with the same ends is judged anew.
///
/// Refuses: ends outside the frame's picture, or less than a pixel apart.
pub fn add_trail(
    catalogue: &mut Catalogue,
    frame_id: i64,
    ends: TrailEnds,
    judged: Judgement,
    mode: Mode,
) -> Result<Option<StatedTrail>, Failure> {
    if let Some((width_px, height_px)) = catalogue.picture_size(frame_id)? {
        for end in [ends.from, ends.to] {
            if end.x_px() > width_px || end.y_px() > height_px {
                let (x_px, y_px) = (end.x_px(), end.y_px());
                return Err(Failure::words(format!(
                    "the point {x_px},{y_px} is outside the picture of {width_px} by {height_px} pixels"
                ))
                .hint("count pixels of the full picture as stored, x to the right and y downward"));
            }
        }
    }
    if ends.length_px() < SHORTEST_PX {
        return Err(
            Failure::words("the two ends of the trail are the same point")
                .hint("state the two ends: --from 1200,800 --to 1610,420"),
        );
    }
    let batch = catalogue.batch()?;
    let moment_ms = batch.now_ms()?;
    judge(&batch, frame_id, ends, Some(judged), moment_ms)?;
    let stated = batch.trail_judged(frame_id, ends)?;
    if mode == Mode::Lasting {
        batch.commit()?;
    }
    Ok(stated)
}

/// Trails by their numbers: stated ones, and candidates that were found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TrailNumbers {
    /// Stated trails.
    pub stated: Vec<i64>,
    /// Candidates.
    pub candidates: Vec<i64>,
}

/// Judges trails, or removes stated ones (`None`), all in one act; how many were changed. A meteor that stays one keeps its shower
/// if none is given. A candidate becomes a stated trail with the ends that were found.
///
/// Refuses: numbers of no trail and of no candidate; removing a candidate.
pub fn judge_trails(
    catalogue: &mut Catalogue,
    numbers: &TrailNumbers,
    judged: Option<Judgement>,
    mode: Mode,
) -> Result<u64, Failure> {
    let list = CommandLine::new("trails").argument("trails > 0");
    let mut acts = Vec::new();
    for number in &numbers.stated {
        let trail = catalogue.trail(*number)?.ok_or_else(|| {
            Failure::words(format!("there is no trail {number}"))
                .hint(format!("{list} lists every trail"))
        })?;
        let judged = judged.map(|judged| Judgement {
            shower: judged
                .shower
                .or(trail.judged.shower)
                .filter(|_| judged.is == TrailIs::Meteor),
            ..judged
        });
        acts.push((trail.frame_id, trail.ends, judged));
    }
    for number in &numbers.candidates {
        if judged.is_none() {
            return Err(
                Failure::words(format!("candidate c{number} cannot be removed")).hint(
                    "state what it is; 'other' is anything but a meteor, a satellite, an aircraft",
                ),
            );
        }
        let found = catalogue.found_trail(*number)?;
        let ends = found.as_ref().and_then(|kept| kept.trail.ends());
        let (kept, ends) = found.zip(ends).ok_or_else(|| {
            Failure::words(format!("there is no candidate c{number}")).hint(format!(
                "candidates get new numbers when a picture is examined again; {list} lists them"
            ))
        })?;
        acts.push((kept.frame_id, ends, judged));
    }
    let batch = catalogue.batch()?;
    let moment_ms = batch.now_ms()?;
    let mut changed = 0;
    for (frame_id, ends, judged) in acts {
        changed += u64::from(judge(&batch, frame_id, ends, judged, moment_ms)?);
    }
    if mode == Mode::Lasting && changed > 0 {
        batch.commit()?;
    }
    Ok(changed)
}

/// States what a trail is, unless that is in force; whether it was stated.
fn judge(
    batch: &Batch<'_>,
    frame_id: i64,
    ends: TrailEnds,
    judged: Option<Judgement>,
    moment_ms: i64,
) -> Result<bool, Failure> {
    let now = batch
        .trail_judged(frame_id, ends)?
        .map(|trail| trail.judged);
    if now == judged {
        return Ok(false);
    }
    state_at(
        batch,
        &Act::Trail(ends, judged),
        vec![frame_id],
        Stamp::At(moment_ms),
    )?;
    derive_paths(batch, frame_id)?;
    Ok(true)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_are_two_numbers_of_pixels() {
        assert_eq!(
            parse_point("1200,800.5").unwrap(),
            PicturePoint::from_parts(120_000, 80_050)
        );
        assert_eq!(
            parse_point(" 0 , 7").unwrap(),
            PicturePoint::from_parts(0, 700)
        );
        for wrong in ["", "1", "1,", "1;2", "-1,2", "1,2,3", "nan,1", "1e9,1"] {
            assert!(parse_point(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn showers_are_those_of_the_table() {
        assert!(parse_shower("gem").is_ok() && parse_shower("sporadic").is_ok());
        assert!(parse_shower("XXX").is_err() && parse_shower("Geminids").is_err());
    }
}
