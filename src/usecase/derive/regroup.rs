//! Groups the sessions of affected nights again: pictures are sampled if kinds need it, then frames are grouped.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::collections::HashMap;
use std::sync::atomic::AtomicBool;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::handle::Catalogue;
use crate::session::number::assign_numbers;
use crate::session::number::members_key;
use crate::session::split::split;
use crate::terms::failure::Failure;
use crate::terms::records::Session;
use crate::terms::records::SessionFrame;
use crate::usecase::derive::nights::nights_where_runs_began;
use crate::usecase::derive::turn::turn_members;
use crate::usecase::ingest::looks::Ended;
use crate::usecase::ingest::looks::needs_samples;
use crate::usecase::ingest::looks::sample_brightness_if_needed;

/// The result of grouping again.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Regrouped {
    /// The nights that were grouped: the requested ones, and those reached through runs across a dark noon.
    pub nights: BTreeSet<BodyNight>,
    /// Sessions in the nights.
    pub sessions: u64,
    /// Previous sessions whose frames are now in more than one.
    pub split: u64,
    /// Present sessions whose frames were in more than one.
    pub joined: u64,
}

/// Groups the sessions of these nights again. Pictures are sampled first, while no transaction is open; then the nights
/// are grouped in a transaction of their own.
///
/// If `stop` is set, the nights are grouped by the samples taken until then, and recorded for another grouping.
pub fn regroup<'n>(
    catalogue: &mut Catalogue,
    nights: impl IntoIterator<Item = &'n BodyNight>,
    stop: Option<&AtomicBool>,
) -> Result<Regrouped, Failure> {
    let batch = catalogue.batch()?;
    let nights = nights_where_runs_began(&batch, nights)?;
    batch.commit()?;
    let in_order: Vec<&BodyNight> = nights.iter().collect();
    let mut unfinished = Vec::new();
    for bodies in in_order.chunk_by(|a, b| a.night == b.night) {
        let batch = catalogue.batch()?;
        let mut frames = frames_of(&batch, bodies)?;
        batch.commit()?;
        let (looks, ended) = sample_brightness_if_needed(catalogue, &mut frames, stop)?;
        if ended == Ended::Stopped {
            unfinished.extend(bodies);
        }
        if !looks.is_empty() {
            let batch = catalogue.batch()?;
            batch.put_looks(&looks)?;
            batch.commit()?;
        }
    }
    let batch = catalogue.batch()?;
    let found = regroup_in(&batch, &nights)?;
    for night in unfinished {
        batch.mark_pending(night)?;
    }
    batch.commit()?;
    Ok(found)
}

/// Groups the sessions of these nights again within a batch, by existing samples.
pub fn regroup_in<'n>(
    batch: &Batch<'_>,
    nights: impl IntoIterator<Item = &'n BodyNight>,
) -> Result<Regrouped, Failure> {
    let grouped = group(batch, nights, Pictures::AsLookedAt)?;
    Ok(grouped.unwrap_or_default())
}

/// The same, unless a picture has to be sampled first: then the nights are recorded for grouping, and the batch must be
/// committed before [`regroup`] does the rest.
pub fn regroup_if_sampled<'n>(
    batch: &Batch<'_>,
    nights: impl IntoIterator<Item = &'n BodyNight>,
) -> Result<Option<Regrouped>, Failure> {
    group(batch, nights, Pictures::LookedAtFirst)
}

/// How to treat pictures that have not been sampled.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Pictures {
    /// Group without them.
    AsLookedAt,
    /// Record the nights for grouping.
    LookedAtFirst,
}

fn group<'n>(
    batch: &Batch<'_>,
    nights: impl IntoIterator<Item = &'n BodyNight>,
    pictures: Pictures,
) -> Result<Option<Regrouped>, Failure> {
    let nights = nights_where_runs_began(batch, nights)?;
    let mut before: BTreeMap<i64, i64> = BTreeMap::new();
    let mut found: Vec<(&BodyNight, Vec<Session>)> = Vec::with_capacity(nights.len());
    let any_pointing = batch.any_pointing()?;
    let in_order: Vec<&BodyNight> = nights.iter().collect();
    for bodies in in_order.chunk_by(|a, b| a.night == b.night) {
        let frames = frames_of(batch, bodies)?;
        if pictures == Pictures::LookedAtFirst && needs_samples(&frames) {
            for night in &nights {
                batch.mark_pending(night)?;
            }
            return Ok(None);
        }
        before.extend(numbers_before(batch, &frames)?);
        for (night, frames) in bodies.iter().zip(&frames) {
            let mut sessions = split(frames);
            let of_id: HashMap<i64, &SessionFrame> =
                frames.iter().map(|frame| (frame.frame_id, frame)).collect();
            for session in &mut sessions {
                turn_members(batch, session, &of_id, any_pointing)?;
            }
            found.push((night, sessions));
        }
    }
    let named: BTreeSet<&BodyNight> = nights.iter().collect();
    let mut once: BTreeMap<String, i64> = BTreeMap::new();
    for session in found.iter().flat_map(|(_, sessions)| sessions) {
        let key = members_key(session);
        if let Some(number) = batch.previous_session_id(&key, &named)? {
            once.insert(key, number);
        }
    }
    let mut all: Vec<&mut Session> = found
        .iter_mut()
        .flat_map(|(_, sessions)| sessions.iter_mut())
        .collect();
    assign_numbers(&mut all, &before, &once);
    let mut counted = count(&found, &before);
    for (night, sessions) in &found {
        for session in sessions {
            let members = session.members.iter();
            let numbers = members
                .filter_map(|m| before.get(&m.frame_id).copied())
                .collect();
            batch.put_session(night, session, &members_key(session), &numbers)?;
        }
    }
    for night in &nights {
        batch.end_grouping(night)?;
    }
    counted.nights = nights;
    Ok(Some(counted))
}

/// The number of the session that each frame was in: by its row, or by the number last shown to people if the row was
/// recomputed.
fn numbers_before(
    batch: &Batch<'_>,
    frames: &[Vec<SessionFrame>],
) -> Result<BTreeMap<i64, i64>, Failure> {
    let all = || frames.iter().flatten();
    let in_none = all().filter(|f| f.session_before.is_none());
    let mut before = batch.session_ids_given(&in_none.map(|f| f.frame_id).collect())?;
    before.extend(all().filter_map(|f| Some((f.frame_id, f.session_before?))));
    Ok(before)
}

/// The frames of each of these bodies in the one night they share. The night is fetched once for all of them.
fn frames_of(batch: &Batch<'_>, bodies: &[&BodyNight]) -> Result<Vec<Vec<SessionFrame>>, Failure> {
    let Some(first) = bodies.first() else {
        return Ok(Vec::new());
    };
    let mut of_body: BTreeMap<Option<i64>, Vec<SessionFrame>> = BTreeMap::new();
    for one in batch.night_frames(&first.night)? {
        of_body.entry(one.camera_id).or_default().push(one.frame);
    }
    Ok(bodies
        .iter()
        .map(|body| of_body.remove(&body.camera_id).unwrap_or_default())
        .collect())
}

fn count(found: &[(&BodyNight, Vec<Session>)], before: &BTreeMap<i64, i64>) -> Regrouped {
    let mut counted = Regrouped::default();
    // How many present sessions have frames of each previous session.
    let mut parts: BTreeMap<i64, u64> = BTreeMap::new();
    for session in found.iter().flat_map(|(_, sessions)| sessions) {
        let came_from: BTreeSet<i64> = session
            .members
            .iter()
            .filter_map(|m| before.get(&m.frame_id).copied())
            .collect();
        counted.sessions += 1;
        counted.joined += u64::from(came_from.len() > 1);
        for number in came_from {
            *parts.entry(number).or_default() += 1;
        }
    }
    counted.split = parts.values().filter(|parts| **parts > 1).count() as u64;
    counted
}
