//! Signed durable notes a second over HTTP, beside what SQLite alone does with the same bytes in
//! the same run. Prints medians of several rounds; these machines are noisy, so read the ratios.
//!
//! `cargo bench -p selachron-tests --bench throughput [-- NOTES ROUNDS]`

use rusqlite::Connection;
use selachron_record::clock::SystemClock;
use selachron_record::config::Network;
use selachron_record::{Service, Settings};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use selachron_tests::fixture::{Hand, Staff, envelope, ulid};
use serde_json::json;
use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant as Watch};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;
use tokio::runtime::Runtime;

/// Notes in one round.
const NOTES: usize = 20_000;
/// Rounds for each number of connections.
const ROUNDS: usize = 5;
/// Connections tried.
const CONNECTIONS: [usize; 3] = [1, 16, 64];
/// Eggs that the notes are about: twenty looks each, one incubation of weekly candling.
const EGGS: usize = 1_000;

fn main() {
    let mut numbers = std::env::args().skip(1).filter_map(|word| word.parse().ok());
    let (notes, rounds) = (numbers.next().unwrap_or(NOTES), numbers.next().unwrap_or(ROUNDS));
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("a runtime");
    println!("{notes} notes a round (one connection: a tenth), {rounds} rounds, every note signed, verified, synced and receipted");
    let sqlite = median((0..rounds).map(|_| sqlite_alone(notes)).collect());
    println!("SQLite alone, groups of 64 rows, one sync a group: {sqlite:>8.0} rows/s");
    for connections in CONNECTIONS {
        let share = if connections == 1 { notes / 10 } else { notes };
        let results: Vec<(f64, Duration)> = (0..rounds).map(|_| over_http(&runtime, share, connections)).collect();
        let rate = median(results.iter().map(|(rate, _)| *rate).collect());
        let p99 = median(results.iter().map(|(_, p99)| p99.as_secs_f64() * 1e3).collect());
        println!("{connections:>3} connection(s): {rate:>8.0} notes/s, p99 {p99:.1} ms, {:.2} of SQLite alone", rate / sqlite);
    }
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// The peer: rows of a note's size into a table like ours, committed in groups of 64.
fn sqlite_alone(rows: usize) -> f64 {
    let folder = tempfile::tempdir().expect("a folder");
    let mut store = Connection::open(folder.path().join("peer.sqlite")).expect("SQLite opens");
    store
        .execute_batch(
            "PRAGMA page_size = 16384; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;
             CREATE TABLE row (seq INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, leaf BLOB NOT NULL, body BLOB NOT NULL) STRICT;",
        )
        .expect("the peer's table");
    let (leaf, body) = (vec![b'x'; 240], vec![b'y'; 560]);
    let start = Watch::now();
    for group in (0..rows as i64).collect::<Vec<_>>().chunks(64) {
        let transaction = store.transaction().expect("a transaction");
        {
            let mut insert = transaction.prepare_cached("INSERT INTO row VALUES (?1, ?2, ?3, ?4)").expect("an insert");
            for seq in group {
                insert.execute((*seq, ulid(*seq as u64, 1), &leaf, &body)).expect("a row");
            }
        }
        transaction.commit().expect("a commit");
    }
    rows as f64 / start.elapsed().as_secs_f64()
}

/// One round: a fresh log, then `notes` notes over `connections` connections, one request each.
fn over_http(runtime: &Runtime, notes: usize, connections: usize) -> (f64, Duration) {
    let folder = tempfile::tempdir().expect("a folder");
    let (service, mut staff) = founded(runtime, folder.path());
    let requests = requests(&mut staff, notes);
    let share = notes.div_ceil(connections);
    let start = Watch::now();
    let tasks: Vec<_> = requests.chunks(share).map(|part| runtime.spawn(post_all(service.addr(), part.to_vec()))).collect();
    let mut waits = Vec::with_capacity(notes);
    for task in tasks {
        waits.extend(runtime.block_on(task).expect("a connection ends"));
    }
    let seconds = start.elapsed().as_secs_f64();
    service.shutdown();
    waits.sort_unstable();
    (notes as f64 / seconds, waits[waits.len() * 99 / 100])
}

/// A founded log with its staff enrolled and its eggs collected, in service.
fn founded(runtime: &Runtime, folder: &Path) -> (selachron_record::Running, Staff) {
    let (mut staff, clock) = (Staff::default(), Arc::new(SystemClock));
    staff.found(folder, clock.clone(), false);
    let listen = "127.0.0.1:0".parse().expect("an address");
    let settings =
        Settings { data_dir: folder.to_owned(), listen, network: Network::default(), clock, typesetter: None, allow_simulated: false };
    let service = Service::start(settings).expect("the service starts");
    let now = now();
    let mut first: Vec<Vec<u8>> = staff.enrolments(now).iter().map(|text| request(text)).collect();
    first.push(request(&species(&mut staff.curator, now)));
    for egg in 0..EGGS {
        first.push(request(&collected(&mut staff.keeper, egg, now)));
    }
    runtime.block_on(post_all(service.addr(), first));
    (service, staff)
}

fn now() -> Instant {
    Instant(chrono::Utc::now().timestamp_millis())
}

fn species(hand: &mut Hand, time: Instant) -> String {
    let data = json!({"scientific_name": "Chiloscyllium punctatum", "common_name": "brownbanded bamboo shark", "length_basis": "total"});
    let body = hand.body("species.listed.v1", &format!("species/{}", ulid(1, 1)), time, &data);
    envelope(&body, &[hand])
}

fn egg(number: usize) -> Subject {
    Subject::parse(&format!("egg/{}", ulid(2, number as u64))).expect("a subject")
}

fn collected(hand: &mut Hand, number: usize, time: Instant) -> String {
    let data = json!({
        "label": format!("B-{number}"), "species": format!("species/{}", ulid(1, 1)), "from_tank": format!("tank/{}", ulid(3, 1)),
        "laid": "single", "case": "whole", "yolk": "seen",
    });
    let body = hand.body("egg.collected.v1", egg(number).as_str(), time, &data);
    envelope(&body, &[hand])
}

fn requests(staff: &mut Staff, notes: usize) -> Vec<Vec<u8>> {
    let time = now();
    let look = |number: usize| {
        let data = json!({"seen_into": true, "band": 2, "movement": "moving", "yolk_fraction": 0.9, "findings": ["air inside"]});
        let body = staff.keeper.body("egg.candled.v1", egg(number % EGGS).as_str(), time, &data);
        request(&envelope(&body, &[&staff.keeper]))
    };
    (0..notes).map(look).collect()
}

fn request(envelope: &str) -> Vec<u8> {
    let head =
        format!("POST /v1/events HTTP/1.1\r\nHost: bench\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n", envelope.len());
    [head.as_bytes(), envelope.as_bytes()].concat()
}

/// Posts one request after the other over one connection; how long each took.
async fn post_all(address: SocketAddr, requests: Vec<Vec<u8>>) -> Vec<Duration> {
    let mut stream = TcpStream::connect(address).await.expect("the service listens");
    stream.set_nodelay(true).expect("no delay");
    let (mut waits, mut buffer) = (Vec::with_capacity(requests.len()), vec![0; 64 * 1024]);
    for request in requests {
        let start = Watch::now();
        stream.write_all(&request).await.expect("a request goes out");
        let answer = read_answer(&mut stream, &mut buffer).await;
        assert!(answer.starts_with("HTTP/1.1 201"), "not recorded: {answer}");
        waits.push(start.elapsed());
    }
    waits
}

async fn read_answer(stream: &mut TcpStream, buffer: &mut [u8]) -> String {
    let mut filled = 0;
    loop {
        filled += stream.read(&mut buffer[filled..]).await.expect("an answer comes");
        let text = String::from_utf8_lossy(&buffer[..filled]).into_owned();
        if let Some((head, rest)) = text.split_once("\r\n\r\n")
            && rest.len() >= content_length(head)
        {
            return text;
        }
    }
}

fn content_length(head: &str) -> usize {
    let lines = head.lines().filter_map(|line| line.split_once(": "));
    let mut lengths = lines.filter(|(name, _)| name.eq_ignore_ascii_case("content-length")).filter_map(|(_, value)| value.parse().ok());
    lengths.next().unwrap_or(0)
}
