//! All that follows from a changed statement, built anew: time, place, sky, sessions of the frames concerned; and what
//! changed by it.

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
use crate::usecase::derive::regroup::regroup_in;
use crate::usecase::derive::regroup::regroup_unless_wanting;

/// How often the watcher hears of the progress.
const WATCH_EVERY: u64 = 500;

/// Whether a change is to last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Make it.
    Lasting,
    /// Say what it would come to, and change nothing.
    DryRun,
}

/// The frames to derive again.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Concerned {
    /// Their numbers.
    pub frames: Vec<i64>,
    /// A changed site, and the frames that were at it: only these, and those that come to it, are counted.
    pub site: Option<(i64, BTreeSet<i64>)>,
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

/// What deriving anew came to.
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
    /// Of these, those whose UTC was known before and is not now.
    pub undated: u64,
    /// Of these, those at a place that is known now.
    pub placed: u64,
    /// Of these, those that keep a GPS position of their own.
    pub by_gps: u64,
    /// Of these, those at a place on a track.
    pub by_track: u64,
    /// Frames whose UTC is another now.
    pub moved: u64,
    /// The least and the greatest step of UTC, in seconds; positive: later than before.
    pub steps_s: Option<(f64, f64)>,
    /// The farthest way of a frame's main radiant over the sky, in degrees, and whose it is.
    pub radiant: Option<(f64, ShowerCode)>,
    /// Sessions found in the nights concerned.
    pub sessions: u64,
    /// Sessions of before that fell apart.
    pub split: u64,
    /// Sessions of now that several came together in.
    pub joined: u64,
}

/// States something and derives the frames concerned anew, in one transaction with their sessions. Only where pictures must be
/// looked at before frames are grouped, the sessions follow in a second one: no transaction is open meanwhile.
///
/// Takes: `state`, which writes the statement and gives the frames concerned.
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
        nights,
    } = state(&batch)?.into();
    let mut done = Rederived::default();
    let mut deriver = Deriver::new(&batch)?;
    deriver.touched.extend(nights);
    let mut at = 0;
    deriver.derive(&batch, &frames, &mut |frame_id, reached| {
        let counts = site.as_ref().is_none_or(|(site, were_there)| {
            reached.site_id == Some(*site) || were_there.contains(&frame_id)
        });
        if counts {
            done.take(reached);
        }
        at += 1;
        if at % WATCH_EVERY == 0 {
            watch(at, frames.len() as u64);
        }
    })?;
    let grouped = match mode {
        Mode::DryRun => regroup_in(&batch, &deriver.touched)?,
        Mode::Lasting => {
            let grouped = regroup_unless_wanting(&batch, &deriver.touched)?;
            batch.commit()?;
            match grouped {
                Some(grouped) => grouped,
                None => regroup(catalogue, &deriver.touched, None)?,
            }
        }
    };
    done.take_grouped(&grouped);
    Ok(done)
}

impl Rederived {
    /// Counts what grouping came to.
    pub(crate) fn take_grouped(&mut self, grouped: &Regrouped) {
        self.sessions += grouped.sessions;
        self.split += grouped.split;
        self.joined += grouped.joined;
    }

    /// Counts a frame.
    pub(crate) fn take(&mut self, now: &Reached) {
        let before = &now.before;
        self.frames += 1;
        self.missing += u64::from(!before.derived);
        self.dated += u64::from(now.time != TimeBasis::None);
        self.placed += u64::from(now.place != PlaceBasis::None);
        self.by_gps += u64::from(now.place == PlaceBasis::Exif);
        self.by_track += u64::from(now.place == PlaceBasis::Track);
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
            return;
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
        }
    }
}
