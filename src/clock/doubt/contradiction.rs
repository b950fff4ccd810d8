//! Runs of one body that contradict each other: which of them is dated wrongly, and by how much, on all the evidence.

use std::cmp::Ordering;

use crate::clock::doubt::asked::Ask;
use crate::clock::doubt::asked::Body;
use crate::clock::doubt::asked::Piece;
use crate::clock::doubt::asked::facts_of;
use crate::clock::doubt::asked::instant;
use crate::clock::doubt::asked::others;
use crate::clock::doubt::found::Doubt;
use crate::clock::doubt::order;
use crate::clock::doubt::order::Side;
use crate::clock::doubt::rank::Candidate;
use crate::clock::doubt::rank::evidence;
use crate::clock::doubt::rank::rank;
use crate::clock::doubt::remedy;
use crate::clock::doubt::run::COLLISIONS;
use crate::clock::doubt::run::Run;
use crate::clock::doubt::run::Runs;
use crate::clock::doubt::run::collisions;
use crate::clock::doubt::shift;
use crate::clock::doubt::shift::Prior;
use crate::clock::doubt::shift::Shift;
use crate::clock::doubt::sun::SunCurve;
use crate::terms::clock::RunFrame;
use crate::terms::command_line::CommandLine;
use crate::terms::failure::Failure;
use crate::terms::plural::counted;
use crate::terms::plural::either;
use crate::terms::time::Utc;

/// How many steps of one body's clock are listed one by one.
const MOST_STEPS: usize = 20;

/// At most this many runs on one side of a step are tried as wrong together.
const MOST_RUNS: usize = 5;

/// How much more likely one side must be wrong than the other to suggest a command, as a logarithm: twenty times.
///
/// Source: our choice. A command that moves a correct night does more harm than none.
const TELLS: f64 = 3.0;

/// Which errors of the date may explain a contradiction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Dates {
    /// Days: two runs coincide, which an error of a year rarely causes.
    Days,
    /// Months and years too.
    Years,
}

/// The doubts about runs that contradict each other and are not in daylight.
pub(super) fn contradictions(
    body: &Body<'_>,
    pieces: &[Piece<'_>],
    asks: &dyn Fn(&Run) -> bool,
    all: &[RunFrame],
    ask: &mut Ask<'_>,
) -> Result<Vec<Doubt>, Failure> {
    let runs = body.runs;
    let bright = |r: usize| pieces.iter().any(|p| p.of == r && p.bright.is_some());
    let asked = |a: usize, b: usize| {
        (asks(&runs.runs[a]) || asks(&runs.runs[b])) && !bright(a) && !bright(b)
    };
    let mut doubts = Vec::new();
    let mut blamed: Vec<(usize, i64)> = Vec::new();
    for (a, b, step) in runs.steps.iter().filter(|(a, b, _)| asked(*a, *b)) {
        if doubts.len() == MOST_STEPS {
            break;
        }
        let sides = [
            order::block(runs, *a, Side::Before),
            order::block(runs, *b, Side::After),
        ];
        let (cure, who) = cure_of(body, pieces, &sides, Dates::Years, all, ask)?;
        // Both ends of a wrong stretch show the same error.
        if who.is_some_and(|who| blamed.contains(&who)) {
            continue;
        }
        blamed.extend(who);
        doubts.push(Doubt {
            code: "clock-steps",
            frame_id: step.frame_id,
            saw: format!("the clock of {} {}", body.camera, step.words),
            cure,
        });
    }
    if !body.is_one {
        return Ok(doubts);
    }
    for (a, b) in overlapping(runs) {
        if !asked(a, b)
            || runs
                .steps
                .iter()
                .any(|s| (s.0, s.1) == (a, b) || (s.0, s.1) == (b, a))
        {
            continue;
        }
        let (cure, who) = cure_of(body, pieces, &[vec![a], vec![b]], Dates::Days, all, ask)?;
        if who.is_some_and(|who| blamed.contains(&who)) {
            continue;
        }
        blamed.extend(who);
        let (one, other) = (&runs.runs[a], &runs.runs[b]);
        let both = collisions(&one.frames, &other.frames) as u64;
        doubts.push(Doubt {
            code: "clock-overlap",
            frame_id: other.frames.first().map_or(0, |f| f.frame_id),
            saw: format!(
                "{} of {} {} while another goes on: {} from {} and {} from {}",
                counted(both, "exposure"),
                body.camera,
                either(both, "begins", "begin"),
                counted(one.frames.len() as u64, "frame"),
                instant(one.span_ms().0),
                counted(other.frames.len() as u64, "frame"),
                instant(other.span_ms().0)
            ),
            cure,
        });
    }
    Ok(doubts)
}

/// Pairs of dated runs whose exposures overlap.
fn overlapping(runs: &Runs) -> Vec<(usize, usize)> {
    let mut pairs = Vec::new();
    let mut open: Vec<usize> = Vec::new();
    for (i, run) in runs
        .runs
        .iter()
        .enumerate()
        .filter(|(_, run)| run.is_dated())
    {
        let from = run.span_ms().0;
        open.retain(|o| runs.runs[*o].span_ms().1 > from);
        for o in &open {
            if collisions(&runs.runs[*o].frames, &run.frames) >= COLLISIONS {
                pairs.push((*o, i));
            }
        }
        open.push(i);
    }
    pairs
}

/// An explanation of a contradiction: these runs of one side are wrong, by the most likely of these errors.
struct Blame {
    side: usize,
    runs: Vec<usize>,
    candidates: Vec<Candidate>,
}

/// The remedy for two stretches that contradict each other, and the run and error that it blames.
fn cure_of(
    body: &Body<'_>,
    pieces: &[Piece<'_>],
    sides: &[Vec<usize>; 2],
    dates: Dates,
    all: &[RunFrame],
    ask: &mut Ask<'_>,
) -> Result<(String, Option<(usize, i64)>), Failure> {
    let mut blames = Vec::new();
    for (at, side) in sides.iter().enumerate() {
        let mut of_side: Vec<Blame> = Vec::new();
        // The run next to the contradiction alone, or with more of those beyond it.
        for many in (1..=side.len()).filter(|n| *n <= MOST_RUNS || *n == side.len()) {
            let runs = side[..many].to_vec();
            let mut candidates = side_candidates(body, pieces, &runs, dates, ask)?;
            for candidate in &mut candidates {
                candidate.weight -= (many - 1) as f64;
            }
            if !candidates.is_empty() {
                of_side.push(Blame {
                    side: at,
                    runs,
                    candidates,
                });
            }
        }
        blames.extend(of_side.into_iter().max_by(by_weight));
    }
    blames.sort_by(|a, b| by_weight(b, a));
    let Some(best) = blames.first() else {
        let cure = format!(
            "if the clock was reset there, state a fix on either side, the later one with --reset-before: {}",
            CommandLine::new("clock fix").flag("--help")
        );
        return Ok((cure, None));
    };
    let frames = |blame: &Blame| -> Vec<RunFrame> {
        let runs = blame.runs.iter().map(|r| &body.runs.runs[*r]);
        let mut frames: Vec<RunFrame> = runs.flat_map(|r| r.frames.iter().copied()).collect();
        frames.sort_by_key(|f| (f.reading.reading_ms(), f.frame_id));
        frames
    };
    let told = tells(body.runs, sides, &blames);
    let of_other_side = || {
        let other = body.runs.runs[sides[1 - best.side][0]].frames.as_slice();
        let words = frames_in_words(other);
        format!("; or the {words} have wrong dates for another reason")
    };
    let or_else = blames.get(1).map(|other| {
        let words: Vec<String> = other.candidates.iter().map(|c| c.shift.words()).collect();
        format!(
            "; or, for the {}, {}",
            frames_in_words(&frames(other)),
            words.join(", ")
        )
    });
    let or_else = match or_else {
        Some(words) => words,
        None if told => String::new(),
        None => of_other_side(),
    };
    let these = frames(best);
    let limit = match remedy::limit(&these, all, ask)? {
        Ok(_) if !told => Err(remedy::EITHER),
        limit => limit,
    };
    let cure = remedy::words(
        &format!("the {} fit the order of the files", frames_in_words(&these)),
        &best.candidates,
        &or_else,
        body.camera,
        &these,
        limit,
        body.stated,
    );
    let who = best
        .runs
        .iter()
        .min()
        .map(|first| (*first, best.candidates[0].later_ms));
    Ok((cure, who))
}

/// Whether the evidence shows that the first of these explanations is right, and that the runs of the other side are
/// too.
fn tells(runs: &Runs, sides: &[Vec<usize>; 2], blames: &[Blame]) -> bool {
    let steps_of = |side: &[usize]| {
        let next_to_it = side.first();
        let ends = |(a, b, _): &&(usize, usize, _)| Some(a) == next_to_it || Some(b) == next_to_it;
        runs.steps.iter().filter(ends).count()
    };
    let [best, others @ ..] = blames else {
        return false;
    };
    let weight = |blame: &Blame| blame.candidates[0].weight;
    // A run that contradicts both its neighbours is wrong rather than they, even if no known error explains it.
    steps_of(&sides[best.side]) >= steps_of(&sides[1 - best.side])
        && others
            .first()
            .is_none_or(|other| weight(best) - weight(other) >= TELLS)
}

fn by_weight(a: &Blame, b: &Blame) -> Ordering {
    a.candidates[0].weight.total_cmp(&b.candidates[0].weight)
}

fn frames_in_words(frames: &[RunFrame]) -> String {
    let first = frames
        .first()
        .map_or_else(String::new, |f| f.reading.to_string().replace('T', " "));
    match frames.len() {
        1 => format!("frame of {first}"),
        many => format!("{many} frames from {first}"),
    }
}

/// The errors that resolve a contradiction by moving one side.
fn side_candidates(
    body: &Body<'_>,
    pieces: &[Piece<'_>],
    side: &[usize],
    dates: Dates,
    ask: &mut Ask<'_>,
) -> Result<Vec<Candidate>, Failure> {
    let runs: Vec<&Run> = side.iter().map(|r| &body.runs.runs[*r]).collect();
    let first_run = runs.iter().min_by_key(|run| run.span_ms().0);
    let Some((first_run, first)) = first_run.and_then(|run| Some((run, run.frames.first()?)))
    else {
        return Ok(Vec::new());
    };
    let others = others(first_run, ask)?;
    let mut facts = facts_of(pieces, &runs, &others);
    facts.zone = ask.site(first_run).and_then(|site| site.zone.clone());
    for run in &runs {
        facts.sky.extend((ask.sky)(run)?);
    }
    (facts.before, facts.after) = order::neighbours(body.runs, side);
    // An error of the date shows as a contradiction; one of hours rarely does.
    let mut priors = shift::of_days();
    if dates == Dates::Years {
        priors.extend(shift::of_years(first));
    }
    let hours = shift::of_hours(first, ask.sites).into_iter();
    priors.extend(
        hours
            .filter(|hour| matches!(hour.shift, Shift::Minutes(_)))
            .map(|hour| Prior {
                weight: hour.weight - 2.0,
                ..hour
            }),
    );
    // Both sides are compared, so what counts is how much better the frames fit than with their present dates.
    let (mut candidates, as_dated) = match first_run.place {
        Some(place) if runs.iter().all(|run| run.is_dated()) => {
            let mut at_place = |at: Utc| (ask.sun_alt_deg)(at, place);
            let mut sun = SunCurve::new(&mut at_place);
            let candidates = rank(&facts, first, &priors, Some(&mut sun));
            (candidates, evidence(&facts, 0, Some(&mut sun)))
        }
        _ => (
            rank(&facts, first, &priors, None),
            evidence(&facts, 0, None),
        ),
    };
    for candidate in &mut candidates {
        candidate.weight -= as_dated;
    }
    Ok(order::resolving(candidates, &facts))
}
