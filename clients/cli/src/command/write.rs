//! Writing one note: said in words before it is signed, kept before it is sent, called recorded
//! after its receipt was checked.

use super::args::{SendArgs, WhenArgs};
use super::render::{exact_words, plain};
use super::session::Session;
use crate::answer::{Outcome, Recorded};
use crate::draft::Draft;
use crate::fault::Fault;
use crate::files;
use crate::forms::{Form, form, kind_named};
use crate::keyfile::Identity;
use crate::seal;
use crate::values::{Helper as _, read_pairs};
use selachron_schemas::cautions::cautions;
use selachron_schemas::event::{Event, FROM_PAPER};
use selachron_schemas::limits::LIST_ITEMS_MAX;
use selachron_schemas::names::Subject;
use serde_json::{Map, Value, json};
use std::path::Path;

/// A note of any kind, from names and values.
///
/// # Errors
/// The kind, its subject or a member is not known; what signing and sending may fail with.
pub fn any_note(session: &Session, named: &Named<'_>, when: &WhenArgs, send: &SendArgs) -> Result<u8, Fault> {
    let form = kind_named(named.kind).ok_or_else(|| no_kind(named.kind))?;
    let mut data = match named.data {
        Some(text) => read_data(text)?,
        None => Map::new(),
    };
    data.extend(read_pairs(form, named.members, session)?);
    let draft = Draft::new(&form.kind, subject(session, form, named.subject)?, Value::Object(data));
    write_note(session, apply_when(session, draft, when)?, send, &[])
}

/// What `note` and `draft` name.
pub struct Named<'a> {
    /// The kind.
    pub kind: &'a str,
    /// What it is about.
    pub subject: &'a str,
    /// `MEMBER=VALUE`.
    pub members: &'a [String],
    /// JSON or `@FILE`.
    pub data: Option<&'a str>,
}

fn no_kind(text: &str) -> Fault {
    Fault::Usage(format!("{text:?} is no kind of note; there are: {}", crate::forms::kind_names().join(", ")))
}

fn subject(session: &Session, form: &Form, text: &str) -> Result<Subject, Fault> {
    let nouns = &selachron_schemas::catalogue::catalogue().kind(&form.kind).map(|kind| kind.subjects.clone()).unwrap_or_default();
    if text == "new" {
        return match nouns.as_slice() {
            [noun] => session.fresh(noun),
            _ => Err(Fault::Usage(format!("{} brings nothing into the record; name its subject", form.kind))),
        };
    }
    if let Some(subject) = Subject::parse(text) {
        return Ok(subject);
    }
    let nouns: Vec<&str> = nouns.iter().map(String::as_str).collect();
    if nouns == ["*"] {
        return Err(Fault::Usage(format!("{} can be about anything; name its subject by id, noun/ULID", form.kind)));
    }
    session.find(text, &nouns)
}

/// A JSON object, given or in a file.
///
/// # Errors
/// The file cannot be read, or it is no JSON object.
pub fn read_data(text: &str) -> Result<Map<String, Value>, Fault> {
    let text = match text.strip_prefix('@') {
        Some(file) => {
            let path = Path::new(file);
            files::read_text(path)?.ok_or_else(|| Fault::Usage(format!("--data @{file}: there is no such file")))?
        }
        None => text.to_owned(),
    };
    serde_json::from_str(&text).map_err(|error| Fault::Usage(format!("--data is not a JSON object: {error}")))
}

/// The draft with its times and what it belongs to.
///
/// # Errors
/// A time that is none.
pub fn apply_when(session: &Session, draft: Draft, when: &WhenArgs) -> Result<Draft, Fault> {
    let time = |flag: &str, text: &Option<String>| text.as_deref().map(|text| session.time(flag, text)).transpose();
    Ok(Draft {
        time: time("--time", &when.time)?,
        timeafter: time("--after", &when.after)?,
        late: when.late.clone().or_else(|| when.paper.as_ref().map(|sheet| format!("{FROM_PAPER}{sheet}"))),
        correlation: when.round.clone(),
        causation: when.decision.clone(),
        ..draft
    })
}

/// Says in words what will be signed, signs it, and sends it, keeps it or puts it in a file.
/// `also` are keys that must sign the same body.
///
/// # Errors
/// See [`crate::client::Client::record`].
pub fn write_note(session: &Session, draft: Draft, send: &SendArgs, also: &[Identity]) -> Result<u8, Fault> {
    let author = session.identity()?;
    let with = send.with.iter().map(Identity::open).collect::<Result<Vec<_>, _>>()?;
    if let Some(file) = send.draft.as_ref().filter(|file| file.exists()) {
        return Err(Fault::Usage(format!("--draft {}: the file exists; name another", file.display())));
    }
    let draft = Draft { expect: send.expect, ..draft };
    if let Some(caution) = cautions(&draft.kind) {
        session.console.say(caution);
    }
    let client = session.client()?;
    let body = client.write(&author, &draft)?;
    let others: Vec<&Identity> = also.iter().chain(&with).collect();
    if send.hold && others.is_empty() {
        // What may still be taken back is not signed yet.
        return held(session, &body);
    }
    session.console.say(&format!("signing: {}", session.with_labels(&sentence(&Event::parse(&body)?))));
    let envelope = seal::sign(&body, &[&[&author], others.as_slice()].concat());
    if let Some(file) = &send.draft {
        return keep_as_draft(session, &author, &body, &envelope, file);
    }
    if send.hold {
        author.outbox().keep_envelope(&body, &envelope)?;
        return held(session, &body);
    }
    if send.wait {
        return super::together::offer_own(session, &author, &body, &envelope);
    }
    let outcomes = client.send(&author, &[envelope])?;
    Ok(tell(session, &outcomes))
}

fn keep_as_draft(session: &Session, author: &Identity, body: &[u8], envelope: &str, file: &Path) -> Result<u8, Fault> {
    author.outbox().keep_envelope(body, envelope)?;
    author.outbox().mark_draft(body)?;
    files::write_new(file, format!("{envelope}\n").as_bytes())?;
    let event = Event::parse(body)?;
    let shown = file.display();
    session.console.result(&json!({"status": "draft", "id": event.id, "subject": event.subject, "file": file}), || {
        format!(
            "{} {} is signed in {shown}; others add theirs with `selachron approve {shown}`, then `selachron post {shown}`",
            event.kind, event.id
        )
    });
    Ok(0)
}

fn held(session: &Session, body: &[u8]) -> Result<u8, Fault> {
    let event = Event::parse(body)?;
    session.console.say(&format!("kept: {}", session.with_labels(&sentence(&event))));
    session.console.result(&json!({"status": "waiting", "id": event.id, "subject": event.subject}), || {
        format!(
            "{} {} waits here; `selachron waiting send` sends it, `selachron waiting take-back {}` takes it back",
            event.kind, event.id, event.id
        )
    });
    Ok(0)
}

/// What a note says, in one line for the person whose key signs it.
#[must_use]
pub fn sentence(event: &Event) -> String {
    let title = form(&event.kind).map_or("", |form| form.title.as_str()).trim_end_matches('.');
    let told = event.data.iter().map(|(name, value)| format!("{} {}", plain(name), exact_words(value)));
    let told: Vec<String> = told.collect();
    let between = event.timeafter.map_or(String::new(), |after| format!("after {} and not after ", after.utc_text()));
    let late = event.latereason.as_ref().map_or(String::new(), |reason| format!("; written afterwards: {reason}"));
    format!("{title} ({}): {}; {between}{}{late}", event.subject, told.join(" · "), event.time.utc_text())
}

/// Tells what became of notes; the exit code of the first that is not recorded, else 0.
#[must_use]
pub fn tell(session: &Session, outcomes: &[Outcome]) -> u8 {
    let mut code = 0;
    for outcome in outcomes {
        match outcome {
            Outcome::Recorded(recorded) => tell_recorded(session, recorded),
            other => {
                let Err(fault) = other.clone().recorded() else { continue };
                tell_fault(session, other.id(), &fault);
                code = if code == 0 { fault.exit_code() } else { code };
            }
        }
    }
    code
}

fn tell_recorded(session: &Session, recorded: &Recorded) {
    for odd in oddities(session, recorded) {
        session.console.say(&format!("the record finds this odd: {odd}"));
    }
    for keyid in &recorded.signatures_too_late {
        session.console.say(&format!(
            "the note was recorded before {keyid} signed it; that person approves it with `selachron endorse {}`",
            recorded.id
        ));
    }
    let json = json!({
        "status": "recorded", "id": recorded.id, "kind": recorded.kind, "subject": recorded.subject, "created": recorded.created,
        "seq": recorded.seq, "subject_version": recorded.subject_version, "recorded_at": recorded.recorded_at,
        "discrepancies": recorded.discrepancies, "receipt": recorded.receipt,
    });
    session.console.result(&json, || {
        let created = recorded.created.iter().filter(|subject| **subject != recorded.subject);
        let line = format!(
            "recorded: {} {} as seq {}, {} version {}",
            recorded.kind, recorded.id, recorded.seq, recorded.subject, recorded.subject_version
        );
        created.fold(line, |text, subject| format!("{text}\nnew: {subject}"))
    });
}

/// Discrepancies in words. The service answers a note with their ids; the sentences are in its
/// list, which by then holds them.
fn oddities(session: &Session, recorded: &Recorded) -> Vec<String> {
    if recorded.discrepancies.is_empty() {
        return Vec::new();
    }
    let list = session.client().and_then(|client| client.get("/v1/discrepancies", &[("limit", &LIST_ITEMS_MAX.to_string())]));
    let items = list.ok().and_then(|answer| answer.get("items").and_then(Value::as_array).cloned()).unwrap_or_default();
    let says = |id: &Value| items.iter().find(|item| item.get("id") == Some(id)).and_then(|item| item.get("says")?.as_str());
    recorded.discrepancies.iter().map(|id| says(id).map_or_else(|| exact_words(id), str::to_owned)).collect()
}

fn tell_fault(session: &Session, id: Option<&str>, fault: &Fault) {
    let id = id.unwrap_or("(unread)");
    let (status, text) = match fault {
        Fault::Refused(refused) => {
            let place = refused.pointer.as_ref().map_or(String::new(), |pointer| format!(" (at {pointer})"));
            ("refused", format!("the note {id} was {refused}{place}; it is kept, and its count is used again by your next note"))
        }
        Fault::Unreachable(why) => ("waiting", format!("the note {id} waits here: {why}; `selachron waiting send` sends it")),
        other => ("unsettled", format!("the note {id} is not known to be recorded: {other}")),
    };
    session.console.say(&text);
    if let Fault::Refused(refused) = fault
        && let Some(remedy) = refused.remedy()
    {
        session.console.say(&format!("What to do: {remedy}"));
    }
    if session.console.json {
        let problem = match fault {
            Fault::Refused(refused) => json!({"name": refused.name, "detail": refused.detail, "pointer": refused.pointer}),
            other => json!({"detail": other.to_string()}),
        };
        session.console.result(&json!({"status": status, "id": id, "problem": problem}), String::new);
    }
}

/// A fault that points at a member of `data`, told with the flag that sets it.
#[must_use]
pub fn name_flags(fault: Fault, form: &Form) -> Fault {
    let Fault::Usage(text) = &fault else { return fault };
    let Some(rest) = text.strip_prefix("/data/") else { return fault };
    let name = rest.split(['/', ':']).next().unwrap_or_default();
    match form.member(name) {
        Some(member) => Fault::Usage(format!("--{}: {text}", member.flag)),
        None => fault,
    }
}
