//! A log of unsigned notes: what the projections read, without a journal in front of it.

use selachron_record::domain::nursery::Nursery;
use selachron_record::projections::Projections;
use selachron_record::store::memory::Memory;
use selachron_record::store::{EventStore, Head, StagedEvent};
use selachron_schemas::catalogue::catalogue;
use selachron_schemas::encoding::base64;
use selachron_schemas::event::Event;
use selachron_schemas::limits::LATE_MINUTES;
use selachron_schemas::merkle::sha256;
use selachron_schemas::names::KeyId;
use selachron_schemas::receipt::Leaf;
use selachron_schemas::replay::Replay;
use selachron_schemas::time::{DAY_MS, Instant, MINUTE_MS};
use serde_json::{Value, json};
use std::collections::HashMap;

/// Day 0 of every story, nine in the morning in Brisbane (which keeps one offset all year).
pub const DAY_0: &str = "2026-01-01T09:00:00+10:00";

/// A person with one key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Who {
    RootA,
    RootB,
    Keeper,
    Colleague,
    Curator,
    Vet,
    Registrar,
    Trainee,
}

impl Who {
    pub const STAFF: [Self; 6] = [Self::Keeper, Self::Colleague, Self::Curator, Self::Vet, Self::Registrar, Self::Trainee];

    pub fn named(word: &str) -> Self {
        match word {
            "keeper" => Self::Keeper,
            "colleague" => Self::Colleague,
            "curator" => Self::Curator,
            "vet" => Self::Vet,
            "registrar" => Self::Registrar,
            "trainee" => Self::Trainee,
            _ => panic!("nobody is called {word}"),
        }
    }

    fn role(self) -> &'static str {
        match self {
            Self::RootA | Self::RootB => "root",
            Self::Keeper | Self::Colleague => "keeper",
            Self::Curator => "curator",
            Self::Vet => "veterinarian",
            Self::Registrar => "registrar",
            Self::Trainee => "trainee",
        }
    }

    fn public_key(self) -> [u8; 32] {
        [self as u8 + 1; 32]
    }

    pub fn keyid(self) -> KeyId {
        KeyId::of(&self.public_key())
    }

    pub fn person(self) -> String {
        format!("person/01JPERS0N{:017}", self as u8)
    }
}

/// A note that is about to be written.
#[derive(Debug, Clone)]
pub struct Draft {
    pub by: Who,
    pub with: Vec<Who>,
    pub kind: String,
    pub subject: String,
    pub time: Instant,
    pub timeafter: Option<Instant>,
    pub signedtime: Option<Instant>,
    pub recorded_at: Option<Instant>,
    pub keycount: Option<u32>,
    pub data: Value,
}

impl Draft {
    pub fn new(kind: &str, subject: &str, time: Instant, data: Value) -> Self {
        let (kind, subject) = (format!("{kind}.v1"), subject.to_owned());
        let (with, by) = (Vec::new(), Who::Keeper);
        Self { by, with, kind, subject, time, timeafter: None, signedtime: None, recorded_at: None, keycount: None, data }
    }
}

/// The log.
#[derive(Debug, Default)]
pub struct Book {
    /// As the service would keep it: bodies that are withheld are gone.
    pub store: Memory,
    /// Every note as it was written.
    pub notes: Vec<(Leaf, Event)>,
    counts: HashMap<Who, u32>,
    versions: HashMap<String, u64>,
}

impl Book {
    /// A log with a founding note, everybody's key, a species and three tanks.
    pub fn founded() -> Self {
        let mut book = Self::default();
        let time = day(-30);
        let roots: Vec<Value> =
            [Who::RootA, Who::RootB].map(|who| json!({"public_key": base64(&who.public_key()), "person": who.person()})).to_vec();
        let founding = json!({"name": "Invented Nursery", "country": "AU", "time_zone": "Australia/Brisbane",
            "origin": "records.example.org/nursery", "root_keys": roots, "root_threshold": 2, "simulated_clock": true,
            "log_vkey": "records.example.org/nursery+2f8c03f8+AT1AF8PoQ4lakrcKp00bfrycmCzPLsSWjMDNVfEq9GYM"});
        book.write(Draft { by: Who::RootA, with: vec![Who::RootB], ..Draft::new("collection.founded", "collection", time, founding) });
        for who in Who::STAFF {
            let data = json!({"public_key": base64(&who.public_key()), "person": who.person(), "roles": [who.role()], "device": "tablet"});
            let subject = format!("key/{}", who.keyid());
            book.write(Draft { by: Who::RootA, with: vec![who], ..Draft::new("key.enrolled", &subject, time, data) });
        }
        let species = json!({"scientific_name": "Inventus exemplaris", "common_name": "Invented shark", "length_basis": "total",
            "not_seen_to_eat_days": 10});
        book.write(Draft::new("species.listed", &subject("species", "S"), time, species));
        for (label, purpose) in [("Adults", "adults"), ("Inc", "incubation"), ("Nur", "nursery")] {
            book.write(Draft::new("tank.set_up", &subject("tank", label), time, json!({"label": label, "purpose": purpose})));
        }
        book
    }

    pub fn size(&self) -> u64 {
        self.notes.len() as u64
    }

    pub fn newest(&self) -> Instant {
        self.notes.last().map_or(Instant(i64::MIN), |(leaf, _)| leaf.recorded_at)
    }

    /// Writes a note as if the log had taken it; its data satisfy the schema.
    pub fn write(&mut self, draft: Draft) -> u64 {
        let keycount = draft.keycount.unwrap_or_else(|| self.counts.get(&draft.by).copied().unwrap_or(0) + 1);
        self.counts.insert(draft.by, keycount);
        let seq = self.size();
        let id = format!("01J{seq:023}");
        let signedtime = draft.signedtime.unwrap_or(draft.time);
        let mut body = json!({"specversion": "1.0", "id": id, "source": "https://records.example.org/nursery", "type": draft.kind,
            "subject": draft.subject, "time": draft.time.utc_text(), "keyid": draft.by.keyid(), "keycount": keycount,
            "nonce": "AAAAAAAAAAAAAAAAAAAAAA", "signedtime": signedtime.utc_text(), "data": draft.data});
        if let Some(after) = draft.timeafter {
            body["timeafter"] = json!(after.utc_text());
        }
        if signedtime.0 - draft.time.0 > LATE_MINUTES * MINUTE_MS {
            body["late"] = json!(true);
            body["latereason"] = json!("told at the evening round");
        }
        let body = body.to_string().into_bytes();
        let event = Event::parse(&body).unwrap_or_else(|refusal| panic!("{refusal}: {}", String::from_utf8_lossy(&body)));
        catalogue()
            .check(&event)
            .unwrap_or_else(|refusal| panic!("{refusal}: {}", event.data.iter().map(|(k, v)| format!("{k}={v} ")).collect::<String>()));
        let taken = draft.recorded_at.unwrap_or(draft.time.plus_ms(MINUTE_MS));
        let recorded_at = if seq == 0 { taken } else { taken.max(self.newest().plus_ms(1)) };
        let mut signatures: Vec<_> = draft.with.iter().chain([&draft.by]).map(|who| (who.keyid(), [0; 64])).collect();
        signatures.sort_unstable_by_key(|(keyid, _)| *keyid);
        let version = self.versions.entry(draft.subject.clone()).or_default();
        *version += 1;
        let leaf = Leaf { seq, recorded_at, subject_version: *version, body_sha256: sha256(&body), signatures };
        self.put(leaf, event, body);
        seq
    }

    fn put(&mut self, leaf: Leaf, event: Event, body: Vec<u8>) {
        let withholds = (event.kind == "body.withheld.v1").then(|| event.data["seq"].as_u64().unwrap());
        let (id, kind, subject) = (event.id.clone(), event.kind.clone(), event.subject.to_string());
        let head = Head { size: leaf.seq + 1, root: [0; 32], note: String::new() };
        self.store.stage(&[StagedEvent { leaf: leaf.clone(), id, kind, subject, body, withholds }], &head.root).unwrap();
        self.store.publish(leaf.seq, &head).unwrap();
        self.notes.push((leaf, event));
    }

    /// Withholds the body of a note.
    pub fn withhold(&mut self, target: u64, replacement: Option<Value>) -> u64 {
        let event = self.event(target);
        let mut data = json!({"seq": target, "id": event.id, "kind": event.kind, "subject": event.subject,
            "time": event.time.utc_text(), "keyid": event.keyid, "keycount": event.keycount,
            "reason": "a name stood in it", "authority": "the institution's privacy rule"});
        if let Some(after) = event.timeafter {
            data["timeafter"] = json!(after.utc_text());
        }
        if let Some(replacement) = replacement {
            data["replacement"] = replacement;
        }
        let time = self.newest();
        let draft = Draft::new("body.withheld", "collection", time, data);
        self.write(Draft { by: Who::Registrar, with: vec![Who::Curator], ..draft })
    }

    /// A note as it was written.
    pub fn event(&self, seq: u64) -> &Event {
        &self.notes[usize::try_from(seq).unwrap()].1
    }

    /// Projections that have learned the whole log at once.
    pub fn learned(&self) -> Projections {
        let projections = Projections::new();
        projections.catch_up(&self.store, self.size()).expect("the log can be learned");
        projections
    }
}

impl Book {
    /// The same notes, those from `first` on in another order: their bodies do not change.
    pub fn rearranged(&self, first: u64, order: &[u64]) -> Self {
        let mut other = Self::default();
        for (seq, old) in (0..first).chain(order.iter().copied()).zip(0..).map(|(old, seq)| (seq, old)) {
            let (leaf, event) = &self.notes[usize::try_from(old).unwrap()];
            let body = self.store.read_all(old, 1).unwrap().remove(0).body.unwrap();
            let version = other.versions.entry(event.subject.to_string()).or_default();
            *version += 1;
            let recorded_at = self.notes[usize::try_from(seq).unwrap()].0.recorded_at;
            let leaf = Leaf { seq, recorded_at, subject_version: *version, ..leaf.clone() };
            other.put(leaf, event.clone(), body);
        }
        other
    }

    /// The memory of the whole log, cut to `size` notes.
    pub fn learned_and_cut(&self, size: u64) -> Nursery {
        let (mut nursery, mut replay) = (Nursery::default(), Replay::new(false));
        for (leaf, event) in &self.notes {
            nursery.learn(event, leaf, replay.keys());
            replay.apply(event, leaf);
        }
        nursery.truncate(size);
        nursery
    }
}

/// Nine in the morning, so many days after day 0.
pub fn day(number: i64) -> Instant {
    Instant::parse(DAY_0).unwrap().plus_ms(number * DAY_MS)
}

/// A subject made from a name of the story: the same for the same name, another for another.
pub fn subject(noun: &str, name: &str) -> String {
    const CROCKFORD: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
    let digest = sha256(format!("{noun} {name}").as_bytes());
    let ulid: String = digest[..25].iter().map(|byte| char::from(CROCKFORD[usize::from(byte % 32)])).collect();
    format!("{noun}/0{ulid}")
}
