//! A few lines of HTTP/1.1, so that the tests see what really goes over the wire.

use serde_json::Value;
use std::collections::BTreeMap;
use std::io::{Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};

pub struct Reply {
    pub status: u16,
    pub headers: BTreeMap<String, String>,
    pub body: Vec<u8>,
}

impl Reply {
    pub fn text(&self) -> &str {
        std::str::from_utf8(&self.body).unwrap()
    }

    #[track_caller]
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|error| panic!("{error}: {}", self.text()))
    }

    /// Status and name of a problem, which must be problem+json.
    #[track_caller]
    pub fn problem(&self) -> (u16, String) {
        assert_eq!(self.headers["content-type"], "application/problem+json", "{}", self.text());
        let problem = self.json();
        assert_eq!(problem["status"], self.status);
        assert!(problem["title"].is_string() && problem["detail"].is_string());
        let kind = problem["type"].as_str().unwrap().strip_prefix("/problems/").unwrap();
        (self.status, kind.to_owned())
    }
}

pub fn send(addr: SocketAddr, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Reply {
    let mut stream = TcpStream::connect(addr).unwrap();
    let mut head = format!("{method} {path} HTTP/1.1\r\nhost: localhost\r\nconnection: close\r\ncontent-length: {}\r\n", body.len());
    for (name, value) in headers {
        head.push_str(&format!("{name}: {value}\r\n"));
    }
    stream.write_all(format!("{head}\r\n").as_bytes()).unwrap();
    stream.write_all(body).unwrap();
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).unwrap();
    read(&bytes)
}

pub fn read(bytes: &[u8]) -> Reply {
    let end = bytes.windows(4).position(|four| four == b"\r\n\r\n").expect("an answer has a head");
    let head = std::str::from_utf8(&bytes[..end]).unwrap();
    let mut lines = head.split("\r\n");
    let status = lines.next().unwrap().split(' ').nth(1).unwrap().parse().unwrap();
    let headers: BTreeMap<String, String> =
        lines.filter_map(|line| line.split_once(": ")).map(|(name, value)| (name.to_ascii_lowercase(), value.to_owned())).collect();
    let rest = &bytes[end + 4..];
    let chunked = headers.get("transfer-encoding").is_some_and(|coding| coding == "chunked");
    Reply { status, headers, body: if chunked { joined(rest) } else { rest.to_vec() } }
}

fn joined(mut rest: &[u8]) -> Vec<u8> {
    let mut body = Vec::new();
    loop {
        let line = rest.windows(2).position(|two| two == b"\r\n").expect("a chunk has a size");
        let size = usize::from_str_radix(std::str::from_utf8(&rest[..line]).unwrap(), 16).unwrap();
        if size == 0 {
            return body;
        }
        body.extend_from_slice(&rest[line + 2..line + 2 + size]);
        rest = &rest[line + 2 + size + 2..];
    }
}

pub fn get(addr: SocketAddr, path: &str) -> Reply {
    send(addr, "GET", path, &[], b"")
}

pub fn post_one(addr: SocketAddr, note: &[u8]) -> Reply {
    send(addr, "POST", "/v1/events", &[("content-type", "application/json")], note)
}

pub fn post_lines(addr: SocketAddr, notes: &[Vec<u8>]) -> Reply {
    send(addr, "POST", "/v1/events", &[("content-type", "application/x-ndjson")], &notes.join(&b'\n'))
}
