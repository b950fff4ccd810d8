//! A catalogue of which a bit was flipped or two pages changed places: no answer panics, and where one is wrong without a
//! word, `audit` finds it, but for bits within a value, which only a checksum of every page could tell.
//!
//! `FRAMEFALL_SPOILT=500` tries more, `FRAMEFALL_TEST_SEED` others.

use std::fs;

use crate::state::put_back;
use crate::world::Said;
use crate::world::World;

const PAGE: usize = 8_192;

/// Questions of every kind; together they read nearly all of it.
const ASKED: [&[&str]; 6] = [
    &["frames", "", "--as", "csv"],
    &["frames", "GEM.alt > 30 and kind = light", "--as", "jsonl"],
    &["frames", "night = 2023-12-13", "--as", "csv"],
    &["sessions", "--as", "csv"],
    &["site", "list", "--as", "csv"],
    &["query", "list", "--as", "csv"],
];

/// Random numbers. Source: `SplitMix64` of Steele, Lea, Flood, OOPSLA 2014.
struct Random(u64);

impl Random {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        usize::try_from((z ^ (z >> 31)) % end as u64).unwrap()
    }
}

fn number_from(variable: &str, otherwise: u64) -> u64 {
    std::env::var(variable)
        .ok()
        .and_then(|said| said.parse().ok())
        .unwrap_or(otherwise)
}

#[test]
fn wrong_answers_of_a_spoilt_catalogue() {
    let world = World::new();
    world.site("Here", "46.5", "11.3");
    for (label, name) in [("geminids-body-a", "a"), ("geminids-body-b", "b")] {
        world.dump(label, name, |_| true);
        world.run(&["ingest", "--quiet", "--site", "Here", name]);
    }
    world.run(&["query", "save", "x", "iso > 1"]).ended(0);
    let (catalogue, kept) = (world.path("catalogue.sqlite"), world.path("kept.sqlite"));
    let whole = fs::read(&catalogue).unwrap();
    let ask = |words: &[&str]| -> Said { world.run_lossy(words) };
    let right: Vec<Said> = ASKED.iter().map(|words| ask(words)).collect();
    let seed = number_from("FRAMEFALL_TEST_SEED", 12);
    let mut random = Random(seed);
    let mut wrong = [[0; 2]; 2];
    let rounds = number_from("FRAMEFALL_SPOILT", 40);
    for round in 0..rounds {
        let mut spoilt = whole.clone();
        let swapped = round % 2 == 1;
        if swapped {
            let pages = whole.len() / PAGE;
            let (one, two) = (1 + random.below(pages - 1), 1 + random.below(pages - 1));
            let first = spoilt[one * PAGE..][..PAGE].to_vec();
            spoilt.copy_within(two * PAGE..(two + 1) * PAGE, one * PAGE);
            spoilt[two * PAGE..][..PAGE].copy_from_slice(&first);
        } else {
            let at = random.below(spoilt.len());
            spoilt[at] ^= 1 << random.below(8);
        }
        fs::write(&kept, &spoilt).unwrap();
        put_back(Some(&kept), &catalogue);
        let answers: Vec<Said> = ASKED.iter().map(|words| ask(words)).collect();
        for (words, said) in ASKED.iter().zip(&answers) {
            assert!(
                (0..3).contains(&said.code),
                "{words:?}, round {round}: {}",
                said.err
            );
        }
        let is_wrong = answers
            .iter()
            .zip(&right)
            .any(|(now, right)| now.code == right.code && now.out != right.out);
        if is_wrong {
            let audit = ask(&["audit", "--as", "json"]);
            let told = audit.code == 2 || audit.out.contains("catalogue-damaged");
            wrong[usize::from(swapped)][usize::from(told)] += 1;
            assert!(
                told || !swapped,
                "round {round} of seed {seed}: {}",
                audit.out
            );
        }
    }
    let [[flips_silent, flips_told], [swaps_silent, swaps_told]] = wrong;
    println!(
        "seed {seed}: of {rounds} spoilt catalogues wrong answers in {}; of these audit finds: flipped bits {flips_told}, not \
         {flips_silent}; swapped pages {swaps_told}, not {swaps_silent}",
        flips_silent + flips_told + swaps_silent + swaps_told
    );
}
