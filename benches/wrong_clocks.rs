//! How often wrong clocks are found and how often the suggested remedy is the true one, over nights with injected
//! errors: `cargo bench --bench wrong_clocks [-- NIGHTS]` (200 of each class by default).
//!
//! Each class of error is tried with one body, and with a second one whose clock is right; with runs that begin and end with
//! the Sun at -10°, and with runs that begin late or end early. The nights go through the catalogue and the audit.

// A benchmark prints its figures, and may panic.
#![allow(clippy::print_stdout, clippy::expect_used)]

mod doubtful_nights;

use std::collections::BTreeMap;

use doubtful_nights::Class;
use doubtful_nights::Shot;
use doubtful_nights::Span;
use doubtful_nights::WRONG_CLASSES;
use doubtful_nights::World;
use doubtful_nights::fill::fill;
use doubtful_nights::offset_s;
use doubtful_nights::plan::world;
use doubtful_nights::shown;
use doubtful_nights::sky::Sun;
use doubtful_nights::sky::after;
use framefall::catalogue::audit_row::AuditRow;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::terms::time::Utc;
use framefall::usecase::audit::Judge;
use framefall::usecase::audit::doubtful_clocks;

/// The tolerance of a right answer, in seconds.
const NEAR_S: f64 = 300.0;

/// The Sun's greatest altitude during a run, for counting the possible answers.
const DARK_DEG: f64 = -8.0;

#[derive(Default)]
struct Tally {
    alarms: usize,
    first: usize,
    named: usize,
    single: usize,
    single_first: usize,
    without_command: usize,
    harmful: usize,
    others_blamed: usize,
}

fn main() {
    let nights = std::env::args()
        .skip(1)
        .find_map(|a| a.parse().ok())
        .unwrap_or(200);
    let only = std::env::var("CLASS").ok();
    println!(
        "{:<12} {:>6} {:<7} {:>6} {:>12} {:>12} {:>18} {:>7} {:>5} {:>6}",
        "class",
        "bodies",
        "runs",
        "alarms",
        "right first",
        "right named",
        "first, one fits",
        "no cmd",
        "harm",
        "blamed"
    );
    for class in WRONG_CLASSES {
        if only
            .as_ref()
            .is_some_and(|only| format!("{class:?}") != *only)
        {
            continue;
        }
        for bodies in [1, 2] {
            for span in [Span::Full, Span::Varied] {
                let worlds: Vec<World> = (0..nights)
                    .map(|i| world(*class, bodies, span, i))
                    .collect();
                let tally = tally(*class, &worlds);
                let of = |n: usize, of: usize| format!("{n}/{of}");
                println!(
                    "{:<12} {bodies:>6} {:<7} {:>6} {:>12} {:>12} {:>18} {:>7} {:>5} {:>6}",
                    format!("{class:?}"),
                    format!("{span:?}"),
                    tally.alarms,
                    of(tally.first, tally.alarms),
                    of(tally.named, tally.alarms),
                    of(tally.single_first, tally.single),
                    tally.without_command,
                    tally.harmful,
                    tally.others_blamed,
                );
            }
        }
    }
    for (bodies, span) in [
        (1, Span::Full),
        (1, Span::Varied),
        (2, Span::Full),
        (2, Span::Varied),
    ] {
        let worlds: Vec<World> = (0..nights * 5 / 4)
            .map(|i| world(Class::Right, bodies, span, i))
            .collect();
        let alarms = audited(&worlds);
        println!(
            "right nights, {bodies} bodies, {span:?}: {} worlds, {} alarms",
            worlds.len(),
            alarms.len()
        );
        for row in alarms.values().flatten().take(5) {
            println!("  {} {} {} {}", row.code, row.dump, row.saw, remedy(row));
        }
    }
}

/// The audit's findings about clocks, by body.
fn audited(worlds: &[World]) -> BTreeMap<String, Vec<AuditRow>> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("catalogue.sqlite");
    let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).expect("a catalogue");
    fill(&mut catalogue, worlds);
    let rows = doubtful_clocks(&catalogue, Judge::All).expect("an audit");
    let mut by_body: BTreeMap<String, Vec<AuditRow>> = BTreeMap::new();
    for row in rows {
        if row.code != "clock-default" {
            let body = row.dump.split('-').next().unwrap_or_default().to_owned();
            by_body.entry(body).or_default().push(row);
        }
    }
    by_body
}

fn tally(class: Class, worlds: &[World]) -> Tally {
    let mut rows = audited(worlds);
    let mut tally = Tally::default();
    let shows = std::env::var("SHOW").is_ok();
    for world in worlds {
        for body in &world.bodies[1..] {
            tally.others_blamed += usize::from(rows.contains_key(&body.serial));
        }
        let body = &world.bodies[0];
        let Some(found) = rows.remove(&body.serial) else {
            continue;
        };
        tally.alarms += 1;
        let wrong = body.runs.iter().find(|r| r.wrong).expect("a wrong run");
        let first = &wrong.shots[0];
        let dated = dated(world, &first.reading.to_string());
        let later_s = first.at.seconds_since(dated);
        // Days are calendar days: across a change of summer time they are an hour longer or shorter.
        let by_clock_s = by_clock_s(world, first);
        let is_error = |s: f64| near(s - later_s) || s % 86_400.0 == 0.0 && near(s - by_clock_s);
        let suggested = found.iter().find_map(|row| command(remedy(row)));
        let year = |text: &str| {
            matches!(class, Class::Year)
                && text.contains(if later_s > 0.0 {
                    "1 year slow"
                } else {
                    "1 year fast"
                })
        };
        let right = suggested.as_ref().is_some_and(|(reading, at)| {
            wrong
                .shots
                .iter()
                .any(|shot| shot.reading.to_string() == *reading && near(at.seconds_since(shot.at)))
        });
        // Where no statement can be limited to the frames, the first error that is named is what counts.
        let right = right
            || suggested.is_none()
                && found
                    .iter()
                    .any(|row| named_s(remedy(row)).first().is_some_and(|s| is_error(*s)));
        let named = found
            .iter()
            .any(|row| named_s(remedy(row)).iter().any(|s| is_error(*s)) || year(remedy(row)));
        let only = fitting(world, dated, later_s) == 1;
        tally.first += usize::from(right);
        tally.named += usize::from(named || right);
        tally.single += usize::from(only);
        tally.single_first += usize::from(only && right);
        let without = suggested.is_none();
        tally.without_command += usize::from(without);
        let harmful = suggested.is_some_and(|(reading, _)| {
            !wrong
                .shots
                .iter()
                .any(|shot| shot.reading.to_string() == reading)
        });
        tally.harmful += usize::from(harmful);
        if shows && (!right || without) {
            println!(
                "--- {} {:?} {} later {:.2} h, named {named}, one fits {only}",
                body.serial,
                world.place,
                world.zone,
                later_s / 3600.0
            );
            for run in &body.runs {
                println!(
                    "    run {} .. {} wrong {}",
                    run.shots[0].reading,
                    run.shots[run.shots.len() - 1].reading,
                    run.wrong
                );
            }
            for row in found {
                println!("    {} {} {}", row.code, row.saw, remedy(&row));
            }
        }
    }
    tally
}

/// What a finding suggests.
fn remedy(row: &AuditRow) -> &str {
    row.remedy.as_deref().unwrap_or_default()
}

fn near(seconds: f64) -> bool {
    seconds.abs() <= NEAR_S
}

/// The right reading less the actual one, in seconds.
fn by_clock_s(world: &World, shot: &Shot) -> f64 {
    let right = shown(shot.at, i64::from(offset_s(world.zone, shot.at)));
    shot.reading.duration_until(right).as_secs_f64()
}

/// The instant of a reading in the site's zone.
fn dated(world: &World, reading: &str) -> Utc {
    let reading: jiff::civil::DateTime = reading.parse().expect("a reading");
    let zoned = reading.in_tz(world.zone).expect("a zone");
    Utc::from_unix_ms(zoned.timestamp().as_millisecond()).expect("an instant")
}

/// The reading and the true time of a suggested command.
fn command(text: &str) -> Option<(String, Utc)> {
    let reading = text.split("--read '").nth(1)?.split('\'').next()?;
    let at = text.split("--true ").nth(1)?.split_whitespace().next()?;
    Some((reading.replace(' ', "T"), Utc::parse(at)?))
}

/// The steps that a text names, in seconds; positive: later than dated.
fn named_s(text: &str) -> Vec<f64> {
    let words: Vec<&str> = text
        .split(|c: char| c.is_whitespace() || "(),;:".contains(c))
        .map(|w| w.trim_end_matches('.'))
        .filter(|w| !w.is_empty())
        .collect();
    let mut named = Vec::new();
    // A number is complete with the unit and the direction that follow it.
    let mut waiting: Vec<f64> = Vec::new();
    let mut unit_s = 3600.0;
    for (i, word) in words.iter().enumerate() {
        if let Ok(number) = word.parse::<f64>() {
            if i > 0 && words[i - 1] == "h" && words.get(i + 1) == Some(&"min") {
                if let Some(last) = waiting.last_mut() {
                    *last += number / 60.0;
                }
            } else if i > 1 && words[i - 1] == "to" && !waiting.is_empty() {
                let from = waiting[waiting.len() - 1];
                let mut next = from + 1.0;
                while next <= number {
                    waiting.push(next);
                    next += 1.0;
                }
            } else {
                waiting.push(number);
            }
        }
        match *word {
            "one" => waiting.push(1.0),
            "h" | "hour" | "hours" => unit_s = 3600.0,
            "day" | "days" => unit_s = 86_400.0,
            "slow" | "later" | "fast" | "earlier" => {
                let sign = if ["slow", "later"].contains(word) {
                    1.0
                } else {
                    -1.0
                };
                named.extend(waiting.drain(..).map(|n| sign * n * unit_s));
                unit_s = 3600.0;
            }
            "fits" | "from" | "was" => waiting.clear(),
            _ => {}
        }
    }
    named
}

/// How many shifts, of whole hours up to a day either way and of the error itself, put the wrong run into the night beside
/// the body's other runs.
fn fitting(world: &World, dated: Utc, later_s: f64) -> usize {
    let body = &world.bodies[0];
    let wrong = body.runs.iter().find(|r| r.wrong).expect("a wrong run");
    let length = wrong.shots[wrong.shots.len() - 1]
        .at
        .seconds_since(wrong.shots[0].at);
    let mut sun = Sun::over(world.place.0, world.place.1);
    let mut steps: Vec<f64> = (-24..=24).map(|h| f64::from(h) * 3600.0).collect();
    steps.push(later_s);
    steps.sort_by(f64::total_cmp);
    steps.dedup_by(|a, b| near(*a - *b));
    steps
        .into_iter()
        .filter(|step| {
            let from = after(dated, *step);
            let until = after(from, length);
            let taken =
                body.runs.iter().filter(|r| !r.wrong).any(|run| {
                    from <= run.shots[run.shots.len() - 1].at && run.shots[0].at <= until
                });
            near(*step - later_s)
                || (!near(*step) && !taken && sun.highest_deg(from, until) <= DARK_DEG)
        })
        .count()
}
