//! Histories: every note about one thing as it stands, what was not known at a moment, and what
//! changed between two sizes of the log.

use super::args::ReadArgs;
use super::read::{ask, clocks, foot, names, path_of};
use super::render;
use super::session::Session;
use crate::fault::Fault;
use chrono_tz::Tz;
use serde_json::Value;
use std::collections::BTreeMap;

/// Every note about one thing, in order.
///
/// # Errors
/// No such thing, or several.
pub fn history(session: &Session, id: &str, not_yet: bool, read: &ReadArgs) -> Result<u8, Fault> {
    let path = format!("{}/history", path_of(session, id)?);
    let mut query = clocks(session, read)?;
    let named = query.clone();
    query.extend(not_yet.then(|| ("not_yet", "true".to_owned())));
    let answer = ask(session, &path, &query)?;
    let (zone, names) = (session.zone()?, names(session, &named)?);
    session.console.result(&answer, || {
        let mut parts = vec![told(&answer, "/notes", &names, zone).unwrap_or_else(|| "no notes".to_owned())];
        if let Some(later) = told(&answer, "/not_yet", &names, zone) {
            parts.push(format!("not known then:\n{later}"));
        }
        parts.join("\n\n")
    });
    foot(session, &answer);
    Ok(0)
}

fn note_lines(note: &Value, zone: Tz) -> String {
    let text = |at: &str| note.pointer(at).map_or(String::new(), |value| render::words(value, zone));
    let after = note.get("timeafter").map_or(String::new(), |_| format!(" (after {})", text("/timeafter")));
    let mut lines = vec![format!("{}{after}  {}  {}", text("/time"), kind_words(&text("/kind")), text("/data"))];
    lines.push(format!(
        "    {} {}, recorded {}, seq {}, note {}",
        text("/by/roles"),
        text("/by/person"),
        text("/recorded_at"),
        text("/seq"),
        text("/id")
    ));
    if note.get("standing").and_then(Value::as_str).is_some_and(|standing| standing != "stands") {
        lines.push(format!("    {}", text("/standing")));
    }
    lines.extend(note.get("put_right").and_then(Value::as_array).into_iter().flatten().map(|pair| pair_line(pair, zone)));
    for act in note.get("acts_told").and_then(Value::as_array).into_iter().flatten() {
        let said = |at: &str| act.pointer(at).map_or(String::new(), |value| render::words(value, zone));
        lines.push(format!("    {} {} by {}: {}", kind_words(&said("/kind")), said("/recorded_at"), said("/by/person"), said("/reason")));
    }
    for (name, title) in [
        ("latereason", "written afterwards"),
        ("waited_minutes", "minutes it waited on its device"),
        ("approved_by", "approved by"),
        ("endorsed_by", "endorsed by"),
        ("vouched_for_by", "vouched for by"),
    ] {
        if let Some(value) = note.get(name) {
            lines.push(format!("    {title}: {}", render::words(value, zone)));
        }
    }
    if note.get("suspected").and_then(Value::as_bool) == Some(true) {
        lines.push("    recorded after its key was suspected".to_owned());
    }
    for odd in note.get("discrepancies").and_then(Value::as_array).into_iter().flatten() {
        lines.push(format!("    odd: {}", odd.get("says").map_or_else(|| odd.to_string(), |says| render::words(says, zone))));
    }
    lines.join("\n")
}

/// `egg.held_apart.v1` as `egg held apart`.
fn kind_words(kind: &str) -> String {
    kind.rsplit_once(".v").map_or(kind, |(stem, _)| stem).replace(['.', '_'], " ")
}

/// The notes in a list of the answer, as lines; nothing if there are none.
fn told(answer: &Value, at: &str, names: &BTreeMap<String, String>, zone: Tz) -> Option<String> {
    let notes = answer.pointer(at).and_then(Value::as_array).filter(|notes| !notes.is_empty())?;
    Some(notes.iter().map(|note| note_lines(&render::with_names(note, names), zone)).collect::<Vec<_>>().join("\n"))
}

/// One corrected pair: what was, and what is.
fn pair_line(pair: &Value, zone: Tz) -> String {
    let side = |name: &str| pair.get(name).map_or_else(|| "nothing".to_owned(), |value| render::words(value, zone));
    let at = pair.get("at").and_then(Value::as_str).unwrap_or_default();
    format!("    {}: {} -> {}", at.trim_start_matches('/').replace(['/', '_'], " "), side("before"), side("after"))
}

/// What changed about one thing between two sizes of the log.
///
/// # Errors
/// No such thing, or no such sizes.
pub fn difference(session: &Session, id: &str, sizes: &str, read: &ReadArgs) -> Result<u8, Fault> {
    let path = format!("{}/history", path_of(session, id)?);
    let mut query = clocks(session, read)?;
    let named = query.clone();
    query.push(("diff", sizes.to_owned()));
    let answer = ask(session, &path, &query)?;
    let (zone, names) = (session.zone()?, names(session, &named)?);
    session.console.result(&answer, || diff_lines(&answer, &names, zone));
    foot(session, &answer);
    Ok(0)
}

fn diff_lines(answer: &Value, names: &BTreeMap<String, String>, zone: Tz) -> String {
    let mut parts = Vec::new();
    for (at, title) in [("/new", "came"), ("/gone", "no longer in this history")] {
        parts.extend(told(answer, at, names, zone).map(|notes| format!("{title}:\n{notes}")));
    }
    let changed = answer.get("changed").and_then(Value::as_array).into_iter().flatten();
    for change in changed {
        let note = render::with_names(&change["after"], names);
        parts.push(format!("told otherwise:\n{}", note_lines(&note, zone)));
    }
    let pairs: Vec<String> = answer.get("item").and_then(Value::as_array).into_iter().flatten().map(|pair| pair_line(pair, zone)).collect();
    if !pairs.is_empty() {
        parts.push(format!("so that now:\n{}", pairs.join("\n")));
    }
    if parts.is_empty() { "nothing changed".to_owned() } else { parts.join("\n\n") }
}
