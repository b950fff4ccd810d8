//! One frame's sky by the fast and by the full computation, in one run: `cargo bench --bench sky`.
//!
//! Fast: a night of frames through one [`Looker`], the same frames shuffled, and single frames, each in its own night.
//! Full: `atco13` for each active radiant, Sun and Moon in full, nothing cached. The last columns show the greatest
//! differences between the two, in arcseconds, and in the lit fraction.
#![allow(clippy::print_stdout)] // a benchmark prints its figures

use std::time::Instant;

use framefall::sky::look::Looker;
use framefall::sky::radiant::radiant;
use framefall::sky::showers;
use framefall::terms::records::FrameSky;
use framefall::terms::site::Place;
use framefall::terms::time::Utc;

#[allow(clippy::expect_used)] // the full computation may panic
#[path = "../tests/support/slow_sky.rs"]
mod slow_sky;

const FRAMES: usize = 2_000;

fn main() {
    // A name filter or `--test` from the test runner: building is enough.
    if std::env::args().any(|word| word == "--test") {
        return;
    }
    let Some(place) = Place::new(-24.6, -70.4, 2635.0) else {
        return;
    };
    if let Some(at) = Utc::parse("2020-01-01T00:00:00Z") {
        // The shower table is read once per run of the program, not once per night.
        Looker::new().frame_sky(at, Some(place));
    }
    println!(
        "{FRAMES} frames of 15 s a night, all active showers, Sun, Moon; microseconds a frame"
    );
    println!(
        "{:28} {:>8} {:>8} {:>8} {:>8} {:>9} {:>9} {:>9} {:>9}",
        "night", "showers", "quick", "long", "ratio", "radiant\"", "Sun alt\"", "Moon\"", "lit"
    );
    for evening in [
        "2023-12-13T22:00:00Z",
        "2024-05-06T01:00:00Z",
        "2025-08-12T21:00:00Z",
        "2026-01-03T20:00:00Z",
        "2027-03-10T20:00:00Z",
    ] {
        let Some(start) = Utc::parse(evening) else {
            return;
        };
        let night: Vec<Utc> = (0..FRAMES)
            .filter_map(|frame| start.plus_s(frame as f64 * 15.0))
            .collect();
        compare(evening, &night, place);
        // 7 and the number of frames share no divisor, so each frame comes up once.
        let shuffled: Vec<Utc> = (0..night.len())
            .map(|frame| night[frame * 7 % night.len()])
            .collect();
        compare("the same, shuffled", &shuffled, place);
    }
    let Some(start) = Utc::parse("2015-01-01T00:00:00Z") else {
        return;
    };
    let lonely: Vec<Utc> = (0..FRAMES)
        .filter_map(|frame| start.plus_s(frame as f64 * 86_400.0 * 1.7))
        .collect();
    compare("lonely frames, 1.7 d apart", &lonely, place);
}

fn compare(name: &str, times: &[Utc], place: Place) {
    let mut looker = Looker::new();
    let begin = Instant::now();
    let mut skies: Vec<FrameSky> = Vec::with_capacity(times.len());
    for at in times {
        skies.extend(looker.frame_sky(*at, Some(place)));
    }
    let quick = micros(begin, times.len());
    let radiants: usize = skies.iter().map(|sky| sky.radiants.len()).sum();

    let few = &times[..times.len().min(400)];
    let mut long_skies = Vec::with_capacity(few.len());
    let begin = Instant::now();
    for at in few {
        let sky = slow_sky::sun_moon(*at, place);
        let radiants: Vec<(f64, f64)> = showers::active(sky.solar_lon_deg)
            .map(|one| {
                let there = radiant(one, sky.solar_lon_deg);
                slow_sky::star(*at, place, there.ra.deg(), there.dec.deg())
            })
            .collect();
        long_skies.push((sky, radiants));
    }
    let long = micros(begin, few.len());

    let (mut star, mut sun, mut moon, mut lit) = (0.0_f64, 0.0_f64, 0.0_f64, 0.0_f64);
    for (quick, (sky, radiants)) in skies.iter().zip(&long_skies) {
        lit = lit.max((quick.moon_lit - sky.lit).abs());
        if let (Some(alt), Some(m_alt), Some(m_az)) =
            (quick.sun_alt_deg, quick.moon_alt_deg, quick.moon_az_deg)
        {
            sun = sun.max((alt - sky.sun.0).abs() * 3600.0);
            moon = moon.max(slow_sky::apart_arcsec((m_alt, m_az), sky.moon));
        }
        for (quick, long) in quick.radiants.iter().zip(radiants) {
            star = star.max(slow_sky::apart_arcsec((quick.alt_deg, quick.az_deg), *long));
        }
    }
    println!(
        "{name:28} {:8.1} {quick:8.2} {long:8.1} {:8.0} {star:9.5} {sun:9.5} {moon:9.5} {lit:9.1e}",
        radiants as f64 / times.len() as f64,
        long / quick
    );
}

fn micros(begin: Instant, count: usize) -> f64 {
    begin.elapsed().as_secs_f64() * 1e6 / count as f64
}
