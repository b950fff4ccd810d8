//! Values PRINTED by a source: every check of `tests/data/published`, one file a source. Each file says where its
//! figures were read; a tolerance wider than half the last printed digit says why.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout)] // a test stops at the first surprise

use std::collections::BTreeMap;
use std::fs;

use framefall::sky::direction::Direction;
use framefall::sky::instant::Instant;
use framefall::sky::look::Looker;
use framefall::sky::observer::Observer;
use framefall::sky::rate::rate;
use framefall::sky::seen::refraction;
use framefall::sky::shower::Shower;
use framefall::sky::showers::{peak_utc, shower, showers};
use framefall::sky::sun::utc_of_longitude;
use framefall::terms::angle::Angle;
use framefall::terms::basis::Twilight;
use framefall::terms::shower::ShowerCode;
use framefall::terms::site::Place;
use framefall::terms::time::Utc;
use toml::{Table, Value};

/// Reads a file of printed values; it must say what it cites and where it was read.
fn published(name: &str) -> Table {
    let path = format!(
        "{}/tests/data/published/{name}.toml",
        env!("CARGO_MANIFEST_DIR")
    );
    let file: Table = fs::read_to_string(path).unwrap().parse().unwrap();
    let source = file["source"].as_table().unwrap();
    assert!(!text(source, "cite").is_empty());
    assert!(["page", "memory"].contains(&text(source, "read_from")));
    file
}

fn rows<'a>(file: &'a Table, key: &str) -> impl Iterator<Item = &'a Table> {
    file[key]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one.as_table().unwrap())
}

fn text<'a>(table: &'a Table, key: &str) -> &'a str {
    table
        .get(key)
        .and_then(Value::as_str)
        .unwrap_or_else(|| panic!("no {key} in {table:?}"))
}

#[allow(clippy::cast_precision_loss)] // whole numbers of a table
fn number(table: &Table, key: &str) -> f64 {
    let value = table
        .get(key)
        .unwrap_or_else(|| panic!("no {key} in {table:?}"));
    value
        .as_float()
        .or(value.as_integer().map(|whole| whole as f64))
        .unwrap()
}

fn deg(table: &Table, key: &str) -> Angle {
    Angle::from_deg(number(table, key))
}

fn utc(table: &Table, key: &str) -> Utc {
    Utc::parse(text(table, key)).unwrap()
}

fn shower_of(code: &str) -> &'static Shower {
    shower(ShowerCode::parse(code).unwrap()).unwrap_or_else(|| panic!("no {code}"))
}

fn at_lat(lat_deg: f64) -> Place {
    Place::new(lat_deg, 0.0, 0.0).unwrap()
}

/// Solar longitude at 0h UT of a day, `2025-12-28`, some days later.
fn longitude_of(day: &str, days_later: f64) -> f64 {
    let at = Utc::parse(&format!("{day}T00:00:00Z")).unwrap();
    let at = at.plus_s(days_later * 86_400.0).unwrap();
    Looker::new().frame_sky(at, None).unwrap().solar_lon_deg
}

fn apart(a: f64, b: f64) -> f64 {
    ((a - b + 180.0).rem_euclid(360.0) - 180.0).abs()
}

#[test]
fn worked_examples() {
    let mut count = 0;
    for check in rows(&published("meeus-1998"), "check") {
        let given = check["given"].as_table().unwrap();
        let sky = |place| {
            Looker::new()
                .frame_sky(utc(given, "utc"), Some(place))
                .unwrap()
        };
        let found = match text(check, "what") {
            "julian_date" => 2_451_545.0 + Instant::from_utc(utc(given, "utc")).unwrap().ut1_d(),
            "rho_sin_phi" => site(given).from_equator_m() / number(given, "equator_m"),
            "rho_cos_phi" => site(given).from_axis_m() / number(given, "equator_m"),
            "apparent_sidereal_time_greenwich_deg" => sky(at_lat(0.0)).lst_deg.unwrap(),
            "refraction_arcmin" => refraction(deg(given, "alt_deg")).deg() * 60.0,
            "separation_deg" => {
                let one = Direction::from_alt_az(deg(given, "dec1_deg"), deg(given, "ra1_deg"));
                let two = Direction::from_alt_az(deg(given, "dec2_deg"), deg(given, "ra2_deg"));
                one.angle_to(two).deg()
            }
            "sun_declination_deg" => {
                // At the pole altitude is declination, but for the parallax of the Earth's polar radius, 6356.752 km.
                let alt = deg_to_rad(sky(at_lat(90.0)).sun_alt_deg.unwrap());
                let parallax = 6356.752 / (149_597_870.7 * number(given, "distance_au"));
                (alt + parallax * alt.cos()).to_degrees()
            }
            "moon_lit" => sky(at_lat(0.0)).moon_lit,
            other => panic!("nobody checks {other}"),
        };
        let expect = number(check, "expect");
        let off = (found - expect).abs();
        assert!(off <= number(check, "tolerance"), "{check:?}: {found}");
        count += 1;
    }
    assert_eq!(count, 15);
}

fn deg_to_rad(deg: f64) -> f64 {
    deg.to_radians()
}

fn site(given: &Table) -> Observer {
    let place = Place::new(number(given, "lat_deg"), 0.0, number(given, "elev_m"));
    Observer::at(place.unwrap()).unwrap()
}

#[test]
fn the_calendars_table_of_showers() {
    let file = published("imo-2025-showers");
    let tolerance = number(file["source"].as_table().unwrap(), "tolerance_deg");
    let mut count = 0;
    for row in rows(&file, "shower") {
        count += 1;
        let ours = shower_of(text(row, "code"));
        let code = ours.code;
        assert_eq!(ours.name, text(row, "name"));
        let iau_number = row.get("iau_number").and_then(Value::as_integer);
        assert_eq!(ours.iau_number.map(i64::from), iau_number, "{code}");
        assert!((ours.r - number(row, "r")).abs() < 1e-9, "{code}");
        match ours.zhr {
            Some(zhr) => assert!((zhr - number(row, "zhr")).abs() < 1e-9, "{code}"),
            None => assert_eq!(text(row, "zhr"), "var", "{code}"),
        }
        let start = longitude_of(text(row, "first_day"), 0.0);
        assert!(
            apart(ours.start_deg, start) <= tolerance,
            "{code} starts {start}"
        );
        let end = longitude_of(text(row, "last_day"), 1.0);
        assert!(apart(ours.end_deg, end) <= tolerance, "{code} ends {end}");

        // The data centre's geocentric speed where it has one, else the calendar's speed less the Earth's pull.
        let vg = if row.contains_key("mdc_vg_kms") {
            number(row, "mdc_vg_kms")
        } else {
            (number(row, "vinf_kms").powi(2) - 125.0).sqrt()
        };
        assert!((ours.vg_kms - vg).abs() <= 0.05 + 1e-9, "{code}: {vg}");

        let Some(peak) = ours.peak else {
            assert!(!row.contains_key("peak_deg"), "{code}");
            continue;
        };
        assert!(
            (peak.solar_lon_deg - number(row, "peak_deg")).abs() < 1e-9,
            "{code}"
        );
        assert!((peak.ra_deg - number(row, "ra_deg")).abs() < 1e-9, "{code}");
        assert!(
            (peak.dec_deg - number(row, "dec_deg")).abs() < 1e-9,
            "{code}"
        );
        let at = peak_utc(ours, 2025).unwrap().to_string();
        assert_eq!(&at[..10], text(row, "peak_day"), "{code}");
    }
    assert_eq!(
        count,
        showers().len(),
        "every row of ours is printed, every printed row is ours"
    );
}

#[test]
fn the_calendars_table_of_radiants() {
    let file = published("imo-2025-radiants");
    let tolerance = number(file["source"].as_table().unwrap(), "tolerance_deg");
    let mut count = 0;
    for (code, printed) in file["radiant"].as_table().unwrap() {
        let ours = shower_of(code);
        let printed = printed.as_array().unwrap();
        assert_eq!(ours.drift.len(), printed.len(), "{code}");
        for (point, printed) in ours.drift.iter().zip(printed) {
            let printed = printed.as_array().unwrap();
            let longitude = longitude_of(printed[0].as_str().unwrap(), 0.0);
            assert!(
                apart(point.solar_lon_deg, longitude) <= tolerance,
                "{code} {printed:?}"
            );
            assert!(
                (point.ra_deg - printed[1].as_float().unwrap()).abs() < 1e-9,
                "{code}"
            );
            assert!(
                (point.dec_deg - printed[2].as_float().unwrap()).abs() < 1e-9,
                "{code}"
            );
            count += 1;
        }
    }
    assert_eq!(
        count,
        showers().iter().map(|one| one.drift.len()).sum::<usize>()
    );
}

#[test]
fn printed_clock_times() {
    let mut count: BTreeMap<&str, usize> = BTreeMap::new();
    let file = published("shower-clock-times");
    for check in rows(&file, "check") {
        assert!(!text(check, "source").is_empty());
        let longitude = deg(check, "solar_lon_deg");
        let year = i32::try_from(check["year"].as_integer().unwrap()).unwrap();
        let printed = utc(check, "expect_utc");
        let half = number(check, "printed_to_min") / 2.0;
        let off_min = |ours: Utc, printed: Utc| (ours.seconds_since(printed) / 60.0).abs();
        let ours = utc_of_longitude(longitude, year).unwrap();
        let kind = if let Some(other) = check.get("belongs_to_year") {
            let other = other.as_integer().unwrap();
            assert!(off_min(ours, printed) > half, "no slip any more: {check:?}");
            let moved =
                text(check, "expect_utc").replacen(&year.to_string(), &other.to_string(), 1);
            let ours = utc_of_longitude(longitude, i32::try_from(other).unwrap()).unwrap();
            assert!(
                off_min(ours, Utc::parse(&moved).unwrap()) <= half,
                "{check:?}: {ours}"
            );
            "slip"
        } else if check.contains_key("tolerance_min") {
            assert!(!text(check, "because").is_empty());
            assert!(
                off_min(ours, printed) <= number(check, "tolerance_min"),
                "{check:?}: {ours}"
            );
            "widened"
        } else {
            assert!(off_min(ours, printed) <= half, "{check:?}: {ours}");
            "plain"
        };
        *count.entry(kind).or_default() += 1;
    }
    assert_eq!(
        count,
        BTreeMap::from([("plain", 35), ("slip", 2), ("widened", 8)])
    );
}

#[test]
fn radiants_as_photographers_know_them() {
    let facts = published("trade-facts");
    let mut looker = Looker::new();
    for fact in rows(&facts, "altaz") {
        let given = fact["given"].as_table().unwrap();
        let place = at_lat(number(given, "lat_deg"));
        for expect in rows(fact, "expect") {
            let (ra, dec) = (deg(given, "ra_deg"), deg(given, "dec_deg"));
            let (alt, az) = looker.altaz(utc(expect, "utc"), place, ra, dec).unwrap();
            let ours = Direction::from_alt_az(alt, az);
            let theirs = Direction::from_alt_az(deg(expect, "alt_deg"), deg(expect, "az_deg"));
            let off = ours.angle_to(theirs).deg();
            // Half a degree each way.
            assert!(off < 0.71, "{}: {off} at {expect:?}", text(fact, "fact"));
        }
    }
    for fact in rows(&facts, "rises") {
        let given = fact["given"].as_table().unwrap();
        let place = at_lat(number(given, "lat_deg"));
        let (ra, dec) = (deg(given, "ra_deg"), deg(given, "dec_deg"));
        let below = looker
            .altaz(utc(fact, "below_at_utc"), place, ra, dec)
            .unwrap();
        let above = looker
            .altaz(utc(fact, "above_at_utc"), place, ra, dec)
            .unwrap();
        assert!(
            below.0.deg() < 0.0 && above.0.deg() > 0.0,
            "{below:?} {above:?}"
        );
        assert!(apart(above.1.deg(), number(fact, "az_deg")) < number(fact, "az_tolerance_deg"));
    }
    for fact in rows(&facts, "circumpolar") {
        let code = text(fact, "shower");
        let peak = shower_of(code).peak.unwrap();
        let (ra, dec) = (Angle::from_deg(peak.ra_deg), Angle::from_deg(peak.dec_deg));
        let mut lowest = |lat_deg: f64| {
            let start = utc(fact, "utc");
            let heights = (0..288).map(|k| {
                let at = start.plus_s(f64::from(k) * 300.0).unwrap();
                let (alt, _) = looker.altaz(at, at_lat(lat_deg), ra, dec).unwrap();
                alt.deg()
            });
            heights.fold(f64::INFINITY, f64::min)
        };
        // Whole degrees of declination.
        assert!(lowest(number(fact, "lat_deg") + 0.5) > 0.0, "{code}");
        assert!(lowest(number(fact, "lat_deg") - 0.5) < 0.0, "{code}");
    }
    for fact in rows(&facts, "highest") {
        let code = ShowerCode::parse(text(fact, "shower")).unwrap();
        let (mut at, to) = (utc(fact, "from_utc"), utc(fact, "to_utc"));
        let mut looks = 0;
        while at <= to {
            let sky = looker
                .radiant_sky(at, at_lat(number(fact, "lat_deg")), code)
                .unwrap();
            assert!(
                sky.alt_deg < number(fact, "below_deg"),
                "{} at {at}",
                text(fact, "fact")
            );
            at = at.plus_s(300.0).unwrap();
            looks += 1;
        }
        assert!(looks > 50);
    }
}

#[test]
fn the_trades_other_facts() {
    let facts = published("trade-facts");
    let mut looker = Looker::new();
    for fact in rows(&facts, "midsummer") {
        let mut ever_dark = |lat_deg: f64| {
            (0..144).any(|k| {
                let at = utc(fact, "from_utc").plus_s(f64::from(k) * 300.0).unwrap();
                assert!(at < utc(fact, "to_utc"));
                let sky = looker.frame_sky(at, Some(at_lat(lat_deg))).unwrap();
                sky.twilight == Some(Twilight::Night)
            })
        };
        assert!(ever_dark(number(fact, "dark_at_lat_deg")));
        assert!(!ever_dark(number(fact, "never_dark_at_lat_deg")));
    }

    let fact = facts["rate"].as_table().unwrap();
    let left = rate(1.0, deg(fact, "alt_deg").rad().sin());
    assert!((left - number(fact, "expect")).abs() < number(fact, "tolerance"));

    let fact = facts["sidereal"].as_table().unwrap();
    let start = Utc::parse("2025-08-12T20:00:00Z").unwrap();
    let mut lst = |after_s: f64| {
        let at = start.plus_s(after_s).unwrap();
        looker
            .frame_sky(at, Some(at_lat(45.0)))
            .unwrap()
            .lst_deg
            .unwrap()
    };
    let hour = (lst(3600.0) - lst(0.0)).rem_euclid(360.0);
    assert!(
        (hour - number(fact, "deg_an_hour")).abs() < number(fact, "tolerance_deg"),
        "{hour}"
    );
    let short_of = apart(lst(86_400.0 - number(fact, "earlier_s")), lst(0.0));
    assert!(short_of * 240.0 < number(fact, "tolerance_s"), "{short_of}");

    let fact = facts["drift"].as_table().unwrap();
    let drifts: Vec<f64> = showers()
        .iter()
        .filter_map(|one| one.peak.filter(|_| one.drift.len() > 1))
        // A degree of solar longitude takes 1.0146 days.
        .map(|peak| peak.drift_ra / 1.0146)
        .collect();
    let usual = number(fact, "ra_deg_a_day");
    let near = drifts
        .iter()
        .filter(|drift| (*drift - usual).abs() <= number(fact, "half_of_them_within"))
        .count();
    assert!(near * 2 > drifts.len(), "{near} of {}", drifts.len());
}
