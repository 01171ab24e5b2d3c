//! Keys: making them, showing them, and the notes by which a log takes them in.

use super::args::{KeyCommand, SendArgs};
use super::read;
use super::sending;
use super::session::Session;
use super::write::write_note;
use crate::draft::{Draft, new_ulid};
use crate::fault::Fault;
use crate::keyfile::Identity;
use crate::passphrase;
use selachron_schemas::encoding::from_base64_32;
use selachron_schemas::names::{KeyId, Subject};
use serde_json::{Map, Value, json};
use std::path::Path;

/// Runs a command about keys.
///
/// # Errors
/// Of the command.
pub fn run(session: &Session, command: &KeyCommand) -> Result<u8, Fault> {
    match command {
        KeyCommand::New { file, passphrase: false } => {
            let identity = Identity::create(file)?;
            session
                .console
                .say("The key has no passphrase: keep it in a folder that only you can enter, and never copy it to a second device.");
            show(session, &identity)
        }
        KeyCommand::New { file, passphrase: true } => {
            let identity = Identity::create_protected(file, &passphrase::for_new(file)?)?;
            session.console.say("Without its passphrase nobody can use this key, you included. Never copy it to a second device.");
            show(session, &identity)
        }
        KeyCommand::Show { file: Some(file) } => show(session, &Identity::open(file)?),
        KeyCommand::Show { file: None } => show(session, &session.identity()?),
        KeyCommand::Recount { file, next } => recount(session, &Identity::open(file)?, *next),
        KeyCommand::Enrol { file, public_key, person, roles, device, valid_until, send } => {
            let wanted = Enrolment { person: person.as_deref(), roles, device, valid_until: valid_until.as_deref() };
            enrol(session, file.as_deref(), public_key.as_deref(), &wanted, send)
        }
        KeyCommand::Revoke { keyid, reason, suspected_since, send } => revoke(session, keyid, reason, suspected_since.as_deref(), send),
        KeyCommand::Sign { file, out } => sending::approve(session, file, out.as_deref()),
    }
}

fn show(session: &Session, identity: &Identity) -> Result<u8, Fault> {
    let (next, waiting) = (identity.next_count()?, identity.waiting()?.len());
    let (keyid, public_key) = (identity.keyid(), identity.public_key_base64());
    let json = json!({"keyid": keyid, "public_key": public_key, "file": identity.path(), "next_count": next, "waiting": waiting});
    session.console.result(&json, || {
        format!(
            "key id      {keyid}\npublic key  {public_key}\nfile        {}\nnext count  {next}\nwaiting     {waiting}",
            identity.path().display()
        )
    });
    Ok(0)
}

/// Counts that are recorded are known to the record; those of notes that were lost before they
/// were sent are not, and stay as gaps that `abandon` closes.
fn recount(session: &Session, identity: &Identity, next: Option<u32>) -> Result<u8, Fault> {
    let next = match next {
        Some(next) => next,
        None => recorded_count(session, &identity.keyid())?.saturating_add(1),
    };
    identity.outbox().recount(next)?;
    show(session, identity)
}

/// The highest count of a key among the recorded notes, withheld ones included; 0 for none.
fn recorded_count(session: &Session, keyid: &KeyId) -> Result<u32, Fault> {
    let answer = read::all(session, "/v1/events", read::Query::new(), None)?;
    let events = answer.get("items").and_then(Value::as_array).into_iter().flatten().filter_map(|item| item.get("event"));
    let written = events.flat_map(|event| [Some(event), event.get("data").filter(|_| event["type"] == "body.withheld.v1")]).flatten();
    let own = written.filter(|facts| facts.get("keyid") == Some(&json!(keyid))).filter_map(|facts| facts.get("keycount")?.as_u64());
    Ok(own.max().and_then(|count| u32::try_from(count).ok()).unwrap_or_default())
}

struct Enrolment<'a> {
    person: Option<&'a str>,
    roles: &'a [String],
    device: &'a str,
    valid_until: Option<&'a str>,
}

fn enrol(session: &Session, file: Option<&Path>, public_key: Option<&str>, wanted: &Enrolment<'_>, send: &SendArgs) -> Result<u8, Fault> {
    let new = file.map(Identity::open).transpose()?;
    let key = match (&new, public_key.and_then(from_base64_32)) {
        (Some(identity), _) => identity.public_key(),
        (None, Some(key)) => key,
        (None, None) => return Err(Fault::Usage("--public-key must be 32 bytes in base64, as `key show` prints it".to_owned())),
    };
    let person = match wanted.person {
        Some(person) => person.to_owned(),
        None => format!("person/{}", new_ulid(session.now())?),
    };
    let mut data = Map::new();
    data.insert("public_key".to_owned(), json!(selachron_schemas::encoding::base64(&key)));
    data.insert("person".to_owned(), json!(person));
    data.insert("roles".to_owned(), json!(wanted.roles));
    data.insert("device".to_owned(), json!(wanted.device));
    if let Some(until) = wanted.valid_until {
        data.insert("valid_until".to_owned(), json!(session.time("--valid-until", until)?));
    }
    if new.is_none() {
        session.console.say(
            "The new key must sign the same body where it is: `selachron approve FILE --key NEW_KEY` there, then `selachron post FILE`.",
        );
    }
    let draft = Draft::new("key.enrolled.v1", Subject::key(KeyId::of(&key)), Value::Object(data));
    let also: Vec<Identity> = new.into_iter().collect();
    write_note(session, draft, send, &also)
}

fn revoke(session: &Session, keyid: &str, reason: &str, since: Option<&str>, send: &SendArgs) -> Result<u8, Fault> {
    let id = KeyId::parse(keyid.trim_start_matches("key/"));
    let id = id.ok_or_else(|| Fault::Usage(format!("{keyid:?} is no key id; it has 32 lower-case hexadecimal characters")))?;
    let mut data = json!({"reason": reason});
    if let Some(since) = since {
        data["suspected_since"] = json!(session.time("--suspected-since", since)?);
    }
    write_note(session, Draft::new("key.revoked.v1", Subject::key(id), data), send, &[])
}
