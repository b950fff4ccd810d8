//! How dark the sky over frames was: the printed values, and nights of which it is known what the sky took away.
#![allow(clippy::unwrap_used)] // a test stops at the first surprise

use framefall::sky::darkness::DarkSky;
use framefall::sky::darkness::Lights;
use framefall::sky::darkness::faintest_star;
use framefall::sky::darkness::magnitude;
use framefall::sky::darkness::moonlight_nl;
use framefall::sky::darkness::nanolamberts;
use framefall::sky::darkness::twilight_magnitudes;
use framefall::sky::look::Looker;
use framefall::terms::records::RadiantSky;
use framefall::terms::site::Place;
use framefall::terms::site::SkyBrightness;
use framefall::terms::time::Utc;
use toml::Table;

fn rows<'a>(file: &'a Table, key: &str) -> impl Iterator<Item = &'a Table> {
    let rows = file[key].as_array().unwrap();
    rows.iter().map(|row| row.as_table().unwrap())
}

#[allow(clippy::cast_precision_loss)] // whole numbers of a table
fn number(table: &Table, key: &str) -> f64 {
    let value = &table[key];
    let whole = value.as_integer().map(|whole| whole as f64);
    value.as_float().or(whole).unwrap()
}

#[test]
fn brightness_of_the_sky() {
    let file: Table = include_str!("../data/published/sky-brightness.toml")
        .parse()
        .unwrap();
    let dark_nl = nanolamberts(21.6);
    let mut count = 0;
    for row in rows(&file, "moonlight") {
        let [phase, apart, moon_z, z] =
            ["phase_deg", "apart_deg", "moon_z_deg", "z_deg"].map(|key| number(row, key));
        let ours = moonlight_nl(phase, apart, moon_z, z);
        assert!((ours - number(row, "expect_nl")).abs() <= 0.5, "{ours}");
        let sky = magnitude(dark_nl + ours);
        assert!((sky - number(row, "expect_sky")).abs() <= 0.006, "{sky}");
        let star = faintest_star(sky);
        assert!(
            (star - number(row, "expect_faintest")).abs() <= 0.006,
            "{star}"
        );
        count += 1;
    }
    for row in rows(&file, "twilight") {
        let sun_alt_deg = number(row, "sun_alt_deg");
        let sky = 21.6 - twilight_magnitudes(sun_alt_deg);
        assert!((sky - number(row, "expect_sky")).abs() <= 0.006, "{sky}");
        let lights = Lights {
            sun_alt_deg: Some(sun_alt_deg),
            moon: None,
        };
        let star = DarkSky::of(Some(SkyBrightness::Sqm(21.6)))
            .faintest_with(&lights)
            .unwrap();
        assert!(
            (star - number(row, "expect_faintest")).abs() <= 0.006,
            "{star}"
        );
        count += 1;
    }
    assert_eq!(count, 9);
}

/// Hours of a shower's meteors from one instant to another, every 20 seconds: by the rate, and by the rate under the sky.
fn meteors(code: &str, from: &str, to: &str, place: Place, dark: &DarkSky) -> (f64, f64) {
    let mut looker = Looker::new();
    let (mut at, to) = (Utc::parse(from).unwrap(), Utc::parse(to).unwrap());
    let (mut dark_sky, mut seen) = (0.0, 0.0);
    while at < to {
        let sky = looker.frame_sky_over(at, Some(place), dark).unwrap();
        let of_code = |one: &&RadiantSky| one.shower.as_str() == code;
        let one = sky.radiants.iter().find(of_code).unwrap();
        dark_sky += one.rate * 20.0 / 3600.0;
        seen += one.seen_rate * 20.0 / 3600.0;
        at = at.plus_s(20.0).unwrap();
    }
    (dark_sky, seen)
}

/// The evening of the Perseids' maximum of 2024 from 37 minutes before sunset to 46 minutes after it: a watcher under a
/// 6.5-magnitude sky would see some forty, the one who was there next to none.
#[test]
fn no_meteors_are_expected_before_it_is_dark() {
    let place = Place::new(46.5, 8.0, 1_200.0).unwrap();
    let dark = DarkSky::of(None);
    let evening = ("2024-08-12T18:00:00Z", "2024-08-12T19:23:00Z");
    let (rate, seen) = meteors("PER", evening.0, evening.1, place, &dark);
    assert!((25.0..60.0).contains(&rate), "{rate}");
    assert!(seen > 0.0 && seen < 0.3, "{seen}");
    let day = ("2024-08-12T10:00:00Z", "2024-08-12T12:00:00Z");
    let (rate, seen) = meteors("PER", day.0, day.1, place, &dark);
    assert!(rate > 10.0 && seen <= 0.0, "{rate} {seen}");
    // The Moon had set before midnight: late in that night nothing is taken away but by the site.
    let night = ("2024-08-12T23:30:00Z", "2024-08-13T01:30:00Z");
    let (rate, seen) = meteors("PER", night.0, night.1, place, &dark);
    assert!((seen / rate - 1.0).abs() < 1e-9, "{rate} {seen}");
    let town = DarkSky::of(Some(SkyBrightness::LimitingMagnitude(5.0)));
    let (_, in_town) = meteors("PER", night.0, night.1, place, &town);
    // r is 2.2: 2.2^-1.5 is 0.306.
    assert!((in_town / rate - 0.306).abs() < 0.001, "{in_town}");
}

/// The Quadrantids of 2026 fell on the full Moon of January 3, 10:03 UTC (from memory).
#[test]
fn a_full_moon_leaves_a_few() {
    let place = Place::new(63.05, 13.35, 640.0).unwrap();
    let night = ("2026-01-03T22:00:00Z", "2026-01-04T02:00:00Z");
    let (rate, seen) = meteors("QUA", night.0, night.1, place, &DarkSky::of(None));
    // 2.1 to the power of -2 to -2.6.
    assert!((0.14..0.24).contains(&(seen / rate)), "{rate} {seen}");
}
