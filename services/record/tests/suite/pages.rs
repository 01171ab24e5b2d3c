//! The browser client over the wire, and the stream that tells it that the log has grown.

use crate::support::START;
use crate::support::house::House;
use crate::support::wire::{get, post_one, send};
use serde_json::{Value, json};
use std::io::{Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};
use std::sync::mpsc;
use std::time::Duration;

#[test]
fn a_browser_gets_the_pages_and_a_program_what_it_asked_for() {
    let house = House::founded();
    // Without a token: who has no key yet gets one here.
    let service = house.closed();
    let browser = |path: &str| send(service.addr(), "GET", path, &[("accept", "text/html,*/*;q=0.8")], b"");
    for path in ["/", "/index.html", "/tray/12"] {
        let reply = browser(path);
        assert_eq!((reply.status, reply.headers["content-type"].as_str()), (200, "text/html; charset=utf-8"), "{path}");
        assert!(reply.headers["content-security-policy"].starts_with("default-src 'none'; script-src 'self' 'sha256-"));
        assert_eq!(reply.headers["x-content-type-options"], "nosniff");
    }
    assert_eq!(browser("/app.js").headers["content-type"], "text/javascript; charset=utf-8");
    assert_eq!(browser("/v1/nothing").problem(), (404, "not-found".to_owned()));
    assert_eq!(browser("/nothing.js").problem(), (404, "not-found".to_owned()));
    assert_eq!(get(service.addr(), "/tray/12").problem(), (404, "not-found".to_owned()), "a program is not given a page");
    assert_eq!(send(service.addr(), "POST", "/", &[("accept", "text/html")], b"").problem(), (404, "not-found".to_owned()));
    let etag = browser("/app.js").headers["etag"].clone();
    assert_eq!(send(service.addr(), "GET", "/app.js", &[("if-none-match", &etag)], b"").status, 304);
}

/// What a listener has heard, read as it comes.
struct Listener {
    stream: TcpStream,
    heard: String,
}

impl Listener {
    fn new(addr: SocketAddr, known: Option<u64>) -> Self {
        let mut stream = TcpStream::connect(addr).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(5))).unwrap();
        let known = known.map_or(String::new(), |seq| format!("last-event-id: {seq}\r\n"));
        write!(stream, "GET /v1/events/live HTTP/1.1\r\nhost: localhost\r\naccept: text/event-stream\r\n{known}\r\n").unwrap();
        Self { stream, heard: String::new() }
    }

    /// Reads until the text has come; `None` if the stream ended.
    fn until(&mut self, text: &str) -> Option<()> {
        let mut bytes = [0; 512];
        while !self.heard.contains(text) {
            let length = self.stream.read(&mut bytes).expect("something comes within seconds");
            if length == 0 {
                return None;
            }
            self.heard.push_str(std::str::from_utf8(&bytes[..length]).unwrap());
        }
        Some(())
    }

    /// The data of the events so far.
    fn told(&self) -> Vec<Value> {
        self.heard.lines().filter_map(|line| line.strip_prefix("data: ")).map(|data| serde_json::from_str(data).unwrap()).collect()
    }
}

#[test]
fn a_listener_hears_of_every_growth_and_of_nothing_unpublished() {
    let (house, service) = House::served();
    let water = || house.cast.water(&house.system, START, json!({}));
    let mut listener = Listener::new(service.addr(), None);
    listener.until("id: 4\n").expect("where the log stands is told at once");
    assert!(listener.heard.contains("content-type: text/event-stream") && listener.heard.contains("retry: 2000\n"), "{}", listener.heard);
    for seq in 5_u64..8 {
        assert_eq!(post_one(service.addr(), &water()).status, 201);
        listener.until(&format!("id: {seq}\n")).expect("the stream goes on");
    }
    let told = listener.told();
    assert_eq!(told.iter().map(|grown| grown["seq"].as_u64().unwrap()).collect::<Vec<_>>(), [4, 5, 6, 7]);
    for grown in &told {
        let size = grown["size"].as_u64().unwrap();
        assert_eq!(size, grown["seq"].as_u64().unwrap() + 1);
        let read = get(service.addr(), &format!("/v1/collection?known_at={size}")).json();
        assert_eq!(read["root"], grown["root"], "what is told is published");
    }
}

#[test]
fn a_listener_that_comes_again_hears_only_what_is_new() {
    let (house, service) = House::served();
    let mut listener = Listener::new(service.addr(), Some(4));
    assert_eq!(post_one(service.addr(), &house.cast.water(&house.system, START, json!({}))).status, 201);
    listener.until("id: 5\n").expect("news");
    assert_eq!(listener.told().len(), 1, "{}", listener.heard);
    // One that knows more than there is, of another log or an older copy, is told where this one stands.
    Listener::new(service.addr(), Some(99)).until("id: 5\n").expect("where the log stands");
    let wrong = send(service.addr(), "GET", "/v1/events/live", &[("last-event-id", "five")], b"");
    assert_eq!(wrong.problem(), (400, "bad-query".to_owned()));
}

#[test]
fn listeners_do_not_hold_up_a_service_that_stops() {
    let (_house, service) = House::served();
    let mut listener = Listener::new(service.addr(), None);
    listener.until("id: 4\n").expect("the stream is open");
    let (stopped, stops) = mpsc::channel();
    std::thread::spawn(move || {
        service.shutdown();
        let _ = stopped.send(());
    });
    stops.recv_timeout(Duration::from_secs(5)).expect("it stops within seconds");
    assert_eq!(listener.until("never said"), None, "the stream is ended");
}

#[test]
fn listening_needs_a_token_as_reading_does() {
    let house = House::founded();
    let service = house.closed();
    assert_eq!(get(service.addr(), "/v1/events/live").problem(), (401, "token-missing".to_owned()));
}
