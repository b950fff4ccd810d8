//! Which way a picture looks, or why that is not known: the room's one door. The order of the attempts, and what is accepted.

use crate::pointing::answer::Grade;
use crate::pointing::answer::Hint;
use crate::pointing::answer::MatchedStar;
use crate::pointing::answer::Refusal;
use crate::pointing::answer::Solution;
use crate::pointing::camera::Camera;
use crate::pointing::fit::PRIOR_K;
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
pub const EDITION: u8 = 1;

/// The year after 2000 whose places are taken where none is known.
const YEARS: f64 = 20.0;
/// Fewer images than this are not searched.
const LEAST_IMAGES: usize = 10;
/// Fewer matched stars than this prove nothing.
const LEAST_MATCHED: usize = 8;
/// Natural logarithm of the odds from which on a solution is accepted: one in ten million million.
const ACCEPTED: f64 = 30.0;
/// The score of candidates that are worth a fit before all else.
const PROMISING: f64 = 6.5;
/// How many candidates of one search are fitted, promising ones and others.
const FITTED: (usize, usize) = (6, 12);
/// A good solution has so many matched stars, and a smaller residual in pixels.
const GOOD: (usize, f64) = (20, 1.0);
/// With a smaller share of the images matched, the law of the lens is doubted even where it was said.
const DOUBTED: f64 = 0.30;
/// Odds that no lens but the right one reaches, however few of the images are stars.
const BEYOND_DOUBT: f64 = 150.0;
/// How far the focal lengths of like lenses are apart at most, as a logarithm.
const LIKE: f64 = 0.25;
/// Wider than this, in focal lengths by widths of the picture, a lens may be a fisheye.
const FISHEYE_TO: f64 = 0.95;
/// Where another law is made to agree first, in half diagonals.
const SAME_AT: f64 = 0.6;
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
const BUDGET: (u64, u64) = (8_000_000, 36_000_000);
/// What the fit of a candidate costs, in pairs of stars.
const A_FIT: u64 = 25_000;
/// Pairs of images that are tried with each lens; and in a first round over all lenses, where none is known.
const PAIRS: (usize, usize) = (220, 60);

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
    let found = match hint.f_px {
        Some(f_px) => attempt.hinted(f_px),
        None => attempt.blind(),
    };
    let refined = found.ok_or(Refusal::NoMatch)?;
    Ok(solution(&refined, &all))
}

fn solution(refined: &Refined, images: &[(f64, f64)]) -> Solution {
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
    let good = matched.len() >= GOOD.0 && refined.residual_px < GOOD.1;
    Solution {
        camera: refined.camera,
        residual_px: refined.residual_px,
        log_odds: refined.odds,
        grade: if good { Grade::Good } else { Grade::Weak },
        matched,
    }
}

fn is_accepted(refined: &Refined) -> bool {
    refined.odds >= ACCEPTED && refined.sights.len() >= LEAST_MATCHED
}

/// The odds, and how likely the lens itself is: another law can be bent into the right one, but takes much distortion.
fn likelihood(refined: &Refined) -> f64 {
    let lens = &refined.camera.lens;
    refined.odds - f64::midpoint((lens.k1 / PRIOR_K.0).powi(2), (lens.k2 / PRIOR_K.1).powi(2))
}

/// Keeps the likelier of two.
fn keep_better(held: &mut Option<Refined>, found: Refined) {
    if held
        .as_ref()
        .is_none_or(|best| likelihood(&found) > likelihood(best))
    {
        *held = Some(found);
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

struct Attempt<'a> {
    field: &'a StarField,
    all: &'a [(f64, f64)],
    targets: &'a [Target],
}

impl Attempt<'_> {
    fn width(&self) -> f64 {
        self.field.width.max(self.field.height) as f64
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
        let steps: [(&[f64], &[Part], Fit); 5] = [
            (near, &whole, Fit::Promising),
            (far, &whole, Fit::Promising),
            (near, &whole, Fit::Others),
            (far, &whole, Fit::Others),
            (near, &parts, Fit::Others),
        ];
        for (scales, parts, fit) in steps {
            let mut held: Option<Refined> = None;
            for part in parts {
                let spread = self.spread(*part);
                if spread.len() < LEAST_MATCHED {
                    continue;
                }
                for law in laws {
                    for scale in scales {
                        let Some(found) =
                            self.try_lens(*law, f_px * scale, &spread, fit, true, &mut budget)
                        else {
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
        let rounds = [
            (Part::All, PAIRS.1),
            (Part::BeforeSky, PAIRS.1),
            (Part::All, PAIRS.0),
            (Part::BeforeSky, PAIRS.0),
        ];
        for (part, pairs) in rounds {
            budget.pairs = pairs;
            let spread = self.spread(part);
            if spread.len() < LEAST_MATCHED
                || part == Part::BeforeSky && spread.len() == self.all.len()
            {
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
                let tried = self.try_lens(*law, f_px, &spread, Fit::Promising, false, &mut budget);
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

    /// Whether so few of the images are matched that another lens may match more of them.
    fn is_doubtful(&self, found: &Refined) -> bool {
        (found.sights.len() as f64) < DOUBTED * self.all.len() as f64 && found.odds < BEYOND_DOUBT
    }

    fn try_lens(
        &self,
        law: Law,
        f_px: f64,
        spread: &[(f64, f64)],
        fit: Fit,
        known: bool,
        budget: &mut Budget,
    ) -> Option<Refined> {
        let lens = Lens::plain(law, f_px, self.field.width, self.field.height);
        let found = candidates(lens, spread, budget);
        let (promising, others) = FITTED;
        let chosen = found
            .iter()
            .filter(|one| (one.score >= PROMISING) == (fit == Fit::Promising));
        let most = if fit == Fit::Promising {
            promising
        } else {
            others
        };
        let problem = self.problem(spread);
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

    fn problem<'b>(&'b self, spread: &'b [(f64, f64)]) -> Problem<'b> {
        Problem {
            all: self.all,
            spread,
            targets: self.targets,
        }
    }

    /// The solution itself, or with another law where its own is in doubt: right stars do not prove the right lens.
    fn doubted(&self, found: Refined, spread: &[(f64, f64)], f_px: f64) -> Refined {
        let share = found.sights.len() as f64 / self.all.len() as f64;
        if share < DOUBTED || f_px / self.width() < FISHEYE_TO {
            self.of_all_laws(found, spread)
        } else {
            found
        }
    }

    /// The law with the best odds.
    fn of_all_laws(&self, found: Refined, spread: &[(f64, f64)]) -> Refined {
        let problem = self.problem(spread);
        let mut best = found;
        let start = best.camera;
        for law in Law::ALL {
            if law == start.lens.law {
                continue;
            }
            let mut lens = Lens::plain(law, start.lens.f_px, self.field.width, self.field.height);
            // The same angle some way to the corner, as it is drawn.
            let aside = start.lens.half_diagonal_px() * SAME_AT;
            if let Some((radius, _)) = start
                .lens
                .unproject((start.lens.cx + aside, start.lens.cy))
                .and_then(|[c1, c2, c3]| law.radius(c1.hypot(c2).atan2(c3)))
            {
                lens.f_px = aside / radius;
            }
            let other = Camera {
                lens,
                rows: start.rows,
            };
            if let Some(other) = problem.refine(&other, None)
                && is_accepted(&other)
                && likelihood(&other) > likelihood(&best)
            {
                best = other;
            }
        }
        best
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
