//! The season through the real client to the real service, over HTTP.

use selachron_demo::play::Stage;
use selachron_demo::season::Season;
use selachron_demo::season::note::Sending;
use selachron_demo::season::people::Signer;
use selachron_schemas::audit::Verdict;
use selachron_schemas::audit::trust::Trust;
use selachron_schemas::note::VerifierKey;

#[test]
fn a_beginning_is_recorded_receipted_and_verified() {
    let season = Season::from_seed(3);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut stage = Stage::found(&season, folder.path(), "127.0.0.1:0".parse().expect("an address")).expect("it starts");
    let steps = 24;
    let tally = stage.play_until(steps).expect("everything is recorded").clone();
    let sent: usize = season.steps[..steps].iter().map(|step| step.sends.len()).sum();
    assert_eq!((tally.receipts, tally.requests), (sent, steps));
    let collection = stage.client().collection().expect("the service answers");
    assert!(collection.simulated_clock, "the log says that its clock is simulated");
    let bundle = folder.path().join("bundle");
    stage.client().bundle(&bundle).expect("a bundle");
    let trust = Trust { log_key: VerifierKey::parse(stage.log_vkey()).ok(), ..Trust::default() };
    let audit = selachron_verify::bundle(&bundle, &trust).expect("it can be read");
    assert_eq!(audit.verdict, Verdict::Sound, "{:?}", audit.faults);
    assert_eq!(audit.size, sent as u64);
}

#[test]
fn a_season_tells_who_waits_and_who_is_never_heard_of() {
    let season = Season::from_seed(3);
    let never: Vec<Signer> = season.notes.iter().filter(|note| note.sending == Sending::Never).map(|note| note.author).collect();
    assert_eq!(never.len(), 2);
    let vouched = season.notes.iter().find(|note| note.waited() && note.approvals == [Signer::Registrar]);
    assert!(vouched.is_some_and(|note| note.author == Signer::KeeperTwo), "the note on the lost tablet");
}
