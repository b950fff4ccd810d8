//! A time zone's name from coordinates, offline. A suggestion: borders are simplified.

#[cfg(feature = "zone-lookup")]
static FINDER: std::sync::LazyLock<tzf_rs::EmbeddedFinder> =
    std::sync::LazyLock::new(tzf_rs::EmbeddedFinder::new);

/// Unpacks the boundaries in advance; this takes a few milliseconds.
pub fn make_ready() {
    #[cfg(feature = "zone-lookup")]
    std::sync::LazyLock::force(&FINDER);
}

/// The IANA zone in force at a point, according to the boundary data; `None` if the data was left out of the build.
///
/// Takes: latitude north +, longitude east +. Good to: simplified borders; within a few kilometres of a border it may
/// name the neighbour. Source: time zone boundary data, © OpenStreetMap contributors, ODbL 1.0.
#[cfg(feature = "zone-lookup")]
pub fn zone_at(lat_deg: f64, lon_deg: f64) -> Option<String> {
    let name = FINDER.get_tz_name(lon_deg, lat_deg);
    (!name.is_empty()).then(|| name.to_owned())
}

/// Without the boundary data no zone is known.
#[cfg(not(feature = "zone-lookup"))]
pub fn zone_at(_lat_deg: f64, _lon_deg: f64) -> Option<String> {
    None
}

#[cfg(all(test, feature = "zone-lookup"))]
mod tests {
    use super::*;

    #[test]
    fn zones_of_places_far_from_borders() {
        assert_eq!(zone_at(45.0, 7.0).as_deref(), Some("Europe/Rome"));
        assert_eq!(zone_at(-24.63, -70.40).as_deref(), Some("America/Santiago"));
        assert_eq!(zone_at(27.7, 85.3).as_deref(), Some("Asia/Kathmandu"));
    }
}
