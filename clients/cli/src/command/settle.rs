//! Settling a discrepancy: the record says what is at odds and on which notes that rests; a person
//! says what is to be made of it.

use super::args::{SendArgs, SettleWord};
use super::read;
use super::session::Session;
use super::write::write_note;
use crate::draft::Draft;
use crate::fault::Fault;
use crate::transport::path_part;
use selachron_schemas::names::Subject;
use serde_json::{Value, json};

/// What is said, and of which discrepancy.
pub struct Word<'a> {
    /// Its id, or the beginning of it.
    pub id: &'a str,
    /// What is to be made of it.
    pub word: SettleWord,
    /// Who is to say instead.
    pub person: Option<&'a str>,
    /// Anything worth saying.
    pub remark: Option<&'a str>,
}

/// Settles a discrepancy, or says who is to.
///
/// # Errors
/// There is none, or several, of that id; what signing and sending may fail with.
pub fn settle(session: &Session, word: &Word<'_>, send: &SendArgs) -> Result<u8, Fault> {
    let found = find(session, word.id)?;
    let says = found.get("says").and_then(Value::as_str).unwrap_or_default();
    session.console.say(&format!("at odds: {says}"));
    let mut data = json!({"odd": found["kind"], "events": found["events"], "explanation": words(word.word)});
    for (name, value) in [("person", word.person), ("remark", word.remark)] {
        if let Some(value) = value {
            data[name] = json!(value);
        }
    }
    write_note(session, Draft::new("discrepancy.explained.v1", subject(session, &found)?, data), send, &[])
}

fn words(word: SettleWord) -> &'static str {
    match word {
        SettleWord::Meant => "seen and meant it",
        SettleWord::Slip => "was a slip",
        SettleWord::Ask => "another person is to say",
    }
}

fn find(session: &Session, id: &str) -> Result<Value, Fault> {
    let answer = read::all(session, "/v1/discrepancies", read::Query::new(), None)?;
    let items = answer.get("items").and_then(Value::as_array).into_iter().flatten();
    let found: Vec<&Value> = items.filter(|item| item["id"].as_str().is_some_and(|known| known.starts_with(id))).collect();
    match found.as_slice() {
        [one] => Ok((*one).clone()),
        [] => Err(Fault::NoSuchThing(format!("no discrepancy has the id {id:?}; `selachron discrepancies` lists them"))),
        several => Err(Fault::Usage(format!("{id:?} begins the ids of {} discrepancies; give more of it", several.len()))),
    }
}

/// The subject as written of the first note that it rests on: the explanation stands beside it.
fn subject(session: &Session, found: &Value) -> Result<Subject, Fault> {
    let missing = || Fault::Failed("the service's answer about the discrepancy names no note".to_owned());
    let id = found.pointer("/events/0").and_then(Value::as_str).ok_or_else(missing)?;
    let answer = session.client()?.get(&format!("/v1/events/{}", path_part(id)), &[])?;
    let written = answer.pointer("/item/event/subject").or_else(|| answer.pointer("/item/subject"));
    written.and_then(Value::as_str).and_then(Subject::parse).ok_or_else(missing)
}
