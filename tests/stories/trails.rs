//! A photographer marks trails in pictures, says what each is, and finds the frames again.

use std::fs;

use serde_json::Value;

use crate::world::Said;
use crate::world::World;

const CARD: &str = "geminids-body-a";

fn night() -> World {
    let world = World::new();
    world.dump(CARD, CARD, |_| true);
    world.site("Salt Ridge", "38.93", "-116.01");
    world
        .run(&["ingest", "--site", "Salt Ridge", CARD])
        .ended(0);
    world
}

fn trails(world: &World, words: &[&str]) -> Said {
    world.run(&[&["trails"], words].concat())
}

fn add(world: &World, frame: &str, ends: [&str; 2], is: &[&str]) -> u64 {
    let words = [
        &["add", frame, "--from", ends[0], "--to", ends[1], "--is"],
        is,
    ]
    .concat();
    trails(world, &words).ended(0).number("trail")
}

fn count(world: &World, query: &str) -> u64 {
    let said = world.run(&["frames", query, "--count"]);
    said.out.trim().parse().unwrap()
}

/// What is judged and removed of the four trails counts at once.
fn change_and_remove(world: &World, file: &str) {
    assert_eq!(
        trails(world, &["judge", "2", "4", "--is", "aircraft"])
            .ended(0)
            .number("trails changed"),
        2
    );
    assert_eq!(
        trails(world, &["judge", "1", "--is", "meteor"])
            .ended(0)
            .number("trails changed"),
        0
    );
    assert_eq!(
        (count(world, "meteors > 0"), count(world, "trails > 0")),
        (2, 3)
    );
    assert_eq!(
        trails(world, &["remove", "1", "2", "--dry-run"])
            .ended(0)
            .number("trails changed"),
        2
    );
    assert_eq!(count(world, "trails = 2"), 1);
    trails(world, &["remove", "1", "2"]).ended(0);
    assert_eq!(
        (
            count(world, "trails > 0"),
            count(world, "meteor.shower is known")
        ),
        (2, 1)
    );
    // A number is never given twice.
    assert_eq!(add(world, file, ["12,8.255", "40.5,30"], &["other"]), 5);
}

#[test]
fn trails_are_added_listed_judged_and_removed() {
    let world = night();
    let file = world
        .run(&["frames", "session = 2 and seq = 2", "--as", "json"])
        .json()[0]["file"]
        .as_str()
        .unwrap()
        .to_owned();
    let all = count(&world, "trails = 0");
    let gem = add(
        &world,
        &file,
        ["12,8.255", "40.5,30"],
        &["meteor", "--shower", "gem"],
    );
    let other = add(
        &world,
        "session = 2 and seq = 2",
        ["1,1", "4,5"],
        &["satellite"],
    );
    let sporadic = add(
        &world,
        "session = 2 and seq = 4",
        ["1,1", "4,5"],
        &["meteor", "--shower", "sporadic"],
    );
    let unsaid = add(
        &world,
        "session = 2 and seq = 5",
        ["1,1", "4,5"],
        &["meteor"],
    );
    assert_eq!([gem, other, sporadic, unsaid], [1, 2, 3, 4]);
    // The same trail again is the same one.
    assert_eq!(
        add(
            &world,
            "session = 2 and seq = 5",
            ["1,1", "4,5"],
            &["meteor"]
        ),
        4
    );

    let listed = trails(&world, &["2", "--as", "json"]).ended(0).json();
    let of = |at: usize, key: &str| listed[at][key].clone();
    assert_eq!(listed.as_array().unwrap().len(), 4);
    assert_eq!(of(0, "file"), file.as_str());
    assert_eq!(
        [of(0, "from_x_px"), of(0, "from_y_px")],
        [Value::from(12), Value::from(8.26)]
    );
    assert_eq!(
        [of(0, "to_x_px"), of(0, "to_y_px")],
        [Value::from(40.5), Value::from(30)]
    );
    assert_eq!(
        [of(1, "length_px"), of(1, "is"), of(1, "shower")],
        [Value::from(5), "satellite".into(), Value::Null]
    );
    assert_eq!([of(0, "shower"), of(2, "shower")], ["GEM", "sporadic"]);
    let date = world.run(&["frames", "session = 2", "--as", "json"]).json()[0]["night"]
        .as_str()
        .unwrap()
        .to_owned();
    for words in [
        &[date.as_str(), "--as", "json"][..],
        &["trails > 0", "--as", "json"],
    ] {
        assert_eq!(trails(&world, words).ended(0).json(), listed, "{words:?}");
    }

    for (query, frames) in [
        ("trails > 0", 3),
        ("trails = 2", 1),
        ("meteors > 0", 3),
        ("meteors > 0 and meteor.shower = GEM", 1),
        ("meteor.shower like '*GEM*' or meteor.shower = sporadic", 2),
        ("meteors = 1 and meteor.shower is unknown", 1),
        ("trails = 0", all - 3),
    ] {
        assert_eq!(count(&world, query), frames, "{query}");
    }
    change_and_remove(&world, &file);
    let shown = world.run(&["statement", "list"]).ended(0).out;
    for part in ["meteor (GEM)", "40.5,30: none", "aircraft"] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
}

#[test]
fn trails_go_to_another_catalogue_and_wait_for_their_frames() {
    let world = night();
    add(
        &world,
        "session = 2 and seq = 2",
        ["12,8", "40.5,30"],
        &["meteor", "--shower", "GEM"],
    );
    add(
        &world,
        "session = 2 and seq = 2",
        ["1,1", "4,5"],
        &["satellite"],
    );
    add(
        &world,
        "session = 2 and seq = 3",
        ["1,1", "4,5"],
        &["meteor"],
    );
    trails(
        &world,
        &["judge", "3", "--is", "meteor", "--shower", "sporadic"],
    )
    .ended(0);
    trails(&world, &["remove", "2"]).ended(0);
    world.run(&["statement", "save", "log.jsonl"]).ended(0);
    let other = |words: &[&str]| {
        let at = world.path("other.sqlite");
        world.run(&[&["--catalogue", at.to_str().unwrap()], words].concat())
    };
    let listed = |said: Said| -> Vec<Value> {
        let mut all = said.ended(0).json().as_array().unwrap().clone();
        for trail in &mut all {
            trail.as_object_mut().unwrap().remove("trail");
        }
        all
    };
    other(&["statement", "take", "log.jsonl"]).ended(1);
    other(&["ingest", CARD]);
    let has = listed(other(&["trails", "trails > 0", "--as", "json"]));
    assert_eq!(has.len(), 2);
    assert_eq!(
        has,
        listed(world.run(&["trails", "trails > 0", "--as", "json"]))
    );
    // A line that is not a trail is refused.
    let text = fs::read_to_string(world.path("log.jsonl")).unwrap();
    for (right, wrong) in [
        ("\"from_px\":[12", "\"from_px\":[-12"),
        ("\"is\":\"satellite\"", "\"is\":\"comet\""),
    ] {
        assert!(text.contains(right), "{right}");
        world.write("wrong.jsonl", text.replacen(right, wrong, 1).as_bytes());
        let said = other(&["statement", "take", "wrong.jsonl"]).ended(2);
        assert!(said.err.contains("is not a statement"), "{}", said.err);
    }
}

#[test]
fn what_cannot_be_a_trail_is_refused() {
    let world = night();
    let refused = |words: &[&str], part: &str| {
        let said = trails(&world, words).ended(2);
        assert!(said.err.contains(part), "{words:?}: {}", said.err);
    };
    let one = "session = 2 and seq = 2";
    let is = ["--is", "meteor"];
    let add = |frame, from, to, more: &[&'static str]| {
        [&["add", frame, "--from", from, "--to", to], more].concat()
    };
    refused(&add(one, "1", "2,3", &is), "is not a point of a picture");
    refused(&add(one, "-1,2", "2,3", &is), "is not a point of a picture");
    refused(&add(one, "1,2", "1,2", &is), "the same point");
    refused(&add(one, "1,2", "900000,3", &is), "outside the picture");
    refused(&add(one, "1,2", "2,3", &["--is", "comet"]), "comet");
    refused(
        &add(one, "1,2", "2,3", &["--is", "aircraft", "--shower", "GEM"]),
        "an aircraft has no shower",
    );
    refused(
        &add(one, "1,2", "2,3", &["--is", "meteor", "--shower", "XXX"]),
        "no shower",
    );
    refused(&add("session = 2", "1,2", "2,3", &is), "frames");
    refused(
        &add("no such 'file\".DNG", "1,2", "2,3", &is),
        "no frame is named",
    );
    refused(&["judge", "7", "--is", "meteor"], "no trail 7");
    refused(&["remove", "7"], "no trail 7");
    refused(&[], "required");
    assert_eq!(count(&world, "trails > 0"), 0);
    let none = trails(&world, &["2"]).ended(0);
    assert!(
        format!("{}{}", none.out, none.err).contains("no trails are stated"),
        "{}{}",
        none.out,
        none.err
    );
}

#[test]
fn acts_of_looking_are_taken_back_and_stated_again() {
    let world = night();
    let undo = |words: &[&str]| {
        world
            .run(&[&["statement", "undo"], words].concat())
            .ended(0)
    };
    let of_two = "session = 2 and seq in 1..2";
    let state = || {
        let keys = ["file", "looked", "chosen", "note", "trails", "meteors"];
        let frames = world.run(&["frames", of_two, "--as", "json"]).json();
        let all = frames.as_array().unwrap().iter();
        all.map(|frame| keys.map(|key| frame[key].clone()))
            .collect::<Vec<_>>()
    };
    let mark = |query: &str, words: &[&str]| {
        world
            .run(&[&["frames", "mark", query], words].concat())
            .ended(0);
    };
    let mut states = vec![state()];
    let then = |states: &mut Vec<_>| states.push(state());
    mark("session = 2 and seq = 1", &["--chosen", "no"]);
    then(&mut states);
    // Two statements, one act; the frames were different before.
    mark(of_two, &["--chosen", "yes", "--note", "both"]);
    then(&mut states);
    add(
        &world,
        "session = 2 and seq = 1",
        ["1,1", "9,9"],
        &["meteor"],
    );
    then(&mut states);
    trails(&world, &["judge", "1", "--is", "aircraft"]).ended(0);
    then(&mut states);
    trails(&world, &["remove", "1"]).ended(0);
    then(&mut states);
    for before in states[..5].iter().rev() {
        undo(&["--dry-run"]);
        undo(&[]);
        assert_eq!(&state(), before);
    }
    assert!(undo(&[]).err.contains("nothing can be taken back"));
    for after in &states[1..] {
        undo(&["--again"]);
        assert_eq!(&state(), after);
    }
    assert!(
        undo(&["--again"])
            .err
            .contains("nothing can be stated again")
    );
    // What is stated in between ends the way forward.
    undo(&[]);
    mark("session = 2 and seq = 2", &["--looked", "yes"]);
    assert!(
        undo(&["--again"])
            .err
            .contains("nothing can be stated again")
    );
    undo(&[]);
    undo(&[]);
    assert_eq!(state(), states[3]);
    // Another catalogue takes the whole history and comes to the same.
    world.run(&["statement", "save", "log.jsonl"]).ended(0);
    let other = |words: &[&str]| {
        let at = world.path("other.sqlite");
        world.run(&[&["--catalogue", at.to_str().unwrap()], words].concat())
    };
    other(&["ingest", CARD]);
    other(&["statement", "take", "log.jsonl"]).ended(0);
    let frames = |said: Said| said.json()[0]["chosen"].clone();
    assert_eq!(
        frames(other(&["frames", of_two, "--as", "json"])),
        frames(world.run(&["frames", of_two, "--as", "json"]))
    );
}
