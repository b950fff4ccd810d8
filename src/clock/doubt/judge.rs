//! Runs all checks on one body: which runs are dated wrongly, and how to correct them.

use std::borrow::Cow;

use crate::clock::doubt::asked::Ask;
use crate::clock::doubt::asked::Body;
use crate::clock::doubt::asked::Piece;
use crate::clock::doubt::asked::facts_of;
use crate::clock::doubt::asked::instant;
use crate::clock::doubt::asked::is_witness;
use crate::clock::doubt::asked::others;
use crate::clock::doubt::contradiction::contradictions;
use crate::clock::doubt::found::Doubt;
use crate::clock::doubt::light;
use crate::clock::doubt::light::Bright;
use crate::clock::doubt::light::night_span;
use crate::clock::doubt::light::sessions_in_words;
use crate::clock::doubt::light::worked_span;
use crate::clock::doubt::order;
use crate::clock::doubt::rank::Facts;
use crate::clock::doubt::rank::by_margins;
use crate::clock::doubt::rank::rank;
use crate::clock::doubt::remedy;
use crate::clock::doubt::run::Run;
use crate::clock::doubt::run::Runs;
use crate::clock::doubt::run::at_ms;
use crate::clock::doubt::shift;
use crate::clock::doubt::shift::Prior;
use crate::clock::doubt::shift::Shift;
use crate::clock::doubt::sun::SunCurve;
use crate::terms::basis::RISING_DEG;
use crate::terms::clock::RunFrame;
use crate::terms::day::HOUR_MS;
use crate::terms::failure::Failure;
use crate::terms::time::Utc;

/// How much more likely a run is dated correctly than wrongly, as a logarithm.
///
/// Source: our choice: one night in twenty.
const WRONG: f64 = 3.0;

/// Two bodies whose runs begin this near each other were meant for one night, in milliseconds.
///
/// Source: our choice: more than any likely error of a zone's offset.
const ONE_NIGHT_MS: i64 = 18 * HOUR_MS;

/// Judges the runs of a body for which `asks` is true.
pub fn judge(
    body: &Body<'_>,
    asks: &dyn Fn(&Run) -> bool,
    ask: &mut Ask<'_>,
) -> Result<Vec<Doubt>, Failure> {
    let mut all: Vec<RunFrame> = frames_of(body.runs).copied().collect();
    all.sort_unstable_by_key(|f| f.reading);
    let pieces = pieces(body, asks, ask);
    let mut doubts = Vec::new();
    for piece in &pieces {
        if let Some(bright) = &piece.bright
            && asks(&piece.run)
        {
            doubts.extend(in_daylight(body, &pieces, piece, bright, &all, ask)?);
        }
    }
    doubts.extend(contradictions(body, &pieces, asks, &all, ask)?);
    Ok(doubts)
}

fn frames_of(runs: &Runs) -> impl Iterator<Item = &RunFrame> {
    runs.runs.iter().flat_map(|r| &r.frames)
}

/// The runs; those that no error fits into the night are split at a pause.
fn pieces<'r>(body: &Body<'r>, asks: &dyn Fn(&Run) -> bool, ask: &mut Ask<'_>) -> Vec<Piece<'r>> {
    let mut pieces = Vec::new();
    for (of, run) in body.runs.runs.iter().enumerate() {
        let parts = match run.place {
            Some(place) if asks(run) && light::check(run).is_some() => {
                let priors = run
                    .frames
                    .first()
                    .map_or_else(Vec::new, |f| shift::of_hours(f, ask.sites));
                let mut at_place = |at: Utc| (ask.sun_alt_deg)(at, place);
                let mut sun = SunCurve::new(&mut at_place);
                let parts = light::parts(run, &mut |part| likely(part, &priors, &mut sun));
                parts.into_iter().map(Cow::Owned).collect()
            }
            _ => vec![Cow::Borrowed(run)],
        };
        pieces.extend(parts.into_iter().map(|run| Piece {
            bright: light::check(&run),
            run,
            of,
        }));
    }
    pieces
}

/// How likely a run is with its present date, or with its most likely error.
fn likely(run: &Run, priors: &[Prior], sun: &mut SunCurve<'_>) -> Option<f64> {
    let worked: Vec<(i64, i64)> = worked_span(run).into_iter().collect();
    if light::check(run).is_none() {
        return Some(by_margins(&worked, 0, sun));
    }
    let facts = Facts {
        night: night_span(run).into_iter().collect(),
        worked,
        ..Facts::default()
    };
    let candidates = rank(&facts, run.frames.first()?, priors, Some(sun));
    candidates.first().map(|best| best.weight - WRONG)
}

/// The doubts about a run in daylight.
fn in_daylight(
    body: &Body<'_>,
    pieces: &[Piece<'_>],
    piece: &Piece<'_>,
    bright: &Bright,
    all: &[RunFrame],
    ask: &mut Ask<'_>,
) -> Result<Vec<Doubt>, Failure> {
    let run = piece.run.as_ref();
    let (Some(first), Some(place)) = (run.frames.first(), run.place) else {
        return Ok(Vec::new());
    };
    let others = others(run, ask)?;
    let mut facts = facts_of(pieces, &[run], &others);
    facts.sky = (ask.sky)(run)?;
    facts.zone = ask.site(run).and_then(|site| site.zone.clone());
    let is_right = |r: &usize| !pieces.iter().any(|p| p.of == *r && p.bright.is_some());
    let span_of = |r: usize| body.runs.runs[r].span_ms();
    let parts = || {
        pieces
            .iter()
            .filter(|p| p.of == piece.of && p.bright.is_none())
    };
    let of = &body.runs.runs[piece.of];
    let right_before = of.before.iter().copied().filter(|r| is_right(r));
    facts.before = right_before
        .map(|r| span_of(r).1)
        .chain(
            parts()
                .map(|p| p.run.span_ms().1)
                .filter(|end| *end <= at_ms(first)),
        )
        .max();
    let right_after = of.after.iter().copied().filter(|r| is_right(r));
    facts.after = right_after
        .map(|r| span_of(r).0)
        .chain(
            parts()
                .map(|p| p.run.span_ms().0)
                .filter(|begin| *begin > at_ms(first)),
        )
        .min();
    let mut priors = shift::of_hours(first, ask.sites);
    let steps = body
        .runs
        .steps
        .iter()
        .any(|(a, b, _)| [a, b].contains(&&piece.of));
    if steps {
        // If the order of the files is wrong too, the date may be wrong.
        priors.retain(|prior| matches!(prior.shift, Shift::Minutes(_)));
        priors.extend(shift::of_days());
        priors.extend(shift::of_years(first));
    }
    let candidates = {
        let mut at_place = |at: Utc| (ask.sun_alt_deg)(at, place);
        let mut sun = SunCurve::new(&mut at_place);
        rank(&facts, first, &priors, Some(&mut sun))
    };
    let resolving = order::resolving(candidates.clone(), &facts);
    let candidates = if resolving.is_empty() {
        candidates
    } else {
        resolving
    };
    let cure = remedy::words(
        "the frames fit the night",
        &candidates,
        "",
        body.camera,
        &run.frames,
        remedy::limit(&run.frames, all, ask)?,
        body.stated,
    );
    let mut doubts = vec![Doubt {
        code: bright.code,
        frame_id: bright.frame_id,
        saw: bright.found.clone(),
        cure: cure.clone(),
    }];
    let witness = others.iter().find(|other| {
        is_witness(other) && (other.run.span_ms().0 - run.span_ms().0).abs() < ONE_NIGHT_MS
    });
    if let (Some(witness), Some(site)) = (witness, ask.site(run))
        && light::highest_sun_deg(run).is_some_and(|alt| alt > RISING_DEG)
    {
        doubts.push(Doubt {
            code: "clocks-disagree",
            frame_id: first.frame_id,
            saw: format!(
                "at {}, {} of {} is dated in the dark, from {} to {}, but {} of {} in daylight, \
                 from {} to {}",
                site.name,
                sessions_in_words(&witness.run),
                witness.camera,
                instant(witness.run.span_ms().0),
                instant(witness.run.span_ms().1),
                sessions_in_words(run),
                body.camera,
                instant(run.span_ms().0),
                instant(run.span_ms().1),
            ),
            cure,
        });
    }
    Ok(doubts)
}
