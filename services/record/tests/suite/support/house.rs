//! A founded log in a folder, and the service over it.

use super::{Cast, START};
use ed25519_dalek::SigningKey;
use selachron_record::clock::SimulatedClock;
use selachron_record::config::Network;
use selachron_record::failure::Failure;
use selachron_record::journal::{Answer, Submitted};
use selachron_record::store::sqlite::Sqlite;
use selachron_record::{Running, Service, Settings, init};
use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;

pub struct House {
    pub folder: tempfile::TempDir,
    pub cast: Cast,
    pub clock: Arc<SimulatedClock>,
    pub system: String,
}

impl House {
    /// A log with people and a system in it; nothing serves it yet.
    pub fn founded() -> Self {
        let house = Self {
            folder: tempfile::tempdir().unwrap(),
            cast: Cast::default(),
            clock: Arc::new(SimulatedClock::new(START)),
            system: String::new(),
        };
        drop(Sqlite::create(&house.path().join(init::STORE_FILE)).unwrap());
        init::write_key(&house.path().join(init::KEY_FILE), &SigningKey::from_bytes(&house.cast.log.to_bytes())).unwrap();
        let mut beginning = house.cast.beginning(START);
        init::found(house.path(), &beginning.remove(0), house.clock.clone()).unwrap();
        let (system, set_up) = house.cast.system(START);
        beginning.push(set_up);
        let journal = init::open_journal(house.path(), house.clock.clone()).unwrap();
        let gate = journal.handle().gate();
        let notes = beginning.iter().map(|note| Submitted::open(&gate, note)).collect();
        let answers = journal.handle().record_blocking(notes).unwrap();
        assert!(answers.iter().all(|answer| matches!(answer, Answer::Recorded { .. })), "{answers:?}");
        Self { system, ..house }
    }

    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    pub fn settings(&self) -> Settings {
        Settings {
            data_dir: self.path().to_owned(),
            listen: SocketAddr::from(([127, 0, 0, 1], 0)),
            // What is asked here is not who may ask; that is asked in `access`.
            network: Network { open_on_loopback: true, ..Network::default() },
            clock: self.clock.clone(),
            typesetter: None,
            allow_simulated: true,
        }
    }

    /// A service that asks for tokens, as it does unless it is told otherwise.
    pub fn closed(&self) -> Running {
        Service::start(Settings { network: Network::default(), ..self.settings() }).unwrap()
    }

    pub fn start(&self) -> Result<Running, Failure> {
        Service::start(self.settings())
    }

    pub fn served() -> (Self, Running) {
        let house = Self::founded();
        let running = house.start().unwrap();
        (house, running)
    }
}
