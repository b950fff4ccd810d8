//! Laws about what the audit suggests for wrong clocks, over nights with injected errors: the first suggestion moves
//! the frames in doubt alone, by the true error where one error fits, and no other night is in doubt after it.

#![allow(clippy::unwrap_used)] // Tests may panic.

use crate::world;
use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::path::Path;

use crate::doubtful_nights::Class;
use crate::doubtful_nights::Span;
use crate::doubtful_nights::WRONG_CLASSES;
use crate::doubtful_nights::World as Nights;
use crate::doubtful_nights::fill::fill;
use crate::doubtful_nights::plan::world as nights;
use framefall::catalogue::audit_row::AuditRow;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::terms::clock::Before;
use framefall::terms::time::Utc;
use framefall::usecase::audit::Judge;
use framefall::usecase::audit::doubtful_clocks;
use framefall::usecase::clocks::limits::Limits;
use framefall::usecase::clocks::shown::FixOrder;
use framefall::usecase::clocks::shown::Showed;
use framefall::usecase::clocks::state::state_fix;
use framefall::usecase::derive::rederive::Mode;

/// The worlds of a class that the laws are tried on.
fn worlds(class: Class) -> Vec<Nights> {
    let mut all = Vec::new();
    for bodies in [1, 2] {
        for span in [Span::Full, Span::Varied] {
            all.extend((1000..1002).map(|number| nights(class, bodies, span, number)));
        }
    }
    all
}

/// When each body's frames were taken, by body and reading: a body can show a reading twice.
fn starts(path: &Path) -> BTreeMap<(String, i64, i64), i64> {
    let db = rusqlite::Connection::open(path).unwrap();
    let mut statement = db
        .prepare(
            "SELECT camera.serial, frame.clock_s, frame.frame_id, time.start_ms FROM written_frame AS frame
             JOIN written_camera AS camera USING (camera_id) JOIN derived_time AS time USING (frame_id)
             WHERE time.start_ms IS NOT NULL",
        )
        .unwrap();
    let rows = statement.query_map([], |row| {
        Ok(((row.get(0)?, row.get(1)?, row.get(2)?), row.get(3)?))
    });
    rows.unwrap().collect::<rusqlite::Result<_>>().unwrap()
}

/// The frames of right runs: each body's instants that must stay, as many as there are.
fn right_frames(worlds: &[Nights]) -> BTreeSet<(String, i64)> {
    let runs = worlds
        .iter()
        .flat_map(|world| &world.bodies)
        .flat_map(|body| body.runs.iter().map(move |run| (body, run)));
    runs.filter(|(_, run)| !run.wrong)
        .flat_map(|(body, run)| {
            let shots = run.shots.iter();
            shots.map(|shot| (body.serial.clone(), shot.at.unix_ms()))
        })
        .collect()
}

/// The words of the suggested command.
fn command(row: &AuditRow) -> Option<Vec<String>> {
    let line = row.remedy.as_deref()?.split("framefall ").nth(1)?;
    let words = line.split('\'').enumerate().flat_map(|(i, part)| {
        if i % 2 == 1 {
            vec![part.to_owned()]
        } else {
            part.split_whitespace().map(str::to_owned).collect()
        }
    });
    Some(words.collect()).filter(|words: &Vec<String>| words.iter().any(|w| w == "--true"))
}

/// The bodies that findings about clocks name.
fn in_doubt(rows: &[AuditRow]) -> BTreeSet<String> {
    let body = |row: &AuditRow| row.dump.split('-').next().unwrap_or_default().to_owned();
    rows.iter().map(body).collect()
}

/// The first suggestion for each body.
fn suggestions(rows: &[AuditRow]) -> BTreeMap<String, Vec<String>> {
    let mut first = BTreeMap::new();
    for row in rows {
        if let Some(words) = command(row) {
            first.entry(words[2].clone()).or_insert(words);
        }
    }
    first
}

fn apply(catalogue: &mut Catalogue, words: &[String]) {
    let value = |name: &str| {
        let at = words.iter().position(|word| word == name)?;
        words.get(at + 1).map(String::as_str)
    };
    let options = words.windows(2).filter(|two| two[0] == "--session");
    let sessions: Vec<i64> = options.map(|two| two[1].parse().unwrap()).collect();
    let order = FixOrder {
        camera: Some(&words[2]),
        showed: Showed::Reading(value("--read").unwrap()),
        true_utc: value("--true").unwrap(),
        before: Before::RanOn,
        limits: Limits {
            from: value("--from"),
            until: value("--until"),
            sessions: &sessions,
            dump: value("--dump"),
            files: value("--files"),
        },
        now: Utc::parse("2030-01-01T00:00:00Z").unwrap(),
    };
    assert!(
        !sessions.is_empty() || (order.limits.from.is_some() && order.limits.until.is_some()),
        "not limited: {words:?}"
    );
    state_fix(catalogue, &order, Mode::Lasting, &mut |_, _| {}).unwrap();
}

#[test]
fn the_first_suggestion_leaves_right_nights_to_the_bit_and_makes_no_new_doubt() {
    let folder = tempfile::tempdir().unwrap();
    for class in WRONG_CLASSES {
        let worlds = worlds(*class);
        let path = folder.path().join(format!("{class:?}.sqlite"));
        let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
        fill(&mut catalogue, &worlds);
        let right = right_frames(&worlds);
        let before = starts(&path);
        let rows = doubtful_clocks(&catalogue, Judge::All).unwrap();
        let suggested = suggestions(&rows);
        for words in suggested.values() {
            apply(&mut catalogue, words);
        }
        let after = starts(&path);
        assert_eq!(before.len(), after.len());
        for (frame, was) in &before {
            let is = after[frame];
            if is != *was {
                assert!(
                    !right.contains(&(frame.0.clone(), *was)),
                    "{class:?}: a right frame of {} moved",
                    frame.0
                );
            }
        }
        let again = doubtful_clocks(&catalogue, Judge::All).unwrap();
        let (was, is) = (in_doubt(&rows), in_doubt(&again));
        assert!(
            is.is_subset(&was),
            "{class:?}: new doubts about {:?}",
            is.difference(&was)
        );
        let cured = suggested.keys().filter(|body| !is.contains(*body)).count();
        assert!(
            cured * 10 >= suggested.len() * 9,
            "{class:?}: still in doubt: {is:?}"
        );
    }
}

/// Such a night coincides with a right one of the same body, often in one session.
#[test]
fn a_night_that_is_a_day_off_is_moved_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("days.sqlite");
    let worlds: Vec<Nights> = [1, 2]
        .into_iter()
        .flat_map(|bodies| (5000..5006).map(move |n| nights(Class::Day, bodies, Span::Full, n)))
        .collect();
    let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
    fill(&mut catalogue, &worlds);
    let suggested = suggestions(&doubtful_clocks(&catalogue, Judge::All).unwrap());
    let by_frames = |words: &&Vec<String>| words.iter().any(|w| w == "--dump" || w == "--files");
    assert!(
        suggested.values().filter(by_frames).count() >= 3,
        "{suggested:?}"
    );
    for words in suggested.values() {
        apply(&mut catalogue, words);
    }
    let after = starts(&path);
    let mut right = 0;
    for body in worlds.iter().map(|world| &world.bodies[0]) {
        let of_body = after.iter().filter(|(frame, _)| frame.0 == body.serial);
        let is: BTreeSet<i64> = of_body.map(|(_, at)| *at).collect();
        let truth = body.runs.iter().flat_map(|run| &run.shots);
        let truth: BTreeSet<i64> = truth.map(|shot| shot.at.unix_ms()).collect();
        right += usize::from(suggested.contains_key(&body.serial) && is == truth);
    }
    assert!(
        right * 10 >= suggested.len() * 9,
        "{right} of {}",
        suggested.len()
    );
}

#[test]
fn the_suggestion_is_right_where_one_error_fits_and_among_those_named_elsewhere() {
    let folder = tempfile::tempdir().unwrap();
    // From and to the Sun at -10°, an hour either way: nothing else fits.
    for class in [Class::Hours(1), Class::Hours(-1)] {
        let worlds: Vec<Nights> = (2000..2010)
            .map(|number| nights(class, 1, Span::Full, number))
            .collect();
        let path = folder.path().join(format!("{class:?}.sqlite"));
        let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
        fill(&mut catalogue, &worlds);
        let rows = doubtful_clocks(&catalogue, Judge::All).unwrap();
        let suggested = suggestions(&rows);
        assert!(suggested.len() >= 5, "{} of 10 are found", suggested.len());
        for words in suggested.values() {
            apply(&mut catalogue, words);
        }
        let after = starts(&path);
        for world in worlds
            .iter()
            .filter(|w| suggested.contains_key(&w.bodies[0].serial))
        {
            let body = &world.bodies[0];
            let is: BTreeSet<i64> = after
                .iter()
                .filter(|(frame, _)| frame.0 == body.serial)
                .map(|(_, at)| *at)
                .collect();
            let truth = body.runs.iter().flat_map(|run| &run.shots);
            let truth: BTreeSet<i64> = truth.map(|shot| shot.at.unix_ms()).collect();
            assert_eq!(is, truth, "{}", body.serial);
        }
    }
}

#[test]
fn right_nights_are_left_in_peace() {
    let folder = tempfile::tempdir().unwrap();
    let mut worlds = worlds(Class::Right);
    worlds.extend((0..20).map(|number| nights(Class::Right, 2, Span::Full, 3000 + number)));
    let path = folder.path().join("right.sqlite");
    let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
    fill(&mut catalogue, &worlds);
    let rows = doubtful_clocks(&catalogue, Judge::All).unwrap();
    assert!(rows.is_empty(), "{rows:?}");
}

/// The same through the program, as a person pastes it.
#[test]
fn the_suggested_commands_can_be_pasted() {
    for class in [Class::Hours(-8), Class::Hours(12), Class::Year] {
        let home = world::World::new();
        let path = home.path("catalogue.sqlite");
        let worlds: Vec<Nights> = (4000..4002)
            .map(|number| nights(class, 2, Span::Full, number))
            .collect();
        {
            let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
            fill(&mut catalogue, &worlds);
        }
        let right = right_frames(&worlds);
        let before = starts(&path);
        let catalogue = Catalogue::open(&path, Purpose::Read).unwrap();
        let suggested = suggestions(&doubtful_clocks(&catalogue, Judge::All).unwrap());
        drop(catalogue);
        assert!(!suggested.is_empty(), "{class:?}: nothing is suggested");
        for command in suggested.values() {
            let command: Vec<&str> = command.iter().map(String::as_str).collect();
            home.run(&command).ended(0);
        }
        let after = starts(&path);
        assert_ne!(before, after);
        for (frame, was) in &before {
            if right.contains(&(frame.0.clone(), *was)) {
                assert_eq!(
                    after[frame], *was,
                    "{class:?}: a right frame of {} moved",
                    frame.0
                );
            }
        }
    }
}
