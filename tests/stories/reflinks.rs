//! Links that share contents, on a disk that supports it: each is a separate file, and changing one leaves the frame alone.

#![cfg(target_os = "linux")]

use std::fs;
use std::fs::File;
use std::io::Write;
use std::os::unix::fs::MetadataExt;

use crate::disk::Disk;
use crate::tree::contents;
use crate::tree::links;
use crate::world::World;

#[test]
fn reflinks_are_files_of_their_own_with_the_frames_contents_and_times() {
    let world = World::new();
    let image = world.path("image");
    let Some(disk) = Disk::that_shares(world.path("disk"), &image) else {
        return;
    };
    world.dump("geminids-body-a", "disk/card", |_| true);
    world.run(&["ingest", "disk/card"]).ended(0);
    let before = contents(&disk.path("card"));
    let reflink = |more: &[&str]| {
        let words = ["export", "kind = light", "--link-as", "reflink"];
        world.run(&[&words[..], &["--link-into", "disk/tree"], more].concat())
    };
    reflink(&[]).ended(0);
    let made = links(&disk.path("tree"));
    assert_eq!(made.len(), 64);
    for link in &made {
        let at = disk.path("tree").join(link);
        let own = link.rsplit(' ').next().unwrap();
        let own =
            ["100NCTRN", "101NCTRN"].map(|folder| disk.path("card/DCIM").join(folder).join(own));
        let own = own.iter().find(|own| own.exists()).unwrap();
        let (there, frame) = (
            fs::symlink_metadata(&at).unwrap(),
            fs::metadata(own).unwrap(),
        );
        assert!(there.is_file() && there.nlink() == 1 && there.ino() != frame.ino());
        assert_eq!(there.modified().unwrap(), frame.modified().unwrap());
        assert_eq!(fs::read(&at).unwrap(), fs::read(own).unwrap(), "{link}");
    }
    // A changed one is someone's work and is kept; the frame is unchanged.
    let first = disk.path("tree").join(&made[0]);
    let mut changed = File::options().write(true).open(&first).unwrap();
    changed.write_all(b"changed").unwrap();
    drop(changed);
    assert_eq!(contents(&disk.path("card")), before);
    let refused = reflink(&["--overwrite"]).ended(2);
    assert!(refused.err.contains("changed since"), "{}", refused.err);
    fs::remove_file(&first).unwrap();
    reflink(&["--overwrite"]).ended(0);
    // From another disk nothing can be shared.
    let far = [
        "export",
        "kind = light",
        "--link-as",
        "reflink",
        "--link-into",
        "far",
    ];
    let refused = world.run(&far).ended(2);
    assert!(
        refused.err.contains("cannot lead to another disk"),
        "{}",
        refused.err
    );
    assert!(!world.path("far").exists());
}
