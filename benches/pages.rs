//! The page to look in the real browser, on a night of 3,000 frames: how long until it is open, how long from a key to the next picture,
//! whether its axis of time scrolls without a dropped frame at a slowed processor, and the memory of the server:
//! `cargo bench --bench pages`, with `-- FRAMES` for another night. Chromium must be installed.

// A benchmark prints its figures, and stops where it cannot measure.
#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    clippy::expect_used,
    clippy::unwrap_used
)]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // levels of small pictures

#[path = "../tests/support/browser.rs"]
#[allow(dead_code)] // shared with other programs
mod browser;
#[path = "../tests/support/served.rs"]
#[allow(dead_code)] // shared with other programs
mod served;
#[path = "../tests/support/tab.rs"]
#[allow(dead_code)] // shared with other programs
mod tab;
#[path = "../tests/support/tiff_block.rs"]
mod tiff_block;
#[path = "../tests/support/world.rs"]
#[allow(dead_code)] // shared with other programs
mod world;

use std::fs;
use std::time::Duration;

use jpeg_encoder::ColorType;
use jpeg_encoder::Encoder;
use serde_json::json;

use served::Served;
use tab::Browser;
use tab::Tab;
use tiff_block::ascii;
use tiff_block::lay_out;
use tiff_block::long;
use tiff_block::rational;
use tiff_block::short;
use world::World;

/// Frames of the night.
const FRAMES: usize = 3_000;
/// Pictures that they show, in turn.
const PICTURES: usize = 6;
/// Their size in pixels.
const SIZE: (u16, u16) = (1_620, 1_080);
/// Seconds from frame to frame.
const CADENCE_S: usize = 12;
/// Candidates of each second frame.
const CANDIDATES: usize = 2;
/// How often Space is pressed, which states that a frame was looked at and goes on; and how long each picture is looked at before the next: a hurried hand.
const PRESSES: usize = 100;
const LOOKED_AT: Duration = Duration::from_millis(250);
/// How many times the processor is slowed for scrolling.
const SLOWED: u32 = 4;

/// Notes in the page when a picture and when the map was drawn, and when a key went down. The page draws in callbacks of the screen's
/// frames: a timer that is set there runs when that frame was laid out and painted.
const WATCH: &str = "
    window.drawn = []; window.pressed = []; window.mapped = 0;
    addEventListener('keydown', () => pressed.push(performance.now()), true);
    addEventListener('DOMContentLoaded', () => {
        const [picture, map] = [document.getElementById('picture'), document.getElementById('map')];
        new MutationObserver(() => {
            const { shown } = picture.dataset;
            if (shown) setTimeout(() => { if (drawn.at(-1)?.[0] !== shown) drawn.push([shown, performance.now()]); });
        }).observe(picture, { attributes: true, attributeFilter: ['data-shown'] });
        new MutationObserver(() => setTimeout(() => { mapped ||= performance.now(); })).observe(map, { childList: true });
    });";

/// Scrolls the strip for three seconds, and gives the times between frames of the screen in milliseconds.
const SCROLL: &str = "new Promise((done) => {
    const strip = document.getElementById('strip');
    const times = [];
    let last = performance.now();
    const begun = last;
    const step = (now) => {
        times.push(now - last);
        last = now;
        strip.scrollLeft += 37;
        if (now - begun < 3000) requestAnimationFrame(step); else done(times.slice(2));
    };
    requestAnimationFrame(step);
})";

fn main() {
    let frames = std::env::args()
        .skip(1)
        .find_map(|word| word.parse().ok())
        .unwrap_or(FRAMES);
    let browser = Browser::start().expect("Chromium");
    let world = night(frames);
    let served = Served::start(&world, "2023-12-13");
    // Warm: the first page reads what the disk has.
    for name in ["first", "warm"] {
        let opened = opened(&browser, &served);
        println!("{name} page open, {frames} frames: {opened:.0} ms");
    }
    let mut tab = open(&browser, &served);
    let times = key_times(&mut tab);
    let at = |share: f64| times[((times.len() - 1) as f64 * share) as usize];
    println!(
        "key to next picture, {} presses: median {:.0} ms, 95th {:.0} ms, worst {:.0} ms",
        times.len(),
        at(0.5),
        at(0.95),
        at(1.0)
    );
    for slowed in [1, SLOWED] {
        tab.command("Emulation.setCPUThrottlingRate", &json!({"rate": slowed}));
        tab.value("document.getElementById('strip').scrollLeft = 0");
        let times: Vec<f64> = serde_json::from_value(tab.value(SCROLL)).expect("times");
        let usual = 1_000.0 / 60.0;
        let dropped: f64 = times
            .iter()
            .map(|ms| ((ms / usual).round() - 1.0).max(0.0))
            .sum();
        let worst = times.iter().copied().fold(0.0, f64::max);
        println!(
            "scrolling, processor slowed {slowed} times: {} frames of the screen, {dropped} dropped, longest {worst:.1} ms",
            times.len()
        );
    }
    println!(
        "memory of the server at most: {} MB",
        peak_mb(served.process.id())
    );
    assert_eq!(tab.complaints, Vec::<String>::new());
}

fn open(browser: &Browser, served: &Served) -> Tab {
    let mut tab = browser.open("about:blank", 1_280, 900);
    tab.command(
        "Page.addScriptToEvaluateOnNewDocument",
        &json!({"source": WATCH}),
    );
    tab.command("Page.navigate", &json!({"url": served.address}));
    tab.wait("window.drawn?.length && window.mapped");
    tab
}

/// Milliseconds from the begin of navigation until the first picture, the strip and the map were drawn.
fn opened(browser: &Browser, served: &Served) -> f64 {
    let mut tab = open(browser, served);
    let time_ms = tab
        .value("Math.max(drawn[0][1], mapped)")
        .as_f64()
        .expect("a time");
    tab.command("Page.navigate", &json!({"url": "about:blank"}));
    time_ms
}

/// Milliseconds from each key to its picture, sorted.
fn key_times(tab: &mut Tab) -> Vec<f64> {
    let mut times = Vec::new();
    for _ in 0..PRESSES {
        tab.value("drawn.length = 0; pressed.length = 0");
        tab.key(" ");
        tab.wait("drawn.length > 0");
        times.push(
            tab.value("drawn[0][1] - pressed[0]")
                .as_f64()
                .expect("a time"),
        );
        std::thread::sleep(LOOKED_AT);
    }
    times.sort_by(f64::total_cmp);
    times
}

/// The most memory that a process had, in MB.
fn peak_mb(process: u32) -> u64 {
    let status = fs::read_to_string(format!("/proc/{process}/status")).expect("Linux");
    let line = status.lines().find(|line| line.starts_with("VmHWM"));
    let kb = line.and_then(|line| line.split_whitespace().nth(1)?.parse::<u64>().ok());
    kb.expect("VmHWM") / 1_000
}

/// A card with the JPEGs of one night, ingested, with candidates.
fn night(frames: usize) -> World {
    let world = World::new();
    let pictures: Vec<Vec<u8>> = (0..PICTURES).map(picture).collect();
    let mean = pictures.iter().map(Vec::len).sum::<usize>() / PICTURES / 1_000;
    println!("{frames} frames of {mean} kB");
    for number in 0..frames {
        let jpeg = with_exif(&pictures[number % PICTURES], number);
        let name = format!(
            "card/DCIM/{:03}NITES/NITE{:04}.JPG",
            100 + number / 1_000,
            number % 10_000
        );
        world.write(&name, &jpeg);
    }
    world.site("Salt Ridge", "38.93", "-116.01");
    world
        .run(&["ingest", "--site", "Salt Ridge", "card"])
        .ended(0);
    let catalogue =
        rusqlite::Connection::open(world.path("catalogue.sqlite")).expect("a catalogue");
    let measures = "line_snr, mean_snr, peak_snr, peak_at, lit, seen, off_line_px, bend_px, width_px, beside, ends, lopsided, peaks,
        unrest, starry, edge, goes_on, goes_on_both, goes_on_far, on_line, stays, twin, others, neighbours, linked, again, crowd";
    let values = vec!["4"; measures.split(',').count()].join(", ");
    for k in 0..CANDIDATES {
        let sql = format!(
            "INSERT INTO measured_trail (frame_id, from_x, from_y, to_x, to_y, class, score, {measures})
             SELECT frame_id, {k} * 30000 + 10000, 20000, {k} * 30000 + 20000, 60000, 'other-light', frame_id % 97 / 100.0, {values}
             FROM written_frame WHERE frame_id % 2 = 0"
        );
        catalogue.execute(&sql, []).expect("candidates");
    }
    world
}

/// A sky of noise and stars, as a camera packs it.
fn picture(number: usize) -> Vec<u8> {
    let (width, height) = (usize::from(SIZE.0), usize::from(SIZE.1));
    let mut state = 0x9E37_79B9_u64.wrapping_mul(number as u64 + 1);
    let mut draw = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as u32
    };
    let mut levels: Vec<u8> = (0..width * height * 3)
        .map(|_| 38 + (draw() % 9) as u8)
        .collect();
    for _ in 0..2_000 {
        let at = draw() as usize % (width * height - width - 2);
        for pixel in [at, at + 1, at + width, at + width + 1] {
            levels[pixel * 3..pixel * 3 + 3].fill(120 + (draw() % 130) as u8);
        }
    }
    let mut jpeg = Vec::new();
    Encoder::new(&mut jpeg, 88)
        .encode(&levels, SIZE.0, SIZE.1, ColorType::Rgb)
        .expect("a JPEG");
    jpeg
}

/// The picture with the EXIF of a frame: body, clock, settings (EXIF 2.32, 4.6).
fn with_exif(jpeg: &[u8], number: usize) -> Vec<u8> {
    let second = 18 * 3600 + number * CADENCE_S;
    let (day, second) = (13 + second / 86_400, second % 86_400);
    let clock = format!(
        "2023:12:{day:02} {:02}:{:02}:{:02}",
        second / 3600,
        second / 60 % 60,
        second % 60
    );
    let block = lay_out(
        false,
        0,
        &[
            vec![
                ascii(0x010F, "Nocturne"),
                ascii(0x0110, "N2 Mark II"),
                ascii(0x0132, &clock),
                long(0x8769, 0),
            ],
            vec![
                rational(0x829A, &[(10, 1)]),
                rational(0x829D, &[(18, 10)]),
                short(0x8827, 3200),
                ascii(0x9003, &clock),
                rational(0x920A, &[(20, 1)]),
                ascii(0xA431, "2B-00318"),
            ],
            Vec::new(),
        ],
    );
    let length = u16::try_from(block.len() + 8)
        .expect("a small block")
        .to_be_bytes();
    let head = [&[0xFF, 0xD8, 0xFF, 0xE1][..], &length, b"Exif\0\0"].concat();
    [&head, &block[..], &jpeg[2..]].concat()
}
