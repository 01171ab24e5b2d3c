//! An invented nursery with its people, a log, and a client: every scenario here is made up.

use crate::stub::{ORIGIN, Stub};
use selachron_cli::client::{Client, ClientSettings};
use selachron_cli::draft::{Draft, new_subject, new_ulid};
use selachron_cli::keyfile::Identity;
use selachron_cli::seal;
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde_json::{Value, json};
use std::path::PathBuf;
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex};
use tempfile::TempDir;

/// A Sunday morning; tests that run the program itself begin at its own clock instead.
pub const START: &str = "2026-03-01T08:00:00.000Z";

pub struct World {
    pub folder: TempDir,
    pub stub: Stub,
    pub client: Client,
    pub roots: [Identity; 2],
    pub registrar: Identity,
    pub curator: Identity,
    pub keeper: Identity,
    pub said: Arc<Mutex<Vec<String>>>,
    clock: Arc<AtomicI64>,
}

impl World {
    /// A log that is founded, with a registrar, a curator and a keeper enrolled.
    pub fn founded() -> Self {
        Self::founded_at(Instant::parse(START).expect("a time"))
    }

    /// The same, founded at that time.
    pub fn founded_at(start: Instant) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let stub = Stub::start(start);
        let key = |name: &str| Identity::create(folder.path().join(name)).expect("a key");
        let (roots, registrar) = ([key("root-1.pem"), key("root-2.pem")], key("registrar.pem"));
        let (curator, keeper) = (key("curator.pem"), key("keeper.pem"));
        let clock = Arc::new(AtomicI64::new(start.0));
        let said = Arc::new(Mutex::new(Vec::new()));
        let client = client(&stub, folder.path().join("state"), &clock, &said);
        let world = Self { folder, stub, client, roots, registrar, curator, keeper, said, clock };
        let founding = world.founding();
        let outcomes = world.client.post(&[seal::sign(&founding, &[&world.roots[0], &world.roots[1]])]);
        outcomes.into_iter().next().expect("an answer").recorded().expect("the founding is recorded");
        world.roots[0].outbox().use_up(1).expect("a count");
        world.enrol(&world.roots[0], &world.registrar, &["registrar"], &[&world.roots[1]]);
        world.enrol(&world.roots[0], &world.curator, &["curator"], &[&world.roots[1]]);
        world.enrol(&world.registrar, &world.keeper, &["keeper"], &[]);
        world
    }

    /// The founding body, as the service would write it for the root keys to sign.
    pub fn founding(&self) -> Vec<u8> {
        let person = || format!("person/{}", new_ulid(self.now()).expect("an id"));
        let roots: Vec<Value> = self.roots.iter().map(|root| json!({"public_key": root.public_key_base64(), "person": person()})).collect();
        let body = json!({
            "specversion": "1.0", "id": new_ulid(self.now()).expect("an id"), "source": format!("https://{ORIGIN}"),
            "type": "collection.founded.v1", "subject": "collection", "time": self.now(), "keyid": self.roots[0].keyid(), "keycount": 1,
            "nonce": "AAAAAAAAAAAAAAAAAAAAAA", "signedtime": self.now(),
            "data": {
                "name": "Invented Nursery", "country": "PT", "time_zone": "Europe/Lisbon", "origin": ORIGIN, "root_keys": roots,
                "root_threshold": 2, "log_vkey": self.stub.vkey(), "simulated_clock": true,
            },
        });
        serde_json::to_vec(&body).expect("JSON")
    }

    fn enrol(&self, by: &Identity, key: &Identity, roles: &[&str], with: &[&Identity]) {
        let data = json!({
            "public_key": key.public_key_base64(), "person": format!("person/{}", new_ulid(self.now()).expect("an id")),
            "roles": roles, "device": "an invented tablet",
        });
        let mut approvers = vec![key];
        approvers.extend(with);
        self.client.record(by, &Draft::new("key.enrolled.v1", key.subject(), data), &approvers).expect("the key is enrolled");
    }

    pub fn now(&self) -> Instant {
        Instant(self.clock.load(Ordering::SeqCst))
    }

    /// Another client on the same machine, with its own state folder.
    pub fn second_client(&self, state: &str) -> Client {
        client(&self.stub, self.folder.path().join(state), &self.clock, &self.said)
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn fresh(&self, noun: &str) -> Subject {
        new_subject(noun, self.now()).expect("a subject")
    }

    /// A draft that brings a tank with this label in.
    pub fn tank(&self, label: &str) -> Draft {
        Draft::new("tank.set_up.v1", self.fresh("tank"), json!({"label": label, "purpose": "incubation"}))
    }

    /// A tank that is in the record.
    pub fn recorded_tank(&self, label: &str) -> Subject {
        self.client.record(&self.keeper, &self.tank(label), &[]).expect("recorded").subject
    }

    /// How many notes the log holds.
    pub fn size(&self) -> usize {
        self.stub.state().notes.len()
    }
}

pub fn client(stub: &Stub, state: PathBuf, clock: &Arc<AtomicI64>, said: &Arc<Mutex<Vec<String>>>) -> Client {
    let (clock, said) = (Arc::clone(clock), Arc::clone(said));
    let mut settings = ClientSettings::new(&stub.url(), state, Arc::new(move || Instant(clock.load(Ordering::SeqCst))));
    settings.talk = Arc::new(move |text| said.lock().expect("talk").push(text.to_owned()));
    Client::new(settings).expect("a client")
}
