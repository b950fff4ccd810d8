//! Runs that are killed at random points of their length.

use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;
use std::time::SystemTime;
use std::time::UNIX_EPOCH;

/// The environment variable that gives the seed of the points again.
const SEED: &str = "FRAMEFALL_TEST_SEED";

/// Random fractions between 0 and 1. Source: `SplitMix64` of Steele, Lea, Flood, OOPSLA 2014.
struct Fractions(u64);

impl Fractions {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        f64::from(u32::try_from((z ^ (z >> 31)) >> 32).unwrap()) / f64::from(u32::MAX)
    }
}

/// Runs a command to its end once, then kills it `rounds` times, one point in each of so many parts of its length.
///
/// `ready` lays out the state that each run begins with; `check` looks at what a killed one left. Points move
/// nearer to the beginning where runs turn out shorter than the first, and on where they turn out longer. At least half of the runs must have been alive when they were
/// hit.
pub fn kill_at_random(
    name: &str,
    rounds: u32,
    program: &dyn Fn() -> Command,
    ready: &mut dyn FnMut(),
    check: &mut dyn FnMut(),
) {
    let seed = std::env::var(SEED).ok().and_then(|seed| seed.parse().ok());
    let seed = seed.unwrap_or_else(|| {
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap();
        u64::from(since.subsec_nanos())
    });
    println!("{name}: {SEED}={seed}");
    let quiet = || {
        let mut command = program();
        command.stdout(Stdio::null()).stderr(Stdio::null());
        command
    };
    ready();
    let begun = Instant::now();
    let ended = quiet().status().unwrap();
    let mut length = begun.elapsed();
    assert!(ended.code().is_some_and(|code| code < 2), "{name}: {ended}");
    let mut fractions = Fractions(seed);
    let mut hits = 0;
    for round in 0..rounds {
        ready();
        let point = (f64::from(round) + fractions.next()) / f64::from(rounds);
        let mut child = quiet().spawn().unwrap();
        let begun = Instant::now();
        std::thread::sleep(length.mul_f64(point));
        child.kill().unwrap();
        if child.wait().unwrap().code().is_none() {
            hits += 1;
            if point > 0.75 {
                length = length.mul_f64(1.15);
            }
        } else {
            length = length.min(begun.elapsed()).mul_f64(0.9);
        }
        check();
    }
    println!("{name}: {hits} of {rounds} runs were hit, {length:?} long");
    assert!(
        length > Duration::ZERO && hits * 2 >= rounds,
        "{name}: {hits} of {rounds}"
    );
}
