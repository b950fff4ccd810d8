//! Time, place and sky of frames into the catalogue, within the batch that asks for it.

use std::borrow::Cow;
use std::collections::BTreeSet;
use std::collections::HashMap;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::body_night::Derived;
use crate::catalogue::placed::SkyBefore;
use crate::catalogue::tracks::TrackRow;
use crate::clock::fix::BodyClock;
use crate::pipeline::maker::current_maker;
use crate::pipeline::place::SiteBook;
use crate::pipeline::place::assign_by_track;
use crate::pipeline::place::assign_site;
use crate::pipeline::place::date_frame;
use crate::pipeline::place::place_frame;
use crate::pipeline::stamped::Stamps;
use crate::pipeline::when::righted;
use crate::site::assign::Assigned;
use crate::site::assign::NEAR_DEG;
use crate::site::assign::SITE_RADIUS_M;
use crate::site::track::knows_elevation;
use crate::site::track::place_at;
use crate::sky::look::Looker;
use crate::terms::basis::PlaceBasis;
use crate::terms::basis::TimeBasis;
use crate::terms::clock::StampedSetting;
use crate::terms::failure::Failure;
use crate::terms::finding::Finding;
use crate::terms::records::FrameFacts;
use crate::terms::records::FrameSky;
use crate::terms::records::PlacedFrame;
use crate::terms::site::Place;
use crate::terms::time::Utc;

/// Derives frames, keeping what is dear between them: the site book, the bodies' clocks, the sky's nodes.
pub struct Deriver {
    book: SiteBook,
    looker: Looker,
    maker_id: i64,
    tracks: Vec<TrackRow>,
    clocks: HashMap<i64, BodyClock>,
    stamps: Stamps,
    unknown_body: BodyClock,
    /// Sites that positions of frames have asked for since frames were last revised, each near another one.
    made_sites: Vec<(i64, Place)>,
    /// Nights whose sessions must be found anew.
    pub touched: BTreeSet<BodyNight>,
    /// The night touched last: frames come night by night, so most of them ask for it again.
    latest: Option<BodyNight>,
}

/// What deriving one frame came to.
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
    /// What was derived of it before.
    pub before: SkyBefore,
}

impl Deriver {
    /// Makes one for a batch's catalogue.
    pub fn new(batch: &Batch<'_>) -> Result<Self, Failure> {
        let mut deriver = Self {
            book: SiteBook::new(batch.sites()?),
            looker: Looker::new(),
            maker_id: batch.ensure_maker(&current_maker())?,
            tracks: batch.tracks()?,
            clocks: HashMap::new(),
            stamps: Stamps::default(),
            unknown_body: BodyClock::default(),
            made_sites: Vec::new(),
            touched: BTreeSet::new(),
            latest: None,
        };
        // Read before any new frame is in: by that it is told whether new frames have a fix read otherwise.
        for camera_id in batch.fixed_bodies()? {
            deriver.ensure_clock(batch, Some(camera_id))?;
        }
        Ok(deriver)
    }

    /// Places one frame, computes the sky over it, and puts both in.
    pub fn derive(
        &mut self,
        batch: &Batch<'_>,
        facts: &FrameFacts,
        derived: Derived,
    ) -> Result<Reached, Failure> {
        self.derive_settled(batch, facts, derived, None)
    }

    /// The same with the offset that the order of the night's frames settles for a doubtful reading.
    pub(super) fn derive_settled(
        &mut self,
        batch: &Batch<'_>,
        facts: &FrameFacts,
        derived: Derived,
        settled_s: Option<i32>,
    ) -> Result<Reached, Failure> {
        let facts = &*self.with_stamps(batch, facts)?;
        let mut placed = self.place(batch, facts, settled_s)?;
        if settled_s.is_some() && facts.night_before.is_some() {
            // Its night is being grouped, which may have begun before its own noon.
            placed.night.clone_from(&facts.night_before);
        }
        if facts.gps_utc.is_some() {
            self.stamps.note(facts, placed.time_basis == TimeBasis::Gps);
        }
        let sky = placed.mid_utc.and_then(|mid| {
            let dark = self.book.dark_sky(placed.site_id);
            let sky = self.looker.frame_sky_over(mid, placed.place, &dark);
            if sky.is_none() {
                placed.findings.push(Finding::new(
                    "year-outside",
                    format!("{mid}"),
                    "left the sky over it unknown",
                ));
            }
            sky
        });
        let before = batch.put_derived(
            facts.frame_id,
            derived,
            self.maker_id,
            &placed,
            sky.as_ref(),
        )?;
        for night in [facts.night_before.as_ref(), placed.night.as_ref()]
            .into_iter()
            .flatten()
        {
            self.touch(batch, night, facts.camera_id)?;
        }
        Ok(Reached {
            time: placed.time_basis,
            place: placed.place_basis,
            site_id: placed.site_id,
            start_utc: placed.start_utc,
            sky,
            before,
        })
    }

    /// What is known of a frame, with the zone setting that GPS time stamps of its evening show.
    fn with_stamps<'f>(
        &mut self,
        batch: &Batch<'_>,
        facts: &'f FrameFacts,
    ) -> Result<Cow<'f, FrameFacts>, Failure> {
        let stamped_setting = self.stamps.setting(batch, facts)?;
        Ok(if stamped_setting.is_some() {
            Cow::Owned(FrameFacts {
                stamped_setting,
                ..facts.clone()
            })
        } else {
            Cow::Borrowed(facts)
        })
    }

    fn place(
        &mut self,
        batch: &Batch<'_>,
        facts: &FrameFacts,
        settled_s: Option<i32>,
    ) -> Result<PlacedFrame, Failure> {
        self.ensure_clock(batch, facts.camera_id)?;
        let mut assigned = assign_site(facts, &self.book);
        self.ensure_site(batch, &mut assigned)?;
        let clock = clock_of(&self.clocks, &self.unknown_body, facts.camera_id);
        let time = date_frame(facts, &assigned, &self.book, clock, settled_s);
        let middle = time
            .start_utc
            .and_then(|at| at.plus_s(facts.exposure_s.unwrap_or(0.0) / 2.0));
        if assigned.basis != PlaceBasis::Exif
            && let Some(at) = middle
            && let Some((place, elev_m)) = self.on_track(batch, at)?
        {
            let findings = std::mem::take(&mut assigned.findings);
            assigned = assign_by_track(facts, place, elev_m, &self.book);
            assigned.findings.splice(0..0, findings);
            self.ensure_site(batch, &mut assigned)?;
        }
        Ok(place_frame(facts, assigned, time, &self.book))
    }

    fn ensure_site(&mut self, batch: &Batch<'_>, assigned: &mut Assigned) -> Result<(), Failure> {
        if let Some(mut site) = assigned.new_site.take() {
            site.id = batch.add_site(&site)?;
            assigned.site_id = Some(site.id);
            // Only where two sites are so near can a frame be nearer to the later one.
            if self
                .book
                .sites()
                .iter()
                .any(|other| other.place.distance_m(site.place) <= 2.0 * SITE_RADIUS_M)
            {
                self.made_sites.push((site.id, site.place));
            }
            self.book.enter(site);
        }
        Ok(())
    }

    /// The place on the tracks at an instant, with its elevation when it is recorded; of several tracks the one whose
    /// points lie closest together.
    fn on_track(
        &self,
        batch: &Batch<'_>,
        at: Utc,
    ) -> Result<Option<(Place, Option<f64>)>, Failure> {
        let mut best: Option<(f64, Place, Option<f64>)> = None;
        for track in self
            .tracks
            .iter()
            .filter(|t| (t.first..=t.last).contains(&at))
        {
            let around = batch.track_around(track.track_id, at)?;
            let (Some(before), Some(after)) = (around.before, around.after) else {
                continue;
            };
            let span_s = after.at.seconds_since(before.at);
            if best
                .as_ref()
                .is_some_and(|(closest, ..)| *closest <= span_s)
            {
                continue;
            }
            if let Some(place) = place_at(at, Some(before), Some(after)) {
                let elev_m = knows_elevation(Some(before), Some(after)).then_some(place.elev_m());
                best = Some((span_s, place, elev_m));
            }
        }
        Ok(best.map(|(_, place, elev_m)| (place, elev_m)))
    }

    /// Reads what is stated of a body's clock, once.
    fn ensure_clock(&mut self, batch: &Batch<'_>, camera_id: Option<i64>) -> Result<(), Failure> {
        if let Some(id) = camera_id
            && !self.clocks.contains_key(&id)
        {
            let clock = BodyClock::new(batch.clock_fixes(id)?, batch.clock_zones(id)?);
            self.clocks.insert(id, clock);
        }
        Ok(())
    }

    /// A frame's reading put right, with the name of the zone it is read by; `None` where no zone is asked.
    pub(super) fn righted_by_zone(
        &mut self,
        batch: &Batch<'_>,
        facts: &FrameFacts,
    ) -> Result<Option<crate::pipeline::when::Asked>, Failure> {
        self.ensure_clock(batch, facts.camera_id)?;
        let facts = &*self.with_stamps(batch, facts)?;
        let assigned = assign_site(facts, &self.book);
        let clock = clock_of(&self.clocks, &self.unknown_body, facts.camera_id);
        let zone = self.book.zone(assigned.site_id);
        Ok(righted(facts, zone, clock).and_then(crate::pipeline::when::asked))
    }

    /// Derives frames again that are read otherwise than before this batch, since frames that came show what their body's
    /// clock was set to: offsets beside the readings about a clock fix, or GPS time stamps of the same evening; and frames whose
    /// own positions may be nearer to a site made by one that came later. Part of the batch that brought those frames: once it
    /// is committed, nothing shows any longer that the others have to follow.
    pub fn revise(&mut self, batch: &Batch<'_>) -> Result<(), Failure> {
        for evening in self.stamps.changed(batch)? {
            let (from, until) = (Some(evening.from), Some(evening.until));
            for frame_id in batch.frames_between(evening.camera_id, from, until)? {
                let facts = batch.frame_facts(frame_id)?;
                if let Some(reading) = facts.clock_local
                    && self.reads_otherwise(&facts, evening.settings(reading))
                {
                    self.derive(batch, &facts, Derived::Again)?;
                }
            }
        }
        let mut bodies = Vec::new();
        for (id, clock) in &self.clocks {
            if !clock.fixes().is_empty() && batch.clock_fixes(*id)? != clock.fixes() {
                bodies.push(*id);
            }
        }
        bodies.sort_unstable();
        for camera_id in bodies {
            let Some(before) = self.clocks.remove(&camera_id) else {
                continue;
            };
            self.ensure_clock(batch, Some(camera_id))?;
            let now = clock_of(&self.clocks, &self.unknown_body, Some(camera_id));
            for (from, until) in now.differs(&before) {
                for frame_id in batch.frames_between(camera_id, from, until)? {
                    let facts = batch.frame_facts(frame_id)?;
                    self.derive(batch, &facts, Derived::Again)?;
                }
            }
        }
        while let Some((site_id, place)) = self.made_sites.pop() {
            for frame_id in batch.frames_near(place, NEAR_DEG, SITE_RADIUS_M, Some(site_id))? {
                let facts = batch.frame_facts(frame_id)?;
                self.derive(batch, &facts, Derived::Again)?;
            }
        }
        Ok(())
    }

    /// Whether zone settings that stamps show date a frame differently.
    fn reads_otherwise(&self, facts: &FrameFacts, settings: [Option<StampedSetting>; 3]) -> bool {
        let clock = clock_of(&self.clocks, &self.unknown_body, facts.camera_id);
        let assigned = assign_site(facts, &self.book);
        let [shown, known, now] = settings.map(|stamped_setting| {
            let facts = FrameFacts {
                stamped_setting,
                ..facts.clone()
            };
            let time = date_frame(&facts, &assigned, &self.book, clock, None);
            (time.start_utc, time.basis, time.error_s)
        });
        shown != now || known != now
    }

    /// The night that a frame lies in, though it has no row that says so.
    pub(super) fn night_of(
        &mut self,
        batch: &Batch<'_>,
        frame_id: i64,
    ) -> Result<Option<String>, Failure> {
        let facts = batch.frame_facts(frame_id)?;
        Ok(self.place(batch, &facts, None)?.night)
    }

    /// Notes a night whose sessions must be found anew.
    pub fn touch(
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

fn clock_of<'c>(
    clocks: &'c HashMap<i64, BodyClock>,
    unknown: &'c BodyClock,
    camera_id: Option<i64>,
) -> &'c BodyClock {
    camera_id.and_then(|id| clocks.get(&id)).unwrap_or(unknown)
}
