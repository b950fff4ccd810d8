#![allow(clippy::unwrap_used)] // A test that cannot go on may stop.

use std::collections::BTreeMap;

use proptest::prelude::*;

use super::*;
use crate::catalogue::make::WHOLE;

#[derive(Clone, Copy, Debug)]
enum Step {
    Say(usize, i64),
    Unsay(usize),
    Drop(usize),
    /// A frame is added, this many numbers after the last one.
    Come(i64),
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let step = prop_oneof![
        4 => (0..40_usize, 1..=3_i64).prop_map(|(at, site)| Step::Say(at, site)),
        1 => (0..40_usize).prop_map(Step::Unsay),
        1 => (0..40_usize).prop_map(Step::Drop),
        2 => (1..=2_i64).prop_map(Step::Come),
    ];
    prop::collection::vec(step, 1..120)
}

fn tables() -> Connection {
    let db = Connection::open_in_memory().unwrap();
    db.execute_batch(WHOLE).unwrap();
    for site in 1..=3 {
        db.execute(
            "INSERT INTO stated_site (site_id, name, lat_deg, lon_deg, elev_m, origin) VALUES (?1, ?1, 0, 0, 0, 'stated')",
            [site],
        )
        .unwrap();
    }
    db.pragma_update(None, "foreign_keys", true).unwrap();
    db
}

fn come(db: &Connection, frame_id: i64) {
    db.execute(
        "INSERT INTO written_frame (frame_id, first_file_id) VALUES (?1, ?1)",
        [frame_id],
    )
    .unwrap();
}

/// The stated site of every frame by the tables.
fn said(db: &Connection) -> BTreeMap<i64, Option<i64>> {
    db.prepare(&format!(
        "SELECT frame_id, {SITE_OF_FRAME} FROM written_frame AS frame"
    ))
    .unwrap()
    .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
    .unwrap()
    .collect::<Result<_, _>>()
    .unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Runs give the latest statement for each frame, and nothing for a frame that reuses a deleted one's number.
    #[test]
    fn runs_say_what_was_said_of_each_frame(steps in steps()) {
        let db = tables();
        let mut plain: BTreeMap<i64, Option<i64>> = BTreeMap::new();
        for frame_id in [1, 2, 4, 5, 7] {
            come(&db, frame_id);
            plain.insert(frame_id, None);
        }
        for step in steps {
            let nth = |at: usize| plain.keys().copied().nth(at % plain.len().max(1));
            match step {
                Step::Say(at, site) => if let Some(frame_id) = nth(at) {
                    state_place(&db, frame_id, site).unwrap();
                    plain.insert(frame_id, Some(site));
                },
                Step::Unsay(at) => if let Some(frame_id) = nth(at) {
                    remove_place(&db, frame_id).unwrap();
                    plain.insert(frame_id, None);
                },
                Step::Drop(at) => if let Some(frame_id) = nth(at) {
                    remove_place(&db, frame_id).unwrap();
                    db.execute("DELETE FROM written_frame WHERE frame_id = ?", [frame_id]).unwrap();
                    plain.remove(&frame_id);
                },
                Step::Come(further) => {
                    let frame_id = plain.keys().next_back().copied().unwrap_or(0) + further;
                    come(&db, frame_id);
                    plain.insert(frame_id, None);
                }
            }
            prop_assert_eq!(&said(&db), &plain);
            for (frame_id, site) in &plain {
                prop_assert_eq!(site_of(&db, *frame_id).unwrap(), *site);
            }
        }
    }
}

#[test]
fn a_card_stated_frame_by_frame_is_one_run_and_stated_again_elsewhere_one_run_there() {
    let db = tables();
    let frames = [1, 3, 4, 8];
    for frame_id in frames {
        come(&db, frame_id);
    }
    let runs = |db: &Connection| -> Vec<(i64, i64, i64)> {
        db.prepare("SELECT first_frame, last_frame, site_id FROM stated_place ORDER BY 1")
            .unwrap()
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap()
    };
    for frame_id in frames {
        state_place(&db, frame_id, 1).unwrap();
    }
    assert_eq!(runs(&db), [(1, 8, 1)]);
    state_place(&db, 3, 2).unwrap();
    assert_eq!(runs(&db), [(1, 1, 1), (3, 3, 2), (4, 8, 1)]);
    for frame_id in frames {
        state_place(&db, frame_id, 2).unwrap();
    }
    assert_eq!(
        runs(&db).len(),
        2,
        "the run that was there stays, the others join it"
    );
}
