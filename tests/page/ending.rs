//! When the server ends: with Ctrl-C, and a stated time after the last page was closed.

use std::io::Read;
use std::io::Write;
use std::net::TcpStream;
use std::process::Command;
use std::sync::atomic::AtomicBool;
use std::sync::mpsc;
use std::time::Duration;

use framefall::catalogue::handle::Catalogue;
use framefall::catalogue::purpose::Purpose;
use framefall::usecase::looking::scene::scene;
use framefall::web::server::Ended;
use framefall::web::server::serve;

use crate::evening::night;
use crate::served::Served;

#[test]
fn ctrl_c_ends_it() {
    let world = night();
    let mut served = Served::start(&world, "2");
    assert!(served.ask("GET picture/3", "", "").contains("200 OK"));
    let number = served.process.id().to_string();
    Command::new("kill")
        .args(["-INT", &number])
        .status()
        .unwrap();
    assert_eq!(served.process.wait().unwrap().code(), Some(0));
}

#[test]
fn it_ends_after_the_last_page_was_closed_and_not_before() {
    let world = night();
    let catalogue = Catalogue::open(&world.path("catalogue.sqlite"), Purpose::Change).unwrap();
    let frames = scene(&catalogue, "2").unwrap();
    let (tell, told) = mpsc::channel();
    let idle = Duration::from_millis(400);
    let server = std::thread::spawn(move || {
        let started = |address: &str| {
            tell.send(address.to_owned()).unwrap();
            Ok(())
        };
        serve(catalogue, frames, idle, &AtomicBool::new(false), started)
    });
    let address = told.recv().unwrap();
    let (host, token) = address["http://".len()..].split_once('/').unwrap();
    let mut page = TcpStream::connect(host).unwrap();
    let request = format!("GET /{token}events/0-0 HTTP/1.1\r\nHost: {host}\r\n\r\n");
    page.write_all(request.as_bytes()).unwrap();
    // A page that has another version of the scene is told it anew.
    let mut told = Vec::new();
    while !String::from_utf8_lossy(&told).contains("event: scene") {
        let mut piece = [0; 512];
        let read = page.read(&mut piece).unwrap();
        assert!(read > 0);
        told.extend_from_slice(&piece[..read]);
    }
    std::thread::sleep(4 * idle);
    assert!(!server.is_finished(), "a page is open");
    drop(page);
    assert_eq!(server.join().unwrap().unwrap(), Ended::Idle);
}
