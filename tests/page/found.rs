//! Trails that were found: judged by keys in the order of their scores, with their evidence beside the picture; what is shown over the
//! picture; the comparison with a neighbouring frame turned by the sky's rotation.

use crate::evening::count;
use crate::evening::night;
use crate::evening::opened;
use crate::evening::said;
use crate::served::Served;
use crate::tab::Browser;
use crate::world::World;

/// A candidate as a search keeps it: position in session 2, ends in hundredths of a pixel, class, score, moving light.
pub type Candidate = (i64, [i64; 4], &'static str, f64, Option<i64>);

/// Candidates of each class.
pub const FOUND: &[Candidate] = &[
    (7, [1000, 1000, 2500, 2000], "meteor", 0.9, None),
    (12, [6000, 4000, 7000, 5500], "other-light", 0.1, None),
    (20, [500, 5000, 2000, 4500], "moving-light", 0.3, Some(3)),
    (21, [2200, 4400, 3700, 3900], "moving-light", 0.2, Some(3)),
    (22, [3900, 3800, 5400, 3300], "moving-light", 0.2, Some(3)),
    (21, [8000, 1000, 8500, 1500], "meteor", 0.19, None),
];

/// Puts candidates into the catalogue as a search does.
pub fn put_found(world: &World, found: &[Candidate]) {
    let catalogue = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    let measures = "line_snr, mean_snr, peak_snr, peak_at, lit, seen, off_line_px, bend_px, width_px, beside, ends, lopsided, peaks,
        unrest, starry, edge, goes_on, goes_on_both, goes_on_far, on_line, stays, twin, others, neighbours, linked, again, crowd";
    let values = vec!["4"; measures.split(',').count()].join(", ");
    let sql = format!(
        "INSERT INTO measured_trail (frame_id, from_x, from_y, to_x, to_y, class, score, light, {measures})
         VALUES ((SELECT frame_id FROM derived_time WHERE session_id = 2 AND seq = ?), ?, ?, ?, ?, ?, ?, ?, {values})"
    );
    let mut insert = catalogue.prepare(&sql).unwrap();
    catalogue.execute_batch("BEGIN").unwrap();
    for (seq, [a, b, c, d], class, score, light) in found {
        insert
            .execute(rusqlite::params![seq, a, b, c, d, class, score, light])
            .unwrap();
    }
    catalogue.execute_batch("COMMIT").unwrap();
}

/// States where the camera of session 2 pointed: at Gemini, level with the equator.
pub fn point(world: &World) {
    let header = "CTYPE1  = 'RA---TAN'\nCTYPE2  = 'DEC--TAN'\nCRVAL1  = 140.0\nCRVAL2  = 31.0\nCRPIX1  = 48.5\nCRPIX2  = 32.5\n\
        CD1_1   = -1.0\nCD2_2   = 1.0\nIMAGEW  = 96\nIMAGEH  = 64\n";
    world.write("solved.wcs", header.as_bytes());
    let words = [
        "pointing",
        "state",
        "2",
        "--frame",
        "N6A_0420.DNG",
        "--wcs",
        "solved.wcs",
    ];
    world.run(&words).ended(0);
}

#[test]
#[allow(clippy::too_many_lines)] // one evening, from the first candidate to the last
fn candidates_are_judged_by_keys_in_the_order_of_their_scores() {
    let Some(browser) = Browser::start() else {
        return;
    };
    let world = night();
    put_found(&world, &FOUND[..5]);
    point(&world);
    let served = Served::start(&world, "2");
    let (mut tab, mut other) = (opened(&browser, &served), opened(&browser, &served));
    let left = |words: &str| {
        format!("document.getElementById('counts').textContent.includes('to be judged {words}')")
    };
    // What another program finds meanwhile is shown.
    tab.wait(&left("5"));
    put_found(&world, &FOUND[5..]);
    for tab in [&mut tab, &mut other] {
        tab.wait(&left("6"));
    }

    // The likeliest meteor first, with its evidence.
    tab.key("x");
    said(&mut tab, "Candidate 1 of 6, score 0.90");
    tab.wait("document.querySelector('#trails button[aria-current=true]')?.textContent.includes('found: meteor, score 0.90')");
    tab.wait(
        "document.getElementById('trails').textContent.includes('evidence: 4 times the noise')",
    );
    tab.wait("document.querySelector('#over line.trail.found')");
    assert_eq!(
        tab.value("document.getElementById('name').textContent"),
        "N6A_0420.DNG"
    );

    // Over the picture on request.
    assert_eq!(
        tab.value("document.querySelectorAll('#over .radiant, #over .circle, #over .star').length"),
        0
    );
    tab.key("p");
    tab.wait("document.querySelector('#over circle.radiant')");
    let radiants = tab.value(
        "[...document.querySelectorAll('#over text.radiant')].map((t) => t.textContent).join()",
    );
    assert!(radiants.as_str().unwrap().contains("GEM"), "{radiants}");
    // The southern ones are beyond the edge, with their distances.
    assert!(radiants.as_str().unwrap().contains('°'), "{radiants}");
    tab.wait("document.querySelector('#over polygon.radiant')");
    tab.key("k");
    tab.wait(
        "[...document.querySelectorAll('#over text.star')].some((t) => t.textContent === 'Castor')",
    );
    tab.key("g");
    tab.wait("document.querySelector('#over polyline.circle')");

    // Its shower in one act: the digit judges a candidate for a meteor.
    tab.key("m");
    said(&mut tab, "1 trail stated to be meteor");
    tab.wait("document.querySelector('#trails button[aria-current=true]')?.textContent.startsWith('meteor')");
    for tab in [&mut tab, &mut other] {
        tab.wait(&left("5"));
    }
    tab.key("1");
    said(&mut tab, "1 trail stated to be meteor");
    assert_eq!(count(&world, "meteors = 1 and looked = no and seq = 7"), 1);

    // A moving light over three frames is one act; what else is in them stays.
    tab.key("x");
    said(&mut tab, "Candidate 1 of 5, score 0.30");
    tab.key("w");
    said(&mut tab, "Run of 3 frames");
    tab.key("s");
    said(&mut tab, "3 trails stated to be satellite");
    tab.wait(&left("2"));
    tab.key("Escape");
    tab.key("u");
    said(&mut tab, "taken back in 3 frames");
    for tab in [&mut tab, &mut other] {
        tab.wait(&left("5"));
    }
    tab.shifted("U");
    said(&mut tab, "stated again in 3 frames");
    tab.wait(&left("2"));
    tab.key("x");
    said(&mut tab, "Candidate 1 of 2, score 0.19");
    tab.shifted("X");
    said(&mut tab, "No further candidate that way.");
    tab.key("x");
    said(&mut tab, "Candidate 2 of 2, score 0.10");
    tab.key("Delete");
    said(&mut tab, "A candidate is judged");
    tab.key("o");
    said(&mut tab, "1 trail stated to be other");
    let trails = world.run(&["trails", "2", "--as", "json"]).json();
    let is: Vec<&str> = trails
        .as_array()
        .unwrap()
        .iter()
        .map(|trail| trail["is"].as_str().unwrap())
        .collect();
    assert_eq!(
        is,
        [
            "meteor",
            "other",
            "satellite",
            "satellite",
            "satellite",
            "meteor"
        ]
    );
    assert!(
        trails[5]["trail"].is_null() && trails[0]["shower"] == "GEM",
        "{trails}"
    );

    // The frame before, turned by the sky's rotation; as it is, where it is not known where the camera pointed.
    let turned = "document.getElementById('picture').dataset.turned";
    tab.key("ArrowLeft");
    tab.wait(&format!("{turned} === 'false'"));
    tab.down("b", 0);
    tab.wait(&format!("{turned} === 'true'"));
    tab.up("b");
    tab.wait(&format!("{turned} === 'false'"));
    tab.down("b", 0);
    assert_eq!(tab.value(turned), "true");
    said(&mut tab, "turned with the sky");
    tab.up("b");
    assert_eq!(tab.complaints, Vec::<String>::new());
    assert_eq!(other.complaints, Vec::<String>::new());
}

/// Ten thousand candidates in one night: the page opens, and goes on answering keys.
#[test]
fn ten_thousand_candidates_are_judged_like_ten() {
    let Some(browser) = Browser::start() else {
        return;
    };
    let world = night();
    let found: Vec<Candidate> = (0..10_000)
        .map(|k: i32| {
            let at = i64::from(k);
            let ends = [at % 9000, 100, at % 9000 + 500, 6000];
            (
                1 + at % 44,
                ends,
                "other-light",
                f64::from(k) / 10_000.0,
                None,
            )
        })
        .collect();
    put_found(&world, &found);
    let served = Served::start(&world, "2");
    let mut tab = opened(&browser, &served);
    for (key, words) in [
        ("x", "Candidate 1 of 10000, score 1.00"),
        ("x", "Candidate 2 of 10000, score 1.00"),
        ("a", "1 trail stated to be aircraft"),
        // What lies along the stated trail is hidden by it.
        ("x", "Candidate 2 of 99"),
        ("u", "taken back in 1 frame"),
    ] {
        tab.key(key);
        said(&mut tab, words);
    }
    tab.wait("document.getElementById('counts').textContent.includes('to be judged 10000')");
    assert_eq!(
        tab.value("document.querySelectorAll('#candidates li').length"),
        12
    );
    assert_eq!(tab.complaints, Vec::<String>::new());
}

/// Names of files and folders are text on the page, whatever is in them; a frame without a preview says so.
#[test]
fn odd_names_are_text_and_a_frame_without_a_preview_says_so() {
    let Some(browser) = Browser::start() else {
        return;
    };
    let world = World::new();
    world.site("Salt Ridge", "38.93", "-116.01");
    let names = [
        (
            "N6A_0414.DNG",
            "<i id=\"x\" onmouseover='alert(1)'>&amp;\u{202e}GND.DNG",
        ),
        ("N6A_0415.DNG", "' onerror=\"alert(1)\" %2F ?#.DNG"),
    ];
    for (from, to) in names {
        let from = crate::world::demo("geminids-body-a")
            .join("DCIM/100NCTRN")
            .join(from);
        world.write(
            &format!("<b>card \"one\"/{to}"),
            &std::fs::read(from).unwrap(),
        );
    }
    world.run(&["ingest", "<b>card \"one\""]).ended(0);
    let catalogue = rusqlite::Connection::open(world.path("catalogue.sqlite")).unwrap();
    let without = "UPDATE written_file SET preview_offset = NULL, preview_bytes = NULL WHERE name LIKE '%onerror%'";
    assert_eq!(catalogue.execute(without, []).unwrap(), 1);
    drop(catalogue);
    let served = Served::start(&world, "seq >= 1");
    let mut tab = opened(&browser, &served);
    let name = tab.value("document.getElementById('name').textContent");
    let name = name.as_str().unwrap();
    assert!(
        name.starts_with("<i id=\"x\" onmouseover='alert(1)'>&amp;"),
        "{name}"
    );
    assert!(!name.contains('\u{202e}'), "{name}");
    tab.wait("document.getElementById('facts').textContent.includes('<b>card \"one\"')");
    tab.key("ArrowRight");
    tab.wait("document.getElementById('why').textContent.includes('the camera put no preview into this file')");
    tab.key("c");
    said(&mut tab, "chosen");
    assert_eq!(tab.value("document.querySelectorAll('i, b').length"), 0);
    assert_eq!(tab.value("document.title.includes('onerror')"), true);
    assert_eq!(count(&world, "chosen = yes"), 1);
    // The picture that is not there is a complaint of the browser, and the only one.
    assert!(
        tab.complaints.iter().all(|words| words.contains("404")),
        "{:?}",
        tab.complaints
    );
}
