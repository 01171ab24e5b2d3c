//! Putting right, taking back, endorsing, giving up a count: notes about notes. The old note is
//! read first, so that the new one says the whole of what stands instead (F21).

use super::args::SendArgs;
use super::session::{LISTED, Session};
use super::write::{name_flags, read_data, sentence, write_note};
use crate::draft::Draft;
use crate::fault::Fault;
use crate::forms::{Form, form};
use crate::transport::path_part;
use crate::values::read_pairs;
use selachron_schemas::catalogue::catalogue;
use selachron_schemas::encoding::{base64, from_base64_32};
use selachron_schemas::event::Event;
use selachron_schemas::merkle::{Hash, sha256};
use selachron_schemas::names::Subject;
use selachron_schemas::time::Instant;
use serde::Deserialize;
use serde_json::value::RawValue;
use serde_json::{Map, Value, json};

/// What `correct` says is right.
pub struct Right<'a> {
    /// `MEMBER=VALUE`.
    pub set: &'a [String],
    /// Members that should not be there.
    pub unset: &'a [String],
    /// The whole data.
    pub data: Option<&'a str>,
    /// When it really happened.
    pub time: Option<String>,
    /// It really happened after this.
    pub after: Option<String>,
    /// What it was really about.
    pub subject: Option<String>,
}

/// A recorded note, read from the service; its body was held against its hash.
struct Noted {
    event: Event,
    seq: u64,
    body_sha256: Hash,
}

/// A note as it stands now: as first written, or as it was put right since.
#[derive(Debug, Clone, PartialEq)]
struct Effective {
    subject: Subject,
    time: Instant,
    timeafter: Option<Instant>,
    data: Map<String, Value>,
}

/// Puts a note right.
///
/// # Errors
/// No such note, nothing to put right, a value that its kind does not allow.
pub fn correct(session: &Session, id: &str, reason: &str, right: &Right<'_>, send: &SendArgs) -> Result<u8, Fault> {
    let noted = fetch(session, id)?;
    let form = form(&noted.event.kind).ok_or_else(|| Fault::Failed(format!("the kind {} is not known here", noted.event.kind)))?;
    let kind = catalogue().kind(&form.kind);
    if kind.is_some_and(|kind| kind.is_act) {
        let target = noted.event.data.get("target").and_then(Value::as_str).unwrap_or_default();
        return Err(Fault::Usage(format!(
            "{id} is itself a correction or retraction; correct the note it is about, {target}, or retract {id}"
        )));
    }
    session.console.say(&format!("as written: {}", sentence(&noted.event)));
    let stands = effective(session, &noted.event)?;
    let wanted = put_right(session, form, &stands, right)?;
    if wanted == stands {
        return Err(Fault::Usage(
            "nothing would change; say what is right with --set, --unset, --data, --time, --after or --subject".to_owned(),
        ));
    }
    let replacement = replacement(&as_written(&noted.event), &wanted);
    if let Some(data) = replacement.get("data").and_then(Value::as_object) {
        kind.map_or(Ok(()), |kind| kind.check_data(data, "/data")).map_err(|refusal| name_flags(refusal.into(), form))?;
    }
    let data = json!({"target": id, "reason": reason, "replacement": replacement});
    write_note(session, Draft::new("record.corrected.v1", noted.event.subject, data), send, &[])
}

/// Takes a note back.
///
/// # Errors
/// No such note.
pub fn retract(session: &Session, id: &str, reason: &str, send: &SendArgs) -> Result<u8, Fault> {
    let noted = fetch(session, id)?;
    session.console.say(&format!("as written: {}", sentence(&noted.event)));
    let data = json!({"target": id, "reason": reason});
    write_note(session, Draft::new("record.retracted.v1", noted.event.subject, data), send, &[])
}

/// Approves a recorded note afterwards (F9). What is signed is the hash of the body just read.
///
/// # Errors
/// No such note.
pub fn endorse(session: &Session, id: &str, remark: Option<&str>, send: &SendArgs) -> Result<u8, Fault> {
    let noted = fetch(session, id)?;
    session.console.say(&format!("as written: {}", sentence(&noted.event)));
    match stands_now(session, &noted.event)? {
        Standing::AsWritten => {}
        Standing::PutRight(now) => {
            let event = Event { subject: now.subject, time: now.time, timeafter: now.timeafter, data: now.data, ..noted.event.clone() };
            session.console.say(&format!("it has been put right since: {}", sentence(&event)));
            session.console.say("what you sign stands for the note as written; to stand for how it was put right, endorse the correction");
        }
        Standing::TakenBack => session.console.say("it has been taken back since; what you sign stands for the note as written"),
    }
    let mut data = json!({"seq": noted.seq, "body_sha256": base64(&noted.body_sha256)});
    if let Some(remark) = remark {
        data["remark"] = json!(remark);
    }
    write_note(session, Draft::new("record.endorsed.v1", noted.event.subject, data), send, &[])
}

/// Gives up a count of the key that is set.
///
/// # Errors
/// A note with that count waits here.
pub fn abandon(session: &Session, count: u32, reason: &str, send: &SendArgs) -> Result<u8, Fault> {
    let identity = session.identity()?;
    if let Some(note) = identity.waiting()?.iter().find(|note| note.count == count) {
        return Err(Fault::Usage(format!("the note {} with count {count} waits here; send it with `selachron waiting send`", note.id)));
    }
    if count >= identity.next_count()? {
        return Err(Fault::Usage(format!("count {count} was never used by this key")));
    }
    write_note(session, Draft::new("note.abandoned.v1", identity.subject(), json!({"keycount": count, "reason": reason})), send, &[])
}

/// The service's answer about a note, with the body's exact text.
#[derive(Deserialize)]
struct Answered<'a> {
    #[serde(borrow)]
    item: Item<'a>,
}

#[derive(Deserialize)]
struct Item<'a> {
    seq: u64,
    body_sha256: String,
    #[serde(borrow)]
    event: Option<&'a RawValue>,
}

fn fetch(session: &Session, id: &str) -> Result<Noted, Fault> {
    let path = format!("/v1/events/{}", path_part(id));
    let text = session.client()?.get_text(&path, &[], "application/json")?;
    let answer: Answered<'_> =
        serde_json::from_str(&text).map_err(|error| Fault::Failed(format!("the answer about the note {id}: {error}")))?;
    let withheld = || Fault::NoSuchThing(format!("the body of the note {id} is withheld; nothing can be signed about what cannot be read"));
    let body = answer.item.event.ok_or_else(withheld)?.get().as_bytes();
    let body_sha256 = sha256(body);
    if from_base64_32(&answer.item.body_sha256) != Some(body_sha256) {
        return Err(Fault::Broken(format!("the body that the service shows of the note {id} is not the one it recorded")));
    }
    Ok(Noted { event: Event::parse(body)?, seq: answer.item.seq, body_sha256 })
}

fn as_written(event: &Event) -> Effective {
    Effective { subject: event.subject.clone(), time: event.time, timeafter: event.timeafter, data: event.data.clone() }
}

/// What has become of a note.
enum Standing {
    AsWritten,
    PutRight(Effective),
    TakenBack,
}

fn effective(session: &Session, event: &Event) -> Result<Effective, Fault> {
    Ok(match stands_now(session, event)? {
        Standing::AsWritten => as_written(event),
        Standing::PutRight(effective) => effective,
        Standing::TakenBack => {
            session.console.say("The note is taken back; putting it right lets it stand again.");
            as_written(event)
        }
    })
}

/// The note as its subject's history tells it now. A history may be under another subject when
/// an earlier correction moved it; then the note as written is the best that is known.
fn stands_now(session: &Session, event: &Event) -> Result<Standing, Fault> {
    let Some((_, list)) = LISTED.iter().find(|(noun, _)| *noun == event.subject.noun()) else { return Ok(Standing::AsWritten) };
    let path = format!("/v1/{list}/{}/history", path_part(event.subject.id()));
    let answer = match session.client()?.get(&path, &[]) {
        Ok(answer) => answer,
        Err(Fault::NoSuchThing(_)) => Value::Null,
        Err(fault) => return Err(fault),
    };
    let notes = answer.get("notes").and_then(Value::as_array).into_iter().flatten();
    let note = notes.into_iter().find(|note| note.get("id").and_then(Value::as_str) == Some(&event.id));
    Ok(match note.map(|note| (note.get("standing").and_then(Value::as_str), read_effective(note))) {
        Some((Some("put right"), Some(effective))) => Standing::PutRight(effective),
        Some((Some("taken back"), _)) => Standing::TakenBack,
        _ => Standing::AsWritten,
    })
}

fn read_effective(note: &Value) -> Option<Effective> {
    let text = |name: &str| note.get(name).and_then(Value::as_str);
    Some(Effective {
        subject: Subject::parse(text("subject")?)?,
        time: Instant::parse(text("time")?).ok()?,
        timeafter: text("timeafter").and_then(|text| Instant::parse(text).ok()),
        data: note.get("data")?.as_object()?.clone(),
    })
}

fn put_right(session: &Session, form: &Form, stands: &Effective, right: &Right<'_>) -> Result<Effective, Fault> {
    let time = |flag: &str, text: &Option<String>| text.as_deref().map(|text| session.time(flag, text)).transpose();
    let nouns: Vec<&str> = catalogue().kind(&form.kind).map_or(Vec::new(), |kind| kind.subjects.iter().map(String::as_str).collect());
    let subject = right.subject.as_deref().map(|text| session.find(text, &nouns)).transpose()?;
    let mut data = match right.data {
        Some(text) => read_data(text)?,
        None => stands.data.clone(),
    };
    for name in right.unset {
        data.shift_remove(name).ok_or_else(|| Fault::Usage(format!("--unset {name}: the note has no such member")))?;
    }
    data.extend(read_pairs(form, right.set, session)?);
    Ok(Effective {
        subject: subject.unwrap_or_else(|| stands.subject.clone()),
        time: time("--time", &right.time)?.unwrap_or(stands.time),
        timeafter: time("--after", &right.after)?.or(stands.timeafter),
        data,
    })
}

/// What a correction must say so that the note as written becomes what is wanted: members it
/// does not name keep what was first written, whatever earlier corrections said.
fn replacement(written: &Effective, wanted: &Effective) -> Map<String, Value> {
    let mut replacement = Map::new();
    if wanted.time != written.time {
        replacement.insert("time".to_owned(), json!(wanted.time));
    }
    if let Some(after) = wanted.timeafter.filter(|_| wanted.timeafter != written.timeafter) {
        replacement.insert("timeafter".to_owned(), json!(after));
    }
    if wanted.subject != written.subject {
        replacement.insert("subject".to_owned(), json!(wanted.subject));
    }
    if wanted.data != written.data {
        replacement.insert("data".to_owned(), Value::Object(wanted.data.clone()));
    }
    if replacement.is_empty() {
        // Earlier corrections are undone by saying what was first written.
        replacement.insert("time".to_owned(), json!(written.time));
    }
    replacement
}
