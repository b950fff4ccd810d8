//! Places evenings of bodies by the statements about sites, clocks and tracks in the catalogue. Creates sites for
//! positions.

use std::collections::HashMap;
use std::collections::HashSet;

use crate::catalogue::batch::Batch;
use crate::catalogue::tracks::TrackRow;
use crate::clock::fix::BodyClock;
use crate::placing::book::SiteBook;
use crate::placing::place::Placements;
use crate::placing::place::Statements;
use crate::placing::place::place;
use crate::placing::place::site_asked_for;
use crate::site::assign::NEAR_DEG;
use crate::site::assign::SITE_RADIUS_M;
use crate::site::track::Track;
use crate::terms::clock::Evening;
use crate::terms::failure::Failure;
use crate::terms::records::FrameFacts;
use crate::terms::records::PlacedFrame;
use crate::terms::site::Place;
use crate::terms::site::Site;
use crate::terms::site::SkyBrightness;
use crate::usecase::derive::body_clock::clock_of;
use crate::usecase::derive::body_clock::frames_dated_otherwise;

/// The statements, read once and kept between evenings.
pub(crate) struct Placer {
    book: SiteBook,
    clocks: HashMap<Option<i64>, BodyClock>,
    tracks: Vec<TrackRow>,
    /// Created sites with another one nearby; frames near them have not been looked for yet.
    made_sites: Vec<(i64, Place)>,
}

impl Placer {
    /// Reads the sites, the tracks, and the clocks for which fixes are stated.
    pub(crate) fn new(batch: &Batch<'_>) -> Result<Self, Failure> {
        let mut placer = Self {
            book: SiteBook::new(batch.sites()?),
            clocks: HashMap::new(),
            tracks: batch.tracks()?,
            made_sites: Vec::new(),
        };
        // Read before any new frame is stored: a comparison with it shows whether new frames change the interpretation
        // of a fix.
        for camera_id in batch.fixed_bodies()? {
            placer.ensure_clock(batch, Some(camera_id))?;
        }
        Ok(placer)
    }

    /// How dark the sky of a site is, if stated.
    pub(crate) fn brightness(&self, site_id: Option<i64>) -> Option<SkyBrightness> {
        self.book.site(site_id?)?.brightness
    }

    /// Creates sites for the positions of these frames, and returns the frames' evenings, in the order of the frames.
    pub(crate) fn sites_first(
        &mut self,
        batch: &Batch<'_>,
        frames: &[i64],
    ) -> Result<Vec<Evening>, Failure> {
        let mut evenings = Vec::new();
        for frame_id in frames {
            let Some(there) = batch.evening_of(*frame_id)? else {
                continue;
            };
            if evenings.last() != Some(&there.evening) {
                evenings.push(there.evening);
            }
            if let Some(site) = site_asked_for(there.gps, &self.book) {
                self.add_site(batch, site)?;
            }
        }
        if !self.tracks.is_empty() {
            let mut done = HashSet::new();
            for evening in &evenings {
                if done.insert(*evening) {
                    let frames = batch.evening_frames(*evening)?;
                    self.place_all(batch, &frames.facts)?;
                }
            }
        }
        Ok(evenings)
    }

    fn add_site(&mut self, batch: &Batch<'_>, mut site: Site) -> Result<(), Failure> {
        site.id = batch.add_site(&site)?;
        // A frame can be nearer to the later of two sites only if they are this near each other.
        let near = |other: &Site| other.place.distance_m(site.place) <= 2.0 * SITE_RADIUS_M;
        if self.book.sites().iter().any(near) {
            self.made_sites.push((site.id, site.place));
        }
        self.book.enter(site);
        Ok(())
    }

    /// The frames with rows that may be nearer to a site created since the last call than to their own.
    pub(crate) fn nearer_to_made_sites(&mut self, batch: &Batch<'_>) -> Result<Vec<i64>, Failure> {
        let mut frames = Vec::new();
        for (site_id, place) in self.made_sites.drain(..) {
            frames.extend(batch.frames_near(place, NEAR_DEG, SITE_RADIUS_M, Some(site_id))?);
        }
        Ok(frames)
    }

    /// Places the frames of an evening. Creates sites for them.
    pub(crate) fn place_all(
        &mut self,
        batch: &Batch<'_>,
        facts: &[FrameFacts],
    ) -> Result<Vec<PlacedFrame>, Failure> {
        let camera_id = facts.first().and_then(|facts| facts.camera_id);
        self.ensure_clock(batch, camera_id)?;
        let mut tracks = Vec::new();
        loop {
            let Placements { frames, new_sites } = self.place(camera_id, &tracks, facts);
            for site in &new_sites {
                self.add_site(batch, site.clone())?;
            }
            if !new_sites.is_empty() {
                continue;
            }
            if !tracks.is_empty() || self.tracks.is_empty() {
                return Ok(frames);
            }
            // The times of the frames determine which points of tracks are needed.
            tracks = self.tracks_about(batch, &frames)?;
            if tracks.is_empty() {
                return Ok(frames);
            }
        }
    }

    fn place(&self, camera_id: Option<i64>, tracks: &[Track], facts: &[FrameFacts]) -> Placements {
        let unknown = BodyClock::default();
        let statements = Statements {
            book: &self.book,
            clock: self.clocks.get(&camera_id).unwrap_or(&unknown),
            tracks,
        };
        place(facts, &statements)
    }

    /// The points of tracks around the time of these frames.
    fn tracks_about(
        &self,
        batch: &Batch<'_>,
        frames: &[PlacedFrame],
    ) -> Result<Vec<Track>, Failure> {
        let middles = || frames.iter().filter_map(|frame| frame.mid_utc);
        let (Some(from), Some(until)) = (middles().min(), middles().max()) else {
            return Ok(Vec::new());
        };
        let about = |track: &&TrackRow| track.first <= until && track.last >= from;
        self.tracks
            .iter()
            .filter(about)
            .map(|track| {
                let points = batch.track_points(track.track_id, (from, until))?;
                Ok(Track { points })
            })
            .collect()
    }

    /// Lets clocks be read again.
    pub(crate) fn forget_clocks(&mut self) {
        self.clocks.clear();
    }

    /// Reads the statements about a body's clock, once.
    fn ensure_clock(&mut self, batch: &Batch<'_>, camera_id: Option<i64>) -> Result<(), Failure> {
        if let Some(id) = camera_id
            && !self.clocks.contains_key(&camera_id)
        {
            self.clocks.insert(camera_id, clock_of(batch, id)?);
        }
        Ok(())
    }

    /// Records the frames whose interpretation changes because new frames, by offsets written beside readings near a
    /// clock fix, show the clock's zone setting. Part of the batch with the new frames: once it is committed, nothing
    /// shows that the others have to follow.
    pub(crate) fn mark_read_otherwise(&mut self, batch: &Batch<'_>) -> Result<(), Failure> {
        for (camera_id, before) in &mut self.clocks {
            let Some(id) = *camera_id else {
                continue;
            };
            if before.fixes().is_empty() || batch.clock_fixes(id)? == before.fixes() {
                continue;
            }
            let now = clock_of(batch, id)?;
            batch.mark_frames_pending(&frames_dated_otherwise(batch, id, &now, before)?)?;
            *before = now;
        }
        Ok(())
    }
}
