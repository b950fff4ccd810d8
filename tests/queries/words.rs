//! Every refusal of a query in words: the letters it points at, the sentence, the remedy.
#![allow(clippy::unwrap_used)] // Tests may panic.

use framefall::query::compile;
use framefall::terms::failure::At;
use framefall::terms::failure::FailureKind;
use framefall::terms::shower::ShowerCode;

fn showers() -> Vec<ShowerCode> {
    "ANT ETA GEM LEO LYR MON ORI PER QUA SDA URS"
        .split(' ')
        .map(|code| ShowerCode::parse(code).unwrap())
        .collect()
}

/// The query, its letters underlined, the sentence and the remedy.
fn refusal(query: &str) -> String {
    let failure = match compile(query, &showers()) {
        Ok(compiled) => return format!("{query}\n  is taken as: {}\n", compiled.tree),
        Err(failure) => failure,
    };
    assert_eq!(failure.kind, FailureKind::Query, "{query}");
    let At::Query { text, span } = &failure.at else {
        panic!("{query} is refused without a place");
    };
    assert_eq!(text, query);
    assert!(
        failure.hint.is_some(),
        "{query} is refused without a remedy: {}",
        failure.message
    );
    let before = query[..span.start].chars().count();
    let under = query[span.clone()].chars().count().max(1);
    format!(
        "{query}\n{}{}\n  {}\n  {}\n",
        " ".repeat(before),
        "^".repeat(under),
        failure.message,
        failure.hint.as_deref().unwrap_or("-"),
    )
}

fn refusals(queries: &[&str]) -> String {
    let all: Vec<String> = queries.iter().map(|query| refusal(query)).collect();
    all.join("\n")
}

#[test]
fn signs_of_other_languages() {
    insta::assert_snapshot!(refusals(&[
        "iso == 1600",
        "iso <> 1600",
        "iso => 1600",
        "iso =< 1600",
        "iso ≤ 1600",
        "iso ≠ 1600",
        "iso > 100 && iso < 800",
        "iso > 100 || iso < 800",
        "!(iso > 100)",
        "lens ~ '35'",
        "lens = “35mm”",
        "lens = 'Nova 35mm",
        "lens = \"Nova 35mm",
        "[iso > 100]",
        "iso in 100…800",
        "iso in 100...800",
        "path = C:\\cards",
        "iso > 100; iso < 800",
        "camera = #2",
    ]));
}

#[test]
fn where_the_grammar_ends() {
    insta::assert_snapshot!(refusals(&[
        "(GEM.alt > 30",
        "GEM.alt > 30)",
        "(GEM.alt > 30 and (moon.alt < 0)",
        "()",
        "(",
        "GEM.alt > 30 and",
        "and GEM.alt > 30",
        "GEM.alt > 30 and and moon.alt < 0",
        "not",
        "GEM.alt",
        "GEM.alt and moon.alt < 0",
        "GEM.alt >",
        "GEM.alt > and moon.alt < 0",
        "> 30",
        "GEM.alt > 10 and < 30",
        "30 < GEM.alt",
        "10 < GEM.alt < 30",
        "30 > GEM.alt >= 10",
        "10 < GEM.alt > 30",
        "GEM.alt > 10 < 30",
        "'GEM' = shower",
        "GEM.alt > 30 moon.alt < 0",
        "GEM.alt > 30 deg moon.alt < 0",
        "kind = dark night = 2023",
        "GEM.alt > 30 not moon.alt < 0",
        "GEM.alt > 30 is known",
        "(GEM.alt > 30 iso = 100)",
        "GEM.alt > 30, moon.alt < 0",
        "iso = 1,600",
        "aperture = 2,8",
        "iso = 100..800",
        "iso = (100, 200)",
        "iso != (100, 200)",
        "iso in 100",
        "night in 2021-2024",
        "night in 2023-12-13–2023-12-14",
        "focal in 14-24mm",
        "night in 2023-12",
        "iso in 100, 200",
        "iso in 100 and 200",
        "iso in (100, 200",
        "iso in (100 200)",
        "iso in (100, 200,)",
        "iso in ()",
        "iso in (100..200, 400)",
        "iso between 100 and 200",
        "iso not in (100, 200)",
        "lens contains 35",
        "iso is 100",
        "iso is not known",
        "iso is null",
        "iso is",
        "camera = Borealis K2",
        "file like NITE 42",
        "start > 2023-12-13 22:00Z",
        "iso = 1 600",
        "in (1, 2)",
    ]));
}

#[test]
fn fields_that_do_not_exist() {
    insta::assert_snapshot!(refusals(&[
        "moom.alt < 0",
        "moonalt < 0",
        "moon.altitude < 0",
        "exposre > 20s",
        "exposure_s > 20",
        "gps_lat_deg > 0",
        "utc_offset = '+01:00'",
        "alt > 30",
        "rate > 5",
        "alt_deg > 30",
        "GEM > 30",
        "GEM_alt_deg > 30",
        "GEM.altitude > 30",
        "GEM.alt_deg > 30",
        "GEM.al > 30",
        "GEM. > 30",
        "GEN.alt > 30",
        "XXX.alt > 30",
        "Geminids.alt > 30",
        "radiant.hight > 30",
        "sun.az > 30",
        "wibble = 3",
        "höhe > 3",
        "date = 2023-12-13",
        "f < 2.8",
        "fnumber = 2.8",
        "moon.phase < 0.1",
        "time > 2023",
    ]));
}

#[test]
fn values_of_another_kind() {
    insta::assert_snapshot!(refusals(&[
        "GEM.alt > 30s",
        "GEM.alt > 30 mm",
        "exposure > 2.5m",
        "exposure > 20sec",
        "exposure > 20x",
        "bytes > 24mb",
        "bytes > 24KB",
        "iso > 1600iso",
        "iso > high",
        "iso > '1600'",
        "moon.alt = unknown",
        "GEM.alt like '3*'",
        "GEM.alt > 2023-12-13",
        "exposure = 1/0s",
        "exposure > 1e999",
        "seq = 2.5",
        "kind = drak",
        "kind = picture",
        "kind = unknown",
        "kind = l*",
        "format = jpg",
        "format like 'q*'",
        "twilight >= nautical",
        "kind < dark",
        "kind in bias..dark",
        "camera > A",
        "file in NITE0001..NITE0100",
        "file = NITE*",
        "shower = GEN",
        "shower = Geminids",
        "shower = G*",
        "shower = unknown",
        "shower like 'X*'",
        "shower > GEM",
        "serial = 12 34",
        "serial = 12 ab",
        "lat = 40.5N",
        "lat < 33.9 S",
        "lon = 116.01W",
        "kind in (light dark)",
        "kind in (light, dark flat)",
    ]));
}

#[test]
fn moments_that_cannot_be_read() {
    insta::assert_snapshot!(refusals(&[
        "night = 13.12.2023",
        "night = 12/13/2023",
        "night = yesterday",
        "night = 2023-02-30",
        "night = 2023-13",
        "night = 2023-13-12",
        "night = 0000",
        "night = 2023-12-13T22:00Z",
        "night = 2023-12-13 deg",
        "night is today",
        "start > 2023-12-13T22:00",
        "start > 2023-12-13T22",
        "start > 2023-12-13T24:00Z",
        "start > 2023-12-13T22:60Z",
        "start > 2023-12-13T22:00+25:00",
        "start > 2023-12-13T22:00:00.123456Z",
        "start > 9999-12-31T23:30-02:00",
        "start = unknown",
        "clock > 2023-12-13T22:00Z",
        "clock > 2023-12-13T22:00:07.1234567890",
        "clock > noon",
    ]));
}

#[test]
fn values_that_cannot_occur() {
    insta::assert_snapshot!(refusals(&[
        "GEM.alt > 95",
        "GEM.alt < 95deg",
        "GEM.alt > 90",
        "radiant.rate < 0/h",
        "moon.lit > 1",
        "moon.lit = 50",
        "orientation = 9",
        "orientation in 1..9",
        "iso < 0",
        "iso = -100",
        "seq = 0",
        "lat > 91",
        "lon = 289",
        "temperature < -300°C",
        "moon.az in 350..10",
        "iso in 800..100",
        "night in 2024..2021",
        "start in 2023-12-14T02:00Z..2023-12-13T22:00Z",
    ]));
}

#[test]
fn bounds() {
    let long = format!("lens = '{}'", "é".repeat(5000));
    let deep = format!("{}iso = 1", "(".repeat(100));
    let nots = format!("{}iso = 1", "not ".repeat(100));
    let many = format!("iso in ({}1)", "1, ".repeat(1500));
    let said = |query: &str| {
        let failure = compile(query, &showers()).unwrap_err();
        let At::Query { text, span } = failure.at else {
            panic!("no place");
        };
        assert!(text.get(span).is_some());
        let hint = failure.hint.unwrap_or_default();
        format!("{}\n  {hint}\n", failure.message)
    };
    let all: Vec<String> = [long, deep, nots, many].iter().map(|q| said(q)).collect();
    insta::assert_snapshot!(all.join("\n"));
}

#[test]
fn remedies_that_lead_on() {
    insta::assert_snapshot!(refusals(&[
        "iso = 1e400/2",
        "exposure = 1/1e400",
        "exposure = 0/0",
        "exposure = 1 /8000",
        "exposure = 1/ 8000",
        "exposure = 1/-2",
        "bytes > 1e30",
        "session = 99999999999999999999",
        "start = 2023-12-31T23:59 Z",
        "start = 2023-12-31T23:59 +01:00",
        "start = 2023-12-31T23:59+16:00",
        "night = 2023-02-29",
        "start = 9999-12-31T23:59-01:00",
        "kind = dark or flat",
        "lens = 'Nova 35' or Nova and iso > 3",
        "kind = dark or iso",
        "camera in A..B",
        "shower in GEM..PER",
        "'iso' = 1600",
        "'iso' like 'x'",
        "'a b' = 3",
        "3 = 4",
        "iso in ..100",
        "iso in 100..",
        "iso in",
        "iso in (100,,200)",
        "lens like",
    ]));
}
