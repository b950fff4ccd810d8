//! The night of each frame of a site where the Sun is down at noon. Derived frames are in the night of their own noon;
//! before nights are grouped, runs across a dark noon are moved to the night in which they began.

use std::collections::BTreeSet;
use std::collections::HashMap;

use crate::catalogue::batch::Batch;
use crate::catalogue::body_night::BodyNight;
use crate::catalogue::nights::night_day;
use crate::catalogue::nights::night_named;
use crate::clock::local;
use crate::clock::night::night_by_zone;
use crate::clock::zone::Zone;
use crate::session::noon::nights_of;
use crate::sky::look::Looker;
use crate::sky::sun::twilight;
use crate::terms::basis::Twilight;
use crate::terms::failure::Failure;
use crate::terms::site::Place;
use crate::terms::time::Utc;

/// Up to this latitude either way, the Sun is up at the mean Sun's noon and for [`NOON_S`] before and after it, on every day.
///
/// Source: the altitude formula at 60°, declination -23.44° and an hour angle of 35° (two hours, and the equation of time)
/// gives 1.8°.
const SUNNY_NOON_DEG: f64 = 60.0;
/// See [`SUNNY_NOON_DEG`], in seconds.
const NOON_S: f64 = 7_200.0;

/// The nights to group: these, and those that frames left or joined because a run crosses a dark noon.
pub(crate) fn nights_where_runs_began<'n>(
    batch: &Batch<'_>,
    nights: impl IntoIterator<Item = &'n BodyNight>,
) -> Result<BTreeSet<BodyNight>, Failure> {
    let mut nights: BTreeSet<BodyNight> = nights.into_iter().cloned().collect();
    let days: BTreeSet<i64> = nights.iter().filter_map(|n| night_day(&n.night)).collect();
    let mut looker = Looker::new();
    for site in batch.sites()? {
        let Some(zone) = site.zone.as_deref().and_then(Zone::named) else {
            continue;
        };
        let mut noons = Noons {
            zone: &zone,
            place: site.place,
            looker: &mut looker,
            sun_down: HashMap::new(),
        };
        let mut done = None;
        for day in &days {
            if done.is_some_and(|done| *day <= done)
                || !(noons.sun_down(*day) || noons.sun_down(day + 1))
            {
                continue;
            }
            let (first, last) = linked(batch, site.id, *day, &mut noons)?;
            day_of_each_run(batch, site.id, (first, last), &mut noons, &mut nights)?;
            done = Some(last);
        }
    }
    Ok(nights)
}

/// The noons of a site.
struct Noons<'s> {
    zone: &'s Zone,
    place: Place,
    looker: &'s mut Looker,
    sun_down: HashMap<i64, bool>,
}

impl Noons<'_> {
    /// The noon at which the night of a day begins, in milliseconds since 1970.
    fn at_ms(&self, day: i64) -> Option<i64> {
        let (noon, _) = local::noons(&night_named(day)?, self.zone)?;
        Some(noon.unix_ms())
    }

    /// Whether the Sun is below the horizon at that noon, as twilight has it.
    fn sun_down(&mut self, day: i64) -> bool {
        if let Some(known) = self.sun_down.get(&day) {
            return *known;
        }
        let down = self.is_dark(day).unwrap_or(false);
        self.sun_down.insert(day, down);
        down
    }

    fn is_dark(&mut self, day: i64) -> Option<bool> {
        let night = night_named(day)?;
        let (noon, _) = local::noons(&night, self.zone)?;
        let (mean_noon, _) = local::mean_noons(&night, self.place.lon_deg())?;
        let by_sun = noon.seconds_since(mean_noon).abs() <= NOON_S;
        if by_sun && self.place.lat_deg().abs() <= SUNNY_NOON_DEG {
            return Some(false);
        }
        let sun = self.looker.sun_moon(noon, self.place)?;
        Some(twilight(sun.sun_alt_deg) != Twilight::Day)
    }
}

/// The first and the last of the days around one that runs may link: every noon between them is dark, and each has
/// frames, or a frame stored in the night of one of them starts in it or after it.
fn linked(
    batch: &Batch<'_>,
    site_id: i64,
    day: i64,
    noons: &mut Noons<'_>,
) -> Result<(i64, i64), Failure> {
    let has_frames = |noons: &Noons<'_>, day: i64| match (noons.at_ms(day), noons.at_ms(day + 1)) {
        (Some(from), Some(until)) => batch.has_starts(site_id, from, until),
        _ => Ok(false),
    };
    let mut first = day;
    while noons.sun_down(first) && has_frames(noons, first - 1)? {
        first -= 1;
    }
    let (mut last, mut looked) = (day, first);
    loop {
        while looked <= last {
            let start = batch.last_start_in_night(site_id, looked)?;
            let own = start.and_then(|ms| own_day(ms, noons.zone));
            last = last.max(own.unwrap_or(last));
            looked += 1;
        }
        if !(noons.sun_down(last + 1) && has_frames(noons, last + 1)?) {
            return Ok((first, last));
        }
        last += 1;
    }
}

/// Moves the frames that start on these days into their nights, and records the nights affected.
fn day_of_each_run(
    batch: &Batch<'_>,
    site_id: i64,
    (first, last): (i64, i64),
    noons: &mut Noons<'_>,
    nights: &mut BTreeSet<BodyNight>,
) -> Result<(), Failure> {
    let (Some(from_ms), Some(until_ms)) = (noons.at_ms(first), noons.at_ms(last + 1)) else {
        return Ok(());
    };
    let zone = noons.zone;
    let frames = batch.site_frames(site_id, (from_ms, until_ms), &|ms| own_day(ms, zone))?;
    let days = nights_of(&frames, &mut |day| noons.sun_down(day));
    for (frame, day) in frames.iter().zip(days) {
        if frame.night_day == Some(day) {
            continue;
        }
        batch.put_in_night(frame.frame_id, day)?;
        for night in [frame.night_day, Some(day)].into_iter().flatten() {
            let night = BodyNight {
                night: night_named(night).unwrap_or_default(),
                camera_id: frame.camera_id,
            };
            if !nights.contains(&night) {
                batch.mark_pending(&night)?;
                nights.insert(night);
            }
        }
    }
    Ok(())
}

/// The night of a moment's own noon.
fn own_day(ms: i64, zone: &Zone) -> Option<i64> {
    night_day(&night_by_zone(Utc::from_unix_ms(ms)?, zone)?)
}
