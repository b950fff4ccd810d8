//! A named zone of the IANA database that is built into the program: the same answer on every computer.

use jiff::tz::TimeZone;
use jiff::tz::TimeZoneDatabase;

/// An IANA time zone.
#[derive(Clone, Debug)]
pub struct Zone {
    zone: TimeZone,
}

impl Zone {
    /// Looks up a zone by its IANA name, in any case: `Europe/Rome`.
    pub fn named(name: &str) -> Option<Self> {
        database().get(name).ok().map(|zone| Self { zone })
    }

    /// The zone's name as the database writes it.
    pub fn name(&self) -> &str {
        self.zone.iana_name().unwrap_or("UTC")
    }

    pub(super) fn zone(&self) -> &TimeZone {
        &self.zone
    }

    /// The names most like `wanted`, best first, at most three.
    pub fn nearest_names(wanted: &str) -> Vec<String> {
        let wanted = wanted.to_lowercase();
        let place = wanted.rsplit('/').next().unwrap_or(&wanted).to_owned();
        let mut scored: Vec<(f64, String)> = database()
            .available()
            .map(|name| {
                let lower = name.to_string().to_lowercase();
                let tail = lower.rsplit('/').next().unwrap_or(&lower);
                let score =
                    strsim::jaro_winkler(&wanted, &lower).max(strsim::jaro_winkler(&place, tail));
                (score, name.to_string())
            })
            .filter(|(score, _)| *score > 0.85)
            .collect();
        scored.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
        scored.into_iter().take(3).map(|(_, name)| name).collect()
    }
}

/// The database in the program, never the computer's.
fn database() -> TimeZoneDatabase {
    TimeZoneDatabase::bundled()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zones_are_found_by_name_and_missed_with_a_suggestion() {
        assert_eq!(Zone::named("europe/rome").unwrap().name(), "Europe/Rome");
        assert!(Zone::named("Europe/Atlantis").is_none());
        assert_eq!(Zone::nearest_names("Europe/Romee")[0], "Europe/Rome");
        assert_eq!(Zone::nearest_names("santiago")[0], "America/Santiago");
    }
}
