//! A folder with dumps and its own catalogue, and the program run on them.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::sync::OnceLock;

use serde_json::Value;

/// The output and exit code of the program.
#[derive(Debug)]
pub struct Said {
    /// Its exit code.
    pub code: i32,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Said {
    /// The same, after making sure that it ended with this code.
    pub fn ended(self, code: i32) -> Self {
        assert_eq!(self.code, code, "out:\n{}\nerr:\n{}", self.out, self.err);
        self
    }

    /// The number beside a label of a summary.
    pub fn number(&self, label: &str) -> u64 {
        let line = self
            .out
            .lines()
            .find(|line| line.trim_start().starts_with(label))
            .unwrap_or_else(|| panic!("no line '{label}' in\n{}", self.out));
        let value = line.trim_start()[label.len()..].trim();
        value.split_whitespace().next().unwrap().parse().unwrap()
    }

    /// The answer as JSON.
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e} in\n{}", self.out))
    }
}

/// A temporary folder with a catalogue.
pub struct World {
    folder: tempfile::TempDir,
}

impl World {
    /// An empty one.
    pub fn new() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    /// One with a copy of a catalogue that is made once for each `kept`. Its dumps must be outside the folder in which it is made.
    #[allow(dead_code)] // some programs make each
    pub fn copied(kept: &OnceLock<Vec<u8>>, make: impl FnOnce() -> Self) -> Self {
        let bytes = kept.get_or_init(|| fs::read(make().path("catalogue.sqlite")).unwrap());
        let world = Self::new();
        world.write("catalogue.sqlite", bytes);
        world
    }

    /// A path in it.
    pub fn path(&self, below: &str) -> PathBuf {
        self.folder.path().join(below)
    }

    /// Runs the program in it, with its own catalogue.
    pub fn run(&self, words: &[&str]) -> Said {
        self.run_with(words, &[])
    }

    /// The same with changed environment variables.
    pub fn run_with(&self, words: &[&str], environment: &[(&str, &str)]) -> Said {
        let output = self.output(words, environment);
        Said {
            code: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }

    /// The same if the output may not be UTF-8.
    #[allow(dead_code)] // one story needs it
    pub fn run_lossy(&self, words: &[&str]) -> Said {
        let output = self.output(words, &[]);
        Said {
            code: output.status.code().unwrap_or(-1),
            out: String::from_utf8_lossy(&output.stdout).into_owned(),
            err: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }

    fn output(&self, words: &[&str], environment: &[(&str, &str)]) -> std::process::Output {
        Command::new(env!("CARGO_BIN_EXE_framefall"))
            .args(words)
            .current_dir(self.folder.path())
            .env_clear()
            .env("FRAMEFALL_CATALOGUE", self.path("catalogue.sqlite"))
            .env("TMPDIR", self.folder.path())
            .envs(environment.iter().copied())
            .output()
            .unwrap()
    }

    /// Adds a site, 600 m up.
    pub fn site(&self, name: &str, lat: &str, lon: &str) {
        self.site_with(name, lat, lon, &["--elevation", "600"]);
    }

    /// Adds a site, with what else is stated of it.
    pub fn site_with(&self, name: &str, lat: &str, lon: &str, more: &[&str]) {
        let words = ["site", "add", name, "--lat", lat, "--lon", lon];
        self.run(&[&words[..], more].concat()).ended(0);
    }

    /// Copies a dump of the demo data here, all of it or the files a filter keeps.
    pub fn dump(&self, label: &str, as_name: &str, keep: impl Fn(&str) -> bool) {
        let from = demo(label);
        for file in files_of(&from) {
            let below = file.strip_prefix(&from).unwrap();
            if !keep(&below.file_name().unwrap().to_string_lossy()) {
                continue;
            }
            let to = self.path(as_name).join(below);
            fs::create_dir_all(to.parent().unwrap()).unwrap();
            fs::copy(&file, &to).unwrap();
        }
    }

    /// Writes a file.
    pub fn write(&self, below: &str, bytes: &[u8]) {
        let to = self.path(below);
        fs::create_dir_all(to.parent().unwrap()).unwrap();
        fs::write(to, bytes).unwrap();
    }
}

/// A dump of the demo data.
pub fn demo(label: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("demo-data/cards")
        .join(label)
}

/// Every file below a folder, sorted.
pub fn files_of(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut waiting = vec![folder.to_path_buf()];
    while let Some(folder) = waiting.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() && !path.is_symlink() {
                waiting.push(path);
            } else {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

/// A frame of body B (no position, no offset, whole seconds), its clock set to another reading:
/// `2024:10:27 02:31:10`.
pub fn frame_at(reading: &str) -> Vec<u8> {
    let file = demo("geminids-body-b").join("DCIM/100NCTRN/N2M_2207.DNG");
    with_reading(&fs::read(file).unwrap(), reading)
}

/// The same file with all its clock readings replaced.
pub fn with_reading(bytes: &[u8], reading: &str) -> Vec<u8> {
    let mut changed = bytes.to_vec();
    let mut at = 0;
    let mut times = 0;
    while at + 19 <= changed.len() {
        let here = &changed[at..at + 19];
        let is_reading = here.iter().enumerate().all(|(i, b)| match i {
            4 | 7 | 13 | 16 => *b == b':',
            10 => *b == b' ',
            _ => b.is_ascii_digit(),
        });
        if is_reading {
            changed[at..at + 19].copy_from_slice(reading.as_bytes());
            times += 1;
            at += 19;
        } else {
            at += 1;
        }
    }
    assert!(times > 0, "no reading in the file");
    changed
}
