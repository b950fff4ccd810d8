//! The same card again, a copy of it, its second half days later: nothing is counted twice.

use crate::world;
use std::fs;

use crate::world::World;
use serde_json::Value;

/// Every frame as JSON, without what names its place on the disk and its number in the catalogue.
fn frames(world: &World) -> Vec<Value> {
    let mut frames = world.run(&["frames", "--as", "json"]).json();
    for frame in frames.as_array_mut().unwrap() {
        let frame = frame.as_object_mut().unwrap();
        for key in ["path", "dump", "session"] {
            frame.remove(key);
        }
        for file in frame["files"].as_array_mut().unwrap() {
            file.as_object_mut().unwrap().remove("path");
        }
    }
    let mut frames: Vec<Value> = frames.as_array().unwrap().clone();
    frames.sort_by_key(ToString::to_string);
    frames
}

#[test]
fn a_second_ingest_reads_nothing_and_changes_nothing() {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.run(&["ingest", "card"]).ended(0);
    let before = frames(&world);
    let again = world.run(&["ingest", "card"]).ended(0);
    assert_eq!(again.number("unchanged, not read again"), 80);
    assert_eq!(again.number("frames new"), 0);
    assert!(again.out.contains("0.0 MB read"), "{}", again.out);
    assert_eq!(frames(&world), before);
}

#[test]
fn a_copy_of_a_card_is_further_copies_not_further_frames() {
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.dump("geminids-body-a", "backup", |_| true);
    world.run(&["ingest", "card"]).ended(0);
    let copy = world.run(&["ingest", "backup"]).ended(0);
    assert_eq!(copy.number("frames new"), 0);
    assert_eq!(copy.number("further copies"), 80);
    let frames = world.run(&["frames", "--as", "json"]).json();
    assert_eq!(frames.as_array().unwrap().len(), 72);
    for frame in frames.as_array().unwrap() {
        let files = frame["files"].as_array().unwrap();
        let copies = files.iter().filter(|f| f["further_copy"] == true).count();
        assert_eq!(copies * 2, files.len(), "each file once, and its copy");
    }
}

#[test]
fn a_second_card_of_the_night_extends_the_session() {
    let whole = World::new();
    whole.dump("geminids-body-a", "card", |_| true);
    whole.run(&["ingest", "card"]).ended(0);

    // The card was full in the middle of the evening's run.
    let halves = World::new();
    halves.dump("geminids-body-a", "one", |name| name < "N6A_0430.DNG");
    halves.dump("geminids-body-a", "two", |name| name >= "N6A_0430.DNG");
    halves.run(&["ingest", "one"]).ended(0);
    let first = halves.run(&["sessions", "--as", "json"]).json();
    halves.run(&["ingest", "two"]).ended(0);
    let both = halves.run(&["sessions", "--as", "json"]).json();
    assert_eq!(first.as_array().unwrap().len(), 2);
    assert_eq!(both.as_array().unwrap().len(), 4);
    assert_eq!(
        first[1]["session"], both[1]["session"],
        "the session keeps its number"
    );
    assert_eq!(frames(&whole), frames(&halves));

    // Ingested in the other order, the catalogue gives the same answers.
    let turned = World::new();
    turned.dump("geminids-body-a", "two", |name| name >= "N6A_0430.DNG");
    turned.dump("geminids-body-a", "one", |name| name < "N6A_0430.DNG");
    turned.run(&["ingest", "two"]).ended(0);
    turned.run(&["ingest", "one"]).ended(0);
    assert_eq!(frames(&whole), frames(&turned));
}

#[test]
fn a_folder_of_a_dump_or_around_it_holds_the_same_files() {
    let world = World::new();
    world.dump("geminids-body-a", "cards/a", |_| true);
    world.dump("eta-aquariids", "cards/b", |_| true);
    world.run(&["ingest", "cards/a"]).ended(0);
    let inside = world.run(&["ingest", "cards/a/DCIM/101NCTRN"]).ended(0);
    assert_eq!(
        inside.number("frames new") + inside.number("further copies"),
        0
    );
    assert_eq!(inside.number("unchanged, not read again"), 28);
    let around = world.run(&["ingest", "cards"]).ended(0);
    assert_eq!(around.number("unchanged, not read again"), 80);
    assert_eq!(around.number("frames new"), 38);
    assert_eq!(around.number("further copies"), 0);
}

#[test]
fn raw_and_jpeg_on_two_cards_are_one_frame() {
    let one = World::new();
    one.dump("geminids-body-a", "both", |_| true);
    one.run(&["ingest", "both"]).ended(0);
    let two = World::new();
    two.dump("geminids-body-a", "jpeg", |name| name.contains(".JPG"));
    two.dump("geminids-body-a", "raw", |name| name.contains(".DNG"));
    two.run(&["ingest", "jpeg"]).ended(0);
    let raw = two.run(&["ingest", "raw"]).ended(0);
    assert_eq!(raw.number("further files of a frame"), 8);
    assert_eq!(frames(&one), frames(&two));
}

#[test]
fn a_changed_file_is_read_again_and_a_touched_one_says_the_same() {
    let world = World::new();
    world.dump("geminids-body-b", "card", |_| true);
    world.run(&["ingest", "card"]).ended(1);
    let before = frames(&world);
    let first = world.path("card/DCIM/100NCTRN/N2M_2207.DNG");
    let bytes = fs::read(&first).unwrap();
    fs::write(&first, &bytes).unwrap();
    // The card holds another file that is damaged, whichever run found it.
    let touched = world.run(&["ingest", "card"]).ended(1);
    assert_eq!(touched.number("frames new"), 0);
    assert_eq!(touched.number("known, read again"), 1);
    assert_eq!(frames(&world), before, "only its time stamp had changed");
    fs::write(&first, world::with_reading(&bytes, "2023:12:13 22:31:00")).unwrap();
    let changed = world.run(&["ingest", "card"]).ended(1);
    assert_eq!(changed.number("known, read again"), 1);
    let frame = world
        .run(&["frames", "file = 'N2M_2207.DNG'", "--as", "json"])
        .json();
    assert_eq!(frame[0]["clock_local"], "2023-12-13T22:31:00");
    assert_eq!(
        world.run(&["frames", "--count"]).out.trim(),
        before.len().to_string()
    );
    let audit = world.run(&["audit"]).ended(1);
    assert!(audit.out.contains("changed"), "{}", audit.out);
}

#[test]
fn statements_of_a_frame_whose_file_holds_another_one_now_wait_for_it() {
    let world = World::new();
    world.dump("geminids-body-b", "card", |_| true);
    world.run(&["ingest", "card"]).ended(1);
    let lost = world.path("card/DCIM/100NCTRN/N2M_2207.DNG");
    let former = fs::read(&lost).unwrap();
    let looked = || {
        let shown = [
            "frames",
            "looked = yes",
            "--show",
            "start,file",
            "--as",
            "csv",
        ];
        world.run(&shown).out
    };
    world
        .run(&["frames", "mark", "file = 'N2M_2207.DNG'", "--looked", "yes"])
        .ended(0);
    let before = looked();
    fs::copy(world.path("card/DCIM/100NCTRN/N2M_2212.DNG"), &lost).unwrap();
    world.run(&["ingest", "card"]).ended(1);
    let told = world.run(&["audit", "--all", "--as", "json"]).ended(1).out;
    assert!(told.contains("the statements wait for it"), "{told}");
    assert_eq!(looked().lines().count(), 1, "no frame but the heading");
    // Elsewhere, under another name: what was stated applies again.
    world.write("copy/X.DNG", &former);
    world.run(&["ingest", "copy"]).ended(0);
    assert_eq!(looked(), before.replace("N2M_2207.DNG", "X.DNG"));
}

#[test]
fn a_frame_whose_file_tells_its_time_no_more_leaves_its_session() {
    let spoil = |world: &World| {
        // One loses its time alone, the other the body's name too.
        let timeless = world.path("card/DCIM/100NCTRN/N2M_2207.DNG");
        let bytes = fs::read(&timeless).unwrap();
        fs::write(
            &timeless,
            world::with_reading(&bytes, "0000:00:00 00:00:00"),
        )
        .unwrap();
        let cut = world.path("card/DCIM/100NCTRN/N2M_2212.DNG");
        let bytes = fs::read(&cut).unwrap();
        fs::write(&cut, &bytes[..100]).unwrap();
    };
    let (world, fresh) = (World::new(), World::new());
    for world in [&world, &fresh] {
        world.dump("geminids-body-b", "card", |_| true);
    }
    world.run(&["ingest", "card"]).ended(1);
    spoil(&world);
    let again = world.run(&["ingest", "card"]).ended(1);
    assert_eq!(again.number("sessions touched"), 1);
    spoil(&fresh);
    fresh.run(&["ingest", "card"]).ended(1);
    assert_eq!(frames(&world), frames(&fresh));
    let sessions = |world: &World| world.run(&["sessions", "--as", "csv"]).out;
    assert_eq!(sessions(&world), sessions(&fresh));
}

#[test]
fn a_whole_copy_of_a_damaged_file_mends_the_frame() {
    let world = World::new();
    let whole = world::frame_at("2023:12:13 22:31:00");
    world.write(
        "card/DCIM/100NCTRN/N2M_0001.DNG",
        &whole[..whole.len() - 2000],
    );
    world.write("backup/DCIM/100NCTRN/N2M_0001.DNG", &whole);
    world.run(&["ingest", "card"]).ended(1);
    let mended = world.run(&["ingest", "backup"]).ended(0);
    assert_eq!(mended.number("frames new"), 0);
    let frames = world.run(&["frames", "--as", "json"]).json();
    assert_eq!(frames.as_array().unwrap().len(), 1);
    assert_eq!(frames[0]["health"], "sound");
    assert!(frames[0]["path"].as_str().unwrap().contains("backup"));
}

#[test]
fn deriving_everything_anew_changes_nothing() {
    use framefall::catalogue::handle::Catalogue;
    use framefall::catalogue::purpose::Purpose;
    use framefall::catalogue::read::Scope;
    use framefall::usecase::derive::rederive::Mode;
    use framefall::usecase::derive::rederive::rederive;
    let world = World::new();
    world.dump("geminids-body-a", "card", |_| true);
    world.run(&["ingest", "card"]).ended(0);
    let before = world.run(&["frames", "--as", "json"]).out;
    let sessions = world.run(&["sessions", "--as", "json"]).out;
    let mut catalogue = Catalogue::open(&world.path("catalogue.sqlite"), Purpose::Change).unwrap();
    let all = catalogue.frame_ids(&Scope::All).unwrap();
    let done = rederive(&mut catalogue, Mode::Lasting, |_| Ok(all), &mut |_, _| {}).unwrap();
    assert_eq!(
        (done.moved, done.split, done.joined),
        (0, 0, 0),
        "nothing moved"
    );
    assert_eq!(done.frames, 72);
    drop(catalogue);
    assert_eq!(world.run(&["frames", "--as", "json"]).out, before);
    assert_eq!(world.run(&["sessions", "--as", "json"]).out, sessions);
    let db = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    let whole: String = db
        .pragma_query_value(None, "integrity_check", |row| row.get(0))
        .unwrap();
    assert_eq!(whole, "ok");
    let strays: i64 = db
        .query_row(
            "SELECT count(*) FROM derived_radiant LEFT JOIN derived_sky USING (frame_id)
             LEFT JOIN derived_active USING (active_id)
             JOIN derived_shower AS shower ON shower.shower_id = derived_radiant.shower_id
             WHERE instr(ifnull(showers, ''), shower.code) = 0",
            [],
            |row| row.get(0),
        )
        .unwrap();
    assert_eq!(strays, 0, "no radiant is left over from before");
}
