//! How many meteors are found on rendered nights, how many of them are called meteors, how much else is, and how long it takes:
//! `cargo bench --bench trails`, with `-- SEED...` for other nights (fourteen a seed), `-- fit` to fit the weights again,
//! `-- real PICTURE.jpg...` for runs made of real pictures.
//!
//! Nights are rendered from seeds (`benches/nights`), packed as JPEG, and go through the same steps as those of files. The weights
//! of `src/trails/weights.rs` were fitted on the nights of seeds 11, 31, 32, 33, 41, 43 and 45 (as rendered), 21, 22, 42, 44 and
//! 46 (with three times the meteors, each counted a third). Nights of other seeds are fresh.

// A benchmark prints its figures, and stops where it cannot measure.
#![allow(clippy::print_stdout, clippy::expect_used)]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    clippy::cast_lossless,
    clippy::many_single_char_names,
    clippy::similar_names,
    clippy::too_many_lines,
    clippy::type_complexity,
    clippy::needless_range_loop,
    clippy::format_push_string
)] // pixels of small pictures
#![allow(dead_code)] // not all that is true of a frame is compared

#[path = "nights/events.rs"]
mod events;
#[path = "nights/fit.rs"]
mod fit;
#[path = "nights/kinds.rs"]
mod kinds;
#[path = "nights/random.rs"]
mod random;
#[path = "nights/real.rs"]
mod real;
#[path = "nights/render.rs"]
mod render;

use std::path::Path;
use std::time::Instant;

use events::Class;
use framefall::capture::claims::Allowance;
use framefall::capture::picture::Limits;
use framefall::capture::preview::decode_grey;
use framefall::picture::find::binning;
use framefall::picture::find::stars;
use framefall::terms::found_trail::TrailClass;
use framefall::trails::search::Changes;
use framefall::trails::search::View;
use framefall::trails::search::change;
use framefall::trails::segments::Facts;
use framefall::trails::weigh::measures;
use framefall::trails::weigh::weigh;
use framefall::trails::window::Held;
use framefall::trails::window::Window;
use kinds::KINDS;
use kinds::Night;
use real::RealRun;
use render::Render;
use render::Truth;

/// Seeds of nights that nothing was fitted on.
const FRESH: [u64; 2] = [108, 109];
/// Seeds of the nights that the weights were fitted on, and how many times the usual meteors they have.
const FITTED: [(u64, f32); 12] = [
    (11, 1.0),
    (21, 3.0),
    (22, 3.0),
    (31, 1.0),
    (32, 1.0),
    (33, 1.0),
    (41, 1.0),
    (42, 3.0),
    (43, 1.0),
    (44, 3.0),
    (45, 1.0),
    (46, 3.0),
];
/// A meteor counts from this length in degrees on, where so much of it is before the open sky.
const COUNTED: (f32, f32) = (1.0, 0.5);

/// A line that was found: what it lies on, what it is taken for (nothing for noise, which is not kept), its measures.
pub(crate) struct Line {
    on: Option<Class>,
    class: Option<TrailClass>,
    pub score: f32,
    pub measures: [f32; fit::MEASURES],
}

impl Line {
    /// What it should be taken for: 0 a meteor, 1 a moving light, 2 another light, 3 noise.
    pub fn truly(&self) -> usize {
        match self.on {
            Some(Class::Meteor) => 0,
            Some(Class::Satellite | Class::Aircraft) => 1,
            Some(_) => 2,
            None => 3,
        }
    }
}

/// What came of some nights.
#[derive(Default)]
pub(crate) struct Figures {
    frames: usize,
    /// Peak SNR of each counted meteor, whether it was found, whether it was called one.
    meteors: Vec<(f32, bool, bool)>,
    pub lines: Vec<Line>,
    seconds: [f64; 3],
}

fn main() {
    let words: Vec<String> = std::env::args()
        .skip(1)
        .filter(|w| !w.starts_with("--"))
        .collect();
    if words.first().is_some_and(|word| word == "fit") {
        let nights = FITTED.map(|(seed, more)| (night_figures(seed, more, &mut |_, _| ()), more));
        fit::fitted(&rows(&nights), 1).print();
        return;
    }
    if words.first().is_some_and(|word| word == "real") {
        words[1..].iter().for_each(|picture| print_real(picture));
        return;
    }
    let given: Vec<u64> = words.iter().filter_map(|word| word.parse().ok()).collect();
    let seeds = if given.is_empty() {
        FRESH.to_vec()
    } else {
        given
    };
    let mut all = Figures::default();
    for seed in seeds {
        let figures = night_figures(seed, 1.0, &mut |kind, figures| {
            println!("{kind:22} seed {seed}: {}", figures.in_words());
        });
        all.add(figures);
    }
    println!("{:22}          {}", "all", all.in_words());
    all.print_calibration();
    let ms = 1_000.0 / all.frames as f64;
    let [decoding, finding_stars, searching] = all.seconds.map(|s| s * ms);
    println!(
        "a frame, one processor: decoding {decoding:.1} ms, stars {finding_stars:.1} ms, trails {searching:.1} ms"
    );
}

/// What the weights are fitted on: a meteor of a night with three times the meteors counts a third.
fn rows(nights: &[(Figures, f32)]) -> Vec<fit::Row> {
    let of = |(figures, more): &(Figures, f32)| {
        let row = |line: &Line| fit::Row {
            measures: line.measures,
            class: line.truly(),
            weight: if line.truly() == 0 { 1.0 / more } else { 1.0 },
        };
        figures.lines.iter().map(row).collect::<Vec<_>>()
    };
    nights.iter().flat_map(of).collect()
}

/// The fourteen nights of a seed.
fn night_figures(seed: u64, more: f32, told: &mut dyn FnMut(&str, &Figures)) -> Figures {
    let mut all = Figures::default();
    for (kind, name) in KINDS.iter().enumerate() {
        let mut night = Night::new(kind, seed);
        night.meteors *= more;
        let night = Render::new(night);
        let figures = searched(&Run {
            frames: night.night.frames,
            width: night.night.width as f32,
            exposure_s: night.night.exposure_s,
            step_s: night.night.exposure_s + night.night.pause_s,
            frame: &|number| {
                let frame = night.frame(number);
                (frame.jpeg, frame.truth)
            },
        });
        told(name, &figures);
        all.add(figures);
    }
    all
}

/// Finds trails of stated brightness in a run made of a real picture.
fn print_real(picture: &str) {
    let real = RealRun::of(Path::new(picture), 1);
    let figures = searched(&Run {
        frames: real::FRAMES,
        width: real.width() as f32,
        exposure_s: 15.0,
        step_s: 17.0,
        frame: &|number| real.frame(number),
    });
    let name = Path::new(picture).file_name().unwrap_or_default();
    println!("{}, {} frames", name.display(), figures.frames);
    for level in real::LEVELS {
        let these = || {
            figures
                .meteors
                .iter()
                .filter(|m| (m.0 * real::NOISE - level).abs() < 0.1)
        };
        println!(
            "  {level:>3} levels: {} found, {} called meteor of {}",
            these().filter(|m| m.1).count(),
            these().filter(|m| m.2).count(),
            these().count()
        );
    }
    println!("  {}", figures.in_words());
}

/// Frames to be searched.
struct Run<'a> {
    frames: usize,
    width: f32,
    exposure_s: f32,
    /// From the begin of one exposure to that of the next.
    step_s: f32,
    /// A frame's JPEG, and what is in it.
    frame: &'a dyn Fn(usize) -> (Vec<u8>, Vec<Truth>),
}

/// Searches a run.
fn searched(run: &Run<'_>) -> Figures {
    let limits = Limits {
        allowed: Allowance::PREVIEW,
        stop: None,
    };
    let count = run.frames;
    let mut figures = Figures {
        frames: count,
        ..Figures::default()
    };
    let mut window = Window::default();
    let mut truths: Vec<Vec<Truth>> = Vec::new();
    for number in 0..count {
        let (jpeg, truth) = (run.frame)(number);
        truths.push(truth);
        let begun = Instant::now();
        let grey = decode_grey(&jpeg, &limits).expect("our own picture");
        figures.seconds[0] += begun.elapsed().as_secs_f64();
        let begun = Instant::now();
        let field = stars(&grey.binned(binning(grey.width())));
        figures.seconds[1] += begun.elapsed().as_secs_f64();
        let begun = Instant::now();
        let view = View::of(&grey, &field);
        window.push(Held {
            number,
            full_by: grey.width() as f64 / view.width() as f64,
            facts: Facts {
                start_s: Some(f64::from(number as f32 * run.step_s)),
                exposure_s: Some(run.exposure_s.into()),
                iso: Some(3_200.0),
                size: (view.width(), view.height()),
                stars: view.stars().to_vec(),
            },
            glance: view.glance(&grey, &field),
            view,
        });
        while let Some(stretch) = window.stretch(number + 1 == count) {
            let views = window.views(stretch.all.clone());
            let changed: Option<Vec<_>> = (0..views.len()).map(|at| change(&views, at)).collect();
            let lines = match changed {
                Some(changed) => {
                    let changes = Changes::of(&views, changed);
                    let first = stretch.all.start;
                    stretch
                        .wanted
                        .clone()
                        .map(|at| changes.lines(at - first, window.pause()))
                        .collect()
                }
                None => vec![Vec::new(); stretch.wanted.len()],
            };
            let Some(segment) = window.searched(&stretch, lines) else {
                continue;
            };
            for ((number, by), lines) in segment.numbers.iter().zip(&segment.lines) {
                let ends: Vec<[f32; 4]> = lines
                    .iter()
                    .map(|line| {
                        [line.from.0, line.from.1, line.to.0, line.to.1]
                            .map(|v| (v + 0.5) * *by as f32 - 0.5)
                    })
                    .collect();
                let verdicts: Vec<_> = lines.iter().map(|line| weigh(&line.evidence)).collect();
                let on = matched(&truths[*number], &ends, run.width);
                for (at, line) in lines.iter().enumerate() {
                    figures.lines.push(Line {
                        on: on[at].map(|truth| truths[*number][truth].class),
                        class: verdicts[at].map(|verdict| verdict.class),
                        score: verdicts[at].map_or(0.0, |verdict| verdict.score),
                        measures: measures(&line.evidence),
                    });
                }
                for (k, truth) in truths[*number].iter().enumerate() {
                    if truth.class == Class::Meteor
                        && truth.visible_deg >= COUNTED.0
                        && truth.in_sky >= COUNTED.1
                    {
                        let mine = || {
                            (0..lines.len())
                                .filter(|at| on[*at] == Some(k))
                                .filter_map(|at| verdicts[at])
                        };
                        let called = mine().any(|one| one.class == TrailClass::Meteor);
                        figures
                            .meteors
                            .push((truth.peak_snr, mine().count() > 0, called));
                    }
                }
            }
        }
        figures.seconds[2] += begun.elapsed().as_secs_f64();
    }
    figures
}

/// Which object each line lies on: the one it overlaps most, by four tenths of the shorter at least, no farther beside it than
/// 0.6 % of the picture's width.
fn matched(truths: &[Truth], lines: &[[f32; 4]], width: f32) -> Vec<Option<usize>> {
    lines
        .iter()
        .map(|line| {
            let of = |k: &usize| {
                let truth = &truths[*k];
                let near = matches!(truth.class, Class::Firefly | Class::Headlamp | Class::Car);
                if !near && truth.line_snr < 2.5 {
                    return 0.0;
                }
                let share = overlap(
                    &truth.visible,
                    line,
                    0.006 * width * if near { 2.0 } else { 1.0 },
                );
                if share > 0.0 && truth.class == Class::Meteor {
                    share + 0.5
                } else {
                    share
                }
            };
            (0..truths.len())
                .filter(|k| of(k) > 0.0)
                .max_by(|a, b| of(a).total_cmp(&of(b)))
        })
        .collect()
}

fn overlap(truth: &[f32; 4], line: &[f32; 4], beside: f32) -> f32 {
    let [x1, y1, x2, y2] = *truth;
    let (length, own) = (
        (x2 - x1).hypot(y2 - y1),
        (line[2] - line[0]).hypot(line[3] - line[1]).max(1.0),
    );
    if length < 1.5 {
        return 0.0;
    }
    let (ux, uy) = ((x2 - x1) / length, (y2 - y1) / length);
    let places = [
        (line[0], line[1]),
        (
            f32::midpoint(line[0], line[2]),
            f32::midpoint(line[1], line[3]),
        ),
        (line[2], line[3]),
    ];
    let off = places.map(|(x, y)| ((y - y1) * ux - (x - x1) * uy).abs());
    if off.iter().sum::<f32>() / 3.0 > beside {
        return 0.0;
    }
    let along = places.map(|(x, y)| (x - x1) * ux + (y - y1) * uy);
    let (low, high) = (
        along[0].min(along[2]).max(0.0),
        along[0].max(along[2]).min(length),
    );
    let share = (high - low).max(0.0) / length.min(own);
    if share >= 0.4 { share } else { 0.0 }
}

impl Figures {
    fn add(&mut self, other: Self) {
        self.frames += other.frames;
        self.meteors.extend(other.meteors);
        self.lines.extend(other.lines);
        for (sum, more) in self.seconds.iter_mut().zip(other.seconds) {
            *sum += more;
        }
    }

    fn in_words(&self) -> String {
        let mut words = String::new();
        for (low, high, name) in [
            (3.0, 5.0, "3..5"),
            (5.0, 10.0, "5..10"),
            (10.0, f32::MAX, ">10"),
        ] {
            let these: Vec<_> = self
                .meteors
                .iter()
                .filter(|m| m.0 >= low && m.0 < high)
                .collect();
            let (found, called) = (
                these.iter().filter(|m| m.1).count(),
                these.iter().filter(|m| m.2).count(),
            );
            words += &format!(
                "SNR {name}: {found} found, {called} called of {}; ",
                these.len()
            );
        }
        let is = |class: TrailClass| move |line: &&Line| line.class == Some(class);
        let false_ones = self
            .lines
            .iter()
            .filter(is(TrailClass::Meteor))
            .filter(|l| l.truly() != 0)
            .count();
        let kept = self.lines.iter().filter(|line| line.class.is_some());
        let moving = || self.lines.iter().filter(|l| l.truly() == 1);
        let right = moving().filter(is(TrailClass::MovingLight)).count();
        let wrong = moving().filter(is(TrailClass::Meteor)).count();
        let listed = moving().filter(|line| line.class.is_some()).count();
        words
            + &format!(
                "false {:.1} in 100 frames; lines of moving lights {}, listed {listed}, right {right}, called meteor {wrong}; {:.1} candidates a frame",
                100.0 * false_ones as f32 / self.frames as f32,
                moving().count(),
                kept.count() as f32 / self.frames as f32
            )
    }

    /// Of the lines of a score, how many are meteors; of the thirty highest scores, how many.
    fn print_calibration(&self) {
        for (low, high) in [
            (0.05_f32, 0.2_f32),
            (0.2, 0.4),
            (0.4, 0.6),
            (0.6, 0.8),
            (0.8, 1.1),
        ] {
            let these: Vec<_> = self
                .lines
                .iter()
                .filter(|l| l.class.is_some() && l.score >= low && l.score < high)
                .collect();
            let meteors = these.iter().filter(|l| l.truly() == 0).count();
            let mean = these.iter().map(|l| l.score).sum::<f32>() / these.len().max(1) as f32;
            println!(
                "score {low:.2} to {high:.1}: {meteors} meteors of {}, mean score {mean:.2}",
                these.len()
            );
        }
        let mut lines: Vec<&Line> = self.lines.iter().collect();
        lines.sort_by(|a, b| b.score.total_cmp(&a.score));
        let first = lines.iter().take(30).filter(|l| l.truly() == 0).count();
        println!("of the thirty highest scores {first} are on meteors");
    }
}
