//! Notes that want more than one person's signature, gathered at the service: the author puts a
//! note there, others find it, read it aloud and sign, and the log takes it once it has all it wants.

use super::render;
use super::session::Session;
use super::write::{sentence, tell};
use crate::fault::Fault;
use crate::files;
use crate::keyfile::Identity;
use crate::offer::Offered;
use crate::seal;
use crate::transport::path_part;
use selachron_schemas::event::Event;
use serde_json::{Value, json};
use std::path::Path;

/// Offers a note of the key that is set; it stays in the outbox until it is recorded.
///
/// # Errors
/// The refusal, or why it is not known what became of it.
pub fn offer_own(session: &Session, author: &Identity, body: &[u8], envelope: &str) -> Result<u8, Fault> {
    author.outbox().keep_envelope(body, envelope)?;
    author.outbox().mark_draft(body)?;
    author.outbox().mark_sent(body)?;
    let client = session.client()?;
    client.know(author);
    let offered = client.offer(envelope)?;
    if let Offered::Settled(outcome) = &offered {
        author.settle(std::slice::from_ref(&**outcome))?;
    }
    Ok(told(session, offered))
}

/// Offers a note that was signed into a file.
///
/// # Errors
/// As [`offer_own`].
pub fn offer(session: &Session, file: &Path) -> Result<u8, Fault> {
    let input = files::read(file)?.ok_or_else(|| Fault::NoSuchThing(format!("there is no file {}", file.display())))?;
    let (body, signatures) = seal::open(&input)?;
    let envelope = selachron_schemas::envelope::Envelope::written(&body, &signatures);
    let own = session.identity().ok().filter(|own| Event::parse(&body).is_ok_and(|event| event.keyid == own.keyid()));
    match own {
        Some(own) => offer_own(session, &own, &body, &envelope),
        None => Ok(told(session, session.client()?.offer(&envelope)?)),
    }
}

/// What waits for this key's signature, and what its holder has put there.
///
/// # Errors
/// Of the reading.
pub fn list(session: &Session, identity: &Identity) -> Result<u8, Fault> {
    let key = identity.keyid().to_string();
    let answer = session.client()?.get("/v1/waiting", &[("key", &key)])?;
    let items = answer.get("items").and_then(Value::as_array).cloned().unwrap_or_default();
    let zone = zone_or_utc(session)?;
    session.console.result(&answer, || match items.is_empty() {
        true => "nothing waits for you".to_owned(),
        false => items.iter().map(|item| line(item, zone)).collect::<Vec<_>>().join("\n"),
    });
    Ok(0)
}

/// A key that is not enrolled yet reads what waits for it and not the collection's time zone.
fn zone_or_utc(session: &Session) -> Result<chrono_tz::Tz, Fault> {
    match session.zone() {
        Err(Fault::Refused(_)) => {
            session.console.say("this key does not read the collection yet: times are in UTC");
            Ok(chrono_tz::Tz::UTC)
        }
        zone => zone,
    }
}

fn line(item: &Value, zone: chrono_tz::Tz) -> String {
    let text = |name: &str| item.get(name).map_or(String::new(), |value| render::words(value, zone));
    let whose = if item["yours_to_sign"] == json!(true) { "waits for you" } else { "waits for others" };
    let told = read_event(item).map_or_else(|fault| fault.to_string(), |(event, _)| sentence(&event));
    format!("{}  {whose}: {}  by {}, until {}\n    {told}", text("id"), wants(item), text("person"), text("until"))
}

/// `1 of curator or veterinarian`.
fn wants(item: &Value) -> String {
    let wanted = item.get("wants").and_then(Value::as_array).into_iter().flatten();
    let words = wanted.map(|wanted| match wanted.get("key").and_then(Value::as_str) {
        Some(key) => format!("the key {key}"),
        None => {
            let roles: Vec<&str> = wanted["roles"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
            format!("{} of {}", wanted["persons"], roles.join(" or "))
        }
    });
    words.collect::<Vec<_>>().join(", ")
}

fn read_event(item: &Value) -> Result<(Event, String), Fault> {
    let envelope = item.get("envelope").and_then(Value::as_str).unwrap_or_default();
    let (body, _) = seal::open(envelope.as_bytes())?;
    Ok((Event::parse(&body)?, envelope.to_owned()))
}

/// Reads a waiting note aloud, signs it and hands it back.
///
/// # Errors
/// It does not wait for this key; or what offering may fail with.
pub fn sign(session: &Session, identity: &Identity, id: &str) -> Result<u8, Fault> {
    let key = identity.keyid().to_string();
    let item = session.client()?.get(&format!("/v1/waiting/{}", path_part(id)), &[("key", &key)])?;
    let (event, envelope) = read_event(&item)?;
    if event.id != id {
        return Err(Fault::Failed(format!("the service answered about another note than {id}")));
    }
    if let Some(caution) = selachron_schemas::cautions::cautions(&event.kind) {
        session.console.say(caution);
    }
    session.console.say(&format!("signing: {}", sentence(&event)));
    let signed = seal::add_signatures(envelope.as_bytes(), &[identity])?;
    Ok(told(session, session.client()?.offer(&signed)?))
}

fn told(session: &Session, offered: Offered) -> u8 {
    match offered {
        Offered::Settled(outcome) => tell(session, &[*outcome]),
        Offered::Waits(item) => {
            let id = item.get("id").and_then(Value::as_str).unwrap_or_default().to_owned();
            session.console.result(&item, || format!("{id} waits for: {}; `selachron waiting sign {id}` signs it", wants(&item)));
            0
        }
    }
}
