//! Exports over the wire: what breaks off is told, and what is asked for decides the form.

use crate::support::START;
use crate::support::house::House;
use crate::support::wire::{get, post_one, send};
use axum::Router;
use axum::body::Body;
use axum::routing::get as route;
use selachron_record::export::stream::produced;
use selachron_record::failure::io;
use serde_json::json;
use std::io::{Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};

/// Everything that comes over the wire for one question, as it comes.
fn raw(addr: SocketAddr) -> Vec<u8> {
    let mut stream = TcpStream::connect(addr).unwrap();
    stream.write_all(b"GET / HTTP/1.1\r\nhost: localhost\r\nconnection: close\r\n\r\n").unwrap();
    let mut bytes = Vec::new();
    // However the other end ends it.
    let _ = stream.read_to_end(&mut bytes);
    bytes
}

/// The last chunk is what tells a reader that it has the whole (RFC 9112 7.1); after a panic it must not come.
#[tokio::test(flavor = "multi_thread")]
async fn an_export_that_panics_has_no_last_chunk() {
    let body = |panics: bool| {
        Body::from_stream(produced(move |out| {
            out.write_all(b"half of it").map_err(|error| io("writing", &error))?;
            assert!(!panics, "a fault of ours, made by a test");
            Ok(())
        }))
    };
    for panics in [false, true] {
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let addr = listener.local_addr().unwrap();
        let serving =
            tokio::spawn(async move { axum::serve(listener, Router::new().route("/", route(move || async move { body(panics) }))).await });
        let came = tokio::task::spawn_blocking(move || raw(addr)).await.unwrap();
        let text = String::from_utf8_lossy(&came);
        assert_eq!(text.ends_with("0\r\n\r\n"), !panics, "{text:?}");
        serving.abort();
    }
}

fn entries(tar: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut archive = tar::Archive::new(tar);
    let read = |entry: std::io::Result<tar::Entry<'_, &[u8]>>| {
        let mut entry = entry.unwrap();
        let name = entry.path().unwrap().display().to_string();
        let mut content = Vec::new();
        entry.read_to_end(&mut content).unwrap();
        (name, content)
    };
    archive.entries().unwrap().map(read).collect()
}

/// What is small comes first, and nothing is left of what was written beside.
#[test]
fn archives_begin_with_what_is_small_and_are_the_same_twice() {
    let (house, service) = House::served();
    let at = "as_of=2026-03-01&known_at=5";
    for (path, first, last) in [
        (format!("/v1/exports/tables?{at}"), "datapackage.json", "parents.csv"),
        (format!("/v1/exports/studbook?format=tar&{at}"), "datapackage.json", "studbook_notes.csv"),
        (format!("/v1/exports/pedigree?format=tar&{at}"), "README.txt", "losses.json"),
        ("/v1/log/bundle".to_owned(), "log.vkey", "SHA256SUMS"),
    ] {
        let [once, twice] = [&path, &path].map(|path| get(service.addr(), path));
        assert_eq!((once.status, once.headers["content-type"].as_str()), (200, "application/x-tar"), "{path}");
        assert_eq!(once.body, twice.body, "{path}: the same bytes");
        let names: Vec<String> = entries(&once.body).into_iter().map(|(name, _)| name).collect();
        assert_eq!((names[0].as_str(), names[names.len() - 1].as_str()), (first, last), "{names:?}");
    }
    let zip = format!("/v1/exports/darwin-core?{at}");
    assert_eq!(get(service.addr(), &zip).body, get(service.addr(), &zip).body);
    let left =
        std::fs::read_dir(house.path()).unwrap().flatten().filter(|entry| entry.file_name().to_string_lossy().starts_with("export."));
    assert_eq!(left.count(), 0);
}

/// Each form of the pedigree is that of the folder.
#[test]
fn a_form_alone_is_that_of_the_folder() {
    let (_house, service) = House::served();
    let folder = entries(&get(service.addr(), "/v1/exports/pedigree?format=tar").body);
    for (form, file) in [("fam", "pedigree.fam"), ("linkage", "pedigree.pre")] {
        let reply = get(service.addr(), &format!("/v1/exports/pedigree?format={form}"));
        assert_eq!((reply.status, reply.headers["content-type"].as_str()), (200, "text/plain; charset=utf-8"));
        assert_eq!(Some(&reply.body), folder.iter().find(|(name, _)| name == file).map(|(_, content)| content), "{form}");
    }
}

#[test]
fn accept_is_weighed_and_caches_are_told() {
    let (house, service) = House::served();
    let path = "/v1/exports/trade?as_of=2026-03-01&known_at=5";
    let of = |accept: &str| send(service.addr(), "GET", path, &[("accept", accept)], b"");
    for (accept, media) in [
        ("application/json;q=0.3, text/csv;q=0.9", "text/csv; charset=utf-8; header=present"),
        ("text/csv;q=0, */*;q=0.1", "application/json"),
        ("text/csv;q=0", "application/json"),
        ("*/*", "application/json"),
    ] {
        let reply = of(accept);
        assert_eq!((reply.status, reply.headers["content-type"].as_str()), (200, media), "{accept}");
        assert_eq!(reply.headers["vary"], "accept");
    }
    let etag = of("text/csv").headers["etag"].clone();
    let unchanged = send(service.addr(), "GET", path, &[("accept", "text/csv"), ("if-none-match", &etag)], b"");
    assert_eq!((unchanged.status, unchanged.headers["vary"].as_str()), (304, "accept"));
    // Two lines of a header are one list.
    let lines = [("accept", "application/json;q=0.1"), ("accept", "text/csv")];
    assert!(send(service.addr(), "GET", path, &lines, b"").headers["content-type"].starts_with("text/csv"));
    // What is whole before it is sent says how long it is; a stream cannot.
    assert_eq!(of("text/csv").headers["content-length"], of("text/csv").body.len().to_string());
    post_one(service.addr(), &house.cast.water(&house.system, START, json!({})));
    let notes = get(service.addr(), "/v1/exports/events");
    assert_eq!((notes.headers["selachron-known-at"].as_str(), notes.text().lines().count()), ("6", 6), "a line for each note known");
    assert!(!notes.headers.contains_key("content-length"));
}
