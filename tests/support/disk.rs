//! Small disks of a test's own, where the system allows them.

use std::fs;
use std::fs::File;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

/// A disk in memory that is taken off when it is dropped.
pub struct Disk {
    at: PathBuf,
}

impl Disk {
    /// One of so many kibibytes at a new folder; `None`, with the reason printed, where the system refuses.
    pub fn of_kib(at: PathBuf, kib: u64) -> Option<Self> {
        fs::create_dir(&at).unwrap();
        let size = format!("size={kib}k");
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &size, "tmpfs"])
            .arg(&at)
            .output();
        match mounted {
            Ok(output) if output.status.success() => Some(Self { at }),
            Ok(output) => {
                let why = String::from_utf8_lossy(&output.stderr).into_owned();
                println!("skipped: no disk can be mounted here: {}", why.trim());
                None
            }
            Err(why) => {
                println!("skipped: no disk can be mounted here: {why}");
                None
            }
        }
    }

    /// One whose files can share their contents, kept in a file of that name; `None`, with the reason printed, where
    /// the system makes none.
    #[allow(dead_code)] // one story needs it
    pub fn that_shares(at: PathBuf, image: &Path) -> Option<Self> {
        fs::create_dir(&at).unwrap();
        // What is not written of it takes no room.
        File::create(image).unwrap().set_len(400 << 20).unwrap();
        let makers: [(&str, &[&str]); 2] = [
            ("mkfs.xfs", &["-q", "-m", "reflink=1"]),
            ("mkfs.btrfs", &["-q"]),
        ];
        let run = |program: &str, words: &[&str], last: &[&Path]| {
            let ended = Command::new(program).args(words).args(last).output();
            ended.is_ok_and(|output| output.status.success())
        };
        let made = makers.iter().any(|(program, words)| {
            run(program, words, &[image]) && run("mount", &["-o", "loop"], &[image, &at])
        });
        if !made {
            println!("skipped: no disk whose files share contents can be made and mounted here");
            return None;
        }
        Some(Self { at })
    }

    /// A path on it.
    pub fn path(&self, below: &str) -> PathBuf {
        self.at.join(below)
    }

    /// Fills it to its end, or until so many kibibytes are left.
    pub fn fill(&self, left_kib: u64) {
        let mut filler = File::create(self.path("filler")).unwrap();
        while filler.write_all(&[1; 1024]).is_ok() {}
        let written = filler.metadata().unwrap().len() / 4096 * 4096;
        filler
            .set_len(written.saturating_sub(left_kib * 1024))
            .unwrap();
    }

    /// Makes room.
    pub fn empty(&self) {
        fs::remove_file(self.path("filler")).unwrap();
    }

    /// Protects it from writing.
    pub fn protect(&self) {
        self.mount_again("remount,ro");
    }

    fn mount_again(&self, how: &str) {
        let done = Command::new("mount")
            .args(["-o", how])
            .arg(&self.at)
            .status();
        assert!(done.unwrap().success(), "{how}");
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.at).status();
    }
}

/// The names in a folder, parts of a run among them.
pub fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}
