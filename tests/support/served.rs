//! The page to look, served by the real program.

use std::io::BufRead;
use std::io::BufReader;
use std::io::ErrorKind;
use std::io::Read;
use std::io::Write;
use std::net::TcpStream;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;

use crate::world::World;

/// A running server, ended when it is dropped.
pub struct Served {
    /// The program.
    pub process: Child,
    /// The address of the page.
    pub address: String,
}

impl Served {
    /// Serves what is named, from the world's catalogue.
    pub fn start(world: &World, of: &str) -> Self {
        let mut process = Command::new(env!("CARGO_BIN_EXE_framefall"))
            .args(["look", of, "--no-open"])
            .env("FRAMEFALL_CATALOGUE", world.path("catalogue.sqlite"))
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut address = String::new();
        let mut out = BufReader::new(process.stdout.take().unwrap());
        out.read_line(&mut address).unwrap();
        let address = address.trim().to_owned();
        assert!(address.starts_with("http://127.0.0.1:"), "{address}");
        Self { process, address }
    }

    /// Kills it, as a power failure would.
    pub fn kill(&mut self) {
        self.process.kill().unwrap();
        self.process.wait().unwrap();
    }

    /// Its port.
    pub fn port(&self) -> u16 {
        let rest = self.address.split(':').nth(2).unwrap();
        rest.split('/').next().unwrap().parse().unwrap()
    }

    /// The token of its address.
    pub fn token(&self) -> &str {
        self.address.split('/').nth(3).unwrap()
    }

    /// A request with this path below the token and these headers beside Host; the answer as it comes.
    pub fn ask(&self, request: &str, headers: &str, body: &str) -> String {
        let (method, below) = request.split_once(' ').unwrap();
        let (port, token) = (self.port(), self.token());
        let length = body.len();
        raw(
            port,
            &format!(
                "{method} /{token}/{below} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\nContent-Length: {length}\r\n{headers}\r\n{body}"
            ),
        )
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// Sends bytes to a port and gives the answer until its end.
pub fn raw(port: u16, request: &str) -> String {
    let mut stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
    stream
        .set_read_timeout(Some(Duration::from_secs(10)))
        .unwrap();
    stream.write_all(request.as_bytes()).unwrap();
    let mut answer = Vec::new();
    let mut piece = [0; 4096];
    loop {
        match stream.read(&mut piece) {
            // A signal came while it waited.
            Err(e) if e.kind() == ErrorKind::Interrupted => continue,
            Ok(0) | Err(_) => break,
            Ok(n) => answer.extend_from_slice(&piece[..n]),
        }
        let text = String::from_utf8_lossy(&answer);
        // The browser keeps its connection open.
        if let Some((head, body)) = text.split_once("\r\n\r\n") {
            let length = head.lines().find_map(|line| {
                let (name, value) = line.split_once(':')?;
                let is_length = name.eq_ignore_ascii_case("content-length");
                is_length.then(|| value.trim().parse::<usize>().ok())?
            });
            if length.is_some_and(|length| body.len() >= length) {
                break;
            }
        }
    }
    String::from_utf8_lossy(&answer).into_owned()
}
