use std::sync::atomic::AtomicBool;

use jpeg_encoder::ColorType;
use jpeg_encoder::Encoder;
use jpeg_encoder::SamplingFactor;

use super::hostile_jpeg::Claimed;
use super::hostile_jpeg::claiming;
use super::*;
use crate::capture::picture::Limits;
use crate::capture::picture::decode;

const PAGE: Limits<'_> = Limits {
    allowed: Allowance::PAGE,
    stop: None,
};

/// 60 KB that claim 10,900 by 10,900 pixels.
const TRAP: Claimed = Claimed {
    width: 10_900,
    height: 10_900,
    components: 1,
    scans: 400,
    coded: 50_000,
};

#[test]
fn a_small_file_with_a_huge_claim_is_refused_by_its_size() {
    let jpeg = claiming(TRAP);
    assert!(jpeg.len() < 61_000);
    let why = decode(&jpeg, 240, &PAGE).unwrap_err();
    assert!(why.contains("too few for the 10900 by 10900"), "{why}");
}

#[test]
fn many_scans_are_refused_before_one_is_decoded() {
    let jpeg = claiming(Claimed {
        coded: 240_000,
        ..TRAP
    });
    let why = decode(&jpeg, 240, &PAGE).unwrap_err();
    assert!(why.contains("too many scans"), "{why}");
    let claims = claims(&jpeg).unwrap();
    assert_eq!(claims.visits, 400 * 1363 * 1363);
}

#[test]
fn a_progressive_picture_that_would_fill_the_memory_is_refused() {
    let jpeg = claiming(Claimed {
        width: 12_000,
        height: 9_000,
        components: 3,
        scans: 1,
        coded: 700_000,
    });
    let why = decode(&jpeg, 240, &PAGE).unwrap_err();
    assert!(why.contains("too much memory"), "{why}");
}

/// Plain progressive pictures, as editors save them, in ten scans with three components of full size; and one of 24 megapixels
/// whose colours are halved, as most are.
#[test]
fn plain_pictures_are_within_the_allowance() {
    let jpeg = claiming(Claimed {
        width: 5_000,
        height: 3_300,
        components: 3,
        scans: 10,
        coded: 200_000,
    });
    let full = claims(&jpeg).unwrap();
    assert_eq!(
        full.too_much(jpeg.len() as u64, 1, &Allowance::PAGE),
        None,
        "{full:?}"
    );
    let halved = Claims {
        width: 6_000,
        height: 4_000,
        progressive: true,
        blocks: 750 * 500 * 3 / 2,
        visits: 3_200_000,
    };
    assert_eq!(halved.too_much(1_400_000, 1, &Allowance::PAGE), None);
}

/// Files of another encoder: sizes, scans and blocks by its own account.
#[test]
fn an_encoder_s_files_claim_what_they_are() {
    let (width, height) = (333_u16, 77_u16);
    let grey = vec![90; usize::from(width) * usize::from(height)];
    for progressive in [false, true] {
        for (sampling, units) in [
            (SamplingFactor::F_1_1, [42 * 10, 42 * 10 * 2]),
            (SamplingFactor::F_2_2, [21 * 5 * 4, 21 * 5 * 2]),
            (SamplingFactor::F_2_1, [21 * 10 * 2, 21 * 10 * 2]),
        ] {
            let mut jpeg = Vec::new();
            let mut encoder = Encoder::new(&mut jpeg, 90);
            encoder.set_sampling_factor(sampling);
            encoder.set_progressive(progressive);
            let rgb: Vec<u8> = grey.iter().flat_map(|g| [*g; 3]).collect();
            encoder.encode(&rgb, width, height, ColorType::Rgb).unwrap();
            let claims = claims(&jpeg).unwrap();
            assert_eq!((claims.width, claims.height), (333, 77));
            assert_eq!(claims.progressive, progressive);
            assert_eq!(claims.blocks, units.iter().sum::<u64>(), "{sampling:?}");
            if !progressive {
                assert_eq!(claims.visits, claims.blocks);
            }
            assert_eq!(
                claims.too_much(jpeg.len() as u64, 8, &Allowance::LOOK),
                None
            );
            let picture = decode(&jpeg, 400, &PAGE).unwrap();
            assert_eq!((picture.width(), picture.height()), (333, 77));
        }
    }
}

#[test]
fn tables_stated_again_and_again_are_a_trap() {
    let mut jpeg = claiming(Claimed {
        width: 16,
        height: 16,
        ..TRAP
    });
    let quantities = jpeg[2..71].to_vec();
    for _ in 0..MOST_SEGMENTS {
        jpeg.splice(2..2, quantities.iter().copied());
    }
    assert!(claims(&jpeg).unwrap_err().contains("1000"));
}

#[test]
fn a_picture_ends_when_its_time_is_up_or_the_work_is_stopped() {
    let jpeg = claiming(Claimed {
        width: 800,
        height: 600,
        components: 1,
        scans: 3,
        coded: 2_000,
    });
    assert!(decode(&jpeg, 80, &PAGE).is_ok());
    let no_time = Limits {
        allowed: Allowance {
            time_ms: 0,
            ..Allowance::PAGE
        },
        stop: None,
    };
    assert!(
        decode(&jpeg, 80, &no_time)
            .unwrap_err()
            .contains("too long")
    );
    let stop = AtomicBool::new(true);
    let stopped = Limits {
        stop: Some(&stop),
        ..PAGE
    };
    assert!(decode(&jpeg, 80, &stopped).unwrap_err().contains("stopped"));
}

proptest::proptest! {
    /// Broken bytes are refused or claim something; nothing is read past their end.
    #[test]
    fn broken_bytes_do_no_harm(
        flips in proptest::collection::vec((0..700_usize, proptest::prelude::any::<u8>()), 1..20),
        cut in 2..700_usize,
    ) {
        let mut jpeg = claiming(Claimed { scans: 9, coded: 400, width: 64, height: 48, components: 3 });
        for (at, value) in flips {
            let at = at % jpeg.len();
            jpeg[at] = value;
        }
        jpeg.truncate(cut);
        let _ = claims(&jpeg);
    }
}
