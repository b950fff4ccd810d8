//! Who may talk to the server: pages that it served itself, by the token in the address. Everything else gets an empty answer.

use axum::body::Body;
use axum::http::HeaderMap;
use axum::http::HeaderName;
use axum::http::HeaderValue;
use axum::http::Method;
use axum::http::Response;
use axum::http::StatusCode;
use axum::http::header;

/// What a request must show.
#[derive(Clone, Debug)]
pub struct Guard {
    token: String,
    hosts: [String; 1],
}

/// Headers of every answer: nothing from elsewhere is loaded, nobody may frame the page, nothing is stored.
const HEADERS: &[(&str, &str)] = &[
    (
        "content-security-policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; \
         base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "no-referrer"),
    ("cache-control", "no-store"),
    ("x-frame-options", "DENY"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
];

impl Guard {
    /// For a server at this port of 127.0.0.1.
    pub fn new(token: &[u8; 16], port: u16) -> Self {
        let token = token.iter().fold(String::new(), |mut hex, byte| {
            use std::fmt::Write as _;
            let _ = write!(hex, "{byte:02x}");
            hex
        });
        Self {
            token,
            hosts: [format!("127.0.0.1:{port}")],
        }
    }

    /// The address of the page.
    pub fn address(&self) -> String {
        format!("http://{}/{}/", self.hosts[0], self.token)
    }

    /// Whether a request comes from a page of this server, or is a person opening its address.
    pub fn admits(&self, method: &Method, path: &str, headers: &HeaderMap) -> bool {
        let one = |name| {
            let mut values = headers.get_all(name).iter();
            let first = values.next().map(HeaderValue::as_bytes);
            (first, values.next().is_none())
        };
        // A foreign name that resolves to this computer has its own Host.
        let (host, is_single) = one(header::HOST);
        if !is_single || host != Some(self.hosts[0].as_bytes()) {
            return false;
        }
        let token = path.trim_start_matches('/').split('/').next();
        if !token.is_some_and(|token| are_equal(token.as_bytes(), self.token.as_bytes())) {
            return false;
        }
        let own = format!("http://{}", self.hosts[0]);
        let (origin, is_single) = one(header::ORIGIN);
        let is_own = origin == Some(own.as_bytes());
        if !is_single || (origin.is_some() && !is_own) {
            return false;
        }
        let site = headers.get("sec-fetch-site").map(HeaderValue::as_bytes);
        if site.is_some_and(|site| site != b"same-origin" && site != b"none") {
            return false;
        }
        match *method {
            Method::GET => true,
            // A form of another page cannot send this type without asking first.
            Method::POST => {
                is_own
                    && headers.get(header::CONTENT_TYPE)
                        == Some(&HeaderValue::from_static("application/json"))
            }
            _ => false,
        }
    }
}

/// Compares without stopping at the first difference.
fn are_equal(one: &[u8], other: &[u8]) -> bool {
    one.len() == other.len() && one.iter().zip(other).fold(0, |all, (a, b)| all | (a ^ b)) == 0
}

/// Adds the headers of every answer.
pub fn with_headers(mut response: Response<Body>) -> Response<Body> {
    for (name, value) in HEADERS {
        let name = HeaderName::from_static(name);
        response
            .headers_mut()
            .insert(name, HeaderValue::from_static(value));
    }
    response
}

/// An answer with a type and a body.
pub fn answer(status: StatusCode, kind: &'static str, body: impl Into<Body>) -> Response<Body> {
    let mut response = Response::new(body.into());
    *response.status_mut() = status;
    response
        .headers_mut()
        .insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    fn admits(method: &Method, path: &str, headers: &[(&'static str, &str)]) -> bool {
        let mut map = HeaderMap::new();
        for (name, value) in headers {
            map.append(*name, HeaderValue::from_str(value).unwrap());
        }
        Guard::new(&[0xAB; 16], 4000).admits(method, path, &map)
    }

    #[test]
    fn only_pages_of_the_server_are_admitted() {
        let path = format!("/{}/frames", "ab".repeat(16));
        let host = ("host", "127.0.0.1:4000");
        let own = ("origin", "http://127.0.0.1:4000");
        let json = ("content-type", "application/json");
        assert!(admits(&Method::GET, &path, &[host]));
        assert!(admits(
            &Method::GET,
            &path,
            &[host, own, ("sec-fetch-site", "same-origin")]
        ));
        assert!(admits(&Method::POST, &path, &[host, own, json]));
        for (method, path, headers) in [
            (Method::GET, path.as_str(), &[][..]),
            (Method::GET, &path, &[("host", "evil.example:4000")]),
            (Method::GET, &path, &[("host", "localhost:4000")]),
            (Method::GET, &path, &[host, host]),
            (
                Method::GET,
                &path,
                &[host, ("origin", "http://evil.example")],
            ),
            (Method::GET, &path, &[host, ("origin", "null")]),
            (
                Method::GET,
                &path,
                &[host, ("sec-fetch-site", "cross-site")],
            ),
            (Method::GET, "/", &[host]),
            (Method::GET, "/abab/frames", &[host]),
            (Method::POST, &path, &[host, json]),
            (
                Method::POST,
                &path,
                &[host, own, ("content-type", "text/plain")],
            ),
            (Method::PUT, &path, &[host, own, json]),
            (Method::OPTIONS, &path, &[host, own, json]),
        ] {
            assert!(
                !admits(&method, path, headers),
                "{method} {path} {headers:?}"
            );
        }
    }
}
