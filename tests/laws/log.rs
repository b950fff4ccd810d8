//! What must hold of any history of statements: replayed into a catalogue made anew of the same cards, in whatever order they come,
//! it gives the same answers; and what is in force follows from the log alone.

use std::path::Path;
use std::sync::atomic::AtomicBool;

use crate::rebuild::archive::Card;
use crate::rebuild::archive::Statement;
use crate::rebuild::archive::cards;
use crate::rebuild::archive::ingest;
use crate::rebuild::archive::state;
use crate::rebuild::archive::statements;
use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::framelist::read_statement;
use framefall::terms::statement::Statement as Logged;
use framefall::usecase::derive::rebuild::rebuild_missing;
use framefall::usecase::derive::rederive::Mode;
use framefall::usecase::looking::mark::LookSaid;
use framefall::usecase::statements::arrive::state_arrived;
use framefall::usecase::statements::list::statement_lines;
use framefall::usecase::statements::replay::differences;
use framefall::usecase::statements::replay::replay;
use framefall::usecase::statements::take::read_statements;
use framefall::usecase::statements::take::take_statements;
use proptest::prelude::*;

/// Frames by the names of their files, with all their values but the numbers of sessions.
const ANSWERS: &[&str] = &[
    "SELECT file, camera, clock_local, start_utc, mid_utc, end_utc, time_basis, time_error_s, night, site, round(lat_deg, 6),
       round(lon_deg, 6), place_basis, seq, kind FROM frame ORDER BY 1",
    "SELECT file, shower, sun_alt_deg, moon_alt_deg, alt_deg, az_deg, rate, seen_rate FROM frame_sky ORDER BY 1, 2",
    "SELECT name, focal_mm FROM stated_focal JOIN written_file USING (frame_id) ORDER BY 1",
    "SELECT name, kind FROM stated_kind JOIN written_file USING (frame_id) ORDER BY 1",
    "SELECT name, looked, chosen, note FROM stated_look JOIN written_file USING (frame_id) ORDER BY 1",
    "SELECT name, from_x, from_y, to_x, to_y, judged, shower FROM stated_trail JOIN written_file USING (frame_id) ORDER BY 1, 2",
    "SELECT name, mount, law, f_px, right_x, forward_z FROM stated_pointing JOIN stated_pointing_frame USING (pointing_id)
       JOIN written_file USING (frame_id) ORDER BY 1",
    "SELECT file.name, site.name FROM stated_place AS place JOIN written_frame AS frame ON frame_id BETWEEN first_frame AND last_frame
       JOIN written_file AS file USING (frame_id) JOIN stated_site AS site USING (site_id) ORDER BY 1",
    "SELECT name, reading, true_ms, reset_before, from_local, until_local, hex(frames) FROM stated_clock_fix
       JOIN written_camera USING (camera_id) ORDER BY 1, 2, 5, 6, 7",
    "SELECT file.name, fix.reading FROM stated_fix_frame JOIN stated_clock_fix AS fix USING (fix_id)
       JOIN written_file AS file USING (frame_id) ORDER BY 1, 2",
    "SELECT name, zone, from_local FROM stated_clock_zone JOIN written_camera USING (camera_id) ORDER BY 1, 2, 3",
    "SELECT name, first_ms, points FROM stated_track ORDER BY 1",
    "SELECT name, code, saw FROM derived_finding JOIN written_file USING (frame_id) ORDER BY 1, 2, 3",
    "SELECT what, stated_utc, content, frames, identity FROM statement ORDER BY number",
];

fn answers(path: &Path) -> Vec<Vec<String>> {
    ANSWERS
        .iter()
        .map(|sql| crate::clock_archive::rows(path, sql))
        .collect()
}

fn log_of(catalogue: &Catalogue) -> Vec<Logged> {
    let mut text = String::new();
    statement_lines(catalogue, &mut |line| {
        text.push_str(line);
        text.push('\n');
        Ok(())
    })
    .unwrap();
    if text.is_empty() {
        return Vec::new();
    }
    read_statements(&text).unwrap()
}

fn take(catalogue: &mut Catalogue, log: &[Logged]) -> framefall::usecase::statements::take::Taken {
    take_statements(catalogue, log, Mode::Lasting, &mut |_, _| {}).unwrap()
}

/// Cards whose receivers were at one of two places: sites that are made from positions are then the same in any order.
fn settled(cards: Vec<Card>) -> Vec<Card> {
    cards
        .into_iter()
        .map(|card| Card {
            north_deg: card.north_deg.map(|deg| if deg > 0.03 { 1.0 } else { 0.0 }),
            ..card
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn replayed_into_a_new_catalogue_of_the_same_cards_it_gives_the_same_answers(
        cards in cards().prop_map(settled),
        statements in prop::collection::vec(statements(), 1..3),
        turn in 0_usize..4,
        late in 0_usize..3,
    ) {
        let folder = tempfile::tempdir().unwrap();
        let (one, other) = (folder.path().join("1.sqlite"), folder.path().join("2.sqlite"));
        let mut first = Catalogue::open(&one, Purpose::ChangeOrMake).unwrap();
        let mut names = Vec::new();
        for (number, card) in cards.iter().enumerate() {
            ingest(&mut first, number, card);
        }
        for statement in statements.iter().flatten() {
            state(&mut first, folder.path(), &mut names, statement);
        }
        let log = log_of(&first);
        drop(first);

        // The same cards in another order, some of them after the statements.
        let mut second = Catalogue::open(&other, Purpose::ChangeOrMake).unwrap();
        let mut order: Vec<usize> = (0..cards.len()).collect();
        order.rotate_left(turn % cards.len());
        let before = cards.len() - late.min(cards.len() - 1);
        for number in &order[..before] {
            ingest(&mut second, *number, &cards[*number]);
        }
        let taken = take(&mut second, &log);
        prop_assert_eq!(taken.new, log.len() as u64);
        for number in &order[before..] {
            ingest(&mut second, *number, &cards[*number]);
            state_arrived(&mut second).unwrap();
            rebuild_missing(&mut second, &AtomicBool::new(false), &mut |_, _| {}).unwrap();
        }
        let again = take(&mut second, &log);
        prop_assert_eq!((again.new, again.known), (0, log.len() as u64));
        drop(second);
        let (had, has) = (answers(&one), answers(&other));
        for ((had, has), sql) in had.iter().zip(&has).zip(ANSWERS) {
            prop_assert_eq!(had, has, "{}", sql);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, failure_persistence: None, ..ProptestConfig::default() })]

    /// What is in force follows from the log: rows that are gone come back, and nothing else changes.
    #[test]
    fn what_is_in_force_comes_back_from_the_log(
        cards in cards().prop_map(settled),
        statements in prop::collection::vec(statements(), 1..3),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("1.sqlite");
        let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
        let mut names = Vec::new();
        for (number, card) in cards.iter().enumerate() {
            ingest(&mut catalogue, number, card);
        }
        for statement in statements.iter().flatten() {
            state(&mut catalogue, folder.path(), &mut names, statement);
        }
        let before = answers(&path);
        prop_assert_eq!(differences(&catalogue).unwrap().count(), 0, "{:?}", differences(&catalogue));
        drop(catalogue);
        let db = rusqlite::Connection::open(&path).unwrap();
        for table in [
            "stated_kind", "stated_focal", "stated_look", "stated_trail", "stated_pointing_frame", "stated_pointing",
            "stated_place", "stated_fix_frame", "stated_clock_fix", "stated_clock_zone", "stated_track", "stated_query",
        ] {
            db.execute(&format!("DELETE FROM {table}"), []).unwrap();
        }
        drop(db);
        let mut catalogue = Catalogue::open(&path, Purpose::Change).unwrap();
        replay(&mut catalogue, Mode::Lasting, &mut |_, _| {}).unwrap();
        prop_assert_eq!(differences(&catalogue).unwrap().count(), 0);
        drop(catalogue);
        for ((had, has), sql) in before.iter().zip(&answers(&path)).zip(ANSWERS) {
            prop_assert_eq!(had, has, "{}", sql);
        }
    }
}

#[test]
fn a_history_of_everything_is_about_frames_and_comes_back_line_by_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("c.sqlite");
    let mut catalogue = Catalogue::open(&path, Purpose::ChangeOrMake).unwrap();
    for number in 0..2 {
        let card = Card {
            body: ["A", "B"][number],
            minute: 600,
            north_deg: None,
            step: 7,
            writes_offset: false,
        };
        ingest(&mut catalogue, number, &card);
    }
    let mut names = Vec::new();
    for statement in [
        Statement::Site(0.01),
        Statement::Zone("Europe/Rome", None),
        Statement::Fix(620, 90, true),
        Statement::Assign(1),
        Statement::Kind(1, framefall::terms::basis::Kind::Dark),
        Statement::Focal(1, 14.0),
        Statement::Look(
            1,
            LookSaid {
                looked: Some(true),
                chosen: Some(Some(false)),
                note: Some(Some("dew".into())),
            },
        ),
        Statement::Track(0.0),
        Statement::Unsaid(0),
    ] {
        state(&mut catalogue, folder.path(), &mut names, &statement);
    }
    let log = log_of(&catalogue);
    let words: Vec<&str> = log.iter().map(|s| s.act.word()).collect();
    assert_eq!(
        words,
        [
            "site",
            "zone",
            "fix",
            "place",
            "kind",
            "focal",
            "looked",
            "chosen",
            "note",
            "track",
            "zone-removal"
        ]
    );
    assert_eq!(log[10].takes_back, Some(log[1].id));
    assert!(log[..10].iter().all(|s| s.takes_back.is_none()));
    assert!(log.iter().all(|s| s.stated.is_some()));
    let frames = |at: usize| log[at].frames.iter().map(|part| part.frames).sum::<u64>();
    assert!(frames(3) >= 2 && frames(4) == 2 && frames(5) == 2 && frames(9) == 0);
    assert!((6..9).all(|at| frames(at) == 3));
    for statement in &log {
        let line = framefall::framelist::statement_line(statement);
        assert_eq!(read_statement(&line).as_ref(), Ok(statement));
    }
}
