//! Recomputes everything that depends on a changed statement: time, place, sky, sessions of the frames concerned; and
//! counts what changed.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::handle::Catalogue;
use crate::sky::direction::Direction;
use crate::terms::angle::Angle;
use crate::terms::basis::PlaceBasis;
use crate::terms::basis::TimeBasis;
use crate::terms::failure::Failure;
use crate::terms::shower::ShowerCode;
use crate::usecase::derive::evenings::Deriver;
use crate::usecase::derive::evenings::Reached;
use crate::usecase::derive::regroup::Regrouped;
use crate::usecase::derive::regroup::regroup;
use crate::usecase::derive::regroup::regroup_if_sampled;
use crate::usecase::derive::regroup::regroup_in;

/// Angles and rates are kept to a tenth of an arcsecond and a thousandth of a meteor an hour: what differs by less is the same.
const KEPT_TO_DEG: f64 = 1.0 / 18_000.0;
const KEPT_TO_PER_HOUR: f64 = 0.001;

/// How often the watcher hears of the progress.
const WATCH_EVERY: u64 = 500;

/// Whether a change is permanent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Make it.
    Lasting,
    /// Compute its effects, and change nothing.
    DryRun,
}

/// What a statement concerns: the frames to derive again.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Concerned {
    /// The number of the resulting fix, zone, site or track.
    pub id: i64,
    /// Their numbers.
    pub frames: Vec<i64>,
    /// A changed site, and the frames that were at it: only these, and those that join it, are counted.
    pub site: Option<(i64, BTreeSet<i64>)>,
    /// Whether that site was moved: frames without a position of their own are elsewhere now.
    pub site_moved: bool,
    /// Frames of which something else is stated now.
    pub restated: u64,
    /// Further nights to group again.
    pub nights: Vec<BodyNight>,
}

impl From<Vec<i64>> for Concerned {
    fn from(frames: Vec<i64>) -> Self {
        Self {
            frames,
            ..Self::default()
        }
    }
}

/// The result of deriving again.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rederived {
    /// Frames derived; after a change of a site, those that were at it or are now.
    pub frames: u64,
    /// Of these, those without a row before.
    pub missing: u64,
    /// Of these, those whose UTC is known now.
    pub dated: u64,
    /// Of these, those whose UTC was not known before.
    pub dated_newly: u64,
    /// Of these, those whose UTC was known before and is unknown now.
    pub undated: u64,
    /// Of these, those of which anything that was known before is not so now, or is known only now.
    pub changed: u64,
    /// Of these, those at a place that is known now.
    pub placed: u64,
    /// Of these, those whose place was not known before.
    pub placed_newly: u64,
    /// Of these, those whose place was known before and is not now.
    pub unplaced: u64,
    /// Of these, those that keep a GPS position of their own.
    pub by_gps: u64,
    /// Of these, those at a place on a track.
    pub by_track: u64,
    /// Frames whose UTC has changed.
    pub moved: u64,
    /// The least and the greatest step of UTC, in seconds; positive: later than before.
    pub steps_s: Option<(f64, f64)>,
    /// The greatest shift of a frame's main radiant over the sky, in degrees, and its shower.
    pub radiant: Option<(f64, ShowerCode)>,
    /// Sessions in the nights concerned.
    pub sessions: u64,
    /// Previous sessions that were split.
    pub split: u64,
    /// Present sessions that several were merged into.
    pub joined: u64,
    /// Frames of which something else is stated now.
    pub restated: u64,
    /// The changed frames, session by session.
    pub by_session: Vec<SessionChange>,
}

/// What became of the changed frames of one session.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SessionChange {
    /// Its number; `None` for frames in no session.
    pub session: Option<i64>,
    /// Its night.
    pub night: Option<String>,
    /// Other nights that these frames were in before.
    pub nights_before: BTreeSet<String>,
    /// How many of its frames changed.
    pub frames: u64,
    /// Of these, how many moved in time.
    pub moved: u64,
    /// The least and the greatest step of UTC, in seconds.
    pub steps_s: Option<(f64, f64)>,
}

/// A changed frame.
struct Changed {
    frame_id: i64,
    night_before: Option<String>,
    step_s: Option<f64>,
}

/// States something and derives the frames concerned again, in one transaction with their sessions. Only if pictures
/// must be sampled before frames are grouped, the sessions follow in a second one, so that no transaction is open
/// meanwhile.
///
/// Takes: `state`, which writes the statement and returns the frames concerned.
pub fn rederive<C: Into<Concerned>>(
    catalogue: &mut Catalogue,
    mode: Mode,
    state: impl FnOnce(&Batch<'_>) -> Result<C, Failure>,
    watch: &mut dyn FnMut(u64, u64),
) -> Result<Rederived, Failure> {
    let batch = catalogue.batch()?;
    let Concerned {
        frames,
        site,
        site_moved,
        restated,
        nights,
        ..
    } = state(&batch)?.into();
    let mut done = Rederived {
        restated,
        ..Rederived::default()
    };
    let moved_site = site.as_ref().filter(|_| site_moved).map(|(id, _)| *id);
    let mut changed = Vec::new();
    let mut deriver = Deriver::new(&batch)?;
    deriver.touched.extend(nights);
    let mut at = 0;
    deriver.derive(&batch, &frames, &mut |frame_id, reached| {
        let counts = site.as_ref().is_none_or(|(site, were_there)| {
            reached.site_id == Some(*site) || were_there.contains(&frame_id)
        });
        if counts {
            let elsewhere = reached.place == PlaceBasis::Site && reached.site_id == moved_site;
            if done.take(reached) || (moved_site.is_some() && elsewhere) {
                changed.push(Changed {
                    frame_id,
                    night_before: reached.before.night.clone(),
                    step_s: reached.step_s(),
                });
            }
        }
        at += 1;
        if at % WATCH_EVERY == 0 {
            watch(at, frames.len() as u64);
        }
    })?;
    done.changed = changed.len() as u64;
    let grouped = match mode {
        Mode::DryRun => Some(regroup_in(&batch, &deriver.touched)?),
        Mode::Lasting => regroup_if_sampled(&batch, &deriver.touched)?,
    };
    if let Some(grouped) = grouped {
        done.take_grouped(&grouped);
        done.by_session = by_session(&batch, &changed)?;
        if mode == Mode::Lasting {
            batch.commit()?;
        }
        return Ok(done);
    }
    batch.commit()?;
    done.take_grouped(&regroup(catalogue, &deriver.touched, None)?);
    done.by_session = by_session(&catalogue.batch()?, &changed)?;
    Ok(done)
}

/// The changed frames, by the sessions that they are in now.
fn by_session(batch: &Batch<'_>, changed: &[Changed]) -> Result<Vec<SessionChange>, Failure> {
    let mut found: BTreeMap<(bool, Option<i64>), SessionChange> = BTreeMap::new();
    for one in changed {
        let (session, night) = batch.session_and_night(one.frame_id)?;
        let of = found.entry((session.is_none(), session)).or_default();
        of.session = session;
        of.frames += 1;
        if one.night_before != night {
            of.nights_before.extend(one.night_before.clone());
        }
        of.night = night;
        if let Some(step_s) = one.step_s {
            of.moved += 1;
            let (least, greatest) = of.steps_s.unwrap_or((step_s, step_s));
            of.steps_s = Some((least.min(step_s), greatest.max(step_s)));
        }
    }
    Ok(found.into_values().collect())
}

impl Reached {
    /// By how many seconds the frame begins later than before; `None` where it does not, or was or is without UTC.
    fn step_s(&self) -> Option<f64> {
        let (was, is) = (self.before.start_utc?, self.start_utc?);
        (was != is).then(|| is.seconds_since(was))
    }
}

impl Rederived {
    /// Counts the result of grouping.
    pub(crate) fn take_grouped(&mut self, grouped: &Regrouped) {
        self.sessions += grouped.sessions;
        self.split += grouped.split;
        self.joined += grouped.joined;
    }

    /// Counts a frame; whether anything of it has changed.
    pub(crate) fn take(&mut self, now: &Reached) -> bool {
        let before = &now.before;
        self.frames += 1;
        self.missing += u64::from(!before.derived);
        self.dated += u64::from(now.time != TimeBasis::None);
        self.placed += u64::from(now.place != PlaceBasis::None);
        self.by_gps += u64::from(now.place == PlaceBasis::Exif);
        self.by_track += u64::from(now.place == PlaceBasis::Track);
        let is_placed = now.place != PlaceBasis::None;
        self.placed_newly += u64::from(before.derived && !before.placed && is_placed);
        self.unplaced += u64::from(before.placed && !is_placed);
        let mut changed = !before.derived || before.place_differs;
        changed |= before.start_utc != now.start_utc;
        match (before.start_utc, now.start_utc) {
            (None, Some(_)) => self.dated_newly += u64::from(before.derived),
            (Some(_), None) => self.undated += 1,
            (Some(was), Some(is)) if was != is => {
                self.moved += 1;
                let step_s = is.seconds_since(was);
                let (least, greatest) = self.steps_s.unwrap_or((step_s, step_s));
                self.steps_s = Some((least.min(step_s), greatest.max(step_s)));
            }
            _ => {}
        }
        let (Some((shower, alt_deg, az_deg)), Some(sky)) = (before.radiant, now.sky.as_ref())
        else {
            return changed;
        };
        if let Some(there) = sky.radiants.iter().find(|r| r.shower == shower) {
            let over = |alt_deg: f64, az_deg: f64| {
                Direction::from_alt_az(Angle::from_deg(alt_deg), Angle::from_deg(az_deg))
            };
            let way_deg = over(alt_deg, az_deg)
                .angle_to(over(there.alt_deg, there.az_deg))
                .deg();
            if self.radiant.is_none_or(|(farthest, _)| way_deg > farthest) {
                self.radiant = Some((way_deg, shower));
            }
            let rate_before = before.seen_rate.unwrap_or(there.seen_rate);
            changed |=
                way_deg > KEPT_TO_DEG || (rate_before - there.seen_rate).abs() > KEPT_TO_PER_HOUR;
        }
        changed
    }
}
