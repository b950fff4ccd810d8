//! What a trail says of its shower: one, several, none, or nothing. Every radiant and its probability is told with it.

use crate::pointing::trail_shower::ends::Trail;
use crate::pointing::trail_shower::fits::Candidate;
use crate::pointing::trail_shower::fits::Fit;
use crate::pointing::trail_shower::fits::Sense;
use crate::pointing::trail_shower::fits::Verdict;
use crate::pointing::trail_shower::fits::fit;
use crate::terms::shower::ShowerCode;

/// A shorter trail in degrees has no direction worth the name.
///
/// Source: our choice.
const SHORTEST_DEG: f64 = 1.0;
/// Where a great circle may miss by more than this in degrees, a third of all meteors would fit.
///
/// Source: arithmetic: sin 20° is 0.34; our choice.
const WIDEST_DEG: f64 = 20.0;
/// Meteors of no shower an hour under a good sky.
///
/// Source: 10 to 15, common practice, no source.
const SPORADICS: f64 = 12.0;
/// The least rate that a shower is given: radiants at the horizon send few meteors, not none.
///
/// Source: our choice.
const LEAST_RATE: f64 = 0.1;

/// Why a trail says nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Undetermined {
    /// It is shorter than a degree.
    Short,
    /// Its ends are too uncertain for its length.
    Uncertain,
    /// It comes head-on from near a radiant.
    HeadOn,
    /// It is near the point opposite to a radiant.
    Opposite,
}

impl Undetermined {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Short => "the trail is shorter than 1°",
            Self::Uncertain => "the trail is too short for the error of its ends",
            Self::HeadOn => "the trail is within 3° of a radiant",
            Self::Opposite => "the trail is near the point opposite to a radiant",
        }
    }
}

/// Where a trail belongs by its great circle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Belongs {
    /// To one shower, as far as a great circle can tell.
    To(ShowerCode),
    /// To one of several.
    Ambiguous(Vec<ShowerCode>),
    /// To none of the active ones.
    Sporadic,
    /// It says nothing.
    Undetermined(Undetermined),
}

/// The answer, with every radiant that was compared: those that fit first, the likeliest first.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Where the trail belongs.
    pub belongs: Belongs,
    /// Each radiant, and the probability that the trail is one of its meteors.
    pub fits: Vec<(Fit, f64)>,
    /// The probability that the trail belongs to none of them, though it may fit.
    pub sporadic: f64,
    /// The probability that a meteor of no shower fits at least one of them.
    pub chance: f64,
}

/// Compares a trail with the radiants that are active.
///
/// Takes: how many kilometres above the sea the observer is.
/// Probabilities weigh how near the great circle passes each radiant with how many meteors an hour it sends, against evenly
/// spread sporadic meteors. Source: Bayes' rule; the radiant's half size is two sigma of its scatter.
pub fn belongs(trail: &Trail, sense: Sense, candidates: &[Candidate], observer_km: f64) -> Answer {
    let mut weighed: Vec<(Fit, f64)> = candidates
        .iter()
        .map(|one| {
            let found = fit(trail, sense, one, observer_km);
            (found, weight(&found, one.rate))
        })
        .collect();
    let sum = SPORADICS / 2.0 + weighed.iter().map(|(_, weight)| weight).sum::<f64>();
    for (_, weight) in &mut weighed {
        *weight /= sum;
    }
    weighed.sort_by(|(a, p), (b, q)| {
        let fits = |one: &Fit| one.verdict != Verdict::Fits;
        fits(a)
            .cmp(&fits(b))
            .then(q.total_cmp(p))
            .then(a.miss_deg.total_cmp(&b.miss_deg))
    });
    let passes_none: f64 = weighed
        .iter()
        .filter(|(one, _)| one.verdict != Verdict::BelowHorizon)
        .map(|(one, _)| 1.0 - one.chance())
        .product();
    Answer {
        belongs: of(trail, &weighed),
        sporadic: SPORADICS / 2.0 / sum,
        chance: 1.0 - passes_none,
        fits: weighed,
    }
}

fn of(trail: &Trail, weighed: &[(Fit, f64)]) -> Belongs {
    if trail.length_rad().to_degrees() < SHORTEST_DEG {
        return Belongs::Undetermined(Undetermined::Short);
    }
    let with = |verdict: Verdict| {
        weighed
            .iter()
            .map(|(one, _)| one)
            .filter(move |one| one.verdict == verdict)
    };
    let fitting: Vec<&Fit> = with(Verdict::Fits).collect();
    if fitting
        .iter()
        .any(|one| one.limit_deg - one.half_size_deg > WIDEST_DEG)
    {
        return Belongs::Undetermined(Undetermined::Uncertain);
    }
    match fitting.as_slice() {
        [] if with(Verdict::HeadOn).next().is_some() => Belongs::Undetermined(Undetermined::HeadOn),
        [] if with(Verdict::Opposite).next().is_some() => {
            Belongs::Undetermined(Undetermined::Opposite)
        }
        [] => Belongs::Sporadic,
        [one] => Belongs::To(one.shower),
        several => Belongs::Ambiguous(several.iter().map(|one| one.shower).collect()),
    }
}

/// How many meteors an hour a radiant sends along this great circle, for each radian that it may miss.
fn weight(found: &Fit, rate: f64) -> f64 {
    match found.verdict {
        Verdict::BelowHorizon | Verdict::Towards => 0.0,
        _ => {
            let sigma = (found.half_size_deg / 2.0).hypot(found.miss_error_deg);
            let off = found.miss_deg / sigma;
            let density =
                (-off * off / 2.0).exp() / (sigma.to_radians() * std::f64::consts::TAU.sqrt());
            rate.max(LEAST_RATE) * density
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pointing::trail_shower::ends::tests::over;
    use crate::pointing::trail_shower::ends::tests::trail;
    use crate::pointing::trail_shower::fits::tests::candidate;
    use crate::pointing::vector::Vector;
    use crate::pointing::vector::angle_rad;
    use crate::pointing::vector::cross;
    use crate::pointing::vector::dot;
    use crate::pointing::vector::plus;
    use crate::pointing::vector::scaled;
    use crate::pointing::vector::unit;

    fn code(code: &str) -> ShowerCode {
        ShowerCode::parse(code).unwrap()
    }

    fn geminid() -> Trail {
        trail((1180.0, 640.0), (1232.78, 758.66))
    }

    #[test]
    fn a_member_is_named_alone() {
        let all = [
            candidate("GEM", over(81.4952, 130.9987)),
            candidate("HYD", over(50.0, 150.0)),
        ];
        let answer = belongs(&geminid(), Sense::Unknown, &all, 1.905);
        assert_eq!(answer.belongs, Belongs::To(code("GEM")));
        assert_eq!(answer.fits.len(), 2);
        let sum = answer.sporadic + answer.fits.iter().map(|(_, p)| p).sum::<f64>();
        assert!((sum - 1.0).abs() < 1e-12);
        assert!(answer.sporadic < 0.02 && answer.chance > 0.05 && answer.chance < 0.12);
    }

    #[test]
    fn two_radiants_on_one_great_circle_are_both_told() {
        let first = geminid();
        let radiant = over(81.4952, 130.9987);
        // On the same great circle, ten degrees nearer.
        let second = unit(plus(scaled(radiant, 0.85), scaled(first.from, 0.15)));
        let all = [candidate("GEM", radiant), candidate("MON", second)];
        let answer = belongs(&first, Sense::Unknown, &all, 0.0);
        let Belongs::Ambiguous(showers) = answer.belongs else {
            panic!("{answer:?}")
        };
        assert_eq!(showers.len(), 2);
        let weaker = [
            candidate("GEM", radiant),
            Candidate {
                rate: 1.0,
                ..candidate("MON", second)
            },
        ];
        let answer = belongs(&first, Sense::Unknown, &weaker, 0.0);
        assert_eq!(answer.fits[0].0.shower, code("GEM"));
        assert!(answer.fits[0].1 > 10.0 * answer.fits[1].1);
    }

    #[test]
    fn a_short_trail_and_one_that_is_poorly_known_are_undetermined() {
        let all = [candidate("GEM", over(81.4952, 130.9987))];
        let short = trail((1180.0, 640.0), (1184.0, 649.0));
        assert_eq!(
            belongs(&short, Sense::Unknown, &all, 0.0).belongs,
            Belongs::Undetermined(Undetermined::Short)
        );
        let mut poor = geminid();
        (poor.from_error_rad, poor.to_error_rad) = (0.05, 0.05);
        assert_eq!(
            belongs(&poor, Sense::Unknown, &all, 0.0).belongs,
            Belongs::Undetermined(Undetermined::Uncertain)
        );
        assert_eq!(
            belongs(&geminid(), Sense::Unknown, &[], 0.0).belongs,
            Belongs::Sporadic
        );
    }

    /// Evenly spread numbers of 0 to 1.
    struct Lots(u64);

    impl Lots {
        fn next(&mut self) -> f64 {
            self.0 = self
                .0
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 11) as f64 / (1_u64 << 53) as f64
        }

        fn normal(&mut self) -> f64 {
            (0..12).map(|_| self.next()).sum::<f64>() - 6.0
        }

        fn direction(&mut self, least_up: f64) -> Vector {
            let up = least_up + (1.0 - least_up) * self.next();
            let (sin, cos) = (self.next() * std::f64::consts::TAU).sin_cos();
            let flat = (1.0 - up * up).sqrt();
            [flat * sin, flat * cos, up]
        }
    }

    /// Meteors from random radiants in the sky, radiant scatter 0.7°, ends good to 0.1°; two other radiants are active. Members
    /// are found, alone or with others; few sporadics pass for members.
    #[test]
    fn members_are_kept_and_most_sporadics_are_told() {
        let mut lots = Lots(7);
        let (mut alone, mut among, mut lost, mut passed) = (0, 0, 0, 0);
        let count = 1_500;
        for number in 0..count {
            let all = ["GEM", "MON", "HYD"].map(|code| candidate(code, lots.direction(0.1)));
            let from_shower = number % 2 == 0;
            let radiant = if from_shower {
                let mut scatter = || 0.7_f64.to_radians() * lots.normal();
                let off = [scatter(), scatter(), scatter()];
                unit(plus(all[0].radiant, off))
            } else {
                lots.direction(-0.1)
            };
            // A path of 10 to 40 km that begins 100 km up.
            let begin = lots.direction(0.3);
            let range = 100.0 / begin[2];
            let end = plus(
                scaled(begin, range),
                scaled(radiant, -(10.0 + 30.0 * lots.next())),
            );
            let (from, to) = (begin, unit(end));
            let distance = angle_rad(from, radiant).to_degrees();
            if angle_rad(from, to) < 0.035 || !(5.0..140.0).contains(&distance) {
                continue;
            }
            let pole = unit(cross(from, to));
            let error = 0.1_f64.to_radians();
            let mut off = |a: Vector| unit(plus(a, scaled(pole, error * lots.normal())));
            let one = Trail {
                from: off(from),
                to: off(to),
                from_error_rad: error,
                to_error_rad: error,
            };
            assert!(dot(one.from, one.from) > 0.99);
            let shower = all[0].shower;
            match (
                from_shower,
                belongs(&one, Sense::Unknown, &all, 0.0).belongs,
            ) {
                (true, Belongs::To(found)) if found == shower => alone += 1,
                (true, Belongs::Ambiguous(found)) if found.contains(&shower) => among += 1,
                (_, Belongs::Undetermined(_)) | (false, Belongs::Sporadic) => {}
                (true, _) => lost += 1,
                (false, Belongs::To(_) | Belongs::Ambiguous(_)) => passed += 1,
            }
        }
        assert!(alone > 3 * among && alone + among > 350, "{alone} {among}");
        assert!(lost * 50 < alone + among, "{lost} of {alone}");
        assert!(passed < count / 5, "{passed}");
    }
}
