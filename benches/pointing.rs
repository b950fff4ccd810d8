//! How many drawn previews are solved, how well, how fast; and how many that show no sky: `cargo bench --bench pointing`, with
//! `-- 300` for so many, `-- 300 50000` for those from a seed on.
//!
//! Previews are drawn from seeds (`benches/pointing/sky_picture.rs`), packed as JPEG, and go through the same steps as those of
//! files. Each is solved with the focal length as EXIF has it, without, and once more as a frame whose camera is known. What shows no
//! sky follows: mirrored, scattered and displaced stars, as many false ones as are kept, ground and lights without stars, noise; every
//! eighth without a focal length.

// A benchmark prints its figures, and stops where it cannot measure.
#![allow(clippy::print_stdout, clippy::expect_used)]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap
)] // pixels of small pictures

#[path = "pointing/sky_picture.rs"]
mod sky_picture;

use std::time::Instant;

use framefall::capture::claims::Allowance;
use framefall::capture::picture::Limits;
use framefall::capture::preview::decode_grey;
use framefall::picture::find::stars as find_stars;
use framefall::pointing::answer::Hint;
use framefall::pointing::answer::Solution;
use framefall::pointing::horizon::over_horizon;
use framefall::pointing::solve::solve;
use framefall::pointing::stars::stars;
use framefall::terms::star_image::StarField;
use framefall::terms::star_image::StarImage;
use jpeg_encoder::ColorType;
use jpeg_encoder::Encoder;
use sky_picture::Random;
use sky_picture::Scene;

const LIMITS: Limits<'_> = Limits {
    allowed: Allowance::PREVIEW,
    stop: None,
};
/// Fewer stars of the table among the images than this promise nothing.
const PROMISED: usize = 15;
/// The most images that are kept of a picture.
const CROWD: usize = 600;

fn main() {
    let mut numbers = std::env::args().filter_map(|word| word.parse().ok());
    let count: u64 = numbers.next().unwrap_or(60);
    let first: u64 = numbers.next().unwrap_or(0);
    let mut hinted = Figures::default();
    let mut blind = Figures::default();
    let mut none = Figures::default();
    let mut none_blind = Figures::default();
    for seed in first..first + count {
        let scene = Scene::numbered(seed);
        let drawn = scene.draw();
        let jpeg = packed(&drawn.luma, scene.size);
        let begun = Instant::now();
        let field = find_stars(&decode_grey(&jpeg, &LIMITS).expect("a JPEG"));
        let found_ms = begun.elapsed().as_secs_f64() * 1e3;
        let seen = drawn
            .stars
            .iter()
            .filter(|(_, place, _)| is_found(&field, *place))
            .count();
        let years = scene.at.unix_ms() as f64 / (365.25 * 86_400_000.0) - 30.0;
        let hint = Hint {
            f_px: Some(scene.f_px.1),
            years: Some(years),
            cameras: [None; 2],
        };
        let no_hint = Hint { f_px: None, ..hint };
        hinted.one(&scene, &drawn, &field, seen, &hint, found_ms);
        blind.one(&scene, &drawn, &field, seen, &no_hint, found_ms);
        let mut nothing = |field: &StarField| {
            none.nothing(field, &hint);
            if seed % 8 == 0 {
                none_blind.nothing(field, &no_hint);
            }
        };
        let mut random = Random(seed + 77);
        let width = field.width as f64;
        let mut mirrored = field.clone();
        mirrored
            .stars
            .iter_mut()
            .for_each(|star| star.x = width - 1.0 - star.x);
        nothing(&mirrored);
        let mut scattered = field.clone();
        for star in &mut scattered.stars {
            star.x = random.between(0.0, width);
            star.y = random.between(0.0, field.height as f64);
        }
        nothing(&scattered);
        let mut displaced = field.clone();
        let by = random.between(20.0, 60.0);
        for star in &mut displaced.stars {
            star.x += random.between(-by, by);
            star.y += random.between(-by, by);
        }
        nothing(&displaced);
        // As many images as are kept: lights of a city, or noise, all over the picture.
        let mut crowded = field.clone();
        if let Some(one) = field.stars.first().copied() {
            crowded.stars = (0..CROWD)
                .map(|_| StarImage {
                    x: random.between(0.0, width),
                    y: random.between(0.0, field.height as f64),
                    ..one
                })
                .collect();
        }
        nothing(&crowded);
        let starless = Scene::numbered(seed).without_stars();
        let jpeg = packed(&starless.draw().luma, starless.size);
        nothing(&find_stars(&decode_grey(&jpeg, &LIMITS).expect("a JPEG")));
        let level = random.between(8.0, 60.0);
        let (width, height) = scene.size;
        let noise: Vec<u8> = (0..width * height)
            .map(|_| (level + random.between(-9.0, 9.0)) as u8)
            .collect();
        let jpeg = packed(&noise, scene.size);
        nothing(&find_stars(&decode_grey(&jpeg, &LIMITS).expect("a JPEG")));
    }
    hinted.print("focal length known");
    blind.print("focal length unknown");
    for (what, figures) in [("known", &mut none), ("unknown", &mut none_blind)] {
        println!(
            "no sky, focal length {what}: {} tried, {} false; refused in {:.2} s at worst, median {:.3}",
            figures.tried,
            figures.wrong,
            figures.times_ms.iter().copied().fold(0.0, f64::max) / 1e3,
            middle(&mut figures.times_ms) / 1e3
        );
    }
}

fn packed(luma: &[u8], (width, height): (usize, usize)) -> Vec<u8> {
    let mut jpeg = Vec::new();
    let rgb: Vec<u8> = luma.iter().flat_map(|level| [*level; 3]).collect();
    Encoder::new(&mut jpeg, 85)
        .encode(&rgb, width as u16, height as u16, ColorType::Rgb)
        .expect("a JPEG");
    jpeg
}

fn is_found(field: &StarField, (x, y): (f64, f64)) -> bool {
    field
        .stars
        .iter()
        .any(|star| (star.x - x).hypot(star.y - y) < 1.5)
}

/// What came of some pictures.
#[derive(Default)]
struct Figures {
    tried: usize,
    promised: usize,
    solved: usize,
    beyond: usize,
    wrong: usize,
    errors_px: Vec<f64>,
    residuals_px: Vec<f64>,
    times_ms: Vec<f64>,
    known_ms: Vec<f64>,
    radiants_px: Vec<f64>,
}

impl Figures {
    fn one(
        &mut self,
        scene: &Scene,
        drawn: &sky_picture::Drawn,
        field: &StarField,
        seen: usize,
        hint: &Hint,
        found_ms: f64,
    ) {
        self.tried += 1;
        let promised = seen >= PROMISED;
        self.promised += usize::from(promised);
        let begun = Instant::now();
        let answer = solve(field, *hint);
        let Ok(solution) = answer else {
            self.times_ms
                .push(found_ms + begun.elapsed().as_secs_f64() * 1e3);
            if promised {
                println!(
                    "not solved: {seen} stars among {} images, {:?} {:.0} px",
                    field.stars.len(),
                    scene.law,
                    scene.f_px.0
                );
            }
            return;
        };
        self.solved += usize::from(promised);
        self.beyond += usize::from(!promised);
        self.check(scene, drawn, field, &solution, hint.years.unwrap_or(20.0));
        self.times_ms
            .push(found_ms + begun.elapsed().as_secs_f64() * 1e3);
        let begun = Instant::now();
        let known = Hint {
            cameras: [Some(solution.camera); 2],
            ..*hint
        };
        if let Ok(solution) = solve(field, known) {
            let horizon = scene.horizon(0.0);
            let years = hint.years.unwrap_or(20.0);
            let _ = over_horizon(field, &solution, years, &mut |direction| {
                horizon.seen(direction)
            });
        }
        self.known_ms
            .push(found_ms + begun.elapsed().as_secs_f64() * 1e3);
    }

    fn check(
        &mut self,
        scene: &Scene,
        drawn: &sky_picture::Drawn,
        field: &StarField,
        solution: &Solution,
        years: f64,
    ) {
        let horizon = scene.horizon(0.0);
        let Ok(over) = over_horizon(field, solution, years, &mut |direction| {
            horizon.seen(direction)
        }) else {
            println!(
                "does not fit the horizon: {} matched",
                solution.matched.len()
            );
            self.wrong += 1;
            return;
        };
        let mut off: Vec<f64> = drawn
            .stars
            .iter()
            .filter(|(_, _, height)| *height > 3.0)
            .filter_map(|(number, (x, y), _)| {
                let (u, v) = over
                    .camera
                    .project(horizon.seen(stars()[*number].direction(years)))?;
                Some((u - x).hypot(v - y))
            })
            .collect();
        if off.is_empty() {
            return;
        }
        if middle(&mut off) > 10.0 {
            self.wrong += 1;
            println!(
                "WRONG: {} matched, {:.1} px",
                over.matched,
                middle(&mut off)
            );
        }
        if over.matched >= 20 {
            let squares: f64 = off.iter().map(|one| one * one).sum();
            self.errors_px.push((squares / off.len() as f64).sqrt());
            self.residuals_px.push(solution.residual_px);
            for radiant in horizon.radiants() {
                if let Some(truth) = scene.pixel(radiant.among_stars)
                    && let Some((u, v)) = over.camera.project(radiant.among_stars)
                {
                    self.radiants_px.push((u - truth.0).hypot(v - truth.1));
                }
            }
        }
    }

    fn nothing(&mut self, field: &StarField, hint: &Hint) {
        self.tried += 1;
        let begun = Instant::now();
        if let Ok(solution) = solve(field, *hint) {
            self.wrong += 1;
            println!(
                "FALSE: {} matched, odds {:.0}",
                solution.matched.len(),
                solution.log_odds
            );
        }
        self.times_ms.push(begun.elapsed().as_secs_f64() * 1e3);
    }

    fn print(&mut self, what: &str) {
        self.errors_px.sort_by(f64::total_cmp);
        self.residuals_px.sort_by(f64::total_cmp);
        let at = |sorted: &[f64], share: f64| {
            sorted
                .get((sorted.len() as f64 * share) as usize)
                .copied()
                .unwrap_or(f64::NAN)
        };
        println!(
            "{what:<20} {} of {} with {PROMISED} stars solved, {} of {} others, {} wrong",
            self.solved,
            self.promised,
            self.beyond,
            self.tried - self.promised,
            self.wrong
        );
        println!(
            "  places off (20 matched) median {:.3} px, 95 of 100 within {:.3}, worst {:.3}; left after the fit to catalogued places {:.2}",
            at(&self.errors_px, 0.5),
            at(&self.errors_px, 0.95),
            self.errors_px.last().copied().unwrap_or(f64::NAN),
            at(&self.residuals_px, 0.5)
        );
        let worst = self.times_ms.iter().copied().fold(0.0, f64::max);
        println!(
            "  from the JPEG to the fit: median {:.0} ms, worst {worst:.0}; of a frame whose camera is known {:.0}",
            middle(&mut self.times_ms),
            middle(&mut self.known_ms)
        );
        let near = self.radiants_px.iter().filter(|off| **off <= 0.5).count();
        println!(
            "  radiants in the picture: {near} of {} within half a pixel, worst {:.3}",
            self.radiants_px.len(),
            self.radiants_px.iter().copied().fold(0.0, f64::max)
        );
    }
}

fn middle(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}
