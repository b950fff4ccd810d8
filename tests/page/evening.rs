//! A whole evening by keys.

use serde_json::Value;

use crate::access::Checker;
use crate::served::Served;
use crate::tab::Browser;
use crate::tab::Tab;
use crate::world::World;

const CARD: &str = "geminids-body-a";

pub fn night() -> World {
    let world = World::new();
    world.dump(CARD, CARD, |_| true);
    world.site("Salt Ridge", "38.93", "-116.01");
    world
        .run(&["ingest", "--site", "Salt Ridge", CARD])
        .ended(0);
    world
}

pub fn opened(browser: &Browser, served: &Served) -> Tab {
    let mut tab = browser.open(&served.address, 1280, 800);
    tab.wait(
        "document.querySelector('#map svg') && document.querySelector('#picture').dataset.shown",
    );
    tab
}

/// Waits until the live region says this.
pub fn said(tab: &mut Tab, words: &str) {
    tab.wait(&format!(
        "document.getElementById('said').textContent.includes({})",
        Value::from(words)
    ));
}

pub fn count(world: &World, query: &str) -> u64 {
    let said = world.run(&["frames", query, "--count"]);
    said.out.trim().parse().unwrap()
}

const CURRENT: &str = "document.getElementById('name').textContent";

#[test]
#[allow(clippy::too_many_lines)] // one evening, from the first key to the last
fn a_night_is_judged_by_keys_alone_and_is_in_the_catalogue() {
    let Some(browser) = Browser::start() else {
        return;
    };
    let world = night();
    let mut served = Served::start(&world, "2");
    let mut tab = opened(&browser, &served);
    let first = tab.value(CURRENT).as_str().unwrap().to_owned();

    tab.key("l");
    said(&mut tab, "looked at");
    tab.key("c");
    said(&mut tab, "chosen");
    tab.key("n");
    tab.wait("document.activeElement.id === 'note'");
    tab.write("bright & <b>low</b> \"west\" \u{202e}abc");
    tab.key("Enter");
    said(&mut tab, "note saved");
    assert_eq!(
        count(
            &world,
            "looked = yes and chosen = yes and note like '*<b>low*'"
        ),
        1
    );

    // A trail by keys: the cross starts in the middle.
    tab.key("t");
    for _ in 0..3 {
        tab.key("ArrowRight");
    }
    tab.shifted("ArrowDown");
    tab.key("Enter");
    for _ in 0..4 {
        tab.key("ArrowUp");
    }
    tab.key("Enter");
    said(&mut tab, "What is it");
    tab.key("m");
    said(&mut tab, "trail added");
    tab.wait("document.querySelectorAll('#over line.trail').length === 1");
    // Its shower, as listed.
    tab.wait("document.querySelector('#trails kbd')");
    tab.key("1");
    said(&mut tab, "1 trail stated to be meteor");
    let trails = world.run(&["trails", "2", "--as", "json"]).json();
    assert_eq!(trails[0]["file"], first.as_str());
    assert_eq!(
        (&trails[0]["is"], &trails[0]["shower"]),
        (&"meteor".into(), &"GEM".into())
    );
    // Previews of the demo are 240 by 160, the pictures 96 by 64: 24 px to the right is 9.6, half a pixel down 0.2.
    let px = |key: &str| trails[0][key].as_f64().unwrap();
    assert!((px("from_x_px") - 57.6).abs() < 0.01, "{trails}");
    assert!((px("from_y_px") - 32.2).abs() < 0.011, "{trails}");
    assert!((px("from_x_px") - px("to_x_px")).abs() < 0.01);
    assert!((px("from_y_px") - px("to_y_px") - 12.8).abs() < 0.011);

    // Another by two clicks.
    tab.key("t");
    let at = |tab: &mut Tab, what: &str| {
        tab.value(&format!(
            "document.getElementById('stage').getBoundingClientRect().{what}"
        ))
        .as_f64()
        .unwrap()
    };
    let (x, y) = (
        at(&mut tab, "x") + at(&mut tab, "width") / 2.0,
        at(&mut tab, "y") + 60.0,
    );
    tab.click(x, y);
    tab.click(x + 60.0, y + 90.0);
    tab.key("s");
    tab.wait("document.querySelectorAll('#over line.trail').length === 2");
    assert_eq!(count(&world, "trails = 2 and meteors = 1"), 1);

    // Blink: the frame before is shown while the key is held.
    tab.key("ArrowRight");
    tab.wait(&format!(
        "{CURRENT} !== '{first}' && document.querySelector('#picture').dataset.shown"
    ));
    let shown = "document.querySelector('#picture').dataset.shown";
    let second = tab.value(shown);
    tab.down("b", 0);
    tab.wait(&format!("{shown} && {shown} !== {second}"));
    tab.up("b");
    tab.wait(&format!("{shown} === {second}"));

    // A run of four frames in one act.
    tab.key("r");
    for _ in 0..3 {
        tab.key("ArrowRight");
    }
    tab.key("l");
    said(&mut tab, "4 frames: looked at");
    tab.key("r");
    assert_eq!(count(&world, "looked = yes"), 5);

    // Back, one act at a time, also after a restart.
    tab.key("u");
    said(&mut tab, "taken back in 4 frames");
    assert_eq!(count(&world, "looked = yes"), 1);
    assert_eq!(tab.complaints, Vec::<String>::new());
    served.kill();
    let served = Served::start(&world, "2");
    let mut tab = opened(&browser, &served);
    tab.shifted("U");
    said(&mut tab, "stated again in 4 frames");
    assert_eq!(count(&world, "looked = yes"), 5);
    for _ in 0..7 {
        tab.key("u");
        said(&mut tab, "taken back");
        tab.value("document.getElementById('said').textContent = ''");
    }
    assert_eq!(
        count(
            &world,
            "looked = yes or chosen is known or note is known or trails > 0"
        ),
        0
    );
    tab.key("u");
    said(&mut tab, "nothing can be taken back");
    for _ in 0..7 {
        tab.shifted("U");
        said(&mut tab, "stated again");
        tab.value("document.getElementById('said').textContent = ''");
    }
    assert_eq!(
        count(
            &world,
            "looked = yes and chosen = yes and note like '*<b>low*' and trails = 2"
        ),
        1
    );
    assert_eq!(count(&world, "looked = yes"), 5);
    assert_eq!(tab.complaints, Vec::<String>::new());
}

#[test]
fn a_killed_server_loses_nothing_that_was_stated() {
    let Some(browser) = Browser::start() else {
        return;
    };
    let world = night();
    let mut served = Served::start(&world, "2");
    let mut tab = opened(&browser, &served);
    for judged in 1..=6 {
        tab.key(" ");
        tab.wait(&format!(
            "document.getElementById('counts').textContent.includes('looked at {judged};')"
        ));
    }
    served.kill();
    assert_eq!(count(&world, "looked = yes"), 6);
    tab.key("l");
    said(&mut tab, "Not saved: framefall has ended");
    assert_eq!(count(&world, "looked = yes"), 6);
}

#[test]
fn two_pages_and_commands_see_each_other() {
    let Some(browser) = Browser::start() else {
        return;
    };
    let world = night();
    let served = Served::start(&world, "2");
    let (mut one, mut other) = (opened(&browser, &served), opened(&browser, &served));
    one.key("l");
    other.wait("document.getElementById('marks').textContent.startsWith('looked at')");
    world
        .run(&[
            "frames",
            "mark",
            "session = 2 and seq = 1",
            "--chosen",
            "no",
            "--note",
            "<script>alert(1)</script>",
        ])
        .ended(0);
    for tab in [&mut one, &mut other] {
        tab.wait(
            "document.getElementById('marks').textContent.includes('not chosen; note: <script>')",
        );
    }
    // A page that is opened now has it from the start, as text.
    let mut third = opened(&browser, &served);
    third.key("Home");
    third.wait("document.getElementById('marks').textContent === 'looked at; not chosen; note: <script>alert(1)</script>'");
    for tab in [one, other, third] {
        assert_eq!(tab.complaints, Vec::<String>::new());
    }
}

#[test]
fn a_dump_that_is_away_and_a_frame_without_a_preview_say_so() {
    let Some(browser) = Browser::start() else {
        return;
    };
    let world = night();
    let served = Served::start(&world, "2");
    std::fs::rename(world.path(CARD), world.path("away")).unwrap();
    let mut tab = browser.open(&served.address, 1280, 800);
    tab.wait("document.getElementById('why')?.hidden === false");
    let why = tab.value("document.getElementById('why').textContent");
    assert!(
        why.as_str()
            .unwrap()
            .contains("connect the disk of dump geminids-body-a"),
        "{why}"
    );
    // It can be judged all the same, and is shown when the disk is there again.
    tab.key("l");
    said(&mut tab, "looked at");
    assert_eq!(count(&world, "looked = yes"), 1);
    std::fs::rename(world.path("away"), world.path(CARD)).unwrap();
    tab.key("ArrowRight");
    tab.key("ArrowLeft");
    tab.wait("document.getElementById('why').hidden && document.getElementById('picture').ariaLabel.startsWith('Picture N6A')");
}

#[test]
fn pages_fit_from_390_to_3840_pixels() {
    let Some(browser) = Browser::start() else {
        return;
    };
    let world = night();
    crate::found::put_found(&world, crate::found::FOUND);
    crate::found::point(&world);
    let ends = [
        "--from", "30,20", "--to", "60,50", "--is", "meteor", "--shower", "GEM",
    ];
    world
        .run(&[&["trails", "add", "session = 2 and seq = 2"], &ends[..]].concat())
        .ended(0);
    world
        .run(&[
            "frames",
            "mark",
            "session = 2 and seq < 12",
            "--looked",
            "yes",
            "--chosen",
            "yes",
        ])
        .ended(0);
    let served = Served::start(&world, "2023-12-13");
    let checker = Checker::found();
    for width in [390, 1280, 2560, 3840] {
        let mut tab = browser.open(&served.address, width, width.clamp(800, 1600));
        tab.wait("document.querySelector('#map svg') && document.querySelector('#picture').dataset.shown");
        tab.key("i");
        tab.wait("document.querySelectorAll('#over line.trail').length === 1");
        tab.key("x");
        for key in ["p", "g", "k"] {
            tab.wait("document.getElementById('trails').textContent.includes('evidence')");
            tab.key(key);
        }
        tab.wait("document.querySelector('#over .radiant') && document.querySelector('#over .star') && document.querySelector('#over .circle')");
        tab.wait("document.getElementById('lane-view').clientWidth === document.getElementById('map').clientWidth");
        let wide = tab.value("document.documentElement.scrollWidth");
        assert!(
            wide.as_u64().unwrap() <= u64::from(width),
            "{width}: {wide}"
        );
        tab.screenshot(&format!("look-{width}.png"));
        checker.check(&mut tab, &width.to_string());
        tab.scheme("dark");
        tab.screenshot(&format!("look-{width}-dark.png"));
        checker.check(&mut tab, &format!("{width}, dark"));
        tab.key("d");
        checker.check(&mut tab, &format!("{width}, dim"));
        tab.key("n");
        tab.wait("document.activeElement.id === 'note'");
        checker.check(&mut tab, &format!("{width}, note"));
        tab.key("Escape");
        tab.value("document.getElementById('strip').focus()");
        tab.key("h");
        tab.wait("document.getElementById('help').open");
        tab.screenshot(&format!("look-{width}-keys.png"));
        checker.check(&mut tab, &format!("{width}, keys"));
    }
}

/// Ten thousand stated trails in one night: the page opens, and goes on answering keys.
#[test]
fn a_night_with_ten_thousand_trails_opens() {
    let Some(browser) = Browser::start() else {
        return;
    };
    let world = night();
    let catalogue = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    let rows = "WITH RECURSIVE n(k) AS (SELECT 0 UNION ALL SELECT k + 1 FROM n WHERE k < 9999) \
        INSERT INTO stated_trail (frame_id, from_x, from_y, to_x, to_y, judged) \
        SELECT 3 + k % 40, k, 10, 900, 700, 'satellite' FROM n";
    assert_eq!(catalogue.execute(rows, []).unwrap(), 10_000);
    drop(catalogue);
    let served = Served::start(&world, "2023-12-13");
    let mut tab = opened(&browser, &served);
    tab.key("i");
    tab.wait("document.querySelectorAll('#over line.trail').length === 250");
    tab.key("a");
    said(&mut tab, "1 trail stated to be aircraft");
    assert_eq!(tab.complaints, Vec::<String>::new());
}
