//! What queries mean: compiled predicates against a brute-force reading of the same words, over random archives.
#![allow(clippy::unwrap_used)] // Tests may panic.

mod answered;
mod archive;
mod asked;
mod ensure;
mod joined;
mod moments;

use framefall::query::Checked;
use framefall::query::DEEPEST;
use framefall::query::compile;
use framefall::query::predicate;
use framefall::terms::column::ColumnSource;
use framefall::terms::failure::At;
use framefall::terms::field::FIELDS;
use framefall::terms::field_radiant::RADIANT_FIELDS;
use proptest::prelude::*;

use crate::query_meaning::answered::answered;
use crate::query_meaning::answered::catalogue_of;
use crate::query_meaning::archive::Row;
use crate::query_meaning::archive::catalogue;
use crate::query_meaning::archive::fill;
use crate::query_meaning::archive::row;
use crate::query_meaning::archive::showers;
use crate::query_meaning::asked::asked;
use crate::query_meaning::joined::found;
use crate::query_meaning::joined::has_column;
use crate::query_meaning::joined::plan;

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_query_finds_what_its_words_say(
        rows in prop::collection::vec(row(), 1..40),
        questions in prop::collection::vec(asked(), 1..12),
    ) {
        let connection = catalogue();
        fill(&connection, &rows);
        for question in questions {
            let words = format!("{question:?}");
            let compiled = match compile(&words, &showers()) {
                Ok(compiled) => compiled,
                Err(failure) => panic!("{words}: {failure} {:?} {:?}", failure.at, failure.hint),
            };
            let expect: Vec<i64> = rows
                .iter()
                .zip(1_i64..)
                .filter(|(row, id)| question.holds(row, *id) == Some(true))
                .map(|(_, id)| id)
                .collect();
            let predicate = predicate(&compiled.tree);
            let got = found(&connection, &predicate);
            prop_assert_eq!(got, Ok(expect), "{}\n{}", words, predicate.sql);

            let again = compile(&compiled.tree.to_string(), &showers());
            prop_assert_eq!(again.ok().map(|c| c.tree), Some(compiled.tree), "{}", words);
        }
    }

    #[test]
    fn the_catalogue_answers_what_its_words_say_whatever_way_they_lead(
        rows in prop::collection::vec(row().prop_map(Row::derived), 1..40),
        questions in prop::collection::vec(asked(), 1..12),
        few in 0_u64..12,
    ) {
        let (_folder, catalogue) = catalogue_of(&rows);
        for question in questions {
            let words = format!("{question:?}");
            let query = compile(&words, &showers()).unwrap().tree;
            let expect: Vec<i64> = rows
                .iter()
                .zip(1_i64..)
                .filter(|(row, id)| question.holds(row, *id) == Some(true))
                .map(|(_, id)| id)
                .collect();
            let whole = answered(&catalogue, &query, None);
            let mut in_numbers = whole.clone();
            in_numbers.sort_unstable();
            prop_assert_eq!(&in_numbers, &expect, "{}", words);
            let starts: Vec<i64> = whole
                .iter()
                .map(|id| rows[usize::try_from(*id - 1).unwrap()].start.unwrap_or(i64::MAX))
                .collect();
            prop_assert!(starts.is_sorted(), "{}: {:?}", words, starts);

            let cut = answered(&catalogue, &query, Some(few));
            let first: Vec<i64> = whole.iter().copied().take(usize::try_from(few).unwrap()).collect();
            prop_assert_eq!(cut, first, "{} cut to {}", words, few);
            let count = u64::try_from(expect.len()).unwrap();
            prop_assert_eq!(catalogue.count(&query).ok(), Some(count), "{}", words);
            prop_assert_eq!(catalogue.count_up_to(&query, few).ok(), Some(count.min(few)), "{}", words);
        }
    }

    #[test]
    fn no_text_makes_it_panic(text in any::<String>()) {
        stands_on_borders(&text);
    }

    #[test]
    fn no_soup_of_words_makes_it_panic(words in prop::collection::vec(fragment(), 0..30), gap in " {0,1}") {
        stands_on_borders(&words.join(&gap));
    }
}

fn fragment() -> impl Strategy<Value = String> {
    let usual = prop::sample::select(vec![
        "and",
        "or",
        "not",
        "NOT",
        "in",
        "like",
        "is",
        "known",
        "unknown",
        "(",
        ")",
        ",",
        "..",
        "...",
        "=",
        "!=",
        "<",
        "<=",
        ">",
        ">=",
        "==",
        "'",
        "\"",
        "''",
        "GEM.alt",
        "gem.",
        ".alt",
        "XXX.alt",
        "radiant.rate",
        "moon.alt",
        "exposure",
        "night",
        "start",
        "clock",
        "kind",
        "lens",
        "shower",
        "seq",
        "bytes",
        "30",
        "-30°",
        "−5°C",
        "1/200s",
        "1/0",
        "1e999",
        "2023",
        "2023-12",
        "2023-13-45",
        "2023-12-13T22:00Z",
        "2023-12-13T22:00:07.25",
        "+01:00",
        "dark",
        "é",
        "°",
        "“",
        "…",
        "NITE*",
        "\u{301}",
        "\u{0}",
        "𝛼",
        "f/2.8",
        "%",
        "\\",
        "exposure_s",
    ]);
    prop_oneof![8 => usual.prop_map(str::to_owned), 1 => any::<String>()]
}

/// Compiles a text that may mean nothing: what points into it must point at whole characters, and what is
/// understood must print as a query that means the same.
fn stands_on_borders(text: &str) {
    match compile(text, &showers()) {
        Ok(compiled) => {
            let again = compile(&compiled.tree.to_string(), &showers()).unwrap();
            assert_eq!(again.tree, compiled.tree, "{text}");
        }
        Err(failure) => {
            let At::Query { text: whole, span } = failure.at else {
                panic!("{text} is refused without a place");
            };
            assert_eq!(whole, text);
            assert!(text.get(span.clone()).is_some(), "{text} {span:?}");
        }
    }
}

#[test]
fn no_words_mean_every_frame() {
    for text in ["", "  \n\t"] {
        let compiled = compile(text, &showers()).unwrap();
        assert_eq!(compiled.tree, Checked::Every);
        assert_eq!(
            predicate(&compiled.tree),
            framefall::terms::predicate::SqlPredicate::default()
        );
    }
}

#[test]
fn a_hundred_thousand_brackets_are_a_refusal() {
    for text in ["(".repeat(100_000), "(".repeat(9_000), "not ".repeat(2_400)] {
        stands_on_borders(&text);
        assert!(compile(&text, &showers()).is_err());
    }
}

#[test]
fn the_longest_and_the_deepest_query_still_run() {
    let connection = catalogue();
    let conditions = |count: usize, joint: &str| vec!["iso=1"; count].join(joint);
    // The widest conditions at every depth, on either side of the bracket.
    let mut left = "iso=1".to_owned();
    let mut right = left.clone();
    for _ in 0..DEEPEST {
        left = format!(
            "({left} and {} or iso=1 or iso=1 or iso=1)",
            conditions(6, " and ")
        );
        right = format!("(iso=1 or iso=1 or {} and {right})", conditions(6, " and "));
    }
    let nots = format!("{}iso=1", "not ".repeat(DEEPEST));
    // All of one body, which may be asked of its row.
    let mut of_body = "camera=a".to_owned();
    for _ in 0..DEEPEST {
        of_body = format!("({of_body} and camera=b or camera=c)");
    }
    let wide = conditions(1000, " or ");
    let names = vec!["'a'"; 1000].join(",");
    let numbers = vec!["1.5"; 1000].join(",");
    for text in [
        left,
        right,
        nots,
        of_body,
        wide.clone(),
        wide.replace(" or ", " and "),
        format!("lens in ({names})"),
        format!("iso in ({numbers})"),
    ] {
        let compiled = compile(&text, &showers());
        let compiled = compiled.unwrap_or_else(|failure| panic!("{failure}: {text}"));
        let got = found(&connection, &predicate(&compiled.tree));
        assert_eq!(got, Ok(vec![]), "{}", text.len());
    }
}

#[test]
fn conditions_at_the_top_are_served_by_an_index() {
    let connection = catalogue();
    for (query, step) in [
        (
            "night = 2023-12-13",
            "SEARCH time USING INDEX derived_time_night (night_day=?)",
        ),
        (
            "night = 2023-12 and moon.alt < 0",
            "SEARCH time USING INDEX derived_time_night (night_day>? AND night_day<?)",
        ),
        (
            "start in 2023-12-13..2023-12-14 and not kind = dark",
            "SEARCH time USING INDEX derived_time_start (start_ms>? AND start_ms<?)",
        ),
        (
            "GEM.alt > 30 and moon.alt < 0",
            "SEARCH r_GEM USING PRIMARY KEY (shower_id=?)",
        ),
        (
            "site = 'dry lake'",
            "SEARCH site USING COVERING INDEX sqlite_autoindex_stated_site_1 (name=?)",
        ),
    ] {
        let compiled = compile(query, &showers()).unwrap();
        let plan = plan(&connection, &predicate(&compiled.tree));
        assert!(plan.contains(&step.to_owned()), "{query}: {plan:#?}");
    }
}

#[test]
fn every_field_has_its_column_in_the_catalogue() {
    let connection = catalogue();
    let shower = showers()[0];
    let sources = FIELDS.iter().map(ColumnSource::Frame).chain(
        RADIANT_FIELDS
            .iter()
            .flat_map(|f| [ColumnSource::Radiant(shower, f), ColumnSource::Strongest(f)]),
    );
    for source in sources {
        assert!(
            has_column(&connection, source),
            "{source}: {}",
            source.sql()
        );
    }
}

#[test]
fn showers_stand_in_the_order_of_their_mention() {
    let query =
        "QUA.alt > 30 and (shower = MON or GEM.alt > 10) and radiant.alt > 0 and qua.rate > 1";
    let compiled = compile(query, &showers()).unwrap();
    let named: Vec<String> = compiled
        .showers_named
        .iter()
        .map(ToString::to_string)
        .collect();
    assert_eq!(named, ["QUA", "MON", "GEM"]);
}

#[test]
fn the_users_text_never_stands_in_the_sql() {
    let query = "lens = 'x'' OR 1=1 --' and file like '%;DROP*' and path in ('a', 'b\"')";
    let predicate = predicate(&compile(query, &showers()).unwrap().tree);
    for part in ["OR", "DROP", "--", "x'", "\"", "'a'"] {
        assert!(!predicate.sql.contains(part), "{}", predicate.sql);
    }
    assert_eq!(predicate.sql.matches('?').count(), predicate.values.len());
}
