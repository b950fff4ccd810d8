//! `framefall copy` of a card to two targets, in one run with the plain steps that it consists of (read once, write
//! twice, sync, read back once past the cache; no hashing) and with `cp -a` to each target, `sync`, `sha256sum` of source and
//! targets; the memory it held. Then `framefall audit --content` against `cat` past the cache:
//! `cargo bench --bench copy [-- FILES MB]`. Needs Linux, and three times the card's size on the disk of the temporary folder.

// A benchmark prints its figures, and may panic.
#![allow(clippy::print_stdout, clippy::expect_used)]

use std::fs;
use std::fs::File;
use std::io::Read;
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;

const ROUNDS: usize = 3;
const TARGETS: [&str; 2] = ["one", "two"];
const MEGABYTE: usize = 1 << 20;
/// Source: open(2); the value of Linux on x86 and 64-bit ARM.
const O_DIRECT: i32 = if cfg!(target_arch = "aarch64") {
    0o200_000
} else {
    0o40_000
};

fn main() {
    let mut numbers = std::env::args()
        .skip(1)
        .filter_map(|a| a.parse::<usize>().ok());
    let (files, megabytes) = (numbers.next().unwrap_or(40), numbers.next().unwrap_or(25));
    let world = tempfile::tempdir().expect("a temporary folder");
    let at = |below: &str| world.path().join(below);
    make_card(&at("card/DCIM/100BENCH"), files, megabytes);
    let (mut ours, mut bound, mut plain, mut memory) = (Vec::new(), Vec::new(), Vec::new(), 0);
    let (mut audit, mut cat) = (Vec::new(), Vec::new());
    for _ in 0..ROUNDS {
        clear(world.path());
        let begun = Instant::now();
        memory = memory.max(copy(world.path()));
        ours.push(begun.elapsed());

        forget(&at("one"));
        let begun = Instant::now();
        run(framefall(world.path()).args(["audit", "--content", "--dump", "one", "--quiet"]));
        audit.push(begun.elapsed());
        forget(&at("one"));
        let begun = Instant::now();
        run(Command::new("sh")
            .args(["-c", "cat one/DCIM/100BENCH/* > /dev/null"])
            .current_dir(world.path()));
        cat.push(begun.elapsed());

        clear(world.path());
        let begun = Instant::now();
        steps(world.path());
        bound.push(begun.elapsed());

        clear(world.path());
        let begun = Instant::now();
        let words = "cp -a card one && cp -a card two && sync && find card one two -type f -exec sha256sum {} + > sums";
        run(Command::new("sh")
            .args(["-c", words])
            .current_dir(world.path()));
        plain.push(begun.elapsed());
    }
    let [ours, bound, plain, audit, cat] = [ours, bound, plain, audit, cat].map(median);
    let bytes = (files * megabytes) as f64;
    let line = |what: &str, time: f64| {
        println!(
            "{what:44} {time:7.2} s  {:6.0} MB/s of the card",
            bytes / time
        );
    };
    println!("{files} files of {megabytes} MB to two targets on one disk, median of {ROUNDS}");
    line("framefall copy", ours);
    line("read once, write twice, sync, read back", bound);
    line("cp -a twice, sync, sha256sum of all three", plain);
    println!("copy / plain steps    {:.2}  (at most 1.15)", ours / bound);
    println!("copy / cp and sums    {:.2}  (at most 0.8)", ours / plain);
    println!("most memory held      {memory} MB  (at most 150)");
    line("framefall audit --content", audit);
    line("cat past the cache", cat);
    println!("speed of audit / cat  {:.2}  (at least 0.9)", cat / audit);
}

fn median(mut times: Vec<Duration>) -> f64 {
    times.sort_unstable();
    times[times.len() / 2].as_secs_f64()
}

fn make_card(folder: &Path, files: usize, megabytes: usize) {
    fs::create_dir_all(folder).expect("a folder");
    let mut state = 1_u64;
    for number in 0..files {
        let mut file = File::create(folder.join(format!("B_{number:05}.BIN"))).expect("a file");
        for _ in 0..megabytes {
            let bytes: Vec<u8> = (0..MEGABYTE / 8)
                .flat_map(|_| {
                    state = state
                        .wrapping_mul(6_364_136_223_846_793_005)
                        .wrapping_add(1_442_695_040_888_963_407);
                    state.to_le_bytes()
                })
                .collect();
            file.write_all(&bytes).expect("room");
        }
        file.sync_all().expect("a disk");
    }
}

/// The files of a folder.
fn files_of(folder: &Path) -> Vec<PathBuf> {
    let names = fs::read_dir(folder.join("DCIM/100BENCH"))
        .into_iter()
        .flatten()
        .flatten();
    let mut names: Vec<PathBuf> = names.map(|entry| entry.path()).collect();
    names.sort();
    names
}

/// Drops a folder's files from the cache.
fn forget(folder: &Path) {
    for file in files_of(folder) {
        let file = File::open(file).expect("a file");
        rustix::fs::fadvise(&file, 0, None, rustix::fs::Advice::DontNeed).expect("advice");
    }
}

/// The state before each run: no targets, nothing of the card in the cache.
fn clear(world: &Path) {
    for name in TARGETS {
        let _ = fs::remove_dir_all(world.join(name));
    }
    for entry in fs::read_dir(world).expect("a folder").flatten() {
        if entry.file_type().is_ok_and(|kind| kind.is_file()) {
            let _ = fs::remove_file(entry.path());
        }
    }
    run(&mut Command::new("sync"));
    forget(&world.join("card"));
}

fn run(command: &mut Command) {
    assert!(command.status().expect("a program").success());
}

fn framefall(world: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_framefall"));
    command
        .current_dir(world)
        .env("FRAMEFALL_CATALOGUE", world.join("catalogue.sqlite"));
    command
}

/// Copies, and returns the peak memory in MB.
fn copy(world: &Path) -> u64 {
    let mut child = framefall(world)
        .args([
            "copy",
            "card",
            "--to",
            "one",
            "--to",
            "two",
            "--no-ingest",
            "--quiet",
        ])
        .stderr(Stdio::null())
        .spawn()
        .expect("the program");
    let status = format!("/proc/{}/status", child.id());
    let mut most = 0;
    loop {
        let text = fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let kib = line.and_then(|line| line.trim().split(' ').next()?.parse::<u64>().ok());
        most = most.max(kib.unwrap_or(0));
        if let Some(ended) = child.try_wait().expect("a child") {
            assert!(ended.success());
            return most / 1024;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// The same without temporary names, hashes and proofs: file by file, then all are read back.
fn steps(world: &Path) {
    let mut buffer = vec![0; MEGABYTE + 4096];
    let start = buffer.as_ptr().align_offset(4096);
    for name in TARGETS {
        fs::create_dir_all(world.join(name).join("DCIM/100BENCH")).expect("a folder");
    }
    for file in files_of(&world.join("card")) {
        let name = file.file_name().expect("a name");
        let mut from = File::open(&file).expect("a file");
        let place = |target: &str| world.join(target).join("DCIM/100BENCH").join(name);
        let mut to = TARGETS.map(|target| File::create(place(target)).expect("a file"));
        loop {
            let got = from
                .read(&mut buffer[start..start + MEGABYTE])
                .expect("bytes");
            if got == 0 {
                break;
            }
            for file in &mut to {
                file.write_all(&buffer[start..start + got]).expect("room");
            }
        }
        for file in to {
            file.sync_all().expect("a disk");
        }
    }
    for target in TARGETS {
        for file in files_of(&world.join(target)) {
            let mut file = fs::OpenOptions::new()
                .read(true)
                .custom_flags(O_DIRECT)
                .open(file)
                .expect("a file");
            while file
                .read(&mut buffer[start..start + MEGABYTE])
                .expect("bytes")
                == MEGABYTE
            {}
        }
    }
}
