//! Random questions about nights, instants and clock readings.

use proptest::prelude::*;
use proptest::sample::select;

use crate::query_meaning::archive::BASE_S;
use crate::query_meaning::archive::Row;
use crate::query_meaning::archive::SITES;
use crate::query_meaning::archive::ZONES;
use crate::query_meaning::archive::instant_ms;
use crate::query_meaning::asked::Asked;
use crate::query_meaning::asked::SIGNS;
use crate::query_meaning::asked::answers;
use crate::query_meaning::asked::one;

/// Where a moment stands to a stretch from its first moment to the first after it.
fn side(moment: i64, first: i64, after: i64) -> i32 {
    i32::from(moment >= after) - i32::from(moment < first)
}

/// A stretch of UTC as written, its first millisecond and the first after it.
fn stretch() -> impl Strategy<Value = (String, i64, i64)> {
    (instant_ms(), 0_usize..7).prop_map(|(ms, form)| {
        let at = jiff::Timestamp::from_millisecond(ms).unwrap();
        let zone = if form == 6 {
            jiff::tz::Offset::constant(-3)
        } else {
            jiff::tz::Offset::UTC
        };
        let shown = zone.to_datetime(at);
        let ms_of =
            |civil: jiff::civil::DateTime| zone.to_timestamp(civil).unwrap().as_millisecond();
        let date = shown.date();
        let year = jiff::civil::date(date.year(), 1, 1);
        let (words, first, after) = match form {
            0 => {
                let next = jiff::civil::date(date.year() + 1, 1, 1);
                (
                    date.strftime("%Y"),
                    ms_of(year.at(0, 0, 0, 0)),
                    ms_of(next.at(0, 0, 0, 0)),
                )
            }
            1 => {
                let month = date.first_of_month();
                let next = date.last_of_month().tomorrow().unwrap();
                (
                    date.strftime("%Y-%m"),
                    ms_of(month.at(0, 0, 0, 0)),
                    ms_of(next.at(0, 0, 0, 0)),
                )
            }
            2 => {
                let next = date.tomorrow().unwrap();
                (
                    date.strftime("%F"),
                    ms_of(date.at(0, 0, 0, 0)),
                    ms_of(next.at(0, 0, 0, 0)),
                )
            }
            3 | 6 => {
                let first = ms_of(date.at(shown.hour(), shown.minute(), 0, 0));
                let form = if form == 3 {
                    "%FT%H:%MZ"
                } else {
                    "%Ft%H:%M-03:00"
                };
                (shown.strftime(form), first, first + 60_000)
            }
            4 => {
                let first = ms.div_euclid(1000) * 1000;
                (shown.strftime("%FT%H:%M:%Sz"), first, first + 1000)
            }
            _ => {
                let first = ms.div_euclid(10) * 10;
                (shown.strftime("%FT%H:%M:%S.%2fZ"), first, first + 10)
            }
        };
        (words.to_string(), first, after)
    })
}

/// A clock reading as written, its first nanosecond and the first after it, from [`BASE_S`].
fn reading() -> impl Strategy<Value = (String, i128, i128)> {
    let second = (0_i64..2, select(vec![0_i64, 43_207]), -1_i64..=1);
    let fraction = select(vec![
        "",
        ".2",
        ".25",
        ".250",
        ".9",
        ".99",
        ".999999999",
        ".0",
    ]);
    (second, fraction, 0_usize..3).prop_map(|((day, s, step), fraction, form)| {
        let seconds = day * 86_400 + s + step;
        let at = jiff::Timestamp::from_second(BASE_S + seconds).unwrap();
        let billion = 1_000_000_000_i128;
        let (words, first, length) = match form {
            0 => {
                let day = seconds.div_euclid(86_400) * 86_400;
                (
                    at.strftime("%F").to_string(),
                    i128::from(day) * billion,
                    86_400 * billion,
                )
            }
            1 => {
                let minute = seconds.div_euclid(60) * 60;
                (
                    at.strftime("%FT%H:%M").to_string(),
                    i128::from(minute) * billion,
                    60 * billion,
                )
            }
            _ => {
                let digits = fraction.len().saturating_sub(1);
                let length = billion / 10_i128.pow(u32::try_from(digits).unwrap());
                let part: i128 = fraction.get(1..).unwrap_or("").parse().unwrap_or(0);
                let first = i128::from(seconds) * billion + part * length;
                (
                    format!("{}{fraction}", at.strftime("%FT%H:%M:%S")),
                    first,
                    length,
                )
            }
        };
        (words, first, first + length)
    })
}

/// A stretch of local time: as one of UTC, without its zone.
fn local_stretch() -> impl Strategy<Value = (String, i64, i64)> {
    stretch().prop_filter_map("local time has no zone", |(words, first, after)| {
        let bare = words.trim_end_matches(['Z', 'z']).to_owned();
        (!bare.ends_with("-03:00")).then_some((bare, first, after))
    })
}

/// The local time of a frame's start, in milliseconds.
fn local(row: &Row) -> Option<i64> {
    let site = SITES.iter().position(|site| Some(*site) == row.site)?;
    Some(row.start? + ZONES[site]?.1 * 3_600_000)
}

pub fn moments() -> impl Strategy<Value = Asked> {
    prop_oneof![
        (local_stretch(), select(SIGNS.to_vec())).prop_map(|((words, first, after), sign)| {
            one(format!("local {sign} {words}"), move |row, _| {
                Some(answers(sign, side(local(row)?, first, after)))
            })
        }),
        (local_stretch(), local_stretch()).prop_map(|(a, b)| {
            one(format!("local in ({}, {})", a.0, b.0), move |row, _| {
                let local = local(row)?;
                Some(side(local, a.1, a.2) == 0 || side(local, b.1, b.2) == 0)
            })
        }),
        (stretch(), select(SIGNS.to_vec())).prop_map(|((words, first, after), sign)| {
            one(format!("start {sign} {words}"), move |row, _| {
                Some(answers(sign, side(row.start?, first, after)))
            })
        }),
        (stretch(), stretch()).prop_map(|(a, b)| {
            let (low, high) = if a.1 <= b.1 { (a, b) } else { (b, a) };
            one(format!("start in {}..{}", low.0, high.0), move |row, _| {
                let start = row.start?;
                Some(start >= low.1 && start < high.2)
            })
        }),
        (stretch(), stretch()).prop_map(|(a, b)| {
            one(format!("start in ({}, {})", a.0, b.0), move |row, _| {
                let start = row.start?;
                Some(side(start, a.1, a.2) == 0 || side(start, b.1, b.2) == 0)
            })
        }),
        (stretch(), select(SIGNS.to_vec())).prop_filter_map(
            "a night is a date",
            |((words, first, after), sign)| {
                let day = 86_400_000;
                let (first, after) = (first.div_euclid(day), after.div_euclid(day));
                (!words.contains(['T', 't'])).then(|| {
                    one(format!("night {sign} {words}"), move |row, _| {
                        Some(answers(sign, side(row.night?, first, after)))
                    })
                })
            }
        ),
        (reading(), select(SIGNS.to_vec())).prop_map(|((words, first, after), sign)| {
            one(format!("clock {sign} {words}"), move |row, _| {
                let (seconds, nanos, _) = row.clock?;
                let at = i128::from(seconds) * 1_000_000_000 + i128::from(nanos);
                let side = i32::from(at >= after) - i32::from(at < first);
                Some(answers(sign, side))
            })
        }),
    ]
}
