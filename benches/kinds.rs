//! How often the kinds of frames are detected correctly: `cargo bench --bench kinds [-- NIGHTS [SEED]]`.
//!
//! Draws nights from a seed, with thumbnails of synthetic skies, panels and capped sensors, settings that mislead and no
//! names that help, and decides their kinds as an ingest does. Prints precision and recall of each kind, the confusions, and
//! the cost of sampling a frame. Frames of no kind (landscapes) are `none`; a frame that stays unknown counts against the
//! recall of its kind.

// A benchmark prints its figures, and may panic.
#![allow(clippy::print_stdout, clippy::expect_used)]

#[path = "kinds/camera.rs"]
mod camera;
#[path = "../demo-data/make/studio/random.rs"]
#[allow(dead_code, clippy::redundant_pub_crate)]
mod random;
#[path = "kinds/scene.rs"]
mod scene;
#[path = "kinds/script.rs"]
mod script;

use std::collections::BTreeMap;
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering;
use std::time::Duration;
use std::time::Instant;

use framefall::capture::claims::Allowance;
use framefall::capture::picture::Limits;
use framefall::capture::picture::decode;
use framefall::session::look::measure;
use framefall::session::split::split;
use framefall::terms::records::SessionFrame;
use framefall::terms::time::Utc;

/// The cost limit of a sample in an ingest.
const LIMITS: Limits<'static> = Limits {
    allowed: Allowance::LOOK,
    stop: None,
};

/// The size at which an ingest decodes them.
const LOOK_SIDE: u16 = 100;

const WORDS: [&str; 6] = ["light", "dark", "flat", "bias", "trial", "none"];

/// Counts of frames by true and detected kind.
type Taken = BTreeMap<(&'static str, &'static str), usize>;

/// The result of a night.
#[derive(Default)]
struct Tally {
    taken: Taken,
    looks: u32,
    bytes: usize,
    looking: Duration,
    settling: Duration,
}

fn main() {
    let mut numbers = std::env::args().skip(1).filter_map(|a| a.parse().ok());
    let nights: u64 = numbers.next().unwrap_or(60);
    let seed: u64 = numbers.next().unwrap_or(20_231_213);
    let next = AtomicU64::new(0);
    let some = || {
        let mut sum = Tally::default();
        loop {
            let number = next.fetch_add(1, Ordering::Relaxed);
            if number >= nights {
                return sum;
            }
            add_night(&script::night(seed + number), &mut sum);
        }
    };
    let mut all = Tally::default();
    std::thread::scope(|scope| {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        let threads: Vec<_> = (0..cores).map(|_| scope.spawn(some)).collect();
        for thread in threads {
            let one = thread.join().expect("a thread");
            for (what, count) in one.taken {
                *all.taken.entry(what).or_default() += count;
            }
            all.looks += one.looks;
            all.bytes += one.bytes;
            all.looking += one.looking;
            all.settling += one.settling;
        }
    });
    show(&all, nights, seed);
}

fn add_night(night: &script::Night, sum: &mut Tally) {
    let evening = Utc::parse("2023-12-13T18:00:00Z").expect("an instant");
    let frames: Vec<SessionFrame> = (1..)
        .zip(&night.shots)
        .map(|(frame_id, shot)| {
            let jpeg = night.thumbnail(usize::try_from(frame_id - 1).expect("a place"));
            let begun = Instant::now();
            let look = jpeg.as_ref().and_then(|jpeg| {
                measure(&decode(jpeg, LOOK_SIDE, &LIMITS).expect("a thumbnail of our own"))
            });
            if let Some(jpeg) = &jpeg {
                sum.looking += begun.elapsed();
                sum.looks += 1;
                sum.bytes += jpeg.len();
            }
            SessionFrame {
                frame_id,
                start_utc: evening.plus_s(shot.at_s),
                exposure_s: Some(shot.setting.exposure_s),
                iso: Some(shot.setting.iso),
                f_number: Some(shot.setting.f_number),
                focal_mm: Some(shot.setting.focal_mm),
                site_id: Some(1),
                look,
                path: format!("DCIM/100NITES/NITE{frame_id:04}.DNG"),
                ..SessionFrame::default()
            }
        })
        .collect();
    let begun = Instant::now();
    let sessions = split(&frames);
    sum.settling += begun.elapsed();
    for member in sessions.iter().flat_map(|s| &s.members) {
        let shot = &night.shots[usize::try_from(member.frame_id - 1).expect("a place")];
        let told = member.kind.map_or("none", |kind| kind.word());
        let what = (shot.truth.unwrap_or("none"), told);
        *sum.taken.entry(what).or_default() += 1;
    }
}

fn show(all: &Tally, nights: u64, seed: u64) {
    let count = |truth, told| all.taken.get(&(truth, told)).copied().unwrap_or(0);
    println!("{nights} nights from seed {seed}; taken for:");
    println!(
        "{:>6} {:>7} {:>9} {:>7}   {:>6} {:>6} {:>6} {:>6} {:>6} {:>6}",
        "", "frames", "precision", "recall", "light", "dark", "flat", "bias", "trial", "none"
    );
    for truth in WORDS {
        let of: usize = WORDS.iter().map(|told| count(truth, told)).sum();
        let told: usize = WORDS.iter().map(|other| count(other, truth)).sum();
        let share = |of: usize| count(truth, truth) as f64 / of.max(1) as f64;
        print!(
            "{truth:>6} {of:>7} {:>9.4} {:>7.4}  ",
            share(told),
            share(of)
        );
        for told in WORDS {
            print!(" {:>6}", count(truth, told));
        }
        println!();
    }
    println!(
        "a look: {:.0} µs of one core for {:.1} KiB; settling a frame's kind and session: {:.1} µs",
        all.looking.as_secs_f64() * 1e6 / f64::from(all.looks.max(1)),
        all.bytes as f64 / 1024.0 / f64::from(all.looks.max(1)),
        all.settling.as_secs_f64() * 1e6 / f64::from(all.looks.max(1))
    );
}
