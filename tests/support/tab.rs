//! A tab of a headless Chromium, driven over its `DevTools` protocol.

use std::io::BufRead;
use std::io::BufReader;
use std::io::ErrorKind;
use std::net::TcpStream;
use std::path::Path;
use std::process::Child;
use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;

use serde_json::Value;
use serde_json::json;
use tungstenite::Message;
use tungstenite::WebSocket;
use tungstenite::client;

/// How long a page may take for what is waited for.
const PATIENCE: Duration = Duration::from_secs(20);

/// A browser, ended when it is dropped.
pub struct Browser {
    process: Child,
    port: u16,
    _profile: tempfile::TempDir,
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// A tab.
pub struct Tab {
    socket: WebSocket<TcpStream>,
    number: u64,
    /// What the page logged as an error, and exceptions.
    pub complaints: Vec<String>,
}

impl Browser {
    /// Starts one; `None`, with words, where none is installed. In CI it must be there.
    pub fn start() -> Option<Self> {
        let Some(name) = crate::browser::chromium() else {
            assert!(
                std::env::var_os("CI").is_none(),
                "CI needs a browser: install chromium"
            );
            eprintln!("skipped: no Chromium is installed");
            return None;
        };
        let profile = tempfile::tempdir().unwrap();
        let mut process = Command::new(name)
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-dev-shm-usage",
                "--disable-background-networking",
                "--no-first-run",
                "--remote-debugging-port=0",
                "--remote-allow-origins=*",
            ])
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .arg("about:blank")
            .stderr(Stdio::piped())
            .stdout(Stdio::null())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(process.stderr.take().unwrap()).lines();
        let port = lines.find_map(|line| {
            let line = line.ok()?;
            let rest = line.split("ws://127.0.0.1:").nth(1)?;
            rest.split('/').next()?.parse().ok()
        });
        // The rest of its messages must not fill the pipe.
        std::thread::spawn(move || lines.for_each(drop));
        Some(Self {
            process,
            port: port.expect("the browser tells its port"),
            _profile: profile,
        })
    }

    /// Opens an address in a new tab of that size.
    pub fn open(&self, address: &str, width: u32, height: u32) -> Tab {
        let request = format!(
            "PUT /json/new?about:blank HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nConnection: close\r\n\r\n",
            self.port
        );
        let answer = crate::served::raw(self.port, &request);
        let body = answer.split("\r\n\r\n").nth(1).unwrap_or_default();
        let target: Value = serde_json::from_str(body).unwrap_or_else(|e| panic!("{e}: {answer}"));
        let url = target["webSocketDebuggerUrl"].as_str().unwrap();
        let stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(PATIENCE)).unwrap();
        let (socket, _) = client(url, stream).unwrap();
        let mut tab = Tab {
            socket,
            number: 0,
            complaints: Vec::new(),
        };
        tab.command("Page.enable", &json!({}));
        tab.command("Runtime.enable", &json!({}));
        tab.command("Log.enable", &json!({}));
        tab.size(width, height);
        tab.command("Page.navigate", &json!({"url": address}));
        tab
    }
}

impl Tab {
    /// Sends a command and gives its result.
    pub fn command(&mut self, method: &str, parameters: &Value) -> Value {
        self.number += 1;
        let sent = json!({"id": self.number, "method": method, "params": parameters});
        self.socket.send(Message::text(sent.to_string())).unwrap();
        loop {
            let text = match self.socket.read() {
                Ok(Message::Text(text)) => text,
                Ok(_) => continue,
                // A signal came while it waited.
                Err(tungstenite::Error::Io(e)) if e.kind() == ErrorKind::Interrupted => continue,
                Err(e) => panic!("{method}: {e}"),
            };
            let said: Value = serde_json::from_str(text.as_str()).unwrap();
            if said["id"] == self.number {
                assert!(said["error"].is_null(), "{method}: {said}");
                return said["result"].clone();
            }
            let event = said["method"].as_str().unwrap_or_default();
            let is_error = said["params"]["entry"]["level"] == "error";
            if event == "Runtime.exceptionThrown" || (event == "Log.entryAdded" && is_error) {
                self.complaints.push(said["params"].to_string());
            }
        }
    }

    /// The size of the page, in CSS pixels.
    pub fn size(&mut self, width: u32, height: u32) {
        let metrics =
            json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false});
        self.command("Emulation.setDeviceMetricsOverride", &metrics);
    }

    /// Light or dark, as the system would ask for it.
    pub fn scheme(&mut self, scheme: &str) {
        let features = json!({"features": [{"name": "prefers-color-scheme", "value": scheme}]});
        self.command("Emulation.setEmulatedMedia", &features);
    }

    /// The value of an expression; promises are awaited.
    pub fn value(&mut self, expression: &str) -> Value {
        let asked = json!({"expression": expression, "returnByValue": true, "awaitPromise": true});
        let said = self.command("Runtime.evaluate", &asked);
        assert!(said["exceptionDetails"].is_null(), "{expression}: {said}");
        said["result"]["value"].clone()
    }

    /// Waits until an expression is true.
    pub fn wait(&mut self, expression: &str) {
        let until = Instant::now() + PATIENCE;
        while self.value(&format!("Boolean({expression})")) != true {
            if Instant::now() > until {
                let said = self.value("document.getElementById('said')?.textContent + ' | ' + document.body.innerText.slice(0, 2000)");
                panic!("never true: {expression}; {said}; {:?}", self.complaints);
            }
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Presses and releases a key by its name: `l`, `U`, ` `, `ArrowRight`.
    pub fn key(&mut self, key: &str) {
        self.down(key, 0);
        self.up(key);
    }

    /// The same with Shift held.
    pub fn shifted(&mut self, key: &str) {
        self.down(key, 8);
        self.up(key);
    }

    /// Presses a key; `modifiers` 8 is Shift.
    pub fn down(&mut self, key: &str, modifiers: u32) {
        let mut event = json!({"type": "keyDown", "key": key, "modifiers": modifiers});
        if key.chars().count() == 1 {
            event["text"] = json!(key);
        }
        if key == "Enter" {
            event["text"] = json!("\r");
            event["windowsVirtualKeyCode"] = json!(13);
        }
        self.command("Input.dispatchKeyEvent", &event);
    }

    /// Releases a key.
    pub fn up(&mut self, key: &str) {
        self.command(
            "Input.dispatchKeyEvent",
            &json!({"type": "keyUp", "key": key}),
        );
    }

    /// Writes text into what has the focus.
    pub fn write(&mut self, text: &str) {
        self.command("Input.insertText", &json!({"text": text}));
    }

    /// Clicks at a point of the page.
    pub fn click(&mut self, x: f64, y: f64) {
        for kind in ["mousePressed", "mouseReleased"] {
            let event = json!({"type": kind, "x": x, "y": y, "button": "left", "clickCount": 1});
            self.command("Input.dispatchMouseEvent", &event);
        }
    }

    /// Writes a picture of the page into a file, where a folder for pictures is named by `FRAMEFALL_SCREENS`.
    pub fn screenshot(&mut self, name: &str) {
        let Some(folder) = std::env::var_os("FRAMEFALL_SCREENS") else {
            return;
        };
        let taken = self.command("Page.captureScreenshot", &json!({"format": "png"}));
        let bytes = decoded(taken["data"].as_str().unwrap());
        std::fs::write(Path::new(&folder).join(name), bytes).unwrap();
    }
}

/// Base64, as the protocol sends pictures.
fn decoded(text: &str) -> Vec<u8> {
    let digit = |c: u8| match c {
        b'A'..=b'Z' => u32::from(c - b'A'),
        b'a'..=b'z' => u32::from(c - b'a') + 26,
        b'0'..=b'9' => u32::from(c - b'0') + 52,
        b'+' => 62,
        _ => 63,
    };
    let mut out = Vec::new();
    for four in text.trim_end_matches('=').as_bytes().chunks(4) {
        let bits = four.iter().fold(0, |all, c| all << 6 | digit(*c)) << (6 * (4 - four.len()));
        out.extend_from_slice(&bits.to_be_bytes()[1..four.len()]);
    }
    out
}
