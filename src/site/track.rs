//! A position on a recorded track at an instant. Never extrapolates across a long gap or past the track's ends.

use crate::terms::site::Place;
use crate::terms::time::Utc;
use crate::terms::track::TrackPoint;

/// The longest gap between two points that is interpolated, in seconds.
///
/// Source: common practice, no source: to save power, receivers write a point only every few minutes while nobody
/// moves.
pub const LONGEST_GAP_S: f64 = 600.0;

/// Two points farther apart than this are two places, not a walk between them, in metres.
///
/// Source: our choice: a straight line between them would invent a place.
const LONGEST_LEG_M: f64 = 20_000.0;

/// The place at an instant.
///
/// Takes: the points of one track just before and just after it.
/// Gives: the straight line between them, in latitude and longitude (the short way over the date line), and in
/// elevation where both have one; at a point, that point.
/// Refuses: an instant outside the track, a gap longer than [`LONGEST_GAP_S`], two points of different segments.
fn place_at(at: Utc, before: Option<TrackPoint>, after: Option<TrackPoint>) -> Option<Place> {
    let (a, b) = (before?, after?);
    let elev = |share: f64| match (a.elev_m, b.elev_m) {
        (Some(a), Some(b)) => a + (b - a) * share,
        (Some(one), None) | (None, Some(one)) => one,
        (None, None) => 0.0,
    };
    let span_s = b.at.seconds_since(a.at);
    if span_s <= 0.0 {
        return Place::new(a.lat_deg, a.lon_deg, elev(0.0));
    }
    if a.segment != b.segment || span_s > LONGEST_GAP_S {
        return None;
    }
    let (from, to) = (
        Place::new(a.lat_deg, a.lon_deg, 0.0)?,
        Place::new(b.lat_deg, b.lon_deg, 0.0)?,
    );
    if from.distance_m(to) > LONGEST_LEG_M {
        return None;
    }
    let share = (at.seconds_since(a.at) / span_s).clamp(0.0, 1.0);
    let east = (b.lon_deg - a.lon_deg + 540.0).rem_euclid(360.0) - 180.0;
    let lon = (a.lon_deg + east * share + 540.0).rem_euclid(360.0) - 180.0;
    Place::new(
        a.lat_deg + (b.lat_deg - a.lat_deg) * share,
        lon,
        elev(share),
    )
}

/// Whether any elevation is known near an instant.
fn knows_elevation(before: Option<TrackPoint>, after: Option<TrackPoint>) -> bool {
    before.and_then(|p| p.elev_m).is_some() || after.and_then(|p| p.elev_m).is_some()
}

/// The points of one track, in order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Track {
    /// The points.
    pub points: Vec<TrackPoint>,
}

/// The place on tracks at an instant, with its elevation if recorded; of several tracks, the one whose points around
/// the instant are closest together.
pub fn on_tracks(tracks: &[Track], at: Utc) -> Option<(Place, Option<f64>)> {
    let mut best: Option<(f64, Place, Option<f64>)> = None;
    for Track { points } in tracks {
        let after = points.partition_point(|point| point.at < at);
        let after = points.get(after).copied();
        let before = points.partition_point(|point| point.at <= at);
        let before = before.checked_sub(1).map(|before| points[before]);
        let (Some(a), Some(b)) = (before, after) else {
            continue;
        };
        let span_s = b.at.seconds_since(a.at);
        if best.is_some_and(|(closest_s, ..)| closest_s <= span_s) {
            continue;
        }
        if let Some(place) = place_at(at, before, after) {
            let elev_m = knows_elevation(before, after).then_some(place.elev_m());
            best = Some((span_s, place, elev_m));
        }
    }
    best.map(|(_, place, elev_m)| (place, elev_m))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(at: &str, lat: f64, lon: f64, elev: Option<f64>) -> TrackPoint {
        TrackPoint {
            at: Utc::parse(at).unwrap(),
            segment: 0,
            lat_deg: lat,
            lon_deg: lon,
            elev_m: elev,
        }
    }

    // Worked by hand: 90 s of 300 s are 0.3 of the way; 46.00 + 0.3 × 0.02 = 46.006; 7.00 + 0.3 × 0.01 = 7.003;
    // 2400 + 0.3 × (2300 - 2400) = 2370.
    #[test]
    fn a_third_of_the_way() {
        let a = point("2023-12-14T00:00:00Z", 46.00, 7.00, Some(2400.0));
        let b = point("2023-12-14T00:05:00Z", 46.02, 7.01, Some(2300.0));
        let at = Utc::parse("2023-12-14T00:01:30Z").unwrap();
        let place = place_at(at, Some(a), Some(b)).unwrap();
        assert!((place.lat_deg() - 46.006).abs() < 1e-9);
        assert!((place.lon_deg() - 7.003).abs() < 1e-9);
        assert!((place.elev_m() - 2370.0).abs() < 1e-9);
    }

    #[test]
    fn the_date_line_is_crossed_the_short_way() {
        let a = point("2023-12-14T00:00:00Z", -17.0, 179.99, None);
        let b = point("2023-12-14T00:01:00Z", -17.0, -179.97, None);
        let at = Utc::parse("2023-12-14T00:00:30Z").unwrap();
        let place = place_at(at, Some(a), Some(b)).unwrap();
        assert!(
            (place.lon_deg() + 179.99).abs() < 1e-9,
            "{}",
            place.lon_deg()
        );
    }

    #[test]
    fn gaps_ends_and_segments_are_not_bridged() {
        let a = point("2023-12-14T00:00:00Z", 46.00, 7.00, None);
        let late = point("2023-12-14T00:10:01Z", 46.00, 7.00, None);
        let mut other = point("2023-12-14T00:01:00Z", 46.00, 7.00, None);
        other.segment = 1;
        let far = point("2023-12-14T00:01:00Z", 46.30, 7.00, None);
        let at = Utc::parse("2023-12-14T00:00:30Z").unwrap();
        for (before, after) in [
            (Some(a), Some(late)),
            (Some(a), Some(other)),
            (Some(a), Some(far)),
            (Some(a), None),
            (None, Some(a)),
        ] {
            assert_eq!(place_at(at, before, after), None);
        }
        assert!(place_at(a.at, Some(a), Some(a)).is_some());
    }
}
