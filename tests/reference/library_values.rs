//! Values COMPUTED by independent libraries: every row of `tests/data/reference`. The `.toml` beside each table says
//! which library, which settings, which columns are checked to what, and which are not.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout)] // a test stops at the first surprise

use crate::reference_table::{Row, Worst, table};
use framefall::sky::darkness::DarkSky;
use framefall::sky::darkness::Lights;
use framefall::sky::darkness::Moonlight;
use framefall::sky::darkness::moonlight_nl;
use framefall::sky::direction::Direction;
use framefall::sky::instant::Instant;
use framefall::sky::look::Looker;
use framefall::sky::radiant::radiant;
use framefall::sky::rate::rate;
use framefall::sky::rate::rate_under;
use framefall::sky::seen::{arrival_kms, ground_kms, ground_moved, refraction, zenith_attracted};
use framefall::sky::showers::{peak_utc, shower};
use framefall::sky::sun::utc_of_longitude;
use framefall::terms::angle::Angle;
use framefall::terms::records::FrameSky;
use framefall::terms::site::Place;
use framefall::terms::site::SkyBrightness;
use framefall::terms::time::Utc;

const ARCSEC: f64 = 1.0 / 3600.0;

/// Reads `2016-12-31T23:59:60.500Z`, which no [`Utc`] can write.
fn instant(text: &str) -> Instant {
    let whole = |from: usize, to: usize| text[from..to].parse::<i32>().unwrap();
    let short = |from: usize, to: usize| text[from..to].parse::<u8>().unwrap();
    let date = (whole(0, 4), whole(5, 7), whole(8, 10));
    let second = text[17..].trim_end_matches('Z').parse().unwrap();
    Instant::from_parts(date, (short(11, 13), short(14, 16)), second).unwrap()
}

/// Difference of two angles in degrees, the short way round.
fn turn(a: f64, b: f64) -> f64 {
    (a - b + 180.0).rem_euclid(360.0) - 180.0
}

#[test]
fn altitude_and_azimuth() {
    let mut looker = Looker::new();
    let mut astropy = Worst::of("alt/az, astropy, degrees", 0.1 * ARCSEC);
    let mut erfa = Worst::of("alt/az, ERFA, degrees", 0.1 * ARCSEC);
    let mut skyfield = Worst::of("alt/az, skyfield, degrees", 0.1 * ARCSEC);
    let mut local = Worst::of("local apparent sidereal time, degrees", 0.01 * ARCSEC);
    let mut greenwich = Worst::of("Greenwich apparent sidereal time, degrees", 0.01 * ARCSEC);
    let null = Place::new(0.0, 0.0, 0.0).unwrap();
    for row in table("altaz") {
        let at = instant(row.text("utc"));
        let (ra, dec) = (row.deg("ra_icrs_deg"), row.deg("dec_icrs_deg"));
        let (alt, az) = looker.altaz_at(at, row.place(), ra, dec).unwrap();
        let ours = Direction::from_alt_az(alt, az);
        let apart = |alt, az| ours.angle_to(row.direction(alt, az)).deg();
        astropy.see(apart("alt_astropy_deg", "az_astropy_deg"), &row);
        erfa.see(apart("alt_erfa_deg", "az_erfa_deg"), &row);
        if !row.text("alt_skyfield_deg").is_empty() {
            skyfield.see(apart("alt_skyfield_deg", "az_skyfield_deg"), &row);
        }
        // A Utc reaches the same, wherever it can be written.
        if let Some(utc) = Utc::parse(row.text("utc")).filter(|_| !row.text("utc").contains(":60"))
        {
            assert_eq!(looker.altaz(utc, row.place(), ra, dec), Some((alt, az)));
        }
        let mut lst = |place| {
            looker
                .frame_sky_at(at, Some(place))
                .unwrap()
                .lst_deg
                .unwrap()
        };
        local.see(turn(lst(row.place()), row.number("last_deg")), &row);
        greenwich.see(turn(lst(null), row.number("gast_deg")), &row);
    }
    astropy.tell(2014);
    erfa.tell(2014);
    skyfield.tell(1806);
    local.tell(2014);
    greenwich.tell(2014);
}

#[test]
fn sun_and_moon() {
    let mut looker = Looker::new();
    let mut sun = Worst::of("Sun's altitude, DE421, degrees", 5.0 * ARCSEC);
    let mut moon = Worst::of("Moon, DE421, degrees", 20.0 * ARCSEC);
    let mut lit = Worst::of("lit fraction, DE421", 0.001);
    let mut lon = Worst::of("solar longitude, DE421, degrees", 0.0002);
    let mut sun_same = Worst::of("Sun's altitude, astropy, degrees", ARCSEC);
    let mut moon_same = Worst::of("Moon, astropy, degrees", ARCSEC);
    let mut lit_same = Worst::of("lit fraction, astropy", 2e-6);
    let mut lon_same = Worst::of("solar longitude, ERFA, degrees", 1e-6);
    for row in table("sunmoon") {
        let sky = looker
            .frame_sky_at(instant(row.text("utc")), Some(row.place()))
            .unwrap();
        let alt = sky.sun_alt_deg.unwrap();
        sun.see(alt - row.number("sun_alt_de421"), &row);
        sun_same.see(alt - row.number("sun_alt_astropy"), &row);
        let there = moon_of(&sky);
        moon.see(
            there
                .angle_to(row.direction("moon_alt_de421", "moon_az_de421"))
                .deg(),
            &row,
        );
        moon_same.see(
            there
                .angle_to(row.direction("moon_alt_astropy", "moon_az_astropy"))
                .deg(),
            &row,
        );
        lit.see(sky.moon_lit - row.number("moon_fraction_geo_de421"), &row);
        lit_same.see(sky.moon_lit - row.number("moon_fraction_geo_astropy"), &row);
        let column = "sun_lambda_j2000_geometric_de421_deg";
        lon.see(turn(sky.solar_lon_deg, row.number(column)), &row);
        let column = "sun_lambda_j2000_geometric_epv00_deg";
        lon_same.see(turn(sky.solar_lon_deg, row.number(column)), &row);
    }
    for worst in [sun, moon, lit, lon, sun_same, moon_same, lit_same, lon_same] {
        worst.tell(600);
    }
}

#[test]
fn radiants_over_real_sites() {
    let mut looker = Looker::new();
    let mut lon = Worst::of("solar longitude, degrees", 1e-5);
    let mut between = Worst::of("radiant between published positions, degrees", 0.001);
    let mut line = Worst::of("radiant on the line, degrees", 0.0002);
    let mut altaz = Worst::of("radiant alt/az, degrees", 0.3 * ARCSEC);
    let mut arrival = Worst::of("arrival speed, km/s", 0.001);
    let mut pulled = Worst::of("zenith-attracted altitude, degrees", 2e-5);
    let mut moved = Worst::of("radiant from the moving ground, degrees", 2e-5);
    let mut factor = Worst::of("rate factor", 1e-5);
    for row in table("radiants") {
        let (at, place) = (Utc::parse(row.text("utc")).unwrap(), row.place());
        let sky = looker.frame_sky(at, Some(place)).unwrap();
        let theirs = row.number("solar_longitude_geo_j2000_deg");
        lon.see(turn(sky.solar_lon_deg, theirs), &row);

        let shower = shower(row.shower()).unwrap();
        let active = sky.radiants.iter().any(|one| one.shower == shower.code);
        assert!(active, "{:?}", row.cells);
        assert!((shower.vg_kms - row.number("vg_kms")).abs() < 1e-9);
        let ours = radiant(shower, sky.solar_lon_deg);
        let ours = Direction::from_alt_az(ours.dec, ours.ra);
        if row.text("ra_table6_deg").is_empty() {
            // Beyond the ends of a table of positions the radiant goes on from its end: radiants_beyond.csv.
            if shower.drift.len() < 2 {
                let theirs = row.direction("dec_j2000_deg", "ra_j2000_deg");
                line.see(ours.angle_to(theirs).deg(), &row);
            }
        } else {
            let theirs = row.direction("dec_table6_deg", "ra_table6_deg");
            between.see(ours.angle_to(theirs).deg(), &row);
        }

        let (ra, dec) = (row.deg("ra_j2000_deg"), row.deg("dec_j2000_deg"));
        let (alt, az) = looker.altaz(at, place, ra, dec).unwrap();
        let geometric = row.direction("alt_geometric_deg", "az_deg");
        let ours = Direction::from_alt_az(alt, az);
        altaz.see(ours.angle_to(geometric).deg(), &row);
        let speed = arrival_kms(shower.vg_kms);
        arrival.see(speed - row.number("vinf_kms"), &row);
        let attracted = zenith_attracted(geometric, shower.vg_kms);
        let theirs = row.number("alt_apparent_deg");
        pulled.see(attracted.altitude().deg() - theirs, &row);
        let ground = ground_kms(place.lat_deg().to_radians().cos(), place.elev_m());
        let theirs = row.direction("alt_apparent_rotating_deg", "az_apparent_rotating_deg");
        let ours = ground_moved(attracted, speed, ground);
        moved.see(ours.angle_to(theirs).deg(), &row);
        let ours = rate(1.0, attracted.sin_altitude());
        factor.see(ours - row.number("rate_factor_sin_h"), &row);
    }
    for worst in [lon, altaz, arrival, pulled, moved, factor] {
        worst.tell(240);
    }
    between.tell(223);
    line.tell(3);
}

#[test]
fn radiants_beyond_their_published_positions() {
    let mut beyond = Worst::of("radiant beyond its positions, degrees", 1e-5);
    for row in table("radiants_beyond") {
        let shower = shower(row.shower()).unwrap();
        let ours = radiant(shower, row.number("solar_longitude_deg"));
        let ours = Direction::from_alt_az(ours.dec, ours.ra);
        let theirs = row.direction("dec_j2000_deg", "ra_j2000_deg");
        beyond.see(ours.angle_to(theirs).deg(), &row);
    }
    beyond.tell(192);
}

#[test]
fn skies_in_twilight_and_moonlight() {
    let mut moonlight = Worst::of("moonlight, share of it", 1e-6);
    let mut faintest = Worst::of("faintest star, magnitudes", 1e-5);
    for row in table("dark_sky") {
        if row.text("kind") == "moonlight" {
            let [phase, apart, moon_z, z] =
                ["phase_deg", "apart_deg", "moon_z_deg", "z_deg"].map(|key| row.number(key));
            let ours = moonlight_nl(phase, apart, moon_z, z);
            moonlight.see(ours / row.number("moonlight_nl") - 1.0, &row);
            continue;
        }
        let lights = Lights {
            sun_alt_deg: Some(row.number("sun_alt_deg")),
            moon: Some(Moonlight {
                alt_deg: row.number("moon_alt_deg"),
                lit: row.number("lit"),
            }),
        };
        let ours = DarkSky::of(Some(SkyBrightness::Sqm(row.number("sqm"))));
        let ours = ours.faintest_with(&lights).unwrap();
        faintest.see(ours - row.number("faintest"), &row);
    }
    moonlight.tell(120);
    faintest.tell(200);
}

#[test]
fn sun_and_moon_over_real_sites() {
    let mut looker = Looker::new();
    let mut lst = Worst::of("sidereal time, degrees", 1e-6);
    let mut sun = Worst::of("Sun's altitude, degrees", 5.0 * ARCSEC);
    let mut moon = Worst::of("Moon, degrees", 20.0 * ARCSEC);
    let mut lit = Worst::of("lit fraction", 0.001);
    let mut apart = Worst::of("Moon to radiant, degrees", 20.0 * ARCSEC);
    for row in table("radiants") {
        let at = Utc::parse(row.text("utc")).unwrap();
        let sky = looker.frame_sky(at, Some(row.place())).unwrap();
        lst.see(turn(sky.lst_deg.unwrap(), row.number("last_deg")), &row);
        sun.see(sky.sun_alt_deg.unwrap() - row.number("sun_alt_deg"), &row);
        let twilight = sky.twilight.unwrap().word();
        assert_eq!(twilight, row.text("twilight"), "{:?}", row.cells);
        let ours = moon_of(&sky);
        let theirs = row.direction("moon_alt_deg", "moon_az_deg");
        moon.see(ours.angle_to(theirs).deg(), &row);
        lit.see(sky.moon_lit - row.number("moon_fraction"), &row);
        let radiant = row.direction("alt_geometric_deg", "az_deg");
        let theirs = row.number("moon_radiant_sep_deg");
        apart.see(ours.angle_to(radiant).deg() - theirs, &row);
    }
    for worst in [lst, sun, moon, lit, apart] {
        worst.tell(240);
    }
}

fn moon_of(sky: &FrameSky) -> Direction {
    Direction::from_alt_az(
        Angle::from_deg(sky.moon_alt_deg.unwrap()),
        Angle::from_deg(sky.moon_az_deg.unwrap()),
    )
}

#[test]
fn maxima_of_the_showers() {
    let mut worst = Worst::of("UTC of a maximum, seconds", 0.502);
    for row in table("solar_longitude") {
        let shower = shower(row.shower()).unwrap();
        let longitude = row.number("peak_solar_longitude_deg");
        assert!((shower.peak.unwrap().solar_lon_deg - longitude).abs() < 1e-9);
        let year = row.text("year").parse().unwrap();
        let theirs = Utc::parse(row.text("peak_utc_geometric")).unwrap();
        worst.see(peak_utc(shower, year).unwrap().seconds_since(theirs), &row);
    }
    worst.tell(1517);
}

#[test]
fn longitudes_of_printed_clock_times() {
    let mut worst = Worst::of("UTC of a solar longitude, seconds", 0.502);
    for row in table("solar_longitude_check") {
        let year = row.text("year").parse().unwrap();
        let ours = utc_of_longitude(row.deg("solar_longitude_deg"), year).unwrap();
        let theirs = Utc::parse(row.text("computed_utc_geometric")).unwrap();
        worst.see(ours.seconds_since(theirs), &row);
    }
    worst.tell(45);
}

/// Reads `name=value` out of a row's inputs.
fn input(row: &Row, name: &str) -> f64 {
    row.text("inputs")
        .split_whitespace()
        .find_map(|pair| pair.strip_prefix(name)?.strip_prefix('='))
        .and_then(|text| text.parse().ok())
        .unwrap_or_else(|| panic!("no {name} in {:?}", row.cells))
}

#[test]
fn refraction_pull_and_rate() {
    let (mut refractions, mut pulls, mut rates) = (0, 0, 0);
    for row in table("geometry") {
        let ours = match row.text("kind") {
            "refraction_saemundsson" => {
                refractions += 1;
                let inputs = row.text("inputs").trim_start_matches("true altitude ");
                let (alt, air) = inputs.split_once(", ").unwrap();
                assert_eq!(air, "1010 hPa, 10 C");
                refraction(Angle::from_deg(alt.parse().unwrap())).deg() * 60.0
            }
            "zenith_attraction" => {
                pulls += 1;
                90.0 - pulled(input(&row, "z_geo"), input(&row, "vg"))
            }
            "rate" => {
                let plain = [("obstructed", 0.0), ("gamma", 1.0)];
                if plain
                    .iter()
                    .any(|(name, value)| (input(&row, name) - value).abs() > 1e-9)
                {
                    continue;
                }
                rates += 1;
                let dark = rate(input(&row, "ZHR"), input(&row, "h").to_radians().sin());
                rate_under(dark, input(&row, "r"), input(&row, "lm"))
            }
            _ => continue,
        };
        let apart = (ours - row.number("value")).abs();
        assert!(apart <= row.number("tolerance"), "{ours} {:?}", row.cells);
    }
    assert_eq!((refractions, pulls, rates), (13, 70, 4));
}

#[test]
fn the_pull_agrees_with_integrated_falls() {
    let mut worst = Worst::of("zenith attraction, degrees", 0.001);
    for row in table("zenith_attraction") {
        let ours = 90.0 - pulled(row.number("z_geocentric_deg"), row.number("vg_kms"));
        worst.see(ours - row.number("z_apparent_deg"), &row);
    }
    worst.tell(21);
}

fn pulled(zenith_distance_deg: f64, vg_kms: f64) -> f64 {
    let alt = Angle::from_deg(90.0 - zenith_distance_deg);
    let from = Direction::from_alt_az(alt, Angle::from_deg(200.0));
    zenith_attracted(from, vg_kms).altitude().deg()
}
