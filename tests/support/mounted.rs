//! Disks in files, mounted where the system allows it.

use std::fs;
use std::fs::File;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use crate::world::World;

/// A disk in a file, mounted; taken off when it is dropped.
pub struct Mounted {
    /// Where it is mounted.
    pub at: PathBuf,
    /// The file that it is in.
    pub image: PathBuf,
}

impl Mounted {
    /// One of so many MiB, made by this program; `None`, with the reason printed, where the system refuses.
    pub fn new(world: &World, name: &str, mib: u64, make: &[&str]) -> Option<Self> {
        Self::by(world, name, mib, make, &["mount", "-o", "loop"])
    }

    /// The same, mounted by these words, which the image and the place follow.
    pub fn by(world: &World, name: &str, mib: u64, make: &[&str], mount: &[&str]) -> Option<Self> {
        let (at, image) = (world.path(name), world.path(&format!("{name}.img")));
        fs::create_dir_all(&at).unwrap();
        File::create(&image).unwrap().set_len(mib << 20).unwrap();
        let run = |words: &[&str], last: &[&Path]| {
            Command::new(words[0])
                .args(&words[1..])
                .args(last)
                .output()
                .is_ok_and(|output| output.status.success())
        };
        if !(run(make, &[&image]) && run(mount, &[&image, &at])) {
            println!(
                "skipped: {} and {} make no disk here",
                make[0],
                mount.join(" ")
            );
            return None;
        }
        Some(Self { at, image })
    }

    /// Mounts it another way.
    pub fn again(&self, how: &str) {
        let done = Command::new("mount")
            .args(["-o", how])
            .arg(&self.at)
            .status();
        assert!(done.unwrap().success(), "{how}");
    }
}

impl Drop for Mounted {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.at).status();
    }
}
