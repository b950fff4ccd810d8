//! Pictures of one tripod, whose lens and direction are known from another of them; and scenes drawn from seeds that clouds and the
//! air near the horizon make hard.

use framefall::picture::find::stars as find_stars;
use framefall::pointing::answer::Hint;
use framefall::pointing::answer::Solution;
use framefall::pointing::camera::Camera;
use framefall::pointing::horizon::OverHorizon;
use framefall::pointing::horizon::over_horizon;
use framefall::pointing::solve::solve;
use framefall::pointing::vector::dot;
use framefall::pointing::vector::product;
use framefall::pointing::vector::turned_further;
use framefall::sky::horizon::Horizon;
use framefall::terms::star_image::Grey;

use crate::pointing::Preview;
use crate::sky_picture::Scene;

fn over(preview: &Preview, solution: &Solution, horizon: &Horizon) -> OverHorizon {
    let years = preview.years();
    over_horizon(&preview.field, solution, years, &mut |d| horizon.seen(d)).unwrap()
}

/// The angle between two cameras' directions, in degrees.
fn apart_deg(a: &Camera, b: &Camera) -> f64 {
    let trace: f64 = (0..3).map(|k| dot(a.rows[k], b.rows[k])).sum();
    ((trace - 1.0) / 2.0).clamp(-1.0, 1.0).acos().to_degrees()
}

/// An hour of one tripod: with the lens of its first frame, each other frame is found where the Earth has turned it to, without
/// focal length, and the Earth's turn is right to two seconds.
#[test]
fn a_tripod_is_followed_with_its_lens() {
    let first = Preview::read("F015");
    let solution = solve(&first.field, first.hint()).unwrap();
    assert!(!solution.lens_held);
    let there = over(&first, &solution, &first.horizon(0.0));
    for name in ["F016", "F017", "F018"] {
        let preview = Preview::read(name);
        let horizon = preview.horizon(0.0);
        let standing = Camera {
            lens: there.camera.lens,
            rows: product(&there.camera.rows, &horizon.axes()),
        };
        let hint = Hint {
            f_px: None,
            cameras: [Some(standing), None],
            ..preview.hint()
        };
        let solution = solve(&preview.field, hint).unwrap();
        assert!(solution.lens_held, "{name}");
        let here = over(&preview, &solution, &horizon);
        assert_eq!(here.camera.lens, there.camera.lens);
        let (error, worst) = preview.errors(&here.camera, &horizon);
        assert!(error < 0.25 && worst < 1.0, "{name} {error} {worst}");
        // The Earth turns by 15.04 arcseconds in a second.
        let seconds = apart_deg(&here.camera, &there.camera) * 3_600.0 / 15.04;
        assert!(seconds < 2.0, "{name} {seconds}");
    }
}

/// A tripod that was moved is found by the search, and has the lens all the same; another lens has not.
#[test]
fn a_moved_tripod_keeps_its_lens_and_a_changed_lens_does_not() {
    let preview = Preview::read("F016");
    let solution = solve(&preview.field, preview.hint()).unwrap();
    let mut moved = solution.camera;
    moved.rows = turned_further(&moved.rows, [0.1, 0.3, -0.2]);
    let hint = |camera| Hint {
        cameras: [Some(camera), None],
        ..preview.hint()
    };
    let again = solve(&preview.field, hint(moved)).unwrap();
    assert!(again.lens_held);
    assert!(apart_deg(&again.camera, &solution.camera) < 0.01);

    let mut other = moved;
    other.lens.f_px *= 1.02;
    let again = solve(&preview.field, hint(other)).unwrap();
    assert!(!again.lens_held);
    assert!((again.camera.lens.f_px / solution.camera.lens.f_px - 1.0).abs() < 1e-6);
}

/// Drawn from seeds: clouds that leave one gap, full of stars too faint for the whole field (20054); a fisheye whose lowest stars
/// the air lifts by pixels, which a fit to the catalogue leaves out (20015, 20045).
#[test]
fn gaps_in_clouds_and_low_stars_are_fitted() {
    for seed in [20_054, 20_015, 20_045] {
        let scene = Scene::numbered(seed);
        let drawn = scene.draw();
        let picture = Grey::new(scene.size.0, scene.size.1, drawn.luma).unwrap();
        let field = find_stars(&picture);
        let years = scene.at.unix_ms() as f64 / (365.25 * 86_400_000.0) - 30.0;
        let hint = Hint {
            f_px: Some(scene.f_px.1),
            years: Some(years),
            cameras: [None; 2],
        };
        let solution = solve(&field, hint).unwrap_or_else(|why| panic!("{seed} {why:?}"));
        let horizon = scene.horizon(0.0);
        let over = over_horizon(&field, &solution, years, &mut |d| horizon.seen(d));
        let over = over.unwrap_or_else(|why| panic!("{seed} {why:?}"));
        let mut squares = Vec::new();
        for (number, (x, y), height) in &drawn.stars {
            let star = framefall::pointing::stars::stars()[*number].direction(years);
            if *height > 3.0
                && let Some((u, v)) = over.camera.project(horizon.seen(star))
            {
                squares.push((u - x).powi(2) + (v - y).powi(2));
            }
        }
        let error = (squares.iter().sum::<f64>() / squares.len() as f64).sqrt();
        assert!(error < 0.2, "{seed} {error}");
    }
}
