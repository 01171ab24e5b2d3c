//! A whole world for a test: a founded log in a fresh folder, the real service on loopback with a
//! simulated clock, the real client, and staff with keys. What a test leaves is audited when it
//! ends: the bundle verifies off line, and a service started again answers every read alike.

use crate::fixture::{Hand, Staff, envelope, ulid};
use selachron_cli::answer::{Outcome, Recorded};
use selachron_cli::client::{Client, ClientSettings};
use selachron_cli::reading::ReadKey;
use selachron_record::clock::SimulatedClock;
use selachron_record::config::Network;
use selachron_record::{Running, Service, Settings};
use selachron_schemas::audit::trust::Trust;
use selachron_schemas::time::{DAY_MS, Instant};
use serde_json::{Map, Value, json};
use std::path::Path;
use std::sync::Arc;
use tempfile::TempDir;

/// Noon in the collection's zone on the day a world begins: 1 March 2025.
pub const START: Instant = Instant(1_740_830_400_000);

/// Reads that must be the same after a rebuild.
const READS: [&str; 34] = [
    "/v1/figures/egg-fates",
    "/v1/figures/loss-timing",
    "/v1/figures/incubation",
    "/v1/figures/life-table",
    "/v1/figures/pedigree",
    "/v1/instruments",
    "/v1/places",
    "/v1/foods",
    "/v1/rounds",
    "/v1/incidents",
    "/v1/consignments",
    "/v1/loans",
    "/v1/samples",
    "/v1/documents",
    "/v1/permits",
    "/v1/quarantines",
    "/v1/duty",
    "/v1/eggs",
    "/v1/clutches",
    "/v1/animals",
    "/v1/groups",
    "/v1/tanks",
    "/v1/systems",
    "/v1/species",
    "/v1/forecast",
    "/v1/openings",
    "/v1/keys",
    "/v1/due",
    "/v1/water/episodes",
    "/v1/discrepancies",
    "/v1/figures/hatch-rates",
    "/v1/figures/assisted",
    "/v1/exports/studbook",
    "/v1/exports/events",
];

/// See the module.
pub struct World {
    folder: TempDir,
    clock: Arc<SimulatedClock>,
    service: Option<Running>,
    client: Client,
    /// The people; take one out by `world.staff.keeper.clone()` or act through [`World::say`].
    pub staff: Staff,
    named: u64,
    audited: bool,
}

/// Who acts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Who {
    /// Enrols.
    Registrar,
    /// Answers for the nursery.
    Curator,
    /// Licensed.
    Veterinarian,
    /// Looks after the eggs.
    Keeper,
    /// A second keeper.
    SecondKeeper,
    /// Learns.
    Trainee,
}

impl Default for World {
    fn default() -> Self {
        Self::new()
    }
}

impl World {
    /// A founded log with its staff enrolled and nothing else, at [`START`].
    #[must_use]
    pub fn new() -> Self {
        Self::founded_at(START)
    }

    /// The same at another moment.
    ///
    /// # Panics
    /// The service does not start or refuses the enrolments.
    #[must_use]
    pub fn founded_at(start_at: Instant) -> Self {
        let folder = tempfile::tempdir().expect("a fresh folder");
        let clock = Arc::new(SimulatedClock::new(start_at));
        let mut staff = Staff::default();
        staff.found(&folder.path().join("log"), clock.clone(), true);
        let service = start(&folder.path().join("log"), &clock);
        // Until somebody is enrolled only root keys can read.
        let client = client(&service, folder.path(), &clock, &staff.roots[0]);
        let mut world = Self { folder, clock, service: Some(service), client, staff, named: 0, audited: true };
        for enrolment in world.staff.enrolments(start_at) {
            world.post(&enrolment).recorded().expect("an enrolment is recorded");
        }
        world.client = world.client_of(Who::Curator);
        world
    }

    /// The moment the world's clock shows.
    #[must_use]
    pub fn now(&self) -> Instant {
        self.client.now()
    }

    /// Lets time pass.
    pub fn pass_ms(&self, ms: i64) {
        self.clock.advance_ms(ms);
    }

    /// Lets whole days pass.
    pub fn pass_days(&self, days: i64) {
        self.pass_ms(days * DAY_MS);
    }

    /// Sets the clock.
    pub fn set_clock(&self, instant: Instant) {
        self.clock.set(instant);
    }

    /// The real client.
    #[must_use]
    pub fn client(&self) -> &Client {
        &self.client
    }

    /// A client that reads with somebody's key; the world's own reads with the curator's.
    pub fn client_of(&mut self, who: Who) -> Client {
        let reader = self.hand(who).clone();
        client(self.service(), self.folder.path(), &self.clock, &reader)
    }

    /// The running service.
    ///
    /// # Panics
    /// It has been stopped.
    #[must_use]
    pub fn service(&self) -> &Running {
        self.service.as_ref().expect("the service runs")
    }

    /// The log's folder.
    #[must_use]
    pub fn log_folder(&self) -> std::path::PathBuf {
        self.folder.path().join("log")
    }

    /// A folder for what a test writes itself.
    #[must_use]
    pub fn scratch(&self) -> &Path {
        self.folder.path()
    }

    /// A new subject of that noun; the same test makes the same ones again.
    pub fn subject(&mut self, noun: &str) -> String {
        self.named += 1;
        format!("{noun}/{}", ulid(1, self.named))
    }

    /// The hand of that role.
    pub fn hand(&mut self, who: Who) -> &mut Hand {
        match who {
            Who::Registrar => &mut self.staff.registrar,
            Who::Curator => &mut self.staff.curator,
            Who::Veterinarian => &mut self.staff.veterinarian,
            Who::Keeper => &mut self.staff.keeper,
            Who::SecondKeeper => &mut self.staff.second_keeper,
            Who::Trainee => &mut self.staff.trainee,
        }
    }

    /// The root persons' hands.
    pub fn roots(&mut self) -> &mut [Hand; 2] {
        &mut self.staff.roots
    }

    /// Posts an envelope through the client.
    ///
    /// # Panics
    /// The client gives no outcome.
    pub fn post(&self, envelope: &str) -> Outcome {
        self.client.post(&[envelope.to_owned()]).pop().expect("one outcome for one envelope")
    }

    /// One person says what happened just now.
    pub fn say(&mut self, who: Who, kind: &str, subject: &str, data: &Value) -> Outcome {
        self.say_with(who, kind, subject, data, &Map::new(), &[])
    }

    /// With further attributes and approvals.
    pub fn say_with(&mut self, who: Who, kind: &str, subject: &str, data: &Value, more: &Map<String, Value>, approvers: &[Who]) -> Outcome {
        let now = self.now();
        let body = self.hand(who).body_with(kind, subject, now, data, more);
        let mut hands = vec![self.hand(who).clone()];
        hands.extend(approvers.iter().map(|approver| self.hand(*approver).clone()));
        self.post(&envelope(&body, &hands.iter().collect::<Vec<_>>()))
    }

    /// The same, and it must be recorded.
    ///
    /// # Panics
    /// It is not.
    #[track_caller]
    pub fn record(&mut self, who: Who, kind: &str, subject: &str, data: &Value) -> Recorded {
        self.say(who, kind, subject, data).recorded().unwrap_or_else(|fault| panic!("{kind} about {subject}: {fault}"))
    }

    /// The same, and it must be refused; the problem's name.
    ///
    /// # Panics
    /// It is not refused.
    #[track_caller]
    pub fn refusal(&mut self, who: Who, kind: &str, subject: &str, data: &Value) -> String {
        match self.say(who, kind, subject, data) {
            Outcome::Refused { refused, .. } => refused.name,
            other => panic!("{kind} about {subject} was to be refused: {other:?}"),
        }
    }

    /// A species, for eggs and animals to be of.
    pub fn species(&mut self, scientific_name: &str, common_name: &str) -> String {
        let species = self.subject("species");
        let data = json!({"scientific_name": scientific_name, "common_name": common_name, "length_basis": "total"});
        self.record(Who::Curator, "species.listed.v1", &species, &data);
        species
    }

    /// A tank for a purpose.
    pub fn tank(&mut self, label: &str, purpose: &str) -> String {
        let tank = self.subject("tank");
        self.record(Who::Keeper, "tank.set_up.v1", &tank, &json!({"label": label, "purpose": purpose}));
        tank
    }

    /// An egg collected just now.
    pub fn egg(&mut self, label: &str, species: &str, from_tank: &str, to_tank: Option<&str>) -> String {
        let egg = self.subject("egg");
        let mut data =
            json!({"label": label, "species": species, "from_tank": from_tank, "laid": "single", "case": "whole", "yolk": "seen"});
        if let Some(tank) = to_tank {
            data["to_tank"] = json!(tank);
        }
        self.record(Who::Keeper, "egg.collected.v1", &egg, &data);
        egg
    }

    /// A read.
    ///
    /// # Panics
    /// The service refuses it.
    #[track_caller]
    pub fn read(&self, path: &str, query: &[(&str, &str)]) -> Value {
        self.client.get(path, query).unwrap_or_else(|fault| panic!("{path}: {fault}"))
    }

    /// Stops the service and starts it again on the same folder, as after a crash or an upgrade.
    pub fn restart(&mut self) {
        drop(self.service.take());
        self.service = Some(start(&self.log_folder(), &self.clock));
        self.client = self.client_of(Who::Curator);
    }

    /// A world whose log is meant to end up broken or sealed is not audited.
    pub fn leave_unaudited(&mut self) {
        self.audited = false;
    }

    /// Verifies the bundle off line under the pinned key.
    ///
    /// # Panics
    /// The verifier finds a fault.
    pub fn verify(&self) -> selachron_schemas::audit::Audit {
        let bundle = tempfile::tempdir().expect("a folder");
        let path = bundle.path().join("bundle");
        self.client.bundle(&path).expect("the bundle can be taken");
        let trust = Trust { log_key: Some(self.client.log_key().expect("a pinned key")), ..Trust::default() };
        let audit = selachron_verify::bundle(&path, &trust).expect("the bundle can be read");
        assert!(audit.faults.is_empty(), "the auditor rejects what this test left: {:?}", audit.faults);
        audit
    }

    /// Every read at one V and one S, as bytes.
    fn answers(&self, known_at: &str) -> Vec<String> {
        let query = [("known_at", known_at), ("as_of", "2030-01-01T00:00:00Z")];
        READS
            .iter()
            .map(|path| format!("{path} {}", self.client.get_text(path, &query, "application/json").unwrap_or_else(|f| f.to_string())))
            .collect()
    }

    fn audit(&mut self) {
        let size = self.verify().size.to_string();
        let live = self.answers(&size);
        self.restart();
        let rebuilt = self.answers(&size);
        assert_eq!(live, rebuilt, "live answers and rebuilt answers differ");
    }
}

impl Drop for World {
    /// Every test, whatever it is about, must leave a record that an auditor accepts.
    fn drop(&mut self) {
        if self.audited && !std::thread::panicking() {
            self.audit();
        }
    }
}

fn start(folder: &Path, clock: &Arc<SimulatedClock>) -> Running {
    let listen = "127.0.0.1:0".parse().expect("an address");
    let settings =
        Settings { data_dir: folder.to_owned(), listen, network: Network::default(), clock: clock.clone(), allow_simulated: true };
    Service::start(settings).expect("the service starts")
}

fn client(service: &Running, folder: &Path, clock: &Arc<SimulatedClock>, reader: &Hand) -> Client {
    let clock = clock.clone();
    let now = Arc::new(move || selachron_record::clock::Clock::now(&*clock));
    let mut settings = ClientSettings::new(&service.url(), folder.join("client"), now);
    settings.talk = Arc::new(|_| ());
    settings.reader = Some(ReadKey::new(reader.key.clone()));
    Client::new(settings).expect("a client")
}
