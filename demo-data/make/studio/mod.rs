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
mod night;
mod picture;
pub mod random;
mod scenario;
mod shots;
mod stars;
mod tags;
mod tiff;

pub use cast::Dump;
pub use scenario::RUNS;
pub use shots::Shot;

use stars::StarField;

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
    let stars = StarField::sow();
    let mut files = Vec::new();
    let mut put = |path: &str, bytes: Vec<u8>| {
        let path = format!("cards/{}/{path}", dump.label());
        files.push(DemoFile { path, bytes });
    };
    for run in RUNS.iter().filter(|run| run.dump == dump) {
        for shot in Shot::of_run(run)? {
            let contents = film::expose(&shot, &stars)?;
            for (extension, bytes) in shot.extensions().iter().zip(contents) {
                put(&format!("{}.{extension}", shot.path()), bytes);
            }
        }
    }
    for extra in extras::EXTRAS.iter().filter(|extra| extra.dump == dump) {
        put(extra.name, extra.bytes.to_vec());
    }
    if dump == Dump::GeminidsB {
        let contents = film::expose(&extras::copied_shot()?, &stars)?;
        for bytes in contents {
            put(extras::COPY_NAME, bytes);
        }
    }
    files.sort_by(|one, other| one.path.cmp(&other.path));
    Ok(files)
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
