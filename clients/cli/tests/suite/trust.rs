//! The pinned log key and the checkpoints that were seen.

use crate::stub::Lie;
use crate::world::World;
use ed25519_dalek::SigningKey;
use selachron_cli::client::{Client, ClientSettings};
use selachron_cli::fault::Fault;
use selachron_cli::trust::fingerprint;
use selachron_schemas::time::Instant;
use std::sync::Arc;

#[test]
fn first_contact_pins_the_key_and_says_its_fingerprint_once() {
    let world = World::founded();
    let print = fingerprint(&world.stub.state().vkey()).to_string();
    let said = world.said.lock().expect("talk").clone();
    assert_eq!(said.iter().filter(|text| text.contains(&print)).count(), 1, "{said:?}");
    let again = world.second_client("state");
    again.log_key().expect("the pinned key");
    assert_eq!(world.said.lock().expect("talk").len(), said.len(), "a known log is no first contact");
}

#[test]
fn a_changed_log_key_is_broken_and_replaces_nothing() {
    let world = World::founded();
    let pinned = world.client.log_key().expect("a key");
    world.stub.state().log_key = SigningKey::from_bytes(&[99; 32]);
    let fault = world.second_client("state").collection().expect_err("another key");
    assert_eq!(fault.exit_code(), 3, "{fault}");
    assert!(matches!(world.client.record(&world.keeper, &world.tank("T1"), &[]), Err(Fault::Broken(_))));
    assert!(matches!(world.client.look(), Err(Fault::Broken(_))));
    assert_eq!(world.second_client("state").log_key().expect("a key"), pinned);
}

#[test]
fn the_same_log_at_another_address_must_show_the_same_key() {
    let world = World::founded();
    world.stub.state().log_key = SigningKey::from_bytes(&[99; 32]);
    let mut settings =
        ClientSettings::new(&world.stub.url().replace("127.0.0.1", "localhost"), world.path("state"), Arc::new(|| Instant(0)));
    settings.talk = Arc::new(|_| {});
    let fault = Client::new(settings).expect("a client").log_key().expect_err("another key for a known log");
    assert!(matches!(&fault, Fault::Broken(text) if text.contains("has changed")), "{fault}");
}

#[test]
fn a_key_that_is_given_beforehand_needs_no_first_contact() {
    let world = World::founded();
    let mut settings = ClientSettings::new(&world.stub.url(), world.path("other"), Arc::new(|| Instant(0)));
    settings.log_vkey = Some(world.stub.vkey());
    let before = world.stub.state().asked.len();
    let client = Client::new(settings).expect("a client");
    assert_eq!(client.log_key().expect("a key").to_string(), world.stub.vkey());
    assert_eq!(world.stub.state().asked.len(), before, "nothing was asked");
    let mut settings = ClientSettings::new(&world.stub.url(), world.path("other"), Arc::new(|| Instant(0)));
    settings.log_vkey = Some("nonsense".to_owned());
    assert!(Client::new(settings).is_err_and(|fault| fault.to_string().contains("--log-key")));
}

#[test]
fn a_fork_is_noticed_by_the_next_note_and_by_a_mere_look() {
    for look in [false, true] {
        let world = World::founded();
        let seen = world.client.seen().expect("a checkpoint");
        world.second_client("elsewhere").record(&world.curator, &world.tank("T1"), &[]).expect("recorded");
        world.stub.state().fork(1);
        let fault = match look {
            true => world.client.look().err(),
            false => world.client.record(&world.keeper, &world.tank("T2"), &[]).err(),
        };
        assert!(matches!(&fault, Some(Fault::Broken(_))), "{fault:?}");
        assert_eq!(world.client.seen().expect("a checkpoint"), seen);
    }
}

#[test]
fn two_roots_for_one_size_are_a_fork() {
    let world = World::founded();
    world.stub.state().fork(1);
    let fault = world.client.look().expect_err("a fork");
    assert!(matches!(&fault, Fault::Broken(text) if text.contains("forked")), "{fault}");
    let fault = world.client.get("/v1/due", &[]).expect_err("a fork in a read");
    assert!(matches!(&fault, Fault::Broken(text) if text.contains("forked")), "{fault}");
}

#[test]
fn a_log_that_has_lost_notes_is_noticed_when_it_is_read() {
    let world = World::founded();
    world.stub.state().tree.truncate(3);
    let fault = world.client.get("/v1/due", &[]).expect_err("notes are gone");
    assert!(matches!(&fault, Fault::Broken(text) if text.contains("lost notes")), "{fault}");
    world.client.get("/v1/due", &[("known_at", "3")]).expect("asking for an older size is no loss");
}

#[test]
fn without_a_proof_in_the_answer_one_is_fetched() {
    let world = World::founded();
    world.stub.state().no_consistency = true;
    world.client.record(&world.keeper, &world.tank("T1"), &[]).expect("recorded");
    assert!(world.stub.state().asked.iter().any(|asked| asked.starts_with("GET /v1/log/proof/consistency?first=4&second=5")));
    world.stub.state().lie = Lie::OtherConsistency;
    assert!(matches!(world.client.record(&world.keeper, &world.tank("T2"), &[]), Err(Fault::Broken(_))));
}

#[test]
fn two_clients_of_one_machine_keep_one_newest_checkpoint() {
    let world = World::founded();
    let other = world.second_client("state");
    other.record(&world.curator, &world.tank("T1"), &[]).expect("recorded");
    world.client.record(&world.keeper, &world.tank("T2"), &[]).expect("recorded");
    assert_eq!(other.seen().expect("seen").map(|seen| seen.size), Some(world.size() as u64));
}

#[test]
fn plain_http_is_for_this_machine_only() {
    let settings = |url: &str| ClientSettings::new(url, "state", Arc::new(|| Instant(0)));
    for (url, said) in [("http://192.0.2.7:80", "https"), ("ftp://127.0.0.1", "https"), ("nonsense", "no address")] {
        let fault = Client::new(settings(url)).err().expect("not an address for us");
        assert!(matches!(&fault, Fault::Usage(text) if text.contains("--url") && text.contains(said)), "{fault}");
    }
    for url in ["http://127.0.0.1:1", "http://localhost:1", "http://[::1]:1", "https://records.example.org"] {
        assert!(Client::new(settings(url)).is_ok(), "{url}");
    }
}
