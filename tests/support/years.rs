//! An archive of several years: nights of two bodies, frames of other years, some of them without a place and so without UTC.

use crate::world::World;
use crate::world::frame_at;

/// The demo dumps at one site; frames of body B on a night of each year from 2017 to 2022 there; one of 2016 and one of 2017
/// at no place. Only their clocks show their nights, so they come after all others.
pub fn archive() -> World {
    let world = World::new();
    world.site("Salt Ridge", "38.93N", "116.01W");
    for dump in [
        "geminids-body-a",
        "geminids-body-b",
        "quadrantids",
        "eta-aquariids",
    ] {
        world.dump(dump, dump, |_| true);
        world.run(&["ingest", "--site", "Salt Ridge", dump]);
    }
    for year in 2017..=2022 {
        let frame = frame_at(&format!("{year}:08:12 01:30:05"));
        world.write(&format!("near/Y{year}.DNG"), &frame);
    }
    // Either side of New Year: the night of 31 December is the old year's until noon.
    world.write("near/NEW1.DNG", &frame_at("2021:12:31 23:59:50"));
    world.write("near/NEW2.DNG", &frame_at("2022:01:01 00:00:10"));
    world.run(&["ingest", "--site", "Salt Ridge", "near"]);
    for year in [2016, 2017] {
        let frame = frame_at(&format!("{year}:03:01 01:30:05"));
        world.write(&format!("far/Y{year}.DNG"), &frame);
    }
    world.run(&["ingest", "far"]);
    world
}
