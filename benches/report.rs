//! The report of a 1,500-frame night of two bodies against decoding and shrinking the pictures it shows, side by side:
//! `cargo bench --bench report`.
//!
//! The night is made of the demo's raw files, each with its own clock reading, ingested like any dump. Their embedded
//! pictures are replaced by ones of the size that cameras write.

// A benchmark prints its figures, and may panic.
#![allow(clippy::print_stdout, clippy::expect_used)]

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::time::Duration;
use std::time::Instant;

use framefall::capture::claims::Allowance;
use framefall::capture::picture::Limits;
use framefall::capture::picture::read_picture;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::night::NightScope;
use framefall::catalogue::purpose::Purpose;
use framefall::report::night::PICTURE_SIDE;
use framefall::terms::time::Utc;
use framefall::usecase::ingest::messages::Watched;
use framefall::usecase::ingest::read_dumps::IngestOrder;
use framefall::usecase::ingest::read_dumps::ingest;
use framefall::usecase::report::night::night_page;
use framefall::usecase::report::night::night_report;
use framefall::usecase::report::shown::Pictures;
use framefall::usecase::sites::book::StatedSite;
use framefall::usecase::sites::book::add_site;

const ROUNDS: usize = 9;
const FRAMES: [usize; 2] = [750, 750];
const STEPS_S: [i64; 2] = [22, 27];
/// An embedded preview, the size that most bodies write.
const PICTURE: (u16, u16) = (1620, 1080);

const LIMITS: Limits<'_> = Limits {
    allowed: Allowance::PAGE,
    stop: None,
};

fn main() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let card = folder.path().join("card");
    lay_out(&card);
    let path = folder.path().join("catalogue.sqlite");
    let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).expect("a catalogue");
    let site = StatedSite {
        name: "Salt Ridge",
        lat: "38.93",
        lon: "-116.01",
        elev_m: Some(1905.0),
        zone: Some("America/Los_Angeles"),
        brightness: None,
    };
    add_site(&mut catalogue, &site, &mut |_, _| ()).expect("a site");
    let order = IngestOrder {
        dumps: &[card],
        site: Some("Salt Ridge"),
        newcomers: framefall::usecase::dumps::recognised::Newcomers::Recognised,
        readers: 2,
        watched: Watched::No,
        now: Utc::from_unix_ms(1_800_000_000_000).expect("an instant"),
    };
    let report =
        ingest(&mut catalogue, &order, &AtomicBool::new(false), &mut |_| {}).expect("an ingest");
    println!("{} frames", report.frames_new);
    let scope = NightScope::Night("2023-12-13".to_owned());
    let shown = night_report(&catalogue, &scope, Pictures::Read).expect("a report");
    let extents: Vec<(PathBuf, _)> = shown
        .parts
        .iter()
        .flat_map(|p| &p.sessions)
        .flat_map(|s| s.pictures.iter().map(|shown| &s.frames[shown.at]))
        .map(|f| (f.path.clone(), f.thumbnail.expect("a thumbnail")))
        .collect();
    let (mut pages, mut bounds, mut bytes) = (Vec::new(), Vec::new(), 0);
    for _ in 0..ROUNDS {
        let begun = Instant::now();
        bytes = night_page(&catalogue, &scope, Pictures::Read)
            .expect("a page")
            .len();
        pages.push(begun.elapsed());
        let begun = Instant::now();
        for (path, extent) in &extents {
            let picture = read_picture(path, *extent, PICTURE_SIDE, &LIMITS).expect("a picture");
            std::hint::black_box(picture.shrunk(usize::from(PICTURE_SIDE)));
        }
        bounds.push(begun.elapsed());
    }
    let (page, bound) = (median(&mut pages), median(&mut bounds));
    println!(
        "{} pictures: decoded and shrunk in {:.1} ms, the whole report in {:.1} ms, ratio {:.2}; page {:.2} MB",
        extents.len(),
        bound.as_secs_f64() * 1e3,
        page.as_secs_f64() * 1e3,
        page.as_secs_f64() / bound.as_secs_f64(),
        bytes as f64 / 1e6
    );
}

/// Two bodies' JPEG and raw files, each with its own clock reading and the same large embedded picture.
fn lay_out(card: &Path) {
    let picture = preview();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/cards");
    let bodies = [
        "geminids-body-a/DCIM/100NCTRN/N6A_0414.DNG",
        "geminids-body-b/DCIM/100NCTRN/N2M_2207.DNG",
    ];
    for ((file, frames), step_s) in bodies.into_iter().zip(FRAMES).zip(STEPS_S) {
        let head = fs::read(demo.join(file)).expect("a raw file of the demo");
        let (body, name) = file
            .split_once("/DCIM/100NCTRN/")
            .expect("a file of a body");
        let folder = card.join(body).join("100NCTRN");
        fs::create_dir_all(&folder).expect("a folder");
        let head = with_picture(&head, &picture);
        for k in 0..frames {
            let at = 20 * 3600 + step_s * i64::try_from(k).expect("a count");
            let (day, of_day) = (13 + at / 86_400, at % 86_400);
            let reading = format!(
                "2023:12:{day:02} {:02}:{:02}:{:02}",
                of_day / 3600,
                of_day / 60 % 60,
                of_day % 60
            );
            let numbered = format!("{}{:04}.DNG", &name[..4], k + 1);
            fs::write(folder.join(numbered), with_reading(&head, &reading)).expect("a file");
        }
    }
}

/// A night sky of the size of a preview, packed as a JPEG.
fn preview() -> Vec<u8> {
    let (width, height) = (usize::from(PICTURE.0), usize::from(PICTURE.1));
    let mut rgb = vec![0; width * height * 3];
    let mut noise = 12_345_u32;
    for pixel in rgb.chunks_exact_mut(3) {
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let level = if noise >> 22 == 7 {
            220
        } else {
            18 + (noise >> 28) as u8
        };
        pixel.fill(level);
    }
    let mut jpeg = Vec::new();
    jpeg_encoder::Encoder::new(&mut jpeg, 85)
        .encode(&rgb, PICTURE.0, PICTURE.1, jpeg_encoder::ColorType::Rgb)
        .expect("a JPEG");
    jpeg
}

/// The file with another embedded picture appended, and the directory's pointer and length set to it.
fn with_picture(file: &[u8], jpeg: &[u8]) -> Vec<u8> {
    let old = file
        .windows(3)
        .position(|w| w == [0xff, 0xd8, 0xff])
        .expect("an embedded JPEG");
    let big = file.starts_with(b"MM");
    let coded = |n: usize| {
        let n = u32::try_from(n).expect("a short file");
        if big {
            n.to_be_bytes()
        } else {
            n.to_le_bytes()
        }
    };
    let end = old
        + file[old..]
            .windows(2)
            .position(|w| w == [0xff, 0xd9])
            .expect("the end of the embedded JPEG")
        + 2;
    let mut made = file.to_vec();
    for (from, to) in [
        (coded(old), coded(file.len())),
        (coded(end - old), coded(jpeg.len())),
    ] {
        for at in 0..old.saturating_sub(4) {
            if made[at..at + 4] == from {
                made[at..at + 4].copy_from_slice(&to);
            }
        }
    }
    made.extend_from_slice(jpeg);
    made
}

/// The file with all its clock readings replaced.
fn with_reading(bytes: &[u8], reading: &str) -> Vec<u8> {
    let mut changed = bytes.to_vec();
    let mut at = 0;
    while at + 19 <= bytes.len().min(8_192) {
        let is_reading = bytes[at..at + 19].iter().enumerate().all(|(i, b)| match i {
            4 | 7 | 13 | 16 => *b == b':',
            10 => *b == b' ',
            _ => b.is_ascii_digit(),
        });
        if is_reading {
            changed[at..at + 19].copy_from_slice(reading.as_bytes());
        }
        at += 1;
    }
    changed
}

fn median(times: &mut [Duration]) -> Duration {
    times.sort_unstable();
    times[times.len() / 2]
}
