//! How well the stars tell the time between two drawn previews of one tripod: `cargo bench --bench elapsed`, with `-- 30` for so
//! many tripods. Each is drawn a minute, ten minutes and an hour later as well.

// A benchmark prints its figures, and stops where it cannot measure.
#![allow(clippy::print_stdout, clippy::expect_used)]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss
)] // pixels of small pictures

#[allow(dead_code)] // shared with the benchmark of pointing
#[path = "pointing/sky_picture.rs"]
mod sky_picture;

use framefall::capture::claims::Allowance;
use framefall::capture::picture::Limits;
use framefall::capture::preview::decode_grey;
use framefall::picture::find::stars as find_stars;
use framefall::pointing::answer::Hint;
use framefall::pointing::camera::Camera;
use framefall::pointing::elapsed::Pointed;
use framefall::pointing::elapsed::TURN_RAD_S;
use framefall::pointing::elapsed::elapsed;
use framefall::pointing::horizon::over_horizon;
use framefall::pointing::region::hull;
use framefall::pointing::solve::solve;
use framefall::pointing::vector::product;
use framefall::pointing::vector::turned_about;
use framefall::sky::horizon::Horizon;
use framefall::sky::look::Looker;
use jpeg_encoder::ColorType;
use jpeg_encoder::Encoder;
use sky_picture::Scene;

const LIMITS: Limits<'_> = Limits {
    allowed: Allowance::PREVIEW,
    stop: None,
};
/// One sigma in seconds up to which the time is known well.
const KNOWN_S: f64 = 1.0;
/// The lens of a frame with so many matched stars is kept for the rest of its session, as `examine` does.
const HELD_FROM: u32 = 60;
/// Sine of the altitude above which a picture is taken to show sky.
const SKY: f64 = 0.05;

fn main() {
    let tripods: u64 = std::env::args()
        .find_map(|word| word.parse().ok())
        .unwrap_or(16);
    let mut errors = Vec::new();
    for seed in 0..tripods {
        let mut scene = Scene::numbered(seed);
        let begun = scene.at;
        let Some((first, from)) = pointed(&scene, None) else {
            continue;
        };
        for later_s in [60.0, 600.0, 3_600.0] {
            scene.at = begun.plus_s(later_s).expect("a time");
            let known = (first.matched >= HELD_FROM).then(|| Camera {
                lens: first.camera.lens,
                rows: first
                    .camera
                    .rows
                    .map(|row| turned_about(row, from.pole(), later_s * TURN_RAD_S)),
            });
            let Some((second, horizon)) = pointed(&scene, known) else {
                continue;
            };
            let found = elapsed(
                (&first, &second),
                horizon.pole(),
                later_s,
                &mut |direction| horizon.seen(direction)[2] > SKY,
            )
            .expect("sky");
            errors.push(((found.seconds - later_s).abs(), found.error_s));
        }
    }
    let (known, rough): (Vec<_>, Vec<_>) =
        errors.iter().partition(|(_, error_s)| *error_s <= KNOWN_S);
    for (what, errors) in [
        ("all pairs of frames", &errors),
        ("error stated as a second or less", &known),
        ("as more", &rough),
    ] {
        let mut off: Vec<f64> = errors.iter().map(|(off, _)| *off).collect();
        off.sort_by(f64::total_cmp);
        let at = |share: f64| off.get(((off.len().max(1) - 1) as f64 * share) as usize);
        let most = errors
            .iter()
            .map(|(off, error_s)| off / error_s)
            .fold(0.0, f64::max);
        println!(
            "{what}: {}; elapsed time off by {:.2} s in the middle one, {:.2} in 95 of 100, {:.2} in the worst, {most:.1} stated errors at most",
            off.len(),
            at(0.5).unwrap_or(&f64::NAN),
            at(0.95).unwrap_or(&f64::NAN),
            at(1.0).unwrap_or(&f64::NAN)
        );
    }
}

/// The camera of a drawn preview among the stars, as a catalogue keeps it. Takes: where another frame of the tripod makes it
/// likely, if one is known.
fn pointed(scene: &Scene, known: Option<Camera>) -> Option<(Pointed, Horizon)> {
    let (width, height) = scene.size;
    let rgb: Vec<u8> = scene
        .draw()
        .luma
        .iter()
        .flat_map(|level| [*level; 3])
        .collect();
    let mut jpeg = Vec::new();
    Encoder::new(&mut jpeg, 85)
        .encode(&rgb, width as u16, height as u16, ColorType::Rgb)
        .expect("a JPEG");
    let field = find_stars(&decode_grey(&jpeg, &LIMITS).expect("a JPEG"));
    let years = scene.at.unix_ms() as f64 / (365.25 * 86_400_000.0) - 30.0;
    let hint = Hint {
        f_px: Some(scene.f_px.1),
        years: Some(years),
        cameras: [known, None],
    };
    let solution = solve(&field, hint).ok()?;
    let horizon = Looker::new().horizon(scene.at, scene.place)?;
    let over = over_horizon(&field, &solution, years, &mut |direction| {
        horizon.seen(direction)
    })
    .ok()?;
    let pointed = Pointed {
        camera: Camera {
            lens: over.camera.lens,
            rows: product(&over.camera.rows, &horizon.axes()),
        },
        residual_px: over.residual_px,
        matched: over.matched as u32,
        region: hull(&over.places),
    };
    Some((pointed, horizon))
}
