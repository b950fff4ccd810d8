//! What fields are called elsewhere: in EXIF, in speech. Accepts nothing; leads to the field.

/// Names that people type and no field has, the field that is meant, and an example of it.
#[rustfmt::skip] // a row a field
const OTHER_NAMES: &[(&[&str], &str, &str)] = &[
    (&["date", "day", "evening"], "night", "night = 2023-12-13"),
    (&["time", "datetime", "timestamp", "utc", "datetimeoriginal"], "start", "start > 2023-12-13T22:00Z"),
    (&["f", "fnumber", "f_stop", "fstop", "f-number", "f-stop"], "aperture", "aperture <= f/2.8"),
    (&["moon.phase", "moon_phase", "moonphase", "phase", "moon.illumination"], "moon.lit", "moon.lit < 25%"),
    (&["shutter", "shutterspeed", "shutter_speed", "exposuretime", "exposure_time"], "exposure", "exposure in 10s..30s"),
    (&["sensitivity", "gain"], "iso", "iso in (1600, 3200)"),
    (&["focallength", "focal_length", "mm"], "focal", "focal in 14mm..24mm"),
    (&["latitude"], "lat", "lat > 40.5"),
    (&["longitude", "lng", "long"], "lon", "lon in -71..-70"),
    (&["elevation"], "elev", "elev > 2km"),
    (&["body"], "camera", "camera like '*K2*'"),
    (&["filename", "name", "image"], "file", "file like 'NITE42*'"),
    (&["folder", "directory", "dir"], "path", "path like '*/102NIGHT/*'"),
    (&["card", "volume"], "dump", "dump = 'card-a'"),
    (&["type", "frametype"], "kind", "kind = light"),
    (&["place", "location"], "site", "site = 'Dry Lake'"),
    (&["size", "filesize"], "bytes", "bytes < 1MB"),
    (&["zhr"], "GEM.rate", "GEM.rate >= 20/h"),
];

/// What to write instead of a name, in small letters, that is one of these.
pub(super) fn hint_for(name: &str) -> Option<String> {
    let (_, field, example) = OTHER_NAMES
        .iter()
        .find(|(names, ..)| names.contains(&name))?;
    Some(format!("did you mean {field}? For example: {example}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::query::compile;
    use crate::terms::field::field_named;
    use crate::terms::shower::ShowerCode;

    #[test]
    fn each_leads_to_a_query_that_is_accepted() {
        let showers = [ShowerCode::parse("GEM").unwrap()];
        for (names, field, example) in OTHER_NAMES {
            assert!(example.starts_with(field), "{example}");
            assert!(compile(example, &showers).is_ok(), "{example}");
            for name in *names {
                assert!(field_named(name).is_none(), "{name} is a field");
            }
        }
    }
}
