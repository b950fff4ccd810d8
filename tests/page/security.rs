//! What a foreign page gets from the server: nothing.

use serde_json::json;

use crate::served::Served;
use crate::served::raw;
use crate::world::World;

const CARD: &str = "geminids-body-a";

fn night() -> (World, Served) {
    let world = World::new();
    world.dump(CARD, CARD, |_| true);
    world.site("Salt Ridge", "38.93", "-116.01");
    world
        .run(&["ingest", "--site", "Salt Ridge", CARD])
        .ended(0);
    let served = Served::start(&world, "session = 2");
    (world, served)
}

fn status(answer: &str) -> &str {
    answer.split(' ').nth(1).unwrap_or("none")
}

fn is_nothing(answer: &str) {
    assert_eq!(status(answer), "404", "{answer}");
    let (head, body) = answer.split_once("\r\n\r\n").unwrap();
    assert!(body.is_empty(), "{body}");
    assert!(!head.to_lowercase().contains("access-control"), "{head}");
}

#[test]
fn a_foreign_page_gets_nothing_and_changes_nothing() {
    let (world, served) = night();
    let (port, token) = (served.port(), served.token().to_owned());
    let asked = |path: &str, host: &str, headers: &str| {
        raw(
            port,
            &format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n{headers}\r\n"),
        )
    };
    let (path, host) = (format!("/{token}/over/3"), format!("127.0.0.1:{port}"));
    assert_eq!(status(&asked(&path, &host, "")), "200");
    // A name of theirs that resolves to this computer, with or without the port.
    for other in [
        "evil.example",
        &format!("evil.example:{port}"),
        "127.0.0.1",
        "localhost",
        "",
    ] {
        is_nothing(&asked(&path, other, ""));
    }
    for headers in [
        "Origin: http://evil.example\r\n",
        "Origin: null\r\n",
        &format!("Origin: https://127.0.0.1:{port}\r\n"),
        "Sec-Fetch-Site: cross-site\r\n",
        "Sec-Fetch-Site: same-site\r\n",
    ] {
        is_nothing(&asked(&path, &host, headers));
    }
    // A guessed token.
    let mut wrong = token.clone();
    let last = if wrong.pop() == Some('0') { '1' } else { '0' };
    wrong.push(last);
    for path in [
        "/",
        "/over/3",
        &format!("/{wrong}/over/3"),
        &format!("/{}/over/3", &token[..31]),
        &format!("//{wrong}/"),
    ] {
        is_nothing(&asked(path, &host, ""));
    }
    // Other files than previews of the page's frames.
    for below in [
        "picture/1", // in the catalogue, not on this page
        "picture/999999",
        "over/1",
        "over/999999",
        "over/x",
        "turned/1/3",
        "turned/3/1",
        "turned/3",
        "picture/..%2F..%2Fcatalogue.sqlite",
        "picture/%2Fetc%2Fpasswd",
        "page/..%2Fserver.rs",
        "page/%2Fetc%2Fpasswd",
        "night/2020-01-01",
    ] {
        let answer = served.ask(&format!("GET {below}"), "", "");
        assert_eq!(status(&answer), "404", "{below}: {answer}");
    }
    // A form, and a script of another page.
    let mark = json!({"do": "mark", "frames": [3], "looked": true}).to_string();
    let own = format!("Origin: http://127.0.0.1:{port}\r\n");
    let typed = "Content-Type: application/json\r\n";
    for headers in [
        String::new(),
        typed.to_owned(),
        own.clone(),
        format!("{own}Content-Type: text/plain\r\n"),
        format!("{own}Content-Type: application/x-www-form-urlencoded\r\n"),
        format!("Origin: http://evil.example\r\n{typed}"),
        format!("{own}{typed}Sec-Fetch-Site: cross-site\r\n"),
    ] {
        is_nothing(&served.ask("POST state", &headers, &mark));
    }
    is_nothing(&served.ask(
        "OPTIONS state",
        "Origin: http://evil.example\r\nAccess-Control-Request-Method: POST\r\n",
        "",
    ));
    is_nothing(&served.ask(
        "GET state",
        "Upgrade: websocket\r\nOrigin: http://evil.example\r\n",
        "",
    ));
    assert_eq!(
        world.run(&["frames", "looked = yes", "--count"]).out.trim(),
        "0"
    );
    let done = served.ask("POST state", &format!("{own}{typed}"), &mark);
    assert_eq!(status(&done), "200", "{done}");
    assert_eq!(
        world.run(&["frames", "looked = yes", "--count"]).out.trim(),
        "1"
    );
}

#[test]
fn every_answer_forbids_what_the_page_does_not_need() {
    let (_world, served) = night();
    for below in ["", "page/main.js", "over/3", "picture/3", "nothing"] {
        let answer = served.ask(&format!("GET {below}"), "", "").to_lowercase();
        for header in [
            "content-security-policy: default-src 'none'; script-src 'self'; style-src 'self'",
            "frame-ancestors 'none'",
            "x-content-type-options: nosniff",
            "referrer-policy: no-referrer",
            "cache-control: no-store",
            "cross-origin-resource-policy: same-origin",
        ] {
            assert!(
                answer.contains(header),
                "{below}: {header} is missing in {answer}"
            );
        }
        assert!(!answer.contains("set-cookie"));
    }
    let other = std::net::TcpStream::connect(("127.0.0.2", served.port()));
    assert!(other.is_err(), "it listens on 127.0.0.1 only");
}

#[test]
fn acts_that_no_page_sends_are_refused_in_words() {
    let (world, served) = night();
    let headers = format!(
        "Origin: http://127.0.0.1:{}\r\nContent-Type: application/json\r\n",
        served.port()
    );
    for body in [
        "",
        "{",
        "[]",
        "{\"do\": \"drop\"}",
        "{\"do\": \"mark\", \"frames\": [], \"looked\": true}",
        "{\"do\": \"mark\", \"frames\": [999999], \"looked\": true}",
        "{\"do\": \"mark\", \"frames\": [3], \"looked\": 1}",
        "{\"do\": \"mark\", \"frames\": [3], \"note\": \"two\\nlines\"}",
        "{\"do\": \"add-trail\", \"frame\": 3, \"from\": [-1, 2], \"to\": [3, 4], \"is\": \"meteor\"}",
        "{\"do\": \"add-trail\", \"frame\": 3, \"from\": [1, 2], \"to\": [3, 1e300], \"is\": \"meteor\"}",
        "{\"do\": \"add-trail\", \"frame\": 3, \"from\": [1, 2], \"to\": [3, 4], \"is\": \"comet\"}",
        "{\"do\": \"judge-trails\", \"trails\": [1], \"is\": \"meteor\"}",
        "{\"do\": \"judge-trails\", \"candidates\": [1], \"is\": \"meteor\"}",
        "{\"do\": \"judge-trails\", \"trails\": [], \"is\": \"meteor\"}",
        "{\"do\": \"judge-trails\", \"is\": \"meteor\"}",
        "{\"do\": \"remove-trails\", \"candidates\": [1]}",
    ] {
        let answer = served.ask("POST state", &headers, body);
        assert_eq!(status(&answer), "409", "{body}: {answer}");
        assert!(answer.contains("\"problem\":"), "{answer}");
    }
    let long = format!("{{\"do\": \"{}\"}}", "x".repeat(300_000));
    assert_eq!(status(&served.ask("POST state", &headers, &long)), "413");
    assert_eq!(
        world
            .run(&["statement", "list", "--as", "json"])
            .json()
            .as_array()
            .unwrap()
            .len(),
        2
    );
}
