//! Notes that others have signed too: reading them aloud, adding a signature, sending them.

use super::session::Session;
use super::write::{sentence, tell};
use crate::answer::Sent;
use crate::fault::Fault;
use crate::files;
use crate::keyfile::Identity;
use crate::seal;
use selachron_schemas::event::Event;
use serde_json::json;
use std::io::Read as _;
use std::path::Path;

/// Reads a signed note aloud and adds the signature of the key that is set.
///
/// # Errors
/// The file is no note, or cannot be written.
pub fn approve(session: &Session, file: &Path, out: Option<&Path>) -> Result<u8, Fault> {
    let identity = session.identity()?;
    let input = files::read(file)?.ok_or_else(|| Fault::NoSuchThing(format!("there is no file {}", file.display())))?;
    let (body, signed) = seal::open(&input)?;
    let event = Event::parse(&body)?;
    if let Some(caution) = selachron_schemas::cautions::cautions(&event.kind) {
        session.console.say(caution);
    }
    session.console.say(&format!("signing: {}", sentence(&event)));
    if signed.iter().any(|(keyid, _)| *keyid == identity.keyid()) {
        session.console.say("This key has signed it already.");
    }
    let envelope = seal::add_signatures(&input, &[&identity])?;
    let to = out.unwrap_or(file);
    files::replace(to, format!("{envelope}\n").as_bytes())?;
    let (_, signed) = seal::open(envelope.as_bytes())?;
    let signers: Vec<String> = signed.iter().map(|(keyid, _)| keyid.to_string()).collect();
    session.console.result(&json!({"id": event.id, "file": to, "signed_by": signers}), || {
        format!("{} {} in {} is signed by {}", event.kind, event.id, to.display(), signers.join(", "))
    });
    Ok(0)
}

/// Sends envelopes from a file, one a line.
///
/// # Errors
/// The file cannot be read or holds no envelopes.
pub fn post(session: &Session, file: &Path) -> Result<u8, Fault> {
    let text = read_input(file)?;
    let envelopes: Vec<String> = text.lines().map(str::trim).filter(|line| !line.is_empty()).map(str::to_owned).collect();
    for (at, envelope) in envelopes.iter().enumerate() {
        Sent::read(envelope).map_err(|fault| Fault::Usage(format!("line {} of {}: {fault}", at + 1, file.display())))?;
    }
    let client = session.client()?;
    // Notes of the key that is set leave its outbox; others' notes are theirs to settle.
    let own = match session.config.get("key") {
        Some(_) => Some(session.identity()?),
        None => None,
    };
    let outcomes = match own {
        Some(own) => client.send(&own, &envelopes)?,
        None => client.post(&envelopes),
    };
    Ok(tell(session, &outcomes))
}

fn read_input(file: &Path) -> Result<String, Fault> {
    if file != Path::new("-") {
        return files::read_text(file)?.ok_or_else(|| Fault::NoSuchThing(format!("there is no file {}", file.display())));
    }
    let mut text = String::new();
    let read = std::io::stdin().lock().read_to_string(&mut text);
    read.map_err(|error| Fault::Failed(format!("stdin cannot be read: {error}")))?;
    Ok(text)
}

/// The envelope of a waiting note: as others signed it, else signed now by its author.
#[must_use]
pub fn envelope_of(note: &crate::outbox::Unsent, author: &Identity) -> String {
    note.envelope.clone().unwrap_or_else(|| seal::sign(&note.body, &[author]))
}
