//! Which way a picture looks, or why that is not known: the room's one door. The order of the attempts, and what is accepted.

use crate::pointing::answer::Grade;
use crate::pointing::answer::Hint;
use crate::pointing::answer::MatchedStar;
use crate::pointing::answer::Refusal;
use crate::pointing::answer::Solution;
use crate::pointing::attempt::Attempt;
use crate::pointing::attempt::FISHEYE_TO;
use crate::pointing::attempt::LEAST_MATCHED;
use crate::pointing::attempt::is_accepted;
use crate::pointing::camera::Camera;
use crate::pointing::doubt::keep_better;
use crate::pointing::law::Law;
use crate::pointing::lens::Lens;
use crate::pointing::matching::Expected;
use crate::pointing::matching::Target;
use crate::pointing::refine::Problem;
use crate::pointing::refine::Refined;
use crate::pointing::search::Budget;
use crate::pointing::search::candidates;
use crate::pointing::spread::spread;
use crate::terms::star_image::StarField;
use crate::terms::star_image::StarImage;

/// The edition of the solution. Raise it where the same images give another answer.
pub const EDITION: u8 = 4;

/// The year after 2000 whose places are taken where none is known.
const YEARS: f64 = 20.0;
/// Fewer images than this are not searched.
pub const LEAST_IMAGES: usize = 10;
/// The score of candidates that are worth a fit before all else.
const PROMISING: f64 = 6.5;
/// How many candidates of one search are fitted, promising ones and others.
const FITTED: (usize, usize) = (6, 12);
/// Where clouds may have left one gap: the size of the gap in pictures, and how many times as many stars are expected.
const FAINTER: (f64, usize) = (0.5, 3);
/// How far the focal lengths of like lenses are apart at most, as a logarithm.
const LIKE: f64 = 0.25;
/// Focal lengths by widths of the picture that are tried when none is known, rectilinear and fisheye, and their step.
const BLIND: [(Law, f64, f64); 3] = [
    (Law::Rectilinear, 0.28, 3.8),
    (Law::Equisolid, 0.20, 0.9),
    (Law::Stereographic, 0.20, 0.9),
];
const BLIND_STEP: f64 = 0.022;
/// The commonest focal length on such nights, in widths of the picture: 18 mm on 36 mm.
const COMMONEST: f64 = 0.5;
/// Pairs of stars that are tried at most: with a known focal length, and without.
const BUDGET: (u64, u64) = (7_000_000, 24_000_000);
/// What the fit of a candidate costs, in pairs of stars.
const A_FIT: u64 = 8_000;
/// Pairs of images that are tried with each lens; and in a first round over all lenses, where none is known.
const PAIRS: (usize, usize) = (220, 100);

/// Finds out which way a picture looks.
pub fn solve(field: &StarField, hint: Hint) -> Result<Solution, Refusal> {
    if field.stars.len() < LEAST_IMAGES {
        return Err(Refusal::TooFewStars);
    }
    let targets = Target::all(hint.years.unwrap_or(YEARS));
    let all: Vec<(f64, f64)> = field.stars.iter().map(|star| (star.x, star.y)).collect();
    let attempt = Attempt {
        field,
        all: &all,
        targets: &targets,
    };
    let mut cameras = hint.cameras.into_iter().flatten();
    if let Some(refined) = cameras.find_map(|camera| attempt.expected(&camera)) {
        return Ok(solution(&refined, &all, true));
    }
    let found = match hint.f_px {
        Some(f_px) => attempt.hinted(f_px),
        None => attempt.blind(),
    };
    let refined = found.ok_or(Refusal::NoMatch)?;
    // The tripod was moved, the lens may be the same.
    let held = hint.cameras[0].and_then(|expected| {
        attempt.expected(&Camera {
            lens: expected.lens,
            rows: refined.camera.rows,
        })
    });
    match held.filter(|held| held.odds >= refined.odds) {
        Some(held) => Ok(solution(&held, &all, true)),
        None => Ok(solution(&refined, &all, false)),
    }
}

fn solution(refined: &Refined, images: &[(f64, f64)], lens_held: bool) -> Solution {
    let matched: Vec<MatchedStar> = refined
        .sights
        .iter()
        .map(|(star, image): &(Expected, usize)| MatchedStar {
            star: star.star,
            direction: star.direction,
            x: images[*image].0,
            y: images[*image].1,
        })
        .collect();
    Solution {
        camera: refined.camera,
        residual_px: refined.residual_px,
        log_odds: refined.odds,
        grade: Grade::of(matched.len(), refined.residual_px),
        lens_held,
        matched,
    }
}

/// A part of the picture whose images are searched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Part {
    All,
    BeforeSky,
    Top,
    Bottom,
    Left,
    Right,
}

/// Which candidates of a search are fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fit {
    Promising,
    Others,
}

/// Which stars of the sky are searched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stars {
    /// The brightest in a field as large as the picture.
    Bright,
    /// Fainter ones too: clouds may have left one gap.
    Fainter,
}

impl Attempt<'_> {
    /// A camera that is known to a few pixels, if its stars are there.
    fn expected(&self, camera: &Camera) -> Option<Refined> {
        let spread = self.spread(Part::All);
        self.problem(&spread).follow(camera).filter(is_accepted)
    }

    fn hinted(&self, f_px: f64) -> Option<Refined> {
        let mut budget = Budget {
            pairs: PAIRS.0,
            left: BUDGET.0,
        };
        let laws: &[Law] = match f_px / self.width() {
            wide if wide < 0.35 => &[Law::Equisolid, Law::Stereographic, Law::Rectilinear],
            middle if middle < FISHEYE_TO => {
                &[Law::Rectilinear, Law::Equisolid, Law::Stereographic]
            }
            _ => &[Law::Rectilinear],
        };
        let near: &[f64] = &[1.0, 0.98, 1.02];
        let far: &[f64] = &[0.96, 1.04, 0.94, 1.06];
        let whole = [Part::All, Part::BeforeSky];
        let parts = [Part::Top, Part::Bottom, Part::Left, Part::Right];
        let steps: [(&[f64], &[Part], Fit, Stars); 7] = [
            (near, &whole, Fit::Promising, Stars::Bright),
            (far, &whole, Fit::Promising, Stars::Bright),
            (near, &whole, Fit::Promising, Stars::Fainter),
            (near, &whole, Fit::Others, Stars::Bright),
            (far, &whole, Fit::Others, Stars::Bright),
            (near, &whole, Fit::Others, Stars::Fainter),
            (near, &parts, Fit::Others, Stars::Bright),
        ];
        for (scales, parts, fit, stars) in steps {
            let mut held: Option<Refined> = None;
            for part in parts {
                let spread = self.spread(*part);
                if spread.len() < LEAST_MATCHED || self.is_all(*part, &spread) {
                    continue;
                }
                for law in laws {
                    for scale in scales {
                        let Some(found) = self.try_lens(
                            *law,
                            f_px * scale,
                            &spread,
                            (fit, stars),
                            true,
                            &mut budget,
                        ) else {
                            continue;
                        };
                        let found = self.doubted(found, &spread, f_px);
                        if !self.is_doubtful(&found) {
                            return Some(found);
                        }
                        keep_better(&mut held, found);
                    }
                }
            }
            if held.is_some() {
                return held;
            }
        }
        None
    }

    fn blind(&self) -> Option<Refined> {
        let mut budget = Budget {
            pairs: PAIRS.1,
            left: BUDGET.1,
        };
        let mut lenses = Vec::new();
        for (law, least, most) in BLIND {
            let mut f = least;
            while f <= most {
                lenses.push((law, f));
                f *= 1.0 + BLIND_STEP;
            }
        }
        let unlikely = |f: f64| (f / COMMONEST).ln().abs();
        lenses.sort_by(|a, b| unlikely(a.1).total_cmp(&unlikely(b.1)));
        // Without what is on the ground a search ends sooner.
        let mut rounds = vec![
            (Part::BeforeSky, PAIRS.1, Stars::Bright),
            (Part::All, PAIRS.1, Stars::Bright),
            (Part::All, PAIRS.1, Stars::Fainter),
            (Part::BeforeSky, PAIRS.0, Stars::Bright),
            (Part::All, PAIRS.0, Stars::Bright),
        ];
        let before_sky = self.field.stars.iter().filter(|star| star.before_sky);
        if before_sky.count() * 2 < self.all.len() {
            // Mostly lights on the ground: a round with them would take the rest of the budget.
            rounds.insert(1, (Part::BeforeSky, PAIRS.1, Stars::Fainter));
        }
        for (part, pairs, stars) in rounds {
            budget.pairs = pairs;
            let spread = self.spread(part);
            if spread.len() < LEAST_MATCHED || self.is_all(part, &spread) {
                continue;
            }
            let mut held: Option<(Refined, f64)> = None;
            for (law, f) in &lenses {
                // After a doubtful solution only lenses like its own may be better.
                let unlike = |(_, near): &(Refined, f64)| (f / near).ln().abs() > LIKE;
                if held.as_ref().is_some_and(unlike) {
                    continue;
                }
                let f_px = f * self.width();
                let tried = self.try_lens(
                    *law,
                    f_px,
                    &spread,
                    (Fit::Promising, stars),
                    false,
                    &mut budget,
                );
                if let Some(found) = tried {
                    let found = self.of_all_laws(found, &spread);
                    if !self.is_doubtful(&found) {
                        return Some(found);
                    }
                    let mut best = held.take().map(|(best, _)| best);
                    keep_better(&mut best, found);
                    held = best.map(|best| (best, *f));
                }
            }
            if let Some((found, _)) = held {
                return Some(found);
            }
        }
        None
    }

    fn try_lens(
        &self,
        law: Law,
        f_px: f64,
        spread: &[(f64, f64)],
        (fit, stars): (Fit, Stars),
        known: bool,
        budget: &mut Budget,
    ) -> Option<Refined> {
        let lens = Lens::plain(law, f_px, self.size());
        let (field, deeper) = match stars {
            Stars::Bright => (1.0, 1),
            Stars::Fainter => FAINTER,
        };
        let found = candidates(lens, spread, field, budget);
        let (promising, others) = FITTED;
        let chosen = found
            .iter()
            .filter(|one| (one.score >= PROMISING) == (fit == Fit::Promising));
        let most = if fit == Fit::Promising {
            promising
        } else {
            others
        };
        let problem = Problem {
            deeper,
            ..self.problem(spread)
        };
        for one in chosen.take(most) {
            if budget.left == 0 {
                return None;
            }
            budget.left = budget.left.saturating_sub(A_FIT);
            let refined = problem.refine(&one.camera, known.then_some(f_px));
            if let Some(refined) = refined.filter(is_accepted) {
                return Some(refined);
            }
        }
        None
    }

    /// Whether nothing is on the ground, so that the images before the sky are all.
    fn is_all(&self, part: Part, spread: &[(f64, f64)]) -> bool {
        part == Part::BeforeSky && spread.len() == self.all.len()
    }

    /// The images of a part, spread over it: at most three in each cell of a grid first, brightest first, then the next three.
    fn spread(&self, part: Part) -> Vec<(f64, f64)> {
        let (width, height) = (self.field.width as f64, self.field.height as f64);
        let belongs = |star: &StarImage| match part {
            Part::All => true,
            Part::BeforeSky => star.before_sky,
            Part::Top => star.y < 0.55 * height,
            Part::Bottom => star.y > 0.45 * height,
            Part::Left => star.x < 0.55 * width,
            Part::Right => star.x > 0.45 * width,
        };
        spread(
            self.field.stars.iter().filter(|star| belongs(star)),
            width,
            height,
        )
    }
}
