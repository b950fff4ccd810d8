//! Random questions: the words of a query, and beside them what they mean, said a second time in plain Rust.

use std::fmt;
use std::rc::Rc;

use proptest::prelude::*;
use proptest::sample::select;

use crate::query_meaning::archive::CAMERAS;
use crate::query_meaning::archive::FILES;
use crate::query_meaning::archive::FORMATS;
use crate::query_meaning::archive::KINDS;
use crate::query_meaning::archive::LENSES;
use crate::query_meaning::archive::Row;
use crate::query_meaning::archive::SHOWERS;
use crate::query_meaning::archive::SITES;
use crate::query_meaning::archive::TWILIGHTS;
use crate::query_meaning::archive::said_of;
use crate::query_meaning::archive::seen_rate;
use crate::query_meaning::moments::moments;

type Holds = Rc<dyn Fn(&Row, i64) -> Option<bool>>;

/// A question.
#[derive(Clone)]
pub enum Asked {
    All(Vec<Asked>),
    Any(Vec<Asked>),
    Not(Box<Asked>),
    One(String, Holds),
}

impl Asked {
    /// Whether it holds for the row with this number; `None` where that is not known.
    pub fn holds(&self, row: &Row, id: i64) -> Option<bool> {
        match self {
            Self::All(parts) => {
                let answers: Vec<_> = parts.iter().map(|part| part.holds(row, id)).collect();
                if answers.contains(&Some(false)) {
                    Some(false)
                } else {
                    (!answers.contains(&None)).then_some(true)
                }
            }
            Self::Any(parts) => {
                let answers: Vec<_> = parts.iter().map(|part| part.holds(row, id)).collect();
                if answers.contains(&Some(true)) {
                    Some(true)
                } else {
                    (!answers.contains(&None)).then_some(false)
                }
            }
            Self::Not(inner) => inner.holds(row, id).map(|answer| !answer),
            Self::One(_, holds) => holds(row, id),
        }
    }
}

impl fmt::Debug for Asked {
    /// The words of the query.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let joined = |parts: &[Self], joint: &str| {
            let parts: Vec<String> = parts.iter().map(|part| format!("({part:?})")).collect();
            parts.join(joint)
        };
        match self {
            Self::All(parts) => f.write_str(&joined(parts, " AND ")),
            Self::Any(parts) => f.write_str(&joined(parts, " or ")),
            Self::Not(inner) => write!(f, "not ({inner:?})"),
            Self::One(words, _) => f.write_str(words),
        }
    }
}

pub fn one(words: String, holds: impl Fn(&Row, i64) -> Option<bool> + 'static) -> Asked {
    Asked::One(words, Rc::new(holds))
}

pub const SIGNS: [&str; 6] = ["=", "!=", "<", "<=", ">", ">="];

/// Below, within or above a stretch: -1, 0, 1.
pub fn answers(sign: &str, side: i32) -> bool {
    match sign {
        "=" => side == 0,
        "!=" => side != 0,
        "<" => side < 0,
        "<=" => side <= 0,
        ">" => side > 0,
        _ => side >= 0,
    }
}

fn number_of(row: &Row, field: &str) -> Option<f64> {
    match field {
        "exposure" => row.exposure,
        "iso" => row.iso,
        "aperture" => row.aperture,
        "temperature" => row.temperature,
        "moon.alt" => row.moon_alt,
        "moon.lit" => row.moon_lit,
        "GEM.alt" => row.radiant("GEM").map(|r| r.0),
        "quA.seen_alt" => row.radiant("QUA").map(|r| r.0),
        "radiant.rate" => row.strongest().map(|r| r.1),
        "GEM.seen_rate" => row
            .radiant("GEM")
            .map(|r| (seen_rate(r.1) * 1e3).round() / 1e3),
        "radiant.alt" => row.strongest().map(|r| r.0),
        _ => panic!("{field}"),
    }
}

/// A numeric field, a value as written, and the number it means.
fn number() -> impl Strategy<Value = (&'static str, &'static str, f64)> {
    select(vec![
        ("exposure", "1/3s", 1.0 / 3.0),
        ("exposure", "5ms", 0.005),
        ("exposure", "0.3 s", 0.3),
        ("exposure", "20", 20.0),
        ("exposure", "2.5min", 150.0),
        ("iso", "1600", 1600.0),
        ("iso", "1.6e3", 1600.0),
        ("aperture", "f/2.8", 2.8),
        ("aperture", "1.4", 1.4),
        ("temperature", "0", 0.0),
        ("temperature", "-5°C", -5.0),
        ("moon.alt", "30deg", 30.0),
        ("moon.alt", "-12.5 °", -12.5),
        ("moon.lit", "25%", 0.25),
        ("GEM.alt", "30", 30.0),
        ("GEM.alt", "62.25°", 62.25),
        ("quA.seen_alt", "30", 30.0),
        ("radiant.rate", "4.5/h", 4.5),
        ("GEM.seen_rate", "1.125/h", 1.125),
        ("GEM.seen_rate", "2", 2.0),
        ("radiant.alt", "29.99", 29.99),
    ])
}

/// Half of the last digit of a field in a list: angles and shares have six decimals there, rates three, others all.
fn half_a_digit(field: &str) -> f64 {
    match field {
        "moon.alt" | "moon.lit" | "GEM.alt" | "quA.seen_alt" | "radiant.alt" => 0.5e-6,
        "radiant.rate" | "GEM.seen_rate" => 0.5e-3,
        _ => 0.0,
    }
}

/// Numbers are equal within a ten-millionth, or where a list writes them alike; order is exact.
fn compares(field: &str, sign: &str, stored: f64, asked: f64) -> bool {
    let equal = (stored - asked).abs() <= (asked.abs() * 1e-7).max(half_a_digit(field));
    match sign {
        "=" => equal,
        "!=" => !equal,
        "<" => stored < asked,
        "<=" => stored <= asked,
        ">" => stored > asked,
        _ => stored >= asked,
    }
}

fn numbers() -> impl Strategy<Value = Asked> {
    prop_oneof![
        (number(), select(SIGNS.to_vec())).prop_map(|((field, words, asked), sign)| {
            one(format!("{field} {sign} {words}"), move |row, _| {
                Some(compares(field, sign, number_of(row, field)?, asked))
            })
        }),
        (number(), 0.0..3.0_f64).prop_map(|((field, words, low), more)| {
            let high = low.max(-1.0) + more.min(0.5);
            one(format!("{field} in {words}..{high}"), move |row, _| {
                let stored = number_of(row, field)?;
                Some(low <= stored && stored <= high)
            })
        }),
        (number(), select(vec![0.25_f64, 1.0])).prop_map(|((field, words, a), b)| {
            one(format!("{field} IN ({words}, {b})"), move |row, _| {
                let stored = number_of(row, field)?;
                Some(compares(field, "=", stored, a) || compares(field, "=", stored, b))
            })
        }),
        (select(SIGNS.to_vec()), 1_i64..4).prop_map(|(sign, asked)| {
            let sign = if asked == 1 && sign == "<" {
                "<="
            } else {
                sign
            };
            one(format!("seq {sign} {asked}"), move |row, _| {
                Some(answers(sign, (row.seq? - asked).signum() as i32))
            })
        }),
        (
            select(SIGNS.to_vec()),
            select(vec![("24MB", 24_000_000_i64), ("1KiB", 1024)])
        )
            .prop_map(|(sign, (words, asked))| {
                one(format!("bytes {sign} {words}"), move |row, _| {
                    Some(answers(sign, (row.bytes - asked).signum() as i32))
                })
            }),
    ]
}

fn text_of(row: &Row, id: i64, field: &str) -> Option<String> {
    match field {
        "lens" => row.lens.map(str::to_owned),
        "camera" => row.camera.map(|at| CAMERAS[at].2.to_owned()),
        "make" => CAMERAS[row.camera?].0.map(str::to_owned),
        "serial" => CAMERAS[row.camera?].1.map(str::to_owned),
        "file" => Some(row.file.to_owned()),
        "site" => row.site.map(str::to_owned),
        "path" => Some(row.path(id)),
        "dump" => Some("a".to_owned()),
        "kind" => row.kind.map(str::to_owned),
        "twilight" => row.twilight.map(str::to_owned),
        "looked" => Some(yes_no(said_of(id).0)),
        "chosen" => said_of(id).1.map(yes_no),
        "format" => Some(row.format.to_owned()),
        "shower" => row.shower.map(str::to_owned),
        "main_shower" => row.main_shower.map(str::to_owned),
        _ => panic!("{field}"),
    }
}

/// Whether a text fits a glob: sign by sign, trying every length for a star.
fn fits(glob: &[char], text: &[char]) -> bool {
    match glob.split_first() {
        None => text.is_empty(),
        Some((&'*', rest)) => (0..=text.len()).any(|skip| fits(rest, &text[skip..])),
        Some((&sign, rest)) => match text.split_first() {
            Some((&first, others)) => {
                (sign == '?' || sign.eq_ignore_ascii_case(&first)) && fits(rest, others)
            }
            None => false,
        },
    }
}

fn glob_fits(glob: &str, text: &str) -> bool {
    let signs = |text: &str| text.chars().collect::<Vec<_>>();
    fits(&signs(glob), &signs(text))
}

fn yes_no(said: bool) -> String {
    if said { "yes" } else { "no" }.to_owned()
}

/// A text field and a text as written and as meant.
fn text() -> impl Strategy<Value = (&'static str, String, &'static str)> {
    let from = |field: &'static str, texts: &[&'static str]| {
        select(texts.to_vec())
            .prop_map(move |text| (field, format!("'{}'", text.replace('\'', "''")), text))
    };
    let word = |field: &'static str, words: &[&'static str]| {
        select(words.to_vec()).prop_map(move |word| (field, word.to_uppercase(), word))
    };
    prop_oneof![
        from("lens", &LENSES),
        from("camera", &["K2 1", "a1", "K2 2", "none"]),
        from("make", &["borealis", "Austral"]),
        from("serial", &["1", "2"]),
        from("file", &FILES),
        from("site", &SITES),
        from(
            "path",
            &[
                "/cards/a/100NIGHT/1/NITE0001.ARW",
                "/cards/A/100night/2/nite0002.arw"
            ]
        ),
        from("dump", &["a", "A", "b"]),
        word("kind", &KINDS),
        word("twilight", &TWILIGHTS),
        word("format", &FORMATS),
        word("looked", &["yes", "no"]),
        word("chosen", &["yes", "no"]),
    ]
}

fn texts() -> impl Strategy<Value = Asked> {
    let glob = select(vec![
        ("camera", "k2*"),
        ("make", "?u*"),
        ("lens", "*14mm"),
        ("lens", "100%_*"),
        ("lens", "?lan*"),
        ("lens", "back\\*"),
        ("file", "nite00??.*"),
        ("file", "*'*"),
        ("file", "**.a?w**"),
        ("path", "*/100NIGHT/1/*"),
        ("site", "dry*"),
        ("site", "H?he"),
        ("format", "?R*"),
        ("twilight", "*ica?"),
        ("chosen", "?o"),
        ("shower", "G*"),
        ("main_shower", "?E*"),
    ]);
    prop_oneof![
        (text(), any::<bool>()).prop_map(|((field, words, asked), equal)| {
            let sign = if equal { "=" } else { "!=" };
            one(format!("{field}{sign}{words}"), move |row, id| {
                Some(text_of(row, id, field)?.eq_ignore_ascii_case(asked) == equal)
            })
        }),
        (text(), text()).prop_map(|((field, a, first), (other, b, second))| {
            let second = (other == field).then_some(second);
            let words = match second {
                Some(_) => format!("{field} in ({a}, {b})"),
                None => format!("{field} in ({a})"),
            };
            one(words, move |row, id| {
                let stored = text_of(row, id, field)?;
                let is = |text: &str| stored.eq_ignore_ascii_case(text);
                Some(is(first) || second.is_some_and(is))
            })
        }),
        glob.prop_map(|(field, glob)| {
            one(
                format!("{field} like '{}'", glob.replace('\'', "''")),
                move |row, id| Some(glob_fits(glob, &text_of(row, id, field)?)),
            )
        }),
    ]
}

/// `shower =` holds for every active one, and where that is not kept, for the main one.
fn has_shower(row: &Row, code: &str) -> Option<bool> {
    match (row.radiant(code), row.main_shower) {
        (Some(_), _) => Some(true),
        (None, main) => main.map(|main| main == code),
    }
}

fn others() -> impl Strategy<Value = Asked> {
    let known = |field: &'static str, is: fn(&Row) -> bool| {
        any::<bool>().prop_map(move |wanted| {
            let word = if wanted { "known" } else { "UNKNOWN" };
            one(format!("{field} is {word}"), move |row, _| {
                Some(is(row) == wanted)
            })
        })
    };
    prop_oneof![
        (select(SHOWERS.to_vec()), any::<bool>()).prop_map(|(code, equal)| {
            let sign = if equal { "=" } else { "!=" };
            one(
                format!("shower {sign} {}", code.to_lowercase()),
                move |row, _| has_shower(row, code).map(|has| has == equal),
            )
        }),
        (select(SHOWERS.to_vec()), any::<bool>()).prop_map(|(code, equal)| {
            let sign = if equal { "=" } else { "!=" };
            one(format!("main_shower {sign} {code}"), move |row, _| {
                row.main_shower.map(|main| (main == code) == equal)
            })
        }),
        (select(SHOWERS.to_vec()), select(SHOWERS.to_vec())).prop_map(|(a, b)| {
            one(format!("main_shower in ({a}, {b})"), move |row, _| {
                row.main_shower.map(|main| main == a || main == b)
            })
        }),
        (select(SHOWERS.to_vec()), select(SHOWERS.to_vec())).prop_map(|(a, b)| {
            one(format!("shower in ({a}, {b})"), move |row, _| {
                match (has_shower(row, a), has_shower(row, b)) {
                    (Some(true), _) | (_, Some(true)) => Some(true),
                    (Some(false), Some(false)) => Some(false),
                    _ => None,
                }
            })
        }),
        known("exposure", |row| row.exposure.is_some()),
        known("night", |row| row.night.is_some()),
        known("site", |row| row.site.is_some()),
        known("MON.alt", |row| row.radiant("MON").is_some()),
        known("radiant.rate", |row| row.strongest().is_some()),
        known("shower", |row| row.shower.is_some()),
        known("path", |_| true),
        known("make", |row| row
            .camera
            .is_some_and(|at| CAMERAS[at].0.is_some())),
        known("camera", |row| row.camera.is_some()),
        known("kind", |row| row.kind.is_some()),
        known("dump", |_| true),
    ]
}

/// A question of every kind, nested a few times.
pub fn asked() -> impl Strategy<Value = Asked> {
    let leaf = prop_oneof![numbers(), texts(), moments(), others()];
    leaf.prop_recursive(4, 40, 9, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 2..9).prop_map(Asked::All),
            prop::collection::vec(inner.clone(), 2..9).prop_map(Asked::Any),
            inner.prop_map(|inner| Asked::Not(Box::new(inner))),
        ]
    })
}
