//! A log behind a socket: the rules are those of `schemas::replay`, the proofs are real, and
//! each way of cheating that a client must notice can be switched on.

use ed25519_dalek::SigningKey;
use selachron_schemas::encoding::{base64, hex};
use selachron_schemas::event::Event;
use selachron_schemas::merkle::Tree;
use selachron_schemas::note::{Checkpoint, VerifierKey};
use selachron_schemas::receipt::{Leaf, Receipt};
use selachron_schemas::replay::Replay;
use selachron_schemas::replay::judge::Judged;
use selachron_schemas::time::Instant;
use serde_json::{Value, json};
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard};

pub const ORIGIN: &str = "records.example.org/invented";

/// A note that was taken: its seq, its id, and the size its device had seen.
type Taken = (u64, String, Option<u64>);

/// What the log does wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Lie {
    #[default]
    None,
    /// Receipts of another note.
    OtherLeaf,
    /// Checkpoints signed by a key that is not the log's.
    OtherKey,
    /// Inclusion proofs with a hash too few.
    ShortProof,
    /// Answers that name another seq than the receipt.
    OtherSeq,
    /// Leaves that lack the author's own signature over the body.
    OtherSignature,
    /// Consistency proofs of other trees.
    OtherConsistency,
}

pub struct State {
    pub log: Replay,
    /// The tree that proofs are made from; a fork makes it differ from the log's own.
    pub tree: Tree,
    pub notes: Vec<(Leaf, Vec<u8>)>,
    pub log_key: SigningKey,
    pub now: Instant,
    pub lie: Lie,
    /// So many requests are answered 503.
    pub busy: u32,
    /// Notes are recorded and the connection is cut before the answer.
    pub hang_up: bool,
    /// Answers leave the consistency proof out.
    pub no_consistency: bool,
    /// Discrepancies that the next answers name.
    pub odd: Vec<String>,
    /// What was asked, method and target.
    pub asked: Vec<String>,
    /// The archive that `/v1/log/bundle` sends; else one of the log.
    pub archive: Option<Vec<u8>>,
    /// What an export sends, and whether its end comes.
    pub export: (Vec<u8>, bool),
}

pub struct Stub {
    address: SocketAddr,
    state: Arc<Mutex<State>>,
    stop: Arc<AtomicBool>,
}

impl Stub {
    pub fn start(now: Instant) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        let address = listener.local_addr().expect("an address");
        let state = Arc::new(Mutex::new(State {
            log: Replay::new(true),
            tree: Tree::default(),
            notes: Vec::new(),
            log_key: SigningKey::from_bytes(&[77; 32]),
            now,
            lie: Lie::None,
            busy: 0,
            hang_up: false,
            no_consistency: false,
            odd: Vec::new(),
            asked: Vec::new(),
            archive: None,
            export: (Vec::new(), true),
        }));
        let stop = Arc::new(AtomicBool::new(false));
        let (shared, stopped) = (Arc::clone(&state), Arc::clone(&stop));
        std::thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                if stopped.load(Ordering::SeqCst) {
                    return;
                }
                // A client that breaks off is that test's business.
                let _ = answer(stream, &shared);
            }
        });
        Self { address, state, stop }
    }

    pub fn url(&self) -> String {
        format!("http://{}", self.address)
    }

    pub fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().expect("no test panics while it holds the log")
    }

    pub fn vkey(&self) -> String {
        self.state().vkey().to_string()
    }

    /// From now on nobody listens.
    pub fn stop(&self) {
        self.stop.store(true, Ordering::SeqCst);
        let _ = TcpStream::connect(self.address);
    }
}

impl Drop for Stub {
    fn drop(&mut self) {
        self.stop();
    }
}

impl State {
    pub fn vkey(&self) -> VerifierKey {
        VerifierKey::new(ORIGIN, self.log_key.verifying_key())
    }

    /// Replaces the leaf at `seq` in the tree that proofs are made from.
    pub fn fork(&mut self, seq: usize) {
        self.tree = Tree::default();
        for (at, (leaf, _)) in self.notes.iter().enumerate() {
            let mut leaf = leaf.clone();
            if at == seq {
                leaf.body_sha256 = [9; 32];
            }
            self.tree.push(leaf.hash());
        }
    }

    pub fn checkpoint(&self) -> String {
        let (size, root) = (self.tree.size(), self.tree.root(self.tree.size()).expect("a root"));
        let key = if self.lie == Lie::OtherKey { SigningKey::from_bytes(&[78; 32]) } else { self.log_key.clone() };
        Checkpoint { origin: ORIGIN.to_owned(), size, root }.sign(&[&key])
    }

    /// Records the notes of one request under one checkpoint, then answers each.
    fn record_all(&mut self, lines: &str) -> Vec<Value> {
        let recorded: Vec<Result<Taken, Value>> = lines.lines().map(|line| self.record(line)).collect();
        let answer = |one: Result<Taken, Value>| match one {
            Ok((seq, id, seen)) => self.recorded(seq, &id, seen),
            Err(refused) => refused,
        };
        recorded.into_iter().map(answer).collect()
    }

    fn record(&mut self, line: &str) -> Result<Taken, Value> {
        let refused = |id: Option<String>, refusal: &selachron_schemas::refusal::Refusal| {
            let kind = format!("/problems/{}", refusal.problem.name());
            let problem =
                json!({"type": kind, "title": "refused", "status": 422, "detail": refusal.detail, "pointer": refusal.pointer, "id": id});
            json!({"status": "refused", "id": id, "problem": problem})
        };
        let note = match self.log.gate().open(line.as_bytes()) {
            Ok(note) => note,
            Err(stopped) => return Err(refused(stopped.id, &stopped.refusal)),
        };
        let newest = self.notes.last().map_or(Instant(0), |(leaf, _)| leaf.recorded_at.plus_ms(1));
        let recorded_at = self.now.max(newest);
        let (id, seen) = (note.event().id.clone(), note.event().seen.clone());
        let seen = seen.map(|seen| seen.size);
        match self.log.judge(&note, recorded_at) {
            Ok(Judged::New { subject_version }) => {
                let seq = self.log.size();
                let leaf =
                    Leaf { seq, recorded_at, subject_version, body_sha256: *note.body_sha256(), signatures: note.signatures().to_vec() };
                self.log.apply(note.event(), &leaf);
                self.tree.push(leaf.hash());
                self.notes.push((leaf, note.body().to_vec()));
                Ok((seq, id, seen))
            }
            Ok(Judged::Repeat { seq }) => Ok((seq, id, seen)),
            Ok(Judged::LogForked { detail }) => {
                Err(json!({"status": "refused", "id": id, "problem": {"type": "/problems/sealed", "detail": detail}}))
            }
            Err(refusal) => Err(refused(Some(id), &refusal)),
        }
    }

    fn recorded(&self, seq: u64, id: &str, seen: Option<u64>) -> Value {
        let (leaf, _) = &self.notes[usize::try_from(seq).expect("a small log")];
        let mut leaf = if self.lie == Lie::OtherLeaf { self.notes[0].0.clone() } else { leaf.clone() };
        let mut proof = self.tree.inclusion(leaf.seq, self.tree.size()).expect("a proof");
        let said_seq = if self.lie == Lie::OtherSeq { seq + 1 } else { leaf.seq };
        match self.lie {
            Lie::ShortProof => drop(proof.pop()),
            Lie::OtherSignature => leaf.signatures[0].1[0] ^= 1,
            _ => {}
        }
        let mut checkpoint = self.checkpoint();
        if self.lie == Lie::OtherSignature {
            // A log that changes the leaf can still prove the changed leaf.
            let mut tree = Tree::default();
            self.notes.iter().for_each(|(other, _)| tree.push(if other.seq == leaf.seq { leaf.hash() } else { other.hash() }));
            proof = tree.inclusion(leaf.seq, tree.size()).expect("a proof");
            checkpoint = Checkpoint { origin: ORIGIN.to_owned(), size: tree.size(), root: tree.root(tree.size()).expect("a root") }
                .sign(&[&self.log_key]);
        }
        let receipt = Receipt::write(&leaf, &proof, &checkpoint);
        let mut answer = json!({
            "status": "recorded", "id": id, "seq": said_seq, "subject_version": leaf.subject_version,
            "discrepancies": self.odd, "receipt": receipt,
        });
        if let Some(proof) = seen.filter(|_| !self.no_consistency).and_then(|seen| self.consistency(seen, self.tree.size())) {
            answer["consistency"] = proof;
        }
        answer
    }

    fn consistency(&self, first: u64, second: u64) -> Option<Value> {
        let mut hashes = self.tree.consistency(first, second)?;
        if self.lie == Lie::OtherConsistency {
            hashes.iter_mut().for_each(|hash| hash[0] ^= 1);
        }
        Some(json!(hashes.iter().map(|hash| base64(hash)).collect::<Vec<_>>()))
    }

    fn head(&self, content: &Value) -> Value {
        let root = self.tree.root(self.tree.size()).expect("a root");
        let mut answer =
            json!({"as_of": self.now, "known_at": self.tree.size(), "root": base64(&root), "withheld": 0, "simulated_clock": true});
        answer.as_object_mut().expect("an object").extend(content.as_object().cloned().unwrap_or_default());
        answer
    }

    fn events(&self) -> impl Iterator<Item = (u64, Event, &Vec<u8>)> {
        self.notes.iter().map(|(leaf, body)| (leaf.seq, Event::parse(body).expect("a recorded note"), body))
    }

    /// What notes brought in, with their labels.
    fn items(&self, noun: &str) -> Vec<Value> {
        let text = |value: Option<&Value>| value.and_then(Value::as_str).map(str::to_owned);
        let mut items = Vec::new();
        for (_, event, _) in self.events() {
            let creates = selachron_schemas::catalogue::catalogue().kind(&event.kind).is_some_and(|kind| kind.creates_subject);
            if creates && event.subject.noun() == noun {
                items.push(json!({"id": event.subject, "label": text(event.data.get("label"))}));
            }
            for young in event.data.get("young").and_then(Value::as_array).into_iter().flatten().filter(|_| noun == "animal") {
                items.push(json!({"id": young["animal"], "label": text(young.get("label"))}));
            }
        }
        items
    }
}

enum Reply {
    Json(u16, Value),
    Text(u16, &'static str, String),
    Bytes(Vec<u8>),
    /// In chunks, of which the last may not come.
    Chunks(Vec<u8>, bool),
    HangUp,
}

fn answer(stream: TcpStream, state: &Mutex<State>) -> std::io::Result<()> {
    let mut reader = BufReader::new(stream.try_clone()?);
    let mut line = String::new();
    reader.read_line(&mut line)?;
    let mut parts = line.split(' ');
    let (method, target) = (parts.next().unwrap_or_default().to_owned(), parts.next().unwrap_or_default().to_owned());
    let mut length = 0;
    loop {
        let mut header = String::new();
        reader.read_line(&mut header)?;
        if header.trim().is_empty() {
            break;
        }
        if let Some(value) = header.to_ascii_lowercase().strip_prefix("content-length:") {
            length = value.trim().parse().unwrap_or(0);
        }
    }
    let mut body = vec![0; length];
    reader.read_exact(&mut body)?;
    let reply = {
        let mut state = state.lock().expect("no test panics while it holds the log");
        state.asked.push(format!("{method} {target}"));
        reply(&mut state, &method, &target, &String::from_utf8_lossy(&body))
    };
    write(stream, reply)
}

fn write(mut stream: TcpStream, reply: Reply) -> std::io::Result<()> {
    let (status, media, body) = match reply {
        Reply::HangUp => return Ok(()),
        Reply::Chunks(bytes, ends) => return write_chunks(stream, &bytes, ends),
        Reply::Json(status, value) => (status, "application/json", value.to_string().into_bytes()),
        Reply::Text(status, media, text) => (status, media, text.into_bytes()),
        Reply::Bytes(bytes) => (200, "application/x-tar", bytes),
    };
    let head = format!(
        "HTTP/1.1 {status} X\r\ncontent-type: {media}\r\ncontent-length: {}\r\nretry-after: 0\r\nconnection: close\r\n\r\n",
        body.len()
    );
    stream.write_all(head.as_bytes())?;
    stream.write_all(&body)
}

fn write_chunks(mut stream: TcpStream, bytes: &[u8], ends: bool) -> std::io::Result<()> {
    stream.write_all(b"HTTP/1.1 200 X\r\nselachron-known-at: 2\r\ntransfer-encoding: chunked\r\n\r\n")?;
    stream.write_all(format!("{:x}\r\n", bytes.len()).as_bytes())?;
    stream.write_all(bytes)?;
    stream.write_all(if ends { b"\r\n0\r\n\r\n" } else { b"\r\n" })
}

fn problem(status: u16, name: &str, detail: &str) -> Reply {
    Reply::Json(status, json!({"type": format!("/problems/{name}"), "title": name, "status": status, "detail": detail}))
}

fn reply(state: &mut State, method: &str, target: &str, body: &str) -> Reply {
    if state.busy > 0 {
        state.busy -= 1;
        return problem(503, "busy", "the journal is full; try again");
    }
    let (path, query) = target.split_once('?').unwrap_or((target, ""));
    let parts: Vec<&str> = path.trim_start_matches("/v1/").split('/').collect();
    match (method, parts.as_slice()) {
        ("POST", ["events"]) => {
            let lines: Vec<String> = state.record_all(body).iter().map(Value::to_string).collect();
            if state.hang_up { Reply::HangUp } else { Reply::Text(200, "application/x-ndjson", lines.join("\n") + "\n") }
        }
        ("PUT", ["evidence", sha256]) => {
            let found = hex(&selachron_schemas::merkle::sha256(body.as_bytes()));
            assert_eq!(found, *sha256, "the file is the one that is named");
            Reply::Json(201, json!({"sha256": sha256, "bytes": body.len()}))
        }
        ("GET", parts) => get(state, parts, query),
        _ => problem(404, "not-found", "there is no such path"),
    }
}

fn get(state: &State, parts: &[&str], query: &str) -> Reply {
    let asked = |name: &str| query.split('&').find_map(|pair| pair.strip_prefix(&format!("{name}=")));
    match parts {
        ["collection"] => Reply::Json(200, json!({
            "name": "Invented Nursery", "country": "PT", "time_zone": "Europe/Lisbon", "origin": ORIGIN,
            "log_vkey": state.vkey().to_string(), "simulated_clock": true, "size": state.tree.size(),
        })),
        ["log", "key"] => Reply::Text(200, "text/plain", format!("{}\n", state.vkey())),
        ["log", "checkpoint"] => Reply::Text(200, "text/plain", state.checkpoint()),
        ["log", "proof", "consistency"] => {
            let number = |name| asked(name).and_then(|text| text.parse().ok()).unwrap_or(0);
            match state.consistency(number("first"), number("second")) {
                Some(hashes) => Reply::Json(200, json!({"hashes": hashes})),
                None => problem(400, "bad-query", "there is no such proof"),
            }
        }
        ["exports", _] => Reply::Chunks(state.export.0.clone(), state.export.1),
        ["log", "bundle"] => Reply::Bytes(state.archive.clone().unwrap_or_else(|| archive(state))),
        ["events", id] => match state.events().find(|(_, event, _)| event.id == *id) {
            Some((seq, _, body)) => {
                let sha = base64(&selachron_schemas::merkle::sha256(body));
                let text = format!("{{\"known_at\":{},\"item\":{{\"seq\":{seq},\"body_sha256\":\"{sha}\",\"event\":{}}}}}", state.tree.size(), String::from_utf8_lossy(body));
                Reply::Text(200, "application/json", text)
            }
            None => problem(404, "not-found", "no such note"),
        },
        ["events", id, "receipt"] => match state.events().find(|(_, event, _)| event.id == *id) {
            Some((seq, ..)) => Reply::Text(200, "text/plain", state.recorded(seq, id, None)["receipt"].as_str().expect("a receipt").to_owned()),
            None => problem(404, "not-found", "no such note"),
        },
        ["events"] => {
            let item = |(seq, _, body): (u64, Event, &Vec<u8>)| json!({"seq": seq, "event": serde_json::from_slice::<Value>(body).expect("JSON")});
            page(state, &state.events().map(item).collect::<Vec<_>>(), asked("cursor"))
        }
        ["due"] => Reply::Json(200, state.head(&json!({"items": []}))),
        ["discrepancies"] => Reply::Json(200, state.head(&json!({"items": [{"id": "d1", "weight": "needs a person today", "open": true, "says": "an invented oddity", "subjects": []}]}))),
        ["reports", "annual", year] => {
            let root = base64(&state.tree.root(state.tree.size()).expect("a root"));
            let report = json!({
                "year": year, "as_of": state.now, "known_at": state.tree.size(), "root": root,
                "software": "an invented program", "tzdb": "2026a",
            });
            Reply::Text(200, "application/json", format!("{report:#}\n"))
        }
        [list] => match noun(list) {
            Some(noun) => page(state, &state.items(noun), asked("cursor")),
            None => problem(404, "not-found", "there is no such path"),
        },
        [list, name, rest @ ..] => item(state, list, name, rest),
        _ => problem(404, "not-found", "there is no such path"),
    }
}

/// One item a page, so that paging is always met.
fn page(state: &State, items: &[Value], cursor: Option<&str>) -> Reply {
    let at: usize = cursor.and_then(|text| text.parse().ok()).unwrap_or(0);
    let mut answer = state.head(&json!({"items": items.get(at..=at).unwrap_or_default()}));
    if at + 1 < items.len() {
        answer["next"] = json!((at + 1).to_string());
    }
    Reply::Json(200, answer)
}

fn noun(list: &str) -> Option<&'static str> {
    let listed = selachron_cli::command::session::LISTED.iter().filter(|(noun, _)| *noun != "key");
    listed.into_iter().find_map(|(noun, name)| (*name == list).then_some(*noun))
}

fn item(state: &State, list: &str, name: &str, rest: &[&str]) -> Reply {
    let Some(noun) = noun(list) else { return problem(404, "not-found", "there is no such path") };
    let items = state.items(noun);
    let name = percent_decoded(name);
    let fits = |item: &&Value| item["label"] == name.as_str() || item["id"] == format!("{noun}/{name}").as_str();
    let found: Vec<&Value> = items.iter().filter(fits).collect();
    match (found.as_slice(), rest) {
        ([], _) => problem(404, "not-found", "no such thing"),
        ([one], []) => Reply::Json(200, state.head(&json!({"item": one}))),
        ([one], ["history"]) => {
            Reply::Json(200, state.head(&json!({"item_id": one["id"], "notes": history(state, one["id"].as_str().unwrap_or_default())})))
        }
        (several, _) => {
            let candidates: Vec<&Value> = several.iter().map(|item| &item["id"]).collect();
            let mut problem = json!({"type": "/problems/ambiguous", "status": 409, "detail": "the label names several"});
            problem["candidates"] = json!(candidates);
            Reply::Json(409, problem)
        }
    }
}

/// Notes about a subject; the newest correction is laid over each.
fn history(state: &State, subject: &str) -> Vec<Value> {
    let acts: Vec<Event> = state.events().map(|(_, event, _)| event).filter(|event| event.kind == "record.corrected.v1").collect();
    let told = state.events().filter(|(_, event, _)| event.subject.as_str() == subject && !event.kind.starts_with("record."));
    told.map(|(seq, event, _)| {
        let act = acts.iter().rev().find(|act| act.data["target"] == event.id.as_str());
        let replaced = |name: &str| act.and_then(|act| act.data["replacement"].get(name)).cloned();
        json!({
            "seq": seq, "id": event.id, "kind": event.kind, "subject": subject, "time": replaced("time").unwrap_or(json!(event.time)),
            "data": replaced("data").unwrap_or(Value::Object(event.data)), "recorded_at": state.now,
            "standing": if act.is_some() { "put right" } else { "stands" }, "by": {"person": "person/invented", "roles": ["keeper"]},
            "acts": [], "discrepancies": [],
        })
    })
    .collect()
}

fn percent_decoded(text: &str) -> String {
    let mut bytes = Vec::new();
    let mut rest = text.as_bytes();
    while let [first, tail @ ..] = rest {
        match (first, tail) {
            (b'%', [high, low, tail @ ..]) => {
                let digits = String::from_utf8_lossy(&[*high, *low]).into_owned();
                bytes.push(u8::from_str_radix(&digits, 16).expect("hexadecimal"));
                rest = tail;
            }
            (byte, tail) => {
                bytes.push(*byte);
                rest = tail;
            }
        }
    }
    String::from_utf8(bytes).expect("UTF-8")
}

/// The log as a folder in a tar.
fn archive(state: &State) -> Vec<u8> {
    let leaves: String = state.notes.iter().map(|(leaf, _)| format!("{}\n", leaf.text())).collect();
    let files = [("checkpoint", state.checkpoint()), ("leaves", leaves), ("schemas/event.schema.json", "{}".to_owned())];
    tar_of(&files.map(|(name, text)| (name.to_owned(), text, tar::EntryType::Regular)))
}

/// A tar of these entries, whatever their names.
pub fn tar_of(entries: &[(String, String, tar::EntryType)]) -> Vec<u8> {
    let mut builder = tar::Builder::new(Vec::new());
    for (name, text, kind) in entries {
        let mut header = tar::Header::new_ustar();
        // Written by hand: the library itself refuses to write the names that a test needs.
        header.as_mut_bytes()[..name.len()].copy_from_slice(name.as_bytes());
        header.set_entry_type(*kind);
        header.set_size(text.len() as u64);
        header.set_mode(0o644);
        if *kind == tar::EntryType::Symlink {
            header.set_link_name("/tmp").expect("a link name");
        }
        header.set_cksum();
        builder.append(&header, text.as_bytes()).expect("an entry");
    }
    builder.into_inner().expect("a tar")
}
