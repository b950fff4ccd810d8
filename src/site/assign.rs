//! Decides which place a frame gets, and on what evidence: its own GPS position first, then the stated site. Never
//! averages positions, never transfers one frame's position to another.

use crate::terms::basis::PlaceBasis;
use crate::terms::finding::Finding;
use crate::terms::site::GpsPosition;
use crate::terms::site::Place;
use crate::terms::site::Site;
use crate::terms::site::SiteOrigin;

/// How far from a site a GPS position still belongs to it.
///
/// Source: common practice, no source. A night's walk between two tripods; 3 km shifts a radiant by at most 97
/// arcseconds, and the frame keeps its own position for the sky in any case.
pub const SITE_RADIUS_M: f64 = 3_000.0;

/// Sites farther away in latitude are excluded without computing a distance: a degree of latitude is 111 km.
pub const NEAR_DEG: f64 = 0.03;

/// The place of one frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Assigned {
    /// The site in the book, `None` if it must be created first or is unknown.
    pub site_id: Option<i64>,
    /// A site to create for the GPS position, if the book has none there.
    pub new_site: Option<Site>,
    /// The place to use for the sky.
    pub place: Option<Place>,
    /// How it was reached.
    pub basis: PlaceBasis,
    /// Findings about it.
    pub findings: Vec<Finding>,
}

/// Decides where a frame was taken.
///
/// Takes: the frame's GPS position, the site stated for it, the site book. Gives: the GPS position if there is one (at
/// the nearest site within [`SITE_RADIUS_M`], or at a site created for it); otherwise the stated site; otherwise
/// nothing.
pub fn assign(gps: GpsPosition, stated: Option<&Site>, book: &[Site]) -> Assigned {
    let mut findings = Vec::new();
    if let (Some(lat), Some(lon)) = (gps.lat_deg, gps.lon_deg) {
        // A receiver without a fix writes zeros: a point in the Gulf of Guinea, far from any tripod.
        let no_fix = lat == 0.0 && lon == 0.0;
        if let Some(flat) = Place::new(lat, lon, 0.0).filter(|_| !no_fix) {
            return assign_position(flat, gps.elev_m, PlaceBasis::Exif, stated, book);
        }
        findings.push(Finding::new(
            "gps-absurd",
            format!("GPS {lat}, {lon}"),
            "ignored the position",
        ));
    }
    if let Some(site) = stated {
        return Assigned {
            site_id: Some(site.id),
            new_site: None,
            place: Some(site.place),
            basis: PlaceBasis::Site,
            findings,
        };
    }
    Assigned {
        site_id: None,
        new_site: None,
        place: None,
        basis: PlaceBasis::None,
        findings,
    }
}

/// The same for a known position, from the frame's own GPS or from a track.
///
/// Takes: the position, its elevation if it has one (otherwise the site's is used), and its basis.
pub fn assign_position(
    flat: Place,
    elev_m: Option<f64>,
    basis: PlaceBasis,
    stated: Option<&Site>,
    book: &[Site],
) -> Assigned {
    let mut findings = Vec::new();
    // The elevation is decided after the site is found, because the site's own elevation is better than none.
    let site = nearest(flat, book);
    let (lat, lon) = (flat.lat_deg(), flat.lon_deg());
    let elev = elev_m.or(site.map(|s| s.place.elev_m())).unwrap_or(0.0);
    let place = Place::new(lat, lon, elev).unwrap_or(flat);
    if let Some(stated) = stated
        && stated.place.distance_m(place) > SITE_RADIUS_M
    {
        let who = match basis {
            PlaceBasis::Track => "the track",
            _ => "GPS",
        };
        findings.push(Finding::new(
            "site-differs",
            format!(
                "{who} {lat:.4}, {lon:.4}, which is {:.0} km from {}",
                stated.place.distance_m(place) / 1000.0,
                stated.name
            ),
            format!("used the position of {who}"),
        ));
    }
    Assigned {
        site_id: site.map(|s| s.id),
        new_site: site.is_none().then(|| site_from_position(place, basis)),
        place: Some(place),
        basis,
        findings,
    }
}

/// The nearest site within [`SITE_RADIUS_M`].
pub fn nearest(place: Place, book: &[Site]) -> Option<&Site> {
    book.iter()
        .filter(|site| (site.place.lat_deg() - place.lat_deg()).abs() <= NEAR_DEG)
        .map(|site| (site.place.distance_m(place), site))
        .filter(|(distance, _)| *distance <= SITE_RADIUS_M)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, site)| site)
}

/// A site for a position with no site of the book nearby: named by its coordinates to a hundredth of a degree.
fn site_from_position(place: Place, basis: PlaceBasis) -> Site {
    let side = |value: f64, plus: char, minus: char| {
        format!(
            "{:.2}{}",
            value.abs(),
            if value < 0.0 { minus } else { plus }
        )
    };
    Site {
        id: 0,
        name: format!(
            "{} {}",
            side(place.lat_deg(), 'N', 'S'),
            side(place.lon_deg(), 'E', 'W')
        ),
        place,
        zone: None,
        origin: match basis {
            PlaceBasis::Track => SiteOrigin::Track,
            _ => SiteOrigin::Exif,
        },
        brightness: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn site(id: i64, lat: f64, lon: f64) -> Site {
        Site {
            id,
            name: format!("site {id}"),
            place: Place::new(lat, lon, 1000.0).unwrap(),
            zone: None,
            origin: SiteOrigin::Stated,
            brightness: None,
        }
    }

    fn gps(lat: f64, lon: f64) -> GpsPosition {
        GpsPosition {
            lat_deg: Some(lat),
            lon_deg: Some(lon),
            elev_m: None,
        }
    }

    #[test]
    fn gps_beats_a_stated_site_and_says_when_they_differ() {
        let book = [site(1, 45.0, 7.0), site(2, 45.02, 7.0)];
        let found = assign(gps(45.018, 7.0), Some(&book[0]), &book);
        assert_eq!(found.site_id, Some(2), "the nearer of two");
        assert_eq!(found.basis, PlaceBasis::Exif);
        assert!(
            (found.place.unwrap().elev_m() - 1000.0).abs() < 1e-9,
            "the site's elevation fills in"
        );
        assert!(found.findings.is_empty());
        let far = assign(gps(46.0, 7.0), Some(&book[0]), &book);
        assert_eq!(far.site_id, None);
        assert_eq!(far.new_site.unwrap().name, "46.00N 7.00E");
        assert_eq!(far.findings[0].code, "site-differs");
    }

    #[test]
    fn an_aeroplane_keeps_its_height() {
        let up = GpsPosition {
            elev_m: Some(10_600.0),
            ..gps(60.0, 10.0)
        };
        let elev = assign(up, None, &[]).place.unwrap().elev_m();
        assert!((elev - 10_600.0).abs() < 1e-9, "{elev}");
    }

    #[test]
    fn without_gps_the_stated_site_holds_and_without_both_nothing_is_guessed() {
        let book = [site(1, -31.45, -70.72)];
        let found = assign(GpsPosition::default(), Some(&book[0]), &book);
        assert_eq!((found.site_id, found.basis), (Some(1), PlaceBasis::Site));
        let none = assign(GpsPosition::default(), None, &book);
        assert_eq!(
            (none.site_id, none.basis, none.place),
            (None, PlaceBasis::None, None)
        );
        let half = assign(
            GpsPosition {
                lat_deg: Some(1.0),
                ..GpsPosition::default()
            },
            None,
            &book,
        );
        assert_eq!(half.basis, PlaceBasis::None);
        let no_fix = assign(gps(0.0, 0.0), None, &book);
        assert_eq!(
            (no_fix.basis, no_fix.findings[0].code),
            (PlaceBasis::None, "gps-absurd")
        );
    }
}
