//! Plans as data: no connection, no SQL.

use std::collections::BTreeSet;

use super::*;
use crate::catalogue::plan::Stretch;
use crate::catalogue::plan_sql::select;
use crate::catalogue::select::Detail;
use crate::catalogue::select::Order;
use crate::catalogue::select::Way;
use crate::query::compile;
use crate::terms::field::field_named;
use crate::terms::field_kind::Shared;

fn shower(code: &str) -> ShowerCode {
    ShowerCode::parse(code).unwrap()
}

fn parsed(query: &str) -> Checked {
    let showers = ["GEM", "PER", "QUA"].map(shower);
    compile(query, &showers).unwrap().tree
}

/// The columns of a list of file names and starts.
fn shown() -> Needs {
    Needs::of(&[Table::File, Table::Time, Table::Frame])
}

fn planned(query: &str) -> Plan {
    plan(&parsed(query), shown(), Walk::Free)
}

fn ask<'a>(query: &'a Checked, order: &'a [Order], limit: Option<u64>) -> Ask<'a> {
    Ask {
        query,
        columns: &[],
        detail: Detail::Columns,
        order,
        limit,
    }
}

fn answered(query: &str, limit: Option<u64>) -> Vec<Plan> {
    answer(&ask(&parsed(query), &[], limit), &shown(), None)
}

fn opened(query: &str) -> Option<Opening> {
    opening(&ask(&parsed(query), &[], None))
}

fn inner(source: Source) -> Join {
    Join {
        source,
        kind: JoinKind::Inner,
    }
}

fn left(source: Source) -> Join {
    Join {
        source,
        kind: JoinKind::Left,
    }
}

const FRAME: Source = Source::Table(Table::Frame);
const TIME: Source = Source::Table(Table::Time);
const SKY: Source = Source::Table(Table::Sky);
const FILE: Source = Source::Table(Table::File);
const STRONGEST: Source = Source::Table(Table::Radiant);

#[test]
fn the_rows_of_a_radiant_drive_and_the_first_are_looked_for_by_their_starts() {
    let query = "GEM.alt > 30 and moon.alt < 0";
    let Checked::All(tests) = parsed(query) else {
        panic!("two tests");
    };
    assert_eq!(
        planned(query),
        Plan {
            driving: Driving::Index(Source::Radiant(shower("GEM"))),
            // Tested tables come before those that are only shown.
            joins: vec![inner(SKY), inner(TIME), inner(FRAME), left(FILE)],
            conditions: tests.into_iter().map(Condition::Test).collect(),
            order: None,
            limit: None,
        }
    );
    let opening = opened(query).unwrap();
    assert_eq!(opening.showers, BTreeSet::from([shower("GEM")]));
    assert!(opening.unplaced.is_empty());
    assert_eq!(opening.days, (i64::MIN, i64::MAX));
}

#[test]
fn the_rest_of_an_opened_answer_leaves_out_what_was_given() {
    let query = parsed("GEM.alt > 30 and moon.alt < 0");
    let rest = answer(&ask(&query, &[], None), &shown(), Some(1_000));
    let [rest] = rest.as_slice() else {
        panic!("one SELECT");
    };
    assert_eq!(rest.driving, Driving::Index(Source::Radiant(shower("GEM"))));
    assert_eq!(rest.conditions[0], Condition::NotBefore(1_000));
    // Starts are looked up only for rows that pass the conditions.
    assert_eq!(rest.joins[..2], [inner(SKY), inner(TIME)]);
    assert_eq!(rest.order, Some(vec![]));
}

#[test]
fn a_day_is_passed_over_by_a_look_among_the_radiants_of_its_frames() {
    for query in [
        "GEM.alt > 30 and moon.alt < 0",
        "GEM.alt > 30 or PER.alt > 30",
        "shower = GEM",
    ] {
        let free = plan(&parsed(query), Needs::default(), Walk::Free);
        let look = plan(&parsed(query), Needs::default(), Walk::Numbered(5, 9));
        assert_eq!(look.driving, free.driving, "{query}");
        assert_eq!(look.joins, free.joins, "{query}");
        assert_eq!(look.conditions[0], Condition::Numbered(5, 9), "{query}");
        assert_eq!(look.conditions[1..], free.conditions, "{query}");
    }
}

#[test]
fn a_union_of_radiants_drives_and_its_test_is_not_asked_again() {
    let plan = planned("(GEM.alt > 30 or PER.alt > 40) and not iso > 3200");
    let [gem, per] = ["GEM.alt > 30", "PER.alt > 40"].map(parsed);
    assert_eq!(
        plan.driving,
        Driving::Union(Union {
            radiants: vec![(shower("GEM"), Some(gem)), (shower("PER"), Some(per))],
            unplaced: BTreeSet::new(),
        })
    );
    assert_eq!(plan.conditions, [Condition::Test(parsed("not iso > 3200"))]);
    assert_eq!(plan.joins, [inner(FRAME), inner(TIME), left(FILE)]);
}

#[test]
fn an_active_shower_is_a_union_with_the_frames_without_a_place() {
    let gem = BTreeSet::from([shower("GEM")]);
    let plan = planned("shower = GEM and radiant.alt > 60");
    assert_eq!(
        plan.driving,
        Driving::Union(Union {
            radiants: vec![(shower("GEM"), None)],
            unplaced: gem.clone(),
        })
    );
    assert_eq!(plan.joins[..2], [inner(SKY), inner(STRONGEST)]);
    assert_eq!(opened("shower = GEM").unwrap().unplaced, gem);
    // The main one may be another.
    assert!(matches!(
        planned("main_shower = GEM").driving,
        Driving::Scan(SKY)
    ));
    assert!(matches!(planned("shower != GEM").driving, Driving::Scan(_)));
    assert!(matches!(
        planned("shower like 'G*'").driving,
        Driving::Scan(SKY)
    ));
}

#[test]
fn few_frames_by_an_index_drive_before_a_radiant() {
    for (query, driving) in [
        ("night = 2018-08-12", TIME),
        ("night in 2018-08-01..2018-08-20", TIME),
        ("PER.alt > 30 and night = 2018-08-12", TIME),
        ("shower = PER and night = 2018-08-12", TIME),
        ("session = 3", TIME),
        ("session in (3, 4) and moon.alt < 0", TIME),
        ("start = 2019-08-13", TIME),
        ("clock = 2019-08-13T22:31", FRAME),
        ("PER.alt > 30 and kind = dark", TIME),
        ("iso > 800 and kind in (flat, bias)", TIME),
        // However long, if there is nothing better.
        ("night in 2010..2020", TIME),
        ("start in 2019-08..2019-12 and iso >= 6400", TIME),
    ] {
        assert_eq!(planned(query).driving, Driving::Index(driving), "{query}");
        assert_eq!(opened(query), None, "{query}");
    }
    let gem = Driving::Index(Source::Radiant(shower("GEM")));
    for query in [
        "GEM.alt > 30 and night in 2010..2020",
        "GEM.alt > 30 and kind = light",
        "not GEM.alt > 30",
        "iso > 800 and GEM.alt is known",
    ] {
        assert_eq!(planned(query).driving, gem, "{query}");
    }
}

#[test]
fn what_nothing_leads_to_is_scanned() {
    for (query, table) in [
        ("", TIME),
        ("iso >= 3200", FRAME),
        ("file like 'NITE42??.*'", FRAME),
        ("sun.alt < -18", SKY),
        ("sun.alt < -18 and exposure > 10", FRAME),
        ("site = 'Dry Lake'", TIME),
        ("camera like '*K2*'", FRAME),
        ("GEM.alt is unknown", TIME),
        ("night is known", TIME),
        ("start != 2019-08-13", TIME),
    ] {
        assert_eq!(planned(query).driving, Driving::Scan(table), "{query}");
    }
    // A frame without a sky is kept if that makes no test false.
    let joins = planned("moon.alt is unknown").joins;
    assert!(joins.contains(&left(SKY)), "{joins:?}");
    let joins = planned("moon.alt < 0 or iso > 800").joins;
    assert!(joins.contains(&left(SKY)), "{joins:?}");
}

#[test]
fn a_few_frames_of_a_scan_and_all_of_them_come_by_their_starts_without_sorting() {
    for (query, limit) in [("", None), ("", Some(10)), ("iso >= 3200", Some(10))] {
        let plans = answered(query, limit);
        let driving: Vec<&Driving> = plans.iter().map(|plan| &plan.driving).collect();
        assert_eq!(driving, [&Driving::Starts, &Driving::Scan(TIME)], "{query}");
        assert_eq!(plans[0].conditions[0], Condition::Dated(true));
        assert_eq!(plans[1].conditions[0], Condition::Dated(false));
        assert!(plans.iter().all(|plan| plan.limit == limit));
    }
    assert_eq!(answered("iso >= 3200", None).len(), 1);
    assert_eq!(answered("night = 2018-08-12", Some(10)).len(), 1);
    let by_iso = [Order {
        source: ColumnSource::Frame(field_named("iso").unwrap()),
        way: Way::Down,
    }];
    let one = answer(&ask(&Checked::Every, &by_iso, Some(10)), &shown(), None);
    assert_eq!(one.len(), 1);
    assert_eq!(one[0].order.as_deref(), Some(&by_iso[..]));
}

#[test]
fn only_words_that_show_the_days_leave_an_opening() {
    assert_eq!(opened("GEM.alt > 30 and night in 2010..2020"), None);
    let days = |query| opened(query).unwrap().days;
    assert_eq!(days("GEM.alt > 30 and start > 1970-01-03"), (2, i64::MAX));
    assert_eq!(days("GEM.alt > 30 and start < 1970-01-03"), (i64::MIN, 2));
    let by_start = [Order {
        source: ColumnSource::Frame(field_named("start").unwrap()),
        way: Way::Up,
    }];
    assert_eq!(
        opening(&ask(&parsed("GEM.alt > 30"), &by_start, None)),
        None
    );
}

#[test]
fn rows_that_many_frames_share_are_asked_once() {
    for (query, shared) in [
        ("camera = 'Borealis K2 30417'", Shared::Camera),
        ("make like 'B*' or not model = K2", Shared::Camera),
        ("lens in ('Nova 14mm', 'Nova 20mm')", Shared::Lens),
        ("site is known", Shared::Site),
        ("dump = 'card-a'", Shared::Folder),
    ] {
        let test = parsed(query);
        let plan = planned(query);
        assert_eq!(
            plan.conditions,
            [Condition::OfShared(shared, test)],
            "{query}"
        );
        // The row itself is not joined.
        let rows = [Table::Camera, Table::Lens, Table::Site, Table::Folder].map(Source::Table);
        assert!(
            !plan.joins.iter().any(|join| rows.contains(&join.source)),
            "{query}"
        );
    }
    for query in [
        "camera is unknown",
        "camera = a or lens = b",
        "camera = a or iso > 5",
    ] {
        assert_eq!(
            planned(query).conditions,
            [Condition::Test(parsed(query))],
            "{query}"
        );
    }
}

#[test]
fn an_index_is_given_the_condition_that_it_has() {
    let conditions = planned("session = 3").conditions;
    assert!(matches!(
        conditions.as_slice(),
        [Condition::NightOfSession(..), Condition::Test(_)]
    ));
    let conditions = planned("kind = dark").conditions;
    assert_eq!(
        conditions,
        [
            Condition::OfCalibration,
            Condition::Test(parsed("kind = dark"))
        ]
    );
    // Light frames are many, and the opposite is true for them too.
    for query in ["kind = light", "kind != dark", "session is unknown"] {
        assert_eq!(
            planned(query).conditions,
            [Condition::Test(parsed(query))],
            "{query}"
        );
    }
}

#[test]
fn a_plan_has_a_value_for_each_mark_whatever_drives() {
    let walks = [
        Walk::Free,
        Walk::From(5),
        Walk::Numbered(5, 9),
        Walk::Dated,
        Walk::Undated,
        Walk::Within(Stretch { from: 1, until: 2 }),
    ];
    for query in [
        "",
        "GEM.alt > 30 and moon.alt < 0",
        "(GEM.alt > 30 or shower in (PER, QUA)) and camera like '*K2*' and iso in 1..2",
        "session in (3, 4) and site = 'Dry Lake' and kind in (dark, flat)",
        "clock > 2019-08-13T22:31:00.5 or file like '_?*'",
    ] {
        for walk in walks {
            let written = select("1", &plan(&parsed(query), Needs::default(), walk));
            let marks = written.sql.matches('?').count();
            assert_eq!(
                marks,
                written.values.len(),
                "{query}, {walk:?}: {}",
                written.sql
            );
        }
    }
}
