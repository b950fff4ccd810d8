//! Applies a statement: its effect on what is in force, and the frames that have to be derived again.

use std::collections::BTreeSet;

use crate::catalogue::batch::Batch;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::statement::Act;
use crate::usecase::derive::rederive::Concerned;
use crate::usecase::statements::apply_clock::apply_clock;
use crate::usecase::statements::apply_site::apply_site;
use crate::usecase::statements::apply_site::resolve;

/// Applies a statement about these frames.
///
/// Refuses: a statement that contradicts others.
pub fn apply(batch: &Batch<'_>, act: &Act, frames: Vec<i64>) -> Result<Concerned, Failure> {
    match act {
        Act::Zone(..) | Act::ZoneRemoval(..) | Act::Fix(..) | Act::FixRemoval(..) => {
            apply_clock(batch, act, &frames)
        }
        Act::Site(_) | Act::SiteChange(..) | Act::SiteRemoval(_) => apply_site(batch, act),
        Act::Place(site) => {
            let id = resolve(batch, site)?;
            for frame_id in &frames {
                batch.restate_place(*frame_id, id)?;
            }
            Ok(Concerned {
                id,
                frames,
                ..Concerned::default()
            })
        }
        Act::Kind(kind) => mark(batch, &frames, |frame_id| batch.put_kind(frame_id, *kind)),
        Act::Focal(mm) => mark(batch, &frames, |frame_id| batch.put_focal(frame_id, *mm)),
        Act::Trail(ends, judged) => {
            for frame_id in &frames {
                batch.put_trail(*frame_id, *ends, *judged)?;
            }
            // Their showers follow from their paths.
            Ok(Concerned {
                frames,
                ..Concerned::default()
            })
        }
        Act::Looked(_) | Act::Chosen(_) | Act::Note(_) => {
            for frame_id in &frames {
                match act {
                    Act::Looked(looked) => batch.put_looked(*frame_id, *looked)?,
                    Act::Chosen(chosen) => batch.put_chosen(*frame_id, *chosen)?,
                    Act::Note(note) => batch.put_note(*frame_id, note.as_deref())?,
                    _ => {}
                }
            }
            Ok(Concerned::default())
        }
        Act::Pointing(pointing) => {
            batch.put_stated_pointing(&frames, pointing.as_ref())?;
            Ok(Concerned {
                restated: frames.len() as u64,
                frames,
                ..Concerned::default()
            })
        }
        Act::Track(name, points) => {
            let id = batch.state_track(name, points)?;
            let frames = match (points.first(), points.last()) {
                (Some(first), Some(last)) => batch.frames_without_gps(first.at, last.at)?,
                _ => Vec::new(),
            };
            Ok(Concerned {
                id,
                frames,
                ..Concerned::default()
            })
        }
        Act::TrackRemoval(name) => {
            let tracks = batch.tracks()?;
            let Some(track) = tracks.iter().find(|track| track.name == *name) else {
                return Ok(Concerned::default());
            };
            batch.drop_track(track.track_id)?;
            Ok(Concerned {
                id: track.track_id,
                frames: batch.frames_without_gps(track.first, track.last)?,
                ..Concerned::default()
            })
        }
        Act::Query(name, query, saved) => {
            batch.save_query(name, query, *saved)?;
            Ok(Concerned::default())
        }
        Act::QueryRemoval(name) => {
            batch.forget_query(name)?;
            Ok(Concerned::default())
        }
        Act::Label(dump, label, file) => {
            let mut dumps = match file {
                Some(mark) => batch.frames_marked(mark)?,
                None => Vec::new(),
            };
            dumps.sort_by_key(|frame| frame.dump != *dump);
            let of = dumps.first().map_or(dump, |frame| &frame.dump);
            let Some(id) = batch.dump_labelled(of)? else {
                return Ok(Concerned::default());
            };
            put_label(batch, id, label)?;
            Ok(Concerned {
                id,
                ..Concerned::default()
            })
        }
    }
}

fn put_label(batch: &Batch<'_>, dump_id: i64, label: &str) -> Result<(), Failure> {
    if batch.put_label(dump_id, label)? {
        return Ok(());
    }
    Err(
        Failure::words(format!("there is already a dump named '{label}'")).hint(format!(
            "{} shows the labels",
            CommandLine::new("dump list")
        )),
    )
}

fn mark(
    batch: &Batch<'_>,
    frames: &[i64],
    put: impl Fn(i64) -> Result<bool, Failure>,
) -> Result<Concerned, Failure> {
    let mut nights = BTreeSet::new();
    let mut restated = 0;
    for frame_id in frames {
        restated += u64::from(put(*frame_id)?);
        nights.extend(batch.night_of_frame(*frame_id)?);
    }
    Ok(Concerned {
        nights: nights.into_iter().collect(),
        restated,
        ..Concerned::default()
    })
}
