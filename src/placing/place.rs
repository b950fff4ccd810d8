//! The frames of a body's evening -> their times and places, as a whole: each frame's own data, the statements, and
//! their order of preference.

use std::collections::BTreeMap;

use crate::clock::fix::BodyClock;
use crate::clock::gps::StampedEvening;
use crate::clock::night::night_by_reading;
use crate::clock::night::night_by_zone;
use crate::placing::book::SiteBook;
use crate::placing::hours::decided_hours;
use crate::placing::time::FrameTime;
use crate::placing::time::ReadFrame;
use crate::placing::time::time_of;
use crate::site::assign::Assigned;
use crate::site::assign::assign;
use crate::site::assign::assign_position;
use crate::site::assign::nearest;
use crate::site::track::Track;
use crate::site::track::on_tracks;
use crate::site::zone_lookup::zone_at;
use crate::terms::basis::PlaceBasis;
use crate::terms::clock::StampedSetting;
use crate::terms::clock::evening_day;
use crate::terms::finding::no_place;
use crate::terms::records::FrameFacts;
use crate::terms::records::PlacedFrame;
use crate::terms::site::GpsPosition;
use crate::terms::site::Place;
use crate::terms::site::Site;
use crate::terms::time::Utc;
use crate::terms::time::WallTime;

/// The photographer's statements that affect the frames of a body.
#[derive(Clone, Copy, Debug)]
pub struct Statements<'s> {
    /// The sites.
    pub book: &'s SiteBook,
    /// The body's clock.
    pub clock: &'s BodyClock,
    /// The points of tracks around the time of the frames.
    pub tracks: &'s [Track],
}

/// Where and when the frames of an evening were taken.
#[derive(Clone, Debug)]
pub struct Placements {
    /// One for each frame, in the order given.
    pub frames: Vec<PlacedFrame>,
    /// Sites to be created for positions of frames. If there are any, the frames must be placed again with these in the
    /// book.
    pub new_sites: Vec<Site>,
}

/// Places the frames of one body's evening.
///
/// Takes: every frame of the body from noon to noon by its clock, in the order of their folders and names: GPS time
/// stamps and the order of the frames affect all of them.
pub fn place(facts: &[FrameFacts], statements: &Statements<'_>) -> Placements {
    let Statements {
        book,
        clock,
        tracks,
    } = statements;
    let stamps = stamps_of(facts);
    let mut new_sites: Vec<Site> = Vec::new();
    let mut ask_for = |new: Option<&Site>| {
        if let Some(site) = new
            && nearest(site.place, &new_sites).is_none()
        {
            new_sites.push(site.clone());
        }
    };
    let read: Vec<ReadFrame<'_>> = facts
        .iter()
        .map(|facts| {
            let assigned = assign_site(facts, book);
            ask_for(assigned.new_site.as_ref());
            let stamped = stamps.setting(facts);
            ReadFrame {
                facts,
                stamped,
                time: date_frame(facts, stamped, &assigned, book, clock, None),
                assigned,
            }
        })
        .collect();
    let settled = decided_hours(&read, book, clock);
    let frames = read
        .into_iter()
        .enumerate()
        .map(|(at, frame)| {
            let ReadFrame {
                facts,
                stamped,
                mut time,
                mut assigned,
            } = frame;
            if let Some(offset_s) = settled.get(&at) {
                time = date_frame(facts, stamped, &assigned, book, clock, Some(*offset_s));
            }
            if assigned.basis != PlaceBasis::Exif
                && let Some(middle) = middle(facts, time.start_utc)
                && let Some((place, elev_m)) = on_tracks(tracks, middle)
            {
                let findings = assigned.findings;
                assigned = assign_by_track(facts, place, elev_m, book);
                assigned.findings.splice(0..0, findings);
                ask_for(assigned.new_site.as_ref());
            }
            place_frame(facts, assigned, time, book)
        })
        .collect();
    Placements { frames, new_sites }
}

/// The zone settings that GPS time stamps show, evening by evening.
struct Stamps(BTreeMap<i64, StampedEvening>);

fn stamps_of(facts: &[FrameFacts]) -> Stamps {
    let mut stamped: BTreeMap<i64, Vec<(WallTime, Utc)>> = BTreeMap::new();
    for frame in facts.iter().filter(|frame| frame.camera_id.is_some()) {
        if let (Some(reading), Some(stamp)) = (frame.clock_local, frame.gps_utc) {
            let evening = stamped.entry(evening_day(reading)).or_default();
            evening.push((reading, stamp));
        }
    }
    let judged = stamped.into_iter().map(|(day, mut stamped)| {
        stamped.sort_unstable();
        (day, StampedEvening::of(&stamped))
    });
    Stamps(judged.collect())
}

impl Stamps {
    fn setting(&self, facts: &FrameFacts) -> Option<StampedSetting> {
        let reading = facts.clock_local?;
        self.0.get(&evening_day(reading))?.at(reading)
    }
}

/// The middle of a frame's exposure; its start if the exposure is unknown.
fn middle(facts: &FrameFacts, start_utc: Option<Utc>) -> Option<Utc> {
    start_utc?.plus_s(facts.exposure_s.unwrap_or(0.0) / 2.0)
}

/// Decides where a frame was taken. A site that the book lacks is returned ready to be stored, with its zone looked up.
pub fn assign_site(facts: &FrameFacts, book: &SiteBook) -> Assigned {
    let gps = GpsPosition {
        lat_deg: facts.gps_lat_deg,
        lon_deg: facts.gps_lon_deg,
        elev_m: facts.gps_elev_m,
    };
    let stated = facts.stated_site.and_then(|id| book.site(id));
    with_zone(assign(gps, stated, book.sites()))
}

/// The site to create for a position of a frame, if the book has none there.
pub fn site_asked_for(gps: GpsPosition, book: &SiteBook) -> Option<Site> {
    with_zone(assign(gps, None, book.sites())).new_site
}

/// The same for a frame placed by a track.
fn assign_by_track(
    facts: &FrameFacts,
    place: Place,
    elev_m: Option<f64>,
    book: &SiteBook,
) -> Assigned {
    let stated = facts.stated_site.and_then(|id| book.site(id));
    with_zone(assign_position(
        place,
        elev_m,
        PlaceBasis::Track,
        stated,
        book.sites(),
    ))
}

fn with_zone(mut assigned: Assigned) -> Assigned {
    if let Some(site) = &mut assigned.new_site {
        site.zone = zone_at(site.place.lat_deg(), site.place.lon_deg());
    }
    assigned
}

/// Decides when a frame was taken, once its site is known.
///
/// Takes: the zone setting from GPS time stamps of its evening; the offset from the order of the frames.
pub fn date_frame(
    facts: &FrameFacts,
    stamped: Option<StampedSetting>,
    assigned: &Assigned,
    book: &SiteBook,
    clock: &BodyClock,
    settled_s: Option<i32>,
) -> FrameTime {
    let zone = book.zone(assigned.site_id);
    time_of(facts, stamped, zone, clock, settled_s)
}

/// Combines a frame's time and place.
///
/// The night is the site's; if the place is unknown it is the body's own evening, so that the frames of one night stay
/// together until the site is stated.
pub fn place_frame(
    facts: &FrameFacts,
    assigned: Assigned,
    time: FrameTime,
    book: &SiteBook,
) -> PlacedFrame {
    let mut findings = assigned.findings;
    findings.extend(time.findings);
    if facts.clock_local.is_some() && assigned.place.is_none() {
        findings.push(no_place());
    }
    let start_utc = time.start_utc;
    let exposure_s = facts.exposure_s.unwrap_or(0.0);
    let after = |share: f64| start_utc.and_then(|at: Utc| at.plus_s(exposure_s * share));
    let night = match (start_utc, book.zone(assigned.site_id)) {
        (Some(at), Some(zone)) => night_by_zone(at, zone),
        _ => facts.clock_local.and_then(night_by_reading),
    };
    PlacedFrame {
        start_utc,
        mid_utc: after(0.5),
        end_utc: after(1.0),
        time_basis: time.basis,
        time_error_s: time.error_s,
        site_id: assigned.site_id,
        place: assigned.place,
        place_basis: assigned.basis,
        night,
        findings,
    }
}

#[cfg(test)]
#[path = "place_tests.rs"]
mod tests;
