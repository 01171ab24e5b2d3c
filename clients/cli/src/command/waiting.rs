//! Notes that are not recorded yet: nothing is ever dropped, and what was never sent can be
//! taken back.

use super::args::WaitingCommand;
use super::sending::envelope_of;
use super::session::Session;
use super::together;
use super::write::{sentence, tell};
use crate::fault::Fault;
use crate::files;
use crate::keyfile::Identity;
use crate::outbox::Unsent;
use selachron_schemas::event::Event;
use selachron_schemas::limits::{OFFLINE_DAYS_MAX, WAITING_WARN_HOURS};
use selachron_schemas::time::{DAY_MS, HOUR_MS};
use serde_json::{Value, json};
use std::path::Path;

/// Runs a command about waiting notes.
///
/// # Errors
/// Of the command.
pub fn run(session: &Session, what: Option<&WaitingCommand>) -> Result<u8, Fault> {
    let identity = session.identity()?;
    match what {
        None => list(session, &identity),
        Some(WaitingCommand::Send { ids }) => send(session, &identity, ids),
        Some(WaitingCommand::Save { file }) => save(session, &identity, file),
        Some(WaitingCommand::ForMe) => together::list(session, &identity),
        Some(WaitingCommand::Sign { id }) => together::sign(session, &identity, id),
        Some(WaitingCommand::Offer { file }) => together::offer(session, file),
        Some(WaitingCommand::TakeBack { id }) => take_back(session, &identity, id),
    }
}

fn list(session: &Session, identity: &Identity) -> Result<u8, Fault> {
    let (waiting, refused) = (identity.waiting()?, identity.outbox().refused()?);
    let json =
        json!({"waiting": waiting.iter().map(as_json).collect::<Vec<_>>(), "refused": refused.iter().map(as_json).collect::<Vec<_>>()});
    session.console.result(&json, || match (waiting.len(), refused.len()) {
        (0, 0) => "nothing waits".to_owned(),
        _ => waiting.iter().chain(&refused).map(line).collect::<Vec<_>>().join("\n"),
    });
    for note in &waiting {
        warn_of_age(session, note);
    }
    Ok(0)
}

fn as_json(note: &Unsent) -> Value {
    let event = Event::parse(&note.body).ok();
    let problem = note.refused.as_ref().map(|r| json!({"name": r.name, "detail": r.detail, "pointer": r.pointer}));
    json!({
        "id": note.id, "keycount": note.count, "sent": note.sent, "draft": note.draft,
        "kind": event.as_ref().map(|event| event.kind.clone()), "subject": event.as_ref().map(|event| event.subject.clone()),
        "signedtime": event.as_ref().map(|event| event.signedtime), "problem": problem,
    })
}

fn line(note: &Unsent) -> String {
    let told = Event::parse(&note.body).map_or_else(|refusal| refusal.detail, |event| sentence(&event));
    let state = match (&note.refused, note.draft, note.sent) {
        (Some(refused), _, _) => refused.to_string(),
        (None, _, true) => "sent, no answer yet".to_owned(),
        (None, true, false) => "drafted, for others to approve".to_owned(),
        (None, false, false) => "not sent".to_owned(),
    };
    format!("{}  count {}  {state}\n    {told}", note.id, note.count)
}

fn warn_of_age(session: &Session, note: &Unsent) {
    let Ok(event) = Event::parse(&note.body) else { return };
    let waited_ms = session.now().0 - event.signedtime.0;
    if waited_ms > OFFLINE_DAYS_MAX * DAY_MS {
        session
            .console
            .say(&format!("{} waits for more than {OFFLINE_DAYS_MAX} days: a registrar must approve it before it is taken", note.id));
    } else if waited_ms > WAITING_WARN_HOURS * HOUR_MS {
        session.console.say(&format!("{} waits for more than {WAITING_WARN_HOURS} hours", note.id));
    }
}

fn send(session: &Session, identity: &Identity, ids: &[String]) -> Result<u8, Fault> {
    let waiting = identity.waiting()?;
    if let Some(unknown) = ids.iter().find(|id| !waiting.iter().any(|note| note.id == **id)) {
        return Err(Fault::NoSuchThing(format!("no note {unknown} waits beside this key")));
    }
    let wanted = |note: &&Unsent| if ids.is_empty() { !note.draft } else { ids.contains(&note.id) };
    let wanted: Vec<&Unsent> = waiting.iter().filter(wanted).collect();
    for note in &wanted {
        session.console.say(&format!("signing: {}", sentence(&Event::parse(&note.body)?)));
    }
    let envelopes: Vec<String> = wanted.iter().map(|note| envelope_of(note, identity)).collect();
    if envelopes.is_empty() {
        session.console.say("nothing waits to be sent");
        return Ok(0);
    }
    let outcomes = session.client()?.send(identity, &envelopes)?;
    Ok(tell(session, &outcomes))
}

fn save(session: &Session, identity: &Identity, file: &Path) -> Result<u8, Fault> {
    let waiting = identity.waiting()?;
    let lines: String = waiting.iter().map(|note| format!("{}\n", envelope_of(note, identity))).collect();
    files::write_new(file, lines.as_bytes())?;
    // From now on they may be recorded from elsewhere.
    waiting.iter().try_for_each(|note| identity.outbox().mark_sent(&note.body))?;
    session
        .console
        .result(&json!({"file": file, "notes": waiting.len()}), || format!("{} notes saved to {}", waiting.len(), file.display()));
    Ok(0)
}

fn take_back(session: &Session, identity: &Identity, id: &str) -> Result<u8, Fault> {
    identity.outbox().take_back(id)?;
    session.console.result(&json!({"id": id, "status": "taken back"}), || format!("{id} is taken back; it was never sent"));
    Ok(0)
}
