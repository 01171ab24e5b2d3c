//! Founding: gathering the signatures of the root keys over one body, and asking the log's own
//! rules about it before it leaves this machine.

use super::session::Session;
use super::write::sentence;
use crate::fault::Fault;
use crate::files;
use crate::keyfile::Identity;
use crate::seal;
use selachron_schemas::event::Event;
use selachron_schemas::names::KeyId;
use selachron_schemas::replay::Replay;
use selachron_schemas::replay::keys::root_list;
use serde_json::json;
use std::path::{Path, PathBuf};

/// Gathers signatures over a founding body; says whose are missing.
///
/// # Errors
/// The files are no founding, a key is none of its root keys, or the log's rules refuse it.
pub fn found(session: &Session, inputs: &[PathBuf], roots: &[PathBuf], out: Option<&Path>) -> Result<u8, Fault> {
    let read = |path: &PathBuf| files::read(path)?.ok_or_else(|| Fault::NoSuchThing(format!("there is no file {}", path.display())));
    let inputs = inputs.iter().map(read).collect::<Result<Vec<_>, _>>()?;
    let roots = roots.iter().map(Identity::open).collect::<Result<Vec<_>, _>>()?;
    let (body, _) = inputs.first().map(|input| seal::open(input)).transpose()?.unwrap_or_default();
    let event = Event::parse(&body)?;
    let wanted = wanted_roots(&event)?;
    if let Some(stranger) = roots.iter().find(|root| !wanted.contains(&root.keyid())) {
        return Err(Fault::Usage(format!("--root {}: this key is none of the founding's root keys", stranger.path().display())));
    }
    session.console.say(&format!("signing: {}", sentence(&event)));
    // The count stands in the body already; the root key's own next note must not use it again.
    for author in roots.iter().filter(|root| root.keyid() == event.keyid) {
        author.outbox().use_up(event.keycount)?;
    }
    let signers: Vec<&Identity> = roots.iter().collect();
    let envelope = seal::gather(&inputs, &signers)?;
    let (_, signed) = seal::open(envelope.as_bytes())?;
    let missing: Vec<KeyId> = wanted.into_iter().filter(|id| !signed.iter().any(|(signer, _)| signer == id)).collect();
    if missing.is_empty() {
        check(&envelope, session)?;
        session.console.say("All root keys have signed, and the log's rules accept it.");
    }
    for id in &missing {
        session.console.say(&format!("still to sign: root key {id}"));
    }
    match out {
        Some(path) => {
            files::replace(path, format!("{envelope}\n").as_bytes())?;
            session.console.result(&json!({"file": path, "missing": missing}), || format!("written to {}", path.display()));
        }
        None => session.console.plain(&envelope),
    }
    Ok(0)
}

fn wanted_roots(event: &Event) -> Result<Vec<KeyId>, Fault> {
    if event.kind != "collection.founded.v1" {
        return Err(Fault::Usage(format!("the file holds a {}, not a founding; `selachron approve` signs that", event.kind)));
    }
    Ok(root_list(&event.data).iter().map(|(key, _)| KeyId::of(key)).collect())
}

/// The rules that the log itself will ask (F10).
fn check(envelope: &str, session: &Session) -> Result<(), Fault> {
    let log = Replay::new(true);
    let verified = log.gate().open(envelope.as_bytes()).map_err(|stopped| Fault::from(stopped.refusal))?;
    log.judge(&verified, session.now())?;
    Ok(())
}
