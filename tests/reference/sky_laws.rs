//! Laws of the sky that hold for any instant, place and direction, and the quick way against the long way.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout)] // a test stops at the first surprise

use crate::slow_sky;
use crate::slow_sky::apart_arcsec;
use framefall::sky::look::Looker;
use framefall::sky::radiant::radiant;
use framefall::sky::showers::{shower, showers};
use framefall::terms::angle::Angle;
use framefall::terms::shower::ShowerCode;
use framefall::terms::site::Place;
use framefall::terms::time::Utc;
use proptest::prelude::*;

/// 1950-01-01 to 2099-12-31, every millisecond of the years that the model is good for.
fn any_instant() -> impl Strategy<Value = Utc> {
    (-631_152_000_000_i64..4_102_444_800_000).prop_map(|ms| Utc::from_unix_ms(ms).unwrap())
}

/// Any place, the poles and the date line among them.
fn any_place() -> impl Strategy<Value = Place> {
    let lat = prop_oneof![8 => -90.0..=90.0_f64, 1 => Just(90.0), 1 => Just(-90.0), 1 => Just(0.0)];
    let lon = prop_oneof![8 => -180.0..=180.0_f64, 1 => Just(180.0), 1 => Just(-180.0)];
    (lat, lon, -400.0..6000.0_f64).prop_map(|(lat, lon, elev)| Place::new(lat, lon, elev).unwrap())
}

/// Right ascension and declination in degrees, even over the sphere.
fn any_direction() -> impl Strategy<Value = (f64, f64)> {
    (0.0..360.0_f64, -1.0..=1.0_f64).prop_map(|(ra, z)| (ra, z.asin().to_degrees()))
}

fn altaz(looker: &mut Looker, at: Utc, place: Place, (ra, dec): (f64, f64)) -> (f64, f64) {
    let (alt, az) = looker
        .altaz(at, place, Angle::from_deg(ra), Angle::from_deg(dec))
        .unwrap();
    (alt.deg(), az.deg())
}

fn lawful() -> ProptestConfig {
    ProptestConfig {
        cases: 400,
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(lawful())]

    /// The bound that `Looker::altaz` states.
    #[test]
    fn a_star_stands_where_the_long_way_puts_it(
        at in any_instant(), place in any_place(), direction in any_direction()
    ) {
        let quick = altaz(&mut Looker::new(), at, place, direction);
        let long = slow_sky::star(at, place, direction.0, direction.1);
        let apart = apart_arcsec(quick, long);
        prop_assert!(apart < 0.001, "{apart} arcseconds: {quick:?} {long:?}");
    }

    /// The bounds that the node's blend states.
    #[test]
    fn sun_moon_and_radiants_stand_where_the_long_way_puts_them(
        at in any_instant(), place in any_place()
    ) {
        let quick = Looker::new().frame_sky(at, Some(place)).unwrap();
        let long = slow_sky::sun_moon(at, place);
        let sun = (quick.sun_alt_deg.unwrap() - long.sun.0).abs() * 3600.0;
        prop_assert!(sun < 0.001, "Sun {sun}");
        let moon = (quick.moon_alt_deg.unwrap(), quick.moon_az_deg.unwrap());
        let moon = apart_arcsec(moon, long.moon);
        prop_assert!(moon < 0.01, "Moon {moon}");
        prop_assert!((quick.moon_lit - long.lit).abs() < 1e-7);
        prop_assert!((quick.solar_lon_deg - long.solar_lon_deg).abs() < 1e-7);
        for one in &quick.radiants {
            let there = radiant(shower(one.shower).unwrap(), long.solar_lon_deg);
            let long = slow_sky::star(at, place, there.ra.deg(), there.dec.deg());
            let apart = apart_arcsec((one.alt_deg, one.az_deg), long);
            prop_assert!(apart < 0.001, "{} {apart}", one.shower);
        }
    }

    /// The strongest shower gives most there and then: it is up. Where none is, none is the strongest. Under the sky of the
    /// frame no more meteors are left than under a 6.5-magnitude sky, and none with the Sun above -6°.
    #[test]
    fn the_strongest_shower_is_up_and_gives_most(at in any_instant(), place in any_place()) {
        let sky = Looker::new().frame_sky(at, Some(place)).unwrap();
        let most = sky.radiants.iter().map(|one| one.rate).fold(0.0, f64::max);
        match sky.strongest {
            None => prop_assert!(most <= 0.0),
            Some(code) => {
                let strongest = sky.radiants.iter().find(|one| one.shower == code).unwrap();
                prop_assert!(strongest.rate >= most && most > 0.0);
                prop_assert!(strongest.seen_alt_deg > -1.4, "{strongest:?}");
            }
        }
        let main = sky.main_shower.unwrap();
        prop_assert!(sky.radiants.iter().any(|one| one.shower == main));
        let bright = sky.sun_alt_deg.unwrap() >= -6.0;
        let lights_out = sky.sun_alt_deg.unwrap() <= -18.0 && sky.moon_alt_deg.unwrap() <= 0.0;
        for one in &sky.radiants {
            prop_assert!(one.seen_rate <= one.rate + 1e-12 && one.seen_rate >= 0.0);
            prop_assert!(!bright || one.seen_rate <= 0.0);
            prop_assert!(!lights_out || (one.seen_rate - one.rate).abs() < 1e-9);
        }
    }

    /// What a looker kept from other frames changes no bit of an answer.
    #[test]
    fn the_order_of_the_frames_changes_nothing(
        night in any_instant(),
        frames in prop::collection::vec((-2e6..2e6_f64, any_place()), 2..24),
    ) {
        let (mut forward, mut backward) = (Looker::new(), Looker::new());
        let sky = |looker: &mut Looker, (offset_s, place): (f64, Place)| {
            looker.frame_sky(night.plus_s(offset_s).unwrap(), Some(place))
        };
        let first: Vec<_> = frames.iter().map(|frame| sky(&mut forward, *frame)).collect();
        let again: Vec<_> = frames.iter().map(|frame| sky(&mut forward, *frame)).collect();
        let mut turned: Vec<_> = frames.iter().rev().map(|frame| sky(&mut backward, *frame)).collect();
        turned.reverse();
        let alone: Vec<_> = frames.iter().map(|frame| sky(&mut Looker::new(), *frame)).collect();
        prop_assert_eq!(&first, &again);
        prop_assert_eq!(&first, &turned);
        prop_assert_eq!(&first, &alone);
    }

    /// On the meridian a direction stands 90° - |latitude - declination| high. The declination of the instant is its
    /// altitude at the pole; the aberration by the ground's motion (0.32 arcseconds) is all that may be left.
    #[test]
    fn directions_transit_at_their_height(
        at in any_instant(), lat in -90.0..90.0_f64, direction in any_direction()
    ) {
        let mut looker = Looker::new();
        let mut from = |lat: f64, lon: f64| {
            altaz(&mut looker, at, Place::new(lat, lon, 0.0).unwrap(), direction)
        };
        let dec = from(90.0, 0.0).0;
        prop_assume!(dec.abs() < 89.99);
        let (alt, az) = from(0.0, 0.0);
        let (alt, az) = (alt.to_radians(), az.to_radians());
        let west = (-alt.cos() * az.sin()).atan2(alt.sin()).to_degrees();
        let transit = from(lat, -west).0;
        let expect = 90.0 - (lat - dec).abs();
        prop_assert!((transit - expect).abs() * 3600.0 < 0.7, "{transit} {expect}");
    }

    /// From one second to the next the sky turns by 15.04 arcseconds at most, the Moon and the drift add a little:
    /// no seam between two nodes, none at a day's end. (A leap second is a step by its nature, and no Utc.)
    #[test]
    fn the_sky_has_no_seams(quarter_day in -73_000_i64..145_000, place in any_place(), offset_ms in -900_i64..0) {
        // Nodes lie at whole quarter days of TT, 69 s after those of UTC today; the offset sweeps over both.
        for seam_s in [0.0, -69.184] {
            let before = Utc::from_unix_ms(quarter_day * 21_600_000 + offset_ms).unwrap();
            let before = before.plus_s(seam_s).unwrap();
            let after = before.plus_s(1.0).unwrap();
            let mut looker = Looker::new();
            let (Some(one), Some(two)) =
                (looker.frame_sky(before, Some(place)), looker.frame_sky(after, Some(place)))
            else {
                continue;
            };
            let moon = |sky: &framefall::terms::records::FrameSky| {
                (sky.moon_alt_deg.unwrap(), sky.moon_az_deg.unwrap())
            };
            // A leap second just before the later instant hides one second of the Moon's own way, 0.7 arcseconds.
            prop_assert!(apart_arcsec(moon(&one), moon(&two)) < 17.0);
            let turned = (two.lst_deg.unwrap() - one.lst_deg.unwrap()).rem_euclid(360.0) * 3600.0;
            prop_assert!((turned - 15.041_07).abs() < 0.001, "{turned}");
            let went = (two.solar_lon_deg - one.solar_lon_deg).rem_euclid(360.0);
            prop_assert!((0.9e-5..2.5e-5).contains(&went), "{went}");
        }
    }

    /// A radiant goes on smoothly between its published positions, and so does what is derived from it.
    #[test]
    fn a_radiant_is_continuous(
        index in any::<prop::sample::Index>(), share in 0.001..0.999_f64, year in 1951..2099_i32, place in any_place()
    ) {
        let published: Vec<_> = showers().iter().filter(|one| one.drift.len() > 1 && one.peak.is_some()).collect();
        let one = index.get(&published);
        let first = one.drift[0].solar_lon_deg;
        let span = (one.drift[one.drift.len() - 1].solar_lon_deg - first).rem_euclid(360.0);
        let longitude = Angle::from_deg(first + span * share).full_circle();
        let before = framefall::sky::sun::utc_of_longitude(longitude, year);
        prop_assume!(before.is_some());
        let before = before.unwrap();
        let mut looker = Looker::new();
        let a = looker.radiant_sky(before, place, one.code).unwrap();
        let b = looker.radiant_sky(before.plus_s(1.0).unwrap(), place, one.code).unwrap();
        prop_assert!(apart_arcsec((a.alt_deg, a.az_deg), (b.alt_deg, b.az_deg)) < 15.2);
        let refraction_starts = (a.seen_alt_deg.min(b.seen_alt_deg)..a.seen_alt_deg.max(b.seen_alt_deg))
            .contains(&-0.9);
        let seen = apart_arcsec((a.seen_alt_deg, a.seen_az_deg), (b.seen_alt_deg, b.seen_az_deg));
        // The Earth's pull makes all of the sky move a little slower, but near the nadir, where it fans out.
        prop_assert!(refraction_starts || a.alt_deg < -30.0 || seen < 25.0, "{seen}");
    }
}

#[test]
fn without_a_place_there_is_what_needs_none() {
    let mut looker = Looker::new();
    let at = Utc::parse("2023-12-14T00:12:07Z").unwrap();
    let place = Place::new(45.0, 7.0, 300.0);
    let (with, without) = (
        looker.frame_sky(at, place).unwrap(),
        looker.frame_sky(at, None).unwrap(),
    );
    assert_eq!(
        without.solar_lon_deg.to_bits(),
        with.solar_lon_deg.to_bits()
    );
    assert_eq!(without.moon_lit.to_bits(), with.moon_lit.to_bits());
    assert_eq!(without.main_shower, ShowerCode::parse("GEM"));
    assert_eq!(without.strongest, None);
    assert_eq!(without.sun_alt_deg, None);
    assert_eq!(without.twilight, None);
    assert_eq!(without.moon_alt_deg, None);
    assert_eq!(without.moon_az_deg, None);
    assert_eq!(without.lst_deg, None);
    assert!(without.radiants.is_empty());
    let codes: Vec<String> = with
        .radiants
        .iter()
        .map(|one| one.shower.to_string())
        .collect();
    assert!(
        codes.is_sorted() && codes.contains(&"GEM".to_owned()),
        "{codes:?}"
    );
}

#[test]
fn a_radiant_is_the_same_by_both_doors() {
    let mut looker = Looker::new();
    let at = Utc::parse("2025-08-12T23:10:00.5Z").unwrap();
    let place = Place::new(-31.3, 149.1, 1165.0).unwrap();
    for one in looker.frame_sky(at, Some(place)).unwrap().radiants {
        assert_eq!(looker.radiant_sky(at, place, one.shower), Some(one));
    }
    let asleep = looker
        .radiant_sky(at, place, ShowerCode::parse("GEM").unwrap())
        .unwrap();
    assert!(
        asleep.rate.abs() < f64::MIN_POSITIVE,
        "no Geminids in August"
    );
    assert_eq!(
        looker.radiant_sky(at, place, ShowerCode::parse("XXX").unwrap()),
        None
    );
}

#[test]
fn the_antihelion_source_is_the_main_one_only_when_alone() {
    let mut looker = Looker::new();
    let quiet = looker
        .frame_sky(Utc::parse("2027-03-10T20:00:00Z").unwrap(), None)
        .unwrap();
    assert_eq!(quiet.main_shower, ShowerCode::parse("ANT"));
    // The Lyrids' first hours: ZHR little over 1, the antihelion source 4.
    let lyrids = looker
        .frame_sky(Utc::parse("2025-04-14T12:00:00Z").unwrap(), None)
        .unwrap();
    assert_eq!(lyrids.main_shower, ShowerCode::parse("LYR"));
}

#[test]
fn instants_beyond_the_model_are_refused() {
    let mut looker = Looker::new();
    let place = Place::new(0.0, 0.0, 0.0);
    for text in [
        "1949-12-31T23:59:59.999Z",
        "2100-01-01T00:00:00Z",
        "0001-01-01T00:00:00Z",
        "9999-01-01T00:00:00Z",
    ] {
        assert_eq!(
            looker.frame_sky(Utc::parse(text).unwrap(), place),
            None,
            "{text}"
        );
    }
    for text in ["1950-01-01T00:00:00Z", "2099-12-31T23:59:59.999Z"] {
        assert!(
            looker.frame_sky(Utc::parse(text).unwrap(), place).is_some(),
            "{text}"
        );
    }
}
