//! A killed or stopped search of pictures: the catalogue stays intact, the next run goes on, and in the end every row is the same.

use std::path::Path;
use std::process::Command;
use std::time::Duration;
use std::time::Instant;

use crate::kills_of_ingest::program;
use crate::state::assert_whole;
use crate::state::difference;
use crate::state::keep;
use crate::state::put_back;
use crate::trail_run::Shown;
use crate::trail_run::write_run;
use crate::world::World;

/// More than two processors examine between two commits.
const FRAMES: u32 = 17;

/// A catalogue of a tripod's frames whose pointing can be found, and of a run with meteors, not examined.
fn world() -> World {
    let world = World::new();
    for name in ["F015.JPG", "F016.JPG", "F017.JPG"] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/pointing");
        let bytes = std::fs::read(folder.join(name)).unwrap();
        world.write(&format!("card/{name}"), &bytes);
    }
    write_run(&world, FRAMES, |number| Shown {
        line: (number % 7 == 3).then_some([150.0, 90.0, 270.0, 150.0]),
        ..Shown::default()
    });
    world.run(&["ingest", "--quiet", "card"]);
    world
}

/// Sends a signal to a run after a while. Gives its exit code.
fn signalled(mut run: Command, signal: &str, after: Duration) -> Option<i32> {
    let mut child = run.spawn().unwrap();
    std::thread::sleep(after);
    let sent = Command::new("kill")
        .args([signal, &child.id().to_string()])
        .status();
    assert!(sent.is_ok());
    child.wait().unwrap().code()
}

#[test]
fn it_is_carried_on_by_the_next() {
    let world = world();
    let path = |name: &str| world.path(name);
    let (catalogue, before, whole) = (
        path("catalogue.sqlite"),
        path("before.sqlite"),
        path("whole.sqlite"),
    );
    keep(&catalogue, &before);
    let began = Instant::now();
    world.run(&["examine", "--all"]).ended(0);
    let length = began.elapsed();
    keep(&catalogue, &whole);
    let known = ["frames", "pointing in (good, weak)", "--as", "csv"];
    assert_eq!(world.run(&known).out.lines().count(), 4);

    put_back(Some(&before), &catalogue);
    // What the first frame told of the lens is not lost.
    world.run(&["examine", "file = F015.JPG"]).ended(0);
    let run = || program(&world, &["examine", "--all", "--quiet"]);
    assert_eq!(signalled(run(), "-KILL", length.mul_f64(0.4)), None);
    assert_whole(&catalogue);
    // Ctrl-C ends it after the frames in hand.
    assert_eq!(signalled(run(), "-INT", length.mul_f64(0.1)), Some(130));
    assert_whole(&catalogue);
    world.run(&["examine", "--all"]).ended(0);
    assert_eq!(difference(&catalogue, &whole), None);
}
