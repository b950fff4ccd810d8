//! Derives time, place and sky of frames, an evening of a body at a time: places it as a whole, computes the sky over
//! each frame, and stores the rows. Within the caller's batch.

use std::collections::BTreeSet;
use std::collections::HashSet;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::body_night::Derived;
use crate::catalogue::evenings::Before;
use crate::catalogue::evenings::EveningFrames;
use crate::catalogue::placed::SkyBefore;
use crate::sky::darkness::DarkSky;
use crate::sky::look::Looker;
use crate::terms::basis::PlaceBasis;
use crate::terms::basis::TimeBasis;
use crate::terms::clock::Evening;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::records::FrameFacts;
use crate::terms::records::FrameSky;
use crate::terms::records::PlacedFrame;
use crate::terms::time::Utc;
use crate::usecase::derive::maker::current_maker;
use crate::usecase::derive::placer::Placer;
use crate::usecase::examine::in_force::put_pointing;

/// Derives frames, and caches what is expensive: statements, the sky's nodes.
pub struct Deriver {
    placer: Placer,
    looker: Looker,
    maker_id: i64,
    /// Frames from this number on have no rows yet.
    first_new: i64,
    /// How often a frame was derived.
    derived: u64,
    /// Nights whose sessions must be grouped again.
    pub touched: BTreeSet<BodyNight>,
    /// The night touched last; most frames come night by night, so this avoids repeated lookups.
    latest: Option<BodyNight>,
}

/// The result of deriving one frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Reached {
    /// How its time was reached.
    pub time: TimeBasis,
    /// How its place was reached.
    pub place: PlaceBasis,
    /// The site it is at.
    pub site_id: Option<i64>,
    /// When its shutter opened.
    pub start_utc: Option<Utc>,
    /// The sky over it.
    pub sky: Option<FrameSky>,
    /// Its previously derived data.
    pub before: SkyBefore,
}

impl Deriver {
    /// Makes one for a batch's catalogue.
    pub fn new(batch: &Batch<'_>) -> Result<Self, Failure> {
        Ok(Self {
            placer: Placer::new(batch)?,
            looker: Looker::new(),
            maker_id: batch.ensure_maker(&current_maker())?,
            first_new: i64::MAX,
            derived: 0,
            touched: BTreeSet::new(),
            latest: None,
        })
    }

    /// The same if frames from a number on are new, so that no rows of theirs have to be looked up.
    #[must_use]
    pub fn with_new_frames(self, first_new: i64) -> Self {
        Self { first_new, ..self }
    }

    /// The number from which frames are new.
    pub fn first_new(&self) -> i64 {
        self.first_new
    }

    /// How often a frame was derived.
    pub fn derived(&self) -> u64 {
        self.derived
    }

    /// Derives these frames, each evening as a whole, and frames affected by it: frames of the same evenings that are
    /// now placed differently, and frames that are nearer to a site created for these. `each` is called for the
    /// requested frames only.
    pub fn derive(
        &mut self,
        batch: &Batch<'_>,
        frames: &[i64],
        each: &mut dyn FnMut(i64, &Reached),
    ) -> Result<(), Failure> {
        let asked: HashSet<i64> = frames.iter().copied().collect();
        let mut wanted = asked.clone();
        let mut evenings = self.placer.sites_first(batch, frames)?;
        for frame_id in self.placer.nearer_to_made_sites(batch)? {
            wanted.insert(frame_id);
            let there = batch.evening_of(frame_id)?;
            evenings.extend(there.map(|there| there.evening));
        }
        let mut done = HashSet::new();
        for evening in evenings {
            if done.insert(evening) {
                self.derive_evening(
                    batch,
                    evening,
                    &|frame_id, _| wanted.contains(&frame_id),
                    &mut |frame_id, reached| {
                        if asked.contains(&frame_id) {
                            each(frame_id, reached);
                        }
                    },
                )?;
            }
        }
        Ok(())
    }

    /// Derives frames that lack rows, evening by evening, up to a number or until none is left. `each` is called for
    /// these frames only.
    ///
    /// Takes: frames whose sites were created before, by [`Deriver::make_pending_sites`]. Gives: how many frames lacked
    /// rows.
    pub fn derive_pending(
        &mut self,
        batch: &Batch<'_>,
        most: u64,
        each: &mut dyn FnMut(i64, &Reached),
    ) -> Result<u64, Failure> {
        let mut derived = 0;
        while derived < most
            && let Some(first) = batch.next_pending(0, 1)?.first()
        {
            let Some(there) = batch.evening_of(*first)? else {
                batch.drop_pending(*first)?;
                continue;
            };
            self.derive_evening(
                batch,
                there.evening,
                &|_, before| before.pending,
                &mut |frame_id, reached| {
                    derived += 1;
                    each(frame_id, reached);
                },
            )?;
        }
        Ok(derived)
    }

    /// Creates the sites for positions of frames after a given one that lack rows: a site created for a later frame may
    /// be nearer to an earlier one. Records the frames with rows that may be nearer to such a site.
    ///
    /// Gives: the last of the frames; `None` if there are no more.
    pub fn make_pending_sites(
        &mut self,
        batch: &Batch<'_>,
        after: i64,
        most: i64,
    ) -> Result<Option<i64>, Failure> {
        let frames = batch.next_pending(after, most)?;
        self.placer.sites_first(batch, &frames)?;
        let nearer = self.placer.nearer_to_made_sites(batch)?;
        batch.mark_frames_pending(&nearer)?;
        Ok(frames.last().copied())
    }

    /// Places an evening, and derives those of its frames that are requested or are placed differently than before.
    fn derive_evening(
        &mut self,
        batch: &Batch<'_>,
        evening: Evening,
        wanted: &dyn Fn(i64, &Before) -> bool,
        each: &mut dyn FnMut(i64, &Reached),
    ) -> Result<(), Failure> {
        let EveningFrames { facts, before } = batch.evening_frames(evening)?;
        let placed = self.placer.place_all(batch, &facts)?;
        for ((facts, before), placed) in facts.iter().zip(&before).zip(placed) {
            let is_wanted = wanted(facts.frame_id, before);
            if is_wanted || before.differs(&placed) {
                let reached = self.put(batch, facts, before, placed)?;
                if is_wanted {
                    each(facts.frame_id, &reached);
                }
            }
        }
        Ok(())
    }

    /// Computes the sky over a placed frame, and stores both.
    fn put(
        &mut self,
        batch: &Batch<'_>,
        facts: &FrameFacts,
        before: &Before,
        mut placed: PlacedFrame,
    ) -> Result<Reached, Failure> {
        let sky = placed.mid_utc.and_then(|mid| {
            let dark = DarkSky::of(self.placer.brightness(placed.site_id));
            let sky = self.looker.frame_sky_over(mid, placed.place, &dark);
            if sky.is_none() {
                placed.findings.push(Finding::new(
                    "year-outside",
                    format!("{mid}"),
                    "did not compute the sky over it",
                ));
            }
            sky
        });
        self.derived += 1;
        let derived = if facts.frame_id >= self.first_new && before.is_none() {
            Derived::FirstTime
        } else {
            Derived::Again
        };
        let sky_before = batch.put_derived(
            facts.frame_id,
            derived,
            self.maker_id,
            &placed,
            sky.as_ref(),
        )?;
        if derived == Derived::Again && batch.has_pointing(facts.frame_id)? {
            let horizon = placed
                .mid_utc
                .zip(placed.place)
                .and_then(|(at, place)| self.looker.horizon(at, place));
            put_pointing(batch, facts.frame_id, horizon.zip(placed.place).as_ref())?;
        }
        for night in before.night().iter().chain(&placed.night) {
            self.touch(batch, night, facts.camera_id)?;
        }
        Ok(Reached {
            time: placed.time_basis,
            place: placed.place_basis,
            site_id: placed.site_id,
            start_utc: placed.start_utc,
            sky,
            before: sky_before,
        })
    }

    /// Lets clocks be read again.
    pub fn forget_clocks(&mut self) {
        self.placer.forget_clocks();
    }

    /// See [`Placer::mark_read_otherwise`].
    pub fn mark_read_otherwise(&mut self, batch: &Batch<'_>) -> Result<(), Failure> {
        self.placer.mark_read_otherwise(batch)
    }

    /// Those frames without a row of time and place that belong to a night.
    pub(crate) fn without_row_in(
        &mut self,
        batch: &Batch<'_>,
        frames: &[i64],
        night: &str,
    ) -> Result<Vec<i64>, Failure> {
        let mut found = Vec::new();
        let evenings: BTreeSet<Evening> = self
            .placer
            .sites_first(batch, frames)?
            .into_iter()
            .collect();
        for evening in evenings {
            let EveningFrames { facts, before } = batch.evening_frames(evening)?;
            let placed = self.placer.place_all(batch, &facts)?;
            for ((facts, before), placed) in facts.iter().zip(&before).zip(&placed) {
                if before.is_none() && placed.night.as_deref() == Some(night) {
                    found.push(facts.frame_id);
                }
            }
        }
        Ok(found)
    }

    /// Records a night whose sessions must be grouped again.
    fn touch(
        &mut self,
        batch: &Batch<'_>,
        night: &str,
        camera_id: Option<i64>,
    ) -> Result<(), Failure> {
        let again = self
            .latest
            .as_ref()
            .is_some_and(|n| n.night == night && n.camera_id == camera_id);
        if again {
            return Ok(());
        }
        let night = BodyNight {
            night: night.to_owned(),
            camera_id,
        };
        if self.touched.insert(night.clone()) {
            batch.mark_pending(&night)?;
        }
        self.latest = Some(night);
        Ok(())
    }
}
