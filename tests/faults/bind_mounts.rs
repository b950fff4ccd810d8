//! A folder of a dump that is mounted at a second place: files written there are in the dump, which no path shows.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;

use crate::world::World;
use crate::world::files_of;

/// A folder that shows another one; taken off when it is dropped.
struct Bound(PathBuf);

impl Bound {
    /// `None`, with the reason printed, where the system refuses.
    fn new(of: &Path, at: PathBuf) -> Option<Self> {
        fs::create_dir(&at).unwrap();
        let mounted = Command::new("mount")
            .arg("--bind")
            .arg(of)
            .arg(&at)
            .output();
        match mounted {
            Ok(output) if output.status.success() => Some(Self(at)),
            why => {
                println!("skipped: nothing can be mounted at a second place here: {why:?}");
                None
            }
        }
    }
}

impl Drop for Bound {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.0).status();
    }
}

fn contents(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    files_of(folder)
        .into_iter()
        .map(|file| (file.clone(), fs::read(file).unwrap()))
        .collect()
}

#[test]
fn nothing_is_written_to_a_second_place_of_a_dump() {
    let world = World::new();
    world.dump("geminids-body-a", "a", |_| true);
    world.run(&["ingest", "--quiet", "a"]);
    let before = contents(&world.path("a"));
    let folder = files_of(&world.path("a"))[0]
        .parent()
        .unwrap()
        .to_path_buf();
    for (of, name) in [(world.path("a"), "root"), (folder, "below")] {
        let Some(_bound) = Bound::new(&of, world.path(name)) else {
            return;
        };
        std::os::unix::fs::symlink(world.path(name), world.path(&format!("{name}-link"))).unwrap();
        let mut commands: Vec<Vec<&str>> = vec![
            vec!["export", "", "--to"],
            vec!["export", "", "--per-session", "--as", "csv", "--to"],
            vec!["export", "", "--check", "none", "--overwrite", "--to"],
            vec!["export", "", "--link-into"],
            vec!["report", "2023-12-13", "--to"],
        ];
        if cfg!(feature = "parquet") {
            commands.push(vec!["export", "", "--as", "parquet", "--to"]);
        }
        for command in &commands {
            for at in [format!("{name}/x.csv"), format!("{name}-link/x.csv")] {
                let refused = world.run(&[command.as_slice(), &[&at]].concat()).ended(2);
                assert!(
                    refused.err.contains("is inside a card dump") && refused.err.contains("x.csv"),
                    "{command:?} {at}: {}",
                    refused.err
                );
            }
        }
        for at in [format!("{name}/c.sqlite"), format!("{name}-link/c.sqlite")] {
            let refused = world.run(&["ingest", "--catalogue", &at, "a"]).ended(2);
            assert!(
                refused.err.contains("is inside a card dump"),
                "{at}: {}",
                refused.err
            );
        }
        assert_eq!(contents(&world.path("a")), before);
    }
    // A second place of a folder that is in no dump is a place like others.
    fs::create_dir(world.path("out")).unwrap();
    let Some(_bound) = Bound::new(&world.path("out"), world.path("second")) else {
        return;
    };
    world.run(&["export", "", "--to", "second/x.csv"]).ended(0);
    assert!(world.path("out/x.csv").exists());
}
