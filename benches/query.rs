//! Answers against the best hand-written SQL for the same question on the same file, printing the same text, side by
//! side: `cargo bench --bench query [-- FRAMES …]`.
//!
//! After them the special paths of the planner, each against plain SQL for the same answer: a path stays if it is faster.
//!
//! The archive is made once of records, by the code of an ingest (`archive/`), and kept with the build.

// A benchmark prints its figures, and may panic.
#![allow(clippy::print_stdout, clippy::expect_used)]

mod archive;
mod paths;
mod questions;

use std::fmt::Write as _;
use std::path::Path;
use std::time::Duration;
use std::time::Instant;

use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::catalogue::select::Ask;
use framefall::catalogue::select::Detail;
use framefall::framelist::Column;
use framefall::framelist::Format;
use framefall::framelist::ListWriter;
use framefall::framelist::write_sheet;
use framefall::usecase::listings::answers;
use framefall::usecase::listings::frames::compile;
use framefall::usecase::listings::frames::list;
use questions::Form;
use questions::QUESTIONS;
use questions::Question;

/// A question is repeated for this long, but at least so many times.
const PATIENCE: Duration = Duration::from_millis(600);
const ROUNDS: usize = 3;

fn main() {
    for frames in archive::sizes() {
        let begun = Instant::now();
        let path = archive::archive(frames);
        let bytes = path.metadata().expect("the catalogue").len();
        println!(
            "{frames} frames, made in {:.0} s; {} bytes a frame",
            begun.elapsed().as_secs_f64(),
            bytes / frames as u64
        );
        measure(&path);
    }
}

fn measure(path: &Path) {
    let catalogue = Catalogue::open(path, Purpose::Read).expect("the catalogue");
    let raw = rusqlite::Connection::open(path).expect("the catalogue");
    raw.pragma_update(None, "cache_size", -16_384)
        .expect("a pragma");
    let mut worst: f64 = 0.0;
    for (words, sql) in QUESTIONS {
        let filled = Question::of(words, sql, &raw);
        let (ours, theirs) = (answer(&catalogue, &filled), by_hand(&raw, &filled.sql));
        assert!(
            ours == theirs,
            "{}\n{}\n{}",
            filled.text,
            head(&ours),
            head(&theirs)
        );
        let (mut our_times, mut their_times) = (Vec::new(), Vec::new());
        let begun = Instant::now();
        while our_times.len() < ROUNDS || begun.elapsed() < PATIENCE {
            our_times.push(timed(|| answer(&catalogue, &filled)));
            their_times.push(timed(|| by_hand(&raw, &filled.sql)));
        }
        let (us, them) = (median(&mut our_times), median(&mut their_times));
        let ratio = us / them;
        worst = worst.max(ratio);
        println!(
            "{us:8.2} ms, by hand {them:8.2} ms, ratio {ratio:.2}, first {:7.2} ms, {:7} lines: {}",
            first(&catalogue, &filled),
            ours.lines().count(),
            filled.text
        );
    }
    println!("worst ratio {worst:.2}");
    for (path, words) in paths::PATHS {
        gain(&catalogue, &raw, path, words);
    }
}

/// Times a special path against plain SQL for the same answer, or for its first row.
fn gain(catalogue: &Catalogue, raw: &rusqlite::Connection, path: &str, words: &str) {
    let named = Question::of(words, "", raw);
    let filled = Question::of(words, &paths::plain(named.query(), words), raw);
    let to_first = words.contains("--first");
    let plain = || match raw.prepare(&filled.sql).expect("SQL").query([]) {
        Ok(mut rows) => rows.next().map(|row| row.is_some()),
        Err(e) => Err(e),
    };
    let (mut special, mut ordinary) = (f64::INFINITY, f64::INFINITY);
    for _ in 0..ROUNDS {
        if to_first {
            special = special.min(first(catalogue, &filled));
            let begun = Instant::now();
            assert!(plain().expect("rows"));
            ordinary = ordinary.min(begun.elapsed().as_secs_f64() * 1e3);
        } else {
            special = special.min(timed(|| answer(catalogue, &filled)));
            ordinary = ordinary.min(timed(|| by_hand(raw, &filled.sql)));
        }
    }
    println!(
        "{path}: {special:.2} ms{}, the plain way {ordinary:.2} ms, gain {:.1}: {}",
        if to_first { " to the first row" } else { "" },
        ordinary / special,
        filled.text
    );
}

fn head(text: &str) -> String {
    text.lines().take(5).collect::<Vec<_>>().join("\n")
}

fn timed(mut run: impl FnMut() -> String) -> f64 {
    let begun = Instant::now();
    let text = run();
    let took = begun.elapsed().as_secs_f64() * 1e3;
    assert!(!text.is_empty());
    took
}

/// Requests the rows of a question.
fn asking<T>(question: &Question, answer: impl FnOnce(&Ask<'_>) -> T) -> T {
    let compiled = compile(question.query()).expect("a query");
    let columns = answers::columns("file,start").expect("columns");
    let order = question
        .by()
        .map_or_else(Vec::new, |list| answers::order(list).expect("an order"));
    answer(&Ask {
        query: &compiled.tree,
        columns: &columns,
        detail: Detail::Columns,
        order: &order,
        limit: question.limit(),
    })
}

/// The program's answer as it prints it.
fn answer(catalogue: &Catalogue, question: &Question) -> String {
    let out = match question.form {
        Form::Rows => asking(question, |ask| {
            let heads = ask.columns.iter().copied().map(Column::of).collect();
            let mut text = ListWriter::of_columns(Format::Csv, heads, None, Vec::new());
            list(catalogue, ask, &mut |row| text.row(row)).expect("rows");
            text.finish().expect("a list").out
        }),
        Form::Count | Form::Per(_) => {
            let per = match question.form {
                Form::Per(per) => Some(per),
                _ => None,
            };
            let compiled = compile(question.query()).expect("a query");
            let (sheet, _) = answers::count(catalogue, &compiled, per).expect("a count");
            let mut text = Vec::new();
            write_sheet(sheet, Format::Csv, None, &mut text).expect("a sheet");
            text
        }
    };
    String::from_utf8(out).expect("text")
}

/// Milliseconds to the first row.
fn first(catalogue: &Catalogue, question: &Question) -> f64 {
    if question.form != Form::Rows {
        return f64::NAN;
    }
    let mut times: Vec<f64> = (0..ROUNDS)
        .map(|_| {
            let begun = Instant::now();
            asking(question, |ask| {
                catalogue.fetch(ask, |_| Ok(false)).expect("a row");
            });
            begun.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    median(&mut times)
}

/// The answer at an SQLite prompt.
fn by_hand(db: &rusqlite::Connection, sql: &str) -> String {
    let mut statement = db.prepare(sql).expect("SQL");
    let columns = statement.column_count();
    let mut text = statement.column_names().collect::<Vec<_>>().join(",") + "\r\n";
    let mut rows = statement.query([]).expect("rows");
    while let Some(row) = rows.next().expect("a row") {
        for column in 0..columns {
            if column > 0 {
                text.push(',');
            }
            match row.get_ref(column).expect("a cell") {
                rusqlite::types::ValueRef::Integer(whole) => {
                    let _ = write!(text, "{whole}");
                }
                rusqlite::types::ValueRef::Text(bytes) => {
                    text.push_str(std::str::from_utf8(bytes).expect("text"));
                }
                _ => {}
            }
        }
        text.push_str("\r\n");
    }
    text
}

fn median(times: &mut [f64]) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}
