//! The zone settings that GPS time stamps show, evening by evening, while frames are derived. An evening is judged as a whole, so
//! new frames may show another setting for those that are known.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use crate::catalogue::batch::Batch;
use crate::clock::gps::StampedEvening;
use crate::terms::clock::StampedSetting;
use crate::terms::failure::Failure;
use crate::terms::records::FrameFacts;
use crate::terms::time::WallTime;

const DAY_S: i64 = 86_400;

/// Evenings of bodies, by the clock: from noon to noon.
#[derive(Debug, Default)]
pub(super) struct Stamps {
    evenings: BTreeMap<(i64, i64), Evening>,
}

#[derive(Debug)]
struct Evening {
    /// What the stamps showed when it was first asked for, and without the stamp of the frame that asked: that one may have
    /// been new.
    shown: StampedEvening,
    known: StampedEvening,
    /// Whether frames with stamps came since.
    grew: bool,
    /// Whether what came may change how other frames are read.
    contradicted: bool,
}

/// An evening whose stamps show something else since new frames came.
#[derive(Debug)]
pub(super) struct ChangedEvening {
    /// The body.
    pub camera_id: i64,
    /// Its first reading, and the first after it.
    pub from: WallTime,
    pub until: WallTime,
    before: [StampedEvening; 2],
    now: StampedEvening,
}

impl ChangedEvening {
    /// What the stamps may have shown for a reading, and what they show now.
    pub fn settings(&self, reading: WallTime) -> [Option<StampedSetting>; 3] {
        let [shown, known] = &self.before;
        [shown, known, &self.now].map(|evening| evening.at(reading))
    }
}

impl Stamps {
    /// The setting that stamps show for a frame.
    pub fn setting(
        &mut self,
        batch: &Batch<'_>,
        facts: &FrameFacts,
    ) -> Result<Option<StampedSetting>, Failure> {
        let Some((key, reading)) = key(facts) else {
            return Ok(None);
        };
        let evening = match self.evenings.entry(key) {
            Entry::Occupied(there) => there.into_mut(),
            Entry::Vacant(new) => {
                let Some((from, until)) = bounds(key.1) else {
                    return Ok(None);
                };
                let stamped = batch.stamped_readings(key.0, from, until)?;
                let own = Some(reading).zip(facts.gps_utc);
                let others: Vec<_> = stamped
                    .iter()
                    .copied()
                    .filter(|one| Some(*one) != own)
                    .collect();
                // Of a new evening the first frame alone is there.
                let is_new = others.is_empty()
                    && (stamped.is_empty()
                        || batch.frames_between(key.0, Some(from), Some(until))?.len() == 1);
                new.insert(Evening {
                    shown: StampedEvening::of(&stamped),
                    known: StampedEvening::of(&others),
                    grew: false,
                    contradicted: !is_new,
                })
            }
        };
        Ok(evening.shown.at(reading))
    }

    /// Notes a frame whose stamp may be new to the catalogue, and whether it bears out how the frame was dated.
    pub fn note(&mut self, facts: &FrameFacts, borne_out: bool) {
        if let Some((key, _)) = key(facts)
            && let Some(evening) = self.evenings.get_mut(&key)
        {
            evening.grew = true;
            evening.contradicted |= !borne_out;
        }
    }

    /// The evenings whose stamps may show something else now; all are forgotten.
    pub fn changed(&mut self, batch: &Batch<'_>) -> Result<Vec<ChangedEvening>, Failure> {
        let mut changed = Vec::new();
        for ((camera_id, day), evening) in std::mem::take(&mut self.evenings) {
            if !(evening.grew && evening.contradicted) {
                continue;
            }
            let Some((from, until)) = bounds(day) else {
                continue;
            };
            let now = StampedEvening::of(&batch.stamped_readings(camera_id, from, until)?);
            if now != evening.shown || now != evening.known {
                changed.push(ChangedEvening {
                    camera_id,
                    from,
                    until,
                    before: [evening.shown, evening.known],
                    now,
                });
            }
        }
        Ok(changed)
    }
}

/// The body and the evening of a frame, by its clock.
fn key(facts: &FrameFacts) -> Option<((i64, i64), WallTime)> {
    let reading = facts.clock_local?;
    let day = (reading.seconds() - DAY_S / 2).div_euclid(DAY_S);
    Some(((facts.camera_id?, day), reading))
}

/// From noon to noon.
fn bounds(day: i64) -> Option<(WallTime, WallTime)> {
    let noon = day * DAY_S + DAY_S / 2;
    Some((
        WallTime::from_seconds(noon, "")?,
        WallTime::from_seconds(noon + DAY_S, "")?,
    ))
}
