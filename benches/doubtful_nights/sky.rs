//! When the Sun is at a given depth at a place.

use framefall::sky::look::Looker;
use framefall::terms::site::Place;
use framefall::terms::time::Utc;

const HOUR_MS: f64 = 3_600_000.0;

/// The Sun at one place.
pub struct Sun {
    looker: Looker,
    place: Place,
    lon_deg: f64,
}

impl Sun {
    /// At this place.
    pub fn over(lat_deg: f64, lon_deg: f64) -> Self {
        Self {
            looker: Looker::new(),
            place: Place::new(lat_deg, lon_deg, 0.0).expect("a place"),
            lon_deg,
        }
    }

    /// Its altitude in degrees.
    pub fn alt_deg(&mut self, at: Utc) -> f64 {
        self.looker
            .sun_moon(at, self.place)
            .expect("a year of the ephemeris")
            .sun_alt_deg
    }

    /// Mean solar midnight at the end of this day, counted from 1970.
    pub fn midnight(&self, day: i64) -> Utc {
        let ms = (day as f64 + 1.0) * 24.0 * HOUR_MS - self.lon_deg / 15.0 * HOUR_MS;
        after(Utc::from_unix_ms(0).expect("1970"), ms / 1000.0)
    }

    /// When the Sun sets below this altitude before a midnight; `None` if it does not cross it.
    pub fn dusk(&mut self, midnight: Utc, alt_deg: f64) -> Option<Utc> {
        self.crossing(midnight, -12.0, alt_deg)
    }

    /// When it rises above this altitude after a midnight.
    pub fn dawn(&mut self, midnight: Utc, alt_deg: f64) -> Option<Utc> {
        self.crossing(midnight, 12.0, alt_deg)
    }

    fn crossing(&mut self, midnight: Utc, noon_h: f64, alt_deg: f64) -> Option<Utc> {
        let (mut high, mut low) = (noon_h * 3600.0, 0.0);
        if self.alt_deg(after(midnight, high)) < alt_deg || self.alt_deg(midnight) > alt_deg {
            return None;
        }
        for _ in 0..30 {
            let middle = f64::midpoint(high, low);
            if self.alt_deg(after(midnight, middle)) > alt_deg {
                high = middle;
            } else {
                low = middle;
            }
        }
        Some(after(midnight, low))
    }

    /// Its greatest altitude over a stretch, sampled every ten minutes.
    pub fn highest_deg(&mut self, from: Utc, until: Utc) -> f64 {
        let steps = (until.seconds_since(from) / 600.0).ceil().max(1.0);
        let mut highest = self.alt_deg(until);
        let mut i = 0.0;
        while i < steps {
            highest = highest.max(self.alt_deg(after(from, i * 600.0)));
            i += 1.0;
        }
        highest
    }
}

/// An instant so many seconds later.
pub fn after(at: Utc, seconds: f64) -> Utc {
    at.plus_s(seconds).expect("an instant")
}
