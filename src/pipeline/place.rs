//! Time and place of one frame: what it says itself, what was stated, and who is believed.

use std::collections::HashMap;

use crate::clock::night::night_by_reading;
use crate::clock::night::night_by_zone;
use crate::clock::resolve::Resolved;
use crate::clock::resolve::resolve_by_offset;
use crate::clock::resolve::resolve_by_zone;
use crate::clock::zone::Zone;
use crate::site::assign::Assigned;
use crate::site::assign::GpsPosition;
use crate::site::assign::assign;
use crate::site::zone_lookup::zone_at;
use crate::terms::basis::TimeBasis;
use crate::terms::finding::Finding;
use crate::terms::records::FrameFacts;
use crate::terms::records::PlacedFrame;
use crate::terms::site::Site;
use crate::terms::time::Utc;

/// The site book while frames are placed, with each site's zone looked up once.
#[derive(Debug, Default)]
pub struct SiteBook {
    sites: Vec<Site>,
    zones: HashMap<i64, Option<Zone>>,
}

impl SiteBook {
    /// A book of these sites.
    pub fn new(sites: Vec<Site>) -> Self {
        let zones = sites.iter().map(|s| (s.id, zone_of(s))).collect();
        Self { sites, zones }
    }

    /// The sites.
    pub fn sites(&self) -> &[Site] {
        &self.sites
    }

    /// Enters a site that has just been stored.
    pub fn enter(&mut self, site: Site) {
        self.zones.insert(site.id, zone_of(&site));
        self.sites.push(site);
    }

    fn site(&self, id: i64) -> Option<&Site> {
        self.sites.iter().find(|s| s.id == id)
    }

    fn zone(&self, id: Option<i64>) -> Option<&Zone> {
        self.zones.get(&id?)?.as_ref()
    }
}

fn zone_of(site: &Site) -> Option<Zone> {
    Zone::named(site.zone.as_deref()?)
}

/// Decides where a frame was taken. A site that the book lacks comes back ready to be stored, its zone looked up.
pub fn assign_site(facts: &FrameFacts, book: &SiteBook) -> Assigned {
    let gps = GpsPosition {
        lat_deg: facts.gps_lat_deg,
        lon_deg: facts.gps_lon_deg,
        elev_m: facts.gps_elev_m,
    };
    let stated = facts.stated_site.and_then(|id| book.site(id));
    let mut assigned = assign(gps, stated, book.sites());
    if let Some(site) = &mut assigned.new_site {
        site.zone = zone_at(site.place.lat_deg(), site.place.lon_deg());
    }
    assigned
}

/// Decides when a frame was taken, once its site is known and stored.
///
/// The offset that the body wrote is believed first, the site's zone second; without both there is no UTC. The night
/// is the site's; where the place is not known it is the body's own evening, so that the frames of one night stay
/// together until somebody states the site.
pub fn place_frame(facts: &FrameFacts, assigned: Assigned, book: &SiteBook) -> PlacedFrame {
    let mut findings = assigned.findings;
    let zone = book.zone(assigned.site_id);
    let mut start_utc = None;
    let mut time_basis = TimeBasis::None;
    if let Some(reading) = facts.clock_local {
        if let Some(offset_s) = facts.utc_offset_s {
            start_utc = resolve_by_offset(reading, offset_s);
            time_basis = TimeBasis::Offset;
        } else if let Some(zone) = zone {
            time_basis = TimeBasis::SiteZone;
            match resolve_by_zone(reading, zone) {
                Resolved::Once(at) => start_utc = Some(at),
                Resolved::Twice { earlier, later } => findings.push(Finding::new(
                    "clock-twice",
                    format!(
                        "{reading} in {}, which was {earlier} and again {later}",
                        zone.name()
                    ),
                    "kept the frame without UTC",
                )),
                Resolved::Never => findings.push(Finding::new(
                    "clock-never",
                    format!("{reading} in {}, an hour that was skipped", zone.name()),
                    "kept the frame without UTC",
                )),
            }
        } else {
            findings.push(Finding::new(
                "no-zone",
                format!("{reading} without an offset, at no known site"),
                "kept the frame without UTC",
            ));
        }
        if assigned.place.is_none() {
            findings.push(Finding::new(
                "no-place",
                "neither a GPS position nor a stated site",
                "left the sky over it unknown",
            ));
        }
    }
    if start_utc.is_none() {
        time_basis = TimeBasis::None;
    }
    let exposure_s = facts.exposure_s.unwrap_or(0.0);
    let after = |share: f64| start_utc.and_then(|at: Utc| at.plus_s(exposure_s * share));
    let night = match (start_utc, zone) {
        (Some(at), Some(zone)) => night_by_zone(at, zone),
        _ => facts.clock_local.and_then(night_by_reading),
    };
    PlacedFrame {
        start_utc,
        mid_utc: after(0.5),
        end_utc: after(1.0),
        time_basis,
        time_error_s: None,
        site_id: assigned.site_id,
        place: assigned.place,
        place_basis: assigned.basis,
        night,
        findings,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terms::basis::PlaceBasis;
    use crate::terms::site::Place;
    use crate::terms::site::SiteOrigin;
    use crate::terms::time::WallTime;

    fn book() -> SiteBook {
        SiteBook::new(vec![Site {
            id: 1,
            name: "Salt Ridge".into(),
            place: Place::new(45.0, 7.0, 1500.0).unwrap(),
            zone: Some("Europe/Rome".into()),
            origin: SiteOrigin::Stated,
            brightness: None,
        }])
    }

    fn placed(facts: &FrameFacts) -> PlacedFrame {
        let book = book();
        place_frame(facts, assign_site(facts, &book), &book)
    }

    fn facts(clock: &str) -> FrameFacts {
        FrameFacts {
            clock_local: WallTime::parse(clock),
            exposure_s: Some(15.0),
            stated_site: Some(1),
            ..FrameFacts::default()
        }
    }

    #[test]
    fn the_written_offset_is_believed_before_the_zone() {
        let frame = placed(&FrameFacts {
            utc_offset_s: Some(0),
            ..facts("2023-12-14T01:12:07.25")
        });
        assert_eq!(frame.time_basis, TimeBasis::Offset);
        assert_eq!(
            frame.start_utc.unwrap().to_string(),
            "2023-12-14T01:12:07.250Z"
        );
        assert_eq!(
            frame.mid_utc.unwrap().to_string(),
            "2023-12-14T01:12:14.750Z"
        );
        assert_eq!(
            frame.end_utc.unwrap().to_string(),
            "2023-12-14T01:12:22.250Z"
        );
        assert_eq!(frame.night.as_deref(), Some("2023-12-13"));
    }

    #[test]
    fn the_zone_is_believed_where_it_is_clear() {
        let frame = placed(&facts("2023-12-14T01:12:07"));
        assert_eq!(frame.time_basis, TimeBasis::SiteZone);
        assert_eq!(
            frame.start_utc.unwrap().to_string(),
            "2023-12-14T00:12:07.000Z"
        );
        let twice = placed(&facts("2024-10-27T02:31:10"));
        assert_eq!((twice.start_utc, twice.time_basis), (None, TimeBasis::None));
        assert_eq!(twice.findings[0].code, "clock-twice");
        assert_eq!(
            twice.night.as_deref(),
            Some("2024-10-26"),
            "still in its night"
        );
        assert_eq!(
            placed(&facts("2024-03-31T02:31:10")).findings[0].code,
            "clock-never"
        );
    }

    #[test]
    fn nothing_is_guessed_without_a_site() {
        let frame = placed(&FrameFacts {
            stated_site: None,
            ..facts("2023-12-14T01:12:07")
        });
        assert_eq!(frame.start_utc, None);
        assert_eq!(frame.place_basis, PlaceBasis::None);
        let codes: Vec<_> = frame.findings.iter().map(|f| f.code).collect();
        assert_eq!(codes, ["no-zone", "no-place"]);
        assert_eq!(
            frame.night.as_deref(),
            Some("2023-12-13"),
            "by the body's own evening"
        );
    }
}
