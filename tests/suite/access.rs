//! The service on a network: TLS with the house's own authority, tokens by the real client, and
//! what those hear who come otherwise.

use selachron_cli::client::{Client, ClientSettings};
use selachron_cli::fault::Fault;
use selachron_cli::reading::ReadKey;
use selachron_record::clock::{Clock as _, SimulatedClock, SystemClock};
use selachron_record::config::Network;
use selachron_record::{Running, Service, Settings, tls};
use selachron_tests::fixture::{Hand, Staff};
use selachron_tests::world::{START, Who, World};
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;
use tempfile::TempDir;

/// A founded log on every address of this machine, with a certificate of its own authority.
struct Networked {
    folder: TempDir,
    staff: Staff,
    clock: Arc<SimulatedClock>,
    service: Running,
}

impl Networked {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let (clock, mut staff) = (Arc::new(SimulatedClock::new(START)), Staff::default());
        staff.found(&folder.path().join("log"), clock.clone(), true);
        let files = tls::make_ca(&folder.path().join("tls"), &["record.example".to_owned()], &SystemClock).expect("an authority");
        let settings = Settings {
            data_dir: folder.path().join("log"),
            listen: SocketAddr::from(([0, 0, 0, 0], 0)),
            network: Network { tls: Some(files), ..Network::default() },
            clock: clock.clone(),
            typesetter: None,
            allow_simulated: true,
        };
        let service = Service::start(settings).expect("TLS opens the network");
        Self { folder, staff, clock, service }
    }

    fn ca(&self) -> PathBuf {
        self.folder.path().join("tls").join(tls::CA_FILE)
    }

    fn client(&self, scheme: &str, ca: Option<PathBuf>, reader: &Hand) -> Result<Client, Fault> {
        let url = format!("{scheme}://localhost:{}", self.service.addr().port());
        let clock = self.clock.clone();
        let mut settings = ClientSettings::new(&url, self.folder.path().join("client"), Arc::new(move || clock.now()));
        settings.talk = Arc::new(|_| ());
        settings.ca_file = ca;
        settings.reader = Some(ReadKey::new(reader.key.clone()));
        Client::new(settings)
    }
}

#[test]
fn the_real_client_speaks_tls_with_the_houses_authority_and_with_no_other() {
    let mut house = Networked::new();
    assert!(house.service.url().starts_with("https://"));
    let root = house.staff.roots[0].clone();
    let client = house.client("https", Some(house.ca()), &root).expect("a client");
    for enrolment in house.staff.enrolments(START) {
        client.post(&[enrolment]).pop().expect("an outcome").recorded().expect("recorded over TLS, its receipt checked");
    }
    let keeper = house.client("https", Some(house.ca()), &house.staff.keeper).expect("a client");
    assert_eq!(keeper.get("/v1/collection", &[]).expect("a read over TLS")["size"], 7);
    let other = tempfile::tempdir().expect("a folder");
    tls::make_ca(other.path(), &["record.example".to_owned()], &SystemClock).expect("another authority");
    for ca in [Some(other.path().join(tls::CA_FILE)), None] {
        let answer = house.client("https", ca.clone(), &house.staff.keeper).and_then(|client| client.get("/v1/collection", &[]));
        assert!(matches!(&answer, Err(Fault::Unreachable(_) | Fault::Failed(_))), "{ca:?}: {answer:?}");
    }
}

#[test]
fn plain_http_to_a_port_that_speaks_tls_is_told_so() {
    let house = Networked::new();
    let plain = house.client("http", None, &house.staff.roots[0]).expect("a client");
    let fault = plain.get("/v1/collection", &[]).expect_err("plain HTTP").to_string();
    assert!(fault.contains("https://"), "{fault}");
    let tls = house.client("https", Some(house.ca()), &house.staff.roots[0]).expect("a client");
    assert_eq!(tls.get("/v1/collection", &[]).expect("others are not held up")["size"], 1);
}

#[test]
fn the_network_is_not_listened_on_in_plain_http() {
    let folder = tempfile::tempdir().expect("a folder");
    let clock = Arc::new(SimulatedClock::new(START));
    Staff::default().found(folder.path(), clock.clone(), true);
    let listen = SocketAddr::from(([0, 0, 0, 0], 0));
    let settings = |network| Settings {
        data_dir: folder.path().to_owned(),
        listen,
        network,
        clock: clock.clone(),
        typesetter: None,
        allow_simulated: true,
    };
    let refused = Service::start(settings(Network::default())).err().expect("refused").to_string();
    assert!(refused.contains("--tls-cert") && refused.contains("--behind-proxy"), "{refused}");
    let proxied = Service::start(settings(Network { behind_proxy: true, ..Network::default() })).expect("a proxy speaks TLS");
    drop(proxied);
    let open = Network { behind_proxy: true, open_on_loopback: true, ..Network::default() };
    assert!(Service::start(settings(open)).is_err(), "never open to the network");
}

#[test]
fn a_client_makes_its_tokens_as_time_goes_by() {
    let mut world = World::new();
    let first = world.client().token().expect("a token").expect("a key that reads");
    for _ in 0..3 {
        world.pass_days(1);
        world.read("/v1/keys", &[]);
    }
    assert_ne!(world.client().token().expect("a token"), Some(first));
    let keeper = world.client_of(Who::Keeper);
    let Err(Fault::Refused(refused)) = keeper.get("/v1/refused", &[]) else { panic!("a keeper read what was refused") };
    assert_eq!(refused.name, "not-readable");
    assert!(refused.remedy().is_some_and(|remedy| remedy.contains("reads.json")));
    world.read("/v1/refused", &[]);
}
