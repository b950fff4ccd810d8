//! The nights of a world, and its runs in them.

use framefall::terms::time::Utc;

use super::Body;
use super::Cards;
use super::Class;
use super::Error;
use super::Rng;
use super::Run;
use super::Shot;
use super::Span;
use super::World;
use super::offset_s;
use super::shown;
use super::sky::Sun;
use super::sky::after;
use super::wrong_reading;

/// Places over the world with their zones: both hemispheres, far north, zones off the Sun's time, zones of half and
/// quarter hours, places near a border of zones.
const SITES: &[(f64, f64, &str)] = &[
    (38.9, -116.0, "America/Los_Angeles"),
    (31.6, -109.4, "America/Phoenix"),
    (53.2, -117.9, "America/Edmonton"),
    (47.6, -53.0, "America/St_Johns"),
    (19.8, -155.5, "Pacific/Honolulu"),
    (-23.1, -68.3, "America/Santiago"),
    (-33.4, -70.3, "America/Santiago"),
    (64.8, -18.2, "Atlantic/Reykjavik"),
    (28.3, -16.5, "Atlantic/Canary"),
    (31.2, -7.9, "Africa/Casablanca"),
    (40.4, -7.6, "Europe/Lisbon"),
    (41.9, -7.0, "Europe/Madrid"),
    (52.2, -3.6, "Europe/London"),
    (45.9, 8.4, "Europe/Zurich"),
    (63.1, 13.4, "Europe/Stockholm"),
    (69.1, 20.8, "Europe/Helsinki"),
    (-24.6, 15.9, "Africa/Windhoek"),
    (-1.9, 36.3, "Africa/Nairobi"),
    (42.1, 42.7, "Asia/Tbilisi"),
    (35.7, 51.9, "Asia/Tehran"),
    (34.2, 77.6, "Asia/Kolkata"),
    (27.9, 86.8, "Asia/Kathmandu"),
    (35.1, 94.6, "Asia/Shanghai"),
    (48.0, 107.1, "Asia/Ulaanbaatar"),
    (36.4, 137.7, "Asia/Tokyo"),
    (-30.8, 139.2, "Australia/Adelaide"),
    (-43.9, 170.4, "Pacific/Auckland"),
];

/// Zones to which a clock may still be set.
const HOME_ZONES: &[&str] = &[
    "UTC",
    "America/New_York",
    "America/Denver",
    "America/Sao_Paulo",
    "Europe/London",
    "Europe/Rome",
    "Europe/Athens",
    "Asia/Dubai",
    "Asia/Kolkata",
    "Asia/Bangkok",
    "Asia/Tokyo",
    "Australia/Darwin",
    "Australia/Sydney",
    "Pacific/Auckland",
];

/// The first day of these worlds and how many follow: 2015 to 2024, counted from 1970.
const DAYS: (f64, f64) = (16_436.0, 20_080.0);

/// A night in which every run of a world fits.
struct Night {
    dusk: Utc,
    dawn: Utc,
}

/// Makes the world with this number.
pub fn world(class: Class, bodies: usize, span: Span, number: usize) -> World {
    let seed = format!("{class:?}{bodies}{span:?}{number}");
    let mut rng = Rng(seed.bytes().fold(7, |sum: u64, byte| {
        sum.wrapping_mul(1_099_511_628_211) ^ u64::from(byte)
    }));
    loop {
        if let Some(world) = try_world(class, bodies, span, number, &mut rng) {
            return world;
        }
    }
}

fn try_world(
    class: Class,
    bodies: usize,
    span: Span,
    number: usize,
    rng: &mut Rng,
) -> Option<World> {
    let (lat, lon, zone) = rng.one_of(SITES);
    let place = (lat + rng.between(-0.3, 0.3), lon + rng.between(-0.3, 0.3));
    let mut sun = Sun::over(place.0, place.1);
    #[allow(clippy::cast_possible_truncation)] // days of this century
    let day = rng.between(DAYS.0, DAYS.1) as i64;
    let mut days = neighbours(class, rng);
    days.push(0);
    days.sort_unstable();
    let mut nights = Vec::new();
    for later in &days {
        nights.push((*later, night(class, &mut sun, day + later, rng)?));
    }
    // An hour of summer time would be another error.
    let wrong_night = &nights.iter().find(|n| n.0 == 0)?.1;
    let changes = |from: f64, until: f64| {
        offset_s(zone, after(wrong_night.dusk, from))
            != offset_s(zone, after(wrong_night.dusk, until))
    };
    if matches!(class, Class::Hours(_) | Class::Zone) && changes(-86_400.0, 172_800.0) {
        return None;
    }
    let error = error_of(class, zone, wrong_night.dusk, rng)?;
    let mut all = Vec::new();
    let cards = rng.one_of(&[
        Cards::One,
        Cards::One,
        Cards::EachNumberedOn,
        Cards::EachFromOne,
    ]);
    // Bodies on one tripod are started and stopped together, give or take.
    let mut windows: Vec<(Utc, Utc)> = Vec::new();
    for (_, night) in &nights {
        windows.push(window(span, night, rng)?);
    }
    for body in 0..bodies {
        let mut runs = Vec::new();
        for ((later, _), window) in nights.iter().zip(&windows) {
            let wrong = body == 0 && *later == 0 && class != Class::Right;
            let (mut from, mut until) = *window;
            if body > 0 {
                let late = |rng: &mut Rng| rng.between(0.0, 1.0).powi(3) * 2400.0;
                from = after(from, late(rng));
                until = after(until, -late(rng));
                if rng.chance(0.1) {
                    until = after(until, -until.seconds_since(from) * rng.between(0.2, 0.6));
                }
                if rng.chance(0.1) && *later != 0 {
                    continue;
                }
            }
            let error = if wrong { error } else { Error::Seconds(0) };
            runs.push(run((from, until), zone, error, wrong, rng));
        }
        all.push(Body {
            serial: format!("{class:?}{bodies}{span:?}{number}B{body}")
                .replace(['(', ')', '-'], "")
                .to_uppercase(),
            runs,
            cards,
        });
    }
    Some(World {
        number,
        place,
        zone,
        bodies: all,
    })
}

/// The other nights of a world, in days from the wrong one.
fn neighbours(class: Class, rng: &mut Rng) -> Vec<i64> {
    match class {
        Class::Day => vec![-1, 1],
        Class::Year | Class::Days(_) => vec![rng.one_of(&[-3, -2, -1]), rng.one_of(&[1, 2, 3])],
        _ => [-3, -1, 1, 2]
            .into_iter()
            .filter(|_| rng.chance(0.35))
            .collect(),
    }
}

/// The dark hours of a night; `None` if there are none.
fn night(class: Class, sun: &mut Sun, day: i64, rng: &mut Rng) -> Option<Night> {
    let midnight = sun.midnight(day);
    if let (Some(dusk), Some(dawn)) = (sun.dusk(midnight, -10.0), sun.dawn(midnight, -10.0)) {
        return Some(Night { dusk, dawn });
    }
    if class != Class::Right {
        return None;
    }
    // In white nights while the Sun is a little below the horizon; in polar nights without limit.
    if sun.alt_deg(midnight) < -10.0 {
        let hours = rng.between(3.0, 10.0) * 3600.0;
        return Some(Night {
            dusk: after(midnight, -hours),
            dawn: after(midnight, hours),
        });
    }
    let (dusk, dawn) = (sun.dusk(midnight, -4.5)?, sun.dawn(midnight, -4.5)?);
    (dawn.seconds_since(dusk) > 1800.0).then_some(Night { dusk, dawn })
}

fn error_of(class: Class, zone: &str, at: Utc, rng: &mut Rng) -> Option<Error> {
    Some(match class {
        Class::Right => Error::Seconds(0),
        Class::Hours(fast) => Error::Seconds(fast * 3600),
        Class::Day => Error::Seconds(rng.one_of(&[-86_400, 86_400])),
        Class::Year => Error::Years(rng.one_of(&[-1, 1])),
        Class::Days(days) => {
            let ahead = rng.one_of(&[-1, 1]);
            let error = Error::Seconds(ahead * days * 86_400);
            let right = shown(at, i64::from(offset_s(zone, at)));
            // A clock that is a calendar year off is another error.
            let by_years = wrong_reading(right, Error::Years(ahead));
            if wrong_reading(right, error).date() == by_years.date() {
                return None;
            }
            error
        }
        Class::Zone => {
            let fast = offset_s(rng.one_of(HOME_ZONES), at) - offset_s(zone, at);
            if fast == 0 {
                return None;
            }
            Error::Seconds(i64::from(fast))
        }
    })
}

/// The working hours of the photographer in a night.
fn window(span: Span, night: &Night, rng: &mut Rng) -> Option<(Utc, Utc)> {
    let length = night.dawn.seconds_since(night.dusk);
    if length < 3600.0 && span == Span::Full {
        return Some((night.dusk, night.dawn));
    }
    let (mut from, mut until) = (night.dusk, night.dawn);
    if span == Span::Varied {
        // A little before or well after; an hour at the Moon's rising or setting; the small hours only.
        match rng.next() % 5 {
            0 => from = after(from, rng.between(-300.0, 3600.0)),
            1 => until = after(until, -rng.between(-300.0, 3600.0)),
            2 => from = after(from, length * rng.between(0.1, 0.7)),
            3 => until = after(until, -length * rng.between(0.1, 0.7)),
            _ => {
                from = after(from, length * rng.between(0.0, 0.4));
                until = after(until, -length * rng.between(0.0, 0.4));
            }
        }
    }
    (until.seconds_since(from) > 1200.0).then_some((from, until))
}

/// A run of frames through a window, with pauses for clouds and meals.
fn run(window: (Utc, Utc), zone: &str, error: Error, wrong: bool, rng: &mut Rng) -> Run {
    let window = (whole_second(window.0), window.1);
    let length = window.1.seconds_since(window.0);
    let cadence = rng.between(120.0, 420.0).round();
    let mut pauses = Vec::new();
    for (chance, shortest, longest) in [(0.25, 1200.0, 5400.0), (0.25, 300.0, 2400.0)] {
        if rng.chance(chance) && length > 4.0 * longest {
            let from = rng.between(0.2, 0.8) * length;
            pauses.push((from, from + rng.between(shortest, longest)));
        }
    }
    let (exposure_s, iso) = rng.one_of(&[
        (20.0, 3200.0),
        (15.0, 1600.0),
        (5.0, 6400.0),
        (30.0, 1600.0),
        (10.0, 6400.0),
        (25.0, 800.0),
    ]);
    // Under the Moon, or for foregrounds, some frames are taken at other settings.
    let changed = rng.chance(0.2);
    let mut shots = Vec::new();
    let mut s = 0.0;
    while s <= length {
        if !pauses
            .iter()
            .any(|(from, until)| (*from..*until).contains(&s))
        {
            let at = after(window.0, s.floor());
            // A body that changes to summer time by itself does so at the right hour if its clock is right.
            let ahead_s = i64::from(offset_s(zone, if wrong { window.0 } else { at }));
            let second_half = changed && s > length / 2.0;
            shots.push(Shot {
                at,
                reading: wrong_reading(shown(at, ahead_s), error),
                exposure_s: if second_half {
                    exposure_s / 2.0
                } else {
                    exposure_s
                },
                iso,
            });
        }
        s += cadence;
    }
    Run { shots, wrong }
}

/// Clocks write whole seconds.
fn whole_second(at: Utc) -> Utc {
    Utc::from_unix_ms(at.unix_ms().div_euclid(1000) * 1000).expect("an instant")
}
