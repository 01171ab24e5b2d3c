//! A report compared with what the service tells now of the same notes: same, different, or cannot tell.
//! Whoever has a bundle needs no service: `selachrond recompute`.

use super::read::Query;
use super::report::fetch;
use super::session::Session;
use crate::fault::Fault;
use selachron_schemas::encoding::{base64, hex};
use selachron_schemas::merkle::sha256;
use serde_json::{Value, json};
use std::path::Path;

/// Exit code when the report is not what the notes give.
const DIFFERENT: u8 = 3;
/// Exit code when nobody can say.
const CANNOT_TELL: u8 = 1;

/// What the comparison shows.
enum Shown {
    Same(String),
    Different(String),
    CannotTell(String),
}

/// Compares the report in `file` with the service's answer at its own two clocks.
///
/// # Errors
/// The file cannot be read, or the service not asked.
pub fn verify(session: &Session, file: &Path) -> Result<u8, Fault> {
    let bytes = std::fs::read(file).map_err(|error| Fault::Usage(format!("{}: {error}", file.display())))?;
    let (word, code, says) = match compare(session, &bytes)? {
        Shown::Same(says) => ("same", 0, says),
        Shown::Different(says) => ("different", DIFFERENT, says),
        Shown::CannotTell(says) => ("cannot tell", CANNOT_TELL, says),
    };
    let hash = hex(&sha256(&bytes));
    session.console.result(&json!({"verdict": word, "says": says, "sha256": hash}), || format!("{word}: {says}\nsha256  {hash}"));
    Ok(code)
}

/// What a report must say to be asked for again.
struct Said<'r> {
    report: &'r Value,
    known_at: u64,
    year: i32,
    query: Query,
}

fn said(report: &Value) -> Option<Said<'_>> {
    let text = |pointer: &str| report.pointer(pointer).and_then(Value::as_str).map(str::to_owned);
    let known_at = report.get("known_at")?.as_u64()?;
    let year = report.get("year")?.as_i64().and_then(|year| i32::try_from(year).ok())?;
    let mut query = vec![("as_of", text("/as_of")?), ("known_at", known_at.to_string()), ("format", "json".to_owned())];
    query.extend(text("/profile/name").map(|name| ("profile", name)));
    let first = text("/period/first_day")?;
    query.extend(first.split_once('-').map(|(_, begins)| ("begins", begins.to_owned())));
    Some(Said { report, known_at, year, query })
}

fn compare(session: &Session, bytes: &[u8]) -> Result<Shown, Fault> {
    let report: Value = match serde_json::from_slice(bytes) {
        Ok(report) => report,
        Err(error) => return Ok(Shown::CannotTell(format!("this is no JSON: {error}"))),
    };
    let Some(said) = said(&report) else {
        return Ok(Shown::CannotTell("this is no annual report: it says no year, period, as_of or known_at".to_owned()));
    };
    let newest = session.client()?.look()?.checkpoint;
    if report.pointer("/collection/origin").and_then(Value::as_str) != Some(newest.origin.as_str()) {
        return Ok(Shown::CannotTell(format!("the report is of another log than {}", newest.origin)));
    }
    if said.known_at > newest.size {
        return Ok(Shown::CannotTell(format!("the report rests on {} notes, and the log shows {}", said.known_at, newest.size)));
    }
    if said.known_at == newest.size && report.get("root") != Some(&json!(base64(&newest.root))) {
        return Ok(Shown::Different(
            "the report names another root than this machine has verified for the same number of notes".to_owned(),
        ));
    }
    let answer = match fetch(session, said.year, &said.query, "application/json") {
        Ok(answer) => answer,
        Err(Fault::Failed(why) | Fault::Usage(why) | Fault::NoSuchThing(why)) => {
            return Ok(Shown::CannotTell(format!("the service does not answer the same question: {why}")));
        }
        Err(fault) => return Err(fault),
    };
    if answer.as_bytes() == bytes {
        return Ok(Shown::Same("the service gives this report byte for byte from the same notes".to_owned()));
    }
    let answer: Value = serde_json::from_str(&answer).map_err(|error| Fault::Failed(format!("the answer is no JSON: {error}")))?;
    Ok(judge(&said, &answer))
}

/// What differs, and whether that says anything.
fn judge(said: &Said<'_>, answer: &Value) -> Shown {
    let differs = |name: &str| said.report.get(name) != answer.get(name);
    if differs("root") {
        return Shown::Different("of so many notes the log has another root".to_owned());
    }
    if differs("withheld") {
        return Shown::CannotTell(
            "bodies behind the report have been withheld since it was made; what they said cannot be counted any more".to_owned(),
        );
    }
    let bare = |report: &Value| {
        let mut report = report.clone();
        if let Some(auditor) = report.get_mut("auditor").and_then(Value::as_object_mut) {
            auditor.remove("refused_writes");
        }
        report
    };
    if bare(said.report) == bare(answer) {
        return Shown::Same("but for the number of refused writes, which stands beside the log and is not kept for ever".to_owned());
    }
    if differs("software") || differs("tzdb") {
        return Shown::CannotTell("other software made it, or with other time zones, and may count otherwise".to_owned());
    }
    let members = said.report.as_object().into_iter().flatten().map(|(name, _)| name.as_str()).filter(|name| differs(name));
    Shown::Different(format!("the same notes give another report; what differs: {}", members.collect::<Vec<_>>().join(", ")))
}
