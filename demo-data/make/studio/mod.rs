//! Makes the demo dumps out of an invented story: cameras, sites, nights, and little pictures of the sky.
//!
//! Same bytes on every run. Shares no code with the program that reads them, and never looks at a clock.

mod cast;
mod develop;
mod exif;
mod expected;
mod extras;
mod film;
mod heavens;
mod land;
mod movers;
mod night;
mod picture;
pub mod random;
mod scenario;
mod shots;
mod stars;
mod style;
mod tags;
mod tiff;

pub use cast::{Dump, Site};
pub use scenario::RUNS;
pub use shots::Shot;
pub use stars::Star;
pub use style::StarsOver;

use std::num::NonZero;

use style::Style;

/// What a step of the making gives, or why it could not.
pub type Outcome<T> = Result<T, Box<dyn std::error::Error>>;

/// One file of the demo.
pub struct DemoFile {
    /// Path below `demo-data`, `/` between names.
    pub path: String,
    /// Contents.
    pub bytes: Vec<u8>,
}

/// All files of one card dump, ordered by path.
pub fn dump_files(dump: Dump) -> Outcome<Vec<DemoFile>> {
    files_of(dump, &Style::small(), &|_| true)
}

/// The same with pictures that are large enough to be examined, and with these stars; only of some shots.
pub fn large_dump_files(
    dump: Dump,
    stars_over: &StarsOver,
    keep: &dyn Fn(&Shot) -> bool,
) -> Outcome<Vec<DemoFile>> {
    files_of(dump, &Style::large(stars_over), keep)
}

fn files_of(dump: Dump, style: &Style<'_>, keep: &dyn Fn(&Shot) -> bool) -> Outcome<Vec<DemoFile>> {
    let mut files = Vec::new();
    let mut put = |path: &str, bytes: Vec<u8>| {
        let path = format!("cards/{}/{path}", dump.label());
        files.push(DemoFile { path, bytes });
    };
    for run in RUNS.iter().filter(|run| run.dump == dump) {
        let shots = Shot::of_run(run)?.into_iter().filter(|shot| keep(shot));
        for (shot, contents) in exposed(shots.collect(), style)? {
            for (extension, bytes) in shot.extensions().iter().zip(contents) {
                put(&format!("{}.{extension}", shot.path()), bytes);
            }
        }
    }
    for extra in extras::EXTRAS.iter().filter(|extra| extra.dump == dump) {
        put(extra.name, extra.bytes.to_vec());
    }
    if dump == Dump::GeminidsB {
        let contents = film::expose(&extras::copied_shot()?, style)?;
        for bytes in contents {
            put(extras::COPY_NAME, bytes);
        }
    }
    files.sort_by(|one, other| one.path.cmp(&other.path));
    Ok(files)
}

/// Shots with the files of each, on all processors.
fn exposed(shots: Vec<Shot>, style: &Style<'_>) -> Outcome<Vec<(Shot, Vec<Vec<u8>>)>> {
    let workers = std::thread::available_parallelism().map_or(1, NonZero::get);
    let size = shots.len().div_ceil(workers).max(1);
    let mut left = shots.into_iter();
    let parts: Vec<Vec<Shot>> = (0..workers)
        .map(|_| left.by_ref().take(size).collect())
        .collect();
    std::thread::scope(|scope| {
        let running: Vec<_> = parts
            .into_iter()
            .map(|part| {
                scope.spawn(move || {
                    let expose = |shot: Shot| {
                        let contents = film::expose(&shot, style).map_err(|e| e.to_string())?;
                        Ok((shot, contents))
                    };
                    part.into_iter()
                        .map(expose)
                        .collect::<Result<Vec<_>, String>>()
                })
            })
            .collect();
        let mut all = Vec::new();
        for worker in running {
            all.extend(
                worker
                    .join()
                    .map_err(|_| "a picture could not be painted")??,
            );
        }
        Ok(all)
    })
}

/// The text of `expected.toml`.
pub fn expected() -> Outcome<String> {
    expected::write()
}

/// The text of `files.rs`: every path with its bytes, as one Rust expression to be included.
pub fn list<'a>(paths: impl Iterator<Item = &'a str>) -> String {
    let head = "// Every file of the demo dumps. Written by demo-data/make; see demo-data/README.md.\n&[\n";
    let mut text = String::from(head);
    for path in paths {
        text.extend(["    (\"", path, "\", include_bytes!(\"", path, "\")),\n"]);
    }
    text + "]\n"
}
